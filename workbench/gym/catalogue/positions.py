"""Joint positions that call for caution, and the cautions: short, plain, never a diagnosis."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType
from typing import Literal, cast

from workbench.gym.catalogue.vocabulary import Exercise
from workbench.quantities import Grade
from workbench.reference.sources import read_rows

__all__ = ["Caution", "JointPosition", "cautions", "cautions_for", "general_cautions", "joint_positions"]


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
def joint_positions() -> Mapping[str, JointPosition]:
    """Positions that call for caution, by name."""
    rows = read_rows("joint_positions.csv")
    return MappingProxyType(
        {row["position"]: JointPosition(row["position"], row["joint"], row["meaning"]) for row in rows}
    )


@cache
def cautions() -> Mapping[str, Caution]:
    """All cautions by topic."""
    return MappingProxyType(
        {
            row["topic"]: Caution(
                topic=row["topic"],
                kind=cast("Literal['general', 'situation', 'position']", row["kind"]),
                show=cast("Literal['always', 'on request']", row["show"]),
                sentence=row["sentence"],
                who_to_see=row["who_to_see"],
                source=row["source"],
                grade=cast("Grade", row["grade"]),
            )
            for row in read_rows("cautions.csv")
        }
    )


def general_cautions() -> tuple[Caution, ...]:
    """Cautions that hold for any training, in the order to show them."""
    return tuple(one for one in cautions().values() if one.kind == "general")


def cautions_for(chosen: Iterable[Exercise]) -> dict[Caution, tuple[str, ...]]:
    """Cautions of the joint positions in some exercises, each once, with the names of the exercises it concerns."""
    found: dict[Caution, tuple[str, ...]] = {}
    for one in chosen:
        for position in one.joint_positions:
            caution = cautions()[position]
            found[caution] = tuple(dict.fromkeys((*found.get(caution, ()), one.name)))
    return found
