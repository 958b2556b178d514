"""What counts as made: prescribed reps alone; what ends where it ends is shown by what it will be."""

import numpy as np
import pytest

from tests.hand_made import hall, lifter_of, outcome_by_hand
from workbench.answers.block_check import check_block
from workbench.answers.block_tables import FirstBreak, set_table, week_table
from workbench.answers.opening import headline, where_it_breaks
from workbench.prescription.block import Block
from workbench.reference.toml_files import validate
from workbench.simulate.plan import make_plan
from workbench.simulate.run import Outcome, SessionOutcome
from workbench.simulate.set_outcome import SetOutcome

WHO = lifter_of({"back squat": 100, "bench press": 80})


def outcome_of(group, available):
    """One set of one week, with the reps that each of the draws has."""
    slot = {"exercise": "back squat", "sets": [{"rest_s": 90, **group}], "ramp": False}
    block = validate({"name": "b", "weeks": 1, "sessions": [{"name": "s", "exercises": [slot]}]}, Block)
    plan = make_plan(block, WHO, hall())
    reps = np.array(available, dtype=float)[:, np.newaxis]
    sets = tuple(SetOutcome(one, reps) for one in plan.sessions[0].sets)
    return Outcome(plan, (SessionOutcome(sets),))


def test_missed_reps_are_whole_reps_below_the_lowest_prescribed():
    """Of 8 to 12: 7.9 reps are seven, one missed; 9.5 are enough, and so is 12; 5.0 are three too few: 4 of 4 draws."""
    outcome = outcome_of({"reps": [8, 12], "percent": 70}, [7.9, 9.5, 12.0, 5.0])
    row = set_table(outcome).iloc[0]
    assert row["missed"] == (1 + 0 + 0 + 3) / 4
    assert row["chance"] == 2 / 4
    assert outcome.missed.ravel().tolist() == [1, 0, 0, 3]
    week = week_table(outcome)
    assert week["missed"].tolist() == [1.0, 1.0]  # the session, and the whole week


@pytest.mark.parametrize(
    ("group", "done"),
    [
        # Two left in reserve, of 6 to 10 reps: 9 reps are there, 7 are done; 15 are there, 10 are the most.
        ({"reps": [6, 10], "reps_in_reserve": 2}, [7, 7, 10]),
        ({"reps": "failure", "percent": 70}, [9, 9, 15]),
    ],
)
def test_a_set_that_ends_where_it_ends_misses_nothing_and_shows_its_reps(group, done):
    outcome = outcome_of(group, [9.4] * 8 + [15.9] * 4)
    row = set_table(outcome).iloc[0]
    assert np.isnan(row[["chance", "missed", "reserve_low", "reserve", "reserve_high"]].astype(float)).all()
    assert [row[f"reps_p{percent}"] for percent in (10, 50, 90)] == done
    assert outcome.missed.sum() == 0
    assert outcome.chance_of_block() == 1.0
    weeks = week_table(outcome)
    assert weeks[["chance", "missed", "reserve"]].isna().all(axis=None)
    assert "no set has prescribed reps, so none can be missed" in headline(outcome.plan, set_table(outcome), 1.0)
    assert where_it_breaks(set_table(outcome), 0.85, None) == ""


def test_a_set_to_a_reserve_is_begun_at_least_and_never_does_more_than_there_is():
    reps = [
        set_table(outcome_of({"reps": 5, "reps_in_reserve": 3}, [there] * 3)).iloc[0]["reps_p50"]
        for there in (0.6, 2.5, 9)
    ]
    assert reps == [0, 1, 5]


def test_reps_of_a_drop_that_are_given_are_to_be_made_and_a_part_of_an_earlier_load_too():
    drops = {"sizes": [20], "reps": 5}
    groups = [
        {"count": 1, "reps": [6, 8], "reps_in_reserve": 1, "rest_s": 90, "drops": drops},
        {"count": 1, "reps": 6, "part_of_group": 1, "part": 0.8, "rest_s": 90},
    ]
    slot = {"exercise": "back squat", "sets": groups, "ramp": False}
    block = validate({"name": "b", "weeks": 2, "sessions": [{"name": "s", "exercises": [slot]}]}, Block)
    sets = make_plan(block, WHO, hall()).sessions[0].sets
    assert [one.prescribed.tolist() for one in sets] == [[False, False], [True, True], [True, True]]
    assert [None if one.leaves is None else one.leaves.tolist() for one in sets] == [[1, 1], None, None]


def test_the_headline_counts_by_hand():
    """Nine sets are prescribed: bench press 2 and 1, curl and drop in both weeks, leg extension in both."""
    outcome = outcome_by_hand()
    sets = set_table(outcome)
    made = sets[sets["chance"].notna()]
    assert len(made) == 9
    said = headline(outcome.plan, sets, outcome.chance_of_block())
    assert f"of {5 + 5 + 5 + 8 + 8 + 5 + 5 + 8 + 8} reps" in said
    missed = outcome.missed.sum(axis=1).mean()
    assert f"about {missed:.0f} of" in said
    assert made["missed"].sum() == pytest.approx(missed)


def test_a_set_just_under_the_limit_reads_as_under_it():
    broken = FirstBreak(1, "s", 1, "back squat", 1, 1, "2", 0, 0.8496)
    assert broken.below(0.85).endswith("set 2: 84.9 % chance that all reps are made")
    assert broken.below(0.9) == str(broken)
    assert str(broken).endswith("set 2: 85 % chance that all reps are made")


def test_a_block_of_sets_to_failure_and_to_a_reserve_has_nothing_to_mend():
    groups = [{"reps": "failure", "percent": 60, "rest_s": 90}, {"reps": 8, "reps_in_reserve": 1, "rest_s": 90}]
    slots = [{"exercise": "back squat", "sets": [groups[0]]}, {"exercise": "bench press", "sets": [groups[1]]}]
    block = validate({"name": "b", "weeks": 1, "sessions": [{"name": "s", "exercises": slots}]}, Block)
    check = check_block(block, WHO, hall(), draws=50, seed=1)
    assert check.first_break is None
    assert len(check.sentences()) == 1
