"""What a log leaves open, answered on its page: in plain words, one date a session, and kept for the next time."""

from __future__ import annotations

import json
import re

import openpyxl
import pytest

from workbench.panels.desk import Desk
from workbench.panels.log import LogPanel
from workbench.panels.log_answers import LogAnswers, SessionDates
from workbench.reference.gym_folder import GymFolder

#: Two sessions of one lift, as a handed-out sheet without days comes back; the third was not done.
SHEET = (
    ("Date", "Session", "Exercise", "Set", "Load done (kg)", "Reps done", "RIR done", "Lifter"),
    (None, "A", "back squat", 1, 100, 5, 2, "Emre Sandoval"),
    (None, "A", "back squat", 2, 100, 5, 1, "Emre Sandoval"),
    (None, "B", "back squat", 1, 90, 8, 2, "Emre Sandoval"),
    (None, "C", "back squat", 1, None, None, None, "Emre Sandoval"),
)


@pytest.fixture
def gym(tmp_path):
    gym = GymFolder(tmp_path / "gym")
    gym.make()
    gym.add_demo()
    book = openpyxl.Workbook()
    book.active.title = "Week 1"
    for row in SHEET:
        book.active.append(row)
    book.save(gym.path / "logs" / "sheet.xlsx")
    return gym


def learn(gym):
    desk = Desk(gym)
    desk.choose("logs", gym.path / "logs" / "sheet.xlsx")
    panel = LogPanel(desk, seed=3, draws=20)
    assert panel.trouble.value == ""
    return panel


def seen(panel):
    return [part.description for part in panel.answers.lists.values() if part.layout.display != "none"]


def test_each_session_without_a_date_gets_a_line_and_the_dates_are_kept(gym):
    panel = learn(gym)
    assert panel.learned is None
    assert list(panel.answers.dates.lines) == ["Week 1, A", "Week 1, B"]
    assert seen(panel) == []
    panel.answers.dates.lines["Week 1, A"].typed.value = "9 Jan 2026"
    assert "Week 1, B" in panel.answer.value  # what is still asked
    line = panel.answers.dates.lines["Week 1, B"]
    line.typed.value = "7/1/2026"
    assert "could be 7 Jan 2026 or 1 Jul 2026" in line.problem
    assert panel.learned is None
    line.typed.value = "7 Jan 2026"
    sessions = panel.learned.fit.log.lifts[0].sessions
    assert [(str(one.date), len(one.sets)) for one in sessions] == [("2026-01-07", 1), ("2026-01-09", 2)]

    later = learn(gym)
    assert later.learned is not None
    lines = later.answers.dates.lines
    assert {name: line.typed.value for name, line in lines.items()} == {
        "Week 1, B": "7 Jan 2026",
        "Week 1, A": "9 Jan 2026",
    }
    lines["Week 1, A"].typed.value = ""
    assert later.learned is None
    assert "1 sets have no date" not in later.answer.value
    assert "2 sets have no date" in later.answer.value


def test_a_page_speaks_of_no_key_and_no_option(gym):
    for name, text in (
        ("plain", "Date,Exercise,Load,Reps\n05/03/2026,back squat,100,5\n05/04/2026,dumbbell curl,20,8/8\n"),
        ("years", "Date,Exercise,Load kg,Reps,Rest\n5 Jan,back squat,100,5,2\n"),
        ("body", "Date,Exercise,Load kg,Reps,Sets\n2026-01-05,pull-up,BW+10,5,1\n2026-01-05,pull-up,BW,5,2\n"),
        ("marks", 'Date,Exercise,Load kg,Reps\n2026-01-05,back squat,"1,250",5\n'),
    ):
        desk = Desk(gym)
        desk.add("logs", name, text, ".csv")
        panel = LogPanel(desk, seed=3, draws=20)
        said = re.sub(r"<[^>]*>", " ", panel.answer.value)
        assert "please answer" in said
        assert not re.search(r"=|--|_|ReadOptions", said), said


@pytest.mark.parametrize(
    ("about", "heading"),
    [
        ("unit", "loads without unit"),
        ("date order", "order of dates"),
        ("odd dates", "odd dates"),
        ("swapped dates", "day and month"),
        ("rest unit", "rests without unit"),
        ("pair of reps", "two numbers, 8/8"),
        ("sets column", "column of sets"),
        ("decimal", "decimals stand behind"),
        ("dumbbells", "loads of two dumbbells"),
    ],
)
def test_what_is_asked_has_its_list_and_nothing_else_is_seen(about, heading):
    answers = LogAnswers()
    question = type("Asked", (), {"about": about, "sessions": ()})
    answers.ask([question])
    shown = [part.description for part in answers.lists.values() if part.layout.display != "none"]
    assert shown == [heading]
    # What was answered stays, to be changed.
    control = next(part for part in answers.lists.values() if part.description == heading)
    control.value = control.options[1][1]
    answers.ask([])
    assert control.layout.display is None


def test_typed_answers_are_read_as_people_type_and_go_with_the_log():
    answers = LogAnswers()
    answers.ask([type("Asked", (), {"about": name, "sessions": ()}) for name in ("year", "body mass")])
    assert all(line.layout.display is None for line in answers.typed.values())
    answers.typed["body_mass_kg"].typed.value = "176,37 lb"
    answers.typed["year"].typed.value = "2026"
    assert answers.options().body_mass_kg == pytest.approx(176.37 * 0.45359237, rel=1e-9)
    assert answers.options().year == 2026
    answers.typed["year"].typed.value = "20266"
    assert "use 1950 to 2100" in answers.typed["year"].problem
    assert answers.options().year == 2026
    kept = answers.text()
    answers.forget(log=True)
    assert json.loads(answers.text()) == {}
    answers.take(kept)
    assert answers.options().year == 2026


@pytest.mark.parametrize("kept", ["", "[]", "{", '{"unit": "stone"}', '{"dates": {"A": "soon"}}', '{"what": 1}'])
def test_answers_that_make_no_sense_any_more_are_none(kept):
    answers = LogAnswers()
    answers.take(kept)
    assert json.loads(answers.text()) == {}


def test_a_date_taken_back_is_asked_again():
    dates = SessionDates()
    dates.ask(["A", "B"])
    dates.lines["A"].typed.value = "2026-01-05"
    assert dates.value == {"A": "2026-01-05"}
    dates.lines["A"].typed.value = ""
    assert dates.value == {}
