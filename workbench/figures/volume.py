"""Weekly sets of each muscle beside the studied range, and lifts by zone of intensity."""

from __future__ import annotations

import pandas as pd
import plotly.graph_objects as go

from workbench.figures.style import BAND, INK, MARK, QUIET, finish
from workbench.present.words import percent_said

__all__ = ["muscle_sets_figure", "zones_figure"]

_ZONE_COLOURS = ("#dbe7f0", "#a9c6db", "#6f9fc2", "#356f9c", "#123f63", "#0b2b45")


def muscle_sets_figure(muscles: pd.DataFrame, *, week: int = 1, title: str = "") -> go.Figure:
    """Draw one week of the muscles of a `workbench.answers.volume.VolumeAnswer`."""
    rows = muscles[muscles["week"] == week].sort_values("fractional", ascending=True)
    figure = go.Figure()
    low, high = rows["range_low"].iloc[0], rows["range_high"].iloc[0]
    figure.add_vrect(x0=low, x1=high, fillcolor=BAND, line_width=0, layer="below")
    figure.add_bar(
        orientation="h",
        x=rows["direct"],
        y=rows["muscle"],
        name="direct sets",
        marker={"color": MARK},
        customdata=list(zip(rows["fractional"], rows["assumed_share"].map(percent_said), strict=True)),
        hovertemplate="%{y}: %{x:.1f} direct, %{customdata[0]:.1f} fractional sets a week<br>"
        "part of it from assumed shares: %{customdata[1]}<extra></extra>",
    )
    figure.add_bar(
        orientation="h",
        x=rows["fractional"] - rows["direct"],
        y=rows["muscle"],
        name="indirect, by share",
        marker={"color": "#a9c6db", "pattern": {"shape": "/", "size": 5, "fgcolor": MARK, "fillmode": "overlay"}},
        hovertemplate="%{y}: %{x:.1f} from indirect sets<extra></extra>",
    )
    figure.add_scatter(
        x=rows["hard"],
        y=rows["muscle"],
        mode="markers",
        name="hard sets",
        cliponaxis=False,
        marker={"color": "#f2c14e", "symbol": "diamond", "size": 10, "line": {"color": INK, "width": 1}},
        error_x={
            "type": "data",
            "symmetric": False,
            "array": rows["hard_high"] - rows["hard"],
            "arrayminus": rows["hard"] - rows["hard_low"],
            "color": INK,
            "thickness": 1.2,
        },
        customdata=rows[["hard_low", "hard_high"]],
        hovertemplate="%{y}: %{x:.1f} hard sets (%{customdata[0]:.1f} to %{customdata[1]:.1f})<extra></extra>",
    )
    finish(
        figure,
        title=title or f"Sets of each muscle, week {week}",
        x="fractional sets a week",
        y="",
        height=220 + 26 * len(rows),
        note=f"Band: {low:g} to {high:g} sets a week, what a review of trained young men suggests for growth "
        "(baz_valle_2022, published; it counted indirect sets whole). A range that was studied, not a promise. "
        "Indirect sets by share, half a set where nothing better is known (pelland_2024). Hard sets: near enough to "
        "failure by the chosen rule; middle 80 %.",
    )
    figure.update_layout(barmode="stack", legend={"traceorder": "normal"})
    figure.update_xaxes(range=[0, 1.08 * max(high, rows["fractional"].max(), rows["hard_high"].max())])
    figure.update_yaxes(showgrid=False, ticklabelstandoff=10)
    return figure


def zones_figure(zones: pd.DataFrame, *, title: str = "Lifts by zone of intensity") -> go.Figure:
    """Draw the zones of a `workbench.answers.volume.VolumeAnswer`, week by week."""
    figure = go.Figure()
    for (zone, rows), colour in zip(zones.groupby("zone", sort=False), _ZONE_COLOURS, strict=False):
        figure.add_bar(
            x=[f"week {week}" for week in rows["week"]],
            y=rows["lifts"],
            name=str(zone),
            marker={"color": colour, "line": {"color": QUIET, "width": 0.5}},
            hovertemplate="%{x}: %{y:.0f} lifts " + str(zone) + " of 1RM<extra></extra>",
        )
    finish(
        figure,
        title=title,
        x="",
        y="lifts (reps done)",
        height=364,
        note="Zones are plain tens of percent of the believed 1RM. Over many studies trained lifters gained most "
        "strength at a mean load near 80 %, untrained near 60 % (rhea_2003, published; methods criticised later).",
    )
    figure.update_layout(barmode="stack", legend={"traceorder": "normal"})
    return figure
