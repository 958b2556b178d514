"""How sets ended: words and marks, perceived exertion, reps in reserve, and what a whole row says together."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache, lru_cache
from typing import Final

from workbench.log.cells import AsideError, Cell, Formula, Reading, clean, decimal, text_of
from workbench.reference.sources import read_rows

__all__ = ["MAX_RESERVE", "how_ended", "read_effort", "stated_efforts", "stated_outcome"]

#: Reps in reserve; ``ending`` is failed where the cell says that the set was failed.
Effort = Reading[float | None]
_UNSTATED: Final[Effort] = Reading(None)

#: More stated reps in reserve than this are a typing error.
MAX_RESERVE: Final = 30

_COULD: Final = re.compile(
    r"could(?:'ve| have)? (?:have )?(?:done|got|gotten|made|managed)(?: about)? (\w+)(?: or (\w+))? more\b"
)
_FEW: Final = {"one": 1, "two": 2, "three": 3, "four": 4, "five": 5} | {str(n): n for n in range(MAX_RESERVE + 1)}
_FAILING: Final = re.compile(r"\b(fail(ed|ure)?|missed|no lift)\b")


@cache
def _words() -> dict[str, tuple[str, str]]:
    """Return the outcome of each known word, and yes or no where it may also stand in a column of marks."""
    return {row["word"]: (row["outcome"] or "?", row["mark"]) for row in read_rows("ending_words.csv")}


def _meaning(written: str) -> tuple[str, str]:
    """Return completed, failed, stopped, ``not done`` or ``?``, and yes, no or nothing."""
    return _words().get(clean(written).strip(".!"), ("?", ""))


def stated_outcome(cells: dict[str, Cell]) -> str:
    """Return completed, failed, stopped or nothing, from the columns that tell how the set ended.

    >>> stated_outcome({"outcome": "FAILED"}), stated_outcome({"done_mark": "x"}), stated_outcome({"failed_mark": "no"})
    ('failed', 'completed', '')
    """
    outcome = ""
    if (cell := cells.get("outcome")) is not None:
        outcome, _ = _meaning(text_of(cell))
        if outcome == "?":
            raise AsideError(f"outcome {text_of(cell)!r} is not known; write completed, failed or stopped")
        if outcome == "not done":
            raise AsideError(f"marked as not done ({text_of(cell)!r})")
    for name, marked in (("done_mark", "completed"), ("failed_mark", "failed")):
        if (cell := cells.get(name)) is None:
            continue
        said, mark = _meaning(text_of(cell))
        if mark == "no" and name == "done_mark":
            raise AsideError("marked as not done; if some reps were made, say how the set ended instead")
        if not mark and said in {"?", "not done"}:
            raise AsideError(f"mark {text_of(cell)!r} is not known; write yes or no")
        if mark == "no":
            continue
        said = marked if mark else said
        if outcome not in {"", said}:
            raise AsideError(f"says both {outcome} and {said}")
        outcome = said
    return outcome


_NUMBER = r"\d+(?:[.,]\d+)?"
_ONE = re.compile(
    rf"(?:@\s*)?(rpe|rir|@)?\s*[:=]?\s*({_NUMBER})\s*(\+|\?)?\s*(rpe|rir|/\s*10|left)?\s*"
    r"(\(?f(?:ail(?:ed)?)?\)?)?"
)
_RANGE = re.compile(rf"(?:@\s*)?(rpe|rir)?\s*({_NUMBER})\s*(?:-|/|to)\s*({_NUMBER})\s*(rpe|rir|left)?")
_KINDS: Final = {"rpe": "rpe", "@": "rpe", "rir": "rir", "left": "rir"}


def read_effort(cell: Cell, kind: str) -> Effort:
    """Read one statement of effort; ``kind`` is ``rpe`` or ``rir`` by the heading, a word in the cell wins.

    A rating of perceived exertion of 5 to 10 is 10 minus the reps in reserve; lower ones say nothing about it.

    >>> read_effort("8.5", "rpe").value, read_effort("1-2", "rir").value, read_effort("4", "rpe").value
    (1.5, 1.5, None)
    """
    if isinstance(cell, Formula):
        raise AsideError(f"{kind.upper()} is the formula {cell.text} without a stored value")
    if isinstance(cell, bool) or not isinstance(cell, str | int | float):
        raise AsideError(f"{kind.upper()} {text_of(cell)} is no rating (a range such as 7-8 has become a date?)")
    return _written_effort(text_of(cell), kind)


@lru_cache(maxsize=4096)
def _written_effort(written: str, kind: str) -> Effort:
    text = clean(written)
    if text in {"-", "n/a", "na", "none", "?", "x" if kind == "rpe" else "-"}:
        return Reading(None, note=f"{kind.upper()} {written!r} states nothing")
    if _meaning(text)[0] == "failed":
        return Reading(None, ending="failed", note=f"{kind.upper()} {written!r}: the set was failed")
    if match := _ONE.fullmatch(text):
        kind = _KINDS.get(match[1]) or _KINDS.get(match[4]) or kind
        effort = _reserve(decimal(match[2]), kind, written)
        if match[3] and kind == "rir":
            return Reading(None, note=f"RIR {written!r} is a lower bound and not used")
        if match[5]:
            return Reading(None, ending="failed", note=f"{kind.upper()} {written!r}: the set was failed")
        return effort
    if match := _RANGE.fullmatch(text):
        kind = _KINDS.get(match[1]) or _KINDS.get(match[4]) or kind
        low, high = decimal(match[2]), decimal(match[3])
        if high < low:
            raise AsideError(f"{kind.upper()} {written!r} is no range")
        note = f"{kind.upper()} {written!r}: the middle is taken"
        return replace(_reserve((low + high) / 2, kind, written), note=note)
    raise AsideError(f"{kind.upper()} {written!r} is no rating; write a number")


def _reserve(value: float, kind: str, written: str) -> Effort:
    if kind == "rir":
        if value > MAX_RESERVE:
            raise AsideError(f"RIR {written!r} is more than {MAX_RESERVE}: a typing error?")
        return Reading(value)
    if value > 10:
        raise AsideError(f"RPE {written!r} is over 10; if the 6-to-20 scale was used, map the column to 'keep'")
    if value < 5:
        return Reading(None, note=f"RPE {written!r} is too far from failure to say how many reps were left")
    return Reading(10.0 - value)


def stated_efforts(cells: dict[str, Cell], count: int, free: str, notes: list[str]) -> tuple[list[Effort], str]:
    """Return the effort of each set of a row, from RPE, RIR or the free note, and the effort as written."""
    efforts = [_UNSTATED] * count
    written: list[str] = []
    for name in ("rpe", "rir"):
        cell = cells.get(name)
        if cell is None:
            continue
        said = text_of(cell)
        if said:
            written.append(said if re.search("rpe|rir", said, re.IGNORECASE) else f"{name.upper()} {said}")
        pieces = re.split(r"\s*[/;]\s*|,\s+", said)
        if count > 1 and len(pieces) == count:
            read = [read_effort(piece, name) for piece in pieces]
        else:
            read = [*[_UNSTATED] * (count - 1), read_effort(cell, name)]
            notes += [f"{name.upper()} is taken as that of the last set"] if count > 1 else []
        efforts = [_agree(old, new) for old, new in zip(efforts, read, strict=True)]
    if not written and (match := _COULD.search(clean(free))):
        values = [_FEW.get(word) for word in match.groups() if word]
        known = [value for value in values if value is not None]
        if known == values:
            efforts[-1] = Reading(sum(known) / len(known), note=f"reps in reserve are from the note: {match[0]!r}")
            return efforts, match[0]
    if _FAILING.search(clean(free)) and not any(effort.ending for effort in efforts):
        notes.append("the note speaks of failing: it is not read as an outcome")
    return efforts, ", ".join(written)


def _agree(old: Effort, new: Effort) -> Effort:
    """Return what RPE and RIR say together."""
    if old.value is not None and new.value is not None and abs(old.value - new.value) > 0.51:
        raise AsideError(f"RPE leaves {old.value:g} reps in reserve, RIR says {new.value:g}")
    if old.value is None and not old.ending:
        return replace(new, note="; ".join(filter(None, (old.note, new.note))))
    value = old.value if new.value is None else new.value
    return Reading(value, ending=old.ending or new.ending, note=old.note or new.note)


def how_ended(reps: Reading[int], outcome: str, effort: Effort) -> tuple[str, float | None]:
    """Return how the set ended: failed if anything says so, stopped if a reserve is stated, else as told."""
    said = {reps.ending, outcome, effort.ending} - {""}
    if "failed" in said:
        if effort.value:
            if "as many as possible" in reps.note and not effort.ending and outcome != "failed":
                return "stopped", effort.value
            raise AsideError(f"says that the set was failed and that {effort.value:g} reps were left")
        return "failed", effort.value
    if effort.value is not None:
        return "stopped", effort.value
    return (said.pop() if len(said) == 1 else "stopped" if said else "completed"), None
