"""What goes to the page when a person changes something: the picture first, then words; nothing twice."""

import asyncio
import random

import pandas as pd
import pytest
from ipywidgets import Accordion, Widget

from workbench.panels import BlockBuilder, BlockPanel, CurvePanel, DropPanel, SessionPanel
from workbench.panels.desk import demo_folder
from workbench.panels.figure import LiveFigure
from workbench.panels.frame import parts_of
from workbench.prescription.block import read_block
from workbench.prescription.edit import Where
from workbench.present.tables import rows_of


def heavier(panel):
    panel.change(Where(1, 1, 1), set_group={"percent": 71.0})


def move(find):
    """A slider one step to the right."""

    def moved(panel):
        slider = find(panel.controls)
        name = "index" if hasattr(slider, "options") else "value"
        setattr(slider, name, getattr(slider, name) + 1)

    return moved


#: A panel, what is done to it, and how many pictures follow.
CHANGES = {
    "curve": (CurvePanel, move(lambda controls: controls.load), 1),
    "block": (BlockPanel, move(lambda controls: controls.load.slider), 2),
    "drops": (DropPanel, move(lambda controls: controls.reps.slider), 1),
    "session": (SessionPanel, move(lambda controls: controls.week.slider), 3),
    "builder": (lambda draws: BlockBuilder(read_block(demo_folder() / "block.toml"), draws=draws), heavier, 1),
}


def sent_after(panel, change):
    """Parts of the answer that send something to the page after a change, in order."""
    sent = []

    async def by_hand():
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(Widget, "send_state", lambda widget, key=None: sent.append(widget))
            patch.setattr("workbench.panels.panel._REST_S", 0.0)
            change(panel)
            while panel._waiting is not None:
                await asyncio.sleep(0)

    asyncio.run(by_hand())
    answer = {part for shown in panel._parts for part in parts_of(shown)}
    return [widget for widget in sent if widget in answer]


@pytest.mark.parametrize("name", CHANGES)
def test_the_picture_comes_before_the_words_and_nothing_comes_twice(name):
    make, change, pictures = CHANGES[name]
    panel = make(draws=20)
    sent = sent_after(panel, change)
    assert isinstance(sent[0], LiveFigure)
    assert sum(isinstance(widget, LiveFigure) for widget in sent) == pictures
    assert len(set(sent)) == len(sent)
    assert panel.answer in sent


def shown(panel):
    """Pictures, words and tables of a block's panel."""
    words = (panel.answer, panel.week_rows, panel.set_rows)
    return [panel.map.figure, panel.bands.figure, *(place.value for place in words)]


@pytest.mark.parametrize("seed", range(2))
def test_presses_at_any_moment_end_with_picture_words_and_tables_of_the_last(seed, monkeypatch):
    monkeypatch.setattr("workbench.panels.panel._REST_S", 0.0)
    chance = random.Random(seed)
    panel, once = BlockPanel(draws=20), BlockPanel(draws=20)
    loads = [chance.choice([62.5, 70.0, 77.5, 85.0]) for _ in range(4)] + [80.0]
    for each in (panel, once):  # what is folded is read too
        for fold in (part for part in parts_of(each.root) if isinstance(part, Accordion)):
            fold.selected_index = 0

    async def by_hand():
        for load in loads:
            panel.controls.load.slider.value = load
            for _ in range(chance.randrange(12)):
                await asyncio.sleep(chance.choice([0, 0.002]))
        while panel._waiting is not None:
            await asyncio.sleep(0.001)

    asyncio.run(by_hand())
    before = shown(once)
    once.controls.load.slider.value = loads[-1]  # no loop runs: all of it is answered at once
    assert shown(panel) == shown(once)
    assert all(now != then for now, then in zip(shown(panel), before, strict=True))


def test_a_chain_of_drops_is_worked_out_where_it_changes_and_only_there():
    panel = DropPanel(draws=20)
    chain, drops = {panel.chain, panel.chain_rows}, {panel.figure, panel.rows}
    assert not chain & set(sent_after(panel, move(lambda controls: controls.reps.slider)))
    assert chain | drops <= set(sent_after(panel, move(lambda controls: controls.load)))
    of_chain = set(sent_after(panel, move(lambda controls: controls.drops[0].slider)))
    assert chain <= of_chain
    assert not drops & of_chain


def test_rows_are_those_of_pandas():
    when = pd.Timestamp("2026-01-05")
    table = pd.DataFrame(
        {"set": [1, 2], "kg": [60.0, float("inf")], "exercise": ["row", None], "made": [True, False], "on": 2 * [when]},
        index=[7, 9],
    )
    assert repr(rows_of(table)) == repr(table.to_dict("records"))
    assert [type(value) for value in rows_of(table)[0].values()] == [int, float, str, bool, pd.Timestamp]
    assert rows_of(table[:0]) == []
