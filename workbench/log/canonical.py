"""Write the log in one canonical form that loses nothing and reads back to the same rows."""

from __future__ import annotations

import csv
import io
import re
from pathlib import Path
from typing import Any, Final

from workbench.log.options import LogReading
from workbench.quantities import InputError
from workbench.reference.whole_files import check_free, write_whole

__all__ = ["neutralised", "restored", "write_canonical", "write_quarantine"]

# A spreadsheet program runs text that starts with one of these; the wide forms are taken for the narrow ones by some.
_RUNS: Final = re.compile("'*[=+\\-@\t\r\n\uff1d\uff0b\uff0d\uff20]")


def neutralised(text: str) -> str:
    """Put an apostrophe before text that a spreadsheet program would run as a formula.

    >>> neutralised("=1+1"), neutralised("squat")
    ("'=1+1", 'squat')
    """
    return f"'{text}" if _RUNS.match(text) else text


def restored(text: str) -> str:
    """Take the apostrophe off again.

    >>> restored(neutralised("'=1+1")), restored("'quoted'")
    ("'=1+1", "'quoted'")
    """
    return text[1:] if text.startswith("'") and _RUNS.match(text) else text


def write_canonical(reading: LogReading, path: str | Path, *, replace: bool = False) -> None:
    """Write the rows as CSV (UTF-8 with a byte-order mark, comma, decimal point, ISO dates, kilograms and seconds).

    Every column is written, known and unknown. Rows in quarantine are not: see :func:`write_quarantine`.

    Raises
    ------
    InputError
        If ``path`` is the log that was read, is there already (unless ``replace``), or cannot be written.
    """
    rows = reading.rows
    texts = (_texts(row) for row in rows.itertuples(index=False, name=None))
    _write(reading, path, [list(rows.columns), *texts], replace=replace)


def write_quarantine(reading: LogReading, path: str | Path, *, replace: bool = False) -> None:
    """Write the rows that were set aside, with row number, reason and original cells, as CSV."""
    table = reading.quarantine
    texts = (_texts(row) for row in table.itertuples(index=False, name=None))
    _write(reading, path, [list(table.columns), *texts], replace=replace)


def _texts(row: tuple[Any, ...]) -> list[str]:
    return [_text(value) for value in row]


def _text(value: Any) -> str:
    if isinstance(value, str):
        return neutralised(value)
    if value is None or value != value or str(value) in {"<NA>", "NaT"}:
        return ""
    if hasattr(value, "strftime"):
        return str(value.strftime("%Y-%m-%d"))
    if isinstance(value, float):
        return repr(float(value)) if not float(value).is_integer() else str(int(value))
    return str(value)


def _write(reading: LogReading, path: str | Path, rows: list[list[str]], *, replace: bool) -> None:
    path = Path(path)
    check_free(path, replace=True)
    if path.exists() and path.samefile(reading.path):
        raise InputError(path, "file", "is the log that was read, which stays as it is", "choose another name")
    text = io.StringIO(newline="")
    writer = csv.writer(text)
    writer.writerow([neutralised(name) for name in rows[0]])
    writer.writerows(rows[1:])
    write_whole(path, text.getvalue().encode("utf-8-sig"), replace=replace)
