"""What happened in one session over all draws: its sets, and what they come to together."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cached_property
from itertools import groupby
from typing import Final, Literal

import numpy as np

from workbench.quantities import FloatArray
from workbench.simulate import fused
from workbench.simulate.plan import PlannedSession
from workbench.simulate.set_outcome import SetOutcome

__all__ = ["INTERVAL", "SessionOutcome", "interval_by_week", "interval_columns"]

#: Quantiles of the 80 % interval that every table shows, with the median.
INTERVAL: Final = (0.1, 0.5, 0.9)


def interval_columns(
    values: FloatArray, name: str = "reps", *, method: Literal["linear", "inverted_cdf"] = "linear"
) -> dict[str, FloatArray]:
    """10, 50 and 90 % over the draws of values of shape (draws, rows), as columns ``name_p10``, _p50 and _p90."""
    quantiles = np.quantile(values, INTERVAL, axis=0, method=method)
    return {f"{name}_p{percent}": row for percent, row in zip((10, 50, 90), quantiles, strict=True)}


def interval_by_week(values: FloatArray) -> FloatArray:
    """10, 50 and 90 % over the draws of values of shape (draws, weeks), shape (3, weeks)."""
    with np.errstate(invalid="ignore"):  # infinite where a week has no prescribed reps
        return fused.quantiles(np.ascontiguousarray(values.T), INTERVAL)


@dataclass(frozen=True, eq=False)
class SessionOutcome:
    """What happened in one session over all draws: the outcomes of its sets, in order of time.

    ``planned``: the session as planned, where no rule of the coach changed a set; ``worked``: its reps in one piece,
    and what its exercises had after their last sets; ``intervals``: those of sets, by their index, that were taken
    over. What is asked of all sets is counted in one pass, where that is compiled.
    """

    sets: tuple[SetOutcome, ...]
    planned: PlannedSession | None = field(default=None, repr=False)
    worked: fused.Worked | None = field(default=None, repr=False)
    intervals: dict[int, FloatArray] = field(default_factory=dict, repr=False)

    def __getitem__(self, index: int) -> SetOutcome:
        """Return the set at an index."""
        return self.sets[index]

    def __len__(self) -> int:
        """Return the number of sets."""
        return len(self.sets)

    def __iter__(self) -> Iterator[SetOutcome]:
        """Go through the sets."""
        return iter(self.sets)

    @cached_property
    def _counted(self) -> tuple[fused.Counted, FloatArray] | None:
        """What is counted in one pass, and the fewest reps to spare, shape (weeks, draws)."""
        if self.worked is None or self.planned is None or not fused.loaded():
            return None
        lowest = np.full(self.worked.reps.shape[1:], np.inf)
        return fused.counted(self.worked.reps, self.planned.arrays, lowest), lowest

    @property
    def draws(self) -> int:
        """Number of draws."""
        return int(self.sets[0].available.shape[0])

    @property
    def _weeks(self) -> int:
        return int(self.sets[0].planned.load_kg.size)

    @cached_property
    def made(self) -> np.ndarray:
        """Whether all reps of the session were made, shape (draws, weeks), bool."""
        if self._counted is not None:
            return np.asarray(self._counted[1].T >= 0.0)
        return np.asarray(np.logical_and.reduce([one.made for one in self.sets]))

    @cached_property
    def chance_by_week(self) -> FloatArray:
        """Chance that all reps of the session are made, shape (weeks,)."""
        return np.asarray(self.made.mean(axis=0))

    @cached_property
    def available_interval(self) -> FloatArray:
        """10, 50 and 90 % of the reps available in each set, where it is done, shape (3, sets, weeks), [reps]."""
        found = np.empty((len(INTERVAL), len(self.sets), self._weeks))
        for known, numbers in groupby(range(len(self.sets)), key=self.intervals.__contains__):
            run = list(numbers)
            if known:
                found[:, run] = np.stack([self.intervals[number] for number in run], axis=1)
            else:
                found[:, run] = fused.quantiles(self._available(run[0], run[-1] + 1), INTERVAL)
        for number, one in enumerate(self.sets):
            if one.left_out.any():
                some = ~one.left_out.all(axis=0)
                done = np.where(one.left_out, np.nan, one.available)[:, some]
                found[:, number, some] = np.nanquantile(done, INTERVAL, axis=0)
        return found

    def _available(self, first: int, last: int) -> FloatArray:
        """Reps available in some of the sets, shape (sets, weeks, draws)."""
        if self.worked is not None:
            return self.worked.reps[first:last]
        return np.stack([np.broadcast_to(one.available, (self.draws, self._weeks)).T for one in self.sets[first:last]])

    @cached_property
    def chances(self) -> FloatArray:
        """Chance that all reps of each set are made, shape (sets, weeks)."""
        if self._counted is not None:
            return self._counted[0].made / self.draws
        return np.stack([one.made.mean(axis=0) for one in self.sets])

    @cached_property
    def expected_missed(self) -> FloatArray:
        """Prescribed reps of each set that are missed, in the mean of the draws, shape (sets, weeks), [reps]."""
        return self.missed_in_all / self.draws

    @cached_property
    def missed_in_all(self) -> FloatArray:
        """Prescribed reps of each set that are missed, summed over the draws, shape (sets, weeks), [reps]."""
        if self._counted is not None:
            return self._counted[0].missed
        missed = [one.misses for one in self.sets]
        return np.stack([np.bincount(week, short, minlength=self._weeks) for _, week, short in missed])

    @cached_property
    def done_in_all(self) -> FloatArray:
        """Whole reps done in each set, summed over the draws, shape (sets, weeks), [reps]."""
        if self._counted is not None:
            return self._counted[0].done
        return np.stack([one.reps_done.sum(axis=0) for one in self.sets])

    @cached_property
    def lowest_reserve(self) -> FloatArray:
        """Fewest reps in reserve among the sets with prescribed reps, shape (draws, weeks); infinite without any."""
        if self._counted is not None:
            return self._counted[1].T
        lowest = np.full_like(self.sets[0].available, np.inf)
        for one in self.sets:
            counted = one.judged
            spare = one.available - one.planned.reps_low
            np.minimum(lowest, spare if counted.all() else np.where(counted, spare, np.inf), out=lowest)
        return lowest

    @cached_property
    def reserve_interval(self) -> FloatArray:
        """10, 50 and 90 % of the fewest reps in reserve, shape (3, weeks)."""
        return interval_by_week(self.lowest_reserve)
