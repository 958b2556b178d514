"""Volume and intensity: sets for each muscle, hard sets, tonnage, number of lifts, and lifts by zone of intensity.

Counting, not prediction: what a set counts for is a convention, and every convention is an argument here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from workbench.quantities import FloatArray

__all__ = ["RULES", "CountRules", "direct_sets", "fractional_sets", "lifts_by_zone", "mean_intensity", "tonnage"]


@dataclass(frozen=True)
class CountRules:
    """What counts as a set, and as a hard one.

    Attributes
    ----------
    hard_reserve : float, [reps]
        A set is hard if it ends with at most this many reps in reserve. No study gives a cut-off: growth rises
        gradually as sets end nearer failure (robinson_2024, doi 10.1007/s40279-024-02069-2). 4 is assumed.
    each_drop : float, [sets]
        What each drop adds to its set. 0 counts a set with all its drops as one set; assumed, for want of studies that
        say otherwise.
    zone_edges : tuple of float, [1]
        Edges between zones of load_fraction, rising; plain tens of percent.
    """

    hard_reserve: float = 4.0
    each_drop: float = 0.0
    zone_edges: tuple[float, ...] = (0.6, 0.7, 0.8, 0.9)

    @property
    def zone_names(self) -> tuple[str, ...]:
        """Zones in words, one more than there are edges.

        >>> CountRules(zone_edges=(0.7, 0.9)).zone_names
        ('below 70 %', '70 to below 90 %', '90 % and above')
        """
        edges = [f"{100 * edge:g}" for edge in self.zone_edges]
        inner = [f"{edges[number]} to below {edges[number + 1]} %" for number in range(len(edges) - 1)]
        return (f"below {edges[0]} %", *inner, f"{edges[-1]} % and above") if edges else ("all loads",)


RULES: Final = CountRules()


def direct_sets(sets: ArrayLike, shares: ArrayLike) -> FloatArray:
    """Count the sets of each muscle that trained it directly (share 1).

    Parameters
    ----------
    sets : array, shape (..., exercises), [sets]
    shares : array, shape (exercises, muscles), [1], 0 to 1

    Returns
    -------
    array, shape (..., muscles), [sets]

    >>> direct_sets([3, 4], [[1, 0.5], [0, 1]]).tolist()
    [3.0, 4.0]
    """
    return np.asarray(np.asarray(sets, dtype=np.float64) @ (np.asarray(shares, dtype=np.float64) >= 1.0))


def fractional_sets(sets: ArrayLike, shares: ArrayLike) -> FloatArray:
    """Count the sets of each muscle, each weighted by its share: direct 1, indirect 0.5 where nothing better is known.

    ``sets of a muscle = sum over exercises of sets share``. Arguments and returns as `direct_sets`. The weight of half
    a set: pelland_2024, doi 10.1007/s40279-025-02344-w.

    >>> fractional_sets([3, 4], [[1, 0.5], [0, 1]]).tolist()
    [3.0, 5.5]
    """
    return np.asarray(np.asarray(sets, dtype=np.float64) @ np.asarray(shares, dtype=np.float64))


def tonnage(load_kg: ArrayLike, reps: ArrayLike) -> FloatArray:
    """Return the sum of load times reps over the last axis, kg.

    >>> float(tonnage([100, 80], [5, 10]))
    1300.0
    """
    load, done = np.asarray(load_kg, dtype=np.float64), np.asarray(reps, dtype=np.float64)
    return np.asarray(np.sum(load * done, axis=-1))


def mean_intensity(load_fraction: ArrayLike, reps: ArrayLike) -> FloatArray:
    """Return the mean load_fraction over the last axis, each lift (rep) counted once; NaN where there is none.

    >>> float(mean_intensity([0.8, 0.6], [5, 15]))
    0.65
    """
    fraction, done = np.asarray(load_fraction, dtype=np.float64), np.asarray(reps, dtype=np.float64)
    lifts = np.sum(done, axis=-1)
    return np.asarray(np.sum(fraction * done, axis=-1) / np.where(lifts > 0, lifts, np.nan))


def lifts_by_zone(load_fraction: ArrayLike, reps: ArrayLike, edges: Sequence[float]) -> FloatArray:
    """Count the lifts (reps) in each zone of intensity, summed over the last axis.

    Parameters
    ----------
    load_fraction, reps : array, shape (..., sets)
    edges : sequence of float, [1], rising
        A lift at an edge belongs to the zone above it; a thousandth of a percent below counts as there, so that
        rounding of floating point moves no lift.

    Returns
    -------
    array, shape (..., len(edges) + 1), [reps]

    >>> lifts_by_zone([0.65, 0.7, 0.95], [10, 5, 1], [0.7, 0.9]).tolist()
    [10.0, 5.0, 1.0]
    """
    same_load = 1e-5
    zone = np.searchsorted(np.asarray(edges, dtype=np.float64), np.asarray(load_fraction) + same_load, side="right")
    done = np.asarray(reps, dtype=np.float64)
    zones = range(len(edges) + 1)
    return np.stack([np.sum(np.where(zone == number, done, 0.0), axis=-1) for number in zones], axis=-1)
