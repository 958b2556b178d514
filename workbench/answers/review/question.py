"""The question: logs and lifters in, the track record out."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING, Any, Final, Literal

import pandas as pd

from workbench.answers.review.misses import what_misses_mean
from workbench.answers.review.record import Review
from workbench.answers.review.walk import Walk, forecasters, walked
from workbench.log import LogReading, lifters_of, rows_of
from workbench.quantities import SEED, InputError, Unit

if TYPE_CHECKING:
    from workbench.lifter import Lifter

__all__ = ["rows_by_lifter", "walk_forward"]


# More than seven parameters: what may be left to its default is a keyword of the question.
def walk_forward(
    rows: LogReading | pd.DataFrame | Sequence[LogReading | pd.DataFrame],
    lifters: Lifter | Sequence[Lifter],
    *,
    models: Mapping[str, Any] | None = None,
    rules: bool = True,
    every: Literal["week", "day"] = "week",
    draws: int = 1000,
    seed: int = SEED,
    unit: Unit = "kg",
    progress: Callable[[str], None] | None = None,
) -> Review:
    """Find out what forecasts were worth: go through logs as if each week were still to come.

    Learn from the sets up to a week, forecast the sets that were then done, with their loads and rests, score, go on.
    The simple rules that a coach would use instead forecast the same sets, with the same knowledge.

    Parameters
    ----------
    rows : LogReading or DataFrame, or several
        Logs. One that names no lifter belongs to the only lifter given, or to the one whose name its file begins with.
    lifters : Lifter or several
        As before the logs: days that a lifter file has learned from are not forecast.
    models : mapping of str to FatigueForm, Curve or callable, optional
        Other forms and curves, by which the workbench then learns and forecasts; or a model of one's own,
        ``model(history, day)``: tables of the sets done before and of those of a day, as
        `workbench.answers.review.sets_done` has them, with one_rm_kg [kg] and usual_endurance [1/rep]; it returns reps
        for each set of the day, or draws of them.
    rules : bool
        Whether the simple rules are scored too.
    every : "week" or "day"
        Learn before each week, as sheets are handed out, or before each day of training.
    draws : int, [1], 10 to 100,000
        Simulated lifters.
    seed : int, [1], >= 0
    unit : "kg" or "lb"
        In which loads are said.
    progress : callable, optional
        Told in words how far it is.

    Returns
    -------
    Review
        Scores by set, what became of chances, every rule beside the workbench, and what systematic misses mean.

    Raises
    ------
    InputError
        No log of any lifter, a log with an open question, or a model that gives no reps.

    Notes
    -----
    Scores: continuous ranked probability score [reps], Brier score and log score [1]; see
    `workbench.answers.review.scores`. The fall from set to set of two rules is the mean of 29 studies
    (nuzzo_2024_sets), the equation epley_1985, both recalled or published as ``data/equations.csv`` says.
    """
    several = [rows] if isinstance(rows, LogReading | pd.DataFrame) else list(rows)
    roster = list(lifters) if isinstance(lifters, Sequence) else [lifters]
    by_lifter, nobodys = rows_by_lifter(several, roster)
    walks: dict[str, Walk] = {}
    for number, lifter in enumerate(roster, start=1):

        def told(date: object, where: str = f"{lifter.name} ({number} of {len(roster)})") -> None:
            if progress is not None:
                progress(f"{where}: {date}")

        if lifter.name in by_lifter:
            among = forecasters(models, rules=rules, draws=draws, seed=seed)
            walks[lifter.name] = walked(by_lifter[lifter.name], lifter, among, every=every, progress=told)
    scores = [walk.scores for walk in walks.values() if len(walk.scores)]
    if not scores:
        names = ", ".join(lifter.name for lifter in roster[:6])
        remedy = "give logs of these lifters, from after what their files know"
        raise InputError(None, "log", f"holds no set of {names} that could be forecast", remedy)
    learned = {name: walk.learned for name, walk in walks.items() if walk.learned is not None}
    aside = pd.concat([walk.left_out.assign(lifter=name) for name, walk in walks.items()], ignore_index=True)
    every_score = pd.concat(scores, ignore_index=True)
    return Review(
        every_score,
        learned,
        aside[["lifter", "date", "exercise", "reason"]],
        what_misses_mean(every_score, learned, unit, closely=len(learned) <= _CLOSELY),
        tuple(nobodys),
    )


#: Lifters up to which each log is held against wider models too.
_CLOSELY: Final = 2


def rows_by_lifter(
    logs: Sequence[LogReading | pd.DataFrame], lifters: Sequence[Lifter]
) -> tuple[dict[str, pd.DataFrame], list[str]]:
    """Return the rows of each lifter from all logs, in order of their dates, and what belongs to none of them.

    Raises
    ------
    InputError
        An open question of a log.
    """
    found: dict[str, list[pd.DataFrame]] = {}
    nobodys: list[str] = []
    keys = {_plain(lifter.name): lifter for lifter in lifters}
    for log in logs:
        rows, where = (log.rows, log.path.stem) if isinstance(log, LogReading) else (log, "")
        for name in [name for name in lifters_of(rows) if name]:
            if _plain(name) in keys:
                lifter = keys[_plain(name)]
                found.setdefault(lifter.name, []).append(rows_of(log, lifter.name, called=[name]))
            else:
                nobodys.append(f"{where}: no lifter file of {name}, left out")
        if not any(lifters_of(rows)):
            begins = [lifter for key, lifter in keys.items() if f"{_plain(where)} ".startswith(f"{key} ")]
            whose = begins[:1] or (list(lifters) if len(lifters) == 1 else [])
            for lifter in whose:
                found.setdefault(lifter.name, []).append(rows)
            if not whose:
                nobodys.append(f"{where or 'a log'} names no lifter, and its file is called after none: left out")
    joined = {name: pd.concat(parts, ignore_index=True) for name, parts in found.items()}
    return {name: rows.sort_values("date", kind="stable", ignore_index=True) for name, rows in joined.items()}, nobodys


def _plain(name: str) -> str:
    """Return a name in plain small letters and single spaces, as people and files write it.

    >>> _plain("Zoë_O'Hara  2")
    'zoe o hara 2'
    """
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().casefold()
    return " ".join(re.findall(r"[a-z0-9]+", plain)) or name.casefold().strip()
