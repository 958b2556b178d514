"""Volume and intensity: the block over its weeks, weekly sets of each muscle, lifts by zone of intensity."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

import pandas as pd

from workbench.figures.figure import Figure
from workbench.figures.style import BAND, INK, MARK, QUIET, finish, spread
from workbench.present.colours import colour
from workbench.present.words import mass_in, percent_said
from workbench.quantities import Unit
from workbench.reference.sources import Claim

__all__ = ["block_chart", "muscle_sets_figure", "zones_figure"]

_ZONE_COLORS = tuple(colour(f"zone-{number}") for number in range(1, 7))
_MEASURES = (
    ("sets", "sets", "%{y:.0f} sets"),
    ("lifts", "lifts", "%{y:.0f} lifts"),
    ("tonnage", "tonnage, {unit}", "%{y:,.0f} {unit}"),
    ("intensity_percent", "mean % of 1RM", "%{y:.1f} % of 1RM, mean over lifts"),
    ("minutes", "minutes", "%{y:.0f} minutes"),
)

#: Between plots one above the other, as a part of their height together.
_GAP: Final = 0.035


def block_chart(weeks: pd.DataFrame, *, unit: Unit = "kg", lighter_weeks: tuple[int, ...] = ()) -> Figure:
    """Draw the weeks of a `workbench.answers.volume.VolumeAnswer`; lighter weeks are shaded."""
    weeks = weeks.assign(tonnage=[mass_in(kg, unit) for kg in weeks["tonnage_kg"]])
    measures = [[text.replace("{unit}", unit) for text in measure] for measure in _MEASURES]
    plots = ["", *map(str, range(2, len(measures) + 1))]  # as plotly numbers its axes
    figure = Figure().update_layout(**_one_above_the_other(plots))
    for plot, (column, label, hover) in zip(plots, measures, strict=True):
        figure.add_scatter(
            xaxis=f"x{plot}",
            yaxis=f"y{plot}",
            x=weeks["week"],
            y=weeks[column],
            mode="lines+markers",
            line={"color": MARK},
            name=label,
            showlegend=False,
            hovertemplate="week %{x}: " + hover + "<extra></extra>",
        )
    figure.add_scatter(
        x=weeks["week"],
        y=weeks["hard"],
        mode="lines+markers",
        line={"color": colour("line-1"), "dash": "dash"},
        marker={"symbol": "diamond"},
        name="of these hard (middle 80 %)",
        error_y=spread(weeks["hard_low"], weeks["hard"], weeks["hard_high"], thickness=1.2),
        customdata=weeks[["hard_low", "hard_high"]],
        hovertemplate="week %{x}: %{y:.0f} hard sets (%{customdata[0]:.0f} to %{customdata[1]:.0f})<extra></extra>",
    )
    finish(
        figure,
        title="The block over its weeks",
        height=170 * len(measures),
        below=56,
        note="Shaded: lighter weeks. Hard sets from the simulated days, by a rule that is assumed. Times to set up and "
        "for a rep are assumed. Ramp sets count in time only.",
    )
    for week in lighter_weeks:
        for plot in plots:
            figure.add_vband(week - 0.5, week + 0.5, BAND, plot)
    figure.update_xaxes(dtick=1)
    figure.update_yaxes(rangemode="tozero", tickformat=",")
    bottom = {f"xaxis{plots[-1]}": {"title": {"text": "week", "font": {"size": 13}, "standoff": 6}}}
    titles = {
        f"yaxis{plot}": {"title": {"text": label, "font": {"size": 12}, "standoff": 6}}
        for plot, (_, label, _) in zip(plots, measures, strict=True)
    }
    return figure.update_layout(**bottom, **titles)


def _one_above_the_other(plots: Sequence[str]) -> dict[str, dict[str, Any]]:
    """Return the axes of plots that share their horizontal axis, which is marked below the last."""
    height = (1 + _GAP) / len(plots) - _GAP
    axes: dict[str, dict[str, Any]] = {}
    for above, plot in enumerate(plots):
        bottom = (len(plots) - 1 - above) * (height + _GAP)
        shared = {} if plot == plots[-1] else {"matches": f"x{plots[-1]}", "showticklabels": False}
        axes[f"xaxis{plot}"] = {"anchor": f"y{plot}", "domain": [0.0, 1.0], **shared}
        axes[f"yaxis{plot}"] = {"anchor": f"x{plot}", "domain": [bottom, bottom + height]}
    return axes


def muscle_sets_figure(muscles: pd.DataFrame, claims: Mapping[str, Claim], *, week: int = 1, title: str = "") -> Figure:
    """Draw one week of the muscles of a `workbench.answers.volume.VolumeAnswer`, beside the studied range."""
    rows = muscles[muscles["week"] == week].sort_values("fractional", ascending=True)
    figure = Figure()
    low, high = rows["range_low"].iloc[0], rows["range_high"].iloc[0]
    figure.add_vband(low, high, BAND)
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
        marker={
            "color": colour("zone-2"),
            "pattern": {"shape": "/", "size": 5, "fgcolor": MARK, "fillmode": "overlay"},
        },
        hovertemplate="%{y}: %{x:.1f} from indirect sets<extra></extra>",
    )
    figure.add_scatter(
        x=rows["hard"],
        y=rows["muscle"],
        mode="markers",
        name="hard sets",
        cliponaxis=False,
        marker={"color": colour("hard"), "symbol": "diamond", "size": 10, "line": {"color": INK, "width": 1}},
        error_x=spread(rows["hard_low"], rows["hard"], rows["hard_high"], color=INK, thickness=1.2),
        customdata=rows[["hard_low", "hard_high"]],
        hovertemplate="%{y}: %{x:.1f} hard sets (%{customdata[0]:.1f} to %{customdata[1]:.1f})<extra></extra>",
    )
    finish(
        figure,
        title=title or f"Sets of each muscle, week {week}",
        x="fractional sets a week",
        height=220 + 26 * len(rows),
        note=f"Band: {low:g} to {high:g} sets a week, {claims['studied range']}. A range that was studied, not a "
        f"promise. Indirect sets by share, {claims['indirect sets']}. Hard sets: near enough to failure by the chosen "
        "rule; middle 80 %.",
    )
    figure.update_layout(barmode="stack", legend={"traceorder": "normal"})
    figure.update_xaxes(range=[0, 1.08 * max(high, rows["fractional"].max(), rows["hard_high"].max())])
    return figure.update_yaxes(showgrid=False, ticklabelstandoff=10)


def zones_figure(zones: pd.DataFrame, claims: Mapping[str, Claim]) -> Figure:
    """Draw the zones of a `workbench.answers.volume.VolumeAnswer`, week by week."""
    figure = Figure()
    for (zone, rows), color in zip(zones.groupby("zone", sort=False), _ZONE_COLORS, strict=False):
        figure.add_bar(
            x=[f"week {week}" for week in rows["week"]],
            y=rows["lifts"],
            name=str(zone),
            marker={"color": color, "line": {"color": QUIET, "width": 0.5}},
            hovertemplate="%{x}: %{y:.0f} lifts " + str(zone) + " of 1RM<extra></extra>",
        )
    note = f"Zones are plain tens of percent of the believed 1RM. {claims['zones']}."
    finish(figure, title="Lifts by zone of intensity", y="lifts (reps done)", height=364, note=note)
    return figure.update_layout(barmode="stack", legend={"traceorder": "normal"})
