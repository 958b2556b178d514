"""Reps after a drop, at every lighter load of the room, with the band; always marked as assumed."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import pandas as pd

from workbench.figures.figure import Figure
from workbench.figures.style import GRID, INK, MARK, QUIET, finish, spread
from workbench.present.colours import colour
from workbench.present.tables import rows_of
from workbench.present.words import in_words, say_load
from workbench.reference.sources import Claim

__all__ = ["chain_figure", "drop_figure"]


def drop_figure(
    drops: pd.DataFrame,
    claims: Mapping[str, Claim],
    *,
    reps_wanted: int,
    fewest_reps: int,
    say: Callable[[float], str] = say_load,
    title: str = "Reps after the drop",
) -> Figure:
    """Draw the table of `workbench.answers.drop.drop_question`; ``say`` says a load as it is put on."""
    figure = Figure()
    for worth, name, color in ((True, "worth it", MARK), (False, f"fewer than {fewest_reps} reps", colour("lesser"))):
        rows = drops[drops["worth_it"] == worth]
        figure.add_scatter(
            x=rows["drop_percent"],
            y=rows["reps_p50"],
            mode="markers",
            marker={"color": color, "size": 10, "symbol": "circle" if worth else "circle-open"},
            error_y=spread(rows["reps_p10"], rows["reps_p50"], rows["reps_p90"], color=color, thickness=1.5),
            name=name,
            customdata=[
                [say(row["load_kg"]), row["reps_p10"], row["reps_p90"], in_words(row["chance"])]
                for row in rows_of(rows)
            ],
            hovertemplate="%{customdata[0]}, a drop of %{x:.0f} %: %{y:.0f} reps "
            "(%{customdata[1]:.0f} to %{customdata[2]:.0f})<br>"
            f"{reps_wanted} reps or more: %{{customdata[3]}}<extra></extra>",
        )
    figure.add_hline(y=reps_wanted, line={"color": QUIET, "dash": "dot", "width": 1})
    figure.add_annotation(
        text=f"wanted: {reps_wanted} reps",
        xref="x domain",
        x=0,  # where drops are small and reps few
        xanchor="left",
        yref="y",
        y=reps_wanted,
        yanchor="bottom",
        showarrow=False,
    )
    finish(figure, title=title, x="load taken off, %", y="whole reps after the drop", note=_note(claims))
    return figure.update_xaxes(rangemode="tozero").update_yaxes(rangemode="tozero")


def chain_figure(chain: pd.DataFrame, claims: Mapping[str, Claim], *, say: Callable[[float], str] = say_load) -> Figure:
    """Draw the table of `workbench.answers.drop.drop_chain_table`."""
    names = ["first set"] + [f"drop {number}" for number in range(1, len(chain))]
    figure = Figure().add_bar(
        x=[f"{name}<br>{say(load)}" for name, load in zip(names, chain["load_kg"], strict=True)],
        y=chain["reps_p50"],
        marker={"color": [MARK] + [colour("chained")] * (len(chain) - 1), "line": {"color": GRID}},
        error_y=spread(chain["reps_p10"], chain["reps_p50"], chain["reps_p90"], color=INK),
        text=[f"{reps:.0f}" for reps in chain["reps_p50"]],
        textposition="inside",
        insidetextanchor="start",
        customdata=chain[["reps_p10", "reps_p90"]],
        hovertemplate="%{y:.0f} reps (%{customdata[0]:.0f} to %{customdata[1]:.0f})<extra></extra>",
    )
    title = "A set to failure and its drops"
    return finish(figure, title=title, y="whole reps", height=320, legend=False, note=_note(claims), below=46)


def _note(claims: Mapping[str, Claim]) -> str:
    return f"{claims['drops']}. A lifter's own logged drops narrow the bands."
