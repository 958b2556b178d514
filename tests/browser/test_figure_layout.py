"""Figures in a real browser, as wide as a panel's column and as narrow as a phone: nothing lies over anything else."""

from __future__ import annotations

import base64
import json
from pathlib import Path
from typing import Any

import plotly
import pytest

from workbench.answers.block_check import check_block
from workbench.answers.compare import compare_blocks
from workbench.answers.session import session_question
from workbench.answers.volume import volume_question
from workbench.figures.block_map import block_map
from workbench.figures.compare import difference_bands
from workbench.figures.figure import Figure
from workbench.figures.session import muscle_loss_figure, reserve_figure, timeline_figure
from workbench.figures.volume import block_chart, muscle_sets_figure, zones_figure
from workbench.gym.equipment import read_room
from workbench.lifter import read_lifter
from workbench.panels.frame import look
from workbench.prescription.block import read_block
from workbench.prescription.schemes import SCHEMES, exercise_block
from workbench.reference.sources import claims, code_path, data_path

pytestmark = [pytest.mark.browser, pytest.mark.slow]

PLOTLY_JS = Path(plotly.__file__).parent / "package_data" / "plotly.min.js"

_BOXES = """(selector) => [...document.querySelectorAll(selector)].map((one) => {
  const { left, right, top, bottom } = one.getBoundingClientRect();
  return { left, right, top, bottom };
})"""


@pytest.fixture(scope="module")
def figures() -> dict[str, Figure]:
    demo = data_path("demo")
    block = read_block(demo / "block.toml")
    lifter = read_lifter(demo / "lifters" / "emre_sandoval.toml")
    room = read_room(demo / "rooms" / "boathouse_hall.toml")
    session = session_question(block, lifter, room, 2, draws=40, seed=1)
    check = check_block(block, lifter, room, draws=40, seed=1)
    volume = volume_question(check.outcome)
    schemes = {
        name: SCHEMES[name](percent=70, step=2, sets=5, reps=5, rest_s=150, weeks=4) for name in list(SCHEMES)[:4]
    }
    blocks = {name: exercise_block("barbell bench pull", one, weeks=4, days=(1, 4)) for name, one in schemes.items()}
    pairs = compare_blocks(blocks, lifter, room, outcomes=("lowest_reserve",), draws=40, seed=1).pairs
    return {
        "map": block_map(check.sets),
        "timeline": timeline_figure(session.timeline),
        "losses": muscle_loss_figure(session.muscles, claims()),
        "reserve": reserve_figure(session.sets, claims()),
        "muscles": muscle_sets_figure(volume.muscles, claims()),
        "zones": zones_figure(volume.zones, claims()),
        "weeks": block_chart(volume.weeks, lighter_weeks=(5,)),
        "differences": difference_bands(pairs),
    }


@pytest.fixture(scope="module")
def sheet(lasting_page: Any) -> Any:
    """A page on which figures are drawn, one after the other: the library that draws them is read once."""
    lasting_page.set_content("<!doctype html><body style='margin: 0'>")
    lasting_page.add_script_tag(path=PLOTLY_JS)
    return lasting_page


# As `plotly.io.to_html` draws a figure into a page.
_DRAW = """async ({ data, layout }) => {
  const place = document.createElement("div");
  place.style.width = "100%";
  document.body.replaceChildren(place);
  await Plotly.newPlot(place, data, layout, { responsive: true });
}"""


def draw(page: Any, figure: Figure, width: int) -> None:
    page.set_viewport_size({"width": width, "height": 900})
    page.evaluate(_DRAW, json.loads(figure.plotly().to_json()))
    page.wait_for_selector(".gtitle")


@pytest.mark.parametrize("width", [380, 520, 700])
@pytest.mark.parametrize("name", ["timeline", "reserve", "muscles", "zones", "weeks"])
def test_the_legend_lies_between_title_and_plot(sheet: Any, figures: dict[str, Figure], name: str, width: int) -> None:
    draw(sheet, figures[name], width)
    (title,), (legend,) = sheet.evaluate(_BOXES, ".gtitle"), sheet.evaluate(_BOXES, ".legend")
    plots = sheet.evaluate(_BOXES, ".nsewdrag")
    assert title["bottom"] <= legend["top"] + 1
    assert legend["bottom"] <= min(plot["top"] for plot in plots) + 1


@pytest.mark.parametrize("name", ["map", "timeline", "losses", "reserve", "muscles", "zones", "weeks", "differences"])
def test_footnotes_are_read_whole_in_a_column_beside_controls(
    sheet: Any, figures: dict[str, Figure], name: str
) -> None:
    width = 520
    draw(sheet, figures[name], width)
    notes = sheet.evaluate(_BOXES, ".annotation-text")
    assert notes
    assert max(note["right"] for note in notes) <= width
    height = figures[name].layout.height
    assert max(note["bottom"] for note in notes) <= height


# A panel's figure without a kernel: what the widget would hold, handed to the script that draws it.
_SHOW = """async ({ script, figure }) => {
  window.workbenchPlotly = Promise.resolve(Plotly);
  const el = document.createElement("div");
  document.querySelector(".workbench-panel").replaceChildren(el);
  const held = { figure, said: "a figure", library: "IPY_MODEL_library" };
  const model = { get: (name) => held[name], on() {}, off() {},
    widget_manager: { get_model: async () => ({ get: () => ({}) }) } };
  (await import(`data:text/javascript;base64,${script}`)).default.render({ model, el });
}"""


@pytest.mark.parametrize("width", [334, 700])  # a phone's column and a laptop's
def test_in_a_panel_title_and_footnote_stand_at_its_edge_read_whole_and_apart_from_the_picture(
    page: Any, figures: dict[str, Figure], width: int
) -> None:
    script = base64.b64encode((code_path() / "panels" / "figure.js").read_bytes()).decode()
    page.set_viewport_size({"width": width, "height": 900})
    page.set_content(
        f"<!doctype html><style>{look('panel.css')}</style><body style='margin: 0'><div class=workbench-panel>"
    )
    page.add_script_tag(path=PLOTLY_JS)
    for name, figure in figures.items():
        page.evaluate(_SHOW, {"script": script, "figure": figure.to_json()})
        page.wait_for_selector(".workbench-figure[role=img]")  # it is drawn to its end
        (title,), (note,), (plot,) = (
            page.evaluate(_BOXES, place)
            for place in (".workbench-figure-title", ".workbench-note", ".workbench-figure")
        )
        assert title["left"] == note["left"] == 8, name
        assert max(title["right"], note["right"]) <= width, name
        assert title["bottom"] <= plot["top"] + 1, name
        assert plot["bottom"] <= note["top"] + 1, name
        assert not page.locator(".gtitle").count(), name
        labels = page.evaluate(_BOXES, ".workbench-figure :is(.xtick, .xtitle, .ytick, .legend text)")
        inside = [box for box in labels if box["bottom"] > box["top"]]
        assert plot["top"] - 1 <= min(box["top"] for box in inside), name
        assert max(box["bottom"] for box in inside) <= plot["bottom"] + 1, name
