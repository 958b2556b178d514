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
    def load_step(self) -> float | None:
        """Change of the load a week, or each time it starts over; None where weeks are written out."""
        return None

    @property
    def has_sets(self) -> bool:
        """Whether the rule itself says how many sets each week has; a lighter week then takes none away."""
        return False

    @property
    def sets_reps(self) -> bool:
        """Whether the rule itself says how many reps the first week has."""
        return False

    @property
    def written_out(self) -> bool:
        """Whether every week is written out: a lighter week then changes nothing."""
        return False

    def first_load(self, load: float) -> float:
        """Load of the first week, where the group says ``load``."""
        return load

    def first_reps(self, reps: int) -> int:
        """Lowest reps of the first week, where the group says ``reps``."""
        return reps

    def moved(self, *, load: float = 0.0, reps: int = 0) -> Self:
        """Return the rule for a first week with so much more load and so many more reps."""
        return self

    def restepped(self, step: float) -> Self:
        """Return the rule with another step of the load."""
        return self.model_copy(update={"step": step})


class Step(Rule):
    """The same change every week: week w has ``load + (w - 1) step``."""

    rule: Literal["step"]
    step: Change
    reps_step: Annotated[Whole, Field(ge=-10, le=10)] = 0

    def check(self, weeks: int, *, reps: Bounds) -> None:
        """Check that there are reps to step; any number of weeks fits."""
        if self.reps_step and reps[1] == float("inf"):
            raise ValueError("a set to failure has no number of reps to step; leave out reps_step")

    @property
    def load_step(self) -> float | None:
        """Change of the load a week, or each time it starts over."""
        return self.step

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

    def check(self, weeks: int, *, reps: Bounds) -> None:
        """Nothing to check: a wave may end half-way."""

    @property
    def load_step(self) -> float | None:
        """Change of the load a week, or each time it starts over."""
        return self.step

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
        """Check that the reps have room to rise."""
        if reps[0] != reps[1]:
            raise ValueError("reps then load needs one number of reps to start from; give reps as a number")
        if self.reps_to <= reps[0]:
            raise ValueError(
                f"reps_to {self.reps_to} is not above the first week's reps; use {int(reps[0]) + 1} or more"
            )

    @property
    def load_step(self) -> float | None:
        """Change of the load a week, or each time it starts over."""
        return self.step

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
        """Check that there is one value for each week."""
        for key in ("load", "reps", "sets"):
            values = getattr(self, key)
            if values is not None and len(values) != weeks:
                raise ValueError(f"progression gives {len(values)} values of {key} for {weeks} weeks; give {weeks}")
        if self.sets is not None and not any(self.sets):
            raise ValueError("progression gives 0 sets in every week; leave the group out, or give sets to one week")

    @property
    def has_sets(self) -> bool:
        """Whether the sets of every week are written out."""
        return self.sets is not None

    @property
    def sets_reps(self) -> bool:
        """Whether the reps of every week are written out."""
        return self.reps is not None

    @property
    def written_out(self) -> bool:
        """Always."""
        return True

    def first_load(self, load: float) -> float:
        """Load of the first week."""
        return self.load[0]

    def first_reps(self, reps: int) -> int:
        """Reps of the first week."""
        return reps if self.reps is None else self.reps[0]

    def moved(self, *, load: float = 0.0, reps: int = 0) -> Self:
        """Return the rule with the load and reps of every week moved."""
        more = None if self.reps is None else [number + reps for number in self.reps]
        return self.model_copy(update={"load": [round(value + load, 9) for value in self.load], "reps": more})

    def weekly(self, load: float, reps: Bounds, weeks: int) -> Weekly:
        """Return load, lowest reps and highest reps of every week."""
        low, high = (
            (np.array(self.reps, dtype=float), np.array(self.reps, dtype=float))
            if self.reps is not None
            else (np.full(weeks, float(reps[0])), np.full(weeks, float(reps[1])))
        )
        return np.array(self.load, dtype=float), low, high


Progression = Annotated[Step | Wave | RepsThenLoad | ByWeek, Field(discriminator="rule")]
