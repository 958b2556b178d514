"""Loads, load and reps in one cell, and rests, as people write them."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from datetime import time, timedelta
from typing import Final, NamedTuple

from workbench.log.cells import (
    MASS_UNITS,
    AsideError,
    Cell,
    Formula,
    Percent,
    Reading,
    clean,
    decimal,
    read_number,
    text_of,
)
from workbench.quantities import KG_PER_LB

__all__ = [
    "MAX_LOAD_KG", "MAX_REST_S", "SECONDS_FROM", "UNITS", "LoadReader", "counts_from_body", "decimal_shown",
    "holds_load_and_reps", "read_rest", "read_result",
]  # fmt: skip

#: No bar, stack or sled that people train on holds more; a larger number is a typing error or has lost its mark.
MAX_LOAD_KG: Final = 1500.0
#: A longer rest is a different session or a typing error.
MAX_REST_S: Final = 7200.0
#: A bare number of at least this is seconds, for nobody rests so many minutes after a set.
SECONDS_FROM: Final = 30.0
#: Units of a load in a cell.
UNITS: Final = {**MASS_UNITS, "#": "lb"}
_IN_KG: Final = {"kg": 1.0, "lb": KG_PER_LB}

_DIGITS: Final = r"[+-]?(?:\d[\d.,' ]*\d|\d|[.,]\d+)"
_LOAD = re.compile(rf"(?:@\s*)?(?P<number>{_DIGITS})\s*(?P<unit>kgs?|kilos?|kilograms|lbs?|pounds?|\#)?\.?")
_EACH = re.compile(
    r"(?:(?P<two>2)\s*x\s*)(?P<load>.+)|(?P<load2>.+?)\s*(?:/|per|in)?\s*(?:each|ea|hand|side|dumbbell|db|arm)s?(?:\s*hand)?"
)
_BODY = re.compile(r"(?:bw|b/w|body\s?-?weight|body\s?mass)\s*(?P<added>[+-].*)?")


def counts_from_body(written: object) -> bool:
    """Whether a load written like this was read as the whole body mass and what is added to it or taken off.

    >>> [counts_from_body(text) for text in ("BW", "body mass + 10", "+10 kg", "42.5", 20.0)]
    [True, True, True, False, False]
    """
    return re.search(r"\b(bw|b/w|body)|^\s*\+", str(written), re.IGNORECASE) is not None


def decimal_shown(cell: Cell) -> str:
    """Return the decimal mark that a cell proves, empty where it proves none or holds no number."""
    match = _LOAD.fullmatch(clean(cell)) if isinstance(cell, str) else None
    return read_number(match["number"]).shows if match else ""


@dataclass(frozen=True)
class LoadReader:
    """Reads loads [kg], one or several for several sets, by what is in force where a cell does not say so itself.

    >>> [load.value for load in LoadReader("").read("102,5 kg")], [load.value for load in LoadReader("kg").read("2x30")]
    ([102.5], [60.0])
    >>> [load.value for load in LoadReader("kg", each_hand=True).read("16")]
    [32.0]
    """

    #: Empty if none is in force.
    unit: str
    #: The decimal mark, where it is settled.
    mark: str | None = None
    #: [kg] What "BW" stands for.
    body_mass_kg: float | None = None
    #: The exercise takes only one: ``16 per hand`` is then 16, not twice that.
    one_dumbbell: bool = False
    #: Whether a load that does not say so (``2x16``, ``16 each``) is that of one of two hands; None asks.
    each_hand: bool | None = False

    def read(self, cell: Cell) -> tuple[Reading[float], ...]:
        """Read a cell, as one load or one a set."""
        loads = self._any(cell)
        says_itself = isinstance(cell, str) and len(loads) == 1 and _EACH.fullmatch(clean(cell))
        if self.each_hand is False or says_itself:
            return loads
        written = text_of(cell)
        if self.each_hand is None:
            raise AsideError(f"load {written!r}: one dumbbell or both?", "dumbbells")
        both = " / ".join(f"{2 * load.value:g}" for load in loads)
        note = "; ".join(filter(None, (loads[0].note, f"load {written!r} is that of one hand: {both} kg with both")))
        return tuple(replace(load, value=2 * load.value, note=note) for load in loads)

    def _any(self, cell: Cell) -> tuple[Reading[float], ...]:
        if cell is None:
            raise AsideError("no load")
        if isinstance(cell, Percent):
            raise AsideError(f"load {text_of(cell)} is a percentage, not a mass; write the mass")
        if isinstance(cell, Formula):
            if cell.text.startswith("#"):
                raise AsideError(f"load shows the error {cell.text}; correct the formula")
            remedy = "open and save the file in a spreadsheet program"
            raise AsideError(f"load is the formula {cell.text} without a stored value; {remedy}")
        if isinstance(cell, int | float) and not isinstance(cell, bool):
            return (_in_kg(float(cell), self.unit),)
        if not isinstance(cell, str):
            raise AsideError(f"load {text_of(cell)!r} is a date or time, not a mass; was it typed with a point?")
        return self._written(cell)

    def _written(self, cell: str) -> tuple[Reading[float], ...]:
        text = clean(cell)
        if match := _LOAD.fullmatch(text):
            if text.startswith("+"):
                return (self._on_body(text),)
            unit = UNITS.get(match["unit"] or "", self.unit)
            odd = f"load {cell!r} states its own unit, which is not that of the column"
            load = self._mass(cell, match["number"], unit)
            return (replace(load, note=odd) if self.unit not in {"", unit} else load,)
        if match := _BODY.fullmatch(text):
            return (self._on_body(match["added"] or ""),)
        if "%" in text:
            raise AsideError(f"load {cell!r} is a percentage, not a mass; write the mass")
        if match := _EACH.fullmatch(text):
            loads = replace(self, one_dumbbell=False)._written(match["load"] or match["load2"])
            if len(loads) > 1:
                return loads
            if re.search(r"side|arm$", text):
                raise AsideError(f"load {cell!r}: does the side include the bar? Write the whole load")
            if self.one_dumbbell and match["two"] is None:
                return loads
            kg = 2 * loads[0].value
            return (replace(loads[0], value=kg, note=f"load {cell!r} is read as two of them: {kg:g} kg"),)
        if re.search(r"\d\s*[/;]\s*\d", text) or text.count(",") > 1 or re.fullmatch(r"\d+(?:\s*-\s*\d+){2,}", text):
            return self._several(cell, text)
        if re.fullmatch(r"\d+([.,]\d+)?\s*-\s*\d+([.,]\d+)?.*", text):
            raise AsideError(f"load {cell!r} is a range; write the load that was lifted")
        raise AsideError(f"load {cell!r} is not a mass; write a number with kg or lb")

    def _several(self, cell: str, text: str) -> tuple[Reading[float], ...]:
        splitter = next((sign for sign in "/;," if sign in text), "-")
        last_unit = re.search(r"(kgs?|lbs?)\.?$", text)
        reader = LoadReader(UNITS[last_unit[1]] if last_unit else self.unit, self.mark)
        loads: list[Reading[float]] = []
        for piece in re.split(rf"\s*{splitter}\s*", text):
            try:
                found = reader._written(piece)
            except AsideError as error:
                if error.question:
                    raise
                found = ()
            if len(found) != 1:
                raise AsideError(f"load {cell!r} is not a list of masses")
            loads.append(replace(found[0], note=f"load {cell!r} is one load per set"))
        return tuple(loads)

    def _on_body(self, added: str) -> Reading[float]:
        """Return bodyweight with what is added to it, or with the help that is taken off."""
        if self.body_mass_kg is None:
            remedy = "add a Bodyweight column or set body_mass_kg"
            raise AsideError(f"load counts from bodyweight, which is not known; {remedy}", "body mass")
        extra, unit = 0.0, self.unit
        if added:
            match = _LOAD.fullmatch(added.replace(" ", ""))
            if match is None:
                raise AsideError(f"load {added!r} on top of bodyweight is not a mass")
            more = self._mass(added, match["number"].lstrip("+-"), UNITS.get(match["unit"] or "", unit))
            extra, unit = -more.value if added.startswith("-") else more.value, more.unit
        total = self.body_mass_kg + extra
        if total <= 0:
            raise AsideError("the help is more than the bodyweight")
        return Reading(total, unit or "kg", note=f"load is bodyweight {self.body_mass_kg:g} kg {extra:+g} kg")

    def _mass(self, cell: str, digits: str, unit: str) -> Reading[float]:
        number = read_number(digits)
        value = number.value(self.mark)
        if value is None and number.point is not None and number.comma is not None:
            possible = [kg for kg in (number.point, number.comma) if kg * _IN_KG.get(unit, 1.0) <= MAX_LOAD_KG]
            if len(possible) != 1:
                raise AsideError(f"load {cell!r} can be {number.point:g} or {number.comma:g}", "decimal")
            value = possible[0]
        if value is None:
            raise AsideError(f"load {cell!r} is not a number")
        return _in_kg(value, unit)


def _in_kg(value: float, unit: str) -> Reading[float]:
    if value != value or value < 0:
        raise AsideError(f"load {value:g} is not a mass")
    if value == 0:
        raise AsideError("load 0; write BW for bodyweight, or the load of the bar")
    if not unit:
        raise AsideError(f"load {value:g} has no unit", "unit")
    kg = value * _IN_KG[unit]
    if kg > MAX_LOAD_KG:
        raise AsideError(f"load {value:g} {unit} is more than {MAX_LOAD_KG:g} kg: a typing error?")
    return Reading(kg, unit)


_UNIT: Final = r"(?:kgs?|lbs?|pounds?)"
_ANY_LOAD: Final = rf"(?:[+-]?\d+(?:[.,]\d+)?\s*{_UNIT}?|bw(?:\s*[+-]\s*\d+(?:[.,]\d+)?\s*{_UNIT}?)?)"
_REPS: Final = r"(?:\d+(?:\s*\(?(?:f|fail|failed)\)?)?|amrap\s*\d+)"
_EFFORT: Final = r"(?:\s*[,(]?\s*(?P<effort>(?:@\s*|rpe\s*|rir\s*)\d+(?:[.,]\d+)?|\d+(?:[.,]\d+)?\s*(?:rpe|rir))\)?)?"
_LOAD_FIRST = re.compile(
    rf"(?P<load>{_ANY_LOAD})\s*(?:x|\*|for)\s*(?P<reps>{_REPS})\s*(?:reps?)?"
    rf"(?:\s*(?:x|\*)\s*(?P<sets>\d+)\s*(?:sets?)?)?{_EFFORT}"
)
_AT_LOAD = re.compile(
    rf"(?:(?P<sets>\d+)\s*(?:sets?)?\s*(?:x|\*|of)\s*)?(?P<reps>{_REPS})\s*(?:reps?)?\s*"
    rf"(?:@|at|with)\s*(?P<load>{_ANY_LOAD}){_EFFORT}"
)
_REPS_FIRST = re.compile(rf"(?P<reps>{_REPS})\s*(?:x|\*)\s*(?P<load>\d+(?:[.,]\d+)?\s*{_UNIT}){_EFFORT}")


#: A load, for no rating of effort is above 10.
_NO_RATING: Final = r"@\s*(?:1[1-9]|[2-9]\d|\d{3})"
_WHOLE_SET = re.compile(rf"\d\s*(?:(?:kg|lb)s?\s*x\s*\d|{_NO_RATING})")


def holds_load_and_reps(cell: Cell) -> bool:
    """Whether a cell meant for the load, or for how many sets, plainly holds load and reps.

    >>> [holds_load_and_reps(text) for text in ("2x8 @ 60", "100 kg x 5", "2x16", "@ 60", "3x8 @ 9")]
    [True, True, False, False, False]
    """
    return _WHOLE_SET.search(clean(text_of(cell))) is not None


class Result(NamedTuple):
    """One piece of a cell that holds load and reps, still as text, and of how many sets it is."""

    load: str
    reps: str
    sets: int = 1
    effort: str = ""


def read_result(cell: Cell, *, load_first: bool) -> list[Result]:
    """Split ``100x5``, ``3x5@100kg``, ``100 kg x 5 RPE 8``, ``100x5, 105x3``; ``load_first`` if the heading says so.

    >>> read_result("3x5@100kg", load_first=False)
    [Result(load='100kg', reps='5', sets=3, effort='')]
    """
    written = text_of(cell)
    results: list[Result] = []
    pieces = re.split(r"\s*(?:;|\n|,\s+|\s/\s|,(?=\d+(?:[.,]\d)?\s*(?:kg|lb)?\s*x)|/(?=\d))\s*", written)
    for piece in (clean(piece) for piece in pieces if piece.strip()):
        match = _AT_LOAD.fullmatch(piece) if re.search(_NO_RATING, piece) else None
        match = match or _REPS_FIRST.fullmatch(piece) or _LOAD_FIRST.fullmatch(piece) or _AT_LOAD.fullmatch(piece)
        if match is None:
            raise AsideError(f"{written!r} cannot be read as load x reps; write it as 100 kg x 5")
        found = match.groupdict()
        load, reps = found["load"], found["reps"]
        bare = match.re is _LOAD_FIRST and re.fullmatch(r"\d+(?:[.,]\d+)?", load.strip()) and reps.isdigit()
        if bare and not load_first and decimal(load) <= int(reps):
            raise AsideError(f"{written!r} may be load x reps or reps x load", "load x reps")
        results.append(Result(load, reps, int(found.get("sets") or 1), (found["effort"] or "").strip()))
    return results


_NUMBER = r"(\d+(?:[.,]\d+)?)"
_SECONDS = re.compile(rf"{_NUMBER}\s*(?:s|secs?|seconds?|\"|'')\.?")
_MINUTES = re.compile(rf"{_NUMBER}\s*(?:m|mins?|minutes?|')\.?(?:\s*{_NUMBER}\s*(?:s|secs?|seconds?|\"|'')?\.?)?")
_CLOCK = re.compile(r"(?:(\d{1,2}):)?(\d{1,2}):(\d{2})")
_RANGE = re.compile(rf"{_NUMBER}\s*(?:-|to)\s*{_NUMBER}(\s*[a-z\"'.]*)")


def read_rest(cell: Cell, unit: str) -> Reading[float | None]:
    """Read a rest [s]; ``unit`` (s, min or empty) is the one in force for bare numbers.

    >>> read_rest("2:30", "").value, read_rest("3 min", "").value, read_rest("90", "s").value
    (150.0, 180.0, 90.0)
    """
    if cell is None:
        return Reading(None)
    if isinstance(cell, timedelta):
        return _short_clock(cell.total_seconds(), cell)
    if isinstance(cell, time):
        return _short_clock(cell.hour * 3600.0 + cell.minute * 60 + cell.second, cell)
    if isinstance(cell, bool) or not isinstance(cell, str | int | float):
        return Reading(None, note=f"rest {text_of(cell)!r} is not read")
    return _written_rest(clean(text_of(cell)), text_of(cell), unit)


def _short_clock(seconds: float, cell: time | timedelta | str) -> Reading[float | None]:
    # Typing 3:00 into a spreadsheet gives three hours, written out as 3:00:00, which nobody rests.
    if seconds >= 3600:
        return _bounded(seconds / 60, f"rest {cell} is read as minutes:seconds")
    return _bounded(seconds)


def _written_rest(text: str, written: str, unit: str) -> Reading[float | None]:
    if match := _SECONDS.fullmatch(text):
        return _bounded(decimal(match[1]))
    if match := _MINUTES.fullmatch(text):
        return _bounded(60 * decimal(match[1]) + decimal(match[2] or "0"))
    if match := _CLOCK.fullmatch(text):
        return _short_clock(3600.0 * int(match[1] or 0) + 60 * int(match[2]) + int(match[3]), written)
    if match := _RANGE.fullmatch(text):
        low, high = (_written_rest(match[at] + match[3], written, unit) for at in (1, 2))
        if low.unit and low.value is not None and high.unit and high.value is not None:
            return _bounded((low.value + high.value) / 2, f"rest {written!r}: the middle is taken")
    if re.fullmatch(_NUMBER, text):
        value = decimal(text)
        if unit:
            return _bounded(value * (60 if unit == "min" else 1))
        return _bounded(value) if value >= SECONDS_FROM else Reading(value)
    return Reading(None, note=f"rest {written!r} is not read")


def _bounded(seconds: float, note: str = "") -> Reading[float | None]:
    if seconds < 0:
        return Reading(None, note="a rest below 0 is not used")
    if seconds > MAX_REST_S:
        return Reading(None, note=f"rest of {seconds / 3600:.1f} h is not used")
    return Reading(seconds, "s", note=note)
