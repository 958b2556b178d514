"""How commands are described: shapes of arguments, and that describing costs no import of what does the work."""

import argparse
import re
import subprocess
import sys

import pytest

from workbench.commands.arguments import Command, argument, grouped, whole


def parser_of(*adders):
    parser = argparse.ArgumentParser()
    for add in adders:
        add(parser)
    return parser


def test_a_shape_says_names_value_and_flag():
    parser = parser_of(
        argument("block BLOCK", "a block"),
        argument("-o --output FILE", "where to"),
        argument("--json", "as JSON"),
        argument("--unit", "a unit", choices=("kg", "lb")),
        argument("--draws N", "how many", whole(1, 9), default=3),
        argument("--own FILE", "own files", repeated=True),
    )
    nothing = parser.parse_args(["b"])
    assert vars(nothing) == {"block": "b", "output": None, "json": False, "unit": None, "draws": 3, "own": []}
    words = ["b", "-o", "f", "--json", "--unit", "lb", "--draws", "9", "--own", "x", "--own", "y"]
    assert vars(parser.parse_args(words)) == {
        "block": "b",
        "output": "f",
        "json": True,
        "unit": "lb",
        "draws": 9,
        "own": ["x", "y"],
    }
    assert parser.parse_args(["b"]).own == []  # what one run was given is gone in the next
    shown = parser.format_help()
    assert re.search(r"-o( FILE)?, --output FILE\s+where to", shown)  # the first of them until Python 3.12
    assert "--unit {kg,lb}" in shown


def test_a_group_stands_together_in_the_help():
    parser = parser_of(grouped("views", "each instead of the list", argument("--zones", "zones")))
    assert "views:\n  each instead of the list\n\n  --zones" in parser.format_help()


@pytest.mark.parametrize(("text", "said"), [("0", "use 1 to 9"), ("x", "'x' is not a whole number")])
def test_a_reader_says_what_is_wrong(text, said, capsys):
    parser = parser_of(argument("--draws N", "how many", whole(1, 9)))
    with pytest.raises(SystemExit):
        parser.parse_args(["--draws", text])
    assert said in capsys.readouterr().err


def test_actions_stand_below_their_command():
    below = Command("find", "find one", None, "exercises:search", argument("--most N", "most", whole(1, 9)))
    parser = argparse.ArgumentParser()
    Command("things", "things", "Of things.", "", actions=(below,)).add_to(parser.add_subparsers())
    arguments = parser.parse_args(["things", "find", "--most", "2"])
    assert (arguments.most, arguments.run) == (2, below.run)
    with pytest.raises(SystemExit):
        parser.parse_args(["things"])


def test_help_imports_nothing_heavy():
    program = (
        "import sys; from workbench.__main__ import command_line; command_line().format_help(); "
        "print(sorted({'pandas', 'pydantic', 'scipy', 'plotly', 'jupyterlab'} & set(sys.modules)))"
    )
    said = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert said.stdout.strip() == "[]"
