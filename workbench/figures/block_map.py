"""The map of a block: sets down, weeks across, the chance that all reps are made as shade, reps in reserve as text."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Hashable, Mapping, Sequence
from html import escape
from typing import Any

import numpy as np
import pandas as pd

from workbench.figures.figure import Figure
from workbench.figures.style import INK, MARK, QUIET, SCALE, add_band, finish
from workbench.prescription.block import WHOLE_WEEK
from workbench.present.tables import rows_of
from workbench.present.words import in_words, load_said, percent_said, reps_said, rest_said, set_forecast

__all__ = ["block_map", "reserve_bands"]

_ROW_PX = 36
#: What a cell and the name of its row need; a narrower place scrolls sideways.
_CELL_PX, _NAME_PX = 66, 6
_NOTE = (
    "In each cell: chance that all reps are made, whole reps left in reserve after the fewest (below 0: missing); the "
    "load.<br>Sets to failure: reps to expect. Point at a cell for more."
)

#: Marks a set under the wanted chance, beside its shade.
_UNDER = "\u25bc"


def block_map(sets: pd.DataFrame, *, title: str = "Will every rep be made?", wanted: float = 0.0) -> Figure:
    """Draw the week x set map of `workbench.answers.block_tables.set_table`.

    Parameters
    ----------
    sets : DataFrame
    title : str
    wanted : float
        Chance that is asked of every set, from 0 to 1; sets under it carry a mark.
    """
    of_sets = rows_of(sets)
    labels = _row_labels(of_sets)
    rows, weeks = list(dict.fromkeys(labels)), sorted(set(sets["week"]))
    cells = {(label, record["week"]): record for label, record in zip(labels, of_sets, strict=True)}

    def grid(write: Callable[[Mapping[Hashable, Any]], Any], hole: str | None = "") -> list[list[Any]]:
        return [[write(cells[row, week]) if (row, week) in cells else hole for week in weeks] for row in rows]

    figure = Figure().add_heatmap(
        # None, not NaN, where a set is not done or has no chance.
        z=grid(_chance, None),
        x=[f"week {week}" for week in weeks],
        y=rows,
        text=grid(lambda row: _cell_text(row, wanted)),
        texttemplate="%{text}",
        textfont={"color": INK, "size": 11},
        customdata=grid(_hover_text),
        hovertemplate="%{customdata}<extra></extra>",
        hoverongaps=False,
        colorscale=SCALE,
        zmin=0.0,
        zmax=1.0,
        xgap=2,
        ygap=2,
        showscale=False,  # every cell says its own number
    )
    if sets["chance"].isna().all():  # a map without a shade draws no text, nor its axes
        figure.add_scatter(
            x=[f"week {week}" for _, week in cells],
            y=[row for row, _ in cells],
            mode="text",
            text=[_cell_text(cell, wanted) for cell in cells.values()],
            textfont={"color": INK, "size": 11},
            customdata=[_hover_text(cell) for cell in cells.values()],
            hovertemplate="%{customdata}<extra></extra>",
        )
    note = f"{_NOTE}<br>{_UNDER}: under the {percent_said(wanted)} that is asked for." if wanted else _NOTE
    finish(figure, title=title, height=138 + _ROW_PX * len(rows), legend=False, note=note, below=8)
    figure.update_layout(
        yaxis={"range": [len(rows) - 0.5, -0.5], "showgrid": False, "tickfont": {"size": 11}},
        xaxis={
            "side": "top",
            "showgrid": False,
            "tickfont": {"size": 12},
            "range": [-0.5, len(weeks) - 0.5],  # whole columns, as whole rows, shaded or not
        },
        margin={"t": 66},
        meta={"least_width": _NAME_PX * max(map(len, rows), default=0) + _CELL_PX * len(weeks)},
    )
    return figure


def reserve_bands(weeks: pd.DataFrame) -> Figure:
    """Draw the band of the fewest reps in reserve over the weeks, from `week_table`."""
    whole = weeks[weeks["session"] == WHOLE_WEEK]
    x = [f"week {week}" for week in whole["week"]]
    figure = Figure()
    add_band(figure, x, whole["reserve_low"], whole["reserve_high"], name="middle 80 %")
    figure.add_scatter(
        x=x,
        y=whole["reserve"],
        mode="lines+markers",
        line={"color": MARK},
        name="median",
        customdata=[(row["reserve_low"], row["reserve_high"], in_words(row["chance"])) for row in rows_of(whole)],
        hovertemplate="%{x}: %{y:.1f} reps in reserve (%{customdata[0]:.1f} to %{customdata[1]:.1f})"
        "<br>all reps of the week: %{customdata[2]}<extra></extra>",
    )
    figure.add_hline(y=0, line={"color": QUIET, "dash": "dot", "width": 1})
    return finish(
        figure,
        title="Fewest reps in reserve, week by week",
        y="reps in reserve",
        height=300,
        note="Below the dotted line reps are missed.",
    )


def _row_labels(rows: Sequence[Mapping[Hashable, Any]]) -> list[str]:
    """One label a set, shared by its weeks and by nothing else: a row of the map is found by it."""
    names = {row["session_number"]: str(row["session"]) for row in rows}
    cut = {number: name.split(",")[0] for number, name in names.items()}
    short = cut if len(set(cut.values())) == len(cut) else names
    slots = {(row["session_number"], row["slot"]): row["exercise"] for row in rows}
    times = Counter((session, exercise) for (session, _), exercise in slots.items())
    return [
        (f"{escape(short[row['session_number']])}: " if len(names) > 1 else "")
        + escape(row["exercise"])
        + (f" ({row['slot']}.)" if times[row["session_number"], row["exercise"]] > 1 else "")
        + f", set {row['set']}"
        for row in rows
    ]


def _chance(row: Mapping[Hashable, Any]) -> float | None:
    return None if np.isnan(row["chance"]) else float(row["chance"])


def _cell_text(row: Mapping[Hashable, Any], wanted: float) -> str:
    if np.isnan(row["reserve"]):
        return f"{row['reps_p50']:.0f} reps<br>{load_said(row)}"
    middle, *_ = set_forecast(row).split(" (")
    mark = f"{_UNDER} " if row["chance"] < wanted else ""
    return f"{mark}{in_words(row['chance'])}, {middle}<br>{load_said(row)}"


def _hover_text(row: Mapping[Hashable, Any]) -> str:
    rest = f", rest before it {rest_said(row['rest_s'])}" if row["rest_s"] else ""
    head = (
        f"<b>{escape(row['exercise'])}</b>, set {row['set']}, week {row['week']}<br>"
        f"{load_said(row)} ({row['percent']:.1f} % of 1RM){rest}<br>"
    )
    reps = reps_said(row["reps_low"], row["reps_high"])
    if np.isnan(row["reserve"]):
        to = reps if np.isnan(row["leaves"]) else f"{reps}, leaving {row['leaves']:g} in reserve"
        return head + f"{to}: {set_forecast(row)}"
    return head + (
        f"{reps} reps: all made with chance {in_words(row['chance'])}<br>reps in reserve {set_forecast(row)}"
    )
