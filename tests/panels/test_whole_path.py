"""From an empty folder to the next week, through the pages of the app alone: no file is written but by them."""

from __future__ import annotations

import datetime

import openpyxl
import pytest

from workbench.lifter import read_lifter
from workbench.panels.app import App
from workbench.panels.next_steps import next_steps
from workbench.publish.commit import list_committed
from workbench.reference.gym_folder import GymFolder

MONDAY = datetime.date(2026, 1, 5)


@pytest.fixture
def app(tmp_path):
    return App(tmp_path / "gym")


def page(app, key):
    app.go(key)
    return app.pages[key]


def enter_a_lifter(app):
    editor = page(app, "lifter").editor
    editor.name.typed.value = "Ada Quill"
    editor.years.typed.value = "2"
    for words, name, known in (
        ("squat", "back squat", "100 kg, 5 reps, 1 left"),
        ("db curl", "dumbbell curl", "2 x 12 kg, 10 reps, 2 left"),
    ):
        editor.finder.text.value = words
        editor.finder.found.value = name
        editor.add.click()
        editor.fields.remembered.typed.value = known
        assert editor.fields.remembered.problem == ""


def enter_a_room(app):
    editor = page(app, "room").editor
    editor.name.typed.value = "Cellar"
    for (mass, _), field in editor.plates.items():
        field.typed.value = "2 pairs" if mass >= 1 else "1 pair"
    for kind, what in (("bar for plates", {"bar": "20 kg"}), ("dumbbells", {"masses": "4 to 32 in 2s"})):
        editor.new[kind].click()
        assert editor.trouble.value == ""
        for name, text in what.items():
            getattr(editor.fields, name).typed.value = text
    for name in ("rack", "bench"):
        editor.fixtures[name].box.value = True


def build_a_block(app):
    builder = page(app, "block").editor
    builder.block.name.typed.value = "First block"
    for press, words, name in (("begin", "squats", "back squat"), ("add", "curl", "dumbbell curl")):
        builder.finder.text.value = words
        builder.finder.found.value = name
        getattr(builder, press).click()
        assert builder.trouble.value == ""
    builder.sessions.day.choice.value = 1
    builder.block.weeks.typed.value = "3"


def fill_in(sheet):
    """Fill the sheet of the first week in as a lifter would: everything as planned, 2 left."""
    book = openpyxl.load_workbook(sheet)
    tab = next(tab for tab in book.worksheets if "week 1" in str(tab.cell(1, 1).value))
    headings = {str(cell.value).partition(" (")[0]: cell.column for cell in tab[3] if cell.value}
    for row in range(4, tab.max_row + 1):
        if tab.cell(row, headings["Exercise"]).value and tab.cell(row, headings["Planned load"]).value:
            load = str(tab.cell(row, headings["Planned load"]).value)
            tab.cell(row, headings["Load done"]).value = float(
                "".join(c for c in load.split("x")[-1] if c in "0123456789.")
            )
            reps = str(tab.cell(row, headings["Planned reps"]).value)
            tab.cell(row, headings["Reps done"]).value = int("".join(c for c in reps.split("-")[0] if c.isdigit()))
            tab.cell(row, headings["RIR done"]).value = 2
    book.save(sheet)


def test_the_whole_path_from_an_empty_folder(app, tmp_path):
    gym: GymFolder = app.desk.gym
    assert [step.page for step in next_steps(app.desk)] == ["lifter", "room", "block"]
    enter_a_lifter(app)
    enter_a_room(app)
    build_a_block(app)
    assert [len(gym.files(kind)) for kind in ("lifters", "rooms", "blocks")] == [1, 1, 1]
    assert [step.page for step in next_steps(app.desk)] == ["check"]

    check = page(app, "check")
    assert check.trouble.value == ""
    assert check.check.plan.block.name == "First block"
    assert check.check.plan.weeks == 3
    # A heavier second block, from the same page.
    check.controls.load.value += 2
    check.keep.button.click()
    assert len(gym.files("blocks")) == 2

    compare = page(app, "compare")
    compare.controls.blocks.value = [path for _, path in compare.controls.blocks.options]
    assert compare.trouble.value == ""
    assert set(compare.last.schemes["scheme"]) == {"First block", "First block (2)"}

    commit = page(app, "commit")
    commit.block.choice.value = gym.path / "blocks" / "first_block.toml"
    assert [name for name, _ in commit.alternatives.options] == ["First block (2)"]  # itself is none
    assert commit.others.layout.display == "none"
    commit.reason.value = "light to begin with"
    commit.alternatives.value = [gym.path / "blocks" / "first_block_2.toml"]
    commit.why_not.children[0].value = "too heavy for a first block"
    commit.start.typed.value = MONDAY.isoformat()
    commit.commit.click()
    assert commit.trouble.value == ""
    commit.sheets.click()
    (made,) = list_committed(gym.path / "committed")
    assert ".xlsx" in commit.handed.value

    sheet = tmp_path / "filled.xlsx"
    sheet.write_bytes(next((made / "sheets").glob("*.xlsx")).read_bytes())
    fill_in(sheet)
    learn = page(app, "learn")
    assert "No sheet has come back yet" in learn.answer.value
    assert learn.trouble.value == ""
    file = {"name": "filled.xlsx", "content": sheet.read_bytes(), "type": "", "size": 1}
    learn.upload.value = (file | {"last_modified": datetime.datetime.now(datetime.UTC)},)
    assert learn.trouble.value == "", learn.trouble.value
    assert learn.learned is not None, learn.answer.value
    assert gym.files("logs") == [gym.path / "logs" / "filled.xlsx"]
    assert learn.week.value == 2  # the sheet holds days of week 1
    assert learn.coming is not None
    before = read_lifter(gym.files("lifters")[0])
    learn.keep.click()
    after = read_lifter(gym.files("lifters")[0])
    assert after.learned
    assert after.lifts != before.lifts
    (step,) = next_steps(app.desk)
    assert step.page == "commit"
    assert "new numbers since First block was committed" in step.sentence
    commit.reason.value = "with what week 1 taught"
    page(app, "commit").commit.click()
    commit.sheets.click()
    assert [step.page for step in next_steps(app.desk)] == ["today", "learn"]
    # The numbers before are still there.
    assert page(app, "lifter").undo.disabled is False
