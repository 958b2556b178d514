"""From week to week: gain prior, day variation and session load, worked by hand; what is missing is said."""

import dataclasses

import pytest

from workbench.answers.week_to_week import day_variation, gain_prior, published_tapers, week_load
from workbench.gym.equipment import read_room
from workbench.lifter import Lifter, read_lifter
from workbench.panels.tables import gain_table, load_table, taper_table
from workbench.prescription.block import read_block
from workbench.quantities import InputError
from workbench.reference.sources import data_path, sources
from workbench.simulate.plan import make_plan

DEMO = data_path("demo")
RATINGS = {"Monday, heavy pull": 7, "Wednesday, legs and drops": 8, "Friday, lighter pull": 5}


@pytest.fixture(scope="module")
def plan():
    return make_plan(
        read_block(DEMO / "block.toml"),
        read_lifter(DEMO / "lifters" / "emre_sandoval.toml"),
        read_room(DEMO / "rooms" / "boathouse_hall.toml"),
    )


def person(years):
    return Lifter.model_validate(
        {"name": "Invented", "training_years": years, "lifts": {"back squat": {"one_rm_kg": 100}}}
    )


#: Percent a week by years of training, with the range, as in data/evidence/gain_rates.csv.
FIRST, MIDDLE, LATER = (0.3, 1.0, 2.3), (0.0, 0.4, 1.0), (-0.1, 0.2, 0.6)


@pytest.mark.parametrize(
    ("years", "rates"), [(0, FIRST), (0.9, FIRST), (1, MIDDLE), (2.9, MIDDLE), (3, LATER), (40, LATER), (80, LATER)]
)
def test_gain_by_years_of_training_by_hand(years, rates):
    row = gain_prior(person(years), 4).iloc[0]
    by_hand = [100 * (1 + rate / 100) ** 4 for rate in rates]
    assert row[["low_kg", "after_kg", "high_kg"]].tolist() == pytest.approx(by_hand)
    assert (row["exercise"], row["one_rm_kg"], row["percent_per_week"]) == ("back squat", 100, rates[1])


def test_a_longer_training_age_never_promises_more():
    after = [gain_prior(person(years), 10)["after_kg"].iloc[0] for years in (0.5, 2, 10)]
    assert after[0] > after[1] > after[2]


def test_years_of_training_that_are_not_known_are_asked_for():
    with pytest.raises(InputError, match="training_years"):
        gain_prior(person(None), 4)


def test_day_variation_is_a_band_about_the_maximum():
    low, high = day_variation(100)
    assert low * high == pytest.approx(100 * 100)
    assert 90 < low < 100


def test_the_week_adds_up_and_follows_foster(plan):
    table = week_load(plan, RATINGS)
    sessions, whole = table[table["session"] != "whole week"], table.iloc[-1]
    for row in sessions.to_dict("records"):
        assert row["load"] == pytest.approx(RATINGS[row["session"]] * row["minutes"])
    assert whole["load"] == pytest.approx(sessions["load"].sum())
    # Three training days of seven; sample standard deviation by its definition.
    days = [*sessions["load"], 0, 0, 0, 0]
    mean = sum(days) / 7
    spread = (sum((day - mean) ** 2 for day in days) / 6) ** 0.5
    assert whole["monotony"] == pytest.approx(mean / spread)
    assert whole["strain"] == pytest.approx(sum(days) * mean / spread)
    assert whole["minutes"] == pytest.approx(sessions["minutes"].sum())


def test_a_later_week_has_its_own_minutes_and_a_day_may_hold_two_sessions(plan):
    last = week_load(plan, RATINGS, week=5)
    minutes = [float(one.duration_s[4]) / 60 for one in plan.sessions]
    assert last["minutes"].iloc[:-1].tolist() == pytest.approx(minutes)
    second_day = [dataclasses.replace(one, of=one.of.model_copy(update={"day": 2})) for one in plan.sessions]
    together = dataclasses.replace(plan, sessions=tuple(second_day))
    table = week_load(together, RATINGS)
    days = [table["load"].iloc[:-1].sum(), *[0.0] * 6]
    mean = sum(days) / 7
    spread = (sum((day - mean) ** 2 for day in days) / 6) ** 0.5
    assert table["monotony"].iloc[-1] == pytest.approx(mean / spread)
    assert table["strain"].iloc[-1] == pytest.approx(sum(days) * mean / spread)
    assert table["load"].iloc[-1] == pytest.approx(sum(days))


def test_ratings_days_and_weeks_that_are_missing_are_asked_for(plan):
    with pytest.raises(InputError, match="rate every session"):
        week_load(plan, {})
    with pytest.raises(InputError, match="use 1 to 5"):
        week_load(plan, RATINGS, week=6)


def test_tapers_have_known_sources_and_the_tables_print(plan):
    assert set(published_tapers()["source"]) <= set(sources())
    for table in (taper_table(), load_table(plan, RATINGS), gain_table(plan.lifter, plan.weeks)):
        text = table.text()
        assert table.rows
        assert all(cell in text for row in table.rows for cell in row)
