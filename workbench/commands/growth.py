"""``workbench bench --growth``: how the cost of a question grows with each of its sizes, as exponents.

Cost goes as a size to the power of its exponent: 1 is in proportion, 0 is not at all. Fitted to the processor time of
four sizes, each twice the one before; the smaller of them hold what every call costs, so that an exponent below 1
rises towards it.
"""

from __future__ import annotations

import itertools
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np

from workbench.answers.block_check import check_block
from workbench.answers.team import team_check
from workbench.commands.benchmark import block_case, invented_roster
from workbench.fit import fit_log
from workbench.fit.speed import refit_case
from workbench.gym.equipment import Room
from workbench.gym.equipment.loads import LoadTable
from workbench.reference.toml_files import validate
from workbench.simulate.plan import Plan

__all__ = ["Growth", "exponent", "growth"]

#: Doublings from the smallest to the largest size, and runs of each, of which the shortest counts.
_DOUBLINGS, _RUNS = 3, 3


@dataclass(frozen=True)
class Growth:
    """How one size makes a question dearer.

    Attributes
    ----------
    size, of : str
        What grows, and of which question.
    sizes : tuple of int
    seconds : tuple of float
        Processor time at each size.
    """

    size: str
    of: str
    sizes: tuple[int, ...]
    seconds: tuple[float, ...]

    @property
    def exponent(self) -> float:
        """Power of the size that the cost goes with, [1]."""
        return exponent(self.sizes, self.seconds)

    def __str__(self) -> str:
        """Return the row of a table."""
        costs = ", ".join(f"{size:,}: {1e3 * cost:.3g}" for size, cost in zip(self.sizes, self.seconds, strict=True))
        return f"{self.size:<12}{self.exponent:>6.2f}   {self.of}; ms at {costs}"


def exponent(sizes: Sequence[float], costs: Sequence[float]) -> float:
    """Return the power of the size that a cost goes with, by least squares of the logs.

    >>> exponent([10, 20, 40], [3.0, 12.0, 48.0])
    2.0
    """
    slope = np.polyfit(np.log(sizes), np.log(costs), 1)[0]
    return round(float(slope), 9) + 0.0  # no minus before a zero


def growth() -> Iterator[Growth]:
    """Measure every size, giving each as soon as it is known."""
    check = "a block checked from nothing"
    yield _measured("draws", check, 500, lambda size: partial(_check, block_case(), draws=size))
    yield _measured("sets", check, 2, lambda size: partial(_check, block_case(sets=size)))
    yield _measured("weeks", check, 4, lambda size: partial(_check, block_case(weeks=size)))
    yield _measured("lifters", "a roster checked, 20 draws each", 10, _roster)
    yield _measured("log length", "a log fitted, in sessions of 25 sets", 10, _log)
    yield _plates()


def _measured(size: str, of: str, smallest: int, case: Callable[[int], Callable[[], object]]) -> Growth:
    sizes = _doubled(smallest)
    return Growth(size, of, sizes, tuple(_shortest(case(number)) for number in sizes))


def _doubled(smallest: int) -> tuple[int, ...]:
    return tuple(smallest * 2**doubling for doubling in range(_DOUBLINGS + 1))


def _shortest(work: Callable[[], object]) -> float:
    def seconds() -> float:
        start = time.process_time()
        work()
        return time.process_time() - start

    return min(seconds() for _ in range(_RUNS))


def _check(plan: Plan, draws: int = 2000) -> None:
    check_block(plan.block, plan.lifter, plan.room, draws=draws)


def _roster(size: int) -> Callable[[], object]:
    plan = block_case(sets=2)
    return partial(team_check, plan.block, invented_roster(size), plan.room, draws=20, mend=False)


def _log(size: int) -> Callable[[], object]:
    rows, lifter = refit_case(size)
    return lambda: fit_log(rows, lifter).summary()


def _plates() -> Growth:
    """Measure what a load costs that a bar can have: their number goes as the third power of the kinds of plates."""
    kinds, stocks = _doubled(3), itertools.count()

    def table(number: int) -> LoadTable:
        return _loads_of(number, next(stocks))

    loads = tuple(len(table(number)) for number in kinds)
    seconds = tuple(_shortest(partial(table, number)) for number in kinds)
    return Growth("loads", f"every load of a bar, in {kinds[0]} to {kinds[-1]} kinds of plates", loads, seconds)


def _loads_of(kinds: int, stock: int) -> LoadTable:
    # Masses of which few sums fall together; by a gram of its own in every stock, as the sums of the last are kept.
    plates = [{"mass": round(0.5 + 0.37 * number + 0.001 * stock, 3), "pairs": 2} for number in range(kinds)]
    bar = {"name": "bar", "kind": "barbell", "bar": 20}
    room = validate({"name": "plates", "unit": "kg", "plates": plates, "equipment": [bar]}, Room)
    return room.loads_for(room.catalogue.exercise("bench press"), None)
