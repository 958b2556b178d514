"""Sets worked number by number, on a few draws: every output as by arrays, from both sides of each branch."""

import dataclasses
import itertools
from functools import partial

import numpy as np
import pytest

from tests.simulate.test_fused import block_of, plan_of
from workbench.models.fatigue import EFFORT, STEEP_END
from workbench.models.fatigue_form import NO_HEADROOM, NOTHING_LEFT
from workbench.models.fatigue_steep import NO_RATE
from workbench.models.load_reps import AGREED_HEADROOM, CURVES, MOST_REPS, NO_BEND
from workbench.models.sharing import CARRY, Carry
from workbench.simulate import fused, fused_counts, fused_sets, run
from workbench.simulate.draws import draw_for

#: Some hundred operations, in another order.
ROUNDING = 1e-12
FORMS = (STEEP_END, EFFORT)
BLOCK = fused_sets.BLOCK


@pytest.fixture(scope="module")
def sets(core):
    with pytest.MonkeyPatch.context() as patch:
        module = core(fused_sets)
        patch.setattr(fused, "_compiled", module)
        patch.setattr(fused, "_counts", lambda: core(fused_counts))
        yield module


# ---- one set --------------------------------------------------------------------------------------------------------


def any_states():
    """Columns: loss, depletion, slow depletion; headroom, fresh reps; gain, end gain, slow share, half reps; noise."""
    low = np.array([0.0, 0.0, 0.0, 0.02, 0.2, 0.3, 0.5, 0.0, 0.0, 0.8])
    high = np.array([0.99, 1.2, 1.2, 0.8, 40.0, 4.0, 8.0, 0.6, 6.0, 1.25])
    columns = np.random.default_rng(5).uniform(low, high, (BLOCK, 10)).T
    columns[0] *= columns[3]  # of the headroom
    return columns


def special_states():
    """Nothing to spare, nothing left, nearly nothing left, no reps, and rates that are nearly the same."""
    usual = [0.1, 0.3, 0.2, 0.3, 10.0, 2.0, 4.0, 0.2, 3.0, 1.0]
    cases = [(0.0, 0.0, 0.0, *usual[3:])]
    for room in (-0.2, 0.0, 0.9 * NO_HEADROOM, 1.1 * NO_HEADROOM):
        cases += [(loss, 0.3, 0.2, room, 0.7, *usual[5:]) for loss in (0.0, 0.9 * NO_HEADROOM, 0.1)]
    for share in (1.3, 1.0, 1.0 - 0.9 * NOTHING_LEFT, 1.0 - 1.1 * NOTHING_LEFT):
        cases += [(0.3 * share, 0.3, 0.2, 0.3, fresh, *usual[5:]) for fresh in (10.0, 0.4)]
    cases += [(loss, 0.3, 0.2, -0.1, fresh, *usual[5:]) for loss in (0.0, 0.1) for fresh in (0.0, 1e-13, 1e-6)]
    for apart in np.array([0.0, 0.9, -0.9, 1.1, -1.1, 30.0, -30.0]) * NO_RATE:
        cases.append((0.0, 0.0, 0.0, 0.3, 10.0, 2.0, 2.0 + apart, 0.2, 0.0, 1.0))  # of the fresh set too
        # End gain times (slope - 2 * 1/3) less 2 is what is left apart.
        depletion = ((2.0 + apart) / 3.0 + 2.0 / 3.0 - 1.0) / 2.0
        cases.append((0.1, 0.0, depletion, 0.3, 10.0, 2.0, 3.0, 0.2, 0.0, 1.0))
    return np.array(cases).T


def worked(sets, form, columns, wanted):
    """Reps available and the state after a set, by the compiled core."""
    size = columns.shape[1]
    rows = np.zeros((8, BLOCK))
    room = np.maximum(columns[3], NO_HEADROOM)
    rows[:3, :size] = columns[:3]
    rows[3:6, :size] = room, 1.0 / room, columns[4]
    state, fresh_set, tiring = rows[:3].ravel().copy(), rows[3:6].ravel().copy(), np.zeros((4, BLOCK))
    tiring[:, :size] = columns[5:9]
    reps, work = np.full(size, np.nan), np.full(sets.WORK_ROWS * BLOCK, np.nan)
    number = sets.STEEP_END if form is STEEP_END else sets.EFFORT
    sets.work_set(number, state, fresh_set, tiring.ravel(), wanted, columns[9].copy(), work, reps)
    return np.vstack([reps, state.reshape(3, BLOCK)[:, :size]])


def worked_by_arrays(form, columns, wanted):
    gain, end_gain, slow_share, half_reps = columns[5:9]
    values = {"depletion_gain": gain, "slow_share": slow_share, "half_reps": half_reps}
    if form is STEEP_END:
        values["end_gain"] = end_gain
    parameters = dataclasses.replace(form.parameters, **values)
    fresh = columns[4] * columns[9]
    with np.errstate(invalid="ignore", divide="ignore"):
        available, state = form.work(tuple(columns[:3]), columns[3], fresh, wanted, parameters=parameters)
    return np.vstack([available, *state])


@pytest.mark.parametrize("form", FORMS, ids=str)
@pytest.mark.parametrize("wanted", [0.0, 0.6, 4.0, np.inf])
@pytest.mark.parametrize("states", [any_states, special_states], ids=["any state", "where something is none"])
def test_a_set_is_as_by_arrays(sets, form, wanted, states):
    columns = states()
    expected = worked_by_arrays(form, columns, wanted)
    assert worked(sets, form, columns, wanted) == pytest.approx(expected, rel=ROUNDING, abs=ROUNDING)


# ---- a curve that bends ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize("bend", [-2.0, -1.1 * NO_BEND, -0.9 * NO_BEND, 0.0, 0.9 * NO_BEND, 1.1 * NO_BEND, 1.0, 12.0])
def test_reps_of_a_curve_that_bends(sets, bend):
    curve = CURVES["exponential"].bent(bend)
    for headroom in (-0.3, -0.01, 0.0, 1e-6, 0.1, AGREED_HEADROOM, 0.7, 1.5):
        for endurance in (0.01, 0.03, 0.2):
            expected = float(curve.fresh_reps(headroom, endurance))
            assert sets.bent_reps(headroom, 1.0 / endurance, bend) == pytest.approx(expected, rel=ROUNDING)


def test_reps_without_end_end_at_the_most(sets):
    for bend in (400.0, 650.0, 760.0, 2000.0):
        assert sets.bent_reps(1.0, 30.0, bend) == MOST_REPS
    assert sets.bent_reps(0.0, 30.0, 400.0) == 1.0
    assert sets.bent_reps(-1.0, 30.0, 400.0) == 0.0


# ---- rests ----------------------------------------------------------------------------------------------------------


#: Rests that are kept.
RESTS = 16


def memory_of(sets):
    """Memory as a session has it at its begin, as far as a rest needs it."""
    none = np.zeros(0)
    rests = np.append(np.full(RESTS, -1.0), 0.0)
    return sets.Memory(none, none, none, none, none, np.zeros(RESTS * 3 * BLOCK), rests, none, none)


PACE = -1.0 / np.array([[20.0, 25.0], [200.0, 150.0], [2000.0, 1700.0]])


def left_after(sets, memory, seconds, low=0):
    found = sets.faded(memory, PACE, low, PACE.shape[1] - low, seconds)
    return found.reshape(3, BLOCK)[:, : PACE.shape[1] - low].copy()


def test_a_rest_leaves_what_the_exponential_leaves(sets):
    memory = memory_of(sets)
    for seconds in (0.0, 1.5, 90.0, 1800.0):
        expected = np.exp(seconds * PACE)
        assert left_after(sets, memory, seconds) == pytest.approx(expected, rel=1e-14, abs=0.0)
    assert left_after(sets, memory_of(sets), 90.0, low=1) == pytest.approx(np.exp(90.0 * PACE[:, 1:]), rel=1e-14)


def test_a_rest_of_months_leaves_nothing(sets):
    for seconds in (14_100.0, 16_000.0, 1e6, 1e300):
        left = left_after(sets, memory_of(sets), seconds)[0]
        assert (left >= 0.0).all()
        assert (left < 1e-240).all()


def test_a_rest_met_before_is_known(sets):
    """Sixteen of them, the oldest forgotten first; rests that differ by the last digits of a clock are the same."""
    memory = memory_of(sets)
    rests = [10.0 + number for number in range(RESTS)]
    for seconds in rests:
        left_after(sets, memory, seconds)
    memory.left.fill(0.5)
    for seconds in rests:
        for near in (seconds, seconds + 3.7e-12, seconds - 3.7e-12):
            assert (left_after(sets, memory, near) == 0.5).all()
    for seconds in (7.0, rests[9] + 4.3e-12, rests[0]):
        assert left_after(sets, memory, seconds) == pytest.approx(np.exp(seconds * PACE), rel=1e-14)
    # Three were forgotten for these.
    for seconds in rests[3:]:
        assert (left_after(sets, memory, seconds) == 0.5).all()
    for seconds in rests[1:3]:
        assert left_after(sets, memory, seconds) == pytest.approx(np.exp(seconds * PACE), rel=1e-14)


# ---- what other exercises give --------------------------------------------------------------------------------------


@pytest.mark.parametrize(("ended", "anything"), [((5.0, -1.0, 9.0), False), ((-1.0, 0.0, -1.0), True)])
def test_only_what_was_done_with_muscles_that_are_shared_gives_anything(sets, ended, anything):
    """The first exercise shares muscles with the second alone."""
    none, size = np.zeros((1, 1)), 2
    overlap = np.array([[1.0, 0.5, 0.0], [0.4, 1.0, 0.0], [0.0, 0.0, 1.0]])
    asked = sets.Asked(none[0], none[0], none, none, none, none, none, overlap, none[0], none[0])
    carry = np.array([[0.0, 0.1, 0.2], [0.0, 0.7, 0.8], [0.0, 0.7, 0.6]])
    drawn = sets.Drawn(none, none, none, none, carry, none, none[None], none[0])
    own = np.random.default_rng(2).random((3, 3, BLOCK))
    foreign = np.full(3 * BLOCK, 9.0)
    memory = sets.Memory(own.ravel().copy(), np.array(ended), foreign, *[none[0]] * 6)
    assert sets.take_over(asked, drawn, memory, 1, size, 0) == anything
    found = memory.own.reshape(own.shape)[:, :, :size]
    given = 0.5 * own[1, :, :size] * carry[:, 1:] if anything else 0.0
    assert found[0] == pytest.approx(own[0, :, :size] + given, rel=ROUNDING)
    assert np.array_equal(found[1:], own[1:, :, :size]), "the others are as they were"
    if anything:
        assert foreign.reshape(3, BLOCK)[:, :size] == pytest.approx(given, rel=ROUNDING)


# ---- a session ------------------------------------------------------------------------------------------------------


def group(reps, percent, count=1, **more):
    return {"reps": reps, "percent": percent, "count": count, "rest_s": 90, **more}


#: Rests of 30 and 90 s, loads, reps and sets that change from week to week, drops, a slow tempo, sets to failure.
BY_WEEK = {"rule": "by week", "load": [80, 74], "reps": [5, 8], "sets": [2, 1]}
ALTERNATING = (
    {"exercise": "back squat", "sets": [group(5, 80, 2, progression=BY_WEEK)], "alternate_with_next": True},
    {"exercise": "leg press", "sets": [group("failure", 70, 3, rest_s=30)]},
    {"exercise": "barbell row", "sets": [group([6, 9], 72, 2, seconds_per_rep=6.0)], "alternate_with_next": True},
    {"exercise": "dumbbell curl", "sets": [group(3, 101, 2, drops={"sizes": [30], "reps": "failure"})]},
)
#: An exercise comes with a usual tempo and a slow one, at the same load; the last set is left out in a week.
IN_TURN = (
    {"exercise": "bench press", "sets": [group(4, 75), group(4, 75, 2, seconds_per_rep=6.0)]},
    {"exercise": "barbell row", "sets": [group(8, 70, 2)]},
    {"exercise": "dumbbell curl", "sets": [group(2, 60), group(7, 60, 2, progression={**BY_WEEK, "load": [60, 60]})]},
)
CARRIES = (CARRY, Carry(0.6, 0.4))


def case(slots, form, carry, draws=3, seed=3, bend=None):
    plan = plan_of(block_of(*slots, weeks=2), form, carry)
    drawn = draw_for(plan, draws=draws, seed=seed)
    return plan, drawn if bend is None else dataclasses.replace(drawn, bend=np.array(bend))


def by_arrays(plan, draws):
    """Reps of each set, and what each exercise had of its own after its last, as the arrays have them."""
    session = plan.sessions[0]
    last = {one.lane: number for number, one in enumerate(session.sets)}
    shape = plan.weeks, draws.count
    finished = np.empty((len(last), 3, *shape))

    def watch(index, shared):
        one = session.sets[index]
        if last[one.lane] == index:
            state = shared.own(one.end_s)[one.lane]
            finished[sorted(last).index(one.lane)] = [np.broadcast_to(pool, shape[::-1]).T for pool in state]

    outcome = run.run_session(plan, draws, 0, watch)
    return fused.Worked(np.stack([one.available.T for one in outcome]), finished)


def in_one_pass(plan, draws, before=None, known=frozenset()):
    session = plan.sessions[0]
    carry = plan.carry.times(draws.carry)
    endurance = partial(run._endurance, draws)
    meets = fused.Meets(draws.day[0], draws.set_noise[: len(session.sets)], carry, endurance)
    return fused.work_session(plan, draws, session, meets, before, known)


def assert_same(found, expected):
    assert found.reps == pytest.approx(expected.reps, rel=ROUNDING, abs=ROUNDING)
    assert found.finished == pytest.approx(expected.finished, rel=ROUNDING, abs=ROUNDING)


@pytest.mark.parametrize("slots", [ALTERNATING, IN_TURN], ids=["alternating", "in turn"])
@pytest.mark.parametrize("carry", CARRIES, ids=["minutes", "all"])
@pytest.mark.parametrize("form", FORMS, ids=str)
def test_a_session_and_what_it_leaves(sets, slots, carry, form):
    plan, draws = case(slots, form, carry)
    expected = by_arrays(plan, draws)
    assert (expected.finished[1:].max(axis=(2, 3)) > 0.0).all(), "every pool has something"
    assert_same(in_one_pass(plan, draws), expected)


@pytest.mark.parametrize("slots", [ALTERNATING, IN_TURN], ids=["alternating", "in turn"])
def test_a_session_of_lifters_off_the_curve(sets, slots):
    plan, draws = case(slots, STEEP_END, CARRY, bend=[3.0, 0.0, -1.5])
    expected = by_arrays(plan, draws)
    straight = in_one_pass(plan, dataclasses.replace(draws, bend=None))
    assert np.abs(straight.reps - expected.reps)[:, :, [0, 2]].max() > 0.1, "the bend counts"
    assert_same(in_one_pass(plan, draws), expected)


def test_more_draws_than_are_worked_together(sets):
    slots = ({"exercise": "back squat", "sets": [group(5, 80)]}, {"exercise": "leg press", "sets": [group(5, 70, 2)]})
    plan, draws = case(slots, STEEP_END, CARRY, draws=BLOCK + 2)
    assert_same(in_one_pass(plan, draws), by_arrays(plan, draws))


def test_of_some_draws_only_these_are_worked(sets, monkeypatch):
    plan, draws = case(ALTERNATING, STEEP_END, CARRY, draws=5)
    expected = by_arrays(plan, draws)

    def middle(work, count, size):
        assert (count, size) == (5, expected.reps.size)
        work(1, 3)
        work(3, 4)

    monkeypatch.setattr(fused, "share_out", middle)
    monkeypatch.setattr(fused.np, "empty", lambda shape: np.full(shape, -7.0))
    found = in_one_pass(plan, draws)
    assert (found.reps[:, :, [0, 4]] == -7.0).all()
    assert (found.finished[..., [0, 4]] == -7.0).all()
    assert_same(*(fused.Worked(one.reps[..., 1:4], one.finished[..., 1:4]) for one in (found, expected)))


@pytest.mark.parametrize("known", [known for count in range(4) for known in itertools.combinations(range(3), count)])
def test_what_is_known_is_taken_over_and_the_rest_comes_out_the_same(sets, known, monkeypatch):
    plan, draws = case(IN_TURN, STEEP_END, Carry(0.6, 0.4))
    once = in_one_pass(plan, draws)
    of_known = np.array([one.lane in known for one in plan.sessions[0].sets])
    marked = once.reps + np.where(of_known, 100.0, np.nan)[:, None, None]
    asked = []
    monkeypatch.setattr(fused, "share_out", lambda work, count, size: (work(0, count), asked.append(size)))
    again = in_one_pass(plan, draws, fused.Worked(marked, once.finished), frozenset(known))
    assert np.array_equal(again.reps[of_known], once.reps[of_known] + 100.0)
    assert np.array_equal(again.reps[~of_known], once.reps[~of_known])
    assert np.array_equal(again.finished, once.finished)
    assert asked == [once.reps[~of_known].size]


def test_what_is_left_is_not_told_where_nobody_asks(sets):
    plan, draws = case(IN_TURN, STEEP_END, CARRY)
    found = in_one_pass(plan, draws, known=None)
    assert found.finished.size == 0
    assert np.array_equal(found.reps, in_one_pass(plan, draws).reps)


def test_a_session_of_some_of_the_exercises(sets):
    """Its exercises are counted anew, in the order of the plan."""
    plan, draws = case(ALTERNATING, EFFORT, CARRY)
    session = dataclasses.replace(plan.sessions[0], sets=tuple(one for one in plan.sessions[0].sets if one.lane % 2))
    plan = dataclasses.replace(plan, sessions=(session,))
    assert len({one.lane for one in session.sets}) == 2
    assert_same(in_one_pass(plan, draws), by_arrays(plan, draws))


@pytest.mark.parametrize("end_s", [0.0, 0.4])
def test_a_first_set_that_ends_at_once_has_ended(sets, end_s):
    plan, draws = case(ALTERNATING, STEEP_END, Carry(0.6, 0.4))
    session = plan.sessions[0]
    later = end_s - session.sets[0].end_s
    moved = [dataclasses.replace(one, start_s=one.start_s + later, end_s=one.end_s + later) for one in session.sets]
    plan = dataclasses.replace(plan, sessions=(dataclasses.replace(session, sets=tuple(moved)),))
    assert plan.sessions[0].sets[0].end_s == pytest.approx(end_s, abs=1e-9)
    assert_same(in_one_pass(plan, draws), by_arrays(plan, draws))


def test_running_nothing_is_a_run(sets):
    sets.warm_up()
