"""Committed folders with a damaged manifest, changed, missing, added or linked files."""

from __future__ import annotations

import copy
import datetime
import json
import tempfile
from functools import cache
from typing import Any

from hypothesis import strategies as st

from tests.fuzz.cases import Case, chance, odd_texts
from workbench.gym.equipment import read_room
from workbench.lifter import read_lifter
from workbench.prescription.block import Block
from workbench.publish.commit import Alternative, Decision, commit_block
from workbench.reference.sources import data_path
from workbench.reference.toml_files import validate

__all__ = ["LINK", "committed_cases", "committed_folder"]

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


@st.composite
def committed_cases(draw: Any) -> Case:
    """A committed folder as it was, or damaged in one to three places."""
    files = dict(committed_folder())
    for _ in range(draw(st.integers(0, 3))):
        if chance(draw, 65):
            files[MANIFEST] = _damaged_manifest(draw, files.get(MANIFEST, b""))
        else:
            _damage_files(draw, files)
    return Case(files, MANIFEST, {"changed": files != committed_folder()})


def _damaged_manifest(draw: Any, content: bytes) -> bytes:
    if chance(draw, 10):
        return draw(st.sampled_from(_RAW)).encode()
    try:
        manifest = json.loads(content)
    except (ValueError, RecursionError):
        return content
    places = _places(manifest)
    if not places:
        return content
    holder, key = places[draw(st.integers(0, len(places) - 1))]
    way = draw(st.sampled_from(("replace", "replace", "leave out", "add", "swap", "name", "deep")))
    if way == "replace":
        holder[key] = copy.deepcopy(draw(st.one_of(st.sampled_from(_ODD), odd_texts(longest=400))))
    elif way == "leave out":
        del holder[key]
    elif way == "swap":
        other, place = places[draw(st.integers(0, len(places) - 1))]
        holder[key], other[place] = copy.deepcopy(other[place]), copy.deepcopy(holder[key])
    elif way == "name":
        holder[key] = draw(st.sampled_from(_NAMES))
    elif way == "add" and isinstance(holder, dict):
        holder[draw(odd_texts(longest=400))] = draw(st.sampled_from(_ODD))
    else:
        holder[key] = json.loads("[" * 200 + "]" * 200)
    return json.dumps(manifest, indent=2, sort_keys=True, ensure_ascii=chance(draw, 10)).encode(errors="surrogatepass")


def _places(content: Any) -> list[tuple[Any, Any]]:
    found = []
    items = content.items() if isinstance(content, dict) else enumerate(content) if isinstance(content, list) else ()
    for key, value in items:
        found.append((content, key))
        found += _places(value)
    return found


def _damage_files(draw: Any, files: dict[str, bytes]) -> None:
    name = draw(st.sampled_from(sorted(files)))
    content = files[name]
    at = draw(st.integers(0, max(len(content) - 1, 0)))
    way = draw(st.sampled_from(("leave out", "flip", "cut", "add", "link", "loop", "dangling", "binary", "line")))
    if way == "leave out":
        del files[name]
    elif way == "flip" and content:
        files[name] = content[:at] + bytes([content[at] ^ (1 << draw(st.integers(0, 7)))]) + content[at + 1 :]
    elif way == "cut":
        files[name] = content[:at]
    elif way == "add":
        files[draw(st.sampled_from(("x.txt", "lifters/x.toml", "sheets/\u0141.html", "new/deep/x", ".hidden")))] = b"x"
    elif way == "binary":
        files[name] = b"\xff\xfe\0\x01" * 20
    elif way == "line":
        lines = content.split(b"\n")
        files[name] = b"\n".join([*lines[: at % len(lines)], *lines[at % len(lines) + 1 :]])
    else:
        targets = {"link": b"block.toml", "loop": name.rsplit("/", 1)[-1].encode(), "dangling": b"nowhere/at/all"}
        files[name if chance(draw, 50) else "extra"] = LINK + targets.get(way, b"nowhere")
