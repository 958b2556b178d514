"""What the spread of a forecast comes from, and draws in which one of these is exchanged for that of other draws."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import Final

import numpy as np

from workbench.quantities import FloatArray
from workbench.simulate.draws import LifterDraws

__all__ = ["LUCK", "SOURCES", "exchanged", "frozen", "halves"]

#: Each source with the fields of `LifterDraws` that it is drawn in: endurance with what slow reps cost and the bend of
#: the curve; the fatigue constants, which published sets leave open, with how much the exercises of a session take from
#: each other.
SOURCES: Final[dict[str, tuple[str, ...]]] = {
    "1RM": ("log_one_rm",),
    "endurance": ("endurance", "slow_reps", "bend"),
    "recovery": ("recovery_rate",),
    "fatigue constants": ("fatigue", "carry"),
    "day": ("day",),
    "set": ("set_noise",),
}
#: What differs from day to day and set to set for a lifter who is known through and through.
LUCK: Final = ("day", "set")


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
    own, other = draws.taken(np.arange(partner.size)), draws.taken(partner)
    return replace(own, **{field: getattr(other, field) for source in sources for field in SOURCES[source]})


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
