"""What every fatigue form is: pools that fade, a pure function that works a set, a frozen parameter set, a name.

Each pool of the state fades in a rest with a time constant of its own, a parameter that the form names; so what several
exercises leave in a muscle can be added up, and taken apart again. Within a set,

``work(state, headroom, fresh_reps, reps_wanted, *, parameters)``
    gives the reps available, and the state after it.

The state is a tuple of arrays, all zero when fresh. ``headroom`` is S = ln(one_rm / load), the log-strength that a
fresh lifter has to spare; ``fresh_reps`` is r, the reps to failure of a fresh set from any load-reps curve. Rules that
every form keeps: a fresh set gives back ``fresh_reps`` exactly; a tired set never gives more; a longer rest never
gives less; losses are a share of the fresh reps.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields
from typing import Any, Final

import numpy as np
from numpy.typing import ArrayLike

from workbench.quantities import FloatArray

__all__ = ["NO_HEADROOM", "FatigueForm", "State", "at_least", "first_rep", "headroom_left", "reps_done"]

State = tuple[FloatArray, ...]

#: Headroom below this counts as none: a load at or above today's maximum.
NO_HEADROOM: Final = 1e-12
#: A share of the headroom below this is rounding: nothing is left straight after failure.
NOTHING_LEFT: Final = 1e-9


@dataclass(frozen=True)
class FatigueForm:
    """A fatigue form.

    Attributes
    ----------
    name : str
        Shown in tables and legends.
    time_constants : tuple of str
        For each pool of the state, the name of the parameter that is its time constant [s].
    work : callable
        ``work(state, headroom, fresh_reps, reps_wanted, *, parameters)`` gives the reps available [reps] and the state
        after the set. ``state``: tuple of arrays [1], one a pool, all 0 when fresh; ``headroom``: ln(one_rm / load)
        [1]; ``fresh_reps`` [reps]: those of a fresh set at that load; ``reps_wanted`` [reps]: where the set is ended,
        infinite for a set to failure. All arrays broadcast, draws first, then weeks.
    parameters : frozen dataclass
        The default parameter set; each field a float or an array that broadcasts with the draws.
    """

    name: str
    time_constants: tuple[str, ...]
    work: Callable[..., tuple[FloatArray, State]]
    parameters: Any

    def __repr__(self) -> str:
        """Return the name: all else would fill a screen wherever a signature shows its default."""
        return f"<FatigueForm {self.name}>"

    @property
    def parameter_names(self) -> tuple[str, ...]:
        """Names of the parameters, in order."""
        return tuple(field.name for field in fields(self.parameters))

    @property
    def pools(self) -> int:
        """Number of arrays in the state."""
        return len(self.time_constants)

    def fresh(self, shape: tuple[int, ...] = ()) -> State:
        """Return the state of a fresh lifter."""
        return tuple(np.zeros(shape) for _ in range(self.pools))

    def faded(self, seconds: ArrayLike, recovery_rate: ArrayLike = 1.0, *, parameters: Any = None) -> State:
        """Return what a rest leaves of each pool, as a share; arguments as `rest`."""
        used = self.parameters if parameters is None else parameters
        time = np.multiply(seconds, recovery_rate, dtype=np.float64)
        return tuple(np.exp(time * (-1.0 / getattr(used, name))) for name in self.time_constants)

    def rest(
        self, state: State, seconds: ArrayLike, recovery_rate: ArrayLike = 1.0, *, parameters: Any = None
    ) -> State:
        """State after a rest.

        Parameters
        ----------
        state : tuple of arrays, [1]
        seconds : array, [s], >= 0
        recovery_rate : array, [1], > 0
            The time constants are divided by it: 2 recovers twice as fast.
        parameters
            Of the form; its own where not given.

        Returns
        -------
        tuple of arrays, [1]
        """
        left = self.faded(seconds, recovery_rate, parameters=parameters)
        return tuple(pool * share for pool, share in zip(state, left, strict=True))


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
    single: FloatArray = (left > NOTHING_LEFT).astype(np.float64)
    if fresh_reps.size and fresh_reps.min() >= 1.0:
        return single
    return np.asarray(np.minimum(fresh_reps, single))


def headroom_left(headroom: ArrayLike, loss: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Headroom, at least `NO_HEADROOM`, and the share of it, 0 to 1, that a loss of strength leaves; both [1].

    >>> [part.round(9).tolist() for part in headroom_left([0.3], np.array([0.1]))]
    [[0.3], [0.666666667]]
    """
    room = at_least(np.asarray(headroom, dtype=np.float64), NO_HEADROOM)
    return room, at_least(1.0 - loss / room, 0.0)


def reps_done(
    fresh_reps: FloatArray, left: FloatArray, share: FloatArray, reps_wanted: ArrayLike
) -> tuple[FloatArray, FloatArray]:
    """Reps available where strength is left for a share of those beyond the first, and reps done of them, [reps].

    >>> [part.tolist() for part in reps_done(np.array([9.0]), np.array([0.5]), np.array([0.25]), 2.0)]
    [[3.0], [2.0]]
    """
    first = first_rep(fresh_reps, left)
    available = first + share * (fresh_reps - first)
    return available, np.minimum(available, np.asarray(reps_wanted, dtype=np.float64))
