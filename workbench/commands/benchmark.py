"""Speed, measured as ratios within one run: a fast or slow machine changes both sides alike.

Each row has a name, a ratio, a target and whether it is met; absolute times are shown, never judged. Other parts of
the workbench add rows by a function in a module of their own, listed in `ROWS`.
"""

from __future__ import annotations

import importlib
import importlib.util
import itertools
import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from types import ModuleType

import numpy as np

from workbench.answers.block_check import check_block
from workbench.answers.volume import volume_question
from workbench.gym.equipment import read_room
from workbench.lifter import read_lifter
from workbench.prescription.block import Block
from workbench.prescription.edit import Where, change
from workbench.reference.sources import data_path
from workbench.reference.toml_files import validate
from workbench.simulate.draws import LifterDraws, draw_for
from workbench.simulate.plan import Plan, make_plan, plan_changed
from workbench.simulate.run import simulate

__all__ = ["ROWS", "Row", "best_time", "large_case", "run_benchmark", "what_if_case"]

#: The what-if of the speed target: 8 weeks x 4 sessions x 20 sets, 2,000 draws.
WEEKS, SESSIONS, SETS, DRAWS = 8, 4, 20, 2000


@dataclass(frozen=True)
class Row:
    """One line of the benchmark.

    Attributes
    ----------
    name : str
    ratio : float or None
        None where it could not be measured; ``note`` says why.
    target : float
    at_most : bool
        Whether the ratio should be at most (True) or at least (False) the target.
    note : str
        What was timed, in absolute numbers.
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


def best_time(work: Callable[[], object], *, repeats: int = 9) -> float:
    """Shortest of several runs, s: the one least disturbed by the rest of the machine."""
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return min(times)


def what_if_case() -> tuple[Plan, LifterDraws]:
    """Build the plan and the draws of the speed target."""
    names = ("barbell bench pull", "back squat", "lat pulldown", "Romanian deadlift")
    return _case(names, weeks=WEEKS, sessions=SESSIONS, groups=1, sets=SETS // len(names))


def large_case() -> tuple[Plan, LifterDraws]:
    """Build a block of 12 weeks x 5 sessions x 25 set groups of three sets, and its draws."""
    names = ("barbell bench pull", "back squat", "lat pulldown", "Romanian deadlift", "dumbbell curl")
    return _case(names, weeks=12, sessions=5, groups=5, sets=3)


def _case(names: Sequence[str], *, weeks: int, sessions: int, groups: int, sets: int) -> tuple[Plan, LifterDraws]:
    demo = data_path("demo")
    lifter = read_lifter(demo / "lifters" / "emre_sandoval.toml")
    room = read_room(demo / "rooms" / "boathouse_hall.toml")
    step = {"rule": "step", "step": 1.0}
    wave = [
        {"count": sets, "reps": 5, "percent": 65 - 2 * number, "rest_s": 120, "progression": step}
        for number in range(groups)
    ]
    slots = [{"exercise": name, "sets": wave} for name in names]
    content = [{"name": f"day {number + 1}", "exercises": slots} for number in range(sessions)]
    block = validate({"name": "speed", "weeks": weeks, "sessions": content}, Block)
    plan = make_plan(block, lifter, room)
    return plan, draw_for(plan, draws=DRAWS, seed=1)


def _beside_calls(work: Callable[[], object], plan: Plan) -> tuple[float, float, float]:
    """Time work against the calls that its equations ask for; the median ratio and the two shortest times, s.

    For one set of the default form, element by element: three decays, the logarithm of the headroom, and two logarithms
    and an exponential within the set.
    """
    numbers = np.asfortranarray(np.random.default_rng(1).uniform(0.5, 1.0, (DRAWS, plan.weeks)))

    def irreducible() -> None:
        for _ in range(plan.set_count):
            np.exp(numbers)
            np.exp(numbers)
            np.exp(numbers)
            np.log(numbers)
            np.log1p(numbers)
            np.log1p(numbers)
            np.expm1(numbers)

    work()
    pairs = [(best_time(work, repeats=3), best_time(irreducible, repeats=3)) for _ in range(5)]
    ratio = statistics.median(pair[0] / pair[1] for pair in pairs)
    return ratio, min(pair[0] for pair in pairs), min(pair[1] for pair in pairs)


def what_if_rows() -> list[Row]:
    """Time the what-if against its irreducible array operations, and against the scalar loop."""
    plan, draws = what_if_case()
    ratio, fast, floor = _beside_calls(lambda: simulate(plan, draws), plan)
    size = f"{WEEKS} weeks x {SESSIONS} sessions x {SETS} sets, {DRAWS:,} draws"
    rows = [
        Row(
            "what-if / its array operations",
            ratio,
            1.5,
            True,
            f"{size}: {1e3 * fast:.1f} ms; its exp and log calls alone {1e3 * floor:.1f} ms",
        )
    ]
    again, changed = _group_changed(plan, draws)
    rows.append(
        Row(
            "one group changed / all array operations",
            changed / floor,
            1.5,
            True,
            f"the same block simulated again after a change in one session: {1e3 * changed:.1f} ms; planned, simulated "
            f"and put into tables, as after a slider: {1e3 * again:.1f} ms",
        )
    )
    oracle = _oracle()
    if oracle is None:
        rows.append(Row("scalar loop / what-if", None, 200.0, False, "the scalar loop lies in tests/, not installed"))
        return rows
    few = 20
    start = time.perf_counter()
    oracle.simulate_slowly(plan, draws, count=few)
    slow = (time.perf_counter() - start) * DRAWS / few
    rows.append(
        Row(
            "scalar loop / what-if",
            slow / fast,
            200.0,
            False,
            f"scalar loop {slow:.1f} s (from {few} of {DRAWS:,} draws), what-if {1e3 * fast:.1f} ms",
        )
    )
    return rows


def _group_changed(plan: Plan, draws: LifterDraws) -> tuple[float, float]:
    """Time a whole new check of a block with one group changed, and its simulation alone, s."""
    where = Where(2, 2, 1)
    check = check_block(plan.block, plan.lifter, plan.room, draws=DRAWS)
    loads = itertools.cycle((60.0, 61.0, 62.0))
    again = best_time(lambda: check.changed(change(plan.block, where, load=next(loads))))
    other, before = plan_changed(plan, change(plan.block, where, load=60.0)), simulate(plan, draws)
    return again, best_time(lambda: simulate(other, draws, before=before), repeats=15)


def large_block_rows() -> list[Row]:
    """Time a large block, from nothing and after a change, against its irreducible array operations."""
    plan, draws = large_case()
    ratio, fast, floor = _beside_calls(lambda: volume_question(simulate(plan, draws)), plan)
    again, _ = _group_changed(plan, draws)
    size = f"{plan.weeks} weeks x {len(plan.sessions)} sessions x 25 set groups, {plan.set_count} sets a week"
    return [
        Row(
            "large block / its array operations",
            ratio,
            1.5,
            True,
            f"{size}, {DRAWS:,} draws, simulated and counted: {1e3 * fast:.0f} ms; its exp and log calls alone "
            f"{1e3 * floor:.0f} ms",
        ),
        Row(
            "large block, one group changed / the same",
            again / floor,
            1.5,
            True,
            f"planned, simulated and put into tables again, as after a slider: {1e3 * again:.0f} ms",
        ),
    ]


def import_rows() -> list[Row]:
    """Time ``import workbench`` against ``import numpy``, each in a fresh interpreter."""

    def seconds(modules: str) -> float:
        code = f"import time; t = time.perf_counter(); import {modules}; print(time.perf_counter() - t)"
        return min(
            float(subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True).stdout)
            for _ in range(5)
        )

    numpy_s, both_s = seconds("numpy"), seconds("numpy, workbench")
    # At most 0.1 s on top of numpy, as a ratio of the two.
    return [
        Row(
            "import workbench / import numpy",
            both_s / numpy_s,
            (numpy_s + 0.1) / numpy_s,
            True,
            f"numpy {1e3 * numpy_s:.0f} ms, with workbench {1e3 * both_s:.0f} ms; at most 100 ms more",
        )
    ]


#: Modules and functions that give rows, in the order in which they run.
ROWS = (
    ("workbench.commands.benchmark", "what_if_rows"),
    ("workbench.commands.benchmark", "large_block_rows"),
    ("workbench.commands.benchmark", "import_rows"),
    ("workbench.commands.benchmark_fit", "refit_rows"),
    ("workbench.commands.benchmark_fit", "sampler_rows"),
    ("workbench.commands.benchmark_roster", "roster_rows"),
    ("workbench.commands.benchmark_roster", "cluster_rows"),
)


def run_benchmark() -> Iterator[Row]:
    """Run everything, in one run of one process, giving each row as soon as it is known."""
    for module, function in ROWS:
        yield from getattr(importlib.import_module(module), function)()


def _oracle() -> ModuleType | None:
    path = Path(__file__).resolve().parents[2] / "tests" / "scalar_oracle.py"
    if not path.is_file():
        return None
    spec = importlib.util.spec_from_file_location("scalar_oracle", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module
