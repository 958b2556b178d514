"""The disk: full, or read-only, in the middle of what a coach does. One clear line, and what was there is there."""

import datetime
import errno
import os
from pathlib import Path

import pytest

from tests.own_gyms import make_gym
from workbench.__main__ import main
from workbench.gym.equipment import read_room
from workbench.lifter import read_lifter
from workbench.panels.session_today import SessionToday
from workbench.prescription.block import read_block
from workbench.quantities import InputError
from workbench.reference.gym_folder import GymFolder
from workbench.reference.sources import data_path

DEMO = data_path("demo")
WHO = ["--lifter", str(DEMO / "lifters" / "emre_sandoval.toml"), "--room", str(DEMO / "rooms" / "boathouse_hall.toml")]
FEW = ["--draws", "10", "--seed", "1"]
BLOCK, LOG = str(DEMO / "block.toml"), str(DEMO / "logs" / "emre_sandoval_weeks_1_2.csv")


def everything(folder):
    """What a folder holds, but for the empty files that programs lock."""
    return {path: path.read_bytes() for path in folder.rglob("*") if path.is_file() and path.suffix != ".lock"}


@pytest.fixture
def full(monkeypatch):
    """From when it is called nothing more goes on the disk, though files can still be made and named."""

    def fills():
        def no_space(*_):
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

        monkeypatch.setattr("workbench.reference.whole_files.os.fsync", no_space)

    return fills


@pytest.fixture
def read_only(monkeypatch):
    """From when it is called no file or folder can be made or opened for writing."""

    def locks():
        def refused(*_, **__):
            raise OSError(errno.EROFS, os.strerror(errno.EROFS))

        real = os.open

        def opened(path, flags, *more, **keys):
            return refused() if flags & (os.O_CREAT | os.O_WRONLY | os.O_RDWR) else real(path, flags, *more, **keys)

        monkeypatch.setattr(os, "open", opened)
        for name in ("mkdir", "rename", "replace", "link", "unlink", "remove"):
            monkeypatch.setattr(os, name, refused)

    return locks


FAILS = pytest.mark.parametrize("fails", ["full", "read_only"])


@FAILS
def test_an_edit_leaves_the_file_and_all_its_versions(fails, request, tmp_path):
    gym = GymFolder(tmp_path)
    edited = gym.edit(gym.add("lifters", "Ada", "one"))
    edited.write("two")
    before = everything(tmp_path)
    request.getfixturevalue(fails)()
    with pytest.raises(InputError, match="cannot be written"):
        edited.write("three")
    assert everything(tmp_path) == before
    assert edited.content == b"two"


@FAILS
def test_an_edit_goes_on_when_there_is_room_again(fails, request, tmp_path, monkeypatch):
    gym = GymFolder(tmp_path)
    edited = gym.edit(gym.add("lifters", "Ada", "one"))
    request.getfixturevalue(fails)()
    with pytest.raises(InputError):
        edited.write("two")
    monkeypatch.undo()
    edited.write("two")
    assert edited.undo() == b"one"


@FAILS
def test_a_set_that_cannot_be_written_down_is_said_and_costs_no_other(fails, request, tmp_path, monkeypatch):
    place = make_gym(tmp_path, "hall")
    page = SessionToday(
        GymFolder(place),
        read_block(place / "block.toml"),
        read_lifter(place / "lifters" / "a.toml"),
        read_room(place / "rooms" / "hall.toml"),
        week=1,
        session=1,
        now=lambda: datetime.datetime.fromisoformat("2026-01-05 17:00"),
        draws=20,
    )

    def form(reps):
        entry = page.log.next_entry(page.rows())
        return {"do": "set", "entry": entry, "exercise": "back squat", "load": "80", "reps": reps}

    page.take(form("5"))
    before = everything(place)
    request.getfixturevalue(fails)()
    with pytest.raises(InputError, match="cannot be written"):
        page.take(form("4"))
    assert everything(place) == before
    monkeypatch.undo()
    page.take(form("4"))
    assert [row.reps for row in page.rows()] == [5, 4]


@FAILS
def test_the_demo_and_the_memory_of_a_gym_are_one_clear_error(fails, request, tmp_path):
    gym = GymFolder(tmp_path)
    gym.remember(block="a")
    before = everything(tmp_path)
    request.getfixturevalue(fails)()
    with pytest.raises(InputError, match="cannot be written"):
        gym.add_demo()
    with pytest.raises(InputError, match="cannot be written"):
        gym.remember(block="b")
    assert everything(tmp_path) == before
    assert gym.remembered() == {"block": "a"}


@pytest.mark.parametrize(
    "words",
    [
        ["log", LOG, "-o", "log.csv"],
        ["sheet", BLOCK, *WHO, *FEW, "-o", "sheet.xlsx"],
        pytest.param(["sheet", BLOCK, *WHO, *FEW, "-o", "page.html"], marks=pytest.mark.slow),
        pytest.param(["fit", LOG, *WHO[:2], *FEW, "-o", "lifter.toml"], marks=pytest.mark.slow),
        pytest.param(["commit", BLOCK, *WHO, *FEW, "--reason", "r", "--to", "committed"], marks=pytest.mark.slow),
    ],
    ids=lambda words: f"{words[0]}-{words[-1]}",
)
def test_a_command_on_a_read_only_disk_says_so_in_one_line(words, read_only, tmp_path, capsys):
    read_only()
    assert main([*words[:-1], str(tmp_path / words[-1])]) == 2
    said = capsys.readouterr().err
    assert said.count("\n") == 1
    assert "Read-only file system" in said
    assert list(Path(tmp_path).iterdir()) == []


def test_no_folder_for_temporary_files_is_one_line(monkeypatch, tmp_path, capsys):
    """The server's private folder can be made nowhere."""

    def refused(*_, **__):
        raise FileNotFoundError(errno.ENOENT, "No usable temporary directory found")

    monkeypatch.setattr("workbench.commands.notebook_server.tempfile.TemporaryDirectory", refused)
    assert main(["open", "--no-browser", str(tmp_path / "gym")]) == 2
    assert capsys.readouterr().err == (
        "workbench: No usable temporary directory found; make room in the folder for temporary files (TMPDIR)\n"
    )
