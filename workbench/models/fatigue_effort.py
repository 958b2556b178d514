"""The effort form of fatigue: what depletes is strength spent, not reps done."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from workbench.models.fatigue import FatigueForm, State
from workbench.quantities import FloatArray

__all__ = ["EFFORT", "Effort", "effort_rest", "effort_work"]

#: Headroom below this counts as none, as in the forms beside this one.
_NO_HEADROOM: Final = 1e-12


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

    depletion_gain: ArrayLike = 2.0
    strength_tau_s: ArrayLike = 20.0
    depletion_tau_s: ArrayLike = 200.0
    slow_share: ArrayLike = 0.2
    slow_tau_s: ArrayLike = 2000.0
    half_reps: ArrayLike = 3.0


def effort_rest(
    state: State, seconds: ArrayLike, recovery_rate: ArrayLike = 1.0, *, parameters: Effort | None = None
) -> State:
    """Strength loss, depletion and slow depletion after a rest; arguments as `workbench.models.fatigue.two_state_rest`."""
    p = EFFORT.parameters if parameters is None else parameters
    time = np.multiply(seconds, recovery_rate)
    loss, depletion, slow = state
    return (
        loss * np.exp(time * np.divide(-1.0, p.strength_tau_s)),
        depletion * np.exp(time * np.divide(-1.0, p.depletion_tau_s)),
        slow * np.exp(time * np.divide(-1.0, p.slow_tau_s)),
    )


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
    ``(1 + c e) dq``. So ``1 + c e`` grows exponentially in q, and a set that fails when s reaches S has

    ``q = ln(1 + c w (1 - s0/S) / (1 + c e0)) / ln(1 + c w)``,

    exactly 1 when fresh. ``w = r / (r + half_reps)``: a maximal single depletes little, a long set almost fully. Reps far
    from failure spend little strength and so cost little.
    Arguments and returns as `workbench.models.fatigue.two_state_work`.
    """
    p = EFFORT.parameters if parameters is None else parameters
    loss, depletion, slow = state
    gain = np.asarray(p.depletion_gain, dtype=np.float64)
    room = np.maximum(headroom, _NO_HEADROOM)
    left = np.maximum(1.0 - loss / room, 0.0)
    reps = np.asarray(fresh_reps, dtype=np.float64)
    weight = np.maximum(1.0 / (1.0 + p.half_reps / np.maximum(reps, _NO_HEADROOM)), _NO_HEADROOM)
    growth = np.log1p(gain * weight)
    slope = 1.0 + gain * (depletion + slow)
    share = np.log1p(gain * weight * left / slope) / growth
    available = fresh_reps * share
    with np.errstate(invalid="ignore", divide="ignore"):
        done = np.where(available > reps_wanted, np.divide(reps_wanted, fresh_reps), share)
    spent = slope * np.expm1(growth * done) / gain
    slow_spent = p.slow_share * spent
    return available, (loss + room * spent / weight, depletion + (spent - slow_spent), slow + slow_spent)


EFFORT: Final = FatigueForm("effort", 3, effort_rest, effort_work, Effort())
