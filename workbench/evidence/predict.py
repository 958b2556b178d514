"""Reps of each set for a group of lifters that nobody has measured, with three things that are not to be confused.

A *study's mean* lies in a narrow interval (``low``, ``high``). The *people in it* differ far more (``person_sd``, as a
paper prints it, and the interval of a person of whom nothing is known). *This lifter*, with a tested 1RM and a log, is
none of these: see `workbench.simulate` and `workbench.fit`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np
from scipy import special

from workbench import catalogue
from workbench.evidence.population import LEGS, LOAD_STEP, Between, expected_reps, lifters, reps_moments, women_share
from workbench.models.fatigue import DEFAULT_FORM, FatigueForm
from workbench.models.load_reps import STUDIED_LOAD_FRACTIONS
from workbench.parameters import endurance_prior, group_draws, one_rm_spread
from workbench.quantities import FloatArray, InputError, within

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["STUDIED_RESTS_S", "predict_sets"]

#: Rests of the studies behind the fit, s.
STUDIED_RESTS_S: Final = (20.0, 300.0)
#: People in a typical study of this kind: the size of the sampling error in a study mean.
_GROUP_SIZE: Final = 14
_LIFTERS: Final = 64
#: Log sd of a group's headroom, ln(1RM / load), where its load is given as a share of 1RM: 1RMs are tested in steps, on
#: other days, or read off a table (assumed; about 5 % of load at 75 % of 1RM).
_ONE_RM_LOG_SD: Final = 0.2
_BISECTIONS: Final = 40
_SEXES: Final = ("male", "m", "men", "female", "f", "women", "mixed")


def predict_sets(
    exercise: str,
    load_fractions: Sequence[float],
    rests_s: Sequence[float],
    *,
    reps_cap: float | Sequence[float] | None = None,
    sex: str | None = None,
    first_set_reps: float | None = None,
    rep_max: float | None = None,
    training: str | None = None,
    draws: int = 600,
    seed: int = 0,
    form: FatigueForm | None = None,
    group_size: int = _GROUP_SIZE,
) -> pd.DataFrame:
    """Predict the mean reps of a group in each of a run of sets to failure of one exercise.

    Parameters
    ----------
    exercise : str
        Name in the catalogue of exercises. Any other name falls back on the pooled endurance, marked.
    load_fractions : sequence of float, one a set, [1]
        Load over 1RM, above 0 and up to 1.
    rests_s : sequence of float, one a set, [s], >= 0
        Rest before each set; the first is ignored.
    reps_cap : float or sequence of float, optional
        Reps after which everyone stops.
    sex : str, optional
        "male" or "female" ("M", "F"); left out, a third of the group are women, as in the studies.
    first_set_reps : float, optional
        Known mean reps of the first set. The group's endurance follows from it. With as many reps as ``reps_cap``, the
        load counts as each one's repetition maximum.
    rep_max : float, optional
        Reps of which the first load is each one's repetition maximum: everyone does as many, whatever the 1RM. The
        loads then matter only against each other.
    training : str, optional
        "trained" or "untrained": how well people know their 1RM. Left out, a mixed group.
    draws, seed : int
        Number of draws and seed: the same seed gives the same digits.
    form : FatigueForm, optional
        The default form if left out.
    group_size : int
        People behind the study mean whose interval is wanted.

    Returns
    -------
    pandas.DataFrame
        One row a set: ``set``, ``load_fraction``, ``rest_s``, ``mean``, ``sd``, ``low``, ``high`` (80 % interval of a
        study mean, in reps), ``person_sd`` (sd between the people of one study, in whole reps), ``person_low`` and
        ``person_high`` (80 % interval of a person of whom nothing is known) and ``mark``, which says where the number
        is a fallback or an extrapolation. The same is in ``attrs["fallback"]``. ``attrs["total"]`` holds ``mean`` and
        ``person_sd`` of the sum of whole reps over the sets.

    Raises
    ------
    InputError
        For lengths that differ or values out of range.

    >>> table = predict_sets("bench press", [0.75] * 3, [0, 120, 120], first_set_reps=10, draws=50)
    >>> float(table["mean"][0]), bool(table["mean"].is_monotonic_decreasing)
    (10.0, True)
    >>> bool((table["person_high"] - table["person_low"] > table["high"] - table["low"]).all())
    True
    """
    import pandas as pd

    fractions = within("load_fractions", load_fractions, 1e-3, 1.0)
    rests = within("rests_s", [0.0, *list(rests_s)[1:]], 0.0, 86400.0, "s")
    if fractions.ndim != 1 or fractions.size == 0 or fractions.size != len(rests_s):
        raise InputError(
            None,
            "rests_s",
            f"{len(rests_s)} rests for {fractions.size} sets",
            "give one load and one rest per set (the first rest is ignored)",
        )
    sets = fractions.size
    caps = np.full(sets, np.inf) if reps_cap is None else np.broadcast_to(np.asarray(reps_cap, dtype=float), (sets,))
    within("reps_cap", np.minimum(caps, 1e6), 1.0, 1e6, "reps")
    if first_set_reps is not None:
        within("first_set_reps", first_set_reps, 0.5, min(float(caps[0]), 300.0), "reps")
    if rep_max is not None:
        within("rep_max", rep_max, 1.0, 300.0, "reps")
    if training not in (None, "trained", "untrained", "mixed"):
        raise InputError(
            None, "training", f"{training!r} is not known", "use trained, untrained or mixed, or leave it out"
        )
    if sex is not None and str(sex).lower() not in _SEXES:
        raise InputError(None, "sex", f"{sex!r} is not known", f"use one of: {', '.join(_SEXES)}, or leave it out")
    form = DEFAULT_FORM if form is None else form
    endurance_class, fallback = _endurance_class(exercise)
    if rep_max is None and first_set_reps is not None and first_set_reps >= caps[0] - 1e-9:
        rep_max = first_set_reps
    group = _Group(endurance_class, sex, one_rm_spread(training), first_set_reps, rep_max)
    rng = np.random.default_rng([seed, 0])
    reps, misfit = _simulate(form, fractions, rests, caps, group, draws, rng)
    whole, scatter = reps_moments(reps, caps[:, None, None])
    mean = whole.mean(axis=-1)
    rng = np.random.default_rng([seed, 1])
    between = np.sqrt(whole.var(axis=-1) + scatter.mean(axis=-1))
    scale = np.where(np.isfinite(caps)[:, None], np.minimum(mean, np.maximum(caps[:, None] - mean, 0.1)), mean)
    error = np.hypot(misfit[None, :] * scale, between / np.sqrt(group_size))
    study = np.clip(mean + error * rng.standard_normal(mean.shape), 0.0, caps[:, None])
    total = whole.sum(axis=0)
    total_sd = float(np.sqrt(np.mean(total.var(axis=-1) + scatter.sum(axis=0).mean(axis=-1))))
    if first_set_reps is not None:
        mean[0] = study[0] = first_set_reps
    person = whole + np.sqrt(scatter) * rng.standard_normal(whole.shape)
    person = np.clip(np.round(person), 0.0, caps[:, None, None])
    person_low, person_high = np.quantile(person, [0.1, 0.9], axis=(1, 2))
    low, high = np.quantile(study, [0.1, 0.9], axis=1)
    table = pd.DataFrame(
        {
            "set": np.arange(1, sets + 1),
            "load_fraction": fractions,
            "rest_s": [np.nan, *rests[1:]],
            "mean": mean.mean(axis=1),
            "sd": study.std(axis=1),
            "low": low,
            "high": high,
            "person_sd": np.sqrt(np.mean(between**2, axis=1)),
            "person_low": person_low,
            "person_high": person_high,
            "mark": _marks(fractions, rests, fallback),
        }
    )
    table.attrs["fallback"] = fallback
    table.attrs["endurance_class"] = endurance_class
    table.attrs["form"] = form.name
    table.attrs["total"] = {"mean": float(table["mean"].sum()), "person_sd": total_sd}
    return table


def _endurance_class(exercise: str) -> tuple[str, str]:
    """Class of endurance of an exercise and, where no study stands behind it, the reason."""
    try:
        found = catalogue.exercise(exercise).endurance_class
    except InputError:
        return "other", f"{exercise!r} is not in the catalogue: pooled endurance of all exercises"
    if endurance_prior(found).fallback:
        return found, f"no study of the class {found!r}: pooled endurance of all exercises"
    return found, ""


def _marks(fractions: FloatArray, rests: FloatArray, fallback: str) -> list[str]:
    low, high = STUDIED_LOAD_FRACTIONS
    short, long = STUDIED_RESTS_S
    marks = []
    for index, (fraction, rest) in enumerate(zip(fractions, rests, strict=True)):
        notes = [fallback] if fallback else []
        if not low - 1e-9 <= fraction <= high + 1e-9:
            notes.append(f"load outside the studied {low:.0%} to {high:.0%} of 1RM")
        if index and not short <= rest <= long:
            notes.append(f"rest outside the studied {short:g} to {long:g} s")
        marks.append("; ".join(notes))
    return marks


@dataclass(frozen=True)
class _Group:
    """Who does the sets: ``first_set`` and ``rep_max`` in reps, None where not known."""

    endurance_class: str
    sex: str | None
    one_rm_sd: float
    first_set: float | None
    rep_max: float | None


def _scores(draws: int, rng: np.random.Generator) -> FloatArray:
    """Return standard normal scores, spread evenly and in random order: their mean is 0 to the last digit."""
    return np.asarray(special.ndtri((rng.permutation(draws) + 0.5) / draws))


def _simulate(
    form: FatigueForm,
    fractions: FloatArray,
    rests: FloatArray,
    caps: FloatArray,
    who: _Group,
    draws: int,
    rng: np.random.Generator,
) -> tuple[FloatArray, FloatArray]:
    """Capacity of each lifter in each set, shape (sets, draws, lifters), and the misfit of each draw."""
    parameters, group = group_draws(draws, rng, form)
    people = lifters(_LIFTERS)
    spread = endurance_prior(who.endurance_class)
    legs = 1.0 if who.endurance_class in LEGS else 0.0
    log_recovery = (
        women_share(who.sex) * group["female"] + legs * group["legs"] + group["group_sd"] * _scores(draws, rng)
    )
    rate = np.exp(log_recovery[:, None] + Between(group["people_sd"], group["tie"]).log_rate(people))
    between = np.hypot(spread.log_sd_of_median, spread.log_sd_between_groups)
    log_group = np.log(spread.median) + between * _scores(draws, rng)
    own = spread.log_sd_between_lifters * people.endurance
    headroom = -np.log(fractions[0])
    conditioned = who.first_set is not None and who.rep_max is None and headroom > 0.0
    if conditioned:
        # What the first set says of the group's endurance is worth as much as the 1RM behind the load is known.
        implied = _log_endurance_from(headroom, float(who.first_set or 0.0), caps[0], own)
        trust = between**2 / (between**2 + _ONE_RM_LOG_SD**2)
        log_group = (1.0 - trust) * np.log(spread.median) + trust * implied
        log_group = log_group + np.sqrt(trust) * _ONE_RM_LOG_SD * _scores(draws, rng)
    endurance = np.exp(log_group[:, None] + own)
    found = who.rep_max is not None or headroom <= 1e-9
    # A load that each one found by trying lies up to a step below what would have failed; a percentage of 1RM is known
    # as well as the 1RM.
    slack = LOAD_STEP * people.step if found else who.one_rm_sd * people.day
    if who.rep_max is not None:
        room = endurance * (who.rep_max - 1.0)
    else:
        # The reps of the known first set hold, whatever the endurance: it tells on other loads.
        room = endurance * headroom / np.exp(implied + own) if conditioned else np.full_like(endurance, headroom)
    room = room + slack
    state = form.fresh(endurance.shape)
    out = []
    for index, fraction in enumerate(fractions):
        if index:
            state = form.rest(state, rests[index], rate, parameters=parameters)
        left = room + np.log(fractions[0] / fraction)
        fresh = np.maximum(1.0 + left / endurance, 0.0)
        available, state = form.work(state, left, fresh, caps[index], parameters=parameters)
        out.append(np.broadcast_to(available, endurance.shape))
    return np.stack(out), group["misfit"]


def _log_endurance_from(headroom: float, reps: float, cap: float, own: FloatArray) -> float:
    """Log endurance of the group whose lifters average ``reps`` whole reps, by bisection."""
    low, high = np.log(1e-4), np.log(2.0)
    for _ in range(_BISECTIONS):
        middle = 0.5 * (low + high)
        capacity = 1.0 + headroom / np.exp(middle + own)
        more = expected_reps(capacity, np.array(cap)).mean() > reps
        low, high = (middle, high) if more else (low, middle)
    return float(0.5 * (low + high))
