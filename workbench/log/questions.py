"""What only the whole file settles (dates, decimal mark, unit of rests, "Sets" columns), and what is left to ask."""

from __future__ import annotations

from bisect import bisect_right
from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from itertools import groupby
from typing import Any, Final

from workbench.gym.catalogue import Catalogue
from workbench.log.cells import clean, text_of
from workbench.log.dates import read_date, settle_order
from workbench.log.loads import SECONDS_FROM, decimal_shown, read_rest
from workbench.log.options import Question, ReadOptions, questions
from workbench.log.tables import FindExercise, Record

__all__ = ["Settled", "open_questions", "settle"]

#: A record with its date, and one with the reason why that is odd.
Dated = tuple[date, Record]
Odd = tuple[Record, str]

#: A year mistyped by one leaves a gap of a year less the days to the next session; few lifters pause for so long.
_MAX_GAP_DAYS: Final = 300
#: A set may be added below to a session of the same week that is in the file.
_WRITTEN_LATER_DAYS: Final = 7


@dataclass
class Settled:
    """What holds for the whole file, once all of it has been seen; ``said`` tells it in plain words, by subject."""

    options: ReadOptions
    find_exercise: FindExercise
    catalogue: Catalogue
    order: str | None = None
    order_open: bool = False
    swapped: bool | None = False
    decimal: str | None = None
    rest_unit: str = ""
    sets_are: str = "count"
    said: dict[str, str] = field(default_factory=dict)
    questions: list[Question] = field(default_factory=list)
    sessions: dict[tuple[str, int], str] = field(default_factory=dict)


def settle(records: list[Record], settled: Settled, today: date) -> None:
    """Look over all records once and settle what concerns them all."""
    for record in records:
        if record.date is None and (told := settled.options.dates.get(record.session)):
            record.date = read_date(str(told))
            record.notes.append("date as told")
        elif record.date is None:
            settled.sessions[record.section.sheet.name, record.row] = record.session
    _settle_dates(records, settled)
    _find_odd_dates(records, settled, today)
    _settle_decimal(records, settled)
    _settle_rests(records, settled)
    _settle_sets_column(records, settled)


def _ask(about: str, problem: str, places: Sequence[str] = (), waiting: int = 0) -> Question:
    return Question(about, problem, questions()[about][1], tuple(places[:10]), waiting)


def _settle_dates(records: list[Record], settled: Settled) -> None:
    options, said = settled.options, settled.said
    dated = [(record, record.date) for record in records if record.date is not None]
    recognised = [reading for _, reading in dated if reading.recognised]
    regional = [
        (record.place, text_of(record.fields["date"]), reading)
        for record, reading in dated
        if not reading.recognised and "" not in reading.dates
    ]
    settled.order, how, settled.order_open = settle_order(regional, options.date_order)
    # A program that expects the month first turns 05/03 into a date and leaves 25/03 as text.
    left_as_text = any(len(reading.dates) == 1 for _, _, reading in regional)
    days = {day.day for reading in recognised for day in reading.dates.values()}
    settled.swapped = options.real_dates == "swapped"
    if options.real_dates is None and left_as_text and days and max(days) <= 12:
        settled.swapped = None
    said["date"] = how
    if settled.order_open:
        settled.questions.append(_ask("date order", how))
        said["date"] = "Not settled, see the questions."
    if not dated:
        said["date"] = "No dates: sessions cannot be told apart."
    if settled.swapped:
        said["date"] += " Dates that the spreadsheet recognised have day and month changed back, as told."


def _find_odd_dates(records: list[Record], settled: Settled, today: date) -> None:
    """Mark the records whose dates a person should look at: in the future, far from all others, or out of order.

    A log may run forwards or backwards, and may be grouped by lifter or by exercise. Of what lies on both sides of a
    gap, the side with fewer sessions is named; of sessions out of order, those that may be the wrong ones. The order of
    a canonical log was looked at before.
    """

    def lifter(record: Record) -> str:
        sheet = record.section.sheet.name
        return sheet if settled.options.lifter_from_sheet else clean(text_of(record.fields.get("lifter")))

    by_lifter: dict[str, list[Dated]] = defaultdict(list)
    by_sheet: dict[tuple[str, str], list[Dated]] = defaultdict(list)
    for record in records:
        reading = record.date
        if reading is not None and not (reading.recognised and settled.swapped is None):
            record.day = reading.day(settled.order, swapped=settled.swapped)
        if not (record.filled_in or record.section.canonical):
            continue  # a set still to be done may well be in the future
        if record.day is not None and record.day > today:
            record.odd_date = f"date {record.day} is in the future (today is {today})"
        elif record.day is not None and not record.section.canonical:
            by_lifter[lifter(record)].append((record.day, record))
    if settled.options.odd_dates == "as_written":
        return
    for name, dated in by_lifter.items():
        _mark_far(dated)
        for day, record in dated:
            if not record.odd_date:
                by_sheet[record.section.sheet.name, name].append((day, record))
    for dated in by_sheet.values():
        for record, reason in _out_of_order(dated):
            record.odd_date = reason


def _mark_far(dated: Sequence[Dated]) -> None:
    parts: list[list[date]] = [[]]
    for day in sorted({day for day, _ in dated}):
        if parts[-1] and (day - parts[-1][-1]).days >= _MAX_GAP_DAYS:
            parts.append([])
        parts[-1].append(day)
    most = max(parts, key=len)
    for day, record in dated:
        days = max(most[0] - day, day - most[-1]).days
        if days > 0:
            record.odd_date = f"date {day} is {days:,} days from the nearest of the other sessions"


def _out_of_order(dated: Sequence[Dated]) -> list[Odd]:
    def exercise(item: Dated) -> str:
        return clean(text_of(item[1].fields.get("exercise")))

    found = _fewest([dated])
    blocks = [list(block) for _, block in groupby(dated, key=exercise)]
    grouped = len(blocks) == len(set(map(exercise, dated))) > 1
    # Grouped by exercise, the dates start anew with each; blocks of a single day would tell nothing.
    if found and grouped and 2 * sum(block[0][0] != block[-1][0] for block in blocks) >= len(blocks):
        return _fewest(blocks)
    return found


def _fewest(blocks: Sequence[Sequence[Dated]]) -> list[Odd]:
    """Return the rows out of order in the direction, the same for all blocks, in which there are fewer."""
    forwards, backwards = ([odd for block in blocks for odd in _not_in_run(block, sign)] for sign in (1, -1))
    return backwards if len(backwards) < len(forwards) else forwards


def _not_in_run(dated: Sequence[Dated], sign: int) -> list[Odd]:
    """Return the rows of the sessions that do not stand in every longest run of sessions in order.

    Of two sessions of which either may be the wrong one, both are returned.
    """
    sessions = _sessions(dated)
    days = [sign * session[0][0].toordinal() for session in sessions]
    until = _run_lengths(days)
    since = _run_lengths([-day for day in reversed(days)])[::-1]
    longest = max(until, default=0)
    on_a_longest = [at for at in range(len(days)) if until[at] + since[at] - 1 == longest]
    rivals = Counter(until[at] for at in on_a_longest)
    kept = {at for at in on_a_longest if rivals[until[at]] == 1}
    found: list[Odd] = []
    for at, session in enumerate(sessions):
        beside, word = (at - 1, "before") if at else (at + 1, "after")
        if at not in kept:
            how = f"out of order: the session {word} it in the file is of {sessions[beside][0][0]}"
            found += [(record, f"date {day} is {how}") for day, record in session]
    return found


def _sessions(dated: Sequence[Dated]) -> list[list[Dated]]:
    """Rows of one day that follow each other; without sets added below to a session of the same week."""
    sessions: list[list[Dated]] = []
    seen: set[date] = set()
    for day, group in groupby(dated, key=lambda item: item[0]):
        if not (day in seen and abs((day - sessions[-1][0][0]).days) <= _WRITTEN_LATER_DAYS):
            sessions.append(list(group))
        seen.add(day)
    return sessions


def _run_lengths(days: Sequence[int]) -> list[int]:
    """Return, for each day, how many stand in the longest run in order that ends with it (patience sorting)."""
    tops: list[int] = []
    lengths: list[int] = []
    for day in days:
        at = bisect_right(tops, day)
        tops[at : at + 1] = [day]
        lengths.append(at + 1)
    return lengths


def _settle_decimal(records: list[Record], settled: Settled) -> None:
    shown: dict[str, str] = {}
    for record in records:
        for cells in (record.fields, *record.numbered.values()):
            for name in ("load", "load_twin", "body_mass"):
                if mark := decimal_shown(cells.get(name)):
                    shown.setdefault(mark, f"{text_of(cells[name])!r} ({record.place})")
    if settled.options.decimal:
        settled.decimal = settled.options.decimal
        settled.said["decimal"] = f"The decimal mark is {settled.decimal!r}, as told."
    elif any(record.section.canonical and record.section.sheet.delimiter in {",", ""} for record in records):
        settled.decimal = "."
    elif len(shown) == 1:
        settled.decimal, proof = next(iter(shown.items()))
        settled.said["decimal"] = f"The decimal mark is {settled.decimal!r}, by {proof}."
    elif shown:
        settled.said["decimal"] = "Decimal points and decimal commas are both used; each number is read by itself."


def _settle_rests(records: list[Record], settled: Settled) -> None:
    if settled.options.rest_unit:
        settled.rest_unit = settled.options.rest_unit
        settled.said["rest"] = f"Bare numbers are {settled.rest_unit}, as told."
        return
    bare: list[tuple[float, str]] = []
    for record in records:
        for name in ("rest", "rest_after"):
            if record.fields.get(name) is not None and not record.section.unit(name):
                rest = read_rest(record.fields[name], "")
                if rest.value and not rest.unit:
                    bare.append((rest.value, record.place))
    if not bare:
        settled.said["rest"] = f"A bare number of {SECONDS_FROM:g} or more is seconds."
        return
    settled.said["rest"] = f"Bare numbers under {SECONDS_FROM:g} are left out, see the questions."
    small, place = min(bare)
    problem = f"a rest of {small:g} ({place}) may be seconds or minutes; the rests are left out until told"
    settled.questions.append(_ask("rest unit", problem, [place for _, place in bare]))


def _settle_sets_column(records: list[Record], settled: Settled) -> None:
    """Tell whether a column of "Sets" counts sets or numbers them, row by row of each exercise."""
    if settled.options.sets_column:
        settled.sets_are = settled.options.sets_column
        counts = "numbers" if settled.sets_are == "number" else "counts"
        settled.said["set_count"] = f"The column {counts} the sets, as told."
        return
    runs: list[list[str]] = []
    key: tuple[str, ...] = ()
    for record in records:
        cell, section = record.fields.get("set_count"), record.section
        if cell is None or section.headings("set_number"):
            continue
        if not any(heading.rank == 2 for heading in section.headings("set_count")):
            continue
        here = tuple(text_of(record.fields.get(name)) for name in ("lifter", "date", "exercise"))
        if here != key:
            runs.append([])
            key = here
        runs[-1].append(text_of(cell))
    if not runs or any(run != [str(at + 1) for at in range(len(run))] for run in runs):
        return
    longest = max(len(run) for run in runs)
    if longest >= 3:
        settled.sets_are = "number"
        settled.said["set_count"] = f"The column numbers the sets: it runs from 1 to {longest} within an exercise."
    elif longest == 2:
        settled.sets_are = "ask"
        settled.said["set_count"] = "Not settled, see the questions."


def _ask_dates(undated: Sequence[Mapping[str, Any]], settled: Settled) -> Question:
    """Ask for the date of each session; where some sets stand under none, each session must be dated in the file."""
    places = [f"{row['source_sheet']} row {row['source_row']}".strip() for row in undated]
    sessions = dict.fromkeys(settled.sessions.get((row["source_sheet"], row["source_row"]), "") for row in undated)
    named = tuple(sessions) if all(sessions) else ()
    of_sessions = f" ({'; '.join(named)})" if named else ""
    problem = f"{len(undated)} sets have no date, so it cannot be told which belong to one session{of_sessions}"
    return replace(_ask("date", problem, places), sessions=named)


def open_questions(
    rows: list[dict[str, Any]], waiting: Mapping[str, list[Record]], settled: Settled
) -> tuple[Question, ...]:
    """Return one question per open matter, with the rows that wait for its answer, but for those to be left out."""
    asked: list[Question] = []
    unclear = waiting.get("columns", [])
    for text in dict.fromkeys(record.section.unclear for record in unclear):
        places = [record.place for record in unclear if record.section.unclear == text]
        asked.append(_ask("columns", text, places, len(places)))
    if undated := [row for row in rows if row["date"] is None]:
        asked.append(_ask_dates(undated, settled))
    early = {question.about: question for question in settled.questions}
    for about, records in waiting.items():
        if about != "columns":
            problem = early.pop(about).problem if about in early else questions()[about][0]
            places = [record.place for record in records]
            asked.append(_ask(about, f"{problem} ({len(records)} rows wait)", places, len(records)))
    return tuple(q for q in (*asked, *early.values()) if q.about not in settled.options.leave_out)
