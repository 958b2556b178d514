"""The small population behind every prediction: whole reps, capped means, and what its runs start from."""

import numpy as np
import pytest

from workbench.evidence.population import Between, Runs, expected_reps, lifters, reps_moments, row_values, run_reps
from workbench.evidence.read import FAMILIES, read_load_reps, read_sets
from workbench.models.fatigue import EFFORT
from workbench.reference.parameters import endurance_prior, noise, one_rm_spread
from workbench.reference.sources import sources

#: Of a mean over 200,000 simulated sets: about five standard errors.
MONTE_CARLO = 0.02


def test_every_row_names_a_known_source():
    known = sources()
    assert {row.source for row in read_sets(None)} <= set(known)
    assert set(read_load_reps(None).source) <= set(known)


def test_every_family_is_there():
    assert {row.family for row in read_sets()} == set(FAMILIES)


@pytest.mark.parametrize(("capacity", "cap"), [(7.6, 10.0), (10.4, 10.0), (2.2, 3.0), (14.0, 10.0)])
def test_expected_capped_reps_are_those_of_simulated_sets(capacity, cap):
    # Independent slow form: draw the capacity of many sets, count whole reps, stop at the cap.
    rng = np.random.default_rng(5)
    scatter = max(noise().set_log_sd * capacity, 0.15)
    sets = np.minimum(np.floor(np.maximum(capacity + scatter * rng.standard_normal(200_000), 0.0)), cap)
    assert float(expected_reps(np.array(capacity), np.array(cap))) == pytest.approx(sets.mean(), abs=MONTE_CARLO)


@pytest.mark.parametrize(
    ("capacity", "cap"), [(7.6, 10.0), (10.4, 10.0), (2.2, 3.0), (14.0, 10.0), (9.0, 10.0), (12.3, np.inf)]
)
def test_variance_of_whole_reps_is_that_of_simulated_sets(capacity, cap):
    rng = np.random.default_rng(5)
    scatter = max(noise().set_log_sd * capacity, 0.15)
    sets = np.minimum(np.floor(np.maximum(capacity + scatter * rng.standard_normal(200_000), 0.0)), cap)
    mean, variance = reps_moments(np.array(capacity), np.array(cap))
    assert float(mean) == pytest.approx(sets.mean(), abs=0.03 if np.isinf(cap) else MONTE_CARLO)
    assert float(variance) == pytest.approx(sets.var(), abs=0.03)


def test_people_differ_by_endurance_the_one_rm_and_recovery_each_once():
    # A total over three sets at 75 % of 1RM, done by 4,000 lifters one by one, whole reps counted.
    row = next(one for one in read_sets() if one.source == "ratamess_2012" and one.group == "male")
    runs, people = Runs([row]), lifters(1024)
    between = Between(0.6, 0.5)
    capacity = run_reps(runs, people, EFFORT, EFFORT.parameters, np.zeros((1, 1)), np.zeros(1), between)
    _, _, sd = row_values(runs, capacity)
    rng = np.random.default_rng(3)
    count = 4_000
    endurance = rng.standard_normal(count)
    prior = endurance_prior("horizontal press")
    k = prior.median * np.exp(prior.log_sd_between_lifters * endurance)
    rate = np.exp(0.6 * (0.5 * endurance + np.sqrt(0.75) * rng.standard_normal(count)))
    room = np.log(1 / 0.75) + one_rm_spread(row.training) * rng.standard_normal(count)
    state, total = EFFORT.fresh((count,)), np.zeros(count)
    for index in range(3):
        if index:
            state = EFFORT.rest(state, row.rests_s[0], rate, parameters=EFFORT.parameters)
        fresh = np.maximum(1 + room / k, 0)
        available, state = EFFORT.work(state, room, fresh, np.full(count, row.cap), parameters=EFFORT.parameters)
        scatter = np.maximum(noise().set_log_sd * available, 0.15)
        total += np.clip(np.floor(available + scatter * rng.standard_normal(count)), 0, row.cap)
    # The sd of 4,000 lifters has a standard error of about 1.2 %, and 1,024 even ones stand for all within 2 %.
    assert float(sd[0, 0]) == pytest.approx(total.std(), rel=0.05)


def test_whole_reps_are_half_a_rep_below_capacity_over_many_lifters():
    rng = np.random.default_rng(6)
    capacity = rng.uniform(6.0, 14.0, 200_000)
    expected = expected_reps(capacity, np.full(capacity.shape, np.inf)).mean()
    assert np.floor(capacity).mean() == pytest.approx(expected, abs=MONTE_CARLO)


def test_runs_begin_with_the_known_first_set():
    rows = [row for row in read_sets() if row.family == "set reps"]
    runs = Runs(rows)
    nodes = np.zeros(1)
    capacity = run_reps(runs, lifters(), EFFORT, EFFORT.parameters, np.zeros((runs.count, 1)), nodes)
    first = expected_reps(capacity[0], np.array(np.inf)).mean(axis=-1)[:, 0]
    small = 0.08  # the day's scatter over twelve lifters does not cancel to the last digit
    assert first == pytest.approx(runs.first, abs=small)


def test_faster_recovery_never_lowers_a_later_set():
    rows = [row for row in read_sets() if row.family in {"set reps", "total", "capped total", "percent of set 1"}]
    runs = Runs(rows)
    grid = np.linspace(-1.0, 1.0, 9)
    capacity = run_reps(
        runs, lifters(), EFFORT, EFFORT.parameters, np.broadcast_to(grid, (runs.count, 9)).copy(), np.zeros(9)
    )
    value, _, _ = row_values(runs, capacity)
    assert np.all(np.diff(value, axis=1) >= -1e-9)
