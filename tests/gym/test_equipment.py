"""Loads that can be assembled, against every combination of the room's stock tried one by one."""

import functools
import itertools
import operator
import tomllib
from decimal import Decimal
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from workbench.gym.equipment import LoadTable, assemble, assembly, read_room
from workbench.gym.equipment.pieces import AddOn, Barbell, Bodyweight, Dumbbells, PlateMachine, PlateStock, Stack
from workbench.quantities import InputError
from workbench.reference.sources import data_path

POUND = Fraction(45359237, 100000000)
TARGETS = 2_000
#: Rounding of one division to the nearest double: loads of some hundred kilograms differ by at most this.
ONE_DIVISION = 1e-12
PIECES = [
    ("boathouse_hall", "long bar"),
    ("boathouse_hall", "short bar"),
    ("boathouse_hall", "cable stack"),
    ("boathouse_hall", "leg press"),
    ("boathouse_hall", "dumbbell rack"),
    ("boathouse_hall", "kettlebells"),
    ("boathouse_hall", "pull-up bar"),
    ("boathouse_hall", "bands"),
    ("quay_room", "dumbbells"),
    ("quay_room", "tower stack"),
    ("quay_room", "two-handle stack"),
    ("quay_room", "leg stack"),
    ("quay_room", "short fixed bars"),
    ("quay_room", "wall bars"),
]
IMPLEMENT = {
    "barbell": "barbell",
    "fixed_barbells": "barbell",
    "plate_machine": "machine plates",
    "dumbbells": "dumbbells",
    "kettlebells": "kettlebell",
    "stack": "stack",
    "bodyweight": "bodyweight",
    "bands": "band",
}


# ---- the slow form: reads the file itself, tries every combination in fractions ------------------------------------


def _raw(room_name):
    return tomllib.loads(data_path("demo", "rooms", f"{room_name}.toml").read_text("utf-8"), parse_float=Decimal)


def _raw_piece(room_name, name):
    room = _raw(room_name)
    return room, next(piece for piece in room["equipment"] if piece["name"] == name)


def _scale(unit):
    return POUND if unit == "lb" else Fraction(1)


def _thousandths(mass):
    """A mass as a whole number of thousandths of its unit: no demo mass is finer."""
    whole = Fraction(mass) * 1000
    assert whole.denominator == 1
    return int(whole)


def _labelled(piece):
    if "masses" in piece:
        return [_thousandths(mass) for mass in piece["masses"]]
    first, step = _thousandths(piece["first"]), _thousandths(piece["step"])
    if "count" in piece:
        return [first + step * i for i in range(piece["count"])]
    return list(range(first, _thousandths(piece["last"]) + 1, step))


@functools.cache
def _every_load(room_name, name):
    """Return {exact load in kg: fewest loose items that make it}."""
    room, piece = _raw_piece(room_name, name)
    unit = piece.get("unit", room["unit"])
    kind = piece["kind"]
    found = {}

    def note(load, items):
        found[load] = min(items, found.get(load, items))

    if kind in ("barbell", "plate_machine", "bodyweight"):
        stock = piece.get("plates", [] if kind == "bodyweight" and not piece.get("belt_uses_room") else room["plates"])
        sides = {"barbell": 2, "plate_machine": piece.get("pegs", 2), "bodyweight": 1}[kind]
        empty = _thousandths(piece.get("bar", piece.get("empty", 0)))
        loaded = _thousandths(piece.get("collars", piece.get("belt", 0)))
        heaviest = _thousandths(piece.get("max_load", 10**6))
        most = [plate["pairs"] * 2 // sides for plate in stock]
        masses = [sides * _thousandths(plate["mass"]) for plate in stock]
        for counts in itertools.product(*(range(limit + 1) for limit in most)):
            total = empty + sum(map(operator.mul, counts, masses)) + (loaded if any(counts) else 0)
            if total <= heaviest:
                note(total, sum(counts))
    elif kind == "stack":
        add_ons = [_thousandths(a["mass"]) for a in piece.get("add_ons", []) for _ in range(a.get("count", 1))]
        most = len(add_ons) if piece.get("combine", True) else 1
        for position in _labelled(piece):
            for size in range(most + 1):
                for chosen in itertools.combinations(add_ons, size):
                    note((position + sum(chosen)) * Fraction(piece.get("pulley_ratio", 1)), size)
    else:
        hands = 2 if kind == "dumbbells" and not piece.get("single") else 1
        for mass in _labelled(piece):
            note(mass * hands, 0)
    return {load * _scale(unit) / 1000: items for load, items in found.items()}


#: A milligram: so near, a target counts as the load itself, or as the middle of two loads.
SAME = 1e-6


def _slow_choice(loads, target, mode):
    """Return the load that each mode asks for, by looking at every one; NaN where there is none."""
    if mode == "nearest":
        nearest = min(abs(load - target) for load in loads)
        return min(load for load in loads if abs(load - target) <= nearest + 2 * SAME)
    if mode == "not_above":
        return max((load for load in loads if load <= target + SAME), default=float("nan"))
    return min((load for load in loads if load >= target - SAME), default=float("nan"))


def _table(room_name, name):
    room = read_room(data_path("demo", "rooms", f"{room_name}.toml"))
    kind = next(piece.kind for piece in room.equipment if piece.name == name)
    return room.loads(IMPLEMENT[kind], name)


# ---- demo rooms against the slow form -------------------------------------------------------------------------------


@pytest.mark.parametrize(("room_name", "name"), PIECES)
def test_the_table_holds_exactly_the_loads_of_every_combination(room_name, name):
    room, piece = _raw_piece(room_name, name)
    expected = sorted(_every_load(room_name, name))
    table = _table(room_name, name)
    assert [Fraction(load, 10**13) for load in table.exact] == expected
    assert table.kg.tolist() == [float(load) for load in expected]
    scale = _scale(piece.get("unit", room["unit"]))
    assert table.in_unit.tolist() == [float(load / scale) for load in expected]


@pytest.mark.parametrize("mode", ["nearest", "not_above", "not_below"])
@pytest.mark.parametrize(("room_name", "name"), PIECES)
def test_two_thousand_random_targets_are_rounded_as_by_looking_at_every_load(room_name, name, mode):
    loads = [float(load) for load in sorted(_every_load(room_name, name))]
    rng = np.random.default_rng(20_260_101)
    targets = rng.uniform(-5.0, 1.1 * loads[-1] + 5.0, TARGETS)
    # A quarter of the targets are loads or middles between loads, where ties and equality matter.
    targets[: TARGETS // 8] = rng.choice(loads, TARGETS // 8)
    pairs = rng.integers(0, len(loads) - 1, TARGETS // 8)
    targets[TARGETS // 8 : TARGETS // 4] = [0.5 * (loads[i] + loads[i + 1]) for i in pairs]
    table = _table(room_name, name)
    expected = [_slow_choice(loads, target, mode) for target in targets.tolist()]
    assert len(expected) == TARGETS
    np.testing.assert_array_equal(table.round_kg(targets, mode), expected)


@pytest.mark.parametrize(("room_name", "name"), PIECES)
def test_the_parts_sum_exactly_to_the_load_are_in_stock_and_are_the_fewest(room_name, name):
    room, piece = _raw_piece(room_name, name)
    fewest = _every_load(room_name, name)
    stock = piece.get("plates", room.get("plates", []))
    table = _table(room_name, name)
    for index in range(len(table)):
        how = table.assembly(index)

        def kg(masses):
            return sum((Fraction(mass.value) * _scale(mass.unit) for mass in masses), Fraction(0))

        total = (kg(how.base) + how.sides * kg(how.per_side) + kg(how.add_ons)) * Fraction(how.pulley_ratio)
        load = Fraction(table.exact[index], 10**13)
        assert total == load
        assert len(how.per_side) + len(how.add_ons) == fewest[load]
        weights = [mass.value for mass in how.per_side]
        assert weights == sorted(weights, reverse=True)
        for plate in stock:
            assert how.sides * weights.count(Decimal(plate["mass"])) <= 2 * plate["pairs"]
        assert set(weights) <= {Decimal(plate["mass"]) for plate in stock}


# ---- random stocks --------------------------------------------------------------------------------------------------

_STOCK = st.lists(
    st.tuples(
        st.sampled_from(["25", "20", "15", "11.3", "10", "5", "2.5", "1.25", "0.75", "0.125"]),
        st.integers(1, 3),
        st.sampled_from(["kg", "lb"]),
    ),
    min_size=1,
    max_size=4,
    unique_by=lambda plate: (plate[0], plate[2]),
)


@settings(max_examples=60, deadline=None)
@given(stock=_STOCK, bar_unit=st.sampled_from(["kg", "lb"]), pegs=st.sampled_from([1, 2]))
def test_any_stock_in_mixed_units_gives_the_loads_of_every_combination(stock, bar_unit, pegs):
    machine = PlateMachine(
        name="machine",
        kind="plate_machine",
        unit=bar_unit,
        empty=17.5,
        pegs=pegs,
        plates=[PlateStock(mass=float(mass), pairs=pairs, unit=unit) for mass, pairs, unit in stock],
    )
    expected = {}
    for counts in itertools.product(*(range(pairs * 2 // pegs + 1) for _, pairs, _ in stock)):
        plates = sum(n * Fraction(m) * _scale(u) for n, (m, _, u) in zip(counts, stock, strict=True))
        load = Fraction(35, 2) * _scale(bar_unit) + pegs * plates
        expected[load] = min(sum(counts), expected.get(load, 10**6))
    table = assemble(machine)
    assert [Fraction(load, 10**13) for load in table.exact] == sorted(expected)
    for index, load in enumerate(sorted(expected)):
        assert len(table.assembly(index).per_side) == expected[load]


def test_fewest_plates_are_found_where_taking_the_heaviest_first_would_need_more():
    # 30 per side from 25, 15 and 1: heaviest first would take 25 and five of 1, two of 15 are fewer.
    bar = Barbell(name="bar", kind="barbell", bar=20, plates=[_plate(25, 2), _plate(15, 2), _plate(1, 5)])
    assert _words(bar, 80) == "80 kg: 20 bar, per side 15 + 15"


def test_among_equally_few_plates_the_heavier_come_first():
    # 20 per side is 10 + 10 and 15 + 5: two plates each.
    bar = Barbell(name="bar", kind="barbell", bar=20, plates=[_plate(10, 2), _plate(15, 1), _plate(5, 1)])
    assert _words(bar, 60) == "60 kg: 20 bar, per side 15 + 5"


def test_a_stock_that_runs_out_is_not_exceeded():
    # One pair of 20 only: 100 kg (40 per side) needs 20 + 10 + 10; 120 kg cannot be made.
    bar = Barbell(name="bar", kind="barbell", bar=20, plates=[_plate(20, 1), _plate(10, 2)])
    assert _words(bar, 100) == "100 kg: 20 bar, per side 20 + 10 + 10"
    assert assemble(bar).kg[-1] == 100.0


def test_the_rating_of_the_bar_is_a_limit_and_collars_go_on_with_plates():
    bar = Barbell(name="bar", kind="barbell", bar=20, collars=5, max_load=64, plates=[_plate(10, 3)])
    # 20 empty, 20 + 5 + 20 = 45; 65 is over the rating by one.
    assert assemble(bar).kg.tolist() == [20.0, 45.0]
    assert _words(bar, 45) == "45 kg: 20 bar + 5 collars, per side 10"


# ---- words ----------------------------------------------------------------------------------------------------------


def test_descriptions_for_people():
    bar = Barbell(name="bar", kind="barbell", bar=20, plates=[_plate(15, 1), _plate(5, 1)])
    assert _words(bar, 60) == "60 kg: 20 bar, per side 15 + 5"
    assert _words(bar, 20) == "20 kg: 20 bar"
    pounds = Barbell(name="bar", kind="barbell", unit="lb", bar=45, plates=[_plate(45, 2), _plate(2.5, 1)])
    assert _words(pounds, 230 * float(POUND)) == "230 lb: 45 bar, per side 45 + 45 + 2.5"
    mixed = Barbell(name="bar", kind="barbell", bar=20, plates=[PlateStock(mass=45, pairs=1, unit="lb")])
    # 20 + 2 x 20.41165665 = 60.8233133
    assert assemble(mixed).describe(1) == "60.823 kg: 20 bar, per side 45 lb"
    pair = Dumbbells(name="rack", kind="dumbbells", masses=[12.5, 20])
    assert _words(pair, 40) == "2 x 20 kg: two dumbbells of 20"
    assert _words(pair.model_copy(update={"single": True}), 12.5) == "12.5 kg: one dumbbell of 12.5"
    stack = Stack(name="stack", kind="stack", first=5, step=5, last=50, add_ons=[AddOn(mass=2.5)])
    assert _words(stack, 22.5) == "22.5 kg: pin at 20, add-on 2.5"
    halved = stack.model_copy(update={"pulley_ratio": Decimal("0.5")})
    assert _words(halved, 11.25) == "11.25 kg: pin at 20, add-on 2.5, times 0.5 at the handle"
    body = Bodyweight(name="bar", kind="bodyweight", belt=1, plates=[_plate(10, 1)])
    assert [assemble(body).describe(i) for i in range(3)] == [
        "0 kg: body mass",
        "11 kg: body mass + 1 belt, plates 10",
        "21 kg: body mass + 1 belt, plates 10 + 10",
    ]


def test_a_stack_prefers_the_pin_to_an_add_on():
    stack = Stack(name="s", kind="stack", first=5, step=5, last=20, add_ons=[AddOn(mass=5), AddOn(mass=2.5, count=2)])
    assert _words(stack, 20) == "20 kg: pin at 20"
    assert _words(stack, 25) == "25 kg: pin at 20, add-on 5"
    assert _words(stack, 30) == "30 kg: pin at 20, add-on 5 + 2.5 + 2.5"


# ---- rounding -------------------------------------------------------------------------------------------------------


@pytest.fixture
def three_loads():
    """20, 40 and 60 kg."""
    return assemble(Barbell(name="bar", kind="barbell", bar=20, plates=[_plate(10, 2)]))


def test_targets_outside_the_table_are_marked_not_guessed(three_loads):
    below, above = 19.0, 61.0
    assert three_loads.round([below, above], "nearest").tolist() == [0, 2]
    assert three_loads.round([below, above], "not_above").tolist() == [3, 2]
    assert three_loads.round([below, above], "not_below").tolist() == [0, 3]
    np.testing.assert_array_equal(three_loads.round_kg([below, above], "not_above"), [np.nan, 60.0])
    np.testing.assert_array_equal(three_loads.round_kg([below, above], "not_below"), [20.0, np.nan])


@pytest.mark.parametrize("mode", ["nearest", "not_above", "not_below"])
def test_a_missing_load_cannot_be_used_by_mistake(three_loads, mode):
    index = three_loads.round(np.nan, mode)
    assert np.isnan(three_loads.round_kg(np.nan, mode))
    with pytest.raises(IndexError):
        three_loads.kg[index]
    with pytest.raises(IndexError, match="no load number 3"):
        three_loads.describe(int(index))
    with pytest.raises(IndexError):
        three_loads.describe(-1)


def test_infinite_targets_go_to_the_ends(three_loads):
    assert three_loads.round_kg([-np.inf, np.inf]).tolist() == [20.0, 60.0]


def test_ties_go_to_the_lighter_load_even_where_the_target_carries_rounding_error(three_loads):
    middle = 30.0
    assert three_loads.round_kg([middle, np.nextafter(middle, 99), middle + 1e-5]).tolist() == [20.0, 20.0, 40.0]


def test_a_target_that_is_a_load_but_for_floating_point_stays_there(three_loads):
    just_under, just_over = np.nextafter(40.0, 0), np.nextafter(40.0, 99)
    for mode in ("not_above", "not_below"):
        assert three_loads.round_kg([just_under, just_over], mode).tolist() == [40.0, 40.0]
    assert three_loads.round_kg(40.0 - 1e-5, "not_above") == 20.0
    assert three_loads.round_kg(40.0 + 1e-5, "not_below") == 60.0


def test_any_shape_goes_in_and_comes_out(three_loads):
    targets = np.linspace(0, 80, 24).reshape(2, 3, 4)
    index = three_loads.round(targets)
    assert index.shape == (2, 3, 4)
    assert [three_loads.round(t).item() for t in targets.ravel()] == index.ravel().tolist()
    assert three_loads.round(33.0).shape == ()
    assert three_loads.round(np.empty((0, 3))).shape == (0, 3)


def test_an_unknown_mode_is_refused(three_loads):
    with pytest.raises(InputError, match="nearest, not_above or not_below"):
        three_loads.round(30.0, "up")


def test_the_table_does_not_change(three_loads):
    with pytest.raises(ValueError, match="read-only"):
        three_loads.kg[0] = 1.0


# ---- exactness and size ---------------------------------------------------------------------------------------------


def test_tenths_and_pounds_are_added_without_rounding_error():
    # Ten steps of 0.1 are 1 exactly, which ten additions of the double 0.1 are not.
    stack = Stack(name="stack", kind="stack", first=0.1, step=0.1, count=10)
    assert assemble(stack).in_unit.tolist() == [0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0]
    bar = Barbell(name="bar", kind="barbell", unit="lb", bar=45, plates=[_plate(2.5, 10)])
    assert assemble(bar).in_unit.tolist() == [45.0 + 5.0 * n for n in range(11)]
    thousandths = Stack(name="s", kind="stack", unit="lb", first=0.001, step=0.001, count=3, pulley_ratio=0.33)
    assert [Fraction(load, 10**13) for load in assemble(thousandths).exact] == [
        POUND * n * Fraction(33, 100) / 1000 for n in (1, 2, 3)
    ]


def test_ten_plate_sizes_do_not_try_every_combination():
    # 7 ** 10 combinations (282 million) if each were tried; this ends at once because sums are shared.
    sizes = (25, 20, 15, 10, 5, 2.5, 2, 1.5, 1, 0.5)
    bar = Barbell(name="bar", kind="barbell", bar=20, plates=[_plate(size, 6) for size in sizes])
    table = assemble(bar)
    # Half-kilogram steps per side up to six of each (495 kg) give every whole kilogram from 20 to 20 + 990.
    assert table.kg.tolist() == [20.0 + n for n in range(991)]


def test_bars_that_share_a_stock_share_its_sums_and_no_more():
    # Twenty bars, each with a rating of its own: what the plates sum to is found once, and each bar is held to its own.
    assembly._sums_of.cache_clear()
    stock = [_plate(20, 3), _plate(5, 2)]
    bars = [Barbell(name="b", kind="barbell", bar=10 + n, max_load=60 + 10 * n, plates=stock) for n in range(20)]
    tables = [assemble(bar) for bar in bars]
    assert assembly._sums_of.cache_info().misses == 1
    sums = sorted({2 * (20 * a + 5 * b) for a in range(4) for b in range(3)})
    for number, table in enumerate(tables):
        assert table.kg.tolist() == [10 + number + one for one in sums if 10 + number + one <= 60 + 10 * number]


def test_forty_pairs_of_a_plate_take_six_steps_and_every_number_of_them_can_be_had():
    # 1 + 2 + 4 + 8 + 16 + 9 = 40.
    assert list(assembly._portions(40)) == [1, 2, 4, 8, 16, 9]
    assert list(assembly._portions(0)) == []
    bar = Barbell(name="bar", kind="barbell", bar=20, plates=[_plate(1.25, 40)])
    table = assemble(bar)
    assert table.kg.tolist() == [20 + 2.5 * number for number in range(41)]
    assert [len(table.assembly(number).per_side) for number in range(41)] == list(range(41))


def test_add_ons_are_fewest_on_a_stack_whatever_the_ratio_and_nothing_over_two_tonnes_is_kept():
    stack = Stack(
        name="s", kind="stack", first=900, step=100, count=4, add_ons=[AddOn(mass=100, count=2)], pulley_ratio=2
    )
    # 900, 1000, ... by the pin, twice that at the handle: 1800 and 2000 by the pin alone, the rest is too heavy.
    assert [assemble(stack).describe(i) for i in range(len(assemble(stack)))] == [
        "1800 kg: pin at 900, times 2 at the handle",
        "2000 kg: pin at 1000, times 2 at the handle",
    ]


def test_a_stock_with_millions_of_different_loads_is_refused():
    # Powers of two up to 131.072: one pair of each already makes 2 ** 18 different sums.
    odd = [_plate(2**power / 1000, 1) for power in range(18)]
    with pytest.raises(InputError, match="more than 100,000 different loads; list fewer odd plates, or give max_load"):
        assemble(Barbell(name="bar", kind="barbell", bar=20, plates=odd))


def test_a_rack_that_nobody_could_lift_is_refused():
    rack = Dumbbells(name="rack", kind="dumbbells", masses=[1500])  # 3,000 kg in two hands
    with pytest.raises(InputError, match="rack: every load is over 2,000 kg"):
        assemble(rack)


def _plate(mass, pairs):
    return PlateStock(mass=mass, pairs=pairs)


def _words(piece, load_kg):
    table: LoadTable = assemble(piece)
    return table.describe(int(table.round(load_kg)))
