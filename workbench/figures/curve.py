"""The load-reps curve of one lifter: beside published equations, before and after a log; and the 1RM through time."""

from __future__ import annotations

from html import escape

import pandas as pd

from workbench.figures.figure import Figure
from workbench.figures.style import BAND, INK, LINES, MARK, QUIET, add_band, finish, spread
from workbench.present.colours import faint

__all__ = ["before_and_after", "curve_figure", "one_rm_through_time"]

_BEFORE = faint("line-1", 0.14)
#: Endings of a set by marker: filled where it went to failure, open where more was left.
_MARKERS = (
    ("failed", "to failure", "diamond"),
    ("completed", "completed: at least these reps", "triangle-up-open"),
    ("stated", "reserve stated", "circle-open"),
    ("felt", "reserve stated", "circle-open"),
)


def curve_figure(
    curve: pd.DataFrame,
    equations: pd.DataFrame,
    at_load: pd.DataFrame,
    *,
    own_sets: pd.DataFrame | None = None,
    title: str = "Reps to failure of a fresh set",
    note: str = "",
) -> Figure:
    """Draw a `workbench.answers.curve.CurveAnswer`.

    ``own_sets``: columns percent, reps and text, one row a set of the lifter's own.
    """
    figure = Figure()
    add_band(figure, curve["percent"], curve["reps_p10"], curve["reps_p90"], name="middle 80 %")
    for name, part, dash in (
        ("this lifter", curve.where(curve["studied"]), "solid"),
        ("extrapolated", curve.where(~curve["studied"]), "dot"),
    ):
        figure.add_scatter(
            x=curve["percent"],
            y=part["reps_p50"],
            mode="lines",
            line={"color": MARK, "width": 3, "dash": dash},
            name=name,
            customdata=curve[["load_kg", "reps_p10", "reps_p90"]],
            hovertemplate="%{x:.0f} % of 1RM (%{customdata[0]:.1f} kg): %{y:.1f} reps "
            "(%{customdata[1]:.1f} to %{customdata[2]:.1f})<extra></extra>",
        )
    _add_equations(figure, equations)
    if own_sets is not None and not own_sets.empty:
        figure.add_scatter(
            x=own_sets["percent"],
            y=own_sets["reps"],
            mode="markers",
            marker={"color": INK, "size": 9, "symbol": "diamond-open", "line": {"width": 2}},
            name="own sets",
            text=own_sets["text"],
            hovertemplate="%{text}<extra></extra>",
        )
    row = at_load.iloc[0]
    figure.add_scatter(
        x=at_load["percent"],
        y=at_load["reps_p50"],
        mode="markers",
        marker={"color": MARK, "size": 12},
        error_y=spread(at_load["reps_p10"], at_load["reps_p50"], at_load["reps_p90"], color=MARK),
        name="chosen load",
        hovertemplate=f"{row['load_kg']:.1f} kg: {row['reps_p50']:.0f} whole reps "
        f"({row['reps_p10']:.0f} to {row['reps_p90']:.0f})<extra></extra>",
    )
    finish(figure, title=title, x="load, % of 1RM", y="reps to failure", note=note)
    # Inside, where few reps at heavy loads leave the corner empty: with several equations it would not fit above.
    corner = {"orientation": "v", "x": 0.01, "y": 0.99, "yanchor": "top", "yref": "paper"}
    look = {"traceorder": "normal", "font": {"size": 11}, "bgcolor": faint("paper", 0.7)}
    figure.update_layout(legend=corner | look, margin={"t": 48})
    figure.update_xaxes(range=[100.5, 39.5], dtick=10)
    return figure.update_yaxes(range=[0, 45])


def _add_equations(figure: Figure, equations: pd.DataFrame) -> None:
    for (label, rows), (color, dash) in zip(equations.groupby("equation", sort=False), LINES, strict=False):
        figure.add_scatter(
            x=rows["percent"],
            y=rows["reps"],
            mode="lines",
            line={"color": color, "dash": dash, "width": 2},
            name=str(label),
            hovertemplate=f"{label} ({rows['grade'].iloc[0]}): %{{y:.1f}} reps at %{{x:.0f}} %<extra></extra>",
        )


def before_and_after(curve: pd.DataFrame, sets: pd.DataFrame, *, exercise: str, note: str = "") -> Figure:
    """Draw ``learned_curve`` of `workbench.answers.learned` with the ``fresh_sets`` of the log."""
    figure = Figure()
    for name, words, band, color, dash in (
        ("before", "before the log", _BEFORE, *LINES[0]),
        ("after", "after", BAND, MARK, "solid"),
    ):
        low, middle, high = (f"{name}_{level}" for level in ("p10", "p50", "p90"))
        add_band(figure, curve["load_kg"], curve[low], curve[high], color=band)
        figure.add_scatter(
            x=curve["load_kg"],
            y=curve[middle],
            mode="lines",
            line={"color": color, "dash": dash, "width": 3},
            name=words,
            customdata=curve[["percent", low, high]],
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
    figure.update_layout(legend={"traceorder": "normal"}, xaxis={"autorange": "reversed"})
    return figure.update_yaxes(rangemode="tozero")


def one_rm_through_time(days: pd.DataFrame, *, exercise: str, believed: float) -> Figure:
    """Draw the usual 1RM with its band, and the strength of each day about it.

    Parameters
    ----------
    days : DataFrame
        Of `workbench.answers.surprises.find_surprises`, one exercise.
    exercise : str
    believed : float
        1RM of the lifter file, kg.
    """
    figure = Figure()
    add_band(figure, days["date"], days["usual_low"], days["usual_high"])
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
    if days["date"].nunique() == 1:  # no hours and seconds about the only day
        figure.update_xaxes(tickvals=days["date"][:1], tickformat="%d %b %Y")
    title = f"1RM through time: {escape(exercise)}"
    return finish(figure, title=title, y="kg", height=360, below=44, note="Dotted: the lifter file.")
