"""Invented lifters living through invented sessions, set by set, in plain scalar steps: no inference code here.

Used to see whether the fit finds the truth again, and to write the demonstration logs.
"""

from __future__ import annotations

import datetime
import functools
from dataclasses import dataclass

import numpy as np
import pandas as pd

from tests.scalar_oracle import PASSED_ON, overlap_slowly
from workbench.gym import catalogue
from workbench.lifter import Lifter
from workbench.models.fatigue import DEFAULT_FORM
from workbench.models.stated_reserve import STATED_RESERVE, statement_bias, statement_sd
from workbench.reference.parameters import endurance_prior, fatigue_draws, noise, recovery_of_lifter
from workbench.reference.toml_files import validate

FIRST_DAY = datetime.date(2026, 1, 5)
#: Between two exercises, s; not written into the log, so that the fit takes its own guess, which is the same.
BETWEEN_S = 150.0
#: Spread of the carry-over between lifters, natural log.
CARRY_SD = 0.3


def usual_tiring():
    """Medians of the published spread of the default form: how these lifters tire unless something else is said."""
    drawn = fatigue_draws(4000, np.random.default_rng(0), form=DEFAULT_FORM)
    return type(drawn)(**{name: float(np.median(values)) for name, values in vars(drawn).items()})


TIRING = usual_tiring()


@dataclass
class TrueLifter:
    """What nobody sees: log 1RM (it drifts), endurance of each exercise, recovery rate, carry-over."""

    log_one_rm: dict[str, float]
    endurance: dict[str, float]
    recovery_rate: float
    drift_sd: float = 0.01
    carry_over: float = 1.0


def both_hands(name):
    """Say of two dumbbells, where these are meant, that a number is that of both together."""
    return {"each_hand": False} if catalogue.built_in().hands_of(name) == 2 else {}


def invented_lifter(rng, exercises, *, uncertainty=(3.0, 8.0), sex="male"):
    """Draw a lifter file and a true lifter that the file's spread allows."""
    lifts, log_one_rm, endurance = {}, {}, {}
    shared = rng.standard_normal()
    for name in exercises:
        one_rm = float(np.round(rng.uniform(50, 160) / 2.5) * 2.5)
        percent = float(np.round(rng.uniform(*uncertainty), 1))
        lifts[name] = {"one_rm_kg": one_rm, "uncertainty_percent": percent, **both_hands(name)}
        log_one_rm[name] = np.log(one_rm) + percent / 100 * rng.standard_normal()
        prior = endurance_prior(catalogue.exercise(name).endurance_class)
        sd = np.linalg.norm([prior.log_sd_between_lifters, prior.log_sd_between_groups, prior.log_sd_of_median])
        z = np.sqrt(0.5) * shared + np.sqrt(0.5) * rng.standard_normal()
        endurance[name] = prior.median * np.exp(sd * z)
    recovery = recovery_of_lifter(sex)
    rate_sd = np.hypot(recovery.log_sd_between_lifters, recovery.log_sd_between_groups)
    lifter = validate({"name": "Invented", "sex": sex, "lifts": lifts}, Lifter)
    rate = recovery.median * np.exp(rate_sd * rng.standard_normal())
    carry_over = float(np.exp(CARRY_SD * rng.standard_normal()))
    return lifter, TrueLifter(log_one_rm, endurance, float(rate), carry_over=carry_over)


class Body:
    """What the exercises of one session take from each other, in the plain steps of the scalar oracle.

    Of the first pool (seconds) nothing passes on; of the others half of what the shared muscles ask for, times the
    carry-over. What was given fades in the pauses only.
    """

    def __init__(self, rate, carry_over, parameters, form):
        self.rate, self.carry_over, self.parameters, self.form = rate, carry_over, parameters, form
        self.own, self.ended, self.now, self.at_work = {}, {}, 0.0, None

    def rested(self, state, seconds):
        return self.form.rest(state, seconds, self.rate, parameters=self.parameters)

    def before(self, exercise, rest):
        """State at the start of a set, ``rest`` after the last set of the session."""
        if self.own:
            self.now = self.now + rest
        if exercise == self.at_work:
            self.got = self.rested(self.got, rest)
        else:
            self.got = self.form.fresh(())
            for other, state in self.own.items():
                if other != exercise:
                    left = self.rested(state, self.now - self.ended[other])
                    share = PASSED_ON * overlap(exercise, other) * self.carry_over
                    parts = [(share if number else 0.0) * pool for number, pool in enumerate(left)]
                    self.got = tuple(a + b for a, b in zip(self.got, parts, strict=True))
        mine = self.form.fresh(())
        if exercise in self.own:
            mine = self.rested(self.own[exercise], self.now - self.ended[exercise])
        return tuple(a + b for a, b in zip(mine, self.got, strict=True))

    def after(self, exercise, state, reps):
        """Take the state after a set of so many reps."""
        self.own[exercise] = tuple(a - b for a, b in zip(state, self.got, strict=True))
        self.now = self.now + catalogue.exercise(exercise).seconds_per_rep * reps
        self.ended[exercise], self.at_work = self.now, exercise


@functools.cache
def overlap(exercise, other):
    return overlap_slowly(exercise, other)


class Day:
    """One exercise on one day of a true lifter."""

    def __init__(
        self,
        rng,
        truth,
        exercise,
        date,
        strength,
        parameters=None,
        scatter=None,
        form=DEFAULT_FORM,
        body=None,
        states=STATED_RESERVE,
    ):
        self.rng, self.truth, self.exercise, self.date, self.strength = rng, truth, exercise, date, strength
        self.parameters = TIRING if parameters is None else parameters
        self.scatter = noise() if scatter is None else scatter
        self.form, self.states = form, states
        self.body = Body(truth.recovery_rate, truth.carry_over, self.parameters, form) if body is None else body
        self.rows = []

    def available(self, load, rest):
        """Rest, and find how many reps are in the next set."""
        self.state = self.body.before(self.exercise, rest if self.rows else BETWEEN_S)
        headroom = self.strength - np.log(load)
        fresh = max(1.0 + headroom / self.truth.endurance[self.exercise], 0.0)
        fresh *= np.exp(self.scatter.set_log_sd * self.rng.standard_normal())
        reps, _ = self.form.work(self.state, headroom, fresh, parameters=self.parameters)
        self.now = headroom, fresh
        return float(reps)

    def do(self, load, rest, *, reps=np.inf, stop_at=None, say=False):
        """One set: to failure, for given reps, or stopped at a felt reserve; with the reserve stated where wanted."""
        a = self.available(load, rest)
        z = self.rng.standard_normal()

        def felt(n):
            left = np.floor(a) - n
            off = statement_sd(left, a, parameters=self.states) * z - statement_bias(a, parameters=self.states)
            return max(0, round(float(left + off)))

        if stop_at is not None:
            wanted = 1
            while wanted <= a and felt(wanted) > stop_at:
                wanted += 1  # who feels that more is left tries the next rep, and may fail
        else:
            wanted = reps
        n = int(min(np.floor(a), wanted))
        failed = n < wanted
        stated = np.nan
        if not failed and (say or stop_at is not None):
            stated = float(felt(n))
        done = np.inf if failed else float(n)
        _, after = self.form.work(self.state, *self.now, done, parameters=self.parameters)
        self.body.after(self.exercise, after, n)
        self.rows.append(
            {
                "date": pd.Timestamp(self.date),
                "lifter": "",
                "exercise": self.exercise,
                "set_number": len(self.rows) + 1,
                "load_kg": load,
                "reps": n,
                "outcome": "failed" if failed else "stopped" if stop_at is not None else "completed",
                "reps_in_reserve": stated,
                "rest_s": float(rest) if self.rows else np.nan,
            }
        )
        return n, failed


def rounded(load):
    """Round to 2.5 kg, at least 5."""
    return max(float(np.round(load / 2.5) * 2.5), 5.0)


def train(day, believed, rng):
    """One exercise as it is trained here or there: straight sets, a hard last set, felt reserves, drops, a test."""
    kind = rng.choice(["straight", "hard last", "felt", "said", "drop", "test"], p=[0.2, 0.25, 0.2, 0.15, 0.12, 0.08])
    rest = float(rng.choice([60, 90, 120, 150, 180, 240]))
    load = rounded(believed * rng.uniform(0.62, 0.85))
    sets = int(rng.integers(2, 6))
    usual = 1 + np.log(believed / load) / 0.03
    if kind == "test":
        for part in (0.9, 0.96, 1.0, 1.03, 1.06, 1.09, 1.12):
            if day.do(rounded(believed * part), 240, reps=1)[1]:
                break
        return
    if kind == "felt":
        for _ in range(sets):
            day.do(load, rest, stop_at=int(rng.integers(1, 4)))
        return
    reps = max(1, round(usual * rng.uniform(0.5, 0.75)))
    for number in range(sets):
        last = number == sets - 1
        hard = last and kind in ("hard last", "drop")
        day.do(load, rest, reps=np.inf if hard else reps, say=kind == "said")
    if kind == "drop":
        for _ in range(int(rng.integers(1, 3))):
            load = rounded(load * rng.uniform(0.7, 0.85))
            day.do(load, 12)


def simulated_log(
    rng,
    lifter,
    truth,
    *,
    sessions,
    gap_days=(2, 5),
    parameters=None,
    scatter=None,
    form=DEFAULT_FORM,
    states=STATED_RESERVE,
    how=train,
):
    """Let a true lifter live through sessions; the true log 1RM at the end is left in ``truth``.

    The day is the same for all exercises of a session, as in the simulation of blocks.
    """
    rows = []
    date = FIRST_DAY
    scatter = noise() if scatter is None else scatter
    for number in range(sessions):
        if number:
            gap = int(rng.integers(*gap_days, endpoint=True))
            date += datetime.timedelta(days=gap)
            for name in truth.log_one_rm:
                truth.log_one_rm[name] += truth.drift_sd * np.sqrt(gap / 7) * rng.standard_normal()
        today = scatter.day_sd * rng.standard_normal()
        body = Body(truth.recovery_rate, truth.carry_over, TIRING if parameters is None else parameters, form)
        for name in truth.log_one_rm:
            day = Day(rng, truth, name, date, truth.log_one_rm[name] + today, parameters, scatter, form, body, states)
            how(day, lifter.lift(name).one_rm, rng)
            rows += day.rows
    return pd.DataFrame(rows)
