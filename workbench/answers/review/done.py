"""The sets that were done, with what had been prescribed: what a forecast is held against."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import pandas as pd

from workbench.fit.evidence_sets import UsedLog, read_sets

if TYPE_CHECKING:
    from workbench.lifter import Lifter

__all__ = ["PLANNED_REPS", "sets_done"]

#: Headings, in small letters, under which a log keeps the reps that were prescribed.
PLANNED_REPS: Final = (
    *("planned reps", "planned_reps", "prescribed reps", "target reps"),
    *("reps planned", "reps prescribed", "reps target"),
)
_RANGE: Final = re.compile(r"(\d+)(?:\s*(?:to|-|–)\s*(\d+))?")


def sets_done(rows: pd.DataFrame, lifter: Lifter) -> pd.DataFrame:
    """Return the sets of one lifter's log that a forecast can be held against, in the order in which they were done.

    Where the log keeps the prescribed reps (as a filled sheet does), they count. Where it does not, a set that was
    completed is taken as prescribed with the reps that were done; a failed one with those of the sets at the same load
    of that day that were completed with more, and else as a set to failure. A set with a stated reserve, and reps that
    no other set at that load repeats, ended where it felt so: nothing was prescribed.

    Parameters
    ----------
    rows : DataFrame
        As `workbench.log.rows_of` gives them.
    lifter : Lifter

    Returns
    -------
    DataFrame
        One row a set: date; exercise; set (from 1, of the exercise that day); load_kg (with the part of the body that
        is lifted); rest_s (from the last set of the exercise) and start_s, end_s [s] on the clock of the day; low, high
        (fewest and most reps prescribed; none and infinite for a set to failure, both none for one that ended where it
        felt so); told (whether the log says so); reps;
        failed; reserve [reps] (stated, else none).
    """
    used = read_sets(rows, body_mass_kg=lifter.body_mass_kg, catalogue=lifter.catalogue)
    table = pd.DataFrame(_rows(used), columns=_COLUMNS)
    table = table.sort_values(["date", "start_s"], kind="stable", ignore_index=True)
    planned = _planned(rows).loc[table["row"]]
    table["told"] = planned["told"].to_numpy(dtype=bool)
    guessed = _guessed(table)
    for name, instead in (("low", guessed["low"]), ("high", guessed["high"])):
        table[name] = np.where(table["told"], planned[name], instead)
    return table


def _guessed(table: pd.DataFrame) -> pd.DataFrame:
    """Return the reps that were likely prescribed, where the log does not say."""
    alike = [table["date"], table["exercise"], table["load_kg"].round(3)]
    done = table["reps"].where(~table["failed"])
    of_alike = done.groupby(alike)
    straight = (of_alike.transform("nunique") == 1) & (of_alike.transform("count") > 1)
    # Whoever says what is left after reps that no other set repeats has stopped where it felt so.
    prescribed = done.where(table["reserve"].isna() | straight)
    of_others = prescribed.groupby(alike).transform("max")
    low = prescribed.where(~table["failed"], of_others.where(of_others > table["reps"]))
    low = low.where(~table["failed"] | (table["reps"] > 0), low.fillna(1.0))  # nobody is asked for no rep
    return pd.DataFrame({"low": low, "high": low.where(~table["failed"] | low.notna(), np.inf)})


_COLUMNS: Final = (
    *("row", "date", "exercise", "set", "load_kg", "rest_s", "start_s", "end_s", "reps", "failed", "reserve"),
)


def _rows(used: UsedLog) -> list[tuple[Any, ...]]:
    return [
        (
            *(one.row, session.date, lift.exercise, number, one.load_kg, one.rest_s, one.start_s, one.end_s),
            *(one.reps, one.ending == "failed", one.reserve),
        )
        for lift in used.lifts
        for session in lift.sessions
        for number, one in enumerate(session.sets, start=1)
    ]


def _planned(rows: pd.DataFrame) -> pd.DataFrame:
    """Return fewest and most reps prescribed of every row, none where the log does not say."""
    names = [name for name in rows.columns if str(name).strip().casefold() in PLANNED_REPS]
    written = rows[names[0]] if names else pd.Series("", index=rows.index)
    return pd.DataFrame([_read(value) for value in written], columns=["low", "high", "told"], index=rows.index)


def _read(written: Any) -> tuple[float, float, bool]:
    """Read prescribed reps as sheets say them: fewest, most, and whether anything was said.

    >>> _read("5"), _read("8 to 12"), _read("to failure"), _read("to RIR 2"), _read("")
    ((5.0, 5.0, True), (8.0, 12.0, True), (nan, inf, True), (nan, nan, True), (nan, nan, False))
    """
    text = f"{written:g}" if isinstance(written, float | int) else str(written).strip().casefold()
    if "failure" in text or text == "inf":
        return np.nan, np.inf, True
    found = _RANGE.fullmatch(text)
    if found is None:
        return np.nan, np.nan, text not in ("", "nan", "none", "<na>")
    low = float(found[1])
    return low, float(found[2] or low), True
