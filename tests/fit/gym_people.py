"""Invented gyms: where their lifters lie and how far apart, lifters drawn from that, and the logs that they keep.

The people live through their weeks as those of `tests.calibration` do, set by set in plain numbers; nothing here knows
how a gym is fitted.
"""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from tests.calibration.people import EXERCISES, Person, drawn_person, lifter_file, parameter
from tests.calibration.rows import ROWS, Row
from tests.calibration.weeks import Habit, Life, habits, kept_log
from workbench.lifter import Lifter

__all__ = ["CLASSES", "Invented", "InventedGym", "drawn_gym", "invented"]

CLASSES = tuple(EXERCISES.values())
#: Of the variance of log endurance, what all exercises have in common: of lifters, and of gyms.
_IN_COMMON = 0.5
#: Reps: how far gyms, and the lifters of one, state otherwise than is usual.
_RESERVE_SD = 0.5
#: Natural-log sd of a gym's spread about the published one.
_SPREAD_SD = 0.3


@dataclass(frozen=True)
class InventedGym:
    """What nobody sees of a gym.

    Attributes
    ----------
    middle : dict of str to float, [ln 1/rep]
        Log endurance of the middle lifter, by class of exercise.
    times : float
        Spread of log endurance between its lifters, as a factor on the published one.
    rate, rate_sd : float
        Middle and spread of the log recovery rate.
    tie : float
        Correlation of the log recovery rate with the part of log endurance that exercises share.
    reserve, reserve_sd : float, [reps]
        Middle and spread of what its lifters have left beyond what is usual for what they say.
    """

    middle: dict[str, float]
    times: float
    rate: float
    rate_sd: float
    tie: float
    reserve: float
    reserve_sd: float


def drawn_gym(rng: np.random.Generator) -> InventedGym:
    """Draw a gym as published groups differ."""
    alike = rng.standard_normal()
    middle = {}
    for name in CLASSES:
        row = parameter("endurance", name)
        z = math.sqrt(_IN_COMMON) * alike + math.sqrt(1.0 - _IN_COMMON) * rng.standard_normal()
        middle[name] = math.log(row["value"]) + math.hypot(row["group_spread"], row["uncertainty"]) * z
    recovery, tie = parameter("recovery_rate", "all"), parameter("recovery_endurance_tie", "all")["value"]
    spreads = np.exp(_SPREAD_SD * (rng.standard_normal(3) - _SPREAD_SD))
    return InventedGym(
        middle=middle,
        times=float(spreads[0]),
        rate=math.log(recovery["value"]) + recovery["group_spread"] * float(rng.standard_normal()),
        rate_sd=recovery["spread"] * float(spreads[1]),
        tie=min(tie / math.sqrt(_IN_COMMON), 0.95),
        reserve=_RESERVE_SD * float(rng.standard_normal()),
        reserve_sd=_RESERVE_SD * float(spreads[2]),
    )


@dataclass(frozen=True)
class Invented:
    """A lifter of a gym: what nobody sees, what the coach's file says, and how the lifter lives and trains."""

    person: Person
    lifter: Lifter
    life: Life
    trained: list[Habit]
    row: Row
    rng: np.random.Generator

    @functools.cached_property
    def log(self) -> pd.DataFrame:
        """Live through the weeks of the row; the log that is kept."""
        return kept_log(self.life, self.trained, self.row).assign(lifter=self.lifter.name)


def invented(gym: InventedGym, number: int, rng: np.random.Generator, *, weeks: int, **truth: str) -> Invented:
    """Draw a lifter of a gym, who then trains for some weeks; ``truth`` as `tests.calibration.rows.Row` has it."""
    drawn, lived, kept = rng.spawn(3)
    row = replace(ROWS["constants drawn"], weeks=weeks, **truth)
    person = drawn_person(drawn, row)
    common, z = drawn.standard_normal(2)
    endurance = {}
    for name in person.endurance:
        own = math.sqrt(_IN_COMMON) * common + math.sqrt(1.0 - _IN_COMMON) * drawn.standard_normal()
        spread = gym.times * parameter("endurance", EXERCISES[name])["spread"]
        endurance[name] = math.exp(gym.middle[EXERCISES[name]] + spread * own)
    rate = math.exp(gym.rate + gym.rate_sd * (gym.tie * common + math.sqrt(1.0 - gym.tie**2) * z))
    person = replace(person, endurance=endurance, recovery_rate=rate)
    # Who says too few has more left than is usual for what is said.
    row = replace(row, reserve_shift=-(gym.reserve + gym.reserve_sd * float(drawn.standard_normal())))
    lifter = lifter_file(person).model_copy(update={"name": f"Invented {number}"})
    return Invented(person, lifter, Life(person, row, lived), habits(person, kept), row, kept)
