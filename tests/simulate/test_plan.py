"""A block worked out: loads, reps and rests of every week against hand counts, and what no week may ask for."""

import numpy as np
import pytest
from hypothesis import event, given, settings
from hypothesis import strategies as st

from workbench.answers.block_check import check_block
from workbench.gym import catalogue
from workbench.gym.equipment import Room
from workbench.lifter import Lifter
from workbench.prescription.block import MOST_SETS, Block
from workbench.quantities import InputError
from workbench.reference.toml_files import validate
from workbench.simulate.draws import draw_for
from workbench.simulate.plan import make_plan
from workbench.simulate.run import simulate

#: A few products of numbers with three digits.
ROUNDING = 1e-9
#: Bisection in 40 halvings, times the slope of the curve.
BISECTED = 1e-6

ROOM = validate(
    {
        "name": "room",
        "unit": "kg",
        "plates": [{"mass": 20, "pairs": 5}, {"mass": 5, "pairs": 1}, {"mass": 2.5, "pairs": 1}],
        "equipment": [
            {"name": "bar", "kind": "barbell", "bar": 20},
            {"name": "sled", "kind": "plate_machine", "empty": 0, "plates": [{"mass": 20, "pairs": 6}]},
            {"name": "belt", "kind": "bodyweight", "plates": [{"mass": 5, "pairs": 4}]},
            {"name": "stack", "kind": "stack", "first": 5, "step": 5, "last": 100},
        ],
    },
    Room,
)
WHO = validate(
    {
        "name": "X",
        "sex": "male",
        "body_mass_kg": 80,
        "lifts": {
            "back squat": {"one_rm_kg": 100, "endurance": 0.03},
            "barbell bench pull": {"one_rm_kg": 80, "endurance": 0.03},
            "leg press": {"one_rm_kg": 200, "endurance": 0.03},
            "pull-up": {"one_rm_kg": 110, "endurance": 0.03},
            "lat pulldown": {"one_rm_kg": 80, "endurance": 0.03},
        },
    },
    Lifter,
)


def group(reps=5, rest_s=120, **keys):
    return {"reps": reps, "rest_s": rest_s, **keys}


def slot(exercise, *groups, **keys):
    return {"exercise": exercise, "ramp": False, "sets": list(groups), **keys}


def block(*slots, weeks=3, sessions=(), **keys):
    first = {"name": "Monday", "exercises": list(slots)}
    return validate({"name": "B", "weeks": weeks, "sessions": [first, *sessions], **keys}, Block)


def sets_of(*slots, who=WHO, room=ROOM, **keys):
    return make_plan(block(*slots, **keys), who, room).sessions[0].sets


@pytest.mark.parametrize(
    ("exercise", "percent", "load", "ramps"),
    [
        # Loads of the room: 20, 25, 30, 35 kg, and 40 and 80 kg more of each. Of 100 kg 45, 65, 80 and 90 kg are asked,
        # and 35, 65, 75 and 100 kg are nearest; the last is the working load itself and no ramp.
        ("back squat", 100, 100.0, [(35.0, 8), (65.0, 5), (75.0, 3)]),
        # Of 35 kg, 15.75, 22.75 and 28 kg: the empty bar, 25 and 30 kg. A ninth tenth is for loads from 85 % of 1RM.
        ("back squat", 35, 35.0, [(20.0, 8), (25.0, 5), (30.0, 3)]),
        # 90 % of 80 kg is 72 kg, 70 kg here. Of that, 31.5, 45.5, 56 and 63 kg: 30, 35, 60 and 65 kg.
        ("barbell bench pull", 90, 70.0, [(30.0, 8), (35.0, 5), (60.0, 3), (65.0, 1)]),
    ],
)
def test_ramp_sets_climb_in_parts_of_the_working_load(exercise, percent, load, ramps):
    asked = {"exercise": exercise, "sets": [group(reps=1, percent=percent)]}
    (session,) = make_plan(block(asked, weeks=1), WHO, ROOM).sessions
    assert session.sets[0].load_kg[0] == load
    assert [(float(one.load_kg[0]), one.reps) for one in session.ramps] == ramps
    # Each takes its reps, and a minute passes before what comes next.
    assert [float((one.end_s - one.start_s)[0]) for one in session.ramps] == [
        reps * session.sets[0].seconds_per_rep for _, reps in ramps
    ]
    begins = [float(one.start_s[0]) for one in (*session.ramps[1:], session.sets[0])]
    assert begins == [float(one.end_s[0]) + 60 for one in session.ramps]


def test_what_is_done_against_the_body_wants_its_mass():
    who = WHO.model_copy(update={"body_mass_kg": None})
    with pytest.raises(InputError, match=r"lifter X: has no body mass, which pull-up .*; add body_mass_kg"):
        sets_of(slot("pull-up", group(percent=90)), who=who)
    assert sets_of(slot("back squat", group(percent=90)), who=who)[0].body_kg == 0  # and nothing else does


# ---- loads and rests of every week ----------------------------------------------------------------------------------


def test_body_mass_is_taken_off_before_a_pull_up_is_rounded():
    # 90 % of 110 kg is 99 kg, 19 kg of it added to 80 kg of body: the belt takes fives, so 20 kg, 100 kg in all.
    (one,) = sets_of(slot("pull-up", group(percent=90)), weeks=1)
    assert one.wanted_kg == pytest.approx(99.0, abs=ROUNDING)
    assert one.load_kg == pytest.approx(100.0, abs=ROUNDING)
    assert one.body_kg == 80.0
    # At 70 %, 77 kg, less than the body: nothing is added, and that is a load.
    (one,) = sets_of(slot("pull-up", group(percent=70)), weeks=1)
    assert one.load_kg == pytest.approx(80.0, abs=ROUNDING)


def test_a_lighter_week_leaves_what_is_written_out_by_week():
    by_week = {"rule": "by week", "load": [60, 70, 65]}
    plain, written = sets_of(
        slot("back squat", group(percent=60, count=4)),
        slot("barbell bench pull", group(percent=60, count=4, progression=by_week)),
        lighter_weeks=[{"week": 3, "load": 0.8, "sets": 0.5}],
    )[::4]
    # 100 kg: 60 %, in the third week 0.8 of it. 80 kg: 60, 70 and 65 % whatever the week.
    assert plain.wanted_kg == pytest.approx([60, 60, 48], abs=ROUNDING)
    assert written.wanted_kg == pytest.approx([48, 56, 52], abs=ROUNDING)


def test_a_lighter_week_cuts_sets_but_not_those_written_out_by_week():
    by_week = {"rule": "by week", "load": [60, 70, 65]}
    sets = sets_of(
        slot("back squat", group(percent=60, count=4)),
        slot("barbell bench pull", group(percent=60, count=4, progression=by_week)),
        lighter_weeks=[{"week": 3, "load": 0.8, "sets": 0.5}],
    )
    done = {name: sum(one.active for one in sets if one.exercise == name) for name in ("back squat", sets[-1].exercise)}
    assert [list(weeks) for weeks in done.values()] == [[4, 4, 2], [4, 4, 4]]


def test_a_load_from_reserve_is_for_the_middle_of_the_range():
    # 6 to 10 reps with 2 left: ten reps to failure at 8, so ln(1RM / load) = 9 x 0.03.
    (one,) = sets_of(slot("back squat", group(reps=[6, 10], reps_in_reserve=2)), weeks=1)
    assert one.wanted_kg == pytest.approx(100 * np.exp(-9 * 0.03), abs=BISECTED)


def test_reps_in_reserve_by_week_may_come_down_to_none():
    by_week = {"rule": "by week", "load": [2, 1, 0]}
    (one,) = sets_of(slot("back squat", group(reps=5, reps_in_reserve=2, progression=by_week)))
    # Seven, six and five reps to failure.
    assert one.wanted_kg == pytest.approx(100 * np.exp(-0.03 * np.array([6, 5, 4])), abs=BISECTED)


def test_a_load_from_reserve_follows_the_lifters_own_recovery_and_carry_over():
    # The second load comes after fatigue: more of it is left in who recovers slowly, or carries more over.
    asked = group(8, reps_in_reserve=1, rest_s=60)
    loads = {}
    for name, keys in {
        "usual": {},
        "as usual": {"recovery_rate": 1.0, "carry_over": 1.0},
        "slow": {"recovery_rate": 0.3},
        "carries": {"carry_over": 3.0},
    }.items():
        sets = sets_of(
            slot("barbell bench pull", asked), slot("lat pulldown", asked), who=WHO.model_copy(update=keys), weeks=1
        )
        loads[name] = sets[1].wanted_kg[0]
    # The prior of men is a rate of 1, and the usual carry-over is once as much: to state that changes nothing.
    assert loads["as usual"] == loads["usual"]
    assert loads["slow"] < loads["usual"] - 0.1
    assert loads["carries"] < loads["usual"] - 0.1


def test_rests_are_those_of_each_week():
    # Sets in turn: 60 s, then the pull of 5, 6 and 7 reps of 3 s, then 90 s until the next squat.
    step = {"rule": "step", "step": 0, "reps_step": 1}
    first = slot("back squat", group(percent=50, count=2, rest_s=60, seconds_per_rep=3), alternate_with_next=True)
    second = slot("barbell bench pull", group(percent=50, count=2, rest_s=90, seconds_per_rep=3, progression=step))
    check = check_block(block(first, second), WHO, ROOM, draws=10, seed=1)
    expected = [60 + 15 + 90, 60 + 18 + 90, 60 + 21 + 90]
    again = next(one for one in check.plan.sessions[0].sets if one.label == "2" and one.exercise == "back squat")
    assert again.rest_s == pytest.approx(expected, abs=ROUNDING)
    assert again.start_s - again.rest_s == pytest.approx(check.plan.sessions[0].sets[0].end_s, abs=ROUNDING)
    rows = check.sets[(check.sets["exercise"] == "back squat") & (check.sets["set"] == "2")]
    assert rows["rest_s"].to_list() == pytest.approx(expected, abs=ROUNDING)


# ---- what no week may ask for ---------------------------------------------------------------------------------------

STEP = {"rule": "step", "step": 100}
LEAVING = {
    "percent": (group(percent=70, progression=STEP), "week 2 asks for 170 % of 1RM", "1 to 120"),
    "percent down": (group(percent=70, progression={"rule": "step", "step": -35}), "week 3 asks for 0 %", "1 to 120"),
    "wave": (
        group(kg=20, progression={"rule": "wave", "length": 2, "step": 5, "rise": -30}),
        "week 3 asks for -10 kg",
        "0.1 to 1000",
    ),
    "reserve": (group(reps_in_reserve=2, progression={"rule": "step", "step": -2}), "week 3 asks for -2 reps", "0 to"),
    "reserve up": (group(reps_in_reserve=2, progression={"rule": "step", "step": 5}), "week 3 asks for 12", "0 to 10"),
    "kg": (group(kg=950, progression={"rule": "step", "step": 30}), "week 3 asks for 1010 kg", "0.1 to 1000"),
    "lb": (group(lb=2150, progression={"rule": "step", "step": 30}), "week 3 asks for 2210 lb", "0.1 to 2200"),
    "reps": (
        group(reps=92, percent=10, progression={"rule": "step", "step": 0, "reps_step": 5}),
        "week 3 asks for 102 reps",
        "1 to 100",
    ),
    "reps down": (
        group(reps=[5, 8], percent=50, progression={"rule": "step", "step": 0, "reps_step": -4}),
        "week 3 asks for -3 reps",
        "1 to 100",
    ),
    "by week": (
        group(percent=70, progression={"rule": "by week", "load": [70, 725, 75]}),
        "week 2 asks for 725 %",
        "1 to 120",
    ),
    "by week, nothing": (
        group(percent=70, progression={"rule": "by week", "load": [70, 0, 75]}),
        "week 2 asks for 0 %",
        "1 to 120",
    ),
    "to failure": (
        group(reps="failure", percent=70, progression={"rule": "step", "step": 0, "reps_step": 1}),
        "no number of reps to step",
        "leave out reps_step",
    ),
}


@pytest.mark.parametrize(("asked", "problem", "remedy"), LEAVING.values(), ids=LEAVING.keys())
def test_a_week_beyond_the_range_is_named_and_not_clipped(asked, problem, remedy):
    with pytest.raises(InputError) as caught:
        block(slot("back squat", group(percent=50)), slot("leg press", group(percent=50), asked))
    assert caught.value.place == "sessions.1.exercises.2.sets.2"
    assert problem in caught.value.problem
    assert remedy in caught.value.remedy


@pytest.mark.parametrize(
    ("change", "problem"),
    [
        ({"percent_change": 60}, "back squat, group 1: week 1 asks for 130 % of 1RM"),
        ({"percent_change": -60}, "back squat, group 2: week 1 asks for -10 % of 1RM"),
        ({"reps_change": -3}, "back squat, group 1: week 1 asks for 0 reps"),
    ],
)
def test_a_repeat_that_shifts_beyond_the_range_is_named_and_not_clipped(change, problem):
    again = {"name": "Friday", "repeat_of": "Monday", **change}
    with pytest.raises(InputError) as caught:
        block(slot("back squat", group(percent=70, reps=3), group(percent=50, reps=8)), sessions=[again])
    assert caught.value.place == "sessions.2"
    assert problem in caught.value.problem


def test_a_repeat_leaves_sets_to_failure_to_failure():
    again = {"name": "Friday", "repeat_of": "Monday", "reps_change": -3, "percent_change": 5}
    plan = make_plan(block(slot("back squat", group("failure", percent=70)), sessions=[again], weeks=1), WHO, ROOM)
    (one,) = plan.sessions[1].sets
    assert (one.reps_low[0], one.reps_high[0], one.wanted_kg[0]) == (1, np.inf, pytest.approx(75, abs=ROUNDING))


def test_a_block_changed_by_code_is_held_to_the_same():
    whole = block(slot("back squat", group(percent=70)))
    session = whole.sessions[0]
    heavy = session.exercises[0].sets[0].model_copy(update={"percent": 130.0})
    changed = session.model_copy(
        update={"exercises": [session.exercises[0].model_copy(update={"sets": [heavy]})]},
    )
    with pytest.raises(InputError, match=r"block B: Monday, back squat, group 1: week 1 asks for 130 % of 1RM"):
        make_plan(whole.model_copy(update={"sessions": [changed]}), WHO, ROOM)


# ---- a load of nothing ----------------------------------------------------------------------------------------------

DROPS = {"sizes": [80]}
NOTHING = {
    # The sled can be empty; a pair of 20 is the next load, so that anything up to 20 kg is rounded to nothing.
    "set": (slot("leg press", group(percent=10)), "leg press, set 1", "week 1"),
    "drop": (slot("leg press", group("failure", percent=40, drops=DROPS)), "leg press, set 1, drop 1", "week 1"),
    "part": (slot("leg press", group(percent=50), group(part_of_group=1, part=0.15)), "leg press, set 2", "week 1"),
    "reserve": (slot("leg press", group(reps=80, reps_in_reserve=10)), "leg press, set 1", "week 1"),
    "wave": (
        slot("leg press", group(kg=40, progression={"rule": "wave", "length": 2, "step": 0, "rise": -25})),
        "leg press, set 1",
        "week 3",
    ),
}


@pytest.mark.parametrize(("asked", "place", "week"), NOTHING.values(), ids=NOTHING.keys())
def test_a_load_of_nothing_is_refused_with_the_next_load(asked, place, week):
    with pytest.raises(InputError) as caught:
        sets_of(asked)
    assert caught.value.place == f"block B: Monday, {place}"
    assert f"a load of 0 in {week}, as sled can be empty" in caught.value.problem
    assert "the next load is 40 kg" in caught.value.remedy


def test_a_lighter_week_may_not_come_to_nothing():
    light = [{"week": 2, "load": 0.3, "sets": 1.0}]
    assert sets_of(slot("leg press", group(percent=20)), weeks=2)[0].load_kg.tolist() == [40, 40]
    with pytest.raises(InputError, match="a load of 0 in week 2"):
        sets_of(slot("leg press", group(percent=20)), weeks=2, lighter_weeks=light)


def test_a_set_that_is_not_done_may_ask_for_anything():
    by_week = {"rule": "by week", "load": [50, 5], "sets": [1, 0]}
    check = check_block(block(slot("leg press", group(percent=50, progression=by_week)), weeks=2), WHO, ROOM, draws=20)
    assert np.isfinite(check.outcome.sessions[0][0].available).all()
    assert check.sets["week"].to_list() == [1]


def test_no_load_where_the_body_is_lifted_is_a_load():
    who = WHO.model_copy(update={"lifts": {**WHO.lifts, "push-up": WHO.lifts["pull-up"]}})
    (one,) = sets_of(slot("push-up", group(percent=30)), who=who, weeks=1)
    # 0.64 of 80 kg, nothing added.
    assert one.load_kg == pytest.approx(51.2, abs=ROUNDING)


# ---- how much there may be ------------------------------------------------------------------------------------------


def test_the_number_of_sets_is_bounded_and_the_bound_said():
    # 20 sets with six drops are 140 a week; twelve such groups 1,680; in ten weeks 16,800.
    groups = [group("failure", percent=70, count=20, drops={"sizes": [10] * 6}) for _ in range(12)]
    with pytest.raises(InputError) as caught:
        block(slot("back squat", *groups), weeks=10)
    assert "1,680 sets and drops a week for 10 weeks are 16,800" in caught.value.problem
    assert f"at most {MOST_SETS:,}" in caught.value.remedy
    block(slot("back squat", *groups), weeks=7)
    # Repeats count as much as what they repeat: 7 x 1,680 = 11,760 fits once, and not twice.
    with pytest.raises(InputError, match="3,360 sets and drops a week"):
        block(slot("back squat", *groups), weeks=7, sessions=[{"name": "again", "repeat_of": "Monday"}])


@pytest.mark.parametrize("name", ["whole week", "Whole  Week"])
def test_no_session_is_called_like_the_sum_of_a_week(name):
    slots = [slot("back squat", group(percent=70))]
    with pytest.raises(InputError, match="give the session another name"):
        validate({"name": "B", "weeks": 1, "sessions": [{"name": name, "exercises": slots}]}, Block)


def test_the_sum_of_a_week_has_the_name_that_is_kept_free():
    check = check_block(block(slot("back squat", group(percent=70)), weeks=2), WHO, ROOM, draws=10, seed=1)
    assert check.weeks["session"].to_list() == ["Monday", "whole week"] * 2


# ---- whatever is planned, only finite numbers come out ---------------------------------------------------------------

_EXERCISES = {"barbell": "back squat", "machine plates": "leg press", "bodyweight": "pull-up", "stack": "lat pulldown"}


@st.composite
def _groups(draw):
    way = draw(st.sampled_from(["percent", "kg", "lb", "reps_in_reserve"]))
    low, high = {"percent": (1, 120), "kg": (0.1, 150), "lb": (0.1, 300), "reps_in_reserve": (0, 10)}[way]
    reps = draw(st.integers(1, 40))
    if way != "reps_in_reserve" and draw(st.booleans()):
        reps = "failure"
    made = {"reps": reps, "rest_s": draw(st.floats(0, 600)), "count": draw(st.integers(1, 3))}
    made[way] = draw(st.floats(low, high))
    if draw(st.booleans()):
        made["drops"] = {"sizes": draw(st.lists(st.floats(1, 89), min_size=1, max_size=3)), "change_s": 5}
    if draw(st.booleans()):
        made["progression"] = {"rule": "step", "step": draw(st.floats(-2, 2))}
    return made


@st.composite
def _rooms(draw):
    plates = [{"mass": mass, "pairs": 2} for mass in draw(st.sets(st.sampled_from([1, 5, 20, 45]), min_size=1))]
    return {
        "name": "r",
        "unit": draw(st.sampled_from(["kg", "lb"])),
        "plates": plates,
        "equipment": [
            {"name": "bar", "kind": "barbell", "bar": draw(st.sampled_from([0.001, 2, 20]))},
            {"name": "sled", "kind": "plate_machine", "empty": draw(st.sampled_from([0, 0, 47]))},
            {"name": "belt", "kind": "bodyweight", "belt_uses_room": True},
            {"name": "stack", "kind": "stack", "first": draw(st.sampled_from([0.001, 5])), "step": 5, "count": 12},
        ],
    }


@settings(max_examples=80)
@given(
    groups=st.lists(st.tuples(st.sampled_from(sorted(_EXERCISES.values())), _groups()), min_size=1, max_size=4),
    room=_rooms(),
    one_rm=st.floats(0.5, 400),
    endurance=st.floats(0.003, 0.3),
    uncertainty=st.floats(0, 40),
    rates=st.tuples(st.floats(0.2, 5), st.floats(0.2, 5)),
    lighter=st.floats(0.01, 1),
)
def test_a_block_is_refused_in_words_or_gives_finite_numbers(
    groups, room, one_rm, endurance, uncertainty, rates, lighter
):
    lift = {"one_rm_kg": one_rm, "endurance": endurance, "uncertainty_percent": uncertainty}
    who = validate(
        {
            "name": "X",
            "body_mass_kg": 70,
            "recovery_rate": rates[0],
            "carry_over": rates[1],
            "lifts": dict.fromkeys(_EXERCISES.values(), lift),
        },
        Lifter,
    )
    slots = [slot(name, one) for name, one in groups]
    try:
        asked = block(*slots, weeks=2, lighter_weeks=[{"week": 2, "load": lighter}])
        plan = make_plan(asked, who, validate(room, Room))
    except InputError as error:
        event("a load of 0" if "a load of 0" in error.problem else "out of range")
        if not (error.place and error.remedy):
            raise
        return
    event("planned")
    outcome = simulate(plan, draw_for(plan, draws=10, seed=1))
    for planned, sets in outcome:
        assert np.isfinite(planned.duration_s).all()
        for one in sets:
            assert np.isfinite(one.available).all()
            assert (one.planned.load_kg > 0).all()
            assert np.isfinite(one.planned.start_s).all()


def test_what_is_not_finite_does_not_leave_the_simulation():
    plan = make_plan(block(slot("back squat", group(percent=70, count=2))), WHO, ROOM)
    draws = draw_for(plan, draws=20, seed=1)
    draws.log_one_rm[7, 0] = np.nan
    with pytest.raises(InputError, match="Monday, back squat, set 1: no number of reps can be told"):
        simulate(plan, draws)


def test_the_exercises_here_use_what_is_said_of_them():
    assert {name: catalogue.exercise(name).implement for name in _EXERCISES.values()} == {
        name: implement for implement, name in _EXERCISES.items()
    }


@pytest.mark.parametrize("last", [{"reps": "failure", "percent": 60}, {"reps": 5, "reps_in_reserve": 2}])
def test_a_session_without_sets_that_hang_on_fatigue_is_planned_the_same_before_one_that_does(last):
    # The last group makes the whole session be worked out with the median lifter's fatigue; what comes before is alike.
    given = {"count": 3, "reps": [5, 8], "percent": 80, "rest_s": 60, "drops": {"sizes": [20, 20], "reps": 6}}
    slots = [{"exercise": name, "sets": [given]} for name in ("back squat", "leg press")]
    with_last = [*slots, {"exercise": "lat pulldown", "sets": [{"rest_s": 90, **last}]}]
    plain, tired = (
        make_plan(
            validate({"name": "b", "weeks": 3, "sessions": [{"name": "one", "exercises": content}]}, Block), WHO, ROOM
        )
        .sessions[0]
        .sets
        for content in (slots, with_last)
    )
    assert len(plain) == 2 * 3 * 3
    for one, other in zip(plain, tired, strict=False):
        for name in ("load_kg", "reps_low", "reps_high", "start_s", "end_s", "rest_s"):
            assert getattr(one, name).tolist() == getattr(other, name).tolist(), name
