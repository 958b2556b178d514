"""What a log taught: the load-reps curve before and after, and the 1RM through time."""

from __future__ import annotations

from html import escape

import pandas as pd
import plotly.graph_objects as go

from workbench.figures.style import BAND, INK, LINES, MARK, QUIET, finish

__all__ = ["before_and_after", "one_rm_through_time"]

_BEFORE = "rgba(140, 90, 43, 0.14)"
#: Endings of a set by marker: filled where it went to failure, open where more was left.
_MARKERS = (
    ("failed", "to failure", "diamond"),
    ("completed", "completed: at least these reps", "triangle-up-open"),
    ("stated", "reserve stated", "circle-open"),
    ("felt", "reserve stated", "circle-open"),
)


def before_and_after(curve: pd.DataFrame, sets: pd.DataFrame, *, exercise: str, note: str = "") -> go.Figure:
    """Draw `workbench.answers.learned.learned_curve` with the fresh sets of the log.

    Parameters
    ----------
    curve, sets : DataFrame
        From ``learned_curve`` and ``fresh_sets``.
    exercise : str
    note : str
        Footnote.
    """
    figure = go.Figure()
    dash, solid = LINES[0], (MARK, "solid")
    for name, words, band, (colour, line) in (
        ("before", "before the log", _BEFORE, dash),
        ("after", "after", BAND, solid),
    ):
        for level in ("p90", "p10"):
            figure.add_scatter(
                x=curve["load_kg"],
                y=curve[f"{name}_{level}"],
                mode="lines",
                line={"width": 0},
                fill="tonexty" if level == "p10" else None,
                fillcolor=band,
                showlegend=False,
                hoverinfo="skip",
            )
        figure.add_scatter(
            x=curve["load_kg"],
            y=curve[f"{name}_p50"],
            mode="lines",
            line={"color": colour, "dash": line, "width": 3},
            name=words,
            customdata=curve[["percent", f"{name}_p10", f"{name}_p90"]],
            hovertemplate="%{x:.1f} kg (%{customdata[0]:.0f} % of 1RM): %{y:.1f} reps "
            "(%{customdata[1]:.1f} to %{customdata[2]:.1f})<extra></extra>",
        )
    for ending, words, symbol in _MARKERS:
        shown = sets[sets["ending"] == ending]
        if shown.empty:
            continue
        figure.add_scatter(
            x=shown["load_kg"],
            y=shown["reps"],
            mode="markers",
            marker={"color": INK, "size": 9, "symbol": symbol, "line": {"width": 1.5}},
            name=words,
            text=shown["text"].map(escape),
            hovertemplate="%{text}<extra></extra>",
        )
    title = f"Reps to failure of a fresh set: {escape(exercise)}"
    finish(figure, title=title, x="load, kg", y="reps to failure", note=note)
    figure.update_layout(legend_traceorder="normal")
    figure.update_xaxes(autorange="reversed")
    figure.update_yaxes(rangemode="tozero")
    return figure


def one_rm_through_time(days: pd.DataFrame, *, exercise: str, believed: float, note: str = "") -> go.Figure:
    """Draw the usual 1RM with its band, and the strength of each day about it.

    Parameters
    ----------
    days : DataFrame
        Of `workbench.answers.surprises.find_surprises`, one exercise.
    exercise : str
    believed : float
        1RM of the lifter file, kg.
    note : str
        Footnote.
    """
    figure = go.Figure()
    for level in ("usual_high", "usual_low"):
        figure.add_scatter(
            x=days["date"],
            y=days[level],
            mode="lines",
            line={"width": 0},
            fill="tonexty" if level == "usual_low" else None,
            fillcolor=BAND,
            showlegend=False,
            hoverinfo="skip",
        )
    figure.add_scatter(
        x=days["date"],
        y=days["usual"],
        mode="lines",
        line={"color": MARK, "width": 3},
        name="usual 1RM, middle 80 %",
        customdata=days[["usual_low", "usual_high"]],
        hovertemplate="%{x|%d %b}: %{y:.1f} kg (%{customdata[0]:.1f} to %{customdata[1]:.1f})<extra></extra>",
    )
    figure.add_scatter(
        x=days["date"],
        y=days["day_kg"],
        mode="markers",
        marker={"color": INK, "size": 7, "symbol": "circle-open", "line": {"width": 1.5}},
        name="on that day",
        text=days["reading"].map(escape),
        hovertemplate="%{x|%d %b}: %{y:.1f} kg %{text}<extra></extra>",
    )
    figure.add_hline(y=believed, line={"color": QUIET, "dash": "dot", "width": 1.5})
    finish(
        figure,
        title=f"1RM through time: {escape(exercise)}",
        x="",
        y="kg",
        height=360,
        below=44,
        note=f"Dotted: the lifter file. {note}".strip(),
    )
    return figure
