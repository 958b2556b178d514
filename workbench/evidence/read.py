"""Published numbers as typed arrays: reps at a load (one fresh set) and runs of sets of one exercise."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from functools import cache
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from workbench.quantities import FloatArray, Grade, InputError
from workbench.reference.sources import data_path, read_rows

__all__ = ["FAMILIES", "LoadReps", "SetRow", "load_reps_of", "read_load_reps", "read_sets", "sets_of"]

#: Kinds of row in ``sets.csv``, in the order in which tables show them.
FAMILIES: Final = (
    "set reps",
    "total",
    "capped total",
    "percent of set 1",
    "ratio of totals",
    "load cut",
    "submaximal",
    "drop",
)
#: Columns of ``sets.csv`` that hold text, and those that hold a number.
_TEXTS: Final = (
    *(
        "source",
        "group",
        "fold",
        "family",
        "protocol",
        "exercise",
        "endurance_class",
        "sex",
        "training",
        "grade",
        "use",
        "note",
    ),
)
_NUMBERS: Final = ("n", "groups", "rep_max", "load_cut", "first_set", "cap", "reps_wanted", "value", "sd")
#: What an empty cell means; not known, NaN, where nothing is said. Ten people is assumed.
_EMPTY: Final = {"n": 10.0, "groups": 1.0, "load_cut": 0.0, "cap": np.inf, "reps_wanted": np.inf}


@dataclass(frozen=True)
class LoadReps:
    """Mean reps of one fresh set at a share of 1RM, one element a row of ``reps_at_load.csv``.

    Attributes
    ----------
    source, group, fold, exercise, endurance_class, training, grade, use : arrays of str, shape (rows,)
        ``fold`` is what is left out together; ``training`` is "trained", "untrained", "mixed" or "unknown"; ``use`` is
        "fit", "pooled" (a mean over many studies, most of the single ones among them) or "check".
    n, groups : arrays, shape (rows,)
        People, 10 where not stated; studies that the row is a mean over, usually 1.
    load_fraction, reps_mean, mean_low, mean_high, reps_sd : arrays, shape (rows,)
        Mean with its published 95 % interval, and sd between people; NaN where not stated.
    """

    source: NDArray[np.str_]
    group: NDArray[np.str_]
    fold: NDArray[np.str_]
    exercise: NDArray[np.str_]
    endurance_class: NDArray[np.str_]
    training: NDArray[np.str_]
    grade: NDArray[np.str_]
    use: NDArray[np.str_]
    n: FloatArray
    groups: FloatArray
    load_fraction: FloatArray
    reps_mean: FloatArray
    mean_low: FloatArray
    mean_high: FloatArray
    reps_sd: FloatArray

    def where(self, mask: NDArray[np.bool_]) -> LoadReps:
        """Return the rows where ``mask`` is True."""
        return LoadReps(**{field.name: getattr(self, field.name)[mask] for field in fields(self)})

    @property
    def size(self) -> int:
        """Number of rows."""
        return int(self.reps_mean.size)


def read_load_reps(use: str | None = "fit") -> LoadReps:
    """Read ``data/evidence/reps_at_load.csv``: the rows to "fit", the "pooled", those to "check", or (None) all.

    >>> rows = read_load_reps()
    >>> bool(np.all((rows.load_fraction > 0.3) & (rows.load_fraction < 1)))
    True
    """
    file = data_path("evidence", "reps_at_load.csv")
    return load_reps_of([row for row in read_rows("evidence", file.name) if use is None or row["use"] == use], file)


def load_reps_of(rows: Sequence[Mapping[str, str]], file: Path | None) -> LoadReps:
    """Return rows of a table with the columns of ``reps_at_load.csv``; InputError where a number is none."""
    numbers = ("n", "groups", "load_fraction", "reps_mean", "mean_low", "mean_high", "reps_sd")
    columns: dict[str, Any] = {
        field.name: np.array(
            [_number(row, field.name, file) if field.name in numbers else row[field.name] for row in rows]
        )
        for field in fields(LoadReps)
    }
    return LoadReps(**columns)


@dataclass(frozen=True)
class SetRow:
    """One published number about a run of sets of one exercise; see the columns of ``sets.csv``.

    Attributes
    ----------
    source, group, fold, family, protocol, exercise, endurance_class, sex, training, grade, use, note : str
    n : float
        People; 10 where not stated.
    groups : float
        Groups of people that the value is a mean over, usually 1.
    load_fractions : tuple of float or None
        Load of each set over 1RM; None where the load is given as a repetition maximum.
    rep_max : float
        The load as a repetition maximum, NaN where it is given as a share of 1RM.
    load_cut : float
        Part of the load taken off after each set, from the load before it.
    rests_s : tuple of float
        Rests that the value is a mean over (usually one).
    reference_rest_s : float
        Rest of the total in the denominator, for a ratio; NaN otherwise.
    first_set : float
        Mean reps of set 1, NaN where unknown.
    set_from, set_to : int
        Sets that the value is about; ``set_to`` is also how many are done.
    cap, reps_wanted : float
        Reps after which everyone stops; infinite where sets go to failure.
    value, sd : float
        As published, in the unit of the family: reps, percent, ratio or share of people.
    """

    source: str
    group: str
    fold: str
    family: str
    protocol: str
    exercise: str
    endurance_class: str
    sex: str
    training: str
    grade: Grade
    use: str
    note: str
    n: float
    groups: float
    load_fractions: tuple[float, ...] | None
    rep_max: float
    load_cut: float
    rests_s: tuple[float, ...]
    reference_rest_s: float
    first_set: float
    set_from: int
    set_to: int
    cap: float
    reps_wanted: float
    value: float
    sd: float


@cache
def _all_sets() -> tuple[SetRow, ...]:
    return tuple(sets_of(read_rows("evidence", "sets.csv"), data_path("evidence", "sets.csv")))


def read_sets(use: str | None = "fit") -> list[SetRow]:
    """Read ``data/evidence/sets.csv``: the rows to fit, those to check, or (None) all.

    >>> {row.family for row in read_sets()} <= set(FAMILIES)
    True
    """
    return [row for row in _all_sets() if use is None or row.use == use]


def sets_of(rows: Sequence[Mapping[str, str]], file: Path | None) -> list[SetRow]:
    """Return rows of a table with the columns of ``sets.csv``; InputError where a number is none."""
    return [_set_row(row, file) for row in rows]


def _set_row(row: Mapping[str, str], file: Path | None) -> SetRow:
    if row["family"] not in FAMILIES:
        raise InputError(file, "family", f"unknown family {row['family']!r}", str(FAMILIES))
    rests, _, reference = row["rests_s"].partition("/")
    sets = int(_number(row, "set_to", file))
    fractions: tuple[float, ...] | None = _list(row, "loads", row["loads"], file)
    if not fractions:
        fraction = _number(row, "load_fraction", file)
        fractions = None if np.isnan(fraction) else (fraction,) * sets
    return SetRow(
        **{name: row[name] for name in _TEXTS},  # type: ignore[arg-type]
        **{name: _number(row, name, file) for name in _NUMBERS},  # type: ignore[arg-type]
        load_fractions=fractions,
        rests_s=_list(row, "rests_s", rests, file),
        reference_rest_s=_read(row, "rests_s", reference, file) if reference else np.nan,
        set_from=int(_number(row, "set_from" if row["set_from"] else "set_to", file)),
        set_to=sets,
    )


def _list(row: Mapping[str, str], column: str, text: str, file: Path | None) -> tuple[float, ...]:
    return tuple(_read(row, column, part, file) for part in text.split(";") if part)


def _number(row: Mapping[str, str], column: str, file: Path | None) -> float:
    return _read(row, column, row[column], file) if row[column] else _EMPTY.get(column, np.nan)


def _read(row: Mapping[str, str], column: str, text: str, file: Path | None) -> float:
    try:
        return float(text)
    except ValueError:
        place = f"{row.get('source', '')}, {column}"
        raise InputError(file, place, f"{text!r} is no number", "use a number") from None
