"""Walking forward through logs: learn from the sets up to a day, forecast those that were then done, score, go on."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any, Final, Literal, NamedTuple, Protocol

import numpy as np
import pandas as pd

from workbench.answers.review.done import sets_done
from workbench.answers.review.forecasts import Known, Workbench
from workbench.answers.review.rivals import SIMPLE_RULES, Rule, Said
from workbench.answers.review.scores import brier, crps, log_score, share_inside
from workbench.models.fatigue import FatigueForm
from workbench.models.load_reps import Curve
from workbench.models.tried import tried_curve, tried_form
from workbench.quantities import SEED, FloatArray

if TYPE_CHECKING:
    from workbench.fit import Learned
    from workbench.lifter import Lifter

__all__ = ["BEFORE_ANY_LOG", "WORKBENCH", "Forecaster", "Walk", "forecasters", "scored", "walked"]

#: Names under which a review lists the workbench: having read the log, and knowing the lifter file alone.
WORKBENCH: Final = "workbench"
BEFORE_ANY_LOG: Final = "workbench before any log"
_LEVELS: Final = (0.1, 0.25, 0.75, 0.9)
#: Why a set is not forecast.
_KNOWN_LATER: Final = "the lifter file knows of this day or of a later one, so that nothing is forecast"
_UNUSED: Final = "the row holds no date, load or reps that can be used"
_UNKNOWN: Final = "neither the lifter file nor the log before it knows this lift"


class Forecaster(Protocol):
    """Learns from what is known before a day, and forecasts the sets of days."""

    name: str

    def learn(self, known: Known) -> None:
        """Learn from all that is known."""

    def forecast(self, day: pd.DataFrame) -> Sequence[FloatArray | Said | None]:
        """Forecast the sets of a day; None where it cannot say."""


def forecasters(
    models: Mapping[str, Any] | None = None, *, rules: bool = True, draws: int = 1000, seed: int = SEED
) -> list[Forecaster]:
    """Return what is walked forward: the workbench, the same before any log, the simple rules, and what else is asked.

    Parameters
    ----------
    models : mapping of str to FatigueForm, Curve or callable, optional
        Forms and curves by which the workbench then fits and forecasts; or ``model(history, day)`` of one's own.
    rules : bool
        Whether the simple rules are among them.
    draws, seed : int
    """
    size: dict[str, Any] = {"draws": draws, "seed": seed}
    found: list[Forecaster] = [Workbench(WORKBENCH, **size), Workbench(BEFORE_ANY_LOG, learns=False, **size)]
    if rules:
        found += [Rule(name, rule) for name, rule in SIMPLE_RULES.items()]
    for name, model in (models or {}).items():
        if isinstance(model, FatigueForm):
            found.append(Workbench(name, form=tried_form(model), **size))
        elif isinstance(model, Curve):
            found.append(Workbench(name, curve=tried_curve(model), **size))
        else:
            found.append(Rule(name, model))
    return found


class Walk(NamedTuple):
    """What walking through one log gave.

    Attributes
    ----------
    scores : DataFrame
        As `scored` gives them, a row for each set and forecaster; with lifter, and week (of history, from 1).
    learned : Learned or None
        What the workbench learned last: of all but the last week, or day.
    left_out : DataFrame
        Sets that were not forecast: date, exercise, reason.
    finished : bool
        False where the work was ended before the last week.
    """

    scores: pd.DataFrame
    learned: Learned | None
    left_out: pd.DataFrame
    finished: bool = True


def walked(
    rows: pd.DataFrame,
    lifter: Lifter,
    among: Sequence[Forecaster],
    *,
    every: Literal["week", "day"] = "week",
    progress: Callable[[datetime.date], bool] | None = None,
) -> Walk:
    """Walk forward through the log of one lifter.

    Parameters
    ----------
    rows : DataFrame
        As `workbench.log.rows_of` gives them.
    lifter : Lifter
        As before the log.
    among : sequence of Forecaster
        They learn on the way: new ones for each lifter.
    every : "week" or "day"
        Learn before each week (from Monday), as sheets are handed out, or before each day of training.
    progress : callable, optional
        Told of each date that is learned up to; False ends the work before it.
    """
    sets = sets_done(rows, lifter)
    dates = pd.to_datetime(rows["date"]).dt.date
    sets["too_early"] = _known_later(sets, lifter)
    first = min(sets["date"], default=datetime.date.min)
    found: list[dict[str, Any]] = []
    unused = rows[~rows.index.isin(sets["row"])]
    aside: list[tuple[Any, str, str]] = [(one["date"], one["exercise"], _UNUSED) for one in unused.to_dict("records")]
    finished = True
    for begins, ends in _stretches(sorted(set(sets["date"])), every):
        if progress is not None and not progress(begins):
            finished = False
            break
        known = Known(lifter, rows[(dates < begins).to_numpy()], sets[sets["date"] < begins], begins)
        for one in among:
            one.learn(known)
        of_stretch = sets[(sets["date"] >= begins) & (sets["date"] < ends)]
        for date in sorted(set(of_stretch["date"])):
            day = of_stretch[of_stretch["date"] == date]
            said = {one.name: one.forecast(day) for one in among}
            for place, done in enumerate(day.to_dict("records")):
                of_all = {name: forecasts[place] for name, forecasts in said.items()}
                if done["too_early"] or all(forecast is None for forecast in of_all.values()):
                    aside.append((date, done["exercise"], _KNOWN_LATER if done["too_early"] else _UNKNOWN))
                    continue
                week = (date - first).days // 7 + 1
                found += [{"lifter": lifter.name, "week": week, **row} for row in scored(done, of_all)]
    learned = next((one.learned for one in among if isinstance(one, Workbench) and one.learns), None)
    left_out = pd.DataFrame(aside, columns=["date", "exercise", "reason"])
    return Walk(pd.DataFrame(found), learned, left_out, finished)


def _known_later(sets: pd.DataFrame, lifter: Lifter) -> list[bool]:
    """Whether the lifter file knows of the day of a set, or of a later one: its forecast would be none."""
    learned = [datetime.date.fromisoformat(date) for days in (lifter.learned or {}).values() for date in days]
    until = max(learned, default=datetime.date.min)
    tested = {name: lifter.lift(name).tested or until for name in set(sets["exercise"]) if lifter.knows(name)}
    return [
        date <= until or tested.get(name, until) > date
        for date, name in zip(sets["date"], sets["exercise"], strict=True)
    ]


def _stretches(days: Sequence[datetime.date], every: str) -> Iterator[tuple[datetime.date, datetime.date]]:
    """Go through the days on which to learn, each with the day before which its forecasts end."""
    weekly = every == "week"
    starts = sorted({date - datetime.timedelta(days=date.weekday()) if weekly else date for date in days})
    yield from zip(starts, [*starts[1:], datetime.date.max][: len(starts)], strict=True)


def scored(done: Mapping[Any, Any], forecasts: Mapping[str, FloatArray | Said | None]) -> Iterator[dict[str, Any]]:
    """Score what was said of one set against what came of it.

    Parameters
    ----------
    done : mapping
        A row of `sets_done`.
    forecasts : mapping of str to array, Said or None
        By forecaster: draws of the reps that could be made.

    Yields
    ------
    dict
        A row for each forecaster that could say: what the set was; forecaster; middle, low_80, high_80, low_50, high_50
        [reps that could be made]; chance (that the prescribed reps are made); crps [reps]; of sets to failure error
        (middle less reps), inside_50, inside_80; of prescribed ones made, brier, log_score.

    Notes
    -----
    A set that ended at the prescribed reps says that **at least** so many could be made: what is scored there is the
    forecast of the smaller of both, so that nobody gains or loses by what was not seen.
    """
    reps, failed, low, high = float(done["reps"]), bool(done["failed"]), float(done["low"]), float(done["high"])
    to_failure, by_feel = np.isinf(high), np.isnan(high)
    most = np.nan if by_feel else high if failed else np.nan if to_failure else reps
    made = np.nan if np.isnan(low) or not (failed or reps >= low) else float(reps >= low)
    for name, forecast in forecasts.items():
        if forecast is None:
            continue
        said = forecast if isinstance(forecast, Said) else Said(forecast)
        whole = np.floor(said.reps)
        low_80, low_50, high_50, high_80 = np.quantile(whole, _LEVELS)
        row = {column: done[column] for column in ("date", "exercise", "set", "load_kg", "rest_s", "reps", "failed")}
        row |= {"low": low, "high": high, "told": bool(done["told"]), "forecaster": name}
        row |= {"middle": float(np.median(whole)), "low_80": low_80, "high_80": high_80}
        row |= {"low_50": low_50, "high_50": high_50, "made": made}
        row |= dict.fromkeys(("chance", "error", "inside_50", "inside_80", "brier", "log_score"), np.nan)
        row["crps"] = np.nan if np.isnan(most) else float(crps(np.minimum(whole, most), reps))
        if to_failure and failed:
            row |= {"error": row["middle"] - reps}
            row |= {f"inside_{share}": float(share_inside(whole, reps, share / 100.0)) for share in (50, 80)}
        if not np.isnan(low):
            # No number of draws makes a chance certain.
            by_draws = (float((whole >= low).sum()) + 0.5) / (whole.size + 1.0)
            row["chance"] = by_draws if said.chance is None else said.chance
        if not np.isnan(made):
            row |= {"brier": float(brier(row["chance"], made))}
            row |= {"log_score": float(log_score(row["chance"], bool(made)))}
        yield row
