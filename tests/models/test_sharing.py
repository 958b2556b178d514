"""Fatigue shared between exercises: limits worked out by hand, and what any form of sharing must keep."""

import numpy as np
import pytest

from workbench.models.fatigue import TWO_STATE, TwoState, sequence
from workbench.models.sharing import NO_CARRY, Carry, SharedFatigue, muscle_pools, overlap_matrix, reps_lost

#: Sums of a few numbers of size one.
ROUNDING = 1e-12
K = 0.03


def run(sets, overlap, carry, work_s=0.0):
    """Reps available in sets of (lane, load fraction, rest before), all to failure, on a clock of its own."""
    shared = SharedFatigue(TWO_STATE, np.asarray(overlap, dtype=float), carry=carry)
    clock, reps = np.zeros(1), []
    for lane, fraction, rest in sets:
        clock = clock + rest
        headroom = -np.log(fraction)
        available, after = TWO_STATE.work(
            shared.before(lane, clock), headroom, 1 + headroom / K, np.inf, parameters=TWO_STATE.parameters
        )
        clock = clock + work_s
        shared.after(lane, after, clock)
        reps.append(float(available[0]))
    return reps


def test_overlap_of_a_press_and_a_pushdown_by_hand():
    # Press: chest 1, triceps 1/2. Pushdown: triceps 1.
    # Press reads 1/2 x 1 of a pushdown's work, over 1 + 1/4: 0.4. The pushdown reads 1 x 1/2 over 1: 0.5.
    assert overlap_matrix([[1, 0.5], [0, 1]]) == pytest.approx(np.array([[1, 0.4], [0.5, 1]]), abs=ROUNDING)


def test_no_shared_muscle_no_overlap_and_the_same_muscles_full_overlap():
    assert overlap_matrix([[1, 0], [0, 1]]).tolist() == [[1, 0], [0, 1]]
    assert overlap_matrix([[1, 0.5], [1, 0.5]]) == pytest.approx(np.ones((2, 2)), abs=ROUNDING)


@pytest.mark.parametrize("shares", [[[1, 0], [0, 0]], [[1, -0.5], [0, 1]]])
def test_impossible_shares_are_refused(shares):
    with pytest.raises(ValueError, match="share"):
        overlap_matrix(shares)


def test_one_exercise_by_itself_is_the_form_itself():
    fractions, rests = [0.8, 0.75, 0.75, 0.7], [0, 60, 120, 180]
    alone = run([(0, x, t) for x, t in zip(fractions, rests, strict=True)], [[1.0]], Carry())
    assert alone == pytest.approx(sequence(fractions, rests, K, form=TWO_STATE).tolist(), abs=ROUNDING)


def test_without_overlap_or_without_carry_nothing_passes():
    sets = [(0, 0.75, 0), (1, 0.75, 60)]
    fresh = run([(1, 0.75, 0)], np.eye(2), Carry())[0]
    assert run(sets, np.eye(2), Carry())[1] == pytest.approx(fresh, abs=ROUNDING)
    assert run(sets, np.ones((2, 2)), NO_CARRY)[1] == pytest.approx(fresh, abs=ROUNDING)
    assert not NO_CARRY.any
    assert Carry().any


@pytest.mark.parametrize(
    ("carry", "passed"),
    [(Carry(1.0, 0.0), (1, 0, 0)), (Carry(0.0, 1.0), (0, 1, 1)), (Carry(0.5, 0.2), (0.5, 0.2, 0.2))],
)
def test_each_pool_passes_by_a_share_of_its_own(carry, passed):
    """Of a set to failure, at once: each pool as the set left it, times its share and half of the muscles."""
    p = TWO_STATE.parameters
    shared = SharedFatigue(TWO_STATE, np.array([[1.0, 0.5], [0.5, 1.0]]), carry=carry)
    _, after = TWO_STATE.work(shared.before(0, 0.0), 0.3, 11.0, np.inf, parameters=p)
    shared.after(0, after, 0.0)
    found = [float(pool[0]) for pool in shared.before(1, 0.0)]
    assert found == pytest.approx(
        [0.5 * s * float(pool[0]) for s, pool in zip(passed, after, strict=True)], abs=ROUNDING
    )
    assert carry.any


def test_what_passes_in_some_draws_passes():
    some = np.array([0.0, 0.7])
    assert Carry(some, 0.0).any
    assert Carry(0.0, some).any
    assert not Carry(0.0 * some, 0.0 * some).any


def test_full_overlap_with_every_pool_carried_is_one_exercise():
    """Two exercises on the same muscles in the same proportion, everything carried: as if it were one."""
    sets = [(0, 0.75, 0), (1, 0.75, 90), (1, 0.7, 90)]
    whole = Carry(seconds_pool=1.0, minutes_pools=1.0)
    as_one = sequence([0.75, 0.75, 0.7], [0, 90, 90], K, form=TWO_STATE).tolist()
    assert run(sets, np.ones((2, 2)), whole) == pytest.approx(as_one, abs=ROUNDING)


def test_a_first_set_after_another_exercise_by_hand():
    # A fresh set to failure of 11 reps (k = 0.03, S = 0.3) depletes by 1 - 1/11. Half of it passes, and after 220 s
    # exp(-1) of its nine tenths and exp(-220/3000) of its tenth are left. With c = 4 the share q of the next set
    # solves 2 q^2 + (1 + 4 e) q = 3, and reps are 1 + 10 q.
    depletion = 0.5 * (1 - 1 / 11) * (0.9 * np.exp(-1) + 0.1 * np.exp(-220 / 3000))
    b = 1 + 4 * depletion
    q = (-b + np.sqrt(b * b + 24)) / 4
    default = TwoState(4.0, 23.0, 220.0, 0.1, 3000.0)
    shared = SharedFatigue(
        TWO_STATE, np.array([[1.0, 0.5], [0.5, 1.0]]), parameters=default, carry=Carry(minutes_pools=1.0)
    )
    _, after = TWO_STATE.work(shared.before(0, 0.0), 0.3, 11.0, np.inf, parameters=default)
    shared.after(0, after, 0.0)
    available, _ = TWO_STATE.work(shared.before(1, 220.0), 0.3, 11.0, np.inf, parameters=default)
    assert float(available[0]) == pytest.approx(1 + 10 * q, abs=ROUNDING)


@pytest.mark.parametrize("overlap", [0.1, 0.5, 1.0, 1.2])
def test_more_overlap_shorter_rest_heavier_work_never_help(overlap):
    both = np.array([[1.0, overlap], [overlap, 1.0]])
    less = np.array([[1.0, overlap / 2], [overlap / 2, 1.0]])
    base = run([(0, 0.75, 0), (1, 0.75, 120)], both, Carry())[1]
    assert base < run([(0, 0.75, 0), (1, 0.75, 120)], less, Carry())[1]
    assert base > run([(0, 0.75, 0), (1, 0.75, 30)], both, Carry())[1]
    assert base < run([(1, 0.75, 0)], both, Carry())[0]
    assert base > run([(0, 0.75, 0), (0, 0.75, 120), (1, 0.75, 120)], both, Carry())[2]


def test_alternating_with_an_exercise_for_other_muscles_gains_rest():
    # Sets of 30 s. In a row with 60 s rests, like sets are 60 s apart; alternating with 60 s rests, 150 s.
    in_a_row = run([(0, 0.75, 0), (0, 0.75, 60)], np.eye(2), Carry(), work_s=30.0)[1]
    alternating = run([(0, 0.75, 0), (1, 0.75, 60), (0, 0.75, 60)], np.eye(2), Carry(), work_s=30.0)[2]
    assert alternating == pytest.approx(sequence([0.75, 0.75], [0, 150], K, form=TWO_STATE)[1], abs=ROUNDING)
    assert alternating > in_a_row


def test_what_an_exercise_has_of_its_own_holds_nothing_of_the_others():
    shared = SharedFatigue(TWO_STATE, np.ones((2, 2)), carry=Carry())
    for lane, at in ((0, 0.0), (1, 60.0), (1, 120.0)):
        _, after = TWO_STATE.work(shared.before(lane, at), 0.3, 11.0, 5.0, parameters=TWO_STATE.parameters)
        shared.after(lane, after, at)
    own = shared.own(120.0)
    # Five of 11 reps, 60 s apart: each adds (5/11)(1 - 1/11) of depletion, whatever was there before.
    each = 5 / 11 * (1 - 1 / 11)
    p = TWO_STATE.parameters
    quick = each * (1 - p.slow_share)
    assert float(own[1][1][0]) == pytest.approx(quick * (1 + np.exp(-60 / p.depletion_tau_s)), abs=ROUNDING)
    assert float(own[0][1][0]) == pytest.approx(quick * np.exp(-120 / p.depletion_tau_s), abs=ROUNDING)


def test_muscles_add_up_what_the_exercises_left_in_them():
    # Row (back 1, biceps 1/2) left 0.6, curl (biceps 1) left 0.2: back 0.6, biceps 0.3 + 0.2.
    assert muscle_pools([[1, 0.5], [0, 1]], [0.6, 0.2]) == pytest.approx(np.array([0.6, 0.5]), abs=ROUNDING)


def test_a_fresh_muscle_loses_no_reps_and_loss_grows_with_depletion():
    nothing = np.zeros(5)
    depletion = np.array([0.0, 0.2, 0.5, 1.0, 3.0])
    lost = reps_lost((nothing, depletion, nothing), TWO_STATE)
    assert lost[0] == pytest.approx(0.0, abs=ROUNDING)
    assert np.all(np.diff(lost) > 0)
    assert lost[-1] < 1
