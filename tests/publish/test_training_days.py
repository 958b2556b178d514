"""Who trains today and tomorrow: days of committed blocks, sessions that are open, nothing where no day is known."""

import datetime
import shutil

import pytest

from workbench.gym.equipment import read_room
from workbench.lifter import read_lifter
from workbench.log.session_log import LogRow, SessionLog, SessionName, log_of
from workbench.panels.app import App
from workbench.panels.frame import parts_of
from workbench.prescription.block import Block
from workbench.publish.commit import Decision, commit_block
from workbench.publish.training_days import training_days
from workbench.reference.gym_folder import GymFolder
from workbench.reference.sources import data_path
from workbench.reference.toml_files import validate

DEMO = data_path("demo")
ROOM = read_room(DEMO / "rooms" / "boathouse_hall.toml")
EMRE, CATO = (read_lifter(DEMO / "lifters" / f"{name}.toml") for name in ("emre_sandoval", "cato_venn"))
MONDAY = datetime.date(2026, 1, 5)


def block_of(name, days):
    slot = {"exercise": "barbell bench pull", "sets": [{"count": 1, "reps": 5, "percent": 60, "rest_s": 60}]}
    sessions = [
        {"name": f"s{at}", "exercises": [slot]} | ({"day": day} if day else {}) for at, day in enumerate(days, 1)
    ]
    return validate({"name": name, "weeks": 2, "sessions": sessions}, Block)


def commit(folder, block, start=MONDAY, lifters=(EMRE, CATO)):
    commit_block(block, list(lifters), ROOM, Decision("why"), start=start, folder=folder / "committed", draws=10)


@pytest.fixture(scope="module")
def committed(tmp_path_factory):
    folder = tmp_path_factory.mktemp("gym")
    GymFolder(folder).make()
    commit(folder, block_of("Block", (1, 3)))
    return folder


@pytest.fixture
def gym(committed, tmp_path):
    shutil.copytree(committed, tmp_path / "gym")
    return GymFolder(tmp_path / "gym")


def at(day, hour=12):
    """Noon, so many days after the first Monday."""
    return datetime.datetime.combine(MONDAY, datetime.time(hour)) + datetime.timedelta(days=day)


def said(gym, day):
    return [((one.day - MONDAY).days, one.lifter, one.week, one.session) for one in training_days(gym, at(day))]


@pytest.mark.parametrize(
    ("day", "sessions"),
    [
        (-2, []),
        (-1, [(0, 1, "s1")]),  # the Sunday before
        (0, [(0, 1, "s1")]),
        (1, [(2, 1, "s2")]),
        (2, [(2, 1, "s2")]),
        (3, []),
        (6, [(7, 2, "s1")]),
        (9, [(9, 2, "s2")]),
        (13, []),  # no third week
    ],
)
def test_days_are_counted_from_the_first_monday(gym, day, sessions):
    expected = [(on, who, week, name) for on, week, name in sessions for who in ("Cato Venn", "Emre Sandoval")]
    assert said(gym, day) == expected


def test_a_session_that_is_open_stands_for_the_planned_one_and_the_last_set_is_known(gym):
    log = SessionLog(log_of(gym, EMRE.name, "Block"), SessionName(EMRE.name, "Block", 1, 1, "s1", at(1).date()))
    row = LogRow(log.next_entry([]), at(1).time(), "barbell bench pull", "1", "50", "kg", 5)
    log.add(row)
    emre = [one for one in training_days(gym, at(1, 13)) if one.lifter == EMRE.name]
    # Monday's session is done on Tuesday; Wednesday's is planned as it was.
    assert [(one.day, one.session, one.is_open) for one in emre] == [
        (at(1).date(), "s1", True),
        (at(2).date(), "s2", False),
    ]
    later = training_days(gym, at(2))
    assert [(one.lifter, one.session, one.is_open, one.last) for one in later] == [
        ("Cato Venn", "s2", False, None),
        ("Emre Sandoval", "s2", False, at(1).date()),
    ]


def test_the_newest_revision_counts_and_blocks_without_days_or_date_are_silent(gym):
    commit(gym.path, block_of("Block", (2, 4)), lifters=(EMRE,))
    commit(gym.path, block_of("Without days", (None, None)))
    commit(gym.path, block_of("Without date", (1, 2)), start=None)
    assert said(gym, 0) == [(1, "Emre Sandoval", 1, "s1")]
    assert said(gym, 1) == [(1, "Emre Sandoval", 1, "s1")]


def test_the_start_page_says_who_trains_and_nothing_where_nobody_does(gym):
    assert "Today and tomorrow" not in start_page(gym)  # that block is over
    today = datetime.datetime.now()  # noqa: DTZ005 (as the page counts)
    monday = today.date() - datetime.timedelta(days=today.weekday())
    commit(gym.path, block_of("Every day", range(1, 8)), start=monday)
    page = start_page(gym)
    assert "Today and tomorrow" in page
    assert page.count("Cato Venn") >= 2


def start_page(gym):
    app = App(gym.path)
    app.pages["start"].look_again()
    return " ".join(str(part.value) for part in parts_of(app.root) if type(part).__name__ == "HTML")
