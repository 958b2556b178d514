"""A small, always equal share of what ``python -m tests.fuzz`` feeds the readers, and that it would notice."""

import json
import os
import shutil
import time

import pytest

from tests.fuzz import running
from tests.fuzz.cases import Case
from tests.fuzz.readers import READERS, BrokenPromiseError, Reader, made_case, try_case, write_case
from workbench.quantities import InputError

#: Cases of each reader; a log takes about as long as four small TOML files.
CASES = {"csv": 100, "xlsx": 100}
OTHERS = 80


@pytest.mark.parametrize("reader", READERS)
def test_every_made_file_is_read_or_explained_in_a_line(reader, tmp_path):
    for number in range(CASES.get(reader, OTHERS)):
        folder = tmp_path / str(number)
        folder.mkdir()
        case = made_case(reader, 0, number)
        path = write_case(case, folder)
        try:
            try_case(reader, path, case.told)
        except Exception as error:
            error.add_note(f"the file that was read: {path}, with {case.told}")
            raise
        shutil.rmtree(folder)


@pytest.mark.parametrize("reader", READERS)
def test_a_case_is_made_again_from_its_number_alone(reader):
    wanted = made_case(reader, 3, 10)
    others = [made_case(reader, 3, number) for number in range(10)]
    again = made_case(reader, 3, 10)
    assert (again.files, again.told) == (wanted.files, wanted.told)
    assert len({tuple(case.files.items()) for case in others}) > 1


def test_a_set_to_a_stated_reserve_needs_no_chance(tmp_path):
    groups = "[{ reps = [1, 3], reps_in_reserve = 2 }, { reps = 5, percent = 70 }]"
    slot = f'[[sessions]]\nname = "s"\nexercises = [{{ exercise = "leg press", sets = {groups} }}]\n'
    (tmp_path / "block.toml").write_text(f'name = "b"\nweeks = 1\n{slot}', encoding="utf-8")
    try_case("block", tmp_path / "block.toml", {"draws": 10})


def faulty(monkeypatch, tmp_path, read):
    monkeypatch.setitem(READERS, "faulty", Reader(lambda rng: Case({"x": b""}, "x"), read))
    return running.examine("faulty", tmp_path / "x", {})


def test_an_answer_is_no_finding_and_a_traceback_is(monkeypatch, tmp_path):
    def explained(path, told):
        raise InputError(path, "row 3", "is no number", "write 5")

    def raised(path, told):
        raise KeyError("reps")

    assert faulty(monkeypatch, tmp_path, explained) is None
    assert faulty(monkeypatch, tmp_path, raised).kind == "KeyError"


def test_what_never_ends_is_found_even_if_everything_is_caught(monkeypatch, tmp_path):
    def endless(path, told):
        while True:
            try:
                while True:
                    pass
            except Exception:  # noqa: BLE001 - as a reader of damaged files may
                continue

    monkeypatch.setattr(running, "PATIENCE_S", 0.05)
    assert faulty(monkeypatch, tmp_path, endless).kind == "TooSlowError"


def test_control_characters_in_a_message_are_found(monkeypatch, tmp_path):
    class ColouredError(InputError):
        def __str__(self):
            return "\x1b[31m is no exercise"

    def coloured(path, told):
        raise ColouredError(path, "name", "is no exercise")

    assert faulty(monkeypatch, tmp_path, coloured).kind == BrokenPromiseError.__name__


def test_a_run_counts_its_cases_and_keeps_a_reproducer(monkeypatch, tmp_path):
    def raised(path, told):
        raise KeyError("reps")

    monkeypatch.setitem(READERS, "faulty", Reader(numbered, raised))
    found = running.fuzz("faulty", cases=20, seed=1, jobs=1, output=tmp_path)
    assert found.cases == found.groups["KeyError"] >= 20
    (kept, *_) = found.kept["KeyError"]
    assert (tmp_path / "faulty" / "001-1" / "case.json").exists()
    assert kept == str(tmp_path / "faulty" / "001-1")


def test_a_case_that_ends_its_worker_is_kept_and_the_others_are_tried(monkeypatch, tmp_path):
    def ends(path, told):
        if path.read_bytes() < b"3":
            os._exit(3)

    monkeypatch.setitem(READERS, "faulty", Reader(numbered, ends))
    fatal = [number for number in range(20) if made_case("faulty", 1, number).files["log.csv"] < b"3"]
    found = running.fuzz("faulty", cases=20, seed=1, jobs=2, output=tmp_path)
    assert found.cases == 20
    assert dict(found.groups) == {"WorkerEnded exit code 3": len(fatal)}
    kept = json.loads((tmp_path / "faulty" / "001-1" / "case.json").read_text())
    assert kept["number"] in fatal
    assert (tmp_path / "faulty" / "001-1" / "log.csv").read_bytes() < b"3"


def test_a_run_ends_with_its_minutes(monkeypatch, tmp_path):
    monkeypatch.setitem(READERS, "faulty", Reader(numbered, lambda path, told: time.sleep(0.01)))
    found = running.fuzz("faulty", cases=100_000, minutes=0.01, seed=1, jobs=1, output=tmp_path)
    assert 0 < found.cases <= 60
    assert f"{found.cases} cases, 0 findings" in (tmp_path / "faulty.txt").read_text()


def numbered(rng):
    return Case({"log.csv": str(rng.randint(0, 99)).encode()}, "log.csv")
