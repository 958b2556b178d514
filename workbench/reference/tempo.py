"""What studies say of slow reps: the published comparisons, and the spread of the exponent that they leave open."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Final

import numpy as np

from workbench.models.tempo import slowness
from workbench.quantities import FloatArray, Grade
from workbench.reference.sources import read_rows

__all__ = ["Comparison", "SlowRepPrior", "comparisons", "exponent_of", "slow_rep_prior"]

#: Student's t over the normal quantile at 90 %, for one to five degrees of freedom: how much wider few studies are.
_WIDER: Final = {1: 3.078 / 1.2816, 2: 1.886 / 1.2816, 3: 1.638 / 1.2816, 4: 1.533 / 1.2816, 5: 1.476 / 1.2816}


@dataclass(frozen=True)
class Comparison:
    """Reps to failure at two tempos, one row of ``data/evidence/rep_duration.csv``.

    Attributes
    ----------
    source, exercise : str
    n : int
    load_fraction : float, [1]
        NaN where the load is the body's.
    seconds, usual_seconds : float, [s]
    reps, usual_reps : float
        In ``unit``: "reps", or "percent" of those at the usual tempo.
    usual_grade : str
        How well the usual seconds are known; the row's own grade is that of the reps.
    unit, grade, use, note : str
        Use "fit" or "check".
    """

    source: str
    exercise: str
    n: int
    load_fraction: float
    seconds: float
    usual_seconds: float
    usual_grade: Grade
    reps: float
    usual_reps: float
    unit: str
    grade: Grade
    use: str
    note: str

    @property
    def first(self) -> float:
        """The rep that no tempo takes away: 1, or 0 where only a percentage is known."""
        return 1.0 if self.unit == "reps" else 0.0

    def expected(self, exponent: FloatArray | float) -> FloatArray:
        """Reps at the slower tempo, from those at the usual one, for an exponent; in the row's unit."""
        slower = slowness(self.seconds, self.usual_seconds)
        return np.asarray(self.first + (self.usual_reps - self.first) * np.exp(-exponent * slower))


@dataclass(frozen=True)
class SlowRepPrior:
    """Where the exponent of a lifter not yet seen lies: normal, nothing below 0.

    Attributes
    ----------
    mean, sd : float, [1]
        The sd holds how studies differ, how few they are, and so also how people do.
    studies : int
    grade : str
    source : str
    """

    mean: float
    sd: float
    studies: int
    grade: Grade
    source: str

    def draw(self, standard: FloatArray) -> FloatArray:
        """Exponents of some standard normal numbers, none below 0."""
        return np.maximum(self.mean + self.sd * standard, 0.0)


@cache
def comparisons() -> tuple[Comparison, ...]:
    """All rows."""
    return tuple(
        Comparison(
            source=row["source"],
            exercise=row["exercise"],
            n=int(row["n"]),
            load_fraction=float(row["load_fraction"] or np.nan),
            seconds=float(row["seconds"]),
            usual_seconds=float(row["usual_seconds"]),
            usual_grade=row["usual_grade"],  # type: ignore[arg-type]
            reps=float(row["reps"]),
            usual_reps=float(row["usual_reps"]),
            unit=row["unit"],
            grade=row["grade"],  # type: ignore[arg-type]
            use=row["use"],
            note=row["note"],
        )
        for row in read_rows("evidence", "rep_duration.csv")
    )


def exponent_of(row: Comparison) -> float:
    """Exponent at which one row comes out as published.

    >>> round(exponent_of(comparisons()[0]), 2)  # ln(15.3 / 7.8) / ln(7.2 / 2.25)
    0.58
    """
    fell = np.log((row.usual_reps - row.first) / (row.reps - row.first))
    return float(fell / slowness(row.seconds, row.usual_seconds))


@cache
def slow_rep_prior(without: str = "") -> SlowRepPrior:
    """Return the exponent's prior from the studies' own exponents, each study once; without one study, where named.

    >>> prior = slow_rep_prior()
    >>> prior.studies, prior.grade
    (4, 'derived')
    """
    by_study: dict[str, list[float]] = {}
    for row in comparisons():
        if row.use == "fit" and row.source != without:
            by_study.setdefault(row.source, []).append(exponent_of(row))
    means = np.array([np.mean(found) for found in by_study.values()])
    one_more = means.std(ddof=1) * np.sqrt(1.0 + 1.0 / means.size)
    sd = float(one_more * _WIDER[means.size - 1])
    return SlowRepPrior(float(means.mean()), sd, means.size, "derived", ";".join(by_study))
