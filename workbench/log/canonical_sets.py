"""Read a set back from a canonical log: each column is what it says, and nothing is concluded from another."""

from __future__ import annotations

import re
from typing import Any, Final

from workbench.log.aside import AsideError
from workbench.log.cells import Cell, clean, read_number, text_of
from workbench.log.conclusions import how_ended, stated_outcome
from workbench.log.endings import Effort
from workbench.log.loads import MAX_LOAD_KG
from workbench.log.reps import MAX_REPS, ZERO_REPS, Part
from workbench.log.rests import MAX_REST_S
from workbench.log.tables import Record

__all__ = ["canonical_set"]

#: More than the rows of any file that is read.
_MAX_ROW: Final = 10**9
_MAX_RESERVE: Final = 30
_WRITTEN_BY_PROGRAMS: Final = re.compile(r"\d+(?:\.\d+)?(?:e[+-]?\d+)?", re.ASCII)


def canonical_set(record: Record, common: dict[str, Any], decimal: str | None) -> dict[str, Any]:
    """Return the set of one row; raises AsideError where a number is none or out of range."""
    cells, extras = record.fields, record.extras
    load = _number(cells.get("load"), "load_kg", decimal, MAX_LOAD_KG)
    reps = _whole(cells.get("reps"), "reps", decimal, MAX_REPS)
    if not load:
        raise AsideError("no load_kg" if load is None else "load_kg is 0")
    if reps is None:
        raise AsideError("no reps")
    reserve = _number(cells.get("rir"), "reps_in_reserve", decimal, _MAX_RESERVE)
    outcome = stated_outcome({"outcome": cells.get("outcome")}, [])
    ended, reserve = how_ended(Part(reps), outcome, Effort(reserve))
    if reps == 0 and ended != "failed":
        raise AsideError(ZERO_REPS)
    return {
        **common,
        "set_number": _whole(cells.get("set_number"), "set_number", decimal, _MAX_ROW),
        "load_kg": load,
        "reps": reps,
        "outcome": ended,
        "reps_in_reserve": reserve,
        "rest_s": _number(cells.get("rest"), "rest_s", decimal, MAX_REST_S),
        **extras,
        "exercise_as_written": extras["exercise_as_written"] or common["exercise_as_written"],
        "source_row": _whole(extras["source_row"], "source_row", decimal, _MAX_ROW) or record.row,
    }


def _number(cell: Cell, name: str, decimal: str | None, highest: float) -> float | None:
    """Return a number from 0 to the highest; None where the cell is blank."""
    text = clean(text_of(cell))
    if not text:
        return None
    plain = _WRITTEN_BY_PROGRAMS.fullmatch(text) and decimal != ","
    reading = read_number(text)
    value = float(text) if plain else reading.value(decimal)
    if value is None and reading.point is not None:
        raise AsideError(f"{name} {text!r} can be {reading.point:g} or {reading.comma:g}", "decimal")
    if value is None or isinstance(cell, bool):
        raise AsideError(f"{name} {text!r} is no number")
    if not 0 <= value <= highest:
        raise AsideError(f"{name} {text!r} is not 0 to {highest:g}")
    return value


def _whole(cell: Cell, name: str, decimal: str | None, highest: int) -> int | None:
    value = _number(cell, name, decimal, highest)
    if value is not None and not value.is_integer():
        raise AsideError(f"{name} {text_of(cell)!r} is no whole number")
    return None if value is None else int(value)
