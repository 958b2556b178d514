"""What goes to the page when a person moves a slider: the picture first, then words; nothing twice."""

import asyncio

import pandas as pd
import pytest
from ipywidgets import Widget

from workbench.panels import BlockPanel, CurvePanel, DropPanel, SessionPanel
from workbench.panels.figure import LiveFigure
from workbench.present.tables import records

#: A panel, the control that is moved, and how many pictures follow it.
MOVED = {
    CurvePanel: (lambda panel: panel.controls.load, 1),
    BlockPanel: (lambda panel: panel.controls.load.slider, 2),
    DropPanel: (lambda panel: panel.controls.reps.slider, 1),
    SessionPanel: (lambda panel: panel.controls.week.slider, 3),
}


def messages_of_a_move(panel, control):
    """Widgets that send something to the page after a control was moved, in order."""
    sent = []

    async def by_hand():
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(Widget, "send_state", lambda widget, key=None: sent.append(widget))
            name = "index" if hasattr(control, "options") else "value"
            setattr(control, name, getattr(control, name) + 1)
            while panel._waiting is not None:
                await asyncio.sleep(0)

    asyncio.run(by_hand())
    return [widget for widget in sent if widget not in (control, panel.root)]


@pytest.mark.parametrize("kind", MOVED)
def test_the_picture_comes_before_the_words_and_nothing_comes_twice(kind):
    panel = kind(draws=20)
    find, pictures = MOVED[kind]
    sent = messages_of_a_move(panel, find(panel))
    assert isinstance(sent[0], LiveFigure)
    assert sum(isinstance(widget, LiveFigure) for widget in sent) == pictures
    assert len(set(sent)) == len(sent)
    assert panel.answer in sent


def test_a_drop_is_wanted_anew_without_working_out_the_chain_again():
    panel = DropPanel(draws=20)
    reps, load = panel.controls.reps.slider, panel.controls.load
    assert not {panel.chain, panel.chain_rows} & set(messages_of_a_move(panel, reps))
    assert {panel.chain, panel.chain_rows} <= set(messages_of_a_move(panel, load))
    sent = messages_of_a_move(panel, panel.controls.drops[0].slider)
    assert {panel.chain, panel.chain_rows} <= set(sent)
    assert not {panel.figure, panel.rows} & set(sent)


def test_rows_are_those_of_pandas():
    when = pd.Timestamp("2026-01-05")
    table = pd.DataFrame(
        {
            "set": [1, 2],
            "kg": [60.0, float("inf")],
            "exercise": ["row", None],
            "made": [True, False],
            "on": [when, when],
        },
        index=[7, 9],
    )
    assert repr(records(table)) == repr(table.to_dict("records"))
    assert [type(value) for value in records(table)[0].values()] == [int, float, str, bool, pd.Timestamp]
    assert records(table[:0]) == []
