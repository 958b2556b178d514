"""Files are read within bounds and written whole: what was there stays, byte for byte, whatever happens."""

import ast
import errno
import os
import stat
import subprocess
import sys
from contextlib import contextmanager
from functools import partial
from pathlib import Path

import pytest

import workbench
from workbench.gym.catalogue import catalogue_for
from workbench.gym.equipment import read_room
from workbench.lifter import read_lifter
from workbench.prescription.block import read_block
from workbench.quantities import InputError
from workbench.reference import whole_files
from workbench.reference.sources import data_path
from workbench.reference.whole_files import alone_with, check_free, read_whole, write_whole

PACKAGE = Path(workbench.__file__).parent
posix = pytest.mark.skipif(os.name != "posix", reason="pipes, devices and permissions are named otherwise elsewhere")


def test_what_is_written_is_there_and_nothing_else(tmp_path):
    assert write_whole(tmp_path / "a.txt", "é\r\n") == tmp_path / "a.txt"
    assert (tmp_path / "a.txt").read_bytes() == b"\xc3\xa9\r\n"
    write_whole(tmp_path / "b.bin", b"\x00\xff")
    assert (tmp_path / "b.bin").read_bytes() == b"\x00\xff"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["a.txt", "b.bin"]


def test_a_file_that_is_there_stays_until_it_may_be_replaced(tmp_path):
    path = tmp_path / "sheet.xlsx"
    path.write_bytes(b"filled in")
    for refused in (check_free, lambda path: write_whole(path, "new")):
        with pytest.raises(InputError, match=r"sheet\.xlsx: is there already; .*--replace"):
            refused(path)
    assert path.read_bytes() == b"filled in"
    write_whole(path, "new", replace=True)
    assert path.read_bytes() == b"new"
    assert list(tmp_path.iterdir()) == [path]


@posix
@pytest.mark.parametrize("mask", [0o022, 0o077, 0o002])
def test_permissions_are_those_of_any_new_file_and_a_replaced_one_keeps_its_own(tmp_path, mask):
    before = os.umask(mask)
    try:
        write_whole(tmp_path / "new", "x")
        private = tmp_path / "private"
        private.write_text("x", encoding="utf-8")
        private.chmod(0o600)
        write_whole(private, "y", replace=True)
    finally:
        os.umask(before)
    # A new file has 666 less the mask.
    assert stat.S_IMODE((tmp_path / "new").stat().st_mode) == 0o666 & ~mask
    assert stat.S_IMODE(private.stat().st_mode) == 0o600


@posix
def test_links_devices_and_folders_are_never_replaced(tmp_path):
    target = tmp_path / "target"
    target.write_text("kept", encoding="utf-8")
    (tmp_path / "link").symlink_to(target)
    (tmp_path / "dangling").symlink_to(tmp_path / "nowhere")
    (tmp_path / "folder").mkdir()
    os.mkfifo(tmp_path / "pipe")
    before = sorted(tmp_path.iterdir())
    for name in ("link", "dangling", "folder", "pipe"):
        for replace in (False, True):
            with pytest.raises(InputError, match="is no ordinary file"):
                write_whole(tmp_path / name, "x", replace=replace)
    assert target.read_text(encoding="utf-8") == "kept"
    assert sorted(tmp_path.iterdir()) == before
    with pytest.raises(InputError, match="is no ordinary file"):
        write_whole("/dev/null", "x", replace=True)
    assert stat.S_ISCHR(Path("/dev/null").stat().st_mode)


@pytest.mark.parametrize("fails", ["write", "fsync", "replace"])
@pytest.mark.parametrize("replace", [True, False])
def test_a_full_disk_keeps_what_was_there_and_leaves_nothing(tmp_path, monkeypatch, fails, replace):
    path = tmp_path / "page.html"
    if replace:
        path.write_bytes(b"the page of before")

    def full(*_, **__):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    if fails == "write":
        real = os.fdopen

        @contextmanager
        def opened(*args, **keys):
            with real(*args, **keys) as stream:
                stream.write(b"half")
                stream.flush()
                full()
                yield stream

        monkeypatch.setattr("workbench.reference.whole_files.os.fdopen", opened)
    elif fails == "fsync":
        monkeypatch.setattr("workbench.reference.whole_files.os.fsync", full)
    else:
        monkeypatch.setattr(Path, "replace", full)
        monkeypatch.setattr(Path, "hardlink_to", full)
    with pytest.raises(InputError, match=r"page\.html: cannot be written \(No space left on device\)"):
        write_whole(path, "x" * 10_000, replace=replace)
    monkeypatch.undo()
    assert [(one.name, one.read_bytes()) for one in tmp_path.iterdir()] == (
        [("page.html", b"the page of before")] if replace else []
    )


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() != 0, reason="only root may mount a small disk")
def test_a_disk_that_is_really_full(tmp_path):
    disk = tmp_path / "disk"
    disk.mkdir()
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=64k", "tmpfs", disk], check=False, capture_output=True
    )
    if mounted.returncode:
        pytest.skip("no small disk can be mounted here")
    try:
        (disk / "page.html").write_bytes(b"the page of before")
        with pytest.raises(InputError, match="No space left"):
            write_whole(disk / "page.html", b"x" * 200_000, replace=True)
        with pytest.raises(InputError, match="No space left"):
            write_whole(disk / "new.html", b"x" * 200_000)
        assert [(one.name, one.read_bytes()) for one in disk.iterdir()] == [("page.html", b"the page of before")]
    finally:
        subprocess.run(["umount", disk], check=True)


def test_two_that_write_the_same_new_name_do_not_overwrite_each_other(tmp_path, monkeypatch):
    """Somebody takes the name between the look and the writing: theirs stays, on a disk with hard links or without."""
    real = Path.hardlink_to
    for linking in (real, None):
        path = tmp_path / f"new-{linking is None}"

        def taken(self, target, linking=linking):
            self.write_bytes(b"theirs")
            if linking is None:
                raise OSError(errno.EPERM, "no hard links here")
            linking(self, target)

        monkeypatch.setattr(Path, "hardlink_to", taken)
        with pytest.raises(InputError, match="is there already"):
            write_whole(path, "ours")
        assert path.read_bytes() == b"theirs"
    assert len(list(tmp_path.iterdir())) == 2


def test_a_disk_without_hard_links_is_written_too(tmp_path, monkeypatch):
    def none_here(*_):
        raise OSError(errno.EPERM, "Operation not permitted")

    monkeypatch.setattr(Path, "hardlink_to", none_here)
    write_whole(tmp_path / "new", "x")
    assert [(one.name, one.read_bytes()) for one in tmp_path.iterdir()] == [("new", b"x")]


@pytest.mark.parametrize("name", ["a\0b", "x" * 5000, "nowhere/a", "file/a"])
def test_a_name_that_cannot_be_is_one_clear_error(tmp_path, name):
    (tmp_path / "file").write_text("", encoding="utf-8")
    for tried in (lambda path: write_whole(path, "x"), lambda path: read_whole(path, 10)):
        with pytest.raises(InputError):
            tried(tmp_path / name)
    assert [one.name for one in tmp_path.iterdir()] == ["file"]


def test_reading_stops_at_the_bound(tmp_path):
    path = tmp_path / "ten"
    path.write_bytes(b"0123456789")
    assert read_whole(path, 10) == b"0123456789"
    with pytest.raises(InputError, match="has more than 9 bytes"):
        read_whole(path, 9)


@posix
@pytest.mark.parametrize("read", [read_block, read_lifter, read_room, partial(catalogue_for, None)])
def test_pipes_and_devices_are_refused_at_once_by_every_reader(tmp_path, read):
    """A pipe that nobody writes to would be waited for without end, a device read until the memory is full."""
    os.mkfifo(tmp_path / "pipe")
    for place in (tmp_path / "pipe", "/dev/zero", "/dev/null"):
        with pytest.raises(InputError, match="is no ordinary file"):
            read(place)
    with pytest.raises(InputError, match="is a folder"):
        read(tmp_path)


@posix
def test_a_command_refuses_a_pipe_and_a_device(tmp_path):
    """In a process of its own with little memory, which reading without bound would exceed."""
    os.mkfifo(tmp_path / "pipe")
    demo = data_path("demo")
    places = ["/dev/zero", str(tmp_path / "pipe")]
    words = [str(demo / "block.toml"), "--room", str(demo / "rooms" / "boathouse_hall.toml"), "--lifter"]
    limited = "import resource, sys; resource.setrlimit(resource.RLIMIT_DATA, (2**30, 2**30))\n"
    each = f"[main(['check', *{words}, place]) for place in {places}]"
    done = subprocess.run(
        [sys.executable, "-c", f"{limited}from workbench.__main__ import main\nsys.exit({each} != [2, 2])"],
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    assert (done.returncode, done.stdout) == (0, "")
    assert done.stderr.splitlines() == [
        f"workbench: {place}: is no ordinary file; save its content as a file and give that" for place in places
    ]


#: Calls that can open a file, by the last part of their name.
OPENERS = {"open", "fdopen", "write_text", "write_bytes", "read_text", "read_bytes", "to_csv", "to_excel", "to_json"}
OPENERS |= {"copyfile", "copy", "copy2", "copytree", "NamedTemporaryFile", "TemporaryFile", "mkstemp", "touch", "save"}
OPENERS |= {"savefig", "write_html", "write_image", "savetxt", "loadtxt", "read_csv", "read_excel", "ZipFile"}
#: What is let pass, and why. The readers of shipped files read what was installed; a log has bounds of its own.
ALLOWED = {
    "reference.whole_files": {"open", "fdopen", "touch"},
    "reference.sources": {"open"},
    "reference.parameters": {"open"},
    "publish.commit.contents": {"read_bytes"},  # the package's own modules
    "publish.commit.record": {"open", "read_bytes"},  # a folder, to put its names on the disk; the shipped parameters
    "reference.copies": {"read_bytes"},  # the shipped originals
    "commands.notebook_server": {"open", "fdopen"},  # its private log
    "commands.phone": {"read_text"},  # style and script of today's page, the package's own
    "panels.builder": {"open"},  # a block in its fields
    "panels.editing": {"open"},  # what a file holds, in the fields of an editor
    "panels.figure": {"read_bytes"},  # plotly's own file
    "panels.frame": {"read_text"},  # style sheets and help, the package's own
    "panels.guides": {"read_text"},  # its steps, shipped
    "present.colours": {"read_text"},  # shipped
    "publish.track_record": {"read_csv"},  # of bytes that were read whole
    "evidence.report": {"read_csv"},  # shipped
    "evidence.refit": {"to_csv"},  # to text
    "publish.sheets.written": {"save"},  # into memory
    "log.files": {"open"},  # a pipe, too
    "log.workbooks": {"open", "ZipFile"},  # a part of an archive that is in memory
}


def opening(tree: ast.AST) -> set[str]:
    found = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Call):
            name = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
            text_only = name in {"to_csv", "to_json"} and not node.args
            # Frames and figures have `copy`, and so have dictionaries.
            if name in OPENERS and not (name == "copy" and not node.args) and not text_only:
                found.add(name)
    return found


def module_name(path: Path) -> str:
    parts = list(path.relative_to(PACKAGE).with_suffix("").parts)
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


@pytest.mark.parametrize("path", sorted(PACKAGE.rglob("*.py")), ids=module_name)
def test_no_other_module_opens_files(path):
    found = opening(ast.parse(path.read_text(encoding="utf-8")))
    extra = found - ALLOWED.get(module_name(path), set())
    assert not extra, f"{module_name(path)}: {extra}: use workbench.reference.whole_files"


def test_the_search_for_writers_finds_them():
    for line in ("p.write_text('x')", "open(p, 'w')", "shutil.copyfile(a, b)", "f.to_csv(p)", "book.save(p)"):
        assert opening(ast.parse(line)), line
    assert not opening(ast.parse("frame.copy(); frame.to_csv(index=False)"))


# ---- alone with a file ----------------------------------------------------------------------------------------------


@posix
def test_who_is_alone_with_a_file_lets_others_wait_and_then_give_up(tmp_path, monkeypatch):
    path, other = tmp_path / "a.csv", tmp_path / "b.csv"
    waits = []
    monkeypatch.setattr(whole_files, "_LOCK_TRIES", 3)
    monkeypatch.setattr(whole_files.time, "sleep", waits.append)
    with alone_with(path):
        with alone_with(other):
            pass
        with pytest.raises(InputError, match="is being written by another"), alone_with(path):
            pass
    assert waits == [whole_files._LOCK_WAIT_S] * 3
    with alone_with(path):
        pass
    assert not path.exists()


@posix
def test_a_killed_program_is_alone_with_nothing_any_more(tmp_path):
    path = tmp_path / "a.csv"
    code = f"""
import os
from workbench.reference.whole_files import alone_with
with alone_with({str(path)!r}):
    os.kill(os.getpid(), 9)
"""
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == -9
    with alone_with(path):
        pass


def test_where_nothing_can_be_written_nobody_is_alone(tmp_path):
    with pytest.raises(InputError, match="cannot be written"), alone_with(tmp_path / "nowhere" / "a.csv"):
        pass
