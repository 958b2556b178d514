"""Endurance and recovery in words that a coach has: reps at 70 % of 1RM, and what a rest of two minutes gives back."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import pandas as pd

from workbench.lifter import Lifter
from workbench.models.fatigue import FatigueForm, run_sets
from workbench.models.load_reps import Curve
from workbench.present.words import percent_said, reps_expected, reps_range
from workbench.quantities import FloatArray
from workbench.reference.parameters import fatigue_typical, recovery_prior
from workbench.simulate.draws import LifterDraws
from workbench.simulate.plan import Plan
from workbench.simulate.run import INTERVAL

__all__ = [
    "REST_S",
    "SHARE",
    "endurance_said",
    "kept_after_rest",
    "learned_as_reps",
    "lifter_said",
    "recovery_said",
    "reps_at_share",
]

#: Where endurance and recovery are spoken of: a load that most lifts are trained at, and a rest that most lifters take.
SHARE: Final = 0.7
REST_S: Final = 120.0
#: Ends of the middle 80 % of a normal distribution, in standard deviations.
_MIDDLE: Final = 1.2816


def reps_at_share(endurance: FloatArray, curve: Curve) -> FloatArray:
    """Whole reps of a fresh set to failure at `SHARE` of 1RM: 10, 50 and 90 % over lifters.

    ``endurance`` in 1/rep; the curve with the bend of each lifter, where these have one.
    """
    return np.asarray(np.floor(np.quantile(curve.fresh_reps(-np.log(SHARE), endurance), INTERVAL)))


def kept_after_rest(
    endurance: FloatArray, recovery_rate: FloatArray, *, form: FatigueForm, curve: Curve, parameters: Any
) -> FloatArray:
    """Share of the reps that a second set to failure at `SHARE` has after `REST_S`: 10, 50 and 90 % over lifters.

    Parameters
    ----------
    endurance, recovery_rate : array, shape (lifters,), [1/rep], [1]
    form, curve, parameters
        As for `workbench.models.fatigue.run_sets`; fields of the parameters broadcast with (lifters, 1).

    Returns
    -------
    array, shape (3,), [1], 0 to 1
    """
    headroom = np.full((1, 1), -np.log(SHARE))
    sets = [(0.0, headroom, np.inf), (REST_S, headroom, np.inf)]
    settings: dict[str, Any] = {"form": form, "curve": curve, "parameters": parameters}
    first, second = run_sets(sets, endurance[:, np.newaxis], recovery_rate[:, np.newaxis], **settings)
    return np.asarray(np.quantile(second / first, INTERVAL))


def endurance_said(endurance: FloatArray, curve: Curve, usual_endurance: tuple[float, float], *, known: bool) -> str:
    """Say the reps at 70 %, beside what four lifters of five have: of these, median [1/rep] and log sd of endurance."""
    median, log_sd = usual_endurance
    ends = median * np.exp(log_sd * np.array([-_MIDDLE, _MIDDLE]))
    few, many = sorted(np.floor(curve.bent(None).fresh_reps(-np.log(SHARE), ends)))
    usual = reps_range(few, many)
    if not known:
        return f"endurance not known, usual is {usual} reps at {percent_said(SHARE)}"
    return f"about {reps_expected(*reps_at_share(endurance, curve))} at {percent_said(SHARE)}, usual {usual}"


def learned_as_reps(table: pd.DataFrame, curve: Curve) -> pd.DataFrame:
    """Return what a log taught, as `workbench.fit.learned_in` has it, with reps at 70 % in place of endurance.

    A bend of the curve is taken for what the log taught, too.
    """
    table, rows = table.copy(), table["quantity"] == "endurance"
    for prefix in ("prior_", ""):
        names = [f"{prefix}p{percent}" for percent in (10, 50, 90)]
        of = curve.bent(None) if prefix else curve
        reps = np.floor(of.fresh_reps(-np.log(SHARE), table.loc[rows, names].to_numpy(dtype=float)))
        table.loc[rows, names] = reps[:, ::-1]  # the more endurance costs, the fewer reps
    table.loc[rows, ["quantity", "unit"]] = [f"reps at {percent_said(SHARE)}", "reps"]
    return table


def recovery_said(draws: LifterDraws, lane: int, lifter: Lifter, *, known: bool) -> str:
    """Say how much of the reps a rest of 2 min gives back, beside what is usual; ``lane`` is the exercise's index."""
    settings: dict[str, Any] = {"form": draws.form, "curve": draws.curve}
    median, log_sd = recovery_prior(lifter.sex) if lifter.gym is None else lifter.usual_recovery
    rates = median * np.exp(log_sd * np.array([-_MIDDLE, 0.0, _MIDDLE]))
    typical = np.full(3, np.median(draws.endurance[:, lane]))
    usual = kept_after_rest(typical, rates, **settings, parameters=fatigue_typical(draws.form))
    low, high = (f"{100 * share:.0f}" for share in usual[[0, 2]])
    after = f"of the reps after {REST_S / 60:.0f} min"
    if not known:
        return f"recovery not known, usual is to keep {low} to {high} % {after}"
    rate = draws.recovery_rate
    settings["curve"] = draws.bent_curve
    own = kept_after_rest(draws.endurance[:, lane], rate, **settings, parameters=draws.fatigue)
    return f"keeps about {percent_said(own[1])} {after}, usual {low} to {high} %"


def lifter_said(plan: Plan, draws: LifterDraws, exercise: str) -> str:
    """Say endurance in an exercise and recovery of the plan's lifter, and what of it is not known."""
    lane, lifter = plan.exercises.index(exercise), plan.lifter
    endurance = endurance_said(
        draws.endurance[:, lane],
        draws.curve.bent(draws.bend),
        lifter.usual_endurance(plan.catalogue.exercise(exercise).endurance_class),
        known=lifter.lift(exercise).endurance_on(draws.curve) is not None,
    )
    return f"{endurance}; {recovery_said(draws, lane, lifter, known=lifter.recovery_rate is not None)}"
