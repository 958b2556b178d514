"""The steep-end form of fatigue: the effort form, in which strength falls the faster the nearer failure is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from workbench.models.fatigue_form import NO_HEADROOM, FatigueForm, State, at_least, first_rep
from workbench.quantities import FloatArray, Numbers

__all__ = ["STEEP_END", "SteepEnd", "steep_end_work"]

#: Two rates this close, relative to the larger, count as equal.
_EQUAL_RATES: Final = 1e-6


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
    depletion follows the strength spent, ``de = w dy``, and ``dy`` is in proportion to ``(1 + c e) (1 + b y) dq``. With
    ``B = c w`` and ``A = 1 + c e - B y``, which a set leaves as it is, the share done between two losses is

    ``q = ln((1 + b y1) (A + B y0) / ((1 + b y0) (A + B y1))) / (b A - B) / K``,

    K being the same from 0 to 1 when fresh, so that a fresh set has q = 1. The rest is as in the effort form: the next
    rep can be made as long as any strength is left, ``n = 1 + (r - 1) q``; ``w = r / (r + half_reps)``; a rep done
    costs ``1 / r`` of a fresh set. Arguments and result as `workbench.models.fatigue_effort.effort_work`.

    >>> fresh = (np.zeros(1), np.zeros(1), np.zeros(1))
    >>> steep_end_work(fresh, 0.3, 10.0)[0].round(9).tolist()
    [10.0]
    """
    p = SteepEnd() if parameters is None else parameters
    loss, depletion, slow = state
    fresh = np.asarray(fresh_reps, dtype=np.float64)
    room = at_least(np.asarray(headroom, dtype=np.float64), NO_HEADROOM)
    lost = np.minimum(loss / room, 1.0)
    rise = p.depletion_gain * fresh / (fresh + p.half_reps)
    base = 1.0 + p.depletion_gain * (depletion + slow) - rise * lost
    whole = _path(0.0, 1.0, 1.0, rise, p.end_gain)
    share = _path(lost, 1.0, base, rise, p.end_gain) / whole
    first = first_rep(fresh, 1.0 - lost)
    available = first + share * (fresh - first)
    reps = np.minimum(available, np.asarray(reps_wanted, dtype=np.float64))
    # A failed set ends at failure, whatever the first rep took.
    done = np.minimum(reps / at_least(fresh, NO_HEADROOM), share) * whole
    after = np.minimum(_end(lost, done, base, rise, p.end_gain), 1.0)
    after = np.where(reps >= available, np.maximum(1.0, lost), after)
    spent = (rise / p.depletion_gain) * (after - lost)
    slow_spent = p.slow_share * spent
    return available, (loss + room * (after - lost), depletion + (spent - slow_spent), slow + slow_spent)


def _path(start: Numbers, end: Numbers, base: Numbers, rise: Numbers, gain: Numbers) -> FloatArray:
    """Integral of ``dy / ((base + rise y) (1 + gain y))`` from ``start`` to ``end``."""
    rate = gain * base - rise
    steeper = np.log1p(gain * end) - np.log1p(gain * start)
    deeper = np.log((base + rise * end) / (base + rise * start))
    equal = np.abs(rate) <= _EQUAL_RATES * np.maximum(np.abs(gain * base), np.abs(rise))
    # Where both rise alike, base + rise y = base (1 + gain y).
    alike = (1.0 / (1.0 + gain * start) - 1.0 / (1.0 + gain * end)) / np.where(equal, gain * base, 1.0)
    return np.asarray(np.where(equal, alike, (steeper - deeper) / np.where(equal, 1.0, rate)))


def _end(start: Numbers, path: FloatArray, base: Numbers, rise: Numbers, gain: Numbers) -> FloatArray:
    """Where a path of this length from ``start`` ends: the inverse of `_path`."""
    rate = gain * base - rise
    equal = np.abs(rate) <= _EQUAL_RATES * np.maximum(np.abs(gain * base), np.abs(rise))
    ratio = (1.0 + gain * start) / (base + rise * start) * np.exp(rate * path)
    below = gain - ratio * rise
    apart = (ratio * base - 1.0) / np.where(below == 0.0, np.inf, below)
    inverse = 1.0 / (1.0 + gain * start) - gain * base * path
    alike = (1.0 / np.where(inverse > 0.0, inverse, np.inf) - 1.0) / gain
    return np.asarray(np.where(equal, alike, apart))


STEEP_END: Final = FatigueForm(
    "steep end", ("strength_tau_s", "depletion_tau_s", "slow_tau_s"), steep_end_work, SteepEnd()
)
