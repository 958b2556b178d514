"""What is done with a log that was read: told apart by lifter, and written in one form that reads back the same."""

from __future__ import annotations

import csv
import io
import unicodedata
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from workbench.log.cells import clean, neutralised
from workbench.log.options import LogReading
from workbench.quantities import InputError
from workbench.reference.whole_files import check_free, write_whole

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["folded", "lifters_of", "rows_by_name", "rows_of", "write_canonical", "write_quarantine"]


def write_canonical(reading: LogReading, path: str | Path, *, replace: bool = False) -> None:
    """Write the rows as CSV (UTF-8 with a byte-order mark, comma, decimal point, ISO dates, kilograms and seconds).

    Every column is written, known and unknown. Rows in quarantine are not: see :func:`write_quarantine`.

    Raises
    ------
    InputError
        If ``path`` is the log that was read, is there already (unless ``replace``), or cannot be written.
    """
    _write(reading, path, reading.rows, replace=replace)


def write_quarantine(reading: LogReading, path: str | Path, *, replace: bool = False) -> None:
    """Write the rows that were set aside, with row number, reason and original cells, as CSV."""
    _write(reading, path, reading.quarantine, replace=replace)


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


def _write(reading: LogReading, path: str | Path, table: pd.DataFrame, *, replace: bool) -> None:
    path = Path(path)
    check_free(path, replace=True)
    if path.exists() and path.samefile(reading.path):
        raise InputError(path, "file", "is the log that was read, which stays as it is", "choose another name")
    text = io.StringIO(newline="")
    writer = csv.writer(text)
    writer.writerow([neutralised(name) for name in table.columns])
    writer.writerows([_text(value) for value in row] for row in table.itertuples(index=False, name=None))
    write_whole(path, text.getvalue().encode("utf-8-sig"), replace=replace)


def folded(name: str) -> str:
    """Return a name without case, accents and spaces too many, by which lifters are told apart in a log.

    >>> folded("Zo\u00eb  LIND") == folded("zoe lind"), folded("Zo\u00eb") == folded("Chlo\u00eb")
    (True, False)
    """
    marked = unicodedata.normalize("NFD", clean(name).casefold())
    return "".join(letter for letter in marked if not unicodedata.combining(letter))


def lifters_of(rows: pd.DataFrame) -> dict[str, int]:
    """Return the lifters that rows name, in the order of the log, with how many sets each has; "" for rows of nobody.

    Spellings that differ only in case, accents and spaces are one lifter, called by the first of them.
    """
    if "lifter" not in rows.columns:
        return {"": len(rows)} if len(rows) else {}
    names: dict[str, str] = {}
    counts: dict[str, int] = {}
    for written, count in rows["lifter"].fillna("").astype(str).value_counts(sort=False).items():
        name = names.setdefault(folded(str(written)), str(written).strip())
        counts[name] = counts.get(name, 0) + int(count)
    return counts


def rows_by_name(rows: pd.DataFrame) -> dict[str, pd.DataFrame]:
    """Return the rows of each lifter whom rows name, by the name as `folded` has it; "" for rows of nobody."""
    if "lifter" not in rows.columns:
        return {"": rows} if len(rows) else {}
    return {str(name): of_name for name, of_name in rows.groupby(rows["lifter"].fillna("").astype(str).map(folded))}


def rows_of(log: LogReading | pd.DataFrame, lifter: str, called: Iterable[str] = ()) -> pd.DataFrame:
    """Return the rows of one lifter, with the lifter's name in the column ``lifter``.

    Parameters
    ----------
    log : LogReading or DataFrame
        The whole reading, or rows of one.
    lifter : str
        Name of the lifter whose rows are wanted.
    called : iterable of str
        Names in the log that mean this lifter, "" for rows that name nobody: the answer where the log names others.
        Case, accents and spaces do not matter.

    Raises
    ------
    InputError
        A question of the log is open; or the log names others, or several, and it was not said which rows to take.
        The lifters of the log are listed.

    Notes
    -----
    A log that names this lifter among others gives this lifter's rows. One that names nobody gives all.
    """
    path, rows = (log.path, log.rows) if isinstance(log, LogReading) else (None, log)
    found = lifters_of(rows)
    named = [name for name in found if name]
    answers = {folded(name): name for name in called}
    missing = [name for key, name in answers.items() if key not in map(folded, found)]
    if missing:
        raise InputError(path, "lifter", f"the log has no rows of {missing[0]!r}", _listed(found))
    if not answers and named:
        answers = {folded(lifter): lifter}
        if folded(lifter) not in map(folded, named) or "" in found:
            problem = f"the rows are not known to be those of {lifter}"
            raise InputError(
                path,
                "open question (lifter)",
                f"{problem}: the log holds {_listed(found)}",
                f"name the rows that are: rows_of(log, {lifter!r}, called=[{named[0]!r}]), "
                f"in a terminal --lifter-rows {named[0]!r}",
            )
    if not named and not answers:
        return rows
    names = rows["lifter"].fillna("").astype(str) if "lifter" in rows.columns else None
    chosen = rows if names is None else rows[names.map(folded).isin(answers)]
    return chosen.assign(lifter=lifter)


def _listed(found: dict[str, int]) -> str:
    return ", ".join(
        f"{count} {'set' if count == 1 else 'sets'} {f'of {name}' if name else 'of nobody by name'}"
        for name, count in found.items()
    )
