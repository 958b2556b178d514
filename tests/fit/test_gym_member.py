"""What a lifter says to the numbers of a gym who trained other exercises before."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from workbench.fit import FitSettings
from workbench.fit.gym_member import member_of
from workbench.fit.learned_draws import LearnedDraws
from workbench.lifter import Lifter
from workbench.models.load_reps import DEFAULT_CURVE
from workbench.reference.toml_files import validate

DRAWS = 4000


def test_what_the_file_keeps_of_an_exercise_that_is_not_in_the_log_is_taken_along():
    """A press taught by an earlier log: its endurance is 0.05, 80 % between 0.04 and 0.0625, an sd of 0.1741."""
    press = {
        "one_rm_kg": 80.0,
        "one_rm_interval": [76.0, 84.0],
        "endurance": 0.05,
        "endurance_interval": [0.04, 0.0625],
    }
    together = {"quantities": ["bench press, 1RM", "bench press, endurance"], "correlations": [[0.0]]}
    lifts = {"back squat": {"one_rm_kg": 100.0}, "bench press": press, "barbell row": {"one_rm_kg": 70.0}}
    learned_days = {"bench press": {"2026-01-05": "5 sets, 0123456789ab"}}
    lifter = validate({"name": "A", "lifts": lifts, "together": together, "learned": learned_days}, Lifter)
    squat, rate, bias = np.full((DRAWS, 1), 0.03), np.ones(DRAWS), np.zeros(DRAWS)
    zero = np.zeros((DRAWS, 1))
    drawn = LearnedDraws(("back squat",), zero + 4.6, squat, rate, np.zeros(DRAWS), rate, zero, bias)
    fit = SimpleNamespace(
        settings=FitSettings(),
        curve=DEFAULT_CURVE,
        log=SimpleNamespace(set_count=7, sets=[SimpleNamespace(ending="failed")]),
    )
    learned = SimpleNamespace(fit=fit, lifter=lifter, exercises=("back squat",), draws=lambda count, rng: drawn)
    found = member_of(learned, draws=DRAWS, rng=np.random.default_rng(1))
    # The row, of which no log told, says nothing.
    assert found.classes == ("squat", "horizontal press")
    assert found.log_endurance.shape == (DRAWS, 2)
    assert found.log_endurance[:, 0] == pytest.approx(np.log(0.03))
    # 4,000 draws know a mean to a sixtieth of an sd, an sd to a ninetieth; three times that.
    assert found.log_endurance[:, 1].mean() == pytest.approx(np.log(0.05), abs=0.05 * 0.1741)
    assert found.log_endurance[:, 1].std() == pytest.approx(0.1741, rel=0.035)
    assert (found.sets, found.states_reserve, found.is_woman) == (12, False, False)
