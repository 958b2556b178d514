"""Committed folders with a damaged manifest, changed, missing, added or linked files."""

from __future__ import annotations

import copy
import datetime
import json
import tempfile
from functools import cache
from random import Random
from typing import Any

from tests.fuzz.cases import Case, chance, odd_text
from workbench.gym.equipment import read_room
from workbench.lifter import read_lifter
from workbench.prescription.block import Block
from workbench.publish.commit import Alternative, Decision, commit_block
from workbench.reference.sources import data_path
from workbench.reference.toml_files import validate

__all__ = ["LINK", "committed_case", "committed_folder"]

MANIFEST = "commit.json"
#: A file whose content starts so is written as a symbolic link to what follows.
LINK = b"\0link to "
_ODD = (
    None,
    True,
    False,
    0,
    -1,
    10**30,
    1e308,
    float("nan"),
    float("inf"),
    "",
    "x",
    [],
    {},
    [[]],
    {"a": 1},
    [1, 2],
    "1",
    "2026-99-99",
)
_RAW = (
    "",
    "null",
    "[]",
    "1",
    '"x"',
    "{",
    "[" * 4000,
    "[" * 200_000,
    '{"a":' * 4000,
    "9" * 5000,
    "\ufeff{}",
    "\0",
    "NaN",
)
_NAMES = (
    "/etc/hostname",
    "../x",
    "..",
    ".",
    "",
    "block.toml\0",
    "a" * 300,
    "lifters",
    "con",
    "x\n.toml",
    "\u0141.toml",
)


@cache
def committed_folder() -> dict[str, bytes]:
    """The files of one small committed block."""
    group = {"count": 2, "reps": 6, "percent": 70, "rest_s": 120}
    slot = {"exercise": "back squat", "sets": [group]}
    session = {"name": "Monday", "exercises": [slot]}
    block = validate({"name": "One week", "weeks": 1, "sessions": [session]}, Block)
    demo = data_path("demo")
    decision = Decision("It is short.", "C. Oach", (Alternative("the same", block, "longer to say"),))
    with tempfile.TemporaryDirectory() as folder:
        committed = commit_block(
            block,
            [read_lifter(demo / "lifters" / "emre_sandoval.toml")],
            read_room(demo / "rooms" / "boathouse_hall.toml"),
            decision,
            seed=7,
            draws=10,
            folder=folder,
            now=datetime.datetime(2026, 1, 4, 18, 0, tzinfo=datetime.UTC),
        )
        files = [path for path in committed.path.rglob("*") if path.is_file()]
        return {path.relative_to(committed.path).as_posix(): path.read_bytes() for path in sorted(files)}


def committed_case(rng: Random) -> Case:
    """A committed folder as it was, or damaged in one to three places."""
    files = dict(committed_folder())
    for _ in range(rng.randint(0, 3)):
        if chance(rng, 65):
            files[MANIFEST] = _damaged_manifest(rng, files.get(MANIFEST, b""))
        else:
            _damage_files(rng, files)
    return Case(files, MANIFEST, {"changed": files != committed_folder()})


def _damaged_manifest(rng: Random, content: bytes) -> bytes:
    if chance(rng, 10):
        return rng.choice(_RAW).encode()
    try:
        manifest = json.loads(content)
    except (ValueError, RecursionError):
        return content
    places = _places(manifest)
    if not places:
        return content
    holder, key = places[rng.randint(0, len(places) - 1)]
    way = rng.choice(("replace", "replace", "leave out", "add", "swap", "name", "deep"))
    if way == "replace":
        holder[key] = copy.deepcopy(rng.choice(_ODD)) if chance(rng, 30) else odd_text(rng, longest=400)
    elif way == "leave out":
        del holder[key]
    elif way == "swap":
        other, place = places[rng.randint(0, len(places) - 1)]
        holder[key], other[place] = copy.deepcopy(other[place]), copy.deepcopy(holder[key])
    elif way == "name":
        holder[key] = rng.choice(_NAMES)
    elif way == "add" and isinstance(holder, dict):
        holder[odd_text(rng, longest=400)] = copy.deepcopy(rng.choice(_ODD))
    else:
        holder[key] = json.loads("[" * 200 + "]" * 200)
    return json.dumps(manifest, indent=2, sort_keys=True, ensure_ascii=chance(rng, 10)).encode(errors="surrogatepass")


def _places(content: Any) -> list[tuple[Any, Any]]:
    found = []
    items = content.items() if isinstance(content, dict) else enumerate(content) if isinstance(content, list) else ()
    for key, value in items:
        found.append((content, key))
        found += _places(value)
    return found


def _damage_files(rng: Random, files: dict[str, bytes]) -> None:
    name = rng.choice(sorted(files))
    content = files[name]
    at = rng.randint(0, max(len(content) - 1, 0))
    way = rng.choice(("leave out", "flip", "cut", "add", "link", "loop", "dangling", "binary", "line"))
    if way == "leave out":
        del files[name]
    elif way == "flip" and content:
        files[name] = content[:at] + bytes([content[at] ^ (1 << rng.randint(0, 7))]) + content[at + 1 :]
    elif way == "cut":
        files[name] = content[:at]
    elif way == "add":
        files[rng.choice(("x.txt", "lifters/x.toml", "sheets/\u0141.html", "new/deep/x", ".hidden"))] = b"x"
    elif way == "binary":
        files[name] = b"\xff\xfe\0\x01" * 20
    elif way == "line":
        lines = content.split(b"\n")
        files[name] = b"\n".join([*lines[: at % len(lines)], *lines[at % len(lines) + 1 :]])
    else:
        targets = {"link": b"block.toml", "loop": name.rsplit("/", 1)[-1].encode(), "dangling": b"nowhere/at/all"}
        files[name if chance(rng, 50) else "extra"] = LINK + targets.get(way, b"nowhere")
