"""Rests as people write them, in seconds."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import time, timedelta
from typing import Final

from workbench.log.cells import Cell, clean, text_of

__all__ = ["MAX_REST_S", "SECONDS_FROM", "RestReading", "read_rest"]

#: A longer rest is a different session or a typing error.
MAX_REST_S: Final = 7200.0
#: A bare number of at least this is seconds, for nobody rests so many minutes after a set.
SECONDS_FROM: Final = 30.0


@dataclass(frozen=True)
class RestReading:
    """Rest in seconds or None; ``bare`` is a number without a unit; ``note`` says what was done."""

    seconds: float | None = None
    bare: float | None = None
    note: str = ""


_NUMBER = r"(\d+(?:[.,]\d+)?)"
_SECONDS = re.compile(rf"{_NUMBER}\s*(?:s|secs?|seconds?|\"|'')\.?")
_MINUTES = re.compile(rf"{_NUMBER}\s*(?:m|mins?|minutes?|')\.?(?:\s*{_NUMBER}\s*(?:s|secs?|seconds?|\"|'')?\.?)?")
_CLOCK = re.compile(r"(?:(\d{1,2}):)?(\d{1,2}):(\d{2})")
_RANGE = re.compile(rf"{_NUMBER}\s*(?:-|to)\s*{_NUMBER}(\s*[a-z\"'.]*)")


def read_rest(cell: Cell, unit: str) -> RestReading:
    """Read a rest; ``unit`` (s, min or empty) is the one in force for bare numbers.

    >>> read_rest("2:30", "").seconds, read_rest("3 min", "").seconds, read_rest("90", "s").seconds
    (150.0, 180.0, 90.0)
    """
    if cell is None:
        return RestReading()
    if isinstance(cell, timedelta):
        return _short_clock(cell.total_seconds(), cell)
    if isinstance(cell, time):
        return _short_clock(cell.hour * 3600.0 + cell.minute * 60 + cell.second, cell)
    if isinstance(cell, bool) or not isinstance(cell, str | int | float):
        return RestReading(note=f"rest {text_of(cell)!r} is not read")
    return _read(clean(text_of(cell)), text_of(cell), unit)


def _short_clock(seconds: float, cell: time | timedelta | str) -> RestReading:
    # Typing 3:00 into a spreadsheet gives three hours, written out as 3:00:00, which nobody rests.
    if seconds >= 3600:
        return _bounded(seconds / 60, f"rest {cell} is read as minutes:seconds")
    return _bounded(seconds)


def _read(text: str, written: str, unit: str) -> RestReading:
    if match := _SECONDS.fullmatch(text):
        return _bounded(_float(match[1]))
    if match := _MINUTES.fullmatch(text):
        return _bounded(60 * _float(match[1]) + _float(match[2] or "0"))
    if match := _CLOCK.fullmatch(text):
        return _short_clock(3600.0 * int(match[1] or 0) + 60 * int(match[2]) + int(match[3]), written)
    if match := _RANGE.fullmatch(text):
        low, high = (_read(match[at] + match[3], written, unit) for at in (1, 2))
        if low.seconds is not None and high.seconds is not None:
            return _bounded((low.seconds + high.seconds) / 2, f"rest {written!r}: the middle is taken")
    if re.fullmatch(_NUMBER, text):
        value = _float(text)
        if unit:
            return _bounded(value * (60 if unit == "min" else 1))
        return _bounded(value) if value >= SECONDS_FROM else RestReading(bare=value)
    return RestReading(note=f"rest {written!r} is not read")


def _float(text: str) -> float:
    return float(text.replace(",", "."))


def _bounded(seconds: float, note: str = "") -> RestReading:
    if seconds < 0:
        return RestReading(note="a rest below 0 is not used")
    if seconds > MAX_REST_S:
        return RestReading(note=f"rest of {seconds / 3600:.1f} h is not used")
    return RestReading(seconds, note=note)
