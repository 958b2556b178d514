"""Observed beside predicted, with bands: how each model does on studies that it was not fitted on."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import plotly.graph_objects as go

from workbench.figures.style import INK, LINES, MARK, finish

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["left_out_figure", "percent_figure", "scores_figure"]

#: Height of one row of the figure, px.
_ROW = 17


def left_out_figure(rows: pd.DataFrame, *, title: str, unit: str, note: str = "") -> go.Figure:
    """Draw left-out predictions with their 80 % intervals, and what was observed, one line a published number.

    Parameters
    ----------
    rows : pandas.DataFrame
        Columns ``label``, ``observed``, ``predicted``, ``low``, ``high``; drawn from the top in this order.
    title, unit, note : str
    """
    labels = list(rows["label"])
    figure = go.Figure()
    figure.add_trace(
        go.Scatter(
            x=rows["predicted"],
            y=labels,
            error_x={
                "type": "data",
                "symmetric": False,
                "array": rows["high"] - rows["predicted"],
                "arrayminus": rows["predicted"] - rows["low"],
                "thickness": 5,
                "width": 0,
                "color": "rgba(31, 95, 139, 0.30)",
            },
            mode="markers",
            marker={"color": MARK, "size": 8, "symbol": "line-ns-open"},
            name="predicted without the study, 80 % interval",
        )
    )
    figure.add_trace(
        go.Scatter(
            x=rows["observed"],
            y=labels,
            mode="markers",
            marker={"color": INK, "size": 7, "symbol": "diamond"},
            name="observed",
        )
    )
    finish(figure, title=title, x=unit, y="", height=150 + _ROW * len(labels), note=note)
    figure.update_yaxes(range=[len(labels) - 0.5, -0.5], tickfont={"size": 11}, dtick=1)
    return figure


def percent_figure(sets: Any, lines: dict[str, Any], published: Any, *, note: str = "") -> go.Figure:
    """Draw the percent of the first set's reps left in later sets: published, and by model.

    Parameters
    ----------
    sets : sequence of int
    lines : dict of str to sequence of float
        Percent by set, for each model.
    published : sequence of float
    note : str
    """
    figure = go.Figure()
    for (name, values), (colour, dash) in zip(lines.items(), ((MARK, "solid"), *LINES), strict=False):
        figure.add_trace(
            go.Scatter(x=sets, y=values, mode="lines", name=name, line={"color": colour, "dash": dash, "width": 2.5})
        )
    figure.add_trace(
        go.Scatter(
            x=sets,
            y=published,
            mode="markers",
            name="29 studies",
            marker={"color": INK, "size": 9, "symbol": "diamond"},
        )
    )
    finish(figure, title="Reps left in later sets", x="set", y="percent of set 1", note=note)
    figure.update_yaxes(range=[0, 105])
    figure.update_xaxes(dtick=1)
    return figure


def scores_figure(table: pd.DataFrame, *, family: str, unit: str, note: str = "") -> go.Figure:
    """Draw the left-out error of each model on one family of data.

    Parameters
    ----------
    table : pandas.DataFrame
        Columns ``model``, ``family``, ``rmse``.
    family, unit, note : str
    """
    some = table[table["family"] == family].sort_values("rmse")
    figure = go.Figure(
        go.Bar(
            x=some["rmse"],
            y=some["model"],
            orientation="h",
            marker={"color": MARK},
            text=[f"{value:.2f}" for value in some["rmse"]],
            textposition="auto",
        )
    )
    finish(
        figure,
        title=f"Left-out error: {family}",
        x=f"root mean square error, {unit}",
        y="",
        height=140 + 34 * len(some),
        legend=False,
        note=note,
    )
    figure.update_yaxes(autorange="reversed")
    return figure
