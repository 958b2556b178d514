"""The lifter: maxes, endurance, recovery, and what to leave out, as read from TOML."""

from __future__ import annotations

import datetime
import difflib
from pathlib import Path
from typing import Annotated, Literal

from pydantic import AfterValidator, Field, ValidationInfo, field_validator, model_validator

from workbench.gym.catalogue import Catalogue, NamesExercises, OwnFiles, built_in, catalogue_for, joint_positions
from workbench.models.load_reps import DEFAULT_CURVE, Curve
from workbench.quantities import KG_PER_LB, InputError
from workbench.reference.toml_files import Number, Strict, read_model

__all__ = ["Lift", "Lifter", "RepsAtPercent", "read_lifter"]


def _iso_date(text: str) -> str:
    try:
        datetime.date.fromisoformat(text)
    except ValueError:
        raise ValueError(f"{text!r} is not a date; write it as 2026-01-31") from None
    return text


#: Number of sets of one exercise on one day, and a digest of what they were.
LearnedSets = Annotated[str, Field(pattern=r"^[1-9]\d* sets?, [0-9a-f]{12}$")]


class RepsAtPercent(Strict):
    """Reps to failure that the lifter makes, fresh, at a percent of 1RM."""

    percent: Annotated[Number, Field(ge=30, le=97.5)]
    reps: Annotated[Number, Field(gt=1, le=100)]


class Lift(Strict):
    """What is known of one exercise: the 1RM with its uncertainty, and endurance where it is known.

    For moves against body mass the 1RM is the whole mass lifted: the part of the body that counts, and what is added.
    For two dumbbells ``each_hand`` says whether the number is that of one hand (true) or of both together (false).

    Attributes
    ----------
    one_rm_kg, one_rm_lb : float, [kg] or [lb], > 0
        Exactly one of them.
    each_hand : bool or None
    uncertainty_percent : float, [%], 0 to 40
        Standard deviation of what is believed of the 1RM.
    endurance : float or None, [1/rep], 0.003 to 0.3
        Or ``reps_at``, not both.
    reps_at : RepsAtPercent or None
    tested : date or None
    note : str
    """

    one_rm_kg: Annotated[Number, Field(gt=0, le=1000)] | None = None
    one_rm_lb: Annotated[Number, Field(gt=0, le=2200)] | None = None
    each_hand: bool | None = None
    uncertainty_percent: Annotated[Number, Field(ge=0, le=40)] = 4.0
    endurance: Annotated[Number, Field(ge=0.003, le=0.3)] | None = None
    reps_at: RepsAtPercent | None = None
    tested: datetime.date | None = None
    note: str = ""

    @model_validator(mode="after")
    def _one_of_each(self) -> Lift:
        if (self.one_rm_kg is None) == (self.one_rm_lb is None):
            raise ValueError("the 1RM is given in neither or both units; give exactly one of one_rm_kg, one_rm_lb")
        if self.endurance is not None and self.reps_at is not None:
            raise ValueError("endurance is given twice; give endurance or reps_at, not both")
        return self

    @property
    def one_rm(self) -> float:
        """The believed 1RM, kg; of two dumbbells that of both together."""
        kg = self.one_rm_kg if self.one_rm_kg is not None else float(self.one_rm_lb or 0.0) * KG_PER_LB
        return 2.0 * kg if self.each_hand else kg

    @property
    def known_endurance(self) -> float | None:
        """The lifter's own endurance, 1/rep, or None where only the exercise class is known."""
        return self.endurance_on(DEFAULT_CURVE)

    def endurance_on(self, curve: Curve) -> float | None:
        """Return the same where reps go by another curve."""
        if self.reps_at is not None:
            return float(curve.endurance_from(self.reps_at.percent / 100.0, self.reps_at.reps))
        return self.endurance


class Lifter(NamesExercises):
    """One lifter.

    Attributes
    ----------
    name, note : str
    sex : {"female", "male"} or None
    body_mass_kg : float or None, [kg], 25 to 300
    training_years : float or None, [years], 0 to 80
    recovery_rate : float or None, [1], 0.2 to 5
        How fast this lifter recovers; 1 is average, 2 twice as fast.
    carry_over : float or None, [1], 0.2 to 5
        How strongly exercises that share muscles tire each other; 1 is average.
    test_maximum : bool
        Whether a test to the maximum may be proposed.
    avoid_positions, avoid_exercises : list of str
    lifts : dict of str to Lift
        What is known of each exercise, by its name.
    learned : dict or None
        The logged sets that these numbers hold already: for each exercise and date their number and a digest;
        `workbench.fit` writes it and skips those sets.
    """

    name: str = Field(min_length=1, max_length=80)
    note: str = ""
    sex: Literal["female", "male"] | None = None
    body_mass_kg: Annotated[Number, Field(ge=25, le=300)] | None = None
    training_years: Annotated[Number, Field(ge=0, le=80)] | None = None
    recovery_rate: Annotated[Number, Field(ge=0.2, le=5)] | None = None
    carry_over: Annotated[Number, Field(ge=0.2, le=5)] | None = None
    test_maximum: bool = False
    avoid_positions: list[str] = []
    avoid_exercises: list[str] = []
    lifts: dict[str, Lift] = Field(min_length=1)
    learned: dict[str, dict[Annotated[str, AfterValidator(_iso_date)], LearnedSets]] | None = None

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
            self.catalogue.check_each_hand(name, self.lifts[written].each_hand, "one_rm_kg or one_rm_lb")
        return self

    def lift(self, exercise: str) -> Lift:
        """Return what is known of an exercise; InputError where the lifter has no 1RM for it."""
        known = self.catalogue.knows
        wanted = self.catalogue.exercise(exercise).name if known(exercise) else exercise
        for written, lift in self.lifts.items():
            if written == wanted or (known(written) and self.catalogue.exercise(written).name == wanted):
                return lift
        hand = " of one hand and each_hand = true" if self.catalogue.hands_of(wanted) == 2 else ""
        raise InputError(
            None,
            f"lifter {self.name}",
            f"has no 1RM for {wanted}",
            f'add [lifts."{wanted}"] with one_rm_kg{hand}, or choose an exercise among: {", ".join(self.lifts)}',
        )


def _known_name(written: str, catalogue: Catalogue) -> str:
    try:
        return catalogue.exercise(written).name
    except InputError as error:
        raise ValueError(f"{written}: {error.problem}; {error.remedy}") from None


def read_lifter(path: str | Path, exercises: Catalogue | OwnFiles | None = None) -> Lifter:
    """Read a lifter from TOML.

    Parameters
    ----------
    path : str or Path
        A lifter file, such as those of ``data/demo/lifters/``.
    exercises : Catalogue, or path or paths of own exercise files, optional
        The catalogue of the room, or files as for `workbench.gym.equipment.read_room`; those of a gym's folder are
        found by themselves.

    Returns
    -------
    Lifter
        1RMs [kg or lb as in the file; `Lift.one_rm` in kg], with what else is known.

    Raises
    ------
    InputError
        With file, place and remedy if the file cannot be used.
    """
    return read_model(path, Lifter, catalogue_for(path, exercises))
