"""What exercises have in common beside their muscles: what limits their load, joint positions, and cautions.

Cautions are short and plain, never a diagnosis.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType
from typing import Literal

from workbench.gym.catalogue.vocabulary import Exercise, Parts, shipped
from workbench.quantities import Grade

__all__ = [
    "Caution",
    "JointPosition",
    "Limiter",
    "cautions",
    "cautions_for",
    "general_cautions",
    "joint_positions",
    "kept_part",
    "limiters",
    "reach_of",
]


@dataclass(frozen=True)
class Limiter:
    """Something that gives out before the muscles that an exercise is done for.

    ``name`` is as in ``Exercise.limited_by``, ``words`` a clause that says it. ``spares`` are the muscles that do the
    limiting: they get their full load.
    """

    name: str
    spares: Parts
    words: str
    source: str
    grade: Grade


@dataclass(frozen=True)
class JointPosition:
    """A position that calls for caution, the joint it concerns, and what is meant by it."""

    name: str
    joint: str
    meaning: str


@dataclass(frozen=True)
class Caution:
    """One short caution: it never judges a complaint, and says whom to ask.

    ``kind`` is "general" (for any training), "situation" (``topic`` says which: maximal singles, more volume, ...) or
    "position" (``topic`` is then a joint position). ``show`` is "always" where the caution belongs on the page, and
    "on request" where it is enough on hover or when the lifter avoids that position: a page of cautions is not read.
    """

    topic: str
    kind: Literal["general", "situation", "position"]
    show: Literal["always", "on request"]
    sentence: str
    who_to_see: str
    source: str
    grade: Grade


@cache
def limiters() -> Mapping[str, Limiter]:
    """All limiters by name."""
    return MappingProxyType({limiter.name: limiter for limiter in shipped(Limiter, "limiters.csv")})


@cache
def joint_positions() -> Mapping[str, JointPosition]:
    """Positions that call for caution, by name."""
    return MappingProxyType({position.name: position for position in shipped(JointPosition, "joint_positions.csv")})


@cache
def cautions() -> Mapping[str, Caution]:
    """All cautions by topic."""
    return MappingProxyType({caution.topic: caution for caution in shipped(Caution, "cautions.csv")})


def general_cautions() -> tuple[Caution, ...]:
    """Cautions that hold for any training, in the order to show them."""
    return tuple(caution for caution in cautions().values() if caution.kind == "general")


def cautions_for(chosen: Iterable[Exercise]) -> dict[Caution, tuple[str, ...]]:
    """Cautions of the joint positions in some exercises, each once, with the names of the exercises it concerns."""
    found: dict[Caution, tuple[str, ...]] = {}
    for exercise in chosen:
        for position in exercise.joint_positions:
            caution = cautions()[position]
            found[caution] = tuple(dict.fromkeys((*found.get(caution, ()), exercise.name)))
    return found


def reach_of(exercise: Exercise, muscle: str) -> float:
    """Part of the load that a muscle could take in this movement and really gets, (0, 1]; 1 where nothing limits it."""
    spared = not exercise.limited_by or muscle in limiters()[exercise.limited_by].spares
    return 1.0 if spared else exercise.reach


def kept_part(wanted: Exercise, instead: Exercise) -> float:
    """Part of the muscle shares of one exercise that another keeps, at the load that can reach the muscles.

    All of it only where the other also trains little else and nothing limits it more: the sum of the lower shares over
    the sum of the higher ones, each share of the other times how much less of the load reaches the muscle. 0 where no
    muscle is trained directly by both.

    >>> from workbench.gym.catalogue import exercise
    >>> kept_part(exercise("goblet squat"), exercise("kettlebell goblet squat"))
    1.0
    """
    if not set(wanted.direct_muscles) & set(instead.direct_muscles):
        return 0.0
    before = {part.muscle: part.share for part in wanted.muscles}
    after = {part.muscle: part.share for part in instead.muscles}
    low = high = 0.0
    for muscle in before.keys() | after.keys():
        share, other = before.get(muscle, 0.0), after.get(muscle, 0.0)
        reach = min(1.0, reach_of(instead, muscle) / reach_of(wanted, muscle))
        low += min(share, other * reach)
        high += max(share, other)
    return low / high
