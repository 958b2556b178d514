"""What every fatigue form is: a pair of pure functions on arrays, a frozen parameter set, a name.

``rest(state, seconds, recovery_rate, *, parameters)``
    the state after a rest;
``work(state, headroom, fresh_reps, reps_wanted, *, parameters)``
    the reps available in a set, and the state after it.

The state is a tuple of arrays, all zero when fresh. ``headroom`` is S = ln(one_rm / load), the log-strength that a
fresh lifter has to spare; ``fresh_reps`` is r, the reps to failure of a fresh set from any load-reps curve. Rules that
every form keeps: a fresh set gives back ``fresh_reps`` exactly; a tired set never gives more; a longer rest never
gives less; losses are a share of the fresh reps.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import ArrayLike

from workbench.quantities import FloatArray

__all__ = ["NOTHING_LEFT", "NO_HEADROOM", "FatigueForm", "State", "at_least", "first_rep", "rest_of_three_pools"]

State = tuple[FloatArray, ...]

#: Headroom below this counts as none: a load at or above today's maximum.
NO_HEADROOM: Final = 1e-12
#: A share of the headroom below this is rounding: nothing is left straight after failure.
NOTHING_LEFT: Final = 1e-9


@dataclass(frozen=True)
class FatigueForm:
    """A fatigue form: its name, how many pools its state has, its two functions and its parameters.

    Attributes
    ----------
    name : str
        Shown in tables and legends.
    pools : int
        Number of arrays in the state.
    rest, work : callable
        See the module's docstring.
    parameters : frozen dataclass
        The default parameter set; each field a float or an array that broadcasts with the draws.
    """

    name: str
    pools: int
    rest: Callable[..., State]
    work: Callable[..., tuple[FloatArray, State]]
    parameters: Any

    def fresh(self, shape: tuple[int, ...] = ()) -> State:
        """Return the state of a fresh lifter."""
        return tuple(np.zeros(shape) for _ in range(self.pools))


def rest_of_three_pools(
    state: State,
    seconds: ArrayLike,
    recovery_rate: ArrayLike = 1.0,
    *,
    parameters: Any,
) -> State:
    """Strength loss, depletion and slow depletion after a rest: each decays exponentially.

    Parameters
    ----------
    state : tuple of three arrays, [1]
    seconds : array, [s], >= 0
    recovery_rate : array, [1], > 0
        The time constants are divided by it: 2 recovers twice as fast.
    parameters
        With ``strength_tau_s``, ``depletion_tau_s`` and ``slow_tau_s``.

    Returns
    -------
    tuple of three arrays, [1]
    """
    time = np.multiply(seconds, recovery_rate, dtype=np.float64)
    loss, depletion, slow = state
    return (
        loss * np.exp(time * (-1.0 / parameters.strength_tau_s)),
        depletion * np.exp(time * (-1.0 / parameters.depletion_tau_s)),
        slow * np.exp(time * (-1.0 / parameters.slow_tau_s)),
    )


def at_least(values: FloatArray, least: float) -> FloatArray:
    """Return ``np.maximum(values, least)``, faster where all or most values are above.

    numpy compares an array with a number four times as slowly as with another array, and finds a minimum faster still.

    >>> at_least(np.array([-1.0, 2.0]), 0.0).tolist()
    [0.0, 2.0]
    """
    if values.size and values.min() >= least:
        return values
    floor = np.empty_like(values)
    floor.fill(least)
    return np.asarray(np.maximum(values, floor))


def first_rep(fresh_reps: FloatArray, left: FloatArray) -> FloatArray:
    """Reps that are there as long as any strength is left: one, or all where a fresh lifter has less than one.

    Parameters
    ----------
    fresh_reps : array, [reps], >= 0
    left : array, [1], 0 to 1
        Share of the headroom that is left.

    >>> first_rep(np.array([8.0, 0.5, 8.0]), np.array([0.2, 0.2, 0.0])).tolist()
    [1.0, 0.5, 0.0]
    """
    one: FloatArray = (left > NOTHING_LEFT).astype(np.float64)
    if fresh_reps.size and fresh_reps.min() >= 1.0:
        return one
    return np.asarray(np.minimum(fresh_reps, one))
