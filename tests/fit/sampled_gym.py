"""A small gym for a general-purpose sampler: its numbers, and every latent value of its lifters at once."""

from __future__ import annotations

import time

import emcee
import numpy as np

from tests.fit.sampled_posterior import Model
from workbench.gym import catalogue
from workbench.reference.parameters import endurance_prior, recovery_prior

#: How far spreads may lie from the published ones, natural log: stated again.
SPREAD_SD = 0.3
#: All classes alike, spread of endurance, recovery rate, its spread, tie; then one for each class.
NUMBERS = 5
#: In sds: nobody lies farther out, and no exponential overflows.
FARTHEST = 8.0


class Gym:
    """Log density of a gym's numbers and of all that is latent of its lifters, whitened.

    Parameters
    ----------
    logs : list of (rows, lifter)
        One lifter each, without departures, gains, biases or tails.
    tie, tie_sd : float
        Of the inverse hyperbolic tangent of the tie.
    """

    def __init__(self, logs, tie, tie_sd):
        self.models = [Model(rows, lifter) for rows, lifter in logs]
        self.tie = tie, tie_sd
        names = [lift["name"] for model in self.models for lift in model.lifts]
        self.class_of = {name: catalogue.exercise(name).endurance_class for name in names}
        self.classes = sorted(set(self.class_of.values()))
        self.first = NUMBERS + len(self.classes)
        self.dimensions = self.first + sum(model.dimensions for model in self.models)

    def numbers(self, theta):
        """The gym's numbers by name."""
        recovery = recovery_prior()
        spreads = np.exp(SPREAD_SD * (theta[:, [1, 3]] - SPREAD_SD))
        found = {
            "times": spreads[:, 0],
            "rate": np.log(recovery.median) + recovery.log_sd_between_groups * theta[:, 2],
            "rate_sd": recovery.log_sd_between_lifters * spreads[:, 1],
            "tie": np.tanh(self.tie[0] + self.tie[1] * theta[:, 4]),
        }
        for number, name in enumerate(self.classes):
            prior = endurance_prior(name)
            gyms = np.hypot(prior.log_sd_between_groups, prior.log_sd_of_median)
            z = np.sqrt(0.5) * theta[:, 0] + np.sqrt(0.5) * theta[:, NUMBERS + number]
            found[name] = np.log(prior.median) + gyms * z
        return found

    def __call__(self, theta):
        far = (np.abs(theta) > FARTHEST).any(axis=1)
        theta = np.clip(theta, -FARTHEST, FARTHEST)
        numbers, at = self.numbers(theta), self.first
        total = -0.5 * (theta[:, :at] ** 2).sum(axis=1)
        for model in self.models:
            mine = theta[:, at : at + model.dimensions].copy()
            at += model.dimensions
            free = mine[:, 0].copy()
            mine[:, 0] = numbers["tie"] * mine[:, 1] + np.sqrt(1 - numbers["tie"] ** 2) * free
            total += 0.5 * (mine[:, 0] ** 2 - free**2)  # it is the free part that is standard normal
            model.rate = numbers["rate"], numbers["rate_sd"]
            for lift in model.lifts:
                name = self.class_of[lift["name"]]
                lift["k"] = numbers[name], numbers["times"] * endurance_prior(name).log_sd_between_lifters
            total += model(mine)
        return np.where(far, -np.inf, total)


def sample(logs, tie, tie_sd, *, steps, seed):
    """Sample; returns draws of the gym's numbers by name, seconds, and the longest autocorrelation time of these."""
    gym = Gym(logs, tie, tie_sd)
    walkers = 2 * gym.dimensions + 2
    rng = np.random.default_rng(seed)
    moves = [(emcee.moves.DEMove(), 0.7), (emcee.moves.DESnookerMove(), 0.1), (emcee.moves.StretchMove(), 0.2)]
    sampler = emcee.EnsembleSampler(walkers, gym.dimensions, gym, vectorize=True, moves=moves)
    sampler.random_state = np.random.RandomState(seed).get_state()
    begin = time.process_time()
    sampler.run_mcmc(0.3 * rng.standard_normal((walkers, gym.dimensions)), steps)
    tau = float(np.max(sampler.get_autocorr_time(quiet=True, tol=0)[: gym.first]))
    return gym.numbers(sampler.get_chain(discard=steps // 4, flat=True)), time.process_time() - begin, tau
