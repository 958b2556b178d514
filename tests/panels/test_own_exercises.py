"""Panels find the own exercises of the gym's folder through their file pickers."""

import shutil

import pytest

from tests.own_gyms import make_gym
from workbench.panels.block import BlockPanel
from workbench.panels.compare import ComparePanel
from workbench.panels.exercise import CurvePanel, DropPanel
from workbench.panels.session import SessionPanel
from workbench.panels.team import TeamPanel
from workbench.panels.volume import VolumePanel


@pytest.fixture
def gym(tmp_path, monkeypatch):
    """A gym's folder as the copy of the demo beside the notebook."""
    shutil.move(make_gym(tmp_path, "gym", setup_s=77), tmp_path / "demo")
    monkeypatch.chdir(tmp_path)
    return tmp_path / "demo"


@pytest.mark.parametrize("kind", [BlockPanel, SessionPanel, VolumePanel])
def test_a_block_with_an_own_exercise_is_answered(gym, kind):
    panel = kind(draws=20)
    assert panel.trouble.value == ""
    assert panel.answer.value


@pytest.mark.parametrize("kind", [CurvePanel, DropPanel, ComparePanel])
def test_an_own_exercise_can_be_chosen(gym, kind):
    panel = kind(draws=20)
    panel.controls.exercise.value = "log"
    assert panel.trouble.value == ""
    assert panel.last is not None
    if kind is DropPanel:
        assert panel.last.exercise == "log press"


def test_the_team_of_a_gym_is_checked(gym):
    panel = TeamPanel(draws=20)
    panel.folder.value = str(gym / "lifters")
    panel.run()
    assert panel.trouble.value == ""
    assert panel.last is not None
    assert panel.last.table["problem"].tolist() == ["", ""]
