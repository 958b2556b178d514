"""Own exercises are frozen with a commit: it verifies in a fresh process, without the gym that it came from."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys

import pytest

from tests.own_gyms import make_gym
from workbench.gym.equipment import read_room
from workbench.lifter import read_lifter
from workbench.prescription.block import read_block
from workbench.publish.commit import Decision, commit_block, differences, read_committed, verify
from workbench.publish.commit.contents import MANIFEST, fingerprint_of, manifest_text
from workbench.publish.rationale import write_rationale

FEW = 20


def fresh(*words):
    """Run a command in a process of its own."""
    command = [sys.executable, "-m", "workbench", *map(str, words)]
    return subprocess.run(command, capture_output=True, text=True, timeout=300, check=False)


def commit(gym, folder):
    room = read_room(gym / "rooms" / "hall.toml")
    lifters = [read_lifter(gym / "lifters" / name) for name in ("a.toml", "b.toml")]
    return commit_block(read_block(gym / "block.toml"), lifters, room, Decision("r"), seed=1, folder=folder, draws=FEW)


@pytest.fixture
def committed(tmp_path):
    return commit(make_gym(tmp_path, "gym"), tmp_path / "committed")


@pytest.mark.slow
def test_commit_and_verify_in_fresh_processes(tmp_path):
    gym = make_gym(tmp_path, "gym", implement="dumbbells", setup_s=95)
    words = ("--room", gym / "rooms" / "hall.toml", "--reason", "r", "--to", tmp_path / "c", "--draws", FEW)
    lifters = ("--lifter", gym / "lifters" / "a.toml", "--lifter", gym / "lifters" / "b.toml")
    done = fresh("commit", gym / "block.toml", *lifters, *words)
    assert done.returncode == 0, done.stderr
    shutil.rmtree(gym)
    found = fresh("verify", tmp_path / "c" / "logs-r01")
    assert found.returncode == 0, found.stdout + found.stderr
    assert "every predicted digit comes out again" in found.stdout
    page = fresh("rationale", tmp_path / "c" / "logs-r01", "-o", tmp_path / "why.html")
    assert page.returncode == 0, page.stderr


def test_what_was_frozen_is_what_the_room_knew(committed, tmp_path):
    room = read_room(tmp_path / "gym" / "rooms" / "hall.toml")
    again = read_committed(committed.path)
    assert again.room.catalogue == room.catalogue
    assert all(lifter.catalogue == room.catalogue for lifter in again.lifters)
    assert committed.manifest["exercises"] in committed.manifest["files"]
    assert "log press" in write_rationale(committed.path, tmp_path / "why.html").read_text(encoding="utf-8")


def test_a_gym_without_own_exercises_freezes_none(tmp_path):
    gym = make_gym(tmp_path, "gym")
    block = (gym / "block.toml").read_text(encoding="utf-8").replace("log press", "bench press")
    (gym / "block.toml").write_text(block, encoding="utf-8")
    for file in (gym / "lifters").iterdir():
        text = file.read_text(encoding="utf-8").replace("[lifts.log]", '[lifts."bench press"]')
        file.write_text(text.replace('"log"', '"push-up"'), encoding="utf-8")
    shutil.rmtree(gym / "exercises")
    plain = commit(gym, tmp_path / "committed")
    assert "exercises" not in plain.manifest
    assert not list(plain.path.glob("exercises*"))
    assert verify(plain.path).same


def test_changed_or_hidden_own_exercises_are_found(committed, tmp_path):
    path = committed.path / "exercises.toml"
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace("setup_s = 60", "setup_s = 61"), encoding="utf-8")
    found = verify(committed.path)
    assert not found.same
    assert any("exercises.toml was changed" in line for line in found.changed)
    path.write_text(text, encoding="utf-8")
    assert verify(committed.path).same
    # A manifest made anew without them, its fingerprint with it, leaves a file that nothing names.
    content = {key: value for key, value in committed.manifest.items() if key not in ("exercises", "fingerprint")}
    content["fingerprint"] = fingerprint_of(content)
    (committed.path / MANIFEST).write_text(manifest_text(content), encoding="utf-8")
    assert any("does not name" in line for line in verify(committed.path).changed)


def test_differences_name_changed_own_exercises(committed, tmp_path):
    same = commit(tmp_path / "gym", tmp_path / "committed")
    assert differences(committed, same) == []
    own = tmp_path / "gym" / "exercises" / "own.toml"
    own.write_text(own.read_text(encoding="utf-8").replace("setup_s = 60", "setup_s = 90"), encoding="utf-8")
    changed = commit(tmp_path / "gym", tmp_path / "committed")
    assert "The own exercises changed." in differences(committed, changed)
    assert json.loads((changed.path / MANIFEST).read_text(encoding="utf-8"))["revision"] == 3
