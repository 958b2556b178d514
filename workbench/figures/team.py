"""A roster on one block: who will probably make it, and where each first falls short."""

from __future__ import annotations

from html import escape
from typing import Final

import pandas as pd
import plotly.graph_objects as go

from workbench.figures.style import LINES, MARK, finish, percent_marks
from workbench.present.words import in_words

__all__ = ["roster_chances"]

_ROW_PX: Final = 26
#: More names than this cannot be read; the rest stands in the table.
_MOST: Final = 40


def roster_chances(team: pd.DataFrame, *, limit: float, title: str = "Who will make every rep?") -> go.Figure:
    """Draw each lifter's least likely set against the coach's limit, the least likely lifter on top.

    Parameters
    ----------
    team : DataFrame
        From `workbench.answers.team.team_check`; rows without an answer are left out.
    limit : float
        Lowest accepted chance of a set, 0 to 1.
    title : str
    """
    rows = team[team["lowest_chance"].notna()].sort_values("lowest_chance", kind="stable").head(_MOST)
    labels = [escape(name) for name in rows["lifter"]]
    words = [
        f"all reps of the block: {in_words(row['chance_of_block'])}<br>"
        f"least likely set: {in_words(row['lowest_chance'])}"
        + (f"<br>{escape(str(row['first_break']))}" if row["first_break"] else "")
        for row in rows.to_dict("records")
    ]
    figure = go.Figure(
        go.Bar(
            x=rows["lowest_chance"],
            y=labels,
            orientation="h",
            marker={
                "color": [MARK if chance >= limit else "rgba(31, 95, 139, 0.25)" for chance in rows["lowest_chance"]],
                "line": {"color": MARK, "width": 1},
            },
            customdata=words,
            hovertemplate="<b>%{y}</b><br>%{customdata}<extra></extra>",
        )
    )
    figure.add_vline(x=limit, line={"color": LINES[5][0], "dash": "dash", "width": 2})
    left_out = len(team) - len(rows)
    finish(
        figure,
        title=title,
        x="chance that the least likely set is made",
        y="",
        height=130 + _ROW_PX * len(labels),
        legend=False,
        note="Dashed: the coach's limit. Pale bars fall short of it."
        + (f" {left_out} more stand in the table only." if left_out else ""),
    )
    figure.update_yaxes(autorange="reversed", type="category")
    figure.update_xaxes(range=[0, 1], **percent_marks(20))
    return figure
