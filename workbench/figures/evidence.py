"""Observed beside predicted, with bands: how each model does on studies that it was not fitted on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from workbench.figures.figure import Figure
from workbench.figures.style import INK, LINES, MARK, QUIET, finish, spread
from workbench.present.colours import faint

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["left_out_figure", "percent_figure", "spread_figure"]

_ROW_PX = 17


def left_out_figure(rows: pd.DataFrame, *, title: str, unit: str, note: str = "") -> Figure:
    """Draw left-out predictions with their 80 % intervals, and what was observed, one line a published number.

    Parameters
    ----------
    rows : pandas.DataFrame
        Columns ``label``, ``observed``, ``predicted``, ``low``, ``high``; drawn from the top in this order.
    title, unit, note : str
    """
    labels = list(rows["label"])
    interval = {"thickness": 5, "width": 0, "color": faint("mark", 0.3)}
    figure = Figure()
    figure.add_scatter(
        x=rows["predicted"],
        y=labels,
        error_x=spread(rows["low"], rows["predicted"], rows["high"], **interval),
        mode="markers",
        marker={"color": MARK, "size": 8, "symbol": "line-ns-open"},
        name="predicted without the study, 80 % interval",
    )
    figure.add_scatter(
        x=rows["observed"],
        y=labels,
        mode="markers",
        marker={"color": INK, "size": 7, "symbol": "diamond"},
        name="observed",
    )
    finish(figure, title=title, x=unit, height=150 + _ROW_PX * len(labels), note=note)
    return figure.update_yaxes(range=[len(labels) - 0.5, -0.5], tickfont={"size": 11}, dtick=1)


def percent_figure(
    sets: Sequence[int],
    lines: Mapping[str, Sequence[float]],
    published: Mapping[str, Sequence[float]],
    *,
    note: str = "",
) -> Figure:
    """Draw the percent of the first set's reps left in later sets.

    Parameters
    ----------
    sets : sequence of int
    lines, published : dict of str to sequence of float
        Percent by set: for each model, and for each source of published numbers.
    note : str
    """
    figure = Figure()
    for (name, values), (color, dash) in zip(lines.items(), ((MARK, "solid"), *LINES), strict=False):
        look = {"color": color, "dash": dash, "width": 2.5}
        figure.add_scatter(x=sets, y=values, mode="lines", name=name, line=look)
    for name, values in published.items():
        look = {"color": INK, "size": 9, "symbol": "diamond"}
        figure.add_scatter(x=sets, y=values, mode="markers", name=name, marker=look)
    finish(figure, title="Reps left in later sets", x="set", y="percent of set 1", note=note)
    figure.update_yaxes(range=[0, 105])
    return figure.update_xaxes(dtick=1)


def spread_figure(rows: pd.DataFrame, *, note: str = "") -> Figure:
    """Draw the predicted against the published sd between people, one point a published sd, a line where they agree.

    Parameters
    ----------
    rows : pandas.DataFrame
        Columns ``source``; ``kind`` and ``load``, which tell families apart; ``published``, ``predicted`` [reps].
    note : str
    """
    figure = Figure()
    ends = [float(min(rows["published"].min(), rows["predicted"].min())), float(rows["published"].max())]
    figure.add_scatter(x=ends, y=ends, mode="lines", name="as published", line={"color": QUIET, "width": 1.5})
    looks = zip(((MARK, "solid"), *LINES), ("circle", "square", "diamond", "x", "cross", "star"), strict=False)
    families = rows["kind"] + ", " + rows["load"]
    for (family, some), ((color, _), symbol) in zip(rows.groupby(families, sort=False), looks, strict=False):
        figure.add_scatter(
            x=some["published"],
            y=some["predicted"],
            text=some["source"],
            mode="markers",
            name=str(family),
            marker={"color": color, "symbol": symbol, "size": 8},
        )
    title, x, y = "Spread between people, each study left out", "published sd, reps", "predicted sd, reps"
    finish(figure, title=title, x=x, y=y, height=520, note=note)
    return figure.update_xaxes(type="log", dtick="D2").update_yaxes(type="log", dtick="D2")
