"""How a set ended: words and marks for failed or done, perceived exertion and reps in reserve."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from workbench.log.cells import Cell, Formula, clean, text_of

__all__ = ["Effort", "read_effort", "read_mark", "read_outcome"]

_COMPLETED: Final = frozenset(
    {"completed", "complete", "done", "success", "successful", "ok", "made", "good", "all reps", "yes", "y", "pass",
     "hit", "\u2713", "\u2714", "\u221a", "true", "all", "finished", "good lift"}
)  # fmt: skip
_FAILED: Final = frozenset(
    {"failed", "fail", "f", "x", "failure", "missed", "miss", "to failure", "until failure", "no", "n", "no lift",
     "false", "\u2717", "\u2718", "\u274c", "amrap", "unsuccessful"}
)  # fmt: skip
_STOPPED: Final = frozenset({"stopped", "stop", "stopped early", "cut short", "ended early", "submaximal", "abandoned"})
_NOT_DONE: Final = frozenset({"skipped", "skip", "not done", "n/a", "na", "-", "dnf", "dns", "did not do", "omitted"})
_YES: Final = frozenset({"x", "y", "yes", "true", "1", "done", "ok", "\u2713", "\u2714", "\u221a", "completed", "made"})
_NO: Final = frozenset({"n", "no", "false", "0", "-", "not done", "skipped", "\u2717", "\u2718", "\u274c"})


@lru_cache(maxsize=4096)
def read_outcome(written: str) -> str:
    """Return completed, failed, stopped, ``not done`` or ``?``.

    >>> read_outcome("FAILED"), read_outcome("x"), read_outcome("perhaps")
    ('failed', 'failed', '?')
    """
    text = clean(written).strip(".!")
    groups = (("completed", _COMPLETED), ("failed", _FAILED), ("stopped", _STOPPED), ("not done", _NOT_DONE))
    return next((name for name, words in groups if text in words), "?")


@lru_cache(maxsize=4096)
def read_mark(written: str) -> bool | None:
    """Read a tick, cross or word in a column that asks yes or no; None if it is neither.

    >>> read_mark("x"), read_mark("no"), read_mark("left knee")
    (True, False, None)
    """
    text = clean(written).strip(".!")
    return True if text in _YES else False if text in _NO else None


@dataclass(frozen=True)
class Effort:
    """Reps in reserve as stated for one set.

    Attributes
    ----------
    reserve : float or None
        Stated reps in reserve; None where nothing usable is stated.
    failed : bool
        The cell says that the set was failed.
    note, problem : str
        How it was read; why the row cannot be used.
    """

    reserve: float | None = None
    failed: bool = False
    note: str = ""
    problem: str = ""


_NUMBER = r"\d+(?:[.,]\d+)?"
_ONE = re.compile(
    rf"(?:@\s*)?(rpe|rir|@)?\s*[:=]?\s*({_NUMBER})\s*(\+|\?)?\s*(rpe|rir|/\s*10|left)?\s*"
    r"(\(?f(?:ail(?:ed)?)?\)?)?"
)
_RANGE = re.compile(rf"(?:@\s*)?(rpe|rir)?\s*({_NUMBER})\s*(?:-|/|to)\s*({_NUMBER})\s*(rpe|rir|left)?")


def read_effort(cell: Cell, kind: str) -> Effort:
    """Read one statement of effort; ``kind`` is ``rpe`` or ``rir`` by the heading, a word in the cell wins.

    A rating of perceived exertion of 5 to 10 is 10 minus the reps in reserve; lower ones say nothing about it.

    >>> read_effort("8.5", "rpe").reserve, read_effort("1-2", "rir").reserve, read_effort("4", "rpe").reserve
    (1.5, 1.5, None)
    """
    if cell is None:
        return Effort()
    if isinstance(cell, Formula):
        return Effort(problem=f"{kind.upper()} is the formula {cell.text} without a stored value")
    if isinstance(cell, bool) or not isinstance(cell, str | int | float):
        return Effort(problem=f"{kind.upper()} {text_of(cell)} is no rating (a range such as 7-8 has become a date?)")
    return _read(text_of(cell), kind)


@lru_cache(maxsize=4096)
def _read(written: str, kind: str) -> Effort:
    text = clean(written)
    if text in {"-", "n/a", "na", "none", "?", "x" if kind == "rpe" else "-"}:
        return Effort(note=f"{kind.upper()} {written!r} states nothing")
    if read_outcome(text) == "failed":
        return Effort(failed=True, note=f"{kind.upper()} {written!r}: the set was failed")
    if match := _ONE.fullmatch(text):
        word = {"rpe": "rpe", "@": "rpe", "rir": "rir", "left": "rir"}
        kind = word.get(match[1] or "") or word.get(match[4] or "") or kind
        effort = _reserve(_float(match[2]), kind, written)
        if match[3] and kind == "rir" and not effort.problem:
            return Effort(note=f"RIR {written!r} is a lower bound and not used")
        if match[5] and not effort.problem:
            return Effort(failed=True, note=f"{kind.upper()} {written!r}: the set was failed")
        return effort
    if match := _RANGE.fullmatch(text):
        kind = match[1] or {"left": "rir"}.get(match[4] or "", match[4] or kind)
        low, high = _float(match[2]), _float(match[3])
        if high < low:
            return Effort(problem=f"{kind.upper()} {written!r} is no range")
        middle = _reserve((low + high) / 2, kind, written)
        return (
            middle
            if middle.problem
            else Effort(middle.reserve, note=f"{kind.upper()} {written!r}: the middle is taken")
        )
    return Effort(problem=f"{kind.upper()} {written!r} is no rating; write a number")


def _float(text: str) -> float:
    return float(text.replace(",", "."))


def _reserve(value: float, kind: str, written: str) -> Effort:
    if kind == "rir":
        if value > 30:
            return Effort(problem=f"RIR {written!r} is more than 30: a typing error?")
        return Effort(value)
    if value > 10:
        return Effort(problem=f"RPE {written!r} is over 10; if the 6-to-20 scale was used, map the column to 'keep'")
    if value < 5:
        return Effort(note=f"RPE {written!r} is too far from failure to say how many reps were left")
    return Effort(10.0 - value)
