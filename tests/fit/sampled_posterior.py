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
from workbench.reference.parameters import endurance_prior, noise, recovery_prior

DRIFT_SD, MISTAKE = 0.01, 0.005  # the fit's defaults, stated again


class Model:
    """Log density of recovery rate, shared part, carry-over, and each exercise's endurance and strengths, whitened."""

    def __init__(self, rows, lifter):
        self.lifter = lifter
        recovery = recovery_prior(lifter.sex)
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
            covariance = (lift.uncertainty_percent / 100) ** 2 + DRIFT_SD**2 * np.minimum.outer(times, times)
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
                }
            )
            at += 2 + len(sessions)
        self.dimensions = at
        self.days = [(date, day.to_dict("records")) for date, day in rows.groupby("date")]

    def values(self, theta):
        """Recovery rate, and for each exercise endurance, strengths of the days and the usual log 1RM at the end."""
        rate = np.exp(self.rate[0] + self.rate[1] * theta[:, 0])
        found = []
        for lift in self.lifts:
            at, count = lift["at"], len(lift["dates"])
            z = np.sqrt(0.5) * theta[:, 1] + np.sqrt(0.5) * theta[:, at]
            strengths = lift["mean"] + theta[:, at + 1 : at + 2 + count] @ lift["root"].T
            found.append((np.exp(lift["k"][0] + lift["k"][1] * z), strengths[:, :-1], strengths[:, -1]))
        return rate, np.exp(CARRY_SD * theta[:, 2]), found

    def __call__(self, theta):
        """Log density of many points at once."""
        rate, carry_over, found = self.values(theta)
        total = -0.5 * (theta**2).sum(axis=1)
        for date, sets in self.days:
            today = {
                lift["name"]: (strengths[:, lift["dates"].index(date)], endurance)
                for lift, (endurance, strengths, _) in zip(self.lifts, found, strict=True)
                if date in lift["dates"]
            }
            total += self.session(sets, today, Body(rate, carry_over, TIRING, DEFAULT_FORM))
        return total

    @staticmethod
    def session(sets, today, body):
        total = 0.0
        for row in sets:
            strength, endurance = today[row["exercise"]]
            state = body.before(row["exercise"], BETWEEN_S if np.isnan(row["rest_s"]) else row["rest_s"])
            fresh = reps_to_failure(row["load_kg"] / np.exp(strength), endurance)
            failed = row["outcome"] == "failed"
            wanted = np.inf if failed else row["reps"]
            a, state = DEFAULT_FORM.work(state, strength - np.log(row["load_kg"]), fresh, wanted, parameters=TIRING)
            body.after(row["exercise"], state, row["reps"])
            chance, mistaken = one_set(row, np.maximum(a, 1e-9))
            total = total + np.log((1 - MISTAKE) * chance + MISTAKE * mistaken)
        return total


def one_set(row, a):
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
            return np.maximum(x - 0.5 - reps, 0) - statement_bias(x)

        sd = np.hypot(statement_sd(a - 0.5 - reps, a), expected(a * (1 + s)) - expected(a))
        return norm.cdf((limit - expected(a)) / sd)

    if row["outcome"] == "stopped":
        earlier = felt_below(said + 0.5, n - 1) if n > 1 else 0.0
        return at_least * np.maximum(felt_below(said + 0.5, n) - earlier, 0), 1 / 30
    if said >= 10:
        return at_least * (1 - felt_below(9.5, n)), 0.05
    return at_least * (felt_below(said + 0.5, n) - (felt_below(said - 0.5, n) if said >= 0.5 else 0.0)), 0.05


def sample(rows, lifter, *, steps, seed, walkers=64):
    """Sample the posterior; returns natural logs of every quantity, seconds, and the longest autocorrelation time."""
    model = Model(rows, lifter)
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
    for lift, (endurance, _, today) in zip(model.lifts, found, strict=True):
        logs[lift["name"], "endurance"] = np.log(endurance)
        logs[lift["name"], "1RM"] = today
    return logs, seconds, tau
