"""What the log taught: possible lifters for a plan, the load-reps curve, and what a rep-max formula would have said."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd

from workbench.fit import Learned
from workbench.fit.learned import LearnedDraws
from workbench.fit.lifter_file import others_given, updated_lifter
from workbench.models.load_reps import Curve, studied
from workbench.models.published import EQUATIONS
from workbench.quantities import SEED, FloatArray
from workbench.simulate.draws import LifterDraws, ahead, draw_for
from workbench.simulate.plan import Plan
from workbench.simulate.run import INTERVAL, interval_columns, simulate

__all__ = ["fresh_sets", "learned_curve", "learned_draws", "rep_max_table", "week_chances"]

#: Loads of the curve, as shares of the median 1RM after the log.
_SHARES = np.arange(0.5, 1.001, 0.0125)


def learned_draws(
    learned: Learned, plan: Plan, *, first_week: int = 1, draws: int = 2000, seed: int = SEED
) -> LifterDraws:
    """Draw the lifter for a plan from what the log taught.

    Days and scatter of sets are those of `workbench.simulate.draws.draw_for` with the same seed, so that before and
    after meet the same days; on the days of the weeks ahead comes what a 1RM drifts by, and the gain that the log
    speaks for, with its spread. Exercises that are not in the log keep the 1RM of the file, and the part of endurance
    that exercises have in common follows the log.

    Parameters
    ----------
    learned : Learned
    plan : Plan
        Of the same lifter.
    first_week : int
        Week of the plan that follows the log.
    draws, seed : int

    Returns
    -------
    LifterDraws
    """
    # A stream of its own: the draws of days and sets stay as they are without a log.
    rng = np.random.default_rng([seed, 1])
    return _for_plan(learned, plan, learned.draws(draws, rng), rng, seed, first_week)


def week_chances(
    learned: Learned, plan: Plan, drawn: LearnedDraws, *, week: int, days: int = 20, seed: int = SEED
) -> FloatArray:
    """Chance of each possible lifter that all reps of one week are made, over many runs of days.

    Parameters
    ----------
    learned : Learned
    plan : Plan
    drawn : LearnedDraws
        Possible lifters, from ``learned.draws``.
    week : int
        From 1.
    days : int
        Runs of days that each lifter lives through.
    seed : int

    Returns
    -------
    array, shape (draws,), 0 to 1
    """
    count = drawn.recovery_rate.size
    every = np.repeat(np.arange(count), days)
    rng = np.random.default_rng([seed, 2])
    outcome = simulate(plan, _for_plan(learned, plan, drawn.rows(every), rng, seed, week))
    made = outcome.made_by_session[:, :, week - 1].all(axis=0)
    return np.asarray(made.reshape(count, days).mean(axis=1))


def _for_plan(
    learned: Learned, plan: Plan, after: LearnedDraws, rng: np.random.Generator, seed: int, first_week: int
) -> LifterDraws:
    draws = after.recovery_rate.size
    # What comes with the weeks ahead follows below, from the log itself.
    updated = updated_lifter(learned).model_copy(update={"together": None})
    gain = after.gain.mean(axis=1) if after.exercises else np.zeros(draws)
    for_learned = replace(plan, lifter=updated, form=learned.fit.form, curve=learned.fit.curve)
    before = draw_for(for_learned, draws=draws, seed=seed)
    log_one_rm, endurance = before.log_one_rm.copy(), before.endurance.copy()
    others = tuple(name for name in plan.exercises if name not in after.exercises)
    log_one_rm_of_others, log_endurance = others_given(learned, after, others, rng, plan.catalogue)
    for lane, name in enumerate(plan.exercises):
        if name in others:
            log_one_rm[:, lane] = log_one_rm_of_others[:, others.index(name)]
            endurance[:, lane] = np.exp(log_endurance[:, others.index(name)])
        else:
            log_one_rm[:, lane] = after.log_one_rm[:, after.exercises.index(name)]
            endurance[:, lane] = after.endurance[:, after.exercises.index(name)]
    return replace(
        before,
        log_one_rm=log_one_rm,
        endurance=endurance,
        recovery_rate=after.recovery_rate,
        carry=after.carry_over[:, np.newaxis],
        fatigue=before.fatigue if after.tiring is None else after.tiring,
        bend=after.bend,
        day=before.day + ahead(gain, plan.weeks, first_week=first_week, rng=np.random.default_rng([seed, 3])),
    )


def learned_curve(learned: Learned, exercise: str, *, draws: int = 2000, seed: int = SEED) -> pd.DataFrame:
    """Reps to failure of a fresh set at each load, before and after the log.

    Scatter from day to day and set to set is left out: the bands show what is not known of the lifter.

    Parameters
    ----------
    learned : Learned
    exercise : str
        One of ``learned.exercises``.
    draws, seed : int

    Returns
    -------
    DataFrame
        load_kg, percent (of the median 1RM after the log), before_p10, before_p50, before_p90, after_p10, after_p50,
        after_p90 [reps], studied (whether sets at that share of 1RM have been studied).
    """
    rng = np.random.default_rng(seed)
    number = learned.exercises.index(exercise)
    one_rm = float(learned.one_rm(exercise).quantile(0.5))
    loads = _SHARES * one_rm
    prior = learned.fit.lifts[number].prior
    z = rng.standard_normal((2, draws))
    curve = learned.fit.curve
    before = _reps(
        curve.bent(learned.lifter.bend(curve)),
        prior.one_rm.log_mean + prior.one_rm.log_sd * z[0],
        np.exp(prior.endurance.log_mean + prior.endurance.log_sd * z[1]),
        loads,
    )
    drawn = learned.draws(draws, rng)
    bent = curve.bent(None if drawn.bend is None else drawn.bend[:, np.newaxis])
    after = _reps(bent, drawn.log_one_rm[:, number], drawn.endurance[:, number], loads)
    table = pd.DataFrame({"load_kg": loads, "percent": 100.0 * _SHARES})
    return table.assign(
        **interval_columns(before, "before"), **interval_columns(after, "after"), studied=studied(_SHARES)
    )


def _reps(curve: Curve, log_one_rm: FloatArray, endurance: FloatArray, loads: FloatArray) -> FloatArray:
    return curve.fresh_reps(log_one_rm[:, None] - np.log(loads), endurance[:, None])


def fresh_sets(learned: Learned, exercise: str) -> pd.DataFrame:
    """List the first set of each day of an exercise: load_kg, reps, ending, text.

    Later sets carry the fatigue of earlier ones and do not belong on a curve of fresh sets.
    """
    number = learned.exercises.index(exercise)
    words = {
        "failed": "then failed",
        "completed": "completed",
        "stated": "{:g} said to be in reserve",
        "felt": "stopped at {:g}",
    }
    rows = []
    for session in learned.fit.log.lifts[number].sessions:
        one = session.sets[0]
        said = words[one.ending].format(one.reserve)
        text = f"{session.date}: {one.reps} reps with {one.load_kg:g} kg, {said}"
        rows.append({"load_kg": one.load_kg, "reps": one.reps, "ending": one.ending, "text": text})
    return pd.DataFrame(rows)


def rep_max_table(learned: Learned) -> pd.DataFrame:
    """Put what a rep-max formula (epley_1985) makes of the same log beside what is learned here.

    A formula takes every set for a set to failure. Where sets were stopped early it puts the 1RM too low.

    Parameters
    ----------
    learned : Learned

    Returns
    -------
    DataFrame
        exercise, believed_kg (before the log), formula_kg (largest over all sets, where the equation is valid), low_kg,
        learned_kg, high_kg (80 % interval and median after the log), failed_sets (sets that ended at failure).
    """
    formula = EQUATIONS["epley_1985"]
    rows = []
    for log, lift in zip(learned.fit.log.lifts, learned.fit.lifts, strict=True):
        sets = [one for session in log.sessions for one in session.sets if one.reps > 0]
        estimates = np.array([float(formula(one.load_kg, one.reps)) for one in sets])
        valid = estimates[np.isfinite(estimates)]
        low, middle, high = learned.one_rm(lift.exercise).quantile(INTERVAL)
        rows.append(
            {
                "exercise": lift.exercise,
                "believed_kg": float(np.exp(lift.prior.one_rm.log_mean)),
                "formula_kg": float(valid.max()) if valid.size else np.nan,
                "low_kg": low,
                "learned_kg": middle,
                "high_kg": high,
                "failed_sets": sum(one.ending == "failed" for one in sets),
            }
        )
    return pd.DataFrame(rows)
