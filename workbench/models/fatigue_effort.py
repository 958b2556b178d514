"""The effort form of fatigue: what depletes is strength spent, not reps done."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from workbench.models.fatigue_form import (
    NO_HEADROOM,
    FatigueForm,
    State,
    at_least,
    first_rep,
)
from workbench.quantities import FloatArray, Numbers

__all__ = ["EFFORT", "Effort", "effort_work"]


@dataclass(frozen=True)
class Effort:
    """Parameters of the effort form.

    Attributes
    ----------
    depletion_gain : float
        c: how much faster strength falls, per unit of depletion.
    strength_tau_s : float
        Time constant of the return of strength, s.
    depletion_tau_s : float
        Time constant of the return of the ability to repeat, s.
    slow_share : float
        Share of the depletion that returns with ``slow_tau_s``.
    slow_tau_s : float
        Time constant of the slow share, s.
    half_reps : float
        Reps of a fresh set to failure that causes half of the depletion that the longest sets cause.
    """

    depletion_gain: Numbers = 2.0
    strength_tau_s: Numbers = 20.0
    depletion_tau_s: Numbers = 200.0
    slow_share: Numbers = 0.2
    slow_tau_s: Numbers = 2000.0
    half_reps: Numbers = 3.0


def effort_work(
    state: State,
    headroom: ArrayLike,
    fresh_reps: ArrayLike,
    reps_wanted: ArrayLike = np.inf,
    *,
    parameters: Effort | None = None,
) -> tuple[FloatArray, State]:
    """Reps available in a set, and the state after it, in the effort form.

    With q the share of a fresh set done, S the headroom, s the strength loss and e the depletion, depletion follows the
    strength spent, ``de = w ds / S``, and strength falls the faster the more is depleted, ``ds / S`` in proportion to
    ``(1 + c e) dq``. So ``1 + c e`` grows exponentially in q, and a set that fails when s reaches S has the share

    ``q = ln(1 + c w (1 - s0/S) / (1 + c e0)) / ln(1 + c w)``,

    exactly 1 when fresh. As long as any strength is left the next rep can be made, as at the 1RM itself:
    ``n = 1 + (r - 1) q``, and 0 once s has reached S. ``w = r / (r + half_reps)``: a maximal single depletes little, a
    long set almost fully. Reps far from failure spend little strength and so cost little. A rep done costs ``1 / r``
    of a fresh set whatever the state.

    Parameters
    ----------
    state : tuple of three arrays, [1]
        Strength loss s0, depletion and slow depletion (e0 is their sum).
    headroom : array, [1]
        S = ln(one_rm / load). At or below zero, a fresh lifter still has ``fresh_reps``, a tired one has none.
    fresh_reps : array, [reps], >= 0
    reps_wanted : array, [reps]
        Reps to do; infinite for a set to failure. A set that fails ends at failure.
    parameters : Effort

    Returns
    -------
    reps_available : array, [reps], real-valued, 0 to ``fresh_reps``
    state : tuple of three arrays

    >>> fresh = (np.zeros(1), np.zeros(1), np.zeros(1))
    >>> effort_work(fresh, 0.3, 10.0)[0].tolist()
    [10.0]
    """
    p = Effort() if parameters is None else parameters
    loss, depletion, slow = state
    fresh = np.asarray(fresh_reps, dtype=np.float64)
    room = at_least(np.asarray(headroom, dtype=np.float64), NO_HEADROOM)
    left = at_least(1.0 - loss / room, 0.0)
    per_rep = 1.0 / at_least(fresh, NO_HEADROOM)
    inverse_gain = 1.0 / p.depletion_gain
    # Headroom that a unit of slope costs, in units of S: 1 / (c w).
    cost = inverse_gain + (p.half_reps * inverse_gain) * per_rep
    slope = 1.0 + p.depletion_gain * (depletion + slow)
    growth = np.log1p(1.0 / cost)
    share = np.log1p(left / (cost * slope)) / growth
    first = first_rep(fresh, left)
    available = first + share * (fresh - first)
    reps = np.minimum(available, np.asarray(reps_wanted, dtype=np.float64))
    steeper = slope * np.exp(growth * (reps * per_rep)) - slope
    spent = steeper * inverse_gain
    slow_spent = p.slow_share * spent
    return available, (loss + room * (steeper * cost), depletion + (spent - slow_spent), slow + slow_spent)


EFFORT: Final = FatigueForm("effort", ("strength_tau_s", "depletion_tau_s", "slow_tau_s"), effort_work, Effort())
