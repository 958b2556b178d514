"""Panel: were the forecasts worth anything? The gym's logs gone through as if each week were still to come."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from typing import TYPE_CHECKING, Any, Final

import ipywidgets as widgets

from workbench.answers.gym_numbers import logs_of_gym
from workbench.answers.review import Review, walk_forward
from workbench.panels.controls import lifter_picker
from workbench.panels.desk import Desk
from workbench.panels.frame import control_style, folded, row, table_box
from workbench.panels.pressed import PressedPanel
from workbench.panels.tables import chance, table_of
from workbench.present.tables import Table
from workbench.present.words import amount, percent_said
from workbench.quantities import SEED, InputError

if TYPE_CHECKING:
    from workbench.answers.review.misses import Miss

__all__ = ["ReviewPanel"]

_THIS, _ALL = "this lifter", "everybody"
#: Misses that are said at once; with a whole gym there can be fifty, most of them small.
_FIRST: Final = 6


class ReviewPanel(PressedPanel):
    """One lifter's logs, or everybody's: what became of chances, the rules a coach would use, what to do on Monday.

    Attributes
    ----------
    lifter : FilePicker
    whose : ipywidgets.ToggleButtons
        Whose logs are gone through.
    more : ipywidgets.Accordion
        What is missed beyond the few that are said at once, the largest first; hidden where there is no more.
    """

    press = "Press <b>Go through the logs</b>."
    doing = "work"
    last: Review | None

    def __init__(self, desk: Desk | None = None, *, seed: int = SEED, draws: int = 500) -> None:
        self.go = widgets.Button(description="Go through the logs", button_style="primary")
        super().__init__(self.go, seed=seed, draws=draws)
        self._desk = desk or Desk()
        self.lifter = lifter_picker(self._desk)
        self.whose = widgets.ToggleButtons(options=[_THIS, _ALL], description="logs of", **control_style())
        self.to_do, self.aside = widgets.HTML(), widgets.HTML()
        self.more_to_do = table_box()
        self.more_to_do.add_class("workbench-wraps")
        self.more = folded("", self.more_to_do)
        self.more.layout.display = "none"
        self.called, self.rules = table_box(), table_box()
        self.arrange(
            [self.lifter, self.whose, row(self.go, self.stop)],
            [self.bar, self.to_do, self.more],
            below=[self.called, self.rules, self.aside],
        )
        self.watch(self.lifter, self.whose)

    def work_out(self) -> Review:
        """Return the review; what was not reached before a stop is missing."""
        work: dict[str, Any] = {"draws": self.draws, "seed": self.seed, "progress": self._progress}
        if self.whose.value == _ALL:
            return walk_forward(self._desk.gym.path, **work)
        of_lifters, left_out = logs_of_gym(self._desk.gym.path)
        name, stem = self.lifter.read().name, self.lifter.value.stem
        of_lifter = [one for one in of_lifters if one.lifter.name == name]
        if not of_lifter:
            why = "; ".join(f"{what}: {reason}" for what, reason in left_out if what.startswith(stem))
            remedy = "put one into logs/, or look at everybody's"
            raise InputError(None, name, f"has no log here that can be read{f' ({why})' if why else ''}", remedy)
        return walk_forward(of_lifter, **work)

    def show_answer(self) -> None:
        """Show what became of chances first, then what to do, then the rules beside it."""
        found = self.last
        assert found is not None
        first, more = found.misses[:_FIRST], found.misses[_FIRST:]
        self.put(self.answer, found.record_said())
        self.put(self.to_do, [miss.said for miss in first] or ["Nothing is missed systematically: plan on."])
        self.put(self.more_to_do, _misses(more))
        self.more.titles = (f"{len(more)} more, the largest first",)
        self.more.layout.display = None if more else "none"
        self.put(self.called, _calls(found))
        self.put(self.rules, _rules(found))
        self.put(self.aside, [f"{note}." for note in found.notes])

    def _progress(self, done: int, expected: int, said: str) -> bool:
        self.progress(done, expected, escape(f"{done} of {expected} lifters; {said}"))
        return not self._stop.is_set()


def _misses(misses: Sequence[Miss]) -> Table:
    rows = tuple(("everybody" if miss.lifter == "all" else miss.lifter, miss.evidence, miss.remedy) for miss in misses)
    return Table("What else is missed", ("lifter", "what the logs say", "what to do"), rows, texts=(0, 1, 2))


def _calls(found: Review) -> Table:
    return table_of(
        "What became of chances: sets with prescribed reps",
        found.calls[found.calls["sets"] > 0],
        {
            "called": "{called}",
            "sets": "{sets}",
            "in the mean": chance("chance"),
            "made": "{made}",
            "made, %": lambda row: percent_said(row["share"]),  # a count, and no chance: all are 100 %
            "made, were chances right": "{low:.0f} to {high:.0f}",
        },
    )


def _rules(found: Review) -> Table:
    return table_of(
        "Beside the rules that a coach would use instead, on the same sets (lower is better)",
        found.table,
        {
            "": "{forecaster}",
            "reps: score": "{crps:.2f}",
            "to failure, off by": lambda row: amount(row["error"]),
            "in 80 % bands": chance("inside_80"),
            "made or missed: score": lambda row: amount(row["brier"]),
            "sets": "{sets}",
        },
    )
