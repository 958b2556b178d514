"""Read a training log: the whole file in, sets and set-aside rows and questions out, every row accounted for."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any, Final

from workbench.gym.catalogue import Catalogue, OwnFiles, catalogue_for
from workbench.log import settling
from workbench.log.aside import AsideError
from workbench.log.cells import text_of
from workbench.log.files import open_log
from workbench.log.options import COLUMNS, LogReading, Question, ReadOptions
from workbench.log.preview import understood
from workbench.log.sets import Settled, read_sets
from workbench.log.sheet import Sheet
from workbench.log.tables import Record, Table, read_table
from workbench.quantities import InputError

__all__ = ["read_log"]

_ADD_DATES: Final = 'add them in a copy of the file, or leave out what has none: leave_out=("date",)'


def read_log(
    path: str | Path,
    *,
    options: ReadOptions | None = None,
    match_exercise: Callable[[str], str] | None = None,
    exercises: Catalogue | OwnFiles | None = None,
    today: date | None = None,
) -> LogReading:
    """Read a CSV or XLSX training log without guessing, losing or changing anything.

    Parameters
    ----------
    path : str or Path
        The log. What it is is told from its content, not from its name. It is only read.
    options : ReadOptions, optional
        Answers to what the file may leave open; `workbench.read_log` takes a mapping too: ``{"unit": "kg"}``.
    match_exercise : callable, optional
        Name as written to name in the catalogue, InputError with suggestions if unknown. The catalogue's own otherwise.
    exercises : Catalogue, or path or paths of own exercise files, optional
        What names mean, as ``lifter.catalogue``; the built-in catalogue otherwise.
    today : date, optional
        Later dates are asked about. The date of this machine otherwise.

    Returns
    -------
    LogReading
        Rows, quarantine, ignored rows, questions and the preview. Rows that wait for an answer are in the quarantine.

    Raises
    ------
    InputError
        If the file as a whole cannot be used: no table, no headings, protected, damaged or too large.
    """
    path = Path(path)
    options = options or ReadOptions()
    catalogue = catalogue_for(None, exercises)
    matcher, matched_by = _matcher(match_exercise, catalogue)
    sheets = open_log(path, options)
    tables = [(sheet, read_table(sheet, options, lambda name: _knows(matcher, name))) for sheet in sheets]
    found = [table for _, table in tables if table is not None]
    if not found:
        raise _no_headings(path, sheets, options)
    records = [record for table in found for record in table.records]
    today = today or date.today()  # noqa: DTZ011 (the dates of a log are those of the place where it is kept)
    settled, questions, facts = settling.settle(records, Settled(options, matcher, catalogue), today)
    rows, aside, waiting = _read_records(records, settled)
    _number_sets(rows)
    if facts.rest_is == "after" or any("rest_after" in row for row in rows):
        _move_rests(rows, everything=facts.rest_is == "after")
    quarantine = [(table.sheet.name, *item) for table in found for item in table.aside] + aside
    found_open = [*_file_questions(rows, waiting), *settling.answerable(waiting, questions)]
    names = dict.fromkeys((row["exercise_as_written"], row["exercise"]) for row in rows)
    sheets_not_read = [sheet for sheet, table in tables if table is None]
    reading = LogReading(
        path=path,
        so_far=_frame(rows, found),
        quarantine=_table(sorted(quarantine, key=lambda item: item[1]), ("sheet", "row", "reason", "cells")),
        ignored=_ignored(found, sheets_not_read),
        questions=tuple(question for question in found_open if question.about not in options.leave_out),
        understood=understood(found, sheets_not_read, facts, matched_by, names, options),
        file_rows=sum(sheet.length for sheet in sheets),
        rows_used=len(records) - len(aside),
    )
    totals = reading.totals
    used = totals["rows used"] + totals["rows in quarantine"] + totals["rows ignored"]
    if used != totals["rows in the file"]:
        raise AssertionError(f"{path}: {used} rows accounted for, {totals['rows in the file']} in the file")
    return reading


def _matcher(given: Callable[[str], str] | None, catalogue: Catalogue) -> tuple[Callable[[str], str], str]:
    """Return a matcher that remembers, and how names are matched."""
    how = "matched through the catalogue"
    base = given
    if base is None:

        def base(name: str) -> str:
            return catalogue.exercise(name).name

    else:
        how = "matched to the names given"

    known: dict[str, str | InputError] = {}

    def match(name: str) -> str:
        if name not in known:
            try:
                known[name] = base(name)
            except InputError as error:
                known[name] = error
        result = known[name]
        if isinstance(result, InputError):
            raise AsideError(f"{result.problem}; {result.remedy}" if result.remedy else result.problem, "")
        return result

    return match, how


def _knows(match: Callable[[str], str], name: str) -> bool:
    try:
        match(name)
    except AsideError:
        return False
    return True


def _no_headings(path: Path, sheets: list[Sheet], options: ReadOptions) -> InputError:
    first = next((row for sheet in sheets for row in sheet.rows), None)
    if first is None:
        return InputError(path, "file", "holds no rows", "choose the file that holds the log")
    shown = ", ".join(repr(text_of(cell)) for cell in first.cells[:12] if cell is not None)
    where = f"row {options.header_row}" if options.header_row else "headings"
    return InputError(
        path,
        where,
        f"no row of headings with reps and load or exercise is found; row {first.number} holds {shown}",
        'name the headings in row 1, or map yours: ReadOptions(columns={"Gewicht": "load", "Wdh.": "reps"})',
    )


Aside = tuple[str, int, str, str]


def _read_records(
    records: list[Record], settled: Settled
) -> tuple[list[dict[str, Any]], list[Aside], dict[str, list[Record]]]:
    rows: list[dict[str, Any]] = []
    aside: list[Aside] = []
    waiting: dict[str, list[Record]] = defaultdict(list)
    for record in records:
        try:
            if record.section.unclear:
                raise AsideError(f"waits for an answer: {record.section.unclear}", "columns")
            sets = read_sets(record, settled)
            if not sets:
                raise AsideError("no set can be read in this row")
            rows += sets
        except AsideError as error:
            reason = error.reason
            if error.question in settled.options.leave_out:
                reason = f"left out as told ({error.question}): {error.reason}"
            elif error.question and error.question != "columns":
                reason = f"waits for an answer ({error.question}): {error.reason}"
            aside.append((record.section.sheet.name, record.row, reason, record.original()))
            if error.question:
                waiting[error.question].append(record)
    return rows, aside, waiting


def _file_questions(rows: list[dict[str, Any]], waiting: dict[str, list[Record]]) -> list[Question]:
    unclear = dict.fromkeys(record.section.unclear for record in waiting.get("columns", []))
    asked = [
        Question(
            "columns",
            text,
            'map the one to leave alone to "keep": ReadOptions(columns={...})',
            tuple(record.place for record in waiting["columns"] if record.section.unclear == text)[:10],
            sum(record.section.unclear == text for record in waiting["columns"]),
        )
        for text in unclear
    ]
    waiting.pop("columns", None)
    undated = [f"{row['source_sheet']} row {row['source_row']}".strip() for row in rows if row["date"] is None]
    if undated:
        problem = f"{len(undated)} sets have no date, so it cannot be told which belong to one session"
        asked.append(Question("date", problem, _ADD_DATES, tuple(undated[:10]), 0))
    return asked


def _number_sets(rows: list[dict[str, Any]]) -> None:
    """Give a number to every set that the file does not number, within lifter, day and exercise."""
    counts: dict[tuple[Any, ...], int] = {}
    for row in rows:
        key = (row["lifter"], row["date"], row["exercise"], row["source_sheet"])
        if row["set_number"] is None:
            row["set_number"] = counts.get(key, 0) + 1
        counts[key] = row["set_number"]


def _move_rests(rows: list[dict[str, Any]], *, everything: bool) -> None:
    """Turn rests after a set into rests before the next set of the same lifter and day."""
    before: dict[tuple[Any, ...], float | None] = {}
    for row in rows:
        key = (row["lifter"], row["date"], row["source_sheet"])
        own = row.pop("rest_after", None)
        if everything and own is None:
            own, row["rest_s"] = row["rest_s"], None
        if row["rest_s"] is None:
            row["rest_s"] = before.get(key)
        before[key] = own


def _frame(rows: list[dict[str, Any]], tables: list[Table]) -> Any:
    import pandas as pd

    extras = dict.fromkeys(
        column.name
        for table in tables
        for section in table.sections
        for column in section.columns
        if column.field in {"", "body_mass", "rest_after"} and column.name not in COLUMNS
    )
    names = [*COLUMNS, *extras]
    data = {name: [row.get(name) for row in rows] for name in names}
    frame = pd.DataFrame(data, columns=names)
    numbers = {"load_kg": "float64", "reps_in_reserve": "float64", "rest_s": "float64"}
    integers = {"set_number": "Int64", "reps": "Int64", "source_row": "Int64"}
    frame["date"] = pd.to_datetime(frame["date"]).astype("datetime64[s]")
    for name in names[1:]:
        frame[name] = frame[name].fillna("").astype("str") if name not in numbers | integers else frame[name]
    return frame.astype(numbers | integers)


def _table(items: list[tuple[Any, ...]], names: tuple[str, ...]) -> Any:
    import pandas as pd

    return pd.DataFrame(items, columns=list(names))


def _ignored(tables: list[Table], not_read: list[Sheet]) -> Any:
    items = [(table.sheet.name, *item) for table in tables for item in sorted(table.ignored)]
    items += [(sheet.name, 1, sheet.length, "sheet that is no log", "") for sheet in not_read if sheet.length]
    return _table(items, ("sheet", "row", "rows", "reason", "cells"))
