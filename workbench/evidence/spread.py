"""Spread between people in one fresh set, taken apart: endurance, what is not known of the 1RM, and the set itself.

A published sd of reps holds all three. With h the log of 1RM over load and m the mean reps beyond the first,

``sd**2 = m**2 ((1 + (one_rm / h)**2) exp(endurance**2) - 1) + (set (m + 1))**2 + 1/12``,

the last for whole reps. Endurance spreads reps alike at every load; an error in the 1RM matters more the heavier the
load; so sds at several loads tell one from the other, and a forecast uses each once. People who are not used to the
lift know their 1RM less well, so that part goes by training.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import scipy

from workbench.evidence.curves import HALF_REP, WHOLE_REPS
from workbench.evidence.read import LoadReps
from workbench.quantities import FloatArray

__all__ = ["TRAINING", "Spread", "fit_spread", "left_out_spread", "pooled_endurance"]

#: Groups in which a 1RM is known about equally well; what is not stated counts as mixed.
TRAINING: Final = ("trained", "untrained", "mixed")
#: Weak prior: where the two spreads lie, and within what factor (natural log).
_START: Final = {"endurance": (0.2, 0.5), "one_rm": (0.045, 0.4)}
#: How classes of exercise, and groups of people, differ in their spread (natural log, assumed).
_BETWEEN_CLASSES: Final = 0.2
_BETWEEN_GROUPS: Final = 0.2
#: Misfit of a single published sd, and of a recalled one (natural log, assumed).
_MISFIT: Final = 0.1
_RECALLED: Final = 0.25
_NORMAL_95: Final = 1.959964


@dataclass(frozen=True)
class Spread:
    """Spread between people of one fresh set.

    Attributes
    ----------
    endurance : dict of str to float
        Log sd of endurance by class of exercise; "other" for a class of which nothing is known.
    one_rm : dict of str to float
        Log sd of the 1RM behind a stated percentage, by `TRAINING`: the test and the day together.
    set_log_sd : float
        Log sd of the reps of single sets.
    """

    endurance: dict[str, float]
    one_rm: dict[str, float]
    set_log_sd: float

    def sd(self, rows: LoadReps) -> FloatArray:
        """Reps between people that each row should show about its published mean, shape (rows,)."""
        endurance = np.array([self.endurance.get(str(name), self.endurance["other"]) for name in rows.endurance_class])
        one_rm = np.array([self.one_rm[training_of(str(name))] for name in rows.training])
        return _person_sd(rows, endurance, one_rm, self.set_log_sd)


def training_of(text: str) -> str:
    """Training as in `TRAINING`; "mixed" where it is not stated.

    >>> training_of("trained"), training_of("unknown")
    ('trained', 'mixed')
    """
    return text if text in TRAINING else "mixed"


def _person_sd(rows: LoadReps, endurance: FloatArray, one_rm: FloatArray, set_log_sd: float) -> FloatArray:
    beyond = np.maximum(rows.reps_mean - 1.0 + HALF_REP, 0.25)
    share = (1.0 + (one_rm / -np.log(rows.load_fraction)) ** 2) * np.exp(endurance**2) - 1.0
    return np.asarray(np.sqrt(beyond**2 * share + (set_log_sd * (beyond + 1.0)) ** 2 + WHOLE_REPS))


def fit_spread(rows: LoadReps, set_log_sd: float) -> Spread:
    """Fit the spread of endurance and of the 1RM to published sds, by penalised least squares of their logs.

    Parameters
    ----------
    rows : LoadReps
        Rows without an sd are passed over.
    set_log_sd : float
        Log sd of single sets, known from repeated tests.
    """
    some = rows.where(~np.isnan(rows.reps_sd))
    classes, of_class = np.unique(some.endurance_class, return_inverse=True)
    people = np.array([f"{a}|{b}|{c}" for a, b, c in zip(some.source, some.group, some.endurance_class, strict=True)])
    groups, of_group = np.unique(people, return_inverse=True)
    of_training = np.array([TRAINING.index(training_of(str(name))) for name in some.training])
    # The rows of one group are the same people: their sampling error is one, and a pool of many groups has none.
    size = np.array([some.n[of_group == group].max() for group in range(groups.size)])
    pooled = np.array([some.groups[of_group == group].max() for group in range(groups.size)])
    group_sd = np.sqrt((1.0 / (2.0 * (np.maximum(size / pooled, 5.0) - 1.0)) + _BETWEEN_GROUPS**2) / pooled)
    row_sd = np.hypot(_MISFIT, np.where(some.grade == "recalled", _RECALLED, 0.0))
    (at_endurance, within_endurance), (at_one_rm, within_one_rm) = _START["endurance"], _START["one_rm"]
    cut = np.cumsum([1, len(TRAINING), classes.size])

    def parts(theta: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
        centre, one_rm, by_class, by_group = np.split(theta, cut)
        return centre, one_rm, by_class, by_group

    def misses(theta: FloatArray) -> FloatArray:
        centre, one_rm, by_class, by_group = parts(theta)
        expected = _person_sd(some, np.exp(centre + by_class)[of_class], np.exp(one_rm)[of_training], set_log_sd)
        return np.concatenate(
            [
                (np.log(expected / some.reps_sd) + by_group[of_group]) / row_sd,
                (centre - np.log(at_endurance)) / within_endurance,
                (one_rm - np.log(at_one_rm)) / within_one_rm,
                by_class / _BETWEEN_CLASSES,
                by_group / group_sd,
            ]
        )

    start = np.concatenate(
        [[np.log(at_endurance)], np.full(len(TRAINING), np.log(at_one_rm)), np.zeros(classes.size + groups.size)]
    )
    centre, one_rm, by_class, _ = parts(scipy.optimize.least_squares(misses, start).x)
    endurance = {str(name): float(np.exp(centre[0] + value)) for name, value in zip(classes, by_class, strict=True)}
    # Exercises taken together tell how people differ on average, and nothing of a class of which nothing is known.
    endurance["other"] = float(np.exp(centre[0]))
    return Spread(endurance, dict(zip(TRAINING, np.exp(one_rm).tolist(), strict=True)), set_log_sd)


def left_out_spread(rows: LoadReps, set_log_sd: float) -> FloatArray:
    """Predict the sd of every row from a fit without its study, NaN where none is published; shape (rows,).

    A pool of studies contains most of the single ones, so neither is used to predict the other.
    """
    out = np.full(rows.size, np.nan)
    for fold in np.unique(rows.fold[~np.isnan(rows.reps_sd)]):
        held = rows.fold == fold
        pooled = bool(np.any(rows.groups[held] > 1))
        used = ~held & (pooled | (rows.groups == 1))
        out[held] = fit_spread(rows.where(used), set_log_sd).sd(rows.where(held))
    out[np.isnan(rows.reps_sd)] = np.nan
    return out


def pooled_endurance(pooled: LoadReps) -> dict[str, tuple[float, float]]:
    """Log of 1 / (mean of 1/k) and its standard error, by class, from means that were pooled over many studies.

    The points of a pooled curve are not apart from each other, so no sum of squares is taken: the value is the one
    whose largest miss, in widths of the published interval, is least. "other" is the mean over classes.
    """
    found = {}
    for name in np.unique(pooled.endurance_class):
        some = pooled.where(pooled.endurance_class == name)
        widths = np.log(some.mean_high / some.mean_low) / (2.0 * _NORMAL_95)
        error = float(np.nanmedian(widths))
        width = np.where(np.isnan(widths), error, widths)
        headroom = -np.log(some.load_fraction)

        def largest(value: float, some: LoadReps = some, width: FloatArray = width, h: FloatArray = headroom) -> float:
            reps = h / np.exp(value) + 1.0 - HALF_REP
            return float(np.max(np.abs(np.log(reps / some.reps_mean)) / width))

        best = scipy.optimize.minimize_scalar(
            largest, bounds=np.log([0.005, 0.1]), method="bounded", options={"xatol": 1e-6}
        )
        found[str(name)] = (float(best.x), error)
    return found
