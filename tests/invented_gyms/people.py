"""The lifters of an invented gym: what they have in common, what each can do, and how each lives and writes."""

from __future__ import annotations

import datetime
import math
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from tests.calibration.people import EXERCISES, Person, constants, parameter
from tests.calibration.rows import Row
from workbench.models.fatigue import FORMS
from workbench.models.fatigue_rivals import RIVALS

__all__ = ["LB", "Common", "Trainee", "drawn_lifters", "lifter_table"]

#: kg in a pound.
LB = 0.45359237
#: Invented, one of each sex in turn. A larger gym numbers them.
_NAMES = (
    "Alva Brandt", "Arne Holtby", "Bea Castellan", "Boris Lunde", "Clio Ferrant", "Casimir Rook", "Dagny Pell",
    "Dario Winslow", "Edda Moorcroft", "Egon Tasker", "Flora Vance", "Fabio Kerrigan", "Greta Solano", "Gideon Marsh",
    "Hanne Ockley", "Hugo Drummel", "Ilka Thornbury", "Ivo Castner", "Jorun Bellamy", "Jasper Nye", "Kaia Redfern",
    "Konrad Silva", "Liv Ashgrove", "Lorcan Budd",
)  # fmt: skip
#: Usual 1RMs of a woman and a man of some training, kg.
_USUAL = {
    "back squat": (82, 128),
    "leg press": (165, 250),
    "deadlift": (98, 150),
    "bench press": (48, 92),
    "overhead press": (32, 57),
    "barbell bench pull": (50, 82),
    "lat pulldown": (52, 82),
    "barbell curl": (23, 42),
}
#: sds of the natural log of a 1RM: between lifters, and between the exercises of one.
_STRENGTH_SD, _LIFT_SD = 0.16, 0.08
#: Spread of what exercises take from each other, natural log.
_CARRY_SD = 0.3
#: Of the variance of log endurance, what all exercises of a lifter have in common.
_IN_COMMON = 0.5
#: Part of the lifters who rest less than is written.
_HURRIED = 0.25
#: What a lifter file may say of a 1RM, how often, its error (bias and sd of the natural log), and the day of the test.
_KNOWN = (
    ("tested lately", 0.35, 0.0, 0.03, "2025-12-15"),
    ("tested last year", 0.25, -0.04, 0.06, "2025-03-10"),
    ("a rough estimate", 0.30, 0.03, 0.08, ""),
    ("", 0.10, 0.0, 0.10, ""),
)


@dataclass(frozen=True, kw_only=True)
class Common:
    """What the lifters of one gym have in common, beside the published numbers.

    Attributes
    ----------
    endurance_shift, endurance_spread : float, natural log
        Of 1/rep: the gym's mean less the published median of each class, and the sd between its lifters.
    recovery_shift, recovery_spread : float, natural log
        Of the recovery rate, about 1.
    reserve_shift, reserve_spread : float, [reps]
        What its lifters state too many, beside the published bias.
    """

    endurance_shift: float = 0.0
    endurance_spread: float = 0.28
    recovery_shift: float = 0.0
    recovery_spread: float = 0.489
    reserve_shift: float = 0.5
    reserve_spread: float = 0.7

    @classmethod
    def drawn(cls, rng: np.random.Generator) -> Common:
        """Draw a gym's means from what is published of groups; the spreads stay those of one group."""
        squat, recovery = parameter("endurance", "squat"), parameter("recovery_rate", "all")
        return cls(
            endurance_shift=squat["group_spread"] * rng.standard_normal(),
            endurance_spread=squat["spread"],
            recovery_shift=recovery["group_spread"] * rng.standard_normal(),
            recovery_spread=recovery["spread"],
            reserve_shift=0.5 + 0.5 * rng.standard_normal(),
        )


@dataclass
class Trainee:
    """One lifter of the gym.

    Attributes
    ----------
    name, sex : str
    training_years, body_mass_kg : float
    person : Person
        What nobody sees, and what the lifter file says.
    row : Row
        How reserves are stated, and what the months do to strength.
    known : dict of str to (str, float, str)
        By exercise what the file says: where the 1RM comes from, kg, day of the test. Not every exercise is there.
    believed : dict of str to float, [kg]
        What the loads are percents of.
    sessions : list of list of str
        Exercises of the first, second and third session of a week.
    rest_factor : float
        Of the meant rest, what is rested.
    weeks : range
        From joining to leaving.
    away : set of int
        Weeks without training.
    hurt : (str, int) or None
        An exercise that hurts, and the week when it begins to.
    """

    name: str
    sex: str
    training_years: float
    body_mass_kg: float
    person: Person
    row: Row
    known: dict[str, tuple[str, float, str]]
    believed: dict[str, float]
    sessions: list[list[str]]
    weeks: range
    rest_factor: float = 1.0
    away: set[int] = field(default_factory=set)
    hurt: tuple[str, int] | None = None


def drawn_lifters(
    rng: np.random.Generator, common: Common, *, form: str, curve: str, lifters: int, weeks: int, untidy: bool
) -> list[Trainee]:
    """Draw the lifters of a gym; where it is untidy, with what happens to some of them."""
    drawn = [
        _drawn_lifter(stream, number, Row("gym", form=form, curve=curve), common, weeks)
        for number, stream in enumerate(rng.spawn(lifters))
    ]
    if untidy:
        _misfortunes(rng, drawn, weeks)
    else:
        for lifter in drawn:
            lifter.row = replace(lifter.row, reserve_shift=0.0, reserve_scatter=0.0)
    return drawn


def _drawn_lifter(rng: np.random.Generator, number: int, row: Row, common: Common, weeks: int) -> Trainee:
    woman = number % 2 == 0
    years = round(float(rng.choice([0.5, 1, 2, 3, 5, 8, 12])), 1)
    build = _STRENGTH_SD * rng.standard_normal()
    names = [str(name) for name in rng.choice(list(EXERCISES), size=int(rng.integers(4, 7)), replace=False)]
    trained = math.log(0.85 + 0.04 * min(years, 6.0))
    log_one_rm = {
        name: math.log(_USUAL[name][0 if woman else 1]) + trained + build + _LIFT_SD * rng.standard_normal()
        for name in names
    }
    shared = rng.standard_normal()
    own = math.sqrt(_IN_COMMON) * shared + math.sqrt(1.0 - _IN_COMMON) * rng.standard_normal(len(names))
    endurance = {
        name: parameter("endurance", EXERCISES[name])["value"]
        * math.exp(common.endurance_shift + common.endurance_spread * float(z))
        for name, z in zip(names, own, strict=True)
    }
    tie = min(parameter("recovery_endurance_tie", "all")["value"] / math.sqrt(_IN_COMMON), 1.0)
    z_recovery = tie * shared + math.sqrt(1.0 - tie**2) * rng.standard_normal()
    known, believed = _known_one_rms(rng, log_one_rm)
    form = {**FORMS, **RIVALS}[row.form]
    person = Person(
        log_one_rm=log_one_rm,
        stated={name: (kg, 4.0) for name, (_, kg, _) in known.items()},
        endurance=endurance,
        recovery_rate=math.exp(common.recovery_shift + common.recovery_spread * z_recovery),
        carry_over=math.exp(_CARRY_SD * rng.standard_normal()),
        form=form,
        constants=constants(form, rng),
        curve=row.curve,
    )
    count = int(rng.integers(2, min(4, len(names) - 1) + 1))
    turns = [[names[(count * turn + place) % len(names)] for place in range(count)] for turn in range(3)]
    name = _NAMES[number % len(_NAMES)] + (f" {number // len(_NAMES) + 1}" if number >= len(_NAMES) else "")
    gain = 0.004 / (1.0 + years)
    return Trainee(
        name=name,
        sex="female" if woman else "male",
        training_years=years,
        body_mass_kg=round((66 if woman else 82) * math.exp(0.5 * build + 0.08 * rng.standard_normal())),
        person=person,
        row=replace(
            row,
            weekly_gain=gain,
            by_feel=True,
            stops_at=(2, 2),
            feels_within=8.0,
            reserve_shift=common.reserve_shift + common.reserve_spread * rng.standard_normal(),
            reserve_scatter=0.1,
        ),
        known=known,
        believed=believed,
        sessions=turns,
        weeks=range(weeks),
    )


def _known_one_rms(
    rng: np.random.Generator, log_one_rm: dict[str, float]
) -> tuple[dict[str, tuple[str, float, str]], dict[str, float]]:
    """Draw what the lifter file says of each 1RM, the first one surely, and what loads go by."""
    known: dict[str, tuple[str, float, str]] = {}
    believed = {}
    for name, value in log_one_rm.items():
        odds = np.array([share for _, share, *_ in _KNOWN])
        where, _, bias, sd, day = _KNOWN[int(rng.choice(len(_KNOWN), p=odds))]
        if not known and not where:
            where, _, bias, sd, day = _KNOWN[0]
        kg = float(np.round(math.exp(value + bias + sd * rng.standard_normal()) / 2.5) * 2.5)
        believed[name] = kg
        if where:
            known[name] = (where, kg, day)
    return known, believed


def _misfortunes(rng: np.random.Generator, drawn: list[Trainee], weeks: int) -> None:
    """Let things happen, each to one lifter in twelve; a bad month and a longer absence to twice as many."""
    lots = rng.permutation(12 * math.ceil(len(drawn) / 12))[: len(drawn)] % 12
    for lifter, lot in zip(drawn, lots, strict=True):
        at = int(rng.integers(weeks // 3, max(weeks // 3 + 1, 2 * weeks // 3)))
        if lot == 0:
            lifter.hurt = (lifter.sessions[0][0], at)
        elif lot in (1, 2):
            lifter.row = replace(lifter.row, bad_fortnight=0.06, bad_days=(7 * at, 7 * at + 30))
        elif lot in (3, 4):
            lifter.away = {at, at + 1, at + 2}
        elif lot == 5:
            lifter.weeks = range(3 * weeks // 5, weeks)  # joins late
        elif lot == 6:
            lifter.weeks = range(2 * weeks // 3 + 1)  # leaves
        if rng.random() < _HURRIED:
            lifter.rest_factor = 0.65
        if weeks > 12:
            lifter.away.add(weeks // 2 - 1)  # the gym is shut


def lifter_table(lifter: Trainee) -> dict[str, Any]:
    """Return the lifter file: what the coach knows, nothing of the truth."""
    lifts: dict[str, dict[str, Any]] = {}
    for name, (where, kg, day) in lifter.known.items():
        in_lb = name == "leg press"
        lifts[name] = {"one_rm_lb": float(round(kg / LB / 5) * 5)} if in_lb else {"one_rm_kg": kg}
        lifts[name] |= {"known_from": where} | ({"tested": datetime.date.fromisoformat(day)} if day else {})
    return {
        "name": lifter.name,
        "note": "Invented.",
        "sex": lifter.sex,
        "body_mass_kg": lifter.body_mass_kg,
        "training_years": lifter.training_years,
        "lifts": lifts,
    }
