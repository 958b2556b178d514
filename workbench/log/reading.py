"""Read a training log: a whole file in; sets, rows set aside, questions and a preview out, every row accounted for."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Sequence
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any, Final

from workbench.gym.catalogue import Catalogue, OwnFiles, catalogue_for
from workbench.log.cells import AsideError, Sheet, text_of
from workbench.log.files import open_log
from workbench.log.headings import Heading
from workbench.log.options import COLUMNS, FIELDS, LogReading, ReadOptions
from workbench.log.questions import Settled, open_questions, settle
from workbench.log.sets import read_sets
from workbench.log.tables import FindExercise, Record, Section, Table, read_table
from workbench.quantities import InputError

__all__ = ["read_log"]

#: A row set aside: sheet, row, reason and cells.
Aside = tuple[str, int, str, str]

#: Columns of the tidy table that hold numbers; the others hold text, but for the date.
_NUMBERS: Final[dict[str, Any]] = {
    **dict.fromkeys(("load_kg", "reps_in_reserve", "rest_s"), "float64"),
    **dict.fromkeys(("set_number", "reps", "source_row"), "Int64"),
}


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
    find_exercise = _look_up(match_exercise or (lambda name: catalogue.exercise(name).name))
    sheets = open_log(path, options)
    tables = [read_table(sheet, options, find_exercise) for sheet in sheets]
    found = [table for table in tables if table is not None]
    if not found:
        raise _no_headings(path, sheets, options)
    settled = Settled(options, find_exercise, catalogue)
    settled.said["exercise"] = "matched to the names given" if match_exercise else "matched through the catalogue"
    today = today or date.today()  # noqa: DTZ011 (the dates of a log are those of the place where it is kept)
    settle([record for table in found for record in table.records], settled, today)
    not_read = [sheet for sheet, table in zip(sheets, tables, strict=True) if table is None]
    reading = _put_together(path, found, not_read, settled)
    totals = reading.totals
    used = totals["rows used"] + totals["rows in quarantine"] + totals["rows ignored"]
    if used != totals["rows in the file"]:
        raise AssertionError(f"{path}: {used} rows accounted for, {totals['rows in the file']} in the file")
    return reading


def _put_together(path: Path, tables: list[Table], not_read: list[Sheet], settled: Settled) -> LogReading:
    import pandas as pd

    records = [record for table in tables for record in table.records]
    rows, aside, waiting = _read_records(records, settled)
    _number_sets(rows)
    everything = settled.options.rest_is == "after"
    if everything or any("rest_after" in row for row in rows):
        _move_rests(rows, everything=everything)
    quarantine = [(table.sheet.name, *item) for table in tables for item in table.aside] + aside
    quarantine.sort(key=lambda item: item[1])
    ignored = [(table.sheet.name, *item) for table in tables for item in sorted(table.ignored)]
    ignored += [(sheet.name, 1, sheet.length, "sheet that is no log", "") for sheet in not_read if sheet.length]
    return LogReading(
        path=path,
        so_far=_frame(rows, tables),
        quarantine=pd.DataFrame(quarantine, columns=["sheet", "row", "reason", "cells"]),
        ignored=pd.DataFrame(ignored, columns=["sheet", "row", "rows", "reason", "cells"]),
        questions=open_questions(rows, waiting, settled),
        understood=_understood(tables, not_read, settled, rows),
        file_rows=sum(sheet.length for sheet in (*(table.sheet for table in tables), *not_read)),
        rows_used=len(records) - len(aside),
    )


def _look_up(match: Callable[[str], str]) -> FindExercise:
    """Return a search that asks for each name once, and returns the catalogue's name, or why it is not known."""

    @cache
    def find(name: str) -> tuple[str, str]:
        try:
            return match(name), ""
        except InputError as error:
            return "", f"{error.problem}; {error.remedy}" if error.remedy else error.problem

    return find


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
        "name the headings in row 1, such as Date, Exercise, Load kg, Reps, Notes, with a set to each row; or say "
        'what yours are: ReadOptions(columns={"Gewicht": "load", "Wdh.": "reps"}), in a terminal --column Gewicht=load',
    )


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
        after = row.pop("rest_after", None)
        if everything and after is None:
            after, row["rest_s"] = row["rest_s"], None
        if row["rest_s"] is None:
            row["rest_s"] = before.get(key)
        before[key] = after


def _frame(rows: list[dict[str, Any]], tables: list[Table]) -> Any:
    import pandas as pd

    extras = dict.fromkeys(
        column.name
        for table in tables
        for section in table.sections
        for column in section.headings("", "body_mass", "rest_after")
        if column.name not in COLUMNS
    )
    names = [*COLUMNS, *extras]
    columns: dict[str, Any] = {"date": pd.to_datetime(pd.Series([row["date"] for row in rows])).astype("datetime64[s]")}
    for name in names[1:]:
        if name in _NUMBERS:
            columns[name] = pd.array([row.get(name) for row in rows], dtype=_NUMBERS[name])
        else:
            columns[name] = pd.array([row.get(name) or "" for row in rows], dtype="str")
    return pd.DataFrame(columns, columns=names)


def _understood(
    tables: Sequence[Table], not_read: Sequence[Sheet], settled: Settled, rows: Sequence[dict[str, Any]]
) -> Any:
    """Return the preview as a table: sheet, heading, read_as, how."""
    import pandas as pd

    lines: list[tuple[str, str, str, str]] = []
    for table in tables:
        name = table.sheet.name
        lines += [(name, "", "the file", fact) for fact in table.sheet.facts]
        for section in table.sections:
            told = "canonical log" if section.canonical else "headings"
            lines.append((name, "", told, f"in row {section.header_row}"))
            for column in section.columns:
                lines.append((name, column.text or column.name, *_column(section, column, settled)))
            for field, value in section.defaults.items():
                lines.append((name, "", FIELDS[field], f"{value}, from a title above the headings"))
        for field, count in table.filled.items():
            how = f"taken from the row above in {count} rows (fill_down=False to forbid)"
            lines.append((name, "", f"blank {field}", how))
        if not any(section.headings("set_number") for section in table.sections):
            lines.append((name, "", "number of the set", "counted within lifter, day and exercise"))
    lines += [(sheet.name, "", "the sheet", "not read: it has no headings of a log") for sheet in not_read]
    if "decimal" in settled.said:
        lines.append(("", "", "decimal mark", settled.said["decimal"]))
    names = dict.fromkeys((row["exercise_as_written"], row["exercise"]) for row in rows)
    lines += [("", written, name, "") for written, name in names if written.casefold() != name.casefold()]
    lines += [("", "", "manner of writing", how) for how in _manners(tables, settled.options)]
    return pd.DataFrame(lines, columns=["sheet", "heading", "read_as", "how"])


def _column(section: Section, column: Heading, settled: Settled) -> tuple[str, str]:
    """Return what a column is read as, and how."""
    field, options = column.field, settled.options
    if field == "carried":
        return "carried along", "as the canonical log holds it"
    if not field:
        return FIELDS["keep"], column.why
    read_as = FIELDS["load" if field == "load_twin" else field]
    if column.index:
        read_as += f" of set {column.index}"
    if field in {"load", "load_twin", "load_by_reps", "set_result"}:
        unless = "unless a cell says otherwise"
        if column.unit:
            return read_as, f"in {column.unit}, by the heading, {unless}"
        if section.headings("unit"):
            return read_as, "in the unit of the unit column"
        if "unit" in section.defaults:
            return read_as, f"in {section.defaults['unit']}, by a title, {unless}"
        return read_as, f"in {options.unit} as told, {unless}" if options.unit else "each cell states its unit"
    if field in {"rest", "rest_after"}:
        how = f"in {column.unit}, by the heading" if column.unit else settled.said["rest"].rstrip(".")
        if field == "rest" and options.rest_is == "after":
            read_as = FIELDS["rest_after"]
        if field == "rest" and options.rest_is is None and column.rank == 2:
            how += "; taken before the row's set"
        return read_as, how
    always = {
        "set_count": "so many sets of the same load and reps",
        "rpe": "5 to 10 is 10 minus the reps in reserve; lower ratings are kept but not used",
        "rir": "a range counts as its middle; a set with a stated reserve ended as stopped",
    }
    return read_as, settled.said.get(field) or always.get(field, "")


def _manners(tables: Sequence[Table], options: ReadOptions) -> list[str]:
    """Return the readings of shorthand that occur in this file."""
    written = " ".join(
        str(cell)
        for table in tables
        for record in table.records[:5000]
        for cells in (record.fields, *record.numbered.values())
        for name in ("reps", "sets_by_reps", "set_result")
        if isinstance(cell := cells.get(name), str)
    ).casefold()
    pause = "8+2: 8 reps alone, then 2 with help: 8 reps, the ninth failed"
    if options.plus_means == "pause":
        pause = f"8+2: 8 reps, a short pause assumed to last {options.pause_s:g} s, then 2 reps: two sets"
    order = "sets first, then reps" if options.times_order == "sets_first" else "reps first, then sets"
    told = {
        "+": pause,
        "/": "5/5/4: three sets; what is said of effort or failing concerns the last of them",
        "x": f"3x8: {order}; 7X: 7 reps and the eighth failed",
        "amrap": "AMRAP 9: 9 reps, as many as possible, so a tenth would have failed",
        "f": "7F: 7 reps, the eighth failed",
    }
    return [how for mark, how in told.items() if mark in written]
