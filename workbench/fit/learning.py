"""Learn a lifter from a log: 1RM, endurance and recovery rate, by quadrature on grids that narrow down.

The same sums on every call: no random number is drawn here.
"""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from workbench.fit.carried import CARRY_POINTS, CarryOver, GivenByOthers, Likeliest, given_by_others, shares_muscles
from workbench.fit.evidence_sets import LiftLog, UsedLog, only_new, read_sets
from workbench.fit.joint import Fit, FittedLift, Joint, combine, fit_lift
from workbench.fit.learned import Learned
from workbench.fit.likelihood import Course, Grid, SetReader
from workbench.fit.marginals import LogNormal, moments
from workbench.fit.newton import likeliest_unknowns
from workbench.fit.places import Believed, Point
from workbench.fit.priors import Kept, LiftPrior, carry_prior, gain_sd, lift_prior, rate_prior, rough_strengths
from workbench.fit.range import REACH, Range
from workbench.fit.reading import load_for
from workbench.fit.settings import FitSettings
from workbench.fit.unknowns import Unknowns
from workbench.log import rows_of
from workbench.models.fatigue import DEFAULT_FORM, FatigueForm
from workbench.models.load_reps import Curve
from workbench.models.sharing import CARRY, Carry
from workbench.quantities import FloatArray, InputError
from workbench.reference.parameters import fatigue_typical

if TYPE_CHECKING:
    import pandas as pd

    from workbench.lifter import Lifter
    from workbench.log import LogReading

__all__ = ["fit_log"]


class _Counts(NamedTuple):
    """Points of a grid: fewest rates and endurances, distance of strengths in sds of the day.

    ``apart``: log endurance wants points at most this far from each other, log rate twice that. Where a log says
    little, its few limits (a rep that was made) are steep.
    """

    rates: int
    endurances: int
    strength_step: float
    apart: float


#: While looking where the lifter lies; once more near there; at the end, for a log of many sets, whose posterior is
#: the smoother for them, and for a short one. Against grids twice as fine, quantiles move by at most a few hundredths
#: of a posterior sd.
_SEARCH, _NEAR = _Counts(7, 9, 1.0, np.inf), _Counts(7, 7, 1.0, np.inf)
_FINAL, _FINAL_OF_SHORT, _SHORT = _Counts(9, 11, 0.33, 0.2), _Counts(11, 17, 0.2, 0.15), 120
_MOST_SEARCHES, _MOST_NEAR = 4, 2
_FEWEST_STRENGTHS, _MOST_STRENGTHS = 25, 161
#: Half-width of a grid in sds of a normal approximation.
_REACH_OF_LIKELY = 5.0
#: Where sets of a log are so many, a second look near the lifter is cheaper than a second at the end, and how far
#: strengths reach is left to the days themselves: drift alone would allow for ever more. What is less probable than
#: this part of the most probable does not count.
_LONG, _NOWHERE = 1000, 1e-6
_MOST_FINALS = 3


@dataclass
class _Search:
    """Ranges of one exercise while they narrow down, and the middles of what is believed of its two logs."""

    log: LiftLog
    prior: LiftPrior
    endurance: Range
    strength: Range
    weeks: float
    log_one_rm: float
    log_endurance: float
    course: Course = field(default_factory=Course)

    def grid(self, log_rate: FloatArray, counts: _Counts, settings: FitSettings) -> Grid:
        strengths = int(np.ceil(2.0 * self.strength.half / (counts.strength_step * settings.day_sd))) + 1
        strengths = min(max(strengths, _FEWEST_STRENGTHS), _MOST_STRENGTHS)
        return Grid(
            log_rate, self.endurance.points(counts.endurances, counts.apart), self.strength.points(strengths, np.inf)
        )


class _Run(NamedTuple):
    """All exercises on one choice of grids."""

    lifts: tuple[FittedLift, ...]
    joint: Joint
    given: GivenByOthers


def fit_log(
    rows: pd.DataFrame | LogReading,
    lifter: Lifter,
    *,  # each by its name, and most left as they are
    today: datetime.date | None = None,
    form: FatigueForm = DEFAULT_FORM,
    parameters: Any = None,
    carry: Carry = CARRY,
    curve: Curve | None = None,
    settings: FitSettings | None = None,
) -> Learned:
    """Learn a lifter from a log.

    Tested maxima, failed sets, sets stopped with a stated reserve, sets simply completed, and drops are all read; sets
    later in a session through the fatigue form with the rests, and with what other exercises left in the same muscles.
    Each session has a day of its own, the usual 1RM drifts
    between sessions, the recovery rate is the same for all exercises. Sums on grids, no random numbers: the same log
    gives the same digits.

    Parameters
    ----------
    rows : LogReading or DataFrame
        What `workbench.log.read_log` gives, or rows of it: loads [kg], reps [reps], reserves [reps], rests [s]. They
        must be the lifter's: see `workbench.log.rows_of`.
    lifter : Lifter
        What was believed before. An exercise that it does not name starts from a first guess, and is marked.
    today : datetime.date
        When the 1RMs shall hold; the date of the last session where not given.
    form, parameters : FatigueForm and its parameter set, with one value for each parameter
        The medians of the published spread where not given (`workbench.reference.parameters.fatigue_draws`). That
        spread is not fitted; it comes in again when blocks are simulated.
    carry : Carry
        How strongly fatigue usually passes between exercises; the log says by how much more or less here. `NO_CARRY`
        reads every exercise alone.
    curve : Curve
        On which fresh sets lie; that of the settings where not given.
    settings : FitSettings

    Returns
    -------
    Learned
        1RM [kg], endurance [1/rep], recovery rate [1] and carry-over [1], each before and after, with 80 % intervals.

    Raises
    ------
    InputError
        A question of the log is open; rows of somebody else; a column is missing, nothing that can be used, or
        ``today`` before the last session.

    Notes
    -----
    Left out: that the days of two exercises of one session go together. The carry-over between exercises is weighed
    with all else summed over, then the fit goes on with its median; how the other quantities move with it is taken as
    straight lines. Where a lifter tires otherwise than the middle of the published spread, the recovery rate
    takes that up: read it as recovery by this model, and its interval as too narrow for anything else.

    Priors from ``data/parameters.csv``; how far a stated reserve is to be believed from
    ``data/evidence/rir_accuracy.csv``, each row with its source key and grade.
    """
    settings = settings or FitSettings()
    if curve is not None:
        settings = replace(settings, curve=curve)
    if lifter.usual_reserve_bias is not None:
        mean, sd = lifter.usual_reserve_bias
        settings = replace(settings, reserve_bias_mean=mean, reserve_bias_sd=sd)
    used = _new_sets(rows, lifter, settings)
    load_for(used.set_count)
    learned = (date for days in (lifter.learned or {}).values() for date in days)
    dates = [lift.sessions[-1].date for lift in used.lifts] + [session.date for session in used.skipped]
    last = max([*dates, *map(datetime.date.fromisoformat, learned)])
    today = last if today is None else today
    if today < last:
        raise InputError(None, "today", f"{today} is before the last session, {last}", "give a later date")
    bend = float(lifter.bend(settings.curve) or 0.0)
    searches = [_start(log, lift_prior(lifter, log, settings), settings, today, bend) for log in used.lifts]
    rate = rate_prior(lifter, settings)
    rates = Range(rate.log_mean, REACH * rate.log_sd)
    reading = _Reading(used, searches, rates, rate, today, form, parameters, settings, bend)
    return Learned(reading.fitted(lifter, carry))


def _new_sets(rows: pd.DataFrame | LogReading, lifter: Lifter, settings: FitSettings) -> UsedLog:
    """Return the sets of a lifter's log that the lifter file has not learned from; InputError where there are none."""
    rows = rows_of(rows, lifter.name)
    used = read_sets(rows, settings, body_mass_kg=lifter.body_mass_kg, catalogue=lifter.catalogue)
    used = only_new(used, lifter.learned or {})
    if not used.lifts and not used.skipped:
        reasons = "; ".join(dict.fromkeys(used.left_out["reason"])) or "it is empty"
        raise InputError(None, "log", f"holds no set that can be used ({reasons})", "give dates, loads and reps")
    return used


@dataclass
class _Reading:
    """A log while it is read, on grids that narrow down."""

    used: UsedLog
    searches: list[_Search]
    rates: Range
    rate: LogNormal
    today: datetime.date
    form: FatigueForm
    parameters: Any
    settings: FitSettings
    bend: float = 0.0
    rest_nodes: int = 1

    def fitted(self, lifter: Lifter, carry: Carry) -> Fit:
        """Narrow the grids down, weigh the carry-over between exercises, and fit on the last grids."""
        usual, carry_over = carry_prior(lifter), None
        median = float(np.exp(usual.log_mean))
        tired = shares_muscles(self.used) if carry.any else (False,) * len(self.searches)
        carry = carry.times(median)
        for _ in range(_MOST_SEARCHES):
            lifts, joint, given = self.run(_SEARCH, carry)
            if not self.widen(lifts, joint):
                break
        settled = self.narrow(lifts, joint)
        unknowns = self.hold(given, joint.log_rate, lifter)
        settled &= not any(tired)
        long = self.used.set_count >= _LONG
        for _ in range(_MOST_NEAR if long else 1):
            if settled:
                break
            lifts, joint, given = self.run(_NEAR, carry, day_by_day=long)
            settled = self.narrow(lifts, joint)
        if any(tired):
            carry_over = self.weigh(lifts, joint, given, usual, tired)
            carry = carry.times(carry_over.median / median)
        self.rest_nodes = 3
        before = None
        for _ in range(_MOST_FINALS):
            before = self.run(_FINAL_OF_SHORT if self.used.set_count <= _SHORT else _FINAL, carry, before)
            lifts, joint, given = before
            if not self.widen(lifts, joint):
                break
        return Fit(
            lifter=lifter,
            log=self.used,
            today=self.today,
            lifts=lifts,
            joint=joint,
            rate=self.rate,
            form=self.form,
            parameters=self.held_parameters,
            settings=self.settings,
            given=given,
            carry_over=carry_over,
            unknowns=unknowns,
        )

    def hold(self, given: GivenByOthers, log_rate: FloatArray, lifter: Lifter) -> Unknowns | None:
        """Find what no grid holds, read the sets with it from here on, and look where that puts the lifter."""
        searches, settings = self.searches, self.settings
        if not searches:
            return None
        log_one_rm = np.array([search.log_one_rm for search in searches])
        log_endurance = np.array([search.log_endurance for search in searches])
        point = Point(log_one_rm, log_endurance, self.rates.centre)
        priors, gain = [search.prior for search in searches], gain_sd(lifter, settings)
        kept = Kept.of(lifter, [search.log.exercise for search in searches], settings.curve)
        believed = Believed(priors, self.rate, gain, self.form, self.parameters, settings, self.today, kept)
        unknowns, likely = likeliest_unknowns(self.used, given, log_rate, point, believed)
        mean = unknowns.held
        reserve = settings.reserve
        bias = reserve.bias_at_turn + float(mean[unknowns.of("reserve")][0])
        self.settings = replace(settings, reserve=replace(reserve, bias_at_turn=bias))
        self.rates.about(likely.at.log_rate, _REACH_OF_LIKELY * likely.rate_sd)
        usual_rest, self.bend = (float(mean[unknowns.of(name)][0]) for name in ("usual rest", "bend"))
        for number, (search, gain) in enumerate(zip(searches, mean[unknowns.of("gain")], strict=True)):
            search.course = Course(float(gain), search.log.sessions[-1].date, usual_rest, self.bend)
            search.strength.centre += float(likely.at.log_one_rm[number]) - search.log_one_rm
            search.log_one_rm = float(likely.at.log_one_rm[number])
            search.log_endurance = float(likely.at.log_endurance[number])
            search.endurance.about(search.log_endurance, _REACH_OF_LIKELY * float(likely.endurance_sd[number]))
        return unknowns

    def run(self, counts: _Counts, carry: Carry, before: _Run | None = None, *, day_by_day: bool = False) -> _Run:
        """Fit all exercises, day by day too; of a run like it before, what has not changed is taken over."""
        log_rate = self.rates.points(counts.rates, 2.0 * counts.apart)
        given = self.given(log_rate, carry)
        lifts = []
        for number, search in enumerate(self.searches):
            grid = search.grid(log_rate, counts, self.settings)
            same = before is not None and grid.same_as(before.lifts[number].grid)
            if before is not None and same and np.array_equal(given[number], before.given[number]):
                lifts.append(before.lifts[number])
            else:
                lifts.append(self.fit(number, grid, given[number], day_by_day=day_by_day))
        return _Run(tuple(lifts), combine(lifts, self.rate, log_rate), given)

    def given(self, log_rate: FloatArray, carry: Carry) -> GivenByOthers:
        likeliest = [Likeliest(search.log_one_rm, float(np.exp(search.log_endurance))) for search in self.searches]
        curve = self.settings.curve.bent(self.bend or None)
        held = self.held_parameters
        return given_by_others(self.used, likeliest, log_rate, carry, self.form, held, curve)

    @property
    def held_parameters(self) -> Any:
        """Those that sets are read with: the typical ones until the log has spoken."""
        return fatigue_typical(self.form) if self.parameters is None else self.parameters

    def fit(self, number: int, grid: Grid, given: FloatArray, *, day_by_day: bool = False) -> FittedLift:
        """Fit one exercise."""
        search = self.searches[number]
        reader = SetReader(
            grid, self.form, self.held_parameters, self.settings, course=search.course, rest_nodes=self.rest_nodes
        )
        return fit_lift(reader, search.log, search.prior, given, self.today, day_by_day=day_by_day)

    def weigh(
        self, lifts: tuple[FittedLift, ...], joint: Joint, given: GivenByOthers, usual: LogNormal, tired: Sequence[bool]
    ) -> CarryOver:
        """Weigh how much exercises take from each other, all else summed over, on the grids of a run."""
        log_evidence, found = [], []
        for z in CARRY_POINTS:
            # What is given is all but proportional to how much of it passes on.
            more = float(np.exp(usual.log_sd * z))
            changed = [
                self.fit(number, lift.grid, more * given[number]) if tired[number] and z else lift
                for number, lift in enumerate(lifts)
            ]
            weighed = combine(changed, self.rate, joint.log_rate)
            log_evidence.append(weighed.log_evidence)
            found.append(_middles(changed, weighed))
        began_tired = sum(int(lift.any(axis=(1, 2)).sum()) for lift in given)
        return CarryOver.weighed(usual, log_evidence, found, began_tired)

    def narrow(self, lifts: tuple[FittedLift, ...], joint: Joint) -> bool:
        """Narrow every range; return whether all are now as narrow as they will get."""
        settings = self.settings
        settled = self.rates.narrow(joint.log_rate, joint.rate)
        for search, lift, weights in zip(self.searches, lifts, joint.lifts, strict=True):
            settled &= search.endurance.narrow(lift.grid.log_endurance, weights.sum(axis=0))
            search.log_endurance = search.endurance.centre
            mean, variance = moments(lift.grid.log_strength, np.tensordot(weights, lift.filtered.today, 2))
            # Earlier sessions lie as far away as drift and days allow.
            spread = np.sqrt(variance + settings.drift_sd**2 * search.weeks + settings.day_sd**2)
            if search.strength.widen(np.tensordot(weights, lift.filtered.today, 2)):
                settled = False
            else:
                search.strength.within(mean, (REACH + 1.0) * float(spread) + lift.grid.strength_step)
            search.log_one_rm = mean
            if lift.filtered.usual is not None:
                search.strength.within(*_reach(lift, weights, settings.day_sd))
        return settled

    def widen(self, lifts: tuple[FittedLift, ...], joint: Joint) -> bool:
        """Widen every range that is leaned on; return whether there was one."""
        leaned = self.rates.widen(joint.rate)
        for search, lift, weights in zip(self.searches, lifts, joint.lifts, strict=True):
            leaned |= search.endurance.widen(weights.sum(axis=0))
            leaned |= search.strength.widen(np.tensordot(weights, lift.filtered.today, 2))
        return leaned


def _reach(lift: FittedLift, weights: FloatArray, day_sd: float) -> tuple[float, float]:
    """Return centre and half-width of the strengths at which a lifter was on any day, by all days."""
    assert lift.filtered.usual is not None
    usual = np.asarray(np.einsum("re,dres->ds", weights, lift.filtered.usual)).max(axis=0)
    low, high = lift.grid.log_strength[np.flatnonzero(usual > _NOWHERE * usual.max())[[0, -1]]]
    return 0.5 * (low + high), 0.5 * (high - low) + REACH * day_sd


def _middles(lifts: Sequence[FittedLift], joint: Joint) -> FloatArray:
    """Means of the logs of 1RM and endurance of each exercise, and of the recovery rate."""
    found = []
    for lift, weights in zip(lifts, joint.lifts, strict=True):
        found.append(moments(lift.grid.log_strength, np.tensordot(weights, lift.filtered.today, 2))[0])
        found.append(moments(lift.grid.log_endurance, weights.sum(axis=0))[0])
    return np.array([*found, moments(joint.log_rate, joint.rate)[0]])


def _start(log: LiftLog, prior: LiftPrior, settings: FitSettings, today: datetime.date, bend: float = 0.0) -> _Search:
    first = min(log.sessions[0].date, prior.one_rm.date or log.sessions[0].date)
    weeks = (today - first).days / 7.0
    sd = float(np.sqrt(prior.one_rm.log_sd**2 + settings.drift_sd**2 * weeks + settings.day_sd**2))
    low, high = prior.one_rm.log_mean - REACH * sd, prior.one_rm.log_mean + REACH * sd
    if settings.wrong_file_chance > 0.0:
        # Look where the log points too, should it speak against the file.
        per_rep = float(np.exp(prior.endurance.log_mean))
        from_below, about = rough_strengths(log, per_rep, settings.curve.bent(bend or None))
        margin = 0.5 * settings.wrong_file_log_sd
        high = max(high, float(np.median(from_below)) + margin)
        if about.size:
            low = min(low, float(np.median(about)) - margin)
    strength = Range(0.5 * (low + high), 0.5 * (high - low))
    endurance = Range(prior.endurance.log_mean, REACH * prior.endurance.log_sd)
    middles = prior.one_rm.log_mean, prior.endurance.log_mean
    return _Search(log, prior, endurance, strength, weeks, *middles, Course(bend=bend))
