"""Load-reps curve and drops, set by set and draw by draw in plain Python; quantiles as the definition has them."""

import math

import numpy as np
import pytest

from tests.hand_made import hall, lifter_of
from tests.scalar_oracle import recovered, steep_slowly
from workbench.answers.curve import curve_question, equation_table, own_sets_table
from workbench.answers.drop import chain_loads, drop_chain_table, drop_question, room_loads
from workbench.answers.week_to_week import day_variation
from workbench.gym import catalogue
from workbench.present.words import amount, change, put_on_said
from workbench.quantities import InputError
from workbench.reference.parameters import endurance_prior, noise
from workbench.simulate.draws import draw_lifter

DRAWS, SEED = 41, 8
#: The fast form does the same operations in another order.
ROUNDING = 1e-9


def drawn_for(who, exercise):
    rng = np.random.default_rng(SEED)
    return draw_lifter(who, (exercise,), weeks=1, sessions=1, sets=1, draws=DRAWS, rng=rng)


def strength_and_endurance(who, exercise):
    drawn = drawn_for(who, exercise)
    for at in range(DRAWS):
        yield (
            float(drawn.log_one_rm[at, 0]) + float(drawn.day[0, at, 0]),
            float(drawn.endurance[at, 0]),
            float(drawn.set_noise[0, at, 0]),
        )


# Of 41 sorted values the quantiles lie at places 4, 20 and 36, counted from 0, with nothing between two of them.
PLACES = (4, 20, 36)


def test_the_curve_at_every_percent():
    who = lifter_of({"bench press": 80})
    found = curve_question(who, "bench press", load_kg=50, reps_wanted=9, draws=DRAWS, seed=SEED)
    assert found.curve["percent"].tolist() == list(range(40, 101))
    assert found.curve["load_kg"].tolist() == pytest.approx([0.8 * percent for percent in range(40, 101)])
    assert found.curve["studied"].tolist() == [60 <= percent <= 95 for percent in range(40, 101)]

    def reps_at(load):
        return sorted(
            max(1 + (strength - math.log(load)) / k, 0) * factor
            for strength, k, factor in strength_and_endurance(who, "bench press")
        )

    for percent in (40, 73, 100):
        row = found.curve[found.curve["percent"] == percent].iloc[0]
        reps = reps_at(0.8 * percent)
        assert row[["reps_p10", "reps_p50", "reps_p90"]].tolist() == pytest.approx(
            [reps[place] for place in PLACES], abs=ROUNDING
        )
    whole = [math.floor(reps) for reps in reps_at(50)]
    at = found.at_load.iloc[0]
    assert at["percent"] == pytest.approx(62.5)
    assert at[["reps_p10", "reps_p50", "reps_p90"]].tolist() == [whole[place] for place in PLACES]
    assert at["chance"] == sum(reps >= 9 for reps in whole) / DRAWS
    assert 0 < at["chance"] < 1


def test_the_one_rm_has_the_band_of_its_draws_and_three_quarters_of_it_is_the_load():
    who = lifter_of({"bench press": 80})
    found = curve_question(who, "bench press", draws=DRAWS, seed=SEED)
    one_rm = sorted(math.exp(value) for value in drawn_for(who, "bench press").log_one_rm[:, 0])
    assert found.one_rm.iloc[0].tolist() == pytest.approx([80, one_rm[4], one_rm[36]])
    assert found.at_load["load_kg"].iloc[0] == 60
    prior = endurance_prior(catalogue.exercise("bench press").endurance_class)
    assert (found.endurance_known, found.grade, found.source) == (False, prior.grade, prior.source)
    with pytest.raises(InputError, match="0 kg is not a load"):
        curve_question(who, "bench press", load_kg=0)


def test_an_equation_beside_the_curve_by_hand():
    """Epley, published as 1RM = load (1 + 0.0333 reps): at 80 % there are (1 / 0.8 - 1) / 0.0333 reps."""
    table = equation_table(["epley_1985"], 80.0)
    assert table.loc[table["percent"] == 80, "reps"].iloc[0] == pytest.approx(0.25 / 0.0333)
    with pytest.raises(InputError, match="is not known"):
        equation_table(["joy"], 80.0)


def chain_slowly(who, exercise, loads, change_s):
    """Reps of sets to failure one after the other, one list a draw."""
    drawn = drawn_for(who, exercise)
    columns = {
        name: np.broadcast_to(value, (DRAWS, 1))[:, 0]
        for name, value in vars(drawn.fatigue).items()
        if np.ndim(value) or isinstance(value, float)
    }
    chains = []
    for at, (strength, k, factor) in enumerate(strength_and_endurance(who, exercise)):
        p = {name: float(column[at]) for name, column in columns.items()}
        pools, reps = (0.0, 0.0, 0.0), []
        for number, load in enumerate(loads):
            if number:
                pools = recovered(pools, change_s * float(drawn.recovery_rate[at]), p)
            headroom = strength - math.log(load)
            fresh = max(1 + headroom / k, 0) * factor
            available, pools = steep_slowly(*pools, headroom, fresh, math.inf, p)
            reps.append(math.floor(available + ROUNDING))
        chains.append(reps)
    return chains


def test_a_chain_of_drops():
    who = lifter_of({"leg press": 200})
    loads = [160.0, 120.0, 100.0]
    table = drop_chain_table(who, "leg press", loads, change_s=20, draws=DRAWS, seed=SEED)
    assert table["drop_percent"].tolist() == pytest.approx([0, 25, 100 / 6])
    assert table["percent"].tolist() == pytest.approx([80, 60, 50])
    chains = chain_slowly(who, "leg press", loads, 20)
    for number, row in enumerate(table.to_dict("records")):
        reps = sorted(chain[number] for chain in chains)
        assert [row["reps_p10"], row["reps_p50"], row["reps_p90"]] == [reps[place] for place in PLACES]
    seconds = catalogue.exercise("leg press").change_load_s
    usual = drop_chain_table(who, "leg press", loads, draws=DRAWS, seed=SEED)
    assert usual.equals(drop_chain_table(who, "leg press", loads, change_s=seconds, draws=DRAWS, seed=SEED))


def test_every_lighter_load_of_the_room_and_the_first_that_is_light_enough():
    who, room = lifter_of({"back squat": 100}), hall()
    found = drop_question(
        who, "back squat", room, load_kg=81, reps_wanted=7, fewest_reps=5, draws=DRAWS, seed=SEED, change_s=15
    )
    loads = [float(kg) for kg in room.loads_for(catalogue.exercise("back squat")).kg]
    assert found.load_kg == min(loads, key=lambda kg: (abs(kg - 81), kg))
    lighter = [kg for kg in sorted(loads, reverse=True) if found.load_kg / 2 <= kg < found.load_kg]
    assert found.drops["load_kg"].tolist() == lighter
    enough = None
    for row in found.drops.to_dict("records"):
        chains = chain_slowly(who, "back squat", [found.load_kg, row["load_kg"]], 15)
        reps = sorted(chain[1] for chain in chains)
        assert [row["reps_p10"], row["reps_p50"], row["reps_p90"]] == [reps[place] for place in PLACES]
        assert row["chance"] == sum(one >= 7 for one in reps) / DRAWS
        assert row["drop_percent"] == pytest.approx(100 * (1 - row["load_kg"] / found.load_kg))
        assert row["percent"] == pytest.approx(row["load_kg"])
        assert row["worth_it"] == (reps[20] >= 5)
        if enough is None and reps[20] >= 7:
            enough = row["load_kg"]
    assert enough is not None
    assert found.advised["load_kg"] == enough
    assert not found.drops["worth_it"].iloc[0], "no drop is too small: the warning is not tested"
    least = found.drops[~found.drops["worth_it"]]["drop_percent"].max()
    assert found.warning.startswith(f"A drop of {least:.0f} % or less is too small")


def test_a_drop_may_be_as_large_as_the_largest_allowed_and_no_larger():
    who, room = lifter_of({"back squat": 100}), hall()
    few = drop_question(who, "back squat", room, load_kg=80, largest_drop=0.25, draws=DRAWS, seed=SEED)
    assert few.drops["load_kg"].iloc[-1] == 60
    assert few.drops["load_kg"].iloc[0] < 80
    seconds = catalogue.exercise("back squat").change_load_s
    stated = drop_question(
        who, "back squat", room, load_kg=80, largest_drop=0.25, change_s=seconds, draws=DRAWS, seed=SEED
    )
    at_once = drop_question(who, "back squat", room, load_kg=80, largest_drop=0.25, change_s=0, draws=DRAWS, seed=SEED)
    assert few.drops.equals(stated.drops)
    assert not few.drops.equals(at_once.drops)
    none = drop_question(who, "back squat", room, load_kg=80, largest_drop=0.001, draws=DRAWS, seed=SEED)
    assert none.drops.empty
    assert none.warning.startswith("The room has no lighter load")
    many = drop_question(who, "back squat", room, load_kg=80, reps_wanted=90, draws=DRAWS, seed=SEED)
    assert many.advised is None
    assert many.warning.startswith("No load here leaves 90 reps: even 40 kg (a drop of 50 %)")


def test_loads_of_the_room_between_two_percents_ends_included():
    found = room_loads(hall(), lifter_of({"back squat": 100}), "back squat", low_percent=70, high_percent=80)
    kg = [load for _, load in found]
    assert (kg[0], kg[-1]) == (70, 80)
    assert found[0][0] == "70 kg (70 %)"
    with pytest.raises(InputError, match=r"no load from 1 to 2 % of 100 kg"):
        room_loads(hall(), lifter_of({"back squat": 100}), "back squat", low_percent=1, high_percent=2)


def test_each_drop_is_taken_off_the_load_before_it_and_rounded_once():
    # 100, less 20 % is 80, less 25 % of that is 60.
    assert chain_loads(hall(), "back squat", 100, [20, 25]) == [100, 80, 60]
    # 101, 80.8, 64.64 and 51.712 kg, each to the nearest load of the room.
    loads = [float(kg) for kg in hall().loads_for(catalogue.exercise("back squat")).kg]
    exact = [101 * 0.8**number for number in range(4)]
    nearest = [min(loads, key=lambda kg, wanted=wanted: abs(kg - wanted)) for wanted in exact]
    assert chain_loads(hall(), "back squat", 101, [20, 20, 20]) == nearest


def test_own_sets_by_hand():
    table = own_sets_table("80 x 8; 72,5 kg × 11 ; 150 lb*12;", 100.0)
    # 150 lb are 150 x 0.45359237 = 68.04 kg.
    assert table["percent"].tolist() == pytest.approx([80, 72.5, 68.0388555])
    assert table["reps"].tolist() == [8, 11, 12]
    # Two dumbbells are spoken of by one hand, in the unit of the rack: 2 x 25 lb are 22.68 kg.
    of_hands = own_sets_table("16 x 10; 2 x 25 lb x 8", 40.0, hands=2)
    assert of_hands["percent"].tolist() == pytest.approx(
        [
            80.0,
            56.699,
        ]
    )
    assert of_hands["text"][0] == "2 x 16 kg x 10 (80 % of 1RM)"
    assert own_sets_table("150 x 12", 100.0, unit="lb")["percent"].tolist() == pytest.approx([68.0388555])
    assert own_sets_table("120 x 1; 20 x 100", 100.0)["percent"].tolist() == pytest.approx([120, 20])
    for text in (
        "121 x 1",
        "19 x 5",
        "80 x 0",
        "80 x 101",
        "80",
        "80 x 5 x 5",
        "80 x 5, 2 left",
        ";".join(["80 x 5"] * 51),
    ):
        with pytest.raises(InputError):
            own_sets_table(text, 100.0)


@pytest.mark.parametrize(
    ("value", "text"),
    [(1234.5, "1,234"), (100.0, "100"), (99.96, "100.0"), (10.0, "10.0"), (9.994, "9.99"), (-0.004, "0.00")],
)
def test_amounts_show_what_can_be_used(value, text):
    assert amount(value) == text


def test_changes_have_their_sign():
    assert [change(value) for value in (0.05001, -0.05001, 0.04, -0.04)] == ["+0.1", "-0.1", "0.0", "0.0"]


def test_day_variation_is_the_middle_eighty_percent():
    # The standard normal distribution has 80 % of itself within 1.2816 standard deviations.
    low, high = day_variation(100.0)
    assert math.log(high / 100) == pytest.approx(1.2816 * noise().day_sd)
    assert math.log(100 / low) == pytest.approx(1.2816 * noise().day_sd)


def test_a_move_with_nothing_added_is_against_body_mass():
    assert put_on_said(80.0, 80.0, "kg", 1) == "body mass"
    assert put_on_said(82.5, 80.0, "kg", 1) == "body mass + 2.5 kg"
    assert put_on_said(0.0, 0.0, "kg", 1) == "0 kg"
