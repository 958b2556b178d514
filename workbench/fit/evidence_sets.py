"""From a tidy log to sets that a fit can use, by exercise and session; what cannot be used is named with the reason."""

from __future__ import annotations

import datetime
import hashlib
import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, Literal

import pandas as pd

from workbench.fit.settings import FitSettings
from workbench.gym.catalogue import Catalogue, built_in
from workbench.quantities import InputError

if TYPE_CHECKING:
    from collections.abc import Hashable

__all__ = ["LARGEST_RESERVE", "LiftLog", "LoggedSession", "LoggedSet", "UsedLog", "read_sets"]

#: Statements of this many reps in reserve or more say only that the set was easy.
LARGEST_RESERVE = 10.0

#: A load written like this was read as the whole body mass and what is added.
_BODYWEIGHT = re.compile(r"\b(bw|b/w|body)", re.IGNORECASE)

Ending = Literal["failed", "completed", "stated", "felt"]


@dataclass(frozen=True)
class LoggedSet:
    """One set of the log.

    Attributes
    ----------
    row : hashable
        Label of the row in the log's table.
    load_kg : float
    reps : int
        Reps done.
    ending : {"failed", "completed", "stated", "felt"}
        Failed: the next rep failed. Completed: at least these reps could be done. Stated: the same, with a statement of
        the reps in reserve. Felt: stopped where the reps in reserve felt as stated.
    reserve : float
        Stated reps in reserve; NaN without.
    rest_s : float
        Since the end of the last set of the same exercise; 0 for the first.
    start_s, end_s : float
        On the clock of the day, s.
    """

    row: Hashable
    load_kg: float
    reps: int
    ending: Ending
    reserve: float
    rest_s: float
    start_s: float = 0.0
    end_s: float = 0.0


@dataclass(frozen=True)
class LoggedSession:
    """The sets of one exercise on one day, in order, and the digest of their rows in the log."""

    date: datetime.date
    sets: tuple[LoggedSet, ...]
    digest: str = ""

    @property
    def stamp(self) -> str:
        """Number and digest of the sets, as a lifter file keeps them."""
        return f"{len(self.sets)} {'set' if len(self.sets) == 1 else 'sets'}, {self.digest}"


@dataclass(frozen=True)
class LiftLog:
    """The sessions of one exercise, in order of date."""

    exercise: str
    sessions: tuple[LoggedSession, ...]

    @property
    def set_count(self) -> int:
        """Number of sets."""
        return sum(len(session.sets) for session in self.sessions)


@dataclass(frozen=True)
class UsedLog:
    """What a fit takes from a log.

    Attributes
    ----------
    lifts : tuple of LiftLog
    left_out : DataFrame
        Rows that a fit cannot use: row (label), exercise, reason.
    rests_assumed : tuple
        Labels of rows after a rest that the log does not give.
    skipped : tuple of LoggedSession
        What the lifter file has learned from already.
    questions : tuple of str
        What to ask where the log does not say what the lifter file has learned.
    catalogue : Catalogue
        The lifter's, which knows the exercises.
    """

    lifts: tuple[LiftLog, ...]
    left_out: pd.DataFrame
    rests_assumed: tuple[Hashable, ...]
    skipped: tuple[LoggedSession, ...] = ()
    questions: tuple[str, ...] = ()
    catalogue: Catalogue = field(default_factory=built_in)

    @property
    def set_count(self) -> int:
        """Number of sets used."""
        return sum(lift.set_count for lift in self.lifts)


def read_sets(
    rows: pd.DataFrame,
    settings: FitSettings | None = None,
    *,
    body_mass_kg: float | None = None,
    catalogue: Catalogue | None = None,
) -> UsedLog:
    """Sort the rows of one lifter's log into exercises and sessions.

    Parameters
    ----------
    rows : DataFrame
        As `workbench.log.read_log` gives them, one lifter only: date, exercise, load_kg, reps, outcome, and where
        known reps_in_reserve and rest_s. Within a day, in the order in which the sets were done.
    settings : FitSettings
    body_mass_kg : float, optional
        [kg] Of the lifter; needed for moves against body mass, where the load counts with the part of the body that is
        lifted.
    catalogue : Catalogue, optional
        Of the lifter; the built-in one where not given.

    Returns
    -------
    UsedLog

    Notes
    -----
    A session is one date. The rest before a set runs from the end of the last set of the same exercise, sets of other
    exercises in between included, with each exercise's usual seconds per rep.

    Raises
    ------
    InputError
        Where a needed column is missing or rows name several lifters.
    """
    settings, catalogue = settings or FitSettings(), catalogue or built_in()
    _check(rows)
    dates = pd.to_datetime(rows["date"])
    left_out: list[tuple[Hashable, str, str]] = []
    assumed: list[Hashable] = []
    found: dict[str, dict[datetime.date, list[LoggedSet]]] = {}
    written: dict[Hashable, str] = {}
    for date, day in rows.groupby(dates.dt.date, sort=True):
        clock = _Clock(settings.unknown_rest_s)
        for label, row in zip(day.index, day.to_dict("records"), strict=True):
            name = str(row["exercise"])
            reason = _fault(row, catalogue)
            if reason:
                left_out.append((label, name, reason))
                continue
            exercise = catalogue.exercise(name)
            load = _whole_load(row, exercise.body_mass_share, body_mass_kg)
            if load is not None and load <= 0.0:
                left_out.append((label, name, "no load above 0 kg: only loaded sets are used"))
                continue
            if load is None:
                left_out.append((label, name, "done against body mass, and the lifter file gives none"))
                continue
            rest, was_assumed = clock.start(exercise.name, row.get("rest_s"))
            if was_assumed:
                assumed.append(label)
            start = clock.now
            clock.end(exercise.name, exercise.seconds_per_rep * int(row["reps"]))
            one = replace(_logged(label, row, load, rest, settings), start_s=start, end_s=clock.now)
            found.setdefault(exercise.name, {}).setdefault(date, []).append(one)
            written[label] = _as_logged(row)
    undated = rows[dates.isna()]
    left_out += [(label, str(name), "no date: the session is not known") for label, name in undated["exercise"].items()]
    lifts = tuple(
        LiftLog(
            name,
            tuple(
                LoggedSession(date, tuple(sets), _digest(written[one.row] for one in sets))
                for date, sets in sorted(days.items())
            ),
        )
        for name, days in found.items()
    )
    aside = pd.DataFrame(left_out, columns=["row", "exercise", "reason"])
    return UsedLog(lifts, aside, tuple(assumed), catalogue=catalogue)


def _as_logged(row: dict[Any, Any]) -> str:
    """Return all that a row says of its set, the same however often the log is written and read."""
    numbers = [("load_kg", 2), ("reps", 0), ("reps_in_reserve", 1), ("rest_s", 0)]
    parts = ["-" if _missing(row.get(name)) else f"{float(row[name]):.{digits}f}" for name, digits in numbers]
    return " ".join([*parts, str(row["outcome"])])


def _digest(sets: Iterable[str]) -> str:
    return hashlib.sha256("\n".join(sets).encode()).hexdigest()[:12]


class _Clock:
    """The clock of one day: how long each exercise has rested."""

    def __init__(self, unknown_rest_s: float) -> None:
        self.now = 0.0
        self.unknown_rest_s = unknown_rest_s
        self.last_end: dict[str, float] = {}

    def start(self, exercise: str, rest: Any) -> tuple[float, bool]:
        """Move on by the rest; return the rest of this exercise and whether it had to be assumed."""
        known = rest is not None and not pd.isna(rest)
        self.now += max(float(rest), 0.0) if known else (self.unknown_rest_s if self.last_end else 0.0)
        last = self.last_end.get(exercise)
        if last is None:
            return 0.0, False
        return self.now - last, not known

    def end(self, exercise: str, seconds: float) -> None:
        """Move on by the set."""
        self.now += seconds
        self.last_end[exercise] = self.now


def _check(rows: pd.DataFrame) -> None:
    missing = [name for name in ("date", "exercise", "load_kg", "reps", "outcome") if name not in rows.columns]
    if missing:
        raise InputError(None, "log", f"has no column {', '.join(missing)}", "give the table that read_log returns")
    if "lifter" in rows.columns:
        names = sorted({str(name) for name in rows["lifter"].dropna()} - {""})
        if len(names) > 1:
            raise InputError(
                None, "log", f"holds sets of {len(names)} lifters: {', '.join(names[:6])}", "choose the rows of one"
            )


def _missing(value: Any) -> bool:
    return value is None or bool(pd.isna(value))


_FAULTS: tuple[tuple[Callable[[dict[Any, Any]], bool], str], ...] = (
    (lambda row: _missing(row["load_kg"]), "no load"),
    (lambda row: float(row["load_kg"]) < 0, "a load below 0 kg"),
    (lambda row: _missing(row["reps"]), "no reps"),
    (lambda row: int(row["reps"]) < 0, "fewer than no reps"),
    (lambda row: int(row["reps"]) == 0 and row["outcome"] != "failed", "no reps done and none failed"),
)


def _fault(row: dict[Any, Any], catalogue: Catalogue) -> str:
    for wrong, reason in _FAULTS:
        if wrong(row):
            return reason
    try:
        catalogue.exercise(str(row["exercise"]))
    except InputError as error:
        return f"{error.problem}; {error.remedy}"
    return ""


def _whole_load(row: dict[Any, Any], share: float, body_mass_kg: float | None) -> float | None:
    """Return the load with the part of the body that counts; None where the body mass is not known."""
    load = float(row["load_kg"])
    if not share:
        return load
    if body_mass_kg is None:
        return None
    with_body = _BODYWEIGHT.search(str(row.get("load_as_written", ""))) is not None
    return load - (1.0 - share) * body_mass_kg if with_body else load + share * body_mass_kg


def _logged(label: Hashable, row: dict[Any, Any], load_kg: float, rest: float, settings: FitSettings) -> LoggedSet:
    reserve: Any = row.get("reps_in_reserve")
    ending: Ending = "completed"
    value = float("nan")
    if row["outcome"] == "failed":
        ending = "failed"
    elif not _missing(reserve):
        value = min(max(float(reserve), 0.0), LARGEST_RESERVE)
        by_feel = settings.stopped_by_feel and row["outcome"] == "stopped" and value < LARGEST_RESERVE
        ending = "felt" if by_feel else "stated"
    return LoggedSet(label, load_kg, int(row["reps"]), ending, value, rest)
