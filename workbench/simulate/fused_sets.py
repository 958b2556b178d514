"""The two fitted forms of fatigue worked number by number, so that a whole session takes one pass over the draws.

The same equations as `workbench.models.fatigue_steep.steep_end_work` and `workbench.models.fatigue.effort_work`, which
stay the ones to read and the oracle that these are tested against. Compiled by numba where that is installed (the extra
``fast``); without it these are plain functions, far too slow to be of use. Exponential and logarithms are written as
series on the ranges that are left once powers of two are taken out, with no branch, so that the compiler works several
draws at once; both are exact to the last digit or two.
"""

from __future__ import annotations

import importlib
import importlib.util
from collections.abc import Callable
from typing import Any, Final, NamedTuple, TypeVar, cast

import numpy as np

from workbench.models.fatigue_form import NO_HEADROOM, NOTHING_LEFT
from workbench.models.fatigue_steep import NO_RATE
from workbench.models.load_reps import AGREED_HEADROOM, MOST_REPS
from workbench.quantities import FloatArray

numba: Any = importlib.import_module("numba") if importlib.util.find_spec("numba") else None
_Function = TypeVar("_Function", bound=Callable[..., Any])

__all__ = ["EFFORT", "STEEP_END", "Asked", "Drawn", "pick_out", "run_session", "warm_up"]

#: Which form a session is run by.
STEEP_END, EFFORT = 0, 1
#: Draws worked on together: their state stays in the processor's nearest memory.
_BLOCK: Final = 256
#: Rests whose fading is kept for a block of draws.
_RESTS: Final = 16
#: How near two rests are the same, s: what the clock of a long session loses in its last digits.
_SAME_S: Final = 4e-12
#: Bins that the values of a row are laid out in to pick some of them out, and most that one may hold.
_BINS, _IN_A_BIN = 512, 64
#: Of a rest, beyond which nothing is left, in time constants.
_LONGEST: Final = -700.0
#: Bend times headroom beyond which there are `MOST_REPS` anyway.
_MOST_BENT: Final = 700.0

_LN2: Final = 0.6931471805599453
#: ln 2 in two parts, the first with so few digits that its product with a whole number is exact.
_LN2_HIGH, _LN2_LOW = 0.693147180369123816490, 1.90821492927058770002e-10
#: Bits of 1.0 and of the exponent's last place, and of 2**52, whose last place is 1.
_ONE_BITS, _HALF_BITS = np.uint64(1023 << 52), np.uint64(1 << 51)
_PLACE, _MIRROR = np.uint64(52), np.uint64(2046)
_WHOLE_BITS, _WHOLE = np.uint64(0x4330000000000000), 4503599627370496.0 + 1023.0


def compiled(function: _Function) -> _Function:
    """Compile a function of numbers and arrays, kept on disk for the next start where that can be written."""
    if numba is None:
        return function
    settings: dict[str, Any] = {"nogil": True, "error_model": "numpy", "fastmath": {"contract"}}
    try:
        return cast("_Function", numba.njit(cache=True, **settings)(function))
    except RuntimeError:  # no folder for what is kept
        return cast("_Function", numba.njit(**settings)(function))


@compiled
def log_of_part(more: float, base: float) -> float:
    """Return ``ln(1 + more / base)``, for a base and a sum that are above 0: a power of two, and twice an artanh.

    The share of the two that is nearest to 1 after a power of two has been taken out is 2/3 to 3/2, so that the artanh
    is of a fifth at most: its series ends in the last digit after twelve terms.
    """
    whole = base + more
    power = (np.float64(whole).view(np.uint64) - np.float64(base).view(np.uint64) + _ONE_BITS + _HALF_BITS) >> _PLACE
    scale = np.uint64((_MIRROR - power) << _PLACE).view(np.float64)
    exponent = np.uint64(power | _WHOLE_BITS).view(np.float64) - _WHOLE
    part = (more + whole * (scale - 1.0)) / (base + whole * scale)
    square = part * part
    fourth = square * square
    eighth = fourth * fourth
    series = (
        ((1.0 / 3.0 + square * (1.0 / 5.0)) + fourth * (1.0 / 7.0 + square * (1.0 / 9.0)))
        + eighth * ((1.0 / 11.0 + square * (1.0 / 13.0)) + fourth * (1.0 / 15.0 + square * (1.0 / 17.0)))
        + (eighth * eighth) * ((1.0 / 19.0 + square * (1.0 / 21.0)) + fourth * (1.0 / 23.0))
    )
    double = part + part
    return exponent * _LN2 + (double + double * (square * series))


@compiled
def power_and_rest(value: float) -> tuple[float, float]:
    """Return a power of two, and what the exponential of the rest of a value is above 1: at most ln(2) / 2 is left."""
    powers = np.float64(value * (1.0 / _LN2) + 6755399441055744.0)
    exponent = powers - 6755399441055744.0
    scale = np.uint64((powers.view(np.uint64) + np.uint64(1023)) << _PLACE).view(np.float64)
    rest = (value - exponent * _LN2_HIGH) - exponent * _LN2_LOW
    square = rest * rest
    fourth = square * square
    series = (
        ((1.0 / 2.0 + rest * (1.0 / 6.0)) + square * (1.0 / 24.0 + rest * (1.0 / 120.0)))
        + fourth * ((1.0 / 720.0 + rest * (1.0 / 5040.0)) + square * (1.0 / 40320.0 + rest * (1.0 / 362880.0)))
        + (fourth * fourth)
        * ((1.0 / 3628800.0 + rest * (1.0 / 39916800.0)) + square * (1.0 / 479001600.0 + rest * (1.0 / 6227020800.0)))
    )
    return scale, rest + square * series


@compiled
def exponential(value: float) -> float:
    """Return ``exp(value)``, for -700 to 700."""
    scale, more = power_and_rest(value)
    return scale + scale * more


@compiled
def exp_less_one(value: float) -> float:
    """Return ``exp(value) - 1``, for -700 to 700."""
    scale, more = power_and_rest(value)
    return scale * more + (scale - 1.0)


class Asked(NamedTuple):
    """What a session asks for, a row for each set and a column for each week."""

    lanes: np.ndarray  # exercise of each set
    kinds: np.ndarray  # exercise and tempo of each set
    log_load: FloatArray  # [ln kg]
    wanted: FloatArray  # [reps]
    active: np.ndarray
    start_s: FloatArray
    end_s: FloatArray
    overlap: FloatArray  # (lanes, lanes)


class Drawn(NamedTuple):
    """The lifters and days that meet it, draws last."""

    log_one_rm: FloatArray  # (lanes, draws), [ln kg]
    per_headroom: FloatArray  # (kinds, draws), [reps]
    pace: FloatArray  # (pools, draws), minus the recovery rate over the time constants, [1/s]
    tiring: FloatArray  # (4, draws): gain, end gain, slow share, half reps
    carry: FloatArray  # (pools, draws)
    day: FloatArray  # (weeks, draws)
    noise: FloatArray  # (sets, weeks, draws)
    bend: FloatArray  # (draws,), of the curve; none where nobody departs from it


class Memory(NamedTuple):
    """What is kept of a block of draws between the sets."""

    own: FloatArray  # (lanes, pools, draws): fatigue of each exercise; with what others gave while it is at work
    ended: FloatArray  # (lanes,), end of its last set, [s]; below 0 before the first
    foreign: FloatArray  # (pools, draws): what the others gave the exercise at work
    idle: FloatArray  # (pools, draws)
    whole: FloatArray  # (pools, draws): ones
    fresh_set: FloatArray  # (3, draws): headroom, its inverse, and reps of a fresh set
    left: FloatArray  # (rests, pools, draws): what rests leave
    rests: FloatArray  # (rests + 1,): how long they are, [s], and how many there were
    tiring: FloatArray  # (4, draws), as `Drawn` has it


@compiled
def steep_set(
    state: FloatArray,
    left: FloatArray,
    fresh_set: FloatArray,
    tiring: FloatArray,
    wanted: float,
    noise: FloatArray,
    reps: FloatArray,
) -> None:
    """Work one set of the steep-end form on a block of draws: the reps available, and the state in place.

    ``state``: loss, depletion and slow depletion, and ``left`` what the rest before leaves of them; ``fresh_set``:
    headroom, its inverse, and reps of a fresh set, on which ``noise`` is a factor; ``tiring``: gain, end gain, slow
    share and half reps. Rates stand here times ``r + half_reps``, which saves a division.
    """
    for i in range(reps.size):
        loss, depletion, slow = state[0, i] * left[0, i], state[1, i] * left[1, i], state[2, i] * left[2, i]
        fresh = fresh_set[2, i] * noise[i]
        gain, end_gain = tiring[0, i], tiring[1, i]
        spare = max(1.0 - loss * fresh_set[1, i], 0.0)
        counted = max(fresh, NO_HEADROOM)
        longer = counted + tiring[3, i]
        rise, slope = gain * counted, 1.0 + gain * (depletion + slow)
        scaled = slope * longer
        steep = 1.0 + end_gain * (1.0 - spare)
        rate, fresh_rate = end_gain * (scaled - rise * (1.0 - spare)) - rise, end_gain * longer - rise
        rate = NO_RATE * longer if abs(rate) < NO_RATE * longer else rate
        fresh_rate = NO_RATE * longer if abs(fresh_rate) < NO_RATE * longer else fresh_rate
        fresh_log = log_of_part(fresh_rate, longer + rise)
        log = log_of_part(rate * spare, steep * (scaled + rise * spare))
        inverse = 1.0 / (rate * fresh_log * fresh_rate * counted)
        share = log * (fresh_rate * fresh_rate * counted) * inverse
        first = min(1.0, fresh) if spare > NOTHING_LEFT else 0.0
        available = first + share * (fresh - first)
        reps[i] = available
        done = min(available, wanted, share * counted)
        grown = steep * exp_less_one(rate * fresh_log * (rate * fresh_log) * inverse * done)
        lost = grown * slope / (rate - grown * rise)
        spent = lost * counted
        slow_spent = tiring[2, i] * spent
        state[0, i] = loss + fresh_set[0, i] * (lost * longer)
        state[1, i] = depletion + (spent - slow_spent)
        state[2, i] = slow + slow_spent


@compiled
def effort_set(
    state: FloatArray,
    left: FloatArray,
    fresh_set: FloatArray,
    tiring: FloatArray,
    wanted: float,
    noise: FloatArray,
    reps: FloatArray,
) -> None:
    """Work one set of the effort form; arguments as `steep_set`, of which the end gain is not used."""
    for i in range(reps.size):
        loss, depletion, slow = state[0, i] * left[0, i], state[1, i] * left[1, i], state[2, i] * left[2, i]
        fresh = fresh_set[2, i] * noise[i]
        spare = max(1.0 - loss * fresh_set[1, i], 0.0)
        counted = max(fresh, NO_HEADROOM)
        longer = counted + tiring[3, i]
        rise, slope = tiring[0, i] * counted, 1.0 + tiring[0, i] * (depletion + slow)
        growth = log_of_part(rise, longer)
        inverse = 1.0 / (growth * rise)
        share = log_of_part(rise * spare, slope * longer) * (rise * inverse)
        first = min(1.0, fresh) if spare > NOTHING_LEFT else 0.0
        available = first + share * (fresh - first)
        reps[i] = available
        done = min(available, wanted) * (growth * inverse * tiring[0, i])
        lost = slope * exp_less_one(growth * done) * (growth * inverse)
        spent = lost * counted
        slow_spent = tiring[2, i] * spent
        state[0, i] = loss + fresh_set[0, i] * (lost * longer)
        state[1, i] = depletion + (spent - slow_spent)
        state[2, i] = slow + slow_spent


@compiled
def faded(kept: FloatArray, rests: FloatArray, pace: FloatArray, low: int, seconds: float) -> FloatArray:
    """Return what a rest leaves of each pool of a block of draws, shape (pools, draws); one met before is known."""
    for number in range(_RESTS):
        if abs(rests[number] - seconds) < _SAME_S:
            break
    else:
        number = int(rests[_RESTS]) % _RESTS
        rests[number], rests[_RESTS] = seconds, number + 1
        for pool in range(kept.shape[1]):
            for i in range(kept.shape[2]):
                kept[number, pool, i] = exponential(max(seconds * pace[pool, low + i], _LONGEST))
    left: FloatArray = kept[number]
    return left


@compiled
def blend(target: FloatArray, kept: float, part: FloatArray, left: FloatArray, share: float) -> None:
    """Keep a share of the pools of a block of draws, and add a share of what is left of others."""
    for pool in range(target.shape[0]):
        for i in range(target.shape[1]):
            target[pool, i] = kept * target[pool, i] + share * part[pool, i] * left[pool, i]


@compiled
def change_exercise(asked: Asked, drawn: Drawn, memory: Memory, low: int, lane: int, start_s: float) -> None:
    """Bring the fatigue of an exercise up to date after another has been done; see `SharedFatigue.before`."""
    state, others = memory.own[lane], 0.0
    blend(state, 0.0, state, faded(memory.left, memory.rests, drawn.pace, low, start_s - memory.ended[lane]), 1.0)
    for other in range(memory.own.shape[0]):
        if other != lane and memory.ended[other] >= 0.0 and asked.overlap[lane, other] != 0.0:
            left = faded(memory.left, memory.rests, drawn.pace, low, start_s - memory.ended[other])
            blend(memory.foreign, others, memory.own[other], left, asked.overlap[lane, other])
            others = 1.0
    for pool in range(state.shape[0]):
        for i in range(state.shape[1]):
            memory.foreign[pool, i] *= others * drawn.carry[pool, low + i]
            state[pool, i] += memory.foreign[pool, i]


@compiled
def prepare_fresh(asked: Asked, drawn: Drawn, memory: Memory, low: int, number: int, week: int) -> None:
    """Write headroom, its inverse and the reps of a fresh set of a block of draws."""
    lane, kind, log_load = asked.lanes[number], asked.kinds[number], asked.log_load[number, week]
    for i in range(memory.fresh_set.shape[1]):
        headroom = drawn.log_one_rm[lane, low + i] + drawn.day[week, low + i] - log_load
        room = max(headroom, NO_HEADROOM)
        memory.fresh_set[0, i], memory.fresh_set[1, i] = room, 1.0 / room
        memory.fresh_set[2, i] = max(1.0 + headroom * drawn.per_headroom[kind, low + i], 0.0)
    if drawn.bend.size:
        for i in range(memory.fresh_set.shape[1]):
            bend, headroom = drawn.bend[low + i], drawn.log_one_rm[lane, low + i] + drawn.day[week, low + i] - log_load
            if headroom > 0.0 and bend != 0.0:
                share = exp_less_one(min(bend * headroom, _MOST_BENT)) / exp_less_one(bend * AGREED_HEADROOM)
                headroom = AGREED_HEADROOM * share
            memory.fresh_set[2, i] = min(max(1.0 + headroom * drawn.per_headroom[kind, low + i], 0.0), MOST_REPS)


@compiled
def run_week(form: int, asked: Asked, drawn: Drawn, memory: Memory, low: int, week: int, reps: FloatArray) -> None:
    """Run the sets of a session in one week on a block of draws."""
    high, tiring = low + memory.tiring.shape[1], memory.tiring
    memory.own.fill(0.0)
    memory.ended.fill(-1.0)
    at_work, waited = -1, 0.0
    for number in range(asked.lanes.size):
        lane, start_s = asked.lanes[number], asked.start_s[number, week]
        if lane == at_work:
            waited += start_s - memory.ended[lane]
            left = faded(memory.left, memory.rests, drawn.pace, low, start_s - memory.ended[lane])
        else:
            if at_work >= 0:  # what the others had given it is not its own
                blend(
                    memory.own[at_work],
                    1.0,
                    memory.foreign,
                    faded(memory.left, memory.rests, drawn.pace, low, waited),
                    -1.0,
                )
            change_exercise(asked, drawn, memory, low, lane, start_s)
            at_work, waited, left = lane, 0.0, memory.whole
        again = number > 0 and asked.kinds[number - 1] == asked.kinds[number]
        if not again or asked.log_load[number - 1, week] != asked.log_load[number, week]:
            prepare_fresh(asked, drawn, memory, low, number, week)
        state, active = memory.own[lane], asked.active[number, week]
        if not active:  # what it would come to is worked out all the same, and leaves nothing
            blend(state, 0.0, state, left, 1.0)
            blend(memory.idle, 0.0, state, memory.whole, 1.0)
            left = memory.whole
        after = state if active else memory.idle
        noise, found = drawn.noise[number, week, low:high], reps[number, week, low:high]
        wanted = asked.wanted[number, week]
        if form == STEEP_END:
            steep_set(after, left, memory.fresh_set, tiring, wanted, noise, found)
        else:
            effort_set(after, left, memory.fresh_set, tiring, wanted, noise, found)
        memory.ended[lane] = asked.end_s[number, week]


@compiled
def run_session(form: int, asked: Asked, drawn: Drawn, first: int, last: int, reps: FloatArray) -> None:
    """Work out the reps available in every set of a session, shape (sets, weeks, draws), for some of the draws.

    As `workbench.simulate.run` does by arrays, exercises taking from each other as in
    `workbench.models.sharing.SharedFatigue`.
    """
    pools, lanes = drawn.pace.shape[0], asked.overlap.shape[0]
    for low in range(first, last, _BLOCK):
        size = min(_BLOCK, last - low)
        memory = Memory(
            np.zeros((lanes, pools, size)),
            np.empty(lanes),
            np.zeros((pools, size)),
            np.zeros((pools, size)),
            np.ones((pools, size)),
            np.empty((3, size)),
            np.empty((_RESTS, pools, size)),
            np.full(_RESTS + 1, -1.0),
            np.empty((4, size)),
        )
        memory.rests[_RESTS] = 0.0
        for row in range(4):
            for i in range(size):
                memory.tiring[row, i] = drawn.tiring[row, low + i]
        for week in range(asked.start_s.shape[1]):
            run_week(form, asked, drawn, memory, low, week, reps)


@compiled
def pick_out(rows: FloatArray, ranks: np.ndarray, found: FloatArray) -> None:
    """Pick out the values of some ranks, in rising order, in each row: those of the few bins that they fall into.

    A row of which a bin holds too many, as of values that are all the same, is left as it is.
    """
    counts, first, part = np.empty(_BINS + 1, np.int64), np.empty(_BINS + 1, np.int64), np.empty(_IN_A_BIN)
    for row in range(rows.shape[0]):
        low = high = rows[row, 0]
        for value in rows[row]:
            low, high = min(low, value), max(high, value)
        if not 0.0 < high - low < np.inf:
            continue
        scale = _BINS / (high - low)
        counts.fill(0)
        for value in rows[row]:
            counts[int((value - low) * scale)] += 1
        below = 0
        for number in range(_BINS + 1):
            first[number] = below
            below += counts[number]
        at, rank = -1, 0
        while rank < ranks.size:
            while at < _BINS and (at < 0 or first[at] + counts[at] <= ranks[rank]):
                at += 1
            if counts[at] > _IN_A_BIN:
                found[row, 0] = np.nan
                break
            held = 0
            for value in rows[row]:
                if int((value - low) * scale) == at:
                    place = held
                    while place > 0 and part[place - 1] > value:
                        part[place] = part[place - 1]
                        place -= 1
                    part[place] = value
                    held += 1
            while rank < ranks.size and ranks[rank] < first[at] + held:
                found[row, rank] = part[ranks[rank] - first[at]]
                rank += 1


def warm_up() -> None:
    """Compile, or fetch what was compiled before, by running a set of nothing."""
    one, none = np.ones((1, 1)), np.zeros(1, dtype=np.int64)
    asked = Asked(none, none, one, one, one > 0.0, one, one, one)
    drawn = Drawn(one, one, -np.ones((3, 1)), np.ones((4, 1)), np.ones((3, 1)), one, np.ones((1, 1, 1)), np.ones(1))
    run_session(STEEP_END, asked, drawn, 0, 1, np.empty((1, 1, 1)))
    pick_out(one, none, np.empty((1, 1)))
