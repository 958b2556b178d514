"""From rows of cells to records: find the headings, tell titles and totals from sets, carry grouped cells down."""

from __future__ import annotations

import datetime
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import Final

from workbench.log.cells import DITTO, MAX_WRITTEN, Cell, Sheet, SourceRow, clean, restored, text_of
from workbench.log.dates import DateReading, read_date
from workbench.log.headings import (
    Heading,
    heading_score,
    is_total_label,
    numbered_titles,
    plain,
    read_heading,
    read_headings,
)
from workbench.log.options import COLUMNS, ReadOptions

__all__ = ["FindExercise", "Record", "Section", "Table", "read_table"]

#: From a name as written to the name in the catalogue and nothing, or nothing and why it is not known.
FindExercise = Callable[[str], tuple[str, str]]

#: Headings are looked for in this many rows from the top.
_HEADER_WITHIN: Final = 60
_CARRIED: Final = ("date", "lifter", "exercise")
_SAY_WHAT_WAS_DONE: Final = ("load", "load_twin", "load_by_reps", "reps", "sets_by_reps", "set_result")
#: Headings under which a sheet names its sessions.
_SESSION: Final = frozenset({"session", "workout", "training", "day"})
_PART_TITLE = re.compile(
    r"(week|wk|day|phase|block|session|workout|cycle|monday|tuesday|wednesday|thursday|friday|saturday|sunday)\b.*"
)
_UNIT_TITLE = re.compile(r".*\b(?:weights?|loads?|units?|masses|all|everything)\b.*?\b(kg|kgs|kilos?|lbs?|pounds)\b.*")


@dataclass
class Section:
    """Rows under one row of headings, one for each column."""

    sheet: Sheet
    header_row: int
    columns: list[Heading]
    canonical: bool
    defaults: dict[str, Cell] = field(default_factory=dict)
    unclear: str = ""

    def headings(self, *names: str) -> list[Heading]:
        """Return the headings of the columns that are read as one of the fields."""
        return [column for column in self.columns if column.field in names]

    def unit(self, *names: str) -> str:
        """Return the unit that the first heading of the fields states."""
        return next((column.unit for column in self.columns if column.field in names), "")


@dataclass(slots=True)
class Record:
    """One row of sets: cells by field, per set where the headings number them, and every other column as text."""

    section: Section
    row: int
    cells: list[Cell]
    fields: dict[str, Cell] = field(default_factory=dict)
    numbered: dict[int, dict[str, Cell]] = field(default_factory=dict)
    extras: dict[str, str] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)
    date: DateReading | None = None
    day: datetime.date | None = None
    odd_date: str = ""

    @property
    def place(self) -> str:
        """Where the row is, for messages."""
        return f"{self.section.sheet.name} row {self.row}".strip()

    @property
    def filled_in(self) -> bool:
        """Whether the row says anything of load or reps, as that of a planned set does not until it is done."""
        cells = (self.fields, *self.numbered.values())
        said = any(found.get(name) is not None for found in cells for name in _SAY_WHAT_WAS_DONE)
        return said or "x" in clean(text_of(self.fields.get("set_count")))  # 3x8 under "Sets"

    @property
    def session(self) -> str:
        """What the row's session is called, by its sheet and a column of sessions; empty without one."""
        column = next((column for column in self.section.columns if plain(column.text) in _SESSION), None)
        name = "" if column is None else self.extras.get(column.name, "")
        return ", ".join(filter(None, (self.section.sheet.name, name))) if name else ""

    def original(self) -> str:
        """Return the cells as they are, heading = cell."""
        names = [column.text or column.name for column in self.section.columns]
        names += [f"column {at + 1}" for at in range(len(names), len(self.cells))]
        pairs = zip(names, self.cells, strict=False)
        return "; ".join(f"{name} = {text_of(cell)}" for name, cell in pairs if cell is not None)


def read_table(sheet: Sheet, options: ReadOptions, find_exercise: FindExercise) -> Table | None:
    """Read one sheet; None if it has no headings of a log."""
    header = _find_header(sheet, options)
    if header is None:
        return None
    table = Table(sheet, options, find_exercise)
    last = 0
    for row in sheet.rows:
        if row.number > last + 1:
            table.ignored.append((last + 1, row.number - last - 1, "blank", ""))
        last = row.number
    for row in sheet.rows[:header]:
        table.title(row)
    table.headings(sheet.rows[header], above=sheet.rows[header - 1] if header else None)
    for row in sheet.rows[header + 1 :]:
        table.body(row)
    return table


def _find_header(sheet: Sheet, options: ReadOptions) -> int | None:
    if options.header_row is not None:
        return next((at for at, row in enumerate(sheet.rows) if row.number == options.header_row), None)
    if sheet.rows and set(COLUMNS) <= {cell for cell in sheet.rows[0].cells if isinstance(cell, str)}:
        return 0
    scores = [heading_score(row.cells, options.columns) for row in sheet.rows[:_HEADER_WITHIN]]
    for at in range(1, len(scores)):
        # "Set 1 | Set 2" above "kg | reps | kg | reps": the row below is the one that names the columns.
        if numbered_titles(sheet.rows[at - 1].cells) and scores[at] and scores[at - 1]:
            scores[at - 1] = 0
    best = max(scores, default=0.0)
    return scores.index(best) if best > 0 else None


def _shown(cells: Sequence[Cell]) -> str:
    return " | ".join(text_of(cell) for cell in cells if cell is not None)


@dataclass
class Table:
    """What one sheet holds, read row by row from the top.

    ``aside`` are the rows that cannot be used, as (row, reason, cells); ``ignored`` those that are no sets, as (row,
    how many, reason, cells); ``filled`` counts the cells taken from above, by field.
    """

    sheet: Sheet
    options: ReadOptions
    find_exercise: FindExercise
    sections: list[Section] = field(default_factory=list)
    records: list[Record] = field(default_factory=list)
    aside: list[tuple[int, str, str]] = field(default_factory=list)
    ignored: list[tuple[int, int, str, str]] = field(default_factory=list)
    filled: dict[str, int] = field(default_factory=dict)
    _defaults: dict[str, Cell] = field(default_factory=dict, init=False)
    _above: dict[str, Cell] = field(default_factory=dict, init=False)

    def _ignore(self, row: SourceRow, reason: str) -> None:
        self.ignored.append((row.number, 1, reason, _shown(row.cells)))

    def title(self, row: SourceRow) -> None:
        """Read a row above the headings: a title, or a label with a value such as "Athlete: Ana"."""
        reason = "title above the headings"
        values = [cell for cell in row.cells if cell is not None]
        if len(values) == 1 and ":" in text_of(values[0]):
            values = [part.strip() for part in text_of(values[0]).split(":", 1)]
        texts = [text_of(cell) for cell in values]
        if len(texts) == 2 and texts[1] and len(texts[1]) <= MAX_WRITTEN:
            name = read_heading(texts[0], self.options.columns).field
            if name in {"lifter", "date", "exercise", "unit", "body_mass"}:
                self._defaults[name] = values[1]
                reason = f"title: gives the {name.replace('_', ' ')} of the rows below"
        whole = clean(" ".join(texts))
        if len(whole) <= MAX_WRITTEN and (match := _UNIT_TITLE.fullmatch(whole)):
            self._defaults.setdefault("unit", match[1])
            reason = "title: gives the unit of the loads below"
        if clean(_shown(row.cells)).startswith("sep="):
            reason = "line that names the delimiter"
        self._ignore(row, reason)

    def headings(self, row: SourceRow, above: SourceRow | None = None) -> None:
        """Start a section under a row of headings."""
        texts = [text_of(cell) for cell in row.cells]
        if above is not None and (titles := numbered_titles(above.cells)):
            titles += [titles[-1]] * (len(texts) - len(titles))
            texts = [f"{title} {text}" if title and text else text for title, text in zip(titles, texts, strict=False)]
        canonical = set(COLUMNS) <= set(texts)
        if canonical:
            texts = [restored(text) for text in texts]
        columns, unclear = _columns(read_headings(texts, self.options.columns), canonical)
        self.sections.append(Section(self.sheet, row.number, columns, canonical, dict(self._defaults), unclear))
        self._ignore(row, "headings")

    def body(self, row: SourceRow) -> None:
        """Tell what a row below the headings is, and file it."""
        section = self.sections[-1]
        texts = [text_of(cell) for cell in row.cells]
        held = [at for at, text in enumerate(texts) if text]
        heads = [plain(column.text) for column in section.columns]
        if [plain(texts[at]) for at in held] == [heads[at] for at in held if at < len(heads)] and len(held) > 1:
            self._ignore(row, "repeated headings")
            return
        fault = row.broken or self._too_long(row)
        if not fault and not section.canonical:
            if heading_score(row.cells, self.options.columns) >= 3.6:
                self.headings(row)
                return
            if reason := self._no_set(row, held):
                self._ignore(row, reason)
                return
        if not fault and held[-1] >= len(section.columns):
            hint = " (a decimal comma in a comma-separated file?)" if self.sheet.delimiter == "," else ""
            fault = f"more cells than headings{hint}"
        if fault:
            self.aside.append((row.number, fault, _shown(row.cells)))
            return
        if section.canonical:
            row.cells = [restored(cell) if isinstance(cell, str) else cell for cell in row.cells]
        self.records.append(self._record(row))

    def _too_long(self, row: SourceRow) -> str:
        """Return which cell is too long to be read, empty where none is."""
        for column, cell in zip(self.sections[-1].columns, row.cells, strict=False):
            long = isinstance(cell, str) and len(cell) > MAX_WRITTEN
            if long and column.field not in {"", "carried", "notes"}:
                return f"{column.name[:MAX_WRITTEN]!r} holds more than {MAX_WRITTEN} characters"
        return ""

    def _no_set(self, row: SourceRow, held: list[int]) -> str:
        """Return the reason why a row is a title or total, or nothing; headings within the table set what follows."""
        fields = [column.field for column in self.sections[-1].columns]
        at = held[0]
        cell, first = row.cells[at], text_of(row.cells[at])
        exercise = row.cells[fields.index("exercise")] if "exercise" in fields[: len(row.cells)] else None
        if is_total_label(first if exercise is None else text_of(exercise)):
            return "total"
        name = fields[at] if at < len(fields) else ""
        no_title = name not in {"", "date", "exercise", "lifter", "set_number"} and at > 0
        if len(held) > 1 or len(fields) < 3 or no_title:
            return ""
        if (name == "date" or at == 0) and read_date(cell, year=self.options.year).dates:
            self._above["date"] = cell
            return "date heading: gives the date of the rows below"
        if _PART_TITLE.fullmatch(clean(first)):
            return "title within the table"
        if name == "lifter":
            self._above["lifter"] = cell
            return "heading: gives the lifter of the rows below"
        if name == "exercise" or "exercise" not in fields:
            _, unknown = self.find_exercise(first)
            if not unknown:
                self._above["exercise"] = cell
                return "heading: gives the exercise of the rows below"
            self._above.pop("exercise", None)
        return "title within the table" if name != "exercise" else "title within the table (no known exercise)"

    def _record(self, row: SourceRow) -> Record:
        section = self.sections[-1]
        record = Record(section, row.number, row.cells)
        fields = record.fields
        for at, column in enumerate(section.columns):
            cell = row.cells[at] if at < len(row.cells) else None
            key = f"{column.field} {at}"
            same = column.field and not section.canonical and isinstance(cell, str) and cell.casefold() in DITTO
            if same and self._above.get(key) is not None:
                record.notes.append(f"{column.text} {cell!r} is that of the row above")
                cell = self._above[key]
            if column.field:
                self._above[key] = cell
            if column.field in {"", "carried", "body_mass", "rest_after"}:
                record.extras[column.name] = text_of(cell)
            if column.field in {"", "carried"}:
                continue
            cells = record.numbered.setdefault(column.index, {}) if column.index else fields
            cells[column.field] = cell
        if not section.headings("date") and read_date(fields.get("time"), epoch=self.sheet.epoch).dates:
            fields["date"] = fields.pop("time")
        for name in _CARRIED:
            if fields.get(name) is not None:
                self._above[name] = fields[name]
            elif name in self._above and self.options.fill_down and not section.canonical:
                fields[name] = self._above[name]
                if section.headings(name):
                    self.filled[name] = self.filled.get(name, 0) + 1
                    record.notes.append(f"{name} is that of the row above")
        for name, value in section.defaults.items():
            if fields.get(name) is None:
                fields[name] = value
        if fields.get("date") is not None:
            record.date = read_date(fields["date"], year=self.options.year, epoch=self.sheet.epoch)
        return record


def _columns(headings: list[Heading], canonical: bool) -> tuple[list[Heading], str]:
    """Give each column its field; where two claim one, the one that says "done" wins and the other is kept."""
    if not any(heading.field == "exercise" for heading in headings):
        # "Name" is the exercise in a file that names no exercise otherwise.
        headings = [replace(h, field="exercise") if plain(h.text) == "name" else h for h in headings]
    best: dict[tuple[str, int], int] = {}
    for heading in headings:
        key = (heading.field, heading.index)
        best[key] = min(heading.rank, best.get(key, heading.rank))
    columns: list[Heading] = []
    taken: dict[tuple[str, int], Heading] = {}
    names: set[str] = set()
    unclear = ""
    for at, heading in enumerate(headings):
        field_, why = heading.field, ""
        key = (field_, heading.index)
        said = field_.replace("_", " ")
        if field_ == "keep":
            field_ = ""
        elif field_ and field_ != "carried" and heading.rank > best[key]:
            field_, why = "", f"another column is the {said} that was done"
        elif field_ and field_ != "carried" and key in taken:
            other = taken[key]
            if field_ == "load" and {heading.unit, other.unit} == {"kg", "lb"}:
                field_ = "load_twin"
            else:
                unclear = f"{other.text!r} and {heading.text!r} both look like the {said}"
                field_ = ""
        name = heading.text or f"column {at + 1}"
        if (name in COLUMNS and not canonical) or name in names:
            name = f"{name} (column {at + 1})"
        names.add(name)
        columns.append(replace(heading, field=field_, name=name, why=why))
        if field_:
            taken.setdefault(key, columns[-1])
    return columns, unclear
