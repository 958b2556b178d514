"""What is not known and what is luck: the sentences, the least sure set, and the test that would settle most.

The test that is named is held to lifters who do all tests: sorted by what came out, how unlike are those alike in it?
All tables: ``python -m tests.answers.test_unsure``.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

import workbench
from tests.answers.invented_blocks import invented_gym
from workbench.answers.block_check import check_block
from workbench.answers.mend import mends
from workbench.answers.next_test import CAP, CAP_WHERE_TESTED, SetToTest
from workbench.answers.settling import answer_by_lifter, settles_said, target_at
from workbench.answers.spread import spread_of
from workbench.answers.unsure import least_sure, unsure_check, unsure_of
from workbench.gym.equipment import Room
from workbench.lifter import Lifter
from workbench.models.fatigue import run_sets
from workbench.prescription.block import Block
from workbench.reference.parameters import noise
from workbench.reference.sources import data_path
from workbench.reference.toml_files import validate
from workbench.simulate.draws import SeededDays, draw_for
from workbench.simulate.run import run_block, simulate
from workbench.simulate.sources import LUCK, SOURCES

_DEMO = data_path("demo")
DEMO = [_DEMO / "block.toml", _DEMO / "lifters" / "asta_lindqvist.toml", _DEMO / "rooms" / "boathouse_hall.toml"]

ROOM = {
    "name": "Invented",
    "unit": "kg",
    "plates": [{"mass": mass, "pairs": 6} for mass in (1.25, 2.5, 5, 10, 20)],
    "equipment": [{"name": "bar", "kind": "barbell", "bar": 20}],
}
#: The 1RM alone, or all that a file can hold, each as well as a file says it.
UNKNOWN = {
    "name": "New",
    "lifts": {name: {"one_rm_kg": 100, "uncertainty_percent": 8} for name in ("bench press", "back squat")},
}
KNOWN = {
    "name": "Known",
    "recovery_rate": 1.1,
    "lifts": {
        name: {"one_rm_kg": 100, "uncertainty_percent": 2, "reps_at": {"percent": 75, "reps": 11}}
        for name in ("bench press", "back squat")
    },
}


def plan_of(lifter, *groups, exercise="bench press", weeks=2):
    block = {
        "name": "Invented",
        "weeks": weeks,
        "sessions": [{"name": "A", "exercises": [{"exercise": exercise, "sets": list(groups)}]}],
    }
    return validate(block, Block), validate(lifter, Lifter), validate(ROOM, Room)


def fives(percent=77.5):
    return {"count": 5, "reps": 5, "percent": percent, "rest_s": 120, "progression": {"rule": "step", "step": 2.5}}


def eights():
    return {"count": 4, "reps": 8, "percent": 67.5, "rest_s": 60}


def outcome_of(*files, draws=2000, seed=1):
    return run_block(*files, SeededDays(draws, seed))


# --- the test that is named, among lifters who do all --------------------------------------------------------------


def people_of(plan, draws, target, days):
    """Return many lifters, each with the answer for one set over days of its own."""
    lifters = draws.count // days

    def standing(rows):
        fatigue = {name: values[rows] for name, values in vars(draws.fatigue).items()}
        names = ("log_one_rm", "endurance", "recovery_rate", "carry")
        return {name: getattr(draws, name)[rows] for name in names} | {"fatigue": type(draws.fatigue)(**fatigue)}

    first = np.arange(lifters) * days
    alike = replace(draws, **standing(np.repeat(first, days)))
    one = simulate(plan, alike).sessions[target.session_number - 1][target.index]
    values = np.broadcast_to(one.made if target.of == "chance" else one.available, (draws.count, plan.weeks))
    return standing(first), values[:, target.week - 1].reshape(lifters, days).mean(axis=1)


def taken_away(test, lane, people, answers, rng):
    """Share of the sd of the answers that is gone, on average, among lifters for whom a test came out alike."""
    day = noise().day_sd * rng.standard_normal((answers.size, 1))
    headroom = people["log_one_rm"][:, [lane]] + day - np.log(test.load_kg)
    sets = [(rest, headroom, np.inf) for rest in (0.0, test.second_after_s) if rest is not None]
    scatter = np.exp(noise().set_log_sd * rng.standard_normal((len(sets), answers.size, 1)))

    def done(at):
        # Each set has a scatter of its own. What a set to failure leaves does not depend on how many reps it had.
        run = run_sets(
            sets,
            people["endurance"][:, [lane]],
            people["recovery_rate"][:, None],
            parameters=people["fatigue"],
            scatter=scatter[at],
        )
        return np.floor(list(run)[at][:, 0])

    told = pd.DataFrame({"answer": answers, **{f"set {at}": done(at) for at in range(len(sets))}})
    groups = told.groupby([name for name in told if name != "answer"])["answer"]
    size, variance = groups.size(), groups.var()
    kept = size > 1
    left = np.sqrt((size * variance)[kept].sum() / size[kept].sum())
    return 1.0 - float(left / answers.std())


def thirty(found):
    """The tests that are offered, and as many loads between them as make thirty."""
    offered = [one for one in found.test.tests if one.how == "to failure"]
    low, high = (end(one.load_kg for one in offered) for end in (min, max))
    loads = [load for load in np.arange(low, high + 0.1, 2.5) if load not in {one.load_kg for one in offered}]
    rests = (None, 75.0, 90.0, 120.0, 150.0, 240.0)
    more = [SetToTest(found.about.exercise, float(load), second_after_s=rest) for load in loads for rest in rests]
    return (offered + more)[:30]


def compared(files, *, lifters, days, seed=7):
    """Thirty tests with what each takes away among lifters who did it, and what was promised of those offered."""
    outcome = outcome_of(*files)
    found = unsure_of(outcome)
    draws = draw_for(outcome.plan, draws=lifters * days, seed=seed)
    people, answers = people_of(outcome.plan, draws, found.about, days)
    lane = outcome.plan.exercises.index(found.about.exercise)
    tests = thirty(found)
    table = pd.DataFrame({"test": [str(one) for one in tests]}).assign(
        promised=found.test.table.loc[found.test.table["how"] == "to failure", "shrinks"]
        .reset_index(drop=True)
        .reindex(range(len(tests))),
        measured=[taken_away(one, lane, people, answers, np.random.default_rng([seed, 1])) for one in tests],
    )
    assert table["test"].iloc[0] == str(found.test.best)
    return table


CASES = {
    "unknown, fives": plan_of(UNKNOWN, fives()),
    "known, fives": plan_of(KNOWN, fives()),
    "unknown, eights": plan_of(UNKNOWN, eights()),
    "known, eights": plan_of(KNOWN, eights()),
    "unknown, squat fives": plan_of(UNKNOWN, fives(82.5), exercise="back squat"),
}


@pytest.mark.slow
@pytest.mark.parametrize("case", CASES)
def test_the_named_test_takes_away_most_among_thirty(case):
    table = compared(CASES[case], lifters=30_000, days=8)
    assert len(table) == 30
    # A test as good to a point and a half is as good: 1,200 lifters rank them, 30,000 judge.
    assert table["measured"].iloc[0] > table["measured"].max() - 0.015
    # A few outcomes of 1,200 lifters by chance say more than they would of others: up to two points in a promise.
    assert table["promised"].dropna().to_numpy() == pytest.approx(
        table["measured"][table["promised"].notna()], abs=0.03
    )


def test_the_named_test_takes_away_what_it_promises():
    table = compared(CASES["unknown, squat fives"], lifters=6000, days=5)
    assert table["measured"].iloc[0] > table["measured"].max() - 0.03
    assert table["promised"].iloc[0] == pytest.approx(table["measured"].iloc[0], abs=0.06)
    assert table["measured"].iloc[0] - table["measured"].min() > 0.2


# --- never unsafe ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("number", range(12))
def test_no_test_is_unsafe(number):
    """Loads within the cap, three reps in nine of ten cases, fresh; nothing that is avoided or against body mass."""
    block, lifter, room = invented_gym(number)
    names = list(lifter["lifts"])
    lifter |= {"avoid_exercises": [names[0]], "test_maximum": number % 2 == 0}
    outcome = outcome_of(validate(block, Block), validate(lifter, Lifter), validate(room, Room), draws=400)
    found = unsure_of(outcome)
    tests = () if found.test is None else found.test.tests
    cap = CAP_WHERE_TESTED if lifter["test_maximum"] else CAP
    for test in tests:
        assert test.exercise != names[0]
        assert outcome.plan.catalogue.exercise(test.exercise).body_mass_share == 0
        lane = outcome.plan.exercises.index(test.exercise)
        log_one_rm = outcome.draws.log_one_rm[:, lane]
        assert test.load_kg <= cap * np.exp(np.median(log_one_rm)) * 1.0001
        reps = 1 + (log_one_rm - np.log(test.load_kg)) / outcome.draws.endurance[:, lane]
        # A tenth of 400 lifters, as they are and without the day: to a twelfth of a rep or two lifters.
        assert np.mean(reps < 3) < 0.12
        assert found.test.notes


def test_a_fast_lift_is_never_tested_to_failure():
    lifter = {"name": "New", "lifts": {"power clean": {"one_rm_kg": 90, "uncertainty_percent": 8}}}
    files = plan_of(lifter, {"count": 4, "reps": 5, "percent": 80, "rest_s": 120}, exercise="power clean")
    found = unsure_of(outcome_of(*files, draws=200))
    assert found.test is None
    assert found.settles() == "No safe test that would tell more is left; the log of the first weeks will."


def test_where_an_exercise_cannot_be_tested_one_that_shares_its_muscles_is():
    """Of a press that is avoided, what is learned of recovery and endurance comes from the nearest other exercise."""
    names = ("bench press", "back squat", "close-grip bench press")
    lifter = {"name": "New", "lifts": {name: {"one_rm_kg": 100, "uncertainty_percent": 6} for name in names}}
    lifter["avoid_exercises"] = ["bench press"]
    easy = {"count": 1, "reps": 3, "percent": 50, "rest_s": 200}
    slots = [{"exercise": name, "sets": [eights() if name == "bench press" else easy]} for name in names]
    block = {"name": "Invented", "weeks": 1, "sessions": [{"name": "A", "exercises": slots}]}
    found = unsure_of(outcome_of(validate(block, Block), validate(lifter, Lifter), validate(ROOM, Room), draws=300))
    assert found.about.exercise == "bench press"
    assert found.test.best.exercise == "close-grip bench press"


# --- the answer ------------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def demo():
    return workbench.what_is_unsure(*DEMO, draws=1000)


def test_the_same_lifters_and_days_as_the_check(demo):
    sets = demo.places[demo.places["level"] == "set"].reset_index(drop=True)
    check = workbench.check(*DEMO, draws=1000)
    keys = ["week", "session_number", "slot", "set", "drop"]
    assert (sets[keys] == check.sets[keys]).all().all()
    assert sets["chance"].to_numpy() == pytest.approx(check.sets["chance"], nan_ok=True)
    # A set that is to leave some reps has more of them than it will come to.
    own = check.sets["leaves"].isna()
    assert np.floor(sets["reps"])[own].to_numpy() == pytest.approx(check.sets["reps_p50"][own])
    weeks = demo.places[demo.places["level"].isin(["session", "week"])]
    both = weeks.merge(check.weeks, on=["week", "session"], suffixes=("", "_check"))
    assert len(both) == len(check.weeks) == len(weeks)
    assert both["chance"].to_numpy() == pytest.approx(both["chance_check"])
    assert demo.places["chance"].iloc[-1] == pytest.approx(check.chance_of_block)


def test_a_tireless_lifter_makes_more_than_an_easily_tired_one(demo):
    sets = demo.places[demo.places["level"] == "set"]
    assert (sets["reps_tireless"] > sets["reps"]).mean() > 0.95
    assert (sets["reps_tired"] < sets["reps"]).mean() > 0.95
    told = sets.dropna(subset="chance")
    assert (told["chance_tireless"] >= told["chance_tired"]).all()


def test_shares_of_every_place_add_up(demo):
    sums = demo.shares.groupby(["level", "week", "session_number", "slot", "set", "drop", "of"])["share"].sum()
    told = sums[sums > 0]
    assert len(told) > 100
    assert told.to_numpy() == pytest.approx(1.0)
    for place in (0, len(demo.places) - 1):
        row = demo.places.iloc[place]
        picked = demo.shares
        for name in ("level", "week", "session_number", "slot", "set", "drop"):
            picked = picked[picked[name] == row[name]]
        for of in ("chance", "reps"):
            expected = picked[picked["of"] == of].set_index("source")["share"]
            assert demo.shares_at(place, of).to_dict() == pytest.approx(expected.to_dict(), nan_ok=True)
            assert list(demo.shares_at(place, of).index) == list(SOURCES)
    assert len(demo.together) == len(demo.places) * 2 * 15


def test_the_least_sure_set_is_the_one_whose_chance_differs_most_between_lifters(demo):
    sets = demo.places[demo.places["level"] == "set"]
    assert demo.place == sets["sd_chance"].idxmax()
    row = demo.places.iloc[demo.place]
    session = demo.plan.sessions[demo.about.session_number - 1]
    planned = session.sets[demo.about.index]
    assert (planned.exercise, planned.slot, planned.label) == (row["exercise"], row["slot"], row["set"])
    assert demo.about.week == row["week"]
    assert demo.about.of == "chance"


def test_what_differs_between_lifters_is_seen_by_letting_each_live_many_days():
    """The sd of the chance between lifters, from shares, beside the sd of chances counted lifter by lifter."""
    outcome = outcome_of(*plan_of(UNKNOWN, fives()), draws=4000)
    spread = spread_of(outcome)
    target = least_sure(outcome.plan, spread)
    each = answer_by_lifter(outcome.plan, outcome.draws, target, 2000)
    mean = each.mean()
    # Of 12 days each: the luck that is left in them is a twelfth of what their own chance leaves open.
    luck = np.mean(each * (1 - each)) / 11
    expected = np.sqrt(each.var() - luck)
    place = unsure_of(outcome).place
    assert mean == pytest.approx(spread.places["chance"].iloc[place], abs=0.03)
    assert spread.places["sd_chance"].iloc[place] == pytest.approx(expected, abs=0.02)


def test_a_block_to_failure_has_no_chance_but_reps():
    files = plan_of(UNKNOWN, {"count": 3, "reps": "failure", "percent": 70, "rest_s": 60})
    found = unsure_of(outcome_of(*files, draws=300))
    assert found.about.of == "reps"
    assert "chance" not in found.where() + found.ends()
    assert found.test.answer == "reps of that set"
    assert found.places["chance"].isna().all()


def test_a_chance_that_is_sure_leaves_the_reps():
    """Ten sets' worth of room: nobody misses a rep, but how many are left differs."""
    found = unsure_of(outcome_of(*plan_of(KNOWN, {"count": 2, "reps": 2, "percent": 60, "rest_s": 180}), draws=300))
    assert found.about.of == "reps"


def test_sentences(demo):
    where, why, ends, settles = demo.sentences()
    row = demo.places.iloc[demo.place]
    assert where.startswith(
        f"Least sure is week {row['week']}, {row['session']}, {row['exercise']}, set {row['set']}: "
    )
    luck = 100 * demo.shares_at(demo.place)[list(LUCK)].sum()
    assert why.startswith(f"Of what is unsure there, {100 - luck:.0f} % is that the lifter is not known better (")
    assert why.endswith(f"{luck:.0f} % is the luck of the day and the set.")
    assert ends.startswith("The one in ten who tires most easily would have ")
    # Two dumbbells are spoken of by one hand.
    assert f"2 x {demo.test.best.load_kg / 2:g} kg" in settles
    assert demo.test.best.exercise == "dumbbell curl"


def test_a_set_may_be_asked_about():
    """The third set of five: sentences and test are about it, and where its chance is sure, about its reps."""
    outcome = outcome_of(*plan_of(UNKNOWN, fives()), draws=300)
    target = target_at(outcome.plan, 2, 1, 1, "3")
    assert (target.index, target.of) == (2, "chance")
    found = unsure_of(outcome, target)
    assert found.where().startswith("In week 2, A, bench press, set 3: ")
    row = found.places.iloc[found.place]
    assert (row["level"], row["week"], row["set"]) == ("set", 2, "3")
    easy = outcome_of(*plan_of(KNOWN, {"count": 2, "reps": 2, "percent": 60, "rest_s": 180}), draws=300)
    asked = unsure_of(easy, target_at(easy.plan, 1, 1, 1, "2"))
    assert asked.about.of == "reps"
    assert asked.test.answer == "reps of that set"


def test_a_set_to_failure_is_asked_about_by_its_reps():
    outcome = outcome_of(*plan_of(UNKNOWN, {"count": 3, "reps": "failure", "percent": 70, "rest_s": 60}), draws=100)
    assert target_at(outcome.plan, 1, 1, 1, "3").of == "reps"


def test_the_sentences_beside_a_check_are_about_its_least_likely_set():
    check = check_block(*plan_of(UNKNOWN, fives()), draws=300)
    row = check.sets.loc[check.sets["chance"].idxmin()]
    found = unsure_check(check)
    assert (found.about.week, found.about.index + 1) == (row["week"], int(row["set"]))
    # Without a set that is to be made, about the one of which least is known.
    free = check_block(*plan_of(UNKNOWN, {"count": 3, "reps": "failure", "percent": 70, "rest_s": 60}), draws=300)
    assert not unsure_check(free).asked


def test_a_mend_names_the_test_of_the_group_that_breaks():
    check = check_block(*plan_of(UNKNOWN, fives()), draws=400)
    named = mends(check, draws=100).test
    assert named == f"What would tell most: {settles_said(check.plan, unsure_check(check).test)}."
    assert "spotters or safety arms" in named


def test_the_share_that_a_gentler_test_takes_away_is_said():
    """Stopped with one rep left, a set tells less: it is not known how near the end it was."""
    outcome = outcome_of(*plan_of(UNKNOWN, fives()), draws=800)
    test = unsure_of(outcome).test
    gentle = test.table[test.table["how"] == "stop at one in reserve"]
    assert len(gentle) == 1
    assert test.tests[gentle.index[0]] == replace(test.best, how="stop at one in reserve")
    assert gentle["shrinks"].iloc[0] < test.table["shrinks"].iloc[0]
    best, less = (f"{100 * one:.0f} %" for one in (test.table["shrinks"].iloc[0], gentle["shrinks"].iloc[0]))
    said = settles_said(outcome.plan, test)
    assert f"it takes away {best} of what is not known there ({less} if stopped with one rep left)" in said


def test_shares_in_short(demo):
    """Each row is the shares of the place, luck and what is not known their sums; too rare a miss is not split."""
    summary, places = demo.summary("set", "session", "week", "block"), demo.places
    assert len(summary) == len(places)
    for place in (0, demo.place, len(places) - 1):
        of = "reps" if np.isnan(places["chance"].iloc[place]) else "chance"
        shares, row = demo.shares_at(place, of), summary.iloc[place]
        assert row["set scatter"] == pytest.approx(shares["set"], nan_ok=True)
        assert row["luck"] == pytest.approx(shares["day"] + shares["set"], nan_ok=True)
        assert row["not_known"] == pytest.approx(1 - row["luck"], nan_ok=True)
        assert row["endurance"] == pytest.approx(shares["endurance"], nan_ok=True)
    # Of 1,000 draws: 20 misses, or 20 without one, are split.
    rare = np.minimum(places["chance"], 1 - places["chance"]) * 1000 < 19.5
    assert rare.any()
    assert (summary["not_known"].isna() == (rare & places["chance"].notna())).all()
    table = demo.share_table()
    assert len(table.rows) == len(demo.summary())
    assert demo.small_table().rows == table.rows[-6:]
    assert table.rows[-1][1] == "whole block"


def test_who_is_known_well_is_luck_s():
    """A 1RM known to 1 %, endurance and recovery stated: what is left of the lifter is less, and luck is more."""
    shares = []
    for lifter in (UNKNOWN, KNOWN):
        spread = spread_of(outcome_of(*plan_of(lifter, fives()), draws=2000))
        shares.append(spread.reps.share[[list(SOURCES).index(one) for one in LUCK], 0].sum())
    assert shares[1] > shares[0] + 0.1


def main():
    """Print promised beside measured."""
    for name, files in CASES.items():
        table = compared(files, lifters=30_000, days=8)
        off = np.abs(table["promised"] - table["measured"]).max()
        print(f"{name}: promises are off by at most {off:.3f}")
        print(table.round(3).to_string())


if __name__ == "__main__":
    main()
