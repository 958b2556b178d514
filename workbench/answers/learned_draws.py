"""Possible lifters after the log, living through the days of a plan."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from workbench.fit.learned import LearnedDraws
from workbench.fit.lifter_file import updated_lifter
from workbench.quantities import SEED
from workbench.reference.parameters import SHARED_ENDURANCE, STATED_SHARE, endurance_prior
from workbench.simulate.run import LifterDraws, draw_lifter, simulate

if TYPE_CHECKING:
    from workbench.fit import Learned
    from workbench.quantities import FloatArray
    from workbench.simulate.plan import Plan

__all__ = ["learned_draws", "week_chances"]


def learned_draws(learned: Learned, plan: Plan, *, draws: int = 2000, seed: int = SEED) -> LifterDraws:
    """Draw the lifter for a plan from what the log taught.

    Days, scatter of sets and fatigue parameters are those of `workbench.answers.block_check.draw_for` with the same
    seed, so that before and after meet the same days. Exercises that are not in the log keep the 1RM of the file, and
    the part of endurance that exercises have in common follows the log.

    Parameters
    ----------
    learned : Learned
    plan : Plan
        Of the same lifter.
    draws, seed : int

    Returns
    -------
    LifterDraws
    """
    # A stream of its own: the draws of days and sets stay as they are without a log.
    rng = np.random.default_rng([seed, 1])
    return _for_plan(learned, plan, learned.draws(draws, rng), rng, seed)


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
    many = LearnedDraws(
        drawn.exercises,
        drawn.log_one_rm[every],
        drawn.endurance[every],
        drawn.recovery_rate[every],
        drawn.shared[every],
        drawn.carry_over[every],
    )
    rng = np.random.default_rng([seed, 2])
    outcome = simulate(plan, _for_plan(learned, plan, many, rng, seed))
    made = outcome.made_by_session[:, :, week - 1].all(axis=0)
    return np.asarray(made.reshape(count, days).mean(axis=1))


def _for_plan(learned: Learned, plan: Plan, after: LearnedDraws, rng: np.random.Generator, seed: int) -> LifterDraws:
    draws = after.recovery_rate.size
    before = draw_lifter(
        updated_lifter(learned),
        plan.exercises,
        weeks=plan.weeks,
        sessions=len(plan.sessions),
        sets=plan.set_count,
        draws=draws,
        rng=np.random.default_rng(seed),
        form=learned.fit.form,
        curve=learned.fit.curve,
        catalogue=plan.catalogue,
    )
    log_one_rm, endurance = before.log_one_rm.copy(), before.endurance.copy()
    for lane, name in enumerate(plan.exercises):
        if name in after.exercises:
            column = after.exercises.index(name)
            log_one_rm[:, lane] = after.log_one_rm[:, column]
            endurance[:, lane] = after.endurance[:, column]
            continue
        prior = endurance_prior(plan.catalogue.exercise(name).endurance_class)
        known = learned.lifter.lift(name).endurance_on(learned.fit.curve)
        log_sd = prior.log_sd * (1.0 if known is None else STATED_SHARE)
        own = np.sqrt(1.0 - SHARED_ENDURANCE) * rng.standard_normal(draws)
        together = np.sqrt(SHARED_ENDURANCE) * after.shared
        endurance[:, lane] = (known or prior.median) * np.exp(log_sd * (together + own))
    return replace(
        before,
        log_one_rm=log_one_rm,
        endurance=endurance,
        recovery_rate=after.recovery_rate,
        carry=after.carry_over[:, np.newaxis],
    )
