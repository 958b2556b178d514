"""Every plan that a search tries comes to what it comes to alone, and nothing is worked out twice on the way."""

import itertools
from collections import Counter

import numpy as np
import pytest

from tests.hand_made import hall, lifter_of
from workbench.answers import mend
from workbench.answers.block_check import check_block
from workbench.answers.decide import Knob, Limit, decide
from workbench.answers.decide.trials import Bench, Task
from workbench.answers.mend import mends
from workbench.gym.equipment import Room
from workbench.prescription.block import Block
from workbench.prescription.edit import EVERYWHERE, change
from workbench.reference.toml_files import validate
from workbench.simulate import run
from workbench.simulate.draws import CommonDays
from workbench.simulate.plan import make_plan, working_out
from workbench.simulate.run import simulate

NAMES = ("back squat", "bench press", "dumbbell curl")
LIFTER, ROOM = lifter_of(dict.fromkeys(NAMES, 100)), hall()
DRAWS = 60
#: Sums of a few hundred products in another order.
ROUNDING = 1e-9


def invented(number):
    """Return a block of two or three sessions, two knobs and a least chance, all by lot."""
    rng = np.random.default_rng(number)

    def slot(name):
        group = {"count": int(rng.integers(1, 4)), "reps": int(rng.integers(3, 9)), "rest_s": 90.0}
        group |= {"percent": float(rng.integers(60, 80)), "progression": {"rule": "step", "step": 1.5}}
        return {"exercise": name, "sets": [group]}

    days = range(1, int(rng.integers(3, 5)))
    content = [
        {"name": f"day {day}", "day": day, "exercises": [slot(name) for name in rng.permutation(NAMES)[:2]]}
        for day in days
    ]
    there = sorted({one["exercise"] for session in content for one in session["exercises"]})
    knobs = [
        Knob("percent", (62.0, 70.0, 78.0), exercise=str(rng.choice(there))),
        Knob(*[("reps", (4, 6, 8)), ("sets", (1, 2, 4)), ("rest", (60.0, 120.0, 180.0))][number % 3]),
    ]
    block = validate({"name": "b", "weeks": 2, "sessions": content, "lighter_weeks": [{"week": 2}]}, Block)
    return block, knobs, float(rng.uniform(0.05, 0.6))


def changed_by_hand(block, knobs, values):
    """Return the block with each knob turned by itself, in the group's own entry of the file."""
    keys = {"percent": "percent", "reps": "reps", "sets": "count", "rest": "rest_s"}
    content = block.model_dump(mode="python")
    for knob, value in zip(knobs, values, strict=True):
        for session in content["sessions"]:
            for slot in session["exercises"]:
                for group in slot["sets"] if knob.exercise in (None, slot["exercise"]) else ():
                    group[keys[knob.kind]] = value
    for session in content["sessions"]:
        for slot in session["exercises"]:
            for group in slot["sets"]:
                group["reps"] = group["reps"] if isinstance(group["reps"], int) else group["reps"][0]
    return validate(content, Block)


def counted(plan, draws):
    """Mean tonnage and the chance of the block, counted draw by draw."""
    outcome = simulate(plan, draws)
    tonnage, made = 0.0, np.ones(DRAWS, dtype=bool)
    for one in itertools.chain.from_iterable(outcome.sessions):
        for week in np.flatnonzero(one.planned.active):
            reps = np.floor(one.available[:, week])
            made &= reps >= one.planned.reps_low[week]
            tonnage += one.planned.load_kg[week] * float(np.minimum(reps, one.planned.reps_high[week]).sum()) / DRAWS
    return tonnage, float(made.mean())


@pytest.mark.parametrize("number", range(8))
def test_the_plan_found_is_that_of_trying_each_alone(number):
    block, knobs, least = invented(number)
    values = list(itertools.product(*(knob.values for knob in knobs)))
    plans = [make_plan(changed_by_hand(block, knobs, one), LIFTER, ROOM) for one in values]
    days = CommonDays(plans, draws=DRAWS, seed=3)
    tried = [counted(plan, days.of(plan)) for plan in plans]
    kept = [one for one in zip(tried, values, strict=True) if one[0][1] >= least]
    found = decide(block, LIFTER, ROOM, knobs, limits=[Limit("all_reps", at_least=least)], draws=DRAWS, seed=3)
    assert found.candidates["demand"].tolist() == pytest.approx([demand for demand, _ in tried], rel=ROUNDING)
    assert found.candidates["chance"].tolist() == [chance for _, chance in tried]
    assert (found.chosen is None) == (not kept)
    if kept:
        (demand, chance), settings = max(kept, key=lambda one: one[0])
        assert (found.demand, found.chance) == (pytest.approx(demand, rel=ROUNDING), chance)
        assert found.settings == ", ".join(knob.shown(value) for knob, value in zip(knobs, settings, strict=True))
    else:
        assert found.chance == max(chance for _, chance in tried)


def three_sessions():
    slot = {"exercise": "back squat", "sets": [{"count": 3, "reps": 5, "percent": 75, "rest_s": 90}]}
    press = {**slot, "exercise": "bench press"}
    sessions = [{"name": name, "exercises": [slot, press]} for name in "abc"]
    return validate({"name": "b", "weeks": 2, "sessions": sessions}, Block)


def counting(monkeypatch, module, name, told):
    """Count the calls of a function by what ``told`` says of each."""
    calls, plain = Counter(), getattr(module, name)

    def counted(*given, **named):
        calls[told(*given, **named)] += 1
        return plain(*given, **named)

    monkeypatch.setattr(module, name, counted)
    return calls


def test_sessions_that_no_knob_turns_are_planned_and_simulated_once(monkeypatch):
    simulated = counting(monkeypatch, run, "_run", lambda plan, draws, number, first, **_: number)
    planned = counting(monkeypatch, working_out, "_plan_session", lambda session, plan, before: session.name)
    looked_up = counting(monkeypatch, Room, "loads_for", lambda room, exercise, piece: exercise.name)
    knob = Knob("percent", (70.0, 72.5, 75.0, 77.5), session="b")
    bench = Bench(
        Task(three_sessions(), LIFTER, ROOM, (knob,), (), "tonnage", seed=1), DRAWS, tried=lambda _: True, stop=None
    )
    for at in range(4):
        bench.trial((at,))
    assert simulated == {0: 1, 1: 4, 2: 1}
    assert planned == {"a": 1, "b": 3}  # c is as a is, and so is b at 75 %
    assert looked_up == {"back squat": 1, "bench press": 1}


def test_exercises_that_come_out_alike_are_one_and_the_same():
    sessions = change(three_sessions(), EVERYWHERE, percent=70.0, reps=6).sessions
    assert all(one.exercises[at] is sessions[0].exercises[at] for one in sessions for at in (0, 1))
    assert sessions[0].exercises[0] is not sessions[0].exercises[1]
    assert sessions[0].exercises[0] != sessions[0].exercises[1]


def test_a_mend_tries_each_change_once(monkeypatch):
    check = check_block(three_sessions(), LIFTER, ROOM, draws=200, seed=1, limit=0.97)
    assert check.first_break is not None
    tried = counting(monkeypatch, mend, "change", lambda block, where, exercises, **what: repr(sorted(what.items())))
    whole = counting(monkeypatch, mend, "changed", lambda before, block: (len(block.sessions), block.model_dump_json()))
    found = mends(check, draws=200, seed=1, test=False)
    assert found.broken is not None
    assert len(tried) > 10
    assert set(tried.values()) == {1}
    assert set(whole.values()) == {1}
