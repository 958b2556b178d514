"""The block over its weeks: hard sets, lifts, tonnage, mean intensity and time, one above the other."""

from __future__ import annotations

import pandas as pd
import plotly.graph_objects as go
from plotly.subplots import make_subplots

from workbench.figures.style import BAND, MARK, finish
from workbench.gym.equipment.loads import Unit
from workbench.present.words import mass_in

__all__ = ["block_chart"]

_ROWS = (
    ("sets", "sets", "%{y:.0f} sets"),
    ("lifts", "lifts", "%{y:.0f} lifts"),
    ("tonnage", "tonnage, {unit}", "%{y:,.0f} {unit}"),
    ("intensity_percent", "mean % of 1RM", "%{y:.1f} % of 1RM, mean over lifts"),
    ("minutes", "minutes", "%{y:.0f} minutes"),
)


def block_chart(
    weeks: pd.DataFrame,
    *,
    unit: Unit = "kg",
    lighter_weeks: tuple[int, ...] = (),
    title: str = "The block over its weeks",
) -> go.Figure:
    """Draw the weeks of a `workbench.answers.volume.VolumeAnswer`; lighter weeks are shaded."""
    weeks = weeks.assign(tonnage=[mass_in(kg, unit) for kg in weeks["tonnage_kg"]])
    rows = [(column, label.replace("{unit}", unit), hover.replace("{unit}", unit)) for column, label, hover in _ROWS]
    figure = make_subplots(rows=len(_ROWS), cols=1, shared_xaxes=True, vertical_spacing=0.035)
    for number, (column, label, hover) in enumerate(rows, start=1):
        figure.add_scatter(
            row=number,
            col=1,
            x=weeks["week"],
            y=weeks[column],
            mode="lines+markers",
            line={"color": MARK},
            name=label,
            showlegend=False,
            hovertemplate="week %{x}: " + hover + "<extra></extra>",
        )
        figure.update_yaxes(rangemode="tozero", row=number, col=1)
    figure.add_scatter(
        row=1,
        col=1,
        x=weeks["week"],
        y=weeks["hard"],
        mode="lines+markers",
        line={"color": "#8c5a2b", "dash": "dash"},
        marker={"symbol": "diamond"},
        name="of these hard (middle 80 %)",
        error_y={
            "type": "data",
            "symmetric": False,
            "array": weeks["hard_high"] - weeks["hard"],
            "arrayminus": weeks["hard"] - weeks["hard_low"],
            "thickness": 1.2,
        },
        customdata=weeks[["hard_low", "hard_high"]],
        hovertemplate="week %{x}: %{y:.0f} hard sets (%{customdata[0]:.0f} to %{customdata[1]:.0f})<extra></extra>",
    )
    finish(
        figure,
        title=title,
        x="",
        y="",
        height=170 * len(_ROWS),
        below=56,
        note="Shaded: lighter weeks. Hard sets from the simulated days, by a rule that is assumed. Times to set up and "
        "for a rep are assumed. Ramp sets count in time only.",
    )
    for week in lighter_weeks:
        figure.add_vrect(x0=week - 0.5, x1=week + 0.5, fillcolor=BAND, line_width=0, layer="below")
    figure.update_xaxes(dtick=1)
    figure.update_xaxes(title={"text": "week", "font": {"size": 13}, "standoff": 6}, row=len(_ROWS), col=1)
    for number, (_, label, _) in enumerate(rows, start=1):
        figure.update_yaxes(title={"text": label, "font": {"size": 12}}, row=number, col=1)
    return figure
