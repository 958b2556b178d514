"""What only the whole file settles: order of day and month, decimal mark, unit of rests, what a "Sets" column means."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Final

from workbench.log.cells import Cell, clean, text_of
from workbench.log.dates import DateReading, Order, day_of, read_date, settle_order
from workbench.log.loads import decimal_shown
from workbench.log.odd_dates import DatedRow, find_future, find_odd
from workbench.log.options import Question
from workbench.log.rests import SECONDS_FROM, read_rest
from workbench.log.sets import Settled
from workbench.log.tables import Record

__all__ = ["Facts", "answerable", "settle"]

_NAMED_ROWS: Final = 10


@dataclass
class Facts:
    """What was settled, in plain words, for the preview."""

    dates: str = ""
    decimal: str = ""
    rest: str = ""
    sets: str = ""
    rest_is: str = "before"


def settle(records: list[Record], settled: Settled, today: date) -> tuple[Settled, list[Question], Facts]:
    """Look over all records once and settle what concerns them all."""
    facts = Facts(rest_is=settled.options.rest_is or "before")
    questions: list[Question] = []
    order = _dates(records, settled, facts)
    settled.order, settled.order_open = order.order, order.open
    if order.open:
        questions.append(Question("date order", order.how, _ASKED["date order"][1], (), 0))
    settled.odd_dates = _odd_dates(records, settled, today)
    _decimal(records, settled, facts)
    questions += _rests(records, settled, facts)
    _sets_column(records, settled, facts)
    return settled, questions, facts


def _dates(records: list[Record], settled: Settled, facts: Facts) -> Order:
    options = settled.options
    told = options.date_order
    regional: list[tuple[str, str, DateReading]] = []
    recognised: list[DateReading] = []
    for record in records:
        cell = record.fields.get("date")
        if cell is None:
            continue
        reading = read_date(cell, year=options.year, epoch=record.section.sheet.epoch)
        settled.dates[id(record)] = reading
        if reading.recognised:
            recognised.append(reading)
        elif "" not in reading.dates:
            regional.append((record.place, text_of(cell), reading))
    order = settle_order(regional, told)
    settled.swapped = options.real_dates == "swapped"
    # A program that expects the month first turns 05/03 into a date and leaves 25/03 as text.
    left_as_text = [item for item in regional if len(item[2].dates) == 1]
    days = {day.day for reading in recognised for day in reading.dates.values()}
    if options.real_dates is None and left_as_text and days and max(days) <= 12:
        settled.swapped = None
    facts.dates = order.how if not order.open else "Not settled, see the questions."
    if not settled.dates:
        facts.dates = "No dates: sessions cannot be told apart."
    if options.real_dates == "swapped":
        facts.dates += " Dates that the spreadsheet recognised have day and month changed back, as told."
    return order


def _odd_dates(records: list[Record], settled: Settled, today: date) -> dict[int, str]:
    """Return the records whose dates a person should look at. The order of a canonical log was looked at before."""
    rows: list[DatedRow] = []
    settled_before: set[int] = set()
    for record in records:
        reading = settled.dates.get(id(record))
        if reading is None or (reading.recognised and settled.swapped is None):
            continue
        day = day_of(reading, settled.order, swapped=bool(settled.swapped))
        if day is None:
            continue
        sheet = record.section.sheet.name
        lifter = sheet if settled.options.lifter_from_sheet else clean(text_of(record.fields.get("lifter")))
        rows.append(DatedRow(id(record), day, sheet, lifter, clean(text_of(record.fields.get("exercise")))))
        if record.section.canonical:
            settled_before.add(id(record))
    future = find_future(rows, today)
    if settled.options.odd_dates == "as_written":
        return future
    return future | find_odd([row for row in rows if row.key not in future and row.key not in settled_before])


def _decimal(records: list[Record], settled: Settled, facts: Facts) -> None:
    shown: dict[str, str] = {}
    for record in records:
        for cells in (record.fields, *record.numbered.values()):
            for name in ("load", "load_twin", "body_mass"):
                mark = decimal_shown(cells.get(name))
                if mark:
                    shown.setdefault(mark, f"{text_of(cells[name])!r} ({record.place})")
    canonical = any(record.section.canonical and record.section.sheet.delimiter in {",", ""} for record in records)
    if settled.options.decimal:
        settled.decimal = settled.options.decimal
        facts.decimal = f"The decimal mark is {settled.decimal!r}, as told."
    elif canonical:
        settled.decimal = "."
    elif len(shown) == 1:
        settled.decimal, proof = next(iter(shown.items()))
        facts.decimal = f"The decimal mark is {settled.decimal!r}, by {proof}."
    elif shown:
        facts.decimal = "Decimal points and decimal commas are both used; each number is read by itself."


def _rests(records: list[Record], settled: Settled, facts: Facts) -> list[Question]:
    options = settled.options
    if options.rest_unit:
        settled.rest_unit = options.rest_unit
        facts.rest = f"Bare numbers are {options.rest_unit}, as told."
        return []
    facts.rest = f"A bare number of {SECONDS_FROM:g} or more is seconds."
    bare: list[tuple[float, str]] = []
    for record in records:
        for name in ("rest", "rest_after"):
            cell: Cell = record.fields.get(name)
            if cell is not None and not record.section.unit(name):
                value = read_rest(cell, "").bare
                if value:
                    bare.append((value, record.place))
    if not bare:
        return []
    small = min(bare)
    facts.rest = f"Bare numbers under {SECONDS_FROM:g} are left out, see the questions."
    places = tuple(place for _, place in bare[:_NAMED_ROWS])
    problem = f"a rest of {small[0]:g} ({small[1]}) may be seconds or minutes; the rests are left out until told"
    return [Question("rest unit", problem, _ASKED["rest unit"][1], places, 0)]


def _sets_column(records: list[Record], settled: Settled, facts: Facts) -> None:
    """Tell whether a column of "Sets" counts sets or numbers them, row by row of each exercise."""
    if settled.options.sets_column:
        settled.sets_are = settled.options.sets_column
        facts.sets = f"The column {'numbers' if settled.sets_are == 'number' else 'counts'} the sets, as told."
        return
    plain = [
        record
        for record in records
        if record.fields.get("set_count") is not None
        and any(column.field == "set_count" and column.heading.rank == 2 for column in record.section.columns)
        and not record.section.has("set_number")
    ]
    runs: list[list[str]] = []
    key: tuple[str, ...] = ()
    for record in plain:
        here = tuple(text_of(record.fields.get(name)) for name in ("lifter", "date", "exercise"))
        if here != key:
            runs.append([])
            key = here
        runs[-1].append(text_of(record.fields["set_count"]))
    if not runs or any(run != [str(at + 1) for at in range(len(run))] for run in runs):
        return
    longest = max(len(run) for run in runs)
    if longest >= 3:
        settled.sets_are = "number"
        facts.sets = f"The column numbers the sets: it runs from 1 to {longest} within an exercise."
    elif longest == 2:
        settled.sets_are = "ask"
        facts.sets = "Not settled, see the questions."


_ASKED: Final[Mapping[str, tuple[str, str]]] = {
    "unit": (
        "no unit is stated for some loads",
        'set unit="kg" or unit="lb" (in a terminal --unit), or add a column Unit',
    ),
    "decimal": (
        "a mark may stand before thousands or decimals",
        'set decimal="." or decimal="," (in a terminal --decimal)',
    ),
    "date order": ("", 'set date_order="dmy" or date_order="mdy" (in a terminal --date-order)'),
    "year": ("dates have no year", "set year= (in a terminal --year)"),
    "odd dates": (
        "dates are in the future, far from all others or out of order",
        'correct them in a copy; past ones can stand: odd_dates="as_written" (in a terminal --odd-dates as_written)',
    ),
    "rest unit": ("", 'set rest_unit="s" or rest_unit="min" (in a terminal --rest-unit)'),
    "dumbbells": (
        "loads of two dumbbells may be those of one hand or of both",
        'set dumbbells="one_hand" or dumbbells="both" (in a terminal --dumbbells), or write them as 2x16',
    ),
    "swapped dates": (
        "dates left as text stand beside recognised ones, all on days 1 to 12: day and month may be swapped",
        'set real_dates="as_is" or real_dates="swapped" (in a terminal --real-dates)',
    ),
    "pair of reps": (
        "a pair of reps may be two sets, two sides, or done and planned",
        'set pair_means="sets", "sides" or "of_plan" (in a terminal --pair-means)',
    ),
    "sets column": (
        "the column of sets may count them or number them",
        'set sets_column="count" or "number" (in a terminal --sets-column)',
    ),
    "load x reps": (
        "it is not plain which number is the load",
        "write units (100 kg x 5) or name the column Load x reps",
    ),
    "body mass": (
        "loads count from bodyweight, which is not known",
        "set body_mass_kg= (in a terminal --body-mass), or add a column Bodyweight",
    ),
}


def answerable(waiting: Mapping[str, list[Record]], early: list[Question]) -> list[Question]:
    """Return one question per open matter, with the rows that wait for its answer."""
    known = {question.about: question for question in early}
    asked: list[Question] = []
    for about, records in waiting.items():
        problem, remedy = _ASKED[about]
        if about in known:
            problem = known.pop(about).problem
        places = tuple(record.place for record in records[:_NAMED_ROWS])
        asked.append(Question(about, f"{problem} ({len(records)} rows wait)", remedy, places, len(records)))
    return asked + list(known.values())
