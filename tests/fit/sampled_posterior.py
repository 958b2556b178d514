"""The fit's model written out once more for a general-purpose sampler: no grid, no filter, every latent value sampled.

Strength of every session and the usual 1RM at the end are one multivariate normal; the rest follows set by set, all
exercises of a day together, each tired by the others as it is in that sample.
"""

from __future__ import annotations

import time

import emcee
import numpy as np
from scipy.stats import norm

from tests.simulated_logs import BETWEEN_S, CARRY_SD, TIRING, Body
from workbench.gym import catalogue
from workbench.models.fatigue import DEFAULT_FORM
from workbench.models.load_reps import reps_to_failure
from workbench.models.stated_reserve import statement_bias, statement_sd
from workbench.reference.parameters import endurance_prior, fatigue_draws, noise, recovery_of_lifter

DRIFT_SD, MISTAKE = 0.01, 0.005  # the fit's defaults, stated again
#: Of all that the fit holds off its grids: chance and size of tails; spread of the bias of stated reserves, reps;
#: of the gain of one to three years of training, from 0.4 % a week and four in five lifters between none and 1 %; of a
#: usual rest of 150 s that no log gives, and of the rests of a day.
UNUSUAL, RESERVE_SD, GAIN_SD, REST_SDS = (0.03, 2.5), 0.7, np.hypot(0.004, 0.005 / 1.2815516), (0.35, 0.3)


class Model:
    """Log density of recovery rate, shared part, carry-over, and each exercise's endurance and strengths, whitened.

    With ``everything`` unknown, the constants of tiring, gains, the bias of stated reserves and the rests that the log
    does not give too, and tails to what is believed: then the numbers that are not in the name of an exercise follow at
    the end, those of an exercise with its others.
    """

    def __init__(self, rows, lifter, everything=False):
        self.lifter, self.everything = lifter, everything
        recovery = recovery_of_lifter(lifter.sex)
        self.rate = np.log(recovery.median), recovery.log_sd
        self.lifts = []
        last = rows["date"].max()
        at = 3
        for name, group in rows.groupby("exercise", sort=False):
            sessions = [day for _, day in group.groupby("date")]
            dates = [day["date"].iloc[0] for day in sessions]
            weeks = np.array([(day["date"].iloc[0] - sessions[0]["date"].iloc[0]).days / 7 for day in sessions])
            end = (last - sessions[0]["date"].iloc[0]).days / 7
            times = np.append(weeks, end)
            lift = lifter.lift(name)
            # The believed 1RM holds at the first session; from there a random walk, and a day on top of each session.
            # A 1RM with tails is drawn by itself.
            believed = lift.uncertainty_percent / 100
            covariance = DRIFT_SD**2 * np.minimum.outer(times, times) + (0.0 if everything else believed**2)
            covariance += np.diag(np.append(np.full(len(sessions), noise().day_sd ** 2), 1e-12))
            prior = endurance_prior(catalogue.exercise(name).endurance_class)
            self.lifts.append(
                {
                    "name": name,
                    "dates": dates,
                    "mean": np.log(lift.one_rm),
                    "root": np.linalg.cholesky(covariance),
                    "k": (np.log(prior.median), prior.log_sd),
                    "at": at,
                    "believed": believed,
                    "trained": np.append(weeks, weeks[-1]),
                }
            )
            at += 2 + len(sessions) + everything * (2 + len(sessions))
        self.constants = at + 3
        self.dimensions = at + everything * (3 + len(DEFAULT_FORM.parameter_names))
        self.days = [(date, day.to_dict("records")) for date, day in rows.groupby("date")]

    def values(self, theta):
        """Recovery rate, and for each exercise endurance, strengths of the days and the usual log 1RM at the end."""
        rate = np.exp(self.rate[0] + self.rate[1] * theta[:, 0])
        found = []
        for lift in self.lifts:
            at, count = lift["at"], len(lift["dates"])
            z = np.sqrt(0.5) * theta[:, 1] + np.sqrt(0.5) * theta[:, at]
            strengths = lift["mean"] + theta[:, at + 1 : at + 2 + count] @ lift["root"].T
            if self.everything:
                more = at + 2 + count
                gain = GAIN_SD * np.sqrt(0.5) * (theta[:, self.constants - 1] + theta[:, more + 1])
                strengths += lift["believed"] * theta[:, [more]] + gain[:, None] * lift["trained"]
            found.append((np.exp(lift["k"][0] + lift["k"][1] * z), strengths[:, :-1], strengths[:, -1]))
        return rate, np.exp(CARRY_SD * theta[:, 2]), found

    def __call__(self, theta):
        """Log density of many points at once."""
        rate, carry_over, found = self.values(theta)
        total = -0.5 * (theta**2).sum(axis=1)
        tiring, bias = TIRING, 0.0
        if self.everything:
            tiring, bias = constants(theta[:, self.constants :]), RESERVE_SD * theta[:, self.constants - 3]
            stated = [lift["at"] + 2 + len(lift["dates"]) for lift in self.lifts]
            for at in (0, *(lift["at"] for lift in self.lifts), *stated):
                chance, times = UNUSUAL[0] * (3 if at in stated else 1), UNUSUAL[1]
                total += np.log1p(-chance + chance / times * np.exp(0.5 * theta[:, at] ** 2 * (1 - times**-2)))
        for date, sets in self.days:
            today = {
                lift["name"]: (strengths[:, lift["dates"].index(date)], endurance)
                for lift, (endurance, strengths, _) in zip(self.lifts, found, strict=True)
                if date in lift["dates"]
            }
            longer = {name: self.longer(theta, name, date) for name in today} if self.everything else {}
            total += self.session(sets, today, Body(rate, carry_over, tiring, DEFAULT_FORM), longer, bias)
        return total

    def longer(self, theta, name, date):
        """Return how many times longer than is usual for all the rests of an exercise on a day are."""
        lift = next(lift for lift in self.lifts if lift["name"] == name)
        day = lift["at"] + 4 + len(lift["dates"]) + lift["dates"].index(date)
        return np.exp(REST_SDS[0] * theta[:, self.constants - 2] + REST_SDS[1] * theta[:, day])

    @staticmethod
    def session(sets, today, body, longer, bias):
        total = 0.0
        for number, row in enumerate(sets):
            strength, endurance = today[row["exercise"]]
            rest = BETWEEN_S if np.isnan(row["rest_s"]) else row["rest_s"]
            if longer and any(earlier["exercise"] == row["exercise"] for earlier in sets[:number]):
                rest = rest * longer[row["exercise"]]
            state = body.before(row["exercise"], rest)
            fresh = reps_to_failure(row["load_kg"] / np.exp(strength), endurance)
            failed = row["outcome"] == "failed"
            wanted = np.inf if failed else row["reps"]
            a, state = DEFAULT_FORM.work(state, strength - np.log(row["load_kg"]), fresh, wanted, parameters=TIRING)
            body.after(row["exercise"], state, row["reps"])
            chance, mistaken = one_set(row, np.maximum(a, 1e-9), bias)
            total = total + np.log((1 - MISTAKE) * chance + MISTAKE * mistaken)
        return total


def constants(z):
    """Constants of tiring, normal in logs, and in log odds for a share, about those of these lifters."""
    drawn = vars(fatigue_draws(4000, np.random.default_rng(1)))
    share = np.array([name.endswith("_share") for name in drawn])
    plain = np.stack([values.ravel() for values in drawn.values()], axis=1)
    logs = np.where(share, np.log(plain / np.where(share, 1 - plain, 1.0)), np.log(plain))
    middle = np.array([getattr(TIRING, name) for name in drawn])
    middle = np.where(share, np.log(middle / np.where(share, 1 - middle, 1.0)), np.log(middle))
    values = np.clip(middle + z @ np.linalg.cholesky(np.cov(logs.T)).T, logs.min(axis=0), logs.max(axis=0))
    values = np.where(share, 1 / (1 + np.exp(-values)), np.exp(values))
    return type(TIRING)(**dict(zip(drawn, values.T, strict=True)))


def one_set(row, a, bias=0.0):
    """Probability of what was logged, and that of the same as a mistake."""
    n, s = row["reps"], noise().set_log_sd
    at_least = norm.cdf(np.log(a / n) / s) if n else np.ones_like(a)
    if row["outcome"] == "failed":
        return at_least - norm.cdf(np.log(a / (n + 1)) / s), 1 / 30
    said = row["reps_in_reserve"]
    if np.isnan(said):
        return at_least, 0.5

    def felt_below(limit, reps):
        def expected(x):
            return np.maximum(x - 0.5 - reps, 0) - statement_bias(x) - bias

        sd = np.hypot(statement_sd(a - 0.5 - reps, a), expected(a * (1 + s)) - expected(a))
        return norm.cdf((limit - expected(a)) / sd)

    if row["outcome"] == "stopped":
        earlier = felt_below(said + 0.5, n - 1) if n > 1 else 0.0
        return at_least * np.maximum(felt_below(said + 0.5, n) - earlier, 0), 1 / 30
    if said >= 10:
        return at_least * (1 - felt_below(9.5, n)), 0.05
    return at_least * (felt_below(said + 0.5, n) - (felt_below(said - 0.5, n) if said >= 0.5 else 0.0)), 0.05


def sample(rows, lifter, *, steps, seed, walkers=64, everything=False):
    """Sample the posterior; returns natural logs of every quantity, seconds, and the longest autocorrelation time."""
    model = Model(rows, lifter, everything)
    walkers = max(walkers, 2 * model.dimensions + 2)
    rng = np.random.default_rng(seed)
    start = 0.3 * rng.standard_normal((walkers, model.dimensions))
    moves = [(emcee.moves.DEMove(), 0.7), (emcee.moves.DESnookerMove(), 0.1), (emcee.moves.StretchMove(), 0.2)]
    sampler = emcee.EnsembleSampler(walkers, model.dimensions, model, vectorize=True, moves=moves)
    sampler.random_state = np.random.RandomState(seed).get_state()
    begin = time.perf_counter()
    sampler.run_mcmc(start, steps)
    seconds = time.perf_counter() - begin
    tau = float(np.max(sampler.get_autocorr_time(quiet=True, tol=0)))
    theta = sampler.get_chain(discard=steps // 4, flat=True)
    rate, carry_over, found = model.values(theta)
    logs = {("all", "recovery rate"): np.log(rate), ("all", "carry-over"): np.log(carry_over)}
    if everything:
        logs["all", "reserve"] = RESERVE_SD * theta[:, model.constants - 3]
        for lift in model.lifts:
            own = theta[:, lift["at"] + 3 + len(lift["dates"])]
            logs[lift["name"], "gain"] = GAIN_SD * np.sqrt(0.5) * (theta[:, model.constants - 1] + own)
    for lift, (endurance, _, today) in zip(model.lifts, found, strict=True):
        logs[lift["name"], "endurance"] = np.log(endurance)
        logs[lift["name"], "1RM"] = today
    return logs, seconds, tau
