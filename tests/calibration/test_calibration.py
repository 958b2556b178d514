"""Coverage and scores of the fit on invented people; the whole table is ``python -m tests.calibration``."""

import copy

import numpy as np
import pytest
from scipy.special import ndtr, ndtri

from tests.calibration.__main__ import measured
from tests.calibration.forecasts import RULES
from tests.calibration.measure import DOORS, QUANTITIES, coverage, coverage_table, forecast_table, wanted
from tests.calibration.rows import ROWS
from tests.calibration.scores import cluster_mean, crps, inside, rank

pytestmark = pytest.mark.usefixtures("compiled_sets")

#: Standard errors by which a right coverage may miss its limits: in 1 of 700 tries.
MOST_ERRORS = 3.0


def missed(row, found, names):
    """Intervals of which the coverage lies outside what the row wants, beyond chance."""
    off = []
    for name in names:
        share, se = coverage(found, name, 0.8)
        count = np.unique(found.of(f"rank {name}")[1]).size
        # Of few lifters, all alike, the standard error is no less than that of as many tosses.
        se = max(se, np.sqrt(0.8 * 0.2 / count) / 2)
        low, high = wanted(row, name)
        if not low - MOST_ERRORS * se <= share <= high + MOST_ERRORS * se:
            off.append(f"{name}: {share:.0%}, standard error {se:.0%}")
    return off


def worse_than_rules(found):
    """Rules of thumb that do as well as the forecast from the log."""
    scores = ("crps", "brier")
    mean = {name: found.of(name)[0].mean() for name in found.values if name.startswith(scores)}
    return [(score, rule) for score in scores for rule in RULES if mean[f"{score} log"] >= mean[f"{score} {rule}"]]


@pytest.fixture(scope="module")
def few():
    return dict(measured(["constants drawn"], 6, seed=1, draws=300, jobs=1))


def test_the_forecast_of_a_few_lifters_covers_and_beats_the_rules(few):
    row, found = few["constants drawn"]
    assert missed(row, found, ["reps log"]) == []
    assert worse_than_rules(found) == []


@pytest.mark.parametrize("wrong", [lambda z: 3.0 * z, lambda z: z + 2.0], ids=["a third as wide", "too low"])
def test_bands_that_are_wrong_are_seen_in_a_few_lifters(few, wrong):
    row, found = few["constants drawn"]
    doctored = copy.deepcopy(found)
    ranks = np.clip([value for _, value in found.values["rank reps log"]], 1e-6, 1 - 1e-6)
    doctored.values["rank reps log"] = [
        (lifter, float(value))
        for (lifter, _), value in zip(found.values["rank reps log"], ndtr(wrong(ndtri(ranks))), strict=True)
    ]
    assert missed(row, doctored, ["reps log"]) != []


def test_tables_say_what_was_found(few):
    table, scores = coverage_table(few), forecast_table(few)
    share, _ = coverage(few["constants drawn"][1], "reps log", 0.8)
    assert f"{100 * share:.1f}" in table
    assert all(name in scores for name in (*DOORS, *RULES))


@pytest.mark.slow
@pytest.mark.parametrize("name", ["as assumed", "constants drawn"])
def test_bands_cover_what_they_say(name):
    _, (row, found) = next(measured([name], 60, seed=5, draws=500, jobs=1, noted=False))
    assert missed(row, found, [*QUANTITIES, "reps log", "reps file"]) == []
    assert worse_than_rules(found) == []
    # Of the same reps: what is written down and read again loses at most 2 %.
    of_log, of_file = (found.of(f"crps {door}")[0].mean() for door in DOORS)
    assert of_file == pytest.approx(of_log, rel=0.02)
    widths = [found.of(f"width reps {door}")[0].mean() for door in DOORS]
    assert widths[1] == pytest.approx(widths[0], rel=0.02)


#: Where a fit on the usual curve and form is known to be too sure of itself.
SHORT = {
    "form: two states": ["recovery"],
    "form: two states, unweighted": ["recovery"],
    "form: one store": ["recovery"],
    "curve: power law": [*QUANTITIES, "reps log", "reps file"],
    "curve: square root": ["1RM", "endurance"],
    # Sets at like loads do not tell a 1RM that is too high from a bent curve: what the file says stands.
    "file 10 % high": ["1RM", "endurance"],
    "the same, 3 sessions": ["1RM", "endurance"],
}


@pytest.mark.slow
def test_bands_hold_for_people_whom_the_fit_does_not_expect():
    others = [name for name in ROWS if name not in ("as assumed", "constants drawn")]
    for name, (row, found) in measured(others, 20, seed=6, draws=500, jobs=1, noted=False):
        held = [one for one in (*QUANTITIES, "reps log", "reps file") if one not in SHORT.get(name, [])]
        assert missed(row, found, held) == [], name
        assert worse_than_rules(found) == [], name


def test_the_score_of_draws_by_hand():
    # One number: its distance. Draws 0 and 4 about 1: mean distance 2, less half of the mean distance of pairs, 2.
    assert crps(np.array([3.0]), 5.0) == 2.0
    assert crps(np.array([4.0, 0.0]), 1.0) == 1.0
    # Draws 0, 1, 5 about 1: distances 1, 0, 4; the nine pairs are 1, 5, 4 apart, each twice.
    assert crps(np.array([5.0, 0.0, 1.0]), 1.0) == pytest.approx(5 / 3 - 20 / 9 / 2)


def test_ranks_of_whole_numbers_are_even():
    rng = np.random.default_rng(2)
    ranks = np.array([rank(rng.poisson(3.0, 400), rng.poisson(3.0), rng) for _ in range(2000)])
    # 2,000 tosses of 0.8: a standard error of 0.009.
    assert inside(ranks, 0.8).mean() == pytest.approx(0.8, abs=0.035)
    assert inside(ranks, 0.5).mean() == pytest.approx(0.5, abs=0.045)


def test_values_of_one_lifter_go_together():
    # Two lifters, wholly 1 and wholly 0: half, give or take half, however many values each has.
    assert cluster_mean(np.repeat([1.0, 0.0], 50), np.repeat([1, 2], 50)) == (0.5, 0.5)
    # Without clusters, the usual standard error: sd 0.5774 over 2.
    assert cluster_mean(np.array([1.0, 0.0, 1.0, 0.0]), np.arange(4))[1] == pytest.approx(0.57735 / 2, abs=1e-4)
