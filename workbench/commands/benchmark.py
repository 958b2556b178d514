"""``workbench bench``: speed, as ratios within one run: a fast or slow machine changes both sides alike.

Each row has a name, a ratio, a target and whether it is met; absolute times are shown, never judged.
"""

from __future__ import annotations

import argparse
import contextlib
import importlib
import importlib.util
import itertools
import json
import multiprocessing
import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict, dataclass
from functools import partial
from pathlib import Path
from types import ModuleType

import numpy as np

from workbench.answers.block_check import check_block
from workbench.answers.team import team_check
from workbench.answers.volume import volume_question
from workbench.answers.workers import local_cluster
from workbench.fit import fit_log, reading
from workbench.fit.speed import irreducible_work, refit_case
from workbench.gym.equipment import Room, read_room
from workbench.lifter import Lifter, read_lifter
from workbench.prescription.block import Block
from workbench.prescription.edit import Where, change
from workbench.prescription.schemes import constant_step, exercise_block
from workbench.reference.sources import data_path
from workbench.reference.toml_files import validate
from workbench.simulate import fused
from workbench.simulate.draws import LifterDraws, draw_for
from workbench.simulate.plan import Plan, make_plan
from workbench.simulate.run import simulate

__all__ = ["ROWS", "Row", "bench", "block_case", "invented_roster", "large_case", "run_benchmark", "what_if_case"]

#: The what-if of the speed target: 8 weeks x 4 sessions x 20 sets, 2,000 draws.
WEEKS, SESSIONS, SETS, DRAWS = 8, 4, 20, 2000
#: Steps that a sampler needs at least: about fifty autocorrelation times, of some forty steps each.
_STEPS_NEEDED, _STEPS_TIMED = 2000, 40
#: Lifters and draws of the rosters: for the cost of one lifter more, and for sharing the work out.
_FEW, _MANY, _FEW_DRAWS, _SHARED = 100, 1000, 20, 400
_LIFTER = ("lifters", "emre_sandoval.toml")


@dataclass(frozen=True)
class Row:
    """One line of the benchmark.

    The ratio is None where it could not be measured, and ``at_most`` says on which side of the target it should be;
    the note says what was timed, in absolute numbers, or why it was not.
    """

    name: str
    ratio: float | None
    target: float
    at_most: bool
    note: str

    @property
    def met(self) -> bool | None:
        """Whether the target is met; None where nothing was measured."""
        if self.ratio is None:
            return None
        return self.ratio <= self.target if self.at_most else self.ratio >= self.target

    def as_dict(self) -> dict[str, object]:
        """Return the row with ``met``, for JSON."""
        return {**asdict(self), "met": self.met}


def bench(arguments: argparse.Namespace) -> int:
    """Measure and print, each row as soon as it is known."""
    if arguments.growth:
        return _print_growth(as_json=arguments.json)
    if arguments.json:
        print(json.dumps([row.as_dict() for row in run_benchmark()], indent=2))
        return 0
    words = {True: "yes", False: "NO", None: "not measured"}
    print(f"{'':<42}{'ratio':>8}{'target':>18}  met")
    for row in run_benchmark():
        ratio = "" if row.ratio is None else f"{row.ratio:.2f}"
        target = f"at {'most' if row.at_most else 'least'} {row.target:.2f}"
        print(f"{row.name:<42}{ratio:>8}{target:>18}  {words[row.met]}")
        print(f"    {row.note}", flush=True)
    return 0


def _print_growth(*, as_json: bool) -> int:
    measured = importlib.import_module("workbench.commands.growth").growth()  # it takes its cases from here
    if as_json:
        print(json.dumps([asdict(one) | {"exponent": one.exponent} for one in measured], indent=2))
        return 0
    print("size        power   of what")
    for one in measured:
        print(one, flush=True)
    return 0


def run_benchmark() -> Iterator[Row]:
    """Run everything, in one run of one process, giving each row as soon as it is known."""
    for rows in ROWS:
        yield from rows()


def _seconds(work: Callable[[], object], clock: Callable[[], float] = time.perf_counter) -> float:
    start = clock()
    work()
    return clock() - start


def _by_turns(
    work: Callable[[], object], floor: Callable[[], object], *, pairs: int = 9, shortest_of: int = 3
) -> tuple[float, float, float]:
    """Time two works by turns, each the shortest of some runs: the one least disturbed by the rest of the machine.

    Returns the median ratio, which a busy spell moves little, and the shortest time of each, s of the processor.
    """

    def shortest(one: Callable[[], object]) -> float:
        return min(_seconds(one, time.process_time) for _ in range(shortest_of))

    work()
    return _compared([(shortest(work), shortest(floor)) for _ in range(pairs)])


def _compared(pairs: Sequence[tuple[float, float]]) -> tuple[float, float, float]:
    """Return the median ratio of times taken by turns, and the shortest of each, s."""
    first, second = zip(*pairs, strict=True)
    return statistics.median(a / b for a, b in pairs), min(first), min(second)


def _in_tests(name: str) -> ModuleType | None:
    """Return a module of ``tests``, which lies beside the package in a checkout and nowhere else."""
    root = Path(__file__).resolve().parents[2]
    if not (root / "tests" / f"{name.replace('.', '/')}.py").is_file():
        return None
    if str(root) not in sys.path:
        sys.path.append(str(root))
    return importlib.import_module(f"tests.{name}")


def _demo_room() -> Room:
    return read_room(data_path("demo", "rooms", "boathouse_hall.toml"))


# ---- one block ------------------------------------------------------------------------------------------------------


def what_if_case() -> tuple[Plan, LifterDraws]:
    """Build the plan and the draws of the speed target."""
    names = ("barbell bench pull", "back squat", "lat pulldown", "Romanian deadlift")
    return _case(names, weeks=WEEKS, sessions=SESSIONS, groups=1, sets=SETS // len(names))


def block_case(*, weeks: int = WEEKS, sets: int = 5) -> Plan:
    """Build the plan of a block of four exercises in each of four sessions."""
    names = ("barbell bench pull", "back squat", "lat pulldown", "Romanian deadlift")
    return _case(names, weeks=weeks, sessions=SESSIONS, groups=1, sets=sets)[0]


def large_case() -> tuple[Plan, LifterDraws]:
    """Build a block of 12 weeks x 5 sessions x 25 set groups of three sets, and its draws."""
    names = ("barbell bench pull", "back squat", "lat pulldown", "Romanian deadlift", "dumbbell curl")
    return _case(names, weeks=12, sessions=5, groups=5, sets=3)


def _case(names: Sequence[str], *, weeks: int, sessions: int, groups: int, sets: int) -> tuple[Plan, LifterDraws]:
    step = {"rule": "step", "step": 1.0}
    wave = [
        {"count": sets, "reps": 5, "percent": 65 - 2 * number, "rest_s": 120, "progression": step}
        for number in range(groups)
    ]
    slots = [{"exercise": name, "sets": wave} for name in names]
    content = [{"name": f"day {number + 1}", "exercises": slots} for number in range(sessions)]
    block = validate({"name": "speed", "weeks": weeks, "sessions": content}, Block)
    plan = make_plan(block, read_lifter(data_path("demo", *_LIFTER)), _demo_room())
    return plan, draw_for(plan, draws=DRAWS, seed=1)


def _calls_of(plan: Plan) -> Callable[[], None]:
    """Return the calls that the equations of a plan ask for.

    For one set of the default form, element by element: three decays, the logarithm of the headroom, and two logarithms
    and an exponential within the set.
    """
    numbers = np.asfortranarray(np.random.default_rng(1).uniform(0.5, 1.0, (DRAWS, plan.weeks)))

    def calls() -> None:
        for _ in range(plan.set_count):
            np.exp(numbers)
            np.exp(numbers)
            np.exp(numbers)
            np.log(numbers)
            np.log1p(numbers)
            np.log1p(numbers)
            np.expm1(numbers)

    return calls


def what_if_rows() -> list[Row]:
    """Time the what-if by arrays against its irreducible array operations, and against the scalar loop."""
    plan, draws = what_if_case()
    what_if = partial(simulate, plan, draws)
    ratio, fast, floor = _by_turns(what_if, _calls_of(plan))
    size = f"{WEEKS} weeks x {SESSIONS} sessions x {SETS} sets, {DRAWS:,} draws"
    note = f"{size}: {1e3 * fast:.1f} ms; its exp and log calls alone {1e3 * floor:.1f} ms"
    rows = [Row("what-if, by arrays / its array operations", ratio, 2.5, True, note)]
    name, oracle = "scalar loop / what-if", _in_tests("scalar_oracle")
    if oracle is None:
        return [*rows, Row(name, None, 200.0, False, "the scalar loop lies in tests/, not installed")]
    few = 20
    ratio, slow, fast = _by_turns(
        lambda: oracle.simulate_slowly(plan, draws, count=few), what_if, pairs=3, shortest_of=1
    )
    note = f"scalar loop {slow * DRAWS / few:.1f} s (from {few} of {DRAWS:,} draws), what-if {1e3 * fast:.1f} ms"
    return [*rows, Row(name, ratio * DRAWS / few, 200.0, False, note)]


def fused_rows() -> list[Row]:
    """Time the what-if in one pass over the draws, from nothing and after a change, against the same operations."""
    names = ("what-if, in one pass / its array operations", "one group changed / all array operations")
    if not fused.load():
        missing = "numba is not installed: pip install 'program-research-workbench[fast]'"
        return [Row(name, None, target, True, missing) for name, target in zip(names, (1.0, 0.7), strict=True)]
    plan, draws = what_if_case()
    calls = _calls_of(plan)
    ratio, fast, floor = _by_turns(partial(simulate, plan, draws), calls)
    note = f"{1e3 * fast:.1f} ms; its exp and log calls alone {1e3 * floor:.1f} ms"
    ratio_changed, again, _ = _by_turns(_group_changed(plan), calls)
    note_changed = f"planned, simulated and put into tables, as after a slider: {1e3 * again:.1f} ms"
    return [Row(names[0], ratio, 1.0, True, note), Row(names[1], ratio_changed, 0.7, True, note_changed)]


def _group_changed(plan: Plan) -> Callable[[], None]:
    """Return what checks a block once more with one group changed, going on from the last check, as a panel does."""
    where, loads = Where(2, 2, 1), itertools.cycle((60.0, 61.0, 62.0))
    check = check_block(plan.block, plan.lifter, plan.room, draws=DRAWS)

    def once_more() -> None:
        nonlocal check
        check = check.changed(change(plan.block, where, load=next(loads)))

    return once_more


def large_block_rows() -> list[Row]:
    """Time a large block, from nothing and after a change, against its irreducible array operations."""
    plan, draws = large_case()
    calls = _calls_of(plan)
    ratio, fast, floor = _by_turns(lambda: volume_question(simulate(plan, draws)), calls)
    ratio_changed, again, _ = _by_turns(_group_changed(plan), calls)
    note = (
        f"{plan.weeks} weeks x {len(plan.sessions)} sessions x 25 set groups, {plan.set_count} sets a week, {DRAWS:,} "
        f"draws, simulated and counted: {1e3 * fast:.0f} ms; its exp and log calls alone {1e3 * floor:.0f} ms"
    )
    note_again = f"planned, simulated and put into tables again, as after a slider: {1e3 * again:.0f} ms"
    return [
        Row("large block / its array operations", ratio, 1.5, True, note),
        Row("large block, one group changed / the same", ratio_changed, 0.7, True, note_again),
    ]


def import_rows() -> list[Row]:
    """Time ``import workbench`` against ``import numpy``, each in a fresh interpreter."""

    def seconds(modules: str) -> float:
        code = f"import time; t = time.process_time(); import {modules}; print(time.process_time() - t)"
        run = partial(subprocess.run, [sys.executable, "-c", code], check=True, capture_output=True, text=True)
        return float(run().stdout)

    ratio, both_s, numpy_s = _compared([(seconds("numpy, workbench"), seconds("numpy")) for _ in range(9)])
    note = f"numpy {1e3 * numpy_s:.0f} ms, with workbench {1e3 * both_s:.0f} ms; at most 100 ms more"
    # At most 0.1 s on top of numpy, as a ratio of the two.
    return [Row("import workbench / import numpy", ratio, (numpy_s + 0.1) / numpy_s, True, note)]


# ---- a log ----------------------------------------------------------------------------------------------------------


def refit_rows() -> list[Row]:
    """Time the refit of 300 sets against its array work, in time of the one processor that both use."""
    rows, lifter = refit_case()
    # Else a first fit would have it loaded beside the next ones, and the first time on a machine compiled for seconds.
    reading.load()
    learned = fit_log(rows, lifter)
    refit = partial(_seconds, lambda: fit_log(rows, lifter).summary(), time.thread_time)
    floor = partial(_seconds, lambda: irreducible_work(learned), time.thread_time)
    ratio, refit_s, floor_s = _compared([(refit(), floor()) for _ in range(9)])
    note = (
        f"{1e3 * refit_s:.0f} ms of one processor (wanted: under 200); root, logarithm and normal distributions of the "
        f"last pass alone {1e3 * floor_s:.0f} ms"
    )
    return [Row("refit of 300 sets / its array work", ratio, 20.0, True, note)]


def sampler_rows() -> list[Row]:
    """Time a general-purpose sampler on the same model and log against the refit."""
    name = "general-purpose sampler / refit"
    sampled, agreement = _in_tests("fit.sampled_posterior"), _in_tests("fit.test_agreement")
    if importlib.util.find_spec("emcee") is None or sampled is None or agreement is None:
        return [Row(name, None, 100.0, False, "needs emcee and the tests beside the package")]
    log, lifter = agreement.short_log(0)
    sampler = partial(sampled.sample, log, lifter, steps=_STEPS_TIMED, seed=1)
    ratio, timed, refit = _by_turns(sampler, lambda: fit_log(log, lifter).summary(), pairs=5, shortest_of=1)
    steps = _STEPS_NEEDED / _STEPS_TIMED
    note = (
        f"{len(log)} sets: refit {1e3 * refit:.0f} ms; {_STEPS_NEEDED:,} steps {steps * timed:.0f} s "
        f"(from {_STEPS_TIMED})"
    )
    return [Row(name, steps * ratio, 100.0, False, note)]


# ---- a roster -------------------------------------------------------------------------------------------------------


def invented_roster(size: int) -> list[Lifter]:
    """Return invented lifters: one of the demonstration's, weaker and stronger by turns."""
    base = read_lifter(data_path("demo", *_LIFTER))
    roster = []
    for number in range(size):
        factor = 0.6 + 0.007 * ((number * 37) % 100)
        lifts = {
            name: lift.model_copy(
                update={
                    "one_rm_kg": round(lift.one_rm * factor, 1),
                    "one_rm_lb": None,
                    "each_hand": None if lift.each_hand is None else False,
                }
            )
            for name, lift in base.lifts.items()
        }
        roster.append(base.model_copy(update={"name": f"Invented {number}", "lifts": lifts}))
    return roster


def _roster_block() -> Block:
    return exercise_block("barbell bench pull", constant_step(percent=72, sets=4, rest_s=90), weeks=4, days=(1, 4))


def roster_rows() -> list[Row]:
    """Time many lifters against a tenth of them, in processor time: linear cost gives ten."""
    check = partial(team_check, _roster_block(), room=_demo_room(), draws=_FEW_DRAWS, seed=1, mend=False)
    check_few, check_many = (partial(check, roster=invented_roster(size)) for size in (_FEW, _MANY))
    check_few()
    times = [(_seconds(check_many, time.process_time), _seconds(check_few, time.process_time)) for _ in range(3)]
    ratio, many, few = _compared(times)
    note = f"{few:.1f} s and {many:.1f} s of processor time, {_FEW_DRAWS} draws each; linear is 10"
    return [Row(f"{_MANY:,} lifters / {_FEW} lifters", ratio, 12.0, True, note)]


def cluster_rows() -> list[Row]:
    """Time one Dask worker against two on the same roster, workers started and warm."""
    name, target = "one Dask worker / two", 1.8
    if importlib.util.find_spec("distributed") is None:
        return [Row(name, None, target, False, "the extra 'cluster' is not installed")]
    roster = invented_roster(_SHARED)
    check = partial(team_check, _roster_block(), room=_demo_room(), seed=1, mend=False)
    with contextlib.ExitStack() as stack:
        addresses = [stack.enter_context(local_cluster(workers)).scheduler_address for workers in (1, 2)]
        for workers, address in enumerate(addresses, start=1):
            # Every worker has imported everything before the clock starts.
            check(roster=roster[: 40 * workers], draws=10, cluster=address)
        runs = [partial(check, roster=roster, draws=DRAWS, cluster=address) for address in addresses]
        ratio, one_s, two_s = _compared([(_seconds(runs[0]), _seconds(runs[1])) for _ in range(3)])
    plain = _plain_gain(roster)
    other = f"two processes without Dask reach {plain:.2f} on this machine as busy as it is now"
    note = f"{_SHARED} lifters, {DRAWS:,} draws: {one_s:.1f} s and {two_s:.1f} s; {other}"
    return [
        Row(name, ratio, target, False, note),
        Row("gain by Dask / gain without", ratio / plain, 0.9, False, other),
    ]


def _plain_gain(roster: list[Lifter]) -> float:
    """How much faster two plain processes are than one, on the same work: what the machine has to give."""
    block, room = _roster_block(), _demo_room()
    halves = [roster[: _SHARED // 2], roster[_SHARED // 2 :]]
    with ProcessPoolExecutor(2, mp_context=multiprocessing.get_context("spawn")) as pool:
        list(pool.map(_check_all, [block] * 4, [room] * 4, [roster[:20]] * 4))  # both have imported everything

        def one_by_one() -> None:
            for half in halves:
                pool.submit(_check_all, block, room, half).result()

        def at_once() -> None:
            list(pool.map(_check_all, [block] * 2, [room] * 2, halves))

        return _compared([(_seconds(one_by_one), _seconds(at_once)) for _ in range(3)])[0]


def _check_all(block: Block, room: Room, lifters: list[Lifter]) -> None:
    team_check(block, lifters, room, draws=DRAWS, seed=1, mend=False)


#: What gives rows, in the order in which it runs.
ROWS: tuple[Callable[[], list[Row]], ...] = (
    what_if_rows,
    fused_rows,
    large_block_rows,
    import_rows,
    refit_rows,
    sampler_rows,
    roster_rows,
    cluster_rows,
)
