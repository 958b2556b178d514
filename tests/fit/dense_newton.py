"""Newton's method on all that a log says, written out once more: every set by itself, everything in one large matrix.

No chain of days, no array of sets, nothing solved for in advance; and an invented log of two exercises to try it on.
"""

from __future__ import annotations

import datetime
from dataclasses import replace

import numpy as np
import pandas as pd

from workbench.fit import FitSettings
from workbench.fit.evidence_sets import LiftLog, LoggedSession, LoggedSet, UsedLog
from workbench.fit.filtering import OneRMPrior
from workbench.fit.likelihood import probability_in_log
from workbench.fit.marginals import LogNormal
from workbench.fit.places import Believed, Point
from workbench.fit.priors import LiftPrior
from workbench.fit.rests import LOGGED, RestSpread
from workbench.fit.unknowns import constants_of
from workbench.models.fatigue import DEFAULT_FORM

DAY_0 = datetime.date(2026, 1, 5)
UNSURE = RestSpread(0.3, 0.25)
LOG_RATE = np.array([-0.9, -0.3, 0.3, 0.9])
#: Chance and size of the tails of what is believed.
TAILS = ((0.03, 2.5),)


def session(day, *sets):
    """Build a session from (load, reps, ending, reserve, rest, how well the rest is known)."""
    made = [LoggedSet(at, load, reps, ending, reserve, rest, unsure=unsure)
            for at, (load, reps, ending, reserve, rest, unsure) in enumerate(sets)]  # fmt: skip
    return LoggedSession(DAY_0 + datetime.timedelta(days=day), tuple(made))


NONE = np.nan
PRESS = LiftLog(
    "bench press",
    (
        session(
            0,
            (80.0, 7, "failed", NONE, 0.0, LOGGED),
            (80.0, 5, "completed", NONE, 120.0, LOGGED),
            (72.5, 6, "stated", 2.0, 150.0, UNSURE),
        ),
        session(4, (85.0, 5, "felt", 1.0, 0.0, LOGGED), (80.0, 5, "failed", NONE, 90.0, UNSURE)),
        session(
            18,
            (90.0, 3, "completed", NONE, 0.0, LOGGED),
            (75.0, 8, "stated", 0.0, 180.0, LOGGED),
            (75.0, 6, "failed", NONE, 75.0, UNSURE),
        ),
    ),
)
SQUAT = LiftLog(
    "back squat",
    (
        session(1, (110.0, 7, "felt", 2.0, 0.0, LOGGED), (110.0, 6, "failed", NONE, 100.0, UNSURE)),
        session(4, (100.0, 4, "stated", 12.0, 0.0, LOGGED), (120.0, 5, "failed", NONE, 140.0, LOGGED)),
    ),
)
USED = UsedLog((PRESS, SQUAT), pd.DataFrame(), ())


def given_by_others(none=False):
    """Return what others had left before the second set of each session, the less the faster one recovers."""
    found = []
    for lift in USED.lifts:
        one = np.zeros((lift.set_count, DEFAULT_FORM.pools, LOG_RATE.size))
        if not none:
            one[lift.first[:-1] + 1] = np.array([0.01, 0.08, 0.03])[:, None] * np.exp(-LOG_RATE)
        found.append(one)
    return tuple(found)


def believed(exact=False, **settings):
    """Return what is believed of the invented lifter: a press tested amid the log, a squat some days before it."""
    priors = (
        LiftPrior(
            OneRMPrior(np.log(101.0), 0.03, TAILS, DAY_0 + datetime.timedelta(days=2)),
            LogNormal(np.log(0.031), 0.25, TAILS),
            guessed=False,
        ),
        LiftPrior(
            OneRMPrior(np.log(141.0), 0.05, TAILS, DAY_0 - datetime.timedelta(days=10)),
            LogNormal(np.log(0.027), 0.3, TAILS),
            guessed=False,
        ),
    )
    return Believed(
        priors,
        LogNormal(0.1, 0.4, TAILS),
        0.006,
        DEFAULT_FORM,
        DEFAULT_FORM.parameters if exact else None,
        FitSettings(reserve_bias_mean=0.2, **settings),
        DAY_0 + datetime.timedelta(days=30),
    )


#: Off from what is believed, and within the rates at which it is known what others left.
POINT = Point(np.log([98.0, 146.0]), np.log([0.034, 0.025]), 0.25)


class Dense:
    """All unknowns as one vector.

    Endurances, recovery rate, constants of tiring, usual rest, bend, later, reserve and gains; then of each exercise
    the strengths of its days less what was gained, the usual 1RM today, and the lengths of its rests.
    """

    def __init__(self, used, given, what, point, other_curve=False):
        self.used, self.given, self.what, self.point = used, given, what, point
        self.settings, self.lifts = what.settings, len(used.lifts)
        self.constants = constants_of(what.form) if what.parameters is None else None
        count = 0 if self.constants is None else self.constants.middle.size
        self.rest = self.lifts + 1 + count
        self.size = self.rest + 4 + self.lifts
        self.days = [len(lift.sessions) for lift in used.lifts]
        self.starts = self.size + np.cumsum([0, *(2 * days + 1 for days in self.days)])
        self.mean, self.covariance = self.before(other_curve)

    def since(self, lift):
        """Return weeks from the day on which the 1RM of the file held to each session, and to today."""
        known = self.what.priors[lift].one_rm.date
        dates = [*(one.date for one in self.used.lifts[lift].sessions), self.what.today]
        return np.array([(date - known).days / 7.0 for date in dates])

    def weeks(self, lift):
        """Return weeks of gain at each session: what was gained before the log began is in the 1RM of the file."""
        dates = [one.date for one in self.used.lifts[lift].sessions]
        begin = max(self.what.priors[lift].one_rm.date, dates[0])
        return np.array([(date - begin).days / 7.0 for date in dates])

    def before(self, other_curve):
        """Return mean and covariance of all before the log."""
        what, settings = self.what, self.settings
        mean, covariance = np.zeros(self.starts[-1]), np.eye(self.starts[-1])
        sds = [float(prior.endurance.precision(at)) ** -0.5
               for prior, at in zip(what.priors, self.point.log_endurance, strict=True)]  # fmt: skip
        for one in range(self.lifts):
            mean[one] = what.priors[one].endurance.log_mean
            for other in range(self.lifts):
                covariance[one, other] = sds[one] * sds[other] * (1.0 if one == other else 0.5)
        mean[self.lifts], covariance[self.lifts, self.lifts] = (
            0.1,
            1.0 / float(what.rate.precision(self.point.log_rate)),
        )
        bend, later, reserve, gains = (self.rest + at for at in (1, 2, 3, 4))
        mean[bend] = settings.other_curve_bend if other_curve else 0.0
        covariance[bend, bend] = (settings.other_curve_sd if other_curve else settings.bend_sd) ** 2
        covariance[later, later] = settings.later_sd**2
        mean[reserve], covariance[reserve, reserve] = settings.reserve_bias_mean, settings.reserve_bias_sd**2
        for one in range(self.lifts):
            for other in range(self.lifts):
                covariance[gains + one, gains + other] = what.gain_sd**2 * (1.0 if one == other else 0.5)
            since, days = self.since(one), self.days[one]
            strengths = slice(self.starts[one], self.starts[one] + days + 1)
            prior = what.priors[one].one_rm
            mean[strengths] = prior.log_mean
            together = np.where(np.outer(since, since) > 0.0, np.minimum.outer(np.abs(since), np.abs(since)), 0.0)
            covariance[strengths, strengths] = settings.drift_sd**2 * together
            covariance[strengths, strengths] += 1.0 / float(prior.precision(self.point.log_one_rm[one]))
            covariance[strengths, strengths] += np.diag([*[settings.day_sd**2] * days, 0.0])
        return mean, covariance

    def log_available(self, x):
        """Return the log of the reps available in every set, one by one."""
        form, usual = self.what.form, self.rest
        parameters = self.what.parameters
        if self.constants is not None:
            parameters = self.constants.parameters(x[self.lifts + 1 : self.rest])
        rate, curve, found = np.exp(x[self.lifts]), self.settings.curve.bent(x[usual + 1]), []
        for number, lift in enumerate(self.used.lifts):
            start, days = self.starts[number], self.days[number]
            weeks, at = self.weeks(number), 0
            for day, one in enumerate(lift.sessions):
                strength = x[start + day] + x[usual + 4 + number] * weeks[day]
                longer = x[start + days + 1 + day]
                state = form.fresh(())
                for place, logged in enumerate(one.sets):
                    if place:
                        times = np.exp(logged.unsure.usual * x[usual] + logged.unsure.day * longer)
                        state = form.rest(state, logged.rest_s * times, rate, parameters=parameters)
                    left = [np.interp(x[self.lifts], LOG_RATE, pool) for pool in self.given[number][at]]
                    headroom = strength - np.log(logged.load_kg)
                    wanted = np.inf if logged.ending == "failed" else logged.reps
                    fresh = curve.fresh_reps(headroom, np.exp(x[number]))
                    tired = tuple(a + b for a, b in zip(state, left, strict=True))
                    available, tired = form.work(tired, headroom, fresh, wanted, parameters=parameters)
                    state = tuple(a - b for a, b in zip(tired, left, strict=True))
                    found.append(np.log(max(float(available), 0.05)) + (x[usual + 2] if place else 0.0))
                    at += 1
        return np.array(found)

    def moves(self, x, step=1e-5):
        """Return how the log of the reps of every set moves with each, one small step ahead; (sets, unknowns)."""
        here = self.log_available(x)
        return np.array([(self.log_available(x + way) - here) / step for way in step * np.eye(x.size)]).T

    def said_with(self, bias):
        """Return the settings with so much more left than is usual for what is said."""
        reserve = self.settings.reserve
        return replace(self.settings, reserve=replace(reserve, bias_at_turn=reserve.bias_at_turn + bias))

    def log_chances(self, x):
        """Return the log probability of every set."""
        settings, pairs = self.said_with(x[self.rest + 3]), zip(self.used.sets, self.log_available(x), strict=True)
        return np.array([log_chance(logged, at, settings) for logged, at in pairs])

    def linearised(self, x):
        """Return precision and slope of the log of all, the bend of each set read on its own."""
        before = np.linalg.inv(self.covariance)
        precision, slope = before.copy(), -before @ (x - self.mean)
        for logged, at, moves in zip(self.used.sets, self.log_available(x), self.moves(x), strict=True):
            steep, bend = self.of_set(logged, at, x[self.rest + 3])
            both = np.stack([moves, np.zeros(x.size)])
            both[1, self.rest + 3] = 1.0
            precision += both.T @ bend @ both
            slope += steep @ both
        return precision, slope

    def of_set(self, logged, at, bias):
        """Return slope and bend of a set's log probability by its log reps and by the bias of what is said.

        Differences over 0.7 sds of the scatter of a set and half a rep; what bends upwards counts as straight.
        """
        h = 0.7 * self.settings.set_log_sd
        f = {(i, j): log_chance(logged, at + i * h, self.said_with(bias + 0.5 * j))
             for i in (-1, 0, 1) for j in (-1, 0, 1)}  # fmt: skip
        cross = -(f[1, 1] - f[-1, 1] - f[1, -1] + f[-1, -1]) / (2 * h)
        own = -(f[1, 0] - 2 * f[0, 0] + f[-1, 0]) / h**2, -(f[0, 1] - 2 * f[0, 0] + f[0, -1]) / 0.25
        size, vectors = np.linalg.eigh(np.array([[own[0], cross], [cross, own[1]]]))
        slope = np.array([(f[1, 0] - f[-1, 0]) / (2 * h), f[0, 1] - f[0, -1]])
        return slope, (vectors * np.maximum(size, 0.0)) @ vectors.T


def log_chance(logged, log_available, settings):
    """Log probability of one set."""
    return float(np.log(probability_in_log(logged, np.array([log_available]), settings.set_log_sd, settings))[0])
