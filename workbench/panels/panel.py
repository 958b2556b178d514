"""The base of every panel: the steps to its answer, a place for the answer and one for what went wrong."""

from __future__ import annotations

import asyncio
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from html import escape
from typing import Any, ClassVar

import ipywidgets as widgets
from IPython.display import DisplayHandle, display

from workbench.panels.frame import NameControls, column, empty, first_bold, listed, quiet, wide
from workbench.present.tables import Table, plain_text
from workbench.quantities import SEED, InputError
from workbench.simulate.fused import load_soon

__all__ = ["BUSY", "Panel"]

#: Before the first step: what was changed together has come in. Longer, a stream of changes would be answered later.
_WAIT_S = 0.001
#: Before a step that may come later: what was sent is on its way, and a change that waits in the queue comes in first.
_WAIT_LATER_S = 0.005
#: Since the last change, before the first such step: the picture is seen by then, drawn with nothing beside it, and
#: while a slider is dragged, or pressed quickly, words and tables do not hold up the next picture.
_REST_S = 0.15

#: Where a number can be acted on. The longer form stands in the README.
_CAUTION = (
    "A prediction, for healthy, experienced adults with a qualified coach; it clears nobody to train. "
    "Stop on pain. Spotters or safety arms for sets near failure. Minors, pregnancy, illness, injury, medicine: ask a "
    "licensed professional first. The facility's rules and local codes come first."
)

#: Marks a panel whose answer is being renewed.
BUSY = "workbench-busy"

#: In place of a panel, on a page that was opened and not yet run.
_NOT_RUN = "Controls and answers appear here once the page is run: menu Run, then Run All Cells."

Work = Callable[[], None]


@dataclass
class _Step:
    """Work that is due at first, and again after a change of its controls or of what it comes after."""

    work: Work
    after: Work | None
    prepares: bool
    later: bool
    part: widgets.HTML | None
    within: widgets.Accordion | None
    due: bool = True

    @property
    def is_folded(self) -> bool:
        """Whether what it shows lies in a part that is closed."""
        return self.within is not None and self.within.selected_index is None


class Panel:
    """Controls beside answers, what needs the full width below. Making one shows nothing; `show` does.

    A panel says where its widgets stand (`arrange`), names the steps to its answer with the controls of each
    (`step`), and takes them (`take_steps`). Soon after the last of several changes, what is due is done in
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
    last
        The last answer, None where there is none; as every attribute named in ``kept``.
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
        self._numbers: DisplayHandle | None = None
        self._waiting: asyncio.TimerHandle | None = None
        self._changed_at = -_REST_S
        # JupyterLab may hand over the changes of controls in several threads.
        self._one_at_a_time, self._inside = threading.RLock(), threading.local()
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
        names = NameControls()
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
        load_soon()

    def show_text(self) -> None:
        """Show the answer as plain text here; it follows the controls for as long as the page is open."""
        self._numbers = display({"text/plain": self.text()}, raw=True, display_id=True)  # type: ignore[no-untyped-call]

    def _say_again(self) -> None:
        """Renew what `show_text` shows."""
        if self._numbers is not None:
            text = {"text/plain": self._plain_text() or self.no_answer}
            self._numbers.update(text, raw=True)  # type: ignore[no-untyped-call]

    def step(
        self,
        work: Work,
        *controls: Any,
        after: Work | None = None,
        prepares: bool = False,
        later: bool = False,
        part: widgets.HTML | None = None,
        within: widgets.Accordion | None = None,
    ) -> None:
        """Name a step to the answer.

        Parameters
        ----------
        work : callable
            Reads controls, and shows the answer or a part of it; where it raises, no step after it is taken.
        controls
            A change of one of these makes the step due again; anything with ``observe``.
        after : callable
            The work of an earlier step, that makes this one due whenever it is itself.
        prepares : bool
            Reads files or fills controls; stays done when the answer is taken away, others are then due again.
        later : bool
            Taken once the controls rest, so that what comes before is seen sooner.
        part : HTML
            All that goes where this step cannot be taken.
        within : Accordion
            Where all that it shows lies: while that is closed, a page needs none of it, and it stays empty.
        """
        self._steps.append(_Step(work, after, prepares, later, part, within))
        if within is not None:
            within.observe(lambda _change: self._ask(), "selected_index")
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
        self._ask()

    def _ask(self, wait_s: float = _WAIT_S) -> None:
        """Take the steps soon, once for several changes; at once where no event loop runs, as in a plain script."""
        if self._waiting is not None:
            self._waiting.cancel()
        try:
            self._waiting = asyncio.get_running_loop().call_later(wait_s, self._take_steps_that_wait)
        except RuntimeError:
            self.take_steps(at_once=True)
        else:
            self.root.add_class(BUSY)

    def _take_steps_that_wait(self) -> None:
        self._waiting = None
        try:
            self.take_steps()
        finally:
            if self._waiting is None:
                self.root.remove_class(BUSY)

    def _changed(self, change: Any, work: Work | None) -> None:
        if getattr(self._inside, "it", False):
            return
        self._changed_at = time.monotonic()
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
        """Take changes in this thread for the panel's own."""
        self._inside.it = True
        try:
            yield
        finally:
            self._inside.it = False

    def take_steps(self, *, at_once: bool = False) -> None:
        """Do in order what is due, up to a step that cannot be done.

        Parameters
        ----------
        at_once : bool
            All of it: also what may come a little later, and what lies in a part that is closed; of that a text shown
            tells too, a little later.
        """
        worked = False
        with self._one_at_a_time:
            for step in self._steps:
                if not step.due:
                    continue
                folded = step.is_folded and not at_once
                if folded:
                    empty(step.within, "")  # when it is opened, nothing of another choice is seen
                    if self._numbers is None:
                        continue
                if (step.later or folded) and worked and not at_once:
                    self._ask(max(_WAIT_LATER_S, self._changed_at + _REST_S - time.monotonic()))
                    return
                self._take(step)
                if step.due:  # it cannot be done, or is asked for anew
                    break
                worked = True
            self._say_again()

    def _take(self, step: _Step) -> None:
        step.due, done = False, False
        try:
            with self._by_itself(), self.explained(step.part):
                step.work()
                done = True
        finally:
            step.due = step.due or not done

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
        return self._plain_text() or self.no_answer

    def _plain_text(self) -> str:
        return plain_text(*(part for parts in self._said.values() for part in parts))

    def forget(self) -> None:
        """Forget what is kept of the last answer."""
        self._said.clear()
        for name in self.kept:
            setattr(self, name, None)

    def blank(self, reason: str) -> None:
        """Take the answer away and say why in its place; the steps that showed it are due again."""
        self.forget()
        for step in self._steps:
            step.due = step.due or not step.prepares
        for part in self._parts:
            empty(part, reason)
        self._say_again()

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
