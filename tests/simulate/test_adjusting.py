"""Rules of a coach within a set group: by hand, beside a slow loop of its own, and on common random numbers."""

import dataclasses
import math
from types import SimpleNamespace

import numpy as np
import pytest

from tests.hand_made import hall, lifter_of
from tests.scalar_oracle import effort_slowly, exponential_slowly, recovered
from workbench.gym.equipment.loads import QUANTA_PER, LoadTable
from workbench.models.fatigue import EFFORT
from workbench.models.stated_reserve import STATED_RESERVE
from workbench.prescription.adjust import Adjust
from workbench.prescription.block import Block
from workbench.quantities import InputError
from workbench.reference.toml_files import validate
from workbench.simulate.adjusting import Adjusted
from workbench.simulate.draws import CommonDays, draw_for
from workbench.simulate.plan import make_plan
from workbench.simulate.run import simulate


def block_of(adjust, *, percent=80.0, count=5, weeks=2, reps=6, rest_s=120, **more):
    step = {"rule": "step", "step": 2.5}
    group = {"count": count, "reps": reps, "percent": percent, "rest_s": rest_s, "progression": step, **more}
    if adjust:
        group["adjust"] = adjust
    slots = [{"exercise": "bench press", "ramp": False, "sets": [group]}]
    return validate({"name": "b", "weeks": weeks, "sessions": [{"name": "one", "exercises": slots}]}, Block)


def simulated(adjust, draws=300, **settings):
    plan = make_plan(block_of(adjust, **settings), lifter_of({"bench press": 100.0}), hall(), form=EFFORT)
    drawn = draw_for(plan, draws=draws, seed=2)
    return plan, drawn, simulate(plan, drawn).sessions[0]


def plates_not_above(plan, kg):
    table = plan.room.loads_for(plan.catalogue.exercise("bench press")).kg
    below = [load for load in table if load <= kg + 1e-6]
    return below[-1] if below else math.nan


def slowly(plan, drawn, rule, draw, week):
    """One draw and week of the one exercise, set by set, with `math` only: reps available, loads, whether done."""
    p = {f.name: float(np.ravel(getattr(drawn.fatigue, f.name))[draw]) for f in dataclasses.fields(drawn.fatigue)}
    factor, misses, pools, ended, found = 1.0, 0, (0.0, 0.0, 0.0), None, []
    for number, planned in enumerate(plan.sessions[0].sets):
        if rule.end_after is not None and misses >= rule.end_after:
            found.append((0.0, None, False))
            continue
        usual = float(planned.load_kg[week])
        load = usual if abs(factor - 1.0) < 1e-9 else plates_not_above(plan, factor * usual)
        headroom = float(drawn.log_one_rm[draw, 0]) + float(drawn.day[0, draw, week]) - math.log(load)
        fresh = exponential_slowly(headroom, float(drawn.endurance[draw, 0])) * float(
            drawn.set_noise[number, draw, week]
        )
        if ended is not None:
            waited = float(planned.start_s[week]) - ended
            pools = recovered(pools, waited * float(drawn.recovery_rate[draw]), p)
        reps_high, reps_low = float(planned.reps_high[week]), float(planned.reps_low[week])
        available, pools = effort_slowly(*pools, headroom, fresh, reps_high, p)
        ended = float(planned.end_s[week])
        if available < reps_low:
            misses += 1
            factor *= 1.0 - rule.lower / 100.0
        s = STATED_RESERVE
        beyond = min(available, s.longest_reps) - s.turn_reps
        felt = available - 0.5 - reps_high - (s.bias_at_turn + max(s.slope_short * beyond, s.slope_long * beyond))
        if rule.increase and felt >= rule.increase_from:
            factor *= 1.0 + rule.increase / 100.0
        factor = min(max(factor, rule.lowest / 100.0), rule.highest / 100.0)
        found.append((available, load, True))
    return found


RULES = [
    {"lower": 5},
    {"lower": 10, "lowest": 85},
    {"increase": 5, "increase_from": 3, "highest": 110},
    {"lower": 7.5, "increase": 2.5, "end_after": 2},
    {"end_after": 1},
]


@pytest.mark.parametrize("adjust", RULES, ids=str)
@pytest.mark.parametrize("percent", [65, 80])
def test_equal_to_a_slow_loop(adjust, percent):
    plan, drawn, outcome = simulated(adjust, draws=40, percent=percent)
    rule = plan.block.sessions[0].exercises[0].sets[0].adjust
    for draw in range(40):
        for week in range(2):
            for one, (available, load, done) in zip(outcome, slowly(plan, drawn, rule, draw, week), strict=True):
                assert one.available[draw, week] == pytest.approx(available, rel=1e-9, abs=1e-9)
                assert bool(one.done[draw, week]) == done
                if done:
                    assert one.load_kg[draw, week] == pytest.approx(load, abs=1e-9)


def test_no_rule_no_other_digit():
    """Days on which the rule never bites are those without one, to the digit."""
    _, _, without = simulated(None, percent=60)
    _, _, with_rule = simulated({"lower": 5}, percent=60)
    never = np.logical_and.reduce([one.made for one in without])
    assert never.mean() > 0.5
    for one, other in zip(without, with_rule, strict=True):
        assert np.array_equal(one.available[never], other.available[never])


def test_lowering_saves_reps_on_the_same_days():
    """Common random numbers: until the first miss every day is the same with and without the rule, later not worse."""
    _, _, without = simulated(None)
    _, _, with_rule = simulated({"lower": 10})
    missed = np.zeros(without[0].available.shape, dtype=bool)
    for one, other in zip(without, with_rule, strict=True):
        same = one.available == other.available
        assert same[~missed].all()
        assert (other.available >= one.available - 1e-9).all()
        missed |= ~one.made
    assert missed.mean() > 0.2
    later = [
        other.made.mean() - one.made.mean() for one, other in zip(without.sets[2:], with_rule.sets[2:], strict=True)
    ]
    assert min(later) > 0.02


def test_bounds_of_the_load():
    _, _, outcome = simulated(
        {"lower": 20, "lowest": 90, "increase": 10, "increase_from": 2, "highest": 104}, percent=72.5
    )
    for one in outcome:
        assert (one.load_kg >= 0.9 * one.planned.load_kg - 2.5).all()  # a plate below, as the room rounds down
        assert (one.load_kg <= 1.04 * one.planned.load_kg + 1e-9).all()
    assert (outcome[4].load_kg > outcome[4].planned.load_kg).any()
    assert (outcome[4].load_kg < outcome[4].planned.load_kg).any()


def test_a_set_that_is_not_done_is_neither_made_nor_hard_and_costs_nothing():
    _, _, outcome = simulated({"end_after": 1}, percent=85)
    last = outcome[4]
    assert 0.1 < last.done.mean() < 0.9
    assert not last.made[~last.done].any()
    assert not last.ends_within(100.0)[~last.done].any()
    assert (last.available[~last.done] == 0).all()
    # Who missed a rep in set 1 does none of the others.
    assert not outcome[1].done[~outcome[0].made].any()
    assert outcome[1].done[outcome[0].made].all()


def test_drops_follow_the_load_of_their_set():
    drops = {"sizes": [20], "reps": 4, "change_s": 10}
    _, _, outcome = simulated({"lower": 10}, percent=80, count=3, drops=drops)
    main, drop = outcome[2], outcome[3]
    assert (main.planned.drop, drop.planned.drop) == (0, 1)
    lowered = main.load_kg < main.planned.load_kg
    assert lowered.any()
    assert (drop.load_kg[lowered] < np.broadcast_to(drop.planned.load_kg, drop.load_kg.shape)[lowered]).all()
    assert np.array_equal(drop.load_kg[~lowered], np.broadcast_to(drop.planned.load_kg, drop.load_kg.shape)[~lowered])


@pytest.mark.parametrize(
    ("factor", "planned_kg", "body_kg", "expected"),
    [
        (0.9, 50.0, 0.0, 45.0),
        (0.88, 50.0, 0.0, 40.0),  # 44: never above
        (1.0, 52.0, 0.0, 52.0),  # nothing shown: as planned, whatever the plates are
        (0.05, 50.0, 0.0, 50.0),  # 2.5, and nothing so light: as planned
        # 80 of 100 kg are the body: of 90 kg 10 are on the belt, of 93 too, of 84 none of its plates.
        (0.9, 100.0, 80.0, 90.0),
        (0.93, 100.0, 80.0, 90.0),
        (0.84, 100.0, 80.0, 100.0),
        (1.05, 100.0, 80.0, 105.0),
    ],
)
def test_a_changed_load_is_put_on_by_plates_beside_the_body(factor, planned_kg, body_kg, expected):
    """Plates from 5 to 60 kg in steps of 5."""
    plates = LoadTable("belt", "kg", [step * 5 * QUANTA_PER["kg"] for step in range(1, 13)], lambda index: None)
    adjusted = Adjusted(Adjust(lower=10), plates, (1, 1))
    adjusted.factor = np.array([[factor]])
    planned = SimpleNamespace(drop=0, load_kg=np.array([planned_kg]), body_kg=body_kg)
    assert adjusted.load_kg(planned)[0, 0] == pytest.approx(expected)


@pytest.mark.parametrize(
    ("drop", "prescribed", "misses", "factors"),
    [
        # Four of five reps: lowered by a tenth. Five: as it is. Twelve feel like six in reserve or so: raised.
        (0, True, [1, 0, 0], [0.9, 1.0, 1.05]),
        # A drop, or a set that is not done that week or ends where it ends, shows nothing.
        (1, True, [0, 0, 0], [1.0, 1.0, 1.0]),
        (0, False, [0, 0, 0], [1.0, 1.0, 1.0]),
    ],
)
def test_what_a_set_shows(drop, prescribed, misses, factors):
    rule = Adjusted(Adjust(lower=10, increase=5, increase_from=4), None, (3, 1))
    planned = SimpleNamespace(
        drop=drop, prescribed=np.array([prescribed]), reps_low=np.array([5.0]), reps_high=np.array([5.0])
    )
    rule.after(planned, np.array([[4.9], [5.0], [12.0]]))
    assert rule.misses[:, 0].tolist() == misses
    assert rule.factor[:, 0].tolist() == pytest.approx(factors)


def test_after_the_last_miss_that_a_rule_allows_nothing_more_is_counted():
    rule = Adjusted(Adjust(lower=10, end_after=2), None, (1, 1))
    planned = SimpleNamespace(drop=0, prescribed=np.array([True]), reps_low=np.array([5.0]), reps_high=np.array([5.0]))
    found = []
    for _ in range(4):
        found.append((bool(rule.done[0, 0]), int(rule.misses[0, 0]), float(rule.factor[0, 0])))
        rule.after(planned, np.array([[3.0]]))
    assert [done for done, _, _ in found] == [True, True, False, False]
    assert [count for _, count, _ in found] == [0, 1, 2, 2]
    assert [factor for _, _, factor in found] == pytest.approx([1.0, 0.9, 0.81, 0.81])


def test_common_days_are_kept():
    """Two blocks, one with a rule, on shared days: sets before anything bites agree to the digit."""
    plans = [make_plan(block_of(adjust), lifter_of({"bench press": 100.0}), hall()) for adjust in (None, {"lower": 5})]
    days = CommonDays(plans, draws=100, seed=4)
    first, second = (simulate(plan, days.of(plan)).sessions[0][0].available for plan in plans)
    assert np.array_equal(first, second)


@pytest.mark.parametrize(
    ("adjust", "said"),
    [
        ({}, "changes nothing"),
        ({"lower": 40}, "lower"),
        ({"lower": 5, "lowest": 120}, "lowest"),
        ({"increase": 5, "highest": 150}, "highest"),
        ({"end_after": 0}, "end_after"),
        ({"lower": 5, "later": 1}, "later"),
    ],
)
def test_what_no_rule_can_be_is_refused(adjust, said):
    content = block_of(None).model_dump(exclude_none=True)
    content["sessions"][0]["exercises"][0]["sets"][0]["adjust"] = adjust
    with pytest.raises(InputError, match=said):
        validate(content, Block)


def test_a_set_to_failure_takes_no_rule():
    with pytest.raises(InputError, match="sets with reps to be made"):
        block_of({"lower": 5}, reps="failure")
