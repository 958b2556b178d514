"""What commands are made of: a description as data, readers of numbers and dates, and answers printed or as JSON."""

from __future__ import annotations

import argparse
import datetime
import importlib
import json
import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager, suppress
from operator import methodcaller
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from workbench.present.words import in_words
from workbench.quantities import InputError

if TYPE_CHECKING:
    import pandas as pd

    from workbench.gym.equipment import Room
    from workbench.lifter import Lifter
    from workbench.prescription.block import Block

__all__ = [
    "CLOSING",
    "FIRST_YEAR",
    "LAST_YEAR",
    "Adder",
    "Command",
    "argument",
    "date",
    "each",
    "grouped",
    "lifter_and_room",
    "monday",
    "number",
    "room_of",
    "said_of_file",
    "show",
    "whole",
]

#: Years in which somebody may train.
FIRST_YEAR, LAST_YEAR = 1900, 2200
#: Shown of what cannot be used, characters.
_LONGEST: Final = 60

#: The last lines under every answer that someone could act on.
CLOSING: Final = (
    "A prediction for healthy, experienced adults with a qualified coach; it clears nobody to train.\n"
    "Spotters or safety arms for sets near failure. Stop on pain.\n"
    "Minors, pregnancy, illness, injury, medicine: ask a licensed professional first.\n"
    "The facility's rules and local codes come first."
)


#: What adds an argument, or a group of them, to a parser.
Adder = Callable[[argparse._ActionsContainer], object]


def argument(
    shape: str, help_text: str, read: Callable[[str], Any] | None = None, *, repeated: bool = False, **told: Any
) -> Adder:
    """Describe an argument by its shape in the help, what it is for, and what reads its text.

    ``block BLOCK`` is an argument called block; ``-o --output FILE`` an option with a value; ``--json`` a flag, unless
    there are ``choices``. One that may be ``repeated`` gives the list of all its values, empty without any.
    """
    words = shape.split()
    names = tuple(word for word in words if word.startswith("-")) or (words[0],)
    if words[len(names) :]:
        told["metavar"] = words[-1]
    elif "choices" not in told:
        told["action"] = "store_true"
    if repeated:
        told |= {"action": "append", "default": []}
    if read is not None:
        told["type"] = read
    return methodcaller("add_argument", *names, help=help_text, **told)


def grouped(title: str, description: str | None, *arguments: Adder) -> Adder:
    """Let options stand together in the help."""

    def add(parser: argparse._ActionsContainer) -> None:
        group = parser.add_argument_group(title, description)
        for option in arguments:
            option(group)

    return add


class Command:
    """One command: what its help says, what it takes, and the function that does it.

    ``where`` names module and function within `workbench.commands`, imported when the command runs; a command with
    ``actions`` has none of its own.
    """

    def __init__(
        self,
        name: str,
        help_text: str,
        description: str | None,
        where: str,
        *arguments: Adder,
        actions: Sequence[Command] = (),
        epilog: str | None = None,
    ) -> None:
        self.name, self.where, self.arguments, self.actions = name, where, arguments, actions
        self.told = {"help": help_text, "description": description, "epilog": epilog}

    def add_to(self, subparsers: Any) -> None:
        """Add the command's parser."""
        parser: argparse.ArgumentParser = subparsers.add_parser(self.name, **self.told)
        for add in self.arguments:
            add(parser)
        if self.actions:
            below = parser.add_subparsers(title="actions", metavar="ACTION", required=True)
            for action in self.actions:
                action.add_to(below)
        else:
            parser.set_defaults(run=self.run)

    def run(self, arguments: argparse.Namespace) -> int:
        """Do it; return the exit code."""
        module, function = self.where.split(":")
        return int(getattr(importlib.import_module(f"workbench.commands.{module}"), function)(arguments))


def show(
    arguments: argparse.Namespace, content: Callable[..., object], lines: Callable[..., Iterable[str]], *answer: Any
) -> None:
    """Print an answer: as JSON what ``content`` makes of it, where that is asked for, else its ``lines``."""
    if arguments.json:
        print(json.dumps(content(*answer), indent=2, allow_nan=False))
    else:
        print("\n".join(lines(*answer)))


def each(table: pd.DataFrame, template: str) -> list[str]:
    """Return a line for each row of a table: the template with the row's columns put in, chances in words."""
    chances = [name for name in table if "chance" in str(name)]
    return [
        template.format_map(row | {name: in_words(row[name]) for name in chances}) for row in table.to_dict("records")
    ]


@contextmanager
def said_of_file(path: str | Path) -> Iterator[None]:
    """Let an error that names no file name this one."""
    try:
        yield
    except InputError as error:
        raise InputError(error.file or path, error.place, error.problem, error.remedy) from None


def room_of(arguments: argparse.Namespace) -> Room:
    """Read the room with the own exercises that were asked for."""
    from workbench.gym.equipment import read_room

    return read_room(arguments.room, arguments.own)


def lifter_and_room(arguments: argparse.Namespace, *blocks: Block) -> tuple[Lifter, Room]:
    """Read the lifter, with the 1RMs that follow by ratio for the blocks, and the room."""
    from workbench.answers.start_loads import with_ratios
    from workbench.lifter import read_lifter

    room = room_of(arguments)
    lifter = read_lifter(arguments.lifter, room.catalogue, gym_numbers=not arguments.published_start)
    return with_ratios(lifter, room, *blocks), room


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


def number(low: float, high: float) -> Callable[[str], float]:
    """Return a reader of numbers from ``low`` to ``high`` that explains what is wrong."""

    def read(text: str) -> float:
        with suppress(ValueError):
            value = float(text)
            if low <= value <= high:
                return value
            if not math.isnan(value):
                raise argparse.ArgumentTypeError(f"{value:g} is out of range; use {low:g} to {high:g}")
        raise argparse.ArgumentTypeError(f"{_shown(text)} is not a number")

    return read


def date(text: str) -> datetime.date:
    """Read a date as 2026-01-05, or explain how to write it."""
    try:
        found = datetime.date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{_shown(text)} is not a date; write it as 2026-01-05") from None
    if not FIRST_YEAR <= found.year <= LAST_YEAR:
        raise argparse.ArgumentTypeError(f"{text} is out of range; use a year from {FIRST_YEAR} to {LAST_YEAR}")
    return found


def monday(text: str) -> datetime.date:
    """Read the date of a Monday, or name the one that is meant."""
    found = date(text)
    if found.weekday():
        meant = found - datetime.timedelta(days=found.weekday())
        raise argparse.ArgumentTypeError(f"{text} is a {found:%A}; give the Monday of the first week, as {meant}")
    return found


def _shown(text: str) -> str:
    return repr(text if len(text) <= _LONGEST else f"{text[:_LONGEST]}...")
