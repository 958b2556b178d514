"""What ``workbench review`` prints of many misses: the largest, how many more, and all where they are asked for."""

import importlib
from types import SimpleNamespace

import pytest

from workbench.__main__ import main
from workbench.answers.review.misses import Miss
from workbench.reference.sources import data_path

LIFTER = str(data_path("demo", "lifters", "emre_sandoval.toml"))


@pytest.fixture
def reviewed(monkeypatch):
    """Return what prints a review with so many misses, the largest first."""

    def lines(count, *more):
        misses = [Miss("all", "reserve", f"Miss {number}.", "Mend it.", 1.0 / number) for number in range(1, count + 1)]
        found = SimpleNamespace(record_said=lambda: ["Some sets."], misses=tuple(misses), notes=("a note",), tables={})
        command = importlib.import_module("workbench.commands.review")
        monkeypatch.setattr(command, "walk_forward", lambda *_args, **_settings: found)
        monkeypatch.setattr(command, "_logs_of", lambda _arguments: ([], []))
        assert main(["review", "log.csv", "--lifter", LIFTER, *more]) == 0

    return lines


def test_the_ten_largest_are_printed_and_the_others_counted(reviewed, capsys):
    reviewed(13)
    said = capsys.readouterr().out
    assert said.startswith("Some sets.")
    assert [f"Miss {number}. Mend it." in said for number in range(1, 14)] == [True] * 10 + [False] * 3
    assert "3 more; --all prints them" in said


@pytest.mark.parametrize(("count", "more"), [(13, ["--all"]), (10, []), (0, [])])
def test_nothing_is_held_back_where_all_are_asked_for_or_there_are_few(reviewed, capsys, count, more):
    reviewed(count, *more)
    said = capsys.readouterr().out
    assert said.count("Mend it.") == count
    assert "--all" not in said
    assert "a note" in said
