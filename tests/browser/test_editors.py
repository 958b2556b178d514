"""From an empty gym by keyboard alone: a lifter, a room and a block; what is wrong is said at its field."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from tests.browser.hands import Keyboard
from workbench.answers.start_loads import start_loads
from workbench.commands.notebook_server import RunningLab, open_app, running_lab
from workbench.gym.equipment import read_room
from workbench.lifter import read_lifter
from workbench.prescription.block import read_block
from workbench.reference.gym_folder import GymFolder

pytestmark = [pytest.mark.browser, pytest.mark.slow]


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[GymFolder, RunningLab]]:
    folder = tmp_path_factory.mktemp("served") / "gym"
    open_app(folder)
    with running_lab(folder) as lab:
        yield GymFolder(folder), lab


def test_a_lifter_a_room_and_a_block_by_keyboard_alone(page: Any, served: tuple[GymFolder, RunningLab]) -> None:
    gym, lab = served
    keys = Keyboard(page)
    page.goto(lab.app_address)
    keys.sees("This gym is empty")

    keys.go("Lifter")
    keys.type("name", "Ada Quill")
    keys.type("years of training", "3,5")
    keys.show("Lifts")
    keys.type("find an exercise", "squats")
    keys.press("Add this lift")
    keys.type("load, reps done, reps left", "100 kg, 5 reps, 2 left")
    (path,) = gym.files("lifters")
    lifter = read_lifter(path)
    assert (lifter.name, lifter.training_years) == ("Ada Quill", 3.5)
    assert lifter.lifts["back squat"].from_set.load_kg == 100.0

    keys.go("Room")
    keys.type("25 kg", "4 pairs")
    keys.type("5 kg", "2")
    keys.show("What else is there")
    keys.tick("rack")
    keys.show("Equipment")
    keys.press("bar for plates")
    keys.type("the empty bar", "20")
    (path,) = gym.files("rooms")
    # 20 kg, and each side 5, 10, 25, 30, 35, 50, ... of four pairs of 25 and two of 5.
    assert read_room(path).loads("barbell").kg[:4].tolist() == [20.0, 30.0, 40.0, 70.0]

    keys.go("Block")
    keys.show("Add an exercise")
    keys.type("find an exercise", "back squat")
    keys.press("Begin a new session with it")
    keys.type("sets", "4")
    keys.type("rest after each set, s", "3")
    wrong = page.get_by_label("rest after each set, s", exact=True).locator("visible=true")
    keys.sees("could be 3 seconds or 3 minutes")
    assert wrong.get_attribute("aria-invalid") == "true"
    keys.type("rest after each set, s", "3 min")
    keys.sees("3 min: read as 180")
    keys.sees(", Ada Quill: ")
    (path,) = gym.files("blocks")
    block = read_block(path)
    (group,) = block.sessions[0].exercises[0].sets
    assert (group.count, group.rest_s) == (4, 180.0)
    assert start_loads(block, lifter, read_room(gym.files("rooms")[0])).block == block
    print(f"{keys.actions} actions by keyboard")
    assert keys.complaints == []
