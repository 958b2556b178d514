"""Kernel and server are killed at 30 moments of editing in a browser: at most the last edit is lost, none doubled."""

from __future__ import annotations

import os
import random
import signal
import threading
from collections.abc import Callable
from contextlib import ExitStack
from pathlib import Path
from typing import Any, NamedTuple

import pytest

from tests.browser.hands import Mouse
from tests.browser.test_app import kernel_of, until, wait_for_start
from workbench.commands.notebook_server import APP_PAGE, RunningLab, open_app, running_lab
from workbench.gym.equipment import read_room
from workbench.lifter import read_lifter
from workbench.prescription.block import read_block
from workbench.reference.gym_folder import GymFolder
from workbench.reference.sources import data_path

pytestmark = [
    pytest.mark.browser,
    pytest.mark.slow,
    pytest.mark.skipif(not Path("/proc/self").exists(), reason="looks for the kernel's process in /proc"),
]

KILLS = 30
#: Every so many moments the server goes, at the others the kernel.
SERVER_EVERY = 3
#: Longest from before the last edit to the kill: it is typed, sent and on the disk within some tenths of a second.
LATEST_S = 0.4

_SETS = "sets = [{ count = 2, reps = 8, percent = 60, rest_s = 120 }]"
FILES = {
    "lifters": 'name = "Ada Quill"\nbody_mass_kg = 70\n[lifts."back squat"]\none_rm_kg = 100\n',
    "rooms": (data_path("demo") / "rooms" / "boathouse_hall.toml").read_text(encoding="utf-8"),
    "blocks": f'name = "Squats"\nweeks = 2\n[[sessions]]\nname = "A"\n[[sessions.exercises]]\nexercise = "back squat"\n'
    f"{_SETS}\n",
}


class Line(NamedTuple):
    """A line of an editor: its page and label, what the n-th edit types, and what a file then holds."""

    title: str
    kind: str
    label: str
    typed: Callable[[int], str]
    held: Callable[[Path], str]


LINES = (
    Line(
        "Lifter", "lifters", "body mass, kg", lambda n: f"{60 + n}", lambda path: f"{read_lifter(path).body_mass_kg:g}"
    ),
    Line("Lifter", "lifters", "name", lambda n: f"Ada {n}", lambda path: read_lifter(path).name),
    Line("Room", "rooms", "its name", lambda n: f"Cellar {n}", lambda path: read_room(path).name),
    Line("Block", "blocks", "name of the block", lambda n: f"Squats {n}", lambda path: read_block(path).name),
    Line("Block", "blocks", "weeks", lambda n: f"{2 + n % 5}", lambda path: f"{read_block(path).weeks}"),
)


def lives(process: int) -> bool:
    """Whether a process runs; one that has ended and was not collected does not."""
    try:
        return Path(f"/proc/{process}/stat").read_text(encoding="utf-8").rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False


def start(page: Any, lab: RunningLab) -> None:
    page.goto(lab.app_address)
    wait_for_start(page)


def typed_into(page: Any, line: Line, text: str) -> None:
    field = page.get_by_label(line.label, exact=True).locator("visible=true").first
    field.fill(text)
    field.press("Tab")


def kill(kernel: int, lab: RunningLab, *, server: bool) -> None:
    """Kill without warning."""
    if server:
        lab.process.kill()
        lab.process.wait()
    else:
        os.kill(kernel, signal.SIGKILL)


def test_no_moment_of_a_kill_breaks_a_file_or_costs_more_than_the_last_edit(
    page: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # A kernel that is killed again and again would compile from the beginning each time.
    monkeypatch.setenv("WORKBENCH_FUSED", "0")
    hands, gym = Mouse(page), GymFolder(tmp_path / "gym")
    open_app(gym.path)
    paths = {kind: gym.add(kind, "killed", text) for kind, text in FILES.items()}
    moments, number, lost = random.Random(1), 0, 0
    with ExitStack() as running:
        lab = running.enter_context(running_lab(gym.path, page=APP_PAGE))
        for moment in range(1, KILLS + 1):
            line = moments.choice(LINES)
            path = paths[line.kind]
            start(page, lab)
            hands.go(line.title)
            field = page.get_by_label(line.label, exact=True).locator("visible=true").first
            field.wait_for()
            until(lambda: field.input_value() == line.held(path), "the page shows what the file holds")  # noqa: B023
            for _ in range(moments.randrange(2)):
                number += 1
                typed_into(page, line, line.typed(number))
                until(lambda: line.held(path) == line.typed(number), "an edit is written")  # noqa: B023
            before, kernel = line.held(path), kernel_of(page)
            number += 1
            server = moment % SERVER_EVERY == 0
            killing = threading.Timer(moments.uniform(0.0, LATEST_S), kill, (kernel, lab), {"server": server})
            killing.start()
            typed_into(page, line, line.typed(number))
            killing.join()
            until(lambda: not lives(kernel), "the kernel lives on")  # noqa: B023
            assert line.held(path) in (before, line.typed(number)), (moment, line.label)
            lost += line.held(path) == before
            print(f"{moment}: {'server' if server else 'kernel'}, {line.title}, {line.label}: {lost} lost", flush=True)
            assert {kind: gym.files(kind) for kind in paths} == {kind: [path] for kind, path in paths.items()}
            if server:
                running.close()
                lab = running.enter_context(running_lab(gym.path, page=APP_PAGE))
        start(page, lab)
        hands.go(line.title)
        before = line.held(path)
        page.get_by_role("button", name="Undo", exact=True).locator("visible=true").first.click()
        until(lambda: line.held(path) != before, "the last edit can be undone")
    print(f"{KILLS} kills, the last edit lost in {lost}")
