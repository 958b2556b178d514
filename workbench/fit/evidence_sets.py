"""From a tidy log to sets that a fit can use, by exercise and session; what cannot be used is named with the reason."""

from __future__ import annotations

import datetime
import hashlib
import itertools
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
import pandas as pd

from workbench.fit.rests import LOGGED, Clock, RestSpread, usual_rests
from workbench.fit.settings import FitSettings
from workbench.gym.catalogue import Catalogue, built_in
from workbench.log.loads import counts_from_body
from workbench.quantities import InputError

if TYPE_CHECKING:
    from collections.abc import Hashable

    from numpy.typing import NDArray

    from workbench.gym.catalogue import Exercise
    from workbench.quantities import FloatArray

__all__ = ["LARGEST_RESERVE", "LiftLog", "LoggedSession", "LoggedSet", "UsedLog", "only_new", "read_sets"]

#: Statements of this many reps in reserve or more say only that the set was easy.
LARGEST_RESERVE = 10.0

_REMEDY = "to learn from the log as it is now, fit all of it with the lifter file from before it"

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
    unsure : RestSpread
        How well the rest is known.
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
    unsure: RestSpread = LOGGED


@dataclass(frozen=True)
class LoggedSession:
    """The sets of one exercise on one day, in order, and the digest of their rows in the log."""

    date: datetime.date
    sets: tuple[LoggedSet, ...]
    digest: str = ""

    @classmethod
    def of(cls, date: datetime.date, sets: list[tuple[LoggedSet, str]]) -> LoggedSession:
        """Make a session of sets, each with what its row says."""
        digest = hashlib.sha256("\n".join(written for _, written in sets).encode()).hexdigest()[:12]
        return cls(date, tuple(logged for logged, _ in sets), digest)

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

    @cached_property
    def sets(self) -> list[LoggedSet]:
        """All sets, in order."""
        return [logged for session in self.sessions for logged in session.sets]

    @cached_property
    def first(self) -> NDArray[np.intp]:
        """Number of the first set of each session among all sets, and at the end how many these are."""
        return np.cumsum([0, *(len(session.sets) for session in self.sessions)])

    @property
    def places(self) -> list[slice]:
        """Where the sets of each session lie among all sets."""
        return [slice(low, high) for low, high in itertools.pairwise(self.first)]

    @cached_property
    def told(self) -> dict[str, FloatArray]:
        """Numbers of all sets by field of `LoggedSet` and `RestSpread`, each of shape (sets,)."""
        names = ("load_kg", "reps", "reserve", "rest_s", "start_s", "end_s")
        found = {name: np.array([getattr(one, name) for one in self.sets], dtype=np.float64) for name in names}
        spreads = {name: np.array([getattr(one.unsure, name) for one in self.sets]) for name in ("usual", "day")}
        return found | spreads


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
    def sets(self) -> list[LoggedSet]:
        """All sets used."""
        return [logged for lift in self.lifts for session in lift.sessions for logged in session.sets]

    @property
    def rests_said(self) -> str:
        """How many rests the log does not give, and what is taken for them; empty where it gives all."""
        unsure = [logged for logged in self.sets if logged.unsure is not LOGGED]
        if not unsure:
            return ""
        usual = float(np.median([one.rest_s for one in unsure]))
        wide = float(np.exp(1.2816 * np.median([np.hypot(one.unsure.usual, one.unsure.day) for one in unsure])))
        count = f"{len(self.rests_assumed)} rests are not in the log"
        return f"{count}; about {usual:.0f} s are taken, {usual / wide:.0f} to {usual * wide:.0f} s allowed for."

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
    found: dict[str, dict[datetime.date, list[tuple[LoggedSet, str]]]] = {}
    usual = usual_rests(rows, dates, catalogue, settings)
    written = list(zip(rows.index, rows.to_dict("records"), strict=True))
    by_day: dict[Any, Any] = rows.groupby(dates.dt.date).indices
    for date, places in sorted(by_day.items()):
        clock = Clock(settings.unknown_rest_s, usual)
        for label, row in (written[place] for place in places):
            usable = _usable(row, catalogue, body_mass_kg)
            if isinstance(usable, str):
                left_out.append((label, str(row["exercise"]), usable))
                continue
            exercise, load = usable
            rest, unsure = clock.start(exercise.name, row.get("rest_s"))
            if unsure is not LOGGED:
                assumed.append(label)
            start, reps = clock.now, int(row["reps"])
            clock.end(exercise.name, exercise.seconds_per_rep * reps)
            logged = LoggedSet(label, load, reps, *_ending(row, settings), rest, start, clock.now, unsure)
            found.setdefault(exercise.name, {}).setdefault(date, []).append((logged, _as_logged(row)))
    undated = rows[dates.isna()]
    left_out += [(label, str(name), "no date: the session is not known") for label, name in undated["exercise"].items()]
    lifts = tuple(
        LiftLog(name, tuple(LoggedSession.of(date, sets) for date, sets in sorted(days.items())))
        for name, days in found.items()
    )
    aside = pd.DataFrame(left_out, columns=["row", "exercise", "reason"])
    return UsedLog(lifts, aside, tuple(assumed), catalogue=catalogue)


def _as_logged(row: dict[Any, Any]) -> str:
    """Return all that a row says of its set, the same however often the log is written and read."""
    numbers = [("load_kg", 2), ("reps", 0), ("reps_in_reserve", 1), ("rest_s", 0)]
    parts = ["-" if _missing(row.get(name)) else f"{float(row[name]):.{digits}f}" for name, digits in numbers]
    return " ".join([*parts, str(row["outcome"])])


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


def _usable(row: dict[Any, Any], catalogue: Catalogue, body_mass_kg: float | None) -> tuple[Exercise, float] | str:
    """Return exercise and load of a row, with the part of the body that counts; or why it cannot be used."""
    for wrong, reason in _FAULTS:
        if wrong(row):
            return reason
    try:
        exercise = catalogue.exercise(str(row["exercise"]))
    except InputError as error:
        return f"{error.problem}; {error.remedy}"
    load, share = float(row["load_kg"]), exercise.body_mass_share
    if share:
        if body_mass_kg is None:
            return "done against body mass, and the lifter file gives none"
        with_body = counts_from_body(row.get("load_as_written", ""))
        load = load - (1.0 - share) * body_mass_kg if with_body else load + share * body_mass_kg
    return (exercise, load) if load > 0.0 else "no load above 0 kg: only loaded sets are used"


def _ending(row: dict[Any, Any], settings: FitSettings) -> tuple[Ending, float]:
    """Return how a set ended, and the stated reps in reserve."""
    reserve: Any = row.get("reps_in_reserve")
    if row["outcome"] == "failed":
        return "failed", float("nan")
    if _missing(reserve):
        return "completed", float("nan")
    value = min(max(float(reserve), 0.0), LARGEST_RESERVE)
    by_feel = settings.stopped_by_feel and row["outcome"] == "stopped" and value < LARGEST_RESERVE
    return "felt" if by_feel else "stated", value


def only_new(used: UsedLog, learned: Mapping[str, Mapping[str, str]]) -> UsedLog:
    """Return a log without the sets that a lifter file has learned from.

    Sets are the same where exercise and date are. Where the log now says otherwise of such a day it is skipped too, and
    asked about; so is a day with the very sets of a learned one that the log, though it covers it, has no more.

    Parameters
    ----------
    used : UsedLog
    learned : mapping
        As in `workbench.lifter.Lifter`: for each exercise and date, number and digest of its sets.

    Returns
    -------
    UsedLog
        With ``skipped`` and ``questions``.
    """
    logged = {session.date for lift in used.lifts for session in lift.sessions}
    lifts: list[LiftLog] = []
    skipped: list[LoggedSession] = []
    questions: list[str] = []
    by_name = {lift.exercise: lift for lift in used.lifts}
    for name in dict.fromkeys([*by_name, *learned]):
        lift = by_name.get(name, LiftLog(name, ()))
        known = {datetime.date.fromisoformat(date): stamp for date, stamp in learned.get(name, {}).items()}
        dates = {session.date for session in lift.sessions}
        gone = {stamp: date for date, stamp in known.items() if logged and min(logged) <= date <= max(logged)}
        gone = {stamp: date for stamp, date in gone.items() if date not in dates}
        kept = []
        for session in lift.sessions:
            moved = gone.pop(session.stamp, None) if session.date not in known else None
            if session.date not in known and moved is None:
                kept.append(session)
                continue
            skipped.append(session)
            if moved is not None:
                questions.append(
                    f"{name}, {session.date}: the same sets were learned as those of {moved}; was the date corrected? "
                    f"They are skipped; {_REMEDY}"
                )
            elif known[session.date] != session.stamp:
                questions.append(
                    f"{name}, {session.date}: {_count(known[session.date])} learned, and the log now says otherwise "
                    f"({_count(session.stamp)}); were rows edited? They are skipped; {_REMEDY}"
                )
        questions += [
            f"{name}, {date}: {_count(stamp)} learned, and the log now has none; were rows edited? {_REMEDY}"
            for stamp, date in gone.items()
            if date in logged
        ]
        if kept:
            lifts.append(replace(lift, sessions=tuple(kept)))
    rows = {logged.row for lift in lifts for session in lift.sessions for logged in session.sets}
    assumed = tuple(label for label in used.rests_assumed if label in rows)
    return replace(used, lifts=tuple(lifts), rests_assumed=assumed, skipped=tuple(skipped), questions=tuple(questions))


def _count(stamp: str) -> str:
    return stamp.partition(",")[0]
