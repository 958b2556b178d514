"""Monte Carlo of a block: what one lifter can do, set by set, over many draws of the lifter and of the days.

Draws are the leading axis, weeks the second; sets are the loop. All randomness is drawn beforehand, see
`workbench.simulate.draws`. A block that was changed takes over every session that is equal: `changed`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property, partial
from itertools import accumulate, groupby

import numpy as np

from workbench.gym.equipment import Room
from workbench.lifter import Lifter
from workbench.models.fatigue import DEFAULT_FORM, FatigueForm
from workbench.models.load_reps import DEFAULT_CURVE, Curve
from workbench.models.sharing import SharedFatigue
from workbench.models.tempo import SlowReps, endurance_at
from workbench.prescription.block import Block
from workbench.quantities import FloatArray, InputError
from workbench.reference.tempo import slow_rep_prior
from workbench.simulate import fused
from workbench.simulate.adjusting import Adjusted
from workbench.simulate.draws import Days, LifterDraws
from workbench.simulate.plan import Plan, PlannedSession, PlannedSet, make_plan, plan_changed
from workbench.simulate.session_outcome import INTERVAL, SessionOutcome, interval_by_week, interval_columns
from workbench.simulate.set_outcome import SetOutcome

__all__ = [
    "INTERVAL",
    "Outcome",
    "SessionOutcome",
    "changed",
    "fresh_set",
    "interval_by_week",
    "interval_columns",
    "run_block",
    "run_session",
    "simulate",
]


@dataclass(frozen=True)
class Outcome:
    """A simulated block: what happened in each session of the week, the draws it was simulated on, and their days."""

    plan: Plan
    sessions: tuple[SessionOutcome, ...]
    draws: LifterDraws | None = field(default=None, repr=False)
    days: Days | None = field(default=None, repr=False)

    def __iter__(self) -> Iterator[tuple[PlannedSession, SessionOutcome]]:
        """Go through the sessions with their sets."""
        return iter(zip(self.plan.sessions, self.sessions, strict=True))

    @cached_property
    def made_by_session(self) -> np.ndarray:
        """Whether all reps of a session were made, shape (sessions, draws, weeks), bool."""
        return np.stack([one.made for one in self.sessions])

    def chance_by_session(self) -> FloatArray:
        """Chance that all reps of a session are made, shape (sessions, weeks)."""
        return np.stack([one.chance_by_week for one in self.sessions])

    def chance_by_week(self) -> FloatArray:
        """Chance that all reps of a week are made, shape (weeks,)."""
        return np.asarray(np.logical_and.reduce([one.made for one in self.sessions]).mean(axis=0))

    def chance_of_block(self) -> float:
        """Chance that all reps of the block are made."""
        return float(np.logical_and.reduce([one.made.all(axis=1) for one in self.sessions]).mean())

    @cached_property
    def missed(self) -> FloatArray:
        """Prescribed reps that were not made, shape (draws, weeks), [reps]."""
        missed = np.zeros_like(self.sessions[0][0].available)
        for sets in self.sessions:
            for draw, week, short in (one.misses for one in sets):
                missed[draw, week] += short
        return missed


def run_block(
    block: Block,
    lifter: Lifter,
    room: Room,
    days: Days,
    *,
    form: FatigueForm = DEFAULT_FORM,
    curve: Curve = DEFAULT_CURVE,
) -> Outcome:
    """Plan a block and simulate it on the days that it meets.

    Raises
    ------
    InputError
        As for `workbench.simulate.plan.make_plan`.
    """
    plan = make_plan(block, lifter, room, form=form, curve=curve)
    return replace(simulate(plan, days.of(plan)), days=days)


def changed(before: Outcome, block: Block) -> Outcome:
    """Return what a changed block comes to for the same lifter and room, on the same days.

    Equal, to the digit, to `run_block` of the block. Planned anew are the sessions that differ from those before,
    simulated anew those that differ, or meet other draws.

    Raises
    ------
    InputError
        As for `workbench.simulate.plan.make_plan`.
    """
    if before.days is None:
        raise ValueError("the outcome does not say on which days it was simulated; see run_block")
    plan = plan_changed(before.plan, block)
    return replace(simulate(plan, before.days.of(plan), before=before), days=before.days)


def simulate(plan: Plan, draws: LifterDraws, *, before: Outcome | None = None) -> Outcome:
    """Run a plan on every draw.

    Parameters
    ----------
    plan : Plan
    draws : LifterDraws
        Drawn for the plan's exercises, weeks, sessions and number of sets.
    before : Outcome
        Its sessions are taken over where their plan is equal and they met the same of these draws.

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
    alike = () if before is None else _alike(before, plan, draws)
    sessions = []
    for number, (planned, first_set) in enumerate(zip(plan.sessions, _first_sets(plan), strict=True)):
        old = alike[number] if number < len(alike) else None
        if old is not None and old[0].of.exercises == planned.of.exercises:
            sessions.append(old[1])
        else:
            sessions.append(_run(plan, draws, number, first_set, before=old))
    return Outcome(plan, tuple(sessions), draws)


def _alike(before: Outcome, plan: Plan, draws: LifterDraws) -> Sequence[tuple[PlannedSession, SessionOutcome] | None]:
    """Sessions that met what those of a plan meet: planned alike, such a one comes out alike; None for any other."""
    if before.draws is not draws or before.plan.terms != plan.terms:
        return ()
    firsts = zip(_first_sets(before.plan), _first_sets(plan), strict=False)
    return [session if first == other else None for session, (first, other) in zip(before, firsts, strict=False)]


def _exercises_alike(old: PlannedSession, new: PlannedSession, overlap: FloatArray) -> frozenset[int]:
    """Exercises, as lanes, of a changed session that come to what they came to before: they need not be worked again.

    Such is one whose sets were taken over as planned and follow one another, and before which came only others like it
    or that share no muscle with it. The exercises before it begin when they did: fatigue fades from one change of
    exercise to the next, in other steps to other last digits.
    """
    lanes = [one.lane for one in new.sets]
    if lanes != [one.lane for one in old.sets]:
        return frozenset()
    alike, runs, first = set[int](), [(lane, len(list(run))) for lane, run in groupby(lanes)], 0
    for number, (lane, count) in enumerate(runs):
        pairs = list(zip(old.sets[first : first + count], new.sets[first : first + count], strict=True))
        if not np.array_equal(pairs[0][0].start_s, pairs[0][1].start_s):
            break
        earlier = {other for other, _ in runs[:number] if overlap[lane, other]}
        if all(one is other for one, other in pairs) and lanes.count(lane) == count and earlier <= alike:
            alike.add(lane)
        first += count
    return frozenset(alike)


def _first_sets(plan: Plan) -> list[int]:
    """Return how many sets of the week come before each session."""
    return list(accumulate((len(session.sets) for session in plan.sessions[:-1]), initial=0))


def run_session(
    plan: Plan, draws: LifterDraws, number: int, watch: Callable[[int, SharedFatigue], None] | None = None
) -> SessionOutcome:
    """Run one session as `simulate` does, calling ``watch(set index, fatigue)`` after each of its sets, where given.

    Parameters
    ----------
    plan, draws
        As for `simulate`.
    number : int
        Session of the week, counted from 0.
    watch : callable
        May read the fatigue (`SharedFatigue.own`), not work with it.
    """
    return _run(plan, draws, number, _first_sets(plan)[number], watch)


def _run(
    plan: Plan,
    draws: LifterDraws,
    number: int,
    first_set: int,
    watch: Callable[[int, SharedFatigue], None] | None = None,
    before: tuple[PlannedSession, SessionOutcome] | None = None,
) -> SessionOutcome:
    # `workbench.models.fatigue.run_sets` steps one exercise that starts fresh. Here exercises tire each other, and the
    # sets of a group share what is worked out of their load: with neither the target of speed is out of reach.
    session = plan.sessions[number]
    form, parameters = draws.form, draws.fatigue
    carry = plan.carry
    if draws.carry is not None:
        carry = carry.times(draws.carry)
    adjusted = _adjusted(plan, session, draws.count)
    if watch is None and not adjusted and fused.runs(draws):
        noise = draws.set_noise[first_set : first_set + len(session.sets)]
        meets = fused.Meets(draws.day[number], noise, carry, partial(_endurance, draws))
        return _in_one_pass(plan, draws, session, meets, before)
    shared = SharedFatigue(form, plan.overlap, draws.recovery_rate[:, np.newaxis], parameters=parameters, carry=carry)
    fresh_sets = _FreshSets(draws, number)
    # Kept in one block of memory: many small ones cost more to get than to fill.
    kept = np.empty((len(session.sets), plan.weeks, draws.count))
    outcomes: list[SetOutcome] = []
    for index, planned in enumerate(session.sets):
        lane, rule = planned.lane, adjusted.get((planned.slot, planned.group))
        load = planned.load_kg if rule is None else rule.load_kg(planned)
        headroom, usual = fresh_sets.at(lane, load, planned.slowness)
        fresh = usual * draws.set_noise[first_set + index]
        state = shared.before(lane, planned.start_s)
        available, after = form.work(state, headroom, fresh, planned.reps_high, parameters=parameters)
        if not planned.active.all():
            after = tuple(np.where(planned.active, new, old) for new, old in zip(after, state, strict=True))
        done = None
        if rule is not None:
            done = rule.done
            after = tuple(np.where(done, new, old) for new, old in zip(after, state, strict=True))
            available = np.where(done, available, 0.0)
            rule.after(planned, available)
        shared.after(lane, after, planned.end_s)
        if not np.isfinite(available.sum()):
            raise _no_number(session, planned)
        kept[index] = available.T
        outcomes.append(SetOutcome(planned, kept[index].T, None if rule is None else load, done))
        if watch is not None:
            watch(index, shared)
    if adjusted:
        return SessionOutcome(tuple(outcomes))
    return SessionOutcome(tuple(outcomes), session, fused.Worked(kept, np.empty(0)))


def _in_one_pass(
    plan: Plan,
    draws: LifterDraws,
    session: PlannedSession,
    meets: fused.Meets,
    before: tuple[PlannedSession, SessionOutcome] | None,
) -> SessionOutcome:
    """Run a session where that is compiled; what is changed once is changed again, so then all is kept for that."""
    known, intervals, old = None, dict[int, FloatArray](), None
    if before is not None:
        planned, outcome = before
        old = outcome.worked
        kept = old is not None and old.finished.size
        known = _exercises_alike(planned, session, plan.overlap) if kept else frozenset[int]()
        if "available_interval" in vars(outcome):
            taken = [number for number, one in enumerate(session.sets) if one.lane in known]
            intervals = {number: outcome.available_interval[:, number] for number in taken}
    worked = fused.work_session(plan, draws, session, meets, old, known)
    outcomes = [SetOutcome(one, reps.T) for one, reps in zip(session.sets, worked.reps, strict=True)]
    if not worked.finite:
        raise _no_number(session, next(one.planned for one in outcomes if not np.isfinite(one.available).all()))
    return SessionOutcome(tuple(outcomes), session, worked, intervals)


def _adjusted(plan: Plan, session: PlannedSession, draws: int) -> dict[tuple[int, int], Adjusted]:
    """Set groups with a rule of the coach, by slot and group."""
    found = {}
    for slot_number, slot in enumerate(session.of.exercises, start=1):
        for group_number, group in enumerate(slot.sets, start=1):
            if group.adjust is not None:
                table = plan.room.loads_for(plan.catalogue.exercise(slot.exercise), slot.equipment)
                found[slot_number, group_number] = Adjusted(group.adjust, table, (draws, plan.weeks))
    return found


def _no_number(session: PlannedSession, one: PlannedSet) -> InputError:
    """Say for which set there is no finite number of reps: none may leave here."""
    where = f"{session.name}, {one.exercise}, set {one.label}"
    return InputError(
        None, where, "no number of reps can be told", "check its load, and the lifter's 1RM and endurance"
    )


def fresh_set(
    draws: LifterDraws, lane: int, day: FloatArray, load_kg: FloatArray, slowness: float
) -> tuple[FloatArray, FloatArray]:
    """Log-strength to spare [1] and reps to failure [reps] of a fresh set, before its noise, shape (draws, loads).

    ``day`` broadcasts with (draws, loads); ``slowness`` as `PlannedSet` has it.
    """
    # Copies, so that draws lie beside each other in memory.
    log_one_rm, endurance = draws.log_one_rm[:, lane].copy(), _endurance(draws, lane, slowness)
    headroom = log_one_rm[:, np.newaxis] + day - np.log(load_kg)
    return headroom, draws.bent_curve.fresh_reps(headroom, endurance[:, np.newaxis])


def _endurance(draws: LifterDraws, lane: int, slowness: float) -> FloatArray:
    endurance = draws.endurance[:, lane].copy()
    if not slowness:
        return endurance
    exponent = slow_rep_prior().mean if draws.slow_reps is None else draws.slow_reps
    return endurance_at(endurance, slowness, parameters=SlowReps(exponent=exponent))


class _FreshSets:
    """Headroom and reps of fresh sets on one day; sets of a group have the same loads, so they are worked out once.

    Only the last load and tempo of each exercise are kept: a long session has hundreds.
    """

    def __init__(self, draws: LifterDraws, session: int) -> None:
        self._draws, self._day = draws, draws.day[session]
        self._known: dict[int, tuple[tuple[bytes, float], FloatArray, FloatArray]] = {}

    def at(self, lane: int, load_kg: FloatArray, slowness: float) -> tuple[FloatArray, FloatArray]:
        """Log-strength to spare and reps to failure, before the noise of a set, both of shape (draws, weeks)."""
        asked = load_kg.tobytes(), slowness
        if lane not in self._known or self._known[lane][0] != asked:
            self._known[lane] = asked, *fresh_set(self._draws, lane, self._day, load_kg, slowness)
        return self._known[lane][1:]
