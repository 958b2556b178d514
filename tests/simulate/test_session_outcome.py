"""What the sets of a session come to over the draws, counted one by one; in one compiled pass and by arrays."""

import dataclasses
import math

import numpy as np
import pytest

from tests.simulate.test_plan import ROOM, WHO, block, group, slot
from workbench.answers.outcomes import Measured
from workbench.simulate import fused
from workbench.simulate.draws import draw_for
from workbench.simulate.plan import make_plan, plan_changed
from workbench.simulate.run import simulate

#: A mean of sums and a sum of means, of some hundred numbers of four digits.
ROUNDING = 1e-12
#: More than one block of draws of the compiled pass, and a part of one.
DRAWS = 300
RULE = {"lower": 10.0, "lowest": 60.0}


def outcome_of(*slots):
    plan = make_plan(block(*slots, weeks=2), WHO, ROOM)
    return simulate(plan, draw_for(plan, draws=DRAWS, seed=4))


def missing_some():
    """Sets that are hard to make, to failure, to a range, with drops, and not done in every week."""
    rising = {"rule": "by week", "load": [70, 70], "sets": [1, 3]}
    return outcome_of(
        slot("back squat", group(8, percent=78, count=3), group("failure", percent=70, progression=rising)),
        slot("leg press", group([6, 9], percent=76, count=2, drops={"sizes": [20], "reps": 6})),
    )


def under_a_rule():
    return outcome_of(slot("back squat", group(8, percent=80, count=3, adjust=RULE)))


@pytest.fixture(params=["compiled", "arrays"])
def way(request, monkeypatch):
    """Count in both ways: what is compiled is there, or it is not."""
    module = None
    if request.param == "compiled":
        pytest.importorskip("numba", reason="numba is not installed: pip install '.[fast]'")
        from workbench.simulate import fused_sets as module
    monkeypatch.setattr(fused, "_compiled", module)
    return request.param


def one_by_one(one, week):
    """Of one set in one week: draws in which all is made, reps missed, reps done, and the reserve of each draw."""
    low, high = one.planned.reps_low[week], one.planned.reps_high[week]
    prescribed, active = one.planned.prescribed[week], one.planned.active[week]
    made = missed = done = 0
    reserve = []
    for reps in one.available[:, week]:
        enough = not prescribed or reps >= low
        made += enough
        missed += 0 if enough else low - math.floor(reps)
        done += min(math.floor(reps), high) if active else 0
        reserve.append(reps - low if prescribed else math.inf)
    return made, missed, done, reserve


def test_sets_are_counted_as_one_by_one(way):
    sets = missing_some().sessions[0]
    assert (sets._counted is not None) == (way == "compiled")
    lowest = np.full((DRAWS, 2), np.inf)
    for number, one in enumerate(sets):
        for week in range(2):
            made, missed, done, reserve = one_by_one(one, week)
            assert sets.chances[number, week] == made / DRAWS
            assert sets.missed_in_all[number, week] == missed
            assert sets.expected_missed[number, week] == missed / DRAWS
            assert sets.done_in_all[number, week] == done
            lowest[:, week] = np.minimum(lowest[:, week], reserve)
    assert np.array_equal(sets.lowest_reserve, lowest)
    assert np.array_equal(sets.made, lowest >= 0)
    assert 0 < sets.made.mean() < 1
    assert sets.missed_in_all.sum() > DRAWS


def test_the_reps_of_a_session_lie_in_one_piece_but_under_a_rule(way):
    sets = missing_some().sessions[0]
    assert all(np.array_equal(sets.worked.reps[number], one.available.T) for number, one in enumerate(sets))
    assert under_a_rule().sessions[0].worked is None


@pytest.mark.parametrize("case", [missing_some, under_a_rule])
def test_the_mean_of_a_measure_is_that_of_its_values(way, case):
    """Also under a rule of the coach, by which draws leave sets out and change loads: then by the values themselves."""
    measured = Measured(case())
    for key in ("all_reps", "completed_reps", "missed_reps", "tonnage", "hard_sets", "intensity", "minutes"):
        assert measured.mean(key) == pytest.approx(float(np.mean(measured.value(key))), rel=ROUNDING), key
    reps = sum(one_by_one(one, week)[2] for one in measured.outcome.sessions[0] for week in range(2))
    if case is missing_some:
        assert measured.mean("completed_reps") == reps / DRAWS


def test_a_changed_plan_of_another_lifter_takes_nothing_over():
    """What was found of an exercise for one lifter is not taken for another, of whom the plan was made to speak."""
    asked = block(slot("back squat", group(5, percent=70)), weeks=2)
    plan = make_plan(asked, WHO, ROOM)
    lifts = WHO.lifts | {"back squat": WHO.lifts["back squat"].model_copy(update={"one_rm_kg": 200.0})}
    stronger = dataclasses.replace(plan, lifter=WHO.model_copy(update={"lifts": lifts}))
    longer = block(slot("back squat", group(5, percent=70)), weeks=3)
    assert plan_changed(plan, longer).sessions[0].sets[0].load_kg.tolist() == [70, 70, 70]
    assert plan_changed(stronger, longer).sessions[0].sets[0].load_kg.tolist() == [140, 140, 140]


def test_what_is_compiled_is_compiled_for_one_kind_of_numbers(monkeypatch):
    """A wave has whole numbers of reps, a step has numbers, a session has one exercise or several: one compiled pass
    serves them all, or the second would wait.
    """
    pytest.importorskip("numba", reason="numba is not installed: pip install '.[fast]'")
    monkeypatch.setattr(fused, "_compiled", None)
    monkeypatch.delenv("WORKBENCH_FUSED", raising=False)
    assert fused.load()
    compiled = (fused._compiled.run_session, fused._counts().count_reps)
    before = [len(one.signatures) for one in compiled]
    for rule in ({"rule": "wave", "length": 2, "step": 2.0, "rise": 1.0}, {"rule": "step", "step": 1.0}):
        asked = group(5, percent=70, progression=rule)
        assert outcome_of(slot("back squat", asked)).sessions[0].chances.shape == (1, 2)
        assert outcome_of(slot("back squat", asked), slot("leg press", asked)).sessions[0].chances.shape == (2, 2)
    assert [len(one.signatures) for one in compiled] == before
