"""The app in a real browser: it runs by itself, every page answers, steps hand on, a killed kernel loses nothing."""

from __future__ import annotations

import os
import re
import shutil
import signal
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.browser.every_page import come_to_rest
from tests.browser.hands import Mouse
from workbench.commands.notebook_server import RunningLab, open_app, running_lab
from workbench.panels.app import PAGES
from workbench.reference.gym_folder import KINDS, GymFolder

pytestmark = [pytest.mark.browser, pytest.mark.slow]

#: What is waited for beside the browser: a file that is written, a process that ends.
LIMIT_S = 240.0
#: Pages whose answer is drawn at once; the others wait for a press of a button.
DRAWN = {"room", "block", "check", "lift", "drops", "session", "volume", "compare", "learn"}


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[GymFolder, RunningLab]]:
    """One server for all tests; each finds its gym empty."""
    folder = tmp_path_factory.mktemp("served") / "gym"
    open_app(folder)
    with running_lab(folder) as lab:
        yield GymFolder(folder), lab


@pytest.fixture
def gym(served: tuple[GymFolder, RunningLab]) -> GymFolder:
    gym, _ = served
    for kind in KINDS:
        shutil.rmtree(gym.path / kind)
    for name in ("open.json", "demo.json"):
        (gym.path / ".workbench" / name).unlink(missing_ok=True)
    gym.make()
    return gym


@pytest.fixture
def lab(served: tuple[GymFolder, RunningLab]) -> RunningLab:
    return served[1]


def opened(page: Any, lab: RunningLab) -> Mouse:
    """Open the app; return the hands that work it."""
    hands = Mouse(page)
    page.goto(lab.app_address)
    wait_for_start(page)
    return hands


def wait_for_start(page: Any) -> None:
    page.wait_for_selector("h2 >> text=What is next")


def until(holds: Callable[[], bool], what: str) -> None:
    """Wait for something that is not in the page."""
    limit = time.monotonic() + LIMIT_S
    while not holds():
        assert time.monotonic() < limit, what
        time.sleep(0.02)


def has_chosen(page: Any, label: str, name: str) -> None:
    """Wait until a name is chosen in a list."""
    options = page.get_by_label(label, exact=True).locator("visible=true").locator("option:checked", has_text=name)
    options.wait_for(state="attached")


def choose(page: Any, gym: GymFolder, kind: str, name: str) -> None:
    """Choose a lifter, a room or a block, and wait until the gym knows it for the next time."""
    page.get_by_label(kind.removesuffix("s"), exact=True).locator("visible=true").select_option(
        name.replace(" ", "\xa0")
    )
    stem = name.lower().replace(" ", "_")
    until(lambda: Path(gym.remembered().get(kind, "")).stem == stem, f"{name} is remembered")


def test_the_app_opens_by_itself_and_every_page_answers_without_a_click_more(
    page: Any, gym: GymFolder, lab: RunningLab
) -> None:
    gym.add_demo()
    hands = opened(page, lab)
    page.wait_for_function("document.title === 'Start – Workbench'")
    assert "import" not in page.locator("body").inner_text()  # no code
    for one in PAGES[1:]:
        hands.go(one.title)
        if one.key in DRAWN:
            # It has its name when it is drawn.
            named = page.locator(".workbench-figure.js-plotly-plot[role=img] >> visible=true").first
            assert len(named.get_attribute("aria-label") or "") > 10
        assert page.locator(".workbench-trouble >> visible=true").all_inner_texts() in ([], [""])
        page.locator("[aria-current=page]", has_text=re.compile(f"^{one.title}$")).wait_for()
        assert page.locator("[aria-current=page]").count() == 1
    assert hands.complaints == []


def test_an_empty_gym_explains_itself_and_takes_the_demo_in_and_out(page: Any, gym: GymFolder, lab: RunningLab) -> None:
    hands = opened(page, lab)
    page.wait_for_selector("text=This gym is empty")
    hands.go("Check")
    page.wait_for_selector("text=This needs a lifter and a room and a block")
    page.get_by_role("button", name="Go to the start page").click()
    page.get_by_role("button", name="Copy the invented gym in").first.click()
    page.wait_for_selector("text=files copied in")
    has_chosen(page, "lifter", "Emre Sandoval")
    page.get_by_role("button", name="Take the invented gym out").click()
    page.wait_for_selector("text=This gym is empty")
    until(lambda: gym.is_empty, "the files are gone")
    assert hands.complaints == []


def test_what_one_page_chooses_the_next_one_has_and_a_reload_too(page: Any, gym: GymFolder, lab: RunningLab) -> None:
    gym.add_demo()
    hands = opened(page, lab)
    hands.go("Check")
    page.wait_for_selector(".workbench-figure .main-svg >> visible=true")
    choose(page, gym, "lifters", "Cato Venn")
    hands.go("Volume")
    has_chosen(page, "lifter", "Cato Venn")
    page.reload()
    wait_for_start(page)
    has_chosen(page, "lifter", "Cato Venn")
    # The page that was made before follows as well.
    hands.go("Check")
    has_chosen(page, "lifter", "Cato Venn")


def kernel_of(page: Any) -> int:
    """Process of the kernel behind the page."""
    kernel = page.evaluate("JSON.parse(document.getElementById('jupyter-config-data').textContent).kernelId")
    for path in Path("/proc").glob("[0-9]*"):
        try:
            words = (path / "cmdline").read_bytes()
        except OSError:
            continue
        if f"kernel-{kernel}".encode() in words:
            return int(path.name)
    raise AssertionError("no kernel")


@pytest.mark.skipif(not Path("/proc/self").exists(), reason="looks for the kernel's process in /proc")
def test_a_killed_kernel_is_said_and_the_page_goes_on_where_it_was(page: Any, gym: GymFolder, lab: RunningLab) -> None:
    gym.add_demo()
    opened(page, lab)
    choose(page, gym, "lifters", "Cato Venn")
    os.kill(kernel_of(page), signal.SIGKILL)
    page.wait_for_selector(".workbench-gone >> text=started anew")
    page.get_by_role("button", name="Go on").click()
    wait_for_start(page)
    has_chosen(page, "lifter", "Cato Venn")


@pytest.mark.skipif(not Path("/proc/self").exists(), reason="looks for the kernel's process in /proc")
def test_a_kernel_at_work_is_said_so_and_never_to_be_gone(page: Any, gym: GymFolder, lab: RunningLab) -> None:
    gym.add_demo()
    opened(page, lab)
    state = {"execution_state": "busy"}
    page.route("**/api/kernels/*", lambda route: route.fulfill(json=state))
    kernel = kernel_of(page)
    os.kill(kernel, signal.SIGSTOP)
    try:
        page.wait_for_selector(".workbench-gone.workbench-working >> text=Still working")
    finally:
        os.kill(kernel, signal.SIGCONT)
    page.wait_for_selector(".workbench-gone", state="hidden")


def test_a_killed_server_is_said_and_the_gym_is_as_it_was(page: Any, tmp_path: Path) -> None:
    gym = GymFolder(tmp_path / "gym")
    open_app(gym.path)
    gym.add_demo()
    with running_lab(gym.path) as lab:
        opened(page, lab)
        choose(page, gym, "rooms", "Quay room")
        lab.process.kill()
        page.wait_for_selector(".workbench-gone >> text=was ended")
    with running_lab(gym.path) as lab:
        page.goto(lab.app_address)
        wait_for_start(page)
        has_chosen(page, "room", "Quay room")


def test_an_app_that_does_not_come_is_said_within_half_a_minute_and_can_be_tried_again(
    page: Any, gym: GymFolder, lab: RunningLab
) -> None:
    page.route("**/voila/static/voila.js", lambda route: route.abort())
    page.route("**/api/status", lambda route: route.abort())
    page.clock.install(time=0)
    page.clock.pause_at(1_000)
    page.goto(lab.app_address)
    said = page.locator("#late")
    page.clock.run_for(25_000)
    assert said.is_hidden()
    page.clock.run_for(10_000)
    page.wait_for_selector("#late >> text=was ended")
    page.unroute("**/api/status")
    page.clock.run_for(4_000)
    page.wait_for_selector("#late >> text=Nothing of your gym is lost")
    page.unroute("**/voila/static/voila.js")
    page.clock.resume()
    said.get_by_role("button", name="Try again").click()
    wait_for_start(page)
    said.wait_for(state="hidden")


def test_what_is_said_of_an_app_that_comes_late_goes_when_it_has_come(
    page: Any, gym: GymFolder, lab: RunningLab
) -> None:
    held: list[Any] = []

    def hold(route: Any) -> None:
        held.append(route)

    page.route("**/voila/static/voila.js", hold)
    page.add_init_script("const now = performance.now.bind(performance); performance.now = () => now() + 60_000;")
    page.goto(lab.app_address, wait_until="commit")
    page.wait_for_selector("#late >> text=Nothing of your gym is lost")
    for route in held:
        route.continue_()
    wait_for_start(page)
    page.locator("#late").wait_for(state="hidden")


def test_only_an_answer_that_is_late_is_shown_to_be_of_an_earlier_choice(
    page: Any, gym: GymFolder, lab: RunningLab
) -> None:
    gym.add_demo()
    opened(page, lab).go("Drops")
    panel, answer = (page.locator(f".workbench-{part} >> visible=true").first for part in ("panel", "answer"))
    fading = panel.evaluate(
        """async (panel) => {
          panel.classList.add("workbench-busy");
          await null;
          return document.getAnimations().map((one) => one.animationName).filter((name) => name?.includes("earlier"));
        }"""
    )
    assert fading == []  # an animation that only waits costs something in every frame
    shade = "([node, wanted]) => getComputedStyle(node).opacity === wanted"
    page.wait_for_function(shade, arg=[answer.element_handle(), "0.55"])
    panel.evaluate("(panel) => panel.classList.remove('workbench-busy')")
    page.wait_for_function(shade, arg=[answer.element_handle(), "1"])


def test_every_page_fits_its_width(page: Any, gym: GymFolder, lab: RunningLab) -> None:
    gym.add_demo()
    hands = opened(page, lab)
    widths = [1280, 820]
    for one in PAGES:
        hands.go(one.title)
        for width in widths:
            page.set_viewport_size({"width": width, "height": 900})
            come_to_rest(page)
            fits(page, one.key, width)
        widths.reverse()  # so that pages open in either width


def fits(page: Any, key: str, width: int) -> None:
    """Check that nothing of a page stands over the edge of the screen."""
    over = page.evaluate(
        """() => [".widget-button", ".widget-dropdown", ".widget-hslider", ".workbench-figure", ".widget-text"]
             .flatMap((kind) => [...document.querySelectorAll(`.workbench-place ${kind}`)])
             .filter((part) => part.offsetParent && part.getBoundingClientRect().right > window.innerWidth + 1)
             .map((part) => part.textContent.slice(0, 40))"""
    )
    assert over == [], (key, width)
    if (width, key) == (1280, "block"):  # five weeks beside each other, and none to be scrolled to
        page.wait_for_selector("caption >> text=Chance that all reps are made >> visible=true")
        widths = "(at) => [at.scrollWidth, at.clientWidth]"
        whole, seen = page.locator(".workbench-table .widget-html-content >> visible=true").first.evaluate(widths)
        assert whole <= seen
    if folder := os.environ.get("WORKBENCH_PICTURES"):
        page.screenshot(path=str(Path(folder) / f"{re.sub('[^a-z]', '', key)}-{width}.png"))


def test_what_folds_is_opened_and_closed_by_keyboard_and_says_so(page: Any, gym: GymFolder, lab: RunningLab) -> None:
    gym.add_demo()
    hands = opened(page, lab)
    hands.go("Check")
    for key, state in (("Enter", "true"), ("Space", "false")):
        fold = page.get_by_role("button", name="Every set, week by week", exact=True)
        fold.focus()
        page.keyboard.press(key)
        page.wait_for_selector(f"[aria-label='Every set, week by week'][aria-expanded='{state}']")
        caption = page.locator("caption", has_text="reps × load, and the rest before the set")
        caption.wait_for(state="visible" if state == "true" else "hidden")
