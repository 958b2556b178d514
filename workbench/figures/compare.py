"""Schemes side by side: what each comes to, and their difference on the same days."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from typing import Final

import pandas as pd
import plotly.graph_objects as go

from workbench.figures.style import MARK, QUIET, finish, percent_marks
from workbench.present.words import amount, in_words

__all__ = ["difference_bands", "scheme_bands"]

_ROW_PX: Final = 34


def scheme_bands(schemes: pd.DataFrame, *, title: str = "") -> go.Figure:
    """Draw the mean and the middle 80 % of one outcome for each scheme.

    Parameters
    ----------
    schemes : DataFrame
        Rows of `workbench.answers.compare.Comparison.ordered`: one outcome, first row on top.
    title : str
        The outcome's own label where not given.
    """
    first = schemes.iloc[0]
    share = first["unit"] == "1"
    labels = [escape(name) for name in schemes["scheme"]]
    words = [
        f"mean {in_words(row['mean'])}"
        if share
        else f"mean {amount(row['mean'])} {row['unit']}<br>middle 80 %: {amount(row['p10'])} to {amount(row['p90'])}"
        for row in schemes.to_dict("records")
    ]
    figure = _bands(labels, schemes["mean"], None if share else (schemes["p10"], schemes["p90"]), words)
    finish(
        figure,
        title=title or _title(first["label"]),
        x="chance" if share else escape(str(first["unit"])),
        y="",
        height=130 + _ROW_PX * len(labels),
        legend=False,
        note="" if share else "Point: mean. Band: middle 80 % of the simulated runs.",
    )
    figure.update_yaxes(autorange="reversed", type="category")
    if share:
        figure.update_xaxes(range=[-0.02, 1.02], **percent_marks(20))
    return figure


def difference_bands(pairs: pd.DataFrame, *, title: str = "") -> go.Figure:
    """Draw the paired differences of one outcome with their middle 80 % on the same days.

    Parameters
    ----------
    pairs : DataFrame
        Rows of `workbench.answers.compare.Comparison.pairs` for one outcome.
    title : str
        The outcome's own label where not given.
    """
    first = pairs.iloc[0]
    labels = [f"{escape(row['a'])} minus {escape(row['b'])}" for row in pairs.to_dict("records")]
    words = [
        f"mean {amount(row['difference'], signed=True)} {row['unit']}<br>middle 80 %: "
        f"{amount(row['p10'], signed=True)} to {amount(row['p90'], signed=True)}<br>"
        f"higher in {in_words(row['chance_a'])} of runs, lower in {in_words(row['chance_b'])}"
        for row in pairs.to_dict("records")
    ]
    figure = _bands(labels, pairs["difference"], (pairs["p10"], pairs["p90"]), words)
    figure.add_vline(x=0, line={"color": QUIET, "dash": "dot", "width": 1})
    finish(
        figure,
        title=title or f"{_title(first['label'])}: difference on the same days",
        x=escape(str(first["unit"])),
        y="",
        height=150 + _ROW_PX * len(labels),
        legend=False,
        note="Band: middle 80 % of the differences between runs on the same lifter and days; dotted: no difference.",
    )
    figure.update_yaxes(autorange="reversed", type="category")
    return figure


def _title(label: object) -> str:
    text = escape(str(label))
    return text[:1].upper() + text[1:]


def _bands(
    labels: Sequence[str], middle: pd.Series, ends: tuple[pd.Series, pd.Series] | None, words: Sequence[str]
) -> go.Figure:
    """Draw a point on each line, with a band from end to end where there is one."""
    figure = go.Figure()
    if ends is not None:
        for label, low, high in zip(labels, *ends, strict=True):
            figure.add_scatter(
                x=[low, high],
                y=[label, label],
                mode="lines",
                line={"color": MARK, "width": 6},
                opacity=0.35,
                hoverinfo="skip",
            )
    figure.add_scatter(
        x=middle,
        y=labels,
        mode="markers",
        marker={"color": MARK, "size": 11, "line": {"color": "white", "width": 1}},
        customdata=words,
        hovertemplate="<b>%{y}</b><br>%{customdata}<extra></extra>",
    )
    return figure
