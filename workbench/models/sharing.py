"""Work of one exercise felt in another: fatigue carried by the muscles that they share.

Every exercise keeps its own fatigue (`workbench.models.fatigue`), so a session of one exercise is unchanged. What
the work of exercise j adds to its pools, exercise i gets too, times its overlap with j:

``O_ij = sum_m w_im w_jm / sum_m w_im**2``

with w the muscle shares. This is the same as adding work to each muscle in proportion to its share, and reading the
muscles back with weights that give an exercise its own work in full (O_ii = 1). A curl before a row costs the row
little, a row before a curl costs the curl much.

Which pools are carried, and how strongly, is `Carry`. The strength that returns within seconds stays with the
exercise just done; of the depletion that takes minutes, seven tenths of what the muscle shares ask for are carried.
This came out of the three published losses whose size is known (fly and bench press in both orders, knee extension
before leg press): carrying the pool of seconds too, or the minutes in full, overstates the losses, carrying much less
understates them. ``workbench.answers.exercise_order`` recomputes it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
from numpy.typing import ArrayLike

from workbench.models.fatigue import FatigueForm, State
from workbench.quantities import FloatArray

__all__ = ["CARRY", "NO_CARRY", "Carry", "SharedFatigue", "muscle_pools", "overlap_matrix", "reps_lost"]

#: Rests that differ by less are the same, s.
_SAME_S: Final = 1e-6


@dataclass(frozen=True)
class Carry:
    """How strongly fatigue passes from one exercise to another that uses the same muscles in full.

    Attributes
    ----------
    seconds_pool : float or array
        Of the pool that recovers within seconds (the first of a form with several), [1], >= 0.
    minutes_pools : float or array
        Of the other pools, [1], >= 0. 1 carries all that the muscle shares ask for.
    log_sd : float
        Spread of the carry between lifters and pairs of exercises (natural log); assumed.
    grade, source : str
        Derived from the published losses by exercise order.
    """

    seconds_pool: float | FloatArray = 0.0
    minutes_pools: float | FloatArray = 0.7
    log_sd: float = 0.3
    grade: str = "derived"
    source: str = "senna_order; augustsson_2003"

    @property
    def any(self) -> bool:
        """Whether anything passes at all."""
        return bool(np.any(self.seconds_pool) or np.any(self.minutes_pools))

    def times(self, factor: float | FloatArray) -> Carry:
        """Return the same, so many times as strong."""
        return replace(self, seconds_pool=self.seconds_pool * factor, minutes_pools=self.minutes_pools * factor)


CARRY: Final = Carry()
#: Every exercise alone, as if no muscle were shared.
NO_CARRY: Final = Carry(0.0, 0.0, 0.0, "assumed", "")


def overlap_matrix(shares: ArrayLike) -> FloatArray:
    """Overlap of exercises from their muscle shares.

    Parameters
    ----------
    shares : array, shape (exercises, muscles), [1], 0 to 1
        Each exercise has at least one share above 0.

    Returns
    -------
    array, shape (exercises, exercises), [1], >= 0
        Row i, column j: how much of a unit of fatigue from exercise j counts in exercise i; 1 on the diagonal.

    Raises
    ------
    ValueError
        Where an exercise has no muscle or a share is negative.

    Examples
    --------
    A press (chest 1, triceps and shoulder 0.5) and a pushdown (triceps 1):

    >>> overlap_matrix([[1, 0.5, 0.5], [0, 1, 0]]).round(3).tolist()
    [[1.0, 0.333], [0.5, 1.0]]
    """
    w = np.asarray(shares, dtype=np.float64)
    own = np.sum(w * w, axis=1)
    if np.any(w < 0) or not np.all(own > 0):
        raise ValueError("every exercise needs a muscle with a share above 0, and no share may be negative")
    matrix: FloatArray = (w @ w.T) / own[:, np.newaxis]
    np.fill_diagonal(matrix, 1.0)
    return matrix


class SharedFatigue:
    """Fatigue of all exercises of one session, brought up to date whenever an exercise is worked.

    Call `before` for the state at the start of a set, work the set with the form, hand the state after it to `after`.
    At a change of exercise it takes over what the others left in its muscles; until the next change that fades in the
    pauses, with the rest of its fatigue. Meanwhile the other exercises recover, so alternating exercises that share
    no muscle gains rest. As long as one exercise follows itself this is the form's own rest and nothing more.

    Parameters
    ----------
    form : FatigueForm
    overlap : array, shape (lanes, lanes)
        `overlap_matrix` of the exercises, one lane each.
    recovery_rate : array, [1], > 0
    parameters
        Of the form.
    carry : Carry
        ``minutes_pools`` broadcasts with the state.
    """

    def __init__(
        self,
        form: FatigueForm,
        overlap: FloatArray,
        recovery_rate: ArrayLike = 1.0,
        *,
        parameters: Any = None,
        carry: Carry = CARRY,
    ) -> None:
        self.form, self.overlap, self.rate, self.carry = form, overlap, recovery_rate, carry
        self.parameters = form.parameters if parameters is None else parameters
        self._left: dict[float, State] = {}
        self._own: dict[int, State] = {}
        self._at: dict[int, FloatArray] = {}
        self._lane: int | None = None
        self._total: State | None = None
        self._foreign: State | None = None
        # What the others gave fades in the pauses between the sets only, as all fatigue of the exercise at work does.
        self._waited: FloatArray = np.zeros(1)
        self._pause: FloatArray = np.zeros(1)

    def before(self, lane: int, start_s: ArrayLike) -> State:
        """State of an exercise at the start of its set.

        Parameters
        ----------
        lane : int
        start_s : array, shape (weeks,), [s]
            Session clock.

        Returns
        -------
        tuple of arrays
        """
        start = np.atleast_1d(np.asarray(start_s, dtype=np.float64))
        if lane == self._lane and self._total is not None:
            self._pause = start - self._at[lane]
            return self._rest(self._total, self._pause)
        self._settle()
        state = self._rest(self._own[lane], start - self._at[lane]) if lane in self._own else None
        foreign = self._from_others(lane, start)
        self._foreign, self._lane = foreign, lane
        self._waited, self._pause = np.zeros(1), np.zeros(1)
        if state is None:
            return self.form.fresh((1,) * max(1, np.ndim(self.rate))) if foreign is None else foreign
        return state if foreign is None else _add(state, foreign)

    def copy(self) -> SharedFatigue:
        """Return the same fatigue, to go on from in another way."""
        other = object.__new__(SharedFatigue)
        vars(other).update(vars(self))
        # Their arrays are never changed in place.
        other._own, other._at, other._left = dict(self._own), dict(self._at), dict(self._left)
        return other

    @property
    def value(self) -> tuple[object, ...]:
        """All that it has come to, as one value: equal ones go on alike, to the digit."""
        states = [*((lane, state) for lane, state in self._own.items()), ("all", self._total), ("given", self._foreign)]
        pools = tuple((key, *(pool.tobytes() for pool in state or ())) for key, state in states)
        ends = tuple((lane, end.tobytes()) for lane, end in self._at.items())
        return (pools, ends, self._lane, self._waited.tobytes(), self._pause.tobytes())

    def given(self) -> State | None:
        """Return what the other exercises gave, of the state that `before` returned last; None where it is nothing."""
        return None if self._foreign is None else self._rest(self._foreign, self._waited + self._pause)

    def after(self, lane: int, state: State, end_s: ArrayLike) -> None:
        """Take the state after the set that `before` was called for, at the clock time of its end."""
        self._lane, self._total, self._waited = lane, state, self._waited + self._pause
        self._at[lane] = np.atleast_1d(np.asarray(end_s, dtype=np.float64))

    def own(self, at_s: ArrayLike) -> dict[int, State]:
        """Own fatigue of every exercise worked so far, as left at a time of the session clock; changes nothing."""
        at = np.atleast_1d(np.asarray(at_s, dtype=np.float64))
        own = dict(self._own)
        if self._lane is not None and self._total is not None:
            own[self._lane] = self._own_of_total()
        return {lane: self._rest(state, at - self._at[lane]) for lane, state in own.items()}

    def _rest(self, state: State, seconds: FloatArray) -> State:
        # Where every week rests as long, arrays of draws are enough, without weeks; and the same rest comes again.
        if seconds.max() - seconds.min() < _SAME_S:
            key = float(seconds.flat[0])
            if key not in self._left:
                self._left[key] = self.form.faded(key, self.rate, parameters=self.parameters)
            return tuple(pool * share for pool, share in zip(state, self._left[key], strict=True))
        return self.form.rest(state, seconds, self.rate, parameters=self.parameters)

    def _settle(self) -> None:
        """Write down what the exercise worked last has of its own."""
        if self._lane is not None and self._total is not None:
            self._own[self._lane] = self._own_of_total()
            self._lane, self._total, self._foreign = None, None, None

    def _own_of_total(self) -> State:
        """State of the exercise at work less what the others had given it."""
        assert self._total is not None
        if self._foreign is None:
            return self._total
        left = self._rest(self._foreign, self._waited)
        return tuple(all_of - part for all_of, part in zip(self._total, left, strict=True))

    def _from_others(self, lane: int, start: FloatArray) -> State | None:
        total: State | None = None
        minutes = np.asarray(self.carry.minutes_pools, dtype=np.float64)
        for other, state in self._own.items():
            overlap = float(self.overlap[lane, other])
            if other == lane or overlap == 0.0 or not self.carry.any:
                continue
            rested = self._rest(state, start - self._at[other])
            last = len(rested) - 1
            part = tuple(
                pool * (overlap * (self.carry.seconds_pool if number == 0 and last else minutes))
                for number, pool in enumerate(rested)
            )
            total = part if total is None else _add(total, part)
        return total


def _add(state: State, more: State) -> State:
    return tuple(a + b for a, b in zip(state, more, strict=True))


def muscle_pools(shares: ArrayLike, pools: ArrayLike) -> FloatArray:
    """Fatigue of each muscle from the own fatigue of each exercise, one pool at a time.

    Parameters
    ----------
    shares : array, shape (exercises, muscles), [1]
    pools : array, shape (exercises, ...), [1]
        For depletion, 1 is what one long set to failure leaves.

    Returns
    -------
    array, shape (muscles, ...), [1]

    >>> muscle_pools([[1.0, 0.5], [0.0, 1.0]], [0.8, 0.2]).round(3).tolist()
    [0.8, 0.6]
    """
    w = np.asarray(shares, dtype=np.float64)
    return np.asarray(np.tensordot(w.T, np.asarray(pools, dtype=np.float64), axes=1))


def reps_lost(state: State, form: FatigueForm, *, parameters: Any = None, fresh_reps: float = 10.0) -> FloatArray:
    """Share of its fresh reps that a set of a given state would lose, its strength of the last seconds apart.

    Parameters
    ----------
    state : tuple of arrays, [1]
        As the pools of ``form``.
    form, parameters
        A fatigue form, and its parameters where not its own.
    fresh_reps : float
        Reps of the fresh set that the loss is read on, at 75 % of 1RM.

    Returns
    -------
    array, [1], 0 to 1

    Examples
    --------
    In the two-state form with gain 4 and a depletion of 1, the share left solves ``2 q**2 + 5 q = 3``: q is 1/2, and
    5.5 of 10 reps are left.

    >>> from workbench.models.fatigue import TWO_STATE, TwoState
    >>> nothing, one = np.zeros(1), np.ones(1)
    >>> reps_lost((nothing, one, nothing), TWO_STATE, parameters=TwoState(depletion_gain=4.0)).round(9).tolist()
    [0.45]
    """
    used = form.parameters if parameters is None else parameters
    available, _ = form.work(state, -np.log(0.75), fresh_reps, np.inf, parameters=used)
    return np.asarray(1.0 - available / fresh_reps, dtype=np.float64)
