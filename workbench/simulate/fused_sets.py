"""The two fitted forms of fatigue worked number by number, so that a whole session takes one pass over the draws.

The same equations as `workbench.models.fatigue_steep.steep_end_work` and `workbench.models.fatigue.effort_work`, which
stay the ones to read and the oracle that these are tested against. Compiled by numba where that is installed (the extra
``fast``); without it these are plain functions, far too slow to be of use.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np

from workbench.models.fatigue_form import NO_HEADROOM, NOTHING_LEFT
from workbench.models.fatigue_steep import NO_RATE
from workbench.models.load_reps import AGREED_HEADROOM, MOST_REPS, NO_BEND
from workbench.quantities import FloatArray
from workbench.simulate.fused_series import compiled, exp_less_one, exponential, near_one, twice_artanh

__all__ = [
    "BLOCK",
    "EFFORT",
    "STEEP_END",
    "WORK_ROWS",
    "Asked",
    "Drawn",
    "bent_reps",
    "run_session",
    "warm_up",
    "work_set",
]

#: Which form a session is run by.
STEEP_END, EFFORT = 0, 1
#: Draws worked on together: their state stays in the processor's nearest memory. Rows of a block lie so far apart in
#: one array, a number that the compiler knows: so it sees that they do not overlap, and works several draws at once.
BLOCK: Final = 256
#: Pools of fatigue of both forms, and numbers in a block of them.
_POOLS: Final = 3
_STATE: Final = _POOLS * BLOCK
#: Rows that a set is worked with, see `begin_steep`.
WORK_ROWS: Final = 8
#: Rests whose fading is kept for a block of draws.
_RESTS: Final = 16
#: How near two rests are the same, s: what the clock of a long session loses in its last digits.
_SAME_S: Final = 4e-12
#: Of a rest, beyond which nothing is left, in time constants.
_LONGEST: Final = -700.0
#: Bend times headroom beyond which there are `MOST_REPS` anyway.
_MOST_BENT: Final = 700.0


class Asked(NamedTuple):
    """What a session asks for, a row for each set and a column for each week."""

    lanes: np.ndarray  # exercise of each set, counted from 0 in the session
    kinds: np.ndarray  # exercise and tempo of each set
    log_load: FloatArray  # [ln kg]
    wanted: FloatArray  # [reps]
    active: np.ndarray
    start_s: FloatArray
    end_s: FloatArray
    overlap: FloatArray  # (lanes, lanes)
    known: np.ndarray  # (sets,), of exercises whose reps are known: they are not worked again
    ends: np.ndarray  # (sets,), whether it is the last of its exercise


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
    """What is kept of a block of draws between the sets: rows of `BLOCK` draws, one after the other."""

    own: FloatArray  # fatigue of each exercise, its pools; with what others gave while it is at work
    ended: FloatArray  # (lanes,), end of its last set, [s]; below 0 before the first
    foreign: FloatArray  # pools: what the others gave the exercise at work
    idle: FloatArray  # pools
    fresh_set: FloatArray  # headroom, its inverse, and reps of a fresh set
    left: FloatArray  # pools for each rest: what it leaves
    rests: FloatArray  # (rests + 1,): how long they are, [s], and how many there were
    tiring: FloatArray  # gain, end gain, slow share, half reps
    work: FloatArray  # rows of numbers within a set, see `begin_steep`


# What each exercise has of its own after its last set, shape (lanes, pools, weeks, draws), is called `finished`: read
# of those that are known, written of the others; without numbers where nobody wants it.

# A set is worked in four passes over a block. In one, each draw would be a chain of some two hundred steps that wait
# for each other, longer than the processor looks ahead; in four it has always several draws to go on with.


@compiled
def begin_steep(
    state: FloatArray, fresh_set: FloatArray, tiring: FloatArray, noise: FloatArray, work: FloatArray
) -> None:
    """Write what a set of the steep-end form hangs on.

    ``state``: loss, depletion and slow depletion; ``fresh_set``: headroom, its inverse, and reps of a fresh set, on
    which ``noise`` is a factor; ``tiring``: gain, end gain, slow share and half reps. Written are the reps of this set,
    fresh; more and base of two logarithms (`log_of_part`), from here to failure and of a fresh set; the rate; and what
    the growth of the loss is multiplied by, over the line and under it. Rates stand here times ``r + half_reps``, which
    saves a division.
    """
    for i in range(noise.size):
        fresh = fresh_set[2 * BLOCK + i] * noise[i]
        end_gain = tiring[BLOCK + i]
        counted = max(fresh, NO_HEADROOM)
        longer = counted + tiring[3 * BLOCK + i]
        spare = max(1.0 - state[i] * fresh_set[BLOCK + i], 0.0)
        rise, slope = tiring[i] * counted, 1.0 + tiring[i] * (state[BLOCK + i] + state[2 * BLOCK + i])
        scaled, steep = slope * longer, 1.0 + end_gain * (1.0 - spare)
        rate, fresh_rate = end_gain * (scaled - rise * (1.0 - spare)) - rise, end_gain * longer - rise
        rate = NO_RATE * longer if abs(rate) < NO_RATE * longer else rate
        fresh_rate = NO_RATE * longer if abs(fresh_rate) < NO_RATE * longer else fresh_rate
        work[i] = fresh
        work[BLOCK + i], work[2 * BLOCK + i] = rate * spare, steep * (scaled + rise * spare)
        work[3 * BLOCK + i], work[4 * BLOCK + i] = fresh_rate, longer + rise
        work[5 * BLOCK + i] = rate
        work[6 * BLOCK + i], work[7 * BLOCK + i] = steep * slope, steep * rise


@compiled
def begin_effort(
    state: FloatArray, fresh_set: FloatArray, tiring: FloatArray, noise: FloatArray, work: FloatArray
) -> None:
    """Write what a set of the effort form hangs on; as `begin_steep`, with one rate for all."""
    for i in range(noise.size):
        fresh = fresh_set[2 * BLOCK + i] * noise[i]
        counted = max(fresh, NO_HEADROOM)
        longer = counted + tiring[3 * BLOCK + i]
        spare = max(1.0 - state[i] * fresh_set[BLOCK + i], 0.0)
        rise, slope = tiring[i] * counted, 1.0 + tiring[i] * (state[BLOCK + i] + state[2 * BLOCK + i])
        work[i] = fresh
        work[BLOCK + i], work[2 * BLOCK + i] = rise * spare, slope * longer
        work[3 * BLOCK + i], work[4 * BLOCK + i] = rise, longer
        work[5 * BLOCK + i] = rise
        work[6 * BLOCK + i], work[7 * BLOCK + i] = slope, 0.0


@compiled
def take_logarithms(size: int, work: FloatArray) -> None:
    """Write the two logarithms over their bases; one division serves both."""
    for i in range(size):
        over, under, more = near_one(work[BLOCK + i], work[2 * BLOCK + i])
        fresh_over, fresh_under, fresh_more = near_one(work[3 * BLOCK + i], work[4 * BLOCK + i])
        inverse = 1.0 / (under * fresh_under)
        work[2 * BLOCK + i] = twice_artanh(over * (inverse * fresh_under), more)
        work[4 * BLOCK + i] = twice_artanh(fresh_over * (inverse * under), fresh_more)


@compiled
def find_reps(
    form: int, state: FloatArray, fresh_set: FloatArray, wanted: float, work: FloatArray, reps: FloatArray
) -> None:
    """Write the reps available, and how far the set goes on its path to failure in place of the first logarithm."""
    ends = form == STEEP_END  # at failure, where the effort form counts the first rep in full
    for i in range(reps.size):
        fresh, fresh_rate = work[i], work[3 * BLOCK + i]
        counted = max(fresh, NO_HEADROOM)
        path, whole = work[5 * BLOCK + i] * work[4 * BLOCK + i], fresh_rate * counted
        inverse = 1.0 / (path * whole)
        share = work[2 * BLOCK + i] * fresh_rate * (whole * inverse)
        first = min(1.0, fresh) if 1.0 - state[i] * fresh_set[BLOCK + i] > NOTHING_LEFT else 0.0
        available = first + share * (fresh - first)
        reps[i] = available
        work[2 * BLOCK + i] = path * (path * inverse) * min(available, wanted, share * counted if ends else available)


@compiled
def tire(state: FloatArray, fresh_set: FloatArray, tiring: FloatArray, size: int, work: FloatArray) -> None:
    """Bring the state to the end of the set."""
    for i in range(size):
        counted = max(work[i], NO_HEADROOM)
        grown = exp_less_one(work[2 * BLOCK + i])
        lost = grown * work[6 * BLOCK + i] / (work[5 * BLOCK + i] - grown * work[7 * BLOCK + i])
        spent = lost * counted
        slow_spent = tiring[2 * BLOCK + i] * spent
        state[i] += fresh_set[i] * (lost * (counted + tiring[3 * BLOCK + i]))
        state[BLOCK + i] += spent - slow_spent
        state[2 * BLOCK + i] += slow_spent


@compiled
def fade(state: FloatArray, left: FloatArray) -> None:
    """Keep of the pools what a rest leaves."""
    for i in range(_STATE):
        state[i] *= left[i]


@compiled
def faded(memory: Memory, pace: FloatArray, low: int, size: int, seconds: float) -> FloatArray:
    """Return what a rest leaves of each pool of a block of draws; one met before is known."""
    rests = memory.rests
    for number in range(_RESTS):
        if abs(rests[number] - seconds) < _SAME_S:
            break
    else:
        number = int(rests[_RESTS]) % _RESTS
        rests[number], rests[_RESTS] = seconds, rests[_RESTS] + 1.0
        for pool in range(_POOLS):
            row = number * _STATE + pool * BLOCK
            for i in range(size):
                memory.left[row + i] = exponential(max(seconds * pace[pool, low + i], _LONGEST))
    left: FloatArray = memory.left[number * _STATE : (number + 1) * _STATE]
    return left


@compiled
def own_of(memory: Memory, lane: int) -> FloatArray:
    """Return the fatigue of an exercise."""
    pools: FloatArray = memory.own[lane * _STATE : (lane + 1) * _STATE]
    return pools


@compiled
def take_over(asked: Asked, drawn: Drawn, memory: Memory, low: int, size: int, lane: int) -> bool:
    """Add to an exercise what the others leave in its muscles, as they stand; say whether that is anything."""
    state, foreign, any_others = own_of(memory, lane), memory.foreign, False
    for other in range(memory.ended.size):
        overlap = asked.overlap[lane, other]
        if other == lane or memory.ended[other] < 0.0 or overlap == 0.0:
            continue
        others, kept = own_of(memory, other), 1.0 if any_others else 0.0
        for i in range(_STATE):
            foreign[i] = kept * foreign[i] + overlap * others[i]
        any_others = True
    if any_others:
        for pool in range(_POOLS):
            for i in range(size):
                foreign[pool * BLOCK + i] *= drawn.carry[pool, low + i]
        for i in range(_STATE):
            state[i] += foreign[i]
    return any_others


@compiled
def bent_reps(headroom: float, per_headroom: float, bend: float) -> float:
    """Return the reps of a fresh set on a curve that bends; see `workbench.models.load_reps.Curve.bent`."""
    spent = headroom
    if headroom > 0.0 and abs(bend) > NO_BEND:
        spent = AGREED_HEADROOM * (
            exp_less_one(min(bend * headroom, _MOST_BENT)) / exp_less_one(bend * AGREED_HEADROOM)
        )
    return min(max(1.0 + spent * per_headroom, 0.0), MOST_REPS)


@compiled
def prepare_fresh(asked: Asked, drawn: Drawn, memory: Memory, low: int, size: int, number: int, week: int) -> None:
    """Write headroom, its inverse and the reps of a fresh set of a block of draws."""
    lane, kind, log_load, fresh_set = (
        asked.lanes[number],
        asked.kinds[number],
        asked.log_load[number, week],
        memory.fresh_set,
    )
    for i in range(size):
        headroom = drawn.log_one_rm[lane, low + i] + drawn.day[week, low + i] - log_load
        room = max(headroom, NO_HEADROOM)
        fresh_set[i], fresh_set[BLOCK + i] = room, 1.0 / room
        fresh_set[2 * BLOCK + i] = max(1.0 + headroom * drawn.per_headroom[kind, low + i], 0.0)
    if drawn.bend.size:
        for i in range(size):
            headroom = drawn.log_one_rm[lane, low + i] + drawn.day[week, low + i] - log_load
            fresh_set[2 * BLOCK + i] = bent_reps(headroom, drawn.per_headroom[kind, low + i], drawn.bend[low + i])


# More than seven parameters: compiled functions take arrays and numbers as they are.
@compiled
def work_set(
    form: int,
    state: FloatArray,
    fresh_set: FloatArray,
    tiring: FloatArray,
    wanted: float,
    noise: FloatArray,
    work: FloatArray,
    reps: FloatArray,
) -> None:
    """Work one set on a block of draws: the reps available, and the state in place; rows as in `Memory`."""
    if form == STEEP_END:
        begin_steep(state, fresh_set, tiring, noise, work)
    else:
        begin_effort(state, fresh_set, tiring, noise, work)
    take_logarithms(reps.size, work)
    find_reps(form, state, fresh_set, wanted, work, reps)
    tire(state, fresh_set, tiring, reps.size, work)


@compiled
def finish(asked: Asked, memory: Memory, shared: bool, number: int, finished: FloatArray) -> None:
    """Write what an exercise has of its own after its last set; of one that is known, read it."""
    state = own_of(memory, asked.lanes[number])
    for pool in range(_POOLS):
        row = finished[pool]
        for i in range(row.size):
            if asked.known[number]:
                state[pool * BLOCK + i] = row[i]
            else:
                given = memory.foreign[pool * BLOCK + i] if shared else 0.0
                row[i] = state[pool * BLOCK + i] - given


# More than seven parameters, as above.
@compiled
def run_week(
    form: int,
    asked: Asked,
    drawn: Drawn,
    memory: Memory,
    low: int,
    size: int,
    week: int,
    reps: FloatArray,
    sums: FloatArray,
    finished: FloatArray,
) -> None:
    """Run the sets of a session in one week on a block of draws.

    Exercises that are not at work are known as they stood at the last change of exercise.
    """
    memory.own.fill(0.0)
    memory.ended.fill(-1.0)
    at_work, changed_s, shared = -1, 0.0, False
    for number in range(asked.lanes.size):
        lane, start_s, known = asked.lanes[number], asked.start_s[number, week], asked.known[number]
        state = own_of(memory, lane)
        if lane == at_work:
            # Of known sets too, so that a rest stands for the same others as where all are worked.
            left = faded(memory, drawn.pace, low, size, start_s - memory.ended[lane])
            if not known:
                fade(state, left)
                if shared:
                    fade(memory.foreign, left)
        else:
            for other in range(memory.ended.size):
                if memory.ended[other] >= 0.0:
                    before = own_of(memory, other)
                    if other == at_work and shared:  # what the others had given it is not its own
                        for i in range(_STATE):
                            before[i] -= memory.foreign[i]
                    since = memory.ended[other] if other == at_work else changed_s
                    fade(before, faded(memory, drawn.pace, low, size, start_s - since))
            shared = not known and take_over(asked, drawn, memory, low, size, lane)
            at_work, changed_s = lane, start_s
        if not known:
            again = number > 0 and asked.kinds[number - 1] == asked.kinds[number]
            if not again or asked.log_load[number - 1, week] != asked.log_load[number, week]:
                prepare_fresh(asked, drawn, memory, low, size, number, week)
            noise, found = drawn.noise[number, week, low : low + size], reps[number, week, low : low + size]
            if not asked.active[number, week]:  # what it would come to is worked out all the same, and leaves nothing
                memory.idle[:] = state
                state = memory.idle
            wanted, fresh_set = asked.wanted[number, week], memory.fresh_set
            work_set(form, state, fresh_set, memory.tiring, wanted, noise, memory.work, found)
            for i in range(size):
                sums[low + i] += found[i]
        memory.ended[lane] = asked.end_s[number, week]
        if asked.ends[number] and finished.size:
            finish(asked, memory, shared, number, finished[lane, :, week, low : low + size])


# More than seven parameters, as above.
@compiled
def run_session(
    form: int,
    asked: Asked,
    drawn: Drawn,
    first: int,
    last: int,
    reps: FloatArray,
    sums: FloatArray,
    finished: FloatArray,
) -> None:
    """Work out the reps available in every set of a session, shape (sets, weeks, draws), for some of the draws.

    Those of all sets and weeks are added to ``sums``, shape (draws,): what is infinite or no number stays so in a sum.

    As `workbench.simulate.run` does by arrays, exercises taking from each other as in
    `workbench.models.sharing.SharedFatigue`.
    """
    lanes, tiring_rows = asked.overlap.shape[0], drawn.tiring.shape[0]
    memory = Memory(
        np.zeros(lanes * _STATE),
        np.zeros(lanes),
        np.zeros(_STATE),
        np.zeros(_STATE),
        np.zeros(3 * BLOCK),
        np.zeros(_RESTS * _STATE),
        np.zeros(_RESTS + 1),
        np.zeros(tiring_rows * BLOCK),
        np.zeros(WORK_ROWS * BLOCK),
    )
    for low in range(first, last, BLOCK):
        size = min(BLOCK, last - low)
        memory.rests.fill(-1.0)
        memory.rests[_RESTS] = 0.0
        for row in range(tiring_rows):
            for i in range(size):
                memory.tiring[row * BLOCK + i] = drawn.tiring[row, low + i]
        for week in range(asked.start_s.shape[1]):
            run_week(form, asked, drawn, memory, low, size, week, reps, sums, finished)


def warm_up() -> None:
    """Compile, or fetch what was compiled before, by running a set of nothing."""
    one, none, no = np.ones((1, 1)), np.zeros(1, dtype=np.int64), np.zeros(1, dtype=bool)
    asked = Asked(none, none, one, one, one.astype(bool), one, one, one, no, no)
    drawn = Drawn(one, one, -np.ones((3, 1)), np.ones((4, 1)), np.ones((3, 1)), one, np.ones((1, 1, 1)), np.ones(1))
    run_session(STEEP_END, asked, drawn, 0, 1, np.empty((1, 1, 1)), one[0], np.empty((1, 3, 1, 1)))
