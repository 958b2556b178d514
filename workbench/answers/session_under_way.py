"""A session that is under way: how well possible days explain what was done of it, and the sets to come on such days.

What the sets done so far have shown is read with the likelihood that also reads a log; the scatter of those sets is
integrated out. Which days fit says `workbench.answers.days_that_fit`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pandas as pd

from workbench.answers.rule_under_way import rules_under_way
from workbench.fit.evidence_sets import LARGEST_RESERVE, Ending, LoggedSet
from workbench.fit.likelihood import mistake_probability, probability_in_log
from workbench.fit.settings import FitSettings
from workbench.gym.equipment import LoadTable
from workbench.models.sharing import SharedFatigue
from workbench.quantities import FloatArray, InputError
from workbench.simulate.draws import LifterDraws
from workbench.simulate.plan import Plan, PlannedSet
from workbench.simulate.run import INTERVAL, fresh_set

__all__ = ["Choice", "Day", "Forecast", "Read", "SetDone"]

#: Loads tried for a set group.
_MOST_LOADS: Final = 16
#: Loads that differ by less are the same, kg.
_SAME_KG: Final = 1e-6


@dataclass(frozen=True)
class SetDone:
    """One set that was done today.

    Attributes
    ----------
    exercise : str
        Name or alias.
    load_kg : float, [kg]
        As put on: both dumbbells together; for moves against body mass only what was added.
    reps : int, [reps], >= 0
        Whole reps made.
    failed : bool
        Whether the next rep was tried and missed.
    reserve : float, optional, [reps]
        Reps in reserve as stated after it.
    rest_s : float, optional, [s]
        From the end of the last set done, of whatever exercise; as planned where not given.
    """

    exercise: str
    load_kg: float
    reps: int
    failed: bool = False
    reserve: float | None = None
    rest_s: float | None = None

    def __post_init__(self) -> None:
        """Refuse what no set can be."""
        bounds = {"load_kg": (0.0, 10_000.0), "reps": (0, 200), "reserve": (0, 50), "rest_s": (0, 86_400)}
        for name, (low, high) in bounds.items():
            value = getattr(self, name)
            if value is not None and not low <= value <= high:
                raise InputError(
                    None, f"{self.exercise}, {name}", f"{value:g} is out of range", f"give {low} to {high}"
                )
        if not self.reps and not self.failed:
            raise InputError(
                None, self.exercise, "no rep made and none missed", "leave the set out, or say that it failed"
            )

    @property
    def ending(self) -> Ending:
        """How it ended, as a log has it."""
        if self.failed:
            return "failed"
        return "completed" if self.reserve is None else "stated"


@dataclass(frozen=True)
class Choice:
    """What the loads of the sets to come are chosen by."""

    limit: float
    most_up: float
    most_down: float

    def bounds(self, planned_kg: float) -> tuple[float, float]:
        """Return the lightest and the heaviest load, where the set group has no rule of its own, [kg]."""
        return planned_kg * (1.0 - self.most_down), planned_kg * (1.0 + self.most_up)


def _loads_within(bounds: tuple[float, float], planned_kg: float, loads_kg: FloatArray) -> FloatArray:
    """Return loads to try, the planned one among them where it is allowed, lightest first; body included, [kg]."""
    low, high = bounds[0] - _SAME_KG, bounds[1] + _SAME_KG
    near = loads_kg[(loads_kg > 0.0) & (loads_kg >= low) & (loads_kg <= high)]
    spread = near[np.unique(np.linspace(0, near.size - 1, min(near.size, _MOST_LOADS)).astype(int))]
    if planned_kg > high and spread.size:
        return np.asarray(spread)
    return np.asarray(np.union1d(spread[np.abs(spread - planned_kg) > _SAME_KG], planned_kg))


@dataclass(frozen=True)
class Forecast:
    """One set to come: its load, and the reps that every draw could make of it, shape (draws, 1)."""

    planned: PlannedSet
    at: int
    load_kg: float
    available: FloatArray

    @property
    def low(self) -> float:
        """Fewest reps that count as made; none in a set to failure."""
        return float(self.planned.reps_low[self.at]) if self.to_be_made else 0.0

    @property
    def to_be_made(self) -> bool:
        """Whether it has reps that are to be made."""
        return bool(np.isfinite(self.planned.reps_high[self.at]))

    @property
    def chance(self) -> float:
        """Chance that its reps are made."""
        return float(np.mean(self.available >= self.low))

    @property
    def missed(self) -> float:
        """Whole reps to expect missed."""
        return float(np.mean(np.maximum(self.low - np.floor(self.available), 0.0)))


@dataclass(frozen=True)
class Read:
    """How well every draw explains the sets done, each told by its exercise, its tempo and what was logged.

    ``log_probability`` and ``mistaken`` (the number of sets that are likely typed wrong), each of shape (draws,), and
    ``shared``, the fatigue after them.
    """

    sets: tuple[tuple[int, float, LoggedSet], ...]
    log_probability: FloatArray
    mistaken: FloatArray
    shared: SharedFatigue


class Day:
    """The session of one week: what was done of it, and what is to come."""

    def __init__(
        self, plan: Plan, at: int, done: Sequence[SetDone], skipped: Sequence[str] = (), *, session: int = 0
    ) -> None:
        self.plan, self.at, self.session = plan, at, plan.sessions[session]
        left = [one for one in self.session.sets if one.active[at]]
        before = dict(zip((id(one) for one in left[1:]), left[:-1], strict=True))
        # From the end of the set before it in the plan.
        gap = {
            id(one): float(one.start_s[at] - (before[id(one)].end_s[at] if id(one) in before else 0.0)) for one in left
        }
        now = 0.0
        self.rules = rules_under_way(self.session)
        self.done: list[tuple[PlannedSet, LoggedSet]] = []
        for number, was in enumerate(done):
            name = self._in_session(was.exercise)
            planned = next((one for one in left if one.exercise == name), None)
            if planned is None:  # one set more than planned counts as one more like the last
                planned = next(one for one in reversed(self.session.sets) if one.exercise == name)
            else:
                left = [one for one in left if one is not planned]
            rest = gap.get(id(planned), 0.0) if was.rest_s is None else was.rest_s
            start = now + (rest if number or was.rest_s is None else 0.0)
            now = start + planned.seconds_per_rep * was.reps
            reserve = np.nan if was.reserve is None else min(was.reserve, LARGEST_RESERVE)
            load = was.load_kg + planned.body_kg
            self.done.append((planned, LoggedSet(number, load, was.reps, was.ending, reserve, rest, start, now)))
            left = self._without_ended(left, planned, was)
        without = {self._in_session(name) for name in skipped}
        self.to_come: list[tuple[PlannedSet, float, float]] = []
        for one in left:
            if one.exercise not in without:
                start = now + gap[id(one)]
                now = start + float(one.end_s[at] - one.start_s[at])
                self.to_come.append((one, start, now))

    def _without_ended(self, left: list[PlannedSet], planned: PlannedSet, was: SetDone) -> list[PlannedSet]:
        """Let the rule of a set's group take the set in; return the sets left, without those that it ends."""
        group = planned.slot, planned.group
        rule = self.rules.get(group)
        if rule is None:
            return left
        rule.take(planned, self.at, was.reps, None if was.failed else was.reserve)
        if not rule.ended:
            return left
        rule.left_out += sum((one.slot, one.group) == group and not one.drop for one in left)
        return [one for one in left if (one.slot, one.group) != group]

    def _in_session(self, exercise: str) -> str:
        name = self.plan.catalogue.exercise(exercise).name
        if name not in self.plan.exercises:
            raise InputError(
                None,
                exercise,
                f"is not in {self.session.name}",
                f"use one of: {', '.join(self.plan.exercises)}; exchange it in the block first, if it was exchanged",
            )
        return name

    def read(self, draws: LifterDraws, before: Read | None = None) -> Read:
        """Return how well every draw explains the sets done, and its fatigue after them.

        ``before`` is what was read on the same draws: where the day goes on from there, only the new sets are read.
        """
        sets = tuple((planned.lane, planned.slowness, logged) for planned, logged in self.done)
        if before is None or before.sets != sets[: len(before.sets)]:
            before = Read((), np.zeros(draws.count), np.zeros(draws.count), self._fresh(draws))
        shared, total, mistaken = before.shared.copy(), before.log_probability.copy(), before.mistaken.copy()
        settings = FitSettings(curve=draws.curve)
        for planned, logged in self.done[len(before.sets) :]:
            wanted = np.inf if logged.ending == "failed" else float(logged.reps)
            load = np.array([logged.load_kg])
            available = _work(shared, draws, planned, load, (logged.start_s, logged.end_s), wanted)
            with np.errstate(divide="ignore"):
                log_available = np.log(available[:, 0])
            probable = probability_in_log(logged, log_available, settings.set_log_sd, settings)
            total += np.log(probable)
            mistaken += mistake_probability(logged, settings) / probable
        return Read(sets, total, mistaken, shared)

    def _fresh(self, draws: LifterDraws) -> SharedFatigue:
        carry = self.plan.carry if draws.carry is None else self.plan.carry.times(draws.carry)
        rate = draws.recovery_rate[:, np.newaxis]
        return SharedFatigue(draws.form, self.plan.overlap, rate, parameters=draws.fatigue, carry=carry)

    def run_on(
        self, shared: SharedFatigue, draws: LifterDraws, noise: FloatArray, choice: Choice | None = None
    ) -> Iterator[Forecast]:
        """Go on through the sets to come, with the planned loads or with loads chosen once for a set group.

        ``shared`` is the fatigue after the sets done, from `read`; it goes on with them.
        """
        share: dict[tuple[int, int], float] = {}
        for number, (planned, start, end) in enumerate(self.to_come):
            group = planned.slot, planned.group
            if choice is not None and group not in share:
                share[group] = self._share(shared.copy(), draws, noise[number:], self.to_come[number:], choice)
            load = self._load(planned, share.get(group, 1.0))
            high = float(planned.reps_high[self.at])
            available = _work(shared, draws, planned, np.array([load]), (start, end), high, noise[number])
            yield Forecast(planned, self.at, load, available)

    def bounds(self, planned: PlannedSet, choice: Choice) -> tuple[float, float]:
        """Return the lightest and heaviest load of the next set of a group: by its rule where it has one, [kg]."""
        planned_kg, rule = float(planned.load_kg[self.at]), self.rules.get((planned.slot, planned.group))
        if rule is None:
            return choice.bounds(planned_kg)
        return rule.allowed(planned_kg, planned.body_kg, self._table(planned), most_down=choice.most_down)

    def _load(self, planned: PlannedSet, share: float) -> float:
        """Load of a set whose group was changed by a share; drops follow, on the room's plates, never above."""
        load = float(planned.load_kg[self.at])
        if share == 1.0:
            return load
        table = self._table(planned)
        rounded = float(table.round_kg(share * load - planned.body_kg, "not_above")) + planned.body_kg
        return rounded if rounded > 0.0 else load  # nothing so light: as planned

    def _table(self, planned: PlannedSet) -> LoadTable:
        slot = self.session.of.exercises[planned.slot - 1]
        return self.plan.room.loads_for(self.plan.catalogue.exercise(planned.exercise), slot.equipment)

    def _share(
        self,
        shared: SharedFatigue,
        draws: LifterDraws,
        noise: FloatArray,
        to_come: Sequence[tuple[PlannedSet, float, float]],
        choice: Choice,
    ) -> float:
        """Return the part of the plan's load that the limit asks for in the first set's group.

        All loads are tried side by side, on the sets; the drops follow them.
        """
        place = to_come[0][0].slot, to_come[0][0].group
        coming = [
            (one, clock, scatter)
            for (one, *clock), scatter in zip(to_come, noise, strict=True)
            if (one.slot, one.group) == place and not one.drop
        ]
        if not coming or np.isinf(coming[0][0].reps_high[self.at]):
            return 1.0
        first = coming[0][0]
        planned_kg, table = float(first.load_kg[self.at]), self._table(first)
        loads = _loads_within(self.bounds(first, choice), planned_kg, table.kg + first.body_kg)
        wanted = self.session.of.exercises[first.slot - 1].sets[first.group - 1]
        if wanted.reps_in_reserve is None:  # the heaviest by itself first: where it keeps the limit, it is taken
            lowest, _ = self._tried(shared.copy(), draws, coming, loads[-1:])
            if lowest[0] >= choice.limit:
                return float(loads[-1]) / planned_kg
        lowest, reserves = self._tried(shared, draws, coming, loads)
        kept = lowest >= choice.limit
        if not kept.any():
            chosen = loads[0]
        elif wanted.reps_in_reserve is None:
            chosen = loads[kept][-1]
        else:
            reserve = wanted.weekly(self.plan.weeks)[0][self.at]
            chosen = loads[np.argmin(np.where(kept, np.abs(reserves - reserve), np.inf))]
        return float(chosen) / planned_kg

    def _tried(
        self, shared: SharedFatigue, draws: LifterDraws, coming: Sequence[tuple[Any, ...]], loads: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Do the sets of a group at several loads; return the lowest chance and the first reserve, shape (loads,).

        ``coming`` has each set with its start and end, and its scatter.
        """
        chances, reserves = [], []
        for one, (start, end), scatter in coming:
            available = _work(shared, draws, one, loads, (start, end), float(one.reps_high[self.at]), scatter)
            chances.append(np.mean(available >= one.reps_low[self.at], axis=0))
            reserves.append(np.median(available, axis=0) - 0.5 * (one.reps_low[self.at] + one.reps_high[self.at]))
        return np.min(chances, axis=0), reserves[0]

    def form_table(self, draws: LifterDraws) -> pd.DataFrame:
        """Return today's strength of the exercises done against what was expected before the first set."""
        names = [planned.exercise for planned, _ in self.done]
        rows = []
        for name in dict.fromkeys(names):
            lane = self.plan.exercises.index(name)
            strength = draws.log_one_rm[:, lane] + draws.day[0, :, 0]
            change = 100.0 * np.expm1(np.quantile(strength, INTERVAL) - np.log(self.plan.lifter.lift(name).one_rm))
            rows.append((name, *change, names.count(name)))
        return pd.DataFrame(rows, columns=["exercise", "change_p10", "change_p50", "change_p90", "sets"])


def _work(
    shared: SharedFatigue,
    draws: LifterDraws,
    planned: PlannedSet,
    load_kg: FloatArray,
    clock_s: tuple[float, float],
    wanted: float,
    noise: FloatArray | float = 1.0,
) -> FloatArray:
    """Work one set at several loads [kg], shape (loads,); return the reps available, shape (draws, loads)."""
    headroom, usual = fresh_set(draws, planned.lane, draws.day[0], load_kg, planned.slowness)
    start, end = clock_s
    state = shared.before(planned.lane, [start])
    available, after = draws.form.work(state, headroom, usual * noise, wanted, parameters=draws.fatigue)
    shared.after(planned.lane, after, [end])
    return np.asarray(available)
