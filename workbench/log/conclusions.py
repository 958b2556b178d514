"""How the sets of one row ended, concluded from everything that the row says about it."""

from __future__ import annotations

import re
from typing import Final

from workbench.log.aside import AsideError
from workbench.log.cells import Cell, clean, text_of
from workbench.log.endings import Effort, read_effort, read_mark, read_outcome
from workbench.log.reps import Part

__all__ = ["how_ended", "stated_efforts", "stated_outcome"]

_COULD: Final = re.compile(
    r"could(?:'ve| have)? (?:have )?(?:done|got|gotten|made|managed)(?: about)? (\w+)(?: or (\w+))? more\b"
)
_FEW: Final = re.compile("[0-9]|[12][0-9]|30")
_WORDS: Final = {"one": 1, "two": 2, "three": 3, "four": 4, "five": 5}
_FAILING: Final = re.compile(r"\b(fail(ed|ure)?|missed|no lift)\b")


def stated_outcome(cells: dict[str, Cell], notes: list[str]) -> str:
    """Return completed, failed, stopped or nothing, from the columns that tell how the set ended."""
    outcome = ""
    if (cell := cells.get("outcome")) is not None:
        outcome = read_outcome(text_of(cell))
        if outcome == "?":
            raise AsideError(f"outcome {text_of(cell)!r} is not known; write completed, failed or stopped")
        if outcome == "not done":
            raise AsideError(f"marked as not done ({text_of(cell)!r})")
    for name, meaning in (("done_mark", "completed"), ("failed_mark", "failed")):
        if (cell := cells.get(name)) is None:
            continue
        mark = read_mark(text_of(cell))
        if mark is None:
            word = read_outcome(text_of(cell))
            if word in {"?", "not done"}:
                raise AsideError(f"mark {text_of(cell)!r} is not known; write yes or no")
            mark = True
        else:
            word = meaning
        if not mark and name == "done_mark":
            raise AsideError("marked as not done; if some reps were made, say how the set ended instead")
        if mark:
            if outcome not in {"", word}:
                raise AsideError(f"says both {outcome} and {word}")
            outcome = word
    return outcome


def stated_efforts(cells: dict[str, Cell], count: int, free: str, notes: list[str]) -> tuple[list[Effort], str]:
    """Return the effort of each set of a row, from RPE, RIR or the free note, and the effort as written."""
    written = [
        said if re.search("rpe|rir", said, re.IGNORECASE) else f"{name.upper()} {said}"
        for name in ("rpe", "rir")
        if (said := text_of(cells.get(name)))
    ]
    efforts = [Effort()] * count
    for name in ("rpe", "rir"):
        cell = cells.get(name)
        if cell is None:
            continue
        pieces = re.split(r"\s*[/;]\s*|,\s+", text_of(cell)) if count > 1 else [text_of(cell)]
        if count > 1 and len(pieces) == count:
            read: list[Effort] = [read_effort(piece, name) for piece in pieces]
        else:
            read = [Effort()] * (count - 1) + [read_effort(cell, name)]
            if count > 1:
                notes.append(f"{name.upper()} is taken as that of the last set")
        bad = next((effort.problem for effort in read if effort.problem), "")
        if bad:
            raise AsideError(bad)
        efforts = [_agree(old, new) for old, new in zip(efforts, read, strict=True)]
    if not written and (match := _COULD.search(clean(free))):
        values = [_WORDS.get(word) or (int(word) if _FEW.fullmatch(word) else None) for word in match.groups() if word]
        if all(value is not None for value in values):
            reserve = sum(value for value in values if value is not None) / len(values)
            efforts[-1] = Effort(reserve, note=f"reps in reserve are from the note: {match[0]!r}")
            return efforts, match[0]
    if _FAILING.search(clean(free)) and not any(effort.failed for effort in efforts):
        notes.append("the note speaks of failing: it is not read as an outcome")
    return efforts, ", ".join(written)


def _agree(old: Effort, new: Effort) -> Effort:
    if old.reserve is not None and new.reserve is not None and abs(old.reserve - new.reserve) > 0.51:
        raise AsideError(f"RPE leaves {old.reserve:g} reps in reserve, RIR says {new.reserve:g}")
    if old.reserve is None and not old.failed:
        return Effort(new.reserve, new.failed, "; ".join(note for note in (old.note, new.note) if note))
    return Effort(old.reserve if new.reserve is None else new.reserve, old.failed or new.failed, old.note or new.note)


def how_ended(part: Part, outcome: str, effort: Effort) -> tuple[str, float | None]:
    """Return how the set ended: failed if anything says so, stopped if a reserve is stated, else as told."""
    said = {part.outcome, outcome, "failed" if effort.failed else ""} - {""}
    aimed = "as many as possible" in part.note
    if "failed" in said:
        if effort.reserve:
            if aimed and not effort.failed and outcome != "failed":
                return "stopped", effort.reserve
            raise AsideError(f"says that the set was failed and that {effort.reserve:g} reps were left")
        return "failed", effort.reserve
    if effort.reserve is not None:
        return "stopped", effort.reserve
    return (said.pop() if len(said) == 1 else "stopped" if said else "completed"), None
