"""The committed folder: what goes in, how it is written whole or not at all, and how it is read again."""

from __future__ import annotations

import datetime
import hashlib
import os
import re
import secrets
import shutil
import time
import tomllib
import unicodedata
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from pydantic import BaseModel

from workbench.gym.catalogue import Catalogue, catalogue_for
from workbench.gym.equipment import Room, read_room
from workbench.lifter import Lifter, read_lifter
from workbench.models.fatigue import DEFAULT_FORM, FORMS, FatigueForm
from workbench.prescription.block import Block, read_block
from workbench.publish.commit.manifest import (
    MANIFEST,
    OWN_EXERCISES,
    code_digest,
    data_digests,
    digest,
    fingerprint_of,
    manifest_text,
    read_manifest,
    version,
)
from workbench.publish.commit.predictions import Predictions, predict
from workbench.publish.commit.toml_text import own_exercises_text, toml_text
from workbench.quantities import SEED, InputError, refuse_control
from workbench.reference.sources import data_path
from workbench.reference.toml_files import validate
from workbench.reference.whole_files import make_folder, write_whole

if TYPE_CHECKING:
    from collections.abc import Iterator

__all__ = [
    "Alternative",
    "Committed",
    "Decision",
    "commit_block",
    "earlier_revisions",
    "list_committed",
    "read_committed",
]

#: Folders of revisions, however a disk or a program writes their letters.
_NAME = re.compile(r"(?P<stem>.+)-r(?P<number>[0-9]{2,6})", re.IGNORECASE)
_LEFTOVER: Final = ".unfinished-"
#: A folder left by a run that was cut off is swept once nobody can still be writing it.
_STALE_S: Final = 3600.0
#: Runs that may take a number first before this one gives up.
_TRIES: Final = 1000


@dataclass(frozen=True)
class Alternative:
    """A block that was looked at and not taken, and why not."""

    name: str
    block: Block
    why_not: str = ""


@dataclass(frozen=True)
class Decision:
    """Why this block: the reason in the coach's words, who decided, what else was looked at."""

    reason: str
    decided_by: str = ""
    alternatives: tuple[Alternative, ...] = ()


@dataclass(frozen=True)
class Committed:
    """A committed block as read back.

    Attributes
    ----------
    path : Path
    manifest : mapping
        The content of ``commit.json``.
    block : Block
    lifters : tuple of Lifter
    room : Room
    decision : Decision
    """

    path: Path
    manifest: Mapping[str, Any]
    block: Block
    lifters: tuple[Lifter, ...]
    room: Room
    decision: Decision = field(default_factory=lambda: Decision(""))

    @property
    def revision(self) -> int:
        """Number of the revision, from 1."""
        return int(self.manifest["revision"])

    @property
    def fingerprint(self) -> str:
        """SHA-256 over everything that was committed, in hexadecimal."""
        return str(self.manifest["fingerprint"])

    @property
    def form(self) -> FatigueForm:
        """The fatigue form that predicted."""
        return FORMS[str(self.manifest["form"])]


def commit_block(
    block: Block,
    lifters: Sequence[Lifter],
    room: Room,
    decision: Decision,
    *,
    seed: int = SEED,
    folder: str | Path = "committed",
    draws: int = 2000,
    form: FatigueForm = DEFAULT_FORM,
    start: datetime.date | None = None,
    now: datetime.datetime | None = None,
) -> Committed:
    """Freeze a block for some lifters in one room.

    Parameters
    ----------
    block : Block
    lifters : sequence of Lifter
        At least one, names all different.
    room : Room
    decision : Decision
        Why; the reason must not be empty. `workbench.commit` takes the reason alone too.
    seed : int, [1], >= 0
    draws : int, [1], 10 to 100,000
        Simulated runs of the predictions that are kept; the same seed gives the same digits.
    folder : str or Path
        Where committed blocks lie; made where it is missing.
    form : FatigueForm
    start : date, optional
        Monday of the first week, for the dates on the sheets.
    now : datetime, optional
        With a time zone; the clock's where not given.

    Returns
    -------
    Committed
        The new folder: the next revision of the block's name. No folder that is there is ever changed.

    Raises
    ------
    InputError
        No reason, no lifter, two lifters of one name, a block that does not suit them, or a folder that cannot be
        written.

    Notes
    -----
    The parameters used are kept beside the block, as they stood in ``data/parameters.csv``.
    """
    _check(lifters, decision)
    own_text = own_exercises_text(room.catalogue)
    for model in (block, room, *lifters, *(one.block for one in decision.alternatives)):
        _read_back(model, room.catalogue)
    predictions = predict(block, lifters, room, draws=draws, seed=seed, form=form)
    folder = Path(folder)
    moment = now if now is not None else datetime.datetime.now(datetime.UTC)
    try:
        make_folder(folder)
        _sweep(folder)
        unfinished = folder / f"{_LEFTOVER}{secrets.token_hex(8)}"
        unfinished.mkdir()
        try:
            _write_content(unfinished, block, lifters, room, decision, predictions, start)
            if own_text:
                write_whole(unfinished / OWN_EXERCISES, own_text)
            manifest = {
                "format": 1,
                "block": block.name,
                "committed_at": moment.astimezone(datetime.UTC).isoformat(timespec="seconds"),
                "version": version(),
                "code": code_digest(),
                "seed": seed,
                "draws": draws,
                "form": next(name for name, one in FORMS.items() if one.name == form.name),
                "start": None if start is None else start.isoformat(),
                "lifters": [{"name": one.name, "file": name} for name, one in _lifter_files(lifters).items()],
                "chance_of_block": predictions.chances(),
                "decision": {
                    "reason": decision.reason,
                    "decided_by": decision.decided_by,
                    "alternatives": [
                        {"name": one.name, "file": name, "why_not": one.why_not}
                        for name, one in _alternative_files(decision).items()
                    ],
                },
                "data": data_digests(),
                **({"exercises": OWN_EXERCISES} if own_text else {}),
                "files": {name: digest(unfinished / name) for name in _files(unfinished)},
            }
            final = _publish(unfinished, folder, block.name, manifest)
        except BaseException:
            shutil.rmtree(unfinished, ignore_errors=True)
            raise
    except OSError as error:
        raise InputError(folder, "folder", f"cannot be written ({error.strerror})", "choose another folder") from error
    return read_committed(final)


def _check(lifters: Sequence[Lifter], decision: Decision) -> None:
    if not decision.reason.strip():
        raise InputError(None, "reason", "is empty", "say in a sentence why this block was chosen")
    told = [decision.reason, decision.decided_by]
    told += [text for one in decision.alternatives for text in (one.name, one.why_not)]
    for text in told:
        refuse_control("decision", text, lines=True)
    if not lifters:
        raise InputError(None, "lifters", "there are none", "commit for at least one lifter")
    names = [one.name for one in lifters]
    twice = next((name for name in names if names.count(name) > 1), None)
    if twice is not None:
        raise InputError(None, "lifters", f"two are named {twice!r}", "give each lifter a name of their own")


def _read_back(model: BaseModel, catalogue: Catalogue) -> None:
    """Raise InputError where a block, lifter or room, changed by code, would not be read again from what is written."""
    validate(tomllib.loads(toml_text(model)), type(model), context=catalogue)


def _write_content(
    folder: Path,
    block: Block,
    lifters: Sequence[Lifter],
    room: Room,
    decision: Decision,
    predictions: Predictions,
    start: datetime.date | None,
) -> None:
    from workbench.publish.sheets import make_sheet, write_page, write_workbook

    for name in ("lifters", "alternatives", "parameters", "sheets"):
        (folder / name).mkdir()
    texts = {"block.toml": toml_text(block), "room.toml": toml_text(room)}
    texts |= {name: toml_text(one) for name, one in _lifter_files(lifters).items()}
    texts |= {name: toml_text(one.block) for name, one in _alternative_files(decision).items()}
    texts |= {"predicted_sets.csv": predictions.sets, "predicted_weeks.csv": predictions.weeks}
    for name, text in texts.items():
        write_whole(folder / name, text)
    write_whole(folder / "parameters" / "parameters.csv", data_path("parameters.csv").read_bytes())
    for name, check in zip(_lifter_files(lifters), predictions.checks, strict=True):
        sheet = make_sheet(check, room, start=start)
        stem = Path(name).stem
        write_workbook(sheet, folder / "sheets" / f"{stem}.xlsx")
        write_page(sheet, folder / "sheets" / f"{stem}.html")


def _publish(unfinished: Path, folder: Path, name: str, manifest: dict[str, Any]) -> Path:
    """Give the finished folder its name; when another run takes it first, take the next."""
    for path in _walk(unfinished):
        if path.is_dir():
            _flush(path)
    taken = 0
    for _ in range(_TRIES):
        stem = _stem(folder, name)
        # A number that was found taken stays so, even where the list of the folder does not show it.
        taken = max([taken, *(revision for key, revision, _ in _revisions(folder) if key == _key(stem))])
        final = folder / f"{stem}-r{taken + 1:02d}"
        content = {**manifest, "revision": taken + 1}
        text = manifest_text({**content, "fingerprint": fingerprint_of(content)})
        write_whole(unfinished / MANIFEST, text, replace=True)
        _flush(unfinished)
        try:
            if not os.path.lexists(final):
                # Renaming onto a folder that holds anything fails, so the name belongs to whoever renames first.
                unfinished.rename(final)
                _flush(folder)
                return final
        except OSError:
            if not os.path.lexists(final):
                raise
        taken += 1
    raise InputError(folder, "folder", f"has no free revision of {name!r}", "choose another folder")


def _walk(folder: Path) -> Iterator[Path]:
    """Every file and folder below a folder, the folders after what they hold."""
    for path in sorted(folder.iterdir()):
        if path.is_dir():
            yield from _walk(path)
        yield path


def _flush(path: Path) -> None:
    """Have the system put a folder's list of names on the disk before going on."""
    if os.name == "nt":  # Windows opens no folders
        return
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _sweep(folder: Path) -> None:
    for path in folder.glob(f"{_LEFTOVER}*"):
        try:
            if time.time() - path.stat().st_mtime > _STALE_S:
                shutil.rmtree(path, ignore_errors=True)
        except FileNotFoundError:  # swept or published by another run
            continue


def _files(folder: Path) -> list[str]:
    """Relative names of all files but the manifest, in order."""
    found = [path.relative_to(folder).as_posix() for path in _walk(folder) if path.is_file()]
    return sorted(name for name in found if name != MANIFEST)


def _key(name: str) -> str:
    """Return what two names have in common where a person, or a disk, takes them for the same."""
    return " ".join(unicodedata.normalize("NFC", unicodedata.normalize("NFC", name).casefold()).split())


def _stem(folder: Path, name: str) -> str:
    """Return the name of a block's folders, in letters of any script, without the number.

    A stem that another block of this folder has already is told apart by a digest of the name.
    """
    key = _key(name)
    stem = re.sub(r"[\W_]+", "-", key).strip("-")[:40].strip("-") or "block"
    for _, _, path in (one for one in _revisions(folder) if one[0] == _key(stem)):
        with suppress(InputError):  # a damaged one says nothing, and is not written over either
            if _key(str(read_manifest(path)["block"])) != key:
                return f"{stem}_{hashlib.sha256(key.encode()).hexdigest()[:12]}"
    return stem


def _slug(name: str) -> str:
    """Return a name in plain letters, which every disk and archive keeps as they are."""
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:60].strip("-") or "unnamed"


def _numbered(folder: str, names: Sequence[str]) -> list[str]:
    """File names that differ even where the names' plain letters are the same."""
    return [f"{folder}/{number:02d}-{_slug(name)}.toml" for number, name in enumerate(names, start=1)]


def _lifter_files(lifters: Sequence[Lifter]) -> dict[str, Lifter]:
    return dict(zip(_numbered("lifters", [one.name for one in lifters]), lifters, strict=True))


def _alternative_files(decision: Decision) -> dict[str, Alternative]:
    names = _numbered("alternatives", [one.name for one in decision.alternatives])
    return dict(zip(names, decision.alternatives, strict=True))


def _revisions(folder: Path) -> list[tuple[str, int, Path]]:
    found = []
    for path in folder.iterdir() if folder.is_dir() else ():
        match = _NAME.fullmatch(path.name)
        if match is not None:
            found.append((_key(match["stem"]), int(match["number"]), path))
    return sorted(found)


def list_committed(folder: str | Path = "committed") -> list[Path]:
    """List the committed blocks of a folder by name and revision; what a cut-off run left is not among them."""
    return [path for _, _, path in _revisions(Path(folder)) if (path / MANIFEST).is_file()]


def earlier_revisions(committed: Committed) -> list[Path]:
    """List the revisions of the same block that lie beside a committed one and came before it, in order."""

    def numbered(path: Path) -> tuple[str, int]:
        match = _NAME.fullmatch(path.name)
        return (_key(match["stem"]), int(match["number"])) if match is not None else ("", 0)

    stem, number = numbered(committed.path)
    beside = [(numbered(path), path) for path in list_committed(committed.path.parent)]
    return [path for (other, revision), path in beside if other == stem and revision < number]


def read_committed(path: str | Path) -> Committed:
    """Read a committed block.

    Raises
    ------
    InputError
        Where the folder is none, or a file of it is missing or cannot be read. `verify` says what was changed.
    """
    path = Path(path)
    manifest = read_manifest(path)
    catalogue = catalogue_for(None, [path / manifest["exercises"]] if manifest.get("exercises") else None)
    told = manifest["decision"]
    return Committed(
        path=path,
        manifest=manifest,
        block=read_block(path / "block.toml"),
        lifters=tuple(read_lifter(path / one["file"], catalogue) for one in manifest["lifters"]),
        room=read_room(path / "room.toml", catalogue),
        decision=Decision(
            reason=told["reason"],
            decided_by=told["decided_by"],
            alternatives=tuple(
                Alternative(one["name"], read_block(path / one["file"]), one["why_not"]) for one in told["alternatives"]
            ),
        ),
    )
