"""From an empty gym by keyboard alone: a lifter, a room and a block; what is wrong is said at its field."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from workbench.answers.start_loads import start_loads
from workbench.commands.notebook_server import RunningLab, open_app, running_lab
from workbench.gym.equipment import read_room
from workbench.lifter import read_lifter
from workbench.prescription.block import read_block
from workbench.reference.gym_folder import GymFolder

pytestmark = [pytest.mark.browser, pytest.mark.slow]

WAIT_MS = 60_000
#: More presses of Tab than any page has places to go to.
MOST_TABS = 250
_NAME = """() => {
  const at = document.activeElement;
  const labels = [...(at.labels ?? [])].map((label) => label.textContent).join("");
  const said = at.getAttribute("aria-label") || labels || at.closest("body > *") && at.textContent || "";
  return at === document.body ? "" : said.replaceAll("\\u00a0", " ").replaceAll("\\u200b", "").trim();
}"""


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[GymFolder, RunningLab]]:
    folder = tmp_path_factory.mktemp("served") / "gym"
    open_app(folder)
    with running_lab(folder) as lab:
        yield GymFolder(folder), lab


class Keyboard:
    """Goes to what has a name by Tab, and counts the presses that do something."""

    def __init__(self, page: Any) -> None:
        self.page, self.actions = page, 0

    def to(self, name: str) -> None:
        passed = []
        for _ in range(MOST_TABS):
            passed.append(self.page.evaluate(_NAME))
            if passed[-1] == name:
                return
            self.page.keyboard.press("Tab")
        raise AssertionError(f"Tab never came to {name!r}, but to: {', '.join(dict.fromkeys(passed))}")

    def press(self, name: str, key: str = "Enter") -> None:
        self.to(name)
        self.page.keyboard.press(key)
        self.actions += 1
        self.page.wait_for_timeout(400)

    def type(self, name: str, text: str) -> None:
        self.to(name)
        self.page.keyboard.press("Control+A")
        self.page.keyboard.type(text)
        self.page.keyboard.press("Enter")
        self.actions += 1
        self.page.wait_for_timeout(400)

    def choose(self, name: str, words: str) -> None:
        """Choose in a list by typing its first letters."""
        self.to(name)
        self.page.keyboard.type(words)
        self.page.keyboard.press("Enter")
        self.actions += 1
        self.page.wait_for_timeout(400)

    def page_of(self, title: str) -> None:
        self.press(title)
        self.page.wait_for_selector(f"h1 >> text={title}", timeout=WAIT_MS)
        self.page.wait_for_selector("text=One moment", state="detached", timeout=WAIT_MS)


def test_a_lifter_a_room_and_a_block_by_keyboard_alone(page: Any, served: tuple[GymFolder, RunningLab]) -> None:
    gym, lab = served
    complaints: list[str] = []
    page.on("console", lambda message: complaints.append(message.text) if message.type == "error" else None)
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.goto(lab.app_address)
    page.wait_for_selector("h2 >> text=What is next", timeout=WAIT_MS)
    keys = Keyboard(page)

    keys.page_of("Lifter")
    keys.type("name", "Ada Quill")
    keys.type("years of training", "3,5")
    keys.press("Lifts", "Space")
    keys.type("find an exercise", "squats")
    keys.press("Add this lift")
    keys.type("load, reps done, reps left", "100 kg, 5 reps, 2 left")
    (path,) = gym.files("lifters")
    lifter = read_lifter(path)
    assert (lifter.name, lifter.training_years) == ("Ada Quill", 3.5)
    assert lifter.lifts["back squat"].from_set.load_kg == 100.0

    keys.page_of("Room")
    keys.type("25 kg", "4 pairs")
    keys.type("5 kg", "2")
    keys.press("What else is there", "Space")
    keys.press("rack", "Space")
    keys.press("Equipment", "Space")
    keys.press("bar for plates")
    keys.type("the empty bar", "20")
    (path,) = gym.files("rooms")
    # 20 kg, and each side 5, 10, 25, 30, 35, 50, ... of four pairs of 25 and two of 5.
    assert read_room(path).loads("barbell").kg[:4].tolist() == [20.0, 30.0, 40.0, 70.0]

    keys.page_of("Block")
    keys.press("Add an exercise", "Space")
    keys.type("find an exercise", "back squat")
    keys.press("Begin a new session with it")
    keys.type("sets", "4")
    keys.type("rest after each set, s", "3")
    wrong = page.get_by_label("rest after each set, s", exact=True).locator("visible=true")
    page.wait_for_selector("text=could be 3 seconds or 3 minutes", timeout=WAIT_MS)
    assert wrong.get_attribute("aria-invalid") == "true"
    keys.type("rest after each set, s", "3 min")
    page.wait_for_selector("text=3 min: read as 180", timeout=WAIT_MS)
    page.wait_for_selector("text=, Ada Quill: ", timeout=WAIT_MS)
    (path,) = gym.files("blocks")
    block = read_block(path)
    (group,) = block.sessions[0].exercises[0].sets
    assert (group.count, group.rest_s) == (4, 180.0)
    assert start_loads(block, lifter, read_room(gym.files("rooms")[0])).block == block
    print(f"{keys.actions} actions by keyboard")
    assert complaints == []
