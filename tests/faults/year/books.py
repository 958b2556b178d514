"""What was done in the year, written down apart from the product: it says at the end what ought to be there."""

from __future__ import annotations

import datetime
import os
import sys
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, NamedTuple

__all__ = ["Books", "Done", "Watch"]


class Done(NamedTuple):
    """One set, as the one who did it would tell it; ``label`` as the sheet calls it, such as "2, drop 1"."""

    day: datetime.date
    exercise: str
    label: str
    load_kg: float
    reps: int
    failed: bool


@dataclass
class Books:
    """Everything that was entered, by whom, and every version of every edited file, in order.

    Attributes
    ----------
    sets : dict of str to list of Done
        By lifter's name.
    learned : dict of str to list of Done
        Of these, what the lifter file was told of.
    trails : dict of Path to list of bytes
        Contents of a file, from the first on, as undo is to give them back.
    committed : list of Path
    left : set of str
        Lifters who left: their files are gone, their logs stay.
    """

    sets: dict[str, list[Done]] = field(default_factory=dict)
    learned: dict[str, list[Done]] = field(default_factory=dict)
    trails: dict[Path, list[bytes]] = field(default_factory=dict)
    committed: list[Path] = field(default_factory=list)
    left: set[str] = field(default_factory=set)

    def did(self, lifter: str, *sets: Done) -> None:
        """Write sets down."""
        self.sets.setdefault(lifter, []).extend(sets)

    def wrote(self, path: Path) -> None:
        """Write down what a file holds now, after an edit; nothing where it did not change."""
        trail, now = self.trails.setdefault(path, []), path.read_bytes()
        if not trail or trail[-1] != now:
            trail.append(now)


def told(one: Done) -> tuple[datetime.date, str, float, int, bool]:
    """Return what a log has to say of a set, whatever it calls it."""
    return one.day, one.exercise, round(one.load_kg, 2), one.reps, one.failed


def apart(found: Iterable[Any], wanted: Iterable[Any], what: str) -> list[str]:
    """Say which are missing and which are there too often."""
    there, ought = Counter(found), Counter(wanted)
    said = [f"{what}: {count} times missing: {one}" for one, count in sorted((ought - there).items())]
    return said + [f"{what}: {count} times too often: {one}" for one, count in sorted((there - ought).items())]


class Watch:
    """Notices every file that this process opens to write, renames or removes outside of some folders.

    An audit hook cannot be taken out again: `end` only stops it from looking.
    """

    def __init__(self, *allowed: Path) -> None:
        self._allowed = tuple(f"{path.resolve()}{os.sep}" for path in allowed)
        self.outside: list[str] = []
        self._looks = True
        sys.addaudithook(self._notice)

    def end(self) -> None:
        """Look no more."""
        self._looks = False

    def _notice(self, event: str, arguments: tuple[Any, ...]) -> None:
        if not self._looks:
            return
        if event == "open":
            path, _, flags = arguments
            writes = bool(flags & (os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC))
            paths = [path] if writes else []
        elif event in ("os.rename", "os.link", "os.symlink"):
            paths = list(arguments[:2])
        elif event in ("os.mkdir", "os.remove", "os.rmdir", "os.truncate"):
            paths = [arguments[0]]
        else:
            return
        for path in paths:
            if isinstance(path, str | bytes | os.PathLike):
                place = os.path.realpath(os.fsdecode(path))
                if not place.startswith(self._allowed) and "__pycache__" not in place and place != os.devnull:
                    self.outside.append(f"{event}: {place}")
