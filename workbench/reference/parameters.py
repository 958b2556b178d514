"""Fitted parameters with spread, grade and source: the priors that simulation and personal fits start from.

Read from ``data/parameters.csv`` and ``data/fitted/``, which ``python -m workbench.evidence`` derives from
``data/evidence/``. Cheap: no fitting happens here.
"""

from __future__ import annotations

import csv
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache
from typing import Any, Final

import numpy as np

from workbench.models.fatigue import DEFAULT_FORM, FatigueForm
from workbench.quantities import FloatArray, Grade, InputError
from workbench.reference.sources import data_path, read_rows

__all__ = [
    "DRIFT_SD",
    "SHARED_ENDURANCE",
    "STATED_SHARE",
    "EndurancePrior",
    "Noise",
    "RecoveryPrior",
    "draws_file",
    "endurance_classes",
    "endurance_prior",
    "fatigue_draws",
    "fatigue_typical",
    "forget",
    "group_draws",
    "noise",
    "one_rm_spread",
    "recovery_of_lifter",
    "recovery_prior",
    "shared_tie",
]

#: Share of the between-lifter variance of log endurance that a lifter's exercises have in common (assumed).
SHARED_ENDURANCE: Final = 0.5
#: What is left of the between-lifter spread once the lifter's own value is stated in the lifter file (assumed).
STATED_SHARE: Final = 0.4
#: Log sd of the change of a usual 1RM in one week; grows with the square root of time. Assumed: 1 %, some times the
#: steady gain of trained lifters (0.2 to 0.3 % a week, latella_2020).
DRIFT_SD: Final = 0.01
#: Part of the spread of an unknown lifter's log endurance that lies between the lifters of a group: 0.75 to 0.79 in
#: squats, presses and curls.
_PART_BETWEEN_LIFTERS: Final = 0.77
#: Log sd of a parameter for which a form has no fitted draws: as good as unknown within a factor of two (assumed).
_UNFITTED_LOG_SD: Final = 0.35
#: How groups differ where a form has no fitted draws (assumed).
_UNFITTED_GROUP: Final = {
    "group_sd": 0.5,
    "misfit": 0.08,
    "female": 0.5,
    "legs": 0.3,
    "people_sd": 0.6,
    "tie": 0.3,
}


@dataclass(frozen=True)
class EndurancePrior:
    """Where the endurance of a lifter not yet seen lies, for one class of exercise.

    Attributes
    ----------
    endurance_class : str
    median : float
        Of the log-normal distribution between lifters, 1/rep.
    log_sd_between_lifters : float
        Spread between lifters (natural log).
    log_sd_between_groups : float
        Spread between studies or groups of lifters (natural log).
    log_sd_of_median : float
        How well the median itself is known (natural log).
    grade, source : str
        How well the number is known, and from which studies. Grade "assumed": no data for this class; the pooled
        value with wider spread.
    """

    endurance_class: str
    median: float
    log_sd_between_lifters: float
    log_sd_between_groups: float
    log_sd_of_median: float
    grade: Grade
    source: str

    @property
    def log_sd(self) -> float:
        """Spread of a lifter of whom nothing is known: between lifters, between groups, and of the median itself."""
        return float(np.sqrt(self.log_sd_between_lifters**2 + self.log_sd_between_groups**2 + self.log_sd_of_median**2))

    @property
    def fallback(self) -> bool:
        """Whether no study of this class stands behind the numbers."""
        return self.grade == "assumed"


@dataclass(frozen=True)
class Noise:
    """Scatter of one lifter from day to day and from set to set.

    Attributes
    ----------
    day_sd : float
        Natural-log sd of strength between days.
    set_log_sd : float
        Natural-log sd of the reps of single sets.
    """

    day_sd: float
    set_log_sd: float


@dataclass(frozen=True)
class RecoveryPrior:
    """Where the recovery rate of a lifter not yet seen lies. Unpacks as ``median, log_sd``.

    ``log_sd`` already holds the spread between groups: nothing is to be added for a lifter.

    Attributes
    ----------
    median : float
    log_sd_between_lifters : float
        Between the lifters of one group.
    log_sd_between_groups : float
        Between groups of lifters, as studies differ.
    grade : str
    tie : float
        Correlation between lifters of log recovery with log endurance: above 0, who has more reps loses more of them.
    """

    median: float
    log_sd_between_lifters: float
    log_sd_between_groups: float
    grade: Grade
    tie: float = 0.0

    @property
    def log_sd(self) -> float:
        """Spread of a lifter of whom nothing is known: between lifters and between groups."""
        return float(np.hypot(self.log_sd_between_lifters, self.log_sd_between_groups))

    def __iter__(self) -> Iterator[float]:
        """Iterate over median and spread."""
        return iter((self.median, self.log_sd))


@cache
def _table() -> dict[tuple[str, str], dict[str, str]]:
    return {(row["quantity"], row["group"]): row for row in read_rows("parameters.csv")}


def forget() -> None:
    """Read the files again when next asked: they have been written anew."""
    _table.cache_clear()
    _columns.cache_clear()


def _row(quantity: str, group: str) -> dict[str, str]:
    try:
        return _table()[quantity, group]
    except KeyError:
        known = ", ".join(sorted(name for kind, name in _table() if kind == quantity))
        raise InputError(
            data_path("parameters.csv"), quantity, f"nothing is known of {group!r}", f"use one of: {known}"
        ) from None


def _number(row: dict[str, str], column: str, default: float = 0.0) -> float:
    return float(row[column]) if row.get(column) else default


def endurance_prior(endurance_class: str) -> EndurancePrior:
    """Return the endurance prior of a class of exercise; an InputError for a class that is none of the known.

    >>> endurance_prior("leg press").median < endurance_prior("leg curl").median  # lower is more enduring
    True
    """
    row = _row("endurance", endurance_class)
    return EndurancePrior(
        endurance_class=endurance_class,
        median=float(row["value"]),
        log_sd_between_lifters=float(row["spread"]),
        log_sd_between_groups=_number(row, "group_spread", 0.2),
        log_sd_of_median=_number(row, "uncertainty", 0.1),
        grade=row["grade"],  # type: ignore[arg-type]
        source=row["source"],
    )


def endurance_classes() -> tuple[str, ...]:
    """Classes of exercise that have an endurance prior, in the order of ``data/parameters.csv``."""
    return tuple(group for quantity, group in _table() if quantity == "endurance")


def recovery_prior(sex: str | None = None, *, legs: bool = False) -> RecoveryPrior:
    """Return the prior of the recovery rate, by sex where it is given ("male", "female", "M", "F").

    ``legs`` is for squats, leg presses and hinges, after which recovery is faster.

    >>> median, log_sd = recovery_prior()
    >>> median
    1.0
    """
    names = {"m": "male", "male": "male", "f": "female", "female": "female"}
    row = _row("recovery_rate", names.get(str(sex).lower(), "all"))
    faster = float(_row("recovery_rate", "legs")["value"]) if legs else 1.0
    return RecoveryPrior(
        median=faster * float(row["value"]),
        log_sd_between_lifters=float(row["spread"]),
        log_sd_between_groups=_number(row, "group_spread", 0.3),
        grade=row["grade"],  # type: ignore[arg-type]
        tie=float(_row("recovery_endurance_tie", "all")["value"]),
    )


def recovery_of_lifter(sex: str | None = None) -> RecoveryPrior:
    """Return the prior of the recovery rate of one lifter, of whom the sex may be known.

    Some studies found women to recover much faster between sets, one of women and men side by side found no difference.
    So no sex is moved; a woman may be as far from the middle as half of what some studies found, and is spread wider.

    >>> recovery_of_lifter("female").median, recovery_of_lifter("female").log_sd > recovery_of_lifter("male").log_sd
    (1.0, True)
    """
    usual = recovery_prior()
    found = float(np.log(recovery_prior(sex).median / usual.median))
    return replace(usual, log_sd_between_groups=float(np.hypot(usual.log_sd_between_groups, 0.5 * found)))


def shared_tie() -> float:
    """Return the correlation of a lifter's log recovery rate with the part of log endurance that all exercises share.

    Published is the correlation between the lifters of one group (``tie``): of the spread of an unknown lifter that is
    a part only, and what an exercise has of its own says nothing of recovery.

    >>> 0.0 < shared_tie() < 1.0
    True
    """
    recovery = recovery_prior()
    part = recovery.log_sd_between_lifters / recovery.log_sd * _PART_BETWEEN_LIFTERS
    return min(float(recovery.tie * part / np.sqrt(SHARED_ENDURANCE)), 0.95)


def one_rm_spread(training: str | None = None) -> float:
    """Return the log sd of a 1RM behind a published percentage: the error of the test and the day together.

    Parameters
    ----------
    training : str, optional
        "trained" or "untrained"; anything else is a mixed group. For one lifter use the width that the lifter file
        states, and the day; this number takes their place for people in a study.

    >>> one_rm_spread("untrained") > one_rm_spread("trained") > 0.01
    True
    """
    return float(_row("one_rm_log_sd", training if training in {"trained", "untrained"} else "mixed")["value"])


def noise() -> Noise:
    """Return the scatter between days and between sets.

    >>> 0.01 < noise().day_sd < 0.05
    True
    """
    return Noise(float(_row("day_strength_sd", "all")["value"]), float(_row("set_reps_sd", "all")["value"]))


def draws_file(form: str) -> str:
    """Name of the file in ``data/fitted/`` that holds the draws of a fatigue form."""
    return f"fatigue_{form.replace(' ', '_').replace(',', '')}.csv"


@cache
def _columns(form: str) -> dict[str, FloatArray]:
    path = data_path("fitted", draws_file(form))
    if not path.is_file():
        return {}
    with path.open(encoding="utf-8", newline="") as handle:
        header, *rows = csv.reader(handle)
    return dict(zip(header, np.array(rows, dtype=np.float64).T, strict=True))


def _fitted(form: FatigueForm) -> dict[str, FloatArray] | None:
    """Fitted draws of a form by name of parameter; None where it was never fitted, or has other parameters."""
    columns = _columns(form.name)
    return columns if columns and set(form.parameter_names) <= set(columns) else None


def fatigue_draws(n: int, rng: np.random.Generator, form: FatigueForm = DEFAULT_FORM) -> Any:
    """Draw parameter sets of a fatigue form from what the published sets leave possible.

    Parameters
    ----------
    n : int
        Number of draws, >= 1.
    rng : numpy.random.Generator
    form : FatigueForm

    Returns
    -------
    The form's parameter dataclass, each field an array of shape (n, 1). A form that was never fitted is spread by
    a log sd of 0.35 about its own defaults (assumed).

    >>> draws = fatigue_draws(4, np.random.default_rng(1))
    >>> draws.depletion_tau_s.shape
    (4, 1)
    """
    return group_draws(n, rng, form)[0]


def group_draws(
    n: int, rng: np.random.Generator, form: FatigueForm = DEFAULT_FORM
) -> tuple[Any, dict[str, FloatArray]]:
    """Draw parameter sets of a form together with how groups of lifters differ.

    Returns
    -------
    parameters
        As `fatigue_draws`.
    group : dict of str to array, shape (n,)
        ``group_sd``, log sd of recovery between groups; ``misfit``, relative error of a study mean; ``female`` and
        ``legs``, what women's and the legs' log recovery add; ``people_sd``, log sd of recovery between the lifters of
        a group; ``tie``, its correlation with log endurance.
    """
    names, fitted = form.parameter_names, _fitted(form)
    if fitted is not None:
        rows = rng.integers(0, fitted[names[0]].size, n)
        values = {name: fitted[name][rows, None] for name in names}
        group = {name: fitted[name][rows] for name in _UNFITTED_GROUP}
    else:
        values = {}
        for name in names:
            centre = float(getattr(form.parameters, name))
            draws = centre * np.exp(_UNFITTED_LOG_SD * rng.standard_normal((n, 1)))
            values[name] = np.minimum(draws, 0.9) if name.endswith("_share") else draws
        group = {name: np.full(n, value) for name, value in _UNFITTED_GROUP.items()}
    return type(form.parameters)(**values), group


def fatigue_typical(form: FatigueForm = DEFAULT_FORM) -> Any:
    """Return the parameter set in the middle of a form's fitted draws, each field a float; its own if never fitted.

    >>> 5 < fatigue_typical().strength_tau_s < 60
    True
    """
    if _fitted(form) is None:
        return form.parameters
    middle = _medians(form.name)
    return type(form.parameters)(**{name: middle[name] for name in form.parameter_names})


@cache
def _medians(form: str) -> dict[str, float]:
    return {name: float(np.median(values)) for name, values in _columns(form).items()}
