"""What all panels share: the look, names for screen readers, one line for answers and one for what went wrong."""

from __future__ import annotations

import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from html import escape
from pathlib import Path

import anywidget
import ipywidgets as widgets
import plotly.graph_objects as go
from IPython.display import display

from workbench.panels.redraw import refresh
from workbench.quantities import InputError

__all__ = ["CAUTION", "Panel", "caution", "column", "control_style", "heading", "row", "table_box"]

#: Where a number can be acted on. The longer form stands in the README.
CAUTION = (
    "A prediction, for healthy, experienced adults with a qualified coach; it clears nobody to train. "
    "Stop on pain. Spotters or safety arms for sets near failure. Minors, pregnancy, illness, injury: ask a licensed "
    "professional first. The facility's rules and local codes come first."
)

#: In place of a panel, on a page that was opened and not yet run.
_NOT_RUN = "Controls and answers appear here once the page is run: menu Run, then Run All Cells."


class _NameControls(anywidget.AnyWidget):
    """Invisible: gives the panel it stands in its look, and its controls their names."""

    _esm = Path(__file__).with_name("panel.js")
    _css = Path(__file__).with_name("panel.css")


class Panel:
    """Controls beside answers, what needs the full width below. Making one shows nothing; `show` does.

    An answer belongs to what is chosen. Where no answer can be given, or the choice has changed and the new answer
    takes a press of a button, `blank` takes the old one away: every text, table and figure of ``answers``, ``below``
    and ``beside``, and by `forget` what the panel itself keeps of it.

    Parameters
    ----------
    controls, answers, below : sequence of Widget
        Left, right, and below both.
    beside : sequence of Widget
        Those among the controls that show parts of an answer.

    Attributes
    ----------
    root : ipywidgets.Box
        Everything, to be shown or put into a larger box.
    trouble : ipywidgets.HTML
        One plain line where the input cannot be used; empty otherwise.
    """

    def __init__(
        self,
        controls: Sequence[widgets.Widget],
        answers: Sequence[widgets.Widget],
        below: Sequence[widgets.Widget] = (),
        beside: Sequence[widgets.Widget] = (),
    ) -> None:
        self._parts = (*answers, *below, *beside)
        self._inside = threading.local()
        self.trouble = widgets.HTML()
        self.trouble.add_class("workbench-trouble")
        self.trouble.add_class("workbench-wide")
        names = _NameControls()
        names.add_class("workbench-name-controls")
        left = column(*controls, self.trouble, flex="1 1 280px")
        left.add_class("workbench-controls")
        right = column(*answers, flex="3 1 460px")
        right.add_class("workbench-answers")
        self.root = widgets.Box(
            [names, left, right, column(*below, caution(), flex="1 1 100%")],
            layout=widgets.Layout(display="flex", flex_flow="row wrap", align_items="flex-start", width="100%"),
        )
        self.root.add_class("workbench-panel")

    def show(self) -> None:
        """Show the panel here."""
        shown = self.root._repr_mimebundle_() | {"text/plain": _NOT_RUN}
        display(shown, raw=True)  # type: ignore[no-untyped-call]

    def forget(self) -> None:
        """Forget what is kept of the last answer; each panel says what that is."""
        raise NotImplementedError

    def blank(self, reason: str) -> None:
        """Take the answer away and say why in its place."""
        self.forget()
        for part in self._parts:
            _empty(part, reason)

    @contextmanager
    def explained(self, part: widgets.HTML | None = None) -> Iterator[None]:
        """Turn an error inside the ``with`` block into one line in the panel, and take the answer away.

        Inside another such block it does nothing: the outermost sees the error, so that no success after it hides it.

        Parameters
        ----------
        part : HTML
            The only part of the answer that cannot be given; everything else stays.
        """
        if getattr(self._inside, "it", False):
            yield
            return
        self._inside.it = True
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
        finally:
            self._inside.it = False


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


def heading(text: str) -> widgets.HTML:
    """Return a line above the controls that follow."""
    line = widgets.HTML(f"<b>{escape(text)}</b>")
    line.add_class("workbench-wide")
    return line


def row(*children: widgets.Widget) -> widgets.Box:
    """Children side by side, wrapped where the page is narrow."""
    return widgets.Box(list(children), layout=widgets.Layout(display="flex", flex_flow="row wrap"))


def control_style() -> dict[str, object]:
    """Keywords that give a control the width of its column; made anew for each, so that hiding one hides no other."""
    return {"style": {"description_width": "72px"}, "layout": widgets.Layout(width="98%", max_width="440px")}


def caution() -> widgets.HTML:
    """Return the caution that stands under every panel whose numbers can be acted on."""
    text = widgets.HTML(escape(CAUTION))
    text.add_class("workbench-quiet")
    return text


def table_box() -> widgets.HTML:
    """Return an empty place for a table, that scrolls sideways where the page is narrow."""
    box = widgets.HTML(layout=widgets.Layout(width="100%"))
    box.add_class("workbench-table")
    return box
