"""The steep-end form of fatigue: the effort form, in which strength falls the faster the nearer failure is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from workbench.models.fatigue_form import NO_HEADROOM, FatigueForm, State, at_least, headroom_left, reps_done
from workbench.quantities import FloatArray, Numbers

__all__ = ["STEEP_END", "SteepEnd", "steep_end_work"]

#: A difference of rates that counts as none: what it changes is lost in rounding.
NO_RATE: Final = 1e-9


@dataclass(frozen=True)
class SteepEnd:
    """Parameters of the steep-end form.

    Attributes
    ----------
    depletion_gain : float
        c: how much faster strength falls, per unit of depletion.
    end_gain : float
        b: how much faster strength falls at failure than in the first rep, besides depletion, less one.
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
    end_gain: Numbers = 4.0
    strength_tau_s: Numbers = 20.0
    depletion_tau_s: Numbers = 200.0
    slow_share: Numbers = 0.2
    slow_tau_s: Numbers = 2000.0
    half_reps: Numbers = 3.0


def steep_end_work(
    state: State,
    headroom: ArrayLike,
    fresh_reps: ArrayLike,
    reps_wanted: ArrayLike = np.inf,
    *,
    parameters: SteepEnd | None = None,
) -> tuple[FloatArray, State]:
    """Reps available in a set, and the state after it, in the steep-end form.

    With q the share of a fresh set done, S the headroom, y = s / S the share of it that is lost and e the depletion,
    depletion follows the strength spent, ``de = w dy``, and ``dy`` is in proportion to ``(1 + c e) (1 + b y) dq``. In a
    set that begins at y0 and e0 that product is ``(A + c w y) (1 + b y)`` with ``A = 1 + c e0 - c w y0``, and the share
    done on the way to y is

    ``q = ln(1 + R z) / (R K)``, ``z = (y - y0) / ((1 + b y0) (A + c w y))``, ``R = b A - c w``,

    K making a fresh set up to failure exactly 1. The rest is as in the effort form: as long as any strength is left the
    next rep can be made, ``n = 1 + (r - 1) q``; ``w = r / (r + half_reps)``; a rep done costs ``1 / r`` of a fresh set.
    A set that fails ends at failure. Arguments and returns as `workbench.models.fatigue.two_state_work`.

    >>> fresh = (np.zeros(1), np.zeros(1), np.zeros(1))
    >>> steep_end_work(fresh, 0.3, 10.0)[0].tolist()
    [10.0]
    """
    p = SteepEnd() if parameters is None else parameters
    loss, depletion, slow = state
    fresh = np.asarray(fresh_reps, dtype=np.float64)
    room, left = headroom_left(headroom, loss)
    weight = fresh / (fresh + p.half_reps)
    rise = p.depletion_gain * weight
    slope, steep = 1.0 + p.depletion_gain * (depletion + slow), 1.0 + p.end_gain * (1.0 - left)
    rate = _apart(p.end_gain * (slope - rise * (1.0 - left)) - rise)
    fresh_rate = _apart(p.end_gain - rise)
    whole = np.log1p(fresh_rate * (1.0 / (1.0 + rise))) / fresh_rate
    share = np.log1p(rate * (left / (steep * (slope + rise * left)))) / rate / whole
    available, reps = reps_done(fresh, left, share, reps_wanted)
    done = np.minimum(reps / at_least(fresh, NO_HEADROOM), share)
    path = np.expm1((rate * whole) * done) / rate * steep
    lost = path * slope / (1.0 - path * rise)
    spent = weight * lost
    slow_spent = p.slow_share * spent
    return available, (loss + room * lost, depletion + (spent - slow_spent), slow + slow_spent)


def _apart(rate: FloatArray) -> FloatArray:
    """Return a difference of rates, never so near 0 that it could not be divided by."""
    return rate if np.abs(rate).min(initial=np.inf) >= NO_RATE else np.where(np.abs(rate) < NO_RATE, NO_RATE, rate)


STEEP_END: Final = FatigueForm(
    "steep end", ("strength_tau_s", "depletion_tau_s", "slow_tau_s"), steep_end_work, SteepEnd()
)
