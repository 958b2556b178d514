"""From one record to its sets: every cell read, contradictions found, or the row set aside with the reason."""

from __future__ import annotations

import re
from contextlib import suppress
from dataclasses import replace
from datetime import datetime, time
from typing import Any, Final

from workbench.log.cells import AsideError, Cell, Formula, Reading, clean, read_number, text_of
from workbench.log.dates import read_clock
from workbench.log.loads import MAX_LOAD_KG, MAX_REST_S, UNITS, LoadReader, holds_load_and_reps, read_rest, read_result
from workbench.log.options import NOT_DONE
from workbench.log.questions import Settled
from workbench.log.reps import MAX_REPS, MAX_RESERVE, MAX_SETS, how_ended, read_reps, stated_efforts, stated_outcome
from workbench.log.tables import Record

__all__ = ["read_sets"]

#: Reps with the effort in the same cell: ``5 @8``, ``5 (RPE 8)``, ``5, 2 RIR``.
_WITH_EFFORT: Final = re.compile(
    r"(.*\d\s*(?:f|reps?)?)\s*[,;(]?\s*((?:@|rpe|rir)\s*:?\s*(?:10|\d(?:[.,]5)?)|(?<![\d.,])\d(?:[.,]5)?\s*(?:rpe|rir))\s*\)?",
    re.IGNORECASE,
)
#: Fields that hold load and reps in one cell.
_BOTH: Final = ("load_by_reps", "set_result")
#: More than the rows of any file that is read.
_MAX_ROW: Final = 10**9
_WRITTEN_BY_PROGRAMS: Final = re.compile(r"\d+(?:\.\d+)?(?:e[+-]?\d+)?", re.ASCII)


def read_sets(record: Record, settled: Settled) -> list[dict[str, Any]]:
    """Read the sets of one row; raises AsideError if any part of it cannot be used."""
    if not (record.filled_in or record.numbered or record.section.canonical):
        raise AsideError(NOT_DONE)
    common = _common(record, settled)
    if record.section.canonical:
        return [_canonical_set(record, common, settled.decimal)]
    if not record.numbered:
        return _sets_of(record, record.fields, common, settled, number=None)
    rows: list[dict[str, Any]] = []
    for index in sorted(record.numbered):
        cells = record.numbered[index]
        if any(cells.get(name) is not None for name in ("reps", "set_result", "load")):
            rows += _sets_of(record, {**record.fields, **cells}, common, settled, number=index)
    if not rows:
        raise AsideError("no set is filled in")
    return rows


def _common(record: Record, settled: Settled) -> dict[str, Any]:
    notes = list(record.notes)
    day, clock = _date(record, settled)
    if (cell := record.fields.get("time")) is not None:
        read = read_clock(cell)
        clock = read or clock
        notes += [f"time {text_of(cell)!r} is not read"] if read is None else []
    lifter = text_of(record.fields.get("lifter")) or settled.options.lifter
    if settled.options.lifter_from_sheet:
        lifter = record.section.sheet.name
    name = record.fields.get("exercise")
    if name is None:
        raise AsideError("no exercise")
    if isinstance(name, Formula):
        raise AsideError(f"exercise is the formula {name.text} without a stored value")
    exercise, unknown = settled.find_exercise(text_of(name))
    if unknown:
        raise AsideError(unknown)
    return {
        "date": day,
        "time": clock,
        "lifter": lifter,
        "exercise": exercise,
        "exercise_as_written": text_of(name),
        "notes": text_of(record.fields.get("notes")),
        "reading_notes": notes,
    }


def _date(record: Record, settled: Settled) -> tuple[datetime | None, str]:
    reading, written = record.date, text_of(record.fields.get("date"))
    if reading is None:
        return None, ""
    if reading.problem:
        raise AsideError(reading.problem, "year" if reading.needs_year else "")
    if reading.recognised and settled.swapped is None:
        raise AsideError(f"date {written} may have day and month swapped", "swapped dates")
    if record.day is None:
        if settled.order_open:
            raise AsideError(f"date {written!r}: day or month first?", "date order")
        raise AsideError(f"date {written!r} is impossible in the order of the others")
    if record.odd_date:
        raise AsideError(record.odd_date, "odd dates")
    return datetime.combine(record.day, time()), reading.time


def _sets_of(
    record: Record, cells: dict[str, Cell], common: dict[str, Any], settled: Settled, number: int | None
) -> list[dict[str, Any]]:
    """Return the sets of a row, or of one numbered set of it; a cell of load and reps is taken apart first."""
    result_cell = cells.get("load_by_reps")
    if result_cell is None and cells.get("load") is None and cells.get("load_twin") is None:
        result_cell = cells.get("set_result")
        if result_cell is None and re.search(r"\d\s*(kg|lb)|@", clean(text_of(cells.get("reps")))):
            result_cell, cells = cells["reps"], {**cells, "reps": None}  # 100 kg x 5 under "Reps"
    for name in ("load", "set_count"):  # 2x8 @ 60 under "Load" or "Sets", with nothing under "Reps"
        others = {"load", "reps", "sets_by_reps"} - {name}
        alone = result_cell is None and all(cells.get(other) is None for other in others)
        if alone and holds_load_and_reps(cells.get(name)):
            result_cell, cells = cells[name], {**cells, name: None}
    if result_cell is None or cells.get("reps") is not None:
        return _Sets(record, cells, common, settled).rows(number)
    rows: list[dict[str, Any]] = []
    for result in read_result(result_cell, load_first=cells.get("load_by_reps") is not None):
        inner: dict[str, Cell] = {**cells, "load": result.load, "reps": result.reps}
        if result.sets > 1:
            inner["set_count"] = result.sets
        if result.effort:
            inner["rir" if "rir" in result.effort else "rpe"] = result.effort
        rows += _Sets(record, inner, common, settled).rows(None if number is None else number + len(rows))
    return rows


class _Sets:
    """Sets that share their cells, and notes on how these were read."""

    def __init__(self, record: Record, cells: dict[str, Cell], common: dict[str, Any], settled: Settled) -> None:
        self.section, self.settled, self.common = record.section, settled, common
        self.cells = cells
        self.notes: list[str] = list(common["reading_notes"])
        self.is_drop = False
        self.source = {"source_sheet": record.section.sheet.name, "source_row": record.row, **record.extras}

    def rows(self, number: int | None) -> list[dict[str, Any]]:
        """Return one row a set; ``number`` is that of the first, where a heading says so."""
        reps_cell, reps_written = self._reps_cell()
        outcome = stated_outcome(self.cells)
        sets = self._reps(reps_cell, outcome)
        loads, load_written = self._loads()
        if len(loads) not in (1, len(sets)):
            raise AsideError(f"{len(loads)} loads for {len(sets)} sets of reps")
        efforts, effort_written = stated_efforts(self.cells, len(sets), self.common["notes"], self.notes)
        rest, rest_after, rest_written = self._rests()
        number = self._set_number() if number is None else number
        pause_s = self.settled.options.pause_s
        if self._has_no_rest_by_plan(rest):
            rest = pause_s
            self.notes.append(f"rest not given: the pause before a drop, assumed {pause_s:g} s")
        rows = []
        for at, (reps, effort) in enumerate(zip(sets, efforts, strict=True)):
            ended, reserve = how_ended(reps, outcome if at == len(sets) - 1 else "", effort)
            row = {
                **self.common,
                "set_number": None if number is None else number + at,
                "load_kg": loads[at if len(loads) > 1 else 0].value,
                "load_as_written": load_written,
                "unit": loads[0].unit,
                "reps": reps.value,
                "reps_as_written": reps_written,
                "outcome": ended,
                "reps_in_reserve": reserve,
                "effort_as_written": effort_written,
                "rest_s": pause_s if reps.after_pause else rest,
                "rest_as_written": rest_written,
                "reading_notes": "; ".join(dict.fromkeys(filter(None, (*self.notes, reps.note, effort.note)))),
                **self.source,
            }
            if self.cells.get("rest_after") is not None:
                row["rest_after"] = rest_after
            rows.append(row)
        return rows

    def _reps_cell(self) -> tuple[Cell, str]:
        """Return the cell of reps without an effort that stands in it, and the cell as written."""
        cells = self.cells
        cell = next((cells[n] for n in ("reps", "sets_by_reps", "set_result") if cells.get(n) is not None), None)
        if cell is None and cells.get("load") is None and cells.get("load_twin") is None:
            raise AsideError(NOT_DONE)
        if cell is None and re.search(r"\d\s*x\s*\d", clean(text_of(cells.get("set_count")))):
            cell, self.cells = cells["set_count"], {**cells, "set_count": None}  # 3x8 under "Sets"
        written = text_of(cell)
        if isinstance(cell, str) and (match := _WITH_EFFORT.fullmatch(" ".join(cell.split()))):
            name = "rir" if "rir" in match[2].casefold() else "rpe"
            cell, self.cells = match[1], {**self.cells, name: cells.get(name) or match[2]}
        return cell, written

    def _reps(self, cell: Cell, outcome: str) -> tuple[Reading[int], ...]:
        count: int | None = None
        if (counted := self.cells.get("set_count")) is not None and self.settled.sets_are == "count":
            number = read_number(text_of(counted)).value(".")
            if number is None or not number.is_integer() or not 1 <= number <= MAX_SETS:
                raise AsideError(f"number of sets {text_of(counted)!r} is not 1 to {MAX_SETS}")
            count = int(number)
        elif counted is not None and self.settled.sets_are == "ask":
            raise AsideError("does the column of sets count them or number them?", "sets column")
        if text_of(cell).strip() == "0" and outcome == "failed":
            return (Reading(0, ending="failed"),)
        heading = next((clean(heading.text) for heading in self.section.headings("sets_by_reps")), "")
        order = ("reps_first" if heading.startswith("rep") else "sets_first") if heading else ""
        sets = read_reps(cell, self.settled.options, set_count=count, times_order=order)
        if count is None or count == len(sets):
            return sets
        if len(sets) > 1:
            raise AsideError(f"{count} sets by one column, {len(sets)} by the reps {text_of(cell)!r}")
        (last,) = sets
        last = Reading(last.value, ending=last.ending, note=last.note or f"{count} sets of {last.value}")
        return (*(replace(last, ending=""),) * (count - 1), last)

    def _loads(self) -> tuple[tuple[Reading[float], ...], str]:
        """Return the load of all sets, or of each, and the load as written."""
        body_mass_kg = self._body_mass_kg()
        catalogue, exercise = self.settled.catalogue, self.common["exercise"]
        one_dumbbell = catalogue.knows(exercise) and catalogue.exercise(exercise).implement == "dumbbell"
        found: list[tuple[tuple[Reading[float], ...], str]] = []
        for name in ("load", "load_twin"):
            if (cell := self.cells.get(name)) is not None:
                unit = self._unit(self.section.unit(name) or self.section.unit(*_BOTH))
                reader = LoadReader(unit, self.settled.decimal, body_mass_kg, one_dumbbell, self._each_hand(name))
                loads = reader.read(cell)
                self.notes.append(loads[0].note)
                found.append((loads, text_of(cell)))
        if not found:
            raise AsideError("no load")
        loads, written = found[0]
        for others, other in found[1:]:
            # Both units of one load agree to the rounding that people do, about a kilogram.
            pairs = zip(loads, others, strict=False)
            if len(loads) != len(others) or any(abs(a.value - b.value) > 1.2 for a, b in pairs):
                units = f"{written} {loads[0].unit} and {other} {others[0].unit}"
                raise AsideError(f"the two columns of load disagree: {units}")
        return loads, written

    def _body_mass_kg(self) -> float | None:
        if (cell := self.cells.get("body_mass")) is not None:
            unit = self.section.unit("body_mass") or self._unit("")
            with suppress(AsideError):
                return LoadReader(unit, self.settled.decimal).read(cell)[0].value
        return self.settled.options.body_mass_kg

    def _each_hand(self, name: str) -> bool | None:
        """Whether loads of two dumbbells are those of one hand, by the heading of their column, else as told."""
        if self.settled.catalogue.hands_of(self.common["exercise"]) != 2:
            return False
        headings = self.section.headings(name, *_BOTH)
        told = self.settled.options.dumbbells
        by_heading = next((heading.each_hand for heading in headings if heading.each_hand is not None), None)
        return by_heading if by_heading is not None or told is None else told == "one_hand"

    def _unit(self, in_heading: str) -> str:
        """Return the unit of a load whose cell states none: of its row, its heading, or as told."""
        stated = ""
        if (cell := self.cells.get("unit")) is not None:
            stated = UNITS.get(clean(text_of(cell)).rstrip("."), "")
            if not stated:
                raise AsideError(f"unit {text_of(cell)!r} is not known; write kg or lb")
            if in_heading and not self.section.headings("unit"):
                stated = in_heading
            elif in_heading and stated != in_heading:
                raise AsideError(f"the unit column says {stated}, the heading of the load says {in_heading}")
        return stated or in_heading or self.settled.options.unit or ""

    def _rests(self) -> tuple[float | None, float | None, str]:
        """Return the rests before and after, and the rest as written."""
        before, after = (
            read_rest(self.cells.get(name), self.section.unit(name) or self.settled.rest_unit)
            for name in ("rest", "rest_after")
        )
        cell = self.cells.get("rest")
        written = text_of(self.cells.get("rest_after") if cell is None else cell)
        bare = before.value is not None and not before.unit
        self.notes += [before.note, f"rest {written!r} has no unit and is left out" if bare else ""]
        return before.value if before.unit else None, after.value if after.unit else None, written

    def _has_no_rest_by_plan(self, rest: float | None) -> bool:
        """Whether a set is a drop whose pause stands nowhere: it is as long as changing the load, and no usual rest."""
        after = self.settled.options.rest_is == "after" or bool(self.section.headings("rest_after"))
        return self.is_drop and rest is None and not after

    def _set_number(self) -> int | None:
        cell = self.cells.get("set_number")
        if cell is None and self.settled.sets_are == "number":
            cell = self.cells.get("set_count")
        if cell is None:
            return None
        written = text_of(cell)
        if drop := re.fullmatch(r"(.*\d)\s*,\s*drop\s*(\d+)\s*", written, re.IGNORECASE):
            self.is_drop = True
            self.notes.append(f"drop {drop[2]} of set {drop[1]}")
            written = drop[1]
        match = re.fullmatch(
            r"(?:set|s|#|no\.?)?\s*(\d{1,3})(?:\.0)?(?:st|nd|rd|th)?(?:\s*(?:/|of)\s*\d+)?", clean(written)
        )
        if match is None:
            self.notes.append(f"set {written!r} is no number")
            return None
        return int(match[1])


def _canonical_set(record: Record, common: dict[str, Any], mark: str | None) -> dict[str, Any]:
    """Return the set of one row of a canonical log: each column is what it says, nothing is concluded from another."""
    cells, extras = record.fields, record.extras
    load = _number(cells.get("load"), "load_kg", mark, MAX_LOAD_KG)
    reps = _whole(cells.get("reps"), "reps", mark, MAX_REPS)
    if not load:
        raise AsideError("no load_kg" if load is None else "load_kg is 0")
    if reps is None:
        raise AsideError("no reps")
    stated = _number(cells.get("rir"), "reps_in_reserve", mark, MAX_RESERVE)
    ended, reserve = how_ended(Reading(reps), stated_outcome({"outcome": cells.get("outcome")}), Reading(stated))
    return {
        **common,
        "set_number": _whole(cells.get("set_number"), "set_number", mark, _MAX_ROW),
        "load_kg": load,
        "reps": reps,
        "outcome": ended,
        "reps_in_reserve": reserve,
        "rest_s": _number(cells.get("rest"), "rest_s", mark, MAX_REST_S),
        **extras,
        "exercise_as_written": extras["exercise_as_written"] or common["exercise_as_written"],
        "source_row": _whole(extras["source_row"], "source_row", mark, _MAX_ROW) or record.row,
    }


def _number(cell: Cell, name: str, mark: str | None, highest: float) -> float | None:
    """Return a number from 0 to the highest; None where the cell is blank."""
    text = clean(text_of(cell))
    if not text:
        return None
    reading = read_number(text)
    value = float(text) if _WRITTEN_BY_PROGRAMS.fullmatch(text) and mark != "," else reading.value(mark)
    if value is None and reading.point is not None:
        raise AsideError(f"{name} {text!r} can be {reading.point:g} or {reading.comma:g}", "decimal")
    if value is None or isinstance(cell, bool):
        raise AsideError(f"{name} {text!r} is no number")
    if not 0 <= value <= highest:
        raise AsideError(f"{name} {text!r} is not 0 to {highest:g}")
    return value


def _whole(cell: Cell, name: str, mark: str | None, highest: int) -> int | None:
    value = _number(cell, name, mark, highest)
    if value is not None and not value.is_integer():
        raise AsideError(f"{name} {text_of(cell)!r} is no whole number")
    return None if value is None else int(value)
