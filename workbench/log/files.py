"""Open a log file whatever its name says: look at the content, refuse what is no table, return rows of cells."""

from __future__ import annotations

from pathlib import Path
from typing import Final

from workbench.log.options import ReadOptions
from workbench.log.sheet import Sheet
from workbench.log.text_tables import read_text_table
from workbench.log.workbooks import read_workbook
from workbench.quantities import InputError

__all__ = ["MAX_BYTES", "open_log"]

#: A text log of 500,000 rows of 200 characters has as many.
MAX_BYTES: Final = 100_000_000

_OLE = bytes.fromhex("D0CF11E0A1B11AE1")
#: First bytes of files that are no table, and what they are.
_NO_TABLE: Final = (
    (b"%PDF", "a PDF"),
    (b"\x89PNG", "a picture"),
    (b"\xff\xd8\xff", "a picture"),
    (b"GIF8", "a picture"),
    (b"{\\rtf", "a text document (RTF)"),
    (b"\x1f\x8b", "a gzip archive"),
    (b"Rar!", "a RAR archive"),
    (b"7z\xbc\xaf", "a 7-Zip archive"),
    (b"SQLite format 3", "a database"),
)
_MARKUP: Final = (b"<!doctype", b"<html", b"<table", b"<?xml")


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
        _refuse_what_is_no_table(path, content)
        sheets = [read_text_table(path, content, options)]
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
        raise InputError(
            path,
            "file",
            f"has more than the limit of {MAX_BYTES / 1e6:.0f} MB",
            "split the log by year",
        )
    return content


def _refuse_what_is_no_table(path: Path, content: bytes) -> None:
    head = content[:4096]
    if head.startswith(_OLE):
        if "EncryptedPackage".encode("utf-16-le") in content:
            raise InputError(
                path, "file", "is protected with a password", "open it, remove the password, save a copy and read that"
            )
        raise InputError(
            path, "file", "is a workbook of the old .xls kind", "save a copy as .xlsx or .csv and read that"
        )
    for start, kind in _NO_TABLE:
        if head.startswith(start):
            raise InputError(path, "file", f"is {kind}, not a table", "export the log as .csv or .xlsx")
    if head.lstrip(b"\xef\xbb\xbf \t\r\n").lower().startswith(_MARKUP):
        raise InputError(
            path, "file", "is a web page or XML, not a table", "open it in a spreadsheet program and save it as .xlsx"
        )
