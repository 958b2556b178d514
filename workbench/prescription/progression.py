"""How a set group changes from week to week. Each rule turns the first week's load and reps into every week's.

Loads are in the unit the group gives them in: points of percent of 1RM, reps in reserve, kg or lb. What comes out may
lie beyond what a set can have: `workbench.prescription.block.SetGroup.weekly` refuses that.
"""

from __future__ import annotations

from typing import Annotated, Literal, Self

import numpy as np
from pydantic import Field

from workbench.quantities import FloatArray
from workbench.reference.toml_files import Number, Strict, Whole

__all__ = ["ByWeek", "Progression", "RepsThenLoad", "Rule", "Step", "Wave"]

Change = Annotated[Number, Field(ge=-100, le=100)]
Bounds = tuple[float, float]
Weekly = tuple[FloatArray, FloatArray, FloatArray]


class Rule(Strict):
    """What all rules can do; the defaults are those of a rule that moves with the first week by itself."""

    @property
    def written_out(self) -> frozenset[str]:
        """What the rule itself gives for every week, of load, reps and sets: a lighter week takes none of it away."""
        return frozenset()

    def check(self, weeks: int, *, reps: Bounds) -> None:
        """Raise ValueError where the rule does not fit the weeks, or the first week's reps."""

    def first(self, load: float, reps: int) -> tuple[float, int]:
        """Return the first week's load and lowest reps, where the group gives these."""
        return load, reps

    def moved(self, *, load: float = 0.0, reps: int = 0) -> Self:
        """Return the rule for a first week with so much more load and so many more reps."""
        return self

    def weekly(self, load: float, reps: Bounds, weeks: int) -> Weekly:
        """Return load, lowest reps and highest reps of every week."""
        raise NotImplementedError


class Step(Rule):
    """The same change every week: week w has ``load + (w - 1) step``."""

    rule: Literal["step"]
    step: Change
    reps_step: Annotated[Whole, Field(ge=-10, le=10)] = 0

    def check(self, weeks: int, *, reps: Bounds) -> None:
        """Refuse a step of reps where there are none to step."""
        if self.reps_step and reps[1] == float("inf"):
            raise ValueError("a set to failure has no number of reps to step; leave out reps_step")

    def weekly(self, load: float, reps: Bounds, weeks: int) -> Weekly:
        """Return load, lowest reps and highest reps of every week."""
        week = np.arange(weeks, dtype=np.float64)
        low, high = (bound + self.reps_step * week for bound in reps)
        return load + self.step * week, low, high


class Wave(Rule):
    """A wave that climbs for ``length`` weeks and starts again ``rise`` higher than it last started."""

    rule: Literal["wave"]
    length: Annotated[Whole, Field(ge=2, le=12)]
    step: Change
    rise: Change

    def weekly(self, load: float, reps: Bounds, weeks: int) -> Weekly:
        """Return load, lowest reps and highest reps of every week."""
        turn, place = np.divmod(np.arange(weeks), self.length)
        return load + self.rise * turn + self.step * place, np.full(weeks, reps[0]), np.full(weeks, reps[1])


class RepsThenLoad(Rule):
    """Reps first, then load: ``reps_step`` more reps a week up to ``reps_to``, then back and ``step`` heavier."""

    rule: Literal["reps then load"]
    reps_to: Annotated[Whole, Field(ge=1, le=100)]
    reps_step: Annotated[Whole, Field(ge=1, le=10)] = 1
    step: Change

    def check(self, weeks: int, *, reps: Bounds) -> None:
        """Refuse reps that have no room to rise."""
        if reps[0] != reps[1]:
            raise ValueError("reps then load needs one number of reps to start from; give reps as a number")
        if self.reps_to <= reps[0]:
            raise ValueError(
                f"reps_to {self.reps_to} is not above the first week's reps; use {int(reps[0]) + 1} or more"
            )

    def moved(self, *, load: float = 0.0, reps: int = 0) -> Self:
        """Return the rule for a first week with so many more reps: it ends as many higher."""
        return self.model_copy(update={"reps_to": self.reps_to + reps})

    def weekly(self, load: float, reps: Bounds, weeks: int) -> Weekly:
        """Return load, lowest reps and highest reps of every week."""
        rungs = np.append(np.arange(reps[0], self.reps_to, self.reps_step), self.reps_to)
        turn, place = np.divmod(np.arange(weeks), rungs.size)
        numbers = rungs[place].astype(float)
        return load + self.step * turn, numbers, numbers.copy()


class ByWeek(Rule):
    """Values written out for every week; a lighter week does not change them."""

    rule: Literal["by week"]
    load: list[Annotated[Number, Field(ge=0, le=2200)]]
    reps: list[Annotated[Whole, Field(ge=1, le=100)]] | None = None
    sets: list[Annotated[Whole, Field(ge=0, le=20)]] | None = None

    def check(self, weeks: int, *, reps: Bounds) -> None:
        """Refuse other than one value for each week."""
        for key in ("load", "reps", "sets"):
            values = getattr(self, key)
            if values is not None and len(values) != weeks:
                raise ValueError(f"progression gives {len(values)} values of {key} for {weeks} weeks; give {weeks}")
        if self.sets is not None and not any(self.sets):
            raise ValueError("progression gives 0 sets in every week; leave the group out, or give sets to one week")

    @property
    def written_out(self) -> frozenset[str]:
        """The load, and reps and sets where they are given."""
        return frozenset(key for key in ("load", "reps", "sets") if getattr(self, key) is not None)

    def first(self, load: float, reps: int) -> tuple[float, int]:
        """Return those written out for the first week."""
        return self.load[0], self.reps[0] if self.reps is not None else reps

    def moved(self, *, load: float = 0.0, reps: int = 0) -> Self:
        """Return the rule with the load and reps of every week moved."""
        more = None if self.reps is None else [number + reps for number in self.reps]
        return self.model_copy(update={"load": [round(value + load, 9) for value in self.load], "reps": more})

    def weekly(self, load: float, reps: Bounds, weeks: int) -> Weekly:
        """Return load, lowest reps and highest reps of every week."""
        low, high = (
            np.full(weeks, float(bound)) if self.reps is None else np.array(self.reps, float) for bound in reps
        )
        return np.array(self.load, dtype=float), low, high


Progression = Annotated[Step | Wave | RepsThenLoad | ByWeek, Field(discriminator="rule")]
