"""The committed folder: what goes in, how it is written whole or not at all, and how it is read again."""

from __future__ import annotations

import datetime
import hashlib
import json
import os
import re
import secrets
import shutil
import time
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from workbench.block import Block, read_block
from workbench.commit.predictions import Predictions, predict
from workbench.commit.toml_text import toml_text
from workbench.equipment import Room, read_room
from workbench.lifter import Lifter, read_lifter
from workbench.models.fatigue import DEFAULT_FORM, FORMS, FatigueForm
from workbench.quantities import InputError
from workbench.sources import data_path

if TYPE_CHECKING:
    from collections.abc import Iterator

__all__ = [
    "MANIFEST",
    "Alternative",
    "Committed",
    "Decision",
    "commit_block",
    "data_digests",
    "fingerprint_of",
    "list_committed",
    "manifest_text",
    "read_committed",
    "version",
]

MANIFEST: Final = "commit.json"
_FORMAT: Final = 1
_NAME = re.compile(r"(?P<slug>[a-z0-9-]+)-r(?P<number>\d{2,})")
_LEFTOVER: Final = ".unfinished-"
#: A folder left by a run that was cut off is swept once nobody can still be writing it.
_STALE_S: Final = 3600.0
#: The data that predictions depend on.
_DATA_FILES: Final = ("parameters.csv", "exercises.csv", "muscle_shares.csv")


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
    seed: int,
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
        Why; the reason must not be empty.
    seed, draws : int
        Of the predictions that are kept and can be verified.
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
    """
    _check(lifters, decision)
    predictions = predict(block, lifters, room, draws=draws, seed=seed, form=form)
    folder = Path(folder)
    moment = now if now is not None else datetime.datetime.now(datetime.UTC)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        _sweep(folder)
        unfinished = folder / f"{_LEFTOVER}{secrets.token_hex(8)}"
        unfinished.mkdir()
        try:
            _write_content(unfinished, block, lifters, room, decision, predictions, start)
            manifest = {
                "format": _FORMAT,
                "block": block.name,
                "committed_at": moment.astimezone(datetime.UTC).isoformat(timespec="seconds"),
                "version": version(),
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
                "files": {name: _digest(unfinished / name) for name in _files(unfinished)},
            }
            final = _publish(unfinished, folder, _slug(block.name), manifest)
        except BaseException:
            shutil.rmtree(unfinished, ignore_errors=True)
            raise
    except OSError as error:
        raise InputError(folder, "folder", f"cannot be written ({error.strerror})", "choose another folder") from error
    return read_committed(final)


def _check(lifters: Sequence[Lifter], decision: Decision) -> None:
    if not decision.reason.strip():
        raise InputError(None, "reason", "is empty", "say in a sentence why this block was chosen")
    if not lifters:
        raise InputError(None, "lifters", "there are none", "commit for at least one lifter")
    names = [one.name for one in lifters]
    twice = next((name for name in names if names.count(name) > 1), None)
    if twice is not None:
        raise InputError(None, "lifters", f"two are named {twice!r}", "give each lifter a name of their own")


def _write_content(
    folder: Path,
    block: Block,
    lifters: Sequence[Lifter],
    room: Room,
    decision: Decision,
    predictions: Predictions,
    start: datetime.date | None,
) -> None:
    from workbench.sheets import make_sheet, write_page, write_workbook

    for name in ("lifters", "alternatives", "parameters", "sheets"):
        (folder / name).mkdir()
    texts = {"block.toml": toml_text(block), "room.toml": toml_text(room)}
    texts |= {name: toml_text(one) for name, one in _lifter_files(lifters).items()}
    texts |= {name: toml_text(one.block) for name, one in _alternative_files(decision).items()}
    texts |= {"predicted_sets.csv": predictions.sets, "predicted_weeks.csv": predictions.weeks}
    for name, text in texts.items():
        (folder / name).write_text(text, encoding="utf-8", newline="\n")
    shutil.copyfile(data_path("parameters.csv"), folder / "parameters" / "parameters.csv")
    for name, check in zip(_lifter_files(lifters), predictions.checks, strict=True):
        sheet = make_sheet(check, room, start=start)
        stem = Path(name).stem
        write_workbook(sheet, folder / "sheets" / f"{stem}.xlsx")
        write_page(sheet, folder / "sheets" / f"{stem}.html")


def _publish(unfinished: Path, folder: Path, slug: str, manifest: dict[str, Any]) -> Path:
    """Give the finished folder its name; when another run takes the number first, take the next."""
    for path in _walk(unfinished):
        _flush(path)
    while True:
        number = 1 + max((revision for name, revision, _ in _revisions(folder) if name == slug), default=0)
        final = folder / f"{slug}-r{number:02d}"
        content = {**manifest, "revision": number}
        text = manifest_text({**content, "fingerprint": fingerprint_of(content)})
        (unfinished / MANIFEST).write_text(text, encoding="utf-8", newline="\n")
        _flush(unfinished / MANIFEST)
        _flush(unfinished)
        try:
            # Renaming onto a folder that holds anything fails, so the number belongs to whoever renames first.
            unfinished.rename(final)
        except OSError:
            if final.exists():
                continue
            raise
        _flush(folder)
        return final


def _walk(folder: Path) -> Iterator[Path]:
    """Every file and folder below a folder, the folders after what they hold."""
    for path in sorted(folder.iterdir()):
        if path.is_dir():
            yield from _walk(path)
        yield path


def _flush(path: Path) -> None:
    """Have the system put a file, or a folder's list of names, on the disk before going on."""
    if path.is_dir() and os.name == "nt":  # Windows opens no folders
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


def _digest(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def fingerprint_of(content: Mapping[str, Any]) -> str:
    """Return SHA-256 of a manifest without its fingerprint; the digests in it stand for all files."""
    bare = {key: value for key, value in content.items() if key != "fingerprint"}
    return hashlib.sha256(manifest_text(bare).encode()).hexdigest()


def manifest_text(content: Mapping[str, Any]) -> str:
    """Return the manifest as the one text it can have."""
    return json.dumps(content, indent=2, sort_keys=True, ensure_ascii=False, allow_nan=False) + "\n"


def version() -> str:
    """Version of the installed workbench; "unknown" where it runs without being installed."""
    from importlib import metadata

    try:
        return metadata.version("program-research-workbench")
    except metadata.PackageNotFoundError:
        return "unknown"


def data_digests() -> dict[str, str]:
    """SHA-256 of every data file that predictions depend on, fitted ones included."""
    names = list(_DATA_FILES)
    fitted = data_path("fitted")
    if fitted.is_dir():
        names += [f"fitted/{path.name}" for path in sorted(fitted.glob("*.csv"))]
    return {name: _digest(data_path(*name.split("/"))) for name in names}


def _slug(name: str) -> str:
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:60].strip("-") or "block"


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
            found.append((match["slug"], int(match["number"]), path))
    return sorted(found)


def list_committed(folder: str | Path = "committed") -> list[Path]:
    """List the committed blocks of a folder by name and revision; what a cut-off run left is not among them."""
    return [path for _, _, path in _revisions(Path(folder)) if (path / MANIFEST).is_file()]


def read_committed(path: str | Path) -> Committed:
    """Read a committed block.

    Raises
    ------
    InputError
        Where the folder is none, or a file of it is missing or cannot be read. `verify` says what was changed.
    """
    path = Path(path)
    place = path / MANIFEST
    try:
        manifest = json.loads(place.read_text(encoding="utf-8"))
        if not isinstance(manifest, dict) or manifest.get("format") != _FORMAT:
            raise InputError(place, "format", "is not one this version reads", "use a newer workbench")
        told = manifest["decision"]
        decision = Decision(
            reason=str(told["reason"]),
            decided_by=str(told["decided_by"]),
            alternatives=tuple(
                Alternative(one["name"], read_block(path / one["file"]), one["why_not"]) for one in told["alternatives"]
            ),
        )
        return Committed(
            path=path,
            manifest=manifest,
            block=read_block(path / "block.toml"),
            lifters=tuple(read_lifter(path / one["file"]) for one in manifest["lifters"]),
            room=read_room(path / "room.toml"),
            decision=decision,
        )
    except OSError as error:
        raise InputError(
            place, "", f"cannot be read ({error.strerror})", "give the folder of a committed block"
        ) from error
    except (ValueError, KeyError, TypeError) as error:
        if isinstance(error, InputError):
            raise
        raise InputError(place, "", "is damaged", "fetch the folder again from where it was shared") from error
