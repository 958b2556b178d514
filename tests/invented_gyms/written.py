"""A gym's folder: lifter files, the room, blocks, and logs as different people keep them."""

from __future__ import annotations

import datetime
import io
import math
import re
import unicodedata
import zipfile
from dataclasses import dataclass
from typing import Any

import pandas as pd
import tomli_w
from openpyxl import Workbook

from tests.invented_gyms.months import BLOCK, PHASES, WITH_LIGHT_BAR, load_of, scheme_for
from tests.invented_gyms.people import LB, Trainee, lifter_table

__all__ = ["gym_files"]

_ABOUT = """INVENTED. No real gym, lifter, coach or plan stands behind this folder.

The Tollgate hall: its lifters over half a year, made by a generator that shares nothing with the fit
(python -m tests.invented_gyms). Logs are as untidy as people's are. One states no unit of its loads: they are kg
(in a terminal --unit kg).
"""
_ROOM = """# An invented room. No maker's equipment is meant.
name = "Tollgate hall"
note = "Invented: bars and a stack in kg, and a leg press with pound plates of its own."
unit = "kg"
fixtures = ["rack", "bench", "high bench"]
plates = [
  { mass = 25, pairs = 4 },
  { mass = 20, pairs = 3 },
  { mass = 15, pairs = 2 },
  { mass = 10, pairs = 3 },
  { mass = 5, pairs = 2 },
  { mass = 2.5, pairs = 2 },
  { mass = 1.25, pairs = 2 },
]

[[equipment]]
name = "bar"
kind = "barbell"
bar = 20
max_load = 320

[[equipment]]
name = "light bar"
kind = "barbell"
bar = 10
max_load = 120

[[equipment]]
name = "pulldown"
kind = "stack"
first = 5
step = 5
last = 150
add_ons = [{ mass = 2.5 }]

[[equipment]]
name = "leg press"
kind = "plate_machine"
unit = "lb"
empty = 75
plates = [
  { mass = 45, pairs = 6 },
  { mass = 25, pairs = 1 },
  { mass = 10, pairs = 2 },
  { mass = 5, pairs = 1 },
]
"""
#: Lifters whose last weeks are a block file, and how many of the weeks of the plan come before it.
_WITH_BLOCK = (0, 1, 3)
_BEFORE = sum(phase.weeks for phase in PHASES) - BLOCK.weeks


@dataclass(frozen=True)
class _Hand:
    """How somebody keeps a log: heading of each column, marks between cells and before decimals, how dates are written.

    ``rests``: the share of exercises of a day of which rests are written. ``book``: as a workbook. ``answers``: what
    the log leaves open.
    """

    headings: dict[str, str]
    delimiter: str = ","
    decimal: str = "."
    date: str = "%Y-%m-%d"
    rests: float = 1.0
    book: bool = False
    answers: tuple[tuple[str, str], ...] = ()


_PLAIN = {
    "date": "date", "exercise": "exercise", "set_number": "set", "load": "load kg", "reps": "reps",
    "outcome": "outcome", "rir": "RIR", "rest": "rest s", "notes": "notes",
}  # fmt: skip
_HANDS = (
    _Hand(_PLAIN),
    _Hand(
        {"date": "Date", "exercise": "Lift", "load": "Weight (kg)", "reps": "Reps done", "failed": "Failed?",
         "rir": "Reps in the tank", "rest": "Pause (s)", "notes": "Remarks"},
        rests=0.6,
    ),
    _Hand(
        {"date": "Date", "exercise": "Exercise", "load": "Weight (kg)", "reps": "Reps", "outcome": "Outcome",
         "rpe": "RPE", "rest": "Rest (s)", "notes": "Notes"},
        delimiter=";", decimal=",", date="%d.%m.%Y",
    ),
    _Hand(
        {"notes": "Comment", "date": "Workout date", "exercise": "Movement", "set_number": "Set no",
         "reps": "Repetitions", "number": "Weight", "unit": "Unit", "failed": "Missed", "rir": "Reps left"},
        rests=0.0,
    ),
    _Hand(
        {"date": "Date", "exercise": "Exercise", "load": "Load (kg)", "reps": "Reps", "outcome": "Outcome",
         "rir": "RIR", "rest": "Rest (s)", "notes": "Notes"},
        book=True,
    ),
    _Hand(
        {"date": "Day", "exercise": "Exercise name", "set_number": "#", "number": "Weight", "reps": "Reps",
         "outcome": "Ended", "rir": "In reserve", "rest": "Rest sec"},
        date="%d/%m/%Y",
        answers=(("unit", "kg"),),
    ),
)  # fmt: skip
#: In a gym of 24: how each keeps the log. One asks for a unit; such a lifter uses no machine in lb.
_WHO = (0, 1, 2, 3, 0, 4, 1, 0, 2, 0, 3, 1, 0, 4, 1, 2, 0, 3, 1, 0, 4, 0, 1, 2)
#: Names as some write them, by the hand.
_SHORT = {
    1: {"back squat": "squat", "overhead press": "OHP", "bench press": "bench"},
    3: {"bench press": "Bench Press (barbell)", "deadlift": "Deadlift"},
}


def gym_files(lifters: list[Trainee], sets: pd.DataFrame) -> tuple[dict[str, bytes], dict[str, dict[str, str]]]:
    """Return the files of a gym's folder by their paths in it, and the answers that its logs ask for, by file name."""
    files = {"INVENTED.txt": _ABOUT.encode(), "rooms/tollgate_hall.toml": _ROOM.encode()}
    answers: dict[str, dict[str, str]] = {}
    asks = next((at for at, lifter in enumerate(lifters) if _asks(lifter)), None)
    for number, lifter in enumerate(lifters):
        stem = "_".join(_ascii(lifter.name).lower().split())
        files[f"lifters/{stem}.toml"] = ("# An invented person.\n" + tomli_w.dumps(lifter_table(lifter))).encode()
        hand = _HANDS[5] if number == asks else _HANDS[_WHO[number % len(_WHO)]]
        rows = sets[sets["lifter"] == lifter.name]
        table = _table(hand, _slipped(_as_written(hand, rows), number))
        name = f"{stem}.{'xlsx' if hand.book else 'csv'}"
        files[f"logs/{name}"] = _workbook(lifter.name, table) if hand.book else _text(table, hand).encode()
        if hand.answers:
            answers[name] = dict(hand.answers)
        if number in _WITH_BLOCK and not rows.empty and rows["week"].max() in range(_BEFORE, _BEFORE + BLOCK.weeks):
            files[f"blocks/{stem}_weeks_{_BEFORE + 1}_to_{_BEFORE + BLOCK.weeks}.toml"] = _block(lifter).encode()
    return files, answers


def _asks(lifter: Trainee) -> bool:
    """Whether the log of a lifter may leave the unit open: all loads are in kg."""
    return "leg press" not in lifter.person.log_one_rm


def _ascii(text: str) -> str:
    return unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode()


def _as_written(hand: _Hand, rows: pd.DataFrame) -> list[dict[str, Any]]:
    """Turn the sets of one lifter into cells by the name of the column: texts, numbers, dates, None for nothing."""
    written: list[dict[str, Any]] = []
    seen: dict[tuple[Any, str], int] = {}
    for row in rows.to_dict("records"):
        turn = seen.setdefault((row["date"], row["exercise"]), len(seen))
        in_lb = row["exercise"] == "leg press"
        number = round(row["load_kg"] / LB) if in_lb else row["load_kg"]
        stated, rest = row["reps_in_reserve"], row["rest_s"]
        # The share of exercises that have rests, spread evenly: 3 of 5 are those whose turn passes a whole number.
        rested = math.floor((turn + 1) * hand.rests) > math.floor(turn * hand.rests)
        written.append(
            {
                "date": row["date"].to_pydatetime(),
                "exercise": _SHORT.get(_HANDS.index(hand), {}).get(row["exercise"], row["exercise"]),
                "set_number": row["set_number"],
                "number": number,
                "unit": "lb" if in_lb else "kg",
                "load": f"{number} lb" if in_lb else number,
                "reps": row["reps"],
                "outcome": row["outcome"],
                "failed": "x" if row["outcome"] == "failed" else None,
                "rir": None if math.isnan(stated) else int(stated),
                "rpe": None if math.isnan(stated) or stated > 5 else 10 - int(stated),
                "rest": None if math.isnan(rest) or not rested else int(rest),
                "notes": None if written else "invented",
            }
        )
    return written


def _slipped(cells: list[dict[str, Any]], number: int) -> list[dict[str, Any]]:
    """Let a hand slip in a few rows, which the reader sets aside: one or two in every third log."""
    if number % 3 == 0:
        for at, (column, slip) in zip((57, 211), (("reps", "?"), ("load", "heavy")), strict=True):
            if at < len(cells):
                cells[at] = {**cells[at], column: slip} | ({"number": slip} if column == "load" else {})
    return cells


def _table(hand: _Hand, cells: list[dict[str, Any]]) -> list[list[Any]]:
    return [list(hand.headings.values()), *([row[name] for name in hand.headings] for row in cells)]


def _text(table: list[list[Any]], hand: _Hand) -> str:
    def cell(value: Any) -> str:
        if value is None:
            return ""
        if isinstance(value, datetime.datetime):
            return value.strftime(hand.date)
        return f"{value:.10g}".replace(".", hand.decimal) if isinstance(value, float) else str(value)

    return "".join(hand.delimiter.join(cell(value) for value in row) + "\n" for row in table)


def _workbook(name: str, table: list[list[Any]]) -> bytes:
    """Return a workbook with a title above the table; the same bytes every time, as no file in it has a time."""
    book = Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.append([f"{name}, training log (an invented person)"])
    sheet.append([])
    for row in table:
        sheet.append(row)
    saved, timeless = io.BytesIO(), io.BytesIO()
    book.save(saved)
    with zipfile.ZipFile(saved) as old, zipfile.ZipFile(timeless, "w") as new:
        for item in old.infolist():
            content = old.read(item)
            if item.filename == "docProps/core.xml":
                content = _without_times(content)
            new.writestr(zipfile.ZipInfo(item.filename), content, zipfile.ZIP_DEFLATED)
    return timeless.getvalue()


def _without_times(core: bytes) -> bytes:
    return re.sub(rb"<dcterms:(created|modified)[^>]*>[^<]*</dcterms:\1>", b"", core)


def _block(lifter: Trainee) -> str:
    """Return the last weeks of a lifter as a block file, with the loads that the log has."""
    sessions = [
        {
            "name": day,
            "day": number,
            "exercises": [_slot(lifter, name, session, place) for place, name in enumerate(names)],
        }
        for session, (day, number, names) in enumerate(
            zip(("Monday", "Wednesday", "Friday"), (1, 3, 5), lifter.sessions, strict=True)
        )
    ]
    first = f"{_BEFORE + 1} to {_BEFORE + BLOCK.weeks}"
    table = {
        "name": f"{lifter.name}, weeks {first}",
        "note": f"Invented: what {lifter.name} did in weeks {first} of the logs.",
        "weeks": BLOCK.weeks,
        "sessions": sessions,
    }
    return "# An invented block.\n" + tomli_w.dumps(table)


def _slot(lifter: Trainee, name: str, session: int, place: int) -> dict[str, Any]:
    way, factor = ("lb", 1.0 / LB) if name == "leg press" else ("kg", 1.0)
    groups = []
    for group in scheme_for(BLOCK, session, place):
        percents = [group.percent + BLOCK.climb * week for week in range(BLOCK.weeks)]
        loads = [round(factor * load_of(name, percent / 100 * lifter.believed[name]), 6) for percent in percents]
        reps: int | str = "failure" if math.isinf(group.reps) else int(group.reps)
        rule = {"rule": "by week", "load": loads}
        groups.append({"count": group.sets, "reps": reps, way: loads[0], "rest_s": group.rest_s, "progression": rule})
    bar = {"equipment": "light bar"} if name in WITH_LIGHT_BAR else {}
    return {"exercise": name, **bar, "sets": groups}
