"""A coach's own exercises, as read from TOML."""

from __future__ import annotations

import difflib
from pathlib import Path
from typing import Annotated, Any

from pydantic import Field, ValidationInfo, field_validator, model_validator

from workbench.gym.catalogue.traits import joint_positions, limiters
from workbench.gym.catalogue.vocabulary import (
    Exercise,
    Implement,
    MovementPattern,
    Muscle,
    MuscleShare,
    Sides,
)
from workbench.quantities import EnduranceClass
from workbench.reference.toml_files import Number, Strict, read_model

__all__ = ["OwnExercise", "OwnExercises", "read_own_exercises"]

_SOURCE = "own_exercise_file"


class OwnExercise(Strict):
    """One exercise of the coach's own.

    ``muscles`` gives the share of each muscle: 1 for a muscle that the exercise trains directly, 0.5 for one that
    helps. Times are in seconds; ``body_mass_share`` is the part of body mass that is lifted, for bodyweight only.
    ``limited_by`` names what gives out before those muscles (grip, balance, ...), and ``reach`` the part of the load
    that they still get.
    """

    name: str = Field(min_length=1, max_length=80)
    movement_pattern: MovementPattern
    implement: Implement
    sides: Sides = "two-sided"
    equipment: list[str] = Field(default=[], max_length=10)
    endurance_class: EnduranceClass = "other"
    range_of_motion: str = Field(default="", max_length=200)
    joint_positions: list[str] = Field(default=[], max_length=20)
    setup_s: Annotated[Number, Field(ge=0, le=900)] = 30.0
    change_load_s: Annotated[Number, Field(ge=0, le=300)] = 20.0
    seconds_per_rep: Annotated[Number, Field(ge=0.5, le=30)] = 3.0
    body_mass_share: Annotated[Number, Field(ge=0, le=1)] = 0.0
    limited_by: str = ""
    reach: Annotated[Number, Field(gt=0, le=1)] = 1.0
    muscles: dict[Muscle, Annotated[Number, Field(gt=0, le=1)]] = Field(min_length=1)
    aliases: list[str] = Field(default=[], max_length=40)

    @field_validator("joint_positions")
    @classmethod
    def _known_positions(cls, value: list[str]) -> list[str]:
        for position in value:
            if position not in joint_positions():
                close = difflib.get_close_matches(position, joint_positions(), n=3, cutoff=0.4)
                choice = " or ".join(close or joint_positions())
                raise ValueError(f"{position[:60]!r} is no known joint position; use {choice}")
        return value

    @field_validator("muscles")
    @classmethod
    def _one_direct(cls, value: dict[Muscle, float]) -> dict[Muscle, float]:
        if 1.0 not in value.values():
            raise ValueError("no muscle is trained directly; give at least one muscle the share 1")
        return value

    @field_validator("body_mass_share")
    @classmethod
    def _only_bodyweight(cls, value: float, info: ValidationInfo) -> float:
        implement = info.data.get("implement")
        if value > 0 and implement is not None and implement != "bodyweight":
            raise ValueError(
                f'a share of body mass does not go with {implement}; use implement = "bodyweight" or leave it out'
            )
        return value

    @field_validator("limited_by")
    @classmethod
    def _known_limiter(cls, value: str) -> str:
        if value and value not in limiters():
            raise ValueError(f"unknown limit {value[:60]!r}; use one of: {', '.join(limiters())}, or leave it out")
        return value

    @model_validator(mode="after")
    def _limit_and_reach(self) -> OwnExercise:
        if bool(self.limited_by) != (self.reach < 1):
            raise ValueError("what limits it and how far it reaches go together; give limited_by and a reach below 1")
        return self

    @classmethod
    def of(cls, exercise: Exercise) -> OwnExercise:
        """Return an exercise that came from such a file as it would be written there."""
        known = {name: getattr(exercise, name) for name in cls.model_fields if name != "muscles"}
        lists = {name: list(value) for name, value in known.items() if isinstance(value, tuple)}
        return cls(**{**known, **lists, "muscles": {part.muscle: part.share for part in exercise.muscles}})

    def as_exercise(self) -> Exercise:
        """Return it as an exercise of the catalogue, graded as assumed."""
        parts = [MuscleShare(muscle, share, "assumed", _SOURCE) for muscle, share in self.muscles.items()]
        known: dict[str, Any] = {name: tuple(value) if isinstance(value, list) else value for name, value in self}
        known |= {
            "name": " ".join(self.name.split()),
            "muscles": tuple(sorted(parts, key=lambda part: -part.share)),
            "source": _SOURCE,
            "grade": "assumed",
        }
        if self.body_mass_share:
            known |= {"body_mass_source": _SOURCE, "body_mass_grade": "assumed"}
        return Exercise(**known)


class OwnExercises(Strict):
    """The whole file: one ``[[exercises]]`` table for each exercise."""

    exercises: list[OwnExercise] = Field(min_length=1, max_length=500)


def read_own_exercises(path: str | Path) -> tuple[Exercise, ...]:
    """Read the file by itself; ``workbench.gym.catalogue.catalogue_for`` also checks it against the catalogue."""
    return tuple(own.as_exercise() for own in read_model(path, OwnExercises).exercises)
