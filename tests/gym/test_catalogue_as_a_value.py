"""A catalogue is a value: what a room knows depends on its files, never on what was read before."""

from __future__ import annotations

import itertools
import pickle
import shutil

import numpy as np
import pytest

from tests.own_gyms import make_gym
from workbench.answers.block_check import check_block
from workbench.answers.curve import curve_question
from workbench.answers.decide import Knob, Limit, decide
from workbench.answers.drop import drop_question
from workbench.answers.exchange import Exclusions, exchange_question
from workbench.answers.exchange_session import exchange_session
from workbench.answers.mend import Mending, mends
from workbench.answers.session import session_question
from workbench.answers.surprises import find_surprises
from workbench.answers.volume import volume_question
from workbench.fit import fit_log
from workbench.fit.lifter_file import updated_lifter, write_lifter
from workbench.gym import catalogue
from workbench.gym.equipment import read_room
from workbench.lifter import read_lifter
from workbench.log import read_log, rows_of
from workbench.prescription.block import read_block
from workbench.prescription.edit import Where, change, group_at
from workbench.prescription.schemes import constant_step, exercise_block
from workbench.publish.sheets import make_sheet
from workbench.quantities import InputError
from workbench.reference.sources import data_path
from workbench.simulate.draws import draw_for
from workbench.simulate.plan import make_plan
from workbench.simulate.run import simulate

RUN = {"draws": 40, "seed": 1}


@pytest.fixture
def gyms(tmp_path):
    """Two gyms to which the same name means different exercises."""
    return {
        "bar": make_gym(tmp_path, "bar", setup_s=60, muscle="chest"),
        "hands": make_gym(tmp_path, "hands", implement="dumbbells", setup_s=200, muscle='"front shoulder"'),
    }


@pytest.fixture
def bar(gyms):
    gym = gyms["bar"]
    return read_block(gym / "block.toml"), read_lifter(gym / "lifters" / "a.toml"), read_room(gym / "rooms/hall.toml")


def answers(gym):
    """What depends on the own exercise: its implement, set-up, duration, muscles."""
    room, lifter = read_room(gym / "rooms" / "hall.toml"), read_lifter(gym / "lifters" / "a.toml")
    block = read_block(gym / "block.toml")
    check = check_block(block, lifter, room, **RUN)
    plan = check.plan
    volume = volume_question(simulate(plan, draw_for(plan, **RUN)))
    return {
        "implement": room.catalogue.exercise("log").implement,
        "hands": plan.sessions[0].sets[0].hands,
        "set_up": float(plan.sessions[0].set_ups[0].end_s[0]),
        "muscles": sorted(volume.muscles["muscle"].unique()),
        "chance": check.chance_of_block,
    }


def test_two_rooms_with_different_own_exercises_in_any_order(gyms):
    fresh = {name: answers(gym) for name, gym in gyms.items()}
    assert (fresh["bar"]["implement"], fresh["bar"]["hands"], fresh["bar"]["set_up"]) == ("barbell", 1, 60.0)
    assert (fresh["hands"]["implement"], fresh["hands"]["hands"], fresh["hands"]["set_up"]) == ("dumbbells", 2, 200.0)
    pressed = {"chest", "front shoulder"}
    assert {name: pressed & set(found["muscles"]) for name, found in fresh.items()} == {
        "bar": {"chest"},
        "hands": {"front shoulder"},
    }
    for order in itertools.permutations([*gyms, *gyms], 4):
        assert all(answers(gyms[name]) == fresh[name] for name in order[:2])
        with pytest.raises(InputError, match="unknown exercise 'log press'"):
            catalogue.exercise("log press")


def test_both_rooms_live_beside_each_other(gyms):
    """Read both first, use them afterwards, by turns."""
    rooms = {name: read_room(gym / "rooms" / "hall.toml") for name, gym in gyms.items()}
    lifters = {name: read_lifter(gym / "lifters" / "a.toml") for name, gym in gyms.items()}
    for name in ("hands", "bar", "hands"):
        plan = make_plan(read_block(gyms[name] / "block.toml"), lifters[name], rooms[name])
        assert plan.catalogue is rooms[name].catalogue
        assert plan.sessions[0].sets[0].hands == (2 if name == "hands" else 1)


def test_copies_and_pickles_take_the_own_exercises_along(bar):
    block, lifter, room = bar
    plan = make_plan(block, lifter, room)
    for thing in (room, lifter, plan):
        for same in (pickle.loads(pickle.dumps(thing)), *([] if thing is plan else [thing.model_copy()])):
            assert same.catalogue == thing.catalogue
            assert same.catalogue.exercise("log").name == "log press"
    wider, small = room.catalogue, len(pickle.dumps(catalogue.built_in()))
    # The built-in part is not written out: about two hundred exercises take far more.
    assert len(pickle.dumps(wider)) < 2000
    assert small < 200
    assert pickle.loads(pickle.dumps(catalogue.built_in())) is catalogue.built_in()
    by_hand = catalogue.Catalogue([catalogue.exercise("back squat")])
    assert list(pickle.loads(pickle.dumps(by_hand)).exercises) == ["back squat"]
    assert wider != catalogue.built_in()


def test_what_states_the_same_is_equal_whatever_else_is_known(gyms):
    own = gyms["bar"] / "exercises" / "own.toml"
    demo = data_path("demo")
    for read, path in ((read_lifter, demo / "lifters/emre_sandoval.toml"), (read_room, demo / "rooms/quay_room.toml")):
        plain, with_own = read(path), read(path, own)
        assert plain.catalogue != with_own.catalogue
        assert plain == with_own
        assert plain != plain.model_copy(update={"name": "other"})
        assert plain != own


def test_files_outside_a_gym_take_own_exercises_as_files_or_as_a_catalogue(gyms, tmp_path):
    own = gyms["bar"] / "exercises" / "own.toml"
    for kind in ("rooms/hall.toml", "lifters/a.toml"):
        shutil.copy(gyms["bar"] / kind, tmp_path)
    with pytest.raises(InputError, match="log"):
        read_lifter(tmp_path / "a.toml")
    assert not read_room(tmp_path / "hall.toml").catalogue.knows("log press")
    for exercises in (own, str(own), [own], [own, str(own)], read_room(gyms["bar"] / "rooms/hall.toml").catalogue):
        assert read_room(tmp_path / "hall.toml", exercises).catalogue.knows("log press")
        assert read_lifter(tmp_path / "a.toml", exercises).lift("log press").one_rm == 80.0
    # In the gym's folder the same file once more is the same exercise; another of its name is not.
    assert read_room(gyms["bar"] / "rooms" / "hall.toml", own).catalogue.knows("log press")
    with pytest.raises(InputError, match="already means log press"):
        read_room(gyms["bar"] / "rooms" / "hall.toml", gyms["hands"] / "exercises" / "own.toml")


def test_a_fault_in_a_gyms_exercises_names_their_file(gyms):
    own = gyms["bar"] / "exercises" / "own.toml"
    own.write_text(own.read_text(encoding="utf-8").replace("setup_s = 60", "setup_s = -1"), encoding="utf-8")
    for read, path in ((read_room, "rooms/hall.toml"), (read_lifter, "lifters/a.toml")):
        with pytest.raises(InputError) as caught:
            read(gyms["bar"] / path)
        assert (caught.value.file, caught.value.place) == (str(own), "exercises.1.setup_s")


def test_every_answer_knows_the_own_exercise(bar, gyms):
    block, lifter, room = bar
    check = check_block(block, lifter, room, **RUN)
    assert isinstance(mends(check, **RUN), Mending)
    session = session_question(block, lifter, room, "one", **RUN)
    assert "chest" in set(session.muscles["muscle"])
    assert curve_question(lifter, "log", **RUN).exercise == "log press"
    assert drop_question(lifter, "log", room, load_kg=60, **RUN).exercise == "log press"
    limits = [Limit("set_chance:log", at_least=0.0)]
    found = decide(block, lifter, room, [Knob("sets", (1, 2), exercise="log")], limits=limits, **RUN)
    assert found.chosen is not None
    assert found.chosen.sessions[0].exercises[0].sets[0].count == 2
    assert found.chosen.sessions[0].exercises[1].sets[0].count == 2
    with pytest.raises(InputError, match="unknown exercise 'lug'"):
        decide(block, lifter, room, [Knob("sets", (1, 2))], limits=[Limit("set_chance:lug", at_least=0.5)], **RUN)
    assert "log press" in {line.exercise for line in make_sheet(check, room).weeks[0].sessions[0].lines}
    careful = read_lifter(gyms["bar"] / "lifters" / "b.toml")
    assert Exclusions.of(careful).exercises == {"log press"}
    assert any("log press" in note for note in check_block(block, careful, room, **RUN).notes)


def test_exchanges_find_and_replace_own_exercises(bar, gyms):
    block, lifter, room = bar
    assert "log press" in set(exchange_question(lifter, room, "bench press", most=100).table["exercise"])
    out = Exclusions.of(lifter, exercises=["log"])
    found = exchange_session(block, lifter, room, "one", leave_out=out)
    assert found.changes["exercise"].tolist() == ["log press"]
    assert found.changes["instead"].iloc[0] in catalogue.exercises()
    # The other way round: the own exercise comes in, with a 1RM that the new lifter then has.
    presses = exercise_block("bench press", constant_step(sets=2), weeks=1)
    wanted = change(presses, Where(), exercises=room.catalogue, exchange="log")
    assert wanted.sessions[0].exercises[0].exercise == "log press"
    assert check_block(wanted, found.lifter, room, **RUN).sets["exercise"].unique().tolist() == ["log press"]


def test_changes_name_own_exercises_as_the_block_does_or_by_a_catalogue(bar):
    block, _, room = bar
    for name, exercises in (("log press", None), ("LOG  press", None), ("log", room.catalogue)):
        changed = change(block, Where(exercise=name), exercises=exercises, percent=65)
        assert [slot.sets[0].percent for slot in changed.sessions[0].exercises] == [65.0, 70.0]
        assert group_at(changed, Where(1, name, 1), exercises).percent == 65.0
    with pytest.raises(InputError, match="unknown exercise 'log'"):
        change(block, Where(exercise="log"), percent=65)
    assert exercise_block("log", constant_step(), exercises=room.catalogue).sessions[0].exercises[0].exercise == (
        "log press"
    )


def test_two_own_dumbbells_need_the_hand_said_before_anything_is_planned(gyms):
    gym = gyms["hands"]
    room, lifter = read_room(gym / "rooms" / "hall.toml"), read_lifter(gym / "lifters" / "a.toml")
    block = read_block(gym / "block.toml")
    place = Where(1, "log press", 1)
    with pytest.raises(InputError, match="one dumbbell or both"):
        make_plan(change(block, place, load_as={"kg": 40.0}), lifter, room)
    in_each = {"load_as": {"kg": 20.0, "each_hand": True}}
    plan = make_plan(change(block, place, **in_each), lifter, room)
    assert np.all(plan.sessions[0].sets[0].load_kg == 40.0)
    lifter_file = gym / "lifters" / "a.toml"
    lifter_file.write_text(lifter_file.read_text(encoding="utf-8").replace("each_hand = false", ""), encoding="utf-8")
    with pytest.raises(InputError, match="one dumbbell or both"):
        read_lifter(lifter_file)


def test_a_log_of_own_exercises_is_read_and_learned_from(gyms, tmp_path):
    gym = gyms["bar"]
    lifter = read_lifter(gym / "lifters" / "a.toml")
    reading = read_log(gym / "log.csv", exercises=lifter.catalogue)
    assert not reading.questions
    assert reading.rows["exercise"].unique().tolist() == ["log press"]
    assert len(read_log(gym / "log.csv").rows) == 0
    learned = fit_log(rows_of(reading, lifter.name), lifter)
    assert learned.exercises == ("log press",)
    after = updated_lifter(learned)
    assert after.catalogue is lifter.catalogue
    assert after.lift("log press").tested is not None
    written = write_lifter(learned, gym / "lifters" / "after.toml")
    assert read_lifter(written).lift("log press") == after.lift("log press")
    # Of two dumbbells the hand is asked for, as of built-in ones.
    hands = read_room(gyms["hands"] / "rooms" / "hall.toml").catalogue
    asked = read_log(gym / "log.csv", exercises=hands).questions
    assert [question.about for question in asked] == ["dumbbells"]


def test_sentences_say_two_own_dumbbells_by_one_hand(gyms):
    gym = gyms["hands"]
    lifter_file, log = gym / "lifters" / "a.toml", gym / "log.csv"
    unsure = lifter_file.read_text(encoding="utf-8") + "uncertainty_percent = 20\n"
    lifter_file.write_text(unsure, encoding="utf-8")
    lifter = read_lifter(lifter_file)
    assert curve_question(lifter, "log", **RUN).sentences()[0].startswith("log press: 1RM 2 x 40 kg")
    sets = [f"2026-01-{day:02d},log,2 x 30 kg,{reps},failed\n" for day, reps in ((5, 8), (7, 8), (9, 9), (12, 30))]
    log.write_text("date,exercise,load,reps,outcome\n" + "".join(sets), encoding="utf-8")
    learned = fit_log(rows_of(read_log(log, exercises=lifter.catalogue), lifter.name), lifter)
    assert any(" kg each hand (" in line for line in learned.sentences())
    assert any("30 reps with 2 x 30 kg" in line for line in find_surprises(learned).sentences())
