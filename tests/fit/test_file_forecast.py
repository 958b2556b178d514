"""What a log taught, written into a lifter file and read again: the same forecast as from the log itself.

The truth is lived through set by set by `tests.simulated_logs`, which shares no code with fit, file or simulation.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.simulated_logs import FIRST_DAY, Day, invented_lifter, simulated_log
from workbench.answers.learned import learned_draws
from workbench.fit import fit_log
from workbench.fit.lifter_file import write_lifter
from workbench.gym.equipment import read_room
from workbench.lifter import read_lifter
from workbench.prescription.block import Block
from workbench.reference.parameters import noise
from workbench.reference.sources import data_path
from workbench.reference.toml_files import validate
from workbench.simulate.draws import draw_for
from workbench.simulate.plan import make_plan
from workbench.simulate.run import simulate

pytestmark = pytest.mark.usefixtures("compiled_sets")

#: No muscle in common, so that the pause between them does not matter.
EXERCISES = ("back squat", "bench press")
PERCENTS, SETS, REST_S = (70.0, 82.5), 3, 120
DRAWS, WEEKS = 4000, 12
#: CRPS from the file over that from the log, and the same of the widths of 80 % bands.
OF_CRPS, OF_WIDTH = 0.02, 0.05


def crps(sample, truth):
    """Mean distance of a sample from the truth, less half that between two of the sample."""
    # Of whole reps: the distance of two numbers is how many steps lie between them, and a step between two of a sample
    # is there when one lies below it and the other does not.
    steps = np.arange(sample.min(), sample.max() + 1)
    below = (sample[:, None] <= steps).mean(axis=0)
    return np.abs(sample - truth).mean() - (below * (1.0 - below)).sum()


def block():
    groups = [{"count": SETS, "reps": "failure", "percent": percent, "rest_s": REST_S} for percent in PERCENTS]
    sessions = [
        {"name": f"{name}, {number}", "exercises": [{"exercise": name, "sets": [group]}]}
        for name in EXERCISES
        for number, group in enumerate(groups)
    ]
    return validate({"name": "to failure", "weeks": 1, "sessions": sessions}, Block)


def lived(rng, truth, plan):
    """Whole reps of each set in several possible next weeks, shape (sets, WEEKS)."""
    reps = np.empty((sum(len(session.sets) for session in plan.sessions), WEEKS))
    for week in range(WEEKS):
        row = 0
        for session in plan.sessions:
            name = session.sets[0].exercise
            strength = truth.log_one_rm[name] + noise().day_sd * rng.standard_normal()
            day = Day(rng, truth, name, FIRST_DAY, strength)
            for planned in session.sets:
                reps[row, week] = day.do(float(planned.load_kg[0]), REST_S)[0]
                row += 1
    return reps


def scores(seed, folder):
    """Sums of CRPS, of the widths of 80 % bands, and of the sds of the reps: from the log, and from the file."""
    rng = np.random.default_rng([31, seed])
    lifter, truth = invented_lifter(rng, list(EXERCISES))
    log = simulated_log(rng, lifter, truth, sessions=int(rng.integers(3, 13)))
    learned = fit_log(log, lifter)
    kept = read_lifter(write_lifter(learned, folder / f"{seed}.toml"))
    plan = make_plan(block(), kept, read_room(data_path("demo") / "rooms" / "boathouse_hall.toml"))
    truths = lived(rng, truth, plan)
    found = []
    for drawn in (learned_draws(learned, plan, draws=DRAWS, seed=5), draw_for(plan, draws=DRAWS, seed=5)):
        outcome = simulate(plan, drawn)
        reps = np.array([np.maximum(one.available[:, 0], 0.0) for _, session in outcome for one in session])
        low, high = np.quantile(reps, [0.1, 0.9], axis=1)
        of_sets = [
            crps(np.floor(sample), one) for sample, lived_reps in zip(reps, truths, strict=True) for one in lived_reps
        ]
        found.append((sum(of_sets), (high - low).sum(), reps.std(axis=1).sum()))
    return np.array(found)


def test_the_file_forecasts_what_the_log_forecasts(tmp_path):
    log, file = scores(0, tmp_path)
    # 4,000 draws know a score to about one in a hundred, a width to two.
    assert file[0] == pytest.approx(log[0], rel=OF_CRPS + 0.01)
    assert file[1:] == pytest.approx(log[1:], rel=OF_WIDTH + 0.02)


@pytest.mark.slow
def test_twenty_files_forecast_what_their_logs_forecast(tmp_path):
    each = np.array([scores(seed, tmp_path) for seed in range(24)])
    log, file = each.sum(axis=0)
    assert file[0] == pytest.approx(log[0], rel=OF_CRPS)
    assert file[1:] == pytest.approx(log[1:], rel=OF_WIDTH)


def learned_in_two_parts(seed, folder):
    """What is learned of a whole log at once, and of its second half by way of the file kept of the first."""
    rng = np.random.default_rng([41, seed])
    lifter, truth = invented_lifter(rng, list(EXERCISES))
    log = simulated_log(rng, lifter, truth, sessions=10)
    half = sorted(log["date"].unique())[5]
    kept = read_lifter(write_lifter(fit_log(log[log["date"] < half], lifter), folder / f"half {seed}.toml"))
    return fit_log(log, lifter), fit_log(log, kept)


def middles_and_sds(learned):
    found = [one(name) for one in (learned.one_rm, learned.endurance) for name in EXERCISES]
    found.append(learned.recovery_rate)
    return np.array([(one.mean, one.sd) for one in found]).T


@pytest.mark.parametrize("seeds", [range(3, 4), pytest.param(range(12), marks=pytest.mark.slow)])
def test_learning_goes_on_from_the_file(seeds, tmp_path):
    """The second half from the kept file says about what the whole log says: no set counts twice, none is lost.

    Not the very same: the file keeps a normal distribution of scores, of a bend too, which may have two places, and
    what later sets have more starts anew. Single logs may lie farther off than twelve do together.
    """
    off, narrower = [], []
    for seed in seeds:
        whole, parts = learned_in_two_parts(seed, tmp_path)
        assert parts.fit.log.set_count < whole.fit.log.set_count
        (middle, sd), (other, other_sd) = middles_and_sds(whole), middles_and_sds(parts)
        off.append((other - middle) / sd)
        narrower.append(other_sd / sd)
    # Half of the log alone would leave bands wider by root two; counting it twice, narrower by as much.
    assert np.sqrt(np.mean(np.square(off))) < 0.5
    assert 0.8 < np.mean(narrower) < 1.2
