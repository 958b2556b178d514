"""What a committed block predicts, as text tables whose digits a later run can be held against."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import pandas as pd

from workbench.answers.block_check import BlockCheck, check_block

if TYPE_CHECKING:
    from workbench.gym.equipment import Room
    from workbench.lifter import Lifter
    from workbench.models.fatigue import FatigueForm
    from workbench.prescription.block import Block

__all__ = ["Predictions", "predict"]

#: Digits after the decimal point: finer than anybody plans by, coarse enough that another processor's last bit does
#: not show.
_DIGITS: Final = 4
_SET_COLUMNS: Final = (
    *("week", "session", "exercise", "set", "load_kg", "percent", "reps_low", "reps_high", "rest_s", "chance"),
    *("reserve_low", "reserve", "reserve_high", "reps_p10", "reps_p50", "reps_p90"),
)
_WEEK_COLUMNS: Final = ("week", "session", "chance", "reserve_low", "reserve", "reserve_high", "minutes")


@dataclass(frozen=True)
class Predictions:
    """The checks of every lifter, and the two tables of a committed folder as CSV text.

    Attributes
    ----------
    checks : tuple of BlockCheck
        In the order of the lifters.
    sets, weeks : str
        CSV, one row a lifter, week and set, or a lifter, week and session.
    """

    checks: tuple[BlockCheck, ...]
    sets: str
    weeks: str

    def chances(self) -> dict[str, float]:
        """Chance that all reps of the block are made, by lifter."""
        return {one.plan.lifter.name: round(one.chance_of_block, _DIGITS) for one in self.checks}


def predict(
    block: Block, lifters: Sequence[Lifter], room: Room, *, draws: int, seed: int, form: FatigueForm
) -> Predictions:
    """Simulate the block for every lifter, each with the same seed: the digits that ``workbench check`` shows."""
    checks = tuple(check_block(block, one, room, draws=draws, seed=seed, form=form) for one in lifters)
    return Predictions(
        checks=checks,
        sets=_csv(_SET_COLUMNS, [(one.plan.lifter.name, one.sets) for one in checks]),
        weeks=_csv(_WEEK_COLUMNS, [(one.plan.lifter.name, one.weeks) for one in checks]),
    )


def _csv(columns: tuple[str, ...], tables: list[tuple[str, pd.DataFrame]]) -> str:
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(("lifter", *columns))
    for name, table in tables:
        for row in table[list(columns)].itertuples(index=False, name=None):
            writer.writerow([_inert(name), *(_cell(value) for value in row)])
    return stream.getvalue()


def _cell(value: object) -> str:
    if isinstance(value, float):
        if value != value:
            return ""
        if value == float("inf"):
            return "failure"
        return f"{round(value, _DIGITS) + 0.0:.{_DIGITS}f}".rstrip("0").rstrip(".")
    return _inert(str(value))


def _inert(text: str) -> str:
    from workbench.log.cells import neutralised

    return neutralised(text)
