"""Rival fatigue forms, with the same first arguments as those of `workbench.models.fatigue`.

- `TWO_STATE_UNWEIGHTED`: the two-state form in which every set to failure depletes fully, a maximal single included.
- `SHRINKING`: work shrinks the number of reps that a fresh set would have; strength itself returns within seconds.
- `BALANCE`: one store of work that empties with the reps and refills exponentially.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from workbench.models.fatigue import TWO_STATE, TwoState, depletion_weight, two_state_work
from workbench.models.fatigue_form import NO_HEADROOM, FatigueForm, State, headroom_left, reps_done
from workbench.quantities import FloatArray, Numbers

__all__ = [
    "BALANCE",
    "RIVALS",
    "SHRINKING",
    "TWO_STATE_UNWEIGHTED",
    "Balance",
    "Shrinking",
    "balance_work",
    "shrinking_work",
    "two_state_unweighted_work",
]


@dataclass(frozen=True)
class Shrinking:
    """Parameters of the shrinking-capacity form.

    Attributes
    ----------
    set_cost_share : float
        Share of the reps still to be had that a set to failure takes away for minutes.
    strength_tau_s, capacity_tau_s : float
        Time constants of the return of strength and of the reps, s.
    slow_share, slow_tau_s : float
        Share of the lost reps that returns more slowly, and its time constant, s.
    """

    set_cost_share: Numbers = 0.5
    strength_tau_s: Numbers = 23.0
    capacity_tau_s: Numbers = 220.0
    slow_share: Numbers = 0.2
    slow_tau_s: Numbers = 3000.0


@dataclass(frozen=True)
class Balance:
    """Parameter of the one-store form: ``refill_tau_s``, time constant of refilling, s."""

    refill_tau_s: Numbers = 120.0


def two_state_unweighted_work(
    state: State,
    headroom: ArrayLike,
    fresh_reps: ArrayLike,
    reps_wanted: ArrayLike = np.inf,
    *,
    parameters: TwoState | None = None,
) -> tuple[FloatArray, State]:
    """Reps and state as `two_state_work`, but depletion is the share of a fresh set done, of any length: ``w = 1``."""
    available, (loss, *depleted) = two_state_work(state, headroom, fresh_reps, reps_wanted, parameters=parameters)
    weight = np.maximum(depletion_weight(fresh_reps), NO_HEADROOM)
    unweighted = (before + (after - before) / weight for before, after in zip(state[1:], depleted, strict=True))
    return available, (loss, *unweighted)


def shrinking_work(
    state: State,
    headroom: ArrayLike,
    fresh_reps: ArrayLike,
    reps_wanted: ArrayLike = np.inf,
    *,
    parameters: Shrinking | None = None,
) -> tuple[FloatArray, State]:
    """Reps available in a set, and the state after it, in the shrinking-capacity form.

    With m the share of reps lost, S the headroom and s the strength loss, ``n = 1 + (r - 1) (1 - m) (1 - s/S)``.
    Within a set s rises in proportion to the reps and reaches S at failure; a share ``set_cost_share`` of ``1 - m`` is
    lost by a whole set, less by a part of one, weighted by `depletion_weight`. Arguments as `two_state_work`, a state
    of three pools.
    """
    p = Shrinking() if parameters is None else parameters
    loss, shrunk, slow = state
    fresh = np.asarray(fresh_reps, dtype=np.float64)
    room, left = headroom_left(headroom, loss)
    whole = np.maximum(1.0 - shrunk - slow, NO_HEADROOM)
    available, reps = reps_done(fresh, left, whole * left, reps_wanted)
    part = left * reps / np.maximum(available, NO_HEADROOM)
    taken = p.set_cost_share * whole * part * depletion_weight(fresh)
    slow_taken = p.slow_share * taken
    return available, (loss + room * part, shrunk + (taken - slow_taken), slow + slow_taken)


def balance_work(
    state: State,
    headroom: ArrayLike,
    fresh_reps: ArrayLike,
    reps_wanted: ArrayLike = np.inf,
    *,
    parameters: Balance | None = None,
) -> tuple[FloatArray, State]:
    """Reps available and state after a set with one store: ``n = 1 + (r - 1) (1 - s/S)``, s reaching S at failure."""
    fresh = np.asarray(fresh_reps, dtype=np.float64)
    room, left = headroom_left(headroom, state[0])
    available, reps = reps_done(fresh, left, left, reps_wanted)
    return available, (state[0] + room * left * reps / np.maximum(available, NO_HEADROOM),)


TWO_STATE_UNWEIGHTED: Final = FatigueForm(
    "two states, unweighted", TWO_STATE.time_constants, two_state_unweighted_work, TwoState()
)
SHRINKING: Final = FatigueForm(
    "shrinking capacity", ("strength_tau_s", "capacity_tau_s", "slow_tau_s"), shrinking_work, Shrinking()
)
BALANCE: Final = FatigueForm("one store", ("refill_tau_s",), balance_work, Balance())

#: The rivals by name.
RIVALS: Final[dict[str, FatigueForm]] = {form.name: form for form in (TWO_STATE_UNWEIGHTED, SHRINKING, BALANCE)}
