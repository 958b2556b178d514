"""Copies of shipped files in a folder of somebody's own: renewed and taken out again, never over what was changed."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from pathlib import Path
from typing import Final, NamedTuple

from workbench.quantities import InputError
from workbench.reference.whole_files import make_folder, read_whole, write_whole

__all__ = [
    "Copied",
    "copy_files",
    "fingerprint",
    "fingerprint_of_file",
    "read_texts",
    "take_out",
    "write_over",
    "write_texts",
]

#: No file that the workbench copies or edits comes near this; a larger one is somebody's own and is kept.
_LARGEST: Final = 500_000_000
#: Nor does a list of names and texts come near this.
_LARGEST_TEXTS: Final = 1_000_000


class Copied(NamedTuple):
    """What was done with copies, by name.

    ``done``: new or untouched since the last copy, now as shipped, or taken out. ``kept``: differ from what was copied
    before, so were left alone.
    """

    done: tuple[str, ...]
    kept: tuple[str, ...]


def fingerprint(content: bytes) -> str:
    """Return the SHA-256 of a content, in hexadecimal digits."""
    return hashlib.sha256(content).hexdigest()


def fingerprint_of_file(path: Path) -> str | None:
    """Return the fingerprint of an ordinary file; None where there is none, or nothing that was ever copied."""
    content = _content_of(path)
    return None if content is None else fingerprint(content)


def _content_of(path: Path) -> bytes | None:
    try:
        return read_whole(path, _LARGEST) if path.is_file() else None
    except InputError:
        return None


def _marks(name: str, content: bytes) -> tuple[str, ...]:
    """Return what tells a copy from a changed one: its content, and of a notebook its cells, whatever they show."""
    whole = fingerprint(content)
    if not name.endswith(".ipynb"):
        return (whole,)
    try:
        cells = [(cell["cell_type"], "".join(cell["source"])) for cell in json.loads(content)["cells"]]
    except (ValueError, KeyError, TypeError, RecursionError):
        return (whole,)
    return whole, fingerprint(json.dumps(cells).encode())


def _marks_of_file(path: Path) -> set[str]:
    content = _content_of(path)
    return set() if content is None else set(_marks(path.name, content))


def copy_files(files: Mapping[str, Path], folder: Path, ledger: Path) -> Copied:
    """Bring copies up to their originals, never over what someone changed.

    A notebook that was run is as it was copied: its cells count, not what they show.

    Parameters
    ----------
    files : mapping of str to Path
        Original by the name of its copy within the folder, with "/" between its parts.
    folder : Path
        Made where it is missing.
    ledger : Path
        A file that keeps the fingerprints of what was copied; where it is lost, nothing that differs is overwritten.

    Returns
    -------
    Copied

    Raises
    ------
    InputError
        The folder cannot be written.
    """
    written: list[str] = []
    kept: list[str] = []
    try:
        ledger.parent.mkdir(parents=True, exist_ok=True)
        copied_before = read_texts(ledger)
        copied = dict(copied_before)
        for name, original in files.items():
            content = original.read_bytes()
            target = folder / name
            wanted, found = _marks(name, content), _marks_of_file(target)
            if target.exists() and not found & {*wanted, copied_before.get(name)}:
                kept.append(name)
                continue
            if not found.intersection(wanted[-1:]):
                write_over(target, content)
                written.append(name)
            copied[name] = wanted[-1]
        write_texts(ledger, copied)
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise InputError(error.filename or folder, "", f"cannot be used ({reason})", "give another folder") from error
    return Copied(tuple(written), tuple(kept))


def take_out(folder: Path, ledger: Path) -> Copied:
    """Remove the copies that a ledger names, except those that someone changed.

    Raises
    ------
    InputError
        A copy cannot be removed.
    """
    removed: list[str] = []
    kept: list[str] = []
    left = read_texts(ledger)
    try:
        for name, copied in list(left.items()):
            target = folder / name
            if copied in _marks_of_file(target):
                target.unlink()
                removed.append(name)
            elif target.exists():
                kept.append(name)
            del left[name]
        write_texts(ledger, left)
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise InputError(error.filename or folder, "", f"cannot be removed ({reason})", "check the folder") from error
    return Copied(tuple(removed), tuple(kept))


def write_over(target: Path, content: bytes) -> None:
    """Write a file whole, in a folder made for it; a link at its place is replaced, not followed."""
    make_folder(target.parent)
    if target.is_symlink():
        target.unlink()
    write_whole(target, content, replace=True)


def read_texts(path: Path) -> dict[str, str]:
    """Return texts by name, as `write_texts` kept them; none where the file is lost or damaged."""
    try:
        content = json.loads(read_whole(path, _LARGEST_TEXTS))
    except (ValueError, RecursionError):
        return {}
    if not isinstance(content, dict):
        return {}
    return {str(name): value for name, value in content.items() if isinstance(value, str)}


def write_texts(path: Path, texts: Mapping[str, str]) -> None:
    """Keep texts by name: the fingerprints of the last copies, or what was open last."""
    write_over(path, json.dumps(texts, indent=1, sort_keys=True).encode())
