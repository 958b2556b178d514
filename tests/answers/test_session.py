"""One session: the timeline adds up, muscles get tired by what works them, orders are compared on the same days."""

import dataclasses

import numpy as np
import pytest

from tests.scalar_oracle import simulate_slowly
from tests.simulated_logs import both_hands
from workbench.answers.orders import compare_orders
from workbench.answers.session import session_cautions, session_question
from workbench.gym.equipment import read_room
from workbench.lifter import Lifter, read_lifter
from workbench.models.sharing import NO_CARRY
from workbench.prescription.block import Block, SetGroup, read_block
from workbench.prescription.edit import Where, change
from workbench.quantities import InputError
from workbench.reference.sources import data_path
from workbench.reference.toml_files import validate
from workbench.simulate.draws import draw_for
from workbench.simulate.plan import make_plan
from workbench.simulate.run import simulate

ROUNDING = 1e-9
DEMO = data_path("demo")


@pytest.fixture(scope="module")
def hall():
    return read_room(DEMO / "rooms" / "boathouse_hall.toml")


@pytest.fixture(scope="module")
def block():
    return read_block(DEMO / "block.toml")


@pytest.fixture(scope="module")
def lifter():
    return read_lifter(DEMO / "lifters" / "emre_sandoval.toml")


@pytest.fixture(scope="module")
def answer(block, lifter, hall):
    return session_question(block, lifter, hall, "Wednesday, legs and drops", week=2, draws=200, seed=1)


def two(first, second, *, alternate=False, rest=60, reps=5, percent=70, count=3):
    def slot(exercise, **more):
        group = {"count": count, "reps": reps, "percent": percent, "rest_s": rest}
        return {"exercise": exercise, "ramp": False, "sets": [group], **more}

    slots = [slot(first, alternate_with_next=alternate), slot(second)]
    return validate({"name": "two", "weeks": 1, "sessions": [{"name": "only", "exercises": slots}]}, Block)


def strong(*names):
    return Lifter.model_validate(
        {"name": "Invented", "lifts": {name: {"one_rm_kg": 100, **both_hands(name)} for name in names}}
    )


def test_the_timeline_has_no_gap_and_adds_up_to_the_duration(answer):
    timeline = answer.timeline
    assert timeline["start_min"].iloc[0] == 0
    assert timeline["start_min"].to_numpy()[1:] == pytest.approx(timeline["end_min"].to_numpy()[:-1], abs=ROUNDING)
    assert timeline["end_min"].iloc[-1] == pytest.approx(answer.minutes, abs=ROUNDING)
    assert sum(answer.minutes_by_kind().values()) == pytest.approx(answer.minutes, abs=ROUNDING)


def test_duration_by_hand(hall):
    # Bench press: 75 s to set up, 3 sets of 5 reps of 3 s, two rests of 60 s: 75 + 45 + 120 = 240 s.
    # Leg extension: 25 s to set up and again 3 s a rep: 25 + 45 + 120 = 190 s. Times from data/exercises.csv.
    one = session_question(
        two("bench press", "leg extension"), strong("bench press", "leg extension"), hall, draws=20, seed=1
    )
    assert one.minutes == pytest.approx((240 + 190) / 60, abs=ROUNDING)


def test_alternating_by_hand(hall):
    """Six sets of 15 s with a rest of 60 s after each but the last; like sets lie 60 + 15 + 60 s apart."""
    who = strong("bench press", "leg extension")
    alternating = make_plan(two("bench press", "leg extension", alternate=True), who, hall).sessions[0]
    assert [one.exercise for one in alternating.sets] == ["bench press", "leg extension"] * 3
    assert float(alternating.duration_s[0]) == pytest.approx(75 + 25 + 6 * 15 + 5 * 60, abs=ROUNDING)
    assert [float(one.rest_s[0]) for one in alternating.sets] == pytest.approx([0, 0, 135, 135, 135, 135], abs=ROUNDING)


def test_alternating_exercises_that_share_no_muscle_leaves_more_reps(hall):
    who = strong("bench press", "leg extension")
    reps = {}
    for alternate in (False, True):
        plan = make_plan(two("bench press", "leg extension", alternate=alternate), who, hall)
        sets = simulate(plan, draw_for(plan, draws=200, seed=1)).sessions[0]
        reps[alternate] = [np.median(one.available) for one in sets if one.planned.exercise == "bench press"]
    assert reps[True][0] == pytest.approx(reps[False][0], abs=0.5)  # the first set is fresh; its noise is another
    assert reps[True][2] > reps[False][2] + 0.5


def test_the_last_exercise_cannot_alternate_with_a_next():
    slot = {"exercise": "bench press", "alternate_with_next": True, "sets": [{"reps": 5, "kg": 50, "rest_s": 60}]}
    block = {"name": "x", "weeks": 1, "sessions": [{"name": "s", "exercises": [slot]}]}
    with pytest.raises(InputError, match="none to alternate with"):
        validate(block, Block)


def test_only_muscles_that_worked_lose_reps_and_no_other(hall):
    one = session_question(
        two("bench press", "leg extension"), strong("bench press", "leg extension"), hall, draws=50, seed=1
    )
    first = one.muscles[(one.muscles["exercise"] == "bench press") & (one.muscles["set"] == "1")]
    lost = dict(zip(first["muscle"], first["lost"], strict=True))
    assert lost["quadriceps"] == pytest.approx(0, abs=ROUNDING)
    assert lost["chest"] > lost["triceps"] == pytest.approx(lost["front shoulder"], abs=ROUNDING)
    assert lost["triceps"] > 1


def test_what_others_cost_is_nothing_without_shared_muscles_or_carry(block, lifter, hall, answer):
    legs = session_question(
        two("bench press", "leg extension"), strong("bench press", "leg extension"), hall, draws=50, seed=1
    )
    assert legs.carried["lost"].tolist() == pytest.approx([0.0], abs=ROUNDING)
    alone = session_question(block, lifter, hall, 2, week=2, draws=50, seed=1, carry=NO_CARRY)
    assert alone.carried[["low", "lost", "high"]].to_numpy() == pytest.approx(0.0, abs=ROUNDING)
    assert (answer.carried["lost"] > 0).all()


@pytest.mark.parametrize(
    ("first", "second"),
    [("barbell bench pull", "dumbbell curl"), ("machine chest fly", "bench press"), ("back squat", "leg extension")],
)
def test_an_exercise_that_shares_muscles_costs_the_next_one_reps(first, second, hall):
    one = session_question(two(first, second, reps=10), strong(first, second), hall, draws=100, seed=1)
    assert one.carried["low"].iloc[0] > 0


def test_orders_on_the_same_days_differ_only_by_the_order(hall):
    """The exercise that comes first in B has its fresh reps there; what does not share a muscle stays equal."""
    who = strong("bench press", "triceps pushdown", "leg extension")
    apart = compare_orders(two("bench press", "leg extension"), who, hall, 1, (2, 1), draws=100, seed=1)
    assert apart[["reps_low", "reps", "reps_high"]].iloc[:2].to_numpy() == pytest.approx(0.0, abs=ROUNDING)
    assert apart["chance_a"].tolist() == apart["chance_b"].tolist()
    sharing = compare_orders(two("bench press", "triceps pushdown"), who, hall, 1, (2, 1), draws=100, seed=1)
    assert sharing["reps_high"].iloc[0] < 0 < sharing["reps_low"].iloc[1]


def test_the_same_order_changes_nothing(block, lifter, hall):
    same = compare_orders(block, lifter, hall, 1, (1, 2, 3), draws=50, seed=1)
    assert same[["reps_low", "reps", "reps_high"]].iloc[:-1].to_numpy() == pytest.approx(0.0, abs=ROUNDING)


@pytest.mark.parametrize("order", [(1, 2), (1, 1, 2), (0, 1, 2), (1, 2, 4)])
def test_an_impossible_order_is_refused(block, order):
    with pytest.raises(InputError, match="every exercise once"):
        change(block, Where(1), order=order)


def test_unknown_sessions_and_weeks_are_named(block, lifter, hall):
    with pytest.raises(InputError, match="Monday, heavy pull"):
        session_question(block, lifter, hall, "Sunday")
    with pytest.raises(InputError, match="use 1 to 5"):
        session_question(block, lifter, hall, 1, week=6)


def test_cautions_stand_where_they_belong_and_once(lifter):
    plain = session_cautions(lifter, ["leg press", "seated cable row", "dumbbell curl"])
    heaviest = {"bench press": 97.5, "overhead press": 85.0, "pull-up": 85.0}
    press = session_cautions(lifter, ["bench press", "bench press", "overhead press", "pull-up"], heaviest)
    sentences = [caution.sentence for caution, _ in press]
    assert len(sentences) == len(set(sentences))
    about = {caution.topic: names for caution, names in press}
    assert about["spotters"] == ("bench press", "overhead press")
    assert about["maximal singles"] == ("bench press",)
    assert about["heavy overhead work"] == ("overhead press",)
    lighter = {caution.topic for caution, _ in session_cautions(lifter, list(heaviest), dict.fromkeys(heaviest, 70.0))}
    assert not {"maximal singles", "heavy overhead work"} & lighter
    assert not {"spotters", "heavy overhead work"} & {caution.topic for caution, _ in plain}


def test_a_position_that_the_lifter_avoids_has_its_caution(lifter):
    careful = lifter.model_copy(update={"avoid_positions": ["deep shoulder extension"]})
    topics = {caution.topic for caution, _ in session_cautions(careful, ["bench press"])}
    assert "deep shoulder extension" in topics
    assert "deep shoulder extension" not in {caution.topic for caution, _ in session_cautions(lifter, ["bench press"])}


def test_an_exercise_that_the_lifter_avoids_is_named(hall):
    who = Lifter.model_validate(
        {
            "name": "Invented",
            "avoid_positions": ["deep shoulder extension"],
            "avoid_exercises": ["leg extensions"],
            "lifts": {"bench press": {"one_rm_kg": 100}, "leg extension": {"one_rm_kg": 60}},
        }
    )
    avoided = dict(session_question(two("bench press", "leg extension"), who, hall, draws=20, seed=1).avoided)
    assert "deep shoulder extension" in avoided["bench press"]
    assert avoided["leg extension"] == "left out by name"


def test_an_unknown_position_in_the_lifter_file_is_said(hall):
    who = strong("bench press", "leg extension").model_copy(update={"avoid_positions": ["sholder"]})
    with pytest.raises(InputError, match=r"lifter Invented, avoid_positions.*shoulder"):
        session_question(two("bench press", "leg extension"), who, hall, draws=20, seed=1)


def test_cautions_begin_at_their_percent(lifter):
    """A single of 95 % is near the maximum and one below it is not; an overhead press is heavy from 80 %."""

    def topics(exercise, percent):
        return {caution.topic for caution, _ in session_cautions(lifter, [exercise], {exercise: percent})}

    assert "maximal singles" in topics("back squat", 95.0)
    assert "maximal singles" not in topics("back squat", 94.9)
    assert "heavy overhead work" in topics("overhead press", 80.0)
    assert "heavy overhead work" not in topics("overhead press", 79.9)
    assert "heavy overhead work" not in topics("bench press", 90.0)


def test_the_timeline_of_a_small_session_stretch_by_stretch(hall):
    """Bench press 75 s to set up, sets of five reps of 3 s, a rest of 60 s; a drop changes the load in 10 s."""
    block = two("bench press", "leg extension", count=2)
    group = block.sessions[0].exercises[1].sets[0]
    drops = validate(
        {"reps": 4, "percent": 60, "rest_s": 45, "drops": {"sizes": [20], "reps": 2, "change_s": 10}}, SetGroup
    )
    slots = list(block.sessions[0].exercises)
    slots[1] = slots[1].model_copy(update={"sets": [group.model_copy(update={"count": 1}), drops]})
    block = block.model_copy(update={"sessions": [block.sessions[0].model_copy(update={"exercises": slots})]})
    answer = session_question(block, strong("bench press", "leg extension"), hall, draws=20, seed=1)
    kinds = answer.timeline["kind"].tolist()
    seconds = (60 * (answer.timeline["end_min"] - answer.timeline["start_min"])).tolist()
    by_hand = [("set up", 75), ("work", 15), ("rest", 60), ("work", 15), ("set up", 25), ("work", 15), ("rest", 60)]
    by_hand += [("work", 12), ("change", 10), ("work", 6)]
    assert list(zip(kinds, seconds, strict=True)) == [(kind, pytest.approx(time)) for kind, time in by_hand]
    spent = answer.minutes_by_kind()
    assert spent == pytest.approx({"set up": 100 / 60, "ramp": 0, "work": 63 / 60, "rest": 2, "change": 10 / 60})
    assert answer.sets["start_min"].tolist() == pytest.approx([75 / 60, 150 / 60, 190 / 60, 265 / 60, 287 / 60])
    assert answer.timeline["what"].iloc[1].startswith("set 1: 5 × ")


def test_a_week_of_its_own(block, lifter, hall):
    """Week and session are those asked for: loads and minutes are those of the plan of the whole block."""
    answer = session_question(block, lifter, hall, "friday, LIGHTER pull ", week=3, draws=20, seed=1)
    planned = make_plan(block, lifter, hall).sessions[2]
    assert (answer.name, answer.week) == ("Friday, lighter pull", 3)
    assert answer.minutes == pytest.approx(float(planned.duration_s[2]) / 60)
    assert answer.limit_minutes == 90
    assert set(answer.sets["week"]) == {3}
    by_plan = [float(one.load_kg[2]) for one in planned.sets if one.active[2] and one.exercise == "barbell bench pull"]
    assert answer.sets.loc[answer.sets["exercise"] == "barbell bench pull", "load_kg"].tolist() == by_plan


def test_what_earlier_exercises_cost_draw_by_draw(hall):
    """Against the scalar simulation, with the shared muscles and without: the first sets only."""
    names = ("bench press", "leg extension", "triceps pushdown")
    slots = [{"exercise": name, "sets": [{"count": 2, "reps": 6, "percent": 72, "rest_s": 60}]} for name in names]
    block = validate({"name": "b", "weeks": 1, "sessions": [{"name": "s", "exercises": slots}]}, Block)
    found = session_question(block, strong(*names), hall, draws=11, seed=2).carried
    plan = make_plan(block, strong(*names), hall)
    drawn = draw_for(plan, draws=11, seed=2)
    together = simulate_slowly(plan, drawn)
    apart = simulate_slowly(plan, dataclasses.replace(drawn, carry=np.zeros((11, 1))))
    first = {"leg extension": 2, "triceps pushdown": 4}
    assert found["exercise"].tolist() == list(first)
    for row in found.to_dict("records"):
        at = first[row["exercise"]]
        lost = sorted(100 * (1 - together[0, at, draw, 0] / apart[0, at, draw, 0]) for draw in range(11))
        # Quantiles of eleven sorted values: those at places 1, 5 and 9.
        assert [row["low"], row["lost"], row["high"]] == pytest.approx([lost[1], lost[5], lost[9]], abs=ROUNDING)
    assert found["from"].tolist() == ["", "bench press"]
