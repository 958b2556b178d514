"""The question: logs and lifters in, the track record out."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, Literal

import pandas as pd

from workbench.answers.gym_numbers import LogOfLifter, logs_of_gym
from workbench.answers.review.misses import what_misses_mean
from workbench.answers.review.record import Review
from workbench.answers.review.walk import Walk, forecasters, walked
from workbench.log import LogReading, ReadOptions, rows_of
from workbench.quantities import SEED, InputError, Unit

if TYPE_CHECKING:
    from workbench.lifter import Lifter

__all__ = ["walk_forward"]

#: Lifters up to which each log is held against wider models, and each set against all others, too.
_CLOSELY: Final = 4


# More than seven parameters: what may be left to its default is a keyword of the question.
def walk_forward(
    logs: str | Path | LogReading | pd.DataFrame | Sequence[LogOfLifter],
    lifter: Lifter | None = None,
    *,
    options: ReadOptions | None = None,
    models: Mapping[str, Any] | None = None,
    simple_rules: bool = True,
    every: Literal["week", "day"] = "week",
    draws: int = 1000,
    seed: int = SEED,
    unit: Unit = "kg",
    progress: Callable[[int, int, str], bool | None] | None = None,
) -> Review:
    """Find out what forecasts were worth: go through logs as if each week were still to come.

    Learn from the sets up to a week, forecast the sets that were then done, with their loads and rests, score, go on.
    The simple rules that a coach would use instead forecast the same sets, with the same knowledge.

    Parameters
    ----------
    logs : path, LogReading, DataFrame or list of LogOfLifter
        A gym's folder, with ``lifters/`` and ``logs/``; or the log of one lifter; or rows by lifter.
    lifter : Lifter, optional
        Whose log it is, as before it: days that a lifter file has learned from are not forecast. The gym's own numbers
        are left aside, as they may have been learned from this very log.
    options : ReadOptions, optional
        Answers to what the logs of a folder leave open.
    models : mapping of str to FatigueForm, Curve or callable, optional
        Other forms and curves, by which the workbench then learns and forecasts; or a model of one's own,
        ``model(history, day)``: tables of the sets done before and of those of a day, as
        `workbench.answers.review.sets_done` has them, with one_rm_kg [kg] and usual_endurance [1/rep]; it returns reps
        for each set of the day, or draws of them.
    simple_rules : bool
        Whether the simple rules are scored too.
    every : "week" or "day"
        Learn before each week, as sheets are handed out, or before each day of training.
    draws : int, [1], 10 to 100,000
        Simulated lifters.
    seed : int, [1], >= 0
        The same seed gives the same digits.
    unit : "kg" or "lb"
        In which loads are said.
    progress : callable, optional
        Told how many lifters are done, of how many, and in words how far the next is; False ends the work, with what
        was found so far.

    Returns
    -------
    Review
        Scores of every set [reps, 1], what became of chances, every rule beside the workbench, and what systematic
        misses mean.

    Raises
    ------
    InputError
        No set that could be forecast, a log with an open question, or a model that gives no reps.

    Notes
    -----
    A log of more than 300 sets is read whole again whenever it has grown by a quarter; between, the workbench learns on
    from the last such time, as a coach does who keeps what was learned in the lifter file.

    Scores: continuous ranked probability score [reps], Brier score and log score [1]; see
    `workbench.answers.review.scores`. The percent table goes by ``data/parameters.csv``, the equation by
    ``data/equations.csv`` (epley_1985), the fall from set to set is the mean of 29 studies (nuzzo_2024_sets).
    """
    of_lifters, aside = _logs_of(logs, lifter, options)
    walks: dict[str, Walk] = {}
    ended = False
    for number, one in enumerate(of_lifters):
        name = one.lifter.name

        def told(date: object, number: int = number, name: str = name) -> bool:
            return progress is None or progress(number, len(of_lifters), f"{name}, {date}") is not False

        among = forecasters(models, rules=simple_rules, draws=draws, seed=seed)
        before_any_log = one.lifter.model_copy(update={"gym": None})
        walks[name] = walked(one.rows, before_any_log, among, every=every, progress=told)
        ended = not walks[name].finished
        if ended:
            break
    return _together(walks, [f"{what}: {reason}" for what, reason in aside], unit, finished=not ended)


def _logs_of(
    logs: str | Path | LogReading | pd.DataFrame | Sequence[LogOfLifter],
    lifter: Lifter | None,
    options: ReadOptions | None,
) -> tuple[Sequence[LogOfLifter], list[tuple[str, str]]]:
    """Return the rows of each lifter, and what belongs to nobody."""
    if isinstance(logs, str | os.PathLike):
        return logs_of_gym(logs, options)
    if isinstance(logs, LogReading | pd.DataFrame):
        if lifter is None:
            raise InputError(None, "lifter", "is not given", "say whose log it is, or give a gym's folder")
        return [LogOfLifter(lifter, rows_of(logs, lifter.name))], []
    return logs, []


def _together(walks: Mapping[str, Walk], nobodys: Sequence[str], unit: Unit, *, finished: bool) -> Review:
    scores = [walk.scores for walk in walks.values() if len(walk.scores)]
    if not scores:
        whose = f" of {', '.join([*walks][:6])}" if walks else ""
        remedy = "give logs of these lifters, from after what their files know"
        raise InputError(None, "log", f"holds no set{whose} that could be forecast", remedy)
    learned = {name: walk.learned for name, walk in walks.items() if walk.learned is not None}
    aside = pd.concat([walk.left_out.assign(lifter=name) for name, walk in walks.items()], ignore_index=True)
    together = pd.concat(scores, ignore_index=True)
    return Review(
        together,
        learned,
        aside[["lifter", "date", "exercise", "reason"]],
        what_misses_mean(together, learned, unit, closely=len(learned) <= _CLOSELY),
        tuple(nobodys),
        finished,
    )
