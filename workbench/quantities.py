"""Names, units and range checks of every quantity, and the error that bad input raises.

Internal units: mass in kilograms, time in seconds, fractions (not percent).
The glossary in DEVELOPERS.md gives the names; this module is the only place that converts units.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Final, Literal, get_args

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = [
    "ENDURANCE_CLASSES",
    "KG_PER_LB",
    "SEED",
    "EnduranceClass",
    "FloatArray",
    "Grade",
    "InputError",
    "Numbers",
    "Unit",
    "positive",
    "refuse_control",
    "to_kg",
    "visible",
    "within",
]

#: How well a number is known. ``published``: read in a paper or its abstract. ``derived``: computed here from
#: published numbers. ``recalled``: remembered, not checked. ``assumed``: a rule of thumb of the trade.
Grade = Literal["published", "derived", "recalled", "assumed"]
EnduranceClass = Literal[
    "squat",
    "leg press",
    "hinge",
    "horizontal press",
    "vertical press",
    "horizontal pull",
    "vertical pull",
    "arm curl",
    "arm extension",
    "knee extension",
    "leg curl",
    "raise and fly",
    "calf",
    "trunk",
    "other",
]
ENDURANCE_CLASSES: Final[tuple[EnduranceClass, ...]] = get_args(EnduranceClass)

FloatArray = NDArray[np.float64]
#: A number, or an array of one number per draw.
Numbers = float | FloatArray

#: Unit in which equipment is labelled and loads are spoken of.
Unit = Literal["kg", "lb"]
#: Seed wherever none is asked for: the same question has the same digits every time.
SEED: Final = 1

#: Exact by the international yard and pound agreement of 1959.
KG_PER_LB: Final = 0.45359237


#: What moves a terminal's cursor, colours its text, turns its direction, or breaks a line where nobody sees it; and
#: halves of characters, which no file can hold.
_CONTROL: Final = re.compile("[\x00-\x1f\x7f-\x9f\u2028-\u202e\u2066-\u2069\ud800-\udfff]")


def visible(text: str, kept: str = "\n\t") -> str:
    r"""Return a text with every control character spelled out, but for those that are kept.

    >>> visible("\x1b[31mred\n")
    '\\x1b[31mred\n'
    """

    def spelled(match: re.Match[str]) -> str:
        return match[0] if match[0] in kept else match[0].encode("unicode_escape").decode()

    return _CONTROL.sub(spelled, text)


def refuse_control(name: str, text: str, *, lines: bool = False) -> str:
    """Return the text, or raise InputError where it holds a control character (``lines``: ends of lines and tabs fit).

    >>> refuse_control("name", "Ada")
    'Ada'
    """
    found = next((character for character in _CONTROL.findall(text) if not (lines and character in "\n\t")), None)
    if found is not None:
        shown = visible(found, kept="")
        raise InputError(None, name, f"holds the control character {shown}", "type the text without it")
    return text


class InputError(ValueError):
    """Input that the workbench cannot use: says the file, the place, what is wrong and what would be right.

    Parameters
    ----------
    file : str or Path or None
        The file the input came from; None for input typed by hand.
    place : str
        Where in the file: a key path (``sessions.1.exercises.2.sets.1.rest_s``), a line or a cell.
    problem : str
        What is wrong, without a full stop.
    remedy : str
        What would be right, without a full stop.
    """

    def __init__(self, file: str | Path | None, place: str, problem: str, remedy: str = "") -> None:
        self.file = None if file is None else str(file)
        self.place = place
        self.problem = problem
        self.remedy = remedy
        super().__init__(str(self))

    def __str__(self) -> str:
        """Return the whole message in one line."""
        parts = [part for part in (self.file, self.place) if part]
        text = ": ".join([*parts, self.problem])
        if self.remedy:
            text += f"; {self.remedy}"
        return visible(" ".join(text.split()))


def to_kg(mass: ArrayLike, unit: str) -> FloatArray:
    """Convert a mass to kilograms.

    >>> float(to_kg(100, "lb"))
    45.359237
    """
    if unit not in get_args(Unit):
        raise InputError(None, "unit", f"unknown unit of mass {unit!r}", "use kg or lb")
    return np.asarray(mass, dtype=np.float64) * (KG_PER_LB if unit == "lb" else 1.0)


def positive(name: str, value: ArrayLike) -> FloatArray:
    """Return numbers as an array, or an InputError where one is not over 0; NaN passes.

    >>> positive("load", [1, 2]).tolist()
    [1.0, 2.0]
    """
    array = np.asarray(value, dtype=np.float64)
    if np.any(array <= 0.0):
        raise InputError(None, name, f"{float(np.nanmin(array)):g} is out of range", "use a number over 0")
    return array


def within(name: str, value: ArrayLike, low: float, high: float, unit: str = "") -> FloatArray:
    """Return ``value`` as floats, or raise InputError where any element is NaN or outside [low, high].

    >>> float(within("load_fraction", 0.7, 0, 1.2))
    0.7
    """
    array = np.asarray(value, dtype=np.float64)
    good = (array >= low) & (array <= high)
    if not np.all(good):
        worst = float(array[~good].flat[0]) if array.ndim else float(array)
        unit_text = f" {unit}" if unit else ""
        raise InputError(None, name, f"{worst:g}{unit_text} is out of range", f"use {low:g} to {high:g}{unit_text}")
    return array
