"""What a coach is told beside the chances: what is left out, too heavy, too long or beyond what was studied."""

import re

import pytest

from workbench.answers.block_check import check_block
from workbench.answers.lifter_known import known_of
from workbench.answers.session import session_question
from workbench.evidence.predict import STUDIED_RESTS_S, STUDIED_SETS
from workbench.gym import catalogue
from workbench.gym.equipment import read_room
from workbench.lifter import Lifter
from workbench.prescription.block import Block
from workbench.publish.sheets import make_sheet
from workbench.quantities import InputError
from workbench.reference.sources import data_path, read_rows
from workbench.reference.toml_files import validate
from workbench.simulate.plan import make_plan


@pytest.fixture(scope="module")
def room():
    return read_room(data_path("demo", "rooms", "boathouse_hall.toml"))


def lifter(**more):
    lifts = {name: {"one_rm_kg": 100} for name in ("back squat", "bench press", "barbell row", "overhead press")}
    return validate({"name": "Invented", "lifts": lifts} | more, Lifter)


def block(*slots, weeks=2, **more):
    return validate(
        {"name": "b", "weeks": weeks, "sessions": [{"name": "one", "exercises": list(slots)}], **more}, Block
    )


def slot(exercise, percent=70, *, by_week=None, **more):
    group = {"count": 3, "reps": 5, "percent": percent, "rest_s": 90}
    if by_week is not None:
        group["progression"] = {"rule": "by week", **by_week}
    return {"exercise": exercise, "sets": [group], **more}


def notes(room, plan, who=None):
    return check_block(plan, who or lifter(), room, draws=20, seed=1).notes


def test_a_plain_block_has_nothing_to_note(room):
    assert notes(room, block(slot("back squat"))) == ()


def test_what_the_lifter_leaves_out_is_noted(room):
    (note,) = notes(room, block(slot("overhead press"), slot("back squat")), lifter(avoid_positions=["overhead"]))
    assert note == "overhead press: the lifter file leaves it out (joint position left out: overhead)"


def test_loads_over_the_maximum_and_outside_what_was_studied_are_noted(room):
    over, beyond = notes(room, block(slot("back squat", 105), slot("bench press", 50)))
    assert over.startswith("back squat: 105 % of 1RM in week 1")
    assert "extrapolated" in beyond
    assert "bench press" in beyond


def test_a_session_longer_than_the_block_allows_is_noted(room):
    (note,) = notes(room, block(slot("back squat"), limits={"session_minutes": 5}))
    assert note.endswith("the block allows 5")


def test_a_week_without_sets_takes_no_time_and_no_line_of_the_sheet(room):
    plan = block(slot("back squat"), slot("bench press", by_week={"load": [70, 70], "sets": [3, 0]}))
    alone = make_plan(block(slot("back squat")), lifter(), room).sessions[0]
    both = make_plan(plan, lifter(), room).sessions[0]
    assert both.duration_s[1] == alone.duration_s[1]
    assert both.duration_s[0] > alone.duration_s[0]
    rest = block(slot("bench press", by_week={"load": [70, 70], "sets": [3, 0]}))
    check = check_block(rest, lifter(), room, draws=20, seed=1)
    assert [len(week.sessions) for week in make_sheet(check, room).weeks] == [1, 0]
    with pytest.raises(InputError, match="no set in week 2"):
        session_question(rest, lifter(), room, 1, week=2, draws=20, seed=1)


@pytest.mark.parametrize(
    ("by_week", "problem"), [({"load": [70, 725]}, "725 % of 1RM"), ({"load": [70, 70], "sets": [0, 0]}, "0 sets")]
)
def test_slips_in_a_plan_by_week_are_refused(by_week, problem):
    with pytest.raises(InputError, match=problem):
        block(slot("back squat", by_week=by_week))


def test_no_ramp_comes_between_sets_that_alternate(room):
    session = make_plan(
        block(slot("bench press", alternate_with_next=True), slot("barbell row")), lifter(), room
    ).sessions[0]
    assert {ramp.exercise for ramp in session.ramps} == {"bench press", "barbell row"}
    assert max(ramp.end_s[0] for ramp in session.ramps) <= min(one.start_s[0] for one in session.sets)


def test_a_joint_stands_for_its_positions_in_the_lifter_file():
    expected = {name for name, one in catalogue.joint_positions().items() if one.joint == "knee"}
    assert set(lifter(avoid_positions=["knee"]).avoid_positions) == expected


def test_a_repeated_session_shifts_what_is_written_out_by_week_too():
    by_week = slot("back squat", by_week={"load": [70, 75], "reps": [5, 4]})
    climbing = slot("bench press")
    climbing["sets"][0]["progression"] = {"rule": "reps then load", "reps_to": 8, "step": 2.5}
    sessions = [
        {"name": "one", "exercises": [by_week, climbing]},
        {"name": "two", "repeat_of": "one", "percent_change": -10, "reps_change": 2},
    ]
    plan = validate({"name": "b", "weeks": 2, "sessions": sessions}, Block).expanded_sessions()[1]
    first, second = (one.sets[0] for one in plan.exercises)
    assert (first.progression.load, first.progression.reps) == ([60, 65], [7, 6])
    assert (second.percent, second.reps, second.progression.reps_to) == (60, (7, 7), 10)


def test_a_drop_that_takes_nothing_off_is_noted(room):
    drops = slot("back squat")
    drops["sets"][0]["drops"] = {"sizes": [0.2]}  # a part of 1 where percent is asked for
    (note,) = notes(room, block(drops))
    assert note.startswith("one, back squat: a drop takes nothing off")
    drops["sets"][0]["drops"] = {"sizes": [10]}
    assert notes(room, block(drops)) == ()


def test_notes_begin_where_the_limit_ends(room):
    """Just at a limit there is nothing to note; just beyond it there is."""
    long = block(slot("back squat"))
    minutes = float(make_plan(long, lifter(), room).sessions[0].duration_s.max()) / 60
    assert notes(room, block(slot("back squat"), limits={"session_minutes": minutes})) == ()
    (note,) = notes(room, block(slot("back squat"), limits={"session_minutes": 0.99 * minutes}))
    assert note.startswith(f"one: about {minutes:.0f} minutes")
    # The longest week counts, not the first.
    growing = block(slot("back squat", by_week={"load": [70, 70], "sets": [3, 4]}), limits={"session_minutes": minutes})
    assert len(notes(room, growing)) == 1


def test_a_load_over_the_maximum_is_noted_from_the_first_percent_on(room):
    """One kind of note for loads over 100 %, another from 95 % and under 60 %: at the edges and just past them."""

    def kinds(percent):
        # Of 100 kg; the hall has steps of at most 1.5 kg at these loads.
        told = notes(room, block(slot("back squat", percent)))
        return [note.split(":")[0] for note in told]

    beyond = "below 60 or above 95 % of 1RM few sets were studied"
    assert kinds(95) == []
    assert kinds(60) == []
    assert kinds(97) == [beyond]
    assert kinds(58) == [beyond]
    assert kinds(100) == [beyond]
    assert kinds(101) == ["back squat", beyond]
    rising = block(slot("back squat", 70, by_week={"load": [102, 105]}))
    assert notes(room, rising)[0].startswith("back squat: 105 % of 1RM in week 2")


def test_each_exercise_is_noted_once_and_by_its_own_name(room):
    told = notes(room, block(slot("back squat", 106), slot("bench press", 110), slot("back squat", 104)))
    assert [note.split(" of 1RM")[0] for note in told[:2]] == ["back squat: 106 %", "bench press: 110 %"]
    assert told[2].endswith("extrapolated for back squat, bench press")
    assert len(told) == 3


def test_a_drop_of_another_week_or_exercise_is_not_what_takes_nothing_off(room):
    """Two exercises of the same load side by side are no drop."""
    first, second = slot("back squat"), slot("bench press")
    first["sets"][0]["drops"] = {"sizes": [10, 5]}
    assert notes(room, block(first, second)) == ()


@pytest.mark.parametrize(
    ("name", "one_rm", "noted"),
    [
        ("back squat", 195.0, False),
        ("back squat", 196.0, True),
        ("leg press", 390.0, False),
        ("leg press", 391.0, True),
    ],
)
def test_a_1rm_that_the_body_mass_makes_unlikely_is_noted(room, name, one_rm, noted):
    """Of 50 kg, a trained squat is guessed at 0.65: six times that is 195 kg, and on a machine twice as much."""
    who = lifter(body_mass_kg=50.0, lifts={name: {"one_rm_kg": one_rm}})
    said = f"{name}: a 1RM of {one_rm:g} kg is {one_rm / 50:.1f} times the body mass of 50 kg; check both numbers"
    assert any(note.startswith(said) for note in known_of(who).notes) == noted
    assert any(note.startswith(said) for note in notes(room, block(slot(name, 65)), who)) == noted
    unknown = who.model_copy(update={"body_mass_kg": None})
    assert known_of(unknown).notes == ()


@pytest.mark.parametrize(
    ("group", "said"),
    [
        ({"rest_s": 19}, ["rests under 20 or over 300 s"]),
        ({"rest_s": 20}, []),
        ({"rest_s": 300}, []),
        ({"rest_s": 301}, ["rests under 20 or over 300 s"]),
        ({"rest_s": 19, "count": 1}, []),  # no set comes after
        ({"count": 6}, []),
        ({"count": 7}, ["more than 6 sets of an exercise in a session"]),
    ],
)
def test_rests_and_runs_of_sets_beyond_the_studies_are_noted(room, group, said):
    plan = slot("back squat")
    plan["sets"][0].update(group)
    assert list(notes(room, block(plan))) == [f"{one} were not studied: extrapolated for back squat" for one in said]


def test_what_counts_as_studied_is_what_the_sets_behind_the_fit_had():
    rows = [row for row in read_rows("evidence", "sets.csv") if row["use"] == "fit" and row["source"] != "trade_prior"]
    rests = [float(rest) for row in rows for rest in re.findall(r"[\d.]+", row["rests_s"])]
    assert (min(rests), max(rests)) == STUDIED_RESTS_S
    assert max(int(row["set_to"]) for row in rows) == STUDIED_SETS
