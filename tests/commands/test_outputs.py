"""Whatever a command writes: what is there already stays, unless the coach says that it may be replaced."""

import argparse
import os
import shutil
import stat
from pathlib import Path

import pytest

from workbench.__main__ import command_line, main
from workbench.reference.sources import data_path

DEMO = data_path("demo")
ROOM = str(DEMO / "rooms" / "boathouse_hall.toml")
LIFTER = str(DEMO / "lifters" / "emre_sandoval.toml")
WHO = ["--lifter", LIFTER, "--room", ROOM]
FEW = ["--draws", "10", "--seed", "1"]
FILLED_IN = b"filled in by hand"
#: Each command that writes, with the name of what it writes; what stands before -o or the like.
WRITES = [
    ("page.html", ["sheet", "BLOCK", *WHO, *FEW, "-o"]),
    ("sheet.xlsx", ["sheet", "BLOCK", *WHO, *FEW, "-o"]),
    ("why.html", ["rationale", "COMMITTED", "-o"]),
    ("found.toml", ["decide", "BLOCK", *WHO, *FEW, "--turn", "rest=600", "--limit", "all_reps>=0", "-o"]),
    ("lifter.toml", ["fit", "LOG", "--lifter", LIFTER, *FEW, "-o"]),
    ("log.csv", ["log", "LOG", "-o"]),
    ("aside.csv", ["log", "LOG", "--set-aside"]),
]


@pytest.fixture(scope="module")
def given(tmp_path_factory):
    """A block of two sets, a log of one, and the block committed."""
    folder = tmp_path_factory.mktemp("given")
    block = folder / "block.toml"
    block.write_text(
        'name = "Small"\nweeks = 1\n[[sessions]]\nname = "One"\n[[sessions.exercises]]\nexercise = "back squat"\n'
        "sets = [{ count = 2, reps = 5, percent = 60, rest_s = 120 }]\n",
        encoding="utf-8",
    )
    log = folder / "given.csv"
    log.write_text("date,exercise,kg,reps,rir\n2026-01-05,back squat,80,5,3\n", encoding="utf-8")
    assert main(["commit", str(block), *WHO, *FEW, "--reason", "r", "--to", str(folder / "committed")]) == 0
    return {"BLOCK": str(block), "LOG": str(log), "COMMITTED": str(next((folder / "committed").iterdir()))}


@pytest.mark.parametrize(("name", "words"), WRITES, ids=[f"{words[0]}-{name}" for name, words in WRITES])
def test_what_is_there_stays_until_it_may_be_replaced(name, words, given, tmp_path, capsys):
    path = tmp_path / name
    run = [*(given.get(word, word) for word in words), str(path)]
    path.write_bytes(FILLED_IN)
    assert main(run) == 2
    assert f"workbench: {path}: is there already; nothing was overwritten" in capsys.readouterr().err
    assert path.read_bytes() == FILLED_IN
    assert main([*run, "--replace"]) == 0
    assert path.read_bytes() != FILLED_IN
    assert list(tmp_path.iterdir()) == [path]
    path.unlink()
    before = os.umask(0o027)
    try:
        assert main(run) == 0
    finally:
        os.umask(before)
    assert list(tmp_path.iterdir()) == [path]
    if os.name == "posix":
        # A new file has 666 less the mask.
        assert stat.S_IMODE(path.stat().st_mode) == 0o640


def test_a_sheet_in_both_kinds_writes_none_where_one_is_there(given, tmp_path):
    (tmp_path / "a.html").write_bytes(FILLED_IN)
    assert main(["sheet", given["BLOCK"], *WHO, *FEW, "-o", str(tmp_path / "a")]) == 2
    assert [(path.name, path.read_bytes()) for path in tmp_path.iterdir()] == [("a.html", FILLED_IN)]


def test_sheets_of_a_team_write_none_where_one_is_there(given, tmp_path):
    (tmp_path / "roster").mkdir()
    for name in ("emre_sandoval.toml", "cato_venn.toml"):
        shutil.copy(DEMO / "lifters" / name, tmp_path / "roster")
    words = [
        "team",
        given["BLOCK"],
        "--roster",
        str(tmp_path / "roster"),
        "--room",
        ROOM,
        "--no-mend",
        *FEW,
        "--sheets",
    ]
    assert main([*words, str(tmp_path / "new")]) == 0
    names = sorted(path.name for path in (tmp_path / "new").iterdir())
    (tmp_path / "old").mkdir()
    (tmp_path / "old" / names[-1]).write_bytes(FILLED_IN)
    assert main([*words, str(tmp_path / "old")]) == 2
    assert [(path.name, path.read_bytes()) for path in (tmp_path / "old").iterdir()] == [(names[-1], FILLED_IN)]
    assert main([*words, str(tmp_path / "old"), "--replace"]) == 0
    assert sorted(path.name for path in (tmp_path / "old").iterdir()) == names
    assert (tmp_path / "old" / names[-1]).read_bytes() != FILLED_IN


def test_what_was_read_is_never_written_over(given, tmp_path, capsys):
    log, lifter = Path(given["LOG"]), tmp_path / "lifter.toml"
    lifter.write_bytes(Path(LIFTER).read_bytes())
    before = log.read_bytes()
    for words in (["log", str(log), "-o", str(log)], ["log", str(log), "--set-aside", str(log)]):
        assert main([*words, "--replace"]) == 2
    assert main(["fit", str(log), "--lifter", str(lifter), *FEW, "-o", str(lifter), "--replace"]) == 2
    assert capsys.readouterr().err.count("stays as it is") == 3
    assert log.read_bytes() == before
    assert lifter.read_bytes() == Path(LIFTER).read_bytes()


def test_every_command_that_writes_a_named_file_can_be_told_to_replace_it():
    subparsers = next(one for one in command_line()._actions if isinstance(one, argparse._SubParsersAction))
    writing = {
        name
        for name, parser in subparsers.choices.items()
        if {"--output", "--sheets", "--set-aside"} & {word for one in parser._actions for word in one.option_strings}
    }
    assert writing == {words[0] for _, words in WRITES} | {"team"}
    for name in writing:
        assert "--replace" in {word for one in subparsers.choices[name]._actions for word in one.option_strings}
