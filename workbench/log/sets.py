"""From one record to its sets: every cell read, contradictions found, or the row set aside with the reason."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime, time
from typing import Any, Final

from workbench.gym.catalogue import Catalogue
from workbench.log.aside import AsideError
from workbench.log.canonical_sets import canonical_set
from workbench.log.cells import Cell, Formula, clean, read_number, text_of
from workbench.log.conclusions import how_ended, stated_efforts, stated_outcome
from workbench.log.dates import DateReading, day_of, read_clock
from workbench.log.loads import of_both_hands, read_load
from workbench.log.options import ReadOptions
from workbench.log.reps import MAX_SETS, ZERO_REPS, Part, RepsReading, read_reps
from workbench.log.rests import read_rest
from workbench.log.results import read_result
from workbench.log.tables import Record

__all__ = ["Settled", "read_sets"]

_UNITS: Final = {
    **dict.fromkeys(("kg", "kgs", "kilo", "kilos", "kilogram", "kilograms"), "kg"),
    **dict.fromkeys(("lb", "lbs", "pound", "pounds", "#"), "lb"),
}
#: Reps with the effort in the same cell: ``5 @8``, ``5 (RPE 8)``, ``5, 2 RIR``.
_WITH_EFFORT: Final = re.compile(
    r"(.*\d\s*(?:f|reps?)?)\s*[,;(]?\s*((?:@|rpe|rir)\s*:?\s*(?:10|\d(?:[.,]5)?)|(?<![\d.,])\d(?:[.,]5)?\s*(?:rpe|rir))\s*\)?",
    re.IGNORECASE,
)


@dataclass
class Settled:
    """What holds for the whole file, once all of it has been seen."""

    options: ReadOptions
    match_exercise: Callable[[str], str]
    catalogue: Catalogue
    order: str | None = None
    order_open: bool = False
    swapped: bool | None = None
    decimal: str | None = None
    rest_unit: str = ""
    sets_are: str = "count"
    dates: dict[int, DateReading] = field(default_factory=dict)
    odd_dates: dict[int, str] = field(default_factory=dict)


def read_sets(record: Record, settled: Settled) -> list[dict[str, Any]]:
    """Read the sets of one row; raises AsideError if any part of it cannot be used."""
    common = _common(record, settled)
    if record.section.canonical:
        return [canonical_set(record, common, settled.decimal)]
    if not record.numbered:
        return _one(record, record.fields, common, settled, number=None)
    rows: list[dict[str, Any]] = []
    for index in sorted(record.numbered):
        cells = record.numbered[index]
        if all(cells.get(name) is None for name in ("reps", "set_result", "load")):
            continue
        rows += _one(record, {**record.fields, **cells}, common, settled, number=index)
    if not rows:
        raise AsideError("no set is filled in")
    return rows


def _common(record: Record, settled: Settled) -> dict[str, Any]:
    notes = list(record.notes)
    date, clock = _date(record, settled)
    written = record.fields.get("time")
    if isinstance(written, datetime):
        written = written.time()
    if written is not None:
        if isinstance(written, float | int) and not isinstance(written, bool) and 0 <= written < 1:
            minutes = round(written * 1440)
            clock = f"{minutes // 60 % 24:02d}:{minutes % 60:02d}"
        else:
            read = read_clock(text_of(written))
            clock = read or clock
            if read is None:
                notes.append(f"time {text_of(written)!r} is not read")
    lifter = text_of(record.fields.get("lifter")) or settled.options.lifter
    if settled.options.lifter_from_sheet:
        lifter = record.section.sheet.name
    name = record.fields.get("exercise")
    if name is None:
        raise AsideError("no exercise")
    if isinstance(name, Formula):
        raise AsideError(f"exercise is the formula {name.text} without a stored value")
    return {
        "date": date,
        "time": clock,
        "lifter": lifter,
        "exercise": settled.match_exercise(text_of(name)),
        "exercise_as_written": text_of(name),
        "notes": text_of(record.fields.get("notes")),
        "reading_notes": notes,
    }


def _date(record: Record, settled: Settled) -> tuple[datetime | None, str]:
    cell = record.fields.get("date")
    if cell is None:
        return None, ""
    reading = settled.dates[id(record)]
    if reading.needs_year:
        raise AsideError(reading.problem, "year")
    if reading.problem:
        raise AsideError(reading.problem)
    if reading.recognised and settled.swapped is None:
        raise AsideError(f"date {text_of(cell)} may have day and month swapped", "swapped dates")
    day = day_of(reading, settled.order, swapped=bool(settled.swapped))
    if day is None:
        if settled.order_open:
            raise AsideError(f"date {text_of(cell)!r}: day or month first?", "date order")
        raise AsideError(f"date {text_of(cell)!r} is impossible in the order of the others")
    if odd := settled.odd_dates.get(id(record)):
        raise AsideError(odd, "odd dates")
    return datetime.combine(day, time()), reading.time


def _one(
    record: Record, cells: dict[str, Cell], common: dict[str, Any], settled: Settled, number: int | None
) -> list[dict[str, Any]]:
    result_cell = cells.get("load_by_reps")
    if result_cell is None and cells.get("load") is None and cells.get("load_twin") is None:
        result_cell = cells.get("set_result")
        if result_cell is None and re.search(r"\d\s*(kg|lb)|@", clean(text_of(cells.get("reps")))):
            result_cell, cells = cells["reps"], {**cells, "reps": None}  # 100 kg x 5 under "Reps"
    if result_cell is None or cells.get("reps") is not None:
        return _sets(record, cells, common, settled, number)
    reading = read_result(result_cell, load_first=cells.get("load_by_reps") is not None)
    if reading.problem:
        raise AsideError(reading.problem, reading.question)
    rows: list[dict[str, Any]] = []
    for result in reading.results:
        inner: dict[str, Cell] = {**cells, "load": result.load, "reps": result.reps}
        if result.sets > 1:
            inner["set_count"] = result.sets
        if result.effort:
            inner["rir" if "rir" in result.effort else "rpe"] = result.effort
        rows += _sets(record, inner, common, settled, None if number is None else number + len(rows))
    return rows


def _sets(
    record: Record, cells: dict[str, Cell], common: dict[str, Any], settled: Settled, number: int | None
) -> list[dict[str, Any]]:
    notes = list(common["reading_notes"])
    reps_cell = next((cells[n] for n in ("reps", "sets_by_reps", "set_result") if cells.get(n) is not None), None)
    if reps_cell is None and cells.get("load") is None and cells.get("load_twin") is None:
        raise AsideError("no load and no reps: the set was not done, or not written down")
    if reps_cell is None and re.search(r"\d\s*x\s*\d", clean(text_of(cells.get("set_count")))):
        reps_cell, cells = cells["set_count"], {**cells, "set_count": None}  # 3x8 under "Sets"
    reps_written = text_of(reps_cell)
    if isinstance(reps_cell, str) and (match := _WITH_EFFORT.fullmatch(" ".join(reps_cell.split()))):
        name = "rir" if "rir" in match[2].casefold() else "rpe"
        reps_cell, cells = match[1], {**cells, name: cells.get(name) or match[2]}
    outcome = stated_outcome(cells, notes)
    parts = _parts(record, cells, reps_cell, outcome, settled)
    loads, unit, load_written = _loads(record, cells, common["exercise"], settled, notes)
    if len(loads) not in (1, len(parts)):
        raise AsideError(f"{len(loads)} loads for {len(parts)} sets of reps")
    efforts, effort_written = stated_efforts(cells, len(parts), common["notes"], notes)
    rest, rest_written = _rest(record, cells, settled, notes)
    number = _set_number(cells, settled, notes) if number is None else number
    rows = []
    for at, part in enumerate(parts):
        last = at == len(parts) - 1
        ended, reserve = how_ended(part, outcome if last else "", efforts[at])
        if part.reps == 0 and ended != "failed":
            raise AsideError(ZERO_REPS)
        own = [*notes, *([part.note] if part.note else []), *([efforts[at].note] if efforts[at].note else [])]
        row = {
            **common,
            "set_number": None if number is None else number + at,
            "load_kg": loads[at] if len(loads) > 1 else loads[0],
            "load_as_written": load_written,
            "unit": unit,
            "reps": part.reps,
            "reps_as_written": reps_written,
            "outcome": ended,
            "reps_in_reserve": reserve,
            "effort_as_written": effort_written,
            "rest_s": settled.options.pause_s if part.after_pause else rest,
            "rest_as_written": rest_written,
            "reading_notes": "; ".join(dict.fromkeys(own)),
            "source_sheet": record.section.sheet.name,
            "source_row": record.row,
            **record.extras,
        }
        if cells.get("rest_after") is not None:
            row["rest_after"] = read_rest(
                cells["rest_after"], record.section.unit("rest_after") or settled.rest_unit
            ).seconds
        rows.append(row)
    return rows


def _parts(record: Record, cells: dict[str, Cell], cell: Cell, outcome: str, settled: Settled) -> tuple[Part, ...]:
    count: int | None = None
    if (counted := cells.get("set_count")) is not None and settled.sets_are == "count":
        number = read_number(text_of(counted)).value(".")
        if number is None or not number.is_integer() or not 1 <= number <= MAX_SETS:
            raise AsideError(f"number of sets {text_of(counted)!r} is not 1 to {MAX_SETS}")
        count = int(number)
    elif counted is not None and settled.sets_are == "ask":
        raise AsideError("does the column of sets count them or number them?", "sets column")
    heading = next((c.heading.text for c in record.section.columns if c.field == "sets_by_reps"), "")
    order = ("reps_first" if clean(heading).startswith("rep") else "sets_first") if heading else ""
    if text_of(cell).strip() == "0" and outcome == "failed":
        return (Part(0, "failed"),)
    reading: RepsReading = read_reps(cell, settled.options, set_count=count, times_order=order)
    if reading.problem:
        raise AsideError(reading.problem, reading.question)
    parts = reading.parts
    if count is None or count == len(parts):
        return parts
    if len(parts) > 1:
        raise AsideError(f"{count} sets by one column, {len(parts)} by the reps {text_of(cell)!r}")
    note = parts[0].note or f"{count} sets of {parts[0].reps}"
    return (*(Part(parts[0].reps, note=note),) * (count - 1), Part(parts[0].reps, parts[0].outcome, note=note))


def _loads(
    record: Record, cells: dict[str, Cell], exercise: str, settled: Settled, notes: list[str]
) -> tuple[tuple[float, ...], str, str]:
    section = record.section
    body = None
    if (cell := cells.get("body_mass")) is not None:
        weighed = read_load(
            cell,
            unit=section.unit("body_mass") or _unit(record, cells, "", settled),
            decimal=settled.decimal,
            body_mass_kg=None,
        )
        body = weighed.kg[0] if weighed.kg else None
    body = body if body is not None else settled.options.body_mass_kg
    catalogue, readings = settled.catalogue, []
    known = catalogue.knows
    for name in ("load", "load_twin"):
        if cells.get(name) is None:
            continue
        in_heading = section.unit(name) or next(
            (c.heading.unit for c in section.columns if c.field in {"load_by_reps", "set_result"}), ""
        )
        unit = _unit(record, cells, in_heading, settled)
        reading = read_load(
            cells[name],
            unit=unit,
            decimal=settled.decimal,
            body_mass_kg=body,
            one_dumbbell=known(exercise) and catalogue.exercise(exercise).implement == "dumbbell",
        )
        if not section.canonical and catalogue.hands_of(exercise) == 2:
            reading = of_both_hands(reading, _each_hand(record, name, settled), text_of(cells[name]))
        if reading.problem:
            raise AsideError(reading.problem, reading.question)
        notes.extend([reading.note] if reading.note else [])
        readings.append((reading, text_of(cells[name])))
    if not readings:
        raise AsideError("no load")
    first, written = readings[0]
    if len(readings) == 2:
        second, other = readings[1]
        # Both units of one load agree to the rounding that people do, about a kilogram.
        if len(first.kg) != len(second.kg) or any(abs(a - b) > 1.2 for a, b in zip(first.kg, second.kg, strict=True)):
            raise AsideError(f"the two columns of load disagree: {written} {first.unit} and {other} {second.unit}")
    return first.kg, first.unit, written


def _each_hand(record: Record, name: str, settled: Settled) -> bool | None:
    """Whether loads of two dumbbells are those of one hand, by the heading of their column, else as told."""
    told = settled.options.dumbbells
    by_heading = next(
        (
            column.heading.each_hand
            for column in record.section.columns
            if column.field in {name, "load_by_reps", "set_result"} and column.heading.each_hand is not None
        ),
        None,
    )
    return by_heading if by_heading is not None or told is None else told == "one_hand"


def _unit(record: Record, cells: dict[str, Cell], in_heading: str, settled: Settled) -> str:
    cell = cells.get("unit")
    stated = ""
    if cell is not None:
        stated = _UNITS.get(clean(text_of(cell)).rstrip("."), "")
        if not stated:
            raise AsideError(f"unit {text_of(cell)!r} is not known; write kg or lb")
        by_row = record.section.has("unit")
        if in_heading and stated != in_heading and by_row:
            raise AsideError(f"the unit column says {stated}, the heading of the load says {in_heading}")
        if in_heading and not by_row:
            stated = in_heading
    return stated or in_heading or settled.options.unit or ""


def _rest(record: Record, cells: dict[str, Cell], settled: Settled, notes: list[str]) -> tuple[float | None, str]:
    cell = cells.get("rest")
    if cell is None:
        return None, text_of(cells.get("rest_after"))
    reading = read_rest(cell, record.section.unit("rest") or settled.rest_unit)
    notes.extend([reading.note] if reading.note else [])
    if reading.bare is not None:
        notes.append(f"rest {text_of(cell)!r} has no unit and is left out")
    return reading.seconds, text_of(cell)


def _set_number(cells: dict[str, Cell], settled: Settled, notes: list[str]) -> int | None:
    cell = cells.get("set_number")
    if cell is None and settled.sets_are == "number":
        cell = cells.get("set_count")
    if cell is None:
        return None
    written = text_of(cell)
    if drop := re.fullmatch(r"(.*\d)\s*,\s*drop\s*(\d+)\s*", written, re.IGNORECASE):
        notes.append(f"drop {drop[2]} of set {drop[1]}")
        cell = drop[1]
    match = re.fullmatch(
        r"(?:set|s|#|no\.?)?\s*(\d{1,3})(?:\.0)?(?:st|nd|rd|th)?(?:\s*(?:/|of)\s*\d+)?", clean(text_of(cell))
    )
    if match is None:
        notes.append(f"set {text_of(cell)!r} is no number")
        return None
    return int(match[1])
