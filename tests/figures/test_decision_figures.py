"""Figures of schemes, searches, rosters, volume and sessions: every number of a small written-down table is drawn."""

import pandas as pd
import pytest

from workbench.figures.compare import difference_bands, roster_chances, scheme_bands, trade_off
from workbench.figures.session import muscle_loss_figure, order_figure, reserve_figure, timeline_figure
from workbench.figures.volume import block_chart, muscle_sets_figure, zones_figure
from workbench.reference.sources import claims


def named(figure, name):
    return next(trace for trace in figure.data if trace.name == name)


def test_a_scheme_is_a_point_with_its_band():
    row = {"label": "tonnage", "unit": "kg", "p50": 0.0}
    schemes = pd.DataFrame(
        [
            {**row, "scheme": "a", "mean": 5000.0, "p10": 4000.0, "p90": 5500.0},
            {**row, "scheme": "b", "mean": 3000.0, "p10": 2500.0, "p90": 3600.0},
        ]
    )
    figure = scheme_bands(schemes)
    assert [list(trace.x) for trace in figure.data] == [[4000, 5500], [2500, 3600], [5000, 3000]]
    assert [list(trace.y) for trace in figure.data] == [["a", "a"], ["b", "b"], ["a", "b"]]
    assert figure.data[2].customdata[1] == "mean 3,000 kg<br>middle 80 %: 2,500 to 3,600"
    # From 2,500 to 5,500 kg, and a twentieth of that, 150 kg, free on either side.
    assert figure.layout.xaxis.range == (2350, 5650)
    assert figure.layout.title.text.startswith("Tonnage")
    shares = scheme_bands(schemes.assign(unit="1", mean=[0.8, 0.1]))
    assert [list(trace.x) for trace in shares.data] == [[0.8, 0.1]]
    assert shares.data[0].customdata[0] == "mean 80 %"


def test_a_difference_says_which_scheme_is_higher_how_often():
    row = {"label": "missed reps", "unit": "reps", "difference": -3.0, "p10": -8.0, "p90": 1.0}
    figure = difference_bands(pd.DataFrame([{**row, "a": "wave", "b": "step", "chance_a": 0.2, "chance_b": 0.7}]))
    assert list(figure.data[0].x) == [-8, 1]
    assert list(figure.data[1].x) == [-3]
    assert list(figure.data[1].y) == ["wave<br>minus step"]
    # Nine reps of band, and a twentieth of that on either side.
    assert figure.layout.xaxis.range == pytest.approx((-8.45, 1.45))
    # Half the band is 4.5 reps: whole reps are what it leaves to be read.
    assert figure.data[1].customdata[0] == (
        "mean -3 reps<br>middle 80 %: -8 to +1<br>higher in 20 % of runs, lower in 70 %"
    )


def test_where_there_is_no_difference_is_seen_though_all_differ():
    row = {"label": "missed reps", "unit": "reps", "a": "wave", "b": "step", "chance_a": 1.0, "chance_b": 0.0}
    apart, alike = (
        difference_bands(pd.DataFrame([{**row, "difference": middle, "p10": middle, "p90": high}])).layout.xaxis.range
        for middle, high in ((3.0, 10.0), (0.0, 0.0))
    )
    assert apart == (-0.5, 10.5)  # from 0 to 10, and half a rep on either side
    assert alike == (-1, 1)


def test_the_trade_off_parts_what_is_allowed_from_what_is_not():
    rows = [("p", 10.0, 0.9, True, False), ("q", 12.0, 0.7, True, True), ("r", 15.0, 0.2, False, False)]
    front = pd.DataFrame(rows, columns=["settings", "demand", "chance", "allowed", "chosen"])
    figure = trade_off(front, front, demand_label="tonnage, kg", limit=0.6)
    drawn = {trace.name: (list(trace.x), list(trace.y)) for trace in figure.data}
    assert drawn == {
        "breaks a limit": ([15], [0.2]),
        "within limits": ([10, 12], [0.9, 0.7]),
        "front": ([10, 12, 15], [0.9, 0.7, 0.2]),
        "found": ([12], [0.7]),
    }
    assert named(figure, "found").customdata[0] == "q<br>demand 12.0, chance 70 %"
    assert [shape.y0 for shape in figure.layout.shapes] == [0.6]
    assert not trade_off(front, front, demand_label="tonnage", limit=None).layout.shapes


def test_the_roster_has_the_least_likely_on_top_and_pales_who_falls_short():
    columns = ["lifter", "lowest_chance", "chance_of_block", "first_break"]
    rows = [("A", 0.9, 0.5, ""), ("B", 0.3, 0.1, "week 1"), ("C", float("nan"), float("nan"), ""), ("D", 0.85, 0.4, "")]
    figure = roster_chances(pd.DataFrame(rows, columns=columns), limit=0.85)
    (bars,) = figure.data
    assert (list(bars.y), list(bars.x)) == (["B", "D", "A"], [0.3, 0.85, 0.9])
    pale = [colour.startswith("rgba") for colour in bars.marker.color]
    assert pale == [True, False, False]
    assert bars.customdata[0] == "all reps of the block: 10 %<br>least likely set: 30 %<br>week 1"
    assert figure.layout.shapes[0].x0 == 0.85
    assert "1 more stand in the table only" in figure.layout.annotations[-1].text.replace("<br>", " ")


def test_the_weeks_of_a_block_one_line_a_measure():
    weeks = pd.DataFrame({"week": [1, 2], "sets": [10, 8], "lifts": [50.0, 40.0], "tonnage_kg": [3000.0, 2500.0]})
    weeks = weeks.assign(
        intensity_percent=[70.0, 72.0], minutes=[60.0, 55.0], hard=[5.0, 4.0], hard_low=[3.0, 3.5], hard_high=[6.0, 7.0]
    )
    figure = block_chart(weeks, lighter_weeks=(2,))
    assert [list(trace.y) for trace in figure.data] == [
        [10, 8],
        [50, 40],
        [3000, 2500],
        [70, 72],
        [60, 55],
        [5, 4],
    ]
    hard = figure.data[-1]
    assert (list(hard.error_y.array), list(hard.error_y.arrayminus)) == ([1, 3], [2, 0.5])
    assert {(shape.x0, shape.x1) for shape in figure.layout.shapes} == {(1.5, 2.5)}


def test_the_sets_of_muscles_are_stacked_from_direct_and_indirect():
    row = {"week": 2, "range_low": 12.0, "range_high": 20.0, "assumed_share": 0.5}
    muscles = pd.DataFrame(
        [
            {
                **row,
                "muscle": "chest",
                "direct": 6.0,
                "fractional": 9.0,
                "hard_low": 2.0,
                "hard": 4.0,
                "hard_high": 7.0,
            },
            {
                **row,
                "muscle": "calves",
                "direct": 3.0,
                "fractional": 3.0,
                "hard_low": 0.0,
                "hard": 1.0,
                "hard_high": 1.0,
            },
            {
                **row,
                "week": 1,
                "muscle": "biceps",
                "direct": 1.0,
                "fractional": 1.0,
                "hard_low": 0,
                "hard": 0,
                "hard_high": 0,
            },
        ]
    )
    figure = muscle_sets_figure(muscles, claims(), week=2)
    direct, indirect, hard = figure.data
    assert list(direct.y) == ["calves", "chest"]
    assert (list(direct.x), list(indirect.x), list(hard.x)) == ([3, 6], [0, 3], [1, 4])
    assert (list(hard.error_x.array), list(hard.error_x.arrayminus)) == ([0, 3], [1, 2])
    assert (figure.layout.shapes[0].x0, figure.layout.shapes[0].x1) == (12, 20)


def test_the_zones_week_by_week():
    zones = pd.DataFrame({"week": [1, 1, 2, 2], "zone": ["low", "high"] * 2, "lifts": [10.0, 5.0, 8.0, 7.0]})
    figure = zones_figure(zones, claims())
    assert {trace.name: list(trace.y) for trace in figure.data} == {"low": [10, 8], "high": [5, 7]}
    assert list(figure.data[0].x) == ["week 1", "week 2"]


def test_the_session_by_the_minute_set_by_set_and_muscle_by_muscle():
    timeline = pd.DataFrame(
        {
            "start_min": [0.0, 1.0, 1.5],
            "end_min": [1.0, 1.5, 3.0],
            "kind": ["set up", "work", "rest"],
            "exercise": "squat",
            "what": "",
        }
    )
    drawn = {trace.name: (trace.base[0], trace.x[0]) for trace in timeline_figure(timeline).data}
    assert drawn == {"set up": (0, 1), "work": (1, 0.5), "rest": (1.5, 1.5)}
    sets = pd.DataFrame(
        {
            "exercise": "squat",
            "set": ["1", "2", "3"],
            "start_min": [1.0, 4.0, 7.0],
            "load_kg": 60.0,
            "body_kg": 0.0,
            "unit": "kg",
            "hands": 1,
            "reserve_low": [1.0, -1.0, float("nan")],
            "reserve": [3.0, 0.5, float("nan")],
            "reserve_high": [6.0, 1.0, float("nan")],
            "chance": [0.9, 0.6, float("nan")],
        }
    )
    (line,) = reserve_figure(sets, claims()).data
    assert (list(line.x), list(line.y)) == ([1, 4], [3, 0.5])
    assert (list(line.error_y.array), list(line.error_y.arrayminus)) == ([3, 0.5], [2, 1.5])
    muscles = pd.DataFrame(
        {
            "end_min": [2.0, 2.0, 1.0, 1.0],
            "exercise": "squat",
            "set": ["2", "2", "1", "1"],
            "muscle": ["glutes", "quads"] * 2,
            "low": 0.0,
            "lost": [40.0, 50.0, 20.0, 30.0],
            "high": 60.0,
        }
    )
    (heat,) = muscle_loss_figure(muscles, claims()).data
    assert list(heat.x) == ["squat, 1", "squat, 2"]  # in order of time
    assert [list(row) for row in heat.z] == [[20, 40], [30, 50]]
    orders = pd.DataFrame(
        {
            "exercise": ["squat", "whole session"],
            "place_a": [1, 0],
            "place_b": [3, 0],
            "reps_low": [-3.0, float("nan")],
            "reps": [-2.0, float("nan")],
            "reps_high": [-0.5, float("nan")],
        }
    )
    (bars,) = order_figure(orders, claims()).data
    assert (list(bars.y), list(bars.x)) == (["squat"], [-2])
    assert (bars.error_x.array[0], bars.error_x.arrayminus[0]) == pytest.approx((1.5, 1.0))
