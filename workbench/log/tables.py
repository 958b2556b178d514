"""From rows of cells to records: find the headings, tell titles and totals from sets, carry grouped cells down."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Final

from workbench.log.canonical import restored
from workbench.log.cells import DITTO, MAX_WRITTEN, Cell, clean, text_of
from workbench.log.dates import read_date
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
from workbench.log.sheet import Sheet, SourceRow

__all__ = ["Column", "Record", "Section", "Table", "read_table"]

#: Headings are looked for in this many rows from the top.
_HEADER_WITHIN: Final = 60
_CARRIED: Final = ("date", "lifter", "exercise")
_PART_TITLE = re.compile(
    r"(week|wk|day|phase|block|session|workout|cycle|monday|tuesday|wednesday|thursday|friday|saturday|sunday)\b.*"
)
_UNIT_TITLE = re.compile(r".*\b(?:weights?|loads?|units?|masses|all|everything)\b.*?\b(kg|kgs|kilos?|lbs?|pounds)\b.*")


@dataclass(frozen=True)
class Column:
    """One column: where it stands, its heading, the field it is read as (empty: kept) and why, if that needs saying."""

    at: int
    heading: Heading
    field: str
    name: str
    why: str = ""


@dataclass
class Section:
    """Rows under one row of headings."""

    sheet: Sheet
    header_row: int
    columns: list[Column]
    canonical: bool
    defaults: dict[str, Cell] = field(default_factory=dict)
    unclear: str = ""

    def unit(self, name: str) -> str:
        """Return the unit that the heading of a field states."""
        return next((column.heading.unit for column in self.columns if column.field == name), "")

    def has(self, name: str) -> bool:
        """Whether any column is read as the field."""
        return any(column.field == name for column in self.columns)


@dataclass(slots=True)
class Record:
    """One row of sets: cells by field, per set where the headings number them, and every other column as text."""

    section: Section
    row: int
    cells: list[Cell]
    fields: dict[str, Cell]
    numbered: dict[int, dict[str, Cell]]
    extras: dict[str, str]
    notes: list[str]

    @property
    def place(self) -> str:
        """Where the row is, for messages."""
        return f"{self.section.sheet.name} row {self.row}".strip()

    def original(self) -> str:
        """Return the cells as they are, heading = cell."""
        names = [column.heading.text or column.name for column in self.section.columns]
        names += [f"column {at + 1}" for at in range(len(names), len(self.cells))]
        pairs = zip(names, self.cells, strict=False)
        return "; ".join(f"{name} = {text_of(cell)}" for name, cell in pairs if cell is not None)


@dataclass
class Table:
    """What one sheet holds: records, and the rows that are no sets, as (row, how many, reason, cells)."""

    sheet: Sheet
    sections: list[Section] = field(default_factory=list)
    records: list[Record] = field(default_factory=list)
    aside: list[tuple[int, str, str]] = field(default_factory=list)
    ignored: list[tuple[int, int, str, str]] = field(default_factory=list)
    filled: dict[str, int] = field(default_factory=dict)


def read_table(sheet: Sheet, options: ReadOptions, knows_exercise: Callable[[str], bool] | None) -> Table | None:
    """Read one sheet; None if it has no headings of a log."""
    header = _find_header(sheet, options)
    if header is None:
        return None
    table = Table(sheet)
    _count_blanks(table)
    reader = _Reader(table, options, knows_exercise)
    for row in sheet.rows[:header]:
        reader.title(row)
    reader.headings(sheet.rows[header], above=sheet.rows[header - 1] if header else None)
    for row in sheet.rows[header + 1 :]:
        reader.body(row)
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


def _count_blanks(table: Table) -> None:
    last = 0
    for row in table.sheet.rows:
        if row.number > last + 1:
            table.ignored.append((last + 1, row.number - last - 1, "blank", ""))
        last = row.number


def _shown(cells: Sequence[Cell]) -> str:
    return " | ".join(text_of(cell) for cell in cells if cell is not None)


class _Reader:
    """Walks down one sheet and keeps what carries over from row to row."""

    def __init__(self, table: Table, options: ReadOptions, knows: Callable[[str], bool] | None) -> None:
        self.table = table
        self.options = options
        self.knows = knows
        self.defaults: dict[str, Cell] = {}
        self.above: dict[str, Cell] = {}
        self.section: Section | None = None

    def title(self, row: SourceRow) -> None:
        """Read a row above the headings: a title, or a label with a value such as "Athlete: Ana"."""
        reason = "title above the headings"
        texts = [text_of(cell) for cell in row.cells if cell is not None]
        if len(texts) == 1 and ":" in texts[0]:
            texts = [part.strip() for part in texts[0].split(":", 1)]
        if len(texts) == 2 and texts[1] and len(texts[1]) <= MAX_WRITTEN:
            name = read_heading(texts[0], self.options.columns).field
            if name in {"lifter", "date", "exercise", "unit", "body_mass"}:
                values = [cell for cell in row.cells if cell is not None]
                self.defaults[name] = values[1] if len(values) == 2 else texts[1]
                reason = f"title: gives the {name.replace('_', ' ')} of the rows below"
        whole = clean(" ".join(texts))
        if len(whole) <= MAX_WRITTEN and (match := _UNIT_TITLE.fullmatch(whole)):
            self.defaults.setdefault("unit", match[1])
            reason = "title: gives the unit of the loads below"
        if clean(_shown(row.cells)).startswith("sep="):
            reason = "line that names the delimiter"
        self.table.ignored.append((row.number, 1, reason, _shown(row.cells)))

    def headings(self, row: SourceRow, above: SourceRow | None = None) -> None:
        """Start a section under a row of headings."""
        texts = [text_of(cell) for cell in row.cells]
        if above is not None and (titles := numbered_titles(above.cells)):
            titles += [titles[-1]] * (len(texts) - len(titles))
            texts = [
                f"{title} {text}" if title and text else text
                for title, text in zip(titles[: len(texts)], texts, strict=True)
            ]
        canonical = set(COLUMNS) <= set(texts)
        if canonical:
            texts = [restored(text) for text in texts]
        columns, unclear = _columns(read_headings(texts, self.options.columns), canonical)
        self.section = Section(self.table.sheet, row.number, columns, canonical, dict(self.defaults), unclear)
        self.table.sections.append(self.section)
        self.table.ignored.append((row.number, 1, "headings", _shown(row.cells)))

    def body(self, row: SourceRow) -> None:
        """Tell what a row below the headings is, and file it."""
        section = self.section
        assert section is not None
        texts = [text_of(cell) for cell in row.cells]
        held = [at for at, text in enumerate(texts) if text]
        heads = [plain(column.heading.text) for column in section.columns]
        if [plain(texts[at]) for at in held] == [heads[at] for at in held if at < len(heads)] and len(held) > 1:
            self.table.ignored.append((row.number, 1, "repeated headings", _shown(row.cells)))
            return
        if fault := row.broken or self._too_long(row):
            self.table.aside.append((row.number, fault, _shown(row.cells)))
            return
        if not section.canonical:
            if heading_score(row.cells, self.options.columns) >= 3.6:
                self.headings(row)
                return
            if reason := self._no_set(row, held):
                self.table.ignored.append((row.number, 1, reason, _shown(row.cells)))
                return
        if held[-1] >= len(section.columns):
            hint = " (a decimal comma in a comma-separated file?)" if section.sheet.delimiter == "," else ""
            reason = f"more cells than headings{hint}"
            self.table.aside.append((row.number, reason, _shown(row.cells)))
            return
        if section.canonical:
            row.cells = [restored(cell) if isinstance(cell, str) else cell for cell in row.cells]
        self.table.records.append(self._record(row))

    def _too_long(self, row: SourceRow) -> str:
        """Return which cell is too long to be read, empty where none is."""
        assert self.section is not None
        for column, cell in zip(self.section.columns, row.cells, strict=False):
            long = isinstance(cell, str) and len(cell) > MAX_WRITTEN
            if long and column.field not in {"", "carried", "notes"}:
                return f"{column.name[:MAX_WRITTEN]!r} holds more than {MAX_WRITTEN} characters"
        return ""

    def _no_set(self, row: SourceRow, held: list[int]) -> str:
        """Return the reason why a row is a title or total, or nothing; headings within the table set what follows."""
        section = self.section
        assert section is not None
        exercise_at = next((column.at for column in section.columns if column.field == "exercise"), None)
        first = text_of(row.cells[held[0]])
        labels = [first]
        if exercise_at is not None and exercise_at < len(row.cells) and row.cells[exercise_at] is not None:
            labels = [text_of(row.cells[exercise_at])]
        if any(is_total_label(label) for label in labels):
            return "total"
        if len(held) > 1 or len(section.columns) < 3:
            return ""
        at = held[0]
        name = section.columns[at].field if at < len(section.columns) else ""
        cell = row.cells[at]
        if name in {"", "date", "exercise", "lifter", "set_number"} or at == 0:
            if read_date(cell, year=self.options.year).dates and (name == "date" or at == 0):
                self.above["date"] = cell
                return "date heading: gives the date of the rows below"
            if _PART_TITLE.fullmatch(clean(first)):
                return "title within the table"
            if name == "lifter":
                self.above["lifter"] = cell
                return "heading: gives the lifter of the rows below"
            if name == "exercise" or (not section.has("exercise") and self.knows is not None):
                if self.knows is None or self.knows(first):
                    self.above["exercise"] = cell
                    return "heading: gives the exercise of the rows below"
                self.above.pop("exercise", None)
            return "title within the table" if name != "exercise" else "title within the table (no known exercise)"
        return ""

    def _record(self, row: SourceRow) -> Record:
        section = self.section
        assert section is not None
        fields: dict[str, Cell] = {}
        numbered: dict[int, dict[str, Cell]] = {}
        extras: dict[str, str] = {}
        notes: list[str] = []
        for column in section.columns:
            cell = row.cells[column.at] if column.at < len(row.cells) else None
            key = f"{column.field} {column.at}"
            same = column.field and not section.canonical and isinstance(cell, str) and cell.casefold() in DITTO
            if same and self.above.get(key) is not None:
                notes.append(f"{column.heading.text} {cell!r} is that of the row above")
                cell = self.above[key]
            if column.field:
                self.above[key] = cell
            if column.field in {"", "carried", "body_mass", "rest_after"}:
                extras[column.name] = text_of(cell)
            if column.field in {"", "carried"}:
                continue
            if column.heading.index:
                numbered.setdefault(column.heading.index, {})[column.field] = cell
            else:
                fields[column.field] = cell
        if not section.has("date") and read_date(fields.get("time"), epoch=section.sheet.epoch).dates:
            fields["date"] = fields.pop("time")
        for name in _CARRIED:
            if fields.get(name) is not None:
                self.above[name] = fields[name]
            elif name in self.above and self.options.fill_down and not section.canonical:
                fields[name] = self.above[name]
                if section.has(name):
                    self.table.filled[name] = self.table.filled.get(name, 0) + 1
                    notes.append(f"{name} is that of the row above")
        for name, value in section.defaults.items():
            if fields.get(name) is None:
                fields[name] = value
        return Record(section, row.number, row.cells, fields, numbered, extras, notes)


def _columns(headings: list[Heading], canonical: bool) -> tuple[list[Column], str]:
    """Give each column its field; where two claim one, the one that says "done" wins and the other is kept."""
    if not any(heading.field == "exercise" for heading in headings):
        # "Name" is the exercise in a file that names no exercise otherwise.
        headings = [
            Heading(h.text, "exercise", h.unit, h.index, h.rank) if plain(h.text) == "name" else h for h in headings
        ]
    best: dict[tuple[str, int], int] = {}
    for heading in headings:
        key = (heading.field, heading.index)
        best[key] = min(heading.rank, best.get(key, heading.rank))
    columns: list[Column] = []
    taken: dict[tuple[str, int], Column] = {}
    names: set[str] = set()
    unclear = ""
    for at, heading in enumerate(headings):
        field_, why = heading.field, ""
        key = (field_, heading.index)
        if field_ == "keep":
            field_ = ""
        elif field_ and field_ != "carried":
            if heading.rank > best[key]:
                field_, why = "", f"another column is the {heading.field.replace('_', ' ')} that was done"
            elif key in taken:
                other = taken[key].heading
                if field_ == "load" and {heading.unit, other.unit} == {"kg", "lb"}:
                    field_ = "load_twin"
                else:
                    unclear = f"{other.text!r} and {heading.text!r} both look like the {field_.replace('_', ' ')}"
                    field_ = ""
        name = heading.text or f"column {at + 1}"
        if (name in COLUMNS and not canonical) or name in names:
            name = f"{name} (column {at + 1})"
        names.add(name)
        column = Column(at, heading, field_, name, why)
        if field_:
            taken.setdefault(key, column)
        columns.append(column)
    return columns, unclear
