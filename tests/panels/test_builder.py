"""The block builder, driven as a person would: fields typed into, lists chosen from, buttons pressed."""

from __future__ import annotations

import pytest

from workbench.answers.block_check import check_block
from workbench.gym.equipment import Room
from workbench.panels.builder import BlockBuilder
from workbench.panels.exercise_fields import group_said
from workbench.prescription.block import Block, SetGroup, read_block
from workbench.prescription.edit import Where
from workbench.reference.sources import data_path
from workbench.reference.toml_files import validate

DEMO = read_block(data_path("demo", "block.toml"))


def builder(block: Block | None = None) -> BlockBuilder:
    return BlockBuilder(block, draws=20)


def find(panel: BlockBuilder, words: str, name: str) -> None:
    panel.finder.text.value = words
    assert name in [value for _, value in panel.finder.found.options], words
    panel.finder.found.value = name


def set_group(panel: BlockBuilder, **what: object) -> None:
    """Set fields of the chosen set group: those of choices first, as they show the others."""
    for name, value in what.items():
        field = getattr(panel.exercises.group, name)
        if isinstance(value, str) and hasattr(field, "typed"):
            field.typed.value = value
        else:
            field.choice.value = value
        assert not field.problem, field.problem


def add(panel: BlockBuilder, words: str, name: str, **what: object) -> None:
    find(panel, words, name)
    panel.add.click()
    set_group(panel, **what)


def begin(panel: BlockBuilder, words: str, name: str, session: str, day: int, **what: object) -> None:
    find(panel, words, name)
    panel.begin.click()
    panel.sessions.name.typed.value = session
    panel.sessions.day.choice.value = day
    set_group(panel, **what)


def build_the_demo_block(panel: BlockBuilder) -> None:
    panel.block.name.typed.value = "Winter block, pull and legs"
    panel.block.weeks.typed.value = "5 weeks"
    begin(
        *(panel, "bench pull", "barbell bench pull", "Monday, heavy pull", 1),
        way="percent",
        load="65 %",
        sets="5",
        reps="6",
        rest="1:30",
        rule="step",
        step="2,5",
    )
    add(
        *(panel, "squats", "back squat"),
        way="percent",
        load="82,5",
        sets="1",
        reps="3",
        rest="3 min 30",
        rule="step",
        step="2",
    )
    panel.exercises.add_group.click()
    set_group(panel, way="part", load="85", sets="3", reps="6", rest="2:30")
    add(panel, "pulldown", "lat pulldown", way="reps_in_reserve", load="2 left", sets="1", reps="6-10", rest="150")
    begin(
        *(panel, "RDL", "Romanian deadlift", "Wednesday, legs and drops", 3),
        way="percent",
        load="60",
        sets="4",
        reps="8",
        rest="2 min",
        rule="wave",
        length="2",
        step="5",
        rise="2.5",
    )
    add(
        *(panel, "leg press", "leg press"),
        way="percent",
        load="62,5",
        sets="3",
        reps="10",
        rest="120 s",
        rule="reps then load",
        reps_to="12",
        step="5",
    )
    add(
        *(panel, "cable row", "seated cable row"),
        way="percent",
        load="75",
        sets="2",
        reps="failure",
        rest="3:00",
        drops="25, 15",
    )
    add(panel, "db curls", "dumbbell curl", way="percent", load="40", sets="3", reps="12 to 20", rest="75")
    panel.sessions.session.choice.value = 1
    panel.sessions.copy_name.typed.value = "Friday, lighter pull"
    panel.sessions.copy_percent.typed.value = "-7,5"
    panel.sessions.copy_reps.typed.value = "1"
    panel.sessions.copy.click()
    panel.sessions.day.choice.value = 5
    panel.block.week.choice.value = 5
    panel.block.lighter.box.value = True
    panel.block.chance.typed.value = "85"
    panel.block.minutes.typed.value = "90"


def test_the_demo_block_is_built_to_the_digit(tmp_path) -> None:
    panel = builder()
    build_the_demo_block(panel)
    assert panel.trouble.value == ""
    built, lifter, room = panel.value, *panel.who_and_where
    assert built is not None
    assert built.expanded_sessions() == DEMO.expanded_sessions()
    assert built.model_dump(exclude={"sessions", "note"}) == DEMO.model_dump(exclude={"sessions", "note"})
    # The file that it writes reads back as the same block, and its plan is that of the demo's file, digit for digit.
    path = panel.save(tmp_path / "built.toml")
    assert read_block(path) == built
    ours, theirs = (check_block(block, lifter, room, draws=20) for block in (read_block(path), DEMO))
    assert ours.sets.equals(theirs.sets)
    assert ours.weeks.equals(theirs.weeks)
    assert panel.check is not None
    assert panel.check.sets.equals(check_block(DEMO, lifter, room, draws=20, seed=panel.seed).sets)


#: What the demo lacks, as a person would write it: by week, kg and lb of one hand, alternating, drops that end in reps.
OTHERS = {
    "name": "Every other kind",
    "weeks": 3,
    "sessions": [
        {
            "name": "session 1",
            "exercises": [
                {
                    "exercise": "dumbbell bench press",
                    "alternate_with_next": True,
                    "sets": [{"count": 3, "reps": 8, "kg": 17.5, "each_hand": True, "rest_s": 60.0}],
                },
                {
                    "exercise": "seated cable row",
                    "ramp": False,
                    "sets": [
                        {
                            "count": 2,
                            "reps": 10,
                            "lb": 90.0,
                            "rest_s": 60.0,
                            "seconds_per_rep": 4.0,
                            "progression": {
                                "rule": "by week",
                                "load": [90.0, 95.0, 100.0],
                                "reps": [10, 9, 8],
                                "sets": [2, 2, 3],
                            },
                        },
                        {
                            "reps": 10,
                            "percent": 60.0,
                            "rest_s": 90.0,
                            "note": "slowly",
                            "drops": {"sizes": [20.0], "change_s": 15.0, "reps": [4, 6]},
                        },
                    ],
                },
                {
                    "exercise": "barbell bench pull",
                    "equipment": "short bar",
                    "sets": [{"count": 2, "reps": 6, "reps_in_reserve": 2.0, "rest_s": 90.0}],
                },
            ],
        }
    ],
}


def test_every_other_kind_of_set_group_is_built_too() -> None:
    panel = builder()
    panel.block.name.typed.value = "Every other kind"
    panel.block.weeks.typed.value = "3"
    find(panel, "db bench", "dumbbell bench press")
    panel.begin.click()
    set_group(panel, way="kg", load="2 x 17,5 kg", sets="3", reps="8", rest="60")
    add(panel, "cable row", "seated cable row", way="lb", load="90 lb", sets="2", reps="10", rest="60")
    set_group(panel, rule="by week", loads_by_week="90, 95, 100", reps_by_week="10 9 8", sets_by_week="2, 2, 3")
    set_group(panel, seconds_per_rep="4 s")
    panel.exercises.ramp.box.value = False
    panel.exercises.add_group.click()
    set_group(panel, way="percent", load="60", sets="1", reps="10", rest="90", seconds_per_rep="")
    set_group(panel, note="slowly", drops="20 %", drop_change="15", drop_reps="4-6")
    add(panel, "bench pull", "barbell bench pull", sets="2", reps="6", rest="90")
    panel.exercises.piece.choice.value = "short bar"
    panel.exercises.place.value = Where(1, 1, 1)
    panel.exercises.alternate.box.value = True
    assert panel.value == validate(OTHERS, Block)


def test_the_rule_of_a_set_group() -> None:
    """Typed, limits shown only where they bind, taken away again; none where no reps are to be made."""
    panel = builder(DEMO)
    fields = panel.exercises.group.adjust

    def rule() -> object:
        adjust = panel.value.sessions[0].exercises[0].sets[0].adjust
        return None if adjust is None else adjust.model_dump(exclude_defaults=True)

    def is_shown(name: str) -> bool:
        return getattr(fields, name).layout.display != "none"

    assert rule() is None
    assert [is_shown(name) for name in ("lower", "lowest", "increase", "end_after")] == [True, False, True, True]
    fields.lower.typed.value = "7,5 %"
    assert rule() == {"lower": 7.5}
    assert is_shown("lowest")
    fields.lowest.typed.value = "85"
    fields.end_after.typed.value = "2"
    assert rule() == {"lower": 7.5, "lowest": 85.0, "end_after": 2}
    assert not is_shown("highest")
    fields.increase.typed.value = "2.5"
    fields.increase_from.typed.value = "3"
    fields.highest.typed.value = "102.5"
    assert rule() == {
        "lower": 7.5,
        "lowest": 85.0,
        "end_after": 2,
        "increase": 2.5,
        "increase_from": 3.0,
        "highest": 102.5,
    }
    fields.highest.typed.value = "150"
    assert "out of range" in fields.highest.problem
    for name in ("lower", "increase", "end_after"):
        getattr(fields, name).typed.value = ""
    assert rule() is None
    set_group(panel, reps="failure")
    assert not is_shown("lower")


def test_an_edit_is_one_step_that_can_be_undone_and_made_again() -> None:
    panel, told = builder(DEMO), []
    panel.on_edit(told.append)
    set_group(panel, load="67,5")
    set_group(panel, sets="4")
    assert [block.sessions[0].exercises[0].sets[0].count for block in told] == [5, 4]
    panel.undo.click()
    panel.undo.click()
    assert panel.value == DEMO
    assert panel.exercises.group.load.typed.value == "65"
    assert panel.undo.disabled
    panel.redo.click()
    assert panel.value == told[0]
    assert len(told) == 5
    set_group(panel, reps="5")
    assert panel.redo.disabled


def test_the_forecast_follows_every_edit_and_is_that_of_the_check() -> None:
    panel = builder(DEMO)
    before, check = panel.answer.value, panel.check
    assert "Before the last edit" not in before
    set_group(panel, load="60")
    assert panel.answer.value != before
    then = (
        f"about {check.sets['missed'].sum():.0f} reps missed, none with a chance of {100 * check.chance_of_block:.0f} %"
    )
    assert f"Before the last edit: {then}." in panel.answer.value
    lifter, room = panel.who_and_where
    assert panel.check.sets.equals(check_block(panel.value, lifter, room, draws=20, seed=panel.seed).sets)
    # 0.60 of 90 kg is 54 kg; on the long bar of 20 kg with collars of 5 kg the nearest is made of 14.5 kg a side.
    assert f"{panel.check.sets['load_kg'].iloc[0]:g} kg: 20 bar" in panel.plates.value
    for place in (panel.grid, panel.muscles, panel.cautions):
        assert place.value


@pytest.mark.parametrize(
    ("keys", "said"),
    [
        ({"percent": 65, "progression": {"rule": "step", "step": 2.5}}, "3 × 8 at 65 %, +2.5 a week"),
        ({"kg": 60, "progression": {"rule": "step", "step": 0, "reps_step": -1}}, "3 × 8 with 60 kg, -1 reps a week"),
        ({"percent": 65, "progression": {"rule": "wave", "length": 2, "step": 2, "rise": 2}}, "3 × 8 at 65 %, wave"),
        ({"reps_in_reserve": 2}, "3 × 8 leaving 2"),
    ],
)
def test_a_set_group_says_what_changes_from_week_to_week(keys: dict[str, object], said: str) -> None:
    assert group_said(validate({"count": 3, "reps": 8, "rest_s": 120, **keys}, SetGroup)) == said


@pytest.mark.parametrize(
    ("field", "typed", "said"),
    [
        ("load", "115", "week 4 asks for 122.5 % of 1RM"),
        ("load", "sixty", "type it as 70"),
        ("load", "", "is blank"),
        ("sets", "21", "use 1 to 20"),
        ("reps", "0", "use 1 to 100"),
        ("rest", "3", "could be 3 seconds or 3 minutes"),
        ("step", "1,250", "could be"),
        ("drops", "95", "out of range"),
    ],
)
def test_what_cannot_be_taken_is_said_at_the_field_and_changes_nothing(field: str, typed: str, said: str) -> None:
    panel = builder(DEMO)
    typed_into = getattr(panel.exercises.group, field)
    before = typed_into.value
    if not typed:
        typed_into.typed.value = "70"
        before = 70.0
    unchanged = panel.value
    typed_into.typed.value = typed
    assert panel.value is unchanged
    assert typed_into.value == before
    assert typed_into.said.value.startswith("Not taken: ")
    assert said in typed_into.problem
    assert typed_into.typed.value == typed


def test_a_way_that_cannot_be_goes_back_to_the_one_before() -> None:
    panel = builder(DEMO)
    set_group(panel, reps="failure", rule="none")
    to_failure, way = panel.value, panel.exercises.group.way
    way.choice.value = "reps_in_reserve"
    assert way.choice.value == "percent"
    assert way.problem == (
        "Not taken: a set to failure leaves nothing in reserve; give the load in another way, or reps as a number."
    )
    assert panel.value == to_failure


def test_a_part_of_an_earlier_group_is_offered_where_there_is_one() -> None:
    panel = builder(DEMO)
    assert "part" not in [way for _, way in panel.exercises.group.way.choice.options]
    panel.exercises.add_group.click()
    assert "part" in [way for _, way in panel.exercises.group.way.choice.options]


def test_the_last_exercise_has_none_to_alternate_with() -> None:
    panel = builder(DEMO)
    panel.exercises.place.index = len(panel.exercises.place.options) - 1
    panel.exercises.alternate.box.value = True
    assert panel.exercises.alternate.box.value is False
    assert "add the other one first" in panel.exercises.alternate.problem
    assert panel.value == DEMO


def test_an_edit_makes_no_field_anew() -> None:
    """A field that is made anew where it is shown takes the keyboard and what is half typed away."""
    panel = builder(DEMO)
    fields = panel.exercises.group.box.children
    set_group(panel, way="percent", reps="5", rule="wave", drops="25")
    panel.exercises.add_group.click()
    set_group(panel, way="part")
    assert panel.exercises.group.box.children == fields
    shown = {one for one in fields if one.layout.display != "none"}
    group = panel.exercises.group
    assert {group.of_group, group.load, group.drops, group.drop_change} <= shown
    assert not {group.rule, group.step, group.length} & shown


def test_a_set_without_reps_to_be_made_says_its_time_and_what_is_left() -> None:
    panel = builder()
    find(panel, "squat", "back squat")
    panel.begin.click()
    # USUAL_GROUP: 3 x 8 leaving 2; the load falls from set to set, and the first is said with its own percent.
    week = panel.check.sets[panel.check.sets["week"] == 1]
    first, last = week.iloc[0], week.iloc[-1]
    assert last["load_kg"] < first["load_kg"]
    assert f">{first['load_kg']:g} kg: 20 bar" in panel.plates.value
    assert f"; then {last['load_kg']:g} kg in the last set</td>" in panel.plates.value
    assert f"<td>{100 * first['load_kg'] / 120:.0f} %</td>" in panel.plates.value  # of the 1RM in the lifter's file
    assert "<td>2, as planned</td>" in panel.plates.value
    minutes = panel.check.weeks["minutes"].iloc[0]
    assert f"<td>{minutes:.0f}\u00a0min</td>" in panel.grid.value
    set_group(panel, way="percent", reps="failure")
    assert "<td>to failure</td>" in panel.plates.value


def test_another_way_begins_with_the_load_of_today() -> None:
    panel = builder(DEMO)
    # 58.5 kg is what the room makes of 65 % of 90 kg (forecast of the first set).
    kg = panel.check.sets["load_kg"].iloc[0]
    panel.exercises.group.way.choice.value = "kg"
    (group,) = panel.value.sessions[0].exercises[0].sets
    assert (group.kg, group.percent, group.progression) == (kg, None, None)
    assert group.each_hand is None


def test_sessions_and_exercises_are_moved_and_left_out() -> None:
    panel = builder(DEMO)
    panel.exercises.place.value = Where(1, 2, 1)
    panel.exercises.up.click()
    names = [slot.exercise for slot in panel.value.sessions[0].exercises]
    assert names == ["back squat", "barbell bench pull", "lat pulldown"]
    assert panel.exercises.slot.exercise == "back squat"
    panel.exercises.up.click()
    assert "first already" in panel.trouble.value
    panel.exercises.leave_out.click()
    assert [slot.exercise for slot in panel.value.sessions[0].exercises] == ["barbell bench pull", "lat pulldown"]
    assert panel.trouble.value == ""
    panel.sessions.later.click()
    assert [one.name for one in panel.value.sessions][:2] == ["Wednesday, legs and drops", "Monday, heavy pull"]
    assert panel.sessions.number == 2
    panel.sessions.leave_out.click()
    assert [one.name for one in panel.value.sessions] == ["Wednesday, legs and drops", "Friday, lighter pull"]


def test_one_press_applies_an_exchange_in_one_session_or_in_all() -> None:
    panel = builder(DEMO)
    panel.exercises.find_exchange.click()
    offered = [child for child in panel.exercises.offered.children if hasattr(child, "click")]
    assert offered
    name = offered[0].description.partition(" (keeps")[0]
    offered[0].click()
    assert [one.exercises[0].exercise for one in panel.value.expanded_sessions()] == [
        *(name, "Romanian deadlift", "barbell bench pull")
    ]
    panel.undo.click()
    panel.exercises.everywhere.value = True
    panel.exercises.find_exchange.click()
    panel.exercises.offered.children[1].click()
    assert [one.exercises[0].exercise for one in panel.value.expanded_sessions()] == [name, "Romanian deadlift", name]


def test_a_fixed_load_does_not_go_over_to_another_exercise() -> None:
    panel = builder(DEMO)
    panel.exercises.group.way.choice.value = "kg"
    panel.exercises.find_exchange.click()
    panel.exercises.offered.children[1].click()
    (group,) = panel.value.sessions[0].exercises[0].sets
    assert (group.kg, group.reps_in_reserve) == (None, 3.0)


def test_all_that_a_sore_joint_forbids_is_exchanged_by_one_press_and_brought_back_by_one() -> None:
    panel = builder(DEMO)
    lifter, room = panel.who_and_where
    assert panel.exchange_all.layout.display == "none"
    panel._lifter = lifter.model_copy(update={"avoid_positions": ["overhead", "chest pressed on the bench"]})
    panel.fill()
    assert panel.exchange_all.layout.display is None
    assert "barbell bench pull: the lifter file leaves it out" in panel.answer.value
    panel.exchange_all.click()
    exercises = [room.catalogue.exercise(slot.exercise) for one in panel.value.sessions for slot in one.exercises]
    kept = [one.name for one in exercises if "overhead" in one.joint_positions]
    # Every pull from above begins overhead: what nothing can stand for is said, and stays to be left out.
    assert not [one.name for one in exercises if "chest pressed on the bench" in one.joint_positions]
    assert kept == [] or ("lat pulldown" in panel.trouble.value and set(kept) == {"lat pulldown"})
    panel.undo.click()
    assert panel.value == DEMO


def test_what_the_room_has_nothing_for_is_named_and_exchanged_by_one_press() -> None:
    panel = builder(DEMO)
    _, room = panel.who_and_where
    others = [piece for piece in room.equipment if piece.kind != "stack"]
    entry = {"name": "Cellar", "unit": room.unit, "plates": room.plates, "equipment": others}
    panel._room = validate(entry, Room, context=room.catalogue)
    panel.fill()
    assert "Cellar: has nothing to load lat pulldown with; exchange it" in panel.trouble.value
    assert panel.exchange_all.layout.display is None
    panel.exchange_all.click()
    slots = [slot.exercise for session in panel.value.sessions for slot in session.exercises]
    left = {name for name in slots if not panel._room.can_load(room.catalogue.exercise(name))}
    # What nothing here can stand for stays, and is said.
    assert left < {"lat pulldown", "seated cable row"}
    assert all(name in panel.trouble.value for name in left)


def test_a_scheme_takes_the_place_of_the_sets() -> None:
    panel = builder(DEMO)
    panel.exercises.scheme.value = "top set with back-offs"
    panel.exercises.use_scheme.click()
    sets = panel.value.sessions[0].exercises[0].sets
    assert [group.way for group in sets] == ["percent", "part"]
    # 7.5 points above the 65 % that the exercise had; 5 sets in all.
    assert (sets[0].percent, sets[0].count + sets[1].count) == (72.5, 5)


def test_a_search_offers_what_room_and_lifter_can_do_and_says_what_not() -> None:
    panel = builder(DEMO)
    panel.finder.text.value = "hack squat"
    shown = [text for text, _ in panel.finder.found.options]
    assert any("hack squat (" in text and "names no hack squat machine" in text for text in shown)
    panel.finder.text.value = ""
    panel.finder.muscle.value = "calves"
    names = [name for _, name in panel.finder.found.options]
    assert "dumbbell calf raise" in names
    assert "seated calf raise" not in names
    panel.finder.all.value = True
    assert "seated calf raise" in [name for _, name in panel.finder.found.options]
    panel.finder.text.value = "qqqq"
    assert "own exercise" in panel.finder.said.value
    assert panel.finder.chosen is None
    panel.add.click()
    assert "find one first" in panel.trouble.value


def test_nothing_planned_says_how_to_begin() -> None:
    panel = builder()
    assert "begin the first session" in panel.answer.value
    assert panel.trouble.value == ""
    with pytest.raises(ValueError, match="begin the first session"):
        panel.toml()


def test_the_fields_of_a_lighter_week_open_on_the_one_there_is_and_stay_where_the_coach_went() -> None:
    panel = builder(DEMO)  # whose fifth week is lighter
    assert (panel.block.week.value, panel.block.lighter.box.value) == (5, True)
    assert panel.block.lighter_load.layout.display is None
    panel.block.week.choice.value = 2
    panel.block.minutes.typed.value = "80"
    assert (panel.block.week.value, panel.block.lighter.box.value) == (2, False)
    begin(fresh := builder(), "bench pull", "barbell bench pull", "Monday", 1)
    assert fresh.value is not None
    assert fresh.block.week.value == fresh.value.weeks  # where a lighter one is usually put


def test_cautions_begin_with_the_exercises_that_they_are_about() -> None:
    panel = builder(DEMO)
    assert "back squat: Use a spotter or safety arms for free-weight sets near failure." in panel.cautions.value
