"""Learn a lifter from a log: 1RM, endurance and recovery rate, by quadrature on grids that narrow down.

The same sums on every call: no random number is drawn here.
"""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from workbench.fit.evidence_sets import LiftLog, UsedLog, read_sets
from workbench.fit.filtering import filter_sessions
from workbench.fit.joint import FittedLift, Joint, combine
from workbench.fit.likelihood import Grid, SetReader
from workbench.fit.priors import LiftPrior, LogNormal, lift_prior, rate_prior
from workbench.fit.settings import FitSettings
from workbench.models.fatigue import DEFAULT_FORM, FatigueForm
from workbench.parameters import fatigue_typical
from workbench.quantities import FloatArray, InputError

if TYPE_CHECKING:
    import pandas as pd

    from workbench.lifter import Lifter

__all__ = ["Fit", "fit_sets"]


class _Counts(NamedTuple):
    """Points of a grid: fewest rates and endurances, distance of strengths in sds of the day.

    ``apart``: log endurance wants points at most this far from each other, log rate twice that. Where a log says
    little, its few limits (a rep that was made) are steep.
    """

    rates: int
    endurances: int
    strength_step: float
    apart: float


#: While looking where the lifter lies; at the end, for a log of many sets, whose posterior is the smoother for them,
#: and for a short one. Against grids twice as fine, quantiles move by at most a few hundredths of a posterior sd.
_SEARCH = _Counts(9, 13, 1.0, np.inf)
_FINAL, _FINAL_OF_SHORT, _SHORT = _Counts(9, 11, 0.33, 0.2), _Counts(11, 17, 0.2, 0.15), 120
_MOST_SEARCHES = 4
_FEWEST_STRENGTHS, _MOST_STRENGTHS = 31, 161
#: Half-width of a grid in sds.
_REACH = 4.0
#: Points farther apart than this many posterior sds say where the posterior lies, not how wide it is. At 2, sums
#: over even points are good to about one in a hundred for anything bell-shaped.
_COARSE = 2.0


@dataclass(frozen=True)
class Fit:
    """A fitted log.

    Attributes
    ----------
    lifter : Lifter
        As it was before the log.
    log : UsedLog
    today : datetime.date
        When the 1RMs hold.
    lifts : tuple of FittedLift
    joint : Joint
    rate : LogNormal
        Prior of the recovery rate.
    form, parameters : FatigueForm and its parameters
        Through which sets later in a session were read.
    settings : FitSettings
    """

    lifter: Lifter
    log: UsedLog
    today: datetime.date
    lifts: tuple[FittedLift, ...]
    joint: Joint
    rate: LogNormal
    form: FatigueForm
    parameters: Any
    settings: FitSettings


@dataclass
class _Range:
    """Where a quantity is looked for: centre and half-width."""

    centre: float
    half: float

    def points(self, count: int, apart: float) -> FloatArray:
        """Even points, ``count`` or more: up to twice as many, where they would lie farther apart than ``apart``."""
        count = min(max(count, int(np.ceil(2.0 * self.half / apart)) + 1), 2 * count - 1)
        return np.linspace(self.centre - self.half, self.centre + self.half, count)

    def narrow(self, points: FloatArray, weights: FloatArray) -> bool:
        """Move to where the weights lie; return whether the points were close enough to trust that."""
        mean, sd = moments(points, weights)
        step = float(points[1] - points[0])
        coarse = step > _COARSE * sd
        # Where the points are coarse, the weights peak unseen between them, but hardly two points away.
        self.within(mean, min(_REACH * sd + step, 2.0 * step) if coarse else _REACH * sd)
        return not coarse

    def within(self, centre: float, half: float) -> None:
        """Keep the part inside ``centre`` plus or minus ``half``."""
        low, high = max(self.centre - self.half, centre - half), min(self.centre + self.half, centre + half)
        self.centre, self.half = 0.5 * (low + high), 0.5 * (high - low)


def moments(points: FloatArray, weights: FloatArray) -> tuple[float, float]:
    """Mean and standard deviation of points with weights."""
    share = weights / weights.sum()
    mean = float(share @ points)
    return mean, float(np.sqrt(share @ (points - mean) ** 2))


@dataclass
class _Search:
    """Ranges of one exercise while they narrow down."""

    log: LiftLog
    prior: LiftPrior
    endurance: _Range
    strength: _Range
    weeks: float

    def grid(self, log_rate: FloatArray, counts: _Counts, settings: FitSettings) -> Grid:
        strengths = int(np.ceil(2.0 * self.strength.half / (counts.strength_step * settings.day_sd))) + 1
        strengths = min(max(strengths, _FEWEST_STRENGTHS), _MOST_STRENGTHS)
        return Grid(
            log_rate, self.endurance.points(counts.endurances, counts.apart), self.strength.points(strengths, np.inf)
        )


def fit_sets(
    rows: pd.DataFrame,
    lifter: Lifter,
    *,
    today: datetime.date | None = None,
    form: FatigueForm = DEFAULT_FORM,
    parameters: Any = None,
    settings: FitSettings | None = None,
) -> Fit:
    """Fit the rows of one lifter's log; see `workbench.fit.fit_log`."""
    settings = settings or FitSettings()
    used = read_sets(rows, settings, body_mass_kg=lifter.body_mass_kg)
    if not used.lifts:
        reasons = "; ".join(dict.fromkeys(used.left_out["reason"])) or "it is empty"
        raise InputError(None, "log", f"holds no set that can be used ({reasons})", "give dates, loads and reps")
    last = max(lift.sessions[-1].date for lift in used.lifts)
    today = last if today is None else today
    if today < last:
        raise InputError(None, "today", f"{today} is before the last session, {last}", "give a later date")
    parameters = fatigue_typical(form) if parameters is None else parameters
    rate = rate_prior(lifter)
    searches = [_start(log, lift_prior(lifter, log, settings), settings, today) for log in used.lifts]
    rates = _Range(rate.log_mean, _REACH * rate.log_sd)

    def run(counts: _Counts) -> tuple[tuple[FittedLift, ...], Joint]:
        log_rate = rates.points(counts.rates, 2.0 * counts.apart)
        fitted = [
            _fit_one(one, one.grid(log_rate, counts, settings), today, form, parameters, settings) for one in searches
        ]
        return tuple(fitted), combine(fitted, rate, log_rate)

    for _ in range(_MOST_SEARCHES):
        lifts, joint = run(_SEARCH)
        if _narrow(searches, rates, lifts, joint, settings):
            break
    lifts, joint = run(_FINAL_OF_SHORT if used.set_count <= _SHORT else _FINAL)
    return Fit(lifter, used, today, lifts, joint, rate, form, parameters, settings)


def _start(log: LiftLog, prior: LiftPrior, settings: FitSettings, today: datetime.date) -> _Search:
    first = min(log.sessions[0].date, prior.one_rm.date or log.sessions[0].date)
    weeks = (today - first).days / 7.0
    sd = float(np.sqrt(prior.one_rm.log_sd**2 + settings.drift_sd**2 * weeks + settings.day_sd**2))
    low, high = prior.one_rm.log_mean - _REACH * sd, prior.one_rm.log_mean + _REACH * sd
    if settings.wrong_file_chance > 0.0:
        # Look where the log points too, should it speak against the file.
        from_below, about = _strengths(log, prior)
        margin = 0.5 * settings.wrong_file_log_sd
        high = max(high, float(np.median(from_below)) + margin)
        if about.size:
            low = min(low, float(np.median(about)) - margin)
    strength = _Range(0.5 * (low + high), 0.5 * (high - low))
    return _Search(log, prior, _Range(prior.endurance.log_mean, _REACH * prior.endurance.log_sd), strength, weeks)


def _strengths(log: LiftLog, prior: LiftPrior) -> tuple[FloatArray, FloatArray]:
    """Rough log strengths that sets speak of: all, and those whose end or reserve is known."""
    per_rep = float(np.exp(prior.endurance.log_mean))
    rough = [
        (np.log(one.load_kg) + per_rep * (one.reps - 1 + np.nan_to_num(one.reserve)), one.ending != "completed")
        for session in log.sessions
        for one in session.sets
    ]
    return np.array([value for value, _ in rough]), np.array([value for value, ended in rough if ended])


def _fit_one(
    search: _Search,
    grid: Grid,
    today: datetime.date,
    form: FatigueForm,
    parameters: Any,
    settings: FitSettings,
    *,
    backward: bool = False,
) -> FittedLift:
    reader = SetReader(grid, form, parameters, settings)
    sessions = search.log.sessions
    filtered = filter_sessions(
        grid,
        [reader.session(session) for session in sessions],
        [session.date for session in sessions],
        search.prior.one_rm,
        settings,
        today=today,
        backward=backward,
    )
    return FittedLift(search.log.exercise, search.prior, grid, filtered)


def _narrow(
    searches: list[_Search], rates: _Range, lifts: tuple[FittedLift, ...], joint: Joint, settings: FitSettings
) -> bool:
    """Narrow every range; return whether all are now as narrow as they will get."""
    settled = rates.narrow(joint.log_rate, joint.rate)
    for search, lift, weights in zip(searches, lifts, joint.lifts, strict=True):
        settled &= search.endurance.narrow(lift.grid.log_endurance, weights.sum(axis=0))
        mean, sd = moments(lift.grid.log_strength, np.tensordot(weights, lift.filtered.today, 2))
        # Earlier sessions lie as far away as drift and days allow.
        spread = np.sqrt(sd**2 + settings.drift_sd**2 * search.weeks + settings.day_sd**2)
        search.strength.within(mean, (_REACH + 1.0) * float(spread) + lift.grid.strength_step)
    return settled
