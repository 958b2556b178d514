"""Workbooks as tables, read as data only: formulas are never run, macros never looked at, sizes checked first."""

from __future__ import annotations

import io
import struct
import zipfile
import zlib
from pathlib import Path
from typing import Final
from xml.parsers import expat

from workbench.log.options import ReadOptions
from workbench.log.sheet import Sheet
from workbench.log.worksheets import Book, Budget, DamagedError, read_book, read_rows
from workbench.quantities import InputError

__all__ = ["MAX_UNPACKED_BYTES", "read_workbook"]

#: A workbook of 500,000 rows and twelve columns unpacks to about 300 MB.
MAX_UNPACKED_BYTES: Final = 600_000_000
#: Sheets shrink 10- to 30-fold; a part above a megabyte that shrinks more than this is not a sheet that anyone typed.
MAX_RATIO: Final = 200
MAX_PARTS: Final = 2_000

#: What the standard library raises where bytes of an archive, a compressed stream or its XML are not as they must be.
_DAMAGE: Final = (
    DamagedError,
    EOFError,
    KeyError,
    NotImplementedError,
    OSError,
    UnicodeError,
    expat.ExpatError,
    struct.error,
    zipfile.BadZipFile,
    zlib.error,
)


def read_workbook(path: Path, content: bytes, options: ReadOptions) -> list[Sheet]:
    """Read the worksheets of an .xlsx or .xlsm file as streams, data only."""
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            _inspect(path, archive)
            budget = Budget(path, options.max_rows)
            sheets = _sheets(path, archive, read_book(archive, budget), budget, options)
    except _DAMAGE as error:
        what = f": {error}" if isinstance(error, DamagedError) else ""
        raise InputError(
            path, "file", f"is a damaged workbook, cut short perhaps{what}", "fetch or save it again and read that copy"
        ) from error
    if not sheets:
        raise InputError(path, "file", "holds no worksheet", "choose the workbook that holds the log")
    return sheets


def _inspect(path: Path, archive: zipfile.ZipFile) -> None:
    """Refuse what unpacks too large or is no workbook of this kind."""
    parts = archive.infolist()
    _check_kind(path, {part.filename for part in parts})
    if any(part.flag_bits & 0x1 for part in parts):
        raise InputError(path, "file", "is protected with a password", "save a copy without it and read that")
    if any(part.compress_type not in {zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED} for part in parts):
        raise DamagedError("parts are packed in a way that workbooks are not")
    if any(part.header_offset < 0 for part in parts):
        raise DamagedError("parts are said to lie before the file")
    unpacked = sum(part.file_size for part in parts)
    worst = max((p.file_size / max(p.compress_size, 1) for p in parts if p.file_size > 1_000_000), default=0.0)
    if unpacked > MAX_UNPACKED_BYTES or worst > MAX_RATIO or len(parts) > MAX_PARTS:
        raise InputError(
            path,
            "file",
            f"would unpack to {unpacked / 1e6:,.0f} MB in {len(parts)} parts, too much for a log",
            "copy the log into a new workbook, or save it as .csv",
        )


def _sheets(path: Path, archive: zipfile.ZipFile, book: Book, budget: Budget, options: ReadOptions) -> list[Sheet]:
    names = [name for name, _ in book.sheets]
    if options.sheet is not None and options.sheet not in names:
        raise InputError(path, "sheet", f"there is no sheet {options.sheet!r}", f"use one of {', '.join(names)}")
    macros = ["Macros in the file are left alone: only data are read."] if path.suffix.lower() == ".xlsm" else []
    return [
        Sheet(name, read_rows(archive, name, part, book, budget), facts=list(macros), epoch=book.epoch)
        for name, part in book.sheets
        if options.sheet in (None, name)
    ]


def _check_kind(path: Path, names: set[str]) -> None:
    if "xl/workbook.xml" in names:
        return
    if "content.xml" in names:
        kind, remedy = "an OpenDocument file", "save a copy as .xlsx or .csv and read that"
    elif "xl/workbook.bin" in names:
        kind, remedy = "a binary workbook (.xlsb)", "save a copy as .xlsx or .csv and read that"
    elif "word/document.xml" in names:
        kind, remedy = "a text document", "copy the table into a spreadsheet and save it as .xlsx"
    elif any(name.endswith(".iwa") for name in names):
        kind, remedy = "a Numbers file", "export it as .xlsx or .csv and read that"
    else:
        kind, remedy = "a zip archive, not a workbook", "unpack it and read the log inside"
    raise InputError(path, "file", f"is {kind}", remedy)
