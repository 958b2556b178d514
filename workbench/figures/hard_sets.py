"""Weekly sets for each muscle, beside the range that studies used."""

from __future__ import annotations

import pandas as pd
import plotly.graph_objects as go

from workbench.figures.style import GRID, MARK, QUIET, finish

__all__ = ["weekly_sets"]

_ROW_PX = 30


def weekly_sets(muscles: pd.DataFrame, *, title: str = "Sets a week for each muscle") -> go.Figure:
    """Draw the mean over the weeks of fractional and hard sets of each muscle.

    Parameters
    ----------
    muscles : DataFrame
        ``muscles`` of `workbench.questions.volume.VolumeAnswer`.
    title : str
    """
    mean = muscles.groupby("muscle", sort=False)[["fractional", "hard_low", "hard", "hard_high"]].mean()
    mean = mean.sort_values("fractional", kind="stable")
    low, high = float(muscles["range_low"].iloc[0]), float(muscles["range_high"].iloc[0])
    figure = go.Figure()
    figure.add_vrect(x0=low, x1=high, fillcolor=GRID, opacity=0.7, line_width=0, layer="below")
    figure.add_bar(
        x=mean["fractional"],
        y=mean.index,
        orientation="h",
        name="all sets",
        marker={"color": "rgba(31, 95, 139, 0.25)", "line": {"color": MARK, "width": 1}},
        hovertemplate="<b>%{y}</b>: %{x:.1f} sets a week<extra></extra>",
    )
    figure.add_scatter(
        x=mean["hard"],
        y=mean.index,
        mode="markers",
        name="hard sets, middle 80 %",
        marker={"color": MARK, "size": 9},
        error_x={
            "type": "data",
            "symmetric": False,
            "array": mean["hard_high"] - mean["hard"],
            "arrayminus": mean["hard"] - mean["hard_low"],
            "color": QUIET,
        },
        hovertemplate="<b>%{y}</b>: %{x:.1f} hard sets a week<extra></extra>",
    )
    finish(
        figure,
        title=title,
        x="fractional sets a week, mean of the weeks",
        y="",
        height=170 + _ROW_PX * len(mean),
        note=f"Direct sets count 1, indirect ones by their share. Grey: {low:g} to {high:g} sets a week, a range that "
        "studies of muscle growth call moderate; neither a goal nor a promise.",
    )
    figure.update_yaxes(type="category")
    return figure
