"""Side by side: schemes and their difference on the same days, plans of a search, the lifters of a roster."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from typing import Final

import pandas as pd

from workbench.figures.figure import Figure
from workbench.figures.style import LINES, MARK, QUIET, finish, percent_marks
from workbench.present.colours import faint
from workbench.present.words import amount, in_words, mean_and_band

__all__ = ["difference_bands", "roster_chances", "scheme_bands", "trade_off"]

_ROW_PX: Final = 36
#: What a letter of a name needs, and the plot beside the names; a narrower place scrolls sideways.
_LETTER_PX: Final = 7
_PLOT_PX: Final = 240
_ROSTER_ROW_PX: Final = 26
#: What stays free on either side of the bands, as a share of their reach.
_BESIDE: Final = 0.05
#: More names than this cannot be read; the rest stands in the table.
_MOST_LIFTERS: Final = 40
_MOST_PLANS: Final = 1500


def scheme_bands(schemes: pd.DataFrame) -> Figure:
    """Draw the mean and the middle 80 % of one outcome for each scheme.

    Parameters
    ----------
    schemes : DataFrame
        Rows of `workbench.answers.compare.Comparison.ordered`: one outcome, first row on top.
    """
    unit = schemes["unit"].iloc[0]
    share = unit == "1"
    words = [
        f"mean {in_words(row['mean'])}"
        if share
        else _mean_said(mean_and_band(row["mean"], row["p10"], row["p90"]), unit)
        for row in schemes.to_dict("records")
    ]
    labels = [escape(name) for name in schemes["scheme"]]
    figure = _bands(labels, schemes["mean"], None if share else (schemes["p10"], schemes["p90"]), words)
    finish(
        figure,
        title=_title(schemes),
        x="chance" if share else escape(str(unit)),
        height=130 + _ROW_PX * len(schemes),
        legend=False,
        note="" if share else "Point: mean. Band: middle 80 % of the simulated runs.",
    )
    if share:
        figure.update_xaxes(range=[-0.02, 1.02], **percent_marks(20))
    return figure


def difference_bands(pairs: pd.DataFrame) -> Figure:
    """Draw the paired differences of one outcome with their middle 80 % on the same days.

    Parameters
    ----------
    pairs : DataFrame
        Rows of `workbench.answers.compare.Comparison.pairs` for one outcome.
    """
    rows = pairs.to_dict("records")
    words = [
        _mean_said(mean_and_band(row["difference"], row["p10"], row["p90"], signed=True), row["unit"])
        + f"<br>higher in {in_words(row['chance_a'])} of runs, lower in {in_words(row['chance_b'])}"
        for row in rows
    ]
    labels = [f"{escape(row['a'])}<br>minus {escape(row['b'])}" for row in rows]  # two lines leave the plot its width
    figure = _bands(labels, pairs["difference"], (pairs["p10"], pairs["p90"]), words, also=0.0)
    figure.add_vline(x=0, line={"color": QUIET, "dash": "dot", "width": 1})
    return finish(
        figure,
        title=f"{_title(pairs)}: difference on the same days",
        x=escape(str(rows[0]["unit"])),
        height=150 + _ROW_PX * len(rows),
        legend=False,
        note="Band: middle 80 % of the differences between runs on the same lifter and days; dotted: no difference.",
    )


def _mean_said(mean_and_ends: tuple[str, str], unit: str) -> str:
    mean, ends = mean_and_ends
    return f"mean {mean} {unit}<br>middle 80 %: {ends}"


def _title(rows: pd.DataFrame) -> str:
    text = escape(str(rows["label"].iloc[0]))
    return text[:1].upper() + text[1:]


def _bands(
    labels: Sequence[str],
    middle: pd.Series,
    ends: tuple[pd.Series, pd.Series] | None,
    words: Sequence[str],
    also: float | None = None,
) -> Figure:
    """Draw a point on each line, with a band from end to end where there is one; the first line on top.

    Bands end before the plot does, so that none looks cut; ``also`` is a place that the plot shows, too.
    """
    figure = Figure()
    if ends is not None:
        places = [*middle, *ends[0], *ends[1], *([] if also is None else [also])]
        low, high = min(places), max(places)
        beside = _BESIDE * (high - low) or 1.0
        figure.update_xaxes(range=[low - beside, high + beside])
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
    longest = max(len(line) for label in labels for line in label.split("<br>"))
    figure.update_layout(meta={"least_width": _LETTER_PX * longest + _PLOT_PX})
    return figure.update_yaxes(autorange="reversed", type="category")


def trade_off(candidates: pd.DataFrame, front: pd.DataFrame, *, demand_label: str, limit: float | None) -> Figure:
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
    """
    shown = candidates.head(_MOST_PLANS)
    allowed = shown["allowed"].astype(bool)
    chosen = front[front["chosen"].astype(bool)]  # a front of no plans has no truths
    small = {"size": 5, "opacity": 0.5}
    found = {"color": "white", "size": 15, "symbol": "diamond", "line": {"color": MARK, "width": 3}}
    figure = Figure()
    for name, plans, marker in (
        ("breaks a limit", shown[~allowed], {"color": QUIET, "symbol": "x-thin-open", **small}),
        ("within limits", shown[allowed], {"color": LINES[1][0], "symbol": "circle", **small}),
        ("front", front, {"color": MARK, "size": 7}),
        ("found", chosen, found),
    ):
        figure.add_scatter(
            x=plans["demand"],
            y=plans["chance"],
            mode="lines+markers" if name == "front" else "markers",
            name=name,
            line={"color": MARK} if name == "front" else None,
            marker=marker,
            customdata=[
                f"{escape(str(row['settings']))}<br>demand {amount(row['demand'])}, chance {in_words(row['chance'])}"
                for row in plans.to_dict("records")
            ],
            hovertemplate="%{customdata}<extra></extra>",
        )
    if limit is not None:
        figure.add_hline(y=limit, line={"color": LINES[5][0], "dash": "dash", "width": 1})
    finish(
        figure,
        title="Trade-off",
        x=escape(demand_label),
        y="chance that all reps are made",
        height=440,
        note="Each point is a plan on loads that the room has, met by the same simulated days. Along the front more "
        "can only be had for less chance.",
    )
    figure.update_yaxes(**percent_marks(5))
    return figure.update_xaxes(tickformat=",")


def roster_chances(team: pd.DataFrame, *, limit: float) -> Figure:
    """Draw each lifter's least likely set against the coach's limit, the least likely lifter on top.

    Parameters
    ----------
    team : DataFrame
        From `workbench.answers.team.team_check`; rows without an answer are left out.
    limit : float
        Lowest accepted chance of a set, 0 to 1.
    """
    rows = team[team["lowest_chance"].notna()].sort_values("lowest_chance", kind="stable").head(_MOST_LIFTERS)
    words = [
        f"all reps of the block: {in_words(row['chance_of_block'])}<br>"
        f"least likely set: {in_words(row['lowest_chance'])}"
        + (f"<br>{escape(str(row['first_break']))}" if row["first_break"] else "")
        for row in rows.to_dict("records")
    ]
    colors = [MARK if chance >= limit else faint("mark", 0.25) for chance in rows["lowest_chance"]]
    figure = Figure().add_bar(
        x=rows["lowest_chance"],
        y=[escape(name) for name in rows["lifter"]],
        orientation="h",
        marker={"color": colors, "line": {"color": MARK, "width": 1}},
        customdata=words,
        hovertemplate="<b>%{y}</b><br>%{customdata}<extra></extra>",
    )
    figure.add_vline(x=limit, line={"color": LINES[5][0], "dash": "dash", "width": 2})
    left_out = len(team) - len(rows)
    finish(
        figure,
        title="Who will make every rep?",
        x="chance that the least likely set is made",
        height=130 + _ROSTER_ROW_PX * len(rows),
        legend=False,
        note="Dashed: the coach's limit. Pale bars fall short of it."
        + (f" {left_out} more stand in the table only." if left_out else ""),
    )
    figure.update_yaxes(autorange="reversed", type="category")
    return figure.update_xaxes(range=[0, 1.02], **percent_marks(20))
