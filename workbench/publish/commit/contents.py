"""What a committed block holds as text: its manifest with fingerprint and the workbench of then, its predictions."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Final, NoReturn

import pandas as pd
from pydantic import AfterValidator, Field

from workbench.answers.block_check import BlockCheck, check_block
from workbench.log.cells import neutralised
from workbench.models.fatigue import FORMS, FatigueForm
from workbench.quantities import InputError
from workbench.reference.sources import code_path, data_path
from workbench.reference.toml_files import Number, Strict, Whole, validate
from workbench.reference.whole_files import read_whole

if TYPE_CHECKING:
    from workbench.gym.equipment import Room
    from workbench.lifter import Lifter
    from workbench.prescription.block import Block

__all__ = [
    "LARGEST_FILE",
    "MANIFEST",
    "OWN_EXERCISES",
    "Predictions",
    "code_digest",
    "data_digests",
    "digest",
    "fingerprint_of",
    "manifest_text",
    "predict",
    "read_manifest",
    "version",
]

MANIFEST: Final = "commit.json"
#: The file of own exercises, where the room has any.
OWN_EXERCISES: Final = "exercises.toml"
#: No file of a committed block comes near this.
LARGEST_FILE: Final = 100_000_000
_LARGEST_MANIFEST: Final = 5_000_000
#: The data that predictions depend on.
_DATA_FILES: Final = ("parameters.csv", "exercises.csv", "muscle_shares.csv")
#: Digits after the decimal point: finer than anybody plans by, coarse enough that another processor's last bit does
#: not show.
_DIGITS: Final = 4
_SET_COLUMNS: Final = (
    *("week", "session", "exercise", "set", "load_kg", "percent", "reps_low", "reps_high", "rest_s", "chance"),
    *("reserve_low", "reserve", "reserve_high", "reps_p10", "reps_p50", "reps_p90"),
)
_WEEK_COLUMNS: Final = ("week", "session", "chance", "reserve_low", "reserve", "reserve_high", "minutes")
_FILE = re.compile(r"[A-Za-z0-9_.-]+(?:/[A-Za-z0-9_.-]+)*")


def _inside(name: str) -> str:
    """Let no name lead out of the committed folder."""
    if not _FILE.fullmatch(name) or set(name.split("/")) & {".", ".."}:
        raise ValueError(f"{name!r} is no file of this folder; fetch it again from where it was shared")
    return name


def _known_form(name: str) -> str:
    if name not in FORMS:
        raise ValueError(f"unknown form {name[:40]!r}; use one of {', '.join(FORMS)}")
    return name


_File = Annotated[str, AfterValidator(_inside)]
_Digest = Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]
_Chance = Annotated[Number, Field(ge=0, le=1, allow_inf_nan=False)]


class _Named(Strict):
    name: str
    file: _File


class _Alternative(_Named):
    why_not: str


class _Decision(Strict):
    reason: str
    decided_by: str
    alternatives: list[_Alternative]


class _Manifest(Strict):
    """What ``commit.json`` holds."""

    format: Annotated[Whole, Field(ge=1, le=1)]
    block: str
    committed_at: Annotated[str, Field(pattern=r"^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\+00:00$")]
    version: str
    code: _Digest | None = None
    seed: Annotated[Whole, Field(ge=0, lt=2**63)]
    draws: Annotated[Whole, Field(ge=1, le=1_000_000)]
    form: Annotated[str, AfterValidator(_known_form)]
    start: Annotated[str, Field(pattern=r"^\d{4}-\d\d-\d\d$")] | None
    lifters: list[_Named] = Field(min_length=1)
    chance_of_block: dict[str, _Chance]
    decision: _Decision
    exercises: _File | None = None
    data: dict[str, _Digest]
    files: dict[_File, _Digest]
    revision: Annotated[Whole, Field(ge=1, le=10**6)]
    fingerprint: _Digest


def read_manifest(folder: Path) -> dict[str, Any]:
    """Return the content of ``commit.json``; InputError says how it is damaged, where it is."""
    place = folder / MANIFEST
    try:
        raw = read_whole(place, _LARGEST_MANIFEST)
    except InputError as error:
        raise InputError(place, "", error.problem, "give the folder of a committed block") from None
    try:
        content = json.loads(raw.decode("utf-8"), parse_constant=_no_constant)
    except RecursionError:
        raise _damaged(place, "it is nested too deeply") from None
    except UnicodeDecodeError:
        raise _damaged(place, "it is not UTF-8 text") from None
    except ValueError as error:
        raise _damaged(place, f"it is not JSON, {error}"[:200]) from None
    if not isinstance(content, dict):
        raise _damaged(place, "it holds no keys")
    if isinstance(content.get("format"), int) and content["format"] > 1:
        raise InputError(place, "format", "is not one this version reads", "use a newer workbench")
    try:
        validate(content, _Manifest, place)
    except InputError as error:
        raise _damaged(place, ": ".join(part for part in (error.place, error.problem, error.remedy) if part)) from None
    return content


def _no_constant(name: str) -> NoReturn:
    raise ValueError(f"{name} is no number")


def _damaged(place: Path, how: str) -> InputError:
    return InputError(place, "", f"is damaged: {how}", "fetch the folder again from where it was shared")


def digest(path: Path) -> str:
    """Return SHA-256 of an ordinary file."""
    return hashlib.sha256(read_whole(path, LARGEST_FILE)).hexdigest()


def fingerprint_of(content: Mapping[str, Any]) -> str:
    """Return SHA-256 of a manifest without its fingerprint; the digests in it stand for all files."""
    bare = {key: value for key, value in content.items() if key != "fingerprint"}
    return hashlib.sha256(manifest_text(bare).encode("utf-8", "surrogatepass")).hexdigest()


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


def code_digest() -> str:
    """SHA-256 over every module of the package, so that changed code under the same version is seen."""
    total = hashlib.sha256()
    root = code_path()
    for path in sorted(root.rglob("*.py"), key=lambda path: path.relative_to(root).as_posix()):
        text = path.read_bytes().replace(b"\r\n", b"\n")  # a checkout may write line ends its own way
        total.update(f"{path.relative_to(root).as_posix()}\0{hashlib.sha256(text).hexdigest()}\n".encode())
    return total.hexdigest()


def data_digests() -> dict[str, str]:
    """SHA-256 of every data file that predictions depend on, fitted ones included."""
    names = list(_DATA_FILES)
    fitted = data_path("fitted")
    if fitted.is_dir():
        names += [f"fitted/{path.name}" for path in sorted(fitted.glob("*.csv"))]
    return {name: digest(data_path(*name.split("/"))) for name in names}


@dataclass(frozen=True)
class Predictions:
    """The checks of every lifter, and the two tables of a committed folder as CSV text.

    Attributes
    ----------
    checks : tuple of BlockCheck
        In the order of the lifters.
    sets, weeks : str
        CSV, one row a lifter, week and set, or a lifter, week and session.
    """

    checks: tuple[BlockCheck, ...]
    sets: str
    weeks: str

    def chances(self) -> dict[str, float]:
        """Chance that all reps of the block are made, by lifter."""
        return {one.plan.lifter.name: round(one.chance_of_block, _DIGITS) for one in self.checks}


def predict(
    block: Block, lifters: Sequence[Lifter], room: Room, *, draws: int, seed: int, form: FatigueForm
) -> Predictions:
    """Simulate the block for every lifter, each with the same seed: the digits that ``workbench check`` shows."""
    checks = tuple(check_block(block, one, room, draws=draws, seed=seed, form=form) for one in lifters)
    return Predictions(
        checks=checks,
        sets=_csv(_SET_COLUMNS, [(one.plan.lifter.name, one.sets) for one in checks]),
        weeks=_csv(_WEEK_COLUMNS, [(one.plan.lifter.name, one.weeks) for one in checks]),
    )


def _csv(columns: tuple[str, ...], tables: list[tuple[str, pd.DataFrame]]) -> str:
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(("lifter", *columns))
    for name, table in tables:
        for row in table[list(columns)].itertuples(index=False, name=None):
            writer.writerow([neutralised(name), *(_cell(value) for value in row)])
    return stream.getvalue()


def _cell(value: object) -> str:
    if isinstance(value, float):
        if value != value:
            return ""
        if value == float("inf"):
            return "failure"
        return f"{round(value, _DIGITS) + 0.0:.{_DIGITS}f}".rstrip("0").rstrip(".")
    return neutralised(str(value))
