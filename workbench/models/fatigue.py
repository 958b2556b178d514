"""Fatigue within a session: what earlier sets leave of a lifter's reps, and what rest gives back.

The forms that can be chosen, `FORMS`, the default first; what a form is says `workbench.models.fatigue_form`, and more
rivals, kept for comparison, stand in `workbench.models.fatigue_rivals`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import ArrayLike

from workbench.models.fatigue_form import NO_HEADROOM, FatigueForm, State, at_least, headroom_left, reps_done
from workbench.models.fatigue_steep import STEEP_END
from workbench.models.load_reps import DEFAULT_CURVE, Curve
from workbench.quantities import FloatArray, Numbers

__all__ = [
    "DEFAULT_FORM",
    "EFFORT",
    "FORMS",
    "ONE_STATE",
    "STEEP_END",
    "TWO_STATE",
    "Effort",
    "FatigueForm",
    "OneState",
    "State",
    "TwoState",
    "depletion_weight",
    "effort_work",
    "one_state_work",
    "run_sets",
    "sequence",
    "two_state_work",
]


_THREE_POOLS: Final = ("strength_tau_s", "depletion_tau_s", "slow_tau_s")


@dataclass(frozen=True)
class TwoState:
    """Parameters of the two-state form.

    Attributes
    ----------
    depletion_gain : float
        c: how much faster strength falls, per unit of depletion. 0 makes losses linear within the set.
    strength_tau_s : float
        Time constant of the return of strength, s.
    depletion_tau_s : float
        Time constant of the return of the ability to repeat, s.
    slow_share : float
        Share of the depletion that returns with ``slow_tau_s``.
    slow_tau_s : float
        Time constant of the slow share, s.
    """

    depletion_gain: Numbers = 4.0
    strength_tau_s: Numbers = 23.0
    depletion_tau_s: Numbers = 220.0
    slow_share: Numbers = 0.1
    slow_tau_s: Numbers = 3000.0


@dataclass(frozen=True)
class Effort(TwoState):
    """Parameters of the effort form: those of the two-state form, with values of their own, and one more.

    Attributes
    ----------
    half_reps : float
        Reps of a fresh set to failure that causes half of the depletion that the longest sets cause.
    """

    depletion_gain: Numbers = 2.0
    strength_tau_s: Numbers = 20.0
    depletion_tau_s: Numbers = 200.0
    slow_share: Numbers = 0.2
    slow_tau_s: Numbers = 2000.0
    half_reps: Numbers = 3.0


@dataclass(frozen=True)
class OneState:
    """Parameters of the one-state form.

    Attributes
    ----------
    power : float
        p in ``1 - (s / S)**p``; below 1, little is lost far from failure and much near it.
    slow_share : float
        Share of the strength loss that goes to the slow pool.
    fast_tau_s, slow_tau_s : float
        Time constants of the two pools, s.
    """

    power: Numbers = 0.5
    slow_share: Numbers = 0.25
    fast_tau_s: Numbers = 60.0
    slow_tau_s: Numbers = 900.0


def depletion_weight(fresh_reps: ArrayLike) -> FloatArray:
    """Share of a full depletion that a set to failure of ``fresh_reps`` causes.

    ``1 - 1/r`` from two reps up, ``r/4`` below: nearly 1 for long sets, a quarter for a maximal single. The two
    pieces meet smoothly, and the depletion per rep never falls as the load rises. A maximal single must cost little:
    after one, 16 of 18 men repeated it 20 s later, 15 of 18 after 40 s (scudese_2016).

    Parameters
    ----------
    fresh_reps : array, any shape, [reps], >= 0

    Returns
    -------
    array, same shape, [1], 0 to 1

    >>> depletion_weight([1.0, 2.0, 10.0]).round(9).tolist()
    [0.25, 0.5, 0.9]
    """
    reps = np.asarray(fresh_reps, dtype=np.float64)
    return reps * _depletion_per_rep(reps)


def _depletion_per_rep(fresh_reps: FloatArray) -> FloatArray:
    """Depletion that each rep adds: ``(1 - 1/r) / r`` from two reps up, and the same quarter below."""
    inverse = 1.0 / np.maximum(fresh_reps, 2.0)
    return inverse - inverse * inverse


def two_state_work(
    state: State,
    headroom: ArrayLike,
    fresh_reps: ArrayLike,
    reps_wanted: ArrayLike = np.inf,
    *,
    parameters: TwoState | None = None,
) -> tuple[FloatArray, State]:
    """Reps available in a set, and the state after it, in the two-state form.

    With q the share of a fresh set done, S the headroom, s the strength loss and e the depletion, within the set
    ``de = w dq`` and ``ds = S (1 + c (e0 + q)) / (1 + c/2) dq``; strength runs out when s reaches S, so the share
    left solves ``c/2 q**2 + (1 + c e0) q = (1 + c/2) (1 - s0/S)``. w is `depletion_weight`. As long as any strength
    is left the next rep can be made, as at the 1RM itself: ``n = 1 + (r - 1) q``, and 0 once s has reached S.

    Parameters
    ----------
    state : tuple of three arrays, [1]
        Strength loss s0, depletion and slow depletion (e0 is their sum).
    headroom : array, [1]
        S = ln(one_rm / load). At or below zero, a fresh lifter still has ``fresh_reps``, a tired one has none.
    fresh_reps : array, [reps], >= 0
    reps_wanted : array, [reps]
        Reps to do; infinite for a set to failure. A set that fails ends at failure.
    parameters : TwoState

    Returns
    -------
    reps_available : array, [reps], real-valued, 0 to ``fresh_reps``
    state : tuple of three arrays
    """
    p = TwoState() if parameters is None else parameters
    loss, depletion, slow = state
    fresh = np.asarray(fresh_reps, dtype=np.float64)
    gain = p.depletion_gain
    scale = 1.0 + 0.5 * gain
    room, left = headroom_left(headroom, loss)
    slope = 1.0 + gain * (depletion + slow)
    share = 2.0 * scale * left / (slope + np.sqrt(slope * slope + (2.0 * gain * scale) * left))
    available, reps = reps_done(fresh, left, share, reps_wanted)
    done = reps / np.maximum(fresh, NO_HEADROOM)
    spent = reps * _depletion_per_rep(fresh)
    slow_spent = p.slow_share * spent
    loss = loss + room * done * (slope + (0.5 * gain) * done) / scale
    return available, (loss, depletion + (spent - slow_spent), slow + slow_spent)


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
    of a fresh set whatever the state. Arguments and returns as `two_state_work`.

    >>> fresh = (np.zeros(1), np.zeros(1), np.zeros(1))
    >>> effort_work(fresh, 0.3, 10.0)[0].tolist()
    [10.0]
    """
    p = Effort() if parameters is None else parameters
    loss, depletion, slow = state
    fresh = np.asarray(fresh_reps, dtype=np.float64)
    room, left = headroom_left(headroom, loss)
    per_rep = 1.0 / at_least(fresh, NO_HEADROOM)
    inverse_gain = 1.0 / p.depletion_gain
    # Headroom that a unit of slope costs, in units of S: 1 / (c w).
    cost = inverse_gain + (p.half_reps * inverse_gain) * per_rep
    slope = 1.0 + p.depletion_gain * (depletion + slow)
    growth = np.log1p(1.0 / cost)
    share = np.log1p(left / (cost * slope)) / growth
    available, reps = reps_done(fresh, left, share, reps_wanted)
    steeper = slope * np.exp(growth * (reps * per_rep)) - slope
    spent = steeper * inverse_gain
    slow_spent = p.slow_share * spent
    return available, (loss + room * (steeper * cost), depletion + (spent - slow_spent), slow + slow_spent)


def one_state_work(
    state: State,
    headroom: ArrayLike,
    fresh_reps: ArrayLike,
    reps_wanted: ArrayLike = np.inf,
    *,
    parameters: OneState | None = None,
) -> tuple[FloatArray, State]:
    """Reps available in a set, and the state after it, in the one-state form.

    ``n = r (1 - (s0/S)**p)``; within the set ``(s/S)**p`` rises in proportion to the reps and reaches 1 at failure.
    Arguments and returns as `two_state_work`, with a state of two pools.
    """
    p = OneState() if parameters is None else parameters
    fast, slow = state
    fresh = np.asarray(fresh_reps, dtype=np.float64)
    room = at_least(np.asarray(headroom, dtype=np.float64), NO_HEADROOM)
    loss = fast + slow
    start = np.minimum(loss / room, 1.0) ** p.power
    share = 1.0 - start
    available = fresh * share
    reps = np.minimum(available, np.asarray(reps_wanted, dtype=np.float64))
    done = np.minimum(reps / np.maximum(fresh, NO_HEADROOM), share)
    added = np.maximum(room * (start + done) ** (1.0 / p.power) - loss, 0.0)
    return available, (fast + (1.0 - p.slow_share) * added, slow + p.slow_share * added)


EFFORT: Final = FatigueForm("effort", _THREE_POOLS, effort_work, Effort())
TWO_STATE: Final = FatigueForm("two states", _THREE_POOLS, two_state_work, TwoState())
ONE_STATE: Final = FatigueForm("one state", ("fast_tau_s", "slow_tau_s"), one_state_work, OneState())

#: The forms that can be chosen, by name; the first is the default.
FORMS: Final[dict[str, FatigueForm]] = {form.name: form for form in (STEEP_END, EFFORT, TWO_STATE, ONE_STATE)}

#: The form whose left-out errors are smallest: over the families of data, each against the best form there.
DEFAULT_FORM: Final = STEEP_END


def run_sets(
    sets: Iterable[tuple[ArrayLike, FloatArray, ArrayLike]],
    endurance: FloatArray,
    recovery_rate: ArrayLike = 1.0,
    *,
    form: FatigueForm = DEFAULT_FORM,
    curve: Curve = DEFAULT_CURVE,
    parameters: Any = None,
    scatter: FloatArray | None = None,
) -> Iterator[FloatArray]:
    """Go through a run of sets of one exercise, starting fresh.

    Parameters
    ----------
    sets : iterable of (rest, headroom, reps wanted), [s], [1] and [reps], each an array that broadcasts
        The rest before each set, the first being ignored; ln(1RM / load); reps done if they are available.
    endurance : array, shape (...), [1/rep], > 0
    recovery_rate : array that broadcasts, [1], > 0
    form, curve, parameters
        A `FatigueForm`, a `Curve`, and the form's parameters where not its own.
    scatter : array that broadcasts, [1], > 0
        Factor on the reps of a fresh set.

    Yields
    ------
    array, broadcast shape, [reps]
        Reps available in each set, real-valued.
    """
    parameters = form.parameters if parameters is None else parameters
    shape = np.broadcast_shapes(np.shape(endurance), np.shape(recovery_rate))
    state = form.fresh(shape)
    for number, (rest, headroom, wanted) in enumerate(sets):
        if number:
            state = form.rest(state, rest, recovery_rate, parameters=parameters)
        fresh = curve.fresh_reps(headroom, endurance)
        fresh = fresh if scatter is None else fresh * scatter
        available, state = form.work(state, headroom, fresh, wanted, parameters=parameters)
        yield np.broadcast_to(available, np.broadcast_shapes(shape, np.shape(available)))


def sequence(
    load_fractions: ArrayLike,
    rests_s: ArrayLike,
    endurance: ArrayLike,
    *,  # each by its name, and most left as they are
    reps_wanted: ArrayLike = np.inf,
    recovery_rate: ArrayLike = 1.0,
    form: FatigueForm = DEFAULT_FORM,
    curve: Curve = DEFAULT_CURVE,
    parameters: Any = None,
) -> FloatArray:
    """Reps available in each of a run of sets of one exercise, starting fresh.

    Parameters
    ----------
    load_fractions : array, shape (..., sets), [1], > 0
    rests_s : array, shape (..., sets), [s], >= 0
        Rest before each set; the first is ignored.
    endurance : array, shape (...), [1/rep], > 0
    reps_wanted : array, shape (..., sets), [reps]
        Reps done in each set if they are available; infinite for a set to failure.
    recovery_rate : array, shape (...), [1], > 0
    form, curve, parameters
        As for `run_sets`.

    Returns
    -------
    array, shape (..., sets), [reps], real-valued

    A fresh first set is the load-reps curve, 1 + ln(1 / 0.75) / 0.03:

    >>> sequence([0.75, 0.75], [0, 120], 0.03).round(2).tolist()[0]
    10.59
    """
    fractions, rests, wanted = np.broadcast_arrays(
        np.asarray(load_fractions, dtype=np.float64), np.asarray(rests_s, dtype=np.float64), reps_wanted
    )
    sets = [(rests[..., i], -np.log(fractions[..., i]), wanted[..., i]) for i in range(fractions.shape[-1])]
    k = np.broadcast_to(endurance, np.broadcast_shapes(fractions.shape[:-1], np.shape(endurance)))
    run = run_sets(sets, k, recovery_rate, form=form, curve=curve, parameters=parameters)
    return np.stack(list(run), axis=-1)
