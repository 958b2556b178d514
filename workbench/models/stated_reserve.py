"""What a lifter says is left in reserve against what is: bias and scatter of stated repetitions in reserve.

People stop with more in the tank than they say, the more so the longer the set; they err more the farther they are
from failure. Numbers and sources: ``data/evidence/rir_accuracy.csv``, of halperin2022, doi 10.1007/s40279-021-01559-x;
refalo2023, doi 10.1519/JSC.0000000000004653; zourdos2021, doi 10.1519/JSC.0000000000002995.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from workbench.quantities import FloatArray, Numbers

__all__ = ["STATED_RESERVE", "StatedReserve", "statement_bias", "statement_sd"]


@dataclass(frozen=True)
class StatedReserve:
    """Parameters of the statement of reps in reserve.

    Attributes
    ----------
    bias_at_turn : float, or array that broadcasts
        Reps left beyond what is said, for a set of ``turn_reps`` to failure, [reps]. Derived: 0.17 reps in sets of
        about 9.5 reps (refalo2023: bench press at 75 % of 1RM), carried to 12 reps with ``slope_short``.
    turn_reps : float
        Length of the set, in reps to failure, at which the slope changes, [reps] (halperin2022).
    slope_short, slope_long : float
        Added bias per rep to failure in sets shorter and longer than ``turn_reps``, [1] (halperin2022: 0.06, 0.47).
    longest_reps : float
        Length beyond which the bias no longer grows, [reps]; assumed, since longer sets are hardly studied.
    sd_at_failure, sd_per_rep : float
        Scatter of the statement in a set of ``sd_reps`` to failure: at failure, [reps], and added for each rep left,
        [1]. Derived: mean absolute errors of 0.74 at one and 1.2 at four reps in reserve in sets of 6 to 10 reps
        (fau_thesis), as the sd of a normal distribution.
    sd_reps : float
        Length of set for which these hold, [reps]; the scatter is in proportion to the length. Derived: it then gives
        1.9, 2.6 and 3.4 at one, three and five reps in sets of about 16, beside 1.7, 2.5 and 2.9 (zourdos2021).
    farthest : float
        Reps left beyond which the scatter no longer grows, [reps]: the most that was studied (zourdos2021). With a
        scatter that went on growing, a set that felt like the last rep would speak for many reps left as much as for
        one.
    """

    bias_at_turn: Numbers = 0.32
    turn_reps: float = 12.0
    slope_short: float = 0.06
    slope_long: float = 0.47
    longest_reps: float = 20.0
    sd_at_failure: float = 0.74
    sd_per_rep: float = 0.19
    sd_reps: float = 8.0
    farthest: float = 5.0


STATED_RESERVE: Final = StatedReserve()


def statement_bias(reps_to_failure: ArrayLike, *, parameters: StatedReserve = STATED_RESERVE) -> FloatArray:
    """Mean of actual minus stated reps in reserve.

    ``bias = bias_at_turn + slope (min(r, longest_reps) - turn_reps)``, r being the reps to failure, with
    ``slope_short`` up to ``turn_reps`` and ``slope_long`` beyond.

    Parameters
    ----------
    reps_to_failure : array, any shape, [reps], >= 0
        Length of the set had it gone to failure. Studied from about 6 to 20.
    parameters : StatedReserve

    Returns
    -------
    array, same shape, [reps]; positive: more was left than said

    >>> statement_bias([8, 12, 16, 30]).round(2).tolist()
    [0.08, 0.32, 2.2, 4.08]
    """
    p = parameters
    beyond = np.minimum(reps_to_failure, p.longest_reps) - p.turn_reps
    return np.asarray(p.bias_at_turn + np.maximum(p.slope_short * beyond, p.slope_long * beyond), dtype=np.float64)


def statement_sd(
    reserve: ArrayLike, reps_to_failure: ArrayLike, *, parameters: StatedReserve = STATED_RESERVE
) -> FloatArray:
    """Scatter (standard deviation) of the stated about the expected reps in reserve.

    ``sd = (sd_at_failure + sd_per_rep reserve) r / sd_reps``, r being the reps to failure, held between half of
    ``sd_reps`` and ``longest_reps``.

    Parameters
    ----------
    reserve : array, any shape, [reps]
        Reps really left; counted as none below zero.
    reps_to_failure : array that broadcasts, [reps], >= 0
    parameters : StatedReserve

    Returns
    -------
    array, broadcast shape, [reps], > 0

    >>> statement_sd([1, 4], 8).round(2).tolist()
    [0.93, 1.5]
    """
    p = parameters
    length = np.clip(reps_to_failure, 0.5 * p.sd_reps, p.longest_reps) / p.sd_reps
    left = np.clip(reserve, 0.0, p.farthest)
    return np.asarray((p.sd_at_failure + p.sd_per_rep * left) * length, dtype=np.float64)
