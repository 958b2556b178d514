"""The figure that panels show and draw again: whole in the page's state, so it is there whenever a page connects."""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import cache
from html import unescape
from pathlib import Path
from typing import TYPE_CHECKING, Any

import anywidget
import ipywidgets as widgets
import plotly
import traitlets

from workbench.figures.figure import Figure
from workbench.present.colours import dark_for_light

if TYPE_CHECKING:
    import plotly.graph_objects as go

__all__ = ["LiveFigure"]

_TAG = re.compile(r"<[^>]*>")


class _Plotly(widgets.Widget):  # type: ignore[misc]  # ipywidgets has no types
    """The source of plotly.js, as the installed plotly brings it, and the dark colours for the light ones."""

    source = traitlets.Bytes().tag(sync=True)
    dark = traitlets.Dict(dark_for_light()).tag(sync=True)


@cache
def _plotly() -> _Plotly:
    """Return the one copy that goes to the page."""
    return _Plotly(source=(Path(plotly.__file__).parent / "package_data" / "plotly.min.js").read_bytes())


class LiveFigure(anywidget.AnyWidget):
    """A figure as wide as its place, that can be drawn again where it is shown, with one message each time.

    Attributes
    ----------
    figure : str
        What is shown, as plotly's JSON; empty where nothing is.
    said : str
        What it shows, in words, for those who do not see it: its title and its notes.
    drawn : Figure
        The same as it was built.
    shown : plotly.graph_objects.Figure
        The same, every property checked.
    """

    _esm = Path(__file__).with_name("figure.js")

    figure = traitlets.Unicode().tag(sync=True)
    said = traitlets.Unicode().tag(sync=True)
    library = traitlets.Instance(widgets.Widget).tag(sync=True, **widgets.widget_serialization)

    def __init__(self) -> None:
        self.drawn = Figure()
        super().__init__(library=_plotly())

    @property
    def shown(self) -> go.Figure:
        """What is shown, as plotly's own figure."""
        return self.drawn.plotly()

    def draw(self, figure: Figure | None) -> None:
        """Show a figure in place of the one before; None, or one without traces, takes that away."""
        self.drawn = Figure() if figure is None else figure
        with self.hold_sync():
            self.figure = self.drawn.to_json() if self.drawn.traces else ""
            self.said = _in_words(self.drawn.look)


def _in_words(layout: Mapping[str, Any]) -> str:
    """Say title and notes of a figure without their marks."""
    texts = [layout.get("title", {}).get("text"), *(note["text"] for note in layout.get("annotations", ()))]
    plain = (" ".join(unescape(_TAG.sub(" ", text)).split()) for text in texts if text)
    return ". ".join(line.rstrip(".") for line in plain if line)
