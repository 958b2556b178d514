"""Published studies as tables: to look up what a number rests on, and to put studies of one's own beside them."""

from __future__ import annotations

import csv
import io
import os
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, get_args

from workbench.evidence.read import FAMILIES, LoadReps, SetRow, load_reps_of, sets_of
from workbench.gym.catalogue import built_in
from workbench.quantities import Grade, InputError
from workbench.reference.sources import read_rows, sources
from workbench.reference.whole_files import read_whole

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["load_reps_from", "sets_from", "studies"]

#: Tables of studies, and the columns in which no row may be empty.
_NEEDED: Final = {
    "reps_at_load": ("source", "exercise", "load_fraction", "reps_mean", "grade"),
    "sets": ("source", "exercise", "family", "rests_s", "set_to", "value", "grade"),
}
#: What a column says where a row leaves it out.
_LEFT_OUT: Final = {"group": "all", "use": "fit", "sex": "unknown", "training": "unknown"}
_WORDS: Final = {"grade": get_args(Grade), "family": FAMILIES}
#: Least and most that a number can be.
_BOUNDS: Final = {
    "load_fraction": (0.05, 1.0, "a share of 1RM, as 0.8"),
    "reps_mean": (1.0, 300.0, "reps"),
    "reps_sd": (0.0, 300.0, "reps"),
    "n": (1.0, 1e6, "people"),
    "rep_max": (1.0, 300.0, "reps"),
    "load_cut": (0.0, 0.9, "a share of the load, as 0.1"),
    "first_set": (0.5, 300.0, "reps"),
    "set_from": (1.0, 20.0, "the number of a set"),
    "set_to": (1.0, 20.0, "the number of a set"),
    "cap": (1.0, 300.0, "reps"),
    "reps_wanted": (1.0, 300.0, "reps"),
    "value": (0.0, 1000.0, "as published"),
    "sd": (0.0, 1000.0, "as published"),
}
_MAX_BYTES: Final = 5_000_000


def studies(table: str = "reps_at_load") -> pd.DataFrame:
    """Return the published rows that models are held against, each with its citation.

    Parameters
    ----------
    table : str
        "reps_at_load": mean reps of one fresh set at a share of 1RM; "sets": what was published of runs of sets.

    Returns
    -------
    pandas.DataFrame
        One row a published number. ``source`` (key), ``citation``, ``doi``; ``grade`` (published, derived, recalled or
        assumed) and ``note``, which says what was taken for granted; ``use`` ("fit", or why not); ``fold``: what is
        left out together. Of "reps_at_load": ``load_fraction`` [1], ``reps_mean``, ``reps_sd`` [reps], ``n`` [people].
        Of "sets": ``family``, ``load_fraction`` [1] or ``rep_max`` [reps], ``rests_s`` [s], ``first_set`` [reps],
        ``set_from``, ``set_to``, and ``value``, ``sd`` in ``unit``. NaN or empty where a paper says nothing.

    Raises
    ------
    InputError
        Another table.

    Notes
    -----
    ``data/evidence/reps_at_load.csv``, ``data/evidence/sets.csv`` and ``data/sources.csv``.

    >>> row = studies().set_index("source").loc["heredia_2022"]
    >>> row["exercise"], float(row["load_fraction"]), float(row["reps_mean"]), row["grade"]
    ('bench press', 0.7, 12.5, 'published')
    """
    import pandas as pd

    if str(table) not in _NEEDED:
        raise InputError(None, "table", f"{table!r} is not one", f"use one of: {', '.join(_NEEDED)}")
    rows = pd.DataFrame(read_rows("evidence", f"{table}.csv"))
    for name in rows:
        numbers = pd.to_numeric(rows[name].replace("", "nan"), errors="coerce")
        if numbers.notna().eq(rows[name] != "").all() and numbers.notna().any():
            rows[name] = numbers
    known = sources()
    return rows.assign(**{said: [getattr(known[key], said) for key in rows["source"]] for said in ("citation", "doi")})


def load_reps_from(table: pd.DataFrame | str | os.PathLike[str]) -> LoadReps:
    """Return rows of reps at a load, to fit, of a table in the columns of ``studies("reps_at_load")``."""
    file, rows = _rows(table, "reps_at_load")
    return load_reps_of(rows, file)


def sets_from(table: pd.DataFrame | str | os.PathLike[str]) -> list[SetRow]:
    """Return rows of runs of sets, to fit, of a table in the columns of ``studies("sets")``."""
    file, rows = _rows(table, "sets")
    return sets_of(rows, file)


def _rows(table: Any, kind: str) -> tuple[Path | None, list[dict[str, str]]]:
    """Return the file and the rows to fit, checked and with what may be left out."""
    import pandas as pd

    if isinstance(table, pd.DataFrame):
        file, given = None, table.astype(object).where(table.notna(), "").astype(str).to_dict("records")
    elif isinstance(table, str | os.PathLike):
        file = Path(table)
        try:
            text = read_whole(file, _MAX_BYTES).decode("utf-8-sig")
        except UnicodeDecodeError as error:
            raise InputError(file, "", "is no text in UTF-8", "save it as CSV, UTF-8") from error
        given = list(csv.DictReader(io.StringIO(text, newline="")))
    else:
        problem = f"a {type(table).__name__} is not what is asked for"
        raise InputError(None, "data", problem, "give a DataFrame, or the path of a CSV file")
    columns = read_rows("evidence", f"{kind}.csv")[0].keys()
    rows = [_row(row, at, file, columns, kind) for at, row in enumerate(given, start=1)]
    rows = [row for row in rows if row["use"] == "fit"]
    if len({row["fold"] for row in rows}) < 2:
        remedy = f'add its rows to the others: pd.concat([workbench.studies("{kind}"), rows])'
        raise InputError(file, "data", "has no second study to predict the first from", remedy)
    return file, rows


def _row(row: Mapping[Any, Any], at: int, file: Path | None, columns: Any, kind: str) -> dict[str, str]:
    """Return a row in the columns of the shipped table."""

    def refuse(column: str, problem: str, remedy: str) -> InputError:
        return InputError(file, f"row {at}, {column}", problem, remedy)

    if None in row:
        raise refuse("its end", "has more cells than the heading", "part cells by a comma, write decimals with a point")
    found = dict.fromkeys(columns, "") | _LEFT_OUT
    found |= {name: str(cell).strip() for name, cell in row.items() if str(cell or "").strip()}
    for name in _NEEDED[kind]:
        if not found[name]:
            raise refuse(name, "is missing", f"every row needs {', '.join(_NEEDED[kind])}")
    for name, words in _WORDS.items():
        if found.get(name, words[0]) not in words:
            raise refuse(name, f"{found[name]!r} is not one", f"use one of: {', '.join(words)}")
    for name, (least, most, unit) in _BOUNDS.items():
        if found.get(name):
            try:
                kept = least <= float(found[name]) <= most
            except ValueError:
                kept = False
            if not kept:
                raise refuse(name, f"{found[name]!r} cannot be", f"use {least:g} to {most:g}, {unit}")
    if kind == "sets" and not (found["load_fraction"] or found["loads"] or found["rep_max"]):
        raise refuse("load_fraction", "is missing", "give load_fraction, or rep_max where the load is so stated")
    found["fold"] = found["fold"] or found["source"]
    if not found["endurance_class"]:
        try:
            found["endurance_class"] = built_in().exercise(found["exercise"]).endurance_class
        except InputError as error:
            raise refuse("exercise", error.problem, "use a name of the catalogue, or fill endurance_class") from error
    return found
