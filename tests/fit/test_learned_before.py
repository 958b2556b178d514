"""Sets that the lifter file has learned from: known by date and content, skipped by the next fit, which says so."""

from __future__ import annotations

import datetime
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from tests.simulated_logs import invented_lifter, simulated_log
from workbench.answers.next_test import suggest_test
from workbench.answers.surprises import find_surprises
from workbench.fit import fit_log
from workbench.fit.learned import Learned
from workbench.fit.lifter_file import updated_lifter, write_lifter
from workbench.lifter import read_lifter
from workbench.quantities import InputError
from workbench.reference.toml_files import toml_text

pytestmark = pytest.mark.usefixtures("compiled_sets")

EXERCISES = ["back squat", "lat pulldown"]


@pytest.fixture(scope="module")
def case():
    """A lifter, and a log of nine days."""
    rng = np.random.default_rng(21)
    lifter, truth = invented_lifter(rng, EXERCISES)
    return lifter, simulated_log(rng, lifter, truth, sessions=9)


@pytest.fixture(scope="module")
def days(case):
    return sorted(case[1]["date"].unique())


@pytest.fixture(scope="module")
def after(case, days, tmp_path_factory):
    """The lifter file after the first six days."""
    lifter, log = case
    path = tmp_path_factory.mktemp("lifter") / "after.toml"
    return read_lifter(write_lifter(fit_log(log[log["date"] < days[6]], lifter), path))


def test_the_same_log_again_teaches_nothing_and_says_so(case, days, after):
    log = case[1][case[1]["date"] < days[6]]
    learned = fit_log(log, after)
    assert learned.fit.log.set_count == 0
    assert learned.exercises == ()
    first, last = (f"{pd.Timestamp(day).date()}" for day in (days[0], days[5]))
    assert learned.notes[0].startswith(f"{len(log)} sets of {first} to {last} are in the lifter file already")
    assert learned.questions == ()
    assert updated_lifter(learned) == after
    # The questions asked of a fit answer too.
    assert find_surprises(learned).found.empty
    assert suggest_test(learned, seed=1) is None


def test_of_a_longer_log_only_the_new_days_count(case, days, after):
    log = case[1]
    new = log[log["date"] >= days[6]]
    together, alone = fit_log(log, after), fit_log(new, after)
    assert together.fit.log.set_count == len(new)
    pd.testing.assert_frame_equal(together.summary(), alone.summary())
    assert f"{len(log) - len(new)} sets" in together.notes[0]
    assert alone.notes == ()
    # Both times of learning are in the next file.
    stamps = updated_lifter(together).learned
    count = sum(int(stamp.split()[0]) for name in EXERCISES for stamp in stamps[name].values())
    assert count == len(log)
    assert {len(stamps[name]) for name in EXERCISES} == {9}


@pytest.mark.parametrize(
    "edit",
    [
        lambda day: day.assign(load_kg=day["load_kg"] + 2.5),
        lambda day: day.assign(reps=day["reps"] + 1),
        lambda day: day.assign(outcome="stopped"),
        lambda day: day.assign(reps_in_reserve=2.0),
        lambda day: day.assign(rest_s=301.0),
        lambda day: pd.concat([day, day.iloc[-1:]], ignore_index=True),
        lambda day: day.iloc[:-1],
    ],
    ids=["load", "reps", "outcome", "reserve", "rest", "a set more", "a set less"],
)
def test_edited_rows_of_a_learned_day_are_asked_about_and_not_counted_twice(case, days, after, edit):
    log = case[1][case[1]["date"] < days[6]]
    here = (log["date"] == days[2]) & (log["exercise"] == "back squat")
    changed = pd.concat([log[~here], edit(log[here])], ignore_index=True)
    learned = fit_log(changed, after)
    assert learned.fit.log.set_count == 0
    (question,) = learned.questions
    assert question.startswith(f"back squat, {pd.Timestamp(days[2]).date()}: ")
    assert "edited" in question
    assert "with the lifter file from before it" in question


def test_a_corrected_date_is_asked_about(case, days, after):
    log = case[1][case[1]["date"] < days[6]].copy()
    moved = pd.Timestamp(days[2]) + pd.Timedelta(days=1)
    assert moved not in days
    log.loc[(log["date"] == days[2]) & (log["exercise"] == "back squat"), "date"] = moved
    learned = fit_log(log, after)
    assert learned.fit.log.set_count == 0
    (question,) = learned.questions
    assert question.startswith(f"back squat, {moved.date()}: the same sets were learned as those of")


def test_the_same_sets_on_a_new_day_are_new(case, days, after):
    """Who trains alike week after week is not skipped: a day is known by its date too."""
    log = case[1][case[1]["date"] < days[6]]
    alike = log[log["date"] == days[5]].assign(date=pd.Timestamp(days[5]) + pd.Timedelta(days=7))
    learned = fit_log(pd.concat([log, alike], ignore_index=True), after)
    assert learned.fit.log.set_count == len(alike)
    assert learned.questions == ()
    assert fit_log(alike, after).fit.log.set_count == len(alike)


def test_an_exercise_that_is_not_learned_yet_counts_on_learned_days_too(case, days):
    lifter, log = case
    squats = log[log["exercise"] == "back squat"]
    learned = fit_log(log, updated_lifter(fit_log(squats, lifter)))
    assert learned.exercises == ("lat pulldown",)
    assert learned.fit.log.set_count == len(log) - len(squats)


def test_another_lifter_who_did_the_same_is_not_touched(case):
    lifter, log = case
    updated_lifter(fit_log(log, lifter))
    other = lifter.model_copy(update={"name": "Another"})
    learned = fit_log(log.assign(lifter="Another"), other)
    assert learned.fit.log.set_count == len(log)
    assert learned.notes == ()


def test_one_rms_hold_no_earlier_than_the_last_day_learned_from(case, days):
    """Sets found late: the file's numbers are those of its last day, and so are the new ones."""
    lifter, log = case
    late = log["date"] == days[3]
    after = updated_lifter(fit_log(log[~late], lifter))
    learned = fit_log(log[late], after)
    assert learned.fit.log.set_count == late.sum()
    assert learned.today == pd.Timestamp(days[8]).date()
    with pytest.raises(InputError, match="before the last session"):
        fit_log(log[late], after, today=pd.Timestamp(days[8]).date() - datetime.timedelta(days=1))


def test_a_lifter_with_learned_sets_is_written_in_full(after, tmp_path):
    path = tmp_path / "canonical.toml"
    path.write_text(toml_text(after), encoding="utf-8")
    assert read_lifter(path) == after


@pytest.mark.parametrize(
    ("line", "place"),
    [('2026-02-30 = "3 sets, 0123456789ab"', "2026-02-30"), ('2026-01-05 = "some"', "2026-01-05")],
)
def test_learned_sets_that_cannot_be_read_are_explained(line, place, tmp_path):
    path = tmp_path / "lifter.toml"
    lift = '[lifts."back squat"]\none_rm_kg = 100\n'
    path.write_text(f'name = "A"\n{lift}[learned."back squat"]\n{line}\n', encoding="utf-8")
    with pytest.raises(InputError) as caught:
        read_lifter(path)
    assert place in str(caught.value)
    assert "learned" in str(caught.value)


def test_evidence_counts_up_to_a_factor(case):
    """A log ten times as long is as improbable as e to the -1000: only the shape of the evidence says anything."""
    learned = fit_log(case[1].iloc[:12], case[0])
    lifts = [
        replace(lift, filtered=replace(lift.filtered, log_evidence=lift.filtered.log_evidence - 1000.0))
        for lift in learned.fit.lifts
    ]
    shifted = Learned(replace(learned.fit, lifts=tuple(lifts)))
    for name in learned.exercises:
        # 1000 takes three of the sixteen digits.
        assert shifted.one_rm(name).mean == pytest.approx(learned.one_rm(name).mean, abs=1e-9)


def test_a_parameter_at_the_edge_of_what_is_possible_is_written_all_the_same(case, days, monkeypatch):
    """Six in ten possible lifters at the largest end gain that published sets leave: middle and high end are one."""
    lifter, log = case
    learned = fit_log(log[log["date"] < days[3]], lifter)
    drawn = learned.draws

    def at_the_edge(count, rng):
        found = drawn(count, rng)
        gain = found.tiring.end_gain
        edged = np.minimum(gain, np.quantile(gain, 0.4))
        return replace(found, tiring=replace(found.tiring, end_gain=edged))

    monkeypatch.setattr(Learned, "draws", lambda _, count, rng: at_the_edge(count, rng))
    low, middle, high = updated_lifter(learned).together.others["end_gain"]
    assert low < middle < high
    # No farther from it than rounding asks: a hundredth of it.
    assert high == pytest.approx(1.01 * middle, rel=1e-3)
