"""The steep-end form: against numbers integrated step by step, its limits, and what it is for."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import integrate

from tests.scalar_oracle import steep_slowly
from workbench.models.fatigue import EFFORT, Effort, sequence
from workbench.models.fatigue_steep import STEEP_END, SteepEnd, steep_end_work

#: Of the stepwise integration below.
INTEGRATED = 1e-6


def slow_set(loss, depletion, headroom, fresh, p):
    """Share of a fresh set until failure: dy/dq integrated, not solved."""
    weight = fresh / (fresh + p.half_reps)

    def per_share(y, y0, e0):
        return (1 + p.depletion_gain * (e0 + weight * (y - y0))) * (1 + p.end_gain * y)

    whole = integrate.quad(lambda y: 1 / per_share(y, 0.0, 0.0), 0.0, 1.0)[0]
    y0 = loss / headroom
    return integrate.quad(lambda y: 1 / per_share(y, y0, depletion), y0, 1.0)[0] / whole


@pytest.mark.parametrize(("gain", "end"), [(2.0, 4.0), (4.0, 0.5), (0.5, 8.0)])
def test_a_tired_set_agrees_with_stepwise_integration(gain, end):
    p = SteepEnd(depletion_gain=gain, end_gain=end)
    state = (np.array([0.12]), np.array([0.5]), np.array([0.1]))
    available, after = steep_end_work(state, 0.3, 11.0, parameters=p)
    share = slow_set(0.12, 0.6, 0.3, 11.0, p)
    assert float(available[0]) == pytest.approx(1 + 10 * share, abs=INTEGRATED)
    # It ends at failure: all headroom is lost.
    assert float(after[0][0]) == pytest.approx(0.3)


def test_two_rates_that_are_equal_are_no_special_case():
    # b A = B at depletion 0: half_reps 0 makes the weight 1, so b = c.
    reps = [
        sequence([0.7] * 3, [0, 60, 60], 0.03, form=STEEP_END, parameters=SteepEnd(end_gain=gain, half_reps=0.0))
        for gain in (1.999, 2.0, 2.001)
    ]
    assert reps[1] == pytest.approx(0.5 * (reps[0] + reps[2]), abs=1e-3)


def test_half_a_set_done_and_the_other_half_are_the_whole():
    p = SteepEnd()
    fresh = STEEP_END.fresh((1,))
    _, half = steep_end_work(fresh, 0.3, 10.0, 5.0, parameters=p)
    # What is left of the strength after half of the reps: more than half, since the last reps cost most.
    assert 0.0 < float(half[0][0]) < 0.15
    # dy/dq integrated: half of a fresh set is left.
    assert slow_set(float(half[0][0]), float(half[1][0] + half[2][0]), 0.3, 10.0, p) == pytest.approx(0.5, abs=1e-6)


def test_the_steeper_the_end_the_fewer_reps_a_small_cut_buys():
    # 13 reps to failure, then 18.8 % off at once (giessing_forced: help of that size was needed for the next rep).
    bought = [
        float(sequence([0.7, 0.7 * 0.812], [0, 0], 0.0293, form=STEEP_END, parameters=SteepEnd(end_gain=gain))[1])
        for gain in (0.5, 2.0, 8.0, 30.0)
    ]
    assert bought == sorted(bought, reverse=True)
    assert bought[-1] < 3.0


@settings(max_examples=100, deadline=None)
@given(
    loss=st.floats(0, 0.5),
    quick=st.floats(0, 3),
    slow=st.floats(0, 1),
    headroom=st.floats(-0.2, 1.0),
    k=st.floats(0.01, 0.08),
    wanted=st.one_of(st.integers(1, 20).map(float), st.just(math.inf)),
    gains=st.tuples(st.floats(0.3, 5), st.floats(6, 30)),
)
def test_array_equals_scalar(loss, quick, slow, headroom, k, wanted, gains):
    p = SteepEnd(depletion_gain=gains[0], end_gain=gains[1])
    fresh = max(1 + headroom / k, 0.0)
    state = (np.array([loss]), np.array([quick]), np.array([slow]))
    available, after = steep_end_work(state, np.array([headroom]), np.array([fresh]), wanted, parameters=p)
    expected, expected_after = steep_slowly(loss, quick, slow, headroom, fresh, wanted, p.__dict__)
    # The plain form takes the difference of two logs, where the fast one has a single log1p.
    cancelling = 1e-9
    assert available[0] == pytest.approx(expected, abs=cancelling * max(1.0, fresh))
    for got, want in zip(after, expected_after, strict=True):
        assert got[0] == pytest.approx(want, abs=cancelling)


def test_without_a_steeper_end_it_is_the_effort_form():
    # b near 0: dy is in proportion to (1 + c e) dq alone. In the effort form a failed set loses a little more than all
    # headroom where the first rep is the whole of it, so compare sets that stop short.
    common = {"depletion_gain": 3.0, "strength_tau_s": 40.0, "depletion_tau_s": 150.0, "half_reps": 5.0}
    run = ([0.75] * 3, [0, 60, 60], 0.03)
    steep = sequence(*run, reps_wanted=4, form=STEEP_END, parameters=SteepEnd(end_gain=1e-7, **common))
    effort = sequence(*run, reps_wanted=4, form=EFFORT, parameters=Effort(**common))
    assert steep == pytest.approx(effort, abs=1e-5)


@settings(max_examples=100, deadline=None)
@given(
    load=st.floats(0.5, 0.9),
    heavier=st.floats(1.0, 1.08),
    rest=st.floats(10, 300),
    shorter=st.floats(0.0, 1.0),
    wanted=st.integers(1, 12),
    k=st.floats(0.015, 0.05),
    gains=st.tuples(st.floats(0.5, 5), st.floats(0.5, 30)),
)
def test_prescribed_reps_get_no_easier_by_more_load_or_less_rest(load, heavier, rest, shorter, wanted, k, gains):
    p = SteepEnd(depletion_gain=gains[0], end_gain=gains[1])

    def least(fraction, seconds):
        reps = sequence([fraction] * 4, [0, *[seconds] * 3], k, reps_wanted=wanted, form=STEEP_END, parameters=p)
        return min(float(value) - wanted for value in reps)

    rounding = 1e-9
    made = least(load, rest) >= 0
    # What is not made does not become so.
    assert made or least(min(load * heavier, 0.99), rest) <= rounding
    assert made or least(load, rest * shorter) <= rounding
