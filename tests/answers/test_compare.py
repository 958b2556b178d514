"""Schemes compared on the same days: the pairing holds, the measures are what they say, common days narrow."""

import math

import numpy as np
import pytest

from tests.scalar_oracle import simulate_slowly
from workbench.answers.block_check import check_block
from workbench.answers.compare import DEFAULT_MEASURES, compare_blocks, compare_independently
from workbench.answers.outcomes import MEASURES, Measured, draw_response, known_measure
from workbench.gym.equipment import read_room
from workbench.lifter import read_lifter
from workbench.models.volume import RULES
from workbench.prescription.block import Block
from workbench.prescription.edit import Where, change
from workbench.prescription.schemes import SCHEMES, constant_step, exercise_block
from workbench.quantities import InputError
from workbench.reference.sources import data_path
from workbench.reference.toml_files import validate
from workbench.simulate.draws import CommonDays
from workbench.simulate.plan import make_plan
from workbench.simulate.run import simulate

DEMO = data_path("demo")
#: Sums of a few hundred terms in another order.
ROUNDING = 1e-9


def paired_draws(plans, *, draws, seed):
    """What each of several plans meets on days that they share."""
    days = CommonDays(plans, draws=draws, seed=seed)
    return [days.of(plan) for plan in plans]


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
    four, six = (found.outcomes[name].sessions[0].sets[:4] for name in ("four", "six"))
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
    sets = SCHEMES["drop-set finish"](percent=78).sets
    block = change(two_exercises("back squat", "barbell bench pull"), Where(exercise="back squat"), set_groups=sets)
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
    # The range spans four standard deviations: (2.3 - 0.3) / 4 = 0.5 %. 4,000 draws know an sd to 1.1 %,
    # a third of the tolerance.
    assert np.std(few.gain_per_week) == pytest.approx(0.005, rel=0.035)


@pytest.mark.parametrize(("years", "gain"), [(0.99, 0.010), (1.0, 0.004), (None, 0.004), (2.99, 0.004), (3.0, 0.002)])
def test_years_of_training_choose_the_row_and_unknown_ones_are_two(years, gain):
    drawn = draw_response(4000, np.random.default_rng(1), training_years=years)
    # Rows of data/evidence/gain_rates.csv: sd 0.5, 0.25 and 0.175 %, so that the mean has an error below 0.0001.
    assert np.mean(drawn.gain_per_week) == pytest.approx(gain, abs=0.0004)


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
        change(bench_pull(), Where(exercise="leg press"), set_groups=constant_step().sets)


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


def test_the_rows_of_a_pair_are_counted_from_the_values_of_its_schemes(lifter, room):
    """Draw by draw in plain Python: which is higher and how often, by how much, and how well that is known."""
    blocks = {
        "many": bench_pull(sets=4, percent=74),
        "few": bench_pull(sets=2, percent=78),
        "light": bench_pull(percent=50),
    }
    keys = ["lowest_reserve", "missed_reps", "tonnage", "all_reps"]
    found = compare_blocks(blocks, lifter, room, draws=31, seed=2, outcomes=keys)
    assert [(row["a"], row["b"]) for row in found.pairs[::4].to_dict("records")] == [
        ("many", "few"),
        ("many", "light"),
        ("few", "light"),
    ]
    unequal = 0
    for row in found.pairs.to_dict("records"):
        pairs = zip(found.values[row["a"]][row["outcome"]], found.values[row["b"]][row["outcome"]], strict=True)
        gaps = sorted(float(a - b) for a, b in pairs)
        chances = [sum(gap > 1e-9 for gap in gaps), sum(gap < -1e-9 for gap in gaps)]
        assert [row["chance_a"], row["chance_b"]] == pytest.approx([chance / 31 for chance in chances])
        assert row["chance_same"] == pytest.approx(1 - sum(chances) / 31)
        unequal += chances[0] != chances[1]
        mean = math.fsum(gaps) / 31
        error = 1.96 * math.sqrt(math.fsum((gap - mean) ** 2 for gap in gaps) / 30 / 31)
        assert row["difference"] == pytest.approx(mean)
        # 1.96 is the quantile 0.975 of the standard normal distribution to three digits.
        assert row["mean_low"] == pytest.approx(mean - error, rel=1e-4, abs=1e-4)
        assert row["mean_high"] == pytest.approx(mean + error, rel=1e-4, abs=1e-4)
        # Quantiles 0.1 and 0.9 of 31 sorted values are those at places 3 and 27, counted from 0.
        assert [row["p10"], row["p90"]] == pytest.approx([gaps[3], gaps[27]])
    assert unequal > 6
    for row in found.schemes.to_dict("records"):
        values = sorted(found.values[row["scheme"]][row["outcome"]])
        assert [row["p10"], row["p50"], row["p90"]] == pytest.approx([values[3], values[15], values[27]])
        assert row["mean"] == pytest.approx(math.fsum(values) / 31)


def test_more_sets_lift_more_and_a_heavier_start_leaves_less(lifter, room):
    """Which scheme is a and which b: six sets against two, lifted by the same lifters, are more in every draw."""
    blocks = {"six": bench_pull(sets=6, percent=60), "two": bench_pull(sets=2, percent=60)}
    row = compare_blocks(blocks, lifter, room, draws=40, seed=1, outcomes=["tonnage"]).pairs.iloc[0]
    assert (row["a"], row["b"], row["chance_a"], row["chance_b"]) == ("six", "two", 1.0, 0.0)
    assert row["difference"] > 0


def test_outcomes_that_are_better_low_come_lowest_first(lifter, room):
    blocks = {"hard": bench_pull(percent=80), "easy": bench_pull(percent=50)}
    found = compare_blocks(blocks, lifter, room, draws=60, seed=1)
    assert list(found.ordered("missed_reps")["scheme"]) == ["easy", "hard"]
    assert list(found.ordered("lowest_reserve")["scheme"]) == ["easy", "hard"]
    assert list(found.ordered("intensity")["scheme"]) == ["hard", "easy"]


def test_sessions_without_days_are_paired_by_their_place_and_others_by_their_day(lifter, room):
    def of(days):
        return exercise_block("back squat", constant_step(sets=1), weeks=2, days=days)

    def plan(days, *, named=True):
        block = of(days)
        sessions = [one if named else one.model_copy(update={"day": None}) for one in block.sessions]
        return make_plan(block.model_copy(update={"sessions": sessions}), lifter, room)

    early, late = paired_draws([plan((1, 3)), plan((3, 5))], draws=10, seed=1)
    assert np.array_equal(early.day[1], late.day[0])
    assert np.array_equal(early.set_noise[1], late.set_noise[0])
    assert not np.array_equal(early.day[0], late.day[0])
    first, second = paired_draws([plan((1, 3)), plan((3, 5), named=False)], draws=10, seed=1)
    assert np.array_equal(first.day, second.day)
    assert np.array_equal(first.set_noise, second.set_noise)


def test_schemes_of_other_lengths_share_their_first_weeks(lifter, room):
    long, short = (bench_pull(weeks=weeks, sets=2) for weeks in (5, 2))
    found = compare_blocks({"long": long, "short": short}, lifter, room, draws=20, seed=3, outcomes=["tonnage"])
    sets = [found.outcomes[name].sessions[1][1].available for name in ("long", "short")]
    assert np.array_equal(sets[0][:, :2], sets[1])


def test_an_exercise_that_comes_twice_keeps_the_days_of_each_turn(lifter, room):
    """Squat twice in a session: its second turn is met as a second turn, whatever the number of sets of the first."""

    def plan(first, second):
        sets = [[{"count": count, "reps": 5, "percent": 60, "rest_s": 90}] for count in (first, second)]
        slots = [
            {"exercise": "back squat", "sets": sets[0]},
            {"exercise": "leg press", "sets": sets[0]},
            {"exercise": "back squat", "sets": sets[1]},
        ]
        content = {"name": "b", "weeks": 1, "sessions": [{"name": "s", "exercises": slots}]}
        return make_plan(validate(content, Block), lifter, room)

    few, many = paired_draws([plan(1, 2), plan(3, 2)], draws=10, seed=1)
    # Sets of few: squat, press, squat again twice. Of many: three squats, three presses, squat again twice.
    assert np.array_equal(few.set_noise[[0, 1, 2, 3]], many.set_noise[[0, 3, 6, 7]])
    noise = many.set_noise[[0, 1, 2, 6, 7], 0, 0]
    assert len(set(noise.tolist())) == 5
