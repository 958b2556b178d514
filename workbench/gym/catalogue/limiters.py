"""What limits the load of an exercise besides the muscles it trains, and what one exercise keeps of another."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType
from typing import cast

from workbench.gym.catalogue.vocabulary import Exercise
from workbench.quantities import Grade
from workbench.reference.sources import read_rows

__all__ = ["Limiter", "kept_part", "limiters", "reach_of"]


@dataclass(frozen=True)
class Limiter:
    """Something that gives out before the muscles that an exercise is done for.

    Attributes
    ----------
    name : str
        As in ``Exercise.limited_by``.
    spares : tuple of str
        Muscles that do the limiting: they get their full load.
    words : str
        A clause that says it.
    source, grade : str
    """

    name: str
    spares: tuple[str, ...]
    words: str
    source: str
    grade: Grade


@cache
def limiters() -> Mapping[str, Limiter]:
    """All limiters by name."""
    return MappingProxyType(
        {
            row["name"]: Limiter(
                name=row["name"],
                spares=tuple(muscle for muscle in row["spares"].split(";") if muscle),
                words=row["words"],
                source=row["source"],
                grade=cast("Grade", row["grade"]),
            )
            for row in read_rows("limiters.csv")
        }
    )


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
