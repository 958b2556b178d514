"""The log of a session under way: what is written is what the reader of logs takes, and no row is lost or doubled."""

from __future__ import annotations

import datetime
import subprocess
import sys
from dataclasses import replace

import pytest

from workbench.gym.catalogue import built_in
from workbench.log import read_log
from workbench.log.session_log import (
    HEADINGS,
    LogRow,
    SessionLog,
    SessionName,
    latest_session,
    log_of,
    proposed_session,
)
from workbench.prescription.block import read_block
from workbench.quantities import KG_PER_LB, InputError
from workbench.reference.gym_folder import GymFolder
from workbench.reference.sources import data_path

DAY = datetime.date(2026, 1, 5)
NINE = datetime.time(9, 0, 30)
NAME = SessionName("Zoë =O'Hara", "Spring, heavy", 2, 1, "Monday", DAY)


@pytest.fixture
def gym(tmp_path):
    folder = GymFolder(tmp_path)
    folder.make()
    return folder


@pytest.fixture
def log(gym):
    return SessionLog(log_of(gym, NAME.lifter, NAME.block), NAME)


def put(log, exercise="back squat", **more):
    """Write the next row; return it."""
    row = LogRow(
        log.next_entry(log.rows()), NINE, exercise, **{"label": "1", "load": "100", "unit": "kg", "reps": 5} | more
    )
    assert log.add(row)
    return row


# ---- the reader takes what is written -------------------------------------------------------------------------------


def test_every_kind_of_set_is_read_back_as_it_was(log):
    squat = built_in().exercise("back squat").name
    put(log, load="98.5", reserve="2")
    put(log, label="1, drop 1", load="80", reps=3, failed=True, rest_s=12.0)
    put(log, "dumbbell curl", load="35", unit="lb", reserve="4+")
    put(log, "pull-up", load="BW", body_mass_kg=80.0, reps=8)
    put(log, "pull-up", label="2", load="BW+10", body_mass_kg=80.0, reps=0, failed=True, rest_s=150.0)
    reading = read_log(log.path)
    assert reading.questions == ()
    assert len(reading.quarantine) == 0
    rows = reading.rows
    # Two dumbbells of 35 lb; body mass, and body mass with ten more.
    assert list(rows["load_kg"]) == pytest.approx([98.5, 80.0, 70 * KG_PER_LB, 80.0, 90.0], abs=1e-9)
    assert list(rows["reps"]) == [5, 3, 5, 8, 0]
    assert list(rows["outcome"]) == ["stopped", "failed", "completed", "completed", "failed"]
    assert list(rows["set_number"]) == [1, 1, 1, 1, 2]
    # That four or more were left is no number of reps left.
    assert list(rows["reps_in_reserve"].fillna(-1)) == [2, -1, -1, -1, -1]
    assert list(rows["rest_s"].fillna(-1)) == [-1, 12, -1, -1, 150]
    assert rows["reading_notes"][1] == "drop 1 of set 1"
    assert set(rows["lifter"]) == {NAME.lifter}
    assert set(rows["date"].dt.date) == {DAY}
    assert rows["exercise"][0] == squat
    assert set(rows["block"]) == {NAME.block}
    assert set(rows["week"]) == {"2"}


def test_what_was_not_done_is_set_aside_by_the_reader_and_known_to_the_session(log):
    put(log)
    put(log, "leg press", label="", load="", unit="", reps=None, note="skipped")
    reading = read_log(log.path)
    assert list(reading.quarantine["reason"]) == ["no load and no reps: the set was not done, or not written down"]
    assert [row.note for row in log.rows()] == ["", "skipped"]


def test_rows_come_back_as_they_were_written(log):
    rows = [
        put(log, reserve="0", rest_s=92.5),
        put(log, "pull-up", load="BW+2.5", unit="lb", body_mass_kg=81.25, note="in place of =chin"),
        put(log, "leg press", label="", load="", unit="", reps=None, note="exchanged for back squat"),
        put(log, reps=0, failed=True),
    ]
    assert log.rows() == rows


# ---- nothing lost, nothing doubled ----------------------------------------------------------------------------------


def test_the_same_row_sent_twice_stands_there_once(log):
    row = put(log)
    assert not log.add(row)
    assert not log.add(replace(row, reps=9))  # called alike: the first one counts
    assert log.rows() == [row]


def test_a_row_typed_for_a_page_that_is_no_longer_so_is_refused(log):
    stale = log.next_entry([])
    put(log)
    put(log, label="2")
    with pytest.raises(InputError, match="another set was typed meanwhile"):
        log.add(LogRow(stale[::-1], NINE, "back squat", "2", "100", "kg", 5))
    assert len(log.rows()) == 2


def test_only_the_last_row_is_taken_back_and_only_once(log):
    first, last = put(log), put(log, label="2")
    assert not log.take_back(first.entry)
    assert log.take_back(last.entry)
    assert not log.take_back(last.entry)
    assert log.rows() == [first]


def test_other_sessions_of_the_same_log_are_left_alone(log):
    mine = put(log)
    others = [
        SessionLog(log.path, replace(NAME, **{key: value}))
        for key, value in (("week", 3), ("session", 2), ("day", DAY + datetime.timedelta(days=1)), ("lifter", "Bo"))
    ]
    theirs = [put(other, reps=number) for number, other in enumerate(others, start=6)]
    assert log.rows() == [mine]
    assert log.take_back(mine.entry)
    assert [other.rows() for other in others] == [[row] for row in theirs]
    assert len({row.entry for row in (mine, *theirs)}) == 5


def test_what_is_called_the_next_row_depends_on_all_before(log):
    names = [log.next_entry([])]
    for label in ("1", "2", "3"):
        put(log, label=label)
        names.append(log.next_entry(log.rows()))
    assert len(set(names)) == 4
    log.take_back(names[2])
    assert log.next_entry(log.rows()) == names[2]


WRITER = """
import datetime, sys
from pathlib import Path
from workbench.log.session_log import LogRow, SessionLog, SessionName
week = int(sys.argv[2])
log = SessionLog(Path(sys.argv[1]), SessionName("Ana", "Block", week, 1, "Monday", datetime.date(2026, 1, 5)))
for number in range(25):
    rows = log.rows()
    log.add(LogRow(log.next_entry(rows), datetime.time(9), "back squat", str(number + 1), "100", "kg", 5))
"""


@pytest.mark.slow
def test_two_programs_that_write_at_the_same_time_lose_nothing_of_each_other(tmp_path):
    path = tmp_path / "ana_block.csv"
    both = [subprocess.Popen([sys.executable, "-c", WRITER, str(path), str(week)]) for week in (1, 2)]
    assert [one.wait() for one in both] == [0, 0]
    for week in (1, 2):
        rows = SessionLog(path, SessionName("Ana", "Block", week, 1, "Monday", DAY)).rows()
        assert [row.label for row in rows] == [str(number) for number in range(1, 26)]


# ---- which file, which session --------------------------------------------------------------------------------------


def test_a_log_in_a_form_of_another_program_is_kept_and_a_new_one_begun(gym, log):
    put(log)
    assert log.path.name == "zoe_o_hara_spring_heavy.csv"
    assert log_of(gym, NAME.lifter, NAME.block) == log.path
    foreign = log.path.read_text(encoding="utf-8-sig").replace(",", ";")
    log.path.write_text(foreign, encoding="utf-8")
    with pytest.raises(InputError, match="was saved by another program"):
        log.rows()
    other = SessionLog(log_of(gym, NAME.lifter, NAME.block), NAME)
    assert other.path.name == "zoe_o_hara_spring_heavy_2.csv"
    put(other)
    assert log.path.read_text(encoding="utf-8") == foreign


def test_a_row_that_somebody_spoilt_is_named(log):
    put(log)
    log.path.write_text(log.path.read_text(encoding="utf-8-sig").replace("09:00:30", "morning"), encoding="utf-8")
    with pytest.raises(InputError, match="row 2"):
        log.rows()
    with pytest.raises(InputError, match="row 2"):
        latest_session(log.path, NAME.lifter, NAME.block)


def test_the_headings_are_those_of_the_file(log):
    put(log)
    assert log.path.read_text(encoding="utf-8-sig").splitlines()[0].split(",") == list(HEADINGS)


@pytest.mark.parametrize(
    ("hours", "proposed"),
    # Of two sessions a week over three weeks, the last row is of week 2, session 1: it goes on for six hours, and then
    # session 2 is next. A clock may have been set back meanwhile, but not by half a day.
    [(0.0, (2, 1)), (5.9, (2, 1)), (6.1, (2, 2)), (-1.0, (2, 1)), (-7.0, (2, 2))],
)
def test_the_session_under_way_is_proposed_and_later_the_next_one(gym, hours, proposed):
    block = two_a_week()
    log = SessionLog(log_of(gym, "Ana", block.name), SessionName("Ana", block.name, 2, 1, "Monday", DAY))
    put(log)
    now = datetime.datetime.combine(DAY, NINE) + datetime.timedelta(hours=hours)
    assert proposed_session(gym, block, "Ana", now=now) == proposed
    assert proposed_session(gym, block, "Bo", now=now) == (1, 1)


@pytest.mark.parametrize(("last", "proposed"), [((1, 2), (2, 1)), ((3, 1), (3, 2)), ((3, 2), (3, 2))])
def test_after_the_last_session_of_a_week_comes_the_next_week_and_none_after_the_block(gym, last, proposed):
    block = two_a_week()
    put(SessionLog(log_of(gym, "Ana", block.name), SessionName("Ana", block.name, *last, "x", DAY)))
    later = datetime.datetime.combine(DAY, NINE) + datetime.timedelta(days=2)
    assert proposed_session(gym, block, "Ana", now=later) == proposed


@pytest.mark.parametrize(
    ("days", "proposed"),
    # Monday and Thursday, from Monday 2026-01-05: before it, on it, Tuesday, Thursday, the Monday of week 2,
    # and long after (100 days are week 15, a Wednesday).
    [(-3, (1, 1)), (0, (1, 1)), (1, (1, 2)), (3, (1, 2)), (7, (2, 1)), (100, (3, 2))],
)
def test_before_anything_was_done_the_calendar_proposes(gym, days, proposed):
    now = datetime.datetime.combine(DAY, NINE) + datetime.timedelta(days=days)
    assert proposed_session(gym, two_a_week(), "Ana", start=DAY, now=now) == proposed


def two_a_week():
    block = read_block(data_path("demo", "block.toml"))
    first, second = block.sessions[:2]
    sessions = [first.model_copy(update={"day": 1}), second.model_copy(update={"day": 4})]
    return block.model_copy(update={"sessions": sessions, "weeks": 3})
