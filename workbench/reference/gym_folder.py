"""A gym's folder: what lies where, editing its files without losing a version, and what was open there last.

All that the app edits are the files that command line and notebooks read. Beside them the folder keeps the versions of
each edited file in ``.previous/`` and what was open in ``.workbench/``; without either it is the same gym.
"""

from __future__ import annotations

import re
import time
import unicodedata
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path
from typing import Final

from workbench.quantities import InputError
from workbench.reference.copies import (
    Copied,
    copy_files,
    fingerprint,
    fingerprint_of_file,
    read_texts,
    take_out,
    write_over,
    write_texts,
)
from workbench.reference.sources import data_path
from workbench.reference.whole_files import make_folder, read_whole, write_whole

__all__ = ["KINDS", "OWN_FOLDER", "ChangedMeanwhileError", "EditedFile", "GymFolder", "file_stem"]

#: The folders of a gym, each with the endings of what it holds; committed blocks are folders.
KINDS: Final[Mapping[str, tuple[str, ...]]] = {
    "lifters": (".toml",),
    "rooms": (".toml",),
    "exercises": (".toml",),
    "blocks": (".toml",),
    "logs": (".csv", ".xlsx", ".tsv", ".txt"),
    "committed": (),
}
#: What a folder keeps about itself.
OWN_FOLDER: Final = ".workbench"
_PREVIOUS: Final = ".previous"
#: Versions kept of one file.
_MOST_KEPT: Final = 200
#: Writing a file takes far less, s.
_STALE_S: Final = 3600.0
#: No file that the app edits comes near this.
_LARGEST: Final = 1_000_000


class ChangedMeanwhileError(InputError):
    """Somebody else wrote the file since it was read here; nothing was overwritten."""

    def __init__(self, path: Path) -> None:
        remedy = "nothing was overwritten: take what is there now, or keep yours under a new name"
        super().__init__(path, "", "was changed in another window or program", remedy)


class EditedFile:
    """A file that is being edited: every edit is written whole and at once, and each can be undone.

    Each version is first kept under the next number, which only one window can take, and then put in the file's place.
    What another window wrote meanwhile is never overwritten.

    Parameters
    ----------
    path : Path
        A file that exists, of at most a million bytes.
    kept : Path
        Folder of its versions; made with the first edit.

    Raises
    ------
    InputError
        The file cannot be read.
    """

    def __init__(self, path: Path, kept: Path) -> None:
        self.path, self._kept = path, kept
        self._trail: list[bytes] = []
        self._at = 0
        self.take_theirs()

    @property
    def content(self) -> bytes:
        """The file as it was read or written here last."""
        return self._trail[self._at]

    @property
    def can_undo(self) -> bool:
        """Whether there is a version before this one."""
        return self._at > 0

    @property
    def can_redo(self) -> bool:
        """Whether an edit was undone since the last one."""
        return self._at < len(self._trail) - 1

    @property
    def changed_elsewhere(self) -> bool:
        """Whether the file is no longer as it was read or written here."""
        return fingerprint_of_file(self.path) != fingerprint(self.content)

    def write(self, content: str | bytes) -> None:
        """Write the next version; nothing where it is the same.

        Raises
        ------
        ChangedMeanwhileError
            Somebody else wrote or removed the file since.
        InputError
            It cannot be written.
        """
        raw = content.encode("utf-8") if isinstance(content, str) else content
        if raw != self.content:
            self._put(raw)
            self._trail = [*self._trail[: self._at + 1], raw]
            self._at += 1

    def undo(self) -> bytes:
        """Go back to the version before, and return it; errors as `write`."""
        return self._go(self._at - 1 if self.can_undo else self._at)

    def redo(self) -> bytes:
        """Take the last undone edit back again, and return the version; errors as `write`."""
        return self._go(self._at + 1 if self.can_redo else self._at)

    def take_theirs(self) -> bytes:
        """Read the file anew and go on from there; what was here can be reached by undo."""
        there = read_whole(self.path, _LARGEST)
        earlier = [read_whole(path, _LARGEST) for path in self._versions()]
        self._trail = [*(earlier or self._trail)]
        if not self._trail or self._trail[-1] != there:
            self._trail.append(there)
        self._at = len(self._trail) - 1
        return there

    def _go(self, at: int) -> bytes:
        if self._trail[at] != self.content:
            self._put(self._trail[at])
        self._at = at
        return self.content

    def _put(self, raw: bytes) -> None:
        if self.changed_elsewhere:
            raise ChangedMeanwhileError(self.path)
        make_folder(self._kept)
        versions = self._versions()
        if not versions or fingerprint_of_file(versions[-1]) != fingerprint(self.content):
            versions.append(self._keep(self.content, versions))
        versions.append(self._keep(raw, versions))
        write_over(self.path, raw)
        for path in versions[:-_MOST_KEPT]:
            path.unlink(missing_ok=True)

    def _keep(self, raw: bytes, versions: list[Path]) -> Path:
        number = int(versions[-1].stem) + 1 if versions else 1
        path = self._kept / f"{number:06d}{self.path.suffix}"
        if path.exists():  # another window took the number since the versions were listed
            raise ChangedMeanwhileError(self.path)
        return write_whole(path, raw)

    def _versions(self) -> list[Path]:
        return _numbered(self._kept, self.path.suffix)


def _numbered(kept: Path, suffix: str) -> list[Path]:
    return sorted(path for path in kept.glob(f"*{suffix}") if path.stem.isdecimal())


class GymFolder:
    """A folder that holds ``lifters/ rooms/ exercises/ blocks/ logs/ committed/`` of one gym.

    Parameters
    ----------
    path : str or Path
        Need not exist yet: `make` makes it. Blocks at its top are found too.
    """

    def __init__(self, path: str | Path) -> None:
        self.path = Path(path)

    def __eq__(self, other: object) -> bool:
        """Whether it is the same place."""
        return isinstance(other, GymFolder) and self.path.resolve() == other.path.resolve()

    def __hash__(self) -> int:
        """Return the same number for the same place."""
        return hash(self.path.resolve())

    def make(self) -> None:
        """Make the folder and those in it where they are missing; InputError where that cannot be done.

        What a program that was cut off left half written is swept, once nobody can still be writing it.
        """
        for kind in KINDS:
            make_folder(self.path / kind)
            for left in (self.path / kind).glob(".*.part"):
                with suppress(OSError):
                    if time.time() - left.stat().st_mtime > _STALE_S:
                        left.unlink()

    def files(self, kind: str) -> list[Path]:
        """Return the files of a kind (or folders, of committed blocks) in order of their names; none hidden."""
        places = [self.path / kind, *([self.path] if kind == "blocks" else [])]
        found = [path for place in places if place.is_dir() for path in place.iterdir()]
        endings = KINDS[kind]
        return sorted(
            path
            for path in found
            if not path.name.startswith(".")
            and (path.suffix.lower() in endings and path.is_file() if endings else path.is_dir())
        )

    @property
    def is_empty(self) -> bool:
        """Whether there is no lifter, room, block or log."""
        return not any(self.files(kind) for kind in ("lifters", "rooms", "blocks", "logs"))

    def free_path(self, kind: str, name: str, suffix: str = ".toml") -> Path:
        """Return a path for something new of this name, which nothing has yet.

        >>> GymFolder("nowhere").free_path("lifters", "Zoë  O'Hara").as_posix()
        'nowhere/lifters/zoe_o_hara.toml'
        """
        stem = file_stem(name) or kind.removesuffix("s")
        path, number = self.path / kind / f"{stem}{suffix}", 1
        while path.exists() or path.is_symlink():
            number += 1
            path = path.with_name(f"{stem}_{number}{suffix}")
        return path

    def add(self, kind: str, name: str, content: str | bytes, suffix: str = ".toml") -> Path:
        """Write something new under a name that nothing has yet, and return its path; InputError as `write_whole`."""
        path = self.free_path(kind, name, suffix)
        make_folder(path.parent)
        return write_whole(path, content)

    def edit(self, path: Path) -> EditedFile:
        """Open a file for editing; its versions are kept beside the folder's others. InputError as `EditedFile`."""
        return EditedFile(path, self._kept_of(path))

    def versions(self, path: Path) -> list[Path]:
        """Return the kept versions of a file, the oldest first; none where it was never edited here."""
        return _numbered(self._kept_of(path), path.suffix)

    def remove(self, path: Path) -> Path:
        """Take a file out of the folder; its last content stays among its versions, whose place is returned.

        Raises
        ------
        InputError
            It is missing or cannot be removed.
        """
        edited, kept = self.edit(path), self._kept_of(path)
        make_folder(kept)
        last = edited._versions()
        if not last or fingerprint_of_file(last[-1]) != fingerprint(edited.content):
            edited._keep(edited.content, last)
        try:
            path.unlink()
        except OSError as error:
            raise InputError(path, "", f"cannot be removed ({error.strerror})", "check the folder") from error
        return kept

    def add_demo(self) -> Copied:
        """Copy the invented demo gym in, never over what is there; InputError where that cannot be written."""
        return copy_files(_demo_files(), self.path, self._demo_ledger)

    def remove_demo(self) -> Copied:
        """Take the demo's files out again, except those that were changed; InputError where that cannot be done."""
        return take_out(self.path, self._demo_ledger)

    def demo_fingerprints(self) -> dict[str, str]:
        """Return the demo's files that were copied in and not yet taken out, with what they held then."""
        return read_texts(self._demo_ledger)

    def remembered(self) -> dict[str, str]:
        """Return what `remember` kept; nothing where that is lost or damaged."""
        return read_texts(self._state)

    def remember(self, **what: str) -> None:
        """Keep texts under these names for the next time; others stay as they are. InputError where it cannot."""
        kept = self.remembered()
        if kept | what != kept:
            write_texts(self._state, kept | what)

    @property
    def _state(self) -> Path:
        return self.path / OWN_FOLDER / "open.json"

    @property
    def _demo_ledger(self) -> Path:
        return self.path / OWN_FOLDER / "demo.json"

    def _kept_of(self, path: Path) -> Path:
        inside = path.relative_to(self.path) if path.is_relative_to(self.path) else Path("elsewhere") / path.name
        return self.path / _PREVIOUS / inside


def file_stem(name: str) -> str:
    """Return a name in plain letters, as files are called; empty where it has none.

    >>> file_stem("Zoë  O'Hara"), file_stem("!")
    ('zoe_o_hara', '')
    """
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "_", plain).strip("_")[:60].strip("_")


def _demo_files() -> dict[str, Path]:
    """Return the originals of the demo gym by where they go; its block stands at the top there."""
    demo = data_path("demo")
    files = [path for path in sorted(demo.rglob("*")) if path.is_file() and "__pycache__" not in path.parts]
    return {
        (Path("blocks") / path.name if path.parent == demo else path.relative_to(demo)).as_posix(): path
        for path in files
    }
