"""Figures draw what they are given: every cell of a table is where it should be, and nothing more."""

from __future__ import annotations

import json

import numpy as np
import pandas as pd
import pytest

from workbench.figures.block_map import block_map, reserve_bands
from workbench.figures.curve import curve_figure, one_rm_through_time
from workbench.figures.drop import chain_figure, drop_figure
from workbench.figures.evidence import spread_figure
from workbench.figures.figure import Figure
from workbench.panels.frame import live, refresh
from workbench.present.words import in_words
from workbench.reference.sources import claims

SET = {
    "session": "Monday, pull",
    "session_number": 1,
    "slot": 1,
    "exercise": "lat pulldown",
    "group": 1,
    "drop": 0,
    "load_kg": 60.0,
    "unit": "kg",
    "hands": 1,
    "body_kg": 0.0,
    "percent": 70.0,
    "reps_low": 8.0,
    "reps_high": 8.0,
    "leaves": np.nan,
    "rest_s": 90.0,
    "reserve_low": 1.0,
    "reserve": 3.2,
    "reserve_high": 6.0,
    "reps_p10": 9.0,
    "reps_p50": 11.0,
    "reps_p90": 14.0,
}


@pytest.fixture
def sets() -> pd.DataFrame:
    """Two weeks: two sets, the second only in week 1, and one set to failure."""
    to_failure = {"reps_low": 1.0, "reps_high": np.inf, "chance": np.nan, "reserve": np.nan}
    return pd.DataFrame(
        [
            {**SET, "week": 1, "set": "1", "chance": 0.9},
            {**SET, "week": 1, "set": "2", "chance": 0.8, "reserve": 1.4},
            {**SET, "week": 1, "set": "3", **to_failure},
            {**SET, "week": 2, "set": "1", "chance": 0.999},
            {**SET, "week": 2, "set": "3", **to_failure},
        ]
    )


def test_the_map_has_a_cell_for_each_set_and_week_and_a_hole_where_none_is_done(sets: pd.DataFrame) -> None:
    heat = block_map(sets).data[0]
    assert [list(row) for row in heat.z] == [[0.9, 0.999], [0.8, None], [None, None]]
    assert [list(row) for row in heat.text] == [
        ["90 %, 3<br>60 kg", ">99 %, 3<br>60 kg"],
        ["80 %, 1<br>60 kg", ""],
        ["11 reps<br>60 kg", "11 reps<br>60 kg"],
    ]
    assert list(heat.y) == [f"lat pulldown, set {number}" for number in (1, 2, 3)]
    assert (heat.zmin, heat.zmax) == (0.0, 1.0)


def test_sets_under_the_wanted_chance_carry_a_mark_and_the_note_says_what_it_means(sets: pd.DataFrame) -> None:
    figure = block_map(sets, wanted=0.9)
    marked = [[cell.startswith("\u25bc") for cell in row] for row in figure.data[0].text]
    assert marked == [[False, False], [True, False], [False, False]]  # 0.9 itself is enough
    assert "under the 90 %" in figure.layout.annotations[-1].text
    assert "\u25bc" not in str(block_map(sets).plotly())


def test_a_session_of_sets_to_failure_has_its_text_though_the_map_has_no_shade(sets: pd.DataFrame) -> None:
    figure = block_map(sets[sets["set"] == "3"])
    _, words = figure.data
    # The one row is seen whole, half a row to each side of its middle, the first row at the top.
    assert tuple(figure.layout.yaxis.range) == (0.5, -0.5)
    assert list(zip(words.x, words.y, strict=True)) == [
        ("week 1", "lat pulldown, set 3"),
        ("week 2", "lat pulldown, set 3"),
    ]
    assert all(text.startswith("11 reps") for text in words.text)


def test_pointing_at_a_cell_tells_load_rest_and_interval(sets: pd.DataFrame) -> None:
    told = block_map(sets).data[0].customdata[0][0]
    for part in ("60 kg (70.0 % of 1RM)", "90 s", "90 %", "3 (1 to 6)"):
        assert part in told


def test_shades_grow_steadily_darker_and_stay_readable(sets: pd.DataFrame) -> None:
    heat = block_map(sets).data[0]
    lightness = [_luminance(colour) for _, colour in heat.colorscale]
    assert lightness == sorted(lightness, reverse=True)
    # WCAG 2.1, 1.4.3: text needs a contrast of at least 4.5 to 1 with what is behind it.
    assert all((light + 0.05) / (_luminance(heat.textfont.color) + 0.05) >= 4.5 for light in lightness)


def _luminance(colour: str) -> float:
    """Relative luminance of WCAG 2.1."""
    parts = [int(colour[start : start + 2], 16) / 255 for start in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_the_bands_show_the_whole_weeks_only() -> None:
    weeks = pd.DataFrame(
        {
            "week": [1, 1, 2, 2],
            "session": ["Monday", "whole week", "Monday", "whole week"],
            "chance": [0.9, 0.5, 0.8, 0.4],
            "reserve_low": [1.0, -1.0, 0.0, -2.0],
            "reserve": [3.0, 1.0, 2.0, 0.5],
            "reserve_high": [5.0, 3.0, 4.0, 2.0],
        }
    )
    figure = reserve_bands(weeks)
    assert list(figure.data[0].y) == [3.0, 2.0]
    assert list(figure.data[1].y) == [-1.0, -2.0]
    assert list(figure.data[2].y) == [1.0, 0.5]


def test_the_curve_is_dotted_exactly_where_nothing_was_studied() -> None:
    curve = pd.DataFrame(
        {
            "percent": [50.0, 70.0, 90.0],
            "load_kg": [50.0, 70.0, 90.0],
            "reps_p10": [15.0, 8.0, 2.0],
            "reps_p50": [25.0, 13.0, 4.0],
            "reps_p90": [40.0, 20.0, 7.0],
            "studied": [False, True, True],
        }
    )
    at = pd.DataFrame({"load_kg": [70.0], "percent": [70.0], "reps_p10": [8.0], "reps_p50": [13.0], "reps_p90": [20.0]})
    none = pd.DataFrame(columns=["equation", "percent", "reps", "grade"])
    lines = {trace.name: trace for trace in curve_figure(curve, none, at).data}
    assert np.isnan(lines["this lifter"].y).tolist() == [True, False, False]
    assert np.isnan(lines["extrapolated"].y).tolist() == [False, True, True]
    assert (lines["chosen load"].error_y.array[0], lines["chosen load"].error_y.arrayminus[0]) == (7.0, 5.0)


def test_a_log_of_one_day_has_that_date_alone_under_its_picture() -> None:
    def ticks(*days: str) -> object:
        level = dict.fromkeys(("usual", "usual_low", "usual_high", "day_kg"), 90.0)
        table = pd.DataFrame([{"date": pd.Timestamp(day), "reading": "", **level} for day in days])
        return one_rm_through_time(table, exercise="back squat", believed=90.0).layout.xaxis.tickvals

    assert [pd.Timestamp(day) for day in ticks("2026-01-05")] == [pd.Timestamp("2026-01-05")]
    assert ticks("2026-01-05", "2026-01-07") is None


def test_drops_too_small_are_set_apart_and_all_say_assumed() -> None:
    drops = pd.DataFrame(
        {
            "load_kg": [55.0, 45.0],
            "drop_percent": [8.0, 25.0],
            "reps_p10": [1.0, 4.0],
            "reps_p50": [2.0, 7.0],
            "reps_p90": [4.0, 11.0],
            "chance": [0.1, 0.7],
            "worth_it": [False, True],
        }
    )
    figure = drop_figure(drops, claims(), reps_wanted=6, fewest_reps=3)
    shown = {trace.name: list(trace.x) for trace in figure.data}
    assert shown == {"worth it": [25.0], "fewer than 3 reps": [8.0]}
    assert "Assumed" in figure.layout.annotations[-1].text
    chain = chain_figure(drops, claims())
    assert list(chain.data[0].y) == [2.0, 7.0]
    assert "Assumed" in chain.layout.annotations[-1].text


@pytest.mark.parametrize(
    ("chance", "words"), [(1.0, ">99 %"), (0.9949, ">99 %"), (0.5, "50 %"), (0.0, "<1 %"), (0.0049, "<1 %")]
)
def test_no_simulated_chance_is_called_certain(chance: float, words: str) -> None:
    assert in_words(chance) == words


def test_refresh_makes_a_shown_figure_equal_and_sends_nothing_when_nothing_changed(sets: pd.DataFrame) -> None:
    shown = live()
    refresh(shown, block_map(sets))
    wanted = block_map(sets.assign(chance=0.5))
    refresh(shown, wanted)
    assert json.loads(shown.figure) == json.loads(wanted.to_json())
    sent: list[object] = []
    shown.observe(sent.append, ["figure", "said"])
    refresh(shown, block_map(sets.assign(chance=0.5)))
    assert sent == []


def test_refresh_replaces_traces_of_another_kind(sets: pd.DataFrame) -> None:
    shown = live()
    refresh(shown, Figure().add_bar(x=[1], y=[2]))
    refresh(shown, block_map(sets))
    assert [trace["type"] for trace in json.loads(shown.figure)["data"]] == ["heatmap"]


def test_rows_of_sessions_and_exercises_of_like_names_stay_apart():
    """Two sessions alike up to the comma, and one exercise at two places of a session, each with its own row."""
    from workbench.figures.block_map import _row_labels

    rows = [
        (1, "Monday, am", 1, "back squat"),
        (1, "Monday, am", 3, "back squat"),
        (2, "Monday, pm", 1, "back squat"),
        (2, "Monday, pm", 2, "bench press"),
    ]
    sets = pd.DataFrame(rows, columns=["session_number", "session", "slot", "exercise"]).assign(set="1")
    assert _row_labels(sets.to_dict("records")) == [
        "Monday, am: back squat (1.), set 1",
        "Monday, am: back squat (3.), set 1",
        "Monday, pm: back squat, set 1",
        "Monday, pm: bench press, set 1",
    ]
    apart = sets.assign(session=["Monday, am", "Monday, am", "Friday, pm", "Friday, pm"])
    assert _row_labels(apart.to_dict("records"))[2] == "Friday: back squat, set 1"


def test_the_spread_figure_has_a_point_for_every_published_sd_and_a_line_where_they_agree():
    rows = pd.DataFrame(
        {
            "source": ["a", "b", "c"],
            "kind": ["fresh set", "totals", "fresh set"],
            "load": ["percent of 1RM", "repetition maximum", "percent of 1RM"],
            "published": [2.0, 4.0, 8.0],
            "predicted": [1.0, 4.0, 6.0],
        }
    )
    line, fresh, totals = spread_figure(rows).data
    assert list(line.x) == list(line.y) == [1.0, 8.0]
    assert (list(fresh.x), list(fresh.y), list(fresh.text)) == ([2.0, 8.0], [1.0, 6.0], ["a", "c"])
    assert (list(totals.x), list(totals.y), totals.name) == ([4.0], [4.0], "totals, repetition maximum")
