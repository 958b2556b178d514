"""Two windows or programs at once: neither loses what the other wrote."""

import datetime
import multiprocessing
from pathlib import Path

import pytest

from workbench.log.session_log import LogRow, SessionLog, SessionName
from workbench.quantities import InputError
from workbench.reference.whole_files import alone_with, write_whole

DAY = datetime.date(2026, 1, 5)
#: Rows that each of two programs writes.
EACH = 20


def session_log(path, lifter="Ada"):
    return SessionLog(path, SessionName(lifter, "Logs", 1, 1, "one", DAY))


def row(log, reps):
    return LogRow(log.next_entry(log.rows()), datetime.time(17, 0), "back squat", "1", "80", "kg", reps)


def test_two_windows_that_type_the_same_set_write_it_once(tmp_path):
    log = session_log(tmp_path / "log.csv")
    typed = row(log, 5)
    assert log.add(typed)
    assert not session_log(log.path).add(typed)  # sent twice
    with pytest.raises(InputError, match="another set was typed meanwhile"):
        log.add(LogRow("0123456789ab", datetime.time(17, 1), "back squat", "2", "80", "kg", 4))
    assert [one.reps for one in log.rows()] == [5]


def test_only_the_last_set_is_taken_back(tmp_path):
    log = session_log(tmp_path / "log.csv")
    first = row(log, 5)
    log.add(first)
    log.add(row(log, 4))
    assert not log.take_back(first.entry)
    assert [one.reps for one in log.rows()] == [5, 4]


def write_rows(path, lifter, gate):
    """Write rows of one lifter into a log that another program writes too."""
    log = session_log(Path(path), lifter)
    gate.wait()
    for reps in range(EACH):
        log.add(row(log, reps))


@pytest.mark.skipif("fork" not in multiprocessing.get_all_start_methods(), reason="this system starts none by fork")
def test_two_programs_in_one_log_lose_no_row(tmp_path):
    context = multiprocessing.get_context("fork")
    gate = context.Barrier(2)
    path = tmp_path / "log.csv"
    children = [context.Process(target=write_rows, args=(path, name, gate)) for name in ("Ada", "Ben")]
    for child in children:
        child.start()
    for child in children:
        child.join()
        assert child.exitcode == 0
    for name in ("Ada", "Ben"):
        assert [one.reps for one in session_log(path, name).rows()] == list(range(EACH))


def test_who_holds_a_file_for_long_is_said(tmp_path, monkeypatch):
    monkeypatch.setattr("workbench.reference.whole_files._LOCK_TRIES", 2)
    log = session_log(tmp_path / "log.csv")
    with alone_with(log.path), pytest.raises(InputError, match="is being written by another window or program"):
        log.add(row(log, 5))
    assert not log.path.exists()
    assert log.add(row(log, 5))


def test_a_log_that_another_program_saved_otherwise_stays_as_it_is(tmp_path):
    path = tmp_path / "log.csv"
    write_whole(path, "date;exercise\n")
    with pytest.raises(InputError, match="saved by another program"):
        session_log(path).rows()
    assert path.read_bytes() == b"date;exercise\n"
