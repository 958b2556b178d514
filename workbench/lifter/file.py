"""The lifter file: all that is known of one person."""

from __future__ import annotations

import datetime
import difflib
from collections.abc import Mapping, Sequence
from functools import cache
from pathlib import Path
from typing import Annotated, Any, Final, Literal

import numpy as np
from pydantic import AfterValidator, Field, ValidationInfo, field_validator, model_validator

from workbench.gym.catalogue import Catalogue, NamesExercises, OwnFiles, built_in, catalogue_for, joint_positions
from workbench.lifter.belief import ALL, Belief, Quantity, Together, off_scale
from workbench.lifter.gym_prior import GymPrior, gym_prior_beside
from workbench.lifter.lift import Interval, Lift, interval_fault, of_interval
from workbench.models.fatigue import FatigueForm
from workbench.models.load_reps import DEFAULT_CURVE, Curve
from workbench.models.sharing import CARRY
from workbench.quantities import FloatArray, InputError
from workbench.reference.parameters import STATED_SHARE, endurance_prior, recovery_of_lifter, shared_tie
from workbench.reference.sources import read_rows
from workbench.reference.toml_files import Number, PlacedError, read_model

__all__ = ["BEND", "CARRIED", "RECOVERY", "SHARED", "Lifter", "read_lifter"]


@cache
def _trained_years() -> float:
    rows = read_rows("load_search.csv")
    return next(float(row["value"]) for row in rows if row["quantity"] == "trained_years")


def _iso_date(text: str) -> str:
    try:
        datetime.date.fromisoformat(text)
    except ValueError:
        raise ValueError(f"{text!r} is not a date; write it as 2026-01-31") from None
    return text


#: Number of sets of one exercise on one day, and a digest of what they were.
LearnedSets = Annotated[str, Field(pattern=r"^[1-9]\d* sets?, [0-9a-f]{12}$")]


#: What is believed of each exercise, and of a lifter in all of them alike.
_OF_LIFT: Final = ("1RM", "endurance")
SHARED: Final = (ALL, "shared endurance")
RECOVERY: Final = (ALL, "recovery rate")
CARRIED: Final = (ALL, "carry-over")
BEND: Final = (ALL, "bend")


def _stated(value: float | None, interval: list[float] | None, median: float, log_sd: float) -> Belief:
    """Return what is believed of a number above 0: what the file states of it, else what is known of lifters."""
    if value is None:
        return Belief.normal(float(np.log(median)), log_sd)
    return (
        Belief.normal(float(np.log(value)), log_sd * STATED_SHARE) if interval is None else of_interval(value, interval)
    )


class Lifter(NamesExercises):
    """One lifter.

    Attributes
    ----------
    name, note : str
    sex : {"female", "male"} or None
        Published sexes conflict on how fast one recovers: neither is moved, a woman's recovery rate is less sure.
    body_mass_kg : float or None, [kg], 25 to 300
    training_years : float or None, [years], 0 to 80
    recovery_rate : float or None, [1], 0.2 to 5
        How fast this lifter recovers; 1 is average, 2 twice as fast.
    recovery_interval : list of two float or None, [1]
        80 % interval of ``recovery_rate``: one in ten lies below, one in ten above.
    carry_over : float or None, [1], 0.2 to 5
        How strongly exercises that share muscles tire each other; 1 is average.
    carry_over_interval : list of two float or None, [1]
    test_maximum : bool
        Whether a test to the maximum may be proposed.
    avoid_positions, avoid_exercises : list of str
    lifts : dict of str to Lift
        What is known of each exercise, by its name; may be empty.
    together : Together or None
        What else a log taught, and how all numbers with an interval go together; `workbench.fit` writes it.
    learned : dict or None
        The logged sets that these numbers hold already: for each exercise and date their number and a digest;
        `workbench.fit` writes it and skips those sets.
    gym : GymPrior or None
        The numbers of the lifter's gym, where these take the place of the published ones; what the file says of the
        lifter goes before both.
    """

    name: str = Field(min_length=1, max_length=80)
    note: str = ""
    sex: Literal["female", "male"] | None = None
    body_mass_kg: Annotated[Number, Field(ge=25, le=300)] | None = None
    training_years: Annotated[Number, Field(ge=0, le=80)] | None = None
    recovery_rate: Annotated[Number, Field(ge=0.2, le=5)] | None = None
    recovery_interval: Interval | None = None
    carry_over: Annotated[Number, Field(ge=0.2, le=5)] | None = None
    carry_over_interval: Interval | None = None
    test_maximum: bool = False
    avoid_positions: list[str] = []
    avoid_exercises: list[str] = []
    lifts: dict[str, Lift]
    together: Together | None = None
    learned: dict[str, dict[Annotated[str, AfterValidator(_iso_date)], LearnedSets]] | None = None
    gym: GymPrior | None = None

    @field_validator("avoid_positions")
    @classmethod
    def _known_positions(cls, positions: list[str]) -> list[str]:
        known = joint_positions()
        joints = list(dict.fromkeys(listed.joint for listed in known.values()))
        found: dict[str, None] = {}
        for position in positions:
            meant = [listed.name for listed in known.values() if position in (listed.name, listed.joint)]
            if not meant:
                close = difflib.get_close_matches(position, [*known, *joints], n=3) or joints
                raise ValueError(f"unknown position {position!r}; use one of: {', '.join(close)}")
            found.update(dict.fromkeys(meant))
        return list(found)

    @field_validator("avoid_exercises")
    @classmethod
    def _known_avoided(cls, names: list[str], info: ValidationInfo) -> list[str]:
        catalogue = info.context if isinstance(info.context, Catalogue) else built_in()
        return [_known_name(name, catalogue) for name in names]

    @model_validator(mode="after")
    def _known_exercises(self) -> Lifter:
        seen: dict[str, str] = {}
        for written in self.lifts:
            name = _known_name(written, self.catalogue)
            if name in seen:
                raise ValueError(f"lifts names {name} twice ({seen[name]!r} and {written!r}); keep one")
            seen[name] = written
            lift = self.lifts[written]
            self.catalogue.check_each_hand(name, lift.each_hand, "one_rm_kg or one_rm_lb")
            if lift.from_set is not None:
                log_endurance = np.array(self.endurance_belief(name).middle)
                lift.worked_out(float(lift.from_set.log_one_rm(log_endurance, DEFAULT_CURVE)))
        return self

    @model_validator(mode="after")
    def _known_intervals(self) -> Lifter:
        for name in ("recovery", "carry_over"):
            middle = self.recovery_rate if name == "recovery" else self.carry_over
            fault = interval_fault(name, middle, getattr(self, f"{name}_interval"))
            if fault:
                raise ValueError(fault)
        try:
            self._told  # noqa: B018
        except InputError as error:
            raise PlacedError(f"{error.problem}; {error.remedy}", "together", "quantities") from None
        return self

    @property
    def training(self) -> Literal["trained", "untrained"] | None:
        """Whether the lifter counts as trained, by ``training_years``; None where the file gives none."""
        if self.training_years is None:
            return None
        return "trained" if self.training_years >= _trained_years() else "untrained"

    @property
    def recovery_note(self) -> str:
        """What to say beside a recovery rate of which the file says nothing; empty where there is nothing to say."""
        if self.sex != "female" or self.recovery_rate is not None:
            return ""
        return "studies of women and men disagree: none is taken to recover faster, and a woman's start is less sure"

    @property
    def as_of(self) -> datetime.date | None:
        """The newest day that the file knows of: its 1RMs are wanted for that day."""
        days = [lift.tested for lift in self.lifts.values() if lift.tested is not None]
        days += [datetime.date.fromisoformat(day) for stamps in (self.learned or {}).values() for day in stamps]
        return max(days, default=None)

    def one_rm_belief(
        self,
        exercise: str,
        curve: Curve = DEFAULT_CURVE,
        catalogue: Catalogue | None = None,
        on: datetime.date | None = None,
    ) -> Belief:
        """Return what is believed of the natural log of a 1RM, kg, on a day: the newest that the file knows of.

        Raises
        ------
        InputError
            Where the lifter has no 1RM for the exercise.
        """
        lift = self.lift(exercise)
        if lift.from_set is None:
            return lift.belief(self.training, on or self.as_of)
        endurance = self.endurance_belief(exercise, curve, catalogue)
        ends = np.array([endurance.middle - endurance.below, endurance.middle, endurance.middle + endurance.above])
        bent = curve.bent(self.bend(curve))
        low, middle, high = lift.from_set.log_one_rm(ends, bent) + (np.log(2.0) if lift.each_hand else 0.0)
        found = Belief(float(middle), float(middle - low), float(high - middle))
        return found.widened(float(lift.from_set.scatter(endurance.middle, bent)))

    def endurance_belief(
        self, exercise: str, curve: Curve = DEFAULT_CURVE, catalogue: Catalogue | None = None
    ) -> Belief:
        """Return what is believed of the natural log of endurance, 1/rep: the file's where it speaks, else the class's.

        ``catalogue`` knows the exercise; the lifter's where not given.
        """
        usual = self.usual_endurance((catalogue or self.catalogue).exercise(exercise).endurance_class)
        lift = self._lift(exercise)
        known = None if lift is None else lift.endurance_on(curve)
        return _stated(known, None if lift is None else lift.endurance_interval, *usual)

    def usual_endurance(self, endurance_class: str) -> tuple[float, float]:
        """Return median, 1/rep, and log sd of lifters of whom nothing is known: of this gym, or as published."""
        if self.gym is not None:
            return self.gym.endurance_of(endurance_class)
        prior = endurance_prior(endurance_class)
        return prior.median, prior.log_sd

    @property
    def usual_recovery(self) -> tuple[float, float]:
        """Median and log sd of the recovery rate of lifters of whom nothing is known: of this gym, or as published."""
        if self.gym is not None:
            return self.gym.recovery_of(self.sex)
        published = recovery_of_lifter(self.sex)
        return published.median, published.log_sd

    @property
    def usual_reserve_bias(self) -> tuple[float, float] | None:
        """Mean and sd of the reps that this gym's lifters have left beyond what is usual; None where it has none."""
        return None if self.gym is None or self.gym.stated_reserve is None else self.gym.stated_reserve.normal

    @property
    def untaught(self) -> Lifter:
        """The lifter without all that a log, or a coach, knew of endurance and recovery."""
        gone: dict[str, Any] = {
            "recovery_rate": None,
            "recovery_interval": None,
            "together": None,
            "learned": None,
            "lifts": {},
        }
        return self.model_copy(update=gone)

    @property
    def learned_sets(self) -> int:
        """Number of logged sets that the file holds already."""
        stamps = (stamp for days in (self.learned or {}).values() for stamp in days.values())
        return sum(int(stamp.partition(" ")[0]) for stamp in stamps)

    @property
    def of_all(self) -> dict[Quantity, Belief]:
        """What is believed of the lifter in all exercises alike, each on its own scale.

        First the part of endurance that all exercises share (in sds between lifters), and the natural logs of recovery
        rate and carry-over; then what else a log taught (see `Together`).
        """
        others = {} if self.together is None else {name: self.together.belief(name) for name in self.together.others}
        return {
            SHARED: others.pop("shared endurance", Belief.normal(0.0, 1.0)),
            RECOVERY: _stated(self.recovery_rate, self.recovery_interval, *self.usual_recovery),
            CARRIED: _stated(self.carry_over, self.carry_over_interval, 1.0, CARRY.log_sd),
            **{(ALL, name): belief for name, belief in others.items()},
        }

    def tiring(self, form: FatigueForm, values: Mapping[Quantity, FloatArray] | None = None) -> Any:
        """Return the lifter's own parameters of a fatigue form; None where the file has none of that form.

        Parameters
        ----------
        form : FatigueForm
        values : mapping of Quantity to array, shape (draws,), optional
            On the scales of `of_all`; the middles where not given.

        Returns
        -------
        The form's parameter dataclass, each field a float, or an array of shape (draws, 1); or None.
        """
        if self.together is None or self.together.form != form.name:
            return None
        if not set(form.parameter_names) <= set(self.together.others):
            return None
        if values is None:
            return type(form.parameters)(**{name: self.together.others[name][1] for name in form.parameter_names})
        drawn = {name: off_scale(name, values[ALL, name])[:, np.newaxis] for name in form.parameter_names}
        return type(form.parameters)(**drawn)

    def bend(self, curve: Curve, values: Mapping[Quantity, FloatArray] | None = None) -> FloatArray | float | None:
        """Return the bend of the anchored exponential, in the middle or of values as for `tiring`; None of others."""
        if self.together is None or BEND[1] not in self.together.others or curve.name != DEFAULT_CURVE.name:
            return None
        return self.together.others[BEND[1]][1] if values is None else values[BEND]

    def correlations(self, quantities: Sequence[Quantity]) -> FloatArray:
        """Correlations of the normal scores of some quantities; 0 where the file tells of none.

        Where no log taught anything, the recovery rate of an unknown lifter goes with endurance as in studies or in the
        gym.
        What the file tells holds between numbers with an interval only: one that was typed anew stands alone.
        """
        found = np.eye(len(quantities))
        if self.together is None:
            if self.recovery_rate is None and SHARED in quantities and RECOVERY in quantities:
                at = [quantities.index(SHARED), quantities.index(RECOVERY)]
                found[at, at[::-1]] = shared_tie() if self.gym is None else self.gym.tie
            return found
        told, matrix = self._told, self.together.matrix()
        inside = [number for number, name in enumerate(quantities) if self.goes_together(name)]
        rows = [told.index(quantities[number]) for number in inside]
        found[np.ix_(inside, inside)] = matrix[np.ix_(rows, rows)]
        return found

    def goes_together(self, quantity: Quantity) -> bool:
        """Whether the file tells how a quantity goes together with others, and keeps its 80 % interval."""
        if quantity not in self._told:
            return False
        exercise, kind = quantity
        if exercise == ALL:
            stated = {RECOVERY: self.recovery_interval, CARRIED: self.carry_over_interval}
            return stated.get(quantity, self.together) is not None
        lift = self._lift(exercise)
        return lift is not None and (lift.one_rm_interval if kind == "1RM" else lift.endurance_interval) is not None

    @property
    def _told(self) -> list[Quantity]:
        """The quantities of ``together``, by the names of the catalogue."""
        if self.together is None:
            return []
        found = [self._quantity(text) for text in self.together.quantities]
        twice = next(
            (text for text, name in zip(self.together.quantities, found, strict=True) if found.count(name) > 1), ""
        )
        if twice:
            raise InputError(None, "", f"names {twice!r} twice", "keep one, with its row of correlations")
        return found

    def _quantity(self, text: str) -> Quantity:
        exercise, comma, kind = text.rpartition(", ")
        of_lifter = (RECOVERY[1], CARRIED[1], *(self.together.others if self.together else ()))
        if not comma and kind in of_lifter:
            return ALL, kind
        if comma and kind in _OF_LIFT and self.catalogue.knows(exercise):
            return self.catalogue.exercise(exercise).name, kind
        remedy = f'write "back squat, 1RM", "back squat, endurance", or one of: {", ".join(of_lifter)}'
        raise InputError(None, "", f"{text[:60]!r} is no quantity of this lifter", remedy)

    def _lift(self, exercise: str) -> Lift | None:
        known = self.catalogue.knows
        wanted = self.catalogue.exercise(exercise).name if known(exercise) else exercise
        if wanted in self.lifts:
            return self.lifts[wanted]
        for written, lift in self.lifts.items():
            if known(written) and self.catalogue.exercise(written).name == wanted:
                return lift
        return None

    def knows(self, exercise: str) -> bool:
        """Whether the lifter has a 1RM for an exercise."""
        return self._lift(exercise) is not None

    def lift(self, exercise: str) -> Lift:
        """Return what is known of an exercise; InputError where the lifter has no 1RM for it."""
        found = self._lift(exercise)
        if found is not None:
            return found
        wanted = self.catalogue.exercise(exercise).name if self.catalogue.knows(exercise) else exercise
        hand = " of one hand and each_hand = true" if self.catalogue.hands_of(wanted) == 2 else ""
        raise InputError(
            None,
            f"lifter {self.name}",
            f"has no 1RM for {wanted}",
            f'add [lifts."{wanted}"] with one_rm_kg{hand}, or choose an exercise among: '
            f"{', '.join(self.lifts) or 'none yet'}",
        )


def _known_name(written: str, catalogue: Catalogue) -> str:
    try:
        return catalogue.exercise(written).name
    except InputError as error:
        raise ValueError(f"{written}: {error.problem}; {error.remedy}") from None


def read_lifter(path: str | Path, exercises: Catalogue | OwnFiles | None = None, *, gym_numbers: bool = True) -> Lifter:
    """Read a lifter from TOML.

    One whom no log taught starts from the numbers of the gym in whose folder the file lies, where it keeps any.

    Parameters
    ----------
    path : str or Path
        A lifter file, such as those of ``data/demo/lifters/``.
    exercises : Catalogue, or path or paths of own exercise files, optional
        The catalogue of the room, or files as for `workbench.gym.equipment.read_room`; those of a gym's folder are
        found by themselves.
    gym_numbers : bool
        False leaves those of the gym out.

    Returns
    -------
    Lifter
        1RMs [kg or lb as in the file; `Lift.one_rm` in kg], with what else is known.

    Raises
    ------
    InputError
        With file, place and remedy if the file cannot be used.
    """
    lifter = read_model(path, Lifter, catalogue_for(path, exercises))
    if not gym_numbers or lifter.gym is not None or lifter.together is not None:
        return lifter
    found = gym_prior_beside(path)
    return lifter if found is None or not found.used else lifter.model_copy(update={"gym": found})
