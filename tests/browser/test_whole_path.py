"""From an empty folder to the next week in a real browser, by mouse and by keyboard alone; no file is touched by hand.

A lifter, a room, three days with every kind of set group, a sore shoulder, two blocks compared, one of them committed,
its sheets handed out, filled in and read back, what they taught kept, and the weeks to come committed with it.
"""

from __future__ import annotations

import datetime
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from tests.browser.hands import Hands, Keyboard, Mouse
from workbench.commands.notebook_server import open_app, running_lab
from workbench.lifter import read_lifter
from workbench.prescription.block import Block, read_block
from workbench.publish.commit import list_committed, read_committed
from workbench.reference.gym_folder import GymFolder

pytestmark = [pytest.mark.browser, pytest.mark.slow]

MONDAY = datetime.date(2026, 1, 5)


@pytest.fixture
def gym(tmp_path: Path) -> GymFolder:
    folder = GymFolder(tmp_path / "gym")
    open_app(folder.path)
    return folder


@pytest.fixture(params=[Mouse, Keyboard])
def coach(page: Any, gym: GymFolder, request: pytest.FixtureRequest) -> Iterator[Hands]:
    with running_lab(gym.path) as lab:
        coach: Hands = request.param(page)
        page.goto(lab.app_address)
        coach.sees("This gym is empty")
        yield coach


def enter_people_and_room(coach: Hands) -> None:
    coach.go("Lifter")
    coach.type("name", "Ada Quill")
    coach.show("Lifts")
    for words, exercise, hand, known in (
        ("squats", "back squat", "", "100 kg, 5 reps, 1 left"),
        ("bench", "bench press", "", "70 kg, 5 reps, 2 left"),
        ("db row", "dumbbell row", " in one hand", "24 kg, 10 reps, 2 left"),
        ("db curl", "dumbbell curl", " in one hand", "12 kg, 10 reps, 2 left"),
    ):
        coach.find(words, exercise, "Add this lift")
        coach.type(f"load{hand}, reps done, reps left", known)
    coach.go("Room")
    coach.type("its name", "Cellar")
    for plate in ("20 kg", "10 kg", "5 kg", "2.5 kg", "1.25 kg"):
        coach.type(plate, "2 pairs")
    coach.show("Equipment")
    coach.press("bar for plates")
    coach.press("dumbbells")
    coach.type("masses, of one dumbbell, kg", "4 to 32 in 2s")
    coach.show("What else is there")
    coach.tick("bench")
    coach.tick("rack")


def add_exercise(coach: Hands, words: str, exercise: str, button: str = "Add to this session") -> None:
    coach.show("Add an exercise")
    coach.find(words, exercise, button)


def build_a_block(coach: Hands) -> None:
    """Three days with percent, part of an earlier set, by week, fixed load, alternating, reserve, failure, drops."""
    coach.go("Block")
    coach.type("name of the block", "First block")
    coach.type("weeks", "3")
    add_exercise(coach, "squat", "back squat", "Begin a new session with it")
    coach.choose("the load is given as", "% of 1RM")
    coach.type("load in week 1, % of 1RM", "70")
    coach.type("reps (6, 8-12 or failure)", "5")
    coach.type("rest after each set, s", "3 min")
    coach.choose("from week to week", "the same step every week")
    coach.type("step every week, points of %", "2,5")
    coach.press("Add a set group")
    coach.choose("the load is given as", "part of an earlier group's load")
    coach.type("part of that load, %", "85")
    add_exercise(coach, "bench", "bench press")
    add_exercise(coach, "db row", "dumbbell row")
    coach.choose("the load is given as", "a fixed load in kg")
    coach.type("load in week 1, kg in each hand", "20")
    coach.choose("exercises and their sets", "2. bench press: 3 × 8 leaving 2")
    coach.tick("its sets alternate with those of the next exercise")
    coach.show("Session")
    coach.choose("its day", "Monday")

    add_exercise(coach, "db curl", "dumbbell curl", "Begin a new session with it")
    coach.choose("the load is given as", "% of 1RM")
    coach.type("reps (6, 8-12 or failure)", "failure")
    coach.type("drops straight after, % off each", "25, 15")
    coach.show("Session")
    coach.type("its name", "Wednesday")
    coach.choose("its day", "Wednesday")

    coach.choose("session", "1. session 1")
    coach.type("name of the copy", "Friday, lighter")
    coach.type("points of % more or less in the copy", "-5")
    coach.press("Copy this session")
    coach.choose("its day", "Friday")
    coach.show("Exercises and sets")
    coach.choose("from week to week", "written out for every week")
    coach.type("load of each week", "60; 65; 67,5")


def is_as_built(block: Block) -> None:
    assert (block.name, block.weeks) == ("First block", 3)
    monday, wednesday, friday = block.expanded_sessions()
    assert [session.day for session in (monday, wednesday, friday)] == [1, 3, 5]
    assert [[slot.exercise for slot in session.exercises] for session in (monday, wednesday, friday)] == [
        ["back squat", "bench press", "dumbbell row"],
        ["dumbbell curl"],
        ["back squat", "bench press", "dumbbell row"],
    ]
    first, second = monday.exercises[0].sets
    assert (first.percent, first.reps, first.rest_s) == (70.0, (5, 5), 180.0)
    assert first.progression is not None
    assert (first.progression.rule, first.progression.step) == ("step", 2.5)
    assert (second.part, second.part_of_group) == (0.85, 1)
    assert monday.exercises[1].alternate_with_next
    assert monday.exercises[1].sets[0].reps_in_reserve == 2.0
    assert (monday.exercises[2].sets[0].kg, monday.exercises[2].sets[0].each_hand) == (20.0, True)
    (curls,) = wednesday.exercises[0].sets
    assert curls.to_failure
    assert curls.drops is not None
    assert curls.drops.sizes == [25.0, 15.0]
    by_week = friday.exercises[0].sets[0].progression
    assert by_week is not None
    assert (by_week.rule, by_week.load) == ("by week", [60.0, 65.0, 67.5])


def exchange_what_hurts(coach: Hands) -> None:
    coach.go("Lifter")
    coach.show("What hurts")
    coach.tick("shoulder")
    coach.tick("shoulder abducted and externally rotated: …")  # a bar on the back is fine
    coach.go("Block")
    coach.sees("bench press: the lifter file leaves it out")
    coach.press("Exchange what cannot or should not be done")
    coach.sees("pin bench press: no 1RM is known")
    coach.go("Lifter")
    coach.show("Lifts")
    coach.find("pin bench", "pin bench press", "Add this lift")
    coach.type("load, reps done, reps left", "60 kg, 5 reps, 3 left")


def compare_and_commit(coach: Hands) -> None:
    coach.go("Check")
    coach.sees(".workbench-figure .main-svg")
    coach.type("sets, typed", "4")
    coach.press("Keep as a new block")
    coach.sees("Kept as First block (2)")
    coach.go("Compare")
    coach.choose("blocks", "First block", "First block (2)")
    coach.sees("On the same days it beats")
    coach.go("Commit")
    coach.choose("block", "First block")
    coach.type("reason", "light to begin with")
    coach.choose("instead of", "First block (2)")
    coach.type("why not First block (2)", "more than the first weeks need")
    coach.type("starts on", MONDAY.isoformat())
    coach.press("Commit")
    coach.sees("Fingerprint")
    coach.press("Hand out the sheets")


def fill_in(sheet: Path) -> None:
    """Fill the first week in as a lifter does, in a spreadsheet: done as planned, with what was left."""
    book = openpyxl.load_workbook(sheet)
    tab = book.worksheets[0]
    at = {str(cell.value).partition(" (")[0]: cell.column for cell in tab[3] if cell.value}
    for row in range(4, tab.max_row + 1):
        load = str(tab.cell(row, at["Planned load"]).value or "")
        if not load:
            continue
        tab.cell(row, at["Load done"]).value = float(load.split("x")[-1].removesuffix("kg"))
        reps = str(tab.cell(row, at["Planned reps"]).value)
        if reps.isdigit():
            tab.cell(row, at["Reps done"]).value = int(reps)
            tab.cell(row, at["RIR done"]).value = 3
        else:
            drop = "drop" in str(tab.cell(row, at["Set"]).value)
            tab.cell(row, at["Reps done"]).value = "4 failed" if drop else "12 failed"
    book.save(sheet)


def test_the_whole_path(coach: Hands, gym: GymFolder, tmp_path: Path) -> None:
    began = time.monotonic()
    enter_people_and_room(coach)
    build_a_block(coach)
    (path,) = gym.files("blocks")
    is_as_built(read_block(path))
    exchange_what_hurts(coach)
    names = {slot.exercise for session in read_block(path).expanded_sessions() for slot in session.exercises}
    assert "bench press" not in names
    assert {"back squat", "dumbbell row", "dumbbell curl"} < names
    compare_and_commit(coach)
    sheet = tmp_path / "sheet.xlsx"
    coach.download("Ada Quill, to fill in", sheet)
    fill_in(sheet)

    coach.go("Learn")
    coach.upload("upload a filled sheet or a log…", sheet)
    coach.sees("sets used")
    coach.sees("Week 2: loads and the chance")
    coach.press("Keep what was learned")
    coach.sees("has these numbers from now on")
    coach.go("Start")
    coach.sees("new numbers since")
    coach.go("Commit")
    coach.type("reason", "with what week 1 taught")
    coach.press("Commit")
    coach.sees("Changed since first-block-r01")
    coach.press("Hand out the sheets")
    coach.go("Start")
    coach.sees("is handed out: log its sets at the rack")
    tabs = f", {coach.tabs} times Tab on the way" if isinstance(coach, Keyboard) else ""
    print(f"{type(coach).__name__}: {coach.actions} actions{tabs}, {(time.monotonic() - began) / 60:.1f} minutes")

    assert coach.complaints == []
    first, second = map(read_committed, list_committed(gym.path / "committed"))
    assert [other.name for other in first.decision.alternatives] == ["First block (2)"]
    (lifter,) = map(read_lifter, gym.files("lifters"))
    assert lifter.learned
    assert second.lifters[0].lifts == lifter.lifts
