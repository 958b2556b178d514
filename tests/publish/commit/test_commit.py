"""Commit and verify: whole or nothing, never overwritten, every changed byte found, the same digits again."""

import datetime
import json
import multiprocessing
import os
import pathlib
import random
import signal
import time
import tomllib

import pytest

from workbench.answers.block_check import check_block
from workbench.gym.equipment import read_room
from workbench.lifter import Lifter, read_lifter
from workbench.models.fatigue import DEFAULT_FORM
from workbench.prescription.block import Block, read_block
from workbench.prescription.edit import Where, change
from workbench.prescription.schemes import constant_step, exercise_block, wave
from workbench.publish.commit import (
    Alternative,
    Decision,
    commit_block,
    differences,
    list_committed,
    read_committed,
    verify,
)
from workbench.publish.commit.record import MANIFEST
from workbench.publish.rationale import rationale_html
from workbench.quantities import InputError
from workbench.reference.sources import data_path
from workbench.reference.toml_files import toml_text, validate

DEMO = data_path("demo")
NOW = datetime.datetime(2026, 1, 4, 18, 0, tzinfo=datetime.UTC)
FEW = 40
#: Of the demonstration block.
EXERCISES = ("barbell bench pull", "back squat", "lat pulldown", "Romanian deadlift", "leg press", "seated cable row")


@pytest.fixture(scope="module")
def room():
    return read_room(DEMO / "rooms" / "boathouse_hall.toml")


@pytest.fixture(scope="module")
def lifter():
    return read_lifter(DEMO / "lifters" / "emre_sandoval.toml")


@pytest.fixture(scope="module")
def small():
    return exercise_block("barbell bench pull", constant_step(sets=2), weeks=2, name="Two weeks of pulls")


@pytest.fixture
def frozen(tmp_path, lifter, room, small):
    other = exercise_block("barbell bench pull", wave(sets=2), weeks=2, name="As a wave")
    decision = Decision("Steps are easier to follow ashore.", "C. Oach", (Alternative("wave", other, "too uneven"),))
    start = datetime.date(2026, 1, 5)
    return commit_block(
        small, [lifter], room, decision, seed=7, folder=tmp_path / "committed", draws=FEW, start=start, now=NOW
    )


def commit_again(folder, lifter, room, block, reason="because", seed=7):
    return commit_block(block, [lifter], room, Decision(reason), seed=seed, folder=folder, draws=FEW, now=NOW)


def test_what_goes_in_comes_back(frozen, lifter, room, small):
    again = read_committed(frozen.path)
    assert again.block == small
    assert again.lifters == (lifter,)
    assert again.room.model_dump() == room.model_dump()
    assert again.decision.reason == "Steps are easier to follow ashore."
    assert again.decision.alternatives[0].block.name == "As a wave"
    assert again.path.name == "two-weeks-of-pulls-r01"
    assert again.manifest["committed_at"] == "2026-01-04T18:00:00+00:00"
    assert sorted(path.name for path in (frozen.path / "sheets").iterdir()) == [
        "01-emre-sandoval.html",
        "01-emre-sandoval.xlsx",
    ]


def test_the_kept_predictions_are_those_of_check(frozen, lifter, room, small):
    check = check_block(small, lifter, room, draws=FEW, seed=7)
    rows = (frozen.path / "predicted_sets.csv").read_text(encoding="utf-8").splitlines()
    assert len(rows) == 1 + len(check.sets)
    header, first = rows[0].split(","), rows[1].split(",")
    assert float(first[header.index("chance")]) == pytest.approx(check.sets["chance"].iloc[0], abs=5e-5)
    assert frozen.manifest["chance_of_block"]["Emre Sandoval"] == pytest.approx(check.chance_of_block, abs=5e-5)


def test_the_demonstration_block_for_several_lifters_reads_back(tmp_path, room):
    block = read_block(DEMO / "block.toml")
    lifters = [read_lifter(path) for path in sorted((DEMO / "lifters").glob("*.toml"))]
    able = [one for one in lifters if set(EXERCISES) <= set(one.lifts)][:3]
    assert len(able) == 3
    found = commit_block(block, able, room, Decision("r"), seed=1, folder=tmp_path, draws=10, now=NOW)
    again = read_committed(found.path)
    assert again.block == block
    assert again.lifters == tuple(able)
    assert verify(found.path).same


def test_what_a_log_taught_is_kept_with_the_commit(tmp_path, lifter, room, small):
    """Intervals, correlations and the own parameters of tiring read back, and verify runs on them."""
    taught = lifter.model_dump(exclude_none=True)
    name = next(iter(taught["lifts"]))
    one_rm = taught["lifts"][name]["one_rm_kg"]
    del taught["lifts"][name]["uncertainty_percent"]
    taught["lifts"][name] |= {
        "known_from": "the log",
        "one_rm_interval": [0.97 * one_rm, 1.02 * one_rm],
        "endurance": 0.03,
        "endurance_interval": [0.026, 0.033],
    }
    names = DEFAULT_FORM.parameter_names
    others = {one: [0.1, 0.2, 0.3] if one.endswith("_share") else [1.0, 2.0, 3.0] for one in names}
    taught["together"] = {
        "form": DEFAULT_FORM.name,
        "others": {**others, "gain": [-0.1, 0.2, 0.5]},
        "quantities": [f"{name}, 1RM", f"{name}, endurance", "gain"],
        "correlations": [[0.8], [0.1, -0.2]],
    }
    who = validate(taught, Lifter)
    found = commit_block(small, [who], room, Decision("r"), seed=1, folder=tmp_path, draws=FEW, now=NOW)
    assert read_committed(found.path).lifters == (who,)
    assert verify(found.path).same


def test_verify_finds_the_same(frozen):
    found = verify(frozen.path)
    assert found.same
    assert str(found).startswith("two-weeks-of-pulls-r01: same")


def test_a_kept_commit_with_its_toml_laid_out_another_way_verifies_and_makes_its_page():
    """Tables on one line, ranges on one line: the bytes are the fingerprint's, whatever a writer would write today."""
    kept = pathlib.Path(__file__).parent / "committed" / "spring-bars-r01"
    found = verify(kept)
    assert found.changed == ()
    # It was frozen with other numbers of the literature: its digits are others now, and that is said.
    assert found.differing
    assert "data file parameters.csv is not the one used then" in str(found)
    assert "every file is as committed" in str(found)
    committed = read_committed(kept)
    assert toml_text(committed.block) != (kept / "block.toml").read_text(encoding="utf-8")
    assert validate(tomllib.loads(toml_text(committed.block)), Block) == committed.block
    assert committed.fingerprint in rationale_html(committed)


def test_every_file_with_one_byte_changed_is_named(frozen):
    files = [path for path in frozen.path.rglob("*") if path.is_file()]
    assert len(files) >= 9
    for path in files:
        whole = path.read_bytes()
        for at in (0, len(whole) // 2, len(whole) - 1):
            path.write_bytes(whole[:at] + bytes([whole[at] ^ 1]) + whole[at + 1 :])
            found = verify(frozen.path)
            assert not found.same, f"{path.name}, byte {at}"
            name = path.relative_to(frozen.path).as_posix()
            assert any(name in text for text in found.changed), (name, found.changed)
        path.write_bytes(whole)
    assert verify(frozen.path).same


def test_every_byte_of_the_manifest_counts(frozen):
    path = frozen.path / MANIFEST
    whole = path.read_bytes()
    for at in random.Random(1).sample(range(len(whole)), 60):
        path.write_bytes(whole[:at] + bytes([whole[at] ^ 2]) + whole[at + 1 :])
        assert not verify(frozen.path).same, at
    path.write_bytes(whole.replace(b"\n", b"\r\n"))
    assert not verify(frozen.path).same


def test_added_and_missing_files_are_named(frozen):
    (frozen.path / "sheets" / "extra.txt").write_text("x", encoding="utf-8")
    assert "sheets/extra.txt was added" in verify(frozen.path).changed
    (frozen.path / "sheets" / "extra.txt").unlink()
    (frozen.path / "predicted_weeks.csv").unlink()
    assert "predicted_weeks.csv is missing" in verify(frozen.path).changed


def test_other_numbers_are_told_from_tampering(frozen, monkeypatch):
    """With another day-to-day scatter the files are whole, the digits are not, and the cause is named."""
    from workbench.reference.parameters import Noise

    monkeypatch.setattr("workbench.simulate.draws.noise", lambda: Noise(0.05, 0.2))
    found = verify(frozen.path)
    assert found.changed == ()
    assert not found.same
    assert any(text.startswith("Emre Sandoval, 1, day 1, barbell bench pull, 1: ") for text in found.differing)
    changed = {**frozen.manifest["data"], "parameters.csv": "0" * 64}
    monkeypatch.setattr("workbench.publish.commit.verification.data_digests", lambda: changed)
    assert any("data file parameters.csv is not the one used then" in text for text in verify(frozen.path).since)


def test_a_revision_gets_the_next_number_and_changes_nothing(frozen, lifter, room, small):
    before = {path: path.read_bytes() for path in frozen.path.rglob("*") if path.is_file()}
    second = commit_again(frozen.path.parent, lifter, room, small)
    assert second.path.name == "two-weeks-of-pulls-r02"
    assert second.revision == 2
    assert differences(frozen, second) == []
    assert {path: path.read_bytes() for path in frozen.path.rglob("*") if path.is_file()} == before
    assert [path.name[-3:] for path in list_committed(frozen.path.parent)] == ["r01", "r02"]


def test_the_same_commit_gives_the_same_fingerprint_but_for_the_sheets(tmp_path, lifter, room, small):
    first, other = (commit_again(tmp_path / name, lifter, room, small) for name in ("a", "b"))
    digests = [{k: v for k, v in one.manifest["files"].items() if not k.endswith(".xlsx")} for one in (first, other)]
    assert digests[0] == digests[1]
    changed = commit_again(tmp_path / "c", lifter, room, small, seed=8)
    assert changed.fingerprint != first.fingerprint


def test_differences_in_words(tmp_path, lifter, room):
    block = read_block(DEMO / "block.toml")
    first = commit_again(tmp_path, lifter, room, block)
    changed = change(block, Where(1, 1, 1), rest_s=120.0, percent=80.0)
    changed = changed.model_copy(update={"lighter_weeks": [], "weeks": 4})
    lifts = {**lifter.lifts}
    lifts["back squat"] = lifts["back squat"].model_copy(update={"one_rm_kg": 131.0})
    second = commit_again(tmp_path, lifter.model_copy(update={"lifts": lifts}), room, changed)
    told = differences(first, second)
    assert "Weeks: 5 became 4." in told
    assert "Week 5 is no longer a lighter week." in told
    assert "Monday, heavy pull: barbell bench pull: load 65 % became 80 %; rest 90 s became 120 s." in told
    old_kg = lifter.lift("back squat").one_rm
    assert f"Emre Sandoval: 1RM of back squat {old_kg:g} kg became 131 kg." in told
    assert any("chance that all reps of the block are made went from" in text for text in told)
    assert differences(first, first) == []


def test_what_cannot_be_committed_is_explained(tmp_path, lifter, room, small):
    with pytest.raises(InputError, match="reason: is empty"):
        commit_block(small, [lifter], room, Decision("  "), seed=1, folder=tmp_path, draws=FEW)
    with pytest.raises(InputError, match="at least one lifter"):
        commit_block(small, [], room, Decision("r"), seed=1, folder=tmp_path, draws=FEW)
    with pytest.raises(InputError, match="two are named"):
        commit_block(small, [lifter, lifter], room, Decision("r"), seed=1, folder=tmp_path, draws=FEW)
    in_the_way = tmp_path / "file"
    in_the_way.write_text("x", encoding="utf-8")
    with pytest.raises(InputError, match="cannot be written"):
        commit_block(small, [lifter], room, Decision("r"), seed=1, folder=in_the_way, draws=FEW)
    with pytest.raises(InputError, match="is no committed block"):
        verify(tmp_path)
    assert list_committed(tmp_path / "nowhere") == []


def test_a_failure_half_way_leaves_nothing(tmp_path, lifter, room, small, monkeypatch):
    def fail(*args, **keys):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("workbench.publish.sheets.write_page", fail)
    with pytest.raises(InputError, match="No space left"):
        commit_again(tmp_path, lifter, room, small)
    assert list(tmp_path.iterdir()) == []


def test_leftovers_are_swept_once_nobody_can_be_writing_them(tmp_path, lifter, room, small):
    stale, fresh = tmp_path / ".unfinished-old", tmp_path / ".unfinished-new"
    for path in (stale, fresh):
        path.mkdir()
        (path / MANIFEST).write_text("{}", encoding="utf-8")
    os.utime(stale, (time.time() - 7200, time.time() - 7200))
    assert list_committed(tmp_path) == []
    assert commit_again(tmp_path, lifter, room, small).revision == 1
    assert not stale.exists()
    assert fresh.exists()


def _commit_in_child(folder, lifter, room, block, gate=None, lives_s=None):
    if gate is not None:
        gate.wait()
    if lives_s is not None:  # in seconds of the processor: its signal ends the process without warning
        signal.setitimer(signal.ITIMER_PROF, lives_s)
    commit_again(folder, lifter, room, block)


needs_fork = pytest.mark.skipif(
    "fork" not in multiprocessing.get_all_start_methods(), reason="this system starts no process by fork"
)


@needs_fork
def test_two_commits_at_once_give_two_revisions(tmp_path, lifter, room, small):
    context = multiprocessing.get_context("fork")
    for turn in range(4):
        gate = context.Barrier(2)
        folder = tmp_path / str(turn)
        children = [
            context.Process(target=_commit_in_child, args=(folder, lifter, room, small, gate)) for _ in range(2)
        ]
        for child in children:
            child.start()
        for child in children:
            child.join()
            assert child.exitcode == 0
        found = list_committed(folder)
        assert [path.name[-3:] for path in found] == ["r01", "r02"]
        assert all(verify(path).same for path in found)
        assert sorted(path.name for path in folder.iterdir()) == [path.name for path in found]


@needs_fork
@pytest.mark.slow
def test_killed_at_any_moment_there_is_nothing_or_a_whole_commit(tmp_path, lifter, room, small):
    """Fifty commits killed at random moments of their run, some just too late: each left nothing or a whole one."""
    context = multiprocessing.get_context("fork")
    start = time.process_time()
    commit_again(tmp_path / "timing", lifter, room, small)
    usual = time.process_time() - start
    moments = random.Random(20)
    whole = partial = 0
    for turn in range(50):
        folder = tmp_path / f"killed-{turn}"
        lives_s = moments.uniform(0.02, 1.35) * usual
        child = context.Process(target=_commit_in_child, args=(folder, lifter, room, small, None, lives_s))
        child.start()
        child.join()
        assert child.exitcode in (0, -signal.SIGPROF)
        found = list_committed(folder)
        assert len(found) <= 1
        for path in found:
            whole += 1
            assert verify(path).same
        names = {path.name for path in folder.iterdir()} if folder.is_dir() else set()
        rest = names - {path.name for path in found}
        partial += bool(rest)
        assert all(name.startswith(".unfinished-") for name in rest), names
        # What is left does not stand in the way of the next commit.
        if turn % 10 == 0:
            assert verify(commit_again(folder, lifter, room, small).path).same
    assert partial >= 5, "hardly any kill fell into the writing: the moments test nothing"
    assert 50 - whole >= 5
    print(f"\n50 kills: {whole} whole commits, {50 - whole} nothing, {partial} of these with a leftover folder")


def test_the_manifest_is_one_canonical_text(frozen):
    text = (frozen.path / MANIFEST).read_text(encoding="utf-8")
    assert list(json.loads(text)) == sorted(json.loads(text))
