"""One look for all figures: fonts, margins, and colours that also read in grey and for colour-blind eyes."""

from __future__ import annotations

from typing import Final

import plotly.graph_objects as go

__all__ = ["BAND", "GRID", "INK", "LINES", "MARK", "QUIET", "SCALE", "finish", "in_words"]

INK: Final = "#22303c"
GRID: Final = "#dfe4e8"
#: Footnotes, limits and other things that should not draw the eye; still 4.5 to 1 on white.
QUIET: Final = "#5c6670"
#: The workbench's own prediction, and its 80 % band.
MARK: Final = "#1f5f8b"
BAND: Final = "rgba(31, 95, 139, 0.18)"
#: Rival lines, told apart by dash as well as by colour.
LINES: Final = (
    ("#8c5a2b", "dash"),
    ("#5b7f3a", "dot"),
    ("#7a4e8a", "dashdot"),
    ("#b0722a", "longdash"),
    ("#3f7f7a", "longdashdot"),
    ("#9b3f4d", "dash"),
    ("#5c6670", "dot"),
)
#: Chances from 0 to 1: pale for unlikely, dark for likely; monotone in lightness.
SCALE: Final = "Blues"

_AXIS: Final = {"gridcolor": GRID, "zeroline": False, "automargin": True}
#: Small on purpose: plotly's own templates are large, and copying one takes longer than simulating the block.
_TEMPLATE: Final = go.layout.Template(
    layout={
        "font": {"color": INK, "size": 13},
        "paper_bgcolor": "white",
        "plot_bgcolor": "white",
        "hoverlabel": {"align": "left"},
        "xaxis": _AXIS,
        "yaxis": _AXIS,
    }
)


def finish(
    figure: go.Figure, *, title: str, x: str, y: str, height: int = 420, legend: bool = True, note: str = ""
) -> go.Figure:
    """Apply the common look; ``note`` is a footnote with source and grade, its lines parted by ``<br>``."""
    lines = note.count("<br>") + 1 if note else 0
    layout: dict[str, object] = {
        "template": _TEMPLATE,
        "title": {"text": title, "font": {"size": 16}, "x": 0.0, "xanchor": "left", "xref": "paper"},
        "xaxis": {"title": {"text": x}},
        "yaxis": {"title": {"text": y}},
        "height": height,
        "margin": {"l": 70, "r": 20, "t": 56, "b": (56 if x else 30) + 16 * lines},
        "showlegend": legend,
        # Above the plot, so that a narrow page keeps its width for the plot.
        "legend": {
            "orientation": "h",
            "x": 0.0,
            "xanchor": "left",
            "y": 1.0,
            "yanchor": "bottom",
            "font": {"size": 12},
        },
    }
    if note:
        layout["annotations"] = [
            *figure.layout.annotations,
            {
                "text": note,
                "xref": "paper",
                "yref": "paper",
                "x": 0,
                "y": 0,
                "xanchor": "left",
                "yanchor": "top",
                "yshift": -48 if x else -24,
                "showarrow": False,
                "align": "left",
                "font": {"size": 11, "color": QUIET},
            },
        ]
    figure.update_layout(layout)
    return figure


def in_words(chance: float) -> str:
    """Return a chance as a percent; simulation cannot tell 100 % from nearly 100 %, so neither end is claimed.

    >>> in_words(0.9996), in_words(0.849), in_words(0.0)
    ('>99 %', '85 %', '<1 %')
    """
    if chance > 0.994:
        return ">99 %"
    return "<1 %" if chance < 0.006 else f"{100 * chance:.0f} %"
