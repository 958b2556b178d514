"""The exercise catalogue: every row complete, every spelling clear, every number with its source."""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from typing import get_args

import numpy as np
import pytest

from workbench.gym import catalogue
from workbench.gym.catalogue.vocabulary import Sides
from workbench.quantities import ENDURANCE_CLASSES, InputError
from workbench.reference.sources import data_path, sources

GRADES = {"published", "derived", "recalled", "assumed"}
#: Every piece of equipment that an exercise may ask a room for, so that a misspelling does not make a new one.
EQUIPMENT = {
    *("angled curl bar", "ankle hold", "back-extension bench", "back-extension machine", "belt squat machine"),
    *("bench", "blocks", "box", "cable", "cable row", "chest press machine", "crunch machine", "curl machine"),
    *("decline bench", "dip bars", "exercise ball", "fly machine", "glute-ham bench"),
    *("hack squat machine", "high bench", "hip abduction machine", "hip adduction machine", "hip thrust machine"),
    *("incline bench", "lateral raise machine", "leg curl machine", "leg extension machine", "leg press"),
    *("pivot holder", "preacher bench", "pull-up bar", "pulldown", "rack", "roll-out wheel", "row machine"),
    *(
        "seated calf machine",
        "seated leg curl machine",
        "shoulder press machine",
        "Smith machine",
        "standing calf machine",
        "step",
    ),
    *("suspension straps", "trap bar", "triceps machine", "upright bench"),
}
ALL = list(catalogue.exercises().values())


def rows_of(name: str) -> list[dict[str, str]]:
    """Read a data file without the catalogue's own reader."""
    return list(csv.DictReader(io.StringIO(data_path(name).read_text(encoding="utf-8"))))


def test_there_are_at_least_230_exercises_and_every_row_of_the_file_is_one():
    names = [row["name"] for row in rows_of("exercises.csv")]
    assert len(names) >= 230
    assert len(set(names)) == len(names)
    assert list(catalogue.exercises()) == names


@pytest.mark.parametrize("one", ALL, ids=lambda one: one.name)
def test_every_row_is_complete_and_uses_the_fixed_words(one):
    assert one.name == one.name.strip()
    assert one.movement_pattern in catalogue.MOVEMENT_PATTERNS
    assert one.implement in catalogue.IMPLEMENTS
    assert one.sides in get_args(Sides)
    assert one.endurance_class in ENDURANCE_CLASSES
    assert set(one.equipment) <= EQUIPMENT
    assert set(one.joint_positions) <= set(catalogue.joint_positions())
    assert len(set(one.joint_positions)) == len(one.joint_positions)
    assert 10 <= len(one.range_of_motion) <= 80
    assert 0 < one.setup_s <= 180
    assert 0 <= one.change_load_s <= 60
    assert 1 <= one.seconds_per_rep <= 10
    assert one.source in sources()
    assert one.grade in GRADES


@pytest.mark.parametrize("one", ALL, ids=lambda one: one.name)
def test_every_exercise_has_a_direct_muscle_and_every_share_a_birthplace(one):
    assert one.direct_muscles
    muscles = [part.muscle for part in one.muscles]
    assert len(set(muscles)) == len(muscles)
    assert set(muscles) <= set(catalogue.MUSCLES)
    for part in one.muscles:
        assert 0 < part.share <= 1
        assert part.grade in GRADES
        assert part.source in sources()
        if part.share != 1:
            assert part.reason, f"{one.name}, {part.muscle}: a share below 1 says why"
        if part.grade != "assumed":
            assert part.source != "trade_prior", f"{one.name}, {part.muscle}: the trade is no study"


@pytest.mark.parametrize("one", ALL, ids=lambda one: one.name)
def test_body_mass_counts_in_bodyweight_exercises_only_and_says_where_from(one):
    assert (one.body_mass_share > 0) == (one.implement == "bodyweight")
    assert 0 <= one.body_mass_share <= 1
    assert (one.body_mass_source in sources()) == (one.body_mass_share > 0)
    assert (one.body_mass_grade in GRADES) == (one.body_mass_share > 0)


def test_changing_a_load_takes_longest_with_a_bar():
    times = {
        implement: [one.change_load_s for one in ALL if one.implement == implement]
        for implement in ("barbell", "dumbbells", "stack")
    }
    assert max(times["stack"]) < min(times["dumbbells"])
    assert max(times["dumbbells"]) < min(times["barbell"])


def test_a_one_sided_rep_takes_the_time_of_both_sides():
    for narrow, wide in (("leg extension", "one-leg leg extension"), ("machine row", "one-arm cable row")):
        assert catalogue.exercise(wide).seconds_per_rep == 2 * catalogue.exercise(narrow).seconds_per_rep


def test_every_fixed_word_is_used():
    assert {one.movement_pattern for one in ALL} == set(catalogue.MOVEMENT_PATTERNS)
    assert {one.implement for one in ALL} == set(catalogue.IMPLEMENTS)
    assert {one.endurance_class for one in ALL} == set(ENDURANCE_CLASSES)
    assert {muscle for one in ALL for muscle in one.direct_muscles} == set(catalogue.MUSCLES)
    assert {item for one in ALL for item in one.equipment} == EQUIPMENT
    assert {item for one in ALL for item in one.joint_positions} == set(catalogue.joint_positions())


# Checked by hand against what a set of the exercise asks of a lifter and a room.
HAND_CHECKED = {
    "back squat": ("squat", "barbell", {"rack"}, {"quadriceps", "glutes"}, {"deep knee flexion"}),
    "Romanian deadlift": ("hinge", "barbell", set(), {"hamstrings", "glutes"}, {"trunk bent forward under load"}),
    "bench press": ("horizontal press", "barbell", {"bench", "rack"}, {"chest"}, {"bar over the body"}),
    "overhead press": ("vertical press", "barbell", {"rack"}, {"front shoulder"}, {"overhead"}),
    "barbell bench pull": ("horizontal pull", "barbell", {"high bench"}, {"upper back", "latissimus"}, set()),
    "lat pulldown": ("vertical pull", "stack", {"pulldown"}, {"latissimus"}, {"overhead"}),
    "pull-up": ("vertical pull", "bodyweight", {"pull-up bar"}, {"latissimus"}, {"hang from straight arms"}),
    "one-arm dumbbell row": ("horizontal pull", "dumbbell", {"bench"}, {"upper back", "latissimus"}, set()),
    "cable curl": ("elbow flexion", "stack", {"cable"}, {"biceps"}, {"elbow extended under load"}),
    "machine chest fly": ("fly", "stack", {"fly machine"}, {"chest"}, {"shoulder stretch under load"}),
    "leg extension": (
        "knee extension",
        "stack",
        {"leg extension machine"},
        {"quadriceps"},
        {"knee straightened against load"},
    ),
    "dip": ("horizontal press", "bodyweight", {"dip bars"}, {"chest", "triceps"}, {"deep shoulder extension"}),
}


@pytest.mark.parametrize("name", HAND_CHECKED)
def test_rows_checked_by_hand(name):
    pattern, implement, equipment, direct, positions = HAND_CHECKED[name]
    one = catalogue.exercise(name)
    assert one.name == name
    assert (one.movement_pattern, one.implement, set(one.equipment)) == (pattern, implement, equipment)
    assert set(one.direct_muscles) == direct
    assert positions <= set(one.joint_positions)


def test_the_studies_are_carried_over_as_they_stand():
    def share(name: str, muscle: str) -> tuple[float, str, str]:
        (part,) = [part for part in catalogue.exercise(name).muscles if part.muscle == muscle]
        return part.share, part.grade, part.source

    # Chest grew with the bench press alone, triceps much less (Brandao 2020): direct and indirect.
    assert share("bench press", "chest") == (1.0, "published", "brandao_2020")
    assert share("bench press", "triceps") == (0.5, "published", "pelland_2024")
    # 5.16 % / 11.06 % = 0.47 (Mannarino 2021), rounded to the half of the counting rule.
    assert share("one-arm dumbbell row", "biceps") == (0.5, "derived", "mannarino_2021")
    # No growth of the hamstrings with squats (Plotkin 2023, Kubo 2019): they do not count.
    assert "hamstrings" not in [part.muscle for part in catalogue.exercise("back squat").muscles]
    # The side of the shoulder does next to nothing in a bench press: 5 % against 30 % of a raise (Campos 2020).
    assert "side shoulder" not in [part.muscle for part in catalogue.exercise("bench press").muscles]


def test_the_matrix_holds_every_row_of_the_file_and_nothing_else():
    names, muscles, shares = catalogue.built_in().muscle_shares
    assert names == tuple(catalogue.exercises())
    assert muscles == catalogue.MUSCLES
    assert shares.shape == (len(names), len(muscles))
    slow = [[0.0] * len(muscles) for _ in names]
    for row in rows_of("muscle_shares.csv"):
        slow[names.index(row["exercise"])][muscles.index(row["muscle"])] += float(row["share"])
    np.testing.assert_array_equal(shares, slow)
    with pytest.raises(ValueError, match="read-only"):
        shares[0, 0] = 2.0


def test_every_alias_leads_to_the_exercise_of_its_row_or_asks():
    rows = rows_of("exercise_aliases.csv")
    spellings = Counter(re.sub(r"[^a-z0-9]", "", row["alias"].lower()) for row in rows)
    assert [spelling for spelling, count in spellings.items() if count > 1] == []
    for row in rows:
        targets = row["exercise"].split(";")
        assert set(targets) <= set(catalogue.exercises()), row
        if len(targets) == 1:
            assert catalogue.exercise(row["alias"]).name == targets[0]
        else:
            with pytest.raises(InputError) as caught:
                catalogue.exercise(row["alias"])
            assert "may mean several exercises" in caught.value.problem
            assert all(target in caught.value.remedy for target in targets)


@pytest.mark.parametrize(
    ("written", "name"),
    [
        ("RDL", "Romanian deadlift"),
        ("bb row", "barbell row"),
        ("db curl", "dumbbell curl"),
        ("lat pull down", "lat pulldown"),
        ("Bench", "bench press"),
        ("O.H.P.", "overhead press"),
        ("  BACK   squats ", "back squat"),
        ("pull ups", "pull-up"),
        ("Pullups", "pull-up"),
        ("chin_up", "chin-up"),
        ("Single-Arm DB Rows", "one-arm dumbbell row"),
        ("1-arm dumbbell row", "one-arm dumbbell row"),
        ("Squat (Barbell)", "back squat"),
        ("Press, bench", "bench press"),
        ("dumbbell flyes", "dumbbell fly"),
        ("Flys, dumbbell", "dumbbell fly"),
        ("standing calf raises", "calf raise"),
        ("farmer\u2019s walk", "farmer carry"),
        ("Romänian deadlift", "Romanian deadlift"),
        ("triceps push-downs", "triceps pushdown"),
        ("tricep pushdown", "triceps pushdown"),
        ("cable crunches", "cable crunch"),
        ("knee extensions", "leg extension"),
    ],
)
def test_spellings_that_logs_hold(written, name):
    assert catalogue.exercise(written).name == name


@pytest.mark.parametrize(
    ("written", "wanted"),
    [("bnch press", "bench press"), ("legpres", "leg press"), ("lat puldown", "lat pulldown"), ("sqat", "back squat")],
)
def test_an_unknown_name_gets_up_to_three_close_ones(written, wanted):
    with pytest.raises(InputError, match="unknown exercise") as caught:
        catalogue.exercise(written)
    assert caught.value.remedy.startswith(f"did you mean {wanted}")
    offered = caught.value.remedy.removeprefix("did you mean ").removesuffix("?").split(" or ")
    assert 1 <= len(offered) <= 3
    assert set(offered) <= set(catalogue.exercises())


@pytest.mark.parametrize("written", ["", "   ", "---", "qqqq", "=1+1", "x" * 10_000])
def test_what_is_like_no_exercise_says_where_to_look(written):
    with pytest.raises(InputError, match="unknown exercise") as caught:
        catalogue.exercise(written)
    assert "search" in caught.value.remedy
    assert len(str(caught.value)) < 200


def test_search_puts_the_name_before_the_rest_and_wants_every_word():
    assert catalogue.built_in().search("bench press")[0].name == "bench press"
    found = [one.name for one in catalogue.built_in().search("kettlebell hinge")]
    assert found == ["kettlebell swing", "kettlebell deadlift"]
    assert {"barbell curl", "cable curl", "hammer curl"} <= {one.name for one in catalogue.built_in().search("biceps")}
    assert {one.implement for one in catalogue.built_in().search("stack triceps")} == {"stack"}
    assert catalogue.built_in().search("bnch press")[0].name == "bench press"
    assert catalogue.built_in().search("qqqq") == []
    assert catalogue.built_in().search("") == ALL


#: What people type = an exercise that must be among the first three found.
TYPED = dict(
    line.split(" = ")
    for line in """
flye = dumbbell fly
flyes = dumbbell fly
flys = cable fly
pec dec = machine chest fly
dips = dip
weighted dips = dip
bench dips = bench dip
assisted dips = assisted dip
skull crusher = lying triceps extension
skullcrushers = lying triceps extension
nosebreakers = lying triceps extension
push downs = triceps pushdown
kickbacks = triceps kickback
squats = back squat
benching = bench press
presses = bench press
rowing = barbell row
rows = one-arm dumbbell row
curls = barbell curl
raises = lateral raise
laterals = lateral raise
pullups = pull-up
chins = chin-up
assisted pull ups = assisted pull-up
muscle ups = muscle-up
smith = Smith machine squat
smith bench = Smith machine bench press
smith machine rows = Smith machine row
smith lunges = Smith machine lunge
smith machine press = Smith machine shoulder press
guided bar = Smith machine front squat
incline raises = incline lateral raise
incline front raises = incline front raise
y raises = Y raise
plate raise = plate front raise
plate presses = plate bench press
plate overhead press = plate overhead press
partial deadlifts = rack pull above the knee
pin press = pin bench press
board press = board bench press
half squats = half squat
half curls = half curl
lockouts = rack pull above the knee
situps = sit-up
planks = plank
leg raises = lying leg raise
clamshells = side-lying hip abduction
donkey calf raises = bent-over calf raise
pistol squats = one-leg squat
spider curls = prone incline curl
thrusters = front squat to press
clean and jerk = power clean
jerks = push jerk
hang snatches = hang power snatch
""".strip().splitlines()
)


@pytest.mark.parametrize("written", TYPED)
def test_plain_words_of_the_trade_find_what_is_meant(written):
    found = [one.name for one in catalogue.built_in().search(written)]
    assert TYPED[written] in found[:3]


def test_every_name_alias_and_unclear_word_finds_its_exercise_with_and_without_its_plural():
    found = catalogue.built_in().search
    for row in rows_of("exercise_aliases.csv"):
        targets = set(row["exercise"].split(";"))
        for written in (row["alias"].upper(), f"{row['alias']}s"):
            if catalogue.built_in().knows(written) or len(targets) > 1:
                assert targets <= {one.name for one in found(written)[: len(targets)]}, written
    for one in ALL:
        assert found(one.name)[0] == one


def test_a_word_for_a_muscle_finds_what_trains_it_directly_first():
    rows = rows_of("muscle_words.csv")
    assert len({row["word"] for row in rows}) == len(rows)
    for row in rows:
        muscles = set(row["muscles"].split(";"))
        assert muscles <= set(catalogue.MUSCLES), row
        direct = [one for one in ALL if muscles & set(one.direct_muscles)]
        found = catalogue.built_in().search(row["word"])
        meant = int(catalogue.built_in().knows(row["word"]))
        assert set(found[: len(direct) + meant]) >= set(direct), row


def test_every_position_has_one_short_caution_and_says_whom_to_ask():
    rows = rows_of("cautions.csv")
    assert len({row["topic"] for row in rows}) == len(rows)
    positions = {topic for topic, one in catalogue.cautions().items() if one.kind == "position"}
    assert positions == set(catalogue.joint_positions())
    for one in catalogue.cautions().values():
        assert one.kind in {"general", "situation", "position"}
        assert one.show in {"always", "on request"}
        assert one.sentence.endswith(".")
        assert len(one.sentence) <= 120
        assert one.who_to_see
        assert one.source in sources()
        assert one.grade in GRADES
        # To name a condition would be a diagnosis.
        assert not re.search(r"impinge|tear|tendin|hernia|syndrome|arthr|strain|sprain|bursit", one.sentence)


def test_the_cautions_cover_who_when_and_where_and_these_are_always_shown():
    general = " ".join(one.sentence.lower() for one in catalogue.general_cautions() if one.show == "always")
    for word in (
        "healthy",
        "experienced",
        "qualified coach",
        "stop on pain",
        "pregnant",
        "under 18",
        "ill",
        "on medicine",
        "faintness",
        "young or old",
        "weeks off",
        "local codes",
    ):
        assert word in general
    situations = {
        topic for topic, one in catalogue.cautions().items() if (one.kind, one.show) == ("situation", "always")
    }
    assert {"spotters", "heavy overhead work", "maximal singles", "more volume"} <= situations


def test_few_cautions_of_a_session_are_always_shown():
    # A whole session of a rower's block: the page shows four lines about positions, not twenty.
    session = [
        "back squat",
        "barbell bench pull",
        "lat pulldown",
        "Romanian deadlift",
        "dumbbell curl",
        "leg extension",
    ]
    found = catalogue.cautions_for(catalogue.exercise(name) for name in session)
    shown = {one.topic: names for one, names in found.items() if one.show == "always"}
    assert shown == {
        "bar over the body": ("back squat",),
        "chest pressed on the bench": ("barbell bench pull",),
        "overhead": ("lat pulldown",),
        "loaded spinal flexion": ("Romanian deadlift",),
    }


def test_cautions_of_a_session_come_once_with_the_exercises_they_concern():
    chosen = [catalogue.exercise(name) for name in ("dip", "incline dumbbell curl", "dip")]
    found = {one.topic: names for one, names in catalogue.cautions_for(chosen).items()}
    assert found == {
        "deep shoulder extension": ("dip", "incline dumbbell curl"),
        "shoulder stretch under load": ("dip",),
        "elbow extended under load": ("incline dumbbell curl",),
    }
    assert catalogue.cautions_for([]) == {}


def test_avoiding_overhead_leaves_presses_and_pulls_to_exchange_to():
    avoided = {"overhead", "deep shoulder extension", "shoulder stretch under load"}
    left = {one.movement_pattern for one in ALL if not avoided & set(one.joint_positions)}
    assert {"horizontal press", "vertical press", "horizontal pull", "shoulder raise"} <= left
    pulls_left = {
        one.name for one in ALL if one.movement_pattern == "vertical pull" and "overhead" not in one.joint_positions
    }
    assert pulls_left == set(), "every pull from above starts with the arms overhead"
