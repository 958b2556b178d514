"""Reps as people write them, stated effort, and how the sets of a row ended.

Readings of reps, each also told in the table of what was understood:

- ``8+2``: two sets, 8 and then 2 after a short pause (or, if told so, 8 alone and 2 with help);
- ``5/5/4``: three sets. A pair such as ``8/8`` may be two sets, two sides or done/planned, and is asked about;
- ``3x8``: three sets of eight;
- ``AMRAP 9`` (as many reps as possible): 9 reps, and a tenth would have failed;
- ``7F``, ``7 failed``, ``7X``, ``7+F``: 7 reps done, the eighth failed.
"""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache, lru_cache
from typing import Final

from workbench.log.cells import AsideError, Cell, Formula, Percent, Reading, clean, decimal, read_number, text_of
from workbench.log.options import ReadOptions
from workbench.reference.sources import read_rows

__all__ = ["MAX_REPS", "MAX_RESERVE", "MAX_SETS", "how_ended", "read_reps", "stated_efforts", "stated_outcome"]

#: More reps in one set than this is a typing error or a time.
MAX_REPS: Final = 200
#: More sets in one row than this is a typing error or a load.
MAX_SETS: Final = 30
#: A set of no rep has failed at its first, or was not done.
_ZERO_REPS: Final = "0 reps: was the first rep failed (write F) or the set not done (leave it blank)?"

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
    """Read the sets of one reps cell; ``plus_means``, ``pair_means`` and ``times_order`` decide between readings.

    ``set_count`` is how many sets the row stands for, where a column says so; ``times_order`` is what the heading says
    about ``3x8`` (sets_first, reps_first or nothing) and wins over the options.
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
        why = "a spreadsheet program takes 5/5/4 or 8-10 for a date"
        raise AsideError(f"reps have become {text_of(cell)} ({why}); type them again with commas, as text")
    return _Written(cell, options, times_order or options.times_order).sets(set_count)


def _whole(value: float, written: str) -> Reading[int]:
    if value == 0:
        raise AsideError(_ZERO_REPS)
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
            done = _whole(decimal(match[1]), self.cell)
            return replace(done, note=f"reps {self.cell!r} are per side") if match[2] else done
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
            count, found = found.value, replace(found, value=_whole(float(count), self.cell).value)
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


def _read_effort(cell: Cell, kind: str) -> Effort:
    """Read one statement of effort; ``kind`` is ``rpe`` or ``rir`` by the heading, a word in the cell wins.

    A rating of perceived exertion of 5 to 10 is 10 minus the reps in reserve; lower ones say nothing about it.

    >>> _read_effort("8.5", "rpe").value, _read_effort("1-2", "rir").value, _read_effort("4", "rpe").value
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
            word = re.match("rpe|rir", said, re.IGNORECASE)  # said of the first, it holds for all
            read = [_read_effort(piece, word[0].lower() if word else name) for piece in pieces]
        else:
            read = [*[_UNSTATED] * (count - 1), _read_effort(cell, name)]
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
        if not effort.value:
            return "failed", effort.value
        if "as many as possible" in reps.note and not effort.ending and outcome != "failed":
            return "stopped", effort.value
        raise AsideError(f"says that the set was failed and that {effort.value:g} reps were left")
    if reps.value == 0:
        raise AsideError(_ZERO_REPS)
    if effort.value is not None:
        return "stopped", effort.value
    return (said.pop() if len(said) == 1 else "stopped" if said else "completed"), None
