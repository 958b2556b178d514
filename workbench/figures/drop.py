"""Reps after a drop, at every lighter load of the room, with the band; always marked as assumed."""

from __future__ import annotations

from collections.abc import Callable

import pandas as pd
import plotly.graph_objects as go

from workbench.figures.style import GRID, MARK, QUIET, finish
from workbench.present.words import in_words, say_load

__all__ = ["chain_figure", "drop_figure"]

_NOTE = "Assumed: no study that could be read reports reps per drop. A lifter's own logged drops narrow the bands."


def drop_figure(
    drops: pd.DataFrame,
    *,
    reps_wanted: int,
    fewest_reps: int,
    say: Callable[[float], str] = say_load,
    title: str = "Reps after the drop",
) -> go.Figure:
    """Draw the table of `workbench.answers.drop.drop_question`; ``say`` says a load as it is put on."""
    figure = go.Figure()
    for worth, name, colour in ((True, "worth it", MARK), (False, f"fewer than {fewest_reps} reps", "#9aa5ad")):
        rows = drops[drops["worth_it"] == worth]
        figure.add_scatter(
            x=rows["drop_percent"],
            y=rows["reps_p50"],
            mode="markers",
            marker={"color": colour, "size": 10, "symbol": "circle" if worth else "circle-open"},
            error_y={
                "type": "data",
                "symmetric": False,
                "array": rows["reps_p90"] - rows["reps_p50"],
                "arrayminus": rows["reps_p50"] - rows["reps_p10"],
                "color": colour,
                "thickness": 1.5,
            },
            name=name,
            customdata=[
                [say(row["load_kg"]), row["reps_p10"], row["reps_p90"], in_words(row["chance"])]
                for row in rows.to_dict("records")
            ],
            hovertemplate="%{customdata[0]}, a drop of %{x:.0f} %: %{y:.0f} reps "
            "(%{customdata[1]:.0f} to %{customdata[2]:.0f})<br>"
            f"{reps_wanted} reps or more: %{{customdata[3]}}<extra></extra>",
        )
    figure.add_hline(
        y=reps_wanted,
        line={"color": QUIET, "dash": "dot", "width": 1},
        annotation_text=f"wanted: {reps_wanted} reps",
        annotation_position="bottom right",
    )
    finish(figure, title=title, x="load taken off, %", y="whole reps after the drop", note=_NOTE)
    figure.update_xaxes(rangemode="tozero")
    figure.update_yaxes(rangemode="tozero")
    return figure


def chain_figure(
    chain: pd.DataFrame, *, say: Callable[[float], str] = say_load, title: str = "A set to failure and its drops"
) -> go.Figure:
    """Draw the table of `workbench.answers.drop.drop_chain_table`."""
    names = ["first set"] + [f"drop {number}" for number in range(1, len(chain))]
    labels = [f"{name}<br>{say(load)}" for name, load in zip(names, chain["load_kg"], strict=True)]
    figure = go.Figure(
        go.Bar(
            x=labels,
            y=chain["reps_p50"],
            marker={"color": [MARK] + ["#7fa3c0"] * (len(chain) - 1), "line": {"color": GRID}},
            error_y={
                "type": "data",
                "symmetric": False,
                "array": chain["reps_p90"] - chain["reps_p50"],
                "arrayminus": chain["reps_p50"] - chain["reps_p10"],
                "color": "#22303c",
            },
            text=[f"{reps:.0f}" for reps in chain["reps_p50"]],
            textposition="inside",
            insidetextanchor="start",
            customdata=chain[["reps_p10", "reps_p90"]],
            hovertemplate="%{y:.0f} reps (%{customdata[0]:.0f} to %{customdata[1]:.0f})<extra></extra>",
        )
    )
    return finish(figure, title=title, x="", y="whole reps", height=320, legend=False, note=_NOTE, below=46)
