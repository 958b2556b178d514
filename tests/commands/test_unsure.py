"""``workbench check``: what is not known and what is luck, in one sentence and in a view of its own."""

import json
import re

import pytest

import workbench
from workbench.__main__ import main
from workbench.answers.unsure import unsure_check
from workbench.reference.sources import data_path

DEMO = data_path("demo")
FILES = [DEMO / "block.toml", DEMO / "lifters" / "asta_lindqvist.toml", DEMO / "rooms" / "boathouse_hall.toml"]
ASKED = ["check", str(FILES[0]), "--lifter", str(FILES[1]), "--room", str(FILES[2]), "--draws", "400"]


@pytest.fixture(scope="module")
def found():
    return unsure_check(workbench.check(*FILES, draws=400))


def printed(capsys, *more):
    assert main([*ASKED, *more]) == 0
    return capsys.readouterr().out


def in_one_line(text):
    return " ".join(text.split())


def test_the_short_answer_says_how_much_is_not_known(capsys, found):
    text = in_one_line(printed(capsys))
    assert found.why() in text


def test_the_view_says_all_of_it_with_the_shares_of_sessions_and_weeks(capsys, found):
    text = printed(capsys, "--unsure")
    for sentence in found.sentences():
        assert sentence in in_one_line(text)
    block = found.summary("block").iloc[0]
    line = next(line for line in text.splitlines() if line.strip().startswith("whole block"))
    shares = [float(share) for share in re.findall(r"(\d+) %", line)]
    names = ["not_known", "1RM", "endurance", "recovery", "fatigue constants", "luck", "day", "set scatter"]
    assert shares == [float(f"{100 * block[name]:.0f}") for name in names]
    assert "week 2, whole week" in text


def test_every_set_of_a_week(capsys, found):
    text = printed(capsys, "--unsure", "--week", "5")
    sets = found.summary("set")
    for row in sets[sets["week"] == 5].to_dict("records"):
        assert f"{row['exercise']}, set {row['set']}"[:40] in text
    assert main([*ASKED, "--unsure", "--week", "9"]) != 0
    assert "the block has no week 9; use 1 to 5" in capsys.readouterr().err


def test_the_view_as_json(capsys, found):
    content = json.loads(printed(capsys, "--unsure", "--json"))["unsure"]
    assert content["sentences"] == found.sentences()
    assert len(content["tables"]["places"]) == len(found.places)
