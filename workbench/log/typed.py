"""What a person types into a field: numbers, masses, times, dates, percents, reps, a set, a rack of masses.

One home for reading a field, beside the readers of a log, and stricter: a log is read as well as it can be, but who
types is still there to be asked. A decimal comma is a decimal point; what could mean two numbers is neither. Every
function raises InputError where it takes nothing, with the remedy; the place is what was typed.

>>> typed_number("67,5", 0, 100), typed_seconds("2:00"), typed_mass("45 lb", "kg")
(67.5, 120.0, Mass(value=45.0, unit='lb'))
"""

from __future__ import annotations

import datetime
import math
import re
from collections.abc import Mapping, Sequence
from decimal import Decimal
from itertools import pairwise
from typing import Final, NamedTuple

from workbench.log.cells import MASS_UNITS, AsideError, Number, clean, read_number
from workbench.log.dates import read_date
from workbench.log.loads import read_rest, read_result
from workbench.quantities import InputError, Unit, refuse_control

__all__ = [
    "Mass",
    "RememberedSet",
    "date_said",
    "masses_said",
    "typed_date",
    "typed_list",
    "typed_mass",
    "typed_masses",
    "typed_monday",
    "typed_name",
    "typed_number",
    "typed_percent",
    "typed_reps",
    "typed_reserve",
    "typed_seconds",
    "typed_set",
    "typed_whole",
]

#: Longest part of what was typed that an error repeats.
_LONGEST: Final = 40
_WITH_UNIT: Final = re.compile(r"([+-]?(?:\d[\d.,' ]*\d|\d|[.,]\d+))\.?\s*([^\d\s.,][^\d]*)?")
_PER_HAND: Final = re.compile(r"2\s*x\s*(.+)|(.+?)\s*(?:each|per hand|in each hand|each hand|a hand|one hand|/hand)")
_RANGE: Final = re.compile(r"(\d+)\s*(?:-|to)\s*(\d+)\s*(?:reps?)?")
_FAILURE: Final = frozenset({"failure", "to failure", "fail", "max", "amrap", "as many as possible"})
_LEFT: Final = r"(?P<left>\S+)\s*(?:reps?\s*)?(?:left|in reserve|to spare|rir)|rir\s*(?P<rir>\S+)"
_ENDING: Final = re.compile(rf"(?P<set>.*?)[\s,;]+(?:(?P<none>(?:to )?failure|failed)|{_LEFT})")
_LADDER: Final = re.compile(
    r"(?P<first>\S+?)\s*(?:-|to|up to)\s*(?P<last>\S+?)\s*[,;]?\s*(?:in steps of|steps of|step|in|by|every)\s*"
    r"(?P<step>\S+?)"
    r"(?:'?s)?(?:\s*[,;]?\s*(?:without|but not|except|no|missing)\s+(?P<out>.+))?"
)
_SET_WORDS: Final = {"set": 1.0, "sets": 1.0, "x": 1.0, "rep": 1.0, "reps": 1.0, "week": 1.0, "weeks": 1.0}
_PAIR_WORDS: Final = {"pair": 1.0, "pairs": 1.0}
_RESERVE_WORDS: Final = dict.fromkeys(
    ("left", "rep", "reps", "rep left", "reps left", "in reserve", "reps in reserve", "rir", "to spare"), 1.0
)
_POINT_WORDS: Final = dict.fromkeys(("%", "percent", "per cent", "points", "point", "% of 1rm"), 1.0)
#: Nobody means minutes by a bare number of at least this, and hardly anybody seconds by less.
_PLAINLY_SECONDS: Final = 10.0
#: No set rests longer; no machine is set up longer.
_MOST_SECONDS: Final = 1800.0
_DAYS: Final = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
_MONTHS: Final = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
#: Masses of one rack, as many as a room file takes.
_MOST_MASSES: Final = 200


class Mass(NamedTuple):
    """A mass in the unit it was typed in."""

    value: float
    unit: Unit


class RememberedSet(NamedTuple):
    """A set that somebody remembers: its load, the reps done and those left; None where that was not said."""

    load: Mass
    reps: int
    reserve: float | None


def _error(text: str, problem: str, remedy: str) -> InputError:
    shown = " ".join(text.split())
    return InputError(None, repr(shown if len(shown) <= _LONGEST else f"{shown[:_LONGEST]}…"), problem, remedy)


def _bounds(low: float, high: float, unit: str = "") -> str:
    said = f" {unit}" if unit else ""
    if math.isinf(high):
        return f"use {low:g}{said} or more" if not math.isinf(low) else "use another number"
    return f"use {low:g} to {high:g}{said}"


def _value(text: str, digits: str, low: float, high: float, unit: str) -> float:
    """Return the number that digits mean: one reading alone, or the only one of two that lies within the bounds."""
    found: Number = read_number(digits)
    readings = {value for value in (found.point, found.comma) if value is not None}
    if len(readings) == 2:
        one, other = sorted(readings)
        within = [value for value in (one, other) if low <= value <= high]
        if "," in digits or len(within) == 2:
            raise _error(text, f"could be {one:g} or {other:g}", "type it without that mark, or with fewer decimals")
        readings = set(within) or {one}
    if not readings:
        raise _error(text, "is not a number here", "type it as 67.5")
    value = readings.pop()
    if not low <= value <= high:
        raise _error(text, "is out of range", _bounds(low, high, unit))
    return value


def typed_number(
    text: str,
    low: float = -math.inf,
    high: float = math.inf,
    *,
    unit: str = "",
    words: Mapping[str, float] | None = None,
    example: str = "67.5",
) -> float:
    """Return the number that was typed.

    Parameters
    ----------
    text : str
    low, high : float, [unit]
        It must lie between.
    unit : str
        Said with the bounds.
    words : mapping of str to float
        What may stand behind the number, and what the number is then multiplied by; nothing else may.
    example : str
        How to type it.
    """
    typed = clean(text)
    match = _WITH_UNIT.fullmatch(typed)
    factors = {"": 1.0, **({unit: 1.0} if unit else {}), **(words or {})}
    word = "" if match is None else (match[2] or "").strip().removesuffix(".")
    if match is None or word not in factors:
        raise _error(text, "is not a number here" if typed else "is blank", f"type it as {example}")
    factor = factors[word]
    return _value(text, match[1], low / factor, high / factor, unit if factor == 1.0 else word) * factor


def typed_whole(text: str, low: int = 0, high: int = 1000, *, unit: str = "", example: str = "5") -> int:
    """Return the whole number that was typed, with or without sets, reps, weeks or pairs behind it."""
    value = typed_number(text, unit=unit, words=_SET_WORDS | _PAIR_WORDS, example=example)
    if not value.is_integer():
        raise _error(text, "is not whole", "type a whole number")
    if not low <= value <= high:
        raise _error(text, "is out of range", _bounds(low, high, unit))
    return int(value)


def typed_mass(
    text: str,
    unit: Unit,
    low: float = 0.0,
    high: Mapping[Unit, float] | None = None,
    *,
    each_hand: bool = False,
) -> Mass:
    """Return the mass that was typed, in its own unit; without one in ``unit``.

    Parameters
    ----------
    text : str
    unit : {"kg", "lb"}
    low : float
        In either unit.
    high : mapping of str to float
        Most, in each unit.
    each_hand : bool
        Of two dumbbells it is that of one hand: "2 x 16" and "16 each" are 16.
    """
    most: Mapping[Unit, float] = high or {"kg": 1000.0, "lb": 2200.0}
    typed = clean(text)
    if match := _PER_HAND.fullmatch(typed):
        if not each_hand:
            raise _error(text, "speaks of two", "type the whole mass, as 32")
        typed = match[1] or match[2]
    found = _WITH_UNIT.fullmatch(typed)
    word = "" if found is None else (found[2] or "").strip().removesuffix(".")
    if found is None or (word and word not in MASS_UNITS):
        raise _error(text, "is not a mass" if typed else "is blank", f"type it as 67.5, 67.5 {unit} or 150 lb")
    own: Unit = "lb" if (MASS_UNITS[word] if word else unit) == "lb" else "kg"
    return Mass(_value(text, found[1], low, most[own], own), own)


def typed_percent(text: str, low: float = 1.0, high: float = 120.0) -> float:
    """Return the percent that was typed, with or without its sign; a part of one, such as 0.7, could be either."""
    value = typed_number(text, unit="%", words=_POINT_WORDS, example="70")
    if 0 < abs(value) <= 1.2 and low >= 1.0 and "%" not in text:
        raise _error(text, f"could be {value:g} % or {100 * value:g} %", f"type it as {100 * value:g} or {value:g} %")
    if not low <= value <= high:
        raise _error(text, "is out of range", _bounds(low, high, "%"))
    return value


def typed_seconds(text: str, low: float = 0.0, high: float = _MOST_SECONDS) -> float:
    """Return the seconds that were typed: 90, 90 s, 1:30, 1.5 min or 1 min 30."""
    typed, example = clean(text), "90, 1:30 or 2 min"
    if not typed:
        raise _error(text, "is blank", f"type it as {example}")
    bare = re.fullmatch(r"[+-]?[\d.,]+", typed)
    if bare:
        value = typed_number(text, unit="s", example=example)
        if 0.0 < value < _PLAINLY_SECONDS:
            number = typed.lstrip("+-")
            raise _error(text, f"could be {number} seconds or {number} minutes", f"type {number} s or {number} min")
    else:
        clock = re.fullmatch(r"\d{1,2}:(\d\d)", typed)
        read = read_rest(typed, "s")
        if read.value is None or (":" in typed and (clock is None or int(clock[1]) >= 60)) or "middle" in read.note:
            raise _error(text, "is no time of a rest", f"type it as {example}")
        value = read.value
    if not low <= value <= high:
        raise _error(text, "is out of range", f"use {low:g} to {high:g} s")
    return value


def typed_reps(text: str, most: int = 100) -> tuple[int, float]:
    """Return lowest and highest reps: 6, 8-12, or to failure, whose highest is infinite."""
    typed = clean(text)
    if typed in _FAILURE:
        return 1, math.inf
    if match := _RANGE.fullmatch(typed):
        low, high = int(match[1]), int(match[2])
        if low > high:
            raise _error(text, "runs downwards", f"type it as {high}-{low}")
        if not 1 <= low <= high <= most:
            raise _error(text, "is out of range", f"use 1 to {most} reps")
        return low, high
    value = typed_whole(text, 1, most, unit="reps", example="6, 8-12 or failure")
    return value, value


def typed_reserve(text: str, high: float = 10.0) -> float:
    """Return the reps left in reserve: 2, 2 left, RIR 2; a rating of effort is not turned into them."""
    typed = clean(text)
    if "rpe" in typed or "@" in typed:
        raise _error(text, "is a rating of effort", "type the reps that were left, as 2")
    typed = re.sub(r"^rir\s*", "", typed)
    return typed_number(typed or text, 0.0, high, unit="reps", words=_RESERVE_WORDS, example="2")


def typed_set(text: str, unit: Unit, *, each_hand: bool = False) -> RememberedSet:
    """Return a remembered set, such as "24 kg, 12 reps, 2 left" or "24 x 12 to failure".

    Raises
    ------
    InputError
        Load or reps are missing, or could be read in two ways.
    """
    typed, reserve = clean(text).replace("×", "x"), None
    example = f"24 {unit}, 12 reps, 2 left"
    if match := _ENDING.fullmatch(typed):
        typed = match["set"].strip(" ,;")
        reserve = 0.0 if match["none"] else typed_reserve(match["left"] or match["rir"], 5.0)
    two = re.match(r"2\s*x\s*(?=\S+\s*(?:kgs?|lbs?)?\s*(?:x|,|;|for)\s)", typed) if each_hand else None
    typed = typed[two.end() :] if two else typed
    parts = re.fullmatch(r"(.+?)(?:\s*[;]\s*|,\s+|\s+for\s+)(\d+)\s*(?:reps?|x)?", typed)
    parts = parts or re.fullmatch(r"([\d.,]+\s*[a-z]*)\s*[x*]\s*(\d+)\s*(?:reps?)?", typed)
    if parts:
        load, reps = parts[1], parts[2]
    else:
        try:
            (one,) = read_result(typed, load_first=True)
        except (AsideError, ValueError):
            raise _error(text, "is no set that can be read", f"type it as {example}") from None
        if one.sets != 1 or one.effort or not one.reps.isdigit():
            raise _error(text, "is more than load, reps and reps left of one set", f"type it as {example}")
        load, reps = one.load, one.reps
    return RememberedSet(typed_mass(load, unit, each_hand=each_hand), typed_whole(reps, 1, 100, unit="reps"), reserve)


def typed_list(text: str, low: float, high: float, *, unit: str = "") -> list[float]:
    """Return several numbers: 65, 67.5, 70 or 65; 67,5; 70."""
    return [typed_number(part, low, high, unit=unit, example="65, 67.5, 70") for part in _parts(text)]


def _parts(text: str) -> list[str]:
    """Split a list at semicolons, else at commas with a space, else at spaces, else at commas without."""
    typed = clean(text).strip(" ,;")
    for mark in (r"\s*;\s*", r",\s+", r"\s+"):
        parts = [part for part in re.split(mark, typed) if part and part not in ("and", ",")]
        if len(parts) > 1:
            return [part.removesuffix(",") for part in parts]
    if typed.count(",") == 1:
        first, second = typed.split(",")
        raise _error(text, f"could be {first}.{second} alone or {first} and {second}", "put a space after each comma")
    return typed.split(",")


def typed_masses(text: str) -> list[Decimal]:
    """Return the masses of a rack, rising: "4 to 32 in 2s, without 26" or a list of them.

    >>> [float(mass) for mass in typed_masses("4 to 10 in 2s, without 8")]
    [4.0, 6.0, 10.0]

    Raises
    ------
    InputError
        No list, steps that do not reach the last mass, or one left out that is not there.
    """
    typed = clean(text)
    if not typed:
        raise _error(text, "is blank", "type it as 4 to 32 in 2s, without 26")
    if match := _LADDER.fullmatch(typed):
        first, last, step = (_exact(match[name], text) for name in ("first", "last", "step"))
        steps = (last - first) / step
        if steps < 0 or steps != int(steps):
            raise _error(text, f"steps of {step:f} from {first:f} do not reach {last:f}", "mend the step or the last")
        if steps >= _MOST_MASSES:
            raise _error(text, f"makes more than {_MOST_MASSES} masses", "mend the step")
        masses = [first + step * number for number in range(int(steps) + 1)]
        for gone in _parts(match["out"]) if match["out"] else []:
            if (mass := _exact(gone, text)) not in masses:
                raise _error(text, f"has no {gone} to leave out", f"the steps are {', '.join(map(str, masses))}")
            masses.remove(mass)
    else:
        masses = sorted({_exact(part, text): None for part in _parts(text)})
    if not masses:
        raise _error(text, "leaves nothing", "leave fewer out")
    return masses


def masses_said(masses: Sequence[Decimal]) -> str:
    """Return the masses of a rack as `typed_masses` reads them: as steps, where most of the steps are there.

    >>> masses_said([Decimal(mass) for mass in (4, 6, 8, 12, 14)])
    '4 to 14 in 2s, without 10'
    """
    rising = sorted(masses)
    listed = "; ".join(f"{mass.normalize():f}" for mass in rising)
    if len(rising) < 3:
        return listed
    first, last = rising[0], rising[-1]
    step = min(after - before for before, after in pairwise(rising))
    count = (last - first) / step
    if count != int(count) or count >= _MOST_MASSES:
        return listed
    ladder = [first + step * number for number in range(int(count) + 1)]
    out = [mass for mass in ladder if mass not in rising]
    if len(ladder) - len(out) < len(rising) or 2 * len(out) >= len(rising):
        return listed
    steps = f"{first.normalize():f} to {last.normalize():f} in {step.normalize():f}s"
    return steps if not out else f"{steps}, without {'; '.join(f'{mass.normalize():f}' for mass in out)}"


def _exact(text: str, whole: str) -> Decimal:
    value = typed_number(text.strip(), 0.001, 2000.0, words={"kg": 1.0, "lb": 1.0, "kgs": 1.0, "lbs": 1.0})
    exact = Decimal(repr(value))
    if exact != round(exact, 3):
        raise _error(whole, "has too many decimals", "use at most 3")
    return exact.normalize() if exact != exact.to_integral() else exact.to_integral()


def typed_date(text: str) -> datetime.date:
    """Return the date that was typed, with its year; one that could be two dates is neither."""
    reading = read_date(" ".join(text.split()))
    days = sorted(set(reading.dates.values()))
    if len(days) > 1:
        one, other = map(date_said, days[:2])
        raise _error(text, f"could be {one} or {other}", f"type it as {one}")
    if not days or reading.time:
        problem = "has no year" if reading.needs_year else "is not a date here" if text.strip() else "is blank"
        raise _error(text, problem, "type it as 5 Jan 2026")
    return days[0]


def typed_monday(text: str) -> datetime.date:
    """Return the Monday that was typed; of another day, the error names the Monday of its week."""
    day = typed_date(text)
    if day.weekday():
        monday = day - datetime.timedelta(days=day.weekday())
        raise _error(text, f"is a {_DAYS[day.weekday()]}", f"type the Monday of that week, {date_said(monday)}")
    return day


def date_said(day: datetime.date) -> str:
    """Return a date as it is typed.

    >>> date_said(typed_date("2026-01-05"))
    '5 Jan 2026'
    """
    return f"{day.day} {_MONTHS[day.month - 1]} {day.year}"


def typed_name(text: str, most: int = 80) -> str:
    """Return a name: some letters or digits, not too long, nothing that a page or terminal would obey."""
    name = " ".join(text.split())
    if not name:
        raise _error(text, "is blank", "type a name")
    if len(name) > most:
        raise _error(text, f"has more than {most} characters", "shorten it")
    return refuse_control("name", name)
