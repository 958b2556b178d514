"""What a simulated block comes to, counted draw by draw: sets not done, sessions side by side, loads near the 1RM."""

import math

import numpy as np
import pytest

from tests.scalar_oracle import simulate_slowly
from tests.simulate.test_plan import ROOM, WHO, block, group, slot
from workbench.answers.block_tables import week_table
from workbench.answers.outcomes import Measured
from workbench.answers.volume import volume_question
from workbench.models.fatigue import DEFAULT_FORM
from workbench.reference.parameters import fatigue_typical
from workbench.simulate.draws import LifterDraws, draw_for
from workbench.simulate.plan import make_plan
from workbench.simulate.run import simulate

#: The fast form does the same few hundred operations in another order.
ROUNDING = 1e-12
#: Sums of halves and wholes.
EXACT = 1e-9
DRAWS = 40


def outcome_of(asked, draws=DRAWS):
    plan = make_plan(asked, WHO, ROOM)
    return simulate(plan, draw_for(plan, draws=draws, seed=11))


@pytest.fixture(scope="module")
def sets_left_out():
    # One set to failure in week 1, three in week 2, and three heavy singles in week 1 alone.
    rising = {"rule": "by week", "load": [70, 70], "sets": [1, 3]}
    falling = {"rule": "by week", "load": [30, 110], "sets": [3, 0]}
    squats = group("failure", percent=70, rest_s=300, progression=rising)
    return outcome_of(block(slot("back squat", squats, group(1, percent=30, progression=falling)), weeks=2))


def test_sets_not_done_are_no_hard_sets(sets_left_out):
    # Sets to failure are hard; singles at 30 % leave far more than four reps.
    weeks = volume_question(sets_left_out).weeks
    assert weeks["hard"].to_list() == pytest.approx([1, 3], abs=EXACT)
    assert weeks["sets"].to_list() == [4, 3]
    assert Measured(sets_left_out).value("hard_sets") == pytest.approx(np.full(DRAWS, 2.0), abs=EXACT)


def test_sets_not_done_leave_nothing_in_reserve_nor_out_of_it(sets_left_out):
    # With prescribed reps there are only the singles of week 1: none in week 2, where 110 % would leave less than none.
    singles = [one for one in sets_left_out.sessions[0] if np.isfinite(one.planned.reps_high[0])]
    assert len(singles) == 3
    for draw in range(DRAWS):
        expected = min(one.available[draw, 0] for one in singles) - 1
        assert sets_left_out.sessions[0].lowest_reserve[draw, 0] == pytest.approx(expected, abs=ROUNDING)
        assert sets_left_out.sessions[0].lowest_reserve[draw, 1] == math.inf
        assert Measured(sets_left_out).value("lowest_reserve")[draw] == pytest.approx(expected, abs=ROUNDING)
    whole = week_table(sets_left_out)
    assert whole["reserve"].isna().to_list() == [False, False, True, True]


def test_sets_not_done_are_not_missed(sets_left_out):
    measured = Measured(sets_left_out)
    assert measured.value("missed_reps").tolist() == [0.0] * DRAWS
    assert measured.value("first_miss_week").tolist() == [3.0] * DRAWS  # after the last


def test_the_reserve_of_a_week_is_that_of_its_worst_session():
    hard = {"name": "Friday", "exercises": [slot("leg press", group(8, percent=80, count=2))]}
    outcome = outcome_of(block(slot("back squat", group(3, percent=50)), weeks=2, sessions=[hard]))
    table = week_table(outcome)
    for week in range(2):
        fewest = [
            min(one.available[draw, week] - one.planned.reps_low[week] for sets in outcome.sessions for one in sets)
            for draw in range(DRAWS)
        ]
        row = table[(table["week"] == week + 1) & (table["session"] == "whole week")].iloc[0]
        expected = np.percentile(fewest, [10, 50, 90])
        assert [row["reserve_low"], row["reserve"], row["reserve_high"]] == pytest.approx(expected, abs=EXACT)


# ---- near and above the maximum -------------------------------------------------------------------------------------


def _certain(plan, endurance, noise=1.0):
    """One lifter of whom all is known, on one day like every other."""
    lanes, weeks = len(plan.exercises), plan.weeks
    return LifterDraws(
        exercises=plan.exercises,
        log_one_rm=np.full((1, lanes), math.log(100)),
        endurance=np.full((1, lanes), endurance),
        recovery_rate=np.ones(1),
        fatigue=fatigue_typical(DEFAULT_FORM),
        form=DEFAULT_FORM,
        day=np.zeros((len(plan.sessions), 1, weeks)),
        set_noise=np.full((plan.set_count, 1, weeks), noise),
    )


def test_below_one_rep_there_is_a_part_of_one_and_never_less_than_none():
    # 1RM 100 kg, endurance 0.1. At 75 kg 1 + ln(100 / 75) / 0.1 = 3.877 reps, at 100 kg one, at 105 kg
    # 1 - ln(1.05) / 0.1 = 0.512: not a single one; at 115 kg 1 - 1.398 < 0: none.
    by_week = {"rule": "by week", "load": [75, 100, 105, 115]}
    plan = make_plan(block(slot("back squat", group(1, kg=75, count=2, progression=by_week)), weeks=4), WHO, ROOM)
    assert plan.sessions[0].sets[0].load_kg.tolist() == [75, 100, 105, 115]
    first, second = simulate(plan, _certain(plan, 0.1)).sessions[0]
    expected = [1 + math.log(100 / 75) / 0.1, 1.0, 1 - math.log(1.05) / 0.1, 0.0]
    assert first.available[0] == pytest.approx(expected, abs=EXACT)
    assert first.made[0].tolist() == [True, True, False, False]
    # Straight afterwards no less than nothing, and nowhere more than before.
    assert (second.available[0] >= 0).all()
    assert (second.available[0] <= first.available[0]).all()


def test_equal_to_the_plain_loop_about_the_maximum():
    # Alternating, dropping, with sets left out and reps that change by week, from 85 to 112 % of the 1RM.
    by_week = {"rule": "by week", "load": [85, 98, 112], "reps": [3, 1, 1], "sets": [2, 3, 2]}
    drops = {"sizes": [10, 15], "change_s": 15}
    asked = block(
        slot("back squat", group(percent=85, rest_s=90, progression=by_week), alternate_with_next=True),
        slot("leg press", group("failure", percent=101, rest_s=60, count=2, drops=drops)),
        slot("lat pulldown", group([1, 3], percent=95, count=2, progression={"rule": "step", "step": 5})),
    )
    plan = make_plan(asked, WHO, ROOM)
    draws = draw_for(plan, draws=15, seed=8)
    outcome = simulate(plan, draws)
    below_one = 0
    slow = simulate_slowly(plan, draws)
    assert len(slow) == 15 * 3 * plan.set_count
    for (session, index, draw, week), reps in slow.items():
        got = outcome.sessions[session][index].available[draw, week]
        assert got == pytest.approx(reps, abs=ROUNDING, rel=ROUNDING)
        below_one += got < 1
    assert below_one > 30
