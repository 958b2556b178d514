"""The days that fit what was done of a session: drawn from what is possible, weighted, moved where few of them fit.

The possible lifters and days of the forecast are weighted by how well they explain the sets done. Where so few of them
fit that the rest of the day would hang on a handful, those that fit best are moved: each takes steps among the possible
days, of a kind that leaves these as likely as they are, and stays where it came to as often as that explains the sets
done better (preconditioned Crank-Nicolson steps, Cotter et al. 2013, doi:10.1214/13-STS421, while the sets done come to
count more and more).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from workbench.answers.session_under_way import Choice, Day, Forecast, Read
from workbench.fit.settings import FitSettings
from workbench.quantities import FloatArray
from workbench.simulate.draws import LifterDraws, draw_lifter
from workbench.simulate.plan import Plan

__all__ = ["Pools", "RestOfDay", "rest_of_day"]

#: Possible days drawn at a time, and how often at most where few of them fit what was done.
_POOL: Final = 10_000
_MOST_POOLS: Final = 8
#: Effective draws from which no more are drawn, and below which those that fit are moved; of those drawn at a time.
_ENOUGH: Final = 0.1
_FEW: Final = 0.03
#: Steps of every day before the sets done count more, how often they come to count more, and the first size of a step.
_STEPS: Final = 3
_MOST_STAGES: Final = 12
_FIRST_STEP: Final = 0.4
#: How finely it is found how much may count.
_HALVINGS: Final = 10
#: Part of the days that a step should take along; the next one is shorter where it took fewer, else longer.
_TAKEN: Final = 0.3


class _Numbers:
    """What a random generator gave for some draws: standard normal numbers, and numbers of rows; in order.

    Of each array the axis counts the draws: the first, or the last behind sessions and weeks.
    """

    def __init__(self, given: Sequence[np.ndarray], axes: Sequence[int]) -> None:
        self.given, self.axes = given, axes

    @classmethod
    def of(cls, count: int, given: Sequence[np.ndarray]) -> _Numbers:
        """Return numbers for so many draws, more than there are of anything else."""
        return cls(given, [0 if one.shape[0] == count else one.ndim - 1 for one in given])

    @property
    def count(self) -> int:
        """Number of draws."""
        return int(self.given[0].shape[self.axes[0]])

    def taken(self, rows: np.ndarray) -> _Numbers:
        """Return the numbers of some draws, by their index; one may come again."""
        given = [np.take(one, rows, axis=axis) for one, axis in zip(self.given, self.axes, strict=True)]
        return _Numbers(given, self.axes)

    @staticmethod
    def joined(parts: Sequence[_Numbers]) -> _Numbers:
        """Return the numbers of several for the same arrays, one after the other."""
        each = zip(*(one.given for one in parts), strict=True)
        axes = parts[0].axes
        return _Numbers([np.concatenate(values, axis=axis) for values, axis in zip(each, axes, strict=True)], axes)

    def moved(self, step: float, rng: np.random.Generator) -> _Numbers:
        """Move every normal number by a step of 0 to 1, and draw some of the rows anew: both stay as likely."""
        given = []
        for one in self.given:
            if one.dtype.kind == "f":
                given.append(np.sqrt(1.0 - step**2) * one + step * rng.standard_normal(one.shape))
            else:  # as often as a normal number is moved by as much as it varies
                given.append(np.where(rng.random(one.shape) < step**2, rng.permutation(one), one))
        return _Numbers(given, self.axes)


class _Recorded:
    """A random generator, and its children, that keep what they give; or give again what is kept."""

    def __init__(self, rng: np.random.Generator | None, kept: list[np.ndarray], again: Iterator[np.ndarray]) -> None:
        self._rng, self._kept, self._again = rng, kept, again

    def spawn(self, count: int) -> list[_Recorded]:
        """Return so many children."""
        children = [None] * count if self._rng is None else self._rng.spawn(count)
        return [_Recorded(child, self._kept, self._again) for child in children]

    def standard_normal(self, size: Any) -> np.ndarray:
        """Return standard normal numbers."""
        return self._give("standard_normal", size)

    def integers(self, low: int, high: int, size: Any) -> np.ndarray:
        """Return whole numbers, the highest left out."""
        return self._give("integers", low, high, size)

    def _give(self, kind: str, *asked: Any) -> np.ndarray:
        if self._rng is None:
            return next(self._again)
        self._kept.append(np.asarray(getattr(self._rng, kind)(*asked)))
        return self._kept[-1]


class Pools:
    """Possible days of a session, drawn some at a time as they are asked for, and kept."""

    def __init__(self, plan: Plan, seed: int, *, size: int = _POOL) -> None:
        self.plan, self.seed, self.size = plan, seed, size
        self._drawn: list[tuple[LifterDraws, _Numbers]] = []
        self._read: dict[int, Read] = {}

    def _draw(self, count: int, rng: Any) -> LifterDraws:
        plan = self.plan
        size: dict[str, Any] = {"weeks": 1, "sessions": 1, "sets": 0, "draws": count}
        models: dict[str, Any] = {"form": plan.form, "curve": plan.curve, "catalogue": plan.catalogue}
        return draw_lifter(plan.lifter, plan.exercises, rng=rng, **size, **models)

    def again(self, numbers: _Numbers) -> LifterDraws:
        """Return the days that some numbers stand for."""
        return self._draw(numbers.count, _Recorded(None, [], iter(numbers.given)))

    def _pool(self, number: int) -> tuple[LifterDraws, _Numbers]:
        if number == len(self._drawn):
            kept: list[np.ndarray] = []
            draws = self._draw(self.size, _Recorded(np.random.default_rng([self.seed, number]), kept, iter(())))
            self._drawn.append((draws, _Numbers.of(self.size, kept)))
        return self._drawn[number]

    def read(self, day: Day) -> FloatArray:
        """Return the log of how well possible days explain the sets done, of more of them while few fit."""
        logs: list[FloatArray] = []
        for number in range(_MOST_POOLS):
            draws, _ = self._pool(number)
            self._read[number] = day.read(draws, self._read.get(number))
            logs.append(self._read[number].log_probability)
            if effective(_weights(np.concatenate(logs))) >= _ENOUGH * self.size:
                break
        return np.concatenate(logs)

    def taken(self, rows: np.ndarray) -> LifterDraws:
        """Return some of the days, by their rising index among all that were read."""
        return LifterDraws.joined([draws.taken(inside) for (draws, _), inside in self._by_pool(rows)])

    def numbers(self, rows: np.ndarray) -> _Numbers:
        """Return what some of the days were drawn from, by their rising index."""
        return _Numbers.joined([numbers.taken(inside) for (_, numbers), inside in self._by_pool(rows)])

    def _by_pool(self, rows: np.ndarray) -> list[tuple[tuple[LifterDraws, _Numbers], np.ndarray]]:
        pools = [rows[rows // self.size == number] - number * self.size for number in range(len(self._drawn))]
        return [(drawn, inside) for drawn, inside in zip(self._drawn, pools, strict=True) if inside.size]


def effective(weight: FloatArray) -> float:
    """How many equally likely draws weighted ones are worth, >= 1; the weights sum to 1."""
    return float(1.0 / np.sum(weight**2))


def _weights(log_weight: FloatArray) -> FloatArray:
    weight = np.exp(log_weight - log_weight.max())
    return np.asarray(weight / weight.sum())


def _systematic(weight: FloatArray, count: int, rng: np.random.Generator) -> np.ndarray:
    """Return rows drawn by weight: each as often as its weight asks for, to within one."""
    places = (np.arange(count) + rng.random()) / count
    return np.minimum(np.searchsorted(np.cumsum(weight), places), weight.size - 1)


def _days_that_fit(day: Day, pools: Pools, log_weight: FloatArray, count: int, rng: np.random.Generator) -> LifterDraws:
    """Draw days by how well they explain the sets done; where few of the possible ones do, move those that do."""
    part = _part_that_counts(log_weight, 0.0, _FEW * pools.size)
    rows = _systematic(_weights(part * log_weight), count, rng)
    if part == 1.0:
        return pools.taken(rows)
    numbers, logs, step = pools.numbers(rows), log_weight[rows], _FIRST_STEP
    draws = pools.again(numbers)
    for stage in range(_MOST_STAGES):
        for _ in range(_STEPS):
            moved = numbers.moved(step, rng)
            there = pools.again(moved)
            logs_there = day.read(there).log_probability
            takes = np.log(rng.random(count)) < part * (logs_there - logs)
            chosen = np.arange(count) + count * takes
            numbers, logs = _Numbers.joined([numbers, moved]).taken(chosen), np.where(takes, logs_there, logs)
            draws = LifterDraws.joined([draws, there]).taken(chosen)
            step = min(step * np.exp(takes.mean() - _TAKEN), 1.0)
        if part == 1.0:
            break
        last = stage == _MOST_STAGES - 2
        more = 1.0 if last else _part_that_counts(logs, part, 0.5 * count)
        rows = _systematic(_weights((more - part) * logs), count, rng)
        numbers, logs, draws, part = numbers.taken(rows), logs[rows], draws.taken(rows), more
    return draws


def _part_that_counts(log_weight: FloatArray, counted: float, enough: float) -> float:
    """Return how much of the log weights can count, from what is counted already up to 1, with enough effective."""
    low, high = counted, 1.0
    if effective(_weights((1.0 - counted) * log_weight)) >= enough:
        return 1.0
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        keeps = effective(_weights((middle - counted) * log_weight)) >= enough
        low, high = (middle, high) if keeps else (low, middle)
    return low


@dataclass(frozen=True)
class RestOfDay:
    """The sets to come, with the planned loads and with those chosen, on days that fit what was done."""

    as_planned: list[Forecast]
    as_today: list[Forecast]
    draws: LifterDraws
    effective_draws: float
    mistakes: float


def rest_of_day(day: Day, pools: Pools, choice: Choice, draws: int) -> RestOfDay:
    """Draw days that fit the sets done, and do the sets to come on them."""
    log_weight = pools.read(day)
    rng = np.random.default_rng([pools.seed, _MOST_POOLS])
    chosen = _days_that_fit(day, pools, log_weight, draws, rng)
    noise = np.exp(FitSettings().set_log_sd * rng.standard_normal((len(day.to_come), draws, 1)))
    read = day.read(chosen)
    return RestOfDay(
        as_planned=list(day.run_on(read.shared.copy(), chosen, noise)),
        as_today=list(day.run_on(read.shared, chosen, noise, choice)),
        draws=chosen,
        effective_draws=effective(_weights(log_weight)),
        mistakes=float(read.mistaken.mean()),
    )
