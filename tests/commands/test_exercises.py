"""``workbench exercises`` and the views of ``workbench check``, as a coach types them."""

import json

import pytest

from workbench.__main__ import main
from workbench.reference.sources import data_path

DEMO = data_path("demo")
LIFTER = str(DEMO / "lifters" / "emre_sandoval.toml")
HALL = str(DEMO / "rooms" / "boathouse_hall.toml")
CHECK = ["check", str(DEMO / "block.toml"), "--lifter", LIFTER, "--room", HALL, "--draws", "50", "--seed", "1"]


def test_search_finds_by_muscle_and_prints_shares(capsys):
    assert main(["exercises", "search", "calves"]) == 0
    printed = capsys.readouterr().out
    assert "standing calf machine" not in printed.split("\n")[0]
    assert "calves 1" in printed


def test_search_as_json_carries_grade_and_source(capsys):
    assert main(["exercises", "search", "bench press", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found[0]["name"] == "bench press"
    assert all({"muscle", "share", "grade", "source"} <= part.keys() for one in found for part in one["muscles"])


def test_exchange_leaves_out_what_is_asked(capsys):
    arguments = ["exercises", "exchange", "lat pulldown", "--lifter", LIFTER, "--room", HALL, "--position", "overhead"]
    assert main([*arguments, "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    # Two rows keep as much of the pulldown's muscles.
    assert "seated cable row" in [one["exercise"] for one in answer["exchanges"][:2]]
    assert main([*arguments, "--without", "seated cable row"]) == 0
    printed = capsys.readouterr().out
    assert "seated cable row" not in printed
    assert "licensed physician or physiotherapist" in printed


def test_an_impossible_exchange_and_an_unknown_position(capsys):
    arguments = ["exercises", "exchange", "back squat", "--lifter", LIFTER, "--room", HALL]
    assert main([*arguments, *(part for joint in ("knee", "hip", "spine") for part in ("--position", joint))]) == 0
    assert "fall out" in capsys.readouterr().out
    assert main([*arguments, "--position", "sholder"]) == 2
    assert "shoulder" in capsys.readouterr().err


def test_the_short_answer_is_the_default_and_the_list_of_all_sets_is_asked_for(capsys):
    assert main(CHECK) == 0
    printed = capsys.readouterr().out
    assert "Chance that no rep is missed, and reps to expect missed" in printed
    assert "sets that are meant to be made" in " ".join(printed.split())
    assert "Sets of each muscle" not in printed
    assert "in reserve" not in printed.split("Chance that no rep")[1]
    # Four things said, five weeks by three sessions and the week, notes and cautions: about one screen.
    assert len(printed.splitlines()) < 45
    assert main([*CHECK, "--sets"]) == 0
    assert len(capsys.readouterr().out.splitlines()) > 150


@pytest.mark.parametrize(
    ("views", "said"),
    [
        (["--session", "2"], "Wednesday, legs and drops, week 1"),
        (["--session", "friday, lighter pull", "--week", "5"], "Friday, lighter pull, week 5"),
        (["--session", "1", "--order", "3,2,1"], "in the order 3,2,1"),
        (["--muscles"], "biceps"),
        (["--muscles", "--hard-reserve", "2"], "at most 2 reps in reserve"),
        (["--zones"], "lifts"),
        (["--duration"], "the block allows 90"),
        (["--cautions"], "Stop on pain"),
    ],
)
def test_views_in_place_of_the_list(views, said, capsys):
    assert main([*CHECK, *views]) == 0
    printed = capsys.readouterr().out
    assert said in printed
    assert "Chance that all reps of the week are made:" not in printed
    assert "clears nobody to train" in printed


def test_views_as_json_are_whole_numbers_and_texts(capsys):
    assert main([*CHECK, "--session", "1", "--order", "3,2,1", "--muscles", "--cautions", "--json"]) == 0
    content = json.loads(capsys.readouterr().out)
    assert content["session"]["minutes"] == pytest.approx(sum(content["session"]["minutes_by_kind"].values()))
    assert {row["exercise"] for row in content["session"]["orders"]} >= {"whole session", "back squat"}
    assert content["hard_reserve"] == 4


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        (["--session", "9"], "no session"),
        (["--session", "1", "--week", "9"], "no week 9"),
        (["--muscles", "--week", "9"], "no week 9"),
        (["--session", "1", "--order", "a,b"], "write places as"),
        (["--session", "1", "--order", "1,1,2"], "every exercise once"),
    ],
)
def test_what_cannot_be_shown_ends_in_one_line(wrong, said, capsys):
    assert main([*CHECK, *wrong]) == 2
    assert said in capsys.readouterr().err


def test_an_exchange_says_what_limits_it_and_gives_its_search_as_numbers(capsys):
    arguments = ["exercises", "exchange", "back squat", "--lifter", LIFTER, "--room", HALL, "--implement", "barbell"]
    assert main([*arguments, "--json", "--most", "50"]) == 0
    rows = {one["exercise"]: one for one in json.loads(capsys.readouterr().out)["exchanges"]}
    goblet = rows["goblet squat"]
    # A squat of 120 kg, known to 4 %: 120 x 0.9488 x 0.4 x 0.6 = 27.3 kg, and nine reps 27.3 exp(-0.2763) = 20.7 kg.
    assert goblet["search_bound_kg"] == pytest.approx(20.7, rel=2e-3)
    assert goblet["search_loads_kg"] == [12.0]
    assert rows["bodyweight squat"]["search_loads_kg"] == []
    assert rows["bodyweight squat"]["search_bound_kg"] is None
    assert rows["leg press"]["search_loads_kg"] == []  # the lifter's own 1RM needs no search
    assert main([*arguments, "--most", "50"]) == 0
    printed = capsys.readouterr().out
    assert "What the arms can hold limits it: less load for quadriceps and glutes than from the back squat." in printed
    assert "against body mass there is no lighter load" in printed
