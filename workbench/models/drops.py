"""Drop sets: reps after taking load off at failure, the drop that leaves the reps wanted, and chains of drops.

Everything follows from a fatigue form (`workbench.models.fatigue`); there is no constant of its own. No study that
could be read reports reps per drop, so every number here is the least certain of the workbench: show it as assumed.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from workbench.models.fatigue import DEFAULT_FORM, FatigueForm, sequence
from workbench.quantities import FloatArray

__all__ = ["drop_chain", "drop_for_reps", "reps_after_drop"]

#: Bisection steps: the drop is found to 2**-40 of its range.
_STEPS = 40


def drop_chain(
    load_fraction: ArrayLike,
    drops: ArrayLike,
    endurance: ArrayLike,
    *,
    change_s: ArrayLike = 12.0,
    recovery_rate: ArrayLike = 1.0,
    form: FatigueForm = DEFAULT_FORM,
    parameters: Any = None,
) -> FloatArray:
    """Reps of a set to failure and of each drop after it, all to failure.

    Parameters
    ----------
    load_fraction : array, shape (...), [1], > 0
        Load of the first set over the 1RM.
    drops : array, shape (..., n), [1], 0 to below 1
        Part of the load taken off at each drop, from the load before it (0.2 takes off a fifth).
    endurance : array, shape (...), [1/rep], > 0
    change_s : array, [s], >= 0
        Seconds to change the load, before each drop.
    recovery_rate : array, shape (...), [1], > 0
    form, parameters
        A `FatigueForm`, and its parameters where not its own.

    Returns
    -------
    array, shape (..., n + 1), [reps], real-valued

    >>> reps = drop_chain(0.75, [0.2, 0.2], 0.03)
    >>> bool(np.all(reps[1:] < reps[0]))
    True
    """
    first = np.asarray(load_fraction, dtype=np.float64)[..., np.newaxis]
    kept = np.cumprod(1.0 - np.asarray(drops, dtype=np.float64), axis=-1)
    fractions = first * np.concatenate([np.ones((*kept.shape[:-1], 1)), kept], axis=-1)
    rests = np.broadcast_to(np.asarray(change_s, dtype=np.float64), fractions.shape)
    return sequence(fractions, rests, endurance, recovery_rate=recovery_rate, form=form, parameters=parameters)


def reps_after_drop(
    load_fraction: ArrayLike,
    drop: ArrayLike,
    endurance: ArrayLike,
    *,
    change_s: ArrayLike = 12.0,
    recovery_rate: ArrayLike = 1.0,
    form: FatigueForm = DEFAULT_FORM,
    parameters: Any = None,
) -> FloatArray:
    """Reps after one drop straight after a set to failure; arguments as `drop_chain`, with a single ``drop``.

    Returns
    -------
    array, shape (...), [reps], real-valued
    """
    one = np.asarray(drop, dtype=np.float64)[..., np.newaxis]
    return drop_chain(
        load_fraction,
        one,
        endurance,
        change_s=change_s,
        recovery_rate=recovery_rate,
        form=form,
        parameters=parameters,
    )[..., 1]


def drop_for_reps(
    load_fraction: ArrayLike,
    reps: ArrayLike,
    endurance: ArrayLike,
    *,
    change_s: ArrayLike = 12.0,
    recovery_rate: ArrayLike = 1.0,
    form: FatigueForm = DEFAULT_FORM,
    parameters: Any = None,
    largest: float = 0.9,
) -> FloatArray:
    """Smallest drop after which ``reps`` can be made, straight after a set to failure.

    Parameters
    ----------
    reps : array, shape (...), [reps], > 0
    largest : float
        The largest drop considered. Other arguments as `reps_after_drop`.

    Returns
    -------
    array, shape (...), [1]
        Part of the load to take off; NaN where even ``largest`` does not leave the reps.
    """
    shape = np.broadcast_shapes(
        np.shape(load_fraction), np.shape(reps), np.shape(endurance), np.shape(change_s), np.shape(recovery_rate)
    )
    low, high = np.zeros(shape), np.full(shape, largest)

    def enough(drop: FloatArray) -> np.ndarray:
        made = reps_after_drop(
            load_fraction,
            drop,
            endurance,
            change_s=change_s,
            recovery_rate=recovery_rate,
            form=form,
            parameters=parameters,
        )
        return np.broadcast_to(made >= np.asarray(reps, dtype=np.float64), shape)

    reachable = enough(high)
    for _ in range(_STEPS):
        middle = 0.5 * (low + high)
        made = enough(middle)
        low, high = np.where(made, low, middle), np.where(made, middle, high)
    return np.where(reachable, high, np.nan)
