"""Exchanges respect what is left out, the room and the muscles; what cannot be is said."""

import itertools

import pytest

from workbench.answers.exchange import Exclusions, addition, exchange_question, piece_for
from workbench.answers.exchange_session import exchange_session
from workbench.answers.load_search import guess_one_rm, search_for_load
from workbench.gym import catalogue
from workbench.gym.catalogue import cautions, joint_positions
from workbench.gym.equipment import Room, read_room
from workbench.lifter import Lifter, read_lifter
from workbench.prescription.block import read_block
from workbench.quantities import InputError
from workbench.reference.sources import data_path, read_rows, sources
from workbench.reference.toml_files import validate
from workbench.simulate.plan import make_plan

DEMO = data_path("demo")
ROUNDING = 1e-9
#: Fractional sets a week: a loss of so much is worth a word.
NOTICED = 1.0
SHOULDER = ("overhead", "deep shoulder extension")


@pytest.fixture(scope="module")
def rooms():
    return [read_room(path) for path in sorted((DEMO / "rooms").glob("*.toml"))]


@pytest.fixture(scope="module")
def lifter():
    return read_lifter(DEMO / "lifters" / "emre_sandoval.toml")


@pytest.fixture(scope="module")
def block():
    return read_block(DEMO / "block.toml")


def test_every_exchange_respects_positions_room_and_muscles(lifter, rooms):
    out = Exclusions.of(lifter, positions=SHOULDER)
    checked = 0
    for room, name in itertools.product(rooms, ("overhead press", "bench press", "dip", "lat pulldown", "pull-up")):
        answer = exchange_question(lifter, room, name, leave_out=out)
        wanted = catalogue.exercise(name)
        for instead in [] if answer.table.empty else answer.table["exercise"]:
            one = catalogue.exercise(instead)
            assert not set(one.joint_positions) & set(SHOULDER)
            room.loads_for(one)  # raises where the room has nothing for it
            assert room.lacks(one) == []
            assert set(one.direct_muscles) & set(wanted.direct_muscles)
            checked += 1
    assert checked > 30


def test_what_the_room_lacks():
    """Named by a fixture, a machine's words or a piece of that name; a rack of dumbbells is no rack to squat in."""
    content = {
        "name": "Invented",
        "unit": "kg",
        "equipment": [
            {"name": "dumbbell rack", "kind": "dumbbells", "masses": [10, 20]},
            {
                "name": "tower",
                "kind": "stack",
                "note": "Pulldown, and a leg curl machine.",
                "first": 5,
                "step": 5,
                "last": 50,
            },
        ],
    }
    silent, stated = validate(content, Room), validate({**content, "fixtures": ["Bench "]}, Room)
    pressed = catalogue.exercise("bench press")
    assert (silent.lacks(pressed), stated.lacks(pressed)) == (["bench", "rack"], ["rack"])
    # A machine is named by one piece of the right kind, and a leg curl machine is no curl machine.
    for name, lacking in (
        ("lat pulldown", []),
        ("leg curl", []),
        ("machine curl", ["curl machine"]),
        ("seated leg curl", ["seated leg curl machine"]),
        ("machine row", ["row machine"]),
    ):
        assert stated.lacks(catalogue.exercise(name)) == lacking
    # Without a list of fixtures a bench is a matter to check, with one it is there or not.
    press, incline = catalogue.exercise("dumbbell bench press"), catalogue.exercise("incline dumbbell bench press")
    assert piece_for(silent, press) == piece_for(silent, incline) == ("dumbbell rack", "")
    assert piece_for(stated, press) == ("dumbbell rack", "")
    assert piece_for(stated, incline) == ("", "the room names no incline bench")


def test_a_block_that_needs_what_the_room_lacks_is_warned_of(lifter, rooms, block):
    hall = next(room for room in rooms if room.name == "Boathouse hall")
    assert not [text for text in make_plan(block, lifter, hall).warnings if "names none" in text]
    bare = hall.model_copy(update={"fixtures": ["rack"]})
    said = [text for text in make_plan(block, lifter, bare).warnings if "names none" in text]
    assert said
    assert all("barbell bench pull: needs high bench; the room file names none" in text for text in said)


def test_the_lifters_own_wishes_count_without_asking(rooms):
    careful = Lifter.model_validate(
        {
            "name": "Invented",
            "avoid_positions": ["overhead"],
            "avoid_exercises": ["seated cable row"],
            "lifts": {"lat pulldown": {"one_rm_kg": 80}},
        }
    )
    found = set(exchange_question(careful, rooms[0], "lat pulldown", most=100).table["exercise"])
    assert found
    assert "seated cable row" not in found
    assert not [name for name in found if "overhead" in catalogue.exercise(name).joint_positions]


def test_a_joint_stands_for_all_its_positions():
    by_joint = Exclusions.of(positions=["shoulder"]).positions
    assert by_joint == {one.name for one in joint_positions().values() if one.joint == "shoulder"}


@pytest.mark.parametrize(
    "wrong", [{"positions": ["overheed"]}, {"implements": ["barbel"]}, {"patterns": ["hindge"]}, {"exercises": ["zzz"]}]
)
def test_unknown_wishes_are_refused(wrong):
    with pytest.raises(InputError, match="unknown"):
        Exclusions.of(**wrong)


def test_an_impossible_request_says_what_is_missing(lifter, rooms):
    everything = Exclusions.of(lifter, positions=list(joint_positions()), implements=["stack", "bodyweight", "band"])
    answer = exchange_question(lifter, rooms[0], "back squat", leave_out=everything)
    assert answer.table.empty
    said = " ".join(answer.missing)
    assert "joint positions left out" in said
    assert "quadriceps and glutes" in said
    assert "Allow one of these again" in said


def test_the_best_exchange_by_muscles_movement_and_known_load(lifter, rooms):
    # Lat pulldown without anything overhead. Shared shares, by hand, with the seated cable row: lower of each muscle
    # (latissimus 1; upper back, biceps, rear shoulder, forearms 1/2) 3.0 over the higher (upper back 1) 3.5.
    # Its 1RM is known; no vertical pull is left.
    hall = rooms[0]
    table = exchange_question(
        lifter, hall, "lat pulldown", leave_out=Exclusions.of(lifter, positions=["overhead"])
    ).table
    best = table.iloc[0]
    assert best["shared"] == pytest.approx(3.0 / 3.5, abs=ROUNDING)
    assert best["basis"] == "own 1RM"
    assert table["shared"].iloc[0] == table["shared"].max()


def test_a_load_from_a_published_ratio_by_hand(rooms):
    # saeterbakken_2011: both dumbbells together 17 % less than the barbell. 100 kg gives 83 kg.
    who = Lifter.model_validate({"name": "Invented", "lifts": {"bench press": {"one_rm_kg": 100}}})
    guess = guess_one_rm(who, rooms[0], catalogue.exercise("dumbbell bench press"))
    assert guess.one_rm_kg == pytest.approx(83, abs=ROUNDING)
    assert guess.low_kg < 75 < 90 < guess.high_kg
    assert (guess.basis, guess.grade) == ("load ratio", "published")
    # The other way round: 83 kg of dumbbells stand for 100 kg on the bar.
    other = Lifter.model_validate(
        {"name": "Invented", "lifts": {"dumbbell bench press": {"one_rm_kg": 41.5, "each_hand": True}}}
    )
    back = guess_one_rm(other, rooms[0], catalogue.exercise("bench press"))
    assert back.one_rm_kg == pytest.approx(100, abs=ROUNDING)
    assert back.low_kg < 100 < back.high_kg


def test_an_unknown_load_is_found_from_the_lightest_up_and_never_by_a_maximum(lifter, rooms):
    guess = guess_one_rm(lifter, rooms[0], catalogue.exercise("floor press"))
    assert guess.basis == "find the load"
    # The lighter of the two bars, empty but for the smallest plates: see test_load_search.py for every step.
    assert "16 kg: 15 bar, per side 0.5 (short bar)" in guess.protocol[0]
    assert "no maximal lift" in " ".join(guess.protocol)


@pytest.mark.parametrize("session", [1, 2, 3])
def test_a_session_without_overhead_and_deep_shoulder_positions(block, lifter, rooms, session):
    for room in rooms:
        found = exchange_session(block, lifter, room, session, leave_out=Exclusions.of(lifter, positions=SHOULDER))
        assert found.complete
        chosen = found.block.expanded_sessions()[session - 1]
        positions = [catalogue.exercise(slot.exercise).joint_positions for slot in chosen.exercises]
        assert not [one for one in positions if set(one) & set(SHOULDER)]
        # The muscles' weekly sets stay within one fractional set of the block's.
        assert found.muscles.empty or found.muscles["change"].min() > -1.0
        assert (found.changes["gone"] == "").all()
        others = [n for n, _ in enumerate(block.sessions) if n != session - 1]
        for n in others:
            assert found.block.expanded_sessions()[n].exercises == block.expanded_sessions()[n].exercises


def test_a_session_that_cannot_be_saved_says_so(block, lifter, rooms):
    nothing = Exclusions.of(lifter, positions=list(joint_positions()), implements=["stack", "band", "bodyweight"])
    found = exchange_session(block, lifter, rooms[0], 1, leave_out=nothing)
    assert not found.complete
    assert any("has no exchange here" in line for line in found.missing)
    # What has no exchange stays where it was; nothing is lost.
    assert len(found.block.expanded_sessions()[0].exercises) == len(block.expanded_sessions()[0].exercises)


def test_an_exchanged_session_can_be_planned(block, lifter, rooms):
    hall = rooms[0]
    found = exchange_session(block, lifter, hall, 1, leave_out=Exclusions.of(lifter, exercises=["barbell bench pull"]))
    assert "seated cable row" in set(found.changes["instead"])
    plan = make_plan(found.block, found.lifter, hall)
    assert plan.sessions[0].sets[0].exercise == "seated cable row"


def test_every_ratio_has_a_source_a_grade_and_a_band_about_it():
    for row in read_rows("evidence", "load_ratios.csv"):
        assert {key.strip() for key in row["source"].split(";")} <= set(sources())
        assert row["grade"] in {"published", "derived", "recalled", "assumed"}
        assert float(row["low"]) < float(row["ratio"]) < float(row["high"])
        assert catalogue.exercise(row["from"]).name == row["from"]
        assert catalogue.exercise(row["to"]).name == row["to"]


def test_a_muscle_that_falls_short_is_named_with_what_would_train_it(block, lifter, rooms):
    # Without leaning forward no hinge is left; what takes its place trains the hamstrings no more.
    out = Exclusions.of(lifter, positions=["trunk bent forward under load"])
    found = exchange_session(block, lifter, rooms[0], 2, leave_out=out)
    line = next(line for line in found.missing if line.startswith("hamstrings"))
    named = line.partition("; ")[2].removesuffix(" would train it.")
    assert "hamstrings" in catalogue.exercise(named).direct_muscles
    assert "trunk bent forward under load" not in catalogue.exercise(named).joint_positions
    bare = rooms[0].model_copy(update={"fixtures": ["rack", "high bench"]})
    found = exchange_session(block, lifter, bare, 2, leave_out=out)
    assert any(line.startswith("hamstrings") and "no exercise here trains it" in line for line in found.missing)


def test_only_muscles_that_lose_a_set_a_week_or_more_are_named(block, lifter, rooms):
    kept_or_gained = 0
    for position, session in itertools.product(
        ("trunk bent forward under load", "overhead", "deep knee flexion"), (1, 2)
    ):
        out = Exclusions.of(lifter, positions=[position])
        found = exchange_session(block, lifter, rooms[0], session, leave_out=out)
        change = found.muscles.set_index("muscle").eval("after - before")
        named = {line.partition(":")[0] for line in found.missing if "fractional sets a week" in line}
        assert named == set(change[change <= -NOTICED].index)
        kept_or_gained += (change > -NOTICED).sum()
    assert kept_or_gained > 0  # and they are not among them


def test_fast_and_slow_lifts_do_not_stand_for_each_other(lifter, rooms):
    fast = {one.name for one in catalogue.exercises().values() if one.movement_pattern == "explosive pull"}
    for name in ("deadlift", "back squat", "barbell row"):
        assert not fast & set(exchange_question(lifter, rooms[0], name, most=50).table["exercise"])
    assert set(exchange_question(lifter, rooms[0], "power snatch", most=50).table["exercise"]) <= fast
    # Fast lifts are learned in short sets.
    assert "3 reps" in search_for_load(lifter, rooms[0], catalogue.exercise("power clean")).lines[0]


def test_no_squat_to_a_right_angle_stands_for_one_without_deep_knees(lifter, rooms):
    out = Exclusions.of(lifter, positions=["deep knee flexion"])
    table = exchange_question(lifter, rooms[0], "back squat", leave_out=out).table
    assert table["exercise"].iloc[0] == "quarter squat"
    assert not {"half squat", "box squat"} & set(table["exercise"])


def test_a_position_that_comes_with_a_caution_is_named_and_comes_after_its_equals(lifter, rooms):
    out = Exclusions.of(lifter, positions=["hang from straight arms"])
    table = exchange_question(lifter, rooms[0], "pull-up", leave_out=out).table.set_index("exercise")
    assert "behind neck" in table.loc["behind-neck lat pulldown", "adds"].split(", ")
    equals = table[table["shared"] == table.loc["behind-neck lat pulldown", "shared"]]
    assert equals.index[-1] == "behind-neck lat pulldown"
    assert set(table.loc[["lat pulldown", "close-grip lat pulldown"], "adds"]) == {""}


def test_where_positions_are_left_out_an_exchange_says_the_caution_of_each_that_it_adds(block, lifter, rooms):
    """The feet of a sumo deadlift stand wide, those of a squat do not; its load is carried by the knee all the same."""
    out = Exclusions.of(lifter, positions=["knee"])
    wide = cautions()["wide hip under load"].sentence
    answer = exchange_question(lifter, rooms[0], "back squat", leave_out=out)
    row = answer.table.set_index("exercise").loc["sumo deadlift"]
    assert row["adds"] == "wide hip under load, loaded spinal flexion, trunk bent forward under load"
    assert f"Wide hip under load is added by sumo deadlift: {wide}" in answer.notes
    assert not any("deadlift" in line for line in answer.added(["quarter squat", "half leg press"]))
    # Session 1 has a back squat; of what keeps all its direct muscles the sumo deadlift is the first.
    found = exchange_session(block, lifter, rooms[0], 1, leave_out=out)
    assert list(found.changes["instead"]) == ["sumo deadlift"]
    for said in (answer, found):
        assert any(wide in note for note in said.notes)
        assert any("not all load on the joint" in note for note in said.notes)
    # Where no position is left out, only what always has a caution is named.
    usual = exchange_question(lifter, rooms[0], "back squat", leave_out=Exclusions(), most=50).table
    assert set(", ".join(usual["adds"]).split(", ")) <= {
        "",
        *(one for one, of in cautions().items() if of.show == "always"),
    }


def test_a_muscle_that_no_exchange_trains_is_named_with_what_would(lifter, rooms):
    answer = exchange_question(
        lifter, rooms[0], "Romanian deadlift", leave_out=Exclusions.of(lifter, positions=["spine"])
    )
    assert len(answer.table)
    (line,) = answer.missing
    assert line.startswith("None of these trains hamstrings directly; ")
    more = catalogue.exercise(line.partition("; ")[2].removesuffix(" would."))
    assert "hamstrings" in more.direct_muscles
    assert not any(joint_positions()[one].joint == "spine" for one in more.joint_positions)


@pytest.mark.parametrize(
    ("spoken", "joint"), [("lower back", "spine"), ("Shoulders", "shoulder"), ("ribs", "ribs"), ("groin", "hip")]
)
def test_what_people_say_for_a_joint_is_understood(spoken, joint):
    expected = {one.name for one in joint_positions().values() if one.joint == joint}
    assert Exclusions.of(positions=[spoken]).positions == expected


def test_an_unknown_position_lists_the_joints():
    with pytest.raises(InputError, match="shoulder, elbow, wrist, spine"):
        Exclusions.of(positions=["nonsense"])


def test_what_would_train_a_muscle_trains_as_little_else_as_can_be(rooms):
    """Every exercise of the catalogue gone through by hand: none that fits adds up to less."""
    for room in rooms:
        for muscle in ("biceps", "quadriceps", "rear shoulder"):
            found = room.catalogue.exercise(addition(muscle, room, Exclusions()))
            assert muscle in found.direct_muscles
            assert piece_for(room, found)[0]
            others = [
                sum(part.share for part in one.muscles)
                for one in room.catalogue.exercises.values()
                if any(part.muscle == muscle and part.share == 1 for part in one.muscles) and piece_for(room, one)[0]
            ]
            assert sum(part.share for part in found.muscles) == min(others) < max(others)
