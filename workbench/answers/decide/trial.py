"""Trying one plan: what it demands, whether it keeps the limits, remembered so that nothing is tried twice."""

from __future__ import annotations

import itertools
import threading
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from workbench.answers.decide.knobs import Knob, apply_settings
from workbench.answers.decide.limits import Limit, of_plan, plan_quantity, quantity, weakest_set
from workbench.answers.outcomes import Measured, response_for
from workbench.models.fatigue import DEFAULT_FORM, FatigueForm
from workbench.models.load_reps import DEFAULT_CURVE, Curve
from workbench.prescription.block import Block
from workbench.quantities import InputError
from workbench.simulate.draws import CommonDays
from workbench.simulate.plan import Plan, make_plan, plan_changed
from workbench.simulate.run import Outcome, simulate

if TYPE_CHECKING:
    from workbench.gym.equipment import Room
    from workbench.lifter import Lifter

__all__ = ["Bench", "StoppedError", "Task", "Trial"]

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
    """

    place: Place
    demand: float
    chance: float
    values: tuple[float, ...]
    shortfall: float
    weakest: str

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
        if self._quick:
            broken = sum(
                limit.shortfall(plan_quantity(limit.quantity, plan)) for limit in self.limits if of_plan(limit.quantity)
            )
            if broken:
                # Nobody need be simulated for that. One more, so that plans that break only the others come before it.
                return Trial(place, 0.0, 0.0, tuple(np.nan for _ in self.limits), 1.0 + broken, "")
        measured = self.measured(plan)
        values = tuple(quantity(limit.quantity, measured) for limit in self.limits)
        return Trial(
            place=place,
            demand=quantity(self.task.demand, measured),
            chance=measured.outcome.chance_of_block(),
            values=values,
            shortfall=sum(limit.shortfall(value) for limit, value in zip(self.limits, values, strict=True)),
            weakest="" if self._quick else weakest_set(measured)[1],
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
