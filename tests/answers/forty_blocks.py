"""Forty invented blocks of ten kinds, from easy to too hard, for lifters who are known and who are not.

``python -m tests.answers.forty_blocks`` prints what is said first of each, to be read side by side as a coach would.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from tests.hand_made import hall, lifter_of
from workbench.answers.block_check import check_block
from workbench.answers.mend import mends
from workbench.lifter import Lifter
from workbench.prescription.block import Block
from workbench.reference.toml_files import validate

#: How hard a block is: points of percent beside what is usual for its kind.
HARDNESS = {"easy": -12.0, "right": 0.0, "too hard": 10.0}
#: Which of them are looked at, for lifters known and unknown.
CASES = (("easy", "unknown"), ("right", "known"), ("right", "unknown"), ("too hard", "known"))

_ONE_RM = {
    "back squat": 140,
    "bench press": 100,
    "barbell bench pull": 90,
    "Romanian deadlift": 130,
    "leg press": 260,
    "lat pulldown": 85,
    "seated cable row": 90,
    "dumbbell curl": 40,
    "overhead press": 60,
    "leg extension": 90,
}
LIFTERS: dict[str, Lifter] = {
    "unknown": lifter_of(_ONE_RM, name="Unknown"),
    "known": lifter_of(
        _ONE_RM,
        each={"reps_at": {"percent": 75, "reps": 11}, "uncertainty_percent": 2.5},
        recovery_rate=1.0,
        name="Known",
    ),
}


def _step(step: float) -> dict[str, Any]:
    return {"rule": "step", "step": step}


def _kinds(points: float) -> dict[str, tuple[int, list[dict[str, Any]]]]:
    """Weeks and sessions of each kind, so many points heavier than usual."""

    def group(count: int, reps: Any, percent: float, rest_s: float, **more: Any) -> dict[str, Any]:
        return {"count": count, "reps": reps, "percent": percent + points, "rest_s": rest_s, **more}

    def one(exercise: str, *groups: dict[str, Any], **more: Any) -> dict[str, Any]:
        return {"name": "Monday", "exercises": [{"exercise": exercise, "sets": list(groups), **more}]}

    wave = {"rule": "wave", "length": 3, "step": 5, "rise": 2.5}
    ladder = {"rule": "reps then load", "reps_to": 12, "step": 5}
    drops = {"sizes": [20], "reps": 5, "change_s": 12}
    back_off = {"count": 3, "reps": 6, "part_of_group": 1, "part": 0.85, "rest_s": 150}
    fives = one("bench press", group(5, 5, 70, 150, progression=_step(2.5)))
    mixed = [
        {"exercise": "bench press", "sets": [group(4, 6, 67, 90)], "alternate_with_next": True},
        {"exercise": "barbell bench pull", "sets": [group(4, 8, 62, 90)]},
        {"exercise": "lat pulldown", "sets": [{"count": 2, "reps": [8, 12], "reps_in_reserve": 2, "rest_s": 90}]},
        {"exercise": "leg extension", "sets": [{"count": 2, "reps": "failure", "percent": 60, "rest_s": 90}]},
    ]
    return {
        "wave": (6, [one("back squat", group(4, 5, 70, 180, progression=wave))]),
        "fives": (4, [fives]),
        "top set and back-offs": (4, [one("back squat", group(1, 3, 84, 240, progression=_step(2)), back_off)]),
        "drops": (3, [one("seated cable row", group(3, 8, 66, 180, drops=drops))]),
        "high reps": (4, [one("leg extension", group(3, 20, 48, 90, progression=_step(1)))]),
        "reps, then load": (5, [one("leg press", group(3, 8, 68, 120, progression=ladder))]),
        "short rests": (4, [one("barbell bench pull", group(6, 6, 58, 60, progression=_step(2)))]),
        "heavy doubles": (4, [one("Romanian deadlift", group(4, 2, 84, 210, progression=_step(1.5)))]),
        "undulating": (4, [fives, {"name": "Thursday", "repeat_of": "Monday", "percent_change": -5, "reps_change": 2}]),
        "alternating, to failure, to a reserve": (3, [{"name": "Monday", "exercises": mixed}]),
    }


def forty_blocks(*, important: bool = False) -> Iterator[tuple[str, str, str, Block]]:
    """Kind, hardness, whether the lifter is known, and the block of every case; all of it marked as important."""
    for hardness, who in CASES:
        for kind, (weeks, sessions) in _kinds(HARDNESS[hardness]).items():
            for slot in (slot for session in sessions for slot in session.get("exercises", ())):
                slot["important"] = important
            content = {"name": f"{kind}, {hardness}", "weeks": weeks, "sessions": sessions}
            yield kind, hardness, who, validate(content, Block)


def main() -> None:
    """Print what is said first of every block."""
    room = hall()
    for _, _, who, block in sorted(forty_blocks(), key=lambda case: case[0]):
        check = check_block(block, LIFTERS[who], room)
        print("\n".join([*check.sentences(), *mends(check).sentences()]), end="\n\n")


if __name__ == "__main__":
    main()
