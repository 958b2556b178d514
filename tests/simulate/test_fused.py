"""A session in one pass: the reps of the arrays to twelve digits, whatever the plan and the draws; and who runs it."""

import dataclasses
import functools
import importlib.util

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.hand_made import hall, lifter_of
from workbench.models.fatigue import EFFORT, FORMS, STEEP_END
from workbench.models.load_reps import CURVES
from workbench.models.sharing import CARRY, NO_CARRY, Carry
from workbench.prescription.block import Block
from workbench.quantities import InputError
from workbench.reference.toml_files import validate
from workbench.simulate import fused
from workbench.simulate.draws import draw_for
from workbench.simulate.plan import make_plan
from workbench.simulate.run import simulate

#: Some hundred operations a set, in another order, over some thirty sets.
ROUNDING = 1e-12
#: Squats and presses share muscles with what comes beside them, curls with rows.
NAMES = ("back squat", "bench press", "leg press", "barbell row", "dumbbell curl")
FUSED_FORMS = (STEEP_END, EFFORT)
HALL, LIFTER = hall(), lifter_of(dict.fromkeys(NAMES, 100))


@pytest.fixture(scope="module")
def compiled():
    """The module of compiled sets; without numba there is nothing to compare."""
    pytest.importorskip("numba", reason="numba is not installed: pip install '.[fast]'")
    from workbench.simulate import fused_sets

    return fused_sets


def by_arrays_and_fused(plan, draws, compiled):
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(fused, "_compiled", None)
        arrays = simulate(plan, draws)
        patch.setattr(fused, "_compiled", compiled)
        assert fused.runs(draws)
        return arrays, simulate(plan, draws)


def available(outcome):
    return np.concatenate([one.available.ravel() for sets in outcome.sessions for one in sets])


def block_of(*slots, weeks=3, **more):
    content = {"name": "b", "weeks": weeks, "sessions": [{"name": "one", "exercises": list(slots)}], **more}
    return validate(content, Block)


def plan_of(block, form=STEEP_END, carry=CARRY):
    return make_plan(block, LIFTER, HALL, form=form, carry=carry)


groups = st.fixed_dictionaries(
    {
        "count": st.integers(1, 4),
        "reps": st.sampled_from([1, 3, 8, [6, 10], 20, "failure"]),
        "percent": st.integers(20, 105),
        "rest_s": st.sampled_from([0, 5, 60, 180, 1800]),
        "seconds_per_rep": st.sampled_from([1.0, 6.0]),
        "progression": st.sampled_from([None, {"rule": "step", "step": -2.0}]),
    },
    optional={"drops": st.fixed_dictionaries({"sizes": st.sampled_from([[10], [30, 20]]), "reps": st.just("failure")})},
)
slots = st.fixed_dictionaries(
    {
        "exercise": st.sampled_from(NAMES),
        "ramp": st.booleans(),
        "alternate_with_next": st.booleans(),
        "sets": st.lists(groups, min_size=1, max_size=3),
    }
)


@settings(max_examples=15)
@given(
    content=st.lists(slots, min_size=1, max_size=4, unique_by=lambda slot: slot["exercise"]),
    form=st.sampled_from(FUSED_FORMS),
    carry=st.sampled_from([CARRY, NO_CARRY, Carry(0.6, 1.0), Carry(0.6, 0.0)]),
    seed=st.integers(0, 99),
)
def test_equal_to_the_arrays_for_any_plan_and_draws(compiled, content, form, carry, seed):
    content[-1]["alternate_with_next"] = False
    block = block_of(*content, lighter_weeks=[{"week": 2, "load": 0.8, "sets": 0.5}])
    plan = plan_of(block, form, carry)
    arrays, once = by_arrays_and_fused(plan, draw_for(plan, draws=40, seed=seed), compiled)
    assert available(once) == pytest.approx(available(arrays), rel=ROUNDING, abs=ROUNDING)


@pytest.mark.parametrize("form", FUSED_FORMS, ids=str)
def test_equal_to_the_arrays_past_a_block_of_draws_and_in_threads(compiled, form, monkeypatch):
    assert compiled.run_session.targetoptions["nogil"]  # else one thread would wait for the other
    monkeypatch.setattr(fused, "_FOR_A_THREAD", 1)
    monkeypatch.setenv("OMP_NUM_THREADS", "3")
    slot = {"exercise": "bench press", "sets": [{"count": 3, "reps": 5, "percent": 75, "rest_s": 60}]}
    plan = plan_of(block_of(slot, weeks=2), form)
    arrays, once = by_arrays_and_fused(plan, draw_for(plan, draws=1000, seed=1), compiled)
    assert available(once) == pytest.approx(available(arrays), rel=ROUNDING, abs=ROUNDING)


@pytest.mark.parametrize("form", FUSED_FORMS, ids=str)
def test_equal_to_the_arrays_with_a_bend_of_each_draw(compiled, form):
    sets = [{"count": 2, "reps": "failure", "percent": percent, "rest_s": 60} for percent in (30, 60, 75, 90, 105)]
    plan = plan_of(block_of({"exercise": "bench press", "sets": sets}), form)
    bent = dataclasses.replace(draw_for(plan, draws=300, seed=1), bend=np.linspace(-2.0, 12.0, 300).round(1))
    assert 0.0 in bent.bend
    arrays, once = by_arrays_and_fused(plan, bent, compiled)
    assert available(once) == pytest.approx(available(arrays), rel=ROUNDING, abs=ROUNDING)
    unbent = simulate(plan, dataclasses.replace(bent, bend=None))
    none = simulate(plan, dataclasses.replace(bent, bend=np.zeros(300)))
    assert np.array_equal(available(none), available(unbent))


@pytest.mark.parametrize("form", FUSED_FORMS, ids=str)
def test_what_is_compiled_at_the_start_runs_every_session(compiled, form):
    """Another kind of array would be compiled anew, some seconds, while somebody waits."""
    compiled.warm_up()
    before = list(compiled.run_session.signatures)
    group = {"count": 2, "reps": 5, "percent": 70, "rest_s": 90}
    for names in (NAMES[:1], NAMES):
        plan = plan_of(block_of(*({"exercise": name, "sets": [group]} for name in names)), form)
        draws = draw_for(plan, draws=50, seed=1)
        taught = np.random.default_rng(3).normal(0.3, 0.2, (50, 2)).T[0]  # as a fit gives it: not adjacent
        for drawn in (draws, dataclasses.replace(draws, bend=taught)):
            by_arrays_and_fused(plan, drawn, compiled)
    assert list(compiled.run_session.signatures) == before


def test_equal_where_a_difference_of_rates_is_none(compiled):
    # A gain at the end of just what depletion adds makes the rates 0, which neither may divide by.
    slot = {"exercise": "bench press", "sets": [{"count": 3, "reps": "failure", "percent": 75, "rest_s": 60}]}
    plan = plan_of(block_of(slot))
    draws = draw_for(plan, draws=20, seed=1)
    even = dataclasses.replace(STEEP_END.parameters, depletion_gain=2.0, half_reps=0.0, end_gain=2.0)
    arrays, once = by_arrays_and_fused(plan, dataclasses.replace(draws, fatigue=even), compiled)
    assert available(once) == pytest.approx(available(arrays), rel=ROUNDING, abs=ROUNDING)


def test_what_is_not_compiled_is_run_by_arrays(compiled, monkeypatch):
    monkeypatch.setattr(fused, "_compiled", compiled)
    slot = {"exercise": "bench press", "sets": [{"count": 2, "reps": 5, "percent": 75, "rest_s": 60}]}
    plan = plan_of(block_of(slot))
    draws = draw_for(plan, draws=5, seed=1)
    assert fused.runs(draws)
    assert not fused.runs(dataclasses.replace(draws, curve=CURVES["power"]))
    own = dataclasses.replace(STEEP_END, work=functools.partial(STEEP_END.work))
    others = [form for form in FORMS.values() if form not in FUSED_FORMS]
    for form in (own, *others, dataclasses.replace(STEEP_END, time_constants=("slow_tau_s",) * 3)):
        assert not fused.runs(dataclasses.replace(draws, form=form)), form


def test_a_rule_of_the_coach_is_run_by_arrays(compiled):
    rule = {"lower": 10.0, "lowest": 70.0}
    slot = {"exercise": "bench press", "sets": [{"count": 4, "reps": 8, "percent": 80, "rest_s": 60, "adjust": rule}]}
    plan = plan_of(block_of(slot))
    arrays, once = by_arrays_and_fused(plan, draw_for(plan, draws=40, seed=1), compiled)
    assert (available(once) == available(arrays)).all()


def test_no_number_of_reps_is_refused_by_name(compiled, monkeypatch):
    monkeypatch.setattr(fused, "_compiled", compiled)
    slot = {"exercise": "bench press", "sets": [{"count": 2, "reps": 5, "percent": 75, "rest_s": 60}]}
    plan = plan_of(block_of(slot))
    draws = draw_for(plan, draws=5, seed=1)
    with pytest.raises(InputError, match="one, bench press, set 1"):
        simulate(plan, dataclasses.replace(draws, log_one_rm=draws.log_one_rm + np.nan))


def test_without_numba_or_where_switched_off_arrays_do_it(monkeypatch):
    monkeypatch.setattr(fused, "_compiled", None)
    monkeypatch.setenv("WORKBENCH_FUSED", "0")
    assert not fused.load()
    monkeypatch.delenv("WORKBENCH_FUSED")
    monkeypatch.setattr(fused.importlib.util, "find_spec", lambda name: None)
    assert not fused.load()
    slot = {"exercise": "bench press", "sets": [{"reps": 5, "percent": 75, "rest_s": 60}]}
    plan = plan_of(block_of(slot))
    assert not fused.runs(draw_for(plan, draws=5, seed=1))


def test_what_is_wanted_soon_is_loaded_once_beside_other_work(monkeypatch):
    started = []

    class Timer:
        daemon = False

        def __init__(self, *asked):
            self.asked = asked

        def start(self):
            started.append((self.daemon, *self.asked))

    monkeypatch.setattr(fused.threading, "Timer", Timer)
    begun = importlib.util.module_from_spec(fused.__spec__)  # as a process begins
    fused.__spec__.loader.exec_module(begun)
    assert not begun.loaded()
    begun.load_soon()
    begun.load_soon()
    assert started == [(True, begun._SOON_S, begun.load)]


@pytest.mark.parametrize(("told", "threads"), [("1", 1), ("3", 3), ("no number", None), ("0", None)])
def test_the_threads_are_those_that_the_environment_allows(told, threads, monkeypatch):
    monkeypatch.setattr(fused.os, "sched_getaffinity", lambda process: set(range(7)), raising=False)
    monkeypatch.setenv("OMP_NUM_THREADS", told)
    worked = []
    fused.share_out(lambda low, high: worked.append((low, high)), 100, 10**9)
    count = threads or 7
    assert len(worked) == count
    assert sorted(worked)[0][0] == 0
    assert sorted(worked)[-1][1] == 100
    assert all(before[1] == after[0] for before, after in zip(sorted(worked), sorted(worked)[1:], strict=False))


@pytest.mark.parametrize(("times", "parts"), [(0.5, 1), (1.0, 1), (1.99, 1), (2.0, 2), (3.5, 3), (9.0, 4)])
def test_each_thread_has_work_that_is_worth_its_start(times, parts, monkeypatch):
    monkeypatch.setenv("OMP_NUM_THREADS", "4")
    worked = []
    fused.share_out(lambda low, high: worked.append((low, high)), 100, int(times * fused._FOR_A_THREAD))
    assert len(worked) == parts
    assert sum(high - low for low, high in worked) == 100


@pytest.mark.parametrize("with_compiled", [True, False])
@pytest.mark.parametrize("count", [1, 2, 3, 11, 2000])
def test_quantiles_are_those_of_numpy_to_the_digit(with_compiled, count, request, monkeypatch):
    monkeypatch.setattr(fused, "_compiled", request.getfixturevalue("compiled") if with_compiled else None)
    counts, asked = fused._counts, []
    monkeypatch.setattr(fused, "_counts", lambda: asked.append("to pick out") or counts())
    values = np.random.default_rng(count).normal(8.0, 2.0, (3, 4, count))
    # Values that are all or half the same, far apart, and without end are those that bins tell apart worst.
    values[1, 0], values[1, 1, : count // 2], values[2, 0, 0], values[2, 1, 0] = 5.0, 0.0, 1e12, np.inf
    with np.errstate(invalid="ignore"):
        expected = np.quantile(np.sort(values, axis=-1), (0.1, 0.5, 0.9), axis=-1)
        found = fused.quantiles(values.copy(), (0.1, 0.5, 0.9))
    np.testing.assert_array_equal(found, expected)
    assert len(asked) == with_compiled
