"""``workbench today``: a filled-in log gives the rest of the session; if-then for paper."""

import json

import pytest

from workbench.__main__ import main
from workbench.answers.today import SetDone, today_question
from workbench.gym.equipment import read_room
from workbench.lifter import read_lifter
from workbench.prescription.block import read_block
from workbench.reference.sources import data_path

BLOCK, LIFTER, ROOM = (
    data_path("demo", *parts)
    for parts in (["block.toml"], ["lifters", "emre_sandoval.toml"], ["rooms", "boathouse_hall.toml"])
)
WORDS = ["today", str(BLOCK), "--lifter", str(LIFTER), "--room", str(ROOM), "--draws", "200"]


@pytest.fixture
def log(tmp_path):
    """Two sets of an earlier day, then two of today, the second missed."""
    path = tmp_path / "log.csv"
    rows = ["date,exercise,kg,reps,rir,outcome"]
    rows += ["2026-01-05,barbell bench pull,60,6,3,"] * 2
    rows += ["2026-01-12,barbell bench pull,62.5,6,1,", "2026-01-12,barbell bench pull,62.5,4,,failed"]
    path.write_text("\n".join(rows) + "\n", encoding="utf-8")
    return path


def answered(capsys, *more):
    assert main([*WORDS, *map(str, more), "--json"]) == 0
    return json.loads(capsys.readouterr().out)


def test_the_last_day_of_the_log_is_today(log, capsys):
    found = answered(capsys, "--log", log, "--date-order", "ymd")
    done = [SetDone("barbell bench pull", 62.5, 6, reserve=1), SetDone("barbell bench pull", 62.5, 4, failed=True)]
    asked = today_question(read_block(BLOCK), read_lifter(LIFTER), read_room(ROOM), done, draws=200)
    assert found == asked.to_records()
    assert found["tables"]["form"][0]["sets"] == 2
    earlier = answered(capsys, "--log", log, "--date", "2026-01-05", "--date-order", "ymd")
    assert earlier["tables"]["sets"][0]["chance"] > found["tables"]["sets"][0]["chance"]


def test_another_session_an_exercise_skipped_and_loads_that_may_rise(log, capsys):
    planned = answered(capsys, "--session", "2", "--week", 2)
    name = planned["tables"]["sets"][0]["exercise"]
    without = answered(capsys, "--session", "2", "--week", 2, "--skip", name, "--up", 10)
    assert name not in {row["exercise"] for row in without["tables"]["sets"]}
    for row in without["tables"]["sets"]:
        assert row["today_kg"] <= 1.1 * row["load_kg"] + 1e-9


def test_in_words(log, capsys):
    assert main([*WORDS, "--log", str(log), "--date-order", "ymd"]) == 0
    text = capsys.readouterr().out
    assert text.startswith("barbell bench pull: ")
    assert "Next: barbell bench pull, set 3" in text
    assert "Stop" in text or "stop" in text


def test_what_can_go(log, capsys):
    more = ("--save", 5, "--keep", "back squat", "--target", "latissimus=0")
    found = answered(capsys, "--log", log, "--date-order", "ymd", *more)
    ways = found["tables"]["ways"]
    assert ways[0]["minutes"] >= 5
    assert all("back squat" not in way["leave_out"] for way in ways)
    assert main([*WORDS, "--save", "5"]) == 0
    text = capsys.readouterr().out
    assert text.startswith("Leave out ")
    assert " 1. " in text


def test_if_then_in_words_and_rows(capsys):
    assert main([*WORDS, "--if-then", "--week", "4"]) == 0
    assert "after set" in capsys.readouterr().out
    assert {"seen", "load_kg", "said"} <= set(answered(capsys, "--if-then", "--week", 4)[0])


@pytest.mark.parametrize(
    ("more", "said"),
    [
        (["--date", "2026-02-01"], "no set of 2026-02-01"),
        (["--if-then"], "before the first set"),
        (["--keep", "back squat"], "--save"),
        (["--session", "9"], "no session 9"),
        (["--skip", "bench press"], "not in"),
        (["--save", "5", "--target", "lats"], "MUSCLE=SETS"),
        (["--save", "5", "--target", "heart=3"], "heart"),
    ],
)
def test_what_cannot_be_is_one_line(log, capsys, more, said):
    assert main([*WORDS, "--log", str(log), "--date-order", "ymd", *more]) == 2
    error = capsys.readouterr().err
    assert said in error
    assert len(error.strip().splitlines()) == 1
