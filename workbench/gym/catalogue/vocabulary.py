"""The words that describe an exercise, and the exercise itself."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Final, Literal, TypeVar, get_args

from pydantic import BeforeValidator, TypeAdapter

from workbench.quantities import EnduranceClass, Grade
from workbench.reference.sources import read_rows

__all__ = [
    "IMPLEMENTS",
    "MOVEMENT_PATTERNS",
    "MUSCLES",
    "Exercise",
    "Implement",
    "MovementPattern",
    "Muscle",
    "MuscleShare",
    "Parts",
    "Sides",
    "shipped",
]

RowT = TypeVar("RowT")

Implement = Literal[
    "barbell", "dumbbells", "dumbbell", "stack", "kettlebell", "machine plates", "plate", "bodyweight", "band"
]
Sides = Literal["two-sided", "one-sided"]
MovementPattern = Literal[
    "squat",
    "hinge",
    "lunge",
    "horizontal press",
    "vertical press",
    "horizontal pull",
    "vertical pull",
    "elbow flexion",
    "elbow extension",
    "shoulder raise",
    "shoulder rotation",
    "shrug",
    "fly",
    "knee extension",
    "knee flexion",
    "hip extension",
    "hip abduction and adduction",
    "calf",
    "trunk",
    "carry",
    "explosive pull",
    "wrist",
]
Muscle = Literal[
    "quadriceps",
    "hamstrings",
    "glutes",
    "adductors",
    "hip abductors",
    "calves",
    "spinal erectors",
    "abdominals",
    "chest",
    "front shoulder",
    "side shoulder",
    "rear shoulder",
    "rotator cuff",
    "upper back",
    "latissimus",
    "biceps",
    "triceps",
    "forearms",
]

IMPLEMENTS: Final[tuple[Implement, ...]] = get_args(Implement)
MOVEMENT_PATTERNS: Final[tuple[MovementPattern, ...]] = get_args(MovementPattern)
#: "biceps" stands for all elbow flexors, "abdominals" for the front and the sides of the trunk, "upper back" for the
#: trapezius and rhomboids, "glutes" for the hip extensors and "hip abductors" for the muscles at the side of the hip.
MUSCLES: Final[tuple[Muscle, ...]] = get_args(Muscle)


def _parts(text: object) -> object:
    return tuple(part.strip() for part in text.split(";") if part.strip()) if isinstance(text, str) else text


#: Names with ``;`` between them in a CSV file.
Parts = Annotated[tuple[str, ...], BeforeValidator(_parts)]


def shipped(kind: type[RowT], file: str) -> list[RowT]:
    """Rows of a shipped CSV file as values of a dataclass, whose annotations say what each column holds."""
    as_annotated = TypeAdapter(kind).validate_python
    return [as_annotated(row) for row in read_rows(file)]


@dataclass(frozen=True)
class MuscleShare:
    """How much of a set of an exercise counts for one muscle, and why.

    ``share``, in (0, 1], is 1 where the muscle is trained directly, 0.5 where indirectly and nothing better is known;
    ``source`` is a key of ``data/sources.csv``; the reason may be empty for direct muscles.
    """

    muscle: Muscle
    share: float
    grade: Grade
    source: str
    reason: str = ""


@dataclass(frozen=True)
class Exercise:
    """One exercise of the catalogue.

    Attributes
    ----------
    movement_pattern, implement, sides, endurance_class : str
        Each one of a fixed list (see the types of those names). One ``implement`` "dumbbells" means two of them, and
        load is then the mass of both.
    equipment : tuple of str
        What the room needs besides the implement.
    range_of_motion : str
        The usual range, in a few words.
    joint_positions : tuple of str
        Positions that call for caution; keys of ``joint_positions()``.
    setup_s, change_load_s, seconds_per_rep : float, [s]
        To get to the place and set it up, without loading; to change the load between sets; typical for a rep, of a
        one-sided exercise on each side.
    body_mass_share : float, [1]
        Part of body mass that counts as load in a bodyweight exercise, 0 in all others; with a source of its own.
    source, grade : str
        Of everything in the row that has no source of its own.
    limited_by : str
        What gives out before the muscles that the exercise is done for; a key of ``limiters()``, or empty.
    reach : float, (0, 1]
        Rough part of the load that those muscles get, of what they could take in the same movement; else 1.
    muscles, aliases : tuple
        Shares, direct muscles first; other spellings that mean this exercise and no other.
    """

    name: str
    movement_pattern: MovementPattern
    implement: Implement
    sides: Sides
    equipment: Parts
    endurance_class: EnduranceClass
    range_of_motion: str
    joint_positions: Parts
    setup_s: float
    change_load_s: float
    seconds_per_rep: float
    body_mass_share: float
    source: str
    grade: Grade
    body_mass_source: str = ""
    body_mass_grade: Grade | Literal[""] = ""
    limited_by: str = ""
    reach: float = 1.0
    muscles: tuple[MuscleShare, ...] = ()
    aliases: tuple[str, ...] = ()

    @property
    def hands(self) -> int:
        """In how many hands the load is halved, and spoken of by one: 2 for two dumbbells, else 1."""
        return 2 if self.implement == "dumbbells" else 1

    @property
    def direct_muscles(self) -> tuple[Muscle, ...]:
        """The muscles with a share of 1."""
        return tuple(part.muscle for part in self.muscles if part.share == 1.0)
