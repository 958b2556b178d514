"""A gym's own numbers: what its lifters are like, from which one of whom nothing is known starts.

Spreads and counts only. `workbench.fit.gym_prior` works them out from the logs of a gym; a gym's folder keeps them in
``gym.toml``, and `workbench.lifter.read_lifter` gives them to those of its lifters whom no log taught.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import Annotated, Final

import numpy as np
from pydantic import Field, model_validator

from workbench.lifter.belief import TENTH
from workbench.quantities import InputError
from workbench.reference.parameters import endurance_prior
from workbench.reference.toml_files import Number, PlacedError, Strict, Whole, read_model

__all__ = ["FEWEST_SHARED", "GYM_FILE", "GymPrior", "OfGym", "gym_prior_beside", "read_gym_prior"]

#: The file in a gym's folder.
GYM_FILE: Final = "gym.toml"
#: Numbers of fewer lifters than this are nobody else's: among so few, one who knows the others knows the last.
FEWEST_SHARED: Final = 5
#: Folders of a gym whose lifters start from the numbers beside them.
_OF_LIFTERS: Final = "lifters"

_Three = Annotated[list[Annotated[Number, Field(ge=-20, le=20)]], Field(min_length=3, max_length=3)]
_Positive = Annotated[list[Annotated[Number, Field(gt=0, le=20)]], Field(min_length=3, max_length=3)]
_Count = Annotated[Whole, Field(ge=0, le=1_000_000)]


class OfGym(Strict):
    """One quantity of a gym's lifters, each as low end, middle and high end of an 80 % interval.

    Attributes
    ----------
    lifters : int
        How many logs speak of it; none: what the other quantities say of it.
    start : list of three float
        Where a lifter not yet seen lies: how lifters differ, and what is not known of that.
    middle : list of three float
        Where the middle of the gym's lifters lies.
    spread : list of three float
        Standard deviation between the gym's lifters: of the natural log, of stated reserve in reps.
    """

    lifters: _Count
    start: _Three
    middle: _Three
    spread: _Positive

    @model_validator(mode="after")
    def _rise(self) -> OfGym:
        for name in ("start", "middle", "spread"):
            low, middle, high = getattr(self, name)
            if not low < middle < high:
                raise PlacedError(f"{low:g}, {middle:g}, {high:g} do not rise; give low end, middle and high end", name)
        return self

    @property
    def log_normal(self) -> tuple[float, float]:
        """Median, and sd of the natural log, of a lifter not yet seen; for quantities above 0."""
        low, middle, high = self.start
        return middle, float(np.log(high / low)) / (2.0 * TENTH)

    @property
    def normal(self) -> tuple[float, float]:
        """Mean and sd of a lifter not yet seen."""
        low, middle, high = self.start
        return middle, (high - low) / (2.0 * TENTH)


class GymPrior(Strict):
    """A gym's own numbers.

    Attributes
    ----------
    lifters, sets : int
        How many stand behind them.
    endurance : dict of str to OfGym, [1/rep]
        By class of exercise.
    recovery : OfGym, [1]
        Of the recovery rate.
    recovery_of_women : OfGym or None, [1]
        None where it is that of all.
    stated_reserve : OfGym or None, [reps]
        Reps left beyond what is usual for what is said; None where no log states reserves.
    tie : float, [1], -1 to 1
        Correlation of the log recovery rate with the part of log endurance that a lifter's exercises share.
    used : bool
        Whether lifters of whom nothing is known start from these numbers.
    """

    lifters: Annotated[Whole, Field(ge=1, le=1_000_000)]
    sets: Annotated[Whole, Field(ge=1, le=1_000_000_000)]
    endurance: dict[str, OfGym] = Field(max_length=100)
    recovery: OfGym
    recovery_of_women: OfGym | None = None
    stated_reserve: OfGym | None = None
    tie: Annotated[Number, Field(gt=-1, lt=1)]
    used: bool = True

    @model_validator(mode="after")
    def _above_none(self) -> GymPrior:
        for name, numbers in self.endurance.items():
            try:
                endurance_prior(name)
            except InputError as error:
                raise PlacedError(f"{error.problem}; {error.remedy}", "endurance", name) from None
            _above_0(numbers, "endurance", name)
        for name in ("recovery", "recovery_of_women"):
            if getattr(self, name) is not None:
                _above_0(getattr(self, name), name)
        return self

    def endurance_of(self, endurance_class: str) -> tuple[float, float]:
        """Return median, 1/rep, and log sd of a lifter not yet seen; published where the gym has none of the class."""
        if endurance_class in self.endurance:
            return self.endurance[endurance_class].log_normal
        prior = endurance_prior(endurance_class)
        return prior.median, prior.log_sd

    def recovery_of(self, sex: str | None) -> tuple[float, float]:
        """Return median and log sd of the recovery rate of a lifter not yet seen."""
        of_women = self.recovery_of_women if sex == "female" else None
        return (of_women or self.recovery).log_normal

    @property
    def said(self) -> str:
        """Whose numbers these are, in words."""
        return f"{self.lifters} lifter{'s' if self.lifters != 1 else ''} of this gym"


def _above_0(numbers: OfGym, *place: str) -> None:
    if min(numbers.start[0], numbers.middle[0]) <= 0.0:
        raise PlacedError("is not above 0; give numbers above 0", *place)


def read_gym_prior(path: str | Path) -> GymPrior:
    """Read a gym's own numbers (TOML); InputError with file, place and remedy where they cannot be used."""
    return read_model(path, GymPrior)


def gym_prior_beside(path: str | Path) -> GymPrior | None:
    """Return the numbers of the gym in whose folder a lifter's file lies (``GYM/lifters/x.toml``); None without any."""
    folder = Path(path).absolute().parent
    file = folder.parent / GYM_FILE
    if folder.name != _OF_LIFTERS or not os.path.isfile(file):  # noqa: PTH113 - false for what can be no name too
        return None
    return read_gym_prior(file)
