"""Write the log in one canonical form that loses nothing and reads back to the same rows."""

from __future__ import annotations

import csv
import re
import tempfile
from collections.abc import Iterable
from pathlib import Path
from typing import Any, Final

from workbench.log.options import LogReading
from workbench.quantities import InputError

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


def write_canonical(reading: LogReading, path: str | Path) -> None:
    """Write the rows as CSV (UTF-8 with a byte-order mark, comma, decimal point, ISO dates, kilograms and seconds).

    Every column is written, known and unknown. Rows in quarantine are not: see :func:`write_quarantine`.

    Raises
    ------
    InputError
        If ``path`` is the log that was read, or cannot be written.
    """
    rows = reading.rows
    _write(reading, path, list(rows.columns), (_texts(row) for row in rows.itertuples(index=False, name=None)))


def write_quarantine(reading: LogReading, path: str | Path) -> None:
    """Write the rows that were set aside, with row number, reason and original cells, as CSV."""
    table = reading.quarantine
    _write(reading, path, list(table.columns), (_texts(row) for row in table.itertuples(index=False, name=None)))


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


def _write(reading: LogReading, path: str | Path, names: list[str], rows: Iterable[list[str]]) -> None:
    path = Path(path)
    if path.exists() and path.samefile(reading.path):
        raise InputError(path, "file", "is the log that was read, which stays as it is", "choose another name")
    try:
        # Written beside it and moved into place, so that no half-written log is left.
        with tempfile.NamedTemporaryFile(
            "w", encoding="utf-8-sig", newline="", dir=path.parent, prefix=f".{path.name}.", delete=False
        ) as handle:
            writer = csv.writer(handle)
            writer.writerow([neutralised(name) for name in names])
            writer.writerows(rows)
        Path(handle.name).replace(path)
    except OSError as error:
        raise InputError(path, "file", f"cannot be written ({error.strerror})", "check the folder") from error
