"""What each reader is fed and what must hold of what it hands back."""

from __future__ import annotations

import math
import tempfile
import unicodedata
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache, partial
from pathlib import Path
from random import Random
from typing import Any
from unittest.mock import patch

from tests.fuzz.cases import Case
from tests.fuzz.committed_cases import LINK, committed_case, committed_folder
from tests.fuzz.csv_cases import csv_case
from tests.fuzz.toml_cases import toml_case
from tests.fuzz.xlsx_cases import xlsx_case
from tests.simulated_logs import both_hands
from workbench.answers.block_check import check_block
from workbench.gym import catalogue
from workbench.gym.equipment import IMPLEMENTS, read_room
from workbench.lifter import Lifter, read_lifter
from workbench.log import ReadOptions, read_log, write_canonical, write_quarantine
from workbench.prescription.block import read_block
from workbench.prescription.schemes import constant_step, exercise_block
from workbench.publish.commit import differences, read_committed, verification, verify
from workbench.quantities import InputError
from workbench.reference.sources import data_path
from workbench.reference.toml_files import toml_text, validate

__all__ = ["READERS", "BrokenPromiseError", "Reader", "made_case", "try_case", "write_case"]


class BrokenPromiseError(Exception):
    """The reader raised nothing, but what it handed back is not what it promises."""


@dataclass(frozen=True)
class Reader:
    """What makes a case for one reader of random numbers, and the call that reads one and checks the outcome."""

    case: Callable[[Random], Case]
    read: Callable[[Path, dict[str, Any]], None]


def made_case(reader: str, seed: int, number: int) -> Case:
    """Make one case: the same files for the same reader, seed and number, whatever was made before."""
    return READERS[reader].case(Random(f"{reader} {seed} {number}"))


def write_case(case: Case, folder: Path) -> Path:
    """Write the files of a case into an empty folder; return the file to read."""
    for name, content in case.files.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        if content.startswith(LINK):
            target = content.removeprefix(LINK).decode(errors="replace").replace("\0", "")  # damage may have cut it
            path.symlink_to(target or "nowhere")
        else:
            path.write_bytes(content)
    return folder / case.main


def try_case(reader: str, path: Path, told: dict[str, Any]) -> None:
    """Read a case: an InputError of one printable line is an answer, anything else raised is a finding."""
    try:
        READERS[reader].read(path, told)
    except InputError as error:
        _must(_one_line(str(error)), "the message holds control characters or several lines")
        _must(not told.get("must_read"), f"the whole file is refused: {error.problem[:60]}")


def _one_line(text: str) -> bool:
    """Whether nothing in a text moves, colours, turns or ends a line: no control, surrogate, separator or turn."""
    return not any(
        unicodedata.category(letter) in ("Cc", "Cs", "Zl", "Zp") or "\u202a" <= letter <= "\u202e" for letter in text
    )


def _must(condition: bool, promise: str) -> None:
    if not condition:
        raise BrokenPromiseError(promise)


def _read_log(path: Path, told: dict[str, Any]) -> None:
    reading = read_log(path, options=ReadOptions(**told["options"]))
    totals = reading.totals
    rows = reading.so_far  # rows that wait for an answer stand in the quarantine
    used = len(set(zip(rows["source_sheet"], rows["source_row"], strict=True)))
    _must(used == totals["rows used"], "rows used are not the rows that the sets come from")
    whole = used + len(reading.quarantine) + int(reading.ignored["rows"].sum())
    if told["rows"] is not None:
        _must(whole == told["rows"], "rows used, set aside and ignored are not the rows in the file")
    _must_hold_marks(reading, told["marks"])
    for name in ("load_kg", "reps"):
        _must(bool((rows[name] > 0).all()) or name == "reps", f"{name} is not above zero")
    if not told["again"]:
        return
    reading.preview()
    aside, canonical = path.with_name("aside.csv"), path.with_name("canonical.csv")
    write_quarantine(reading, aside)
    if len(rows) and not reading.questions:
        write_canonical(reading, canonical)
        reread = read_log(canonical).so_far
        _must(reread.equals(rows), "the canonical log read again gives other rows")


def _must_hold_marks(reading: Any, marks: list[str]) -> None:
    """Every row's marker stands in a set, in the quarantine or among what is ignored."""
    frames = (reading.so_far, reading.quarantine, reading.ignored)
    text = "\n".join(str(value) for frame in frames for column in frame for value in frame[column].to_numpy())
    lost = [mark for mark in marks if mark not in text]
    _must(not lost, "rows are lost: their markers stand nowhere")


@cache
def _strong_lifter() -> Lifter:
    lifts = {name: {"one_rm_kg": 100, **both_hands(name)} for name in catalogue.exercises()}
    return validate({"name": "Strong", "body_mass_kg": 80, "lifts": lifts}, Lifter)


@cache
def _room() -> Any:
    return read_room(data_path("demo") / "rooms" / "boathouse_hall.toml")


def _check(block: Any, lifter: Any, room: Any, draws: int) -> None:
    found = check_block(block, lifter, room, draws=draws, seed=1)
    str(found.notes)
    sets = found.sets
    to_be_made = (sets["reps_high"] < math.inf) & sets["leaves"].isna()  # not to failure, nor to a stated reserve
    _must(bool(sets["chance"][to_be_made].between(0, 1).all()), "a chance is no number from 0 to 1")
    _must(bool(sets["chance"][~to_be_made].isna().all()), "a set that ends where it ends has a chance")
    _must(all(math.isfinite(load) and load > 0 for load in sets["load_kg"]), "a load is not finite and above zero")
    _must(math.isfinite(found.chance_of_block), "the chance of the block is no number")


def _read_block(path: Path, told: dict[str, Any]) -> None:
    block = read_block(path)
    _read_again(block, path, read_block)
    block.expanded_sessions()
    _check(block, _strong_lifter(), _room(), told["draws"])


def _read_lifter(path: Path, told: dict[str, Any]) -> None:
    lifter = read_lifter(path)
    _read_again(lifter, path, read_lifter)
    for name in list(lifter.lifts)[:1]:
        block = exercise_block(name, constant_step(sets=2), weeks=2)
        _check(block, lifter, _room(), told["draws"])


def _read_room(path: Path, told: dict[str, Any]) -> None:
    room = read_room(path)
    _read_again(room, path, read_room)
    for implement in IMPLEMENTS:
        try:
            loads = room.loads(implement)
        except InputError:
            continue
        _must(len(loads) > 0, "a table of loads is empty")
        chosen = loads.round_kg([0.0, 1.0, 57.5, 1e6])
        _must(all(math.isfinite(kg) and kg >= 0 for kg in chosen), "a load of the room is not finite, or below zero")
        loads.describe(len(loads) - 1)
    for name in ("back squat", "leg press", "lat pulldown"):
        room.lacks(catalogue.exercise(name))


def _read_exercises(path: Path, told: dict[str, Any]) -> None:
    whole = catalogue.catalogue_for(exercises=path)
    for exercise in whole.own or ():
        _room().lacks(exercise)
        _must(whole.exercise(exercise.name) == exercise, "an own exercise is not found by its name")
        numbers = [value for value in vars(exercise).values() if isinstance(value, int | float)]
        _must(all(0 <= value < math.inf for value in numbers), "a number of an exercise is not finite, or below zero")


def _read_again(model: Any, path: Path, read: Callable[[Path], Any]) -> None:
    copy = path.with_name("written.toml")
    copy.write_text(toml_text(model), encoding="utf-8", newline="\n")
    try:
        same = read(copy).model_dump() == model.model_dump()
    except InputError as error:
        raise BrokenPromiseError(f"what is written cannot be read again: {error.problem[:60]}") from error
    _must(same, "what is written reads back to something else")


@cache
def _untouched() -> Any:
    with tempfile.TemporaryDirectory() as folder:
        write_case(Case(committed_folder(), "commit.json"), Path(folder))
        return read_committed(folder)


_code_digest = cache(verification.code_digest)  # the code stays the same while it is tried


def _read_committed(path: Path, told: dict[str, Any]) -> None:
    with patch.object(verification, "code_digest", _code_digest):
        found = verify(path.parent)
    _must(_one_line(str(found).replace("\n", "")), "the finding holds control characters")
    _must(found.same != told["changed"], "a changed folder passes" if told["changed"] else "an unchanged folder fails")
    differences(_untouched(), read_committed(path.parent))


READERS: dict[str, Reader] = {
    "csv": Reader(csv_case, _read_log),
    "xlsx": Reader(xlsx_case, _read_log),
    "block": Reader(partial(toml_case, kind="block"), _read_block),
    "lifter": Reader(partial(toml_case, kind="lifter"), _read_lifter),
    "room": Reader(partial(toml_case, kind="room"), _read_room),
    "exercises": Reader(partial(toml_case, kind="exercises"), _read_exercises),
    "committed": Reader(committed_case, _read_committed),
}
