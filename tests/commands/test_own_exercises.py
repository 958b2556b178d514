"""Every command that reads a room, a lifter or a log takes own exercises, and finds those of a gym's folder."""

from __future__ import annotations

import argparse
import shutil

import pytest

from tests.own_gyms import make_gym
from workbench.__main__ import command_line, main

RUN = ("--draws", "20", "--seed", "1")


def parsers(parser, path=()):
    """All commands with their actions, by what is typed."""
    yield path, parser
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            for name, inner in action.choices.items():
                yield from parsers(inner, (*path, name))


READERS = [path for path, parser in parsers(command_line()) if "--room" in parser._option_string_actions]


def test_every_command_that_reads_a_room_takes_own_exercises():
    takes = {path for path, parser in parsers(command_line()) if "--own" in parser._option_string_actions}
    assert {("check",), ("compare",), ("decide",), ("team",), ("fit",), ("commit",), ("sheet",)} <= set(READERS)
    assert set(READERS) | {("log",), ("review",), ("exercises", "search")} == takes


#: What is typed for each command, with the files' places left open.
LINES = {
    ("check",): "check {block} --lifter {lifter} --room {room} --session one --muscles --cautions",
    ("compare",): "compare {block} --exercise log --lifter {lifter} --room {room}",
    ("decide",): "decide {block} --lifter {lifter} --room {room} --turn sets=1,2 --limit set_chance:log>=0.1",
    ("team",): "team {block} --roster {lifters} --room {room} --no-mend",
    ("fit",): "fit {log} --lifter {lifter} --block {block} --room {room}",
    ("today",): "today {block} --lifter {lifter} --room {room} --log {log}",
    ("commit",): "commit {block} --lifter {lifter} --room {room} --reason r --to {out}",
    ("sheet",): "sheet {block} --lifter {lifter} --room {room} -o {out}.html",
    ("exercises", "exchange"): "exercises exchange log --lifter {lifter} --room {room}",
    ("review",): "review {log} --lifter {lifter}",
    ("log",): "log {log}",
}


def typed(command, places):
    words = LINES[command].split()
    words += RUN if command not in {("log",), ("exercises", "exchange")} else ()
    return [word.format(**places) for word in words]


def test_there_is_a_line_for_every_command():
    assert set(LINES) == {*READERS, ("log",), ("review",)}


@pytest.mark.parametrize("command", LINES)
def test_own_exercises_are_found_or_given(command, tmp_path, capsys):
    gym, loose = make_gym(tmp_path, "gym", kg=60), tmp_path / "loose"
    loose.mkdir()
    (loose / "team").mkdir()
    shutil.copy(gym / "lifters" / "a.toml", loose / "team" / "a.toml")
    shutil.copy(gym / "rooms" / "hall.toml", loose / "hall.toml")
    common = {"block": gym / "block.toml", "log": gym / "log.csv", "out": tmp_path / "out"}
    inside = {"lifter": gym / "lifters" / "a.toml", "lifters": gym / "lifters", "room": gym / "rooms" / "hall.toml"}
    outside = {"lifter": loose / "team" / "a.toml", "lifters": loose / "team", "room": loose / "hall.toml"}
    own = ["--own", str(gym / "exercises" / "own.toml")]
    unknown = main(typed(command, common | outside))
    said = capsys.readouterr()
    assert unknown != 0 or command == ("log",)  # a log sets rows aside
    assert "unknown exercise 'log" in said.out + said.err
    assert main([*typed(command, common | outside), *own]) == 0, capsys.readouterr().err
    given = capsys.readouterr().out
    assert given
    if command == ("log",):  # a log lies in no gym's folder
        return
    shutil.rmtree(tmp_path / "out", ignore_errors=True)
    (tmp_path / "out.html").unlink(missing_ok=True)
    assert main(typed(command, common | inside)) == 0, capsys.readouterr().err
    if command not in {("commit",), ("team",)}:  # the fingerprint holds the time; two lifters in place of one
        assert capsys.readouterr().out == given
