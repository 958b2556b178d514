"""What a rep that takes longer than usual costs.

At a given share of the 1RM slower reps leave fewer of them, by every study that could be read (`data/evidence/
rep_duration.csv`). The reps beyond the first fall with a power of the time that a rep takes. What slow reps do to the
1RM itself is not known well enough to be counted: near the maximum this promises too many.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from workbench.quantities import FloatArray, Numbers, positive

__all__ = ["SLOW_REPS", "STUDIED_SECONDS", "SlowReps", "endurance_at", "slowness"]

#: Longest rep that more than one study did to failure, s.
STUDIED_SECONDS: Final = 7.2


@dataclass(frozen=True, kw_only=True)
class SlowReps:
    """How strongly the reps fall as each takes longer.

    Attributes
    ----------
    exponent : float, [1], >= 0
        Of the power by which the reps beyond the first fall; 1 would keep the seconds under load, 0 the reps. Mean of
        four studies (derived; `workbench.reference.tempo.slow_rep_prior` has the spread).
    """

    exponent: Numbers = 0.67


SLOW_REPS: Final = SlowReps()


def slowness(seconds_per_rep: ArrayLike, usual_seconds: ArrayLike) -> FloatArray:
    """How much slower than usual a rep is, as a natural logarithm.

    Parameters
    ----------
    seconds_per_rep, usual_seconds : array, [s], > 0

    Returns
    -------
    array, broadcast shape, [1], >= 0
        ``ln(seconds / usual)``; 0 for a faster rep: no reps are gained by haste here, as a self-chosen pace is about
        the fastest that was studied.

    Raises
    ------
    InputError
        Seconds that are not above 0.

    >>> slowness([4.0, 8.0, 2.0], 4.0).round(3).tolist()
    [0.0, 0.693, 0.0]
    """
    return np.maximum(
        np.log(positive("seconds_per_rep", seconds_per_rep) / positive("usual_seconds", usual_seconds)), 0.0
    )


def endurance_at(endurance: ArrayLike, slowness: ArrayLike, *, parameters: SlowReps = SLOW_REPS) -> FloatArray:
    """Endurance at a slower tempo: ``k_slow = k (t / t0)**b``; the reps beyond the first fall by ``(t / t0)**-b``.

    Parameters
    ----------
    endurance : array, [1/rep], > 0
        k, at the usual tempo.
    slowness : array that broadcasts, [1], >= 0
        ``ln(t / t0)``, from `slowness`. Studied to 7.2 s a rep, one study at 20 s; extrapolated beyond.
    parameters : SlowReps

    Returns
    -------
    array, broadcast shape, [1/rep]

    Notes
    -----
    Knee extensions at 60 % of 1RM: 16.3 reps at 80 degrees per second, 8.8 at 25 (rbme_ke_2007). A rep taking 3.2 times
    as long leaves (8.8 - 1) / (16.3 - 1) = 0.51 of the reps beyond the first: an exponent of 0.58.

    >>> k = endurance_at(0.0334, slowness(7.2, 2.25), parameters=SlowReps(exponent=0.58))
    >>> round(float(1 + np.log(1 / 0.6) / k), 1)
    8.8
    """
    return np.asarray(endurance, dtype=np.float64) * np.exp(
        parameters.exponent * np.asarray(slowness, dtype=np.float64)
    )
