"""From an empty folder to the next week in a real browser, by pointing and typing alone; no file is touched by hand."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.panels.test_whole_path import fill_in
from workbench.commands.notebook_server import open_app, running_lab
from workbench.lifter import read_lifter
from workbench.publish.commit import list_committed
from workbench.reference.gym_folder import GymFolder

pytestmark = [pytest.mark.browser, pytest.mark.slow]

WAIT_MS = 60_000
#: Long enough for what was typed to reach the kernel and to come back.
SETTLE_MS = 600


class Coach:
    """Somebody at the page, who counts what was done."""

    def __init__(self, page: Any) -> None:
        self.page, self.actions = page, 0
        self.main = page.locator(".workbench-place")
        self.complaints: list[str] = []
        page.set_default_timeout(WAIT_MS)
        page.on("console", lambda line: self.complaints.append(line.text) if line.type == "error" else None)
        page.on("pageerror", lambda error: self.complaints.append(str(error)))

    def _at(self, found: Any) -> Any:
        self.actions += 1
        return found.locator("visible=true").first

    def _settle(self) -> None:
        self.page.wait_for_timeout(SETTLE_MS)

    def press(self, name: str) -> None:
        self._at(self.main.get_by_role("button", name=name, exact=True)).click()
        self._settle()

    def show(self, section: str) -> None:
        self._at(self.main.locator(".workbench-sections button", has_text=section)).click()
        self._settle()

    def type(self, label: str, text: str) -> None:
        field = self._at(self.main.get_by_label(label, exact=True))
        field.fill(text)
        field.press("Tab")
        self._settle()

    def choose(self, label: str, *names: str) -> None:
        control = self._at(self.main.get_by_label(label, exact=True))
        offered = control.locator("option").all_inner_texts()
        control.select_option(label=[text for text in offered if text.replace("\xa0", " ").strip() in names])
        self._settle()

    def find(self, words: str, exercise: str, button: str) -> None:
        self.type("find an exercise", words)
        self.choose("found", exercise)
        self.press(button)

    def go(self, title: str) -> None:
        self._at(self.page.locator(".workbench-steps").get_by_role("button", name=title, exact=True)).click()
        self.page.wait_for_selector(f"h1 >> text={title}")
        self.page.wait_for_selector("text=One moment", state="detached")
        self._settle()

    def sees(self, text: str) -> None:
        self.page.wait_for_selector(f"{text} >> visible=true" if text.startswith(".") else f"text={text}")


@pytest.fixture
def gym(tmp_path: Path) -> GymFolder:
    folder = GymFolder(tmp_path / "gym")
    open_app(folder.path)
    return folder


@pytest.fixture
def coach(page: Any, gym: GymFolder) -> Iterator[Coach]:
    with running_lab(gym.path) as lab:
        coach = Coach(page)
        page.goto(lab.app_address)
        coach.sees("This gym is empty")
        yield coach


def enter_people_and_room(coach: Coach) -> None:
    coach.go("Lifter")
    coach.type("name", "Ada Quill")
    coach.show("Lifts")
    coach.find("squat", "back squat", "Add this lift")
    coach.type("load, reps done, reps left", "100 kg, 5 reps, 1 left")
    coach.find("db curl", "dumbbell curl", "Add this lift")
    coach.type("load in one hand, reps done, reps left", "12 kg, 10 reps, 2 left")
    coach.go("Room")
    coach.type("its name", "Cellar")
    for plate in ("20 kg", "10 kg", "5 kg", "2.5 kg", "1.25 kg"):
        coach.type(plate, "2 pairs")
    coach.show("Equipment")
    coach.press("bar for plates")
    coach.press("dumbbells")
    coach.show("What else is there")
    coach.main.get_by_text("rack", exact=True).first.click()


def build_a_block(coach: Coach) -> None:
    coach.go("Block")
    coach.type("name of the block", "First block")
    coach.show("Add an exercise")
    coach.find("squat", "back squat", "Begin a new session with it")
    coach.show("Add an exercise")
    coach.find("curl", "dumbbell curl", "Add to this session")
    coach.show("Session")
    coach.choose("its day", "Monday")
    coach.show("Block")
    coach.type("weeks", "3")


def test_the_whole_path_by_pointing_and_typing(coach: Coach, gym: GymFolder, tmp_path: Path) -> None:
    enter_people_and_room(coach)
    build_a_block(coach)
    coach.go("Check")
    coach.sees(".workbench-figure .main-svg")
    coach.press("Keep as a new block")
    coach.sees("Kept as First block (2)")
    coach.go("Compare")
    coach.choose("blocks", "First block", "First block (2)")
    coach.sees("On the same days it beats")

    coach.go("Commit")
    coach.choose("block", "First block")
    coach.type("reason", "light to begin with")
    coach.choose("instead of", "First block (2)")
    coach.type("not first_block_2", "no reason to change anything yet")
    coach.type("Monday", "2026-01-05")
    coach.press("Commit")
    coach.sees("Fingerprint")
    coach.press("Hand out the sheets")
    with coach.page.expect_download() as download:
        coach.main.locator("a", has_text="to fill in").click()
    sheet = tmp_path / "sheet.xlsx"
    download.value.save_as(sheet)
    fill_in(sheet)  # as the lifter does, in a spreadsheet

    coach.go("Learn")
    with coach.page.expect_file_chooser() as chooser:
        coach.main.locator(".jupyter-button", has_text="upload a log").first.click()
    chooser.value.set_files(sheet)
    coach.sees("sets used")
    coach.press("Keep what was learned")
    coach.sees("has these numbers from now on")
    coach.go("Start")
    coach.sees("Nothing is missing")
    print(f"{coach.actions} actions")

    assert coach.complaints == []
    assert len(list_committed(gym.path / "committed")) == 1
    (lifter,) = gym.files("lifters")
    assert read_lifter(lifter).learned
