"""The sets of one exercise of a session: what is asked for in every week, and the loads that the room has for it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from workbench.models.fatigue import State
from workbench.models.tempo import SlowReps, endurance_at, slowness
from workbench.prescription.block import Session, SetGroup
from workbench.prescription.progression import ByWeek
from workbench.present.words import say_load
from workbench.quantities import KG_PER_LB, FloatArray, InputError
from workbench.reference.tempo import slow_rep_prior
from workbench.simulate.plan.clock import Clock
from workbench.simulate.plan.planned import Plan, PlannedSet, RampSet, SetUp
from workbench.simulate.plan.station import Station, station_of

__all__ = ["SlotPlanner"]

#: Ramp sets as parts of the first working load, with reps; a trade habit (assumed). The last is for heavy work only.
_RAMP = ((0.45, 8), (0.65, 5), (0.8, 3), (0.9, 1))
_RAMP_LAST_FROM = 0.85  # of 1RM
_RAMP_REST_S = 60.0
#: Forty steps of bisection in rounds of five: all that five steps may ask for is worked out at once.
_ROUNDS, _HALVES = 8, (16, 8, 4, 2, 1)


@dataclass(frozen=True)
class _Weeks:
    """What a set group asks for, each of shape (weeks,); ``share`` is what lighter weeks leave of the loads."""

    load: FloatArray
    low: FloatArray
    high: FloatArray
    counts: np.ndarray
    share: FloatArray


class _Load(NamedTuple):
    """A load of every week, each of shape (weeks,): as wanted, as the room has it, and that as a part of the 1RM.

    ``nothing``: the weeks in which it comes to nothing; the 1RM stands there, as any load does where no set is done.
    """

    wanted: FloatArray
    kg: FloatArray
    fraction: FloatArray
    nothing: np.ndarray


class SlotPlanner:
    """Works out the sets of one exercise in one session, moving the session's clock on."""

    def __init__(self, plan: Plan, session: Session, slot_number: int, clock: Clock) -> None:
        self.block = plan.block
        self.slot = slot = session.exercises[slot_number - 1]
        self.slot_number = slot_number
        self.clock = clock
        self.exercise = plan.catalogue.exercise(slot.exercise)
        self.place = f"block {self.block.name}: {session.name}, {self.exercise.name}"
        try:
            slot.check_hands(plan.catalogue)  # reading the block knew no own exercises
        except ValueError as error:
            raise InputError(None, self.place, *str(error).split("; ", 1)) from None
        self.lane = plan.exercises.index(self.exercise.name)
        if (slot.exercise, slot.equipment) not in plan.stations:
            plan.stations[slot.exercise, slot.equipment] = station_of(plan, self.exercise, slot.equipment)
        station: Station = plan.stations[slot.exercise, slot.equipment]
        self.one_rm, self.endurance, self.body_kg = station.one_rm, station.endurance, station.body_kg
        self.table, self.warnings = station.table, list(station.warnings)
        self.weekly = [self._weekly(group, number) for number, group in enumerate(slot.sets, start=1)]
        self.at_all = np.asarray(sum(asked.counts for asked in self.weekly) > 0)  # in which weeks any set is done
        self.ramps: list[RampSet] = []
        self.wanted_by_group: list[FloatArray] = []

    def set_up(self) -> SetUp:
        """Go to the exercise and set it up."""
        start = self.clock.now
        self.clock.now = start + np.where(self.at_all, self.exercise.setup_s, 0.0)
        return SetUp(self.exercise.name, self.slot_number, start, self.clock.now)

    def ramp_up(self) -> None:
        """Climb to the working load in ramp sets, where the block wants them."""
        if self.slot.ramp:
            group = self.slot.sets[0]
            self._ramp(self._round(self._wanted_load(group, self.weekly[0])), self._rep_s(group))

    def plan(self) -> Iterator[list[PlannedSet]]:
        """Work out the sets one by one, each with its drops, moving the session's clock on."""
        clock, number = self.clock, 0
        for group_number, group in enumerate(self.slot.sets, start=1):
            asked = self.weekly[group_number - 1]
            for index in range(int(asked.counts.max())):
                active = index < asked.counts
                clock.now = clock.now + np.where(active, clock.rest_s, 0.0)
                if index == 0 or group.reps_in_reserve is not None:  # the others do not hang on the state
                    load = self._loaded(self._wanted_load(group, asked))
                if index == 0:
                    self.wanted_by_group.append(load.wanted)
                number += 1
                done = [self._do(group, group_number, number, 0, load, (asked.low, asked.high), active)]
                if group.drops is not None:
                    done.extend(self._drops(group, group_number, number, load.wanted, active))
                clock.rest_s = np.where(active, group.rest_s, clock.rest_s)
                yield done

    def _weekly(self, group: SetGroup, number: int) -> _Weeks:
        weeks, by_week = self.block.weeks, isinstance(group.progression, ByWeek)
        try:
            load, low, high = group.weekly(weeks)
        except ValueError as error:
            problem, _, remedy = str(error).partition("; ")
            raise InputError(None, f"{self.place}, group {number}", problem, remedy) from None
        counts, share = np.full(weeks, group.count), np.ones(weeks)
        if isinstance(group.progression, ByWeek) and group.progression.sets is not None:
            counts = np.array(group.progression.sets)
        for lighter in () if by_week else self.block.lighter_weeks:
            counts[lighter.week - 1] = max(1, round(group.count * lighter.sets))
            share[lighter.week - 1] = lighter.load
        return _Weeks(load, low, high, counts, share)

    def _rep_s(self, group: SetGroup) -> float:
        return group.seconds_per_rep if group.seconds_per_rep is not None else self.exercise.seconds_per_rep

    def _slowness(self, group: SetGroup) -> float:
        return float(slowness(self._rep_s(group), self.exercise.seconds_per_rep))

    def _wanted_load(self, group: SetGroup, asked: _Weeks) -> FloatArray:
        if group.part_of_group is not None:
            return np.asarray(asked.load * self.wanted_by_group[group.part_of_group - 1])
        if group.percent is not None:
            wanted = asked.load / 100.0 * self.one_rm
        elif group.reps_in_reserve is not None:
            wanted = self._load_for_reserve(0.5 * (asked.low + asked.high), asked.load, self._slowness(group))
        else:
            unit = KG_PER_LB if group.lb is not None else 1.0
            wanted = asked.load * unit * (2.0 if group.each_hand else 1.0)
        return np.asarray(wanted * asked.share)

    def _load_for_reserve(self, reps: FloatArray, reserve: FloatArray, slower: float) -> FloatArray:
        """Load at which the median lifter, in the state reached, has ``reps + reserve`` reps: by bisection."""
        state, weeks = self._rested(), np.arange(reps.size)
        low, high = np.full(reps.shape, 0.05), np.full(reps.shape, 1.0)
        for _ in range(_ROUNDS):
            points = np.stack([low, high])
            for _ in _HALVES:
                points = np.insert(points, range(1, len(points)), 0.5 * (points[:-1] + points[1:]), axis=0)
            enough = self._work(state, points[1:-1], np.full(reps.shape, np.inf), slower)[0] >= reps + reserve
            at = np.zeros(reps.size, dtype=int)
            for half in _HALVES:
                at = np.where(enough[at + half - 1, weeks], at + half, at)
            low, high = points[at, weeks], points[at + 1, weeks]
        return np.asarray(low * self.one_rm)

    def _rested(self) -> State:
        state = self.clock.shared.before(self.lane, self.clock.now)
        return tuple(np.broadcast_to(pool, (self.block.weeks,)) for pool in state)

    def _work(self, state: State, fraction: FloatArray, reps: FloatArray, slower: float) -> tuple[FloatArray, State]:
        headroom, endurance = -np.log(fraction), self.endurance
        if slower:
            endurance = float(endurance_at(endurance, slower, parameters=SlowReps(exponent=slow_rep_prior().mean)))
        fresh = self.clock.curve.fresh_reps(headroom, endurance)
        return self.clock.shared.form.work(state, headroom, fresh, reps, parameters=self.clock.shared.parameters)

    def _round(self, wanted: FloatArray) -> FloatArray:
        return np.asarray(self.table.round_kg(wanted - self.body_kg) + self.body_kg)

    def _loaded(self, wanted: FloatArray) -> _Load:
        load = self._round(wanted)
        nothing = load <= 0.0
        some = np.where(nothing, self.one_rm, load)
        return _Load(wanted, some, some / self.one_rm, nothing)

    def _refuse_nothing(self, nothing: np.ndarray, number: int, drop: int) -> None:
        """Refuse a load of nothing, of which no number of reps can be told, in the weeks in which a set comes to it."""
        if nothing.any():
            week, table = int(np.flatnonzero(nothing)[0]) + 1, self.table
            some = table.in_unit[table.kg > 0.0]  # with a body to lift none is nothing
            raise InputError(
                None,
                f"{self.place}, set {number}{f', drop {drop}' if drop else ''}",
                f"comes to a load of 0 in week {week}, as {table.equipment} can be empty",
                f"ask for more or take less off: the next load is {some[0]:g} {table.unit}"
                if some.size
                else "load it with something, or give an own exercise its body_mass_share",
            )

    def _do(
        self,
        group: SetGroup,
        group_number: int,
        number: int,
        drop: int,
        load: _Load,
        reps: tuple[FloatArray, FloatArray],
        active: np.ndarray,
    ) -> PlannedSet:
        clock, (low, high) = self.clock, reps
        self._refuse_nothing(load.nothing & active, number, drop)
        self._warn(load.wanted, active)
        slower, counted = self._slowness(group), high
        if clock.tires:
            state = self._rested()
            available, after = self._work(state, load.fraction, high, slower)
            counted = np.where(np.isfinite(high), high, np.floor(available))
            left = tuple(np.where(active, new, old) for new, old in zip(after, state, strict=True))
        last = clock.last_end.get(self.lane)
        start = clock.now
        clock.now = clock.now + np.where(active, self._rep_s(group) * counted, 0.0)
        if clock.tires:
            clock.shared.after(self.lane, left, clock.now)
        clock.last_end[self.lane] = clock.now if last is None else np.where(active, clock.now, last)
        return PlannedSet(
            exercise=self.exercise.name,
            lane=self.lane,
            slot=self.slot_number,
            group=group_number,
            number=number,
            drop=drop,
            wanted_kg=load.wanted,
            load_kg=load.kg,
            body_kg=self.body_kg,
            load_fraction=load.fraction,
            reps_low=low,
            reps_high=high,
            active=np.asarray(active, dtype=bool),
            start_s=start,
            end_s=clock.now,
            rest_s=np.zeros_like(start) if last is None else start - last,
            seconds_per_rep=self._rep_s(group),
            slowness=slower,
            leaves=None if drop or group.reps_in_reserve is None else self.weekly[group_number - 1].load,
            unit=self.table.unit,
            hands=self.table.hands,
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
            done.append(self._do(group, group_number, number, drop, self._loaded(wanted), (low, high), active))
        return done

    def _ramp(self, working: FloatArray, rep_s: float) -> None:
        last = np.zeros_like(working)
        ramp = _RAMP if np.max(working) >= _RAMP_LAST_FROM * self.one_rm else _RAMP[:-1]
        loads = self._round(np.multiply.outer([part for part, _ in ramp], working))
        for (_, reps), load in zip(ramp, loads, strict=True):
            if (load >= working).all() or (load <= last).all():
                continue
            start = self.clock.now
            end = start + np.where(self.at_all, reps * rep_s, 0.0)
            self.ramps.append(
                RampSet(self.exercise.name, self.slot_number, np.minimum(load, working), reps, start, end)
            )
            self.clock.now = end + np.where(self.at_all, _RAMP_REST_S, 0.0)
            last = load

    def _warn(self, wanted: FloatArray, active: np.ndarray) -> None:
        heaviest, lightest = (float(self.table.kg[end]) + self.body_kg for end in (-1, 0))
        for end, beyond, word in (
            (heaviest, wanted > heaviest * 1.001, "heaviest"),
            (lightest, wanted < lightest * 0.999, "lightest"),
        ):
            if (beyond & active).any():
                weeks = np.flatnonzero(beyond & active)
                week = int(weeks[0])
                asked, there = (
                    say_load(float(kg) - self.body_kg, self.table.unit, hands=self.table.hands, digits=1)
                    for kg in (wanted[week], end)
                )
                more = " on top of the body" if self.body_kg else ""
                self.warnings.append(
                    f"{self.exercise.name}: week {week + 1} asks for {asked}{more}; "
                    f"the {word} load here is {there}{more}"
                )
