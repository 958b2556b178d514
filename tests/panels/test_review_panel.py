"""The panel of the record: one lifter or everybody, the same as the plain function, and stopped when asked."""

import shutil
from dataclasses import replace

import pytest

from workbench.answers.review import walk_forward
from workbench.answers.review.misses import Miss
from workbench.panels.desk import Desk
from workbench.panels.review import ReviewPanel
from workbench.reference.gym_folder import GymFolder
from workbench.reference.sources import data_path

pytestmark = pytest.mark.usefixtures("compiled_sets")

DEMO = data_path("demo")


@pytest.fixture
def desk(tmp_path):
    """A gym of two, one of them with a log of two weeks, the other with one that asks for its unit."""
    gym = GymFolder(tmp_path)
    gym.make()
    for name in ("emre_sandoval", "cato_venn"):
        shutil.copy(DEMO / "lifters" / f"{name}.toml", tmp_path / "lifters")
    shutil.copy(DEMO / "logs" / "emre_sandoval_weeks_1_2.csv", tmp_path / "logs")
    rows = "date,exercise,load,reps\n2026-01-05,back squat,100,5\n"
    (tmp_path / "logs" / "cato_venn.csv").write_text(rows, encoding="utf-8")
    return Desk(gym)


def test_the_panel_says_what_the_plain_function_says(desk):
    panel = ReviewPanel(desk, draws=30)
    assert "Go through the logs" in panel.answer.value
    panel.whose.value = "everybody"
    panel.go.click()
    plain = walk_forward(desk.gym.path, draws=30)
    said = panel.text().replace("\n", " ")
    for line in plain.sentences():
        assert line in said
    assert "cato_venn.csv" in said  # why it is left out
    assert "last time at this load" in panel.rules.value
    assert "over 90 %" in panel.called.value
    assert (plain.calls["made"] == plain.calls["sets"])[plain.calls["sets"] > 0].any()
    assert "100 %" in panel.called.value  # all of them made is a count, not a chance of nearly all


def test_the_largest_misses_are_said_and_the_others_folded(desk):
    panel = ReviewPanel(desk, draws=30)
    panel.whose.value = "everybody"
    panel.go.click()
    assert panel.more.layout.display == "none"
    many = tuple(Miss(f"Lifter {at}", "1RM", f"{at} is old.", f"Renew {at}.", 20.0 - at) for at in range(9))
    panel.last = replace(panel.last, misses=many)
    panel.show_answer()
    assert panel.to_do.value.count("<li>") == 6
    assert "<li>5 is old. Renew 5.</li>" in panel.to_do.value
    assert panel.more.layout.display is None
    assert panel.more.titles == ("3 more, the largest first",)
    assert panel.more.selected_index is None
    rows = panel.more_to_do.value.split("<tr>")[-3:]
    assert ["8 is old." in row and "Renew 8." in row and "Lifter 8" in row for row in rows] == [False, False, True]
    panel.last = replace(panel.last, misses=())
    panel.show_answer()
    assert panel.more.layout.display == "none"
    assert "plan on" in panel.to_do.value


def test_one_lifter_whose_log_leaves_a_question_open_is_told_which(desk):
    panel = ReviewPanel(desk, draws=30)
    panel.lifter.choice.value = desk.gym.path / "lifters" / "cato_venn.toml"
    panel.go.click()
    assert "has no log here that can be read (cato_venn.csv: " in panel.trouble.value
    assert panel.last is None


def test_a_stopped_work_says_so(desk, monkeypatch):
    panel = ReviewPanel(desk, draws=30)
    panel.lifter.choice.value = desk.gym.path / "lifters" / "emre_sandoval.toml"
    told = []
    plain = panel.progress
    monkeypatch.setattr(panel, "progress", lambda *said: told.append(said) or plain(*said))
    monkeypatch.setattr(panel._stop, "is_set", lambda: len(told) == 2)
    panel.go.click()
    assert [said[2] for said in told] == [f"0 of 1 lifters; Emre Sandoval, 2026-01-{day}" for day in ("05", "12")]
    assert "stopped before the end" in panel.aside.value
