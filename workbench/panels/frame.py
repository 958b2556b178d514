"""What stands in a panel and how it looks: rows, headings, small print, tables, figures; names for screen readers."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from pathlib import Path
from typing import Any

import anywidget
import ipywidgets as widgets
import plotly.graph_objects as go

__all__ = [
    "NameControls",
    "column",
    "control_style",
    "empty",
    "fields",
    "first_bold",
    "folded",
    "heading",
    "listed",
    "live",
    "quiet",
    "refresh",
    "row",
    "table_box",
    "wide",
]


class NameControls(anywidget.AnyWidget):
    """Invisible: gives the panel it stands in its look, and its controls their names."""

    _esm = Path(__file__).with_name("panel.js")
    _css = Path(__file__).with_name("panel.css")


def column(*children: widgets.Widget, flex: str = "1 1 auto") -> widgets.VBox:
    """Children one below the other, never wider than their place."""
    return widgets.VBox(list(children), layout=widgets.Layout(flex=flex, min_width="0", margin="0 12px 0 0"))


def row(*children: widgets.Widget) -> widgets.Box:
    """Children side by side, wrapped where the page is narrow."""
    return widgets.Box(list(children), layout=widgets.Layout(display="flex", flex_flow="row wrap"))


def fields(*children: widgets.Widget) -> widgets.Box:
    """Return fields in as many columns as there is room for; what is `wide` takes a line of its own."""
    box = widgets.Box(list(children), layout=widgets.Layout(width="100%"))
    box.add_class("workbench-fields")
    return box


def wide(widget: widgets.Widget) -> widgets.Widget:
    """Return a widget that takes the whole width among the controls."""
    widget.add_class("workbench-wide")
    return widget


def heading(text: str) -> widgets.HTML:
    """Return a line above the controls that follow."""
    return wide(widgets.HTML(f"<b>{escape(text)}</b>"))


def quiet(text: str = "") -> widgets.HTML:
    """Return a line in small print."""
    line = widgets.HTML(escape(text))
    line.add_class("workbench-quiet")
    return line


def table_box() -> widgets.HTML:
    """Return an empty place for a table, that scrolls sideways where the page is narrow."""
    box = widgets.HTML(layout=widgets.Layout(width="100%"))
    box.add_class("workbench-table")
    return box


def folded(title: str, part: widgets.Widget) -> widgets.Accordion:
    """Return a part that opens on a click, and stays as it is while what it holds changes."""
    return widgets.Accordion(children=[part], titles=(title,), selected_index=None)


def control_style(label_px: int = 72) -> dict[str, object]:
    """Keywords that give a control the width of its column; made anew for each, so that hiding one hides no other."""
    return {"style": {"description_width": f"{label_px}px"}, "layout": widgets.Layout(width="98%", max_width="440px")}


def listed(lines: Sequence[str], title: str = "") -> str:
    """Return sentences as a list in HTML."""
    head = f"<b>{escape(title)}</b>" if title else ""
    return f"{head}<ul>{''.join(f'<li>{escape(line)}</li>' for line in lines)}</ul>"


def first_bold(lines: Sequence[str]) -> str:
    """Return sentences as lines in HTML, the first one in bold."""
    first, *others = map(escape, lines)
    return "<br>".join([f"<b>{first}</b>", *others])


def live(figure: go.Figure | None = None) -> go.FigureWidget:
    """Return a figure that can be changed where it is shown: as wide as its place, without the tool bar."""
    widget = go.FigureWidget(figure)
    widget._config = {**(widget._config or {}), "displayModeBar": False, "responsive": True}
    widget.layout.autosize = True
    return widget


def refresh(widget: go.FigureWidget, figure: go.Figure) -> None:
    """Make a shown figure equal to a newly built one, sending only what differs.

    Parameters
    ----------
    widget : FigureWidget
        From `live`.
    figure : Figure
        Built by one of `workbench.figures`.
    """
    alike = [trace.type for trace in widget.data] == [trace.type for trace in figure.data]
    with widget.batch_update():
        if alike:
            for shown, new in zip(widget.data, figure.data, strict=True):
                _copy(shown, new)
        _copy(widget.layout, figure.layout, keep=("autosize",))
    if not alike:
        with widget.batch_update():
            widget.data = ()
            widget.add_traces(figure.data)
        # A figure that was empty when shown has taken a width of its own; said anew, it takes that of its place.
        widget.layout.autosize = False
        widget.layout.autosize = True


def _copy(shown: Any, new: Any, keep: tuple[str, ...] = ()) -> None:
    old, wanted = shown.to_plotly_json(), new.to_plotly_json()
    for key in old.keys() - wanted.keys() - {"type", "uid", *keep}:
        shown[key] = None
    for key, value in wanted.items():
        if key not in ("type", "uid", *keep) and not _same(old.get(key), value):
            shown[key] = value


def _same(one: Any, other: Any) -> bool:
    if hasattr(one, "dtype") or hasattr(other, "dtype"):
        return (
            getattr(one, "dtype", None) == getattr(other, "dtype", None)
            and one.shape == other.shape
            and one.tobytes() == other.tobytes()
        )
    if isinstance(one, dict) and isinstance(other, dict):
        return one.keys() == other.keys() and all(_same(one[key], other[key]) for key in one)
    if isinstance(one, list | tuple) and isinstance(other, list | tuple):
        return len(one) == len(other) and all(map(_same, one, other))
    return bool(one == other)


def empty(part: widgets.Widget, reason: str) -> None:
    """Empty one part of an answer, with all that stands in it; the sentence that answers becomes the reason."""
    if isinstance(part, widgets.HTML):
        part.value = reason if "workbench-answer" in part._dom_classes else ""
    elif isinstance(part, go.FigureWidget):
        refresh(part, _NO_FIGURE)
    elif isinstance(part, widgets.Box):
        if any(isinstance(child, widgets.Button) for child in part.children):  # buttons that act on the old answer
            part.children = ()
        for child in part.children:
            empty(child, reason)


#: What stands where there is no figure: as good as nothing, and no axes of the figure before.
_NO_FIGURE = go.Figure(
    layout={
        "height": 40,
        "margin": dict.fromkeys("lrtb", 0),
        "xaxis": {"visible": False},
        "yaxis": {"visible": False},
        "plot_bgcolor": "white",
    }
)
