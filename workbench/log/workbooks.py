"""Workbooks as tables, read as data only: formulas are never run, macros never looked at, sizes checked first."""

from __future__ import annotations

import io
import re
import warnings
import zipfile
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any, Final

from workbench.log.cells import Cell, Formula, Percent
from workbench.log.options import ReadOptions
from workbench.log.sheet import Sheet, SourceRow
from workbench.quantities import InputError

__all__ = ["MAX_UNPACKED_BYTES", "read_workbook"]

#: A workbook of 500,000 rows and twelve columns unpacks to about 300 MB.
MAX_UNPACKED_BYTES: Final = 600_000_000
#: Sheets shrink 10- to 30-fold; a part above a megabyte that shrinks more than this is not a sheet that anyone typed.
MAX_RATIO: Final = 200
MAX_PARTS: Final = 2_000
MAX_COLUMNS: Final = 300

_SHOWN_UNIT = re.compile(r'"\s*(kg|lbs?)\.?\s*"|\\?\s(kg|lbs?)$', re.IGNORECASE)


def read_workbook(path: Path, options: ReadOptions) -> list[Sheet]:
    """Read the worksheets of an .xlsx or .xlsm file through openpyxl, streaming and data only."""
    with_formulas = _inspect(path)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # openpyxl tells of styles and checks that it does not keep: data only
            sheets = list(_sheets(path, options))
            if with_formulas:
                _mark_formulas(path, sheets)
    except InputError:
        raise
    except Exception as error:  # openpyxl raises whatever it trips over in a damaged file
        raise InputError(
            path, "file", f"is a damaged workbook ({type(error).__name__})", "open it, save a copy as .xlsx, read that"
        ) from error
    if not sheets:
        raise InputError(path, "file", "holds no worksheet", "choose the workbook that holds the log")
    return sheets


def _inspect(path: Path) -> bool:
    """Refuse what unpacks too large or is no workbook of this kind; say whether any cell holds a formula."""
    try:
        with zipfile.ZipFile(path) as archive:
            parts = archive.infolist()
            names = {part.filename for part in parts}
            _check_kind(path, names)
            if any(part.flag_bits & 0x1 for part in parts):
                raise InputError(path, "file", "is protected with a password", "save a copy without it and read that")
            unpacked = sum(part.file_size for part in parts)
            worst = max((p.file_size / max(p.compress_size, 1) for p in parts if p.file_size > 1_000_000), default=0.0)
            if unpacked > MAX_UNPACKED_BYTES or worst > MAX_RATIO or len(parts) > MAX_PARTS:
                raise InputError(
                    path,
                    "file",
                    f"would unpack to {unpacked / 1e6:,.0f} MB in {len(parts)} parts, too much for a log",
                    "copy the log into a new workbook, or save it as .csv",
                )
            formulas = False
            for part in parts:
                if part.filename.startswith("xl/") and part.filename.endswith(".xml"):
                    with archive.open(part) as stream:
                        head = stream.read(1024)
                        if b"<!DOCTYPE" in head or b"<!ENTITY" in head:
                            raise InputError(path, part.filename, "holds document-type declarations", "save a new copy")
                        if part.filename.startswith("xl/worksheets/") and not formulas:
                            formulas = _holds_formula(head, stream)
            return formulas
    except (zipfile.BadZipFile, EOFError, OSError, NotImplementedError, RuntimeError) as error:
        raise InputError(
            path, "file", "is a damaged workbook, cut short perhaps", "fetch or save it again and read that copy"
        ) from error


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


def _holds_formula(head: bytes, stream: Any) -> bool:
    tail = head
    while True:
        if b"<f>" in tail or b"<f " in tail:
            return True
        block = stream.read(1 << 20)
        if not block:
            return False
        tail = tail[-3:] + block


def _open(path: Path, *, data_only: bool) -> Any:
    import openpyxl

    # By content, not by name: openpyxl would refuse a workbook that is called .csv.
    return openpyxl.load_workbook(io.BytesIO(path.read_bytes()), read_only=True, data_only=data_only, keep_links=False)


def _sheets(path: Path, options: ReadOptions) -> Iterator[Sheet]:
    book = _open(path, data_only=True)
    try:
        names = [sheet.title for sheet in book.worksheets]
        if options.sheet is not None and options.sheet not in names:
            raise InputError(path, "sheet", f"there is no sheet {options.sheet!r}", f"use one of {', '.join(names)}")
        macros = ["Macros in the file are left alone: only data are read."] if path.suffix.lower() == ".xlsm" else []
        for sheet in book.worksheets:
            if options.sheet in (None, sheet.title):
                sheet.reset_dimensions()
                rows = list(_rows(path, sheet, options.max_rows))
                yield Sheet(sheet.title, rows, facts=list(macros), epoch=book.epoch)
    finally:
        book.close()


def _rows(path: Path, sheet: Any, limit: int) -> Iterator[SourceRow]:
    kinds: dict[str, str] = {}
    found = 0
    for number, raw in enumerate(sheet.iter_rows(), start=1):
        cells = [_cell(cell, kinds) for cell in raw]
        while cells and cells[-1] is None:
            cells.pop()
        if not cells:
            continue
        if len(cells) > MAX_COLUMNS:
            raise InputError(
                path,
                f"{sheet.title} row {number}",
                f"has more than {MAX_COLUMNS} columns",
                "keep only the log's columns",
            )
        found += 1
        if found > limit:
            raise InputError(
                path, sheet.title, f"has more than {limit:,} rows", "split the log by year, or set max_rows= higher"
            )
        yield SourceRow(number, cells)


def _cell(cell: Any, kinds: dict[str, str]) -> Cell:
    value: Cell = cell.value
    if value is None:
        return None
    if isinstance(value, str):
        if cell.data_type == "e":
            return Formula(value)
        return value.strip() or None
    if isinstance(value, int | float) and not isinstance(value, bool):
        shown = cell.number_format
        if shown not in kinds:
            unit = _SHOWN_UNIT.search(shown)
            kinds[shown] = "%" if "%" in shown else (unit[1] or unit[2]).lower().rstrip("s") if unit else ""
        kind = kinds[shown]
        if kind == "%":
            return Percent(float(value))
        if kind:
            return f"{value:.10g} {kind}"
    return value


def _mark_formulas(path: Path, sheets: Iterable[Sheet]) -> None:
    """Put a marker where a formula has no stored value: such a cell would otherwise look blank."""
    book = _open(path, data_only=False)
    try:
        for sheet in sheets:
            source = book[sheet.name]
            source.reset_dimensions()
            by_number = {row.number: row for row in sheet.rows}
            for number, raw in enumerate(source.iter_rows(values_only=True), start=1):
                for column, formula in enumerate(raw):
                    text = _formula_text(formula)
                    if not text:
                        continue
                    row = by_number.setdefault(number, SourceRow(number, []))
                    row.cells += [None] * (column + 1 - len(row.cells))
                    if row.cells[column] is None:
                        row.cells[column] = Formula(text)
            sheet.rows = [by_number[number] for number in sorted(by_number)]
    finally:
        book.close()


def _formula_text(value: Any) -> str:
    if isinstance(value, str) and value.startswith("="):
        return value
    text = getattr(value, "text", None)
    return f"={str(text).lstrip('=')}" if text is not None else ""
