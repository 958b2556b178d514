"""Slow reps: predicted beside published, each study left out; and what is not known."""

from __future__ import annotations

from typing import Final

import numpy as np
import pandas as pd

from workbench.models.tempo import STUDIED_SECONDS
from workbench.reference.sources import claims
from workbench.reference.tempo import comparisons, slow_rep_prior

__all__ = ["not_known_of_slow_reps", "slow_rep_table"]

#: 10, 50 and 90 % of a standard normal distribution.
_LEVELS: Final = np.array([-1.2815515655446004, 0.0, 1.2815515655446004])
_NOT_KNOWN: Final = ("slow reps", "slow maximum", "range of motion")


def slow_rep_table() -> pd.DataFrame:
    """Predict the reps of each slow set from those at the usual tempo, by the other studies, beside what was published.

    Returns
    -------
    DataFrame
        One row a comparison: source, exercise, percent [% of 1RM] (NaN for body mass), seconds, usual_seconds [s] (of a
        rep), unit ("reps", or "percent" of those at the usual tempo), usual, published, predicted, low, high [unit]
        (median and middle 80 %), inside (whether the published number is), mark (what to hold against the row), grade.
    """
    rows = []
    for row in comparisons():
        prior = slow_rep_prior(row.source)
        high, middle, low = row.expected(prior.draw(_LEVELS))
        marks = [
            *(["extrapolated"] if row.seconds > STUDIED_SECONDS else []),
            *(["usual seconds assumed"] if row.usual_grade == "assumed" else []),
            *(["no share of 1RM"] if np.isnan(row.load_fraction) else []),
        ]
        rows.append(
            {
                "source": row.source,
                "exercise": row.exercise,
                "percent": 100.0 * row.load_fraction,
                "seconds": row.seconds,
                "usual_seconds": row.usual_seconds,
                "unit": row.unit,
                "usual": row.usual_reps,
                "published": row.reps,
                "predicted": middle,
                "low": low,
                "high": high,
                "inside": bool(low <= row.reps <= high),
                "mark": "; ".join(marks),
                "grade": row.grade,
            }
        )
    return pd.DataFrame(rows)


def not_known_of_slow_reps() -> tuple[str, ...]:
    """Say what no study that could be read tells of slow reps and of a shorter range of motion, a sentence each."""
    return tuple(str(claims()[topic]) for topic in _NOT_KNOWN)
