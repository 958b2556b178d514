"""What the spread of a simulated block comes from: shares of the variance of reps and of chances, by source.

Each draw has a partner in the other half. The block is run on the draws as they are, and once for each source with
that source taken from the partners. Two runs that have some sources in common, and no others, are as alike as these
sources make them: so one run a source gives every share, alone, in pairs and in all (Saltelli 2002,
doi 10.1016/S0010-4655(02)00280-1).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pandas as pd

from workbench.prescription.block import WHOLE_WEEK
from workbench.quantities import FloatArray
from workbench.simulate.run import Outcome, SessionOutcome, run_session
from workbench.simulate.sources import LUCK, SOURCES, exchanged, frozen, halves

__all__ = ["END", "PLACE", "WHOLE_BLOCK", "Shares", "Spread", "shares_of", "spread_of"]

WHOLE_BLOCK: Final = "whole block"
#: As easily tired as one lifter in ten, where endurance and recovery count alike: 1.2816 sd of their sum is
#: 1.2816 / 2 ** 0.5 = 0.906 sd of each, beyond which 18.25 in 100 lie.
END: Final = 0.1825
#: Columns of a place; those that do not apply are 0 or empty.
PLACE: Final = ("level", "week", "session_number", "session", "slot", "exercise", "group", "set", "drop")
#: Draws on the rarer side of a chance below which there is too little to split.
_FEWEST: Final = 20
#: Variances below this are rounding.
_NOTHING: Final = 1e-12


@dataclass(frozen=True)
class Shares:
    """How the variance of some values splits; NaN where they do not vary, or hardly ever.

    Attributes
    ----------
    alone : array, shape (sources, values), [1]
        Share that a source causes by itself.
    total : array, shape (sources, values), [1]
        Share in which it has a part: by itself and together with others.
    pairs : array, shape (sources, sources, values), [1]
        Share that two sources cause together, beyond what each does alone; 0 on the diagonal.
    unknown : array, shape (values,), [1]
        Share that would go if the lifter were known: all but the luck of the day and of the set.
    luck : array, shape (values,), [1]
        Share that the luck of day and set causes by itself.
    """

    alone: FloatArray
    total: FloatArray
    pairs: FloatArray
    unknown: FloatArray
    luck: FloatArray

    @property
    def share(self) -> FloatArray:
        """Shares that add up to 1, shape (sources, values): what a source does alone, and half of what it shares.

        Luck as a whole has what it does alone, and half of what it shares with the lifter: that is right also where
        what is not known of a lifter goes together, as 1RM and endurance after a log. Sources share their part's.
        """
        middle = np.maximum(0.5 * (self.alone + self.total), 0.0)
        count = len(middle) - len(LUCK)
        of_lifter, of_luck = middle[:count].sum(axis=0), middle[count:].sum(axis=0)
        luck = np.clip(0.5 * (self.luck + 1.0 - self.unknown), 0.0, 1.0)
        luck = np.where(of_luck == 0.0, 0.0, np.where(of_lifter == 0.0, 1.0, luck))
        lifter_part, luck_part = (np.where(sums == 0.0, 1.0, sums) for sums in (of_lifter, of_luck))
        return np.concatenate([(1.0 - luck) * middle[:count] / lifter_part, luck * middle[count:] / luck_part])


def shares_of(values: FloatArray, partner: np.ndarray) -> Shares:
    """Split the variance of values.

    Parameters
    ----------
    values : array, shape (2 + sources, draws, values)
        On the draws as they are; with each source in turn taken from the partners; with all luck taken from them.
    partner : array of int, shape (draws,)
        From `workbench.simulate.sources.halves`.
    """
    runs = np.moveaxis(values, 2, 0)
    alike, turned = _alike(runs, runs), _alike(runs, runs[:, :, partner])
    alone, closed = turned[0, 1:-1], turned[1:-1, 1:-1]
    pairs = closed - alone[:, None] - alone[None, :]
    pairs[np.diag_indices(len(alone))] = 0.0 * alone
    return Shares(alone, 1.0 - alike[0, 1:-1], pairs, alike[0, -1], turned[0, -1])


def _alike(runs: FloatArray, others: FloatArray) -> FloatArray:
    """Correlation of every run with every other, shape (runs, runs, values), of two arrays (values, runs, draws).

    Mean and variance are those of the two taken together, as both have the same (Janon 2014, doi 10.1051/ps/2013040).
    """
    count = runs.shape[2]
    mean = 0.5 * (runs.mean(axis=2)[:, :, None] + others.mean(axis=2)[:, None, :])
    square = 0.5 * ((runs**2).mean(axis=2)[:, :, None] + (others**2).mean(axis=2)[:, None, :])
    product = runs @ others.transpose(0, 2, 1) / count
    variance = square - mean**2
    with np.errstate(divide="ignore", invalid="ignore"):
        found = np.where(variance > _NOTHING * (1.0 + square), (product - mean**2) / variance, np.nan)
    return np.moveaxis(found, 0, 2)


@dataclass(frozen=True)
class Spread:
    """The spread of a block by source.

    Attributes
    ----------
    places : DataFrame
        One row a set and week, then a week and session, a week, and the block. Columns: level ("set", "session",
        "week", "block"), week, session_number, session, slot, exercise, group, set, drop; chance [1] (that all reps are
        made; NaN to failure) with chance_tired and chance_tireless; reps [reps] (median of those that a set has, or of
        the fewest in reserve) with reps_p10, reps_p90, reps_tired and reps_tireless; sd_chance, sd_reps (of what is
        not known of the lifter, of the chance and of the expected reps).
    chance, reps : Shares
        Of the rows of ``places``.
    """

    places: pd.DataFrame
    chance: Shares
    reps: Shares

    def at(self, place: int) -> pd.DataFrame:
        """Return the shares at one row of ``places``: of ("chance", "reps"), source, share, alone, total [1]."""
        rows = [
            {"of": of, "source": source, "share": shares.share[at, place], **_parts(shares, at, place)}
            for of, shares in (("chance", self.chance), ("reps", self.reps))
            for at, source in enumerate(SOURCES)
        ]
        return pd.DataFrame(rows)


def _parts(shares: Shares, source: int, place: int) -> dict[str, float]:
    return {"alone": shares.alone[source, place], "total": shares.total[source, place]}


def spread_of(outcome: Outcome) -> Spread:
    """Split the spread of a simulated block by source: eight more runs of it, and two of lifters at either end.

    Parameters
    ----------
    outcome : Outcome
        With the draws that it was simulated on; of an odd number the last is left out.
    """
    plan, draws = outcome.plan, outcome.draws
    if draws is None:
        raise ValueError("the outcome does not say on which draws it was simulated; see simulate")
    count = draws.count // 2 * 2
    partner = halves(count)
    taken: list[tuple[str, ...]] = [(), *((source,) for source in SOURCES), LUCK]
    kinds = [exchanged(draws, sources, partner) for sources in taken]
    kinds += [frozen(kinds[0], endurance=1.0 - END, recovery=END), frozen(kinds[0], endurance=END, recovery=1.0 - END)]
    whole = _Whole(len(kinds), count, plan.weeks)
    found: list[_Found] = []
    for number in range(len(plan.sessions)):
        runs = [run_session(plan, kind, number) for kind in kinds]
        found.append(_of_sets(plan.sessions[number].name, number + 1, runs, partner))
        found.append(whole.take(plan.sessions[number].name, number + 1, runs, partner))
    found += whole.summed(partner)
    return _ordered(found)


@dataclass(frozen=True)
class _Found:
    """Places with their shares."""

    places: pd.DataFrame
    chance: Shares
    reps: Shares


def _found(keys: list[dict[str, Any]], made: FloatArray, reps: FloatArray, partner: np.ndarray) -> _Found:
    """Sum up places; both arrays of shape (runs, draws, places), the last two runs those of lifters at either end."""
    chances = made.mean(axis=1)
    rarer = made.shape[1] * np.minimum(chances[0], 1.0 - chances[0])
    chance = shares_of(np.where(rarer >= _FEWEST, made[:-2], np.nan), partner)
    spare = shares_of(reps[:-2], partner)
    with np.errstate(invalid="ignore"):
        low, middle, high = np.quantile(reps[0], (0.1, 0.5, 0.9), axis=0)
        tired, tireless = np.median(reps[-2:], axis=1)
        sd_chance = np.sqrt(np.maximum(chance.unknown, 0.0)) * made[0].std(axis=0)
        sd_reps = np.sqrt(np.maximum(spare.unknown, 0.0)) * reps[0].std(axis=0)
    places = pd.DataFrame(keys, columns=list(PLACE)).assign(
        chance=chances[0],
        chance_tired=chances[-2],
        chance_tireless=chances[-1],
        reps=middle,
        reps_p10=low,
        reps_p90=high,
        reps_tired=tired,
        reps_tireless=tireless,
        sd_chance=sd_chance,
        sd_reps=sd_reps,
    )
    return _Found(places, chance, spare)


def _of_sets(session: str, number: int, runs: list[SessionOutcome], partner: np.ndarray) -> _Found:
    keys, made, reps = [], [], []
    for at, first in enumerate(runs[0]):
        one, weeks = first.planned, np.flatnonzero(first.planned.active)
        of_set = (session, one.slot, one.exercise, one.group, one.label, one.drop)
        names = ("session", "slot", "exercise", "group", "set", "drop")
        keys += [
            {"level": "set", "week": int(week) + 1, "session_number": number, **dict(zip(names, of_set, strict=True))}
            for week in weeks
        ]
        # A set to failure has no chance.
        wanted = np.where(one.prescribed[weeks], 1.0, np.nan)
        made.append(np.stack([run[at].made[:, weeks] * wanted for run in runs]))
        reps.append(np.stack([_by_week(run[at].available, one.active.size)[:, weeks] for run in runs]))
    return _found(keys, np.concatenate(made, axis=2), np.concatenate(reps, axis=2), partner)


def _by_week(values: FloatArray, weeks: int) -> FloatArray:
    return np.broadcast_to(values, (values.shape[0], weeks))


class _Whole:
    """Sessions as they come, added up to weeks and to the block."""

    def __init__(self, runs: int, draws: int, weeks: int) -> None:
        self.made = np.ones((runs, draws, weeks), dtype=bool)
        self.lowest = np.full((runs, draws, weeks), np.inf)
        self.weeks = weeks

    def take(self, session: str, number: int, runs: list[SessionOutcome], partner: np.ndarray) -> _Found:
        """Sum up a session, and add it."""
        made, lowest = np.stack([run.made for run in runs]), np.stack([run.lowest_reserve for run in runs])
        self.made &= made
        np.minimum(self.lowest, lowest, out=self.lowest)
        keys = [self._key("session", week, session, number) for week in range(1, self.weeks + 1)]
        return self._found(keys, made, lowest, partner)

    def summed(self, partner: np.ndarray) -> Iterator[_Found]:
        """Sum up the weeks, and the block."""
        keys = [self._key("week", week, WHOLE_WEEK) for week in range(1, self.weeks + 1)]
        yield self._found(keys, self.made, self.lowest, partner)
        made, lowest = self.made.all(axis=2, keepdims=True), self.lowest.min(axis=2, keepdims=True)
        yield self._found([self._key("block", 0, WHOLE_BLOCK)], np.asarray(made), lowest, partner)

    @staticmethod
    def _key(level: str, week: int, session: str, number: int = 0) -> dict[str, Any]:
        blank = {"slot": 0, "exercise": "", "group": 0, "set": "", "drop": 0}
        return {"level": level, "week": week, "session_number": number, "session": session, **blank}

    @staticmethod
    def _found(keys: list[dict[str, Any]], made: np.ndarray, lowest: FloatArray, partner: np.ndarray) -> _Found:
        prescribed = np.isfinite(lowest)
        wanted = np.where(prescribed, 1.0, np.nan)
        return _found(keys, made * wanted, np.where(prescribed, lowest, np.nan), partner)


def _ordered(found: list[_Found]) -> Spread:
    """Put all places in the order of levels, weeks and sessions."""
    places = pd.concat([one.places for one in found], ignore_index=True)
    level = places["level"].map({name: at for at, name in enumerate(("set", "session", "week", "block"))})
    keys = ["level", "week", "session_number", "slot"]
    order = places.assign(level=level).sort_values(keys, kind="stable").index.to_numpy()

    def joined(of: str) -> Shares:
        parts = [getattr(one, of) for one in found]
        return Shares(
            *(
                np.concatenate([getattr(part, name) for part in parts], axis=-1)[..., order]
                for name in ("alone", "total", "pairs", "unknown", "luck")
            )
        )

    return Spread(places.iloc[order].reset_index(drop=True), joined("chance"), joined("reps"))
