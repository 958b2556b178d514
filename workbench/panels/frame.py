"""What all panels share: the look, the steps to an answer, a place for the answer and one for what went wrong."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from html import escape
from typing import Any, ClassVar

import anywidget
import ipywidgets as widgets
import plotly.graph_objects as go
from IPython.display import display

from workbench.panels.redraw import Redraw, refresh
from workbench.present.tables import Table, plain_text
from workbench.quantities import SEED, InputError

__all__ = ["Panel", "column", "control_style", "first_bold", "heading", "listed", "quiet", "row", "table_box", "wide"]

#: Where a number can be acted on. The longer form stands in the README.
_CAUTION = (
    "A prediction, for healthy, experienced adults with a qualified coach; it clears nobody to train. "
    "Stop on pain. Spotters or safety arms for sets near failure. Minors, pregnancy, illness, injury: ask a licensed "
    "professional first. The facility's rules and local codes come first."
)

#: In place of a panel, on a page that was opened and not yet run.
_NOT_RUN = "Controls and answers appear here once the page is run: menu Run, then Run All Cells."

# ipywidgets gives a slider's handle no name and no unit, so a screen reader says "slider, 67.5" and nothing else.
_ESM = """
const put = (node, name, value) => { if (node.getAttribute(name) !== value) node.setAttribute(name, value); };

const nameControls = (controls) => {
  for (const slider of controls.querySelectorAll(".widget-slider, .widget-inline-hbox")) {
    const label = slider.querySelector(".widget-label");
    const readout = slider.querySelector(".widget-readout");
    for (const handle of slider.querySelectorAll(".noUi-handle")) {
      if (label) put(handle, "aria-label", label.textContent);
      if (readout) put(handle, "aria-valuetext", readout.textContent);
    }
    if (label) for (const field of slider.querySelectorAll("select, input")) {
      put(field, "aria-label", label.textContent);
    }
    // A readout that is typed into reads 67,5 as 67: numbers are typed into the line beside it.
    if (readout) put(readout, "contenteditable", "false");
    const typed = slider.closest(".workbench-number")?.querySelector(".workbench-typed input");
    if (label && typed) put(typed, "aria-label", `${label.textContent}, typed`);
  }
};

// A figure measures its place when it is made, which is before its place is laid out; it measures again on "resize".
let fitting;
const fitFigures = () => {
  clearTimeout(fitting);
  fitting = setTimeout(() => window.dispatchEvent(new Event("resize")), 120);
};

const render = ({ el }) => {
  const marks = new MutationObserver(() => {
    for (const controls of el.closest(".workbench-panel")?.querySelectorAll(".workbench-controls") ?? []) {
      nameControls(controls);
    }
  });
  const figures = new MutationObserver(() => {
    for (const plot of el.closest(".workbench-panel")?.querySelectorAll(".js-plotly-plot") ?? []) {
      const drawn = plot.querySelector(".main-svg");
      if (drawn && Math.abs(drawn.clientWidth - plot.clientWidth) > 1) fitFigures();
    }
  });
  const sizes = new ResizeObserver(fitFigures);
  const start = () => {
    const panel = el.closest(".workbench-panel");
    if (!panel) { waiting = requestAnimationFrame(start); return; }
    for (const answer of panel.querySelectorAll(".workbench-answer")) put(answer, "role", "status");
    for (const trouble of panel.querySelectorAll(".workbench-trouble")) put(trouble, "role", "alert");
    for (const controls of panel.querySelectorAll(".workbench-controls")) {
      marks.observe(controls, { childList: true, subtree: true, characterData: true });
      nameControls(controls);
    }
    for (const answers of panel.querySelectorAll(".workbench-answers")) {
      figures.observe(answers, { childList: true, subtree: true, attributeFilter: ["width"] });
    }
    sizes.observe(panel);
  };
  let waiting = requestAnimationFrame(start);
  return () => {
    cancelAnimationFrame(waiting);
    for (const watch of [marks, figures, sizes]) watch.disconnect();
  };
};
export default { render };
"""

_CSS = """
.workbench-panel { color: #22303c; overflow-x: hidden; }
.workbench-panel .widget-html-content { line-height: 1.4; white-space: normal; }
.workbench-panel .workbench-answer .widget-html-content { font-size: 15px; }
.workbench-panel .workbench-trouble .widget-html-content:not(:empty) {
  border-left: 4px solid #9b3f4d; background: #fbeff0; padding: 6px 10px; }
.workbench-panel .workbench-quiet .widget-html-content { font-size: 12px; color: #5c6670; }
.workbench-panel .workbench-answers { overflow: visible; min-width: 0; }
.workbench-panel .workbench-answers > * { min-width: 0; max-width: 100%; }
.workbench-panel .workbench-table .widget-html-content { overflow-x: auto; min-width: 0; }
.workbench-panel table.workbench { border-collapse: collapse; font-size: 12px; margin: 4px 0; }
.workbench-panel table.workbench caption { text-align: left; font-weight: 600; padding: 4px 0; caption-side: top;
  color: #22303c; white-space: normal; }
.workbench-panel table.workbench th, .workbench-panel table.workbench td { padding: 3px 0 3px 10px; text-align: right;
  border-bottom: 1px solid #dfe4e8; background: none; vertical-align: top; white-space: nowrap; }
.workbench-panel .workbench-wraps table.workbench td { white-space: normal; }
.workbench-panel table.workbench th:first-child, .workbench-panel table.workbench td:first-child {
  text-align: left; font-weight: 400; padding-left: 0; }
.workbench-panel table.workbench thead th { font-weight: 600; }
.workbench-panel .workbench-controls { display: grid; grid-template-columns: repeat(auto-fit, minmax(230px, 1fr));
  column-gap: 20px; align-items: start; }
.workbench-panel .workbench-controls > .workbench-wide { grid-column: 1 / -1; }
.workbench-panel .workbench-controls .widget-button { height: auto; min-height: 28px; white-space: normal;
  line-height: 1.4; padding: 4px 10px; }
.workbench-panel .workbench-controls .widget-hslider { display: grid; grid-template-columns: 1fr auto; height: auto;
  margin-bottom: 10px; }
.workbench-panel .workbench-controls .widget-hslider > .widget-label { grid-area: 1 / 1; width: auto !important;
  text-align: left; white-space: normal; height: auto; }
.workbench-panel .workbench-controls .widget-hslider > .widget-readout { grid-area: 1 / 2; width: auto; min-width: 3em;
  max-width: none; text-align: right; overflow: visible; }
.workbench-panel .workbench-controls .widget-hslider > .slider-container { grid-area: 2 / 1 / 3 / 3; margin: 0 10px; }
.workbench-panel .noUi-handle:focus-visible { outline: 3px solid #b0722a; outline-offset: 2px; }
.workbench-name-controls { display: none; }
"""


class _NameControls(anywidget.AnyWidget):
    """Invisible: gives the panel it stands in its look, and its controls their names."""

    _esm = _ESM
    _css = _CSS


Work = Callable[[], None]


@dataclass
class _Step:
    """Work that is due at first, and again after a change of its controls or of what it comes after."""

    work: Work
    after: Work | None
    shows: bool
    later: bool = False
    part: widgets.HTML | None = None
    due: bool = True


class Panel:
    """Controls beside answers, what needs the full width below. Making one shows nothing; `show` does.

    A panel says where its widgets stand (`arrange`), names the steps to its answer with the controls of each
    (`prepare`, `step`), and takes them (`take_steps`). Soon after the last of several changes, what is due is done in
    order, once; what a step itself sets in a control makes nothing due. An answer is put in its places by `put`, and
    said again by `text`.

    An answer belongs to what is chosen. Where none can be given, or the choice has changed and the new answer takes a
    press of a button, `blank` takes the old one away: every text, table and figure, and all that is ``kept``.

    Parameters
    ----------
    seed : int
        The same seed gives the same digits, here as in the command of the same question.
    draws : int
        Simulated lifters and days.

    Attributes
    ----------
    root : ipywidgets.Box
        Everything, to be shown or put into a larger box.
    answer : ipywidgets.HTML
        Sentences that answer, or why there is no answer.
    trouble : ipywidgets.HTML
        One plain line where the input cannot be used; empty otherwise.
    kept : tuple of str
        Attributes that hold parts of the last answer; None where there is none.
    """

    kept: ClassVar[tuple[str, ...]] = ("last",)
    no_answer: ClassVar[str] = "No answer yet: the panel says what cannot be used."

    def __init__(self, *, seed: int = SEED, draws: int = 2000) -> None:
        self.seed, self.draws = seed, draws
        self.answer, self.trouble = widgets.HTML(), wide(widgets.HTML())
        self.answer.add_class("workbench-answer")
        self.trouble.add_class("workbench-trouble")
        self._parts: tuple[widgets.Widget, ...] = ()
        self._said: dict[widgets.HTML, tuple[Table | Sequence[str], ...]] = {}
        self._steps: list[_Step] = []
        self._redraw = Redraw(self.take_steps)
        self._busy = False
        Panel.forget(self)

    def arrange(
        self,
        controls: Sequence[widgets.Widget],
        answers: Sequence[widgets.Widget],
        below: Sequence[widgets.Widget] = (),
        beside: Sequence[widgets.Widget] = (),
    ) -> None:
        """Put controls left, answers right, and the others below both.

        Parameters
        ----------
        controls, answers, below : sequence of Widget
            `answer` stands above the answers, `trouble` below the controls.
        beside : sequence of Widget
            Shown below the controls, but parts of the answer.
        """
        self._parts = (self.answer, *answers, *below, *beside)
        names = _NameControls()
        names.add_class("workbench-name-controls")
        left = column(*controls, *beside, self.trouble, flex="1 1 280px")
        left.add_class("workbench-controls")
        right = column(self.answer, *answers, flex="3 1 460px")
        right.add_class("workbench-answers")
        self.root = widgets.Box(
            [names, left, right, column(*below, quiet(_CAUTION), flex="1 1 100%")],
            layout=widgets.Layout(display="flex", flex_flow="row wrap", align_items="flex-start", width="100%"),
        )
        self.root.add_class("workbench-panel")

    def show(self) -> None:
        """Show the panel here."""
        shown = self.root._repr_mimebundle_() | {"text/plain": _NOT_RUN}
        display(shown, raw=True)  # type: ignore[no-untyped-call]

    def prepare(self, work: Work, *controls: Any, after: Work | None = None) -> None:
        """Name a step that reads files or fills controls; it stays done when the answer is taken away.

        Parameters
        ----------
        work : callable
            Where it raises, no step after it is taken.
        controls
            A change of one of these makes the step due again; anything with ``observe``.
        after : callable
            The work of an earlier step, that makes this one due whenever it is itself.
        """
        self._steps.append(_Step(work, after, shows=False))
        self.watch(*controls, work=work)

    def step(
        self,
        work: Work,
        *controls: Any,
        after: Work | None = None,
        later: bool = False,
        part: widgets.HTML | None = None,
    ) -> None:
        """Name a step that shows an answer, or a part of it; it is due again when the answer was taken away.

        Parameters
        ----------
        work, controls, after
            As for `prepare`.
        later : bool
            Taken when no further change is on its way, so that what comes before is seen sooner.
        part : HTML
            All that goes where this step cannot be taken.
        """
        self._steps.append(_Step(work, after, shows=True, later=later, part=part))
        self.watch(*controls, work=work)

    def watch(self, *controls: Any, work: Work | None = None) -> None:
        """Call `choice_changed` whenever a person changes a control, and take again the step of this work."""
        for control in controls:
            control.observe(lambda change: self._changed(change, work), "value")

    def choice_changed(self, change: Any) -> None:
        """Do at once what a person's change of a control asks for beside its step: nothing in most panels."""

    def again(self, work: Work) -> None:
        """Take the step of this work again, and what comes after it."""
        self._make_due(work)
        self._redraw.ask()

    def _changed(self, change: Any, work: Work | None) -> None:
        if self._busy:
            return
        with self._by_itself():
            self.choice_changed(change)
        if work is not None:
            self.again(work)

    def _make_due(self, work: Work) -> None:
        for step in self._steps:
            if step.work == work:
                step.due = True
            elif step.after == work:
                self._make_due(step.work)

    @contextmanager
    def _by_itself(self) -> Iterator[None]:
        self._busy = True
        try:
            yield
        finally:
            self._busy = False

    def take_steps(self, *, at_once: bool = False) -> None:
        """Do in order what is due, up to a step that cannot be done; without ``at_once``, some of it a little later."""
        worked = False
        for step in self._steps:
            if not step.due:
                continue
            if step.later and worked and not at_once:
                self._redraw.ask()
                return
            with self._by_itself(), self.explained(step.part):
                step.work()
                step.due = False
            if step.due:
                return
            worked = True

    def put(self, place: widgets.HTML, *parts: Table | Sequence[str], html: str | None = None) -> None:
        """Show tables and runs of sentences in a place, and keep them for `text`.

        Parameters
        ----------
        place : HTML
            In `answer` the first sentence is bold; elsewhere sentences make a list.
        html : str
            Shown in place of the parts.
        """
        lines = [line for part in parts if not isinstance(part, Table) for line in part]
        if html is None and place is self.answer:
            html = first_bold(lines)
        elif html is None:
            tables = "".join(part.html() for part in parts if isinstance(part, Table))
            html = tables + (listed(lines) if lines else "")
        place.value, self._said[place] = html, parts

    def text(self) -> str:
        """Return the answer as plain text, for the controls as they stand."""
        self.take_steps(at_once=True)
        return plain_text(*(part for parts in self._said.values() for part in parts)) or self.no_answer

    def forget(self) -> None:
        """Forget what is kept of the last answer."""
        self._said.clear()
        for name in self.kept:
            setattr(self, name, None)

    def blank(self, reason: str) -> None:
        """Take the answer away and say why in its place; the steps that showed it are due again."""
        self.forget()
        for step in self._steps:
            step.due = step.due or step.shows
        for part in self._parts:
            _empty(part, reason)

    @contextmanager
    def explained(self, part: widgets.HTML | None = None) -> Iterator[None]:
        """Turn an error inside the ``with`` block into one line in the panel, and take the answer away.

        Parameters
        ----------
        part : HTML
            The only part of the answer that cannot be given; everything else stays.
        """
        try:
            yield
        except InputError as error:
            self.trouble.value = f"This cannot be used: {escape(str(error))}."
            reason = f"No answer for what is chosen: {escape(str(error))}."
            if part is None:
                self.blank(reason)
            else:
                part.value = reason
        except Exception:
            self.trouble.value = "Something went wrong inside the workbench; there is no answer for what is chosen."
            self.blank("No answer: something went wrong inside the workbench.")
            raise
        else:
            self.trouble.value = ""


def _empty(part: widgets.Widget, reason: str) -> None:
    """Empty one part of an answer, with all that stands in it; the sentence that answers becomes the reason."""
    if isinstance(part, widgets.HTML):
        part.value = reason if "workbench-answer" in part._dom_classes else ""
    elif isinstance(part, go.FigureWidget):
        refresh(part, _NO_FIGURE)
    elif isinstance(part, widgets.Box):
        if any(isinstance(child, widgets.Button) for child in part.children):  # buttons that act on the old answer
            part.children = ()
        for child in part.children:
            _empty(child, reason)


#: What stands where there is no figure: as good as nothing, and no axes of the figure before.
_NO_FIGURE = go.Figure(
    layout={
        "height": 40,
        "margin": dict.fromkeys("lrtb", 0),
        "xaxis": {"visible": False},
        "yaxis": {"visible": False},
        "plot_bgcolor": "white",
    }
)


def column(*children: widgets.Widget, flex: str = "1 1 auto") -> widgets.VBox:
    """Children one below the other, never wider than their place."""
    return widgets.VBox(list(children), layout=widgets.Layout(flex=flex, min_width="0", margin="0 12px 0 0"))


def row(*children: widgets.Widget) -> widgets.Box:
    """Children side by side, wrapped where the page is narrow."""
    return widgets.Box(list(children), layout=widgets.Layout(display="flex", flex_flow="row wrap"))


def wide(widget: widgets.Widget) -> widgets.Widget:
    """Return a widget that takes the whole width among the controls."""
    widget.add_class("workbench-wide")
    return widget


def heading(text: str) -> widgets.HTML:
    """Return a line above the controls that follow."""
    return wide(widgets.HTML(f"<b>{escape(text)}</b>"))


def quiet(text: str = "") -> widgets.HTML:
    """Return a line in small print."""
    line = widgets.HTML(escape(text))
    line.add_class("workbench-quiet")
    return line


def table_box() -> widgets.HTML:
    """Return an empty place for a table, that scrolls sideways where the page is narrow."""
    box = widgets.HTML(layout=widgets.Layout(width="100%"))
    box.add_class("workbench-table")
    return box


def control_style() -> dict[str, object]:
    """Keywords that give a control the width of its column; made anew for each, so that hiding one hides no other."""
    return {"style": {"description_width": "72px"}, "layout": widgets.Layout(width="98%", max_width="440px")}


def listed(lines: Sequence[str], title: str = "") -> str:
    """Return sentences as a list in HTML."""
    head = f"<b>{escape(title)}</b>" if title else ""
    return f"{head}<ul>{''.join(f'<li>{escape(line)}</li>' for line in lines)}</ul>"


def first_bold(lines: Sequence[str]) -> str:
    """Return sentences as lines in HTML, the first one in bold."""
    first, *others = map(escape, lines)
    return "<br>".join([f"<b>{first}</b>", *others])
