"""Read and write files whole: bounded reading of ordinary files, and writing that keeps what is there.

Every file that leaves the workbench goes through `write_whole`; no other module opens one for writing.
"""

from __future__ import annotations

import os
import secrets
import stat
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Final

from workbench.quantities import InputError

__all__ = ["alone_with", "check_free", "make_folder", "read_whole", "write_whole"]

_CHECK: Final = "check the name and the folder"
#: Without it a pipe nobody writes to would be waited for while it is opened; elsewhere it does not exist.
_AT_ONCE: Final = getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)

#: Another program's reading and writing of a file takes milliseconds; so often, and so long between, it is waited for.
_LOCK_TRIES: Final = 1000
_LOCK_WAIT_S: Final = 0.005


def read_whole(path: str | Path, limit: int) -> bytes:
    """Return the bytes of an ordinary file of at most ``limit`` bytes; no more are ever read.

    Raises
    ------
    InputError
        Missing, unreadable, a folder, a pipe or a device, or larger than ``limit``.
    """
    path = Path(path)
    try:
        handle = os.open(path, os.O_RDONLY | _AT_ONCE)
        with os.fdopen(handle, "rb") as stream:
            kind = os.fstat(handle).st_mode
            if stat.S_ISDIR(kind):
                raise InputError(path, "", "is a folder", "give a file")
            if not stat.S_ISREG(kind):
                raise InputError(path, "", "is no ordinary file", "save its content as a file and give that")
            content = stream.read(limit + 1)
    except IsADirectoryError as error:
        raise InputError(path, "", "is a folder", "give a file") from error
    except OSError as error:
        if isinstance(error, PermissionError) and path.is_dir():  # some systems open no folder
            raise InputError(path, "", "is a folder", "give a file") from error
        raise InputError(path, "", f"cannot be read ({_reason(error)})", _CHECK) from error
    except ValueError as error:
        if isinstance(error, InputError):
            raise
        raise InputError(path, "", "is no name of a file", _CHECK) from error
    if len(content) > limit:
        raise InputError(path, "", f"has more than {limit:,} bytes", f"such a file has at most {limit:,}")
    return content


def check_free(path: str | Path, *, replace: bool = False) -> None:
    """Raise InputError where `write_whole` would refuse, so that nobody waits for an answer that cannot be written."""
    path = Path(path)
    try:
        there = path.lstat()
    except FileNotFoundError:
        return
    except OSError as error:
        raise InputError(path, "", f"cannot be written ({_reason(error)})", _CHECK) from error
    except ValueError as error:
        raise InputError(path, "", "is no name of a file", _CHECK) from error
    if not stat.S_ISREG(there.st_mode):
        raise InputError(path, "", "is there already and is no ordinary file", "give the name of a new file")
    if not replace:
        remedy = "nothing was overwritten: give the name of a new file, or ask to replace it (--replace)"
        raise InputError(path, "", "is there already", remedy)


def make_folder(path: str | Path) -> None:
    """Make a folder, and those above it, where they are missing; InputError where that cannot be done."""
    path = Path(path)
    try:
        path.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError(path, "", f"cannot be written ({_reason(error)})", "choose another folder") from error
    except ValueError as error:
        raise InputError(path, "", "is no name of a folder", "choose another folder") from error


@contextmanager
def alone_with(path: str | Path) -> Iterator[None]:
    """Let no other program of the workbench read and write a file anew while the ``with`` block lasts.

    The lock is the system's and goes with the program that holds it, however that ends. On a disk without locks there
    is none. InputError where somebody else holds it for seconds.
    """
    place = Path(path).with_name(f".{Path(path).name}.lock")
    try:
        handle = os.open(place, os.O_RDWR | os.O_CREAT, 0o666)
    except OSError as error:
        raise InputError(path, "", f"cannot be written ({_reason(error)})", "check the folder and the disk") from error
    try:
        _lock(handle, Path(path))
        yield
    finally:
        os.close(handle)


def _lock(handle: int, path: Path) -> None:
    try:
        import fcntl
    except ImportError:  # such a system has msvcrt instead, which waits by itself, ten seconds at most
        import msvcrt  # type: ignore[import-not-found,unused-ignore]

        msvcrt.locking(handle, msvcrt.LK_LOCK, 1)  # type: ignore[attr-defined,unused-ignore]
        return
    for _ in range(_LOCK_TRIES):
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
            return
        except BlockingIOError:
            time.sleep(_LOCK_WAIT_S)
        except OSError:  # a disk without locks
            return
    raise InputError(path, "", "is being written by another window or program", "try again")


def write_whole(path: str | Path, content: str | bytes, *, replace: bool = False) -> Path:
    """Write a file whole or not at all.

    The content is written beside it, put on the disk, and only then given its name, so a full disk or a cut-off run
    leaves what was there, byte for byte, and nothing else.

    Parameters
    ----------
    path : str or Path
        In a folder that exists.
    content : str or bytes
        Text is written as UTF-8, its line ends as they are.
    replace : bool
        Take the place of an ordinary file that is there, keeping its permissions. Links, devices and folders are
        never replaced.

    Returns
    -------
    Path

    Raises
    ------
    InputError
        There is something of that name already, or it cannot be written.
    """
    path = Path(path)
    check_free(path, replace=replace)
    try:
        raw = content.encode("utf-8") if isinstance(content, str) else content
    except UnicodeEncodeError as error:
        where = f"holds half a character at place {error.start}"
        raise InputError(path, "", where, "type that text anew") from None
    unfinished = path.with_name(f".{secrets.token_hex(8)}.part")
    try:
        try:
            _write_beside(unfinished, raw)
            if replace:
                with suppress(FileNotFoundError):
                    unfinished.chmod(stat.S_IMODE(path.lstat().st_mode))
                unfinished.replace(path)
            else:
                _name_new(unfinished, path)
        finally:
            unfinished.unlink(missing_ok=True)
    except FileExistsError:
        check_free(path, replace=replace)
        raise InputError(path, "", "is there already", "give the name of a new file") from None
    except OSError as error:
        raise InputError(path, "", f"cannot be written ({_reason(error)})", "check the folder and the disk") from error
    return path


def _write_beside(path: Path, raw: bytes) -> None:
    # 0o666 less the user's mask: the permissions of any new file.
    handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o666)
    with os.fdopen(handle, "wb") as stream:
        stream.write(raw)
        stream.flush()
        os.fsync(stream.fileno())


def _name_new(unfinished: Path, path: Path) -> None:
    """Give a finished file a name that nobody has; FileExistsError where somebody was first."""
    try:
        path.hardlink_to(unfinished)
    except FileExistsError:
        raise
    except OSError:  # a disk without hard links: claim the name, then fill it
        path.touch(exist_ok=False)
        try:
            unfinished.replace(path)
        except OSError:
            path.unlink(missing_ok=True)
            raise


def _reason(error: OSError) -> str:
    return error.strerror or type(error).__name__
