"""Figures of session and block: every number has its unit on hover, and source or grade in a footnote."""

import re

import pytest

from workbench.answers.block_check import check_block
from workbench.answers.orders import compare_orders
from workbench.answers.session import session_question
from workbench.answers.volume import volume_question
from workbench.figures.session import muscle_loss_figure, order_figure, reserve_figure, timeline_figure
from workbench.figures.volume import block_chart, muscle_sets_figure, zones_figure
from workbench.gym.equipment import read_room
from workbench.lifter import read_lifter
from workbench.prescription.block import read_block
from workbench.reference.sources import claims, data_path, sources

UNITS = r"reps|minute|sets|lifts|kg|% of"


@pytest.fixture(scope="module")
def figures():
    demo = data_path("demo")
    block = read_block(demo / "block.toml")
    lifter = read_lifter(demo / "lifters" / "emre_sandoval.toml")
    room = read_room(demo / "rooms" / "boathouse_hall.toml")
    session = session_question(block, lifter, room, 2, draws=40, seed=1)
    volume = volume_question(check_block(block, lifter, room, draws=40, seed=1).outcome)
    orders = compare_orders(block, lifter, room, 2, (4, 3, 2, 1), draws=40, seed=1)
    return {
        "timeline": timeline_figure(session.timeline),
        "losses": muscle_loss_figure(session.muscles, claims()),
        "reserve": reserve_figure(session.sets, claims()),
        "orders": order_figure(orders, claims()),
        "muscles": muscle_sets_figure(volume.muscles, claims()),
        "zones": zones_figure(volume.zones, claims()),
        "weeks": block_chart(volume.weeks, lighter_weeks=(5,)),
    }


NAMES = ("timeline", "losses", "reserve", "orders", "muscles", "zones", "weeks")


@pytest.mark.parametrize("name", NAMES)
def test_every_trace_says_its_unit_on_hover(figures, name):
    for trace in figures[name].data:
        hover = trace.hovertemplate
        if "%{customdata}<" in hover:
            hover = str(trace.customdata)
        assert re.search(UNITS, hover), hover


@pytest.mark.parametrize("name", NAMES)
def test_every_figure_has_a_footnote_with_grade_or_source(figures, name):
    notes = " ".join(one.text for one in figures[name].layout.annotations).replace("<br>", " ")
    assert re.search("assumed|derived|published", notes), notes
    for key in re.findall(r"[a-z]+(?:_[a-z]+)*_\d{4}", notes):
        assert key in sources()


def test_the_timeline_draws_every_stretch_of_time(figures):
    drawn = sum(sum(trace.x) for trace in figures["timeline"].data)
    last = max(
        base + length for trace in figures["timeline"].data for base, length in zip(trace.base, trace.x, strict=True)
    )
    assert drawn == pytest.approx(last)
