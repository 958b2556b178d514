"""The trade-off between how much a plan demands and how likely it is to be made."""

from __future__ import annotations

from html import escape
from typing import Final

import pandas as pd
import plotly.graph_objects as go

from workbench.figures.style import LINES, MARK, QUIET, finish, percent_marks
from workbench.present.words import amount, in_words

__all__ = ["trade_off"]

_SHOWN: Final = 1500


def trade_off(
    candidates: pd.DataFrame, front: pd.DataFrame, *, demand_label: str, limit: float | None, title: str = "Trade-off"
) -> go.Figure:
    """Draw demand against chance: every plan looked at, the front, and the plan that was found.

    Parameters
    ----------
    candidates : DataFrame
        Columns demand, chance, allowed, settings (text); one row a plan looked at.
    front : DataFrame
        The same columns and ``chosen``; rows of the front from least to most demanding.
    demand_label : str
    limit : float or None
        The coach's lowest chance.
    title : str
    """
    shown = candidates.head(_SHOWN)
    figure = go.Figure()
    for allowed, name, color in ((False, "breaks a limit", QUIET), (True, "within limits", LINES[1][0])):
        part = shown[shown["allowed"] == allowed]
        figure.add_scatter(
            x=part["demand"],
            y=part["chance"],
            mode="markers",
            name=name,
            marker={"color": color, "size": 5, "opacity": 0.5, "symbol": "circle" if allowed else "x-thin-open"},
            customdata=_words(part),
            hovertemplate="%{customdata}<extra></extra>",
        )
    figure.add_scatter(
        x=front["demand"],
        y=front["chance"],
        mode="lines+markers",
        name="front",
        line={"color": MARK},
        marker={"color": MARK, "size": 7},
        customdata=_words(front),
        hovertemplate="%{customdata}<extra></extra>",
    )
    chosen = front[front["chosen"].astype(bool)]  # a front of no plans has no truths
    figure.add_scatter(
        x=chosen["demand"],
        y=chosen["chance"],
        mode="markers",
        name="found",
        marker={"color": "white", "size": 15, "symbol": "diamond", "line": {"color": MARK, "width": 3}},
        customdata=_words(chosen),
        hovertemplate="%{customdata}<extra></extra>",
    )
    if limit is not None:
        figure.add_hline(y=limit, line={"color": LINES[5][0], "dash": "dash", "width": 1})
    finish(
        figure,
        title=title,
        x=escape(demand_label),
        y="chance that all reps are made",
        height=440,
        note="Each point is a plan on loads that the room has, met by the same simulated days. Along the front more "
        "can only be had for less chance.",
    )
    figure.update_yaxes(**percent_marks(5))
    figure.update_xaxes(tickformat=",")
    return figure


def _words(rows: pd.DataFrame) -> list[str]:
    return [
        f"{escape(str(row['settings']))}<br>demand {amount(row['demand'])}, chance {in_words(row['chance'])}"
        for row in rows.to_dict("records")
    ]
