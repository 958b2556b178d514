"""A block worked out for one lifter in one room: the load, reps, rest and clock of every set of every week.

Loads follow the believed 1RM, or, where reps in reserve are asked for, the reps that a median lifter like this one
would have at that point of the session. Rounding to loads that the room has happens once, here, last.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from workbench import catalogue
from workbench.block import Block, ExerciseSlot, Session, SetGroup
from workbench.models.fatigue import TWO_STATE, FatigueForm, State
from workbench.models.load_reps import reps_to_failure
from workbench.parameters import endurance_prior
from workbench.progression import ByWeek
from workbench.quantities import KG_PER_LB, FloatArray, InputError

if TYPE_CHECKING:
    from workbench.equipment import LoadTable, Room
    from workbench.lifter import Lifter

__all__ = ["Plan", "PlannedSession", "PlannedSet", "RampSet", "make_plan"]

#: Ramp sets as parts of the first working load, with reps; a trade habit (assumed). The last is for heavy work only.
_RAMP = ((0.45, 8), (0.65, 5), (0.8, 3), (0.9, 1))
_RAMP_LAST_FROM = 0.85  # of 1RM
_RAMP_REST_S = 60.0


@dataclass(frozen=True)
class PlannedSet:
    """One set, or one drop, of a session, with one value for each week.

    Attributes
    ----------
    exercise, lane : str, int
        The exercise, and its index in the plan's ``exercises``.
    slot, group, number, drop : int
        Place in the session, group within the exercise, set within the exercise (all from 1), and the number of the
        drop (0 for the set itself).
    wanted_kg, load_kg : array, shape (weeks,), [kg]
        Load before and after rounding to the room.
    body_kg : float
        Part of ``load_kg`` that is the lifter's own body; 0 but for moves against body mass.
    load_fraction : array, shape (weeks,), [1]
        ``load_kg`` over the believed 1RM.
    reps_low, reps_high : array, shape (weeks,), [reps]
        Fewest reps that count as made, and most that are done; the highest is infinite for a set to failure.
    active : array, shape (weeks,), bool
        Whether the set is done in that week.
    start_s, end_s : array, shape (weeks,), [s]
        Session clock.
    rest_s : array, shape (weeks,), [s]
        From the end of the last set of this exercise; 0 for its first.
    """

    exercise: str
    lane: int
    slot: int
    group: int
    number: int
    drop: int
    wanted_kg: FloatArray
    load_kg: FloatArray
    body_kg: float
    load_fraction: FloatArray
    reps_low: FloatArray
    reps_high: FloatArray
    active: np.ndarray
    start_s: FloatArray
    end_s: FloatArray
    rest_s: FloatArray

    @property
    def label(self) -> str:
        """Short name for tables: "3" for a set, "3, drop 1" for a drop."""
        return f"{self.number}, drop {self.drop}" if self.drop else str(self.number)


@dataclass(frozen=True)
class RampSet:
    """A warm-up set on the way to the first working load of an exercise; counted in time, not in fatigue."""

    exercise: str
    slot: int
    load_kg: FloatArray
    reps: int


@dataclass(frozen=True)
class PlannedSession:
    """One session of the week: its sets and ramp sets in order, and its duration in each week."""

    name: str
    day: int | None
    sets: tuple[PlannedSet, ...]
    ramps: tuple[RampSet, ...]
    duration_s: FloatArray


@dataclass(frozen=True)
class Plan:
    """A block worked out for a lifter in a room."""

    block: Block
    lifter: Lifter
    exercises: tuple[str, ...]
    sessions: tuple[PlannedSession, ...]
    warnings: tuple[str, ...] = ()

    @property
    def weeks(self) -> int:
        """Number of weeks."""
        return self.block.weeks

    @property
    def set_count(self) -> int:
        """Number of sets and drops in one week."""
        return sum(len(session.sets) for session in self.sessions)


@dataclass
class _Clock:
    """The session as it is worked out: the time, and each exercise's state in the median lifter."""

    now: FloatArray
    states: dict[int, State] = field(default_factory=dict)
    last_end: dict[int, FloatArray] = field(default_factory=dict)


def make_plan(block: Block, lifter: Lifter, room: Room, *, form: FatigueForm = TWO_STATE) -> Plan:
    """Work out every set of a block for one lifter in one room.

    Raises
    ------
    InputError
        Where the lifter has no 1RM for an exercise, or the room nothing to load it with.
    """
    sessions = block.expanded_sessions()
    names: list[str] = []
    for session in sessions:
        for slot in session.exercises:
            name = catalogue.exercise(slot.exercise).name
            if name not in names:
                names.append(name)
    warnings: list[str] = []
    planned = tuple(_plan_session(session, block, lifter, room, names, form, warnings) for session in sessions)
    return Plan(block, lifter, tuple(names), planned, tuple(dict.fromkeys(warnings)))


def _plan_session(
    session: Session,
    block: Block,
    lifter: Lifter,
    room: Room,
    names: list[str],
    form: FatigueForm,
    warnings: list[str],
) -> PlannedSession:
    clock = _Clock(now=np.zeros(block.weeks))
    sets: list[PlannedSet] = []
    ramps: list[RampSet] = []
    for slot_number, slot in enumerate(session.exercises, start=1):
        planner = _SlotPlanner(block, lifter, room, slot, slot_number, names, form, clock, session.name)
        slot_sets, slot_ramps = planner.plan()
        sets.extend(slot_sets)
        ramps.extend(slot_ramps)
        warnings.extend(planner.warnings)
    return PlannedSession(session.name, session.day, tuple(sets), tuple(ramps), clock.now.copy())


class _SlotPlanner:
    """Works out the sets of one exercise in one session, moving the session's clock on."""

    def __init__(
        self,
        block: Block,
        lifter: Lifter,
        room: Room,
        slot: ExerciseSlot,
        slot_number: int,
        names: list[str],
        form: FatigueForm,
        clock: _Clock,
        session_name: str,
    ) -> None:
        self.block = block
        self.slot = slot
        self.slot_number = slot_number
        self.form = form
        self.clock = clock
        self.exercise = catalogue.exercise(slot.exercise)
        self.lane = names.index(self.exercise.name)
        lift = lifter.lift(self.exercise.name)
        self.one_rm = lift.one_rm
        known = lift.known_endurance
        self.endurance = known if known is not None else endurance_prior(self.exercise.endurance_class).median
        self.recovery_rate = lifter.recovery_rate or 1.0
        self.table: LoadTable = room.loads(self.exercise.implement, slot.equipment)
        self.body_kg = self._body_part(lifter)
        self.session_name = session_name
        self.warnings: list[str] = []
        self.wanted_by_group: list[FloatArray] = []

    def plan(self) -> tuple[list[PlannedSet], list[RampSet]]:
        """Return the sets and the ramp sets."""
        clock, weeks = self.clock, self.block.weeks
        clock.now = clock.now + self.exercise.setup_s
        ramp_at = clock.now.copy()
        sets: list[PlannedSet] = []
        ramps: list[RampSet] = []
        for group_number, group in enumerate(self.slot.sets, start=1):
            low, high, counts = self._weekly_reps(group)
            group_wanted: FloatArray | None = None
            for index in range(int(counts.max(initial=0))):
                active = index < counts
                if sets:
                    clock.now = clock.now + np.where(active, self._rest_before(group, group_number, index), 0.0)
                wanted = self._wanted_load(group, low, high)
                if not sets and self.slot.ramp:
                    ramps = self._ramp_sets(self._round(wanted))
                    clock.now = ramp_at + sum(r.reps * self._rep_s(group) + _RAMP_REST_S for r in ramps)
                number = 1 + sum(not s.drop for s in sets)
                sets.append(self._do(group, group_number, number, 0, wanted, low, high, active))
                group_wanted = wanted if group_wanted is None else group_wanted
                if group.drops is not None:
                    sets.extend(self._drops(group, group_number, number, wanted, active))
            self.wanted_by_group.append(np.zeros(weeks) if group_wanted is None else group_wanted)
        return sets, ramps

    def _weekly_reps(self, group: SetGroup) -> tuple[FloatArray, FloatArray, np.ndarray]:
        weeks = self.block.weeks
        low, high = (np.full(weeks, float(bound)) for bound in group.reps)
        counts = np.full(weeks, group.count)
        if group.progression is not None:
            _, low, high = group.progression.weekly(0.0, group.reps, weeks)
            if isinstance(group.progression, ByWeek) and group.progression.sets is not None:
                return low, high, np.array(group.progression.sets)
        for lighter in self.block.lighter_weeks:
            if not isinstance(group.progression, ByWeek):
                counts[lighter.week - 1] = max(1, round(group.count * lighter.sets))
        return low, high, counts

    def _rest_before(self, group: SetGroup, group_number: int, index: int) -> float:
        earlier = group if index else self.slot.sets[group_number - 2]
        return float(earlier.rest_s)

    def _rep_s(self, group: SetGroup) -> float:
        return group.seconds_per_rep if group.seconds_per_rep is not None else self.exercise.seconds_per_rep

    def _wanted_load(self, group: SetGroup, low: FloatArray, high: FloatArray) -> FloatArray:
        weeks = self.block.weeks
        if group.part is not None and group.part_of_group is not None:
            return np.asarray(group.part * self.wanted_by_group[group.part_of_group - 1])
        first = next(v for v in (group.percent, group.reps_in_reserve, group.kg, group.lb) if v is not None)
        values = np.full(weeks, float(first))
        if group.progression is not None:
            values = group.progression.weekly(float(first), group.reps, weeks)[0]
        if group.percent is not None:
            wanted = np.clip(values, 1.0, 120.0) / 100.0 * self.one_rm
        elif group.kg is not None:
            wanted = np.maximum(values, 0.0)
        elif group.lb is not None:
            wanted = np.maximum(values, 0.0) * KG_PER_LB
        else:
            wanted = self._load_for_reserve(0.5 * (low + high), np.maximum(values, 0.0))
        if not isinstance(group.progression, ByWeek):
            for lighter in self.block.lighter_weeks:
                wanted[lighter.week - 1] *= lighter.load
        return np.asarray(wanted, dtype=np.float64)

    def _load_for_reserve(self, reps: FloatArray, reserve: FloatArray) -> FloatArray:
        """Load at which the median lifter, in the state reached, has ``reps + reserve`` reps: by bisection."""
        state = self._rested()
        low, high = np.full(reps.shape, 0.05), np.full(reps.shape, 1.0)
        for _ in range(40):
            middle = 0.5 * (low + high)
            available, _ = self._work(state, middle, np.full(reps.shape, np.inf))
            enough = available >= reps + reserve
            low, high = np.where(enough, middle, low), np.where(enough, high, middle)
        return np.asarray(low * self.one_rm)

    def _rested(self) -> State:
        state = self.clock.states.get(self.lane)
        if state is None:
            return self.form.fresh((self.block.weeks,))
        elapsed = self.clock.now - self.clock.last_end[self.lane]
        return self.form.rest(state, elapsed, self.recovery_rate, parameters=self.form.parameters)

    def _work(self, state: State, fraction: FloatArray, reps: FloatArray) -> tuple[FloatArray, State]:
        fresh = reps_to_failure(fraction, self.endurance)
        return self.form.work(state, -np.log(fraction), fresh, reps, parameters=self.form.parameters)

    def _body_part(self, lifter: Lifter) -> float:
        if not self.exercise.body_mass_share:
            return 0.0
        if lifter.body_mass_kg is None:
            raise InputError(
                None,
                f"lifter {lifter.name}",
                f"has no body mass, which {self.exercise.name} is done against",
                "add body_mass_kg",
            )
        return self.exercise.body_mass_share * lifter.body_mass_kg

    def _round(self, wanted: FloatArray) -> FloatArray:
        return np.asarray(self.table.round_kg(wanted - self.body_kg) + self.body_kg)

    def _do(
        self,
        group: SetGroup,
        group_number: int,
        number: int,
        drop: int,
        wanted: FloatArray,
        low: FloatArray,
        high: FloatArray,
        active: np.ndarray,
    ) -> PlannedSet:
        clock = self.clock
        load = self._round(wanted)
        self._warn(wanted, load, active)
        fraction = load / self.one_rm
        state = self._rested()
        available, after = self._work(state, fraction, high)
        last = clock.last_end.get(self.lane)
        start = clock.now.copy()
        seconds = self._rep_s(group) * np.where(np.isfinite(high), high, np.floor(available))
        clock.now = clock.now + np.where(active, seconds, 0.0)
        clock.states[self.lane] = tuple(np.where(active, new, old) for new, old in zip(after, state, strict=True))
        clock.last_end[self.lane] = clock.now.copy() if last is None else np.where(active, clock.now, last)
        return PlannedSet(
            exercise=self.exercise.name,
            lane=self.lane,
            slot=self.slot_number,
            group=group_number,
            number=number,
            drop=drop,
            wanted_kg=wanted,
            load_kg=load,
            body_kg=self.body_kg,
            load_fraction=fraction,
            reps_low=low,
            reps_high=high,
            active=np.asarray(active, dtype=bool),
            start_s=start,
            end_s=clock.now.copy(),
            rest_s=np.zeros_like(start) if last is None else start - last,
        )

    def _drops(
        self, group: SetGroup, group_number: int, number: int, wanted: FloatArray, active: np.ndarray
    ) -> list[PlannedSet]:
        assert group.drops is not None
        done: list[PlannedSet] = []
        low, high = (np.full(self.block.weeks, float(bound)) for bound in group.drops.reps)
        for drop, size in enumerate(group.drops.sizes, start=1):
            wanted = wanted * (1.0 - size / 100.0)
            self.clock.now = self.clock.now + np.where(active, group.drops.change_s, 0.0)
            done.append(self._do(group, group_number, number, drop, wanted, low, high, active))
        return done

    def _ramp_sets(self, working: FloatArray) -> list[RampSet]:
        ramps: list[RampSet] = []
        last = np.zeros_like(working)
        for part, reps in _RAMP:
            if part == _RAMP[-1][0] and np.max(working) < _RAMP_LAST_FROM * self.one_rm:
                continue
            load = self._round(part * working)
            if np.all(load >= working) or np.all(load <= last):
                continue
            ramps.append(RampSet(self.exercise.name, self.slot_number, np.minimum(load, working), reps))
            last = load
        return ramps

    def _warn(self, wanted: FloatArray, load: FloatArray, active: np.ndarray) -> None:
        heaviest, lightest = (float(self.table.kg[end]) + self.body_kg for end in (-1, 0))
        for end, beyond, word in (
            (heaviest, wanted > heaviest * 1.001, "heaviest"),
            (lightest, wanted < lightest * 0.999, "lightest"),
        ):
            weeks = np.flatnonzero(beyond & active)
            if weeks.size:
                week = int(weeks[0])
                self.warnings.append(
                    f"{self.session_name}, {self.exercise.name}: week {week + 1} asks for {wanted[week]:.1f} kg; "
                    f"the {word} load here is {end:.1f} kg"
                )
