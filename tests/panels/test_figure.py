"""The figure that panels show: whole in the page's state, one message a redraw, and said in words."""

import json

import pytest

from workbench.figures.figure import Figure
from workbench.panels.figure import LiveFigure


def bars(heights, title="Reps &amp; sets"):
    figure = Figure().add_bar(x=["a", "b"], y=heights).update_layout(title={"text": f"<b>{title}</b>"})
    return figure.add_annotation(text="Bands:<br>middle 80 %.")


@pytest.fixture
def live():
    return LiveFigure()


def test_what_is_drawn_is_all_there_for_a_page_that_connects_later(live):
    live.draw(bars([1, 2]))
    state = live.get_state()
    shown = json.loads(state["figure"])
    assert shown["data"][0]["x"] == ["a", "b"]
    assert shown["layout"]["title"]["text"] == "<b>Reps &amp; sets</b>"
    assert list(live.shown.data[0].y) == [1, 2]


def test_a_figure_is_said_by_its_title_and_notes_without_marks(live):
    live.draw(bars([1, 2]))
    assert live.said == "Reps & sets. Bands: middle 80 %"


@pytest.mark.parametrize("nothing", [None, Figure(), Figure().update_layout(title={"text": "empty"})])
def test_nothing_takes_the_figure_before_away(live, nothing):
    live.draw(bars([1, 2]))
    live.draw(nothing)
    assert live.figure == ""
    assert len(live.shown.data) == 0


def test_without_a_figure_nothing_is_said(live):
    live.draw(bars([1, 2]))
    live.draw(None)
    assert live.said == ""


def test_a_redraw_is_one_message(live, monkeypatch):
    sent = []
    monkeypatch.setattr(live, "send_state", lambda key=None: sent.append(set(key)))
    live.draw(bars([1, 2]))
    assert len(sent) == 1
    live.draw(bars([1, 2], "another"))
    assert len(sent) == 2
    assert set(sent[1]) == {"figure", "said"}


def test_the_library_goes_to_the_page_once_for_all_figures(live):
    other = LiveFigure()
    assert other.library is live.library
    assert other.get_state()["library"] == f"IPY_MODEL_{live.library.model_id}"
    assert b"plotly.js v" in live.library.source[:200]
    # The source itself is no part of a figure.
    assert len(str(live.get_state())) < 20_000
