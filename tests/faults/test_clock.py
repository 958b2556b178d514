"""The clock: midnight in the middle of a session, a clock that is set back or far off. Nothing is lost or mixed up."""

import datetime
import os

import pytest

from tests.own_gyms import make_gym
from workbench.gym.equipment import read_room
from workbench.lifter import read_lifter
from workbench.log.session_log import proposed_session
from workbench.panels.session_today import SessionToday
from workbench.prescription.block import read_block
from workbench.reference.gym_folder import GymFolder


def clock(text):
    """A time on the clock of the place where the session is."""
    return datetime.datetime.fromisoformat(text)


EVENING = clock("2026-10-24 23:40")
MINUTE, HOUR = datetime.timedelta(minutes=1), datetime.timedelta(hours=1)


class Hall:
    """A gym with one lifter and a block of two weeks, opened at any time of the clock."""

    def __init__(self, folder):
        place = make_gym(folder, "hall")
        self.gym = GymFolder(place)
        self.room = read_room(place / "rooms" / "hall.toml")
        self.lifter = read_lifter(place / "lifters" / "a.toml")
        self.block = read_block(place / "block.toml")

    def opened(self, now, week=1):
        return SessionToday(
            self.gym, self.block, self.lifter, self.room, week=week, session=1, now=lambda: now, draws=20
        )

    def set_done(self, now, reps):
        page = self.opened(now)
        entry = page.log.next_entry(page.rows())
        page.take({"do": "set", "entry": entry, "exercise": "back squat", "load": "80", "reps": str(reps)})

    def proposed(self, now):
        return proposed_session(self.gym, self.block, "Ada", now=now)


@pytest.fixture
def hall(tmp_path):
    return Hall(tmp_path)


def reps_of(page):
    return [row.reps for row in page.rows()]


def test_midnight_in_the_middle_of_a_session_parts_nothing(hall):
    """Sets before and after midnight are of one session, however often the page is loaded anew."""
    for number, after in enumerate((0, 15, 25, 45), start=1):  # 23:40, 23:55, 0:05, 0:25
        hall.set_done(EVENING + after * MINUTE, number)
    late = EVENING + 50 * MINUTE
    page = hall.opened(late)
    assert reps_of(page) == [1, 2, 3, 4]
    assert page.log.name.day == EVENING.date()
    assert hall.proposed(late) == (1, 1)
    # Six hours after the last row, at 0:25, it is over.
    assert hall.proposed(EVENING + 45 * MINUTE + 6 * HOUR - MINUTE) == (1, 1)
    assert hall.proposed(EVENING + 45 * MINUTE + 6 * HOUR) == (2, 1)


def test_the_hour_that_comes_twice_or_never_parts_nothing(hall):
    """The clock goes from 3:00 back to 2:00, and another night from 2:00 on to 3:00."""
    night = clock("2026-10-25 02:50")
    hall.set_done(night, 1)
    hall.set_done(night - 45 * MINUTE, 2)  # 2:05 for the second time
    assert reps_of(hall.opened(night - 40 * MINUTE)) == [1, 2]
    assert hall.proposed(night - 40 * MINUTE) == (1, 1)
    hall.set_done(night + 70 * MINUTE, 3)
    assert reps_of(hall.opened(night + 71 * MINUTE)) == [1, 2, 3]
    assert hall.proposed(night + 71 * MINUTE) == (1, 1)


def test_a_clock_that_is_put_right_keeps_the_session(hall):
    """It was some minutes fast and is put back, over midnight too."""
    for start in (EVENING, EVENING + 25 * MINUTE):
        hall.set_done(start, 5)
        back = start - 10 * MINUTE
        assert reps_of(hall.opened(back))[-1] == 5
        assert hall.proposed(back) == (1, 1)


def test_a_clock_far_off_takes_nobody_back_into_an_old_session(hall):
    hall.set_done(EVENING, 5)
    assert reps_of(hall.opened(EVENING + datetime.timedelta(days=3))) == []
    assert reps_of(hall.opened(EVENING - datetime.timedelta(days=3))) == []
    # What is written is written: the rows of the day are there on that day.
    assert reps_of(hall.opened(EVENING)) == [5]


def test_versions_follow_their_numbers_not_the_clock(tmp_path):
    """The clock is set back between two edits: undo goes through them as they were made."""
    gym = GymFolder(tmp_path)
    path = gym.add("lifters", "Ada", "one")
    edited = gym.edit(path)
    for turn, text in enumerate(("two", "three"), start=1):
        edited.write(text)
        for version in (tmp_path / ".previous").rglob("*.toml"):
            os.utime(version, (10**9 / turn, 10**9 / turn))  # each older than the one before it
    anew = GymFolder(tmp_path).edit(path)
    assert [anew.content, anew.undo(), anew.undo()] == [b"three", b"two", b"one"]


def test_what_seems_to_be_written_in_the_future_is_not_swept(tmp_path):
    """A file half written by another window, whose clock is ahead, is left to it."""
    gym = GymFolder(tmp_path)
    gym.make()
    half = tmp_path / "lifters" / ".0a.part"
    half.write_bytes(b"half")
    os.utime(half, (4 * 10**9, 4 * 10**9))
    gym.make()
    assert half.exists()
