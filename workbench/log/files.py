"""Open a log file whatever its name says: refuse what is no table, find encoding, delimiter and quotes of a text."""

from __future__ import annotations

import codecs
import csv
import io
from collections.abc import Iterable, Iterator
from itertools import chain
from pathlib import Path
from typing import Final

from workbench.log.cells import MAX_CELL, MAX_CELLS, MAX_COLUMNS, MAX_ROW_NUMBER, Cell, Sheet, SourceRow, cell_fault
from workbench.log.headings import heading_score
from workbench.log.options import COLUMNS, ReadOptions
from workbench.log.workbooks import read_workbook
from workbench.quantities import InputError

__all__ = ["open_log"]

#: A text log of 500,000 rows of 200 characters has as many.
MAX_BYTES: Final = 100_000_000

_OLE = bytes.fromhex("D0CF11E0A1B11AE1")
#: What files that are no table begin with.
_NO_TABLE: Final = {
    "a PDF": (b"%PDF",),
    "a picture": (b"\x89PNG", b"\xff\xd8\xff", b"GIF8"),
    "a text document (RTF)": (b"{\\rtf",),
    "a gzip archive": (b"\x1f\x8b",),
    "a RAR archive": (b"Rar!",),
    "a 7-Zip archive": (b"7z\xbc\xaf",),
    "a database": (b"SQLite format 3",),
}
_MARKUP: Final = (b"<!doctype", b"<html", b"<table", b"<?xml")

_DELIMITERS: Final = {",": "comma", ";": "semicolon", "\t": "tab", "|": "bar"}
_BYTE_ORDER_MARKS: Final = (
    (b"\xef\xbb\xbf", "utf-8-sig", "UTF-8 with a byte-order mark"),
    (b"\xff\xfe\x00\x00", "utf-32", "UTF-32"),
    (b"\x00\x00\xfe\xff", "utf-32", "UTF-32"),
    (b"\xff\xfe", "utf-16", "UTF-16"),
    (b"\xfe\xff", "utf-16", "UTF-16"),
)
#: Looked at when the delimiter is found.
_SAMPLE_ROWS: Final = 80
_SAMPLE_LENGTH: Final = 200_000
#: Bytes decoded at a time.
_BLOCK: Final = 1 << 20
#: Characters that no text holds: NUL, and bytes that stand for nothing in the codes of one byte a letter. Where more
#: than this part are such, it is no text: of what is packed or encrypted, an eighth is.
_NO_LETTERS: Final = tuple(map(chr, range(0x80, 0xA0)))
_MOST_NO_TEXT: Final = 0.05

_UNCLOSED: Final = 'a quotation mark (") is not closed; close it or delete it'


def open_log(path: Path, options: ReadOptions) -> list[Sheet]:
    """Read every sheet of a workbook (or the chosen one), or the one table of a text file.

    Raises
    ------
    InputError
        If the file cannot be read, is no table, is protected, or is larger than the limits.
    """
    content = _whole(path)
    head = content[:4096]
    if not head.strip(b"\0 \t\r\n\xef\xbb\xbf"):
        raise InputError(path, "file", "is empty", "choose the file that holds the log")
    if head.startswith(b"PK\x03\x04"):
        sheets = read_workbook(path, content, options)
        wrong = path.suffix.lower() not in {".xlsx", ".xlsm", ".xltx", ".xltm"}
        kind = "a workbook"
    else:
        if other := _no_table(content):
            raise InputError(path, "file", *other)
        sheets = [_read_text_table(path, content, options)]
        wrong = path.suffix.lower() in {".xlsx", ".xlsm", ".xls", ".ods", ".xlsb"}
        kind = "a text file"
    if wrong:
        for sheet in sheets:
            sheet.facts.insert(0, f"The name ends in {path.suffix or 'nothing'}, but the content is {kind}.")
    return sheets


def _whole(path: Path) -> bytes:
    """Read a file, pipe or device once, from its start to its end or to the limit: a pipe cannot be read twice."""
    try:
        folder = path.is_dir()
        size = path.stat().st_size
        content = b""
        if size <= MAX_BYTES and not folder:
            with path.open("rb") as stream:
                content = stream.read(MAX_BYTES + 1)
    except OSError as error:
        raise InputError(path, "file", f"cannot be read ({error.strerror})", "check the name and the folder") from error
    except ValueError as error:  # a name with a NUL in it
        raise InputError(repr(str(path)), "file", "is no name of a file", "check the name and the folder") from error
    if folder:
        raise InputError(path, "file", "is a folder", "give the log file inside it")
    if max(size, len(content)) > MAX_BYTES:
        raise InputError(path, "file", f"has more than the limit of {MAX_BYTES / 1e6:.0f} MB", "split the log by year")
    return content


def _no_table(content: bytes) -> tuple[str, str] | None:
    """Return what is wrong with a file that is neither text nor a workbook, and what to do."""
    head = content[:4096]
    if head.startswith(_OLE):
        if "EncryptedPackage".encode("utf-16-le") in content:
            return "is protected with a password", "open it, remove the password, save a copy and read that"
        return "is a workbook of the old .xls kind", "save a copy as .xlsx or .csv and read that"
    for kind, starts in _NO_TABLE.items():
        if head.startswith(starts):
            return f"is {kind}, not a table", "export the log as .csv or .xlsx"
    if head.lstrip(b"\xef\xbb\xbf \t\r\n").lower().startswith(_MARKUP):
        return "is a web page or XML, not a table", "open it in a spreadsheet program and save it as .xlsx"
    return None


def _read_text_table(path: Path, content: bytes, options: ReadOptions) -> Sheet:
    """Read a delimited text file; a row's number counts records, as a spreadsheet program shows them."""
    codec, encoding = _encoding(path, content, options.encoding)
    sample = _decoded(content, codec).read(_SAMPLE_LENGTH).split("\n")[:_SAMPLE_ROWS]
    stated = (sample[0] if sample else "").strip().strip('"')
    said = stated[4:] if stated.lower().startswith("sep=") and len(stated) == 5 else ""
    delimiter = options.delimiter or said or _find_delimiter(sample)
    if len(delimiter) != 1 or delimiter in '"\r\n':
        raise InputError(path, "delimiter", f"{delimiter!r} is not one character", "use ',', ';' or a tab")
    reader = _Records((line.removesuffix("\n") for line in _decoded(content, codec)), delimiter)
    rows = reader.collect(path, options.max_rows)
    facts = [f"Text in {encoding}.", f"Cells are separated by a {_DELIMITERS.get(delimiter, repr(delimiter))}."]
    if reader.repaired:
        facts.append("Some quotation marks are not closed: read line by line, the broken lines are set aside.")
    return Sheet(name="", rows=rows, facts=facts, delimiter=delimiter)


def _encoding(path: Path, content: bytes, told: str | None) -> tuple[str, str]:
    """Return the codec that reads all of the content, and what it is called."""
    if told:
        attempts = [(told, f"{told}, as told")]
    else:
        attempts = [(codec, name) for mark, codec, name in _BYTE_ORDER_MARKS if content.startswith(mark)][:1]
        zeros = content[:4000].count(0)
        if not attempts and zeros > len(content[:4000]) / 4:
            codec = "utf-16-le" if content[1:2] == b"\0" else "utf-16-be"
            attempts = [(codec, "UTF-16 without a byte-order mark")]
        attempts = attempts or [
            ("utf-8", "UTF-8"),
            ("cp1252", "Windows Western (cp1252), taken so because it is not valid UTF-8"),
            ("latin-1", "an unknown code; what cannot be read is set aside with its row"),
        ]
    for codec, name in attempts:
        try:
            decoder = codecs.getincrementaldecoder(codec)()
            odd = length = 0
            no_text = ("\0", *_NO_LETTERS) if codec == "latin-1" else ("\0",)
            for start in range(0, len(content), _BLOCK):
                text = decoder.decode(content[start : start + _BLOCK], final=start + _BLOCK >= len(content))
                odd, length = odd + sum(map(text.count, no_text)), length + len(text)
        except (LookupError, TypeError) as error:  # a codec such as base64 is known, but decodes no text
            raise InputError(path, "encoding", f"unknown encoding {codec!r}", "use utf-8, utf-16 or cp1252") from error
        except UnicodeError:
            continue
        if odd <= _MOST_NO_TEXT * length:
            return codec, name
    raise InputError(path, "file", "is not readable text", "save it as CSV in UTF-8, or set encoding=")


def _decoded(content: bytes, codec: str) -> io.TextIOWrapper:
    """Return the text, decoded as it is asked for; all three kinds of line end count."""
    return io.TextIOWrapper(io.BytesIO(content), encoding=codec, newline=None)


def _find_delimiter(sample: list[str]) -> str:
    """Return the delimiter whose best row looks most like headings; ties go to the most even width."""

    def merit(delimiter: str) -> tuple[float, int]:
        rows = [_cells(line, delimiter)[0][:MAX_COLUMNS] for line in sample if line.strip()]
        widths = [len(row) for row in rows]
        typical = max(set(widths), key=widths.count) if widths else 0
        return max((heading_score(row) for row in rows), default=0), typical

    return max(_DELIMITERS, key=merit)


def _cells(line: str, delimiter: str) -> tuple[list[str], str]:
    """Return the cells of one line, and what is broken in it: then quotation marks count as plain characters."""
    if '"' not in line:
        return line.split(delimiter), ""
    try:
        return next(csv.reader([line], delimiter=delimiter, strict=True)), ""
    except csv.Error:
        return line.split(delimiter), _UNCLOSED


class _Records:
    """Rows of cells from lines. A quoted cell may go over several lines, until one is found that is never closed.

    From that line on every line is a row, and those with an unclosed quotation mark are set aside alone.
    """

    def __init__(self, lines: Iterable[str], delimiter: str) -> None:
        self.lines = iter(lines)
        self.delimiter = delimiter
        self.width = 0
        self.repaired = False
        self.line_by_line = False
        #: The rows are a canonical log: its quotation marks are as they should be, whatever the cells hold.
        self.canonical = False

    def collect(self, path: Path, limit: int) -> list[SourceRow]:
        """Return the rows that hold anything, within the limits."""
        rows: list[SourceRow] = []
        held = 0
        for number, (record, fault) in enumerate(self._records(), start=1):
            cells: list[Cell] = [_trim(cell) for cell in record]
            _check_size(path, number, max(limit, MAX_ROW_NUMBER), "lines")
            if not any(cells):
                continue
            if not rows:
                self.canonical = set(COLUMNS) <= set(record)
            self.width = max(self.width, len(record))
            held += len(cells)
            _check_size(path, len(rows) + 1, limit, "rows")
            _check_size(path, held, MAX_CELLS, "cells")
            rows.append(SourceRow(number, cells, fault or ("" if self.canonical else cell_fault(cells))))
        return rows

    def _records(self) -> Iterator[tuple[list[str], str]]:
        while (line := next(self.lines, None)) is not None:
            if line.count(self.delimiter) >= MAX_COLUMNS and '"' not in line:
                line = line.rstrip(self.delimiter + " ")
            if line.count(self.delimiter) >= (MAX_CELL if '"' in line else MAX_COLUMNS):
                yield [line], f"has more than {MAX_COLUMNS} cells"
                continue
            cells, fault = _cells(line, self.delimiter)
            if fault and not self.line_by_line and (whole := self._over_several_lines(line)):
                cells, fault = whole, ""
            if fault:
                self.repaired = True
                fault = cell_fault(cells) or fault
            if len(cells) > MAX_COLUMNS:
                cells, fault = [line], f"has more than {MAX_COLUMNS} cells"
            yield cells, fault

    def _over_several_lines(self, line: str) -> list[str]:
        """Return the record that begins with the line; empty, and all further lines back, if it never closes."""
        taken = [line]

        def following() -> Iterator[str]:
            yield line + "\n"
            length = 0
            while (length <= MAX_CELL or self.canonical) and (more := next(self.lines, None)) is not None:
                taken.append(more)
                length += len(more)
                yield more + "\n"

        try:
            cells = next(csv.reader(following(), delimiter=self.delimiter, strict=True))
            if self.canonical or not any(self._swallowed(cell) for cell in cells):
                return cells
        except csv.Error:
            pass
        self.lines = chain(taken[1:], self.lines)
        self.line_by_line = len(taken) > 1
        return []

    def _swallowed(self, cell: str) -> bool:
        """Whether a quoted cell holds whole rows."""
        return self.width >= 3 and any(line.count(self.delimiter) >= self.width - 1 for line in cell.split("\n")[1:])


def _check_size(path: Path, number: int, limit: int, what: str) -> None:
    if number > limit:
        problem = f"has more than {limit:,} {what}"
        raise InputError(path, "file", problem, "split the log by year, or set max_rows= higher")


def _trim(cell: str) -> Cell:
    # Some programs break lines within a cell by a vertical tabulator or a form feed.
    text = cell.replace("\v", "\n").replace("\f", "\n").strip()
    # ="100" is how some programs keep a spreadsheet from reformatting a number.
    if text.startswith('="') and text.endswith('"') and text.count('"') == 2:
        text = text[2:-1].strip()
    return text or None
