"""Whose rows: a log and a lifter belong together only where the log names that lifter, names nobody, or was told so."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from typing import TYPE_CHECKING

from workbench.log.cells import clean
from workbench.log.options import LogReading
from workbench.quantities import InputError

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["lifters_of", "rows_of", "same_name"]


def _folded(name: str) -> str:
    marked = unicodedata.normalize("NFD", clean(name).casefold())
    return "".join(letter for letter in marked if not unicodedata.combining(letter))


def same_name(first: str, second: str) -> bool:
    """Whether two names are the same but for case, accents and spaces.

    >>> same_name("Zo\u00eb  LIND", "zoe lind"), same_name("Zo\u00eb", "Chlo\u00eb")
    (True, False)
    """
    return _folded(first) == _folded(second)


def lifters_of(rows: pd.DataFrame) -> dict[str, int]:
    """Return the lifters that rows name, in the order of the log, with how many sets each has; "" for rows of nobody.

    Spellings that differ only in case, accents and spaces are one lifter, called by the first of them.
    """
    if "lifter" not in rows.columns:
        return {"": len(rows)} if len(rows) else {}
    names: dict[str, str] = {}
    counts: dict[str, int] = {}
    for written, count in rows["lifter"].fillna("").astype(str).value_counts(sort=False).items():
        name = names.setdefault(_folded(str(written)), str(written).strip())
        counts[name] = counts.get(name, 0) + int(count)
    return counts


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
    answers = {_folded(name) for name in called}
    missing = [name for name in called if not any(same_name(name, other) for other in found)]
    if missing:
        raise InputError(path, "lifter", f"the log has no rows of {missing[0]!r}", _listed(found))
    if not answers and named:
        answers = {_folded(lifter)}
        known = any(same_name(lifter, name) for name in named)
        if not known or "" in found:
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
    chosen = rows if names is None else rows[names.map(_folded).isin(answers)]
    return chosen.assign(lifter=lifter)


def _listed(found: dict[str, int]) -> str:
    """List lifters with their sets."""
    return ", ".join(
        f"{count} {'set' if count == 1 else 'sets'} {f'of {name}' if name else 'of nobody by name'}"
        for name, count in found.items()
    )
