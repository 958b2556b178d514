"""Sheets filled in as athletes do, read back as a log: nothing lost, nothing doubled, every load on the plates."""

from __future__ import annotations

import datetime
import random
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import openpyxl
import pytest

from tests.answers.invented_blocks import BODY_KG, features_of, invented_gym
from workbench.answers.block_check import check_block
from workbench.gym.equipment import Room
from workbench.lifter import Lifter
from workbench.log import ReadOptions, read_log
from workbench.prescription.block import Block
from workbench.publish.sheets import HEADINGS, Sheet, SheetLine, SheetSession, make_sheet, write_workbook
from workbench.quantities import KG_PER_LB
from workbench.reference.toml_files import validate

COLUMN = {heading: number for number, (heading, _) in enumerate(HEADINGS, start=1)}
FIRST_ROW = 4
WEEK = 2
MONDAY = datetime.date(2026, 1, 5)
#: A load in lb turned into kg by one product here and by another there.
ROUNDING = 1e-9
#: What the forty sheets together hold; of the block, and of how they are filled in.
WANTED = {
    "drops",
    "alternating",
    "dumbbells",
    "body mass",
    "each side",
    "kg room",
    "lb room",
    "range",
    "to failure",
} | {
    *("skipped", "failed", "lighter", "if-then", "fewer", "comma", "said unit", "other unit", "both hands", "BW"),
    *("no reserve", "part reserve", "rest", "note", "own date", "date in a skipped row", "drop done"),
}


def sheet_of(number: int, *, if_then: bool) -> tuple[Sheet, Room, set[str]]:
    """Lay out the sheets of an invented gym; in half of them the dumbbells are labelled in the other unit.

    With if-then lines each group has four sets, and a wanted chance that they are worked out for.
    """
    block, lifter, room = invented_gym(number)
    if if_then:
        block["limits"] = {"chance_of_reps": 0.85}
        groups = [group for one in block["sessions"] for slot in one.get("exercises", ()) for group in slot["sets"]]
        for group in groups:
            group["count"] = 4
    if number % 4 > 1:
        other = "lb" if room["unit"] == "kg" else "kg"
        pieces = [{**one, "unit": other} if one["kind"] == "dumbbells" else one for one in room["equipment"]]
        room = {**room, "equipment": pieces}
    held = set(features_of(block, room))
    gym = validate(room, Room)
    check = check_block(validate(block, Block), validate(lifter, Lifter), gym, draws=20, seed=number)
    return make_sheet(check, gym, start=MONDAY if number % 3 else None, if_then=if_then), gym, held


class Athlete:
    """Fills in one week of a sheet, and keeps what was really done.

    Attributes
    ----------
    truth : dict of int to dict
        What was done, by the row it was written into.
    seen : set of str
        What was done in one of the ways of `WANTED`.
    """

    def __init__(self, sheet: Sheet, room: Room, number: int) -> None:
        self.sheet, self.room, self.rng = sheet, room, random.Random(1000 + number)
        self.truth: dict[int, dict[str, Any]] = {}
        self.seen: set[str] = set()
        self.rows = 0

    def fill(self, path: Path) -> None:
        book = openpyxl.load_workbook(path)
        tab, row = book[f"Week {WEEK}"], FIRST_ROW
        for place, session in enumerate(self.sheet.weeks[WEEK - 1].sessions):
            date, first = session.date or MONDAY + datetime.timedelta(days=7 + 2 * place), row
            for line, done in self._session(session):
                if done is None:
                    self.seen.add("date in a skipped row" if row == first and session.date is None else "skipped")
                else:
                    cells, self.truth[row] = self._written(line, done)
                    self.truth[row]["date"] = date
                    for heading, value in cells.items():
                        tab.cell(row, COLUMN[heading], value)
                row += 1
            if session.date is None:
                self.seen.add("own date")
                tab.cell(first, COLUMN["Date"], self.rng.choice([date, date.isoformat()]))
        self.rows = row - FIRST_ROW
        book.save(path)

    def _session(self, session: SheetSession) -> Iterator[tuple[SheetLine, dict[str, Any] | None]]:
        """Go through a session: what is done instead of the plan goes on in the sets like it."""
        branch: dict[str, tuple[float | None, int]] = {}
        left_out: set[tuple[str, int]] = set()
        for at, line in enumerate(session.lines):
            own = line.exercise, line.number
            if self.rng.random() < 0.12 and not line.drop:
                left_out.add(own)
            load = line.load
            coming = [one for one in session.lines[at:] if one.exercise == line.exercise and one.load == line.load]
            if line.exercise in branch:
                lighter, of = branch[line.exercise]
                if line.drop or line.load == of:
                    load = line.load if lighter is None or line.drop else lighter
                    if lighter is None and not line.drop:
                        left_out.add(own)
            if own in left_out:  # a set that is left out takes its drops with it
                yield line, None
                continue
            yield line, {"load": load, "failed": self.rng.random() < 0.15}
            if line.then and len(coming) > 1:
                said = self.rng.choice(line.then.split(", ", 1)[1].split("; "))
                what = said.split(": ", 1)[1]
                number = re.match(r"(?:2 x |body mass \+ )?([\d.]+) (?:kg|lb) from", what)
                if number:
                    self.seen.add("if-then")
                    branch[line.exercise] = float(number[1]), line.load
                    fewer = re.search(r"(one|\d+) sets? fewer", what)
                    if fewer:
                        self.seen.add("fewer")
                        count = 1 if fewer[1] == "one" else int(fewer[1])
                        sets = dict.fromkeys((one.exercise, one.number) for one in coming if one.number != line.number)
                        left_out |= set(list(sets)[-count:])
                elif what.startswith("end"):
                    branch[line.exercise] = None, line.load
            elif not line.drop and self.rng.random() < 0.15:
                branch[line.exercise] = self._lighter(line), line.load
                self.seen.add("lighter")

    def _lighter(self, line: SheetLine) -> float:
        table = self.room.loads_for(self.room.catalogue.exercise(line.exercise))
        loads = table.in_unit / table.hands
        below = loads[loads < line.load - 1e-6]
        return float(below[-1]) if below.size and below[-1] > 0 else line.load

    def _written(self, line: SheetLine, done: dict[str, Any]) -> tuple[dict[str, Any], dict[str, Any]]:
        """Return the cells that are written, and what they mean."""
        rng, reps = self.rng, self.rng.randint(2, 12)
        hands = 2 if line.said.startswith("2 x ") else 1
        in_kg = KG_PER_LB if line.unit == "lb" else 1.0
        load_kg, written = hands * done["load"] * in_kg, self._load(line, done["load"], hands)
        if isinstance(written, str) and written.startswith(("BW", "bodyweight")):
            load_kg += BODY_KG
        truth: dict[str, Any] = {
            "exercise": line.exercise,
            "set_number": line.number,
            "drop": line.drop,
            "load_kg": load_kg,
            "reps": reps,
            "outcome": "failed" if done["failed"] else "completed",
            "rest_s": None if line.rest_s is None else round(line.rest_s),  # as printed
            "reps_in_reserve": np.nan,
            "notes": "",
            "said": line.said,
        }
        cells: dict[str, Any] = {"Load done": written, "Reps done": f"{reps} failed" if done["failed"] else reps}
        self.seen |= {"failed"} if done["failed"] else set()
        self.seen |= {"drop done"} if line.drop else set()
        if not done["failed"] and rng.random() < 0.6:
            truth["reps_in_reserve"] = rng.choice([0, 1, 2, 3, 1.5])
            half = truth["reps_in_reserve"] == 1.5
            cells["RIR done"] = "1,5" if half else truth["reps_in_reserve"]
            self.seen |= {"part reserve"} if half else set()
        elif not done["failed"]:
            self.seen.add("no reserve")
        if line.rest_s is not None and rng.random() < 0.15:
            cells["Rest before (s)"] = truth["rest_s"] = rng.choice([75, 150, 300])
            self.seen.add("rest")
        if rng.random() < 0.15:
            cells["Notes"] = truth["notes"] = rng.choice(["felt heavy", "grip went first, not the back", "spotter: J."])
            self.seen.add("note")
        return cells, truth

    def _load(self, line: SheetLine, load: float, hands: int) -> str | float:
        """Write a load in one of the ways that people write it."""
        shown = f"{load:g}"
        comma = shown.replace(".", ",")
        body = line.said.startswith("body mass")
        if body and load == 0.0:
            self.seen.add("BW")
            return self.rng.choice(["BW", "bodyweight"])
        if line.unit != self.sheet.unit:
            self.seen.add("other unit")
            return f"{self.rng.choice([shown, comma])} {line.unit}"
        ways: list[tuple[str, str | float]] = [("", load), ("said unit", f"{shown} {line.unit}")]
        if comma != shown:
            ways.append(("comma", comma))
        if hands == 2:
            ways.append(("both hands", f"2 x {comma}"))
        if body:
            ways.append(("BW", f"BW + {shown}"))
        way, written = self.rng.choice(ways)
        self.seen |= {way} if way else set()
        return written


def read_back(number: int, folder: Path, *, if_then: bool) -> set[str]:
    """Fill in the sheet of a gym, read it, compare; return what it held."""
    sheet, room, held = sheet_of(number, if_then=if_then)
    path = write_workbook(sheet, folder / f"{number}.xlsx")
    athlete = Athlete(sheet, room, number)
    athlete.fill(path)
    reading = read_log(path, options=ReadOptions(body_mass_kg=BODY_KG))
    assert reading.questions == ()
    rows = reading.rows[reading.rows["source_sheet"] == f"Week {WEEK}"].set_index("source_row")
    assert len(rows) == len(reading.rows)
    assert sorted(rows.index) == sorted(athlete.truth)  # nothing lost, nothing doubled
    for row, truth in athlete.truth.items():
        compare(rows.loc[row], truth, room)
    planned = sum(len(session.lines) for week in sheet.weeks for session in week.sessions)
    assert len(reading.quarantine) == planned - len(athlete.truth)
    assert reading.quarantine["reason"].str.contains("not done").all()
    return held | athlete.seen


def compare(got: Any, truth: dict[str, Any], room: Room) -> None:
    assert got["date"].date() == truth["date"]
    assert got["lifter"] == "A. Nyone"
    for name in ("exercise", "set_number", "reps", "notes"):
        assert got[name] == truth[name], name
    assert got["load_kg"] == pytest.approx(truth["load_kg"], rel=ROUNDING)
    for name in ("rest_s", "reps_in_reserve"):
        wanted = np.nan if truth[name] is None else truth[name]
        assert np.array_equal(np.float64(got[name]), np.float64(wanted), equal_nan=True), name
    assert (got["outcome"] == "failed") == (truth["outcome"] == "failed")
    drop = re.search(r"drop (\d+) of set (\d+)", got["reading_notes"])
    assert (drop and (int(drop[1]), int(drop[2]))) == ((truth["drop"], truth["set_number"]) if truth["drop"] else None)
    # On the plates: of one that hangs from the belt, what hangs there.
    put_on = got["load_kg"] - (BODY_KG if "bodyweight" in got["reading_notes"] else 0.0)
    table = room.loads_for(room.catalogue.exercise(got["exercise"]))
    assert np.abs(table.kg - put_on).min() < 1e-6


@pytest.mark.slow
def test_forty_filled_sheets_come_back_whole(tmp_path):
    held = set().union(*(read_back(number, tmp_path, if_then=number % 8 == 0) for number in range(40)))
    assert held >= WANTED, WANTED - held


@pytest.mark.parametrize("number", [3])
def test_a_filled_sheet_comes_back_whole(number, tmp_path):
    read_back(number, tmp_path, if_then=False)
