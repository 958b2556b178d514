"""Text files as tables: encoding, delimiter and quotes found from the content."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable
from pathlib import Path
from typing import Final

from workbench.log.cells import Cell
from workbench.log.headings import heading_score
from workbench.log.options import ReadOptions
from workbench.log.sheet import Sheet, SourceRow
from workbench.quantities import InputError

__all__ = ["read_text_table"]

_DELIMITERS: Final = {",": "comma", ";": "semicolon", "\t": "tab", "|": "bar"}
_BYTE_ORDER_MARKS: Final = (
    (b"\xef\xbb\xbf", "utf-8-sig", "UTF-8 with a byte-order mark"),
    (b"\xff\xfe\x00\x00", "utf-32", "UTF-32"),
    (b"\x00\x00\xfe\xff", "utf-32", "UTF-32"),
    (b"\xff\xfe", "utf-16", "UTF-16"),
    (b"\xfe\xff", "utf-16", "UTF-16"),
)
#: Rows looked at when the delimiter is found.
_SAMPLE: Final = 80
#: A cell longer than this is a quote that was never closed.
_MAX_CELL: Final = 20_000


def read_text_table(path: Path, options: ReadOptions) -> Sheet:
    """Read a delimited text file; a row's number counts records, as a spreadsheet program shows them."""
    text, encoding = _decode(path, options.encoding)
    first, _, after = text.partition("\n")
    facts = [f"Text in {encoding}."]
    stated = first.strip().strip('"')
    said = stated[4:] if stated.lower().startswith("sep=") and len(stated) == 5 else ""
    del after
    delimiter = options.delimiter or said or _find_delimiter(text)
    if len(delimiter) != 1:
        raise InputError(path, "delimiter", f"{delimiter!r} is not one character", "use ',', ';' or a tab")
    facts.append(f"Cells are separated by a {_DELIMITERS.get(delimiter, repr(delimiter))}.")
    rows, repaired = _records(path, text, delimiter, options.max_rows)
    if repaired:
        facts.append("Some quotation marks are not closed: read line by line, the broken lines are set aside.")
    return Sheet(name="", rows=rows, facts=facts, delimiter=delimiter)


def _decode(path: Path, encoding: str | None) -> tuple[str, str]:
    content = path.read_bytes()
    attempts: list[tuple[str, str]]
    if encoding:
        attempts = [(encoding, f"{encoding}, as told")]
    else:
        attempts = [(codec, name) for mark, codec, name in _BYTE_ORDER_MARKS if content.startswith(mark)][:1]
        zeros = content[:4000].count(0)
        if not attempts and zeros > len(content[:4000]) / 4:
            codec = "utf-16-le" if content[1:2] == b"\0" else "utf-16-be"
            attempts = [(codec, "UTF-16 without a byte-order mark")]
        attempts = attempts or [
            ("utf-8", "UTF-8"),
            ("cp1252", "Windows Western (cp1252), taken so because it is not valid UTF-8"),
        ]
    for codec, name in attempts:
        try:
            text = content.decode(codec)
        except LookupError as error:
            raise InputError(path, "encoding", f"unknown encoding {codec!r}", "use utf-8, utf-16 or cp1252") from error
        except UnicodeDecodeError:
            continue
        if "\0" not in text:
            return text.replace("\r\n", "\n").replace("\r", "\n"), name
    raise InputError(path, "file", "is not readable text", "save it as CSV in UTF-8, or set encoding=")


def _find_delimiter(text: str) -> str:
    """Return the delimiter whose best row looks most like headings; ties go to the most even width."""
    sample = text[:200_000].split("\n")[:_SAMPLE]

    def merit(delimiter: str) -> tuple[float, int]:
        rows = [next(csv.reader([line], delimiter=delimiter), []) for line in sample if line.strip()]
        widths = [len(row) for row in rows]
        typical = max(set(widths), key=widths.count) if widths else 0
        return max((heading_score(row) for row in rows), default=0), typical

    return max(_DELIMITERS, key=merit)


def _records(path: Path, text: str, delimiter: str, limit: int) -> tuple[list[SourceRow], bool]:
    try:
        return _collect(path, csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True), limit), False
    except _BrokenQuotesError:
        pass
    except csv.Error:
        pass
    rows: list[SourceRow] = []
    for number, line in enumerate(text.split("\n"), start=1):
        if not line.strip():
            continue
        if len(rows) >= limit:
            raise _too_long(path, limit)
        cells: list[Cell] = list(next(csv.reader([line], delimiter=delimiter, quoting=csv.QUOTE_NONE)))
        broken = ""
        if '"' in line:
            try:
                cells = list(next(csv.reader([line], delimiter=delimiter, strict=True)))
            except csv.Error:
                broken = 'a quotation mark (") is not closed; close it or delete it'
        rows.append(SourceRow(number, [_trim(cell) for cell in cells], broken))
    return rows, True


class _BrokenQuotesError(Exception):
    """A quoted cell has swallowed whole lines."""


def _collect(path: Path, reader: Iterable[list[str]], limit: int) -> list[SourceRow]:
    rows: list[SourceRow] = []
    width = 0
    for number, record in enumerate(reader, start=1):
        cells: list[Cell] = [_trim(cell) for cell in record]
        if not any(cells):
            continue
        for cell in record:
            if len(cell) > _MAX_CELL or ("\n" in cell and _swallowed(cell, reader, width)):
                raise _BrokenQuotesError
        width = max(width, len(record))
        if len(rows) >= limit:
            raise _too_long(path, limit)
        rows.append(SourceRow(number, cells))
    return rows


def _swallowed(cell: str, reader: Iterable[list[str]], width: int) -> bool:
    delimiter = reader.dialect.delimiter  # type: ignore[attr-defined]
    return width >= 3 and any(line.count(delimiter) >= width - 1 for line in cell.split("\n")[1:])


def _too_long(path: Path, limit: int) -> InputError:
    return InputError(path, "file", f"has more than {limit:,} rows", "split the log by year, or set max_rows= higher")


def _trim(cell: Cell) -> Cell:
    if not isinstance(cell, str):
        return cell
    text = cell.strip()
    # ="100" is how some programs keep a spreadsheet from reformatting a number.
    if text.startswith('="') and text.endswith('"') and text.count('"') == 2:
        text = text[2:-1].strip()
    return text or None
