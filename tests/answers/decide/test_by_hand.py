"""Limits, knobs and the summing-up of a search, each value worked by hand on a few written-down trials."""

import math
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from tests.hand_made import BLOCK, hall, lifter_of
from workbench.answers.block_check import check_block
from workbench.answers.decide import Knob, Limit, apply_settings, decide, knob_of, limit_of, limits_of, search
from workbench.answers.decide.trials import Bench, StoppedError, Task, Trial, answer_of, front_of
from workbench.prescription.block import Block
from workbench.quantities import InputError
from workbench.reference.toml_files import validate
from workbench.simulate.plan import make_plan

ONE_RM = {"bench press": 100, "back squat": 120}


def test_how_far_a_value_is_on_the_wrong_side():
    """As part of the bound: 0.6 of at least 0.8 misses by a quarter, 75 of at most 60 minutes by a quarter."""
    assert Limit("all_reps", at_least=0.8).shortfall(0.6) == pytest.approx(0.25)
    assert Limit("all_reps", at_least=0.8).shortfall(0.8) == 0
    assert Limit("all_reps", at_least=0.8).shortfall(0.9) == 0
    assert Limit("session_minutes", at_most=60).shortfall(75) == pytest.approx(0.25)
    assert Limit("session_minutes", at_most=60).shortfall(60) == 0
    assert Limit("session_minutes", at_most=60).shortfall(30) == 0
    assert Limit("lowest_reserve", at_least=-2).shortfall(-3) == pytest.approx(0.5)
    assert Limit("missed_reps", at_most=0).bound == 0
    assert Limit("missed_reps", at_most=0).shortfall(1) > 1
    assert str(Limit("missed_reps", at_most=0)) == "missed reps, reps at most 0"


def test_the_blocks_own_limits():
    content = {**BLOCK, "limits": {"chance_of_reps": 0.7, "session_minutes": 45}}
    assert limits_of(validate(content, Block)) == (
        Limit("set_chance", at_least=0.7),
        Limit("session_minutes", at_most=45),
    )


@pytest.fixture(scope="module")
def block():
    by_week = {"rule": "by week", "load": [72, 77], "reps": [6, 4], "sets": [4, 2]}
    plain = {"count": 3, "reps": 5, "percent": 70, "rest_s": 90}
    ladder = {"rule": "reps then load", "reps_to": 8, "step": 4}
    bench = [plain, {"reps": 6, "part_of_group": 1, "part": 0.9, "rest_s": 90}, {**plain, "progression": by_week}]
    squat = [{**plain, "progression": ladder, "drops": {"sizes": [20, 15]}}, {**plain, "percent": None, "kg": 60}]
    squat = [{key: value for key, value in one.items() if value is not None} for one in squat]
    slots = [{"exercise": "bench press", "sets": bench}, {"exercise": "back squat", "sets": squat}]
    sessions = [{"name": "a", "exercises": slots}, {"name": "b", "exercises": slots}]
    return validate({"name": "b", "weeks": 2, "sessions": sessions}, Block)


def turned(block, *knobs):
    """Every group of the block, [session][exercise][group], with the knobs at their first values."""
    changed = apply_settings(block, knobs, [knob.values[0] for knob in knobs])
    return [[slot.sets for slot in one.exercises] for one in changed.sessions]


def test_percent_turns_the_first_weeks_load_and_what_is_written_out_moves_with_it(block):
    groups = turned(block, Knob("percent", (65,), exercise="bench press", session="a"))
    first, part, by_week = groups[0][0]
    assert (first.percent, part.percent, part.part) == (65, None, 0.9)
    # From 72 to 65 in week 1: seven points less in both.
    assert (by_week.percent, by_week.progression.load) == (65, [65, 70])
    assert [one.percent for one in groups[0][1]] == [70, None]
    assert [one.percent for one in groups[1][0]] == [70, None, 70]


def test_each_knob_turns_its_groups_and_no_others(block):
    steps = turned(block, Knob("step", (3,), exercise="back squat", session="b"))
    assert (steps[1][1][0].progression.step, steps[1][1][0].progression.rule) == (3, "reps then load")
    assert (steps[1][1][1].progression.step, steps[1][1][1].progression.rule) == (3, "step")
    assert steps[0][1][0].progression.step == 4
    assert turned(block, Knob("step", (3,), exercise="bench press"))[0][0][1].progression is None  # part of a group
    reps = turned(block, Knob("reps", (7,), session="a"))
    assert [one.reps for one in reps[0][0]] == [(7, 7), (7, 7), (7, 7)]
    assert reps[0][0][2].progression.reps == [7, 5]  # from six and four: one more in both weeks
    assert (reps[0][1][0].reps, reps[0][1][0].progression.reps_to) == ((7, 7), 10)
    sets = turned(block, Knob("sets", (2,), session="a"))
    assert [one.count for one in sets[0][0]] == [2, 2, 3]  # the last has its sets by week
    rest = turned(block, Knob("rest", (200,), exercise="bench press", group=2))
    assert [one.rest_s for one in rest[0][0]] == [90, 200, 90]
    drop = turned(block, Knob("drop", (30,)))
    assert [one[1][0].drops.sizes for one in drop] == [[30, 30], [30, 30]]


def test_a_lighter_week_is_the_blocks_own_or_the_last(block):
    own = block.model_copy(
        update={"lighter_weeks": validate(BLOCK | {"lighter_weeks": [{"week": 1}]}, Block).lighter_weeks}
    )
    knob = Knob("lighter week", (0.7,))
    assert [(one.week, one.load) for one in apply_settings(own, [knob], [0.7]).lighter_weeks] == [(1, 0.7)]
    assert [(one.week, one.load) for one in apply_settings(block, [knob], [0.7]).lighter_weeks] == [(2, 0.7)]


def test_knobs_and_limits_as_they_are_typed():
    knob = knob_of("percent=60:70:2.5 of bench press")
    assert (knob.kind, knob.values, knob.exercise) == ("percent", (60, 62.5, 65, 67.5, 70), "bench press")
    assert knob_of("rest=90,120").values == (90, 120)
    assert knob_of("percent=60:69:2.5").values == (60, 62.5, 65, 67.5)
    assert limit_of("set_chance:bench press >= 0.85") == Limit("set_chance:bench press", at_least=0.85)
    assert limit_of("session_minutes<=60") == Limit("session_minutes", at_most=60)
    assert Knob("percent", (60,), exercise="bench press", group=2).shown(60) == "bench press 2: start at 60 %"
    assert Knob("lighter week", (0.8,)).shown(0.8) == "lighter week at 80 %"


def trial(place, demand, chance, *values, shortfall=0.0, weakest="w"):
    return Trial(place, demand, chance, values, shortfall, weakest)


def test_which_of_two_plans_is_preferred():
    kept, more = trial((0,), 10.0, 0.9), trial((1,), 12.0, 0.8)
    missed, closer = trial((2,), 20.0, 0.7, shortfall=0.4), trial((3,), 5.0, 0.7, shortfall=0.2)
    assert more.better_than(kept)
    assert not kept.better_than(more)
    assert kept.better_than(missed)
    assert closer.better_than(missed)
    likelier = trial((1,), 10.0, 0.95)
    assert likelier.better_than(kept)
    assert not kept.better_than(likelier)
    assert trial((0,), 10.0, 0.9).better_than(trial((1,), 10.0, 0.9))  # alike: the lower knobs
    assert not trial((1,), 10.0, 0.9).better_than(trial((0,), 10.0, 0.9))
    assert kept.better_than(None)
    # What a plan demands that is not allowed does not count.
    more, likelier = trial((0,), 20.0, 0.5, shortfall=0.4), trial((1,), 5.0, 0.7, shortfall=0.4)
    assert likelier.better_than(more)


def test_the_front_of_six():
    trials = [
        trial((0,), 10.0, 0.9),
        trial((1,), 12.0, 0.8),
        trial((2,), 11.0, 0.8),  # less than the second and no likelier
        trial((3,), 10.0, 0.95),  # likelier than the first and as much
        trial((4,), 15.0, 0.3),
        trial((5,), 14.0, 0.2),
    ]
    assert [one.place for one in front_of(trials)] == [(3,), (1,), (4,)]


class WrittenBench:
    """A bench whose trials are written down: two knobs of three values."""

    task = SimpleNamespace(demand="tonnage", room=hall())
    knobs = (Knob("reps", (4, 5, 6)), Knob("rest", (60, 90, 120)))
    limits = (Limit("set_chance", at_least=0.8), Limit("session_minutes", at_most=60), Limit("tonnage", at_most=1000))

    def __init__(self, *trials):
        self.trials = {one.place: one for one in trials}
        self.best = None
        for one in trials:
            if one.better_than(self.best):
                self.best = one

    def words(self, place):
        return f"{self.knobs[0].values[place[0]]} reps, {self.knobs[1].values[place[1]]} s"

    def changed(self, place):
        return f"block at {place}"

    def neighbours(self, place):
        near = [(place[0] + 1, place[1]), (place[0] - 1, place[1]), (place[0], place[1] + 1), (place[0], place[1] - 1)]
        return [one for one in near if min(one) >= 0 and max(one) <= 2]


def tried(place, demand, chance, *values):
    shortfall = sum(one.shortfall(value) for one, value in zip(WrittenBench.limits, values, strict=True))
    return Trial(place, demand, chance, values, shortfall, f"weakest at {place}")


def test_what_binds_and_what_one_value_harder_breaks():
    bench = WrittenBench(
        tried((1, 1), 500.0, 0.6, 0.85, 50.0, 500.0),
        tried((2, 1), 600.0, 0.4, 0.7, 55.0, 600.0),  # keeps the time, not the chance
        tried((1, 2), 510.0, 0.65, 0.9, 66.0, 510.0),  # keeps the chance, not the time
        tried((2, 2), 620.0, 0.5, 0.75, 70.0, 620.0),  # keeps neither
        tried((0, 1), 400.0, 0.8, 0.95, 45.0, 400.0),
        tried((1, 0), 500.0, 0.5, 0.82, 40.0, 500.0),
    )
    found = answer_of(bench, tried=6, finished=True, method="every plan")
    assert (found.chosen, found.settings, found.demand, found.chance) == ("block at (1, 1)", "5 reps, 90 s", 500, 0.6)
    assert found.weakest == "weakest at (1, 1)"
    assert found.limits["binds"].tolist() == [True, True, False]
    assert found.limits["value"].tolist() == [0.85, 50, 500]
    assert found.limits["bound"].tolist() == [0.8, 60, 1000]
    reasons = found.limits["reason"].tolist()
    assert reasons[0] == (
        "without it: 6 reps, 90 s; demand 600 in place of 500, but chance of the least likely set 70 % "
        "(weakest at (2, 1))"
    )
    assert reasons[1] == "without it: 5 reps, 120 s; demand 510 in place of 500, but longest session, min 66"
    assert reasons[2] == "nothing more demanding was kept out by it"
    assert found.steps["change"].tolist() == ["6 reps", "rest 120 s"]
    assert found.steps["breaks"].tolist() == [
        "chance of the least likely set 70 %, limit 80 %",
        "longest session, min 66, limit 60",
    ]
    # The front leaves out what is too long; breaking the chance may stand there, marked.
    front = found.front
    assert front["demand"].tolist() == [400, 500, 600]
    assert front["chance"].tolist() == [0.8, 0.6, 0.4]
    assert front["allowed"].tolist() == [True, True, False]
    assert front["chosen"].tolist() == [False, True, False]
    assert found.candidates["session_minutes"].tolist() == [50, 55, 66, 70, 45, 40]


def test_where_nothing_is_allowed_each_limit_says_whether_it_is_kept():
    bench = WrittenBench(tried((1, 1), 500.0, 0.6, 0.6, 50.0, 500.0), tried((0, 1), 400.0, 0.8, 0.72, 45.0, 400.0))
    found = answer_of(bench, tried=2, finished=True, method="every plan")
    assert found.chosen is None
    assert found.settings == "4 reps, 90 s"  # 0.72 of 0.8 misses by a tenth, 0.6 by a quarter
    assert found.limits["binds"].tolist() == [True, False, False]
    assert found.limits["reason"].tolist()[0].endswith("least likely here: weakest at (0, 1)")
    assert found.limits["reason"].tolist()[1] == "kept by the plan that comes closest"
    assert not found.front["chosen"].any()


@pytest.fixture(scope="module")
def small():
    slots = [{"exercise": name, "sets": [{"count": 2, "reps": 5, "percent": 80, "rest_s": 60}]} for name in ONE_RM]
    sessions = [{"name": "a", "day": 1, "exercises": slots}, {"name": "b", "day": 4, "exercises": slots}]
    return validate({"name": "b", "weeks": 2, "sessions": sessions}, Block)


def bench_for(block, knobs, limits=(), **more):
    task = Task(block, lifter_of(ONE_RM), hall(), tuple(knobs), tuple(limits), "tonnage", seed=3)
    return Bench(task, 60, **{"tried": lambda _: True, "stop": None, **more})


def test_a_trial_has_the_digits_of_the_check(small):
    """Knobs at the block's own values: the same simulated days as the check of the block, the same numbers."""
    limits = [Limit("set_chance", at_least=0.9), Limit("session_minutes", at_most=5)]
    bench = bench_for(small, [Knob("percent", (80, 85)), Knob("rest", (60, 90))], limits)
    found = bench.trial((0, 0))
    check = check_block(small, lifter_of(ONE_RM), hall(), draws=60, seed=3)
    assert found.chance == check.chance_of_block
    lowest = check.sets["chance"].min()
    longest = max(float(np.max(one.duration_s)) for one in check.plan.sessions) / 60
    assert found.values == pytest.approx((lowest, longest))
    assert found.shortfall == pytest.approx((0.9 - lowest) / 0.9 + (longest - 5) / 5)
    weakest = check.sets.loc[check.sets["chance"].idxmin()]
    assert f"{weakest['exercise']}, set {weakest['set']}: {100 * lowest:.0f} %" in found.weakest
    assert bench.words((1, 0)) == "start at 85 %, rest 60 s"
    assert bench.settings((1, 1)) == (85, 90)


def test_sessions_alike_are_planned_as_if_each_were_alone(small):
    bench = bench_for(small, [Knob("percent", (80,))])
    plan, plain = bench.plan((0,)), make_plan(small, lifter_of(ONE_RM), hall())
    assert [(one.name, one.day) for one in plan.sessions] == [("a", 1), ("b", 4)]
    for session, other in zip(plan.sessions, plain.sessions, strict=True):
        assert [one.load_kg.tolist() for one in session.sets] == [one.load_kg.tolist() for one in other.sets]
        assert session.duration_s.tolist() == other.duration_s.tolist()


def test_a_plan_that_breaks_a_limit_of_the_plan_need_not_be_simulated(small):
    limits = [Limit("heaviest_percent", at_most=80), Limit("set_chance", at_least=0.9)]
    quick = bench_for(small, [Knob("percent", (75, 100))], limits, quick=True)
    over, kept = quick.trial((1,)), quick.trial((0,))
    assert math.isnan(over.values[0])
    assert over.shortfall == pytest.approx(1.25)  # 100 of at most 80, and one more
    assert kept.shortfall < 1
    assert kept.values[0] == pytest.approx(75, abs=1)  # rounded to the room


def test_nothing_is_tried_twice_and_it_stops_when_told(small):
    told = []

    def until_two(one):
        told.append(one.place)
        return len(told) < 2

    bench = bench_for(small, [Knob("percent", (70, 80, 90))], tried=until_two)
    assert bench.trial((0,)) is bench.trial((0,))
    assert told == [(0,)]
    with pytest.raises(StoppedError):
        bench.trial((1,))
    assert set(bench.trials) == {(0,), (1,)}


def test_neighbours_of_a_place():
    bench = SimpleNamespace(knobs=(Knob("reps", (4, 5, 6)), Knob("rest", (60, 90, 120))))
    assert set(Bench.neighbours(bench, (0, 1))) == {(1, 1), (0, 2), (0, 0)}
    far = {(1, 1), (2, 1), (0, 0), (0, 2)}
    assert set(Bench.neighbours(bench, (0, 1), reach=2)) == far
    assert set(Bench.neighbours(bench, (0, 1), pairs=True)) == {(1, 1), (0, 2), (0, 0), (1, 2), (1, 0)}


def test_the_sets_of_every_layout_meet_their_own_days(small):
    """More sets change no digit of the sets before them, whichever plan is tried first."""
    knobs = [Knob("sets", (1, 2, 3), exercise=name) for name in ONE_RM]
    bench = bench_for(small, knobs)
    few, many = (bench.measured(bench.plan(place)).outcome for place in ((0, 0), (0, 2)))
    first = next(one for one in few.sessions[0] if one.planned.exercise == "back squat")
    again = next(one for one in many.sessions[0] if one.planned.exercise == "back squat")
    assert np.array_equal(first.available, again.available)


def test_the_answer_lists_every_plan_tried():
    bench = WrittenBench(tried((1, 1), 500.0, 0.6, 0.85, 50.0, 500.0))
    found = answer_of(bench, tried=1, finished=False, method="search")
    assert isinstance(found.candidates, pd.DataFrame)
    assert (found.tried, found.finished, found.method, found.demand_label) == (1, False, "search", "tonnage, kg")


def test_a_limit_on_an_exercise_that_the_room_does_not_know_is_refused(small):
    lifter, knobs = lifter_of({"back squat": 100}), [Knob("sets", (1, 2), exercise="back squat")]
    limits = [Limit("set_chance:joyful hop", at_least=0.5)]
    with pytest.raises(InputError, match="joyful hop"):
        decide(small, lifter, hall(), knobs, limits=limits, draws=10)


def test_up_to_the_stated_number_of_plans_every_plan_is_tried(small, monkeypatch):
    knobs = [Knob("percent", (70, 75)), Knob("reps", (4, 5))]
    for bound, method in ((4, "every plan"), (3, "search")):
        monkeypatch.setattr(search, "EXACT_UP_TO", bound)
        found = search.decide(small, lifter_of(ONE_RM), hall(), knobs, limits=[], draws=20, seed=1)
        assert found.method == method, bound


@pytest.mark.parametrize("knobs", [1, 2, 5])
def test_the_evolution_stays_within_what_is_announced(knobs):
    """It tries a first generation and then its successors, at most so many plans; the walks come on top."""
    tried = []

    def trial(place):
        tried.append(place)
        return SimpleNamespace(demand=1.0, allowed=True, shortfall=0.0)

    bench = SimpleNamespace(
        trial=trial, knobs=[Knob("reps", tuple(range(1, 10)))] * knobs, task=SimpleNamespace(seed=1)
    )
    search._evolve(bench)
    # The walk of the last steps looks at each neighbour two steps off, and at pairs: 4 a knob and 4 a pair at least.
    assert len(tried) + 4 * knobs + 2 * knobs * (knobs - 1) <= search._budget(knobs)
