"""The loads that a room offers an exercise: where they lie, and how large the step to the next one is."""

from __future__ import annotations

import pandas as pd

from workbench.figures.figure import Figure
from workbench.figures.style import MARK, finish

__all__ = ["loads_figure"]


def loads_figure(loads: pd.DataFrame, *, exercise: str, unit: str, hands: int) -> Figure:
    """Draw the table of a `workbench.answers.room_loads.RoomLoads`."""
    figure = Figure()
    hand = " in each hand" if hands == 2 else ""
    figure.add_bar(
        x=loads["shown"],
        y=loads["step_percent"],
        marker={"color": MARK},
        customdata=loads[["said"]],
        hovertemplate="%{customdata[0]}<br>the next is %{y:.1f} % heavier<extra></extra>",
        name="step to the next load",
    )
    figure.add_scatter(
        x=loads["shown"],
        y=[0.0] * len(loads),
        mode="markers",
        marker={"color": MARK, "size": 5, "symbol": "line-ns-open"},
        customdata=loads[["said"]],
        hovertemplate="%{customdata[0]}<extra></extra>",
        name="a load that can be put on",
    )
    finish(
        figure,
        title=f"Which loads can {exercise} get here?",
        x=f"load{hand}, {unit}",
        y="step to the next, %",
        height=260,
        note="Every mark is a load that the room can make.",
    )
    return figure.update_xaxes(rangemode="tozero")
