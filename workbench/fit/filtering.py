"""One exercise through time: its usual 1RM drifts as a random walk, each session has a day of its own.

For a given endurance and recovery rate the sessions depend on each other only through the usual 1RM, so that a
forward and a backward pass over a grid of it are exact, up to the grid.
"""

from __future__ import annotations

import datetime
import itertools
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from workbench.fit.marginals import LogNormal, gaussian_kernel

if TYPE_CHECKING:
    from workbench.fit.likelihood import Grid
    from workbench.fit.settings import FitSettings
    from workbench.quantities import FloatArray

__all__ = ["Filtered", "OneRMPrior", "filter_sessions"]


@dataclass(frozen=True)
class OneRMPrior(LogNormal):
    """What is believed of the 1RM of an exercise, in kg, and when it was so.

    Attributes
    ----------
    date : datetime.date or None
        When the 1RM was tested; the first session where it is not known.
    """

    date: datetime.date | None = None

    def on_grid(self, grid: Grid) -> FloatArray:
        """Weights of the strengths of a grid: a row for each rate and endurance, or one for all of them."""
        if not self.moves:
            return self.weights(grid.log_strength)
        mean, sd = self.given(grid.log_rate[:, None], grid.log_endurance)
        return self.weights(grid.log_strength, mean.reshape(mean.size, 1), sd)


@dataclass(frozen=True)
class Filtered:
    """What the sessions of one exercise say of its 1RM, for every endurance and recovery rate.

    Attributes
    ----------
    log_evidence : array, shape (rates, endurances), [ln 1]
        Log probability of all sessions, up to a constant.
    today : array, shape (rates, endurances, strengths), [1]
        Probability of the usual 1RM at the last date; sums to 1 over the last axis.
    usual : array, shape (sessions, rates, endurances, strengths), [1] or None
        The same at each session, from all sessions; only where asked for.
    day_before : array, like ``usual``
        Probability of each session's strength of the day, from all other sessions.
    """

    log_evidence: FloatArray
    today: FloatArray
    usual: FloatArray | None = None
    day_before: FloatArray | None = None


def filter_sessions(
    grid: Grid,
    likelihoods: FloatArray,
    dates: list[datetime.date],
    prior: OneRMPrior,
    settings: FitSettings,
    *,
    today: datetime.date,
    backward: bool = False,
) -> Filtered:
    """Run through the sessions of one exercise.

    Parameters
    ----------
    grid : Grid
    likelihoods : array, shape (sessions, rates, endurances, strengths)
        Probability of each session's sets given the strength of the day.
    dates : list of datetime.date
        Of the sessions, in order.
    prior : OneRMPrior
    settings : FitSettings
    today : datetime.date
        When the result holds; not before the last session.
    backward : bool
        Whether to work out each session's own distributions too.
    """
    points = grid.log_strength
    rates, endurances, strengths = grid.shape
    rows = rates * endurances
    day = gaussian_kernel(points, settings.day_sd)
    known_on = min(prior.date or dates[0], today)
    nodes = sorted({*dates, known_on, today})
    of_days = _spread(likelihoods.reshape(len(dates), rows, strengths), day.T, endurances)
    emissions: dict[datetime.date, FloatArray] = dict(zip(dates, of_days, strict=True))
    belief = prior.on_grid(grid)

    def own(date: datetime.date) -> FloatArray:
        here = emissions.get(date, np.ones((1, strengths)))
        return here * belief if date == known_on else here

    gaps = [(late - early).days for early, late in itertools.pairwise(nodes)]
    after_days = {days: gaussian_kernel(points, settings.drift_sd * np.sqrt(days / 7.0)) for days in set(gaps)}
    log_scale = 0.0
    before: dict[datetime.date, FloatArray] = {}
    message = np.ones((rows, strengths))
    for number, date in enumerate(nodes):
        if number:
            message = _spread(message, after_days[gaps[number - 1]], endurances)
        before[date] = message
        message = message * own(date)
        scale = message.max()
        message = message / scale
        log_scale += float(np.log(scale))
    with np.errstate(divide="ignore"):
        log_evidence = (np.log(message.sum(axis=1)) + log_scale).reshape(rates, endurances)
    at_end = _normalised(message).reshape(grid.shape)
    if not backward:
        return Filtered(log_evidence, at_end)

    usual = np.empty((len(dates), *grid.shape))
    day_before = np.empty_like(usual)
    after = np.ones((rows, strengths))
    for number in range(len(nodes) - 1, -1, -1):
        date = nodes[number]
        if date in emissions:
            others = before[date] * after * (belief if date == known_on else 1.0)
            index = dates.index(date)
            usual[index] = _normalised(others * emissions[date]).reshape(grid.shape)
            day_before[index] = _normalised(_spread(others, day, endurances)).reshape(grid.shape)
        if number:
            after = _spread(after * own(date), after_days[gaps[number - 1]].T, endurances)
            after = after / after.max()
    return Filtered(log_evidence, at_end, usual, day_before)


def _spread(messages: FloatArray, kernel: FloatArray, rows: int) -> FloatArray:
    """Spread messages over the strengths, so many rows at once.

    Products so small stay on one thread: shared out over threads, which the next step waits for, they take longer.
    """
    parts = messages.reshape(-1, rows, len(kernel))
    return np.asarray(parts @ kernel).reshape(messages.shape)


def _normalised(messages: FloatArray) -> FloatArray:
    """Weights of each row that sum to 1; none where nothing has any."""
    total = messages.sum(axis=1, keepdims=True)
    return np.asarray(messages / np.maximum(total, np.finfo(np.float64).tiny))
