"""One look for all figures: fonts, margins, and colours that also read in grey and for colour-blind eyes."""

from __future__ import annotations

from typing import Final

import plotly.graph_objects as go

__all__ = ["BAND", "GRID", "INK", "LINES", "MARK", "SCALE", "finish"]

INK: Final = "#22303c"
GRID: Final = "#dfe4e8"
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


def finish(
    figure: go.Figure, *, title: str, x: str, y: str, height: int = 420, legend: bool = True, note: str = ""
) -> go.Figure:
    """Apply the common look; ``note`` is a footnote with source and grade."""
    figure.update_layout(
        title={"text": title, "font": {"size": 16}, "x": 0.0, "xanchor": "left", "xref": "paper"},
        xaxis_title=x,
        yaxis_title=y,
        height=height,
        template="plotly_white",
        font={"color": INK, "size": 13},
        margin={"l": 70, "r": 20, "t": 56, "b": 96 if note else 64},
        showlegend=legend,
        legend={"orientation": "v", "x": 1.01, "y": 1.0, "font": {"size": 12}},
        hoverlabel={"align": "left"},
    )
    figure.update_xaxes(gridcolor=GRID, zeroline=False, automargin=True)
    figure.update_yaxes(gridcolor=GRID, zeroline=False, automargin=True)
    if note:
        figure.add_annotation(
            text=note,
            xref="paper",
            yref="paper",
            x=0,
            y=0,
            xanchor="left",
            yanchor="top",
            yshift=-58,
            showarrow=False,
            align="left",
            font={"size": 11, "color": "#5c6670"},
        )
    return figure
