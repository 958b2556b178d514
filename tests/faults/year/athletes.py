"""The lifters of the year: invented people who do what their sheet says, and keep a log in their own way."""

from __future__ import annotations

import datetime
import math
import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

import numpy as np
import openpyxl

from tests.calibration.body import Body
from tests.calibration.weeks import Life, lived_set
from tests.faults.year.books import Done
from tests.invented_gyms.people import Common, Trainee, drawn_lifters, lifter_table

__all__ = ["EXERCISES", "FIRST_MONDAY", "Athlete", "Line", "athletes", "lines_of"]

#: A leap year, from its first day on.
FIRST_MONDAY: Final = datetime.date(2024, 1, 1)
EXERCISES: Final = ("back squat", "bench press", "lat pulldown")
_TESTED: Final = datetime.date(2023, 12, 18)
_FIRST_REST_S: Final = 240.0
_HEADING_ROW: Final = 3
#: Most reps in reserve that anybody counts.
_MOST_SAID: Final = 5


@dataclass(frozen=True)
class Line:
    """A line of a sheet that was handed out; ``reps``: infinite to failure; ``left``: to stop with some in reserve."""

    tab: str
    row: int
    day: datetime.date
    exercise: str
    label: str
    load_kg: float
    reps: float
    left: bool
    rest_s: float


class Athlete:
    """Somebody who trains.

    Attributes
    ----------
    name : str
    keeps : str
        How the log is kept: "rack", "sheet", "notebook" or "export".
    """

    def __init__(self, trainee: Trainee, keeps: str, seed: int) -> None:
        self.name, self.keeps, self._trainee = trainee.name, keeps, trainee
        self.life = Life(trainee.person, trainee.row, np.random.default_rng(seed))
        self.rng = np.random.default_rng([seed, 1])
        self._body = Body(trainee.person)

    def file(self) -> dict[str, Any]:
        """Return what the coach writes of a new lifter."""
        table = lifter_table(self._trainee)
        lifts = {name: lift for name, lift in table["lifts"].items() if name in EXERCISES}
        for lift in lifts.values():
            if "tested" in lift:
                lift["tested"] = _TESTED
        return {**table, "lifts": lifts}

    def wake_up(self, day: datetime.date) -> None:
        """Come to the gym on a day, fresh."""
        self.life.wake_up((day - FIRST_MONDAY).days - self.life.day_number)
        self._body = Body(self._trainee.person)

    def do(self, line: Line) -> tuple[int, bool, float]:
        """Do a set: reps done, whether the next one failed, reps said to be left or NaN."""
        row = replace(self._trainee.row, by_feel=line.left)
        asked = (line.exercise, line.load_kg, line.rest_s)
        reps, failed, stated = lived_set(self.life, self._body, asked, line.reps, line.left, row)
        return reps, failed, stated if stated <= _MOST_SAID else math.nan

    def follow(self, lines: list[Line]) -> Iterator[tuple[Line, Done, float]]:
        """Do the lines of one day; after a set without any rep no more of its exercise is done."""
        self.wake_up(lines[0].day)
        too_much: set[str] = set()
        for line in lines:
            if line.exercise in too_much:
                continue
            reps, failed, stated = self.do(line)
            if reps == 0:
                too_much.add(line.exercise)
            yield line, Done(line.day, line.exercise, line.label, line.load_kg, reps, failed), stated


def athletes(count: int, seed: int) -> list[Athlete]:
    """Invent so many who train the three exercises, and whose coach knows a 1RM of each."""
    keeps = ("rack", "sheet", "notebook", "export")
    rng = np.random.default_rng(seed)
    drawn = drawn_lifters(
        rng, Common(), form="steep end", curve="exponential", lifters=30 * count, weeks=60, untidy=False
    )
    found = [one for one in drawn if set(EXERCISES) <= one.known.keys()]
    assert len(found) >= count, "draw more"
    return [Athlete(one, keeps[number % len(keeps)], seed + number) for number, one in enumerate(found[:count])]


def lines_of(sheet: Path) -> list[Line]:
    """Read a sheet as it was handed out, as its lifter does."""
    book = openpyxl.load_workbook(sheet)
    found = []
    for tab in book.worksheets:
        columns = {str(cell.value).partition(" (")[0]: cell.column - 1 for cell in tab[_HEADING_ROW] if cell.value}
        if "Planned load" not in columns:
            continue
        for number, cells in enumerate(tab.iter_rows(min_row=_HEADING_ROW + 1, values_only=True), _HEADING_ROW + 1):
            if not cells[columns["Planned load"]]:
                continue
            asked, left = str(cells[columns["Planned reps"]]), cells[columns["Planned RIR"]] not in (None, "", 0)
            load = re.search(r"[\d.]+", str(cells[columns["Planned load"]]))
            reps = re.match(r"\d+", asked)
            assert load is not None
            found.append(
                Line(
                    tab=tab.title,
                    row=number,
                    day=cells[columns["Date"]].date(),
                    exercise=str(cells[columns["Exercise"]]),
                    label=str(cells[columns["Set"]]),
                    load_kg=float(load[0]),
                    reps=float(reps[0]) if reps and not left else math.inf,
                    left=left,
                    rest_s=float(cells[columns["Rest before"]] or _FIRST_REST_S),
                )
            )
    return found
