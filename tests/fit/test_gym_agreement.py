"""A gym's numbers against a general-purpose sampler on the whole hierarchy, all of whose latent values it draws.

``python -m tests.fit.test_gym_agreement`` samples for longer.
"""

from __future__ import annotations

import functools
import sys

import numpy as np
import pytest

from tests.simulated_logs import TIRING, invented_lifter, simulated_log
from workbench.fit import FitSettings, fit_log
from workbench.fit.gym_member import member_of
from workbench.fit.gym_prior import fit_gym
from workbench.fit.gym_published import Published

#: Three lifters of one lift each, two of the same class.
EXERCISES = ("back squat", "back squat", "leg press")
#: Of a posterior sd: means of both. The fit draws the gym's numbers from the curvature at the likeliest ones.
WITHIN = 0.25
#: Sds of both.
WITHIN_SD = 0.2
#: Neither day effects that last, nor what the sampler does not know of.
SETTINGS = FitSettings(
    stopped_by_feel=True,
    wrong_file_chance=0.0,
    bend_sd=0.0,
    later_sd=0.0,
    unusual_chance=0.0,
    gain_sd=0.0,
    reserve_bias_sd=0.0,
)


@functools.cache
def logs():
    found = []
    for number, name in enumerate(EXERCISES):
        rng = np.random.default_rng([31, number])
        lifter, truth = invented_lifter(rng, [name])
        found.append((simulated_log(rng, lifter, truth, sessions=3), lifter))
    return found


def compare(steps):
    """Return the largest differences of means and of sds, and a line for each of the gym's numbers."""
    from tests.fit.sampled_gym import sample

    published = Published.of()
    members = [
        member_of(
            fit_log(rows, lifter, settings=SETTINGS, parameters=TIRING), draws=8000, rng=np.random.default_rng(number)
        )
        for number, (rows, lifter) in enumerate(logs())
    ]
    gyms = fit_gym(members, published=published, settings=SETTINGS).gyms
    drawn, seconds, tau = sample(logs(), published.tie, published.tie_sd, steps=steps, seed=1)
    lines, worst = [], [0.0, 0.0]
    for name, sampled in drawn.items():
        found = gyms.middle[:, published.classes.index(name)] if name in published.classes else getattr(gyms, name)
        scale = {"times": np.log, "rate_sd": np.log, "tie": np.arctanh}.get(name, np.asarray)
        mine, values = scale(found), scale(sampled)
        off = np.array([abs(mine.mean() - values.mean()) / values.std(), abs(mine.std() / values.std() - 1.0)])
        worst = np.maximum(worst, off)
        lines.append(
            f"{name:<12} sampler {values.mean():+.3f} sd {values.std():.3f}, fit {mine.mean():+.3f} sd {mine.std():.3f}"
        )
    lines.append(f"sampler: {seconds:.0f} s of the processor, autocorrelation {tau:.0f} of {steps} steps")
    return worst, lines


@pytest.mark.slow
def test_the_sampler_finds_the_same_gym():
    pytest.importorskip("emcee", reason="emcee is an optional development dependency")
    # Autocorrelation of some 200 steps, of 64 walkers: means are known to 0.04 of a posterior sd.
    (mean, sd), lines = compare(steps=3000)
    assert mean < WITHIN, "\n".join(lines)
    assert sd < WITHIN_SD, "\n".join(lines)


if __name__ == "__main__":
    print(*compare(int(sys.argv[1]) if len(sys.argv) > 1 else 20_000)[1], sep="\n")
