"""What each kind of work costs, week by week: processor time, memory and bytes, and how they grow."""

from __future__ import annotations

import resource
import time
from collections import defaultdict
from collections.abc import Iterator
from contextlib import contextmanager

import numpy as np

__all__ = ["Costs"]


class Costs:
    """Numbers of a year, by kind of work and week.

    Attributes
    ----------
    week : int
        Counted from 1, set from outside.
    """

    def __init__(self) -> None:
        self.week = 1
        self._spent: dict[str, dict[int, list[float]]] = defaultdict(lambda: defaultdict(list))

    @contextmanager
    def of(self, kind: str) -> Iterator[None]:
        """Count the processor time of what is done inside, s."""
        before = time.process_time()
        yield
        self.note(f"{kind}, s", time.process_time() - before)

    def note(self, kind: str, number: float) -> None:
        """Count one number of this week."""
        self._spent[kind][self.week].append(number)

    def note_memory(self) -> None:
        """Note the most memory that this process has had until now."""
        self.note("peak memory, MB", resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0)

    def weeks_of(self, kind: str) -> tuple[np.ndarray, np.ndarray]:
        """Return weeks in which there was work of a kind, and the median of a piece of it in each."""
        weeks = sorted(self._spent[kind])
        return np.array(weeks, dtype=float), np.array([np.median(self._spent[kind][week]) for week in weeks])

    def growth(self, kind: str) -> float:
        """Return the power of the week with which a piece of work grows; NaN where it was done in few weeks."""
        weeks, each = self.weeks_of(kind)
        later = (weeks > 2) & (each > 0)
        if later.sum() < 4:
            return float("nan")
        return float(np.polyfit(np.log(weeks[later]), np.log(each[later]), 1)[0])

    def lines(self, weeks: int) -> list[str]:
        """Say of each kind the mean of a piece in three quarters of the year, the exponent, and all together."""
        said = [f"{'one piece of':<42}{'first':>10}{'middle':>10}{'last':>10}{'exponent':>10}{'pieces':>8}{'all':>10}"]
        for kind, spent in self._spent.items():
            parts = [
                [one for week, pieces in spent.items() if low < (week - 0.5) / weeks <= high for one in pieces]
                for low, high in ((0.0, 0.25), (0.375, 0.625), (0.75, 1.0))
            ]
            means = "".join(f"{np.mean(part) if part else float('nan'):>10.3f}" for part in parts)
            every = [one for pieces in spent.values() for one in pieces]
            total = f"{sum(every):>10.1f}" if kind.endswith(", s") else ""
            said.append(f"{kind:<42}{means}{self.growth(kind):>10.2f}{len(every):>8}{total}")
        return said
