"""What all other sets and days of a log let expect, against sums over all that is possible, day by day."""

from __future__ import annotations

import datetime

import numpy as np
import pandas as pd
import pytest
from scipy.stats import norm

from workbench.fit import FitSettings, fit_log
from workbench.fit.expected import expectations
from workbench.fit.likelihood import SetReader
from workbench.fit.marginals import gaussian_kernel
from workbench.lifter import Lifter
from workbench.reference.toml_files import validate

FIRST = datetime.date(2026, 1, 5)
#: Days of two exercises: (day, load kg, reps, rest s) of sets to failure.
SETS = {
    "back squat": [(0, 80.0, 8, np.nan), (0, 80.0, 5, 150.0), (14, 85.0, 9, np.nan), (14, 85.0, 6, 180.0)],
    "bench press": [(0, 60.0, 7, np.nan), (7, 62.5, 7, np.nan), (7, 62.5, 4, 120.0), (7, 55.0, 6, 120.0)],
}


@pytest.fixture(scope="module")
def learned():
    rows = [
        {
            "date": pd.Timestamp(FIRST) + pd.Timedelta(days=day),
            "exercise": name,
            "load_kg": load,
            "reps": reps,
            "rest_s": rest,
        }
        for name, sets in SETS.items()
        for day, load, reps, rest in sets
    ]
    log = pd.DataFrame(rows).sort_values("date", kind="stable", ignore_index=True)
    lifts = {"back squat": {"one_rm_kg": 105.0}, "bench press": {"one_rm_kg": 75.0}}
    who = validate({"name": "Invented", "lifts": lifts}, Lifter)
    # The gain is wide, so that days of the past stand behind the grid's by far.
    settings = FitSettings(gain_sd=0.02)
    return fit_log(log.assign(outcome="failed", reps_in_reserve=np.nan), who, settings=settings)


class Slowly:
    """All that is possible of an exercise of two days: rates, endurances, usual strengths of both days, and of each."""

    def __init__(self, fit, number):
        self.fit, self.lift, self.log = fit, fit.lifts[number], fit.log.lifts[number]
        self.weights, self.points = fit.joint.lifts[number], self.lift.grid.log_strength
        self.given = fit.given[number]
        self.reader = SetReader(self.lift.grid, fit.form, fit.parameters, fit.settings, course=self.lift.course)
        self.spread = gaussian_kernel(self.points, fit.settings.day_sd)
        self.likelihoods = []
        for session, at in zip(self.log.sessions, self.log.places, strict=True):
            found = np.ones(self.lift.grid.shape)
            for logged, _, log_available, log_sd in self.reader.states(session, self.given[at]):
                # A first set knows no rates: one row for all.
                here = np.broadcast_to(self.reader.of(logged, log_available, log_sd), (len(found), found[0].size))
                found = found * here.reshape(found.shape)
            self.likelihoods.append(found / found.max())

    def usual(self, rate, endurance, left_out=None):
        """Joint probability of the usual strengths of both days, of all days but one."""
        weeks = (self.log.sessions[1].date - self.log.sessions[0].date).days / 7.0
        joint = gaussian_kernel(self.points, self.fit.settings.drift_sd * np.sqrt(weeks))
        joint = joint * self.lift.believed.weights(self.points)[:, None]
        for day, shape in enumerate(((-1, 1), (1, -1))):
            if day != left_out:
                seen = self.spread @ self.likelihoods[day][rate, endurance]
                joint = joint * seen.reshape(shape)
        return joint / joint.sum()

    def of_day(self, day):
        """Usual strength from all; the day's own from all others; and all of both with the rates and endurances."""
        rates, endurances = self.weights.shape
        usual, before = np.zeros((2, self.points.size))
        after = np.zeros((rates, endurances, self.points.size))
        for rate in range(rates):
            for endurance in range(endurances):
                share = self.weights[rate, endurance]
                usual += share * self.usual(rate, endurance).sum(axis=1 - day)
                others = self.usual(rate, endurance, day).sum(axis=1 - day) @ self.spread
                before += share * others
                own = others * self.likelihoods[day][rate, endurance]
                after[rate, endurance] = share * own / own.sum()
        return usual, before, after


@pytest.mark.parametrize("number", [0, 1])
def test_days_and_sets_are_held_against_all_others(learned, number):
    slowly = Slowly(learned.fit, number)
    name = learned.exercises[number]
    sets, days = ([one for one in found if one.exercise == name] for found in expectations(learned))
    assert [one.date for one in days] == [session.date for session in slowly.log.sessions]
    assert [one.logged for one in sets] == slowly.log.sets
    sets = iter(sets)
    assert slowly.lift.course.gain != 0.0
    for day, (session, found) in enumerate(zip(slowly.log.sessions, days, strict=True)):
        usual, before, after = slowly.of_day(day)
        then = slowly.points + slowly.lift.course.behind(session.date)
        means, variances = zip(
            *(
                (w @ then / w.sum(), w @ then**2 / w.sum() - (w @ then / w.sum()) ** 2)
                for w in (usual, before, after.sum(axis=(0, 1)))
            ),
            strict=True,
        )
        assert found.effect == pytest.approx(means[2] - means[0], abs=1e-8)
        explained = max(variances[1] - variances[2], 0.2 * variances[1])
        assert found.z == pytest.approx((means[2] - means[1]) / np.sqrt(explained), abs=1e-6)
        levels = np.interp([0.1, 0.5, 0.9], np.cumsum(usual) / usual.sum(), then)
        assert found.usual == pytest.approx(np.exp(levels))
        given = slowly.given[slowly.log.places[day]]
        for logged, _, log_available, log_sd in slowly.reader.states(session, given):
            one = next(sets)
            without = (after.reshape(after.shape[0], -1) / slowly.reader.of(logged, log_available, log_sd)).ravel()
            logs = np.broadcast_to(log_available, (after.shape[0], after[0].size)).ravel()
            sd, total = slowly.fit.settings.set_log_sd, without.sum()
            for level, reps in zip((0.1, 0.5, 0.9), one.reps, strict=True):
                # 200 points of the quantiles are 0.03 apart, bins half of that.
                assert without @ norm.cdf((np.log(reps) - logs) / sd) / total == pytest.approx(level, abs=0.02)
            fewer, reached = (
                1.0 - without @ norm.cdf((logs - np.log(logged.reps + 1)) / sd) / total,
                without @ norm.cdf((logs - np.log(logged.reps)) / sd) / total,
            )
            assert one.tail == pytest.approx(min(2.0 * fewer, 2.0 * reached, 1.0), abs=0.01)
            assert one.better == (reached < fewer)
