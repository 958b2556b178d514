"""What no grid holds, yet the log may speak of: the constants of tiring, how a lifter states reserves, rests, gains.

A fit looks at 1RM, endurance and recovery rate on grids. All else that is not known is held there at its likeliest
value, and what it may be otherwise widens what is reported. How both are found says `workbench.fit.newton`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from workbench.fit.marginals import Normal
from workbench.lifter.belief import ALL
from workbench.lifter.file import BEND, RECOVERY
from workbench.reference.parameters import fatigue_draws, fatigue_typical

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from workbench.fit.evidence_sets import LiftLog
    from workbench.fit.priors import Kept
    from workbench.models.fatigue import FatigueForm
    from workbench.quantities import FloatArray

__all__ = ["DEPARTURES", "Constants", "Elsewhere", "Unknowns", "constants_of", "start_from"]

#: Reps left beyond what is usual for what is said, as a lifter file keeps them.
_RESERVE: Final = (ALL, "stated reserve")
#: How many columns before the gains these stand.
_BEFORE_GAINS: Final = {_RESERVE: 1, BEND: 3}
#: Added to what is kept, so that rounded numbers leave a distribution.
_LEAST_VARIANCE: Final = 1e-8
#: Departures from the model.
DEPARTURES: Final = ("bend", "later")


@dataclass(frozen=True)
class Constants:
    """The spread of a form's parameters: normal in logs, in log odds for shares.

    Attributes
    ----------
    form : FatigueForm
    middle, low, high : array, shape (parameters,)
        On that scale: the typical set, and how far the published sets leave each possible.
    root : array, shape (parameters, parameters)
        Takes independent standard normal numbers to distances from the middle.
    """

    form: FatigueForm
    middle: FloatArray
    low: FloatArray
    high: FloatArray
    root: FloatArray

    def parameters(self, z: FloatArray) -> Any:
        """Return parameter sets for standard normal numbers, shape (..., parameters); fields of shape (...)."""
        values = np.clip(self.middle + z @ self.root.T, self.low, self.high)
        columns = zip(self.form.parameter_names, np.moveaxis(values, -1, 0), strict=True)
        found = {name: _share(column) if _is_share(name) else np.exp(column) for name, column in columns}
        return type(self.form.parameters)(**found)


def _is_share(name: str) -> bool:
    return name.endswith("_share")


def _share(odds: FloatArray) -> FloatArray:
    return np.asarray(1.0 / (1.0 + np.exp(-odds)))


@cache
def constants_of(form: FatigueForm) -> Constants:
    """Return the spread of a form's parameters that the published sets leave."""
    drawn, typical = fatigue_draws(2000, np.random.default_rng(0), form), fatigue_typical(form)

    def scaled(name: str, value: Any) -> FloatArray:
        value = np.asarray(value, dtype=np.float64)
        return np.asarray(np.log(value / (1.0 - value)) if _is_share(name) else np.log(value))

    rows = np.stack([scaled(name, getattr(drawn, name)).ravel() for name in form.parameter_names], axis=1)
    middle = np.array([float(scaled(name, getattr(typical, name))) for name in form.parameter_names])
    return Constants(
        form,
        middle,
        rows.min(axis=0),
        rows.max(axis=0),
        np.asarray(np.linalg.cholesky(np.cov(rows.T)), dtype=np.float64),
    )


@dataclass(frozen=True)
class Unknowns:
    """What a log says of all that no grid holds: a normal distribution, and how the rest moves with it.

    Attributes
    ----------
    names : tuple of str
        A parameter of the form (all independent, in sds: see `Constants`), "usual rest" (in sds), "bend" and "later"
        (of `FitSettings`), "reserve" (reps left beyond the usual bias of what is said) or "gain" (natural log in a
        week), once for each exercise.
    prior_sd, mean : array, shape (unknowns,)
        The prior has mean 0, but for ``FitSettings.reserve_bias_mean``.
    covariance : array, shape (unknowns, unknowns)
    with_lifts : array, shape (exercises, 2, unknowns)
        How far the natural logs of 1RM and endurance move with each.
    with_rate : array, shape (unknowns,)
        The same of the recovery rate.
    constants : Constants or None
        None where the parameters are taken as exact.
    other : Elsewhere or None
        Where else the lifter may lie; all else here is of the more probable place.
    """

    names: tuple[str, ...]
    prior_sd: FloatArray
    mean: FloatArray
    covariance: FloatArray
    with_lifts: FloatArray
    with_rate: FloatArray
    constants: Constants | None
    other: Elsewhere | None = None

    def of(self, name: str) -> NDArray[np.intp]:
        """Return the columns of one kind."""
        return np.flatnonzero(np.array(self.names) == name)

    def learned(self, name: str, number: int = 0) -> Normal:
        """Return what is believed after the log of one unknown of a kind."""
        at = self.of(name)[number]
        here = Normal(float(self.mean[at]), float(np.sqrt(self.covariance[at, at])))
        if self.other is None:
            return here
        return Normal(*_over([here, self.other.unknowns.learned(name, number)], self.other.chance))

    @property
    def held(self) -> FloatArray:
        """Values that grids are read with: constants of tiring stay typical, later sets follow the form."""
        return np.asarray(np.where(self._of_constants | self._left_out, 0.0, self.mean))

    @property
    def beyond(self) -> FloatArray:
        """How far the constants lie from those held, by the log: what is reported moves with them."""
        return np.asarray(np.where(self._of_constants, self.mean, 0.0))

    @property
    def _of_constants(self) -> NDArray[np.bool_]:
        count = 0 if self.constants is None else self.constants.middle.size
        return np.asarray(np.arange(len(self.names)) < count)

    @property
    def _left_out(self) -> NDArray[np.bool_]:
        return np.asarray(np.array(self.names) == "later")

    def tiring(self, values: FloatArray) -> Any:
        """Return the form's parameters for values of all unknowns, shape (..., unknowns)."""
        assert self.constants is not None
        return self.constants.parameters(values[..., : self.constants.middle.size])

    def widening(self, moves: FloatArray) -> float:
        """Return the log sd that a quantity gets from all unknowns, of how far it moves with each.

        What later sets have more stays out of the sets, so that here it counts from none.
        """
        off = np.where(self._left_out, self.mean, 0.0)
        return float(np.sqrt(np.maximum(moves @ self.covariance @ moves, 0.0) + (moves @ off) ** 2))

    def of_lift(self, number: int, column: int) -> tuple[float, float]:
        """Return how far the log of the 1RM (column 0) or the endurance (1) of an exercise lies from the grids, and sd.

        The sd is what all adds that no grid holds.
        """
        places, other = [(0.0, self, self.with_lifts[number, column])], self.other
        if other is not None:
            moves = other.unknowns.with_lifts[number, column]
            places.append((float(other.lifts[number, column]), other.unknowns, moves))
        return self._either(places)

    def of_rate(self) -> tuple[float, float]:
        """Return the same of the recovery rate."""
        other, places = self.other, [(0.0, self, self.with_rate)]
        if other is not None:
            places.append((other.rate, other.unknowns, other.unknowns.with_rate))
        return self._either(places)

    def _either(self, places: Sequence[tuple[float, Unknowns, FloatArray]]) -> tuple[float, float]:
        """Return mean and sd over where the lifter may lie: how far off each is, what it has, how that moves."""
        found = [Normal(off + float(moves @ place.beyond), place.widening(moves)) for off, place, moves in places]
        mean, sd = _over(found, 0.0 if self.other is None else self.other.chance)
        return mean, sd

    def draws(self, count: int, rng: np.random.Generator) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Draw values of all, and how far the rest lies from the grids with them; later sets follow the form.

        Returns
        -------
        values : array, shape (draws, unknowns)
        lifts : array, shape (draws, exercises, 2)
            Of the natural logs of 1RM and endurance.
        rate : array, shape (draws,)
            Of the natural log of the recovery rate.
        """
        size, vectors = np.linalg.eigh(self.covariance)
        off = self.beyond + rng.standard_normal((count, size.size)) @ (vectors * np.sqrt(np.maximum(size, 0.0))).T
        off = np.where(self._left_out, 0.0, off)
        found = self.held + off, np.einsum("du,elu->del", off, self.with_lifts), off @ self.with_rate
        if self.other is None:
            return found
        there = self.other.unknowns.draws(count, rng)
        moved = there[0], there[1] + self.other.lifts, there[2] + self.other.rate
        chosen = rng.random(count) < self.other.chance
        values, lifts, rate = (
            np.where(chosen.reshape(count, *[1] * (one.ndim - 1)), other, one)
            for one, other in zip(found, moved, strict=True)
        )
        return values, lifts, rate


@dataclass(frozen=True)
class Elsewhere:
    """The less probable of two places where a lifter may lie: by the usual curve, or by another altogether.

    Attributes
    ----------
    chance : float
    unknowns : Unknowns
        What a lifter there has.
    lifts : array, shape (exercises, 2)
        How far the natural logs of 1RM and endurance lie from those of the other place, both with what is held there.
    rate : float
        The same of the recovery rate.
    """

    chance: float
    unknowns: Unknowns
    lifts: FloatArray
    rate: float


def _over(places: Sequence[Normal], chance: float) -> tuple[float, float]:
    """Mean and sd over one place, or two of which the second has a chance."""
    shares = np.array([1.0 - chance, chance])[: len(places)]
    means, sds = np.array([place.mean for place in places]), np.array([place.sd for place in places])
    mean = float(shares @ means)
    return mean, float(np.sqrt(shares @ (sds**2 + (means - mean) ** 2)))


def start_from(
    kept: Kept, lifts: Sequence[LiftLog], constants: Constants | None, mean: FloatArray, covariance: FloatArray
) -> None:
    """Put what an earlier log spoke of into a prior: endurances, recovery rate, constants of tiring, stated reserves.

    Parameters
    ----------
    kept : Kept
    lifts : sequence of LiftLog
        The exercises of the log.
    constants : Constants or None
    mean, covariance : array, shape (unknowns,), (unknowns, unknowns)
        Of endurances, recovery rate, the constants in independent sds, and the rest, before the gain of each exercise
        what is left beyond a stated reserve. Changed in place.
    """
    names, places = [*((lift.exercise, "endurance") for lift in lifts), RECOVERY], [*range(len(lifts) + 1)]
    own = [] if constants is None else [(ALL, name) for name in constants.form.parameter_names]
    at = len(names) + np.arange(len(own))
    whole = all(name in kept.names for name in own)
    if whole:
        names, places = [*names, *own], [*places, *at]
    for name, back in _BEFORE_GAINS.items():
        if name in kept.names:
            names, places = [*names, name], [*places, mean.size - len(lifts) - back]
    taken = [kept.names.index(name) for name in names]
    middle, spread = kept.mean[taken], kept.covariance[np.ix_(taken, taken)]
    if constants is not None and whole:
        turned = np.eye(len(names))
        turned[np.ix_(at, at)] = np.linalg.inv(constants.root)
        middle[at] -= constants.middle
        middle, spread = turned @ middle, turned @ spread @ turned.T
    mean[places] = middle
    covariance[places], covariance[:, places] = 0.0, 0.0
    covariance[np.ix_(places, places)] = spread + _LEAST_VARIANCE * np.eye(len(names))
