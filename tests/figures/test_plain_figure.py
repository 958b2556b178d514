"""A figure as plain data: plotly's own checks and methods are the oracle of what it holds."""

import base64
import json
from datetime import date

import numpy as np
import pandas as pd
import plotly.graph_objects as go
import pytest
from plotly.subplots import make_subplots

from workbench.figures.figure import Figure
from workbench.figures.volume import _one_above_the_other

LINE = {"color": "red", "dash": "dot"}


def by_plotly(figure):
    """Return what plotly makes of its own figure, without the template that it adds."""
    content = figure.to_plotly_json()
    content["layout"].pop("template", None)
    return content


def test_lines_and_bands_lie_where_plotly_puts_its_own():
    ours = Figure().add_scatter(x=[1], y=[2]).add_hline(3, LINE).add_vline(4, LINE).add_vband(5, 6, "blue")
    theirs = go.Figure().add_scatter(x=[1], y=[2]).add_hline(3, line=LINE).add_vline(4, line=LINE)
    theirs.add_vrect(5, 6, fillcolor="blue", line_width=0, layer="below")
    assert by_plotly(ours.plotly()) == by_plotly(theirs)


def test_plots_one_above_the_other_lie_where_plotly_puts_its_own():
    ours = Figure().update_layout(**_one_above_the_other(["", "2", "3"])).add_vband(1, 2, "blue", "2")
    theirs = make_subplots(rows=3, cols=1, shared_xaxes=True, vertical_spacing=0.035).to_plotly_json()["layout"]
    drawn = by_plotly(ours.plotly())["layout"]
    assert (drawn["shapes"][0]["xref"], drawn["shapes"][0]["yref"]) == ("x2", "y2 domain")
    for name in ("xaxis", "xaxis2", "xaxis3", "yaxis", "yaxis2", "yaxis3"):
        assert drawn[name].pop("domain") == pytest.approx(theirs[name].pop("domain"))
        assert drawn[name] == theirs[name]


def test_a_change_of_the_layout_leaves_the_rest_inside_its_parts():
    figure = Figure().update_layout(legend={"x": 0, "font": {"size": 9}}, height=300).update_xaxes(dtick=1)
    figure.update_layout(legend={"font": {"color": "red"}}, height=400).update_xaxes(range=[0, 9])
    assert figure.look == {
        "legend": {"x": 0, "font": {"size": 9, "color": "red"}},
        "height": 400,
        "xaxis": {"dtick": 1, "range": [0, 9]},
    }


def test_all_axes_of_a_kind_are_changed():
    figure = Figure().update_layout(xaxis={}, xaxis2={"dtick": 2}, yaxis={}).update_xaxes(showgrid=False)
    assert figure.look == {"xaxis": {"showgrid": False}, "xaxis2": {"dtick": 2, "showgrid": False}, "yaxis": {}}


def test_what_is_shared_between_figures_is_not_changed_through_one():
    shared = {"font": {"size": 9}}
    first, second = (Figure().update_layout(legend=shared) for _ in range(2))
    first.update_layout(legend={"font": {"size": 12}})
    assert second.look == {"legend": {"font": {"size": 9}}}
    assert shared == {"font": {"size": 9}}


@pytest.mark.parametrize(
    ("values", "sent"),
    [
        (pd.Series([1, 2]), [1, 2]),
        (np.array(["a", "b"]), ["a", "b"]),
        (pd.DataFrame({"name": ["a"], "kg": [0.5]}), [["a", 0.5]]),
        ([np.float64(0.5), None, float("nan")], [0.5, None, None]),
        ((np.int64(3), True), [3, True]),
        (pd.Series(pd.to_datetime(["2026-01-05"])), ["2026-01-05T00:00:00"]),
        (pd.Series([date(2026, 1, 5)]), ["2026-01-05"]),
    ],
)
def test_columns_reach_the_page_as_their_values(values, sent):
    assert json.loads(Figure().add_scatter(x=values).to_json())["data"] == [{"type": "scatter", "x": sent}]


@pytest.mark.parametrize("values", [pd.Series([0.1, float("nan"), 1e300]), np.array([[0.1, 2.5], [3.0, -4.0]])])
def test_arrays_of_numbers_reach_the_page_to_the_last_digit(values):
    sent = json.loads(Figure().add_scatter(x=values).to_json())["data"][0]["x"]
    numbers = np.frombuffer(base64.b64decode(sent["bdata"]), dtype="<f8")  # as plotly.js reads "f8"
    assert sent["dtype"] == "f8"
    shape = [int(length) for length in sent.get("shape", str(len(values))).split(",")]
    np.testing.assert_array_equal(numbers.reshape(shape), np.asarray(values))


def test_a_property_that_is_none_is_none():
    assert Figure().add_bar(x=[1], line=None).traces == [{"type": "bar", "x": [1]}]


def test_plotly_checks_what_it_is_given():
    with pytest.raises(ValueError, match="no_such"):
        Figure().add_bar(no_such=1).plotly()
