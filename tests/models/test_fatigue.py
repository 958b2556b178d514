"""The fatigue forms: exact when fresh, never more than fresh, better with rest, worse with load."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.scalar_oracle import effort_slowly, work_slowly
from workbench.models.fatigue import (
    DEFAULT_FORM,
    EFFORT,
    FORMS,
    TWO_STATE,
    Effort,
    TwoState,
    depletion_weight,
    effort_work,
    sequence,
    two_state_work,
)
from workbench.models.load_reps import reps_to_failure

#: A fresh set must give back the load-reps curve up to rounding of a few operations.
FRESH = 1e-9
#: Array and scalar form do the same few dozen operations in another order.
ROUNDING = 1e-12

endurances = st.floats(0.01, 0.08)
fractions = st.floats(0.3, 0.97)
rests = st.floats(0, 600)
rates = st.floats(0.3, 3)
forms = pytest.mark.parametrize("form", FORMS.values(), ids=FORMS.keys())


@forms
@given(x=st.floats(0.2, 1.0), k=endurances)
def test_a_fresh_set_gives_back_the_curve(form, x, k):
    assert sequence([x], [0], k, form=form)[0] == pytest.approx(float(reps_to_failure(x, k)), abs=FRESH)


@forms
@given(x=st.lists(fractions, min_size=2, max_size=6), t=rests, k=endurances, rate=rates)
def test_later_sets_never_exceed_the_fresh_set(form, x, t, k, rate):
    reps = sequence(x, [t] * len(x), k, recovery_rate=rate, form=form)
    assert np.all(reps <= reps_to_failure(x, k) + FRESH)


def reserve_of_run(x, n, t, k, rate, form):
    """Whether every set of a run of n prescribed reps is made."""
    sets = len(x)
    return bool(np.all(sequence(x, t, k, reps_wanted=[n] * sets, recovery_rate=rate, form=form) >= n))


@forms
@settings(max_examples=100)
@given(
    x=fractions,
    heavier=st.floats(1.0, 1.2),
    sets=st.integers(2, 6),
    n=st.integers(1, 15),
    t=st.floats(10, 400),
    k=endurances,
    rate=rates,
)
def test_a_heavier_load_never_makes_a_run_that_failed(form, x, heavier, sets, n, t, k, rate):
    light = reserve_of_run([x] * sets, n, [t] * sets, k, rate, form)
    heavy = reserve_of_run([x * heavier] * sets, n, [t] * sets, k, rate, form)
    assert light >= heavy


@forms
@settings(max_examples=100)
@given(
    x=st.lists(fractions, min_size=2, max_size=6),
    n=st.integers(1, 15),
    t=st.floats(5, 300),
    longer=st.floats(0, 300),
    k=endurances,
    rate=rates,
)
def test_a_longer_rest_never_fails_a_run_that_was_made(form, x, n, t, longer, k, rate):
    short = reserve_of_run(x, n, [t] * len(x), k, rate, form)
    long = reserve_of_run(x, n, [t + longer] * len(x), k, rate, form)
    assert long >= short


@forms
@given(x=st.floats(0.5, 0.95), small=st.floats(0, 0.5), more=st.floats(0, 0.3), k=endurances, change=st.floats(0, 60))
def test_a_larger_drop_never_gives_fewer_reps(form, x, small, more, k, change):
    less, lots = (sequence([x, x * (1 - drop)], [0, change], k, form=form)[1] for drop in (small, small + more))
    assert lots >= less - FRESH


def test_no_rest_and_no_drop_leaves_nothing():
    # At failure s = S, so the share (1 - s/S) left is 0 and no rep is available.
    assert sequence([0.8, 0.8], [0, 0], 0.03)[1] == pytest.approx(0.0, abs=FRESH)


def test_second_set_by_hand():
    # k = 0.03, x = exp(-0.27): r = 1 + 0.27/0.03 = 10 exactly. c = 4, weight = 0.9.
    # After failure: e quick = 0.9*0.9 = 0.81, e slow = 0.1*0.9 = 0.09, s = S.
    # Rest 220 s: quick 0.81/e = 0.297982347, slow 0.09*exp(-220/3000) = 0.083636179,
    #   s/S = exp(-220/23) = exp(-9.565217) = 0.0000701272
    # b = 1 + 4*(0.381618526) = 2.526474104; 2q**2 + b q = 3*(0.9999298728) = 2.9997896
    # q = (-2.526474104 + sqrt(6.383071 + 23.998317))/4 = (-2.526474104 + 5.511931)/4 = 0.746364
    # n = 1 + (10 - 1) * 0.746364 = 7.717276
    reps = sequence([math.exp(-0.27)] * 2, [0, 220], 0.03, form=TWO_STATE, parameters=TwoState())
    by_hand = 5e-4  # the arithmetic above carries six figures
    assert reps[1] == pytest.approx(7.71728, abs=by_hand)


def test_second_set_of_the_effort_form_by_hand():
    # k = 0.03, x = exp(-0.27): r = 10. c = 2, half_reps = 3: w = 10/13 = 0.769231, 1 + c w = 2.538462.
    # After failure: spent = w, quick 0.8 w = 0.615385, slow 0.2 w = 0.153846, s = S.
    # Rest 200 s: quick 0.615385/e = 0.226387, slow 0.153846*exp(-0.1) = 0.139206, s/S = exp(-10) = 0.0000454
    # 1 + c e = 1 + 2*0.365593 = 1.731186; c w (1 - s/S) = 1.538392
    # q = ln(1 + 1.538392/1.731186)/ln(2.538462) = ln(1.888635)/0.931559 = 0.635854/0.931559 = 0.682570
    # n = 1 + 9*0.682570 = 7.14313
    reps = sequence([math.exp(-0.27)] * 2, [0, 200], 0.03, form=EFFORT, parameters=Effort())
    by_hand = 5e-4  # the arithmetic above carries six figures
    assert reps[1] == pytest.approx(7.14313, abs=by_hand)


def test_losses_are_linear_within_the_set_without_depletion():
    # c = 0: 5 of 10 reps cost half the headroom; with no rest q = 0.5 is left, so 1 + 9 * 0.5 = 5.5 reps.
    p = TwoState(depletion_gain=0.0)
    reps = sequence([math.exp(-0.27)] * 2, [0, 0], 0.03, reps_wanted=[5, np.inf], form=TWO_STATE, parameters=p)
    assert reps[1] == pytest.approx(5.5, abs=FRESH)


def test_stopping_short_costs_far_less_than_failing():
    # A set stopped half-way must leave clearly more than half of what failing takes away (design rule of the form).
    fails = sequence([0.75, 0.75], [0, 120], 0.03)[1]
    half = sequence([0.75, 0.75], [0, 120], 0.03, reps_wanted=[5, np.inf])[1]
    fresh = float(reps_to_failure(0.75, 0.03))
    assert (fresh - half) < 0.6 * (fresh - fails)


def test_a_maximal_single_costs_little():
    # Of 18 men, 16, 15 and 16 repeated a 1RM after 20, 40 and 60 s (scudese_2016): with the least margin over the
    # load, the rep must still be there.
    assert sequence([0.999, 0.999], [0, 20], 0.03)[1] >= 1


def test_depletion_weight_is_smooth_and_rises():
    reps = np.linspace(0, 30, 301)
    weight = depletion_weight(reps)
    assert np.all(np.diff(weight) > 0)
    # per rep it never rises with more reps in the set: lighter loads cost no more per rep
    per_rep = weight[1:] / reps[1:]
    assert np.all(np.diff(per_rep) <= 1e-15)
    # 1 - 1/4 and 1/4 by the formula
    assert depletion_weight([4.0, 1.0]).tolist() == [0.75, 0.25]


@settings(max_examples=100)
@given(
    loss=st.floats(0, 0.5),
    quick=st.floats(0, 3),
    slow=st.floats(0, 1),
    headroom=st.floats(-0.2, 1.0),
    k=endurances,
    wanted=st.one_of(st.integers(1, 20).map(float), st.just(math.inf)),
    c=st.floats(0.01, 16),
)
def test_array_equals_scalar(loss, quick, slow, headroom, k, wanted, c):
    p = TwoState(depletion_gain=c)
    fresh = max(1 + headroom / k, 0.0)
    state = (np.array([loss]), np.array([quick]), np.array([slow]))
    available, after = two_state_work(state, np.array([headroom]), np.array([fresh]), wanted, parameters=p)
    slow_way = {"depletion_gain": c, "slow_share": p.slow_share}
    if fresh == 0:
        assert available[0] == 0
        return
    expected, expected_after = work_slowly(loss, quick, slow, headroom, fresh, wanted, slow_way)
    scale = max(1.0, fresh)
    small_c = 1e-9 if c < 0.1 else 1e-11  # the schoolbook root cancels as c goes to 0
    assert available[0] == pytest.approx(expected, abs=small_c * scale)
    for got, want in zip(after, expected_after, strict=True):
        assert got[0] == pytest.approx(want, abs=small_c)


@settings(max_examples=100)
@given(
    loss=st.floats(0, 0.5),
    quick=st.floats(0, 3),
    slow=st.floats(0, 1),
    headroom=st.floats(-0.2, 1.0),
    k=endurances,
    wanted=st.one_of(st.integers(1, 20).map(float), st.just(math.inf)),
    c=st.floats(0.1, 16),
)
def test_array_equals_scalar_in_the_effort_form(loss, quick, slow, headroom, k, wanted, c):
    p = Effort(depletion_gain=c)
    fresh = max(1 + headroom / k, 0.0)
    state = (np.array([loss]), np.array([quick]), np.array([slow]))
    available, after = effort_work(state, np.array([headroom]), np.array([fresh]), wanted, parameters=p)
    slow_way = {"depletion_gain": c, "slow_share": p.slow_share, "half_reps": p.half_reps}
    if fresh == 0:
        assert available[0] == 0
        return
    expected, expected_after = effort_slowly(loss, quick, slow, headroom, fresh, wanted, slow_way)
    cancelling = 1e-10  # the plain form takes ln(1 + a) where the fast one has log1p(a)
    assert available[0] == pytest.approx(expected, abs=cancelling * max(1.0, fresh))
    for got, want in zip(after, expected_after, strict=True):
        assert got[0] == pytest.approx(want, abs=cancelling)


def test_draws_lead_and_sets_trail():
    k = np.linspace(0.02, 0.05, 7)[:, np.newaxis]
    p = TwoState(depletion_gain=np.linspace(2, 8, 7)[:, np.newaxis])
    together = sequence(np.full((1, 1, 4), 0.75), np.full(4, 90.0), k, form=TWO_STATE, parameters=p)
    assert together.shape == (7, 1, 4)
    for draw in range(7):
        own = TwoState(depletion_gain=p.depletion_gain[draw, 0])
        alone = sequence([0.75] * 4, [90] * 4, k[draw, 0], form=TWO_STATE, parameters=own)
        assert together[draw, 0] == pytest.approx(alone, abs=ROUNDING)


def test_the_first_form_is_the_default():
    assert next(iter(FORMS.values())) is DEFAULT_FORM
