"""Invented people, drawn from the published numbers as the files under ``data/`` give them."""

from __future__ import annotations

import csv
import functools
import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from tests.calibration.rows import Row
from workbench.lifter import Lifter
from workbench.models.fatigue import FORMS, FatigueForm
from workbench.models.fatigue_rivals import RIVALS
from workbench.reference.sources import data_path
from workbench.reference.toml_files import validate

__all__ = [
    "EXERCISES",
    "Person",
    "Scatter",
    "constants",
    "drawn_person",
    "lifter_file",
    "median_endurance",
    "parameter",
    "scatter",
]

#: With the class of each exercise, as ``data/exercises.csv`` has it.
EXERCISES = {
    "back squat": "squat",
    "leg press": "leg press",
    "deadlift": "hinge",
    "bench press": "horizontal press",
    "overhead press": "vertical press",
    "barbell bench pull": "horizontal pull",
    "lat pulldown": "vertical pull",
    "barbell curl": "arm curl",
}
#: Of the variance of log endurance, what all exercises of a person have in common.
_IN_COMMON = 0.5
#: Spread of what exercises take from each other, natural log.
_CARRY_SD = 0.3


@dataclass(frozen=True)
class Scatter:
    """Natural-log sds: strength from day to day, reps from set to set, the usual 1RM in a week."""

    day: float
    reps: float
    week: float = 0.01


@dataclass(frozen=True)
class Person:
    """What nobody sees.

    Attributes
    ----------
    log_one_rm, endurance : dict of str to float, [ln kg], [1/rep]
        By exercise; the 1RM at the first session.
    stated : dict of str to (float, float)
        What the lifter file says: 1RM [kg] and its uncertainty [%].
    recovery_rate, carry_over : float, [1]
    form, constants
        A fatigue form, and its parameter set with one number each.
    curve : str
    """

    log_one_rm: dict[str, float]
    stated: dict[str, tuple[float, float]]
    endurance: dict[str, float]
    recovery_rate: float
    carry_over: float
    form: FatigueForm
    constants: Any
    curve: str


@functools.cache
def _read(*path: str) -> list[dict[str, str]]:
    with data_path(*path).open(encoding="utf-8", newline="") as handle:
        return list(csv.DictReader(handle))


@functools.cache
def parameter(quantity: str, group: str) -> dict[str, float]:
    """Numbers of one row of ``parameters.csv``; 0 where it is silent, or has no such row."""
    known = [row for row in _read("parameters.csv") if (row["quantity"], row["group"]) == (quantity, group)]
    columns = ("value", "spread", "group_spread", "uncertainty")
    return {name: float(known[0][name] or 0.0) if known else 0.0 for name in columns}


def scatter() -> Scatter:
    """Scatter of one person, from ``data/parameters.csv``."""
    return Scatter(parameter("day_strength_sd", "all")["value"], parameter("set_reps_sd", "all")["value"])


def median_endurance(exercise: str) -> float:
    """Median of the class, 1/rep: what a table for everybody goes by."""
    return parameter("endurance", EXERCISES[exercise])["value"]


def _spread(row: dict[str, float]) -> float:
    """Spread of one person of whom nothing is known: within a group, between groups, and of what is known of both."""
    return math.sqrt(row["spread"] ** 2 + row["group_spread"] ** 2 + row["uncertainty"] ** 2)


@functools.cache
def _fitted(form: str) -> dict[str, np.ndarray]:
    rows = _read("fitted", f"fatigue_{form.replace(' ', '_').replace(',', '')}.csv")
    return {name: np.array([float(row[name]) for row in rows]) for name in rows[0]}


def constants(form: FatigueForm, rng: np.random.Generator | None = None) -> Any:
    """Constants of a form: a row of those that the published sets leave possible, or the median of each."""
    fitted = _fitted(form.name)
    row = None if rng is None else int(rng.integers(fitted[form.parameter_names[0]].size))
    pick = {name: float(np.median(fitted[name]) if row is None else fitted[name][row]) for name in form.parameter_names}
    return type(form.parameters)(**pick)


def drawn_person(rng: np.random.Generator, row: Row) -> Person:
    """Draw a person, with two or three exercises and a lifter file."""
    names = [str(name) for name in rng.choice(list(EXERCISES), size=int(rng.integers(2, 4)), replace=False)]
    log_one_rm, stated, endurance = {}, {}, {}
    common = rng.standard_normal()
    for name in names:
        kg = float(np.round(rng.uniform(60, 150) / 2.5) * 2.5)
        percent = float(np.round(rng.uniform(3, 8), 1))
        error = percent / 100.0 * rng.standard_normal()
        if not math.isnan(row.file_high):
            percent, error = 4.0, -row.file_high
        stated[name], log_one_rm[name] = (kg, percent), math.log(kg) + error
        known = parameter("endurance", EXERCISES[name])
        mixed = math.sqrt(_IN_COMMON) * common + math.sqrt(1.0 - _IN_COMMON) * rng.standard_normal()
        endurance[name] = known["value"] * math.exp(_spread(known) * mixed)
    recovery = parameter("recovery_rate", "all")
    # With the endurance of one exercise; what all have in common goes with it the more closely.
    tie = min(parameter("recovery_endurance_tie", "all")["value"] / math.sqrt(_IN_COMMON), 1.0)
    z_recovery = tie * common + math.sqrt(1.0 - tie**2) * rng.standard_normal()
    form = {**FORMS, **RIVALS}[row.form]
    return Person(
        log_one_rm=log_one_rm,
        stated=stated,
        endurance=endurance,
        recovery_rate=recovery["value"] * math.exp(_spread(recovery) * z_recovery),
        carry_over=math.exp(_CARRY_SD * rng.standard_normal()),
        form=form,
        constants=constants(form, rng if row.drawn else None),
        curve=row.curve,
    )


def lifter_file(person: Person) -> Lifter:
    """Return the lifter file that such a person's coach has."""
    lifts = {name: {"one_rm_kg": kg, "uncertainty_percent": percent} for name, (kg, percent) in person.stated.items()}
    return validate({"name": "Invented", "lifts": lifts}, Lifter)
