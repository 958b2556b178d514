"""The parts of a workbook, read as streams: texts, formats and cells, each counted before it is kept."""

from __future__ import annotations

import re
import zipfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Final
from xml.parsers import expat

from workbench.log.cells import Cell, Formula, Percent
from workbench.log.dates import DAY_ZERO
from workbench.log.sheet import MAX_CELL, MAX_CELLS, MAX_COLUMNS, MAX_ROW_NUMBER, SourceRow, cell_fault
from workbench.quantities import InputError

__all__ = ["Book", "Budget", "DamagedError", "read_book", "read_rows"]

#: Characters of all texts of a workbook.
MAX_CHARACTERS: Final = 100_000_000

_BLOCK: Final = 1 << 16
#: What the format allows, and what is a part of it.
_ENCODINGS: Final = frozenset({"utf-8", "utf-16", "us-ascii", "ascii"})
_PLACE: Final = re.compile(r"([A-Z]{1,3})([0-9]{1,7})")
_SHOWN_UNIT: Final = re.compile(r'"\s*(kg|lbs?)\.?\s*"|\\?\s(kg|lbs?)$', re.IGNORECASE)
#: A number of more digits was not typed by anyone; it stays text and is refused where a number is wanted.
_MAX_DIGITS: Final = 40


class DamagedError(Exception):
    """A part of the workbook is not as it must be."""


@dataclass
class Budget:
    """What may still be kept of a workbook."""

    path: Path
    max_rows: int
    cells: int = MAX_CELLS
    characters: int = MAX_CHARACTERS

    def take(self, cells: int, characters: int = 0) -> None:
        """Count cells and characters; InputError where there are too many."""
        self.cells -= cells
        self.characters -= characters
        if self.cells < 0 or self.characters < 0:
            limit = f"{MAX_CELLS:,} cells" if self.cells < 0 else f"{MAX_CHARACTERS:,} characters"
            raise InputError(self.path, "file", f"has more than {limit}", "keep only the log's sheet, or split it")


class _Part:
    """One part of a workbook, walked through element by element. Text is kept up to one character over the limit."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.pieces: list[str] = []
        self.room = 0

    def start(self, name: str, attributes: Mapping[str, str]) -> None:
        """Act on an element that begins."""

    def end(self, name: str) -> None:
        """Act on an element that ends."""

    def listen(self) -> None:
        """Keep the text that follows."""
        self.pieces, self.room = [], MAX_CELL + 1

    def heard(self) -> str:
        """Return the text since `listen`, and keep no more."""
        self.room = 0
        return "".join(self.pieces)

    def _text(self, text: str) -> None:
        if self.room > 0:
            self.pieces.append(text[: self.room])
            self.room -= len(text)

    def walk(self, archive: zipfile.ZipFile, part: str) -> None:
        """Read the part to its end."""
        parser = expat.ParserCreate(namespace_separator=" ")
        parser.buffer_text = True

        def refuse(*_: object) -> None:
            raise InputError(self.path, part, "holds document-type declarations", "save a new copy")

        def known(version: str, encoding: str | None, standalone: int) -> None:
            if encoding is not None and encoding.casefold() not in _ENCODINGS:
                raise DamagedError(f"{part} is in {encoding[:20]!r}")

        parser.XmlDeclHandler = known
        parser.StartDoctypeDeclHandler = refuse
        parser.StartElementHandler = lambda name, attributes: self.start(name.rpartition(" ")[2], attributes)
        parser.EndElementHandler = lambda name: self.end(name.rpartition(" ")[2])
        parser.CharacterDataHandler = self._text
        with archive.open(part) as stream:
            while block := stream.read(_BLOCK):
                parser.Parse(block, False)
            parser.Parse(b"", True)


@dataclass
class Book:
    """What holds for all sheets: their names and parts, the shared texts, and how each cell style shows a number."""

    sheets: list[tuple[str, str]] = field(default_factory=list)
    epoch: datetime = DAY_ZERO
    texts: list[str] = field(default_factory=list)
    shown: list[str] = field(default_factory=list)


def read_book(archive: zipfile.ZipFile, budget: Budget) -> Book:
    """Read what the sheets refer to."""
    names = set(archive.namelist())
    book = Book()
    links = _Links(budget.path)
    links.walk(archive, "xl/_rels/workbook.xml.rels")
    _Contents(budget.path, book, links.parts).walk(archive, "xl/workbook.xml")
    if "xl/styles.xml" in names:
        _Styles(budget.path, book).walk(archive, "xl/styles.xml")
    if "xl/sharedStrings.xml" in names:
        _Texts(budget, book).walk(archive, "xl/sharedStrings.xml")
    missing = next((name for name, part in book.sheets if part not in names), None)
    if missing is not None:
        raise DamagedError(f"sheet {missing!r} is missing")
    return book


class _Links(_Part):
    def __init__(self, path: Path) -> None:
        super().__init__(path)
        self.parts: dict[str, str] = {}

    def start(self, name: str, attributes: Mapping[str, str]) -> None:
        if name == "Relationship" and attributes.get("Type", "").endswith("/worksheet"):
            target = attributes.get("Target", "")
            self.parts[attributes.get("Id", "")] = target[1:] if target.startswith("/") else f"xl/{target}"


class _Contents(_Part):
    def __init__(self, path: Path, book: Book, parts: Mapping[str, str]) -> None:
        super().__init__(path)
        self.book, self.parts = book, parts

    def start(self, name: str, attributes: Mapping[str, str]) -> None:
        if name == "workbookPr" and attributes.get("date1904", "0") in {"1", "true"}:
            self.book.epoch = datetime(1904, 1, 1)  # noqa: DTZ001 (the dates of a log carry no zone)
        elif name == "sheet":
            link = next((value for key, value in attributes.items() if key.endswith(" id")), "")
            if link in self.parts:  # a sheet of charts has no cells
                self.book.sheets.append((attributes.get("name", ""), self.parts[link]))


class _Texts(_Part):
    def __init__(self, budget: Budget, book: Book) -> None:
        super().__init__(budget.path)
        self.budget, self.book = budget, book
        self.runs: list[str] = []
        self.aloud = False

    def start(self, name: str, attributes: Mapping[str, str]) -> None:
        if name == "si":
            self.runs = []
        elif name == "rPh":  # how to say the text, not the text
            self.aloud = True
        elif name == "t" and not self.aloud:
            self.listen()

    def end(self, name: str) -> None:
        if name == "t" and not self.aloud:
            self.runs.append(self.heard())
        elif name == "rPh":
            self.aloud = False
        elif name == "si":
            text = "".join(self.runs)
            self.budget.take(1, len(text))
            self.book.texts.append(text)


class _Styles(_Part):
    """Formats of numbers: ``%``, a unit that is shown, ``date``, ``span`` (of time) or nothing."""

    def __init__(self, path: Path, book: Book) -> None:
        super().__init__(path)
        self.book = book
        self.formats: dict[str, str] = {}
        self.inside = False

    def start(self, name: str, attributes: Mapping[str, str]) -> None:
        if name == "numFmt":
            self.formats[attributes.get("numFmtId", "")] = attributes.get("formatCode", "")[:255]
        elif name == "cellXfs":
            self.inside = True
        elif name == "xf" and self.inside:
            self.book.shown.append(self._kind(attributes.get("numFmtId", "0")))

    def end(self, name: str) -> None:
        if name == "cellXfs":
            self.inside = False

    def _kind(self, number: str) -> str:
        from openpyxl.styles.numbers import BUILTIN_FORMATS, is_date_format, is_timedelta_format

        shown = self.formats.get(number)
        if shown is None:
            shown = BUILTIN_FORMATS.get(int(number)) if re.fullmatch("[0-9]{1,4}", number) else None
        if not shown:
            return ""
        if is_date_format(shown):
            return "span" if is_timedelta_format(shown) else "date"
        if "%" in shown:
            return "%"
        unit = _SHOWN_UNIT.search(shown)
        return (unit[1] or unit[2]).lower().rstrip("s") if unit else ""


def read_rows(archive: zipfile.ZipFile, name: str, part: str, book: Book, budget: Budget) -> list[SourceRow]:
    """Read the rows of one sheet that hold anything.

    Raises
    ------
    InputError
        More rows, columns or cells than the limits.
    DamagedError
        Rows or cells out of order.
    """
    sheet = _Cells(name, book, budget)
    sheet.walk(archive, part)
    return sheet.rows


class _Cells(_Part):
    def __init__(self, name: str, book: Book, budget: Budget) -> None:
        super().__init__(budget.path)
        self.name, self.book, self.budget = name, book, budget
        self.rows: list[SourceRow] = []
        self.number = 0
        self.column = 0
        self.cells: list[Cell] = []
        self.fault = ""
        self.attributes: Mapping[str, str] = {}
        self.value: str | None = None
        self.formula: str | None = None
        self.runs: list[str] = []
        self.aloud = False

    def start(self, name: str, attributes: Mapping[str, str]) -> None:
        if name == "row":
            self._begin_row(attributes.get("r"))
        elif name == "c":
            self._begin_cell(attributes)
        elif name in {"v", "f"} or (name == "t" and not self.aloud):
            self.listen()
        elif name == "rPh":
            self.aloud = True

    def end(self, name: str) -> None:
        if name == "v":
            self.value = self.heard()
        elif name == "f":
            self.formula = self.heard()
        elif name == "t" and not self.aloud:
            self.runs.append(self.heard())
        elif name == "rPh":
            self.aloud = False
        elif name == "c":
            self._end_cell()
        elif name == "row":
            self._end_row()

    def _begin_row(self, stated: str | None) -> None:
        number = self.number + 1
        if stated is not None:
            if not re.fullmatch("[0-9]{1,20}", stated) or int(stated) < number:
                raise DamagedError(f"row {stated[:20]!r} does not follow row {self.number}")
            number = int(stated)
        if number > MAX_ROW_NUMBER:
            raise InputError(
                self.path,
                self.name,
                f"has a row {number:,}, a sheet ends at row {MAX_ROW_NUMBER:,}",
                "save a new copy from a spreadsheet program",
            )
        self.number, self.column, self.cells, self.fault = number, 0, [], ""

    def _begin_cell(self, attributes: Mapping[str, str]) -> None:
        column = self.column + 1
        if (place := attributes.get("r")) is not None:
            match = _PLACE.fullmatch(place)
            at = 0
            for letter in match[1] if match else "":
                at = 26 * at + ord(letter) - 64
            if at < column:
                raise DamagedError(f"cell {place[:20]!r} does not follow column {self.column} of row {self.number}")
            column = at
        self.column, self.attributes = column, attributes
        self.value = self.formula = None
        self.runs = []

    def _end_cell(self) -> None:
        value = self._cell()
        if value is None:
            return
        if self.column > MAX_COLUMNS:
            raise InputError(
                self.path,
                f"{self.name} row {self.number}",
                f"has more than {MAX_COLUMNS} columns",
                "keep only the log's columns",
            )
        self.cells += [None] * (self.column - 1 - len(self.cells))
        self.cells.append(value)

    def _end_row(self) -> None:
        if not self.cells:
            return
        if len(self.rows) >= self.budget.max_rows:
            raise InputError(
                self.path,
                self.name,
                f"has more than {self.budget.max_rows:,} rows",
                "split the log by year, or set max_rows= higher",
            )
        self.budget.take(len(self.cells))
        self.rows.append(SourceRow(self.number, self.cells, self.fault or cell_fault(self.cells)))

    def _cell(self) -> Cell:
        kind, value = self.attributes.get("t", "n"), self.value
        if kind == "inlineStr":
            return self._text_cell("".join(self.runs))
        if not value and self.formula is not None and (kind != "str" or value is None):
            return Formula(f"={self.formula.lstrip('=') or '(shared formula)'}")
        if value is None or not value.strip():
            return None
        if kind == "s":
            if re.fullmatch("[0-9]{1,9}", value) and int(value) < len(self.book.texts):
                return self._text_cell(self.book.texts[int(value)])
            self.fault = f"the text of a cell (number {value[:20]!r}) is missing in the file"
            return value
        if kind == "e":
            return Formula(value)
        if kind == "b":
            return value.strip() in {"1", "true"}
        if kind == "d":
            return _iso(value.strip())
        return _number(value.strip(), self._shown(), self.book.epoch) if kind == "n" else self._text_cell(value)

    def _text_cell(self, text: str) -> str | None:
        self.budget.take(0, 0 if self.attributes.get("t") == "s" else len(text))
        return text.replace("\r\n", "\n").replace("\r", "\n").strip() or None

    def _shown(self) -> str:
        style = self.attributes.get("s", "")
        shown: Sequence[str] = self.book.shown
        return shown[int(style)] if re.fullmatch("[0-9]{1,6}", style) and int(style) < len(shown) else ""


def _iso(text: str) -> Cell:
    try:
        return datetime.fromisoformat(text).replace(tzinfo=None)
    except ValueError:
        return text


def _number(text: str, shown: str, epoch: datetime) -> Cell:
    """Return a stored number as it is shown: a date, a fraction shown as percent, a number with its unit."""
    from openpyxl.utils.datetime import from_excel

    if len(text) > _MAX_DIGITS or not re.fullmatch(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?", text, re.ASCII):
        return text
    value = int(text) if re.fullmatch(r"[+-]?\d{1,15}", text) else float(text)
    if abs(value) == float("inf"):
        return text
    if shown in {"date", "span"}:
        try:
            found: Cell = from_excel(value, epoch, timedelta=shown == "span")
        except (OverflowError, ValueError):
            return value
        return found
    if shown == "%":
        return Percent(float(value))
    return f"{value:.10g} {shown}" if shown else value
