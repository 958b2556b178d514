"""An answer belongs to what is chosen: in every panel it goes when none can be given, and comes back after repair."""

import ipywidgets as widgets
import pytest

from workbench.panels.block import BlockPanel
from workbench.panels.commit import CommitPanel
from workbench.panels.compare import ComparePanel
from workbench.panels.decide import DecidePanel
from workbench.panels.exercise import CurvePanel, DropPanel
from workbench.panels.figure import LiveFigure
from workbench.panels.log import LogPanel
from workbench.panels.review import ReviewPanel
from workbench.panels.session import SessionPanel
from workbench.panels.team import TeamPanel
from workbench.panels.volume import VolumePanel
from workbench.prescription.block import read_block

pytestmark = pytest.mark.usefixtures("compiled_sets")


def press(button):
    button.click()


def committing(tmp_path):
    panel = CommitPanel(draws=20, folder=tmp_path)
    panel.reason.value = "to see"
    return panel


def deciding(_):
    """A search of the four rests alone."""
    panel = DecidePanel(draws=20)
    for name, turns in panel.controls.turns.items():
        turns.value = name == "rest"
    return panel


#: Of each panel: how to make it, the picker that is to fail, and the press of a button that an answer takes.
PANELS = {
    "block": (lambda _: BlockPanel(draws=20), lambda p: p.controls.lifter, None),
    "curve": (lambda _: CurvePanel(draws=20), lambda p: p.controls.lifter, None),
    "drop": (lambda _: DropPanel(draws=20), lambda p: p.controls.lifter, None),
    "session": (lambda _: SessionPanel(draws=20), lambda p: p.controls.lifter, None),
    "volume": (lambda _: VolumePanel(draws=20), lambda p: p.controls.lifter, None),
    "compare": (lambda _: ComparePanel(draws=20), lambda p: p.controls.lifter, None),
    "log": (lambda _: LogPanel(draws=20), lambda p: p.lifter, None),
    "decide": (deciding, lambda p: p.controls.lifter, lambda p: press(p.controls.find)),
    "team": (lambda _: TeamPanel(draws=20), lambda p: p.block, lambda p: press(p.check)),
    "review": (lambda _: ReviewPanel(draws=20), lambda p: p.lifter, lambda p: press(p.go)),
    "commit": (committing, lambda p: p.lifter, lambda p: press(p.commit)),
}


def shown(widget):
    """Return all text and every number of the figures under a widget."""
    if isinstance(widget, LiveFigure):
        traces = [trace.to_plotly_json() for trace in widget.shown.data]
        texts = [str({key: value for key, value in one.items() if key != "uid"}) for one in traces] + [
            str(widget.shown.layout.title.text or "")
        ]
        return texts + [str(one.text) for one in widget.shown.layout.annotations]
    if isinstance(widget, widgets.HTML):
        return [widget.value]
    if isinstance(widget, widgets.Button):
        return [widget.description]
    return [text for child in getattr(widget, "children", ()) for text in shown(child)]


def answers(panel):
    """Return what the answers of a panel show, controls left out."""
    _, controls, right, below = panel.root.children
    beside = [child for child in controls.children if child in panel._parts]
    caution = below.children[-1]
    parts = [*right.children, *beside, *(child for child in below.children if child is not caution)]
    return [text for part in parts for text in shown(part) if text]


def figures(widget):
    found = [widget] if isinstance(widget, LiveFigure) else []
    return found + [one for child in getattr(widget, "children", ()) for one in figures(child)]


def broken_file(tmp_path):
    path = tmp_path / "broken.toml"
    path.write_text("name = 'Nobody", encoding="utf-8")
    return str(path)


@pytest.mark.usefixtures("short_log")
@pytest.mark.parametrize("name", PANELS)
def test_nothing_of_an_answer_stays_when_the_choice_cannot_be_used(name, tmp_path):
    make, picker_of, ask = PANELS[name]
    panel = make(tmp_path / "committed")
    if ask:
        ask(panel)
    good = answers(panel)
    assert panel.trouble.value == ""
    assert sum(map(len, good)) > 100

    picker = picker_of(panel)
    working = picker.choice.value
    picker.choice.value = None
    picker.path.value = broken_file(tmp_path)
    if ask:
        ask(panel)
    assert "broken.toml" in panel.trouble.value
    left = answers(panel)
    assert [text for text in left if text in good and len(text) > 12] == []
    assert "broken.toml" in panel.answer.value  # the reason, and what to do, in the place of the answer
    assert all(figure.figure == figure.said == "" and not figure.shown.data for figure in figures(panel.root))
    assert all("<table" not in text for text in left)
    if hasattr(panel, "text"):
        assert "Emre" not in panel.text()

    picker.choice.value = working
    if ask and name != "commit":
        ask(panel)
    if name != "commit":  # committing again would be another revision
        assert panel.trouble.value == ""
        assert answers(panel) == good


@pytest.mark.parametrize("name", ["block", "curve", "drop", "session", "volume"])
def test_a_moved_control_does_not_bring_back_the_lifter_before(name, tmp_path):
    make, picker_of, _ = PANELS[name]
    panel = make(tmp_path)
    picker = picker_of(panel)
    picker.choice.value = None
    picker.path.value = broken_file(tmp_path)
    left = answers(panel)
    moved = {
        "block": lambda: panel.controls.limit,
        "curve": lambda: panel.controls.reps,
        "drop": lambda: panel.controls.reps,
        "session": lambda: panel.controls.week,
        "volume": lambda: panel.controls.hard_reserve,
    }[name]()
    moved.value += 1
    assert answers(panel) == left
    assert "broken.toml" in panel.trouble.value


@pytest.mark.usefixtures("short_log")
@pytest.mark.parametrize("name", ["decide", "team", "commit", "review"])
def test_an_answer_that_takes_a_button_goes_with_the_choice_it_belongs_to(name, tmp_path):
    make, picker_of, ask = PANELS[name]
    panel = make(tmp_path / "committed")
    ask(panel)
    good = answers(panel)
    picker = picker_of(panel)
    other = (
        next(path for _, path in picker.choice.options if path not in (None, picker.choice.value))
        if len(picker.choice.options) > 2
        else None
    )
    picker.choice.value = other
    assert [text for text in answers(panel) if text in good and len(text) > 12] == []
    assert panel.last is None
    assert "<b>" in panel.answer.value  # which button to press


def test_a_search_that_was_overtaken_by_another_choice_shows_nothing(monkeypatch):
    panel = DecidePanel(draws=20)
    monkeypatch.setattr(
        "workbench.panels.decide.decide",
        lambda *_, **__: setattr(panel.controls.minutes, "value", 45) or "an answer to the question before",
    )
    panel.run()
    assert panel.last is None
    assert "changed during the search" in panel.answer.value


def test_questions_of_a_log_stand_in_the_place_of_an_answer_until_answered(short_log, tmp_path):
    log = tmp_path / "no_unit.csv"
    log.write_text("date,exercise,load,reps\n2026-01-05,back squat,100,5\n", encoding="utf-8")
    panel = LogPanel(draws=20)
    panel.log.choice.value = None
    panel.log.path.value = str(log)
    assert "please answer" in panel.answer.value
    assert "unit" in panel.answer.value
    assert panel.learned is None
    assert "Emre" not in panel.text()
    assert all(figure.figure == figure.said == "" for figure in figures(panel.root))
    panel.answers.lists["unit"].value = "kg"
    assert panel.trouble.value == ""
    assert panel.learned.fit.log.set_count == 1


def test_the_demo_block_is_what_the_panels_start_with():
    panel = BlockPanel(draws=20)
    assert panel.controls.block.read() == read_block(panel.controls.block.choice.value)
