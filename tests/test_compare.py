"""Schemes compared on the same days: the pairing holds, the measures are what they say, common days narrow."""

import math

import numpy as np
import pytest

from tests.scalar_oracle import simulate_slowly
from workbench.block import Block
from workbench.compare import DEFAULT_MEASURES, compare_blocks, compare_independently, paired_draws
from workbench.equipment import read_room
from workbench.lifter import read_lifter
from workbench.models.volume import RULES
from workbench.plan import make_plan
from workbench.quantities import InputError
from workbench.questions.block_check import check_block
from workbench.questions.outcomes import MEASURES, Measured, draw_response, known_measure
from workbench.schemes import SCHEMES, constant_step, exercise_block, with_scheme
from workbench.simulate import simulate
from workbench.sources import data_path
from workbench.toml_files import validate

DEMO = data_path("demo")
#: Sums of a few hundred terms in another order.
ROUNDING = 1e-9


@pytest.fixture(scope="module")
def room():
    return read_room(DEMO / "rooms" / "boathouse_hall.toml")


@pytest.fixture(scope="module")
def lifter():
    return read_lifter(DEMO / "lifters" / "emre_sandoval.toml")


def bench_pull(**keys):
    weeks = keys.pop("weeks", 4)
    return exercise_block("barbell bench pull", constant_step(**keys), weeks=weeks, days=(1, 4))


def two_exercises(first, second):
    slots = [
        {"exercise": name, "sets": [{"count": 2, "reps": 5, "percent": 70, "rest_s": 120}]} for name in (first, second)
    ]
    return validate({"name": "two", "weeks": 3, "sessions": [{"name": "a", "day": 4, "exercises": slots}]}, Block)


def test_plans_of_other_size_and_order_meet_the_same_lifters_days_and_sets(lifter, room):
    long = make_plan(bench_pull(sets=6, weeks=6), lifter, room)
    short = make_plan(bench_pull(sets=3, weeks=3), lifter, room)
    other = make_plan(two_exercises("back squat", "barbell bench pull"), lifter, room)
    of_long, of_short, of_other = paired_draws([long, short, other], draws=50, seed=3)
    pull = other.exercises.index("barbell bench pull")
    for part, column in ((of_short, 0), (of_other, pull)):
        assert np.array_equal(part.log_one_rm[:, column], of_long.log_one_rm[:, 0])
        assert np.array_equal(part.endurance[:, column], of_long.endurance[:, 0])
        assert np.array_equal(part.recovery_rate, of_long.recovery_rate)
    assert np.array_equal(of_short.day, of_long.day[:, :, :3])
    # The session of the third plan is on the fourth day of the week, the second session of the others.
    assert np.array_equal(of_other.day[0], of_long.day[1][:, :3])
    for session in range(2):
        for number in range(3):
            assert np.array_equal(
                of_short.set_noise[3 * session + number], of_long.set_noise[6 * session + number][:, :3]
            )
    # Its bench pull comes after two sets of squat, and is met as the first two bench pulls of that day.
    assert np.array_equal(of_other.set_noise[2:4], of_long.set_noise[6:8][:, :, :3])
    assert not np.array_equal(of_long.set_noise[0], of_long.set_noise[6])


def test_a_scheme_against_itself_differs_in_nothing(lifter, room):
    block = bench_pull()
    found = compare_blocks({"a": block, "b": block}, lifter, room, draws=100, seed=1)
    assert (found.pairs["difference"] == 0).all()
    assert (found.pairs["chance_same"] == 1).all()
    assert set(found.pairs["outcome"]) == set(MEASURES)


def test_sets_added_at_the_end_change_no_digit_of_the_sets_before(lifter, room):
    found = compare_blocks({"four": bench_pull(sets=4), "six": bench_pull(sets=6)}, lifter, room, draws=200, seed=5)
    four, six = (found.outcomes[name].sessions[0][:4] for name in ("four", "six"))
    for one, other in zip(four, six, strict=True):
        assert np.array_equal(one.available, other.available)


def test_the_same_seed_gives_the_same_digits(lifter, room):
    blocks = {label: exercise_block("back squat", build(), weeks=4) for label, build in SCHEMES.items()}
    first, again = (compare_blocks(blocks, lifter, room, draws=50, seed=9) for _ in range(2))
    assert first.schemes.equals(again.schemes)
    assert first.pairs.equals(again.pairs)
    assert not first.schemes.equals(compare_blocks(blocks, lifter, room, draws=50, seed=10).schemes)


def test_measures_agree_with_a_plain_loop(lifter, room):
    """Counted set by set and week by week, from the scalar simulation."""
    block = with_scheme(
        two_exercises("back squat", "barbell bench pull"), SCHEMES["drop-set finish"](percent=78), exercise="back squat"
    )
    plan = make_plan(block, lifter, room)
    draws = paired_draws([plan], draws=12, seed=2)[0]
    measured = Measured(simulate(plan, draws))
    reps = simulate_slowly(plan, draws)
    for draw in range(12):
        done_all, missed_all, tonnage, lifted, hard, hard_lats = 0, 0, 0.0, 0.0, 0, 0.0
        lowest, first_miss = math.inf, plan.weeks + 1
        for (_, index, at, week), available in reps.items():
            planned = plan.sessions[0].sets[index]
            if at != draw or not planned.active[week]:
                continue
            done = min(math.floor(available), float(planned.reps_high[week]))
            done_all += done
            tonnage += done * float(planned.load_kg[week])
            lifted += done * float(planned.load_kg[week]) / lifter.lift(planned.exercise).one_rm
            # A set with all its drops counts as one set, judged by where the last drop ends.
            sets = plan.sessions[0].sets
            followed = index + 1 < len(sets) and sets[index + 1].drop
            is_hard = available - done <= RULES.hard_reserve and not followed
            hard += is_hard
            hard_lats += is_hard * (planned.exercise == "barbell bench pull")
            if math.isfinite(planned.reps_high[week]):
                lowest = min(lowest, available - float(planned.reps_low[week]))
                short = max(float(planned.reps_low[week]) - done, 0)
                missed_all += short
                first_miss = min(first_miss, week + 1) if short else first_miss
        expected = {
            "completed_reps": done_all,
            "missed_reps": missed_all,
            "all_reps": float(missed_all == 0),
            "tonnage": tonnage,
            "intensity": 100 * lifted / done_all,
            "hard_sets": hard / plan.weeks,
            "hard_sets:latissimus": hard_lats / plan.weeks,
            "lowest_reserve": lowest,
            "first_miss_week": first_miss,
        }
        for key, value in expected.items():
            assert measured.value(key)[draw] == pytest.approx(value, rel=ROUNDING, abs=ROUNDING), key


def test_light_sets_come_to_what_arithmetic_says(lifter, room):
    """Three sets of five at 30 % on two days for two weeks: nobody misses, so tonnage is a product."""
    block = exercise_block(
        "barbell bench pull", constant_step(percent=30, step=0, sets=3, reps=5), weeks=2, days=(1, 4)
    )
    found = compare_blocks({"light": block}, lifter, room, draws=50, seed=1)
    load = float(room.loads("barbell").round_kg(0.30 * lifter.lift("barbell bench pull").one_rm))
    values = {key: found.values["light"][key] for key in DEFAULT_MEASURES}
    assert np.allclose(values["completed_reps"], 3 * 5 * 2 * 2)
    assert np.allclose(values["tonnage"], 3 * 5 * 2 * 2 * load)
    assert np.all(values["all_reps"] == 1)
    assert np.all(values["first_miss_week"] == 3)
    assert found.pairs.empty


def test_strength_change_follows_the_published_dose(lifter, room):
    """Ten weekly sets against five: the relative gain is 0.18 / 0.915 of the middle dose, in the mean."""
    five = bench_pull(sets=5, weeks=4)
    ten = exercise_block("barbell bench pull", constant_step(sets=5), weeks=4, days=(1,))
    found = compare_blocks({"ten": five, "five": ten}, lifter, room, draws=20_000, seed=4, outcomes=["strength_change"])
    high, low = (np.log1p(found.values[name]["strength_change"] / 100) for name in ("ten", "five"))
    # In each draw both gains are the lifter's own middle gain times 1 plus or minus half the dose, whose mean over
    # 20,000 draws with sd 0.067 has an error of 0.0005; 0.002 is four of them.
    assert np.mean((high - low) / (0.5 * (high + low))) == pytest.approx(0.18 / 0.915, abs=0.002)


def test_a_beginner_is_expected_to_gain_more():
    few = draw_response(4000, np.random.default_rng(1), training_years=0.3)
    many = draw_response(4000, np.random.default_rng(1), training_years=10)
    # 1.0 and 0.2 % a week in data/evidence/gain_rates.csv; 4,000 draws leave an error of the median below 0.0002.
    assert np.median(few.gain_per_week) == pytest.approx(0.010, abs=0.0006)
    assert np.median(many.gain_per_week) == pytest.approx(0.002, abs=0.0006)


def test_common_days_at_least_halve_the_interval_of_a_difference(lifter, room, capsys):
    blocks = {
        "2.5 points a week": bench_pull(step=2.5, percent=72),
        "1.5 points a week": bench_pull(step=1.5, percent=72),
    }
    shown = ("missed_reps", "completed_reps", "lowest_reserve", "first_miss_week", "hard_sets", "tonnage")
    common = compare_blocks(blocks, lifter, room, outcomes=shown, draws=2000, seed=1).pairs
    apart = compare_independently(blocks, lifter, room, outcomes=shown, draws=2000, seed=1).pairs
    print(f"\n{'95 % interval of the mean difference':<40}{'common days':>24}{'own days':>24}{'ratio':>8}")
    ratios = {}
    for one, other in zip(common.to_dict("records"), apart.to_dict("records"), strict=True):
        widths = [row["mean_high"] - row["mean_low"] for row in (one, other)]
        ratios[one["outcome"]] = widths[0] / widths[1]
        spans = [f"{row['mean_low']:.2f} to {row['mean_high']:.2f}" for row in (one, other)]
        print(f"{one['label']:<40}{spans[0]:>24}{spans[1]:>24}{ratios[one['outcome']]:>8.2f}")
    assert {key: ratio for key, ratio in ratios.items() if not ratio <= 0.5} == {}


def test_order_follows_the_outcome(lifter, room):
    blocks = {"more": bench_pull(sets=6), "fewer": bench_pull(sets=2)}
    found = compare_blocks(blocks, lifter, room, draws=50, seed=1)
    assert list(found.ordered("tonnage")["scheme"]) == ["more", "fewer"]
    assert list(found.ordered("minutes")["scheme"]) == ["fewer", "more"]
    with pytest.raises(InputError, match="was not worked out"):
        found.ordered("hard_sets:biceps")


def test_what_cannot_be_compared_is_explained(lifter, room):
    with pytest.raises(InputError, match="at least one block"):
        compare_blocks({}, lifter, room)
    with pytest.raises(InputError, match="'joy' is not known"):
        compare_blocks({"a": bench_pull()}, lifter, room, outcomes=["joy"])
    with pytest.raises(InputError, match="no muscle is called 'soul'"):
        known_measure("hard_sets:soul")
    with pytest.raises(InputError, match=r"scheme b: lifter .* has no 1RM for overhead press"):
        compare_blocks({"a": bench_pull(), "b": exercise_block("overhead press", constant_step())}, lifter, room)
    with pytest.raises(InputError, match="does not hold leg press"):
        with_scheme(bench_pull(), constant_step(), exercise="leg press")


@pytest.mark.parametrize("label", SCHEMES)
@pytest.mark.parametrize("weeks", [1, 3, 8])
def test_every_scheme_of_the_library_makes_a_block(label, weeks, lifter, room):
    block = exercise_block("back squat", SCHEMES[label](weeks=weeks, percent=65), weeks=weeks)
    plan = make_plan(block, lifter, room)
    assert plan.weeks == weeks
    assert sum(not one.drop for one in plan.sessions[0].sets) == 5


def test_the_first_scheme_has_the_digits_of_the_check(lifter, room):
    blocks = {"a": bench_pull(sets=4), "b": bench_pull(sets=6, step=1)}
    found = compare_blocks(blocks, lifter, room, draws=300, seed=5, outcomes=["all_reps"])
    assert (
        found.values["a"]["all_reps"].mean()
        == check_block(blocks["a"], lifter, room, draws=300, seed=5).chance_of_block
    )
