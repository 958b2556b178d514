"""A session simulated in one pass over the draws, where numba is installed (the extra ``fast``) and has been loaded.

Reps as by arrays to twelve digits; only faster. Loading takes half a second, and some ten the first time after an
installation, when the sets are compiled and kept on disk: so it is for whoever simulates over and over to ask for it.
Own forms and curves, and set groups under a rule of the coach, are always simulated by arrays.
"""

from __future__ import annotations

import importlib.util
import os
import threading
import weakref
from collections.abc import Callable, Sequence
from itertools import pairwise
from types import ModuleType
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from workbench.models.fatigue import EFFORT, STEEP_END, FatigueForm
from workbench.models.load_reps import exponential_reps
from workbench.models.sharing import Carry
from workbench.quantities import FloatArray
from workbench.simulate.draws import LifterDraws
from workbench.simulate.plan import Plan, PlannedSession, SetArrays

__all__ = [
    "Counted",
    "Meets",
    "Worked",
    "counted",
    "form_named",
    "load",
    "load_soon",
    "loaded",
    "quantiles",
    "runs",
    "share_out",
    "work_session",
]

#: Reps of sets, weeks and draws from which a second thread is worth its start.
_FOR_A_THREAD: Final = 100_000

#: So that what somebody waits for comes first.
_SOON_S: Final = 1.0

_compiled: ModuleType | None = None
_asked = False
_last_lifters: tuple[weakref.ref[LifterDraws], tuple[FloatArray, FloatArray, FloatArray]] | None = None
_loading = threading.Lock()


def load() -> bool:
    """Load the compiled sets, from now on used by every simulation of this process; say whether they are there.

    They are not without numba, and where the environment says ``WORKBENCH_FUSED=0``.
    """
    global _compiled  # noqa: PLW0603 - what a process has loaded is a fact of the process
    if _compiled is not None:
        return True
    if os.environ.get("WORKBENCH_FUSED") == "0" or importlib.util.find_spec("numba") is None:
        return False
    with _loading:
        if _compiled is None:
            module = importlib.import_module("workbench.simulate.fused_sets")
            module.warm_up()
            _counts().warm_up()
            _compiled = module
    return True


def loaded() -> bool:
    """Whether the compiled sets have been loaded."""
    return _compiled is not None


def _counts() -> ModuleType:
    """Return the compiled counts, which go with the compiled sets; numba must be there."""
    return importlib.import_module("workbench.simulate.fused_counts")


def load_soon() -> None:
    """Load the compiled sets beside other work; what is simulated meanwhile is simulated by arrays."""
    global _asked  # noqa: PLW0603 - as for `load`
    if not _asked:
        _asked = True
        soon = threading.Timer(_SOON_S, load)
        soon.daemon = True
        soon.start()


def runs(draws: LifterDraws) -> bool:
    """Whether sessions that meet these draws can be run by the compiled sets, and these are loaded."""
    return _compiled is not None and form_named(draws.form) is not None and draws.curve.reps is exponential_reps


def form_named(form: FatigueForm) -> str | None:
    """Return the name by which compiled modules know a fatigue form; None where they do not."""
    for name, known in (("STEEP_END", STEEP_END), ("EFFORT", EFFORT)):
        if form.work is known.work and form.time_constants == known.time_constants:
            return name
    return None


class Meets(NamedTuple):
    """What a session meets: the day, shape (draws, weeks), and the scatter of its sets, shape (sets, draws, weeks)."""

    day: FloatArray
    noise: FloatArray
    carry: Carry
    endurance: Callable[[int, float], FloatArray]  # (lane, slowness) of the draws, [1/rep]


class Worked(NamedTuple):
    """Reps available in every set of a session, and what its exercises had of their own after their last sets.

    ``reps``: shape (sets, weeks, draws), [reps]; ``finished``: shape (exercises, pools, weeks, draws), the exercises in
    the order of the plan, without numbers where that was not asked for; ``finite``: whether all reps are.
    """

    reps: FloatArray
    finished: FloatArray
    finite: bool = True


def work_session(
    plan: Plan,
    draws: LifterDraws,
    session: PlannedSession,
    meets: Meets,
    before: Worked | None = None,
    known: frozenset[int] | None = None,
) -> Worked:
    """Work out a session.

    Parameters
    ----------
    plan, draws, session, meets
    before : Worked, optional
        What the same session came to before.
    known : set of int, optional
        Exercises, as lanes, that come to the same as before, each of whose sets follow one another: they are taken over
        from there. What exercises have after their last sets is worked out where this is given, so perhaps empty.
    """
    assert _compiled is not None
    sets, arrays = session.sets, session.arrays
    kinds = {kind: number for number, kind in enumerate(dict.fromkeys((one.lane, one.slowness) for one in sets))}
    last = {one.lane: number for number, one in enumerate(sets)}
    lanes = sorted(last)
    taken = np.array([one.lane in (known or ()) for one in sets])
    asked = _compiled.Asked(
        lanes=np.array([lanes.index(one.lane) for one in sets]),
        kinds=np.array([kinds[one.lane, one.slowness] for one in sets]),
        log_load=np.log(arrays.load_kg),
        wanted=arrays.reps_high.astype(float),  # whole ones would be compiled anew
        active=arrays.active,
        start_s=arrays.start_s,
        end_s=arrays.end_s,
        overlap=plan.overlap[np.ix_(lanes, lanes)],
        known=taken,
        ends=np.array([last[one.lane] == number for number, one in enumerate(sets)]),
    )
    log_one_rm, pace, tiring = _lifters_in_rows(draws)
    carry = meets.carry
    drawn = _compiled.Drawn(
        log_one_rm=log_one_rm[lanes],
        per_headroom=1.0 / np.array([meets.endurance(*kind) for kind in kinds]),
        pace=pace,
        tiring=tiring,
        carry=_rows([carry.seconds_pool, carry.minutes_pools, carry.minutes_pools], draws.count),
        day=np.ascontiguousarray(meets.day.T),
        noise=np.ascontiguousarray(meets.noise.transpose(0, 2, 1)),
        bend=np.empty(0) if draws.bend is None else np.ascontiguousarray(draws.bend),
    )
    reps, sums = np.empty(drawn.noise.shape), np.zeros(draws.count)
    finished = np.empty((len(lanes) if known is not None else 0, draws.form.pools, plan.weeks, draws.count))
    if before is not None:
        for number in np.flatnonzero(taken):
            reps[number] = before.reps[number]
        for number in np.unique(asked.lanes[taken]):
            finished[number] = before.finished[number]
    form = getattr(_compiled, form_named(draws.form) or "")
    worked = reps.size - int(taken.sum()) * reps[0].size
    share_out(
        lambda low, high: _compiled.run_session(form, asked, drawn, low, high, reps, sums, finished),
        draws.count,
        worked,
    )
    return Worked(reps, finished, bool(np.isfinite(sums.sum())))


def _lifters_in_rows(draws: LifterDraws) -> tuple[FloatArray, FloatArray, FloatArray]:
    """1RM, pace of recovery and what makes tired, a row each and draws last; those of the last draws are known."""
    global _last_lifters  # noqa: PLW0603 - the sessions of a block meet the same lifters one after the other
    last = _last_lifters
    if last is not None and last[0]() is draws:
        return last[1]
    fatigue = draws.fatigue
    parts = [fatigue.depletion_gain, getattr(fatigue, "end_gain", 0.0), fatigue.slow_share, fatigue.half_reps]
    rates = [-draws.recovery_rate / np.ravel(getattr(fatigue, name)) for name in draws.form.time_constants]
    found = np.ascontiguousarray(draws.log_one_rm.T), _rows(rates, draws.count), _rows(parts, draws.count)
    _last_lifters = weakref.ref(draws), found
    return found


def quantiles(values: FloatArray, shares: Sequence[float]) -> FloatArray:
    """Quantiles over the last axis, a row each, as `numpy.quantile` gives them.

    Picked out where compiled sets are loaded; else by sorting, which in numpy is as fast as picking out.
    """
    count = values.shape[-1]
    places = [share * (count - 1) for share in shares]
    ranks = sorted({min(int(place) + more, count - 1) for place in places for more in (0, 1)})
    rows = values.reshape(-1, count)
    ranked = np.full((len(rows), len(ranks)), np.nan)
    if _compiled is not None:
        _counts().pick_out(rows, np.array(ranks), ranked)
    missing = np.isnan(ranked[:, 0])
    if missing.any():
        ranked[missing] = np.sort(rows[missing], axis=-1)[:, ranks]
    found = []
    for place in places:
        low, high = (ranked[:, ranks.index(min(int(place) + more, count - 1))] for more in (0, 1))
        share, apart = place - int(place), high - low
        found.append(low + apart * share if share < 0.5 else high - apart * (1.0 - share))
    return np.stack(found).reshape(len(shares), *values.shape[:-1])


class Counted(NamedTuple):
    """What the sets of a session come to, each of shape (sets, weeks), summed over the draws.

    ``made``: draws in which all reps are made; ``missed``, ``done``: reps, whole numbers.
    """

    made: FloatArray
    missed: FloatArray
    done: FloatArray


def counted(reps: FloatArray, sets: SetArrays, lowest: FloatArray) -> Counted:
    """Count the reps of some sets, shape (sets, weeks, draws), set by set, where compiled sets are loaded.

    ``lowest``, shape (weeks, draws), is brought down to the fewest reps to spare among those with reps to be made.
    """
    prescribed = sets.active & sets.to_be_made
    shape, draws = prescribed.shape, reps.shape[-1]
    low, high = sets.reps_low.astype(float), sets.reps_high.astype(float)
    found = Counted(np.full(shape, float(draws)), np.zeros(shape), np.empty(shape))
    _counts().count_reps(reps, low, high, prescribed, lowest, *found)
    return found._replace(done=found.done * sets.active)


def _rows(values: Sequence[ArrayLike], count: int) -> FloatArray:
    """Stack what is one number, or one for each draw, as rows."""
    return np.stack([np.broadcast_to(np.ravel(one), (count,)) for one in values]).astype(float)


def share_out(work: Callable[[int, int], None], draws: int, size: int) -> None:
    """Work on all draws, parts of them in threads of their own where that is worth while.

    Parameters
    ----------
    work : callable
        ``work(low, high)`` on the draws from ``low`` on, short of ``high``; without a lock on the interpreter.
    draws : int
        How many.
    size : int
        Numbers to be worked out for all of them.
    """
    threads = min(_processors(), max(1, size // _FOR_A_THREAD))
    edges = [draws * number // threads for number in range(threads + 1)]
    others = [threading.Thread(target=work, args=edge) for edge in pairwise(edges[1:])]
    for thread in others:
        thread.start()
    work(edges[0], edges[1])
    for thread in others:
        thread.join()


def _processors() -> int:
    """Return how many processors a process may use: what ``OMP_NUM_THREADS`` says, as Dask tells its workers."""
    told = os.environ.get("OMP_NUM_THREADS", "")
    return int(told) if told.isdigit() and int(told) else len(os.sched_getaffinity(0))
