"""Today's page in a real browser: kills and reloads lose and double no set, it fits a phone, and its keys are named."""

from __future__ import annotations

import os
import random
import signal
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.browser.hands import Mouse
from tests.browser.test_app import kernel_of, opened, wait_for_start
from workbench.commands.notebook_server import RunningLab, open_app, running_lab
from workbench.commands.phone import phone_server
from workbench.log import read_log
from workbench.panels.desk import Desk
from workbench.reference.gym_folder import GymFolder

pytestmark = [pytest.mark.browser, pytest.mark.slow]

LIFTERS = ("emre_sandoval", "cato_venn", "asta_lindqvist", "bram_okafor", "dorit_halloran", "hedda_quill")
#: Sets typed of each session, and how often each is interrupted.
SETS, INTERRUPTED = 6, 2
#: Whether something is wholly on the screen of a phone, which may still be scrolling to it.
# A page is scrolled by whole pixels, and lines end at parts of one.
SEEN = """selector => {
  const { top, bottom } = document.querySelector(selector).getBoundingClientRect();
  return -1 < top && top <= bottom && bottom < 845;
}"""
ENTERED = "count => document.querySelector('.today')?.dataset.entered.split(' ').filter(Boolean).length === count"


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[GymFolder, RunningLab]]:
    folder = tmp_path_factory.mktemp("served") / "gym"
    open_app(folder)
    gym = GymFolder(folder)
    gym.add_demo()
    with running_lab(folder) as lab:
        yield gym, lab


def opened_today(page: Any, lab: RunningLab) -> Mouse:
    hands = opened(page, lab)
    hands.go("Today")
    page.wait_for_selector(".today form.set")
    return hands


def opened_so_wide(page: Any, served: tuple[GymFolder, RunningLab], width: int) -> None:
    """Open a session of one lifter on a screen so wide."""
    gym, lab = served
    Desk(gym).choose("lifters", gym.path / "lifters" / "fenja_marlow.toml")
    page.set_viewport_size({"width": width, "height": 844})
    opened_today(page, lab)


def type_set(page: Any, rng: random.Random) -> tuple[str, str, int, bool]:
    """Type the next set; return its exercise, load and reps, and whether the next rep failed."""
    form = page.locator(".today form.set")
    for _ in range(rng.randint(0, 2)):
        form.get_by_label("one rep fewer").click()
    failed = rng.random() < 0.2
    form.locator("input[name=failed]").set_checked(failed)
    if not failed:
        form.locator(f"input[name=reserve][value='{rng.choice(['', '0', '2', '4+'])}']").check()
    typed = form.evaluate("one => Object.fromEntries(new FormData(one))")
    return typed["exercise"], typed["load"], int(typed["reps"]), failed


@pytest.mark.skipif(not Path("/proc/self").exists(), reason="looks for the kernel's process in /proc")
def test_kills_of_the_kernel_and_reloads_lose_and_double_no_set(
    page: Any, served: tuple[GymFolder, RunningLab]
) -> None:
    gym, lab = served
    rng = random.Random(5)
    for at, lifter in enumerate(LIFTERS):
        Desk(gym).choose("lifters", gym.path / "lifters" / f"{lifter}.toml")
        hands = opened_today(page, lab)
        interrupted = set(rng.sample(range(SETS), INTERRUPTED))
        typed = []
        for number in range(SETS):
            typed.append(type_set(page, rng))
            page.get_by_role("button", name="Set done").dblclick()  # a second tap is no second set
            if number in interrupted:
                page.wait_for_timeout(rng.uniform(0, 120))
                if at % 2:
                    os.kill(kernel_of(page), signal.SIGKILL)
                page.reload()
                wait_for_start(page)
                hands.go("Today")
            page.wait_for_function(ENTERED, arg=number + 1)
        (log,) = (path for path in gym.files("logs") if path.stem.startswith(f"{lifter}_winter"))
        rows = read_log(log).rows
        found = zip(rows["exercise"], rows["load_as_written"], rows["reps"], rows["outcome"] == "failed", strict=True)
        assert [tuple(one) for one in found] == typed


def test_what_was_typed_of_a_set_is_there_after_the_screen_slept(
    page: Any, served: tuple[GymFolder, RunningLab]
) -> None:
    gym, lab = served
    Desk(gym).choose("lifters", gym.path / "lifters" / "goran_petit.toml")
    hands = opened_today(page, lab)
    page.get_by_label("one rep fewer").click()
    page.locator(".today input[name=reserve][value='1']").check()
    page.reload()
    wait_for_start(page)
    hands.go("Today")
    page.wait_for_selector(".today input[name=reserve][value='1']:checked")
    assert page.get_by_label("Reps made").input_value() == "5"


def test_after_a_set_the_next_one_is_in_view_and_enter_in_a_field_is_no_set(
    page: Any, served: tuple[GymFolder, RunningLab]
) -> None:
    opened_so_wide(page, served, 390)
    page.wait_for_function("!document.querySelector('.today button.main').disabled")
    page.get_by_label("Another load").fill("40")
    page.keyboard.press("Enter")
    # On a phone that key puts the keyboard away.
    page.wait_for_function("document.activeElement.textContent === 'Set done'")
    page.keyboard.press("Enter")
    page.wait_for_function(ENTERED, arg=1)
    page.wait_for_function("document.activeElement.tagName === 'H3'")  # no field, which would open the keyboard
    assert "set 2 of" in page.evaluate("document.activeElement.textContent")
    for place in (".next h3", ".next button.main"):
        page.wait_for_function(SEEN, arg=place)


def test_a_set_that_did_not_arrive_says_so_under_its_button_and_arrives_later(
    page: Any, served: tuple[GymFolder, RunningLab]
) -> None:
    opened_so_wide(page, served, 390)
    before = len(page.locator(".today").get_attribute("data-entered").split())
    page.context.set_offline(True)
    done = page.get_by_role("button", name="Set done")
    done.evaluate("(button) => button.scrollIntoView({ block: 'end' })")  # the last that is seen of the page
    done.click()
    page.wait_for_selector("text=Not in the log yet")
    page.wait_for_function(SEEN, arg="p.waiting")
    page.context.set_offline(False)
    page.wait_for_function(ENTERED, arg=before + 1)
    page.wait_for_selector("text=Not in the log yet", state="hidden")


@pytest.mark.parametrize("width", [1280, 820, 390])
def test_the_page_fits_its_width_with_targets_for_a_thumb(
    page: Any, served: tuple[GymFolder, RunningLab], width: int
) -> None:
    opened_so_wide(page, served, width)
    check_targets(page, width)
    if folder := os.environ.get("WORKBENCH_PICTURES"):
        page.locator(".today").screenshot(path=str(Path(folder) / f"today-{width}.png"))


@pytest.mark.parametrize("scripts", [True, False])
def test_a_phone_types_a_session_with_and_without_scripts(page: Any, tmp_path: Path, scripts: bool) -> None:
    gym = GymFolder(tmp_path / "gym")
    gym.make()
    gym.add_demo()
    with phone_server(gym.path, "127.0.0.1") as phone:
        page.set_viewport_size({"width": 390, "height": 844})
        page.clock.install()
        if not scripts:
            page.route("**/*.js", lambda route: route.abort())
        page.goto(phone.address)
        page.get_by_label("Token").fill(phone.token)
        page.get_by_role("button", name="Go in").click()
        page.get_by_role("button", name="Go on").click()
        for number in range(1, 4):
            page.wait_for_selector(f"text=set {number} of 5")
            page.clock.fast_forward(200_000)  # ms
            if number == 2:
                page.reload()
            if number == 3 and scripts:
                page.get_by_text("– start").click()
                page.clock.fast_forward(60_000)
            page.locator("input[name=reserve][value='2']").check()
            page.get_by_role("button", name="Set done").click()
        page.wait_for_selector("text=set 4 of 5")
        if scripts:
            check_targets(page, 390)
        (log,) = (path for path in gym.files("logs") if "winter" in path.stem)
        rows = read_log(log).rows
        assert len(rows) == 3
        if scripts:
            # 200 s between two presses, of which six reps take 15; 200 until "start". Some seconds pass by themselves.
            assert rows["rest_s"][1:].between([185, 200], [195, 210]).all()
        else:
            assert rows["rest_s"].isna().all()


def check_targets(page: Any, width: int) -> None:
    """Check that nothing is cut off to the right, and that what is pressed is large enough and has a name."""
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    # 44 px is what accessibility guides ask of a target that is pressed by hand (WCAG 2.5.5).
    small = page.evaluate(
        """() => [...document.querySelectorAll('.today button, .today input:not([type=hidden]), .today summary')]
             .filter((one) => one.offsetParent && one.getBoundingClientRect().height < 44)
             .map((one) => one.outerHTML.slice(0, 80))"""
    )
    assert small == []
    nameless = page.evaluate(
        """() => [...document.querySelectorAll('.today input:not([type=hidden])')]
             .filter((one) => !one.labels?.length && !one.getAttribute('aria-label'))
             .map((one) => one.outerHTML)"""
    )
    assert nameless == []
