"""The log of a session while it goes on: a row a set, on the disk before the next begins, for the log's own reader.

A gym has one such log a lifter and block, ``logs/LIFTER_BLOCK.csv``. What was left out or exchanged stands in it too,
as rows without a result, so that the session goes on where it was whoever opens it.
"""

from __future__ import annotations

import csv
import datetime
import hashlib
import io
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from workbench.log.cells import neutralised, restored
from workbench.prescription.block import Block
from workbench.quantities import InputError
from workbench.reference.gym_folder import GymFolder, file_stem
from workbench.reference.whole_files import alone_with, make_folder, read_whole, write_whole

__all__ = [
    "EXCHANGED",
    "HEADINGS",
    "HURT",
    "IN_PLACE_OF",
    "PLACE_IN_BLOCK",
    "SKIPPED",
    "LogRow",
    "SessionLog",
    "SessionName",
    "latest_session",
    "log_of",
    "proposed_session",
    "session_under_way",
]

#: Headings of the columns, as the log's reader knows them; it keeps the last four as they are.
HEADINGS: Final = (
    *("date", "time", "lifter", "exercise", "set", "load (one hand of two dumbbells)", "unit", "reps", "outcome"),
    *("RIR", "rest s", "body mass kg", "notes", "block", "week", "session", "entry"),
)
#: Of these, the columns that say where in which block a row belongs, as it was typed.
PLACE_IN_BLOCK: Final = HEADINGS[-4:]
#: Notes of rows without a result, and of the rows of what was done instead.
SKIPPED: Final = "skipped"
HURT: Final = "it hurt: the rest left out"
EXCHANGED: Final = "exchanged for "
IN_PLACE_OF: Final = "in place of "
#: A lifter's rows of one block stay far below this.
_LARGEST: Final = 20_000_000
_MOST_LOGS: Final = 100
#: Columns that say which session a row is of.
_OF_SESSION: Final = ("date", "lifter", "block", "week", "session")
_HALF_A_DAY: Final = datetime.timedelta(hours=12)
_DIGITS: Final = 12
#: A session is gone on with for so long after its last row; later, the next one is proposed.
_GOES_ON: Final = datetime.timedelta(hours=6)


@dataclass(frozen=True)
class SessionName:
    """Which session a row belongs to: of whom, which block, week and session (from 1, and its name), on which day."""

    lifter: str
    block: str
    week: int
    session: int
    title: str
    day: datetime.date


@dataclass(frozen=True)
class LogRow:
    """One row of a session.

    Attributes
    ----------
    entry : str
        What tells it from every other row: see `SessionLog.next_entry`.
    time : datetime.time
        When it was written.
    exercise, label : str
        The set as the plan calls it: "2", or "2, drop 1". Blank where nothing was done.
    load, unit : str
        As put on, in the unit of the equipment, of two dumbbells that of one; "BW+10" for moves against body mass.
    reps : int or None, [reps]
        None where nothing was done.
    failed : bool
        Whether the next rep was tried and missed.
    reserve : str
        Reps in reserve as stated, "4+" where it was only said that there were so many or more; blank where nothing was.
    rest_s : float or None, [s]
        Before the set, from the end of the last one done; None where nobody measured it: never the plan's.
    body_mass_kg : float or None, [kg]
        Of moves against body mass.
    note : str
    """

    entry: str
    time: datetime.time
    exercise: str
    label: str = ""
    load: str = ""
    unit: str = ""
    reps: int | None = None
    failed: bool = False
    reserve: str = ""
    rest_s: float | None = None
    body_mass_kg: float | None = None
    note: str = ""

    def cells(self, name: SessionName) -> list[str]:
        """Return the row as the file has it."""
        done = self.reps is not None
        written = (
            *(name.day.isoformat(), self.time.strftime("%H:%M:%S"), name.lifter, self.exercise, self.label),
            *(self.load, self.unit, _number(self.reps), ("failed" if self.failed else "completed") if done else ""),
            *(self.reserve, _number(self.rest_s), _number(self.body_mass_kg), self.note),
            *(name.block, str(name.week), f"{name.session} {name.title}", self.entry),
        )
        return [neutralised(cell) for cell in written]


def _number(value: float | None) -> str:
    return "" if value is None else f"{value:.10g}"


def log_of(gym: GymFolder, lifter: str, block: str) -> Path:
    """Return the path of the log of a lifter and block: the gym's own where it still has our headings, else a new one.

    A log that another program has saved in a form of its own stays as it is.
    """
    stem = file_stem(f"{lifter} {block}") or "log"
    for number in range(1, _MOST_LOGS):
        path = gym.path / "logs" / (f"{stem}.csv" if number == 1 else f"{stem}_{number}.csv")
        try:
            if not path.exists() or _rows_of_file(path) is not None:
                return path
        except InputError:
            continue
    raise InputError(gym.path / "logs", "", f"has {_MOST_LOGS} files called {stem}", "move some of them elsewhere")


def _rows_of_file(path: Path) -> list[list[str]] | None:
    """Return the rows below our headings, none where there is no file; None where the headings are others."""
    if not path.exists():
        return []
    try:
        text = read_whole(path, _LARGEST).decode("utf-8-sig")
        found = list(csv.reader(io.StringIO(text, newline="")))
    except (UnicodeDecodeError, csv.Error):
        return None
    if not found or tuple(found[0]) != HEADINGS:
        return None
    return found[1:]


def latest_session(path: Path, lifter: str, block: str) -> tuple[SessionName, datetime.datetime] | None:
    """Return the session of the last row of a lifter and block, and when that row was written; None where none is."""
    rows = [dict(zip(HEADINGS, map(restored, cells), strict=False)) for cells in _rows_of_file(path) or []]
    for at, row in reversed(list(enumerate(rows))):
        if (row.get("lifter"), row.get("block")) == (lifter, block):
            try:
                day, clock = datetime.date.fromisoformat(row["date"]), datetime.time.fromisoformat(row["time"])
                number, _, title = row["session"].partition(" ")
                name = SessionName(lifter, block, int(row["week"]), int(number), title, day)
                first = next(one for one in rows if all(one.get(key) == row[key] for key in _OF_SESSION))
                began = datetime.datetime.combine(day, datetime.time.fromisoformat(first["time"]))
            except (KeyError, ValueError) as error:
                raise _unreadable(path, at, error) from None
            written = datetime.datetime.combine(day, clock)
            # A session has the date on which it began: what has a clock long before that is after midnight.
            return name, written + datetime.timedelta(days=int(began - written > _HALF_A_DAY))
    return None


def session_under_way(path: Path, lifter: str, block: str, now: datetime.datetime | None = None) -> SessionName | None:
    """Return the session of the last row of a lifter and block, where that is not long ago; else None."""
    last = latest_session(path, lifter, block)
    return last[0] if last is not None and _goes_on(last[1], now or _now()) else None


def _goes_on(written: datetime.datetime, now: datetime.datetime) -> bool:
    """Whether the last row of a session is not long ago; the clock may have been set back meanwhile."""
    return abs(now - written) < _GOES_ON


def _now() -> datetime.datetime:
    return datetime.datetime.now()  # noqa: DTZ005 (a session is on a day of the place where it is)


def proposed_session(
    gym: GymFolder,
    block: Block,
    lifter: str,
    *,
    start: datetime.date | None = None,
    now: datetime.datetime | None = None,
) -> tuple[int, int]:
    """Return week and session, from 1, that a lifter is at: the one under way, else the next one after the last done.

    Parameters
    ----------
    gym : GymFolder
    block : Block
    lifter : str
    start : date, optional
        Monday of the first week, where the block has one: by it before anything was done.
    now : datetime, optional
        The clock's where not given.

    Raises
    ------
    InputError
        The log of this lifter and block cannot be read.
    """
    now = now or _now()
    sessions = block.expanded_sessions()
    last = latest_session(log_of(gym, lifter, block.name), lifter, block.name)
    if last is None:
        if start is None or now.date() < start:
            return 1, 1
        weeks, day = divmod((now.date() - start).days, 7)
        to_come = [number for number, one in enumerate(sessions, start=1) if one.day is not None and one.day > day]
        return min(weeks + 1, block.weeks), to_come[0] if to_come else 1
    name, written = last
    week, number = min(max(name.week, 1), block.weeks), min(max(name.session, 1), len(sessions))
    if _goes_on(written, now):
        return week, number
    if number < len(sessions):
        return week, number + 1
    return (week + 1, 1) if week < block.weeks else (week, number)


class SessionLog:
    """The rows of one session in the log of its lifter and block.

    Every change reads the file anew and writes it whole, alone with it, so that windows and programs that write at the
    same time lose nothing of each other, and a program that is cut off leaves the file with the row or without.

    Parameters
    ----------
    path : Path
        From `log_of`.
    name : SessionName
    """

    def __init__(self, path: Path, name: SessionName) -> None:
        self.path, self.name = path, name

    def rows(self) -> list[LogRow]:
        """Return the rows of this session, in order; InputError where the file cannot be read."""
        return [row for row, _ in self._mine(self._all())]

    def next_entry(self, rows: Sequence[LogRow]) -> str:
        """Return what the next row is to be called: the same after the same rows of the same session."""
        before = rows[-1].entry if rows else ""
        text = f"{self.name}|{len(rows)}|{before}"
        return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()[:_DIGITS]

    def add(self, row: LogRow) -> bool:
        """Write a row, which is called as the next one is to be; nothing where it stands there already.

        Returns
        -------
        bool
            Whether it is written now.

        Raises
        ------
        InputError
            Another row was written meanwhile, so that this one was typed for something else; or it cannot be written.
        """
        make_folder(self.path.parent)
        with alone_with(self.path):
            everything = self._all()
            there = [known for known, _ in self._mine(everything)]
            if any(known.entry == row.entry for known in there):
                return False
            if row.entry != self.next_entry(there):
                raise InputError(None, "", "another set was typed meanwhile", "look again: nothing was written twice")
            self._write([*everything, row.cells(self.name)])
            return True

    def take_back(self, entry: str) -> bool:
        """Take the last row out, where it is the one called so; whether it was."""
        with alone_with(self.path):
            everything = self._all()
            mine = self._mine(everything)
            if not mine or mine[-1][0].entry != entry:
                return False
            at = mine[-1][1]
            self._write([*everything[:at], *everything[at + 1 :]])
            return True

    def _all(self) -> list[list[str]]:
        rows = _rows_of_file(self.path)
        if rows is None:
            problem, remedy = "was saved by another program in a form of its own", "open the session anew"
            raise InputError(self.path, "", problem, f"{remedy}: it goes on in a new file, and this one stays")
        return rows

    def _mine(self, everything: Sequence[Sequence[str]]) -> list[tuple[LogRow, int]]:
        """Return the rows of this session, each with its place among all."""
        name = self.name
        wanted = (name.day.isoformat(), name.lifter, name.block, str(name.week), f"{name.session} {name.title}")
        found = []
        for at, cells in enumerate(everything):
            row = dict(zip(HEADINGS, map(restored, cells), strict=False))
            if tuple(row.get(key, "") for key in _OF_SESSION) == wanted:
                found.append((_row(self.path, at, row), at))
        return found

    def _write(self, rows: Sequence[Sequence[str]]) -> None:
        text = io.StringIO(newline="")
        csv.writer(text).writerows([HEADINGS, *rows])
        write_whole(self.path, text.getvalue().encode("utf-8-sig"), replace=True)


def _row(path: Path, at: int, cells: dict[str, str]) -> LogRow:
    """Return a row as it was written; InputError where somebody changed what only this module writes."""
    try:
        return LogRow(
            entry=cells["entry"],
            time=datetime.time.fromisoformat(cells["time"]),
            exercise=cells["exercise"],
            label=cells["set"],
            load=cells["load (one hand of two dumbbells)"],
            unit=cells["unit"],
            reps=int(cells["reps"]) if cells["reps"] else None,
            failed=cells["outcome"] == "failed",
            reserve=cells["RIR"],
            rest_s=float(cells["rest s"]) if cells["rest s"] else None,
            body_mass_kg=float(cells["body mass kg"]) if cells["body mass kg"] else None,
            note=cells["notes"],
        )
    except (KeyError, ValueError) as error:
        raise _unreadable(path, at, error) from None


def _unreadable(path: Path, at: int, error: Exception) -> InputError:
    return InputError(path, f"row {at + 2}", f"cannot be read ({error})", "mend that row, or take it out")
