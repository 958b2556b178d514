"""Panels of comparing, deciding, the team and committing: a moved control changes the answer; errors are explained."""

import pytest

from workbench.panels.commit import CommitPanel
from workbench.panels.compare import ComparePanel
from workbench.panels.decide import DecidePanel
from workbench.panels.desk import Desk
from workbench.panels.team import TeamPanel
from workbench.prescription.schemes import constant_step, exercise_block
from workbench.publish.commit import list_committed, verify
from workbench.quantities import InputError
from workbench.reference.gym_folder import GymFolder
from workbench.reference.sources import data_path


@pytest.fixture
def compare():
    return ComparePanel(draws=60)


def test_schemes_are_compared_before_anything_is_moved(compare):
    assert compare.trouble.value == ""
    assert set(compare.last.values) == {"constant step", "wave", "undulating", "top set with back-offs"}
    assert "On the same days" in compare.answer.value
    assert "Differences of" in compare.text()


def test_moved_controls_change_the_comparison(compare):
    before = compare.last.values["wave"]["tonnage"].mean()
    compare.controls.sets.value = 3
    assert compare.last.values["wave"]["tonnage"].mean() < before
    compare.controls.outcome.value = "tonnage"
    assert "tonnage" in compare.answer.value.lower()
    compare.controls.schemes.value = ("wave",)
    assert compare.last.pairs.empty
    assert compare.trouble.value == ""
    compare.controls.schemes.value = ("wave", "drop-set finish")
    assert len(compare.differences.shown.data) > 0
    compare.controls.lifter.choice.value = next(
        path for name, path in compare.controls.lifter.choice.options if name == "Asta Lindqvist"
    )
    assert compare.last.outcomes["wave"].plan.lifter.name == "Asta Lindqvist"


def test_of_equal_blocks_none_is_called_the_highest(tmp_path):
    """Two files of one block, and one with a set left out: fewer reps in all of the days."""
    gym = GymFolder(tmp_path)
    gym.add_demo()
    text = (gym.path / "blocks" / "block.toml").read_text(encoding="utf-8")
    same = [gym.path / "blocks" / "block.toml", gym.add("blocks", "Twin", text.replace("Winter", "Twin winter", 1))]
    fewer = gym.add("blocks", "Less", text.replace("Winter", "Lesser winter", 1).replace("count = 5", "count = 1", 1))
    panel = ComparePanel(draws=20, desk=Desk(gym))
    panel.controls.outcome.value = "tonnage"
    panel.controls.blocks.value = same
    assert "come to the same in each of 20 simulated runs." in panel.answer.value
    assert "highest" not in panel.answer.value
    assert "beats" not in panel.answer.value
    panel.controls.blocks.value = [*same, fewer]
    assert "come to the same in each of 20 simulated runs, the highest in the mean." in panel.answer.value
    assert "each beats Lesser winter" in panel.answer.value
    panel.controls.blocks.value = [same[0], fewer]
    assert "is highest, in the mean of 20 simulated runs." in panel.answer.value
    assert "it beats Lesser winter" in panel.answer.value


def test_no_scheme_is_explained_in_the_panel():
    panel = ComparePanel(draws=20)
    panel.controls.schemes.value = ()
    assert "at least one block" in panel.trouble.value


@pytest.fixture
def decide():
    panel = DecidePanel(draws=40)
    panel.controls.turns["reps"].value = False
    panel.controls.ranges["percent"].value = (60, 65)
    panel.controls.ranges["rest"].value = (90, 120)
    return panel


def test_the_search_starts_from_the_blocks_own_limits_and_about_its_own_values():
    """The demonstration block: 85 % for each set, 90 minutes; five sets of six from 65 %, 2.5 points a week, 90 s."""
    controls = DecidePanel(draws=40).controls
    assert [str(one) for one in controls.limits()] == [
        "chance of the least likely set of barbell bench pull at least 85 %",
        "longest session, min at most 90",
    ]
    ranges = {knob.kind: (knob.values[0], knob.values[-1]) for knob in controls.knobs()}
    assert ranges == {"percent": (50, 70), "reps": (4, 6), "rest": (90, 180)}
    controls.exercise.value = "lat pulldown"  # by reps in reserve: there is no percent to turn
    assert [knob.kind for knob in controls.knobs()] == ["reps", "rest"]
    assert str(controls.limits()[0]) == "chance of the least likely set of lat pulldown at least 85 %"
    controls.exercise.value = "every exercise"
    controls.set_chance.value, controls.chance.value = 60, 10
    assert [str(one) for one in controls.limits()] == [
        "chance of the least likely set at least 60 %",
        "chance that all reps of the block are made at least 10 %",
        "longest session, min at most 90",
    ]


def test_where_the_search_starts_there_is_a_plan_that_keeps_the_limits():
    panel = DecidePanel(draws=40)
    panel.controls.find.click()
    assert panel.chosen is not None
    assert panel.last.candidates["allowed"].sum() < len(panel.last.candidates)
    assert panel.last.limits["value"].iloc[0] >= 0.85
    assert "Least likely set of the whole block: week" in panel.answer.value


def test_the_search_answers_and_shows_its_trade_off(decide):
    decide.controls.chance.value = decide.controls.set_chance.value = 0
    decide.controls.find.click()
    assert decide.last.tried == 3 * 2
    assert decide.chosen is not None
    assert "Most demanding within the limits" in decide.answer.value
    assert len(decide.front.shown.data) == 4
    assert decide.stop.disabled
    assert not decide.controls.find.disabled


def test_limits_that_nothing_keeps_are_told(decide):
    decide.controls.minutes.value = 10
    decide.controls.find.click()
    assert decide.trouble.value == ""
    assert decide.last is not None
    assert decide.chosen is None
    assert "No plan keeps the limits" in decide.text()


def test_knobs_that_do_not_turn_are_told(decide):
    for turn in decide.controls.turns.values():
        turn.value = False
    decide.controls.find.click()
    assert "name at least one thing" in decide.trouble.value


def test_the_roster_is_checked_and_a_wrong_folder_explained():
    panel = TeamPanel(draws=20)
    assert panel.last is None
    panel.check.click()
    assert len(panel.last.table) == 8
    assert "Asta Lindqvist" in panel.rows.value
    assert "What would mend its group" in panel.text()
    panel.folder.value = "no such folder"
    panel.check.click()
    assert "is no folder" in panel.trouble.value


def test_a_gym_of_ones_own_asks_for_no_folder_of_lifters(tmp_path):
    gym = GymFolder(tmp_path)
    gym.make()
    assert TeamPanel(Desk(gym), draws=20).folder.layout.display == "none"
    assert TeamPanel(draws=20).folder.layout.display is None


def test_nothing_is_written_before_a_button_is_pressed(tmp_path):
    folder = tmp_path / "committed"
    panel = CommitPanel(draws=20, folder=folder)
    assert not folder.exists()
    panel.commit.click()
    assert "reason: is empty" in panel.trouble.value
    assert not folder.exists()
    panel.reason.value = "<b>Because</b>"
    panel.start.typed.value = "Monday"
    assert "type it as 5 Jan 2026" in panel.start.problem
    panel.commit.click()
    assert "what is typed there is not taken" in panel.trouble.value
    assert not folder.exists()
    panel.start.typed.value = "2026-01-05"
    panel.commit.click()
    assert panel.trouble.value == ""
    assert [path.name for path in list_committed(folder)] == ["winter-block-pull-and-legs-r01"]
    assert verify(panel.last.path).same
    panel.verify.click()
    assert "same" in panel.answer.value
    panel.rationale.click()
    assert (folder / "winter-block-pull-and-legs-r01.html").is_file()
    panel.commit.click()
    assert "Changed since winter-block-pull-and-legs-r01: nothing" in panel.answer.value


def test_while_a_block_is_committed_it_says_so_and_takes_no_second_press(tmp_path, monkeypatch):
    panel = CommitPanel(draws=20, folder=tmp_path / "committed")
    buttons = (panel.commit, panel.sheets, panel.rationale, panel.verify)
    seen = []

    def refuses(*_block, **_how):
        seen.append((panel.answer.value, [button.disabled for button in buttons]))
        raise InputError(None, "reason", "is empty", "say why")

    monkeypatch.setattr("workbench.panels.commit.commit_block", refuses)
    panel.commit.click()
    ((said, off),) = seen
    assert said.startswith("Committing: ")
    assert off == [True] * 4
    assert [button.disabled for button in buttons] == [False] * 4  # also after a refusal
    assert "is empty" in panel.answer.value


def test_a_new_page_says_what_was_committed_before_and_hands_that_out(tmp_path):
    first = CommitPanel(draws=20, folder=tmp_path)
    assert "Nothing of this block is committed yet" in first.answer.value
    first.verify.click()
    assert "is not committed yet" in first.trouble.value
    first.reason.value = "r"
    first.commit.click()
    # As after a reload: a panel that has made nothing itself.
    panel = CommitPanel(draws=20, folder=tmp_path)
    assert "Committed before: winter-block-pull-and-legs-r01." in panel.answer.value
    panel.verify.click()
    assert panel.trouble.value == ""
    assert "same" in panel.answer.value
    panel.rationale.click()
    assert (tmp_path / "winter-block-pull-and-legs-r01.html").is_file()
    panel.sheets.click()
    assert "Sheets of" in panel.handed.value
    assert "<li>Emre Sandoval, to fill in: " in panel.handed.value


def test_what_the_search_found_can_be_committed(tmp_path):
    found = []
    panel = CommitPanel(lambda: found[0] if found else None, draws=20, folder=tmp_path)
    panel.reason.value, panel.use_found.value = "r", True
    panel.commit.click()
    assert "no search has found one" in panel.trouble.value
    found.append(exercise_block("back squat", constant_step(sets=1), weeks=1, name="Found"))
    panel.commit.click()
    assert panel.last.block.name == "Found"


def test_a_gym_of_one_block_is_asked_for_its_reason_and_for_no_other_block(tmp_path):
    gym = GymFolder(tmp_path)
    gym.make()
    gym.add_demo()
    panel = CommitPanel(desk=Desk(gym), draws=20)
    assert panel.alternatives.layout.display == "none"
    assert panel.reason.layout.display is None
    assert panel.by.layout.display is None


def test_committing_says_what_the_lifter_file_leaves_out(tmp_path):
    """Fenja's file avoids "overhead": of the demo block that is the lat pulldown, and nothing else."""
    panel = CommitPanel(draws=20, folder=tmp_path)
    left_out = "lat pulldown: the lifter file leaves it out (joint position left out: overhead)"
    assert "leaves it out" not in panel.answer.value
    panel.lifter.value = data_path("demo", "lifters", "fenja_marlow.toml")
    assert left_out in panel.answer.value
    assert panel.answer.value.count("leaves it out") == 1
    panel.reason.value = "r"
    panel.commit.click()
    assert f"Fenja Marlow: {left_out}." in panel.answer.value
