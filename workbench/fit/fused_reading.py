"""Logged sessions read number by number, so that a session takes one pass over the points of a grid.

The same sums as `workbench.fit.likelihood.SetReader`, which stays the one to read and the oracle that this is tested
against. Compiled by numba where that is installed (the extra ``fast``), as `workbench.simulate.fused_sets` is, whose
sets these are.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.polynomial import Chebyshev, Polynomial
from scipy.special import erfcx

from workbench.models.fatigue_form import NO_HEADROOM
from workbench.models.load_reps import SLOPE_STEP
from workbench.quantities import FloatArray
from workbench.simulate.fused_series import compiled, exponential, log_of_part
from workbench.simulate.fused_sets import BLOCK, EFFORT, STEEP_END, WORK_ROWS, bent_reps, work_set

__all__ = ["EFFORT", "ENDINGS", "STEEP_END", "Points", "Sessions", "read_sessions", "warm_up"]

#: How a set ended, by number; of a statement so high that it says only that the set was easy, the last.
ENDINGS: Final = ("completed", "failed", "stated", "felt", "easy")
COMPLETED, FAILED, STATED, FELT, EASY = range(5)
#: Fewest reps available that are told from none, and where a normal distribution is all but 0 or 1.
_NO_REPS, _FARTHEST = 1e-9, 37.0
_ROOT_HALF: Final = 0.5**0.5
#: Where the middle of the tail's polynomial lies.
_MIDDLE: Final = 3.75


def _scaled_tail(part: FloatArray) -> FloatArray:
    """Return ``exp(x**2) erfc(x) (1 + 2 x)`` for x from 0 to infinity, of ``(x - middle) / (x + middle)``."""
    x = _MIDDLE * (1.0 + part) / (1.0 - part)
    return np.asarray(erfcx(x) * (1.0 + 2.0 * x))


#: Its polynomial, the constant first; right to 4e-15. The nodes of such a fit keep clear of the ends.
_TAIL: Final = tuple(float(part) for part in Chebyshev.interpolate(_scaled_tail, 20).convert(kind=Polynomial).coef)


class Sessions(NamedTuple):
    """Sessions of one exercise; what is told of each set in the order of the log."""

    first: np.ndarray  # (sessions + 1,): number of the first set of each, and of all sets
    unsure: np.ndarray  # (sessions,): whether a rest of the day is not known
    tired: np.ndarray  # (sets,): whether other exercises had left anything
    ending: np.ndarray  # (sets,): place in `ENDINGS`
    reps: FloatArray
    reserve: FloatArray  # [reps]
    log_load: FloatArray  # [ln kg], as the strength of the grid has it
    added: FloatArray  # to the log of the reps available
    mistaken: FloatArray  # chance that what was written is a mistake, and is just this
    rest_s: FloatArray  # (nodes, sets)
    share: FloatArray  # (nodes,), of the lengths of a day's rests
    given: FloatArray  # (sets, pools, rates): what other exercises had left


class Points(NamedTuple):
    """The grid that they are read on, and what they are read with."""

    strength: FloatArray  # (points,), [ln kg]
    per_headroom: FloatArray  # (points,), [reps]
    pace: FloatArray  # (pools, rates), minus the recovery rate over the time constants, [1/s]
    tiring: FloatArray  # (4,): gain, end gain, slow share, half reps
    scatter: tuple[float, float, float]  # sd of a set, of a cell of the grid as headroom, and chance of no mistake
    said: tuple[float, ...]  # `StatedReserve`, field by field
    bend: float  # of the curve


class Memory(NamedTuple):
    """What is kept of a block of points between the sets; rows that sets are worked with have room for whole blocks."""

    state: FloatArray  # (pools, BLOCK)
    fresh_set: FloatArray  # (3, BLOCK): headroom, its inverse, and reps of a fresh set
    tiring: FloatArray  # (4, BLOCK)
    work: FloatArray  # (WORK_ROWS, BLOCK)
    ones: FloatArray  # (points,)
    precision: FloatArray  # (points,): one over the log sd of a set
    available: FloatArray  # (points,), [reps]
    z: FloatArray  # (3, points): distances in sds, then what lies below
    chance: FloatArray  # (points,): of all sets up to now
    first: FloatArray  # (pools + 1, points): state and chance after a first set that all rates have alike
    prepared: FloatArray  # (1,): load of the set that is prepared, [ln kg]


@compiled
def normal_below(z: FloatArray) -> None:
    """Put the standard normal distribution below each z in its place, to 4e-15 of the tail."""
    for i in range(z.size):
        far = min(abs(z[i]), _FARTHEST) * _ROOT_HALF
        slope, sum_of = 1.0 + 2.0 * far, far + _MIDDLE
        inverse = 1.0 / (slope * sum_of)
        t = (far - _MIDDLE) * slope * inverse
        t2 = t * t
        t4 = t2 * t2
        t8 = t4 * t4
        series = (
            ((_TAIL[0] + t * _TAIL[1]) + t2 * (_TAIL[2] + t * _TAIL[3]))
            + t4 * ((_TAIL[4] + t * _TAIL[5]) + t2 * (_TAIL[6] + t * _TAIL[7]))
            + t8
            * (
                ((_TAIL[8] + t * _TAIL[9]) + t2 * (_TAIL[10] + t * _TAIL[11]))
                + t4 * ((_TAIL[12] + t * _TAIL[13]) + t2 * (_TAIL[14] + t * _TAIL[15]))
            )
            + (t8 * t8) * ((_TAIL[16] + t * _TAIL[17]) + t2 * (_TAIL[18] + t * _TAIL[19]) + t4 * _TAIL[20])
        )
        tail = 0.5 * exponential(-far * far) * series * (sum_of * inverse)
        z[i] = 1.0 - tail if z[i] > 0.0 else tail


@compiled
def distance_of_reps(available: FloatArray, precision: FloatArray, reps: float, added: float, z: FloatArray) -> None:
    """Write how many sds the reps available lie above some reps."""
    for i in range(z.size):
        z[i] = (log_of_part(max(available[i], _NO_REPS) - reps, reps) + added) * precision[i]


@compiled
def statement_bias(available: float, said: tuple[float, ...]) -> float:
    """Return how many reps more are left than is said; see `workbench.models.stated_reserve`."""
    beyond = min(available, said[4]) - said[1]
    return said[0] + max(said[2] * beyond, said[3] * beyond)


@compiled
def distance_of_statement(
    available: FloatArray, precision: FloatArray, limit: float, reps: float, said: tuple[float, ...], z: FloatArray
) -> None:
    """Write how many sds a limit lies above the reps that are felt to be left after some reps."""
    for i in range(z.size):
        left = max(available[i] - 0.5 - reps, 0.0)
        expected = left - statement_bias(available[i], said)
        more = available[i] + available[i] / precision[i]
        moved = max(more - 0.5 - reps, 0.0) - statement_bias(more, said) - expected
        length = min(max(available[i], 0.5 * said[7]), said[4]) / said[7]
        sd = (said[5] + said[6] * min(left, said[8])) * length
        z[i] = (limit - expected) / np.sqrt(sd * sd + moved * moved)


@compiled
def weigh_set(sessions: Sessions, number: int, points: Points, memory: Memory) -> None:
    """Take the chance of what was logged of a set into that of its session; see `workbench.fit.likelihood`."""
    ending, reps, reserve = sessions.ending[number], sessions.reps[number], sessions.reserve[number]
    mistaken, added, sure = sessions.mistaken[number], sessions.added[number], points.scatter[2]
    available, precision, z, chance = memory.available, memory.precision, memory.z, memory.chance
    z[0].fill(_FARTHEST)
    if reps > 0.0:
        distance_of_reps(available, precision, reps, added, z[0])
    rows = 1
    if ending == FAILED:
        distance_of_reps(available, precision, reps + 1.0, added, z[1])
        rows = 2
    elif ending != COMPLETED:
        z[1].fill(_FARTHEST)
        z[2].fill(-_FARTHEST)
        more = np.exp(added)
        for i in range(available.size):
            available[i] *= more
        if ending != EASY:
            distance_of_statement(available, precision, reserve + 0.5, reps, points.said, z[1])
        if ending == FELT and reps > 1.0:  # a rep earlier more was felt
            distance_of_statement(available, precision, reserve + 0.5, reps - 1.0, points.said, z[2])
        elif ending == EASY or (ending == STATED and reserve >= 0.5):  # lower opinions than none end up there
            distance_of_statement(available, precision, reserve - 0.5, reps, points.said, z[2])
        rows = 3
    normal_below(z[:rows].reshape(-1))
    for i in range(chance.size):
        as_logged = z[0, i]
        if rows == 2:
            as_logged -= z[1, i]
        elif rows == 3:
            as_logged *= max(z[1, i] - z[2, i], 0.0)
        chance[i] *= sure * as_logged + mistaken


@compiled
def prepare_fresh(points: Points, memory: Memory, low: int, log_load: float) -> None:
    """Write headroom, its inverse, the reps of a fresh set and how exactly they are known."""
    fresh_set, precision, sd, cell = memory.fresh_set, memory.precision, points.scatter[0], points.scatter[1]
    for i in range(precision.size):
        headroom, per_headroom = points.strength[low + i] - log_load, points.per_headroom[low + i]
        room, fresh = max(headroom, NO_HEADROOM), max(1.0 + headroom * per_headroom, 0.0)
        fresh_set[0, i], fresh_set[1, i], fresh_set[2, i] = room, 1.0 / room, fresh
        precision[i] = 1.0 / max(sd, cell * per_headroom / max(fresh, 0.5))
    if points.bend != 0.0:
        for i in range(precision.size):
            headroom, per_headroom = points.strength[low + i] - log_load, points.per_headroom[low + i]
            above = bent_reps(headroom + SLOPE_STEP, per_headroom, points.bend)
            below = bent_reps(headroom - SLOPE_STEP, per_headroom, points.bend)
            fresh = bent_reps(headroom, per_headroom, points.bend)
            slope = (above - below) / (2.0 * SLOPE_STEP)
            fresh_set[2, i], precision[i] = fresh, 1.0 / max(sd, cell * slope / max(fresh, 0.5))
    memory.prepared[0] = log_load


@compiled
def read_set(
    form: int, sessions: Sessions, number: int, points: Points, memory: Memory, low: int, rate: int, seconds: float
) -> None:  # fmt: skip
    """Work and weigh a set on a block of points, after a rest; ``tired``: with what other exercises had left."""
    state, fresh_set, log_load, given = (
        memory.state,
        memory.fresh_set,
        sessions.log_load[number],
        sessions.given[number],
    )
    if log_load != memory.prepared[0]:
        prepare_fresh(points, memory, low, log_load)
    for pool in range(state.shape[0]):
        left, more = np.exp(seconds * points.pace[pool, rate]), given[pool, rate]
        for i in range(state.shape[1]):
            state[pool, i] = state[pool, i] * left + more
    wanted = np.inf if sessions.ending[number] == FAILED else sessions.reps[number]
    rows = state.reshape(-1), fresh_set.reshape(-1), memory.tiring.reshape(-1), memory.work.reshape(-1)
    work_set(form, rows[0], rows[1], rows[2], wanted, memory.ones, rows[3], memory.available)
    if sessions.tired[number]:
        for pool in range(state.shape[0]):
            for i in range(state.shape[1]):
                state[pool, i] -= given[pool, rate]
    weigh_set(sessions, number, points, memory)


@compiled
def start(memory: Memory) -> None:
    """Begin a session."""
    for i in range(memory.chance.size):
        memory.chance[i] = 1.0
        for pool in range(memory.state.shape[0]):
            memory.state[pool, i] = 0.0


@compiled
def keep(memory: Memory) -> None:
    """Keep how things stand after the first set."""
    for i in range(memory.chance.size):
        memory.first[-1, i] = memory.chance[i]
        for pool in range(memory.state.shape[0]):
            memory.first[pool, i] = memory.state[pool, i]


@compiled
def go_back(memory: Memory) -> None:
    """Go back to how things stood after the first set."""
    for i in range(memory.chance.size):
        memory.chance[i] = memory.first[-1, i]
        for pool in range(memory.state.shape[0]):
            memory.state[pool, i] = memory.first[pool, i]


@compiled
def read_block(
    form: int, sessions: Sessions, session: int, points: Points, memory: Memory, low: int, found: FloatArray
) -> None:
    """Read one session on a block of points; ``found``: shape (rates, points)."""
    first, last = sessions.first[session], sessions.first[session + 1]
    chance, nodes = memory.chance, sessions.share.size if sessions.unsure[session] else 1
    for rate in range(found.shape[0]):
        if rate == 0 or sessions.tired[first]:
            start(memory)
            read_set(form, sessions, first, points, memory, low, rate, 0.0)
            keep(memory)
        for node in range(nodes):
            go_back(memory)
            for number in range(first + 1, last):
                read_set(form, sessions, number, points, memory, low, rate, sessions.rest_s[node, number])
            share = sessions.share[node] if nodes > 1 else 1.0
            for i in range(chance.size):
                before = found[rate, low + i] if node else 0.0
                found[rate, low + i] = before + share * chance[i]


@compiled
def read_sessions(form: int, sessions: Sessions, points: Points, first: int, last: int, found: FloatArray) -> None:
    """Write the chance of all that was logged of each session, shape (sessions, rates, points), for some points."""
    for low in range(first, last, BLOCK):
        size, pools = min(BLOCK, last - low), points.pace.shape[0]
        memory = Memory(
            np.zeros((pools, BLOCK)),
            np.zeros((3, BLOCK)),
            np.zeros((4, BLOCK)),
            np.zeros((WORK_ROWS, BLOCK)),
            np.ones(size),
            np.empty(size),
            np.empty(size),
            np.empty((3, size)),
            np.empty(size),
            np.empty((pools + 1, size)),
            np.full(1, np.nan),
        )
        for row in range(4):
            memory.tiring[row, :] = points.tiring[row]
        for session in range(found.shape[0]):
            read_block(form, sessions, session, points, memory, low, found[session])


def warm_up() -> None:
    """Compile, or fetch what was compiled before, by reading a session of one set."""
    one, none, no = np.ones(1), np.zeros(1, dtype=np.int64), np.zeros(1, dtype=bool)
    sessions = Sessions(np.arange(2), no, no, none, one, one, one, one, one, one[None], one, np.zeros((1, 3, 1)))
    points = Points(one, one, -np.ones((3, 1)), np.ones(4), (1.0, 1.0, 1.0), (1.0,) * 9, 0.0)
    read_sessions(STEEP_END, sessions, points, 0, 1, np.empty((1, 1, 1)))
