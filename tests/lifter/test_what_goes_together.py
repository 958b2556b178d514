"""Intervals and correlations of a lifter file come out of the draws as they stand there."""

import math

import numpy as np
import pytest
from scipy.stats import norm, rankdata

from workbench.lifter import Lifter
from workbench.lifter.belief import lower_triangle
from workbench.models.fatigue import DEFAULT_FORM
from workbench.reference.toml_files import validate
from workbench.simulate.draws import draw_lifter

DRAWS = 100_000
#: Six standard errors of a correlation near 0, and of a quantile of a tenth, in spreads: sqrt(0.09) / (0.175 sqrt(n)).
OF_A_CORRELATION, OF_AN_END = 6 / math.sqrt(DRAWS), 6 * 1.71 / math.sqrt(DRAWS)
NAMES = ("back squat", "bench press")


def file(**changes):
    lift = {
        "one_rm_kg": 120,
        "one_rm_interval": [114, 123],
        "endurance": 0.03,
        "endurance_interval": [0.025, 0.038],
    }
    content = {
        "name": "X",
        "recovery_rate": 1.2,
        "recovery_interval": [1.0, 1.6],
        "lifts": {"back squat": lift, "bench press": {**lift, "one_rm_kg": 90, "one_rm_interval": [88, 95]}},
        "together": {
            "quantities": [
                "back squat, 1RM",
                "back squat, endurance",
                "bench press, 1RM",
                "recovery rate",
                "shared endurance",
            ],
            "correlations": [[0.8], [0.1, 0.2], [-0.3, -0.2, 0.4], [0.1, 0.5, 0.2, 0.3]],
            "others": {"shared endurance": [-0.2, 0.4, 1.1]},
        },
    }
    content.update(changes)
    return validate(content, Lifter)


def drawn(who, exercises=NAMES):
    return draw_lifter(who, exercises, weeks=1, sessions=1, sets=1, draws=DRAWS, rng=np.random.default_rng(7))


def scores(values):
    return norm.ppf((rankdata(values) - 0.5) / DRAWS)


def correlation(a, b):
    return np.corrcoef(scores(a), scores(b))[0, 1]


@pytest.mark.parametrize(
    ("values", "interval"),
    [
        (lambda draws: np.exp(draws.log_one_rm[:, 0]), (114, 120, 123)),
        (lambda draws: np.exp(draws.log_one_rm[:, 1]), (88, 90, 95)),
        (lambda draws: draws.endurance[:, 1], (0.025, 0.03, 0.038)),
        (lambda draws: draws.recovery_rate, (1.0, 1.2, 1.6)),
    ],
)
def test_one_in_ten_lies_below_and_above_an_interval(values, interval):
    logs = np.log(values(drawn(file())))
    found, wanted = np.quantile(logs, [0.1, 0.5, 0.9]), np.log(interval)
    widest = max(np.diff(wanted)) / 1.2816
    assert found == pytest.approx(wanted, abs=OF_AN_END * widest)


def test_quantities_go_together_as_the_file_says():
    draws = drawn(file())
    squat, press = draws.log_one_rm.T
    told = [
        (squat, draws.endurance[:, 0], 0.8),
        (squat, press, 0.1),
        (draws.endurance[:, 0], press, 0.2),
        (squat, draws.recovery_rate, -0.3),
        (draws.endurance[:, 0], draws.recovery_rate, -0.2),
        (press, draws.recovery_rate, 0.4),
    ]
    for a, b, wanted in told:
        assert correlation(a, b) == pytest.approx(wanted, abs=OF_A_CORRELATION)


def test_a_plan_of_one_exercise_draws_it_the_same_way():
    draws = drawn(file(), NAMES[1:])
    assert correlation(draws.log_one_rm[:, 0], draws.recovery_rate) == pytest.approx(0.4, abs=OF_A_CORRELATION)


def test_a_number_typed_anew_stands_alone():
    lift = {"one_rm_kg": 130, "uncertainty_percent": 2, "endurance": 0.03, "endurance_interval": [0.025, 0.038]}
    who = file(lifts={"back squat": lift, "bench press": file().lifts["bench press"].model_dump(exclude_none=True)})
    draws = drawn(who)
    assert correlation(draws.log_one_rm[:, 0], draws.endurance[:, 0]) == pytest.approx(0.0, abs=OF_A_CORRELATION)
    assert correlation(draws.log_one_rm[:, 1], draws.recovery_rate) == pytest.approx(0.4, abs=OF_A_CORRELATION)


def test_an_endurance_that_no_log_taught_follows_what_all_exercises_share():
    """Of nothing known, half of the variance is shared: the mean moves by root a half of the shared mean."""
    lifts = file().model_dump(exclude_none=True)["lifts"]
    lifts["bench press"] = {"one_rm_kg": 90}
    who = file(lifts=lifts)
    prior = file(lifts=lifts, together=None).endurance_belief("bench press")
    found = (np.log(drawn(who).endurance[:, 1]) - prior.middle) / prior.sd
    # 0.4 in the middle, 0.7 above and 0.6 below for a tenth: the mean lies 0.4 of a quarter sd off the middle.
    mean = 0.4 + 0.3989 * (0.7 - 0.6) / 1.2816
    assert found.mean() == pytest.approx(math.sqrt(0.5) * mean, abs=0.02)


def test_the_own_parameters_of_tiring_are_drawn_and_planned_with():
    names = DEFAULT_FORM.parameter_names
    others = {name: [0.1, 0.2, 0.4] if name.endswith("_share") else [1.0, 2.0, 3.0] for name in names}
    together = {
        "form": DEFAULT_FORM.name,
        "others": others,
        "quantities": list(names[:2]),
        "correlations": [[0.6]],
    }
    who = file(together=together)
    assert vars(who.tiring(DEFAULT_FORM)) == {name: others[name][1] for name in names}
    fatigue = vars(drawn(who).fatigue)
    for name in names:
        assert fatigue[name].shape == (DRAWS, 1)
        assert np.quantile(fatigue[name], [0.1, 0.5, 0.9]) == pytest.approx(others[name], rel=0.02)
    assert correlation(fatigue[names[0]][:, 0], fatigue[names[1]][:, 0]) == pytest.approx(0.6, abs=OF_A_CORRELATION)
    # Of another form nothing is known.
    assert file(together={**together, "form": "of my own"}).tiring(DEFAULT_FORM) is None


def test_the_weeks_ahead_gain_and_drift():
    """One percent a week: three by the third week, which has drifted by root three of one percent."""
    together = {
        "others": {"gain": [0.999, 1.0, 1.001]},
        "quantities": ["gain", "recovery rate"],
        "correlations": [[0.0]],
    }
    who = file(together=together)
    day = draw_lifter(who, NAMES, weeks=3, sessions=2, sets=1, draws=DRAWS, rng=np.random.default_rng(8)).day
    assert day.shape == (2, DRAWS, 3)
    spread = math.hypot(0.02, 0.01 * math.sqrt(3))
    assert day[0, :, 2].mean() == pytest.approx(0.03, abs=6 * spread / math.sqrt(DRAWS))
    assert day[0, :, 2].std() == pytest.approx(spread, rel=6 / math.sqrt(2 * DRAWS))
    # The sessions of a week have gained and drifted alike: what they share is the drift.
    drift = np.cov(day[0, :, 2], day[1, :, 2])[0, 1]
    assert drift == pytest.approx(3 * 0.01**2, rel=0.1)


def test_rounded_correlations_can_still_hold():
    """Three quantities that are one: rounded as they are, no distribution has them."""
    rows = lower_triangle(np.ones((3, 3)))
    assert [len(row) for row in rows] == [1, 2]
    matrix = np.eye(3)
    for number, row in enumerate(rows, start=1):
        matrix[number, :number] = matrix[:number, number] = row
    assert np.linalg.eigvalsh(matrix).min() > 0
    assert matrix.min() > 0.95
    assert lower_triangle(np.array([[1.0, 0.12345], [0.12345, 1.0]])) == [[0.123]]
