"""Monte Carlo of a block: what one lifter can do, set by set, over many draws of the lifter and of the days.

A draw is one possible lifter (1RM, endurance, recovery, fatigue parameters) living through one possible run of days.
Draws are the leading axis, weeks the second; sets are the loop. All randomness is drawn beforehand, by `draw_lifter`,
so that two plans simulated on the same draws meet the same lifters and the same days.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any, overload

import numpy as np

from workbench.gym.catalogue import Catalogue
from workbench.models.fatigue import DEFAULT_FORM, FatigueForm
from workbench.models.load_reps import DEFAULT_CURVE, Curve
from workbench.models.sharing import CARRY, SharedFatigue
from workbench.quantities import FloatArray, InputError
from workbench.reference.parameters import (
    SHARED_ENDURANCE,
    STATED_SHARE,
    endurance_prior,
    fatigue_draws,
    noise,
    recovery_prior,
)

if TYPE_CHECKING:
    from workbench.lifter import Lifter
    from workbench.simulate.plan import Plan, PlannedSession, PlannedSet

__all__ = ["LifterDraws", "Outcome", "SessionOutcome", "SetOutcome", "draw_lifter", "simulate", "watch_session"]


@dataclass(frozen=True)
class LifterDraws:
    """Possible lifters and days.

    Attributes
    ----------
    exercises : tuple of str
    log_one_rm : array, shape (draws, exercises), [ln kg]
    endurance : array, shape (draws, exercises), [1/rep]
    recovery_rate : array, shape (draws,), [1]
    fatigue : parameter set of ``form``, fields of shape (draws, 1)
    form : FatigueForm
    day : array, shape (sessions, draws, weeks), [1]
        Log-strength of that day against the lifter's usual.
    set_noise : array, shape (sets, draws, weeks), [1]
        Factor on the reps of a fresh set, for each set of the week.
    carry : array, shape (draws, 1), [1], optional
        Factor on how strongly fatigue passes between exercises that share muscles.
    curve : Curve
        On which a fresh set of these lifters lies.
    """

    exercises: tuple[str, ...]
    log_one_rm: FloatArray
    endurance: FloatArray
    recovery_rate: FloatArray
    fatigue: Any
    form: FatigueForm
    day: FloatArray
    set_noise: FloatArray
    carry: FloatArray | None = None
    curve: Curve = DEFAULT_CURVE

    @property
    def count(self) -> int:
        """Number of draws."""
        return int(self.recovery_rate.shape[0])


def draw_lifter(
    lifter: Lifter,
    exercises: tuple[str, ...],
    *,
    weeks: int,
    sessions: int,
    sets: int,
    draws: int = 2000,
    rng: np.random.Generator,
    form: FatigueForm = DEFAULT_FORM,
    curve: Curve = DEFAULT_CURVE,
    catalogue: Catalogue | None = None,
) -> LifterDraws:
    """Draw possible lifters from what the lifter file says, and from the published spread where it is silent.

    ``catalogue`` knows the exercises: the plan's; the lifter's where not given.

    Every quantity has a random stream of its own: one more set or session at the end changes no other digit.

    Raises
    ------
    InputError
        Where the lifter has no 1RM for an exercise.
    """
    streams = rng.spawn(7)
    spread = noise()
    count = len(exercises)
    lifts = [lifter.lift(name) for name in exercises]
    priors = [endurance_prior((catalogue or lifter.catalogue).exercise(name).endurance_class) for name in exercises]
    sd = np.array([lift.uncertainty_percent / 100.0 for lift in lifts])
    log_one_rm = np.log([lift.one_rm for lift in lifts]) + sd * streams[0].standard_normal((draws, count))
    known = np.array([lift.endurance_on(curve) or np.nan for lift in lifts])
    median = np.where(np.isnan(known), [prior.median for prior in priors], known)
    between = np.array([prior.log_sd for prior in priors])
    log_sd = np.where(np.isnan(known), between, between * STATED_SHARE)
    shared = streams[1].standard_normal((draws, 1))
    own = streams[1].standard_normal((draws, count))
    mixed = np.sqrt(SHARED_ENDURANCE) * shared + np.sqrt(1.0 - SHARED_ENDURANCE) * own
    rate_median, rate_sd = recovery_prior(lifter.sex)
    if lifter.recovery_rate is not None:
        rate_median, rate_sd = lifter.recovery_rate, rate_sd * STATED_SHARE
    carried, carried_sd = 1.0, CARRY.log_sd
    if lifter.carry_over is not None:
        carried, carried_sd = lifter.carry_over, carried_sd * STATED_SHARE
    return LifterDraws(
        exercises=exercises,
        log_one_rm=log_one_rm,
        endurance=median * np.exp(log_sd * mixed),
        recovery_rate=rate_median * np.exp(rate_sd * streams[2].standard_normal(draws)),
        fatigue=fatigue_draws(draws, streams[3], form=form),
        form=form,
        day=spread.day_sd * _draws_inside(streams[4].standard_normal((sessions, weeks, draws))),
        set_noise=_draws_inside(_log_normal(spread.set_log_sd, streams[5], (sets, weeks, draws))),
        carry=carried * np.exp(carried_sd * streams[6].standard_normal((draws, 1))),
        curve=curve,
    )


def _log_normal(log_sd: float, rng: np.random.Generator, shape: tuple[int, ...]) -> FloatArray:
    """Factors about 1.

    Not in place: once an array of this size has been freed, the C library keeps the pages of the smaller ones that a
    simulation frees and takes again, where it would hand each back to the system; that is worth two fifths of the time.
    """
    factors = rng.standard_normal(shape)
    factors *= log_sd
    return np.exp(factors)


def _draws_inside(array: FloatArray) -> FloatArray:
    """Turn (n, weeks, draws) into (n, draws, weeks), leaving draws adjacent in memory: long inner loops are fast."""
    return array.transpose(0, 2, 1)


@dataclass(frozen=True)
class SetOutcome:
    """What happened in one set over all draws.

    Attributes
    ----------
    planned : PlannedSet
    available : array, shape (draws, weeks), [reps]
        Reps that could be made, real-valued; whole reps are its floor.
    """

    planned: PlannedSet
    available: FloatArray

    @cached_property
    def made(self) -> np.ndarray:
        """Whether all reps of the set were made, shape (draws, weeks), bool; a set to failure always is."""
        wanted = np.where(np.isfinite(self.planned.reps_high), self.planned.reps_low, 0.0)
        return np.asarray((self.available >= wanted) | ~self.planned.active)

    @property
    def reserve(self) -> FloatArray:
        """Reps in reserve after the lowest prescribed reps, shape (draws, weeks); negative where reps are missed."""
        wanted = np.where(np.isfinite(self.planned.reps_high), self.planned.reps_low, np.floor(self.available))
        return self.available - wanted

    def ends_within(self, reps: float) -> np.ndarray:
        """Whether the set ends with at most so many reps in reserve, shape (draws, weeks), bool.

        A set to failure and one that breaks off end with none; a set that is not done in a week does not end.
        """
        return np.asarray((self.available <= self.planned.reps_high + reps) & self.planned.active)


@dataclass(frozen=True, eq=False)
class SessionOutcome(Sequence[SetOutcome]):
    """What happened in one session over all draws: a sequence of the outcomes of its sets, in order of time."""

    sets: tuple[SetOutcome, ...]

    @overload
    def __getitem__(self, index: int) -> SetOutcome: ...

    @overload
    def __getitem__(self, index: slice) -> tuple[SetOutcome, ...]: ...

    def __getitem__(self, index: int | slice) -> SetOutcome | tuple[SetOutcome, ...]:
        """Return a set, or several."""
        return self.sets[index]

    def __len__(self) -> int:
        """Return the number of sets."""
        return len(self.sets)

    @cached_property
    def made(self) -> np.ndarray:
        """Whether all reps of the session were made, shape (draws, weeks), bool."""
        return np.asarray(np.logical_and.reduce([one.made for one in self.sets]))

    @cached_property
    def lowest_reserve(self) -> FloatArray:
        """Fewest reps in reserve among the sets with prescribed reps, shape (draws, weeks); infinite without any."""
        lowest = np.full_like(self.sets[0].available, np.inf)
        for one in self.sets:
            counted = one.planned.active & np.isfinite(one.planned.reps_high)
            spare = one.available - one.planned.reps_low
            np.minimum(lowest, spare if counted.all() else np.where(counted, spare, np.inf), out=lowest)
        return lowest


@dataclass(frozen=True)
class Outcome:
    """A simulated block: what happened in each session of the week, and the draws it was simulated on."""

    plan: Plan
    sessions: tuple[SessionOutcome, ...]
    draws: LifterDraws | None = field(default=None, repr=False)

    def __iter__(self) -> Iterator[tuple[PlannedSession, SessionOutcome]]:
        """Go through the sessions with their sets."""
        return iter(zip(self.plan.sessions, self.sessions, strict=True))

    @cached_property
    def made_by_session(self) -> np.ndarray:
        """Whether all reps of a session were made, shape (sessions, draws, weeks), bool."""
        return np.stack([one.made for one in self.sessions])

    def chance_by_session(self) -> FloatArray:
        """Chance that all reps of a session are made, shape (sessions, weeks)."""
        return np.asarray(self.made_by_session.mean(axis=1))

    def chance_by_week(self) -> FloatArray:
        """Chance that all reps of a week are made, shape (weeks,)."""
        return np.asarray(self.made_by_session.all(axis=0).mean(axis=0))

    def chance_of_block(self) -> float:
        """Chance that all reps of the block are made."""
        return float(self.made_by_session.all(axis=(0, 2)).mean())


def simulate(plan: Plan, draws: LifterDraws, *, like: Outcome | None = None) -> Outcome:
    """Run a plan on every draw.

    Parameters
    ----------
    plan : Plan
    draws : LifterDraws
        Drawn for the plan's exercises, weeks, sessions and number of sets.
    like : Outcome
        Sessions that it simulated on the same draws, and whose plan was taken over from its plan, are taken over.

    Returns
    -------
    Outcome

    Raises
    ------
    ValueError
        Where the draws were made for other exercises or fewer sets.
    """
    if draws.exercises != plan.exercises or draws.set_noise.shape[0] < plan.set_count:
        raise ValueError("the draws were made for another plan; call draw_lifter with this plan's exercises and sets")
    known = _known_sessions(like, plan, draws)
    offset = 0
    sessions: list[SessionOutcome] = []
    for number, session in enumerate(plan.sessions):
        taken = known.get((number, offset, id(session)))
        sessions.append(_run(plan, draws, number, offset) if taken is None else taken)
        offset += len(session.sets)
    return Outcome(plan, tuple(sessions), draws)


def _known_sessions(like: Outcome | None, plan: Plan, draws: LifterDraws) -> dict[tuple[int, int, int], SessionOutcome]:
    """Sessions by their number, the sets before them and what was planned: all that decides how they come out."""
    if like is None or like.draws is not draws or like.plan.carry is not plan.carry:
        return {}
    before = np.cumsum([0, *(len(session.sets) for session in like.plan.sessions)]).tolist()
    return {(number, before[number], id(session)): sets for number, (session, sets) in enumerate(like)}


def watch_session(
    plan: Plan, draws: LifterDraws, number: int, watch: Callable[[int, SharedFatigue], None]
) -> SessionOutcome:
    """Run one session as `simulate` does, calling ``watch(set index, fatigue)`` after each of its sets.

    Parameters
    ----------
    plan, draws
        As for `simulate`.
    number : int
        Session of the week, counted from 0.
    watch : callable
        May read the fatigue (`SharedFatigue.own`), not work with it.
    """
    offset = sum(len(session.sets) for session in plan.sessions[:number])
    return _run(plan, draws, number, offset, watch)


def _run(
    plan: Plan,
    draws: LifterDraws,
    number: int,
    offset: int,
    watch: Callable[[int, SharedFatigue], None] | None = None,
) -> SessionOutcome:
    session = plan.sessions[number]
    form, parameters = draws.form, draws.fatigue
    carry = plan.carry
    if draws.carry is not None:
        carry = carry.times(draws.carry)
    shared = SharedFatigue(form, plan.overlap, draws.recovery_rate[:, np.newaxis], parameters=parameters, carry=carry)
    fresh_sets = _FreshSets(draws, number)
    # Kept in one block of memory: many small ones cost more to get than to fill.
    kept = np.empty((len(session.sets), plan.weeks, draws.count)).transpose(0, 2, 1)
    outcomes: list[SetOutcome] = []
    for index, planned in enumerate(session.sets):
        lane = planned.lane
        headroom, usual = fresh_sets.at(lane, planned.load_kg)
        fresh = usual * draws.set_noise[offset + index]
        state = shared.before(lane, planned.start_s)
        available, after = form.work(state, headroom, fresh, planned.reps_high, parameters=parameters)
        if not planned.active.all():
            after = tuple(np.where(planned.active, new, old) for new, old in zip(after, state, strict=True))
        shared.after(lane, after, planned.end_s)
        kept[index] = available
        outcomes.append(SetOutcome(planned, kept[index]))
        if watch is not None:
            watch(index, shared)
    if not np.isfinite(kept.sum()):  # infinities and what is no number stay so in a sum
        raise _not_finite(session, outcomes)
    return SessionOutcome(tuple(outcomes))


def _not_finite(session: PlannedSession, outcomes: list[SetOutcome]) -> InputError:
    """Say for which set the simulation gives no finite number of reps: none may leave it."""
    one = next(one.planned for one in outcomes if not np.isfinite(one.available).all())
    where = f"{session.name}, {one.exercise}, set {one.label}"
    return InputError(
        None, where, "no number of reps can be told", "check its load, and the lifter's 1RM and endurance"
    )


class _FreshSets:
    """Headroom and reps of fresh sets on one day; sets of a group have the same loads, so they are worked out once.

    Only the last load of each exercise is kept: a long session has hundreds.
    """

    def __init__(self, draws: LifterDraws, session: int) -> None:
        self._draws, self._day = draws, draws.day[session]
        self._known: dict[int, tuple[bytes, FloatArray, FloatArray]] = {}

    def at(self, lane: int, load_kg: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Log-strength to spare and reps to failure, before the noise of a set, both of shape (draws, weeks)."""
        loads = load_kg.tobytes()
        if lane not in self._known or self._known[lane][0] != loads:
            # Copies, so that draws lie beside each other in memory.
            log_one_rm, endurance = self._draws.log_one_rm[:, lane].copy(), self._draws.endurance[:, lane].copy()
            headroom = log_one_rm[:, np.newaxis] + self._day - np.log(load_kg)
            self._known[lane] = loads, headroom, self._draws.curve.fresh_reps(headroom, endurance[:, np.newaxis])
        return self._known[lane][1:]
