"""The load-reps curve of one lifter with its band, the published equations, and the lifter's own sets."""

from __future__ import annotations

import pandas as pd
import plotly.graph_objects as go

from workbench.figures.style import BAND, LINES, MARK, finish

__all__ = ["curve_figure"]


def curve_figure(
    curve: pd.DataFrame,
    equations: pd.DataFrame,
    at_load: pd.DataFrame,
    *,
    own_sets: pd.DataFrame | None = None,
    title: str = "Reps to failure of a fresh set",
    note: str = "",
) -> go.Figure:
    """Draw a `workbench.answers.curve.CurveAnswer`.

    ``own_sets``: columns percent, reps and text, one row a set of the lifter's own.
    """
    figure = go.Figure()
    figure.add_scatter(
        x=curve["percent"], y=curve["reps_p90"], mode="lines", line={"width": 0}, showlegend=False, hoverinfo="skip"
    )
    figure.add_scatter(
        x=curve["percent"],
        y=curve["reps_p10"],
        mode="lines",
        line={"width": 0},
        fill="tonexty",
        fillcolor=BAND,
        name="middle 80 %",
        hoverinfo="skip",
    )
    for name, part, dash in (
        ("this lifter", curve.where(curve["studied"]), "solid"),
        ("extrapolated", curve.where(~curve["studied"]), "dot"),
    ):
        figure.add_scatter(
            x=curve["percent"],
            y=part["reps_p50"],
            mode="lines",
            line={"color": MARK, "width": 3, "dash": dash},
            name=name,
            customdata=curve[["load_kg", "reps_p10", "reps_p90"]],
            hovertemplate="%{x:.0f} % of 1RM (%{customdata[0]:.1f} kg): %{y:.1f} reps "
            "(%{customdata[1]:.1f} to %{customdata[2]:.1f})<extra></extra>",
        )
    for (label, rows), (colour, dash) in zip(equations.groupby("equation", sort=False), LINES, strict=False):
        grade = rows["grade"].iloc[0]
        figure.add_scatter(
            x=rows["percent"],
            y=rows["reps"],
            mode="lines",
            line={"color": colour, "dash": dash, "width": 2},
            name=str(label),
            hovertemplate=f"{label} ({grade}): %{{y:.1f}} reps at %{{x:.0f}} %<extra></extra>",
        )
    if own_sets is not None and not own_sets.empty:
        figure.add_scatter(
            x=own_sets["percent"],
            y=own_sets["reps"],
            mode="markers",
            marker={"color": "#22303c", "size": 9, "symbol": "diamond-open", "line": {"width": 2}},
            name="own sets",
            text=own_sets["text"],
            hovertemplate="%{text}<extra></extra>",
        )
    row = at_load.iloc[0]
    figure.add_scatter(
        x=[row["percent"]],
        y=[row["reps_p50"]],
        mode="markers",
        marker={"color": MARK, "size": 12},
        error_y={
            "type": "data",
            "symmetric": False,
            "array": [row["reps_p90"] - row["reps_p50"]],
            "arrayminus": [row["reps_p50"] - row["reps_p10"]],
            "color": MARK,
        },
        name="chosen load",
        hovertemplate=f"{row['load_kg']:.1f} kg: {row['reps_p50']:.0f} whole reps "
        f"({row['reps_p10']:.0f} to {row['reps_p90']:.0f})<extra></extra>",
    )
    finish(figure, title=title, x="load, % of 1RM", y="reps to failure", note=note)
    # Inside, where few reps at heavy loads leave the corner empty: with several equations it would not fit above.
    corner = {"orientation": "v", "x": 0.01, "y": 0.99, "yanchor": "top", "yref": "paper"}
    look = {"traceorder": "normal", "font": {"size": 11}, "bgcolor": "rgba(255, 255, 255, 0.7)"}
    figure.update_layout(legend=corner | look, margin={"t": 48})
    figure.update_xaxes(range=[100.5, 39.5], dtick=10)
    figure.update_yaxes(range=[0, 45])
    return figure
