"""One look for all figures: fonts, margins, colours."""

from __future__ import annotations

from collections.abc import Sequence
from textwrap import wrap
from typing import Any, Final

from workbench.figures.figure import Figure
from workbench.present.colours import FONT, colour, faint
from workbench.present.words import percent_said

__all__ = [
    "BAND",
    "GRID",
    "INK",
    "LINES",
    "MARK",
    "PAPER",
    "QUIET",
    "SCALE",
    "add_band",
    "finish",
    "percent_marks",
    "spread",
]

INK: Final = colour("ink")
PAPER: Final = colour("paper")
GRID: Final = colour("rule")
#: Footnotes, limits and other things that should not draw the eye; still 4.5 to 1 on white.
QUIET: Final = colour("quiet")
#: The workbench's own prediction, and its 80 % band.
MARK: Final = colour("mark")
BAND: Final = faint("mark", 0.18)
#: Rival lines, told apart by dash as well as by colour.
LINES: Final = (
    (colour("line-1"), "dash"),
    (colour("line-2"), "dot"),
    (colour("line-3"), "dashdot"),
    (colour("focus"), "longdash"),
    (colour("line-4"), "longdashdot"),
    (colour("trouble"), "dash"),
    (QUIET, "dot"),
)
#: Chances from 0 to 1: pale for unlikely, darker for likely; monotone in lightness, and never too dark for text in INK.
SCALE: Final = tuple((percent / 100, colour(f"scale-{percent}")) for percent in (0, 50, 85, 100))

#: Characters of a footnote that fit beside a column of controls.
_NOTE_WIDTH: Final = 72

#: From the left edge of a figure to its title and footnote.
_EDGE_PX: Final = 8
#: Room for the vertical axis; long labels take more.
_LEFT_PX: Final = 60
#: Height of the line with the title.
_TITLE_PX: Final = 34

_AXIS: Final = {"gridcolor": GRID, "zeroline": False, "automargin": True}
#: Small on purpose: it goes to the page with every figure.
_TEMPLATE: Final = {
    "layout": {
        "font": {"color": INK, "size": 13, "family": FONT},
        "paper_bgcolor": PAPER,
        "plot_bgcolor": PAPER,
        "hoverlabel": {"align": "left"},
        "xaxis": _AXIS,
        "yaxis": {**_AXIS, "ticklabelstandoff": 5},
    }
}


# Every figure is finished here, so this takes all that may differ between them.
def finish(
    figure: Figure,
    *,
    title: str,
    x: str = "",
    y: str = "",
    height: int = 420,
    legend: bool = True,
    note: str = "",
    below: int | None = None,
) -> Figure:
    """Apply the common look.

    Parameters
    ----------
    figure : Figure
        Changed in place.
    title, x, y : str
        Titles of the figure and its axes; an axis without one needs none.
    height : int
        [px], footnote included.
    legend : bool
        Whether to show the legend, above the plot.
    note : str
        Footnote with source and grade, beneath the plot; wrapped.
    below : int, optional
        Room for tick labels and the title of the horizontal axis, [px].

    Returns
    -------
    Figure
        The same figure.
    """
    lines = [line for part in note.split("<br>") for line in wrap(part, _note_width(figure))]
    ticks = below if below is not None else 54 if x else 26
    layout: dict[str, object] = {
        "template": _TEMPLATE,
        "title": {
            "text": title,
            "font": {"size": 16},
            "x": 0.0,
            "xanchor": "left",
            "xref": "container",
            "y": 1.0,
            "yanchor": "top",
            "yref": "container",
            "pad": {"l": _EDGE_PX, "t": 12},
        },
        "xaxis": {"title": {"text": x, "font": {"size": 13}, "standoff": 6}},
        "yaxis": {"title": {"text": y, "font": {"size": 13}}},
        "height": height,
        "margin": {"l": _LEFT_PX, "r": 14, "t": 66 if legend else 48, "b": ticks + 8 + 15 * len(lines)},
        "showlegend": legend,
        # Above the plot, so that a narrow page keeps its width for the plot; each line of it takes its height there.
        "legend": {
            "orientation": "h",
            "x": 0.0,
            "xanchor": "left",
            "y": 1.0 - _TITLE_PX / height,
            "yanchor": "top",
            "yref": "container",
        },
    }
    if lines:
        footnote = {
            "name": "footnote",
            "text": "<br>".join(lines),
            "xref": "paper",
            "yref": "paper",
            "x": 0,
            "y": 0,
            "xanchor": "left",
            "yanchor": "top",
            "xshift": _EDGE_PX - _LEFT_PX,
            "yshift": -ticks,
            "showarrow": False,
            "align": "left",
            "font": {"size": 11, "color": QUIET},
        }
        figure.add_annotation(**footnote)
    return figure.update_layout(**layout)


def add_band(figure: Figure, x: Any, low: Any, high: Any, *, name: str = "", color: str = BAND) -> None:
    """Fill between two lines; without a name the legend leaves it out."""
    edge = {"x": x, "mode": "lines", "line": {"width": 0}, "hoverinfo": "skip"}
    shown = {"name": name} if name else {"showlegend": False}
    figure.add_scatter(y=high, showlegend=False, **edge)
    figure.add_scatter(y=low, fill="tonexty", fillcolor=color, **shown, **edge)


def spread(low: Any, middle: Any, high: Any, **look: object) -> dict[str, object]:
    """Return the error bar from the lower to the upper end of what is drawn at its middle."""
    return {"type": "data", "symmetric": False, "array": high - middle, "arrayminus": middle - low, **look}


def percent_marks(step: int) -> dict[str, Sequence[float | str]]:
    """Return the marks of an axis of chances every ``step`` percent, said as everywhere else."""
    shares = [percent / 100 for percent in range(0, 101, step)]
    return {"tickvals": shares, "ticktext": [percent_said(share) for share in shares]}


def _note_width(figure: Figure) -> int:
    """Characters of a footnote that fit under the plot, which long labels at its left make narrower."""
    labels = (value for trace in figure.traces for value in trace.get("y", ()))
    longest = max((len(label) for label in labels if isinstance(label, str)), default=0)
    return max(40, _NOTE_WIDTH - max(0, longest - 14))
