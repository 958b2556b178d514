"""Files that cannot be used: each ends in one clear line and exit code 2, and never in a traceback."""

from pathlib import Path

import pytest

from workbench.__main__ import main
from workbench.reference.sources import data_path

BAD = Path(__file__).parent / "bad_files"
DEMO = data_path("demo")
GOOD = {
    "block": DEMO / "block.toml",
    "lifter": DEMO / "lifters" / "emre_sandoval.toml",
    "room": DEMO / "rooms" / "boathouse_hall.toml",
}

#: File -> what the line must name: the place, and a word of the remedy.
BLOCKS = {
    "typo_key.toml": ("sessions.1.exercises.1.sets.1", "percnt"),
    "negative_rest.toml": ("sessions.1.exercises.1.sets.1.rest_s", "greater than or equal to 0"),
    "unknown_exercise.toml": ("bakc sqat", "back squat"),
    "percent_over_120.toml": ("sessions.1.exercises.1.sets.1.percent", "120"),
    "text_for_a_number.toml": ("weeks", "whole number without quotes"),
    "two_loads.toml": ("sessions.1.exercises.1.sets.1", "exactly one"),
    "no_load.toml": ("sessions.1.exercises.1.sets.1", "exactly one"),
    "reps_backwards.toml": ("sessions.1.exercises.1.sets.1.reps", "lower number first"),
    "reps_word.toml": ("sessions.1.exercises.1.sets.1.reps", "failure"),
    "true_for_a_number.toml": ("sessions.1.exercises.1.sets.1.percent", "give a number"),
    "not_toml.toml": ("not valid TOML", "line 2"),
    "empty.toml": ("empty", "data/demo"),
    "binary.toml": ("not UTF-8", "save it as UTF-8"),
    "part_of_itself.toml": ("sessions.1.exercises.1", "no earlier"),
    "too_few_weekly_values.toml": ("1 values of load for 2 weeks", "give 2"),
    "unknown_rule.toml": ("progression", "step"),
    "repeat_of_nothing.toml": ("repeat_of 'c'", "earlier ones: a"),
    "lighter_week_after_the_end.toml": ("week 9 of 2", "use 1 to 2"),
    "zero_weeks.toml": ("weeks", "greater than or equal to 1"),
    "infinite_percent.toml": ("sessions.1.exercises.1.sets.1.percent", "120"),
    "not_a_number_rest.toml": ("sessions.1.exercises.1.sets.1.rest_s", "nan does not fit"),
    "two_sessions_of_one_name.toml": ("two sessions are named 'a'", "own name"),
}
LIFTERS = {
    "typo_key.toml": ("lifts.back squat", "one_rm_kgs"),
    "both_units.toml": ("lifts.back squat", "exactly one of one_rm_kg, one_rm_lb"),
    "unit_in_text.toml": ("lifts.back squat.one_rm_kg", "number without quotes"),
    "unknown_exercise.toml": ("bakc sqat", "back squat"),
    "negative_max.toml": ("lifts.back squat.one_rm_kg", "greater than or equal to 0.1"),
    "max_of_next_to_nothing.toml": ("lifts.leg press.one_rm_lb", "greater than or equal to 0.1"),
    "max_from_next_to_nothing.toml": ("lifts.leg press.from_set.kg", "greater than or equal to 0.1"),
    "no_lifts.toml": ("lifts", "is missing"),
    "same_lift_twice.toml": ("back squat twice", "keep one"),
    "unknown_position.toml": ("avoid_positions", "unknown position 'upside down'"),
    "unknown_sex_word.toml": ("sex", "'female' or 'male'"),
    "endurance_twice.toml": ("lifts.back squat", "not both"),
    "guess_with_a_width_of_its_own.toml": ("lifts.back squat", "from_set says where the 1RM comes from", "remove"),
    "kept_low_by_nobody_knows.toml": ("lifts.back squat", "belong together", "give both or neither"),
    "unknown_origin.toml": ("lifts.back squat.known_from", "'tested lately'"),
    "new_number_beside_an_old_interval.toml": ("lifts.back squat", "118 to 125 does not hold 130", "remove it"),
    "correlations_that_cannot_be.toml": ("together", "cannot all hold at once", "each stands alone"),
    "correlations_of_too_few.toml": ("together", "no triangle for 3 quantities", "a row"),
    "correlation_of_nothing.toml": ("together.quantities", "'back squat, courage'", "back squat, endurance"),
    "the_other_way_round.toml": ("together.others.gain", "0.4, 0.1, -0.2 do not rise", "low end, middle"),
    "missing_lift.toml": ("has no 1RM for barbell bench pull", "one_rm_kg"),
}


def check_with(**changed):
    files = {**GOOD, **changed}
    return main(
        ["check", str(files["block"]), "--lifter", str(files["lifter"]), "--room", str(files["room"]), "--draws", "10"]
    )


def one_line(captured):
    lines = captured.err.splitlines()
    assert len(lines) == 1, captured.err
    assert captured.out == ""
    assert "Traceback" not in lines[0]
    return lines[0]


def test_the_good_files_are_good(capsys):
    assert check_with() == 0
    assert capsys.readouterr().err == ""


def test_every_bad_file_is_listed():
    assert {path.name for path in (BAD / "blocks").iterdir()} == set(BLOCKS)
    assert {path.name for path in (BAD / "lifters").iterdir()} == set(LIFTERS)


@pytest.mark.parametrize(("name", "words"), BLOCKS.items(), ids=BLOCKS.keys())
def test_bad_block(name, words, capsys):
    path = BAD / "blocks" / name
    assert check_with(block=path) == 2
    line = one_line(capsys.readouterr())
    assert str(path) in line
    for word in words:
        assert word in line, line


@pytest.mark.parametrize(("name", "words"), LIFTERS.items(), ids=LIFTERS.keys())
def test_bad_lifter(name, words, capsys):
    path = BAD / "lifters" / name
    assert check_with(lifter=path) == 2
    line = one_line(capsys.readouterr())
    assert str(path) in line
    for word in words:
        assert word in line, line


@pytest.mark.parametrize("kind", ["block", "lifter", "room"])
@pytest.mark.parametrize(
    ("content", "word"),
    [
        (b"x = 1\n" * 400_000, "bytes"),
        (b"x = " + b"[" * 5000 + b"]" * 5000, "nested too deeply"),
        (b"x = " + b"[" * 200 + b"]" * 200, "nested too deeply"),
        (b"x = " + b"9" * 6000, "too long"),
        (b"x = 0x" + b"f" * 6000, "too long"),
        (b"\xff\xfe\x00\x01", "UTF-8"),
        (b"   \n", "empty"),
    ],
    ids=["huge", "nested bomb", "nested", "long number", "long hexadecimal", "binary", "blank"],
)
def test_hostile_file(kind, content, word, tmp_path, capsys):
    path = tmp_path / "file.toml"
    path.write_bytes(content)
    assert check_with(**{kind: path}) == 2
    line = one_line(capsys.readouterr())
    assert str(path) in line
    assert word in line


@pytest.mark.parametrize("kind", ["block", "lifter", "room"])
def test_a_folder_or_nothing(kind, tmp_path, capsys):
    for path in (tmp_path, tmp_path / "absent.toml"):
        assert check_with(**{kind: path}) == 2
        assert str(path) in one_line(capsys.readouterr())
