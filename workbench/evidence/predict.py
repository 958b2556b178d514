"""Reps of each set for a group of lifters that nobody has measured, with three things that are not to be confused.

A *study's mean* lies in a narrow interval (``low``, ``high``). The *people in it* differ far more (``person_sd``, as a
paper prints it, and the interval of a person of whom nothing is known). *This lifter*, with a tested 1RM and a log, is
none of these: see `workbench.simulate` and `workbench.fit`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np
from scipy import special

from workbench.evidence.curves import bisected
from workbench.evidence.population import LEGS, LOAD_STEP, Between, expected_reps, lifters, reps_moments, women_share
from workbench.gym.catalogue import built_in
from workbench.models.fatigue import DEFAULT_FORM, FatigueForm, run_sets
from workbench.models.load_reps import DEFAULT_CURVE, STUDIED_LOAD_FRACTIONS, Curve
from workbench.present.words import percent_said
from workbench.quantities import SEED, FloatArray, InputError, within
from workbench.reference.parameters import endurance_prior, group_draws, one_rm_spread

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["STUDIED_RESTS_S", "STUDIED_SETS", "predict_sets"]

#: Rests of the studies behind the fit, s.
STUDIED_RESTS_S: Final = (20.0, 300.0)
#: Most sets of an exercise on end of these studies.
STUDIED_SETS: Final = 6
#: People in a typical study of this kind: the size of the sampling error in a study mean (assumed).
_GROUP_SIZE: Final = 14
_LIFTERS: Final = 64
#: Log sd of a group's headroom, ln(1RM / load), where its load is given as a share of 1RM: 1RMs are tested in steps, on
#: other days, or read off a table (assumed; about 5 % of load at 75 % of 1RM).
_ONE_RM_LOG_SD: Final = 0.2
_BISECTIONS: Final = 40
_SEXES: Final = ("male", "m", "men", "female", "f", "women", "mixed")
_TRAINING: Final = ("trained", "untrained", "mixed")


def predict_sets(
    exercise: str,
    load_fractions: Sequence[float],
    rests_s: Sequence[float],
    *,  # each by its name, and most left as they are
    reps_cap: float | Sequence[float] | None = None,
    sex: str | None = None,
    first_set_reps: float | None = None,
    rep_max: float | None = None,
    training: str | None = None,
    draws: int = 600,
    seed: int = SEED,
    form: FatigueForm = DEFAULT_FORM,
    curve: Curve = DEFAULT_CURVE,
    group_size: int = _GROUP_SIZE,
) -> pd.DataFrame:
    """Predict the mean reps of a group in each of a run of sets to failure of one exercise.

    Parameters
    ----------
    exercise : str
        Name in the catalogue of exercises. Any other name falls back on the pooled endurance, marked.
    load_fractions : sequence of float, one a set, [1], 0.001 to 1
        Load over 1RM.
    rests_s : sequence of float, one a set, [s], >= 0
        Rest before each set; the first is ignored.
    reps_cap : float or sequence of float, one a set, [reps], >= 1
        Reps after which everyone stops.
    sex : str, optional
        "male" or "female" ("M", "F"); left out, a third of the group are women, as in the studies.
    first_set_reps : float, [reps], 0.5 to 300
        Known mean reps of the first set. The group's endurance follows from it. With as many reps as ``reps_cap``, the
        load counts as each one's repetition maximum.
    rep_max : float, [reps], 1 to 300
        Reps of which the first load is each one's repetition maximum: everyone does as many, whatever the 1RM. The
        loads then matter only against each other.
    training : str, optional
        "trained" or "untrained": how well people know their 1RM. Left out, a mixed group.
    draws : int, [1], 10 to 100,000
        Simulated groups of a study.
    seed : int, [1], >= 0
        The same seed gives the same digits.
    form : FatigueForm
        How a set tires, or the name of one in `FORMS`.
    curve : Curve
        Load and reps, fresh: one of `CURVES`, or of your own.
    group_size : int, [1], 1 to 100,000
        People behind the study mean whose interval is wanted.

    Returns
    -------
    pandas.DataFrame
        One row a set: ``set``; ``load_fraction`` [1]; ``rest_s`` [s]; ``mean``, ``sd``, ``low``, ``high`` [reps] (80 %
        interval of a study mean); ``person_sd`` [reps] (between the people of one study, in whole reps);
        ``person_low``, ``person_high`` [reps] (80 % interval of a person of whom nothing is known); ``mark``, which
        says where the number is a fallback or an extrapolation. The same is in ``attrs["fallback"]``.
        ``attrs["total"]`` holds ``mean`` and ``person_sd`` of the sum of whole reps over the sets.

    Raises
    ------
    InputError
        For lengths that differ or values out of range.

    Notes
    -----
    The spread between studies comes from ``data/fitted/``, fitted to ``data/evidence/sets.csv``, endurance from
    ``data/parameters.csv``. Marked outside what those studied: rests, loads, number of sets.

    >>> table = predict_sets("bench press", [0.75] * 3, [0, 120, 120], first_set_reps=10, draws=50)
    >>> float(table["mean"][0]), bool(table["mean"].is_monotonic_decreasing)
    (10.0, True)
    >>> bool((table["person_high"] - table["person_low"] > table["high"] - table["low"]).all())
    True
    """
    import pandas as pd

    endurance_class, fallback = _endurance_class(exercise)
    asked = _Asked.checked(
        load_fractions,
        rests_s,
        reps_cap,
        group=_Group(endurance_class, sex, training, first_set_reps, rep_max),
    )
    fractions, rests, caps = asked.fractions, asked.rests, asked.caps
    reps, misfit = _simulate(asked, form, curve, draws, seed)
    whole, scatter = reps_moments(reps, caps[:, None, None])
    mean = whole.mean(axis=-1)
    rng = np.random.default_rng([seed, 1])
    between = np.sqrt(whole.var(axis=-1) + scatter.mean(axis=-1))
    scale = np.where(np.isfinite(caps)[:, None], np.minimum(mean, np.maximum(caps[:, None] - mean, 0.1)), mean)
    error = np.hypot(misfit[None, :] * scale, between / np.sqrt(group_size))
    study = np.clip(mean + error * rng.standard_normal(mean.shape), 0.0, caps[:, None])
    if first_set_reps is not None:
        mean[0] = study[0] = first_set_reps
    low, high = np.quantile(study, [0.1, 0.9], axis=1)
    person = np.round(whole + np.sqrt(scatter) * rng.standard_normal(whole.shape))
    person_low, person_high = np.quantile(np.clip(person, 0.0, caps[:, None, None]), [0.1, 0.9], axis=(1, 2))
    total_variance = whole.sum(axis=0).var(axis=-1) + scatter.sum(axis=0).mean(axis=-1)
    table = pd.DataFrame(
        {
            "set": np.arange(1, fractions.size + 1),
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
    total = {"mean": float(table["mean"].sum()), "person_sd": float(np.sqrt(total_variance.mean()))}
    table.attrs = {"fallback": fallback, "endurance_class": endurance_class, "form": form.name, "total": total}
    return table


def _endurance_class(exercise: str) -> tuple[str, str]:
    """Class of endurance of an exercise and, where no study stands behind it, the reason."""
    try:
        found = built_in().exercise(exercise).endurance_class
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
            notes.append(f"load outside the studied {percent_said(low)} to {percent_said(high)} of 1RM")
        if index and not short <= rest <= long:
            notes.append(f"rest outside the studied {short:g} to {long:g} s")
        marks.append("; ".join(notes))
    return marks


@dataclass(frozen=True)
class _Group:
    """Who does the sets: ``first_set_reps`` and ``rep_max`` in reps; None where not known."""

    endurance_class: str
    sex: str | None
    training: str | None
    first_set_reps: float | None
    rep_max: float | None

    def checked(self, cap: float) -> _Group:
        """Return the group, its load each one's repetition maximum where all reach the cap of the first set."""
        first = self.first_set_reps
        if first is not None:
            within("first_set_reps", first, 0.5, min(cap, 300.0), "reps")
        if self.rep_max is not None:
            within("rep_max", self.rep_max, 1.0, 300.0, "reps")
        for name, known in (("sex", _SEXES), ("training", _TRAINING)):
            value = getattr(self, name)
            if value is not None and str(value).lower() not in known:
                raise InputError(
                    None, name, f"{value!r} is not known", f"use one of: {', '.join(known)}, or leave it out"
                )
        return replace(self, rep_max=first) if self.rep_max is None and first is not None and first >= cap else self


@dataclass(frozen=True)
class _Asked:
    """What a group does: loads, rests and caps of shape (sets,), and the group itself."""

    fractions: FloatArray
    rests: FloatArray
    caps: FloatArray
    group: _Group

    @classmethod
    def checked(
        cls,
        load_fractions: Sequence[float],
        rests_s: Sequence[float],
        reps_cap: float | Sequence[float] | None,
        group: _Group,
    ) -> _Asked:
        fractions = within("load_fractions", load_fractions, 1e-3, 1.0)
        rests = within("rests_s", [0.0, *list(rests_s)[1:]], 0.0, 86400.0, "s")
        if fractions.ndim != 1 or fractions.size == 0 or fractions.size != len(rests_s):
            raise InputError(
                None,
                "rests_s",
                f"{len(rests_s)} rests for {fractions.size} sets",
                "give one load and one rest per set (the first rest is ignored)",
            )
        caps = np.broadcast_to(np.asarray(np.inf if reps_cap is None else reps_cap, dtype=float), fractions.shape)
        within("reps_cap", np.minimum(caps, 1e6), 1.0, 1e6, "reps")
        return cls(fractions, rests, caps, group.checked(float(caps[0])))


def _scores(draws: int, rng: np.random.Generator) -> FloatArray:
    """Return standard normal scores, spread evenly and in random order: their mean is 0 to the last digit."""
    return np.asarray(special.ndtri((rng.permutation(draws) + 0.5) / draws))


def _simulate(asked: _Asked, form: FatigueForm, curve: Curve, draws: int, seed: int) -> tuple[FloatArray, FloatArray]:
    """Capacity of each lifter in each set, shape (sets, draws, lifters), and the misfit of each draw."""
    rng = np.random.default_rng([seed, 0])
    parameters, spreads = group_draws(draws, rng, form)
    people, group = lifters(_LIFTERS), asked.group
    spread = endurance_prior(group.endurance_class)
    legs = 1.0 if group.endurance_class in LEGS else 0.0
    women = women_share(group.sex)
    log_recovery = women * spreads["female"] + legs * spreads["legs"] + spreads["group_sd"] * _scores(draws, rng)
    rate = np.exp(log_recovery[:, None] + Between(spreads["people_sd"], spreads["tie"]).log_rate(people))
    between = np.hypot(spread.log_sd_of_median, spread.log_sd_between_groups)
    log_group = np.log(spread.median) + between * _scores(draws, rng)
    own = spread.log_sd_between_lifters * people.endurance
    headroom, first = -np.log(asked.fractions[0]), group.first_set_reps
    conditioned = first is not None and group.rep_max is None and headroom > 0.0
    if conditioned:
        # What the first set says of the group's endurance is worth as much as the 1RM behind the load is known.
        implied = _log_endurance_from(curve, headroom, float(first or 0.0), asked.caps[0], own)
        trust = between**2 / (between**2 + _ONE_RM_LOG_SD**2)
        log_group = (1.0 - trust) * np.log(spread.median) + trust * implied
        log_group = log_group + np.sqrt(trust) * _ONE_RM_LOG_SD * _scores(draws, rng)
    endurance = np.exp(log_group[:, None] + own)
    if group.rep_max is not None:
        # The load was found as each one's repetition maximum: everyone does as many reps on it.
        room = curve.headroom_for(group.rep_max, endurance)
    elif conditioned:
        # The reps of the known first set hold, whatever the endurance: it tells on other loads.
        room = curve.headroom_for(curve.fresh_reps(headroom, np.exp(implied + own)), endurance)
    else:
        room = np.full_like(endurance, headroom)
    # A load that each one found by trying lies up to a step below what would have failed; a percentage of 1RM is known
    # as well as the 1RM.
    found = group.rep_max is not None or headroom <= 1e-9
    room = room + (LOAD_STEP * people.step if found else one_rm_spread(group.training) * people.day)
    lighter = np.log(asked.fractions[0] / asked.fractions)
    sets = ((rest, room + more, cap) for rest, more, cap in zip(asked.rests, lighter, asked.caps, strict=True))
    reps = run_sets(sets, endurance, rate, form=form, curve=curve, parameters=parameters)
    return np.stack(list(reps)), spreads["misfit"]


def _log_endurance_from(curve: Curve, headroom: float, reps: float, cap: float, own: FloatArray) -> float:
    """Log endurance of the group whose lifters average ``reps`` whole reps, by bisection."""

    def more(log_endurance: FloatArray) -> bool:
        capacity = curve.fresh_reps(headroom, np.exp(log_endurance + own))
        return bool(expected_reps(capacity, np.array(cap)).mean() > reps)

    return float(bisected(more, np.log(1e-4), np.log(2.0), _BISECTIONS))
