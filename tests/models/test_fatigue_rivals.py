"""The forms kept for comparison: second sets, states and what passes to other exercises, worked by hand.

Everywhere x = exp(-0.27) and k = 0.03: S = 0.27, and a fresh set to failure has r = 1 + 0.27 / 0.03 = 10 reps.
"""

import math

import numpy as np
import pytest

from tests.scalar_oracle import work_slowly
from workbench.models.fatigue import EFFORT, FORMS, ONE_STATE, TWO_STATE, OneState, TwoState, one_state_work, sequence
from workbench.models.fatigue_rivals import (
    BALANCE,
    RIVALS,
    SHRINKING,
    TWO_STATE_UNWEIGHTED,
    Balance,
    Shrinking,
    balance_work,
    shrinking_work,
    two_state_unweighted_work,
)
from workbench.models.sharing import CARRY, Carry, SharedFatigue

#: The arithmetic in the comments carries seven figures.
BY_HAND = 3e-6
#: A few operations on doubles.
ROUNDING = 1e-12
X = math.exp(-0.27)
ONE = OneState(power=0.5, slow_share=0.25, fast_tau_s=60.0, slow_tau_s=900.0)
SHRINK = Shrinking(set_cost_share=0.5, strength_tau_s=23.0, capacity_tau_s=220.0, slow_share=0.2, slow_tau_s=3000.0)
TWO = TwoState(depletion_gain=4.0, strength_tau_s=23.0, depletion_tau_s=220.0, slow_share=0.1, slow_tau_s=3000.0)


def second_set(form, parameters, rest, first=np.inf):
    return float(sequence([X, X], [0, rest], 0.03, reps_wanted=[first, np.inf], form=form, parameters=parameters)[1])


@pytest.mark.parametrize(
    ("first", "rest", "reps"),
    [
        # After failure 3/4 S fast, 1/4 S slow. 120 s leave 0.75 exp(-2) + 0.25 exp(-2/15)
        #   = 0.1015015 + 0.2187933 = 0.3202948 of S; its root is 0.5659459; n = 10 (1 - 0.5659459).
        (np.inf, 120, 4.340541),
        # Five of ten: the root of s/S is 0.5, so s = S/4. 60 s leave 0.1875 exp(-1) + 0.0625 exp(-1/15)
        #   = 0.0689774 + 0.0584692 = 0.1274466; its root is 0.3569966.
        (5, 60, 6.430034),
    ],
)
def test_one_state_by_hand(first, rest, reps):
    assert second_set(ONE_STATE, ONE, rest, first) == pytest.approx(reps, abs=BY_HAND)


def test_one_state_adds_to_what_is_there_up_to_failure_and_no_further():
    # s/S = 0.04 + 0.05 = 0.09, root 0.3: 7 of 10 reps left. Two reps: root 0.5, s = S/4, so 0.16 S is added, a quarter
    # of it slow. All seven: s = S.
    state = (np.array([0.04 * 0.27]), np.array([0.05 * 0.27]))
    available, after = one_state_work(state, np.array([0.27]), np.array([10.0]), 2.0, parameters=ONE)
    assert available == pytest.approx([7.0], abs=ROUNDING)
    assert after[0] == pytest.approx([(0.04 + 0.12) * 0.27], abs=ROUNDING)
    assert after[1] == pytest.approx([(0.05 + 0.04) * 0.27], abs=ROUNDING)
    _, failed = one_state_work(state, np.array([0.27]), np.array([10.0]), 9.0, parameters=ONE)
    assert failed[0] + failed[1] == pytest.approx([0.27], abs=ROUNDING)


def test_one_state_takes_the_parameters_it_is_handed():
    # With power 1 the loss rises with the reps: five of ten take half of S, four tenths of that slowly.
    fresh = (np.zeros(1), np.zeros(1))
    linear = OneState(power=1.0, slow_share=0.4)
    _, after = one_state_work(fresh, np.array([0.27]), np.array([10.0]), 5.0, parameters=linear)
    assert np.ravel(after) == pytest.approx([0.6 * 0.135, 0.4 * 0.135], abs=ROUNDING)
    _, usual = one_state_work(fresh, np.array([0.27]), np.array([10.0]), 5.0)
    _, same = one_state_work(fresh, np.array([0.27]), np.array([10.0]), 5.0, parameters=OneState())
    assert np.ravel(usual) == pytest.approx(np.ravel(same), abs=ROUNDING)


def test_shrinking_by_hand():
    # The set takes 0.5 x 0.9 of the reps, a fifth of that slowly. 220 s leave 0.36 exp(-1) + 0.09 exp(-220/3000)
    #   = 0.1324366 + 0.0836362 = 0.2160728 lost, and exp(-220/23) = 0.0000701 of the strength loss.
    # n = 1 + 9 x 0.7839272 x 0.9999299 = 8.054850
    assert second_set(SHRINKING, SHRINK, 220) == pytest.approx(8.054850, abs=BY_HAND)


def test_shrinking_takes_part_of_what_is_still_there():
    # A tenth lost quickly, a tenth slowly, strength whole: 1 + 9 x 0.8 = 8.2 reps. Half of them cost half the strength
    # and 0.5 x 0.8 x 0.5 x 0.9 = 0.18 of the reps, a fifth of it slow.
    state = (np.zeros(1), np.full(1, 0.1), np.full(1, 0.1))
    available, after = shrinking_work(state, np.array([0.27]), np.array([10.0]), 4.1, parameters=SHRINK)
    assert available == pytest.approx([8.2], abs=ROUNDING)
    assert [float(pool[0]) for pool in after] == pytest.approx([0.135, 0.1 + 0.144, 0.1 + 0.036], abs=ROUNDING)


@pytest.mark.parametrize(
    ("first", "reps"),
    [
        (np.inf, 4.541224),  # exp(-60/120) = 0.6065307 of S is still lost: 1 + 9 x 0.3934693
        (5, 7.270612),  # half as much: 1 + 9 x 0.6967347
    ],
)
def test_one_store_by_hand(first, reps):
    assert second_set(BALANCE, Balance(refill_tau_s=120.0), 60, first) == pytest.approx(reps, abs=BY_HAND)


def test_two_states_unweighted_by_hand():
    # Every set to failure depletes fully: 0.9 exp(-1) + 0.1 exp(-220/3000) = 0.3310915 + 0.0929291 = 0.4240206 left.
    # b = 1 + 4 x 0.4240206 = 2.6960824; 2 q^2 + b q = 3 x 0.9999299 = 2.9997896
    # q = (-2.6960824 + sqrt(7.2688603 + 23.9983168)) / 4 = (-2.6960824 + 5.5917061) / 4 = 0.7239059
    assert second_set(TWO_STATE_UNWEIGHTED, TWO, 220) == pytest.approx(7.515153, abs=BY_HAND)
    # A maximal single too, where the weighted form has a quarter.
    single = two_state_unweighted_work(TWO_STATE.fresh((1,)), np.zeros(1), np.ones(1), parameters=TWO)[1]
    assert float(single[1][0] + single[2][0]) == pytest.approx(1.0, abs=ROUNDING)
    assert float(single[2][0]) == pytest.approx(0.1, abs=ROUNDING)


def unweighted_slowly(loss, quick, slow, headroom, fresh, wanted, p):
    """As the two-state form, but for depletion: the share of a fresh set that was done."""
    available, (loss, *_) = work_slowly(loss, quick, slow, headroom, fresh, wanted, vars(p))
    done = min(available, wanted) / fresh if fresh else 0.0
    return available, (loss, quick + (1 - p.slow_share) * done, slow + p.slow_share * done)


def shrinking_slowly(loss, shrunk, slow, headroom, fresh, wanted, p):
    """Reps beyond the first shrink with what was lost of them and of strength; a part of a set costs part of it."""
    left = max(1 - loss / headroom, 0.0) if headroom > 0 else float(loss == 0)
    first, still = min(fresh, 1.0) if left > 0 else 0.0, 1 - shrunk - slow
    available = first + (fresh - first) * still * left
    part = min(available, wanted) / available if available else 0.0
    weight = 1 - 1 / fresh if fresh > 2 else fresh / 4
    taken = p.set_cost_share * still * left * part * weight
    loss += max(headroom, 0.0) * left * part
    return available, (loss, shrunk + (1 - p.slow_share) * taken, slow + p.slow_share * taken)


def balance_slowly(loss, headroom, fresh, wanted, p):
    """Reps beyond the first go with the strength left, and strength with the reps."""
    available, (loss, *_) = shrinking_slowly(loss, 0.0, 0.0, headroom, fresh, wanted, Shrinking())
    return available, (loss,)


SLOWLY = {TWO_STATE_UNWEIGHTED: unweighted_slowly, SHRINKING: shrinking_slowly, BALANCE: balance_slowly}


@pytest.mark.parametrize("form", SLOWLY, ids=lambda form: form.name)
@pytest.mark.parametrize("own", [False, True], ids=["usual parameters", "parameters handed over"])
def test_a_set_is_worked_as_by_plain_numbers(form, own):
    """Fresh and tired, below and above the maximum, of many reps and of part of one, broken off and to failure."""
    two = TwoState(depletion_gain=2.5, strength_tau_s=30.0, depletion_tau_s=200.0, slow_share=0.3, slow_tau_s=2000.0)
    p = {TWO_STATE_UNWEIGHTED: two, SHRINKING: Shrinking(0.37, 30.0, 200.0, 0.31, 2000.0), BALANCE: Balance(90.0)}[form]
    keys = {"parameters": p} if own else {}
    for pools in [(0.0, 0.0, 0.0), (0.07, 0.25, 0.1), (0.3, 0.4, 0.2), (0.0, 0.1, 0.0)]:
        state = pools[: form.pools]
        for headroom, fresh in [(0.3, 12.5), (0.27, 1.7), (0.02, 1.0), (-0.01, 0.6), (-0.2, 0.0)]:
            for wanted in (np.inf, 4.0, 0.3):
                arrays = [np.array([pool]) for pool in state]
                available, after = form.work(tuple(arrays), [headroom], [fresh], wanted, **keys)
                reps, left = SLOWLY[form](*state, headroom, fresh, wanted, p if own else form.parameters)
                assert available == pytest.approx([reps], abs=1e-11)
                assert np.ravel(after) == pytest.approx(left, abs=1e-11)


def test_the_usual_parameters_by_hand():
    """Ten reps to failure: half of nine tenths of the reps, a fifth of that slowly; what a rest then leaves."""
    _, after = shrinking_work(SHRINKING.fresh((1,)), [0.27], [10.0])
    assert np.ravel(after) == pytest.approx([0.27, 0.36, 0.09], abs=ROUNDING)
    for form, taus in ((SHRINKING, (23.0, 220.0, 3000.0)), (BALANCE, (120.0,))):
        assert np.ravel(form.faded(60.0)) == pytest.approx([math.exp(-60.0 / tau) for tau in taus], abs=ROUNDING)
    _, after = two_state_unweighted_work(TWO_STATE.fresh((1,)), [0.27], [10.0])
    assert np.ravel(after) == pytest.approx([0.27, 1 - TwoState().slow_share, TwoState().slow_share], abs=ROUNDING)


@pytest.mark.parametrize("form", [*FORMS.values(), *RIVALS.values()], ids=lambda form: form.name)
def test_below_one_rep_a_fresh_lifter_has_what_the_curve_says_and_a_failed_one_nothing(form):
    """2 % over the 1RM at k = 0.04: 1 - 0.0198026 / 0.04 = 0.5049 reps; straight after failing it, none."""
    headroom, reps = np.array([-math.log(1.02)]), np.array([1.0 - math.log(1.02) / 0.04])
    available, after = form.work(form.fresh((1,)), headroom, reps, np.inf, parameters=form.parameters)
    assert available == pytest.approx([0.5049], abs=5e-5)  # four figures by hand
    again, _ = form.work(after, headroom, reps, np.inf, parameters=form.parameters)
    assert again == pytest.approx([0.0], abs=ROUNDING)


@pytest.mark.parametrize("form", [EFFORT, TWO_STATE, SHRINKING, BALANCE], ids=lambda form: form.name)
def test_a_tired_lifter_has_at_most_what_is_below_one_rep(form):
    """With any strength left, the rep that a fresh lifter would have is there: half a rep stays half a rep."""
    state = tuple(np.full(1, 0.01) for _ in range(form.pools))
    available, _ = form.work(state, np.array([0.3]), np.array([0.5]), np.inf, parameters=form.parameters)
    assert 0.0 < float(available[0]) <= 0.5


# What passes from one exercise to another


def passed_on(form, parameters, carry, overlap=0.5, rest=60.0):
    """Reps of a set, fresh but for another exercise taken to failure so long before; 11 reps where fresh."""
    shared = SharedFatigue(form, np.array([[1.0, overlap], [overlap, 1.0]]), parameters=parameters, carry=carry)
    _, after = form.work(shared.before(0, 0.0), 0.3, 11.0, np.inf, parameters=parameters)
    shared.after(0, after, 0.0)
    return float(form.work(shared.before(1, rest), 0.3, 11.0, np.inf, parameters=parameters)[0][0])


def test_the_only_pool_of_a_form_passes_like_those_of_minutes():
    # 0.5 x 0.5 of exp(-60/120): 0.1516327 of S is gone; 1 + 10 x 0.8483673.
    assert passed_on(BALANCE, Balance(120.0), Carry(0.0, 0.5)) == pytest.approx(9.483673, abs=BY_HAND)


def test_the_pool_of_seconds_passes_by_its_own_share():
    # Nothing of the fast pool; of the slow one 0.25 x 0.25 x exp(-60/900) = 0.0584692, root 0.2418041: 11 x 0.7581959.
    assert passed_on(ONE_STATE, ONE, Carry(0.0, 0.5)) == pytest.approx(8.340155, abs=BY_HAND)
    # And half of the fast pool: 0.375 exp(-1) = 0.1379548, so 0.1964240, root 0.4431975: 11 x 0.5568025.
    assert passed_on(ONE_STATE, ONE, Carry(1.0, 0.5)) == pytest.approx(6.124828, abs=BY_HAND)


def test_carry_times_a_factor():
    twice = Carry(0.1, 0.5, log_sd=0.2).times(2.0)
    assert (twice.seconds_pool, twice.minutes_pools, twice.log_sd) == (0.2, 1.0, 0.2)
    assert CARRY.any
    assert Carry(0.1, 0.0).any
    assert not Carry(0.0, 0.0).any


def test_one_store_ends_a_set_at_its_reps():
    # 3 of the 10 reps of a fresh set: 3/10 of S; what was lost stays.
    _, after = balance_work((np.array([0.0]),), np.array([0.27]), np.array([10.0]), 3.0)
    assert after[0] == pytest.approx([0.081], abs=ROUNDING)
