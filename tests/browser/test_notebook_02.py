"""Notebook 02 in JupyterLab and a real browser: it runs, a slider moves by keyboard, figure and table change."""

from __future__ import annotations

import statistics
from collections.abc import Iterator
from typing import Any

import pytest

from workbench.commands.notebook_server import refresh_copy, running_lab

pytestmark = [pytest.mark.browser, pytest.mark.slow]

NOTEBOOK = "02_will_every_rep_be_made.ipynb"
#: The design wants 95 of 100 redraws within 150 ms on a quiet machine; shared machines that run tests are several
#: times slower, so only a frozen page fails here. `workbench bench` and the guide hold the measured figures.
FROZEN_MS = 1500
PRESSES, THERE_AND_BACK = 100, 8

_IDLE = """() => {
  const session = window.jupyterapp?.shell?.currentWidget?.sessionContext?.session;
  return session?.kernel?.status === "idle";
}"""
_WATCH = """(name) => {
  const panel = document.querySelector(".workbench-panel");
  const handle = [...panel.querySelectorAll(".noUi-handle")].find((one) => one.getAttribute("aria-label") === name);
  const plot = panel.querySelector(".js-plotly-plot");
  const drawn = () => JSON.stringify(plot.data[0].z);
  window.redraws = [];
  let pressed = null;
  let before = null;
  handle.focus();
  handle.addEventListener("keydown", () => { pressed = performance.now(); before = drawn(); }, true);
  plot.on("plotly_afterplot", () => {
    if (pressed === null || drawn() === before) return;
    window.redraws.push(performance.now() - pressed);
    pressed = null;
  });
}"""
_MAP_TEXT = "() => [...document.querySelector('.js-plotly-plot').data[0].text].flat().join('|')"
#: The same in numbers, below the panel.
_NUMBERS = "() => [...document.querySelectorAll('.jp-OutputArea-output pre')].at(-1).innerText"
_TABLES = "() => [...document.querySelectorAll('.workbench-panel table')].map((one) => one.textContent).join('|')"


@pytest.fixture(scope="module")
def notebook(lasting_page: Any, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    """Page with the notebook run from top to bottom, its panel in view; the last test loads it anew."""
    page, folder = lasting_page, tmp_path_factory.mktemp("beside") / "notebooks"
    refresh_copy(folder)
    with running_lab(folder, options=["--LabApp.expose_app_in_browser=True"]) as lab:
        page.goto(lab.address.replace("/lab?", f"/lab/tree/{NOTEBOOK}?"))
        page.wait_for_function(_IDLE)
        page.evaluate("window.jupyterapp.commands.execute('notebook:run-all-cells')")
        page.wait_for_selector(".workbench-panel .js-plotly-plot .main-svg")
        page.wait_for_selector(".jp-OutputArea-output pre >> text=that are meant to be made")
        page.wait_for_function(_IDLE)
        page.evaluate("document.querySelector('.workbench-panel').scrollIntoView()")
        yield page


def press(page: Any, key: str) -> None:
    """Press a key and wait until the map has been drawn with other chances."""
    before = page.evaluate("window.redraws.length")
    page.keyboard.press(key)
    page.wait_for_function(f"window.redraws.length > {before}")


def test_a_slider_moved_by_keyboard_changes_map_tables_and_answer(notebook: Any) -> None:
    page = notebook
    assert page.locator(".jp-RenderedText[data-mime-type='application/vnd.jupyter.stderr']").count() == 0

    # Everything that can be moved has a name, for those who do not see the label beside it.
    names = page.evaluate("[...document.querySelectorAll('.noUi-handle')].map((one) => one.getAttribute('aria-label'))")
    assert names
    assert all(names)

    first = {"map": page.evaluate(_MAP_TEXT), "tables": page.evaluate(_TABLES)}
    answer, numbers = page.locator(".workbench-answer").inner_text(), page.evaluate(_NUMBERS)
    page.evaluate(_WATCH, "rest after each set, s")
    for _ in range(2):
        press(page, "ArrowLeft")
    page.wait_for_function(f"({_TABLES})() !== {first['tables']!r}")
    page.wait_for_selector(".workbench-answer >> text=75 → 45")
    assert page.evaluate(_MAP_TEXT) != first["map"]
    assert page.locator(".workbench-answer").inner_text() != answer
    page.wait_for_function(f"({_NUMBERS})() !== {numbers!r}")
    handle = page.locator(".noUi-handle[aria-label='rest after each set, s']")
    assert handle.get_attribute("aria-valuetext") == "45"

    page.get_by_role("button", name="undo for this group").click()
    page.wait_for_function(f"({_MAP_TEXT})() === {first['map']!r}")

    handle.focus()
    times = []
    for number in range(PRESSES):
        press(page, "ArrowRight" if (number // THERE_AND_BACK) % 2 == 0 else "ArrowLeft")
        times.append(page.evaluate("window.redraws.at(-1)"))
    late = statistics.quantiles(times, n=20)[-1]
    print(
        f"keydown to redrawn map: median {statistics.median(times):.0f} ms, 95 % within {late:.0f} ms, "
        f"slowest of {PRESSES} {max(times):.0f} ms"
    )
    assert statistics.median(times) < FROZEN_MS


def test_the_panel_fits_the_page(notebook: Any) -> None:
    for width in (1280, 1024, 820):
        notebook.set_viewport_size({"width": width, "height": 768})
        fits(notebook)


def fits(page: Any) -> None:
    """Check that nothing of the panel stands over its edge, is cut or clipped."""
    page.wait_for_function(
        """() => [...document.querySelectorAll(".workbench-panel .js-plotly-plot")].every(
             (plot) => {
               const more = plot.querySelector(".main-svg").clientWidth - plot.clientWidth;
               return Math.abs(more) <= 1 || (more > 0 && getComputedStyle(plot).overflowX === "auto");
             })""",
    )
    wide = page.evaluate(
        """() => {
          const panel = document.querySelector(".workbench-panel");
          const right = panel.getBoundingClientRect().right + 1;
          const parts = panel.querySelectorAll(".js-plotly-plot, .widget-hslider, .widget-dropdown, .widget-button");
          return [...parts].filter((one) => one.offsetParent && one.getBoundingClientRect().right > right)
            .map((one) => one.className);
        }"""
    )
    assert wide == []
    cut = page.evaluate(
        """() => [...document.querySelectorAll(".workbench-table .widget-html-content")]
             .filter((one) => one.scrollWidth > one.clientWidth + 1 && getComputedStyle(one).overflowX !== "auto")
             .map((one) => one.textContent.slice(0, 40))"""
    )
    assert cut == []
    clipped = page.evaluate(
        """() => [...document.querySelectorAll(".workbench-controls :is(.widget-label, .widget-readout)")]
             .filter((one) => one.offsetParent && one.scrollWidth > one.clientWidth + 1)
             .map((one) => one.textContent)"""
    )
    assert clipped == []


def test_after_a_reload_the_panel_comes_back_and_works(notebook: Any) -> None:
    page = notebook
    page.on("dialog", lambda dialog: dialog.accept())
    page.evaluate("window.jupyterapp.commands.execute('docmanager:save')")
    page.reload()
    page.wait_for_function(_IDLE)
    page.wait_for_selector(".workbench-panel .js-plotly-plot .main-svg")
    first = page.evaluate(_MAP_TEXT)
    page.locator(".noUi-handle[aria-label='rest after each set, s']").press("ArrowLeft")
    page.wait_for_function(f"({_MAP_TEXT})() !== {first!r}")
