"""The session and volume panels: a moved control changes the answer; what cannot be is said in the panel."""

import csv

import pytest

from workbench.panels.session import SessionPanel
from workbench.panels.tables import ranges_table
from workbench.panels.volume import VolumePanel
from workbench.reference.sources import data_path


@pytest.fixture
def session():
    return SessionPanel(draws=60)


@pytest.fixture
def volume():
    return VolumePanel(draws=60)


def test_the_first_answer_is_there_before_anything_is_moved(session):
    assert session.trouble.value == ""
    assert session.last.name == "Monday, heavy pull"
    assert "minutes" in session.answer.value
    assert len(session.timeline.shown.data) > 2
    assert session.order_box.layout.display == "none"


def test_another_session_and_week_are_answered(session):
    controls = session.controls
    controls.session.value = 2
    assert session.last.name == "Wednesday, legs and drops"
    assert next(name for name, _ in controls.exercise.options) == "Romanian deadlift"
    before = session.last.minutes
    controls.week.value = 5
    assert session.last.week == 5
    assert session.last.minutes < before


def test_moving_an_exercise_compares_the_orders(session):
    session.controls.place.value = 3
    assert session.order_box.layout.display == "flex"
    assert session.order["place_b"].iloc[0] == 3
    assert "The other order" in session.text()
    session.controls.place.value = 1
    assert session.order is None
    assert session.order_box.layout.display == "none"


def test_leaving_a_position_out_exchanges_and_sends_to_a_professional(session):
    assert ("overhead", ("positions", "overhead")) in session.controls.leave_out.options
    session.controls.leave_out.value = (("positions", "overhead"),)
    assert "seated cable row" in session.exchange_rows.value
    assert "physiotherapist" in session.exchange_rows.value
    session.controls.leave_out.value = ()
    assert session.exchange_rows.value == ""


def test_an_exercise_left_out_by_name_and_one_whose_load_must_be_found(session):
    session.controls.leave_out.value = (("exercises", "lat pulldown"), ("implements", "stack"))
    assert session.exchange.changes["exercise"].tolist() == ["lat pulldown"]
    assert "How to find the load of" in session.exchange_rows.value
    assert "no maximal lift" in session.exchange_rows.value


def test_a_file_that_is_not_there_is_said_in_the_panel(session):
    session.controls.lifter.choice.value = None
    session.controls.lifter.path.value = "nobody.toml"
    assert "nobody.toml" in session.trouble.value
    assert session.last is None


def test_the_rules_change_the_hard_sets_and_the_count(volume):
    hard = volume.last.weeks["hard"].iloc[0]
    volume.controls.hard_reserve.value = 10
    assert volume.last.weeks["hard"].iloc[0] > hard
    sets = volume.last.weeks["sets"].iloc[0]
    # Two sets with two drops each: half a set for each drop makes two more.
    volume.controls.each_drop.value = 0.5
    assert volume.last.weeks["sets"].iloc[0] == sets + 2
    assert "a drop adds 0.5 of a set to its set" in " ".join(volume.text().split())


def test_the_week_changes_the_muscles_shown(volume):
    first = list(volume.muscles.shown.data[0].x)
    volume.controls.week.value = 5
    assert list(volume.muscles.shown.data[0].x) != first
    assert "Week 5" in volume.answer.value


def test_every_published_range_is_in_the_table():
    table = ranges_table()
    with data_path("evidence", "volume_ranges.csv").open(encoding="utf-8") as handle:
        kept = list(csv.DictReader(handle))
    assert len(table.rows) == len(kept) > 5
    for row, written in zip(table.rows, kept, strict=True):
        shown = " ".join(row)
        bounds = [written[key] for key in ("low", "high", "value", "ci_low", "ci_high") if written[key]]
        assert all(f"{float(number):g}" in shown for number in bounds)
        assert all(written[key] in shown for key in ("measure", "unit", "source", "grade"))
