"""Loads as people write them: with units, as bodyweight, for two dumbbells, as a list for several sets."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import Final

from workbench.log.cells import Cell, Formula, Percent, clean, read_number, text_of
from workbench.quantities import KG_PER_LB

__all__ = ["MAX_LOAD_KG", "LoadReading", "decimal_shown", "read_load"]

#: No bar, stack or sled that people train on holds more; a larger number is a typing error or has lost its mark.
MAX_LOAD_KG: Final = 1500.0

_UNIT: Final = {
    **dict.fromkeys(("kg", "kgs", "kilo", "kilos", "kilograms"), "kg"),
    **dict.fromkeys(("lb", "lbs", "pound", "pounds", "#"), "lb"),
}
_NUMBER = r"[+-]?(?:\d[\d.,' ]*\d|\d|[.,]\d+)"
_LOAD = re.compile(rf"(?:@\s*)?(?P<number>{_NUMBER})\s*(?P<unit>kgs?|kilos?|kilograms|lbs?|pounds?|\#)?\.?")
_EACH = re.compile(
    r"(?:(?P<two>2)\s*x\s*)(?P<load>.+)|(?P<load2>.+?)\s*(?:/|per|in)?\s*(?:each|ea|hand|side|dumbbell|db|arm)s?(?:\s*hand)?"
)
_BODY = re.compile(r"(?:bw|b/w|body\s?-?weight|body\s?mass)\s*(?P<added>[+-].*)?")


@dataclass(frozen=True)
class LoadReading:
    """What a load cell says: one load, or several for several sets.

    Attributes
    ----------
    kg : tuple of float
        [kg] Empty where the cell cannot be used.
    unit : str
        The unit as written or in force.
    note : str
        How it was read, where that is not plain.
    problem : str
        Why it cannot be used.
    question : str
        ``unit`` or ``decimal`` where only an answer is missing.
    told : bool
        Whether the cell itself says that the number is that of one of two: ``2x16``, ``16 each``.
    """

    kg: tuple[float, ...] = ()
    unit: str = ""
    note: str = ""
    problem: str = ""
    question: str = ""
    told: bool = False


def of_both_hands(reading: LoadReading, each_hand: bool | None, written: str) -> LoadReading:
    """Return the load of two dumbbells from what one cell says of them; a question where it could be either.

    Parameters
    ----------
    reading : LoadReading
    each_hand : bool, optional
        Whether loads of two dumbbells are those of one hand, by the heading or as told; None where nothing says so.
    written : str

    Examples
    --------
    >>> of_both_hands(LoadReading((16.0,), "kg"), True, "16").kg
    (32.0,)
    """
    if reading.told or reading.problem or each_hand is False:
        return reading
    if each_hand is None:
        return LoadReading(problem=f"load {written!r}: one dumbbell or both?", question="dumbbells")
    both = tuple(2.0 * kg for kg in reading.kg)
    note = f"load {written!r} is that of one hand: {' / '.join(f'{kg:g}' for kg in both)} kg with both"
    return replace(reading, kg=both, note="; ".join(filter(None, (reading.note, note))))


def decimal_shown(cell: Cell) -> str:
    """Return the decimal mark that a cell proves, empty where it proves none or holds no number."""
    if not isinstance(cell, str):
        return ""
    match = _LOAD.fullmatch(clean(cell))
    return read_number(match["number"]).shows if match else ""


def read_load(
    cell: Cell, *, unit: str, decimal: str | None, body_mass_kg: float | None, one_dumbbell: bool = False
) -> LoadReading:
    """Read a load; ``unit`` is the one in force where the cell states none (empty if none is in force).

    With ``one_dumbbell`` the exercise takes only one: ``16 per hand`` is then 16, not twice that.

    >>> read_load("102,5 kg", unit="", decimal=None, body_mass_kg=None).kg
    (102.5,)
    >>> read_load("2x30", unit="kg", decimal=None, body_mass_kg=None).kg
    (60.0,)
    """
    if cell is None:
        return LoadReading(problem="no load")
    if isinstance(cell, Percent):
        return LoadReading(problem=f"load {text_of(cell)} is a percentage, not a mass; write the mass")
    if isinstance(cell, Formula):
        return LoadReading(problem=_formula_problem(cell, "load"))
    if isinstance(cell, int | float) and not isinstance(cell, bool):
        return _in_kg(float(cell), unit)
    if not isinstance(cell, str):
        return LoadReading(problem=f"load {text_of(cell)!r} is a date or time, not a mass; was it typed with a point?")
    return _read_text(cell, unit, decimal, body_mass_kg, one_dumbbell)


def _formula_problem(cell: Formula, what: str) -> str:
    if cell.text.startswith("#"):
        return f"{what} shows the error {cell.text}; correct the formula"
    return f"{what} is the formula {cell.text} without a stored value; open and save the file in a spreadsheet program"


def _read_text(
    cell: str, unit: str, decimal: str | None, body_mass_kg: float | None, one_dumbbell: bool = False
) -> LoadReading:
    text = clean(cell)
    if match := _LOAD.fullmatch(text):
        stated = _UNIT.get(match["unit"] or "", "")
        note = f"load {cell!r} states its own unit, which is not that of the column" if stated and unit else ""
        note = note if stated != unit else ""
        if text.startswith("+"):
            return _body(text, stated or unit, decimal, body_mass_kg)
        return _number(cell, match["number"], stated or unit, decimal, note)
    if match := _BODY.fullmatch(text):
        return _body(match["added"] or "", unit, decimal, body_mass_kg)
    if "%" in text:
        return LoadReading(problem=f"load {cell!r} is a percentage, not a mass; write the mass")
    if match := _EACH.fullmatch(text):
        one = _read_text(match["load"] or match["load2"], unit, decimal, body_mass_kg)
        if len(one.kg) == 1:
            if re.search(r"side|arm$", text):
                return LoadReading(problem=f"load {cell!r}: does the side include the bar? Write the whole load")
            if one_dumbbell and match["two"] is None:
                return replace(one, told=True)
            kg = (2 * one.kg[0],)
            return LoadReading(kg, one.unit, f"load {cell!r} is read as two of them: {kg[0]:g} kg", told=True)
        return one
    if re.search(r"\d\s*[/;]\s*\d", text) or text.count(",") > 1 or re.fullmatch(r"\d+(?:\s*-\s*\d+){2,}", text):
        return _several(cell, text, unit, decimal)
    if re.fullmatch(r"\d+([.,]\d+)?\s*-\s*\d+([.,]\d+)?.*", text):
        return LoadReading(problem=f"load {cell!r} is a range; write the load that was lifted")
    return LoadReading(problem=f"load {cell!r} is not a mass; write a number with kg or lb")


def _several(cell: str, text: str, unit: str, decimal: str | None) -> LoadReading:
    splitter = r"\s*/\s*" if "/" in text else r"\s*;\s*" if ";" in text else r"\s*,\s*" if "," in text else r"\s*-\s*"
    last_unit = re.search(r"(kgs?|lbs?)\.?$", text)
    inner = unit if not last_unit else _UNIT[last_unit[1]]
    parts = [_read_text(part, inner, decimal, None) for part in re.split(splitter, text)]
    bad = next((part for part in parts if len(part.kg) != 1), None)
    if bad is not None:
        return bad if bad.question else LoadReading(problem=f"load {cell!r} is not a list of masses")
    return LoadReading(tuple(part.kg[0] for part in parts), parts[0].unit, f"load {cell!r} is one load per set")


def _body(added: str, unit: str, decimal: str | None, body_mass_kg: float | None) -> LoadReading:
    if body_mass_kg is None:
        return LoadReading(
            problem="load counts from bodyweight, which is not known; add a Bodyweight column or set body_mass_kg",
            question="body mass",
        )
    extra = 0.0
    if added:
        match = _LOAD.fullmatch(added.replace(" ", ""))
        if match is None:
            return LoadReading(problem=f"load {added!r} on top of bodyweight is not a mass")
        stated = _UNIT.get(match["unit"] or "", "") or unit
        more = _number(added, match["number"].lstrip("+-"), stated, decimal, "")
        if not more.kg:
            return more
        extra = -more.kg[0] if added.startswith("-") else more.kg[0]
        unit = more.unit
    total = body_mass_kg + extra
    if total <= 0:
        return LoadReading(problem="the help is more than the bodyweight")
    return LoadReading((total,), unit or "kg", f"load is bodyweight {body_mass_kg:g} kg {extra:+g} kg")


def _number(cell: str, digits: str, unit: str, decimal: str | None, note: str) -> LoadReading:
    number = read_number(digits)
    value = number.value(decimal)
    if value is None and number.point is not None and number.comma is not None:
        scale = KG_PER_LB if unit == "lb" else 1.0
        possible = [mark for mark in (number.point, number.comma) if mark * scale <= MAX_LOAD_KG]
        if len(possible) != 1:
            return LoadReading(problem=f"load {cell!r} can be {number.point:g} or {number.comma:g}", question="decimal")
        value = possible[0]
    if value is None:
        return LoadReading(problem=f"load {cell!r} is not a number")
    reading = _in_kg(value, unit)
    return LoadReading(reading.kg, reading.unit, note, reading.problem, reading.question)


def _in_kg(value: float, unit: str) -> LoadReading:
    if value != value or value < 0:
        return LoadReading(problem=f"load {value:g} is not a mass")
    if value == 0:
        return LoadReading(problem="load 0; write BW for bodyweight, or the load of the bar")
    if not unit:
        return LoadReading(problem=f"load {value:g} has no unit", question="unit")
    kg = value * (KG_PER_LB if unit == "lb" else 1.0)
    if kg > MAX_LOAD_KG:
        return LoadReading(problem=f"load {value:g} {unit} is more than {MAX_LOAD_KG:g} kg: a typing error?")
    return LoadReading((kg,), unit)
