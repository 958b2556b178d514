"""What several commands ask for alike: whole numbers in a range, the lifter, the room, draws and seed."""

from __future__ import annotations

import argparse
import datetime
import math
from collections.abc import Callable
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from workbench.gym.equipment import Room
    from workbench.lifter import Lifter

from workbench.quantities import SEED

#: Years in which somebody may train.
FIRST_YEAR, LAST_YEAR = 1900, 2200
#: Shown of what cannot be used.
_LONGEST = 60

__all__ = [
    "CLOSING",
    "FIRST_YEAR",
    "LAST_YEAR",
    "add_lifter_and_room",
    "add_own_exercises",
    "add_replace",
    "add_room",
    "add_simulation",
    "date",
    "lifter_and_room",
    "monday",
    "positive",
    "room_of",
    "whole",
]

#: The last lines under every answer that someone could act on.
CLOSING = (
    "A prediction for healthy, experienced adults with a qualified coach; it clears nobody to train.\n"
    "Spotters or safety arms for sets near failure. Stop on pain."
)


def whole(low: int, high: int) -> Callable[[str], int]:
    """Return a reader of whole numbers from ``low`` to ``high`` that explains what is wrong."""

    def read(text: str) -> int:
        try:
            value = int(text)
        except ValueError:
            raise argparse.ArgumentTypeError(f"{_shown(text)} is not a whole number") from None
        if not low <= value <= high:
            raise argparse.ArgumentTypeError(f"{_shown(text)} is out of range; use {low} to {high}")
        return value

    return read


def positive(low: float, high: float) -> Callable[[str], float]:
    """Return a reader of numbers from ``low`` to ``high`` that explains what is wrong."""

    def read(text: str) -> float:
        try:
            value = float(text)
        except ValueError:
            raise argparse.ArgumentTypeError(f"{_shown(text)} is not a number") from None
        if math.isnan(value):
            raise argparse.ArgumentTypeError(f"{_shown(text)} is not a number")
        if not low <= value <= high:
            raise argparse.ArgumentTypeError(f"{value:g} is out of range; use {low:g} to {high:g}")
        return value

    return read


def add_lifter_and_room(parser: argparse.ArgumentParser) -> None:
    """Add the files of one lifter and one room."""
    parser.add_argument("--lifter", required=True, metavar="FILE", help="lifter file (TOML)")
    add_room(parser)


def add_room(parser: argparse.ArgumentParser) -> None:
    """Add the file of a room and those of own exercises."""
    parser.add_argument("--room", required=True, metavar="FILE", help="room file (TOML)")
    add_own_exercises(parser)


def add_simulation(parser: argparse.ArgumentParser, *, draws: int = 2000) -> None:
    """Add the number of draws and the seed."""
    parser.add_argument(
        "--draws", type=whole(10, 100_000), default=draws, metavar="N", help=f"simulated runs (default {draws})"
    )
    parser.add_argument(
        "--seed",
        type=whole(0, 2**63 - 1),
        default=SEED,
        metavar="N",
        help=f"the same seed gives the same digits (default {SEED})",
    )


def add_replace(parser: argparse.ArgumentParser) -> None:
    """Add the leave to write over a file that is there."""
    parser.add_argument("--replace", action="store_true", help="write over files that are there already")


def add_own_exercises(parser: argparse.ArgumentParser) -> None:
    """Add the files of a coach's own exercises."""
    parser.add_argument(
        "--own",
        action="append",
        default=[],
        metavar="FILE",
        help="a file of own exercises (TOML); may be given again; those in exercises/ of the gym's folder are found",
    )


def room_of(arguments: argparse.Namespace) -> Room:
    """Read the room with the own exercises that were asked for."""
    from workbench.gym.equipment import read_room

    return read_room(arguments.room, getattr(arguments, "own", None))


def lifter_and_room(arguments: argparse.Namespace) -> tuple[Lifter, Room]:
    """Read the lifter and the room; the lifter may name what is done in the room."""
    from workbench.lifter import read_lifter

    room = room_of(arguments)
    return read_lifter(arguments.lifter, room.catalogue), room


def monday(text: str) -> datetime.date:
    """Read the date of a Monday, or name the one that is meant."""
    found = date(text)
    if found.weekday():
        meant = found - datetime.timedelta(days=found.weekday())
        raise argparse.ArgumentTypeError(f"{text} is a {found:%A}; give the Monday of the first week, as {meant}")
    return found


def date(text: str) -> datetime.date:
    """Read a date as 2026-01-05, or explain how to write it."""
    try:
        found = datetime.date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{_shown(text)} is not a date; write it as 2026-01-05") from None
    if not FIRST_YEAR <= found.year <= LAST_YEAR:
        raise argparse.ArgumentTypeError(f"{text} is out of range; use a year from {FIRST_YEAR} to {LAST_YEAR}")
    return found


def _shown(text: str) -> str:
    return repr(text if len(text) <= _LONGEST else f"{text[:_LONGEST]}...")
