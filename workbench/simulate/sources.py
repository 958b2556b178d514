"""What the spread of a forecast comes from, and draws in which one of these is exchanged for that of other draws."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import fields, is_dataclass, replace
from typing import Any, Final

import numpy as np

from workbench.quantities import FloatArray
from workbench.simulate.draws import LifterDraws

__all__ = ["LUCK", "SOURCES", "exchanged", "frozen", "halves"]

#: Each source with the fields of `LifterDraws` that it is drawn in: endurance with what slow reps cost; the fatigue
#: constants, which published sets leave open, with how much the exercises of a session take from each other.
SOURCES: Final[dict[str, tuple[str, ...]]] = {
    "1RM": ("log_one_rm",),
    "endurance": ("endurance", "slow_reps"),
    "recovery": ("recovery_rate",),
    "fatigue constants": ("fatigue", "carry"),
    "day": ("day",),
    "set": ("set_noise",),
}
#: What differs from day to day and set to set for a lifter who is known through and through.
LUCK: Final = ("day", "set")
#: Fields whose draws are the second axis.
_DRAWS_SECOND: Final = ("day", "set_noise")


def halves(count: int) -> np.ndarray:
    """Return, for each of an even number of draws, its partner in the other half; of two partners each is the other's.

    >>> halves(4).tolist()
    [2, 3, 0, 1]
    """
    return np.roll(np.arange(count), count // 2)


def exchanged(draws: LifterDraws, sources: Iterable[str], partner: np.ndarray) -> LifterDraws:
    """Return draws that keep all but some sources, which each takes from its partner.

    Parameters
    ----------
    draws : LifterDraws
    sources : iterable of str
        Of `SOURCES`.
    partner : array of int, shape (kept draws,)
        The draw that each takes the sources from; as many draws are returned, the first ones.
    """
    taken = {field for source in sources for field in SOURCES[source]}
    every = [field for of_source in SOURCES.values() for field in of_source]
    own = np.arange(partner.size)
    return replace(draws, **{name: _picked(draws, name, partner if name in taken else own) for name in every})


def _picked(draws: LifterDraws, field: str, rows: np.ndarray) -> Any:
    values = getattr(draws, field)
    if values is None:
        return None
    if is_dataclass(values):  # the parameters of a fatigue form, each of shape (draws, 1) or one number for all
        arrays = {one.name: np.asarray(getattr(values, one.name)) for one in fields(values)}
        return replace(values, **{name: array[rows] if array.ndim else array for name, array in arrays.items()})  # type: ignore[type-var]
    if field in _DRAWS_SECOND:  # picked with the draws innermost, as they lie in memory
        return values.transpose(0, 2, 1)[:, :, rows].transpose(0, 2, 1)
    return values[rows]


def frozen(draws: LifterDraws, *, endurance: float, recovery: float) -> LifterDraws:
    """Return draws of lifters who all lie at one place among the possible ones; all else stays as drawn.

    Parameters
    ----------
    draws : LifterDraws
    endurance : float, 0 to 1
        Share of the draws that are more enduring: 0.9 is one who tires easily.
    recovery : float, 0 to 1
        Share of the draws that recover more slowly: 0.1 is one who recovers slowly.
    """
    # Endurance counts the strength that a rep costs: the more enduring draws are the lower ones.
    tiring: FloatArray = np.quantile(draws.endurance, endurance, axis=0)
    rate = np.quantile(draws.recovery_rate, recovery)
    return replace(
        draws,
        endurance=np.tile(tiring, (draws.count, 1)),
        recovery_rate=np.full_like(draws.recovery_rate, rate),
    )
