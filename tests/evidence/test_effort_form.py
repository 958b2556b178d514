"""The effort form: fresh sets, a hand-solved second set, bounds and order."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from workbench.models.fatigue import EFFORT, Effort, effort_work, sequence
from workbench.models.fatigue_rivals import RIVALS
from workbench.models.load_reps import reps_to_failure

#: A fresh set gives back the load-reps curve but for rounding.
FRESH = 1e-9
#: Rounding in chains of exponentials and logarithms.
ROUNDING = 1e-9
FORMS = [EFFORT, *RIVALS.values()]


@pytest.mark.parametrize("form", FORMS, ids=lambda form: form.name)
def test_a_fresh_set_gives_back_the_curve(form):
    fractions = np.linspace(0.4, 0.99, 30)
    reps = sequence(fractions[:, None], np.zeros((30, 1)), np.full(30, 0.03), form=form)[:, 0]
    assert reps == pytest.approx(reps_to_failure(fractions, 0.03), abs=FRESH)


def test_second_set_by_hand():
    # S = 0.27, r = 10, half_reps = 2.5, so w = 10/12.5 = 0.8; c = 5, so c w = 4 and 1 + c w = 5.
    # After failure s = S and e = 0.8. The rest of 100 s leaves, with time constants 50, 100 and no slow share:
    #   s/S = exp(-2) = 0.1353352832, e = 0.8 exp(-1) = 0.2943035529
    # q = ln(1 + 4 * 0.8646647168 / (1 + 5 * 0.2943035529)) / ln 5
    #   = ln(1 + 3.4586588672 / 2.4715177645) / 1.6094379124 = ln(2.3994068) / 1.6094379
    #   = 0.8752216 / 1.6094379 = 0.5438057
    # n = 1 + 9 q = 5.894252
    p = Effort(depletion_gain=5.0, strength_tau_s=50.0, depletion_tau_s=100.0, slow_share=0.0, half_reps=2.5)
    reps = sequence([math.exp(-0.27)] * 2, [0, 100], 0.03, form=EFFORT, parameters=p)
    by_hand = 2e-6  # the arithmetic above carries seven figures
    assert reps[1] == pytest.approx(5.894252, abs=by_hand)


def test_long_sets_of_one_load_stop_falling():
    # A rest that gives everything back each time but the slow share: the run must level off, never rise.
    reps = sequence([0.7] * 12, [0] + [120] * 11, 0.03, form=EFFORT)
    steps = np.diff(reps)
    assert np.all(steps <= ROUNDING)
    assert abs(steps[-1]) < 0.1 * abs(steps[0])


def test_stopping_short_costs_far_less_than_failing():
    fails = sequence([0.75, 0.75], [0, 120], 0.03, form=EFFORT)[1]
    half = sequence([0.75, 0.75], [0, 120], 0.03, reps_wanted=[5, np.inf], form=EFFORT)[1]
    fresh = float(reps_to_failure(0.75, 0.03))
    # Half the reps of a set must take away clearly less than half of what failing takes away.
    assert (fresh - half) < 0.5 * (fresh - fails)


def test_a_maximal_single_can_be_repeated():
    # 16 of 18 men repeated a 1RM 20 s later (scudese_2016).
    assert sequence([0.999, 0.999], [0, 20], 0.03, form=EFFORT)[1] >= 1


@pytest.mark.parametrize("form", FORMS, ids=lambda form: form.name)
def test_array_equals_scalar(form):
    loads = np.array([[0.7, 0.7, 0.6], [0.85, 0.8, 0.8]])
    rests = np.array([[0, 60, 15], [0, 180, 300]])
    wanted = np.array([[np.inf, 6, np.inf], [5, 5, np.inf]])
    k = np.array([0.025, 0.035])
    together = sequence(loads, rests, k, reps_wanted=wanted, form=form)
    apart = [sequence(loads[i], rests[i], k[i], reps_wanted=wanted[i], form=form) for i in range(2)]
    assert together == pytest.approx(np.array(apart), abs=ROUNDING)


@pytest.mark.parametrize("form", FORMS, ids=lambda form: form.name)
@settings(max_examples=80, deadline=None)
@given(
    load=st.floats(0.45, 0.97),
    rest=st.floats(0, 400),
    more=st.floats(0, 400),
    k=st.floats(0.01, 0.08),
    share=st.floats(0.1, 1.2),
)
def test_later_sets_never_exceed_fresh_and_longer_rest_is_never_worse(form, load, rest, more, k, share):
    fresh = float(reps_to_failure(load, k))
    wanted = [share * fresh, share * fresh, np.inf]
    short = sequence([load] * 3, [0, rest, rest], k, reps_wanted=wanted, form=form)
    assert np.all(short <= fresh + FRESH * fresh)
    assert np.all(short >= 0)
    # The reps of the last set after the same work: a longer last rest never takes any away.
    longer = sequence([load] * 3, [0, rest, rest + more], k, reps_wanted=wanted, form=form)
    assert longer[2] >= short[2] - ROUNDING * fresh


def test_rest_decays_by_the_time_constants():
    p = Effort(strength_tau_s=20.0, depletion_tau_s=100.0, slow_tau_s=1000.0)
    state = tuple(np.array([1.0]) for _ in range(3))
    after = EFFORT.rest(state, 100.0, 2.0, parameters=p)
    # twice the recovery rate: 200 s of decay
    assert [float(pool[0]) for pool in after] == pytest.approx([math.exp(-10), math.exp(-2), math.exp(-0.2)])


def test_a_drop_gives_some_reps_back_but_not_a_fresh_set():
    state = EFFORT.fresh((1,))
    _, state = effort_work(state, 0.30, 10.0)
    state = EFFORT.rest(state, 8.0)
    lighter, _ = effort_work(state, 0.60, 20.0)
    same, _ = effort_work(state, 0.30, 10.0)
    assert float(same[0]) < float(lighter[0]) < 20.0
