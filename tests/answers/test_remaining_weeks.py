"""The weeks that are left of a block: their loads from the learned maximum, and no word about the weeks gone by."""

import pytest

from tests.demo_logs import DATA, two_weeks_of_the_block
from tests.hand_made import hall
from workbench.answers.next_week import next_week
from workbench.fit import fit_log
from workbench.fit.lifter_file import updated_lifter
from workbench.gym import catalogue
from workbench.lifter import read_lifter
from workbench.prescription.block import Block
from workbench.reference.toml_files import validate

#: Percent of 1RM of both exercises, week by week: the first week is beyond anybody.
PERCENTS = [110, 60, 76, 67, 71.5, 83]


@pytest.fixture(scope="module")
def learned():
    return fit_log(two_weeks_of_the_block(), read_lifter(DATA / "lifters" / "emre_sandoval.toml"))


def block_of(percents, reps=5, chance=0.85):
    rule = {"rule": "by week", "load": percents}
    group = {"count": 2, "reps": reps, "percent": percents[0], "rest_s": 150, "progression": rule}
    slots = [{"exercise": name, "sets": [group]} for name in ("back squat", "barbell bench pull")]
    content = {"name": "b", "weeks": len(percents), "limits": {"chance_of_reps": chance}}
    return validate({**content, "sessions": [{"name": "s", "exercises": slots}]}, Block)


def test_loads_are_the_percents_of_the_learned_maximum_and_before_of_the_files(learned):
    answer = next_week(learned, block_of(PERCENTS), hall(), week=2, draws=50, seed=1)
    moved = 0
    for row in answer.sets.to_dict("records"):
        loads = [float(kg) for kg in hall().loads_for(catalogue.exercise(row["exercise"])).kg]
        percent = PERCENTS[row["week"] - 1]
        for column, lifter in (("load_kg", learned.lifter), ("load_updated_kg", updated_lifter(learned))):
            wanted = percent / 100 * lifter.lift(row["exercise"]).one_rm
            assert abs(row[column] - wanted) == pytest.approx(min(abs(load - wanted) for load in loads))
        moved += row["load_updated_kg"] != row["load_kg"]
    assert moved > 0, "the log taught nothing: the case tests nothing"


def test_a_week_gone_by_breaks_nothing_and_is_mended_by_nothing(learned):
    """From week 2 on all is easy, then hard: what would not do in week 1 is not held against a mend."""
    easy = next_week(learned, block_of([110, 50, 50]), hall(), week=2, draws=200, seed=1)
    assert easy.breaks is None
    assert easy.proposals == ()
    assert next_week(learned, block_of([110, 50, 50]), hall(), week=1, draws=200, seed=1).breaks.week == 1
    hard = next_week(learned, block_of([110, 50, 76], reps=8, chance=0.7), hall(), week=2, draws=200, seed=1)
    assert hard.breaks.week == 3
    assert any("load" in one.kind for one in hard.proposals)
    assert all(0.7 <= one.chance <= 1 for one in hard.proposals)
    assert hard.weeks["week"].tolist() == [2, 3]
    # Set by set, the chance of a week can be no more than that of its least likely set.
    lowest = hard.sets.groupby("week")["chance_updated"].min()
    assert (hard.weeks["chance_updated"].to_numpy() <= lowest.to_numpy()).all()


def test_a_proposal_has_the_chance_that_the_whole_session_then_shows(learned):
    """Rows before the pulldown cost it reps: a mend that left them out would promise more than the sheet then says."""

    def slot(exercise, percent, reps):
        group = {"count": 3, "reps": reps, "percent": percent, "rest_s": 90}
        return {"exercise": exercise, "sets": [group]}

    for percent in range(69, 90, 2):  # until the pulldown breaks
        slots = [slot("barbell bench pull", 55, 6), slot("lat pulldown", percent, 8)]
        content = {
            "name": "b",
            "weeks": 3,
            "limits": {"chance_of_reps": 0.8},
            "sessions": [{"name": "s", "exercises": slots}],
        }
        answer = next_week(learned, validate(content, Block), hall(), week=2, draws=300, seed=1)
        if answer.breaks is not None:
            break
    assert answer.breaks.exercise == "lat pulldown"
    assert answer.proposals
    for one in answer.proposals:
        sets = next_week(learned, one.block, hall(), week=2, draws=300, seed=1).sets
        assert sets.loc[sets["exercise"] == "lat pulldown", "chance_updated"].min() == one.chance
