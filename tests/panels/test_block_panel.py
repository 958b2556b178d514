"""The block panel: moving a control by code changes the figure, the tables and the answer, and nothing is shown."""

from __future__ import annotations

import shutil
from html import escape
from pathlib import Path

import pytest

from workbench.answers.block_check import check_block
from workbench.answers.unsure import unsure_check
from workbench.gym.equipment import read_room
from workbench.lifter import read_lifter
from workbench.panels import BlockPanel, ComparePanel
from workbench.prescription.block import read_block
from workbench.prescription.edit import Where, change
from workbench.reference.sources import data_path
from workbench.reference.toml_files import toml_text

SEED, DRAWS = 3, 400
BENCH_PULL = Where(1, 1, 1)


@pytest.fixture
def panel() -> BlockPanel:
    made = BlockPanel(seed=SEED, draws=DRAWS)
    assert made.trouble.value == ""
    made.controls.place.value = BENCH_PULL
    return made


def chances(panel: BlockPanel) -> list[float]:
    """Chances of the first group's sets in the map, week by week, sets that are done only."""
    heat = panel.map.shown.data[0]
    rows = [row for row, name in zip(heat.z, heat.y, strict=True) if name.startswith("barbell bench pull")]
    return [chance for row in rows for chance in row if chance is not None]


def test_building_a_panel_shows_nothing(capsys: pytest.CaptureFixture[str]) -> None:
    BlockPanel(seed=SEED, draws=50)
    assert capsys.readouterr().out == ""


def test_the_panel_gives_the_digits_of_the_plain_function(panel: BlockPanel) -> None:
    demo = data_path("demo")
    check = check_block(
        read_block(demo / "block.toml"),
        read_lifter(demo / "lifters" / "emre_sandoval.toml"),
        read_room(demo / "rooms" / "boathouse_hall.toml"),
        draws=DRAWS,
        seed=SEED,
    )
    monday = check.sets[(check.sets["session_number"] == 1) & (check.sets["exercise"] == "barbell bench pull")]
    assert sorted(chances(panel)) == sorted(monday["chance"])


def test_it_opens_on_the_set_group_that_breaks_first_and_keeps_what_the_coach_chose() -> None:
    panel = BlockPanel(seed=SEED, draws=100)
    lifters = panel.controls.lifter.path
    demo = lifters.value.rpartition("/")[0]
    for name in ("cato_venn", "hedda_quill"):  # nothing was chosen yet: each opens where it breaks
        assert panel.check is not None
        sets, place = panel.check.sets, panel.controls.place.value
        here = (sets["session_number"] == place.session) & (sets["slot"] == place.exercise)
        assert sets["chance"][here & (sets["group"] == place.group)].min() == sets["chance"].min()
        assert place != BENCH_PULL
        lifters.value = f"{demo}/{name}.toml"
    panel.controls.place.value = BENCH_PULL
    lifters.value = f"{demo}/cato_venn.toml"
    assert panel.controls.place.value == BENCH_PULL
    panel.controls.load.value = 80
    assert set(panel.controls.changes) == {BENCH_PULL}


def test_a_shorter_rest_lowers_every_later_chance_and_changes_table_and_sentence(panel: BlockPanel) -> None:
    before, table, answer = chances(panel), panel.set_rows.value, panel.answer.value
    panel.controls.rest.value = 30
    after = chances(panel)
    assert len(after) == len(before)
    assert all(new <= old for new, old in zip(after, before, strict=True))
    assert sum(after) < sum(before)
    assert panel.set_rows.value != table
    assert "<td>30</td>" in panel.set_rows.value
    assert panel.answer.value != answer
    assert "rest, s 90 → 30" in panel.answer.value


def test_a_heavier_start_lowers_the_chances_and_undo_brings_them_back(panel: BlockPanel) -> None:
    before = chances(panel)
    panel.controls.load.value = 80
    assert sum(chances(panel)) < sum(before)
    assert panel.controls.changes[BENCH_PULL]["load"] == 80
    panel.controls.reset_group.click()
    assert panel.controls.changes == {}
    assert panel.controls.load.value == 65
    assert chances(panel) == before


def test_changes_of_two_groups_are_kept_and_all_undone(panel: BlockPanel) -> None:
    before = panel.answer.value
    panel.controls.sets.value = 3
    panel.controls.place.value = Where(1, 2, 1)
    panel.controls.reps.value = 5
    panel.controls.place.value = BENCH_PULL
    assert panel.controls.sets.value == 3
    assert set(panel.controls.changes) == {BENCH_PULL, Where(1, 2, 1)}
    panel.controls.reset_all.click()
    assert panel.answer.value == before


def test_the_map_follows_the_session_of_the_chosen_group(panel: BlockPanel) -> None:
    panel.controls.place.value = next(place for _, place in panel.controls.place.options if place.session == 2)
    assert panel.map.shown.data[0].y[0] == "Romanian deadlift, set 1"
    panel.controls.shown.value = "all sessions"
    assert {name.split(":")[0] for name in panel.map.shown.data[0].y} == {"Monday", "Wednesday", "Friday"}


def test_every_group_of_the_demo_can_be_chosen_and_shows_only_what_it_has(panel: BlockPanel) -> None:
    for _, place in panel.controls.place.options:
        panel.controls.place.value = place
        assert panel.trouble.value == ""
    assert "Wednesday: dumbbell curl, 3 × 12 to 20" in [text for text, _ in panel.controls.place.options]
    to_failure = next(place for text, place in panel.controls.place.options if text.endswith("to failure"))
    panel.controls.place.value = to_failure
    assert panel.controls.reps.layout.display == "none"
    assert panel.controls.load.layout.display is None


def test_the_wanted_chance_decides_which_set_breaks_first(panel: BlockPanel) -> None:
    panel.controls.limit.value = 50
    assert panel.check is not None
    assert panel.check.limit == 0.5
    assert panel.check.first_break is None or panel.check.first_break.chance < 0.5


def test_a_proposed_mend_can_be_tried_and_mends(panel: BlockPanel) -> None:
    for limit in range(95, 49, -5):  # until a small change of the sliders is enough
        panel.controls.limit.value = limit
        assert panel.check is not None
        broken = panel.check.first_break
        panel.controls.find_mend.click()
        buttons = panel.mend_buttons.children
        if broken is not None and buttons and "alone" not in buttons[0].description:
            break
    assert broken is not None
    assert buttons, panel.mended.value
    buttons[0].click()
    place = broken.where
    assert place in panel.controls.changes
    assert panel.controls.place.value == place
    assert panel.mend_buttons.children == ()
    sets = panel.check.sets
    group = sets[
        (sets["session_number"] == broken.session_number)
        & (sets["slot"] == broken.slot)
        & (sets["group"] == place.group)
    ]
    assert group["chance"].min() >= panel.check.limit


def test_a_slider_that_comes_back_a_rounding_error_off_changes_nothing(panel: BlockPanel) -> None:
    step = panel.controls.step.value
    panel.controls.step.slider.value = step + 8.9e-16
    assert panel.controls.changes == {}
    panel.controls.step.value = step + 0.5  # the smallest step of this slider
    assert panel.controls.changes == {BENCH_PULL: {"step": step + 0.5}}


def test_what_is_unsure_is_worked_out_on_demand_and_goes_with_a_change(panel: BlockPanel) -> None:
    assert panel.unsure.value == panel.unsure_rows.value == ""
    assert panel.shares.selected_index is None
    panel.controls.ask_unsure.click()
    assert panel.shares.selected_index == 0  # what was asked for is seen
    assert panel.check is not None
    found = unsure_check(panel.check)
    for sentence in found.sentences():
        assert escape(sentence) in panel.unsure.value
    assert "whole block" in panel.unsure_rows.value
    assert panel.unsure_rows.value == found.share_table().html()
    assert not panel.controls.ask_unsure.disabled
    panel.controls.rest.value = 30
    assert panel.unsure.value == panel.unsure_rows.value == ""
    assert panel.shares.selected_index is None  # no empty box


def test_a_file_that_cannot_be_used_is_one_plain_line_and_the_answer_goes(panel: BlockPanel, tmp_path: Path) -> None:
    answer = panel.answer.value
    bad = tmp_path / "<b>lifter.toml"
    bad.write_text("name = 'Ada'\nlifts = 3\n", encoding="utf-8")
    panel.controls.lifter.choice.value = None
    assert "no file is named" in panel.trouble.value
    panel.controls.lifter.path.value = str(bad)
    assert "lifts" in panel.trouble.value
    assert "<b>" not in panel.trouble.value
    assert "Traceback" not in panel.trouble.value
    assert panel.check is None
    assert "lifts" in panel.answer.value
    assert "<b>" not in panel.answer.value
    panel.controls.lifter.choice.index = 0
    assert panel.trouble.value == ""
    assert panel.answer.value != answer


def test_names_from_files_cannot_run_as_markup(panel: BlockPanel, tmp_path: Path) -> None:
    text = data_path("demo", "block.toml").read_text(encoding="utf-8")
    mine = tmp_path / "mine.toml"
    mine.write_text(text.replace("Monday, heavy pull", "<img src=x onerror=alert(1)>"), encoding="utf-8")
    panel.controls.block.choice.value = None
    panel.controls.block.path.value = str(mine)
    assert panel.trouble.value == ""
    for shown in (panel.answer, panel.week_rows, panel.set_rows):
        assert "<img" not in shown.value
    assert "&lt;img" in panel.week_rows.value
    assert "<img" not in panel.map.shown.layout.title.text
    panel.controls.shown.value = "all sessions"
    assert not any("<img" in label for label in panel.map.shown.data[0].y)


def test_every_lifter_and_room_gives_an_answer_or_says_why_not(panel: BlockPanel) -> None:
    answered = 0
    for lifter in [path for _, path in panel.controls.lifter.choice.options if path]:
        for room in [path for _, path in panel.controls.room.choice.options if path]:
            panel.controls.lifter.choice.value, panel.controls.room.choice.value = lifter, room
            assert panel.trouble.value == "" or panel.trouble.value.startswith("This cannot be used")
            answered += panel.trouble.value == ""
    assert answered >= 6


def test_the_text_is_the_same_again_and_follows_the_controls(panel: BlockPanel) -> None:
    text = panel.text()
    assert text == panel.text()
    assert "week 5" in text
    panel.controls.rest.value = 300
    assert panel.text() != text


def test_rules_of_set_groups_are_said_here_and_compared_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    shutil.copytree(data_path("demo"), tmp_path / "demo", ignore=shutil.ignore_patterns("logs"))
    demo = read_block(data_path("demo", "block.toml"))
    ruled = change(demo, BENCH_PULL, set_group={"adjust": {"lower": 5, "end_after": 2}})
    (tmp_path / "demo" / "block.toml").write_text(toml_text(ruled), encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    panel = BlockPanel(seed=SEED, draws=50)
    assert panel.check is not None
    assert panel.check.rules is not None
    said = panel.check.rules.sentences()
    assert all(escape(line) in panel.answer.value for line in said)
    panel.controls.place.value = BENCH_PULL
    panel.controls.load.value -= 10  # lighter: with the rules of the file, which bite less
    assert panel.check.rules is not None
    assert panel.check.rules.sentences()[0] != said[0]
    assert escape(panel.check.rules.sentences()[0]) in panel.answer.value

    compare = ComparePanel(seed=SEED, draws=20)
    ((name, path), *_) = [one for one in compare.controls.blocks.options if one[1].name == "block.toml"]
    compare.controls.blocks.value = [path]
    assert compare.last is not None
    assert list(compare.last.values) == [name]
    compare.controls.without_rules.value = True
    assert list(compare.last.values) == [name, f"{name}, without its rules"]
