"""The map of a block: sets down, weeks across, the chance that all reps are made as shade, reps in reserve as text."""

from __future__ import annotations

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from workbench.figures.style import BAND, MARK, SCALE, finish

__all__ = ["block_map", "reserve_bands"]

_ROW_PX = 27


def block_map(sets: pd.DataFrame, *, title: str = "Will every rep be made?") -> go.Figure:
    """Draw the week x set map of `workbench.questions.block_check.set_table`."""
    table = sets.assign(row=_row_labels(sets))
    rows = list(dict.fromkeys(table["row"]))
    weeks = sorted(table["week"].unique())
    chance = table.pivot_table(index="row", columns="week", values="chance", sort=False, dropna=False)
    chance = chance.reindex(index=rows, columns=weeks)
    text = table.assign(text=[_cell_text(row) for row in table.to_dict("records")])
    hover = table.assign(text=[_hover_text(row) for row in table.to_dict("records")])
    figure = go.Figure(
        go.Heatmap(
            z=chance.to_numpy(dtype=float),
            x=[f"week {week}" for week in weeks],
            y=rows,
            text=_grid(text, rows, weeks),
            texttemplate="%{text}",
            customdata=_grid(hover, rows, weeks),
            hovertemplate="%{customdata}<extra></extra>",
            colorscale=SCALE,
            zmin=0.0,
            zmax=1.0,
            xgap=2,
            ygap=2,
            colorbar={"title": {"text": "chance of<br>all reps"}, "tickformat": ".0%", "thickness": 14},
        )
    )
    finish(
        figure,
        title=title,
        x="",
        y="",
        height=150 + _ROW_PX * len(rows),
        legend=False,
        note="In each cell: chance that all reps are made, then reps in reserve (median). Sets to failure: reps (median).",
    )
    figure.update_yaxes(autorange="reversed", showgrid=False, tickfont={"size": 12})
    figure.update_xaxes(side="top", showgrid=False)
    figure.update_layout(title={"y": 0.99, "yanchor": "top"}, margin={"t": 84})
    figure.layout.annotations[0].yshift = -12
    return figure


def reserve_bands(weeks: pd.DataFrame, *, title: str = "Fewest reps in reserve, week by week") -> go.Figure:
    """Draw the band of the fewest reps in reserve over the weeks, from `week_table`."""
    whole = weeks[weeks["session"] == "whole week"]
    x = [f"week {week}" for week in whole["week"]]
    figure = go.Figure()
    figure.add_scatter(x=x, y=whole["reserve_high"], mode="lines", line={"width": 0}, showlegend=False, hoverinfo="skip")
    figure.add_scatter(
        x=x,
        y=whole["reserve_low"],
        mode="lines",
        line={"width": 0},
        fill="tonexty",
        fillcolor=BAND,
        name="middle 80 %",
        hoverinfo="skip",
    )
    figure.add_scatter(
        x=x,
        y=whole["reserve"],
        mode="lines+markers",
        line={"color": MARK},
        name="median",
        customdata=np.stack([whole["reserve_low"], whole["reserve_high"], whole["chance"]], axis=-1),
        hovertemplate="%{x}: %{y:.1f} reps in reserve (%{customdata[0]:.1f} to %{customdata[1]:.1f})"
        "<br>all reps of the week: %{customdata[2]:.0%}<extra></extra>",
    )
    figure.add_hline(y=0, line={"color": "#5c6670", "dash": "dot", "width": 1})
    return finish(
        figure,
        title=title,
        x="",
        y="reps in reserve",
        height=300,
        note="Below the dotted line reps are missed.",
    )


def _row_labels(sets: pd.DataFrame) -> list[str]:
    many = sets["session"].nunique() > 1
    return [
        (f"{row['session'].split(',')[0]}: " if many else "") + f"{row['exercise']}, {row['set']}"
        for row in sets.to_dict("records")
    ]


def _grid(table: pd.DataFrame, rows: list[str], weeks: list[int]) -> np.ndarray:
    cells = {(row["row"], row["week"]): row["text"] for row in table.to_dict("records")}
    return np.array([[cells.get((row, week), "") for week in weeks] for row in rows], dtype=object)


def _cell_text(row: dict[str, object]) -> str:
    if np.isinf(row["reps_high"]):  # type: ignore[call-overload]
        return f"{row['reps_p50']:.0f} reps"
    return f"{row['chance']:.0%} · {row['reserve']:.1f}"


def _hover_text(row: dict[str, object]) -> str:
    head = (
        f"<b>{row['exercise']}</b>, set {row['set']}, week {row['week']}<br>"
        f"{row['load_kg']:g} kg ({row['percent']:.1f} % of 1RM), rest before it {row['rest_s']:.0f} s<br>"
    )
    if np.isinf(row["reps_high"]):  # type: ignore[call-overload]
        return head + f"to failure: {row['reps_p50']:.0f} reps ({row['reps_p10']:.0f} to {row['reps_p90']:.0f})"
    reps = f"{row['reps_low']:.0f}" if row["reps_low"] == row["reps_high"] else f"{row['reps_low']:.0f} to {row['reps_high']:.0f}"
    return head + (
        f"{reps} reps: all made with chance {row['chance']:.0%}<br>"
        f"reps in reserve {row['reserve']:.1f} ({row['reserve_low']:.1f} to {row['reserve_high']:.1f})"
    )
