"""The search itself: every plan where there are few, an optimiser on the same simulated days where there are many."""

from __future__ import annotations

import contextlib
import itertools
import math
import threading
from collections.abc import Callable, Sequence
from typing import Final, Literal

import numpy as np

from workbench.answers.decide.terms import Knob, Limit, check_quantity, limits_of
from workbench.answers.decide.trials import Bench, Decision, Place, StoppedError, Task, Trial, answer_of, front_of
from workbench.gym.equipment import Room
from workbench.lifter import Lifter
from workbench.models.fatigue import DEFAULT_FORM, FatigueForm
from workbench.models.load_reps import DEFAULT_CURVE, Curve
from workbench.prescription.block import Block
from workbench.quantities import SEED, FloatArray, InputError
from workbench.simulate.fused import load_soon

__all__ = ["EXACT_UP_TO", "decide"]

#: So many plans are all tried; more are searched.
EXACT_UP_TO: Final = 400
#: From so many plans on they are worth the start of the compiled sets.
_WORTH_LOADING: Final = 50
#: The search looks at plans with so many draws, and tries the best again with all.
_SCREENING_DRAWS: Final = 200
#: Plans in a generation for each knob, generations, and plans tried again from the front.
_PER_KNOB, _GENERATIONS, _AGAIN = 10, 9, 20
#: Part of a limit that a plan may miss in the screening and still be tried with all draws: two standard errors of a
#: chance near one half from 200 draws.
_JUST_MISSED: Final = 0.05
#: Plans tried around the best, for each knob.
_WANDERINGS: Final = 80
#: An allowed plan costs less the more it demands; any other costs more than that, by how far it misses.
_NOT_ALLOWED: Final = 1e9

Progress = Callable[[int, int, str], bool | None]


# More than seven parameters: what a coach may leave to its default is a keyword of the question.
def decide(
    block: Block,
    lifter: Lifter,
    room: Room,
    knobs: Sequence[Knob],
    *,
    limits: Sequence[Limit] | None = None,
    demand: str = "tonnage",
    draws: int = 2000,
    seed: int = SEED,
    form: FatigueForm = DEFAULT_FORM,
    curve: Curve = DEFAULT_CURVE,
    method: Literal["auto", "every plan", "search"] = "auto",
    progress: Progress | None = None,
    stop: threading.Event | None = None,
) -> Decision:
    """Find the most demanding plan that keeps the limits.

    Every plan is worked out on loads that the room has and met by the same simulated lifters and days, so that two
    plans are told apart by what they are and not by luck.

    Parameters
    ----------
    block : Block
        What is not turned by a knob stays as it is.
    lifter : Lifter
    room : Room
    knobs : sequence of Knob
        What may be turned, and to which values; or as text, such as "percent=60:80:2.5 of back squat".
    limits : sequence of Limit, optional
        What a plan must keep, or as text, such as "session_minutes<=60"; those that the block states where not given.
    demand : str
        What "most demanding" means: a key of `workbench.answers.outcomes.MEASURES`, taken in the mean.
    draws : int, [1], 10 to 100,000
        Simulated lifters and runs of days.
    seed : int, [1], >= 0
        The same seed gives the same digits.
    form : FatigueForm
        How a set tires, or the name of one in `FORMS`.
    curve : Curve
        Load and reps, fresh: one of `CURVES`, or of your own.
    method : {"auto", "every plan", "search"}
        "auto" tries every plan where there are at most `EXACT_UP_TO`.
    progress : callable, optional
        Called after each plan with plans tried, plans expected at most, and the best so far in words. Returning False
        stops the search.
    stop : threading.Event, optional
        Stops the search when set, from another thread.

    Returns
    -------
    Decision
        Also where the search was stopped: then the best so far.

    Raises
    ------
    InputError
        No knobs, an unknown quantity, or a knob that finds nothing to change.

    Notes
    -----
    Numbers from ``data/parameters.csv`` and ``data/fitted/``, each with its source key and grade; the equations and
    their sources stand with the form (`workbench.models.fatigue`) and the curve (`workbench.models.load_reps`).
    """
    if not knobs:
        raise InputError(None, "knobs", "there are none", "name at least one thing that may change")
    asked = tuple(limits_of(block) if limits is None else limits)
    for quantity in (demand, *(limit.quantity for limit in asked)):
        check_quantity(quantity, room.catalogue)
    sizes = [len(knob.values) for knob in knobs]
    plans = math.prod(sizes)
    if method not in ("auto", "every plan", "search"):
        raise InputError(None, "method", f"{method!r} is not one", "use auto, every plan or search")
    every = method == "every plan" or (method == "auto" and plans <= EXACT_UP_TO)
    if plans > _WORTH_LOADING:
        load_soon()
    count = _Count(plans if every else min(plans, _budget(len(knobs))), progress)

    task = Task(block, lifter, room, tuple(knobs), asked, demand, seed, form, curve)
    full = Bench(task, draws, tried=count.tried, stop=stop)
    count.words = full.words
    try:
        if every:
            for place in itertools.product(*map(range, sizes)):
                full.trial(place)
        else:
            _search(
                full, Bench(task, min(draws, _SCREENING_DRAWS), tried=count.tried, stop=stop, quick=True), count, stop
            )
        finished = True
    except StoppedError:
        finished = False
    if full.best is None:
        raise InputError(None, "decide", "was stopped before the first plan was tried", "let it run a little longer")
    how, rules = "every plan" if every else "search", full.rules(full.best.place)
    return answer_of(full, tried=count.done, finished=finished, method=how, rules=rules)


def _search(full: Bench, screened: Bench, count: _Count, stop: threading.Event | None) -> None:
    """Screen plans with few draws, then try the best again with all."""
    try:
        _evolve(screened)
        _wander(screened, np.random.default_rng((screened.task.seed, 1)))
        _polish(screened, reach=2)
    finally:
        _again(screened, full, stopped=count.stopped or (stop is not None and stop.is_set()))
    _polish(full, reach=1)


def _budget(knobs: int) -> int:
    return _PER_KNOB * knobs * (_GENERATIONS + 1) + 40 * knobs**2


class _Count:
    """Counts trials for the progress report."""

    def __init__(self, expected: int, progress: Progress | None) -> None:
        self.done, self.expected, self.progress = 0, expected, progress
        self.stopped = False
        self.words: Callable[[Place], str] = str
        self.best: Trial | None = None

    def tried(self, trial: Trial) -> bool:
        self.done += 1
        self.expected = max(self.expected, self.done)
        if trial.better_than(self.best):
            self.best = trial
        if self.progress is None or self.best is None:
            return True
        best = self.words(self.best.place) if self.best.allowed else "none within the limits yet"
        self.stopped = self.progress(self.done, self.expected, best) is False
        return not self.stopped


def _evolve(bench: Bench) -> None:
    """Differential evolution over the places; the bench remembers what was tried."""
    from scipy.optimize import differential_evolution

    def cost(x: FloatArray) -> float:
        trial = bench.trial(tuple(int(at) for at in np.rint(x)))
        # The search only asks which of two plans costs less, and any allowed plan must cost less than any other.
        return -trial.demand if trial.allowed else _NOT_ALLOWED * (1.0 + trial.shortfall)

    differential_evolution(
        cost,
        bounds=[(0, len(knob.values) - 1) for knob in bench.knobs],
        integrality=np.ones(len(bench.knobs), dtype=bool),
        popsize=_PER_KNOB,
        maxiter=_GENERATIONS,
        rng=np.random.default_rng(bench.task.seed),
        tol=0,
        polish=False,
        init="sobol",
    )


def _again(screened: Bench, full: Bench, *, stopped: bool) -> None:
    """Try the best plans of the screening again with all draws: the front, and the most demanding within limits."""
    trials = list(screened.trials.values())
    by_demand = sorted((one for one in trials if one.demand > 0), key=lambda one: (-one.demand, one.place))
    best = [one for one in by_demand if one.allowed][:_AGAIN]
    # Those that just miss may do so by the luck of few draws.
    best += [one for one in by_demand if 0 < one.shortfall <= _JUST_MISSED][:_AGAIN]
    if not best and screened.best is not None:
        best = sorted(trials, key=lambda one: one.shortfall)[:_AGAIN]
    front = front_of(one for one in trials if one.demand > 0)
    chosen = front[:: max(len(front) // _AGAIN, 1)]
    for one in best[:1] if stopped else [*best, *chosen]:
        # Once stopped, one last trial, so that there is an answer.
        full.stop = None if stopped else full.stop
        with contextlib.suppress(StoppedError) if stopped else contextlib.nullcontext():
            full.trial(one.place)


def _wander(bench: Bench, rng: np.random.Generator) -> None:
    """Try places around the best, several knobs moved at once, following every gain."""
    for _ in range(_WANDERINGS * len(bench.knobs)):
        assert bench.best is not None
        moved = rng.random(len(bench.knobs)) < 0.6
        by = moved * rng.integers(1, 4, len(bench.knobs)) * rng.choice((-1, 1), len(bench.knobs))
        place = tuple(
            int(np.clip(at + step, 0, len(knob.values) - 1))
            for at, step, knob in zip(bench.best.place, by, bench.knobs, strict=True)
        )
        bench.trial(place)


def _polish(bench: Bench, *, reach: int) -> None:
    """Walk from the best place to better neighbours until there is none."""
    while bench.best is not None:
        start = bench.best
        for place in bench.neighbours(start.place, reach=reach):
            bench.trial(place)
        if bench.best is start:
            for place in bench.neighbours(start.place, reach=reach, pairs=True):
                bench.trial(place)
        if bench.best is start:
            return
