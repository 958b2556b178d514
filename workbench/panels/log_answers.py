"""Controls that answer what a log leaves open, for the log and lifter that are chosen, and for no other."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import ipywidgets as widgets

from workbench.log import ReadOptions, lifters_of
from workbench.panels.frame import control_style

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["LogAnswers"]

_OPEN: Final = "as the log says"
_CHOICES: Final = {
    "unit": ("loads without unit", (("kilograms", "kg"), ("pounds", "lb"))),
    "date_order": ("order of dates", (("day first", "dmy"), ("month first", "mdy"), ("year first", "ymd"))),
    "rest_unit": ("rests without unit", (("seconds", "s"), ("minutes", "min"))),
    "dumbbells": ("loads of two dumbbells", (("in each hand", "one_hand"), ("both together", "both"))),
    "odd_dates": ("odd dates", (("right as written", "as_written"),)),
}


class LogAnswers:
    """One list a question, each at first as the log says.

    Attributes
    ----------
    lists : dict of str to ipywidgets.Dropdown
        By option of `ReadOptions`: unit, date_order, rest_unit, dumbbells, odd_dates.
    rows : ipywidgets.Dropdown
        The name in the log whose rows are those of the chosen lifter.
    """

    def __init__(self) -> None:
        self.lists = {
            name: widgets.Dropdown(options=[(_OPEN, None), *answers], description=label, **control_style())
            for name, (label, answers) in _CHOICES.items()
        }
        self.rows = widgets.Dropdown(options=[(_OPEN, None)], description="lifter's rows", **control_style())

    def options(self) -> ReadOptions:
        """Return the answers that a reading takes."""
        return ReadOptions(**{name: control.value for name, control in self.lists.items()})

    def called(self) -> list[str]:
        """Return the names in the log that are said to be the lifter's."""
        return [] if self.rows.value is None else [self.rows.value]

    def offer(self, rows: pd.DataFrame) -> None:
        """List the lifters of a log."""
        kept, names = self.rows.value, [(name or "rows without a name", name) for name in lifters_of(rows)]
        self.rows.options = [(_OPEN, None), *names]
        self.rows.value = kept if kept in [name for _, name in names] else None

    def forget(self, *, log: bool) -> None:
        """Take back whose rows they are, and with another log every answer."""
        for control in (self.rows, *(self.lists.values() if log else ())):
            control.value = None
