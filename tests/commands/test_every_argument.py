"""Every option and argument of every command, with values that fit nothing: one clear line, never a traceback.

The cases follow from the parser itself, so an option that is added later is covered from its first day.
"""

import argparse
import os
import re
from pathlib import Path

import pytest

from workbench.__main__ import command_line, main
from workbench.reference.sources import data_path

DEMO = data_path("demo")
BLOCK, ROOM = str(DEMO / "block.toml"), str(DEMO / "rooms" / "boathouse_hall.toml")
LIFTER = str(DEMO / "lifters" / "emre_sandoval.toml")
FEW = ["--draws", "10"]

#: Per option, or for all: what people mistype and what ill will writes.
HOSTILE = (
    *(
        "",
        " ",
        "²",
        "٣",
        "nan",
        "inf",
        "-inf",
        "1e999",
        "-1",
        "0",
        "9" * 5000,
        "1e-320",
        "=",
        ">=",
        "a=b",
        "percent=nan",
    ),
    *("percent=1:inf:1", "all_reps>=nan", "9999-12-27", "0001-01-01", "2026-02-30", "2,1,1", "0,1", "x" * 5000),
    *("\x1b[31mred", "a\x00b", "\udcff", "../..", "/", "/dev/zero", "/dev/null", "PIPE"),
)
#: The share for every day: each of these fits hardly anything, so a command seldom gets to work.
SOME = ("", "²", "9" * 5000, "9999-12-27", "a\x00b", "/dev/zero")


@pytest.fixture(scope="module")
def places(tmp_path_factory):
    """A small block, a log, a committed block, and a pipe that nobody writes to."""
    folder = tmp_path_factory.mktemp("places")
    (folder / "block.toml").write_text(
        'name = "Small"\nweeks = 1\n[[sessions]]\nname = "One"\n[[sessions.exercises]]\nexercise = "back squat"\n'
        "sets = [{ reps = 5, percent = 60, rest_s = 120 }]\n",
        encoding="utf-8",
    )
    (folder / "log.csv").write_text(
        "date,exercise,kg,reps,rir\n2026-01-05,back squat,80,5,3\n2026-01-07,back squat,85,5,2\n", encoding="utf-8"
    )
    (folder / "roster").mkdir()
    (folder / "roster" / "a.toml").write_bytes(Path(LIFTER).read_bytes())
    for name, content in (("lifters/a.toml", Path(LIFTER)), ("logs/a.csv", folder / "log.csv")):
        (folder / "gym" / name).parent.mkdir(parents=True)
        (folder / "gym" / name).write_bytes(content.read_bytes())
    if hasattr(os, "mkfifo"):
        os.mkfifo(folder / "pipe")
    before = Path.cwd()
    os.chdir(folder)
    try:
        made = ["commit", "block.toml", "--lifter", LIFTER, "--room", ROOM, "--reason", "r", *FEW]
        assert main(made) == 0
    finally:
        os.chdir(before)
    return folder


#: A run of each command that is as good as it is short; names with {here} lie in the folder of `places`.
GOOD = {
    "open": [],
    "check": ["{here}/block.toml", "--lifter", LIFTER, "--room", ROOM, *FEW],
    "compare": ["{here}/block.toml", "--lifter", LIFTER, "--room", ROOM, *FEW],
    "decide": ["{here}/block.toml", "--lifter", LIFTER, "--room", ROOM, "--turn", "rest=120", *FEW],
    "team": ["{here}/block.toml", "--roster", "{here}/roster", "--room", ROOM, "--no-mend", *FEW],
    "review": ["{here}/log.csv", "--lifter", LIFTER, "--no-rules", *FEW],
    "today": ["{here}/block.toml", "--lifter", LIFTER, "--room", ROOM, "--log", "{here}/log.csv", *FEW],
    "log": ["{here}/log.csv"],
    "fit": ["{here}/log.csv", "--lifter", LIFTER, *FEW],
    "gym": ["{here}/gym", *FEW],
    "exercises search": ["row"],
    "exercises exchange": ["back squat", "--lifter", LIFTER, "--room", ROOM],
    "commit": ["{here}/block.toml", "--lifter", LIFTER, "--room", ROOM, "--reason", "r", *FEW],
    "verify": ["{here}/committed/small-r01"],
    "sheet": ["{here}/block.toml", "--lifter", LIFTER, "--room", ROOM, "-o", "sheet.html", *FEW],
    "rationale": ["{here}/committed/small-r01", "-o", "page.html"],
    "bench": [],
}
#: What else an option needs before it is looked at.
BESIDE = {
    ("check", "--order"): ["--session", "1"],
    ("check", "--week"): ["--session", "1"],
    ("today", "--keep"): ["--save", "1"],
    ("today", "--target"): ["--save", "1"],
}


def parsers(parser=None, name=""):
    """Every command with its parser, subcommands included."""
    actions = (parser or command_line())._actions
    below = [one for one in actions if isinstance(one, argparse._SubParsersAction)]
    if not below:
        return {name: parser}
    found = {}
    for action in below:
        for word, inner in action.choices.items():
            found |= parsers(inner, f"{name} {word}".strip())
    return found


PARSERS = parsers()


def names_of(parser):
    return ["/".join(action.option_strings) or action.dest for action in parser._actions if action.nargs != 0]


#: `fit` reads its log by the same options as `log`, and takes seconds where it takes a value.
CASES = [
    pytest.param(command, name, id=f"{command}-{name}", marks=[pytest.mark.slow] if command == "fit" else [])
    for command, parser in PARSERS.items()
    for name in names_of(parser)
    if command != "fit" or name not in names_of(PARSERS["log"]) or name in {"log", "-o/--output"}
]


def arguments_of(command, name, value, places):
    """The good run of a command with one argument replaced, or added where it is not there."""
    parser = PARSERS[command]
    action = next(one for one in parser._actions if ("/".join(one.option_strings) or one.dest) == name)
    good = [word.replace("{here}", str(places)) for word in GOOD[command]]
    if not action.option_strings:
        return [*command.split(), value, *good[1:]]
    for option in action.option_strings:
        if option in good:
            at = good.index(option)
            return [*command.split(), *good[:at], _joined(option, value), *good[at + 2 :]]
    return [*command.split(), *good, *BESIDE.get((command, name), []), _joined(action.option_strings[-1], value)]


def _joined(option, value):
    return f"{option}={value}" if option.startswith("--") else f"{option}{value}"


def test_every_command_has_a_good_run(places, tmp_path, monkeypatch):
    assert sorted(PARSERS) == sorted(GOOD)
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("workbench.commands.notebook_server.open_workbench", lambda _: 0)
    monkeypatch.setattr("workbench.commands.benchmark.run_benchmark", list)
    for command, words in GOOD.items():
        assert main([*command.split(), *(word.replace("{here}", str(places)) for word in words)]) == 0, command


@pytest.mark.parametrize("values", [SOME, pytest.param(HOSTILE, marks=pytest.mark.slow)], ids=["some", "all"])
@pytest.mark.parametrize(("command", "name"), CASES)
def test_no_value_of_any_argument_ends_in_a_traceback(command, name, values, places, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("workbench.commands.notebook_server.open_workbench", lambda _: 0)
    monkeypatch.setattr("workbench.commands.benchmark.run_benchmark", list)
    refused = 0
    for value in values:
        if name in {"log", "logs", "--log"} and value in {"/dev/zero", "PIPE", "a\x00b"}:
            continue  # the tests of the reader of logs hold these
        typed = value.replace("PIPE", str(places / "pipe"))
        for made in tmp_path.iterdir():
            if made.is_file():
                made.unlink()
        try:
            code = main(arguments_of(command, name, typed, places))
        except SystemExit as stop:
            code = stop.code
        said = capsys.readouterr()
        assert code in {0, 1, 2}, (value, code)
        assert not re.search(r"[\x00-\x08\x0b-\x1f\x7f-\x9f]", said.out + said.err), value[:40]
        if code == 2:
            refused += 1
            lines = said.err.strip().splitlines()
            complaints = [line for line in lines if line.startswith("workbench") and ": " in line]
            assert len(complaints) == 1, (value[:40], said.err[-500:])
            assert complaints[0] == lines[-1]
            assert len(complaints[0]) < 12_000
    # Free text takes nearly anything; no argument takes all of this.
    free = {"exercises search-text", "commit---by", "open-folder", "fit---name"}
    free |= {f"{command}---sheet" for command in ("log", "today", "gym", "review")}  # a CSV has none
    assert refused or f"{command}-{name}" in free or values is SOME, "nothing was refused: the case tests nothing"
