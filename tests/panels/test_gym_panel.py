"""The page of the gym's own numbers: all logs at once, what is kept, and whether new lifters start from it."""

from __future__ import annotations

import pytest

from tests.answers.test_gym_numbers import made
from workbench.lifter import read_lifter
from workbench.lifter.gym_prior import GYM_FILE, read_gym_prior
from workbench.panels.app import App
from workbench.panels.block import BlockPanel
from workbench.panels.desk import Desk
from workbench.panels.gym import GymPanel
from workbench.reference.gym_folder import GymFolder


@pytest.fixture
def folder(tmp_path):
    return made(tmp_path)


def panel_of(folder):
    return GymPanel(Desk(GymFolder(folder)), draws=60)


def test_the_page_says_where_a_new_lifter_starts_and_keeps_it(folder):
    panel = panel_of(folder)
    assert "starts from studies" in panel.kept_said.value
    assert panel.used.layout.display == "none"
    panel.read.click()
    assert panel.answer.value.startswith("<b>2 lifters of this gym, 6 sets")
    assert "squat, reps at 70 %" in panel.rows.value
    assert "New Here: has no log here" in panel.left_out.value
    assert not (folder / GYM_FILE).exists()
    panel.keep.click()
    assert read_gym_prior(folder / GYM_FILE) == panel.last.prior
    assert "2 lifters of this gym, 6 sets, are kept: a lifter without a log starts from them" in panel.kept_said.value
    assert panel.keep.disabled


def test_the_numbers_can_be_left_out_and_taken_again(folder):
    panel, new = panel_of(folder), folder / "lifters" / "new.toml"
    panel.read.click()
    panel.keep.click()
    assert read_lifter(new).gym is not None
    panel.used.value = False
    assert read_lifter(new).gym is None
    assert "starts from studies" in panel.kept_said.value
    # Somebody who opens the page again finds it as it was left.
    assert panel_of(folder).used.value is False
    panel.used.value = True
    assert read_lifter(new).gym is not None


def test_a_page_that_was_answered_before_answers_anew_once_numbers_are_kept(folder):
    desk = Desk(GymFolder(folder))
    desk.choose("lifters", folder / "lifters" / "new.toml")
    block, page = BlockPanel(desk=desk, draws=200), GymPanel(desk, draws=60)
    told = "are those of 2 lifters of this gym"
    assert told not in " ".join(block.text().split())
    page.read.click()
    page.keep.click()
    block.controls.lifter.look_again()
    assert told in " ".join(block.text().split())


def test_editing_a_lifter_writes_no_number_of_the_gym_into_the_file(folder):
    panel = panel_of(folder)
    panel.read.click()
    panel.keep.click()
    app = App(folder)
    app.desk.choose("lifters", folder / "lifters" / "new.toml")
    app.go("lifter")
    editor = app.pages["lifter"].editor
    editor.edit(editor.value.model_copy(update={"note": "seen"}))
    text = (folder / "lifters" / "new.toml").read_text(encoding="utf-8")
    assert 'note = "seen"' in text
    assert "gym" not in text


def test_a_damaged_file_is_said_and_nothing_else_goes(folder):
    (folder / GYM_FILE).write_text("lifters = 3\n", encoding="utf-8")
    panel = panel_of(folder)
    assert "gym.toml" in panel.kept_said.value
    assert "gym.toml" in panel.trouble.value


def test_nothing_is_kept_in_a_gym_that_is_not_ones_own(folder, monkeypatch):
    panel = panel_of(folder)
    monkeypatch.setattr(panel._desk, "is_own", False)
    panel.read.click()
    assert panel.keep.disabled
