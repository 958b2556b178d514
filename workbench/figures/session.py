"""One session: its timeline, the loss of each muscle as it builds up, reps in reserve, and order A against order B."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import cycle

import numpy as np
import pandas as pd

from workbench.figures.figure import Figure
from workbench.figures.style import INK, LINES, MARK, PAPER, QUIET, SCALE, finish, spread
from workbench.present.colours import colour
from workbench.present.tables import rows_of
from workbench.present.words import in_words, kind_said, load_said, reserve_said
from workbench.reference.sources import Claim

__all__ = ["muscle_loss_figure", "order_figure", "reserve_figure", "timeline_figure"]

#: Told apart by lightness and by pattern, so that grey print and colour-blind eyes can read them.
_KINDS = {
    "set up": (colour("setting-up"), ""),
    "ramp": (colour("ramp"), "/"),
    "work": (MARK, ""),
    "rest": (colour("resting"), ""),
    "change": (colour("changing"), "x"),
}
_ROW_PX = 34
#: What the name of a muscle needs a letter, and what a cell needs; a narrower place scrolls sideways.
_NAME_PX, _SET_PX = 7, 30


def timeline_figure(timeline: pd.DataFrame) -> Figure:
    """Draw the timeline of a `workbench.answers.session.SessionAnswer`."""
    figure = Figure()
    for kind, (color, pattern) in _KINDS.items():
        rows = timeline[timeline["kind"] == kind]
        if rows.empty:
            continue
        figure.add_bar(
            orientation="h",
            base=rows["start_min"],
            x=rows["end_min"] - rows["start_min"],
            y=rows["exercise"],
            name=kind_said(kind),
            marker={
                "color": color,
                "line": {"color": PAPER if kind == "work" else QUIET, "width": 0.5},
                "pattern": {"shape": pattern, "size": 5, "fgcolor": INK},
            },
            customdata=rows[["what", "start_min", "end_min"]],
            hovertemplate="%{y}<br>%{customdata[0]}<br>"
            "minute %{customdata[1]:.1f} to %{customdata[2]:.1f}<extra></extra>",
        )
    finish(
        figure,
        title="The session, minute by minute",
        x="minutes from the start",
        height=190 + _ROW_PX * timeline["exercise"].nunique(),
        note="Predicted from usual times to set up and for a rep (assumed) and the rests of the plan.",
    )
    figure.update_layout(barmode="overlay", bargap=0.25)
    figure.update_yaxes(autorange="reversed", showgrid=False)
    return figure.update_xaxes(rangemode="tozero")


def muscle_loss_figure(muscles: pd.DataFrame, claims: Mapping[str, Claim]) -> Figure:
    """Draw the loss per muscle of a `workbench.answers.session.SessionAnswer`, one column a set in order of time."""
    table = muscles.assign(column=muscles["exercise"] + ", " + muscles["set"])
    columns = list(dict.fromkeys(table.sort_values("end_min", kind="stable")["column"]))
    rows = list(dict.fromkeys(table["muscle"]))
    values = ["low", "lost", "high"]
    by_cell = table.pivot_table(index="muscle", columns="column", values=values, sort=False)
    side_by_side = by_cell.reindex(index=rows, columns=pd.MultiIndex.from_product([values, columns])).to_numpy()
    low, lost, high = np.split(side_by_side, len(values), axis=1)
    texts = [
        [
            f"{muscle}, right after {column}<br>a set led by it would lose {lost[i, j]:.0f} % of its reps "
            f"({low[i, j]:.0f} to {high[i, j]:.0f} %)"
            for j, column in enumerate(columns)
        ]
        for i, muscle in enumerate(rows)
    ]
    figure = Figure().add_heatmap(
        z=lost,
        x=columns,
        y=rows,
        text=[[f"{value:.0f}" for value in line] for line in lost],
        texttemplate="%{text}",
        customdata=texts,
        hovertemplate="%{customdata}<extra></extra>",
        colorscale=SCALE,
        zmin=0.0,
        zmax=70.0,
        xgap=2,
        ygap=2,
        showscale=False,  # every cell says its own number
    )
    slanted = 30 + round(4.5 * max(len(column) for column in columns))  # px that the longest label needs
    finish(
        figure,
        title="Loss of each muscle as it builds up, % of its reps",
        height=90 + 26 * len(rows) + slanted,
        legend=False,
        below=slanted,
        note="Percent of its fresh reps that a set led by the muscle would lose right after the set named below "
        f"(median). Muscle shares mostly assumed. {claims['carry-over']}.",
    )
    figure.update_layout(meta={"least_width": _NAME_PX * max(map(len, rows), default=0) + _SET_PX * len(columns)})
    figure.update_xaxes(tickangle=-40, showgrid=False, tickfont={"size": 11})
    return figure.update_yaxes(autorange="reversed", showgrid=False)


def reserve_figure(sets: pd.DataFrame, claims: Mapping[str, Claim]) -> Figure:
    """Draw reps in reserve of the sets of a session over its minutes; sets to failure have none to show."""
    table = sets.dropna(subset=["reserve"])
    ends = ("reserve_low", "reserve", "reserve_high")
    figure = Figure()
    for (exercise, rows), (color, dash) in zip(table.groupby("exercise", sort=False), cycle(LINES), strict=False):
        figure.add_scatter(
            x=rows["start_min"],
            y=rows["reserve"],
            mode="markers+lines",
            line={"color": color, "dash": dash},
            name=str(exercise),
            error_y=spread(*(rows[end] for end in ends), thickness=1.2),
            customdata=[
                (row["set"], load_said(row), reserve_said(*(row[end] for end in ends)), in_words(row["chance"]))
                for row in rows_of(rows)
            ],
            hovertemplate="set %{customdata[0]}, %{customdata[1]}: reps in reserve %{customdata[2]}<br>"
            "all reps made: %{customdata[3]}<extra>%{fullData.name}</extra>",
        )
    figure.add_hline(y=0, line={"color": QUIET, "dash": "dot", "width": 1})
    return finish(
        figure,
        title="Reps in reserve, set by set",
        x="minutes from the start",
        y="reps in reserve",
        height=340,
        note=f"Median and middle 80 % of the simulated days. {claims['reps in reserve']}. Below the dotted line reps "
        "are missed.",
    )


def order_figure(orders: pd.DataFrame, claims: Mapping[str, Claim]) -> Figure:
    """Draw the table of `workbench.answers.orders.compare_orders`."""
    rows = orders[orders["exercise"] != "whole session"]
    figure = Figure().add_bar(
        orientation="h",
        x=rows["reps"],
        y=rows["exercise"],
        marker={"color": MARK},
        error_x=spread(rows["reps_low"], rows["reps"], rows["reps_high"], color=INK, thickness=1.5),
        customdata=rows[["place_a", "place_b", "reps_low", "reps_high"]],
        hovertemplate="%{y}: place %{customdata[0]} to %{customdata[1]}<br>%{x:+.1f} reps a set "
        "(%{customdata[2]:+.1f} to %{customdata[3]:+.1f})<extra></extra>",
    )
    figure.add_vline(x=0, line={"color": QUIET, "width": 1})
    finish(
        figure,
        title="The other order: reps gained or lost",
        x="reps a set, new order minus present order",
        height=170 + _ROW_PX * len(rows),
        legend=False,
        note=f"Same simulated lifters and days in both orders; middle 80 %. {claims['carry-over']}.",
    )
    return figure.update_yaxes(autorange="reversed", showgrid=False)
