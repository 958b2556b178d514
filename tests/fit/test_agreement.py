"""The fit against a general-purpose sampler on the same model, written out again without any grid.

All five logs: ``python -m tests.fit.test_agreement``. The suite samples one short log.
"""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np
import pytest

from tests.simulated_logs import TIRING, invented_lifter, simulated_log
from workbench.fit import FitSettings, fit_log

#: One exercise, two that share no muscle, three times two that do.
EXERCISES = (
    ("leg press",),
    ("back squat", "bench press"),
    ("barbell bench pull", "lat pulldown"),
    ("back squat", "leg press"),
    ("lat pulldown", "dumbbell curl"),
)
#: Of a posterior sd: means and 10, 50, 90 % quantiles of the two. Where exercises tire each other, the fit takes the
#: others at their likeliest and lets what they gave say nothing back of them.
WITHIN, WITHIN_TIRED = 0.1, 0.3
#: Where everything is unknown that the fit knows of, what no grid holds is a normal distribution that moves the rest
#: along straight lines.
WITHIN_EVERYTHING = 0.3
#: Time of the sampler over time of the fit, at least.
FASTER = 100


def short_log(seed, sessions=None):
    """Return the log of an invented lifter, and the lifter file."""
    rng = np.random.default_rng([3, seed])
    exercises = list(EXERCISES[seed])
    lifter, truth = invented_lifter(rng, exercises)
    log = simulated_log(rng, lifter, truth, sessions=sessions or (4 if len(exercises) == 2 else 6))
    return log, lifter


def compare(seed, steps, sessions=None, *, everything=False):
    """Return the largest difference in posterior sds, the ratio of times, and one line a quantity."""
    from tests.fit.sampled_posterior import sample

    log, lifter = short_log(seed, sessions)
    # Without the small chance of a wrong file, which the sampler does not have.
    # Nor does it know of departures from the model, which only widen what is reported.
    settings = FitSettings(stopped_by_feel=True, wrong_file_chance=0.0, bend_sd=0.0, later_sd=0.0)
    if everything:
        log["rest_s"] = np.nan
    else:
        settings = replace(settings, unusual_chance=0.0, gain_sd=0.0, reserve_bias_sd=0.0)
    begin = time.perf_counter()
    learned = fit_log(log, lifter, settings=settings, parameters=None if everything else TIRING)
    learned.summary()
    seconds = time.perf_counter() - begin
    logs, sampler_seconds, tau = sample(log, lifter, steps=steps, seed=1, everything=everything)
    worst, lines = 0.0, []
    for (name, quantity), values in logs.items():
        own = {
            "1RM": lambda name=name: learned.one_rm(name),
            "endurance": lambda name=name: learned.endurance(name),
            "recovery rate": lambda name=name: learned.recovery_rate,
            "carry-over": lambda: learned.carry_over and learned.carry_over.learned,
            "gain": lambda name=name: learned.gain(name),
            "reserve": lambda: learned.reserve_bias,
        }[quantity]()
        if own is None:
            continue
        levels = (0.1, 0.5, 0.9)
        read = own.quantile if quantity in ("gain", "reserve") else own.log_quantile
        off = [own.mean - values.mean(), *(read(levels) - np.quantile(values, levels))]
        off = np.array(off) / values.std()
        worst = max(worst, float(np.abs(off).max()))
        lines.append(f"{name:<20}{quantity:<15} mean, 10, 50, 90 % off by {np.round(off, 3).tolist()} sd")
    lines.append(
        f"{len(log)} sets: sampler {sampler_seconds:.1f} s (autocorrelation {tau:.0f} of {steps} steps), fit "
        f"{1e3 * seconds:.0f} ms, {sampler_seconds / seconds:.0f} times faster"
    )
    return worst, sampler_seconds / seconds, lines


@pytest.mark.slow
@pytest.mark.parametrize(("seed", "sessions", "within"), [(0, 3, WITHIN), (4, 2, WITHIN_TIRED)])
def test_the_sampler_finds_the_same_posterior(seed, sessions, within):
    pytest.importorskip("emcee", reason="emcee is an optional development dependency")
    worst, ratio, lines = compare(seed, steps=4000, sessions=sessions)
    assert worst < within, "\n".join(lines)
    assert ratio > FASTER, lines[-1]


@pytest.mark.slow
def test_the_sampler_finds_the_same_where_everything_is_unknown():
    pytest.importorskip("emcee", reason="emcee is an optional development dependency")
    worst, _, lines = compare(0, steps=6000, sessions=4, everything=True)
    assert worst < WITHIN_EVERYTHING, "\n".join(lines)


def main():
    """Print all five logs, and those without a shared muscle with everything unknown."""
    for seed in range(2):
        worst, _, lines = compare(seed, steps=6000, everything=True)
        print(f"log {seed}, everything unknown: at most {worst:.3f} posterior sds apart", *lines, sep="\n  ")
    for seed in range(5):
        worst, _, lines = compare(seed, steps=6000)
        print(f"log {seed}: at most {worst:.3f} posterior sds apart", *lines, sep="\n  ")


if __name__ == "__main__":
    main()
