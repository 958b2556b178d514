"""Commands of comparing, deciding, the team, committing and handing out: what they print, write and return."""

import json

import pytest

from workbench.__main__ import command_line
from workbench.prescription.block import read_block
from workbench.prescription.schemes import constant_step, exercise_block
from workbench.quantities import InputError
from workbench.reference.sources import data_path
from workbench.reference.toml_files import toml_text

DEMO = data_path("demo")
BLOCK = str(DEMO / "block.toml")
WHO = ("--lifter", str(DEMO / "lifters" / "emre_sandoval.toml"), "--room", str(DEMO / "rooms" / "boathouse_hall.toml"))


@pytest.fixture
def run(capsys):
    def call(*words):
        arguments = command_line().parse_args([str(word) for word in words])
        capsys.readouterr()
        code = arguments.run(arguments)
        return code, capsys.readouterr().out

    return call


@pytest.fixture
def short(tmp_path_factory):
    """A block whose sheets are written in no time."""
    path = tmp_path_factory.mktemp("short") / "block.toml"
    block = exercise_block("barbell bench pull", constant_step(sets=2), weeks=1)
    path.write_text(toml_text(block), encoding="utf-8")
    return path


def test_compare_orders_the_library_and_two_blocks(run, tmp_path):
    words = ("compare", *WHO, "--exercise", "back squat", "--draws", 50, "--seed", 1, "--order-by", "tonnage")
    code, text = run(*words)
    assert code == 0
    assert "drop-set finish minus wave" in text  # sets to failure lift most, so it comes first
    assert "Stop on pain" in text
    code, text = run(*words, "--json")
    found = json.loads(text)
    tonnage = {row["scheme"]: row["mean"] for row in found["schemes"] if row["outcome"] == "tonnage"}
    assert found["order"] == sorted(tonnage, key=lambda name: -tonnage[name])
    other = tmp_path / "other.toml"
    text = (
        (DEMO / "block.toml").read_text(encoding="utf-8").replace('name = "Winter block, pull and legs"', 'name = "B"')
    )
    other.write_text(text, encoding="utf-8")
    code, text = run("compare", BLOCK, other, *WHO, "--draws", 20, "--seed", 1, "--outcome", "missed_reps")
    assert "the same in >99 %" in text
    with pytest.raises(InputError, match="nothing to compare"):
        run("compare", *WHO)


def test_decide_finds_and_writes_a_block_once(run, tmp_path):
    out = tmp_path / "found.toml"
    turn = ("--turn", "percent=55:65:5 of barbell bench pull", "--turn", "rest=90,150 of barbell bench pull")
    words = ("decide", BLOCK, *WHO, *turn, "--limit", "session_minutes<=60", "--draws", 30, "--seed", 1)
    code, text = run(*words, "-o", out)
    assert code == 0
    assert "6 plans tried (every plan)" in text
    assert read_block(out).sessions[0].exercises[0].sets[0].percent in (55, 60, 65)
    with pytest.raises(InputError, match="is there already"):
        run(*words, "-o", out)
    code, text = run(*words[:-4], "--limit", "session_minutes<=5", "--draws", 30, "--json")
    assert code == 1
    assert json.loads(text)["within_limits"] is False
    for wrong, told in (
        (("--turn", "percent"), "write it as percent=60:80:2.5"),
        (("--turn", "percent=1:x:1"), "cannot be"),
    ):
        with pytest.raises(InputError, match=told):
            run("decide", BLOCK, *WHO, *wrong)
    with pytest.raises(InputError, match=r"write it as all_reps>=0\.8"):
        run("decide", BLOCK, *WHO, *turn, "--limit", "all_reps=0.8")


def test_team_prints_a_row_for_each_and_writes_sheets(run, tmp_path, short):
    words = ("team", short, "--roster", DEMO / "lifters", *WHO[2:], "--no-mend", "--draws", 20, "--seed", 1)
    code, text = run(*words, "--sheets", tmp_path / "sheets")
    assert code == 0
    assert "Hedda Quill" in text
    assert len(list((tmp_path / "sheets").glob("*.xlsx"))) == len(list((DEMO / "lifters").glob("*.toml")))
    code, text = run(*words, "--json")
    assert len(json.loads(text)["lifters"]) == 8


def test_from_commit_to_rationale(run, tmp_path):
    folder = tmp_path / "committed"
    words = ("commit", BLOCK, *WHO, "--to", folder, "--draws", 20, "--seed", 3, "--reason", "Because.")
    code, text = run(*words, "--instead-of", BLOCK, "--why-not", "no", "--start", "2026-01-05")
    assert code == 0
    made = folder / "winter-block-pull-and-legs-r01"
    assert str(made) in text
    code, text = run(*words)
    assert "Changed since winter-block-pull-and-legs-r01:\n  nothing" in text
    code, text = run("verify", made, "--against", folder / "winter-block-pull-and-legs-r02")
    assert code == 0
    assert "nothing changed" in text
    code, text = run("rationale", made, "-o", tmp_path / "why.html")
    assert code == 0
    assert (tmp_path / "why.html").stat().st_size < 8_000_000
    with pytest.raises(InputError, match=r"end the name in .html or .pdf"):
        run("rationale", made, "-o", tmp_path / "why.docx")
    (made / "block.toml").write_text("weeks = 1\n", encoding="utf-8")
    code, text = run("verify", made)
    assert code == 1
    assert "NOT the same" in text
    with pytest.raises(InputError, match="more often than --instead-of"):
        run(*words, "--why-not", "x")


def test_sheets_and_commits_start_on_a_monday_and_say_what_there_is_to_note(run, tmp_path, capsys):
    for words in (("sheet", BLOCK, *WHO, "-o", tmp_path / "x"), ("commit", BLOCK, *WHO, "--reason", "r")):
        with pytest.raises(SystemExit):
            run(*words, "--start", "2026-01-08")
        assert "is a Thursday; give the Monday of the first week, as 2026-01-05" in capsys.readouterr().err
    _, text = run("sheet", BLOCK, *WHO, "--draws", 20, "-o", tmp_path / "x.html")
    assert "extrapolated for" in text
    _, text = run("commit", BLOCK, *WHO, "--draws", 20, "--reason", "r", "--to", tmp_path / "c")
    assert "Note for Emre Sandoval: " in text


def test_an_own_exercise_can_be_planned(run, tmp_path):
    own = DEMO / "exercises" / "own.toml"
    lifter, plan = tmp_path / "lifter.toml", tmp_path / "block.toml"
    lifter.write_text(
        'name = "Invented"\nbody_mass_kg = 70\n[lifts."weighted ladder climb"]\none_rm_kg = 110\n', encoding="utf-8"
    )
    plan.write_text(
        'name = "b"\nweeks = 1\n[[sessions]]\nname = "one"\n[[sessions.exercises]]\nexercise = "ladder"\n'
        "sets = [{ count = 2, reps = 5, percent = 75, rest_s = 90 }]\n",
        encoding="utf-8",
    )
    room = tmp_path / "room.toml"  # not in the gym's folder, where own exercises are found
    room.write_bytes((DEMO / "rooms" / "boathouse_hall.toml").read_bytes())
    words = ("sheet", plan, "--lifter", lifter, "--room", room, "--draws", 20, "-o", tmp_path / "x.html")
    with pytest.raises(InputError, match="ladder"):
        run(*words)
    run(*words, "--own", own)
    assert "weighted ladder climb" in (tmp_path / "x.html").read_text(encoding="utf-8")


def test_sheet_writes_what_the_name_asks_for(run, tmp_path, short):
    words = ("sheet", short, *WHO, "--draws", 20, "--seed", 1, "-o")
    run(*words, tmp_path / "a")
    run(*words, tmp_path / "b.html")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["a.html", "a.xlsx", "b.html"]
    with pytest.raises(InputError, match=r"end the name in .xlsx or .html"):
        run(*words, tmp_path / "a.pdf")


@pytest.mark.parametrize("words", [("--draws", "5"), ("--draws", "many"), ("--seed", "-1")])
def test_numbers_out_of_range_are_refused_with_code_2(run, words):
    with pytest.raises(SystemExit) as stopped:
        run("sheet", BLOCK, *WHO, "-o", "x", *words)
    assert stopped.value.code == 2
