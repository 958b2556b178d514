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
from dataclasses import replace
from typing import Final

from workbench.log.cells import AsideError, Cell, Formula, Percent, Reading, clean, decimal, read_number, text_of
from workbench.log.options import ReadOptions

__all__ = ["MAX_REPS", "MAX_SETS", "ZERO_REPS", "read_reps"]

#: More reps in one set than this is a typing error or a time.
MAX_REPS: Final = 200
#: More sets in one row than this is a typing error or a load.
MAX_SETS: Final = 30
#: A set of no rep has failed at its first, or was not done.
ZERO_REPS: Final = "0 reps: was the first rep failed (write F) or the set not done (leave it blank)?"

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


Sets = tuple[Reading[int], ...]


def read_reps(cell: Cell, options: ReadOptions, *, set_count: int | None = None, times_order: str = "") -> Sets:
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
        raise AsideError("no reps")
    if isinstance(cell, Formula):
        shown = "shows the error" if cell.text.startswith("#") else "is a formula without a stored value:"
        raise AsideError(f"reps {shown} {cell.text}; open and save the file in a spreadsheet program")
    if isinstance(cell, bool | Percent):
        raise AsideError(f"reps {text_of(cell)!r} is no number of reps")
    if isinstance(cell, int | float):
        return (_whole(float(cell), text_of(cell)),)
    if not isinstance(cell, str):
        raise AsideError(
            f"reps have become {text_of(cell)} (a spreadsheet program takes 5/5/4 or 8-10 for a date); "
            "type them again with commas, as text"
        )
    return _Written(cell, options, times_order or options.times_order).sets(set_count)


def _whole(value: float, written: str) -> Reading[int]:
    if value == 0:
        raise AsideError(ZERO_REPS)
    if not value.is_integer() or value < 0:
        raise AsideError(f"reps {written!r} is no whole number; write the whole reps, and F if the next failed")
    if value > MAX_REPS:
        raise AsideError(f"{written} reps is more than {MAX_REPS}: a typing error?")
    return Reading(int(value))


class _Written:
    """One cell of text, with what decides between its readings."""

    def __init__(self, cell: str, options: ReadOptions, order: str) -> None:
        self.cell, self.options, self.order = cell, options, order

    def trouble(self, what: str, question: str = "") -> AsideError:
        """Return the error that names the cell."""
        return AsideError(f"reps {self.cell!r}{what}", question)

    def sets(self, set_count: int | None) -> Sets:
        """Tell which manner of writing the cell is in, and read it so."""
        text = clean(self.cell)
        if single := self.single(text):
            return (single,)
        if _TIME_HELD.fullmatch(text):
            raise self.trouble(" is a time, not a number of reps")
        if re.fullmatch(r"\d+\s*\+", text):
            raise self.trouble(" is a plan (that many or more); write the reps that were done")
        if re.fullmatch(r"\d+\s*(?:-|to|\.\.)\s*\d+(?:\s*reps?)?", text):
            raise self.trouble(" is a range; write the reps that were done")
        for pattern, fewest in ((r"\s*;\s*", 2), (r",\s+", 2), (r",", 3)):
            if len(pieces := re.split(pattern, text)) >= fewest:
                return self.listed(pieces)
        if re.fullmatch(r"\d+,\d+", text):
            raise self.trouble(" may be two sets or a decimal; write 8/8 or whole reps")
        if match := _TIMES.fullmatch(text):
            return self.times(match)
        if "+" in text:
            return self.with_pauses(text)
        pieces = re.split(r"\s*/\s*", text)
        if len(pieces) == 2 and set_count in (None, 1):
            return self.pair(pieces)
        if len(pieces) >= 2:
            return self.listed(pieces)
        pieces = re.split(r"\s*-\s*", text)
        if len(pieces) >= 3:
            return self.listed(pieces)
        pieces = text.split(" ")
        if len(pieces) >= 3 and all(piece.isdigit() for piece in pieces):
            return self.listed(pieces)
        raise self.trouble(" cannot be read; write the number that was done")

    def single(self, text: str) -> Reading[int] | None:
        """Read one set; None if the text is not written like one."""
        if match := _AMRAP.fullmatch(text):
            note = f"reps {self.cell!r}: as many as possible, so the next rep is taken to have failed"
            return replace(_whole(float(match[1] or match[2]), self.cell), ending="failed", note=note)
        match = _FAILED.fullmatch(text)
        if re.fullmatch(r"f|fail|failed|miss|missed|failure", text) or (match and int(match[1]) == 0):
            return Reading(0, ending="failed", note=f"reps {self.cell!r}: the first rep failed")
        if match:
            note = f"reps {self.cell!r}: {int(match[1])} done, the next failed"
            return replace(_whole(float(match[1]), self.cell), ending="failed", note=note)
        if match := _ATOM.fullmatch(text):
            note = f"reps {self.cell!r} are per side" if match[2] else ""
            return replace(_whole(decimal(match[1]), self.cell), note=note)
        number = read_number(text)
        if number.shows and number.point is not None and re.fullmatch(r"\d+[.]\d+", text):
            return _whole(number.point, self.cell)
        return None

    def singles(self, pieces: list[str], remedy: str) -> list[Reading[int]]:
        """Read pieces that are one set each."""
        try:
            sets = [found for piece in pieces if (found := self.single(piece))]
        except AsideError:
            sets = []
        if not len(pieces) == len(sets) <= MAX_SETS:
            raise self.trouble(f" cannot be read; write {remedy}")
        return sets

    def listed(self, pieces: list[str]) -> Sets:
        """Read sets one after the other: ``5/5/4``."""
        sets: list[Reading[int]] = []
        for piece in pieces:
            if match := _TIMES.fullmatch(piece):
                sets += self.times(match)
            elif found := self.single(piece):
                sets.append(found)
            elif "+" in piece:
                sets += self.with_pauses(piece)
            else:
                raise self.trouble(f": {piece!r} is no number of reps")
        if len(sets) > MAX_SETS:
            raise self.trouble(f" would be {len(sets)} sets: a typing error?")
        note = f"reps {self.cell!r} are {len(sets)} sets"
        return tuple(replace(found, note=found.note or note) for found in sets)

    def times(self, match: re.Match[str]) -> Sets:
        """Read sets that are alike: ``3x8``."""
        found = self.single(match[2])
        if found is None:
            raise self.trouble(" cannot be read; write the reps that were done, such as 8/8/7")
        count = int(match[1])
        if self.order == "reps_first" and "set" not in match.string:
            count, found = found.value, replace(found, value=count)
        if found.ending and count > 1:
            raise self.trouble(": which of the sets ended so? Write each set, such as 8/8/7F")
        if not 1 <= count <= MAX_SETS:
            raise self.trouble(f" would be {count} sets: is one number the load?")
        note = found.note or f"reps {self.cell!r} are {count} {'set' if count == 1 else 'sets'} of {found.value}"
        return (replace(found, note=note),) * count

    def with_pauses(self, text: str) -> Sets:
        """Read sets with a short pause between them, or reps alone and then with help: ``8+2``."""
        sets = self.singles(re.split(r"\s*\+\s*", text), "them as 8+2")
        if self.options.plus_means == "assisted":
            helped = sum(found.value for found in sets[1:])
            note = f"reps {self.cell!r}: {sets[0].value} alone, {helped} with help, as told"
            return (Reading(sets[0].value, ending="failed", note=note),)
        note = f"reps {self.cell!r}: {len(sets)} sets with a short pause, assumed {self.options.pause_s:g} s"
        return tuple(replace(found, after_pause=at > 0, note=note) for at, found in enumerate(sets))

    def pair(self, pieces: list[str]) -> Sets:
        """Read two numbers that may be sets, sides, or done and planned, as told: ``8/8``."""
        first, second = self.singles(pieces, "the number that was done")
        if self.options.pair_means == "sets":
            note = f"reps {self.cell!r} are 2 sets, as told"
            return tuple(replace(found, note=found.note or note) for found in (first, second))
        if self.options.pair_means == "sides":
            fewer = first if first.value <= second.value else second
            return (replace(fewer, note=f"reps {self.cell!r} are two sides, as told: the lower number counts"),)
        if self.options.pair_means == "of_plan":
            ending = first.ending or ("" if first.value >= second.value else "stopped")
            note = f"reps {self.cell!r}: {first.value} done of {second.value} planned, as told"
            return (Reading(first.value, ending=ending, note=note),)
        raise self.trouble(" may be two sets, two sides, or done and planned", "pair of reps")
