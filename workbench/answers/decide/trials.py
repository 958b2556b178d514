"""Plans tried on the same days, each once; what they come to: the plan found, the trade-off, why it cannot be more."""

from __future__ import annotations

import itertools
import math
import threading
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd

from workbench.answers.decide.terms import (
    Knob,
    Limit,
    apply_settings,
    label_of,
    of_chance,
    of_plan,
    plan_quantity,
    quantity,
    weakest_set,
)
from workbench.answers.group_rules import RulesEffect, has_rules, rules_effect
from workbench.answers.outcomes import Measured, response_for
from workbench.gym.equipment import Room
from workbench.lifter import Lifter
from workbench.models.fatigue import DEFAULT_FORM, FatigueForm
from workbench.models.load_reps import DEFAULT_CURVE, Curve
from workbench.prescription.block import Block
from workbench.present.answer import Answer
from workbench.present.words import amount, in_words
from workbench.quantities import InputError
from workbench.simulate.draws import CommonDays
from workbench.simulate.plan import Plan, make_plan, plan_changed
from workbench.simulate.run import Outcome, simulate

__all__ = ["Bench", "Decision", "StoppedError", "Task", "Trial", "answer_of", "front_of"]

Place = tuple[int, ...]
#: More combinations of sets than this are not laid out beforehand; the widest and the narrowest are.
_MOST_LAYOUTS: Final = 64
#: Shortfall of a plan that no block may ask for: larger than any of a plan that can be simulated.
_IMPOSSIBLE: Final = 1e6


class StoppedError(Exception):
    """The coach has seen enough."""


@dataclass(frozen=True)
class Trial:
    """One plan tried.

    Attributes
    ----------
    place : tuple of int
        Index of each knob's value.
    demand, chance : float
        Chance that all reps of the block are made.
    values : tuple of float
        Of each limit's quantity.
    shortfall : float
        Sum over the limits; 0 where all are kept.
    weakest : str
        Where the least likely set of the block is, and its chance.
    missed : float, [reps]
        Prescribed reps of the block that are missed, expected.
    """

    place: Place
    demand: float
    chance: float
    values: tuple[float, ...]
    shortfall: float
    weakest: str
    missed: float = math.nan

    @property
    def allowed(self) -> bool:
        """Whether all limits are kept."""
        return self.shortfall == 0.0

    def better_than(self, other: Trial | None) -> bool:
        """Whether this plan is to be preferred: within limits first, then demand, then chance, then the lower knobs."""
        return other is None or self._rank() > other._rank()

    def _rank(self) -> tuple[object, ...]:
        return (-self.shortfall, self.demand if self.allowed else 0.0, self.chance, tuple(-at for at in self.place))


@dataclass(frozen=True)
class Task:
    """What is searched for, and for whom; as `workbench.answers.decide.decide` takes it."""

    block: Block
    lifter: Lifter
    room: Room
    knobs: tuple[Knob, ...]
    limits: tuple[Limit, ...]
    demand: str
    seed: int
    form: FatigueForm = DEFAULT_FORM
    curve: Curve = DEFAULT_CURVE


class Bench:
    """Tries plans of one block for one lifter on the same simulated days.

    Parameters
    ----------
    task : Task
    draws : int
    tried : callable
        Called after every new trial with the best so far; returns False to stop.
    stop : threading.Event, optional
    quick : bool
        Do not simulate plans that break a limit which can be told from the plan alone.
    """

    def __init__(
        self,
        task: Task,
        draws: int,
        *,
        tried: Callable[[Trial], bool],
        stop: threading.Event | None,
        quick: bool = False,
    ) -> None:
        self.task, self.knobs, self.limits = task, task.knobs, task.limits
        self.best: Trial | None = None
        self.trials: dict[Place, Trial] = {}
        self.stop, self._tried, self._quick = stop, tried, quick
        self._plan: Plan | None = None
        self._outcome: Outcome | None = None
        self._days = CommonDays([self.plan(place) for place in self._layouts()], draws=draws, seed=task.seed)
        self._response = response_for(task.lifter, draws, task.seed)

    def settings(self, place: Place) -> tuple[float, ...]:
        """Return the knobs' values at a place."""
        return tuple(knob.values[at] for knob, at in zip(self.knobs, place, strict=True))

    def words(self, place: Place) -> str:
        """Return the knobs' values at a place in words."""
        values = self.settings(place)
        return ", ".join(knob.shown(value) for knob, value in zip(self.knobs, values, strict=True))

    def changed(self, place: Place) -> Block:
        """Return the block with the knobs at a place."""
        return apply_settings(self.task.block, self.knobs, self.settings(place), self.task.room.catalogue)

    def plan(self, place: Place) -> Plan:
        """Return the plan at a place: loads that the room has; what is equal is taken over from the plan before."""
        task, block = self.task, self.changed(place)
        if self._plan is None:
            self._plan = make_plan(block, task.lifter, task.room, form=task.form, curve=task.curve)
        else:
            self._plan = plan_changed(self._plan, block)
        return self._plan

    def measured(self, plan: Plan) -> Measured:
        """Simulate a plan on the common days."""
        self._outcome = simulate(plan, self._days.of(plan), before=self._outcome)
        return Measured(self._outcome, self._response)

    def rules(self, place: Place) -> RulesEffect | None:
        """Return what the rules of set groups come to at a place; None where there are none, or no such plan."""
        if not has_rules(self.task.block):
            return None
        try:
            return rules_effect(self.measured(self.plan(place)).outcome)
        except InputError:
            return None

    def trial(self, place: Place) -> Trial:
        """Try a place, once.

        Raises
        ------
        StoppedError
            Where ``tried`` or ``stop`` said so; the best so far stays in ``best``.
        """
        if place in self.trials:
            return self.trials[place]
        if self.stop is not None and self.stop.is_set():
            raise StoppedError
        found = self._found(place)
        self.trials[place] = found
        if found.better_than(self.best):
            self.best = found
        if self._tried(found) is False:
            raise StoppedError
        return found

    def _found(self, place: Place) -> Trial:
        try:
            plan = self.plan(place)
        except InputError:  # a week would ask for what no set may have, or for a load of nothing
            return Trial(place, 0.0, 0.0, tuple(np.nan for _ in self.limits), _IMPOSSIBLE, "")
        told = {limit.quantity: plan_quantity(limit.quantity, plan) for limit in self.limits if of_plan(limit.quantity)}
        if self._quick:
            broken = sum(limit.shortfall(told[limit.quantity]) for limit in self.limits if limit.quantity in told)
            if broken:
                # Nobody need be simulated for that. One more, so that plans that break only the others come before it.
                return Trial(place, 0.0, 0.0, tuple(np.nan for _ in self.limits), 1.0 + broken, "")
        measured = self.measured(plan)
        chance = told["all_reps"] = measured.outcome.chance_of_block()
        values = tuple(
            told[key] if key in told else quantity(key, measured) for key in (limit.quantity for limit in self.limits)
        )
        return Trial(
            place=place,
            demand=quantity(self.task.demand, measured),
            chance=chance,
            values=values,
            shortfall=sum(limit.shortfall(value) for limit, value in zip(self.limits, values, strict=True)),
            weakest="" if self._quick else weakest_set(measured)[1],
            missed=np.nan if self._quick else measured.mean("missed_reps"),
        )

    def neighbours(self, place: Place, *, reach: int = 1, pairs: bool = False) -> list[Place]:
        """Places up to ``reach`` values away in one knob; with ``pairs`` also those with a second knob moved back.

        Moving two knobs against each other (more reps at a lower percent) is how one kept limit is traded for another.
        """
        steps = [by for far in range(1, reach + 1) for by in (far, -far)]
        moves = [{one: by} for one in range(len(self.knobs)) for by in steps]
        if pairs:
            both = itertools.combinations(range(len(self.knobs)), 2)
            moves += [{one: by, other: back} for one, other in both for by in steps for back in steps]
        places = [tuple(at + move.get(number, 0) for number, at in enumerate(place)) for move in moves]
        return [one for one in places if all(0 <= at < len(k.values) for at, k in zip(one, self.knobs, strict=True))]

    def _layouts(self) -> list[Place]:
        """Places that together hold every set any place can hold: every combination of the numbers of sets."""
        ranges = [range(len(knob.values)) if knob.kind == "sets" else (0,) for knob in self.knobs]
        layouts = list(itertools.islice(itertools.product(*ranges), _MOST_LAYOUTS + 1))
        if len(layouts) > _MOST_LAYOUTS:
            ends = [(0, len(knob.values) - 1) if knob.kind == "sets" else (0,) for knob in self.knobs]
            layouts = list(itertools.product(*ends))
        return layouts


@dataclass(frozen=True, repr=False)
class Decision(Answer):
    """What was found.

    Attributes
    ----------
    chosen : Block or None
        The most demanding plan within the limits; None where no plan tried keeps them.
    settings : str
        Its knobs in words; of the plan that comes closest where none keeps the limits.
    demand : float, [the unit of demand_label]
        Of that plan.
    chance : float, [1]
        That all reps of the block are made.
    missed : float, [reps]
        Prescribed reps of the block that are missed, expected; sets to failure or to a stated reserve miss none.
    weakest : str
        Where the least likely set of the whole block is in that plan, whether a knob turns it or not, and its chance.
    candidates : DataFrame
        One row a plan tried at full precision: settings; demand [its own unit]; chance [1]; allowed; then one column
        for each limit's quantity [its own unit].
    front : DataFrame
        Plans within all limits but those on the chance, of which none is both more demanding and more likely:
        settings; demand [its own unit]; chance [1]; allowed, chosen. From least to most demanding.
    limits : DataFrame
        One row a limit: limit; value, bound [its own unit]; binds, reason (what would be possible without it).
    steps : DataFrame
        One row for each knob one value harder: change; demand [its own unit]; breaks (which limits, and by what value;
        empty where it is no more demanding).
    demand_label : str
    tried : int, [1]
        Plans tried in all.
    finished : bool
        False where the search was stopped.
    method : str
        "every plan" or "search".
    rules : RulesEffect or None
        What the rules of set groups come to in that plan; None where the block has none. Every plan is tried with them.
    """

    chosen: Block | None
    settings: str
    demand: float
    chance: float
    missed: float
    weakest: str
    candidates: pd.DataFrame
    front: pd.DataFrame
    limits: pd.DataFrame
    steps: pd.DataFrame
    demand_label: str
    tried: int
    finished: bool
    method: str
    rules: RulesEffect | None = None

    @property
    def notes(self) -> tuple[str, ...]:
        """The limits that bind, and what would be possible without each."""
        return tuple(f"{row['limit']}: {row['reason']}" for row in self.limits.to_dict("records") if row["binds"])

    def sentences(self) -> list[str]:
        """Say the plan that was found, or the one that comes closest, and how it was searched for."""
        found = "Most demanding plan within the limits" if self.chosen else "No plan keeps the limits; closest"
        return [
            f"{found}: {self.settings}",
            f"{self.demand_label}: {amount(self.demand)}",
            f"prescribed reps to expect missed: {self.missed:.0f}; chance that none is: {in_words(self.chance)}",
            f"least likely set of the block: {self.weakest}",
            *([] if self.rules is None else self.rules.sentences()),
            f"{self.tried} plans tried ({self.method})" + ("" if self.finished else "; stopped before the end"),
        ]


def front_of(trials: Iterable[Trial]) -> list[Trial]:
    """Return the trials of which no other is both at least as demanding and more likely, or the reverse."""
    kept: list[Trial] = []
    best_chance = -1.0
    for one in sorted(trials, key=lambda trial: (-trial.demand, -trial.chance, trial.place)):
        if one.chance > best_chance:
            kept.append(one)
            best_chance = one.chance
    return kept[::-1]


def answer_of(bench: Bench, *, tried: int, finished: bool, method: str, rules: RulesEffect | None = None) -> Decision:
    """Sum up the trials of a bench."""
    best = bench.best
    if best is None:
        raise RuntimeError("nothing was tried")
    trials = list(bench.trials.values())
    fixed = {number for number, limit in enumerate(bench.limits) if not of_chance(limit.quantity)}
    eligible = [one for one in trials if fixed.isdisjoint(_broken(bench, one))]
    front = front_of([*eligible, best] if best.allowed else eligible)
    rows = [(bench.words(one.place), one.demand, one.chance, one.allowed, *one.values) for one in trials]
    columns = ["settings", "demand", "chance", "allowed", *(limit.quantity for limit in bench.limits)]
    front_rows = [
        (bench.words(one.place), one.demand, one.chance, one.allowed, best.allowed and one.place == best.place)
        for one in front
    ]
    return Decision(
        chosen=bench.changed(best.place) if best.allowed else None,
        settings=bench.words(best.place),
        demand=best.demand,
        chance=best.chance,
        missed=best.missed,
        weakest=best.weakest,
        candidates=pd.DataFrame(rows, columns=columns),
        front=pd.DataFrame(front_rows, columns=["settings", "demand", "chance", "allowed", "chosen"]),
        limits=_limits(bench, best, trials),
        steps=_steps(bench, best),
        demand_label=label_of(bench.task.demand, bench.task.room.unit),
        tried=tried,
        finished=finished,
        method=method,
        rules=rules,
    )


def _broken(bench: Bench, trial: Trial) -> set[int]:
    """Return the indices of the limits that a trial breaks."""
    pairs = enumerate(zip(bench.limits, trial.values, strict=True))
    return {number for number, (limit, value) in pairs if limit.shortfall(value) > 0}


def _limits(bench: Bench, best: Trial, trials: list[Trial]) -> pd.DataFrame:
    more_demanding = [one for one in trials if one.demand > best.demand]
    broken = _broken(bench, best)
    rows = []
    for number, limit in enumerate(bench.limits):
        of_sets = limit.quantity in {"set_chance", "all_reps"}
        without = [one for one in more_demanding if _broken(bench, one) <= {number}]
        if not best.allowed:
            binds, reason = number in broken, "kept by the plan that comes closest"
            if binds:
                weakest = f"; least likely here: {best.weakest}" if of_sets else ""
                reason = f"no plan tried keeps it together with the others{weakest}"
        elif not without:
            binds, reason = False, "nothing more demanding was kept out by it"
        else:
            most = max(without, key=lambda one: one.demand)
            binds, reason = (
                True,
                (
                    f"without it: {bench.words(most.place)}; demand {amount(most.demand)} in place of "
                    f"{amount(best.demand)}, but {label_of(limit.quantity, bench.task.room.unit)} "
                    f"{limit.said(most.values[number])}{f' ({most.weakest})' if of_sets else ''}"
                ),
            )
        here = limit.said(best.values[number])
        rows.append((str(limit), best.values[number], limit.bound, binds, reason, here))
    return pd.DataFrame(rows, columns=["limit", "value", "bound", "binds", "reason", "here"])


def _steps(bench: Bench, best: Trial) -> pd.DataFrame:
    """Each knob moved by one value, either way, where that demands more: which limits that breaks."""
    rows = []
    for place in bench.neighbours(best.place):
        one = bench.trials.get(place)
        if one is None or one.demand <= best.demand:
            continue
        at = next(number for number, (a, b) in enumerate(zip(place, best.place, strict=True)) if a != b)
        broken = [
            f"{label_of(limit.quantity, bench.task.room.unit)} {limit.said(one.values[number])}, "
            f"limit {limit.said(limit.bound)}"
            for number, limit in enumerate(bench.limits)
            if number in _broken(bench, one)
        ]
        knob = bench.knobs[at]
        rows.append((knob.shown(knob.values[place[at]]), one.demand, "; ".join(broken)))
    return pd.DataFrame(rows, columns=["change", "demand", "breaks"])
