"""A figure as plain data: checking each property, as plotly's own do, takes longer than simulating a block."""

from __future__ import annotations

import json
from base64 import b64encode
from collections.abc import Mapping
from datetime import date
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    import plotly.graph_objects as go

__all__ = ["Figure"]


class Figure:
    """What plotly is to draw, put together by the methods that plotly gives its own figures.

    Attributes
    ----------
    traces : list of dict
    look : dict
        Plotly's layout.
    data, layout
        The same as plotly's objects, to be read; `plotly` gives a figure that can be changed further.

    Examples
    --------
    >>> figure = Figure().add_scatter(x=[60, 70], y=[12, 8], name="reps").update_layout(title={"text": "Reps"})
    >>> figure.data[0].y, figure.layout.title.text
    ((12, 8), 'Reps')
    """

    def __init__(self) -> None:
        self.traces: list[dict[str, Any]] = []
        self.look: dict[str, Any] = {}

    def add_scatter(self, **trace: Any) -> Figure:
        """Draw points, a line, or words."""
        return self._add("scatter", trace)

    def add_bar(self, **trace: Any) -> Figure:
        """Draw bars."""
        return self._add("bar", trace)

    def add_heatmap(self, **trace: Any) -> Figure:
        """Draw a map of cells."""
        return self._add("heatmap", trace)

    def _add(self, kind: str, trace: Mapping[str, Any]) -> Figure:
        self.traces.append({"type": kind, **{name: value for name, value in trace.items() if value is not None}})
        return self

    def update_layout(self, **layout: Any) -> Figure:
        """Change what is named of the layout and leave the rest, inside its parts too."""
        self.look = _merged(self.look, layout)
        return self

    def update_xaxes(self, **axis: Any) -> Figure:
        """Change all horizontal axes."""
        return self._update_axes("xaxis", axis)

    def update_yaxes(self, **axis: Any) -> Figure:
        """Change all vertical axes."""
        return self._update_axes("yaxis", axis)

    def _update_axes(self, kind: str, axis: Mapping[str, Any]) -> Figure:
        names = [name for name in self.look if name.startswith(kind)] or [kind]
        return self.update_layout(**dict.fromkeys(names, axis))

    def add_shape(self, **shape: Any) -> Figure:
        """Draw a line or rectangle."""
        return self.update_layout(shapes=[*self.look.get("shapes", ()), shape])

    def add_annotation(self, **note: Any) -> Figure:
        """Write a note."""
        return self.update_layout(annotations=[*self.look.get("annotations", ()), note])

    def add_hline(self, y: float, line: Mapping[str, Any]) -> Figure:
        """Draw a line across the plot."""
        return self.add_shape(type="line", xref="x domain", x0=0, x1=1, yref="y", y0=y, y1=y, line=line)

    def add_vline(self, x: float, line: Mapping[str, Any]) -> Figure:
        """Draw a line from the bottom of the plot to its top."""
        return self.add_shape(type="line", xref="x", x0=x, x1=x, yref="y domain", y0=0, y1=1, line=line)

    def add_vband(self, x0: float, x1: float, fillcolor: str, number: str = "") -> Figure:
        """Shade a plot between two places, behind what is drawn; of several plots that of this number."""
        where = {"xref": f"x{number}", "x0": x0, "x1": x1, "yref": f"y{number} domain", "y0": 0, "y1": 1}
        return self.add_shape(type="rect", fillcolor=fillcolor, line={"width": 0}, layer="below", **where)

    def to_json(self) -> str:
        """Return the figure as plotly.js reads it: numbers of arrays as their bytes, and no number as null."""
        content = {"data": self.traces, "layout": self.look}
        try:
            return json.dumps(content, default=_plain, allow_nan=False)
        except ValueError:
            return json.dumps(json.loads(json.dumps(content, default=_plain), parse_constant=lambda _name: None))

    def plotly(self) -> go.Figure:
        """Return plotly's own figure, every property checked; ValueError where it knows none of that name or kind."""
        import plotly.graph_objects as go

        return go.Figure(self.traces, self.look)

    @property
    def data(self) -> tuple[Any, ...]:
        """The traces as plotly's objects."""
        return tuple(self.plotly().data)

    @property
    def layout(self) -> Any:
        """The layout as plotly's object."""
        return self.plotly().layout

    def _ipython_display_(self) -> None:
        self.plotly()._ipython_display_()


def _merged(before: Mapping[str, Any], change: Mapping[str, Any]) -> dict[str, Any]:
    both = {
        name: _merged(before[name], value)
        for name, value in change.items()
        if isinstance(value, Mapping) and isinstance(before.get(name), Mapping)
    }
    return {**before, **change, **both}


def _plain(value: Any) -> Any:
    """Return an array, a column or a number of numpy's as plotly.js reads it."""
    if isinstance(value, date):
        return value.isoformat()
    values = np.asarray(value)
    if values.dtype.kind == "M":
        return np.datetime_as_string(values, unit="s").tolist()
    if values.dtype.kind != "f" or not values.ndim:
        return values.tolist()
    shape = {"shape": ", ".join(map(str, values.shape))} if values.ndim > 1 else {}
    return {"dtype": "f8", "bdata": b64encode(values.astype("<f8").tobytes()).decode("ascii"), **shape}
