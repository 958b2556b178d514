"""Every answer on the demo: short where it is shown, safe where it is a page, whole where it is kept."""

import dataclasses
import datetime
import inspect
import json
import math
import pkgutil
import shutil

import numpy as np
import pandas as pd
import pytest

import workbench
import workbench.answers
from workbench.answers.exchange import Exclusions
from workbench.answers.exchange_session import exchange_session
from workbench.answers.find_exercise import find_exercises
from workbench.answers.lifter_known import known_of
from workbench.answers.mend import mends
from workbench.answers.next_test import suggest_test
from workbench.answers.next_week import next_week
from workbench.answers.room_loads import room_loads
from workbench.answers.start_loads import start_loads
from workbench.answers.surprises import find_surprises
from workbench.present.answer import Answer, records
from workbench.reference.sources import data_path

LONGEST_REPR = 2000
#: Rows of the one table on a page, its heading included.
MOST_ROWS = 13

_DEMO = data_path("demo")
BLOCK = workbench.read_block(_DEMO / "block.toml")
EMRE = workbench.read_lifter(_DEMO / "lifters" / "emre_sandoval.toml")
ROOM = workbench.read_room(_DEMO / "rooms" / "boathouse_hall.toml")
FEW = {"draws": 20, "seed": 1}
KNOB = "percent=60,65 of barbell bench pull"


@pytest.fixture(scope="module")
def learned():
    return workbench.fit_log(_DEMO / "logs" / "emre_sandoval_weeks_1_2.csv", EMRE)


@pytest.fixture(scope="module")
def answers(learned, tmp_path_factory):
    gym = tmp_path_factory.mktemp("gym")
    shutil.copytree(_DEMO / "lifters", gym / "lifters")
    (gym / "logs").mkdir()
    log = shutil.copy(_DEMO / "logs" / "emre_sandoval_weeks_1_2.csv", gym / "logs" / "emre_sandoval.csv")
    check = workbench.check(BLOCK, EMRE, ROOM, **FEW)
    found = [
        check,
        mends(check, **FEW),
        workbench.session(BLOCK, EMRE, ROOM, **FEW),
        workbench.volume(BLOCK, EMRE, ROOM, **FEW),
        workbench.today(BLOCK, EMRE, ROOM, [workbench.SetDone("barbell bench pull", 60, 6)], **FEW),
        workbench.what_can_go(BLOCK, EMRE, ROOM, minutes=5, **FEW),
        find_exercises(ROOM, EMRE, "row"),
        known_of(EMRE),
        room_loads(ROOM, "back squat"),
        start_loads(BLOCK, EMRE, ROOM),
        workbench.what_is_unsure(BLOCK, EMRE, ROOM, **FEW),
        workbench.curve(EMRE, "back squat", equations=["epley_1985"], **FEW),
        workbench.drop(EMRE, "back squat", ROOM, load_kg=80, **FEW),
        workbench.exchange(EMRE, ROOM, "back squat"),
        exchange_session(BLOCK, EMRE, ROOM, 1, leave_out=Exclusions.of(EMRE, positions=["spine"])),
        workbench.compare({"as it is": BLOCK, "longer rests": workbench.change(BLOCK, rest_by=30)}, EMRE, ROOM, **FEW),
        workbench.decide(BLOCK, EMRE, ROOM, [KNOB], **FEW),
        workbench.team(BLOCK, _DEMO / "lifters", ROOM, mend=False, **FEW),
        learned,
        next_week(learned, BLOCK, ROOM, week=3, **FEW),
        suggest_test(learned, draws=50),
        find_surprises(learned),
        workbench.walk_forward(log, EMRE, **FEW),
        workbench.gym_numbers(gym, **FEW),
    ]
    return {type(one).__name__: one for one in found}


NAMES = [
    "BlockCheck",
    "Comparison",
    "CurveAnswer",
    "Decision",
    "DropAnswer",
    "ExchangeAnswer",
    "FoundExercises",
    "GymNumbers",
    "KnownLifter",
    "Learned",
    "Mending",
    "NextTest",
    "NextWeek",
    "Review",
    "RoomLoads",
    "SessionAnswer",
    "SessionExchange",
    "StartLoads",
    "Surprises",
    "Team",
    "Today",
    "Unsure",
    "VolumeAnswer",
    "WhatCanGo",
]


def test_every_kind_of_answer_is_tried_here(answers):
    kinds = set()
    for found in pkgutil.walk_packages(workbench.__path__, "workbench."):
        if found.name.split(".")[1] in ("answers", "fit"):
            module = __import__(found.name, fromlist=["_"])
            kinds |= {name for name, one in vars(module).items() if inspect.isclass(one) and issubclass(one, Answer)}
    assert kinds - {"Answer"} == set(NAMES) == set(answers)


@pytest.mark.parametrize("name", NAMES)
def test_an_answer_is_short_where_it_is_shown(name, answers):
    answer = answers[name]
    assert 0 < len(repr(answer)) < LONGEST_REPR
    page = answer._repr_html_()
    assert page.count("<tr>") <= MOST_ROWS
    assert page.count("<p>") + page.count("<li>") <= 2 * 9  # eight and the count of the others, of each
    assert answer.sentences()[0].split()[0] in answer.text()


@pytest.mark.parametrize("name", NAMES)
def test_an_answer_is_kept_whole_as_json(name, answers):
    answer = answers[name]
    kept = json.loads(json.dumps(answer.to_records(), allow_nan=False))
    assert kept["sentences"]
    assert {key: len(rows) for key, rows in kept["tables"].items()} == {
        key: len(table) for key, table in answer.tables.items()
    }
    assert all(isinstance(note, str) for note in answer.notes)


def test_tables_are_tidy_frames_by_the_names_of_their_attributes(answers):
    assert list(answers["BlockCheck"].tables) == ["sets", "weeks"]
    assert answers["BlockCheck"].tables["weeks"] is answers["BlockCheck"].weeks
    assert list(answers["Decision"].tables) == ["candidates", "front", "limits", "steps"]


def test_names_that_look_like_markup_are_shown_and_never_obeyed():
    lifter = EMRE.model_copy(update={"name": "<script>alert(1)</script>"})
    page = workbench.check(BLOCK, lifter, ROOM, **FEW)._repr_html_()
    assert "<script>" not in page
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in page
    page = workbench.team(BLOCK, [lifter], ROOM, mend=False, **FEW)._repr_html_()
    assert "<script>" not in page
    assert "&lt;script&gt;" in page


@dataclasses.dataclass(frozen=True, repr=False)
class Long(Answer):
    rows: pd.DataFrame

    @property
    def notes(self):
        return tuple(f"note {number} {'x' * 400}" for number in range(50))

    def sentences(self):
        return [f"sentence {number} {'y' * 400}" for number in range(500)]


def test_a_long_answer_is_cut_at_the_end_of_a_line():
    answer = Long(pd.DataFrame({"name": ["z" * 500] * 100}))
    *lines, last = repr(answer).splitlines()
    assert len(repr(answer)) < LONGEST_REPR
    assert last == "... (all of it: .text(), .tables)"
    assert lines == answer.text().splitlines()[: len(lines)]
    page = answer._repr_html_()
    assert page.count("<tr>") == MOST_ROWS
    assert "492 more in .sentences()" in page
    assert "42 more in .notes" in page


def test_records_hold_only_what_json_has():
    table = pd.DataFrame(
        {
            "number": [1.5, math.nan, -math.inf],
            "whole": np.array([1, 2, 3], dtype=np.int64),
            "date": [datetime.date(2026, 1, 5), pd.Timestamp("2026-01-06"), pd.NaT],
            "some": [("a", np.float64(math.nan)), None, pd.NA],
            "yes": np.array([True, False, True]),
        }
    )
    assert json.loads(json.dumps(records(table), allow_nan=False)) == [
        {"number": 1.5, "whole": 1, "date": "2026-01-05", "some": ["a", None], "yes": True},
        {"number": None, "whole": 2, "date": "2026-01-06T00:00:00", "some": None, "yes": False},
        {"number": None, "whole": 3, "date": None, "some": None, "yes": True},
    ]
