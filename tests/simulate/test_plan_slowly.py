"""A block worked out, compared in every field with a plain loop over weeks, and its loads from reserve by hand."""

import dataclasses

import numpy as np
import pytest

from tests.plan_oracle import SessionSlowly
from tests.simulate.test_plan import BISECTED, WHO, block, group, slot
from workbench.gym.equipment import Room
from workbench.lifter import Lifter
from workbench.models.fatigue import STEEP_END
from workbench.models.load_reps import DEFAULT_CURVE
from workbench.quantities import InputError
from workbench.reference.toml_files import validate
from workbench.simulate.plan import make_plan
from workbench.simulate.plan.planned import PlannedSet, RampSet, SetUp

ROOM = validate(
    {
        "name": "room",
        "unit": "kg",
        "plates": [{"mass": mass, "pairs": 2} for mass in (20, 10, 5, 2.5, 1.25)],
        "equipment": [
            {"name": "bar", "kind": "barbell", "bar": 20},
            {"name": "sled", "kind": "plate_machine", "empty": 0, "plates": [{"mass": 10, "pairs": 12}]},
            {"name": "belt", "kind": "bodyweight", "plates": [{"mass": 1.25, "pairs": 2}, {"mass": 5, "pairs": 4}]},
            {"name": "stack", "kind": "stack", "unit": "lb", "first": 1, "step": 10, "count": 20},
            {"name": "dumbbells", "kind": "dumbbells", "first": 2, "step": 2, "last": 40},
        ],
    },
    Room,
)
DUMBBELLS = "dumbbell bench press"
LIFTS = {
    "back squat": {"one_rm_kg": 140, "endurance": 0.031},
    "barbell bench pull": {"one_rm_kg": 83, "endurance": 0.027},
    "leg press": {"one_rm_kg": 210, "endurance": 0.022},
    "pull-up": {"one_rm_kg": 113, "endurance": 0.035},
    "lat pulldown": {"one_rm_kg": 81, "endurance": 0.029},
    DUMBBELLS: {"one_rm_kg": 71, "each_hand": False, "endurance": 0.033},
}
LIFTER = {"name": "X", "sex": "male", "body_mass_kg": 79.5, "recovery_rate": 0.8, "carry_over": 1.3, "lifts": LIFTS}


def by_week(load, **keys):
    return {"rule": "by week", "load": load, **keys}


STEP = {"rule": "step", "step": 2.5, "reps_step": 1}
#: Sessions in which every way to give a load, and every rule of the weeks, meets every other.
SESSIONS = {
    "reserve, in turn with the body, to failure with drops": [
        slot("back squat", group([5, 8], 150, reps_in_reserve=2, count=3), alternate_with_next=True, ramp=True),
        slot("pull-up", group(6, 90, percent=88, count=2, progression=STEP), ramp=True, alternate_with_next=True),
        slot(
            "barbell bench pull",
            group(4, 200, percent=91, count=2, drops={"sizes": [20, 25], "change_s": 9}),
            group("failure", 45, part_of_group=1, part=0.7, drops={"sizes": [30], "change_s": 9, "reps": 4}),
            ramp=True,
        ),
        slot("back squat", group(5, 100, reps_in_reserve=1, count=2, seconds_per_rep=6)),
    ],
    "weeks that leave sets out": [
        slot(
            "leg press",
            group(5, 60, percent=60, progression=by_week([60, 5, 70, 62], sets=[1, 0, 2, 0], reps=[5, 6, 7, 8])),
            group(8, 75, reps_in_reserve=3, progression=by_week([3, 2, 1, 0], sets=[1, 0, 1, 1])),
            ramp=True,
        ),
        slot("lat pulldown", group("failure", 50, lb=90, count=2, seconds_per_rep=2), alternate_with_next=True),
        slot(DUMBBELLS, group([6, 9], 40, kg=22.6, each_hand=True, count=4), ramp=True),
        slot("lat pulldown", group(3, 10, lb=12), group(3, 10, part_of_group=1, part=0.1), ramp=True),
        slot(DUMBBELLS, group([6, 9], 40, kg=45, each_hand=False)),
    ],
    "nothing that hangs on fatigue": [
        slot("back squat", group(3, 180, percent=62.3, progression=STEP, count=5), ramp=True),
        slot("leg press", group(5, 60, kg=95, progression=by_week([95, 100, 2, 2], sets=[2, 2, 0, 0])), ramp=True),
        slot("back squat", group(10, 90, percent=45, seconds_per_rep=3)),
        slot(DUMBBELLS, group(8, 55, lb=31, each_hand=True)),
    ],
}
LIGHTER = [{"week": 2, "load": 0.85, "sets": 0.5}, {"week": 4, "load": 0.7, "sets": 0.05}]


def plan_of(*slots, lifter=None, room=ROOM, **keys):
    return make_plan(block(*slots, **keys), validate(LIFTER, Lifter) if lifter is None else lifter, room)


def assert_rows(found, expected, kind):
    assert len(found) == len(expected)
    compared = {field.name for field in dataclasses.fields(kind)} - {"lane"}
    for one, row in zip(found, expected, strict=True):
        assert set(row) == compared
        for name, value in row.items():
            where = f"{row['exercise']} {row.get('number', '')}.{row.get('drop', '')}: {name}"
            if isinstance(value, str) or value is None:
                assert getattr(one, name) == value, where
            else:
                assert getattr(one, name) == pytest.approx(np.asarray(value, dtype=float), abs=BISECTED), where


@pytest.mark.parametrize("slots", SESSIONS.values(), ids=SESSIONS.keys())
@pytest.mark.parametrize("lighter", [[], LIGHTER], ids=["weeks alike", "lighter weeks"])
def test_a_session_is_that_of_the_plain_loop(slots, lighter):
    plan = plan_of(*slots, weeks=4, lighter_weeks=lighter)
    (session,) = plan.sessions
    slowly = SessionSlowly(plan.block, plan.lifter, ROOM, session.of)
    assert_rows(session.set_ups, slowly.set_ups, SetUp)
    assert_rows(session.ramps, slowly.ramps, RampSet)
    assert_rows(session.sets, slowly.sets, PlannedSet)
    assert [plan.exercises[one.lane] for one in session.sets] == [one["exercise"] for one in slowly.sets]
    assert session.duration_s == pytest.approx(slowly.now, abs=BISECTED)


def test_a_lifter_with_parameters_of_their_own_is_planned_with_these():
    usual = vars(STEEP_END.parameters)
    others = {name: [0.5 * value, 1.5 * value, 2.5 * value] for name, value in usual.items()}
    names = list(others)
    together = {"form": STEEP_END.name, "others": others, "quantities": names}
    together["correlations"] = [[0.0] * number for number in range(1, len(names))]
    lifter = validate(LIFTER | {"together": together}, Lifter)
    assert lifter.tiring(STEEP_END) is not None
    slots = SESSIONS["reserve, in turn with the body, to failure with drops"]
    plan, plain = plan_of(*slots, lifter=lifter, weeks=2), plan_of(*slots, weeks=2)
    slowly = SessionSlowly(plan.block, lifter, ROOM, plan.sessions[0].of)
    assert_rows(plan.sessions[0].sets, slowly.sets, PlannedSet)
    second, usual = (
        next(one.wanted_kg[0] for one in made.sessions[0].sets if (one.exercise, one.number) == ("back squat", 2))
        for made in (plan, plain)
    )
    assert second != pytest.approx(usual, rel=1e-3)


@pytest.mark.parametrize("bend", [-0.5, 0.8])
def test_a_lifter_whose_curve_bends_is_planned_on_it(bend):
    together = {"others": {"bend": [bend - 1, bend, bend + 1], "gain": [-1, 0, 1]}, "correlations": [[0.0]]}
    lifter = validate(LIFTER | {"together": together | {"quantities": ["bend", "gain"]}}, Lifter)
    (one,) = plan_of(slot("back squat", group(6, reps_in_reserve=2)), lifter=lifter, weeks=1).sessions[0].sets
    headroom = float(DEFAULT_CURVE.bent(bend).headroom_for(np.array(8.0), 0.031))
    assert one.wanted_kg[0] == pytest.approx(140 * np.exp(-headroom), abs=BISECTED)
    assert one.wanted_kg[0] != pytest.approx(140 * np.exp(-7 * 0.031), rel=1e-3)


DROP = {"sizes": [20], "change_s": 9}
TIRING = {
    "percent": (group(5, percent=70), False),
    "a drop with reps": (group(5, percent=70, drops=DROP | {"reps": 3}), False),
    "a drop to failure": (group(5, percent=70, drops=DROP), True),
    "to failure": (group("failure", percent=70), True),
    "a reserve": (group(5, reps_in_reserve=2), True),
}


@pytest.mark.parametrize(("asked", "tires"), TIRING.values(), ids=TIRING.keys())
def test_fatigue_is_followed_where_something_hangs_on_it(asked, tires):
    """Anywhere in the session; else the time is left out, and nothing of it is kept."""
    plan = plan_of(slot("back squat", group(5, percent=70)), slot("leg press", group(5, percent=70), asked), weeks=2)
    (session,) = plan.sessions
    assert [chain.ends.fatigue is not None for chain in session.chains] == [tires, tires]
    slowly = SessionSlowly(plan.block, plan.lifter, ROOM, session.of)
    assert_rows(session.sets, slowly.sets, PlannedSet)


def test_what_an_exercise_lacks_is_said_before_what_a_set_comes_to():
    nothing, unknown = slot("leg press", group(5, percent=1)), slot("bench press", group(5, percent=50))
    with pytest.raises(InputError, match="has no 1RM for bench press"):
        plan_of(nothing, unknown)
    with pytest.raises(InputError, match="a load of 0 in week 1"):
        plan_of(nothing)


def test_exercises_in_turn_are_one_chain():
    slots = [slot(name, group(5, percent=60)) for name in ("back squat", "pull-up", "barbell bench pull", "leg press")]
    for number in (1, 2):
        slots[number]["alternate_with_next"] = number == 1
    (session,) = plan_of(*slots, weeks=1).sessions
    assert [sorted(chain.slots) for chain in session.chains] == [[1], [2, 3], [4]]
    assert [chain.slots[number] for chain in session.chains for number in chain.slots] == session.of.exercises


@pytest.mark.parametrize("reps", [1, 2, 5, 12, 30, 60, 79])
@pytest.mark.parametrize("reserve", [0, 1.3, 10])
def test_a_load_by_reserve_is_right_to_the_last_halving(reps, reserve):
    # ln(1RM / load) = (reps + reserve - 1) k, and no load below 5 % of the 1RM; forty halvings of 95 kg.
    (one,) = plan_of(slot("back squat", group(reps, reps_in_reserve=reserve)), lifter=WHO, weeks=1).sessions[0].sets
    exact = max(100 * np.exp(-(reps + reserve - 1) * 0.03), 5.0)
    rounding = 1e-12
    assert exact - 95 / 2**40 - rounding <= one.wanted_kg[0] <= exact + rounding


def test_no_reserve_asks_for_less_than_a_twentieth():
    lifter = WHO.model_copy(
        update={"lifts": {"back squat": WHO.lift("back squat").model_copy(update={"endurance": 1})}}
    )
    plan = plan_of(slot("back squat", group(5, reps_in_reserve=2)), lifter=lifter, weeks=1)
    assert plan.sessions[0].sets[0].wanted_kg[0] == pytest.approx(5.0, abs=1e-12)


@pytest.mark.parametrize(("kg", "parts"), [(82.5, [0.45, 0.65, 0.8]), (85, [0.45, 0.65, 0.8, 0.9])])
def test_the_last_ramp_set_is_for_85_percent_and_more(kg, parts):
    (session,) = plan_of(slot("back squat", group(3, kg=kg), ramp=True), lifter=WHO, weeks=1).sessions
    # 20 kg of bar, and what 1.25 kg a side makes: steps of 2.5 kg.
    assert [one.load_kg[0] for one in session.ramps] == [2.5 * round(part * kg / 2.5) for part in parts]


BEYOND = {
    # The lightest and the heaviest load of each: 5 and 100 kg, 0 and 20 kg on the body, 4 and 80 kg of two dumbbells.
    "heaviest": ("stack", {"kg": 100.2}, "asks for 100.2 kg; the heaviest load here is 100 kg"),
    "a thousandth more": ("stack", {"kg": 100.09}, None),
    "lightest": ("stack", {"kg": 4.9}, "asks for 4.9 kg; the lightest load here is 5 kg"),
    "a thousandth less": ("stack", {"kg": 4.9951}, None),
    "within": ("stack", {"kg": 50}, None),
    "less than the body": (
        "belt",
        {"kg": 70},
        "asks for -9.5 kg on top of the body; the lightest load here is 0 kg on top of the body",
    ),
    "more than the belt": (
        "belt",
        {"kg": 100.1},
        "asks for 20.6 kg on top of the body; the heaviest load here is 20 kg on top of the body",
    ),
    "by one hand": (
        "dumbbells",
        {"kg": 45.3, "each_hand": True},
        "asks for 2 x 45.3 kg; the heaviest load here is 2 x 40 kg",
    ),
}
PIECES = [
    {"name": "stack", "kind": "stack", "first": 5, "step": 5, "last": 100},
    {"name": "belt", "kind": "bodyweight", "plates": [{"mass": 5, "pairs": 2}]},
    {"name": "dumbbells", "kind": "dumbbells", "first": 2, "step": 2, "last": 40},
]
SMALL = validate({"name": "small", "unit": "kg", "equipment": PIECES}, Room)
ON = {"stack": "lat pulldown", "belt": "pull-up", "dumbbells": DUMBBELLS}


@pytest.mark.parametrize(("piece", "load", "warning"), BEYOND.values(), ids=BEYOND.keys())
def test_a_load_that_the_room_has_not_is_warned_of(piece, load, warning):
    plan = plan_of(slot(ON[piece], group(5, **load)), room=SMALL, weeks=2)
    assert plan.warnings == (() if warning is None else (f"Monday, {ON[piece]}: week 1 {warning}",))


def test_a_warning_names_the_first_week_in_which_the_set_is_done():
    asked = group(5, kg=50, progression=by_week([50, 101, 102, 103], sets=[2, 0, 1, 2]))
    plan = plan_of(slot("lat pulldown", asked), room=SMALL, weeks=4)
    assert plan.warnings == (
        "Monday, lat pulldown: week 3 asks for 102 kg; the heaviest load here is 100 kg",
        "Monday, lat pulldown: week 4 asks for 103 kg; the heaviest load here is 100 kg",
    )


def test_the_least_load_is_one_and_a_load_of_nothing_names_it():
    half = {"name": "sled", "kind": "plate_machine", "empty": 0, "plates": [{"mass": 0.25, "pairs": 2}]}
    room = validate({"name": "r", "unit": "kg", "equipment": [half]}, Room)
    # Half a kilogram is a load; less than half of it is nothing, and the 1RM stands where no set is done.
    asked = group(5, kg=0.5, progression=by_week([0.5, 0.2], sets=[1, 0]))
    (one,) = plan_of(slot("leg press", asked), room=room, weeks=2).sessions[0].sets
    assert one.load_kg.tolist() == [0.5, 210]
    with pytest.raises(InputError, match=r"the next load is 0\.5 kg"):
        plan_of(slot("leg press", group(5, kg=0.2)), room=room, weeks=2)


def test_an_exercise_is_planned_on_the_piece_that_its_slot_names():
    light = {"name": "light", "kind": "stack", "first": 3, "step": 3, "last": 30}
    room = validate({"name": "r", "unit": "kg", "equipment": [PIECES[0], light]}, Room)
    first = slot("lat pulldown", group(5, kg=13), equipment="light")
    second = slot("lat pulldown", group(5, kg=13), equipment="stack")
    sets = plan_of(first, second, room=room, weeks=1).sessions[0].sets
    # Steps of 3 and of 5 kg: 12 and 15 kg.
    assert [one.load_kg[0] for one in sets] == [12, 15]
