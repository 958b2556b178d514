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
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final, TypeVar

from pydantic import BaseModel

from workbench.gym.catalogue import Catalogue, built_in, catalogue_for
from workbench.gym.catalogue.own_file import OwnExercise, OwnExercises
from workbench.gym.equipment import Room, read_room
from workbench.lifter import Lifter, read_lifter
from workbench.models.fatigue import DEFAULT_FORM, FORMS, FatigueForm
from workbench.prescription.block import Block, read_block
from workbench.publish.commit.contents import (
    MANIFEST,
    OWN_EXERCISES,
    Predictions,
    code_digest,
    data_digests,
    digest,
    fingerprint_of,
    manifest_text,
    predict,
    read_manifest,
    version,
)
from workbench.quantities import SEED, InputError, refuse_control
from workbench.reference.sources import data_path
from workbench.reference.toml_files import toml_text, validate
from workbench.reference.whole_files import make_folder, write_whole

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


_Named = TypeVar("_Named", Lifter, Alternative)


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
    decision: Decision

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


# What is frozen is given one by one: each is kept in the manifest under the same name.
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
    own_text = _own_exercises_text(room.catalogue)
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
                "block": block.name,
                "committed_at": moment.astimezone(datetime.UTC).isoformat(timespec="seconds"),
                "seed": seed,
                "draws": draws,
                "form": next(name for name, known in FORMS.items() if known.name == form.name),
                "start": None if start is None else start.isoformat(),
                "chance_of_block": predictions.chances(),
                **({"exercises": OWN_EXERCISES} if own_text else {}),
                **_described(unfinished, lifters, decision),
            }
            final = _publish(unfinished, folder, block.name, manifest)
        except BaseException:
            shutil.rmtree(unfinished, ignore_errors=True)
            raise
    except OSError as error:
        raise InputError(folder, "folder", f"cannot be written ({error.strerror})", "choose another folder") from error
    return read_committed(final)


def _described(folder: Path, lifters: Sequence[Lifter], decision: Decision) -> dict[str, Any]:
    """Return what the manifest says of the files in a folder, of the decision, and of the workbench of now."""
    alternatives = [
        {"name": other.name, "file": name, "why_not": other.why_not}
        for name, other in _by_file("alternatives", decision.alternatives).items()
    ]
    files = sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file())
    return {
        "format": 1,
        "version": version(),
        "code": code_digest(),
        "data": data_digests(),
        "lifters": [{"name": lifter.name, "file": name} for name, lifter in _by_file("lifters", lifters).items()],
        "decision": {"reason": decision.reason, "decided_by": decision.decided_by, "alternatives": alternatives},
        "files": {name: digest(folder / name) for name in files},
    }


def _check(lifters: Sequence[Lifter], decision: Decision) -> None:
    if not decision.reason.strip():
        raise InputError(None, "reason", "is empty", "say in a sentence why this block was chosen")
    others = [text for other in decision.alternatives for text in (other.name, other.why_not)]
    for text in (decision.reason, decision.decided_by, *others):
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


def _own_exercises_text(catalogue: Catalogue) -> str:
    """Return the own exercises as a file; empty where there are none."""
    if catalogue.own is None:
        raise InputError(None, "room", "has a catalogue of its own making", "add own exercises to the built-in one")
    if not catalogue.own:
        return ""
    text = toml_text(OwnExercises(exercises=[OwnExercise.of(exercise) for exercise in catalogue.own]))
    written = validate(tomllib.loads(text), OwnExercises).exercises
    if built_in().with_own(exercise.as_exercise() for exercise in written) != catalogue:
        raise InputError(None, "own exercises", "would not be read again as they are", "read them from a file")
    return text


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
    texts |= {name: toml_text(one) for name, one in _by_file("lifters", lifters).items()}
    texts |= {name: toml_text(one.block) for name, one in _by_file("alternatives", decision.alternatives).items()}
    texts |= {"predicted_sets.csv": predictions.sets, "predicted_weeks.csv": predictions.weeks}
    for name, text in texts.items():
        write_whole(folder / name, text)
    write_whole(folder / "parameters" / "parameters.csv", data_path("parameters.csv").read_bytes())
    for name, check in zip(_by_file("lifters", lifters), predictions.checks, strict=True):
        sheet = make_sheet(check, room, start=start)
        stem = Path(name).stem
        write_workbook(sheet, folder / "sheets" / f"{stem}.xlsx")
        write_page(sheet, folder / "sheets" / f"{stem}.html")


def _publish(unfinished: Path, folder: Path, name: str, manifest: dict[str, Any]) -> Path:
    """Give the finished folder its name; when another run takes it first, take the next."""
    for path in sorted(unfinished.rglob("*"), reverse=True):  # folders after what they hold
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
        with suppress(FileNotFoundError):  # swept or published by another run
            if time.time() - path.stat().st_mtime > _STALE_S:
                shutil.rmtree(path, ignore_errors=True)


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


def _by_file(folder: str, named: Sequence[_Named]) -> dict[str, _Named]:
    """Return lifters or alternatives by file names that differ even where the names' plain letters are the same."""
    return {f"{folder}/{number:02d}-{_slug(one.name)}.toml": one for number, one in enumerate(named, start=1)}


def _revisions(folder: Path) -> list[tuple[str, int, Path]]:
    """Return what blocks have in common by name, number and folder of all revisions."""
    found = [(_NAME.fullmatch(path.name), path) for path in (folder.iterdir() if folder.is_dir() else ())]
    return sorted((_key(match["stem"]), int(match["number"]), path) for match, path in found if match is not None)


def list_committed(folder: str | Path = "committed") -> list[Path]:
    """List the committed blocks of a folder by name and revision; what a cut-off run left is not among them."""
    return [path for _, _, path in _revisions(Path(folder)) if (path / MANIFEST).is_file()]


def earlier_revisions(committed: Committed) -> list[Path]:
    """List the revisions of the same block that lie beside a committed one and came before it, in order."""
    match = _NAME.fullmatch(committed.path.name)
    if match is None:
        return []
    stem, number = _key(match["stem"]), int(match["number"])
    beside = _revisions(committed.path.parent)
    return [path for key, before, path in beside if key == stem and before < number and (path / MANIFEST).is_file()]


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
