"""From week to week: what strength may gain, how much it varies by day, session load, and what is known of tapers."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import numpy as np
import pandas as pd

from workbench.lifter import Lifter
from workbench.models.adaptation import gained, monotony, session_load, strain
from workbench.prescription.block import WHOLE_WEEK
from workbench.quantities import InputError
from workbench.reference.parameters import noise
from workbench.reference.sources import read_rows
from workbench.simulate.plan import Plan

__all__ = ["day_variation", "gain_prior", "published_tapers", "week_load"]

_DAYS: Final = 7
#: Middle 80 % of a normal distribution, in standard deviations.
_MIDDLE: Final = 1.2816


def gain_prior(lifter: Lifter, weeks: int) -> pd.DataFrame:
    """Return what the 1RMs of a lifter may become, by years of training alone: wide, and no promise.

    Parameters
    ----------
    lifter : Lifter
        With ``training_years``.
    weeks : int

    Returns
    -------
    DataFrame
        One row a lift: exercise, one_rm_kg (now), low_kg, after_kg, high_kg, percent_per_week, source, grade. The
        range is that of the studies and lifters behind the rate, about the middle 80 %.

    Raises
    ------
    InputError
        Where the years of training are not known.
    """
    if lifter.training_years is None:
        raise InputError(None, f"lifter {lifter.name}", "has no years of training", "add training_years")
    years = lifter.training_years
    row = next(
        one
        for one in read_rows("evidence", "gain_rates.csv")
        if float(one["years_from"]) <= years < float(one["years_to"]) or float(one["years_to"]) == 80 <= years
    )
    rates = [float(row[key]) for key in ("low", "percent_per_week", "high")]
    rows = []
    for name, lift in lifter.lifts.items():
        low, middle, high = (float(gained(lift.one_rm, rate, weeks)) for rate in rates)
        rows.append((name, lift.one_rm, low, middle, high, rates[1], row["source"], row["grade"]))
    columns = ["exercise", "one_rm_kg", "low_kg", "after_kg", "high_kg", "percent_per_week", "source", "grade"]
    return pd.DataFrame(rows, columns=columns)


def day_variation(one_rm_kg: float) -> tuple[float, float]:
    """Return the loads between which a 1RM lies on the middle 80 % of days, kg.

    >>> low, high = day_variation(100.0)
    >>> 90 < low < 100 < high < 110
    True
    """
    spread = float(np.exp(_MIDDLE * noise().day_sd))
    return one_rm_kg / spread, one_rm_kg * spread


def week_load(plan: Plan, ratings: Mapping[str, float], *, week: int = 1) -> pd.DataFrame:
    """Session load, monotony and strain of a week after Foster, from ratings of its sessions and their duration.

    Parameters
    ----------
    plan : Plan
        Its sessions need a ``day`` each.
    ratings : mapping of str to float
        Rating of each session as a whole, 0 to 10, by the session's name.
    week : int
        Counted from 1.

    Returns
    -------
    DataFrame
        One row a session (session, day, rating, minutes, load) and one "whole week" with load, monotony and strain.
        There is no cut-off: illness followed thresholds of each person's own (foster_1998).

    Raises
    ------
    InputError
        Where a session has no day or no rating, or the block no such week.
    """
    if not 1 <= week <= plan.weeks:
        raise InputError(None, "week", f"the block has no week {week}", f"use 1 to {plan.weeks}")
    daily = np.zeros(_DAYS)
    rows: list[tuple[str, float, float, float, float, float, float]] = []
    for session in plan.sessions:
        if session.day is None:
            raise InputError(None, f"session {session.name}", "has no day of the week", "add day = 1 to 7")
        if session.name not in ratings:
            raise InputError(None, "ratings", f"none for {session.name}", "rate every session of the week")
        minutes = float(session.duration_s[week - 1]) / 60.0
        load = float(session_load(ratings[session.name], minutes))
        daily[session.day - 1] += load
        rows.append((session.name, session.day, ratings[session.name], minutes, load, np.nan, np.nan))
    total = (float(monotony(daily)), float(strain(daily)))
    minutes = sum(row[3] for row in rows)
    rows.append((WHOLE_WEEK, np.nan, np.nan, minutes, float(daily.sum()), *total))
    return pd.DataFrame(rows, columns=["session", "day", "rating", "minutes", "load", "monotony", "strain"])


def published_tapers() -> pd.DataFrame:
    """Return what is known of lighter weeks and tapers: topic, measure, value, low, high, unit, population, source."""
    table = pd.DataFrame(read_rows("evidence", "taper.csv"))
    table[["value", "low", "high"]] = table[["value", "low", "high"]].apply(pd.to_numeric)
    return table
