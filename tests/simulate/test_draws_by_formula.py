"""Draws worked out from the normal numbers of their seed: every quantity by its own formula, on its own stream."""

import math
from types import SimpleNamespace

import numpy as np
import pytest

from tests.hand_made import hall, lifter_of
from workbench.lifter import Lifter
from workbench.models.fatigue import EFFORT, STEEP_END
from workbench.models.load_reps import CURVES, DEFAULT_CURVE
from workbench.prescription.block import Block
from workbench.quantities import SEED
from workbench.reference.parameters import fatigue_draws, noise
from workbench.reference.tempo import slow_rep_prior
from workbench.reference.toml_files import validate
from workbench.simulate.draws import CommonDays, LifterDraws, SeededDays, ahead, draw_for, draw_lifter
from workbench.simulate.plan import make_plan

DRAWS, WEEKS, SESSIONS, SETS = 50, 3, 2, 5
#: Above it lies one in ten of a standard normal distribution.
TENTH = 1.2815515655446004
#: Of a 1RM in a week, natural log (assumed, as the guide says).
DRIFT = 0.01
ROUNDING = 1e-12


def two_sided(low, middle, high, score):
    """The value at a normal score: as wide on each side as that half of an 80 % interval."""
    return middle + score * np.where(score < 0, middle - low, high - middle) / TENTH


def streams_of(seed):
    return np.random.default_rng(seed).spawn(9)


def drawn(lifter, exercises, *, seed=7, form=STEEP_END, curve=DEFAULT_CURVE, **sizes):
    sizes = {"weeks": WEEKS, "sessions": SESSIONS, "sets": SETS} | sizes
    rng = np.random.default_rng(seed)
    return draw_lifter(lifter, exercises, draws=DRAWS, rng=rng, form=form, curve=curve, **sizes)


# ---- a lifter of whom no log has told --------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def plain():
    """A lifter with a stated recovery rate: nothing goes together but what all exercises share of endurance."""
    lifts = {"back squat": {"one_rm_kg": 140, "uncertainty_percent": 4}}
    lifts["bench press"] = {"one_rm_kg": 90, "uncertainty_percent": 6, "endurance": 0.04}
    return validate({"name": "X", "recovery_rate": 1.3, "carry_over": 0.8, "lifts": lifts}, Lifter)


def test_a_lifter_without_a_log(plain):
    names = ("bench press", "back squat")
    found, streams = drawn(plain, names), streams_of(7)
    one_rm = streams[0].standard_normal((DRAWS, 2))
    shared, own = (streams[1].standard_normal((DRAWS, count)) for count in (1, 2))
    score = math.sqrt(0.5) * shared + math.sqrt(0.5) * own
    for lane, (kg, sd, endurance, of) in enumerate([(90, 0.06, 0.04, "upper_press"), (140, 0.04, None, "squat")]):
        middle, wide = plain.usual_endurance(plain.catalogue.exercise(names[lane]).endurance_class)
        wide, middle = (
            (0.4 * wide, endurance) if endurance else (wide, middle)
        )  # stated: two fifths of the spread, assumed
        assert found.log_one_rm[:, lane] == pytest.approx(math.log(kg) + sd * one_rm[:, lane], abs=ROUNDING), of
        assert found.endurance[:, lane] == pytest.approx(middle * np.exp(wide * score[:, lane]), rel=ROUNDING), of
    rate, carried = (streams[stream].standard_normal(DRAWS) for stream in (2, 6))
    assert found.recovery_rate == pytest.approx(1.3 * np.exp(0.4 * plain.usual_recovery[1] * rate), rel=ROUNDING)
    assert found.carry[:, 0] == pytest.approx(0.8 * np.exp(0.4 * 0.3 * carried), rel=ROUNDING)
    day = noise().day_sd * streams[4].standard_normal((SESSIONS, WEEKS, DRAWS))
    scatter = np.exp(noise().set_log_sd * streams[5].standard_normal((SETS, WEEKS, DRAWS)))
    np.testing.assert_allclose(found.day, day.transpose(0, 2, 1), atol=ROUNDING)
    np.testing.assert_allclose(found.set_noise, scatter.transpose(0, 2, 1), rtol=ROUNDING)
    slow = slow_rep_prior()
    assert found.slow_reps == pytest.approx(np.maximum(slow.mean + slow.sd * streams[8].standard_normal(DRAWS), 0.0))
    of_form = fatigue_draws(DRAWS, streams[3], form=STEEP_END)
    for name in STEEP_END.parameter_names:
        assert np.array_equal(getattr(found.fatigue, name), getattr(of_form, name)), name
    assert (found.exercises, found.form, found.curve, found.bend) == (names, STEEP_END, DEFAULT_CURVE, None)
    assert found.bent_curve is DEFAULT_CURVE
    for array in (found.day, found.set_noise):
        assert array.strides[1] == array.itemsize, "draws lie beside each other"


def test_who_tires_sooner_recovers_otherwise_where_nothing_is_stated():
    """The second of two scores that go together by r is r times the first, and sqrt(1 - r²) times its own."""
    lifter = validate({"name": "X", "lifts": {"back squat": {"one_rm_kg": 100}}}, Lifter)
    found, streams = drawn(lifter, ("back squat",)), streams_of(7)
    shared, rate = streams[1].standard_normal(DRAWS), streams[2].standard_normal(DRAWS)
    score = np.log(found.recovery_rate) / lifter.usual_recovery[1]
    r = np.linalg.lstsq(np.column_stack([shared, rate]), score, rcond=None)[0]
    assert r @ r == pytest.approx(1.0, abs=1e-9)
    assert r[0] == pytest.approx(lifter.correlations(list(lifter.of_all))[0, 1], abs=1e-9)
    assert abs(r[0]) > 0.1


def test_another_session_or_set_moves_no_other_digit(plain):
    one, more = drawn(plain, ("back squat",)), drawn(plain, ("back squat",), sessions=4, sets=9)
    assert np.array_equal(one.day, more.day[:SESSIONS])
    assert np.array_equal(one.set_noise, more.set_noise[:SETS])
    for name in ("log_one_rm", "endurance", "recovery_rate", "carry", "slow_reps"):
        assert np.array_equal(getattr(one, name), getattr(more, name)), name


# ---- a lifter whose log told how all goes together -------------------------------------------------------------------

TIRING = {name: [0.8 * value, value, 1.3 * value] for name, value in vars(STEEP_END.parameters).items()}
OTHERS = {"shared endurance": [-0.3, 0.4, 1.3], "gain": [-0.2, 0.3, 0.9], "bend": [-0.5, 0.2, 1.5], **TIRING}
QUANTITIES = ["back squat, 1RM", "back squat, endurance", "recovery rate", *OTHERS]


@pytest.fixture(scope="module")
def told():
    """Four lifts: one of the log, one tested long ago, a pair of dumbbells from a set, one with its own endurance."""
    half = np.random.default_rng(2).normal(size=(len(QUANTITIES), 2 * len(QUANTITIES)))
    matrix = np.round(np.corrcoef(half), 3)
    lifts = {
        "back squat": {"one_rm_kg": 150, "one_rm_interval": [141, 157], "endurance": 0.03},
        "bench press": {"one_rm_kg": 100, "uncertainty_percent": 5},
        "dumbbell curl": {"each_hand": True, "from_set": {"kg": 16, "reps": 8}},
        "leg press": {
            "one_rm_kg": 220,
            "endurance": 0.05,
            "endurance_interval": [0.04, 0.058],
            "uncertainty_percent": 5,
        },
    }
    lifts["back squat"]["endurance_interval"] = [0.025, 0.039]
    triangle = [[float(value) for value in row[:number]] for number, row in enumerate(matrix)][1:]
    together = {"form": STEEP_END.name, "others": OTHERS, "quantities": QUANTITIES, "correlations": triangle}
    keys = {"recovery_rate": 1.1, "recovery_interval": [0.9, 1.5], "carry_over": 1.2, "together": together}
    return validate({"name": "X", "lifts": lifts, **keys}, Lifter), matrix


NAMES = ("back squat", "bench press", "dumbbell curl", "leg press")


@pytest.fixture(scope="module")
def scores(told):
    """Normal scores of every quantity that go together: the independent ones times the root of the correlations."""
    _, matrix = told
    streams, others = streams_of(7), [name for name in OTHERS if name != "shared endurance"]
    one_rm, shared = streams[0].standard_normal((DRAWS, 4)), streams[1].standard_normal((DRAWS, 1))
    own = streams[1].standard_normal((DRAWS, 4))
    rate, carried = streams[2].standard_normal((DRAWS, 1)), streams[6].standard_normal((DRAWS, 1))
    rest = streams[7].standard_normal((DRAWS, len(others)))
    names = ["shared endurance", "recovery rate", "carry-over", *others]
    names += [f"{name}, {kind}" for kind in ("endurance", "1RM") for name in NAMES]
    correlations = np.eye(len(names))
    for i, first in enumerate(names):
        for j, second in enumerate(names):
            if {first, second} <= set(QUANTITIES):
                correlations[i, j] = matrix[QUANTITIES.index(first), QUANTITIES.index(second)]
    found = np.hstack([shared, rate, carried, rest, own, one_rm]) @ np.linalg.cholesky(correlations).T
    return dict(zip(names, found.T, strict=True)), streams


def test_a_lifter_of_a_log(told, scores):
    lifter, (score, streams) = told[0], scores
    found = drawn(lifter, NAMES)
    for field, name, interval in (
        ("recovery_rate", "recovery rate", [0.9, 1.1, 1.5]),
        ("carry", "carry-over", 1.2 * np.exp(TENTH * 0.4 * 0.3 * np.array([-1, 0, 1]))),
    ):
        expected = np.exp(two_sided(*np.log(interval), score[name]))
        assert np.ravel(getattr(found, field)) == pytest.approx(expected, rel=1e-9), field
    for name, interval in TIRING.items():
        low, middle, high = interval
        if name == "slow_share":
            value = two_sided(*(math.log(one / (1 - one)) for one in (low, middle, high)), score[name])
            value = 1 / (1 + np.exp(-value))
        else:
            value = np.exp(two_sided(*np.log(interval), score[name]))
        assert getattr(found.fatigue, name)[:, 0] == pytest.approx(value, rel=1e-9), name
    assert found.bend == pytest.approx(two_sided(-0.5, 0.2, 1.5, score["bend"]), abs=1e-9)
    # What is gained comes on top of what the 1RM drifts by, from the first week on; days scatter about that.
    gain = 0.01 * two_sided(-0.2, 0.3, 0.9, score["gain"])
    climbed = np.cumsum(gain[:, None] + DRIFT * streams[7].standard_normal((DRAWS, WEEKS)), axis=1)
    day = noise().day_sd * streams[4].standard_normal((SESSIONS, WEEKS, DRAWS)).transpose(0, 2, 1)
    np.testing.assert_allclose(found.day, day + climbed, atol=1e-9)


def test_the_lifts_of_a_log(told, scores):
    """What the log told stands as it is told; the rest shares half its variance of endurance with all others."""
    lifter, (score, _) = told[0], scores
    found, root = drawn(lifter, NAMES), math.sqrt(0.5)
    log_k, log_one_rm = np.log(found.endurance).T, found.log_one_rm.T
    shared = two_sided(-0.3, 0.4, 1.3, score["shared endurance"])
    assert log_k[0] == pytest.approx(two_sided(*np.log([0.025, 0.03, 0.039]), score["back squat, endurance"]), abs=1e-9)
    for lane in (1, 2):
        middle, sd = lifter.usual_endurance(lifter.catalogue.exercise(NAMES[lane]).endurance_class)
        own = root * shared + root * score[f"{NAMES[lane]}, endurance"]
        assert log_k[lane] == pytest.approx(math.log(middle) + sd * own, abs=1e-9)
    own = root * score["shared endurance"] + root * score["leg press, endurance"]
    assert log_k[3] == pytest.approx(two_sided(*np.log([0.04, 0.05, 0.058]), own), abs=1e-9)
    assert log_one_rm[0] == pytest.approx(two_sided(*np.log([141, 150, 157]), score["back squat, 1RM"]), abs=1e-9)
    for lane, kg in ((1, 100), (3, 220)):
        assert log_one_rm[lane] == pytest.approx(math.log(kg) + 0.05 * score[f"{NAMES[lane]}, 1RM"], abs=1e-9)
    # Eight reps with 16 kg in each of two hands: on the lifter's own bent curve, for each endurance, and the scatter.
    curve, lift = DEFAULT_CURVE.bent(found.bend), lifter.lift("dumbbell curl")
    middle = math.log(lifter.usual_endurance(lifter.catalogue.exercise("dumbbell curl").endurance_class)[0])
    by_set = math.log(32) + curve.headroom_for(8.0, np.exp(log_k[2]))
    scatter = lift.from_set.scatter(middle, curve) * score["dumbbell curl, 1RM"]
    assert log_one_rm[2] == pytest.approx(by_set + scatter, abs=1e-9)


def test_a_set_with_both_dumbbells_says_what_one_with_as_much_in_each_hand_says():
    told_by = (
        {"each_hand": True, "from_set": {"kg": 16, "reps": 8}},
        {"each_hand": False, "from_set": {"kg": 32, "reps": 8}},
    )
    each, both = (
        drawn(validate({"name": "X", "lifts": {"dumbbell curl": lift}}, Lifter), ("dumbbell curl",)) for lift in told_by
    )
    assert each.log_one_rm == pytest.approx(both.log_one_rm, abs=ROUNDING)


def test_on_another_curve_or_form_the_lifter_of_the_log_has_no_bend_and_no_parameters(told):
    found = drawn(told[0], NAMES, form=EFFORT, curve=CURVES["power"])
    assert (found.bend, found.curve, found.form) == (None, CURVES["power"], EFFORT)
    streams = streams_of(7)
    expected = fatigue_draws(DRAWS, streams[3], form=EFFORT)
    assert np.array_equal(found.fatigue.depletion_gain, expected.depletion_gain)


def test_each_draw_lies_on_its_own_bent_curve(told):
    found = drawn(told[0], NAMES)
    headroom = np.full((DRAWS, 1), 0.2)
    reps = found.bent_curve.fresh_reps(headroom, found.endurance[:, :1])[:, 0]
    for draw in range(0, DRAWS, 7):
        alone = DEFAULT_CURVE.bent(float(found.bend[draw])).fresh_reps(np.array([0.2]), found.endurance[draw, 0])
        assert reps[draw] == pytest.approx(float(alone[0]), rel=1e-9)


@pytest.mark.parametrize(("first_week", "still"), [(1, 0), (2, 1), (4, 3)])
def test_what_lies_ahead_by_hand(first_week, still):
    """0.02 a week and a drift of 1 % times 1, -2, 0.5, 3; none before the week that follows the log."""
    normal = np.array([[1.0, -2.0, 0.5, 3.0], [0.0, 0.0, 0.0, 0.0]])
    rng = SimpleNamespace(standard_normal=lambda shape: normal if shape == (2, 4) else None)
    found = ahead(np.array([0.02, -0.01]), 4, first_week=first_week, rng=rng)
    steps = np.array([[0.03, 0.0, 0.025, 0.05], [-0.01] * 4])
    steps[:, :still] = 0.0
    for week in range(4):
        assert found[:, week] == pytest.approx(steps[:, : week + 1].sum(axis=1), abs=ROUNDING)


# ---- some of the draws, and draws put together -----------------------------------------------------------------------


def test_some_draws_and_draws_joined_are_those_of_every_array(told, plain):
    found = drawn(told[0], NAMES)
    rows = np.array([4, 0, 4, 9])
    some = found.taken(rows)
    joined = LifterDraws.joined([some, found.taken(np.array([1]))])
    arrays = [(name, 0) for name in ("log_one_rm", "endurance", "recovery_rate", "carry", "slow_reps", "bend")]
    for name, axis in [*arrays, ("day", 1), ("set_noise", 1)]:
        whole = getattr(found, name)
        assert np.array_equal(getattr(some, name), np.take(whole, rows, axis=axis)), name
        assert np.array_equal(getattr(joined, name), np.take(whole, [4, 0, 4, 9, 1], axis=axis)), name
    for name in STEEP_END.parameter_names:
        assert np.array_equal(getattr(some.fatigue, name), getattr(found.fatigue, name)[rows]), name
        assert np.array_equal(getattr(joined.fatigue, name), getattr(found.fatigue, name)[[4, 0, 4, 9, 1]]), name
    assert (some.count, joined.count, some.exercises) == (4, 5, NAMES)
    for array in (found.day, found.set_noise, some.day, some.set_noise):
        assert array.strides[1] == array.itemsize, "draws lie beside each other"


def test_what_is_one_for_all_draws_or_not_there_stays(plain):
    found = drawn(plain, ("back squat",))
    bare = LifterDraws(**vars(found) | {"fatigue": STEEP_END.parameters, "carry": None, "slow_reps": None})
    some = bare.taken(np.array([3, 1]))
    assert (some.carry, some.slow_reps, some.bend, some.fatigue) == (None, None, None, STEEP_END.parameters)
    assert some.recovery_rate.tolist() == found.recovery_rate[[3, 1]].tolist()


# ---- the draws that plans meet ---------------------------------------------------------------------------------------


def plan_of(*names, weeks=2, sessions=1, count=2, form=STEEP_END, curve=DEFAULT_CURVE):
    sets = [{"count": count, "reps": 5, "percent": 70, "rest_s": 120, "drops": {"sizes": [20], "reps": 3}}]
    slots = [{"exercise": name, "ramp": False, "sets": sets} for name in names]
    content = [{"name": f"session {number}", "exercises": slots} for number in range(sessions)]
    block = validate({"name": "b", "weeks": weeks, "sessions": content}, Block)
    return make_plan(block, lifter_of({"back squat": 100, "bench press": 80}), hall(), form=form, curve=curve)


def assert_same(one, other):
    for name in ("log_one_rm", "endurance", "recovery_rate", "day", "set_noise", "carry", "slow_reps"):
        np.testing.assert_array_equal(getattr(one, name), getattr(other, name))


def test_a_plan_meets_as_many_sessions_weeks_and_sets_as_it_has():
    plan = plan_of("back squat", "bench press", sessions=2, weeks=3, form=EFFORT, curve=CURVES["power"])
    found = draw_for(plan, draws=30, seed=4)
    assert (found.day.shape, found.set_noise.shape) == ((2, 30, 3), (16, 30, 3))
    assert (found.form, found.curve, found.exercises) == (EFFORT, CURVES["power"], ("back squat", "bench press"))
    sizes = {"weeks": 3, "sessions": 2, "sets": 16, "draws": 30, "form": EFFORT, "curve": CURVES["power"]}
    assert_same(found, draw_lifter(plan.lifter, plan.exercises, rng=np.random.default_rng(4), **sizes))


def test_how_many_draws_there_are_unless_asked_for():
    plan = plan_of("back squat")
    usual = draw_for(plan)
    assert usual.count == 2000
    assert_same(usual, draw_for(plan, draws=2000, seed=SEED))
    for days in (SeededDays(), CommonDays([plan])):
        assert_same(days.of(plan), usual)
    lifter, sizes = plan.lifter, {"weeks": 2, "sessions": 1, "sets": 4}
    assert_same(draw_lifter(lifter, plan.exercises, rng=np.random.default_rng(SEED), **sizes), usual)


def test_days_of_a_seed_are_the_very_same_where_nothing_that_is_drawn_differs():
    days, plan = SeededDays(20, 3), plan_of("back squat")
    first = days.of(plan)
    assert_same(first, draw_for(plan, draws=20, seed=3))
    assert days.of(plan_of("back squat")) is first
    others = [plan_of("back squat", count=3), plan_of("back squat", sessions=2), plan_of("back squat", weeks=3)]
    for other in others:
        assert days.of(other) is not first
        assert_same(days.of(other), draw_for(other, draws=20, seed=3))
    given = SeededDays(5, 9, draw=lambda plan, draws, seed: (plan, draws, seed))
    assert given.of(plan) == (plan, 5, 9)


def test_days_that_plans_share_hold_all_of_every_plan():
    """The longest plan's weeks, all exercises; the first plan meets what `draw_for` has drawn for it alone."""
    short, long = plan_of("back squat", weeks=1), plan_of("back squat", "bench press", weeks=3, sessions=2, count=3)
    days = CommonDays([long, short], draws=12, seed=5)
    assert_same(days.of(long), draw_for(long, draws=12, seed=5))
    assert days.of(long) is days.of(long)
    found = days.of(short)
    assert_same(found, days.of(short))
    assert (found.exercises, found.day.shape, found.set_noise.shape) == (("back squat",), (1, 12, 1), (4, 12, 1))
    # The two sets of the short plan, each with its drop, are the first two of the long one.
    np.testing.assert_array_equal(found.set_noise, days.of(long).set_noise[:4, :, :1])
    turned = CommonDays([short, long], draws=12, seed=5).of(long)
    assert turned.set_noise.shape == (24, 12, 3)
    assert len(np.unique(turned.set_noise)) == 24 * 12 * 3


def test_the_same_exercise_twice_in_a_session_meets_other_sets():
    """Known by which time it comes, not by its place: what stands between may come and go."""
    twice, between = plan_of("back squat", "back squat"), plan_of("back squat", "bench press", "back squat")
    days = CommonDays([between, twice], draws=6, seed=1)
    three, two = days.of(between).set_noise, days.of(twice).set_noise
    np.testing.assert_array_equal(two, np.concatenate([three[:4], three[8:]]))
    assert len(np.unique(two)) == 8 * 6 * 2
    assert days.of(twice).count == 6
