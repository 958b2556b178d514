"""Workbooks as tables, read as data only and as streams: formulas never run, macros never looked at, sizes bounded."""

from __future__ import annotations

import io
import re
import struct
import zipfile
import zlib
from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Final
from xml.parsers import expat

from workbench.log.cells import (
    DAY_ZERO,
    MAX_CELL,
    MAX_CELLS,
    MAX_COLUMNS,
    MAX_ROW_NUMBER,
    Cell,
    Formula,
    Percent,
    Sheet,
    SourceRow,
    cell_fault,
)
from workbench.log.options import ReadOptions
from workbench.quantities import InputError

__all__ = ["read_workbook"]

#: A workbook of 500,000 rows and twelve columns unpacks to about 300 MB.
MAX_UNPACKED_BYTES: Final = 600_000_000
#: Sheets shrink 10- to 30-fold; a part above a megabyte that shrinks more than this is not a sheet that anyone typed.
MAX_RATIO: Final = 200
MAX_PARTS: Final = 2_000
#: Characters of all texts of a workbook.
MAX_CHARACTERS: Final = 100_000_000

_BLOCK: Final = 1 << 16
#: What the format allows, and what is a part of it.
_ENCODINGS: Final = frozenset({"utf-8", "utf-16", "us-ascii", "ascii"})
_PLACE: Final = re.compile(r"([A-Z]{1,3})([0-9]{1,7})")
_SHOWN_UNIT: Final = re.compile(r'"\s*(kg|lbs?)\.?\s*"|\\?\s(kg|lbs?)$', re.IGNORECASE)
#: A number of more digits was not typed by anyone; it stays text and is refused where a number is wanted.
_MAX_DIGITS: Final = 40
#: Archives of other programs: a part of them (or how one ends), the kind of file, and what to do.
_OTHER_KINDS: Final = (
    ("content.xml", "an OpenDocument file", "save a copy as .xlsx or .csv and read that"),
    ("xl/workbook.bin", "a binary workbook (.xlsb)", "save a copy as .xlsx or .csv and read that"),
    ("word/document.xml", "a text document", "copy the table into a spreadsheet and save it as .xlsx"),
    (".iwa", "a Numbers file", "export it as .xlsx or .csv and read that"),
)


class DamagedError(Exception):
    """A part of the workbook is not as it must be."""


#: What is raised where bytes of an archive, a compressed stream or its XML are not as they must be.
_DAMAGE: Final = (
    *(DamagedError, expat.ExpatError, struct.error, zipfile.BadZipFile, zlib.error),
    *(EOFError, KeyError, NotImplementedError, OSError, UnicodeError),
)


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


def read_workbook(path: Path, content: bytes, options: ReadOptions) -> list[Sheet]:
    """Read the worksheets of an .xlsx or .xlsm file as streams, data only."""
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            _inspect(path, archive)
            sheets = _sheets(archive, Budget(path, options.max_rows), options)
    except _DAMAGE as error:
        problem = "is a damaged workbook, cut short perhaps" + (f": {error}" if isinstance(error, DamagedError) else "")
        raise InputError(path, "file", problem, "fetch or save it again and read that copy") from error
    if not sheets:
        raise InputError(path, "file", "holds no worksheet", "choose the workbook that holds the log")
    return sheets


def _inspect(path: Path, archive: zipfile.ZipFile) -> None:
    """Refuse what unpacks too large or is no workbook of this kind."""
    parts = archive.infolist()
    names = [part.filename for part in parts]
    if "xl/workbook.xml" not in names:
        for ending, kind, remedy in _OTHER_KINDS:
            if any(name == ending or (ending == ".iwa" and name.endswith(ending)) for name in names):
                raise InputError(path, "file", f"is {kind}", remedy)
        raise InputError(path, "file", "is a zip archive, not a workbook", "unpack it and read the log inside")
    if any(part.flag_bits & 0x1 for part in parts):
        raise InputError(path, "file", "is protected with a password", "save a copy without it and read that")
    if any(part.compress_type not in {zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED} for part in parts):
        raise DamagedError("parts are packed in a way that workbooks are not")
    if any(part.header_offset < 0 for part in parts):
        raise DamagedError("parts are said to lie before the file")
    unpacked = sum(part.file_size for part in parts)
    worst = max((p.file_size / max(p.compress_size, 1) for p in parts if p.file_size > 1_000_000), default=0.0)
    if unpacked > MAX_UNPACKED_BYTES or worst > MAX_RATIO or len(parts) > MAX_PARTS:
        problem = f"would unpack to {unpacked / 1e6:,.0f} MB in {len(parts)} parts, too much for a log"
        raise InputError(path, "file", problem, "copy the log into a new workbook, or save it as .csv")


def _sheets(archive: zipfile.ZipFile, budget: Budget, options: ReadOptions) -> list[Sheet]:
    book, path = _read_book(archive, budget), budget.path
    names = [name for name, _ in book.sheets]
    if options.sheet is not None and options.sheet not in names:
        raise InputError(path, "sheet", f"there is no sheet {options.sheet!r}", f"use one of {', '.join(names)}")
    macros = ["Macros in the file are left alone: only data are read."] if path.suffix.lower() == ".xlsm" else []
    return [
        Sheet(name, _Cells(name, book, budget).read(archive, part), facts=list(macros), epoch=book.epoch)
        for name, part in book.sheets
        if options.sheet in (None, name)
    ]


def _elements(archive: zipfile.ZipFile, part: str, path: Path) -> Iterator[tuple[str, Mapping[str, str] | None, str]]:
    """Walk through a part: each element as it begins, with its attributes, and as it ends, with the text of a cell.

    Text is kept up to one character over the limit; how a text is pronounced (rPh) is no part of it.
    """
    found: list[tuple[str, Mapping[str, str] | None, str]] = []
    pieces: list[str] = []
    room = 0
    aloud = False

    def begin(name: str, attributes: Mapping[str, str]) -> None:
        nonlocal room, aloud
        name = name.rpartition(" ")[2]
        if name == "rPh":
            aloud = True
        elif name in {"v", "f"} or (name == "t" and not aloud):
            pieces.clear()
            room = MAX_CELL + 1
        found.append((name, attributes, ""))

    def text(piece: str) -> None:
        nonlocal room
        if room > 0:
            pieces.append(piece[:room])
            room -= len(piece)

    def end(name: str) -> None:
        nonlocal room, aloud
        name = name.rpartition(" ")[2]
        if name == "rPh":
            aloud = False
        found.append((name, None, "".join(pieces) if name in {"v", "f", "t"} else ""))
        pieces.clear()
        room = 0

    def refuse(*_: object) -> None:
        raise InputError(path, part, "holds document-type declarations", "save a new copy")

    def known(version: str, encoding: str | None, standalone: int) -> None:
        if encoding is not None and encoding.casefold() not in _ENCODINGS:
            raise DamagedError(f"{part} is in {encoding[:20]!r}")

    parser = expat.ParserCreate(namespace_separator=" ")
    parser.buffer_text = True
    parser.XmlDeclHandler = known
    parser.StartDoctypeDeclHandler = refuse
    parser.StartElementHandler, parser.EndElementHandler, parser.CharacterDataHandler = begin, end, text
    with archive.open(part) as stream:
        ended = False
        while not ended:
            block = stream.read(_BLOCK)
            ended = not block
            try:
                parser.Parse(block, ended)
            except expat.ExpatError:
                yield from found  # what stands before the damage may say more about it
                raise
            yield from found
            found.clear()


@dataclass
class _Book:
    """What holds for all sheets: their names and parts, the shared texts, and how each cell style shows a number."""

    sheets: list[tuple[str, str]] = field(default_factory=list)
    epoch: datetime = DAY_ZERO
    texts: list[str] = field(default_factory=list)
    shown: list[str] = field(default_factory=list)


def _read_book(archive: zipfile.ZipFile, budget: Budget) -> _Book:
    """Read what the sheets refer to."""
    names = set(archive.namelist())
    book = _Book()
    parts: dict[str, str] = {}
    for name, attributes, _ in _elements(archive, "xl/_rels/workbook.xml.rels", budget.path):
        if name == "Relationship" and attributes and attributes.get("Type", "").endswith("/worksheet"):
            target = attributes.get("Target", "")
            parts[attributes.get("Id", "")] = target[1:] if target.startswith("/") else f"xl/{target}"
    for name, attributes, _ in _elements(archive, "xl/workbook.xml", budget.path):
        if attributes and name == "workbookPr" and attributes.get("date1904", "0") in {"1", "true"}:
            book.epoch = datetime(1904, 1, 1)  # noqa: DTZ001 (the dates of a log carry no zone)
        elif attributes and name == "sheet":
            link = next((value for key, value in attributes.items() if key.endswith(" id")), "")
            if link in parts:  # a sheet of charts has no cells
                book.sheets.append((attributes.get("name", ""), parts[link]))
    if "xl/styles.xml" in names:
        book.shown = _shown_as(archive, budget.path)
    if "xl/sharedStrings.xml" in names:
        runs = ""
        for name, attributes, text in _elements(archive, "xl/sharedStrings.xml", budget.path):
            runs += text
            if name == "si" and attributes is None:
                book.texts.append(runs)
                budget.take(1, len(runs))
                runs = ""
    missing = next((name for name, part in book.sheets if part not in names), None)
    if missing is not None:
        raise DamagedError(f"sheet {missing!r} is missing")
    return book


def _shown_as(archive: zipfile.ZipFile, path: Path) -> list[str]:
    """Return how each style shows numbers: ``%``, a unit, ``date``, ``span`` (of time) or nothing."""
    formats: dict[str, str] = {}
    shown: list[str] = []
    inside = False
    for name, attributes, _ in _elements(archive, "xl/styles.xml", path):
        if name == "cellXfs":
            inside = attributes is not None
        elif name == "numFmt" and attributes is not None:
            formats[attributes.get("numFmtId", "")] = attributes.get("formatCode", "")[:255]
        elif name == "xf" and inside and attributes is not None:
            shown.append(_kind_of_number(attributes.get("numFmtId", "0"), formats))
    return shown


def _kind_of_number(style: str, formats: Mapping[str, str]) -> str:
    from openpyxl.styles.numbers import BUILTIN_FORMATS, is_date_format, is_timedelta_format

    code = formats.get(style)
    if code is None:
        code = BUILTIN_FORMATS.get(int(style)) if re.fullmatch("[0-9]{1,4}", style) else None
    if not code:
        return ""
    if is_date_format(code):
        return "span" if is_timedelta_format(code) else "date"
    if "%" in code:
        return "%"
    unit = _SHOWN_UNIT.search(code)
    return (unit[1] or unit[2]).lower().rstrip("s") if unit else ""


class _Cells:
    """The rows of one sheet that hold anything."""

    def __init__(self, name: str, book: _Book, budget: Budget) -> None:
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

    def read(self, archive: zipfile.ZipFile, part: str) -> list[SourceRow]:
        """Read the sheet; InputError past the limits, DamagedError where rows or cells are out of order."""
        for name, attributes, text in _elements(archive, part, self.budget.path):
            if attributes is not None:
                if name == "c":
                    self._begin_cell(attributes)
                elif name == "row":
                    self._begin_row(attributes.get("r"))
            elif name == "v":
                self.value = text
            elif name == "c":
                self._end_cell()
            elif name == "row":
                self._end_row()
            elif name == "f":
                self.formula = text
            elif name == "t":
                self.runs.append(text)
        return self.rows

    def _begin_row(self, stated: str | None) -> None:
        number = self.number + 1
        if stated is not None:
            if not re.fullmatch("[0-9]{1,20}", stated) or int(stated) < number:
                raise DamagedError(f"row {stated[:20]!r} does not follow row {self.number}")
            number = int(stated)
        if number > MAX_ROW_NUMBER:
            problem = f"has a row {number:,}, a sheet ends at row {MAX_ROW_NUMBER:,}"
            raise InputError(self.budget.path, self.name, problem, "save a new copy from a spreadsheet program")
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
            place, problem = f"{self.name} row {self.number}", f"has more than {MAX_COLUMNS} columns"
            raise InputError(self.budget.path, place, problem, "keep only the log's columns")
        self.cells += [None] * (self.column - 1 - len(self.cells))
        self.cells.append(value)

    def _end_row(self) -> None:
        if not self.cells:
            return
        if len(self.rows) >= self.budget.max_rows:
            problem = f"has more than {self.budget.max_rows:,} rows"
            raise InputError(self.budget.path, self.name, problem, "split the log by year, or set max_rows= higher")
        self.budget.take(len(self.cells))
        self.rows.append(SourceRow(self.number, self.cells, self.fault or cell_fault(self.cells)))

    def _cell(self) -> Cell:
        kind, value = self.attributes.get("t", "n"), self.value
        if kind == "inlineStr":
            return self._text("".join(self.runs))
        if not value and self.formula is not None and (kind != "str" or value is None):
            return Formula(f"={self.formula.lstrip('=') or '(shared formula)'}")
        if value is None or not value.strip():
            return None
        if kind == "s":
            if re.fullmatch("[0-9]{1,9}", value) and int(value) < len(self.book.texts):
                return self._text(self.book.texts[int(value)], counted=True)
            self.fault = f"the text of a cell (number {value[:20]!r}) is missing in the file"
            return value
        if kind == "e":
            return Formula(value)
        if kind == "b":
            return value.strip() in {"1", "true"}
        if kind == "d":
            with suppress(ValueError):
                return datetime.fromisoformat(value.strip()).replace(tzinfo=None)
            return value.strip()
        if kind != "n":
            return self._text(value)
        style = self.attributes.get("s", "")
        known = re.fullmatch("[0-9]{1,6}", style) and int(style) < len(self.book.shown)
        return _number(value.strip(), self.book.shown[int(style)] if known else "", self.book.epoch)

    def _text(self, text: str, *, counted: bool = False) -> str | None:
        self.budget.take(0, 0 if counted else len(text))
        return text.replace("\r\n", "\n").replace("\r", "\n").strip() or None


def _number(text: str, shown: str, epoch: datetime) -> Cell:
    """Return a stored number as it is shown: a date, a fraction shown as percent, a number with its unit."""
    from openpyxl.utils.datetime import from_excel

    if len(text) > _MAX_DIGITS or not re.fullmatch(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?", text, re.ASCII):
        return text
    value = int(text) if re.fullmatch(r"[+-]?\d{1,15}", text) else float(text)
    if abs(value) == float("inf"):
        return text
    if shown in {"date", "span"}:
        with suppress(OverflowError, ValueError):
            moment: Cell = from_excel(value, epoch, timedelta=shown == "span")
            return moment
        return value
    if shown == "%":
        return Percent(float(value))
    return f"{value:.10g} {shown}" if shown else value
