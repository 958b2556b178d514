"""Reps as people write them: ``8``, ``8+2``, ``5/5/4``, ``3x8``, ``AMRAP 9``, ``7F``.

Readings, each also told in the table of what was understood:

- ``8+2``: two sets, 8 and then 2 after a short pause (or, if told so, 8 alone and 2 with help);
- ``5/5/4``: three sets. A pair such as ``8/8`` may be two sets, two sides or done/planned, and is asked about;
- ``3x8``: three sets of eight;
- ``AMRAP 9`` (as many reps as possible): 9 reps, and a tenth would have failed;
- ``7F``, ``7 failed``, ``7X``, ``7+F``: 7 reps done, the eighth failed.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import Final

from workbench.log.cells import Cell, Formula, Percent, clean, read_number, text_of
from workbench.log.options import ReadOptions

__all__ = ["MAX_REPS", "MAX_SETS", "ZERO_REPS", "Part", "RepsReading", "read_reps"]

#: More reps in one set than this is a typing error or a time.
MAX_REPS: Final = 200
#: More sets in one row than this is a typing error or a load.
MAX_SETS: Final = 30
#: A set of no rep has failed at its first, or was not done.
ZERO_REPS: Final = "0 reps: was the first rep failed (write F) or the set not done (leave it blank)?"


@dataclass(frozen=True)
class Part:
    """One set: reps done, how it ended if the cell says so, whether only a short pause lies before it."""

    reps: int
    outcome: str = ""
    after_pause: bool = False
    note: str = ""


@dataclass(frozen=True)
class RepsReading:
    """The sets of one cell, or why it cannot be used; ``question`` where only an answer is missing."""

    parts: tuple[Part, ...] = ()
    problem: str = ""
    question: str = ""


_SIDE = r"(?:\s*(?:/|per)?\s*(?:each|ea|e/s|(?<=/)s|side|leg|arm|hand)(?:\s*(?:side|leg|arm|hand))?s?\.?)"
_ATOM = re.compile(rf"(\d+(?:[.,]0+)?)\s*(?:reps?|repetitions?|r)?\.?\s*({_SIDE})?\s*(?:ok|done|[\u2713\u2714\u221a])?")
_FAIL = r"(?:f|x|fail|fails|failed|failure|miss|missed|to failure|tf)"
_FAILED = re.compile(rf"(\d+)\s*(?:reps?)?\s*[,+]?\s*(?:\+\s*1?\s*)?[(\[]?\s*(?:then\s+)?{_FAIL}[)\]]?")
_OPEN = r"(?:amrap|amap|max(?:imum)?(?:\s*reps?)?|as many (?:reps )?as possible)"
_AMRAP = re.compile(
    rf"[(\[]?{_OPEN}[)\]]?\s*[:=-]?\s*[(\[]?(\d+)[)\]]?(?:\s*reps?)?|(\d+)\s*(?:reps?)?\s*[(\[]?{_OPEN}[)\]]?"
)
_TIMES = re.compile(r"(\d+)\s*(?:sets?)?\s*(?:x|\*|of|by|sets? of)\s*(\D*\d+.*)")
_TIME_HELD = re.compile(r"\d+\s*(?:s|sec|secs|seconds?|min|mins|minutes?|m|\")|\d+:\d\d(?::\d\d)?|\d+'(?:\d\d)?\"?")


def read_reps(cell: Cell, options: ReadOptions, *, set_count: int | None = None, times_order: str = "") -> RepsReading:
    """Read the sets of one reps cell.

    Parameters
    ----------
    cell : Cell
        As the file holds it.
    options : ReadOptions
        ``plus_means``, ``pair_means`` and ``times_order`` decide between readings.
    set_count : int, optional
        How many sets the row stands for, where a column says so.
    times_order : {"", "sets_first", "reps_first"}
        What the heading says about ``3x8``; wins over the options.
    """
    if cell is None:
        return RepsReading(problem="no reps")
    if isinstance(cell, Formula):
        shown = "shows the error" if cell.text.startswith("#") else "is a formula without a stored value:"
        return RepsReading(problem=f"reps {shown} {cell.text}; open and save the file in a spreadsheet program")
    if isinstance(cell, bool | Percent):
        return RepsReading(problem=f"reps {text_of(cell)!r} is no number of reps")
    if isinstance(cell, int | float):
        return _whole(float(cell), text_of(cell))
    if not isinstance(cell, str):
        return RepsReading(
            problem=f"reps have become {text_of(cell)} (a spreadsheet program takes 5/5/4 or 8-10 for a date); "
            "type them again with commas, as text"
        )
    text = clean(cell)
    return _read(text, cell, options, set_count, times_order or options.times_order)


def _whole(value: float, written: str) -> RepsReading:
    if value == 0:
        return RepsReading(problem=ZERO_REPS)
    if not value.is_integer() or value < 0:
        return RepsReading(
            problem=f"reps {written!r} is no whole number; write the whole reps, and F if the next failed"
        )
    if value > MAX_REPS:
        return RepsReading(problem=f"{written} reps is more than {MAX_REPS}: a typing error?")
    return RepsReading((Part(int(value)),))


def _read(text: str, cell: str, options: ReadOptions, set_count: int | None, order: str) -> RepsReading:
    if single := _single(text, cell):
        return single
    if _TIME_HELD.fullmatch(text):
        return RepsReading(problem=f"reps {cell!r} is a time, not a number of reps")
    if re.fullmatch(r"\d+\s*\+", text):
        return RepsReading(problem=f"reps {cell!r} is a plan (that many or more); write the reps that were done")
    if re.fullmatch(r"\d+\s*(?:-|to|\.\.)\s*\d+(?:\s*reps?)?", text):
        return RepsReading(problem=f"reps {cell!r} is a range; write the reps that were done")
    for pattern in (r"\s*;\s*", r",\s+", r","):
        parts = re.split(pattern, text)
        if len(parts) >= (3 if pattern == "," else 2):
            return _list(parts, cell, options, order)
    if re.fullmatch(r"\d+,\d+", text):
        return RepsReading(problem=f"reps {cell!r} may be two sets or a decimal; write 8/8 or whole reps")
    if match := _TIMES.fullmatch(text):
        return _times(match[1], match[2], cell, order, plainly="set" in text)
    if "+" in text:
        return _pauses(text, cell, options)
    parts = re.split(r"\s*/\s*", text)
    if len(parts) == 2 and set_count in (None, 1):
        return _pair(parts, cell, options)
    if len(parts) >= 2:
        return _list(parts, cell, options, order)
    parts = re.split(r"\s*-\s*", text)
    if len(parts) >= 3:
        return _list(parts, cell, options, order)
    parts = text.split(" ")
    if len(parts) >= 3 and all(part.isdigit() for part in parts):
        return _list(parts, cell, options, order)
    return RepsReading(problem=f"reps {cell!r} cannot be read; write the number that was done")


def _single(text: str, cell: str) -> RepsReading | None:
    if match := _AMRAP.fullmatch(text):
        done = _whole(float(match[1] or match[2]), cell)
        note = f"reps {cell!r}: as many as possible, so the next rep is taken to have failed"
        return _mark(done, "failed", note)
    if match := _FAILED.fullmatch(text):
        if int(match[1]) == 0:
            return RepsReading((Part(0, "failed", note=f"reps {cell!r}: the first rep failed"),))
        return _mark(_whole(float(match[1]), cell), "failed", f"reps {cell!r}: {int(match[1])} done, the next failed")
    if re.fullmatch(r"f|fail|failed|miss|missed|failure", text):
        return RepsReading((Part(0, "failed", note=f"reps {cell!r}: the first rep failed"),))
    if match := _ATOM.fullmatch(text):
        done = _whole(float(match[1].replace(",", ".")), cell)
        return _mark(done, "", f"reps {cell!r} are per side") if match[2] else done
    number = read_number(text)
    if number.shows and number.point is not None and re.fullmatch(r"\d+[.]\d+", text):
        return _whole(number.point, cell)
    return None


def _mark(reading: RepsReading, outcome: str, note: str) -> RepsReading:
    return replace(reading, parts=tuple(replace(part, outcome=outcome, note=note) for part in reading.parts))


def _list(texts: list[str], cell: str, options: ReadOptions, order: str) -> RepsReading:
    parts: list[Part] = []
    for text in texts:
        if match := _TIMES.fullmatch(text):
            inner = _times(match[1], match[2], cell, order, plainly="set" in text)
        elif "+" in text and _single(text, cell) is None:
            inner = _pauses(text, cell, options)
        else:
            inner = _single(text, cell) or RepsReading(problem=f"reps {cell!r}: {text!r} is no number of reps")
        if inner.problem:
            return inner
        parts += inner.parts
    if len(parts) > MAX_SETS:
        return RepsReading(problem=f"reps {cell!r} would be {len(parts)} sets: a typing error?")
    note = f"reps {cell!r} are {len(parts)} sets"
    return RepsReading(tuple(replace(part, note=part.note or note) for part in parts))


def _times(first: str, second: str, cell: str, order: str, *, plainly: bool) -> RepsReading:
    inner = _single(second, cell)
    if inner is None:
        return RepsReading(problem=f"reps {cell!r} cannot be read; write the reps that were done, such as 8/8/7")
    if inner.problem:
        return inner
    count, part = int(first), inner.parts[0]
    if order == "reps_first" and not plainly:
        count, part = part.reps, replace(part, reps=count)
    if part.outcome and count > 1:
        return RepsReading(problem=f"reps {cell!r}: which of the sets ended so? Write each set, such as 8/8/7F")
    if not 1 <= count <= MAX_SETS:
        return RepsReading(problem=f"reps {cell!r} would be {count} sets: is one number the load?")
    note = part.note or f"reps {cell!r} are {count} {'set' if count == 1 else 'sets'} of {part.reps}"
    return RepsReading((replace(part, note=note),) * count)


def _pauses(text: str, cell: str, options: ReadOptions) -> RepsReading:
    inner = [_single(part, cell) for part in re.split(r"\s*\+\s*", text)]
    parts = [reading.parts[0] for reading in inner if reading is not None and reading.parts]
    if len(parts) < len(inner) or len(parts) > MAX_SETS:
        return RepsReading(problem=f"reps {cell!r} cannot be read; write them as 8+2")
    if options.plus_means == "assisted":
        helped = sum(part.reps for part in parts[1:])
        note = f"reps {cell!r}: {parts[0].reps} alone, {helped} with help, as told"
        return RepsReading((Part(parts[0].reps, "failed", note=note),))
    note = f"reps {cell!r}: {len(parts)} sets with a short pause, assumed {options.pause_s:g} s"
    return RepsReading(tuple(replace(part, after_pause=at > 0, note=note) for at, part in enumerate(parts)))


def _pair(texts: list[str], cell: str, options: ReadOptions) -> RepsReading:
    inner = [_single(text, cell) for text in texts]
    parts = [reading.parts[0] for reading in inner if reading is not None and reading.parts]
    if len(parts) < 2:
        return RepsReading(problem=f"reps {cell!r} cannot be read; write the number that was done")
    first, second = parts
    if options.pair_means == "sets":
        note = f"reps {cell!r} are 2 sets, as told"
        return RepsReading(tuple(replace(part, note=part.note or note) for part in parts))
    if options.pair_means == "sides":
        fewer = first if first.reps <= second.reps else second
        return RepsReading((replace(fewer, note=f"reps {cell!r} are two sides, as told: the lower number counts"),))
    if options.pair_means == "of_plan":
        outcome = first.outcome or ("" if first.reps >= second.reps else "stopped")
        note = f"reps {cell!r}: {first.reps} done of {second.reps} planned, as told"
        return RepsReading((Part(first.reps, outcome, note=note),))
    return RepsReading(
        problem=f"reps {cell!r} may be two sets, two sides, or done and planned", question="pair of reps"
    )
