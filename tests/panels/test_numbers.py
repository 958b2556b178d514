"""Numbers typed into a panel: decimal comma, minutes and seconds; the rest is said, and changes nothing."""

import pytest

from workbench.panels.block import BlockPanel
from workbench.panels.compare import CompareControls
from workbench.panels.controls import NumberControl, NumberRange, whole_number
from workbench.panels.decide import DecideControls
from workbench.panels.exercise import CurveControls, DropControls
from workbench.panels.session import SessionControls
from workbench.panels.volume import VolumeControls
from workbench.quantities import InputError


def control(**more):
    return NumberControl(**{"value": 60.0, "min": 30.0, "max": 100.0, "step": 0.5, **more})


@pytest.mark.parametrize(
    ("typed", "value"),
    [("67,5", 67.5), ("67.50", 67.5), (" 67,5 % ", 67.5), ("+70", 70.0), ("67,25 kg", 67.25)],
)
def test_a_typed_number_is_taken_as_it_was_meant_and_said(typed, value):
    one, changes = control(), []
    one.observe(lambda change: changes.append(change["new"]), "value")
    one.typed.value = typed
    assert one.value == one.slider.value == value
    assert changes == [value]
    assert f"read as {value:g}" in one.said.value


@pytest.mark.parametrize(("typed", "seconds"), [("2:00", 120), ("1:30", 90), ("90", 90), ("2 min", 120)])
def test_a_time_may_be_typed_in_minutes_and_seconds(typed, seconds):
    rest = whole_number(value=60, min=0, max=600, seconds=True)
    rest.typed.value = typed
    assert rest.value == seconds
    assert f"read as {seconds} s" in rest.said.value


@pytest.mark.parametrize("typed", ["67.5", "70", " 70"])
def test_what_reads_as_it_was_typed_is_not_said_again(typed):
    one = control()
    one.typed.value = typed
    assert one.value == float(typed)
    assert one.said.value == ""


@pytest.mark.parametrize("typed", ["2:00", "abc", "1,250", "67,5,2", "nan", "1e9", "101", "-5", "2 min", "67..5"])
def test_what_is_no_number_here_changes_nothing_and_is_said(typed):
    one = control()
    one.typed.value = typed
    assert one.value == 60.0
    assert "60 stays" in one.said.value
    one.typed.value = "70"
    assert one.value == 70.0
    assert "stays" not in one.said.value


def test_a_whole_number_is_not_cut():
    reps = whole_number(value=6, min=1, max=30)
    reps.typed.value = "7,5"
    assert reps.value == 6
    assert "whole" in reps.said.value
    with pytest.raises(InputError, match="use 1 to 30"):
        reps._number("31")


def test_a_moved_slider_takes_the_typed_line_away():
    one = control()
    one.typed.value = "67,5"
    one.slider.value = 80.0
    assert (one.value, one.typed.value, one.said.value) == (80.0, "", "")


def test_a_range_is_typed_with_both_ends():
    one = NumberRange(value=(55, 75), min=40, max=95, step=2.5)
    one.typed.value = "62,5 to 70"
    assert one.value == (62.5, 70.0)
    one.typed.value = "80 to 70"
    assert one.value == (62.5, 70.0)
    assert "no range" in one.said.value


@pytest.mark.parametrize(
    ("one", "noisy", "moved"),
    [
        (control(value=85.0), 85.00000000000001, 85.5),
        (NumberRange(value=(4, 6), min=1, max=20, step=1), (4.0, 6.000000000000001), (4, 7)),
    ],
)
def test_the_last_binary_digit_of_a_browser_is_no_move(one, noisy, moved):
    # A slider's handle lies at a share of its length: read back from the page, 6 is 6.000000000000001.
    value, changes = one.value, []
    one.typed.value = "not a number"
    one.observe(lambda change: changes.append(change["new"]), "value")
    one.slider.value = noisy
    assert (one.value, changes, one.typed.value) == (value, [], "not a number")
    one.slider.value = moved
    assert (one.value, changes, one.typed.value) == (moved, [moved], "")


def sliders(thing):
    return [one for one in vars(thing).values() if isinstance(one, NumberControl | NumberRange)]


@pytest.mark.parametrize(
    "controls", [CompareControls, CurveControls, DecideControls, DropControls, SessionControls, VolumeControls]
)
def test_every_control_of_a_number_is_typed_in_one_way(controls):
    import ipywidgets as widgets

    raw = (widgets.IntSlider, widgets.FloatSlider, widgets.FloatRangeSlider, widgets.BoundedIntText)
    assert not [one for one in vars(controls()).values() if isinstance(one, raw)]
    assert sliders(controls())


def test_a_typed_load_and_rest_reach_the_answer():
    panel = BlockPanel(draws=20)
    panel.controls.place.index = 0
    panel.controls.load.typed.value = "67,5"
    panel.controls.rest.typed.value = "2:00"
    assert panel.trouble.value == ""
    group = panel.check.plan.block.expanded_sessions()[0].exercises[0].sets[0]
    assert (group.percent, group.rest_s) == (67.5, 120)


def test_a_load_that_is_still_to_be_found_is_said_in_plain_words(tmp_path):
    path = tmp_path / "new.toml"
    path.write_text('name = "Ada Quill"\nbody_mass_kg = 70\n[lifts]\n', encoding="utf-8")
    panel = BlockPanel(draws=20)
    panel.controls.lifter.choice.value = None
    panel.controls.lifter.path.value = str(path)
    assert "has no 1RM for barbell bench pull" in panel.trouble.value
    assert "any set that is remembered" in panel.trouble.value
    assert "toml" not in panel.trouble.value
