"""Controls that answer what a log leaves open, for the log and lifter that are chosen, and for no other."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, Final

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
        self.box = widgets.VBox([self.rows, *self.lists.values()])
        self._filling = False

    def observe(self, call: Callable[[Any], None]) -> None:
        """Call ``call`` when a person answers."""
        for control in (self.rows, *self.lists.values()):
            control.observe(lambda change: None if self._filling else call(change), "value")

    def options(self) -> ReadOptions:
        """Return the answers that a reading takes."""
        return ReadOptions(**{name: control.value for name, control in self.lists.items()})

    def called(self) -> list[str]:
        """Return the names in the log that are said to be the lifter's."""
        return [] if self.rows.value is None else [self.rows.value]

    def offer(self, rows: pd.DataFrame) -> None:
        """List the lifters of a log."""
        names = [(name or "rows without a name", name) for name in lifters_of(rows)]
        self._set(self.rows, self.rows.value, [(_OPEN, None), *names])

    def forget(self, *, log: bool) -> None:
        """Take back whose rows they are, and with another log every answer."""
        for control in (self.rows, *(self.lists.values() if log else ())):
            self._set(control, None, control.options)

    def _set(self, control: widgets.Dropdown, value: str | None, options: Any) -> None:
        self._filling = True
        try:
            control.options = options
            control.value = value if value in [answer for _, answer in options] else None
        finally:
            self._filling = False
