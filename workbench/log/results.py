"""Cells that hold load and reps together: ``100x5``, ``3x5@100kg``, ``100 kg x 5 RPE 8``, ``100x5, 105x3``."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

from workbench.log.cells import Cell, clean, text_of

__all__ = ["Result", "ResultReading", "read_result"]

_UNIT: Final = r"(?:kgs?|lbs?|pounds?)"
_LOAD: Final = rf"(?:[+-]?\d+(?:[.,]\d+)?\s*{_UNIT}?|bw(?:\s*[+-]\s*\d+(?:[.,]\d+)?\s*{_UNIT}?)?)"
_REPS: Final = r"(?:\d+(?:\s*\(?(?:f|fail|failed)\)?)?|amrap\s*\d+)"
_EFFORT: Final = r"(?:\s*[,(]?\s*(?P<effort>(?:@\s*|rpe\s*|rir\s*)\d+(?:[.,]\d+)?|\d+(?:[.,]\d+)?\s*(?:rpe|rir))\)?)?"
_LOAD_FIRST = re.compile(
    rf"(?P<load>{_LOAD})\s*(?:x|\*|for)\s*(?P<reps>{_REPS})\s*(?:reps?)?(?:\s*(?:x|\*)\s*(?P<sets>\d+)\s*(?:sets?)?)?{_EFFORT}"
)
_AT_LOAD = re.compile(
    rf"(?:(?P<sets>\d+)\s*(?:sets?)?\s*(?:x|\*|of)\s*)?(?P<reps>{_REPS})\s*(?:reps?)?\s*(?:@|at|with)\s*(?P<load>{_LOAD}){_EFFORT}"
)
_REPS_FIRST = re.compile(rf"(?P<reps>{_REPS})\s*(?:x|\*)\s*(?P<load>\d+(?:[.,]\d+)?\s*{_UNIT}){_EFFORT}")


@dataclass(frozen=True)
class Result:
    """One piece of such a cell, still as text: load, reps, number of sets, and effort if stated."""

    load: str
    reps: str
    sets: int = 1
    effort: str = ""


@dataclass(frozen=True)
class ResultReading:
    """The pieces of a cell; ``question`` where the order of load and reps is not plain."""

    results: tuple[Result, ...] = ()
    problem: str = ""
    question: str = ""


def read_result(cell: Cell, *, load_first: bool) -> ResultReading:
    """Split a cell into load and reps; ``load_first`` if the heading says load x reps.

    >>> read_result("3x5@100kg", load_first=False).results
    (Result(load='100kg', reps='5', sets=3, effort=''),)
    """
    written = text_of(cell)
    results: list[Result] = []
    pieces = re.split(r"\s*(?:;|\n|,\s+|\s/\s|,(?=\d+(?:[.,]\d)?\s*(?:kg|lb)?\s*x)|/(?=\d))\s*", written)
    for piece in (clean(piece) for piece in pieces if piece.strip()):
        match = _REPS_FIRST.fullmatch(piece) or _LOAD_FIRST.fullmatch(piece) or _AT_LOAD.fullmatch(piece)
        if match is None:
            return ResultReading(problem=f"{written!r} cannot be read as load x reps; write it as 100 kg x 5")
        found = match.groupdict()
        load, reps = found["load"], found["reps"]
        plain = (
            match.re is _LOAD_FIRST and load.strip().replace(",", ".").replace(".", "", 1).isdigit() and reps.isdigit()
        )
        if plain and not load_first and float(load.replace(",", ".")) <= int(reps):
            return ResultReading(problem=f"{written!r} may be load x reps or reps x load", question="load x reps")
        results.append(Result(load, reps, int(found.get("sets") or 1), (found["effort"] or "").strip()))
    return ResultReading(tuple(results))
