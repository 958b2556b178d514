"""Published numbers as typed arrays: reps at a load (one fresh set) and runs of sets of one exercise."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from workbench.quantities import FloatArray, InputError
from workbench.sources import Grade, data_path, read_rows

__all__ = ["FAMILIES", "LoadReps", "SetRow", "read_load_reps", "read_sets"]

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


#: Stands for a column that is left out.
_LEFT_OUT: Final[Any] = None


@dataclass(frozen=True)
class LoadReps:
    """Mean reps of one fresh set at a share of 1RM, one element a row of ``reps_at_load.csv``.

    Attributes
    ----------
    source, group, fold, exercise, endurance_class, grade, use : arrays of str, shape (rows,)
        ``fold`` is what is left out together; ``use`` is "fit", "pooled" (a mean over many studies, most of the
        single ones among them) or "check".
    n : array, shape (rows,)
        People; 10 where not stated.
    load_fraction, reps_mean, reps_sd : arrays, shape (rows,)
        ``reps_sd``, the sd between people, is NaN where not stated.
    training : array of str, shape (rows,)
        "trained", "untrained", "mixed" or "unknown" (the default).
    groups : array, shape (rows,)
        Studies that the row is a mean over; 1 by default.
    mean_low, mean_high : arrays, shape (rows,)
        Published 95 % interval of the mean; NaN by default.
    """

    source: NDArray[np.str_]
    group: NDArray[np.str_]
    fold: NDArray[np.str_]
    exercise: NDArray[np.str_]
    endurance_class: NDArray[np.str_]
    grade: NDArray[np.str_]
    use: NDArray[np.str_]
    n: FloatArray
    load_fraction: FloatArray
    reps_mean: FloatArray
    reps_sd: FloatArray
    training: NDArray[np.str_] = _LEFT_OUT
    groups: FloatArray = _LEFT_OUT
    mean_low: FloatArray = _LEFT_OUT
    mean_high: FloatArray = _LEFT_OUT

    def __post_init__(self) -> None:
        """Fill in what was left out."""
        defaults = {"training": "unknown", "groups": 1.0, "mean_low": np.nan, "mean_high": np.nan}
        for name, value in defaults.items():
            if getattr(self, name) is _LEFT_OUT:
                object.__setattr__(self, name, np.full(self.source.shape, value))

    def where(self, mask: NDArray[np.bool_]) -> LoadReps:
        """Return the rows where ``mask`` is True."""
        return LoadReps(**{name: getattr(self, name)[mask] for name in self.__dataclass_fields__})

    @property
    def size(self) -> int:
        """Number of rows."""
        return int(self.reps_mean.size)


def read_load_reps(use: str | None = "fit") -> LoadReps:
    """Read ``data/evidence/reps_at_load.csv``: the rows to "fit", the "pooled" ones, those to "check", or (None) all.

    >>> rows = read_load_reps()
    >>> bool(np.all((rows.load_fraction > 0.3) & (rows.load_fraction < 1)))
    True
    """
    rows = [row for row in read_rows("evidence", "reps_at_load.csv") if use is None or row["use"] == use]
    columns: dict[str, Any] = {
        name: np.array([row[name] for row in rows])
        for name in ("source", "group", "fold", "exercise", "endurance_class", "grade", "use", "training")
    }
    for name in ("n", "load_fraction", "reps_mean", "reps_sd", "groups", "mean_low", "mean_high"):
        columns[name] = np.array([_number(row, name, "reps_at_load.csv") for row in rows], dtype=np.float64)
    columns["n"] = np.where(np.isnan(columns["n"]), 10.0, columns["n"])
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
    return tuple(_set_row(row) for row in read_rows("evidence", "sets.csv"))


def read_sets(use: str | None = "fit") -> list[SetRow]:
    """Read ``data/evidence/sets.csv``: the rows to fit, those to check, or (None) all.

    >>> {row.family for row in read_sets()} <= set(FAMILIES)
    True
    """
    return [row for row in _all_sets() if use is None or row.use == use]


def _set_row(row: dict[str, str]) -> SetRow:
    file = "sets.csv"
    rest, _, reference = row["rests_s"].partition("/")
    sets = int(row["set_to"])
    fraction = _number(row, "load_fraction", file)
    if row["loads"]:
        fractions: tuple[float, ...] | None = tuple(float(part) for part in row["loads"].split(";"))
    else:
        fractions = None if np.isnan(fraction) else (fraction,) * sets
    if row["family"] not in FAMILIES:
        raise InputError(data_path("evidence", file), "family", f"unknown family {row['family']!r}", str(FAMILIES))
    cap = _number(row, "cap", file)
    wanted = _number(row, "reps_wanted", file)
    return SetRow(
        **{  # type: ignore[arg-type]
            name: row[name]
            for name in (
                *("source", "group", "fold", "family", "protocol", "exercise"),
                *("endurance_class", "sex", "training", "grade", "use", "note"),
            )
        },
        n=_number(row, "n", file, 10.0),
        groups=_number(row, "groups", file, 1.0),
        load_fractions=fractions,
        rep_max=_number(row, "rep_max", file),
        load_cut=_number(row, "load_cut", file, 0.0),
        rests_s=tuple(float(part) for part in rest.split(";")),
        reference_rest_s=float(reference) if reference else float("nan"),
        first_set=_number(row, "first_set", file),
        set_from=int(row["set_from"]),
        set_to=sets,
        cap=float("inf") if np.isnan(cap) else cap,
        reps_wanted=float("inf") if np.isnan(wanted) else wanted,
        value=_number(row, "value", file),
        sd=_number(row, "sd", file),
    )


def _number(row: dict[str, str], column: str, file: str, default: float = float("nan")) -> float:
    text = row[column]
    if not text:
        return default
    try:
        return float(text)
    except ValueError:
        place = f"{row.get('source', '')}, {column}"
        raise InputError(data_path("evidence", file), place, f"{text!r} is no number", "use a number") from None
