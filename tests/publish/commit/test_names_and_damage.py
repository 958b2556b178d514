"""Folders of revisions whatever the names and the disk, and what `verify` says of damaged ones."""

import copy
import datetime
import hashlib
import json
import os
import shutil

import pytest

from workbench.gym.equipment import read_room
from workbench.lifter import read_lifter
from workbench.prescription.schemes import constant_step, exercise_block
from workbench.publish.commit import (
    Alternative,
    Decision,
    commit_block,
    earlier_revisions,
    list_committed,
    read_committed,
    verify,
)
from workbench.publish.commit.contents import MANIFEST, code_digest, fingerprint_of, manifest_text
from workbench.quantities import InputError
from workbench.reference.sources import data_path

DEMO = data_path("demo")
NOW = datetime.datetime(2026, 1, 4, 18, 0, tzinfo=datetime.UTC)


@pytest.fixture(scope="module")
def room():
    return read_room(DEMO / "rooms" / "boathouse_hall.toml")


@pytest.fixture(scope="module")
def lifter():
    return read_lifter(DEMO / "lifters" / "emre_sandoval.toml")


@pytest.fixture(scope="module")
def freeze(lifter, room):
    """Commit a small block of some name into a folder."""
    small = exercise_block("barbell bench pull", constant_step(sets=2), weeks=1)
    other = Alternative("other", small, "too short")

    def run(folder, name="Plain"):
        block = small.model_copy(update={"name": name})
        return commit_block(
            block, [lifter], room, Decision("r", "C", (other,)), seed=7, folder=folder, draws=10, now=NOW
        )

    return run


@pytest.fixture(scope="module")
def whole(freeze, tmp_path_factory):
    return freeze(tmp_path_factory.mktemp("whole")).path


@pytest.fixture
def damaged(whole, tmp_path):
    return shutil.copytree(whole, tmp_path / whole.name)


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ("Зимний блок", "Летний блок"),
        ("冬のブロック", "夏のブロック"),
        ("★", "☆"),
        ("5/3", "5 3"),
        ("a-b", "a b"),
        ("C++", "C"),
        ("Ł" * 90 + "a", "Ł" * 90 + "b"),
    ],
)
def test_two_names_never_share_a_folder(freeze, tmp_path, first, second):
    made = [freeze(tmp_path, name) for name in (first, second, first, second)]
    assert [one.revision for one in made] == [1, 1, 2, 2]
    assert len({one.path.name.casefold() for one in made}) == 4
    for one in made[:2]:
        assert earlier_revisions(one) == []
    assert earlier_revisions(made[2]) == [made[0].path]
    assert earlier_revisions(made[3]) == [made[1].path]
    assert all(verify(one.path).same for one in made)


@pytest.mark.parametrize(
    ("first", "second"), [("Winter Block", "winter  block"), ("Über", "U\u0308ber"), ("STRASSE", "Straße")]
)
def test_names_that_a_person_or_a_disk_takes_for_the_same_are_revisions(freeze, tmp_path, first, second):
    assert [freeze(tmp_path, name).revision for name in (first, second)] == [1, 2]


def test_letters_of_other_scripts_stay_readable(freeze, tmp_path):
    assert freeze(tmp_path, "Зимний блок").path.name == "зимний-блок-r01"


def test_a_disk_that_ignores_case_takes_the_next_number(freeze, tmp_path):
    """On such a disk a folder written PLAIN-R01 stands where plain-r01 would go."""
    shutil.move(freeze(tmp_path).path, tmp_path / "PLAIN-R01")
    assert freeze(tmp_path).path.name == "plain-r02"
    assert [path.name for path in list_committed(tmp_path)] == ["PLAIN-R01", "plain-r02"]


def test_what_the_list_of_a_folder_does_not_show_is_gone_round(freeze, tmp_path, monkeypatch):
    freeze(tmp_path)
    (tmp_path / "plain-r02").symlink_to(tmp_path / "nowhere")
    (tmp_path / "plain-r03").write_text("a file", encoding="utf-8")
    monkeypatch.setattr("workbench.publish.commit.record._revisions", lambda folder: [])
    assert freeze(tmp_path).path.name == "plain-r04"
    assert (tmp_path / "plain-r03").read_text(encoding="utf-8") == "a file"


def test_the_search_for_a_number_ends(freeze, tmp_path, monkeypatch):
    """A disk on which every name is taken: after a bounded number of tries it is said, and nothing is left."""
    tries = []
    real = os.path.lexists

    def taken(path):
        if "plain-r" in str(path):
            tries.append(path)
            return True
        return real(path)

    monkeypatch.setattr("workbench.publish.commit.record.os.path.lexists", taken)
    with pytest.raises(InputError, match="no free revision"):
        freeze(tmp_path)
    assert 10 < len(tries) < 10_000
    monkeypatch.undo()
    assert list(tmp_path.iterdir()) == []


def test_what_would_not_read_back_is_refused_before_anything_is_written(freeze, tmp_path):
    with pytest.raises(InputError, match="name: holds the control character"):
        freeze(tmp_path / "folder", "a\x1b[31mb")
    assert not (tmp_path / "folder").exists()


@pytest.mark.parametrize("field", ["reason", "decided_by", "why_not", "name"])
def test_the_decision_holds_no_control_characters(freeze, tmp_path, lifter, room, field):
    block = exercise_block("barbell bench pull", constant_step(sets=2), weeks=1)
    hostile = "red \x1b[31m"
    other = Alternative(hostile if field == "name" else "n", block, hostile if field == "why_not" else "w")
    told = {key: hostile if key == field else "told" for key in ("reason", "decided_by")}
    with pytest.raises(InputError, match="control character"):
        commit_block(block, [lifter], room, Decision(**told, alternatives=(other,)), seed=1, folder=tmp_path, draws=10)
    assert list(tmp_path.iterdir()) == []


def signed(content):
    """A manifest with a fingerprint that fits, as somebody who knows the form would write it."""
    try:
        return manifest_text({**content, "fingerprint": fingerprint_of(content)})
    except ValueError:  # not a number has no form there
        return json.dumps(content)


def places(content, path=()):
    """Every place in a manifest, from the top."""
    yield path
    steps = content.items() if isinstance(content, dict) else enumerate(content) if isinstance(content, list) else ()
    for key, value in steps:
        yield from places(value, (*path, key))


WRONG = (
    None,
    True,
    -1,
    10**400,
    float("nan"),
    float("inf"),
    "",
    "x" * 100,
    "../../../etc/passwd",
    "/dev/zero",
    [],
    {},
    [[]],
)


FREE_TEXT = {"reason", "decided_by", "why_not", "name", "block", "version"}


def test_every_place_of_a_manifest_may_be_missing_or_of_the_wrong_kind(damaged):
    """The fingerprint is made to fit, so each is caught for what it is: never a traceback, never called the same."""
    content = json.loads((damaged / MANIFEST).read_text(encoding="utf-8"))
    said = set()
    tried = 0
    for place in list(places(content))[1:]:
        for wrong in ("missing", *WRONG):
            changed = copy.deepcopy(content)
            inner = changed
            for step in place[:-1]:
                inner = inner[step]
            if wrong == "missing":
                del inner[place[-1]]
            elif inner[place[-1]] == wrong and type(inner[place[-1]]) is type(wrong):
                continue
            else:
                inner[place[-1]] = wrong
            text = json.dumps(changed) if place == ("fingerprint",) else signed(changed)
            (damaged / MANIFEST).write_text(text, encoding="utf-8")
            # Texts may be any; nothing else may.
            if place[-1] in FREE_TEXT and isinstance(wrong, str) and wrong != "missing":
                continue
            found = verify(damaged)
            tried += 1
            optional = place == ("start",) and wrong is None
            optional |= place == ("code",) and wrong in (None, "missing")
            # Whether data are those of then is told beside; the digits decide whether the predictions are the same.
            optional |= place[0] == "data" and wrong in ("missing", {})
            assert optional or not found.same, (place, wrong)
            assert str(found)
            said.update(found.changed)
    assert tried > 300
    assert any("draws: is missing" in one for one in said)
    assert any("commit.json: is damaged: " in one for one in said)


@pytest.mark.parametrize(
    ("raw", "how"),
    [
        (b"", "it is not JSON"),
        (b"\xff\xfe", "it is not UTF-8 text"),
        (b"[1]", "it holds no keys"),
        (b"null", "it holds no keys"),
        (b"[" * 100_000, "it is nested too deeply"),
        (b'{"a":' * 100_000, "it is nested too deeply"),
        (b'{"format": NaN}', "NaN is no number"),
        (b'{"format": -Infinity}', "-Infinity is no number"),
        (b'{"format": ' + b"9" * 5000 + b"}", "it is not JSON"),
        (b'{"format": 1}', "block: is missing"),
        (b" " * 6_000_000, "has more than"),
    ],
    ids=["empty", "binary", "list", "null", "deep list", "deep table", "nan", "infinity", "digits", "keys", "huge"],
)
def test_a_damaged_manifest_says_how(damaged, raw, how):
    (damaged / MANIFEST).write_bytes(raw)
    found = verify(damaged)
    assert not found.same
    assert how in found.changed[0]
    assert len(str(found)) < 1000


def test_a_newer_form_is_not_called_damaged(damaged):
    (damaged / MANIFEST).write_text('{"format": 2}', encoding="utf-8")
    assert "use a newer workbench" in verify(damaged).changed[0]


@pytest.mark.skipif(os.name != "posix", reason="links need rights elsewhere")
def test_links_and_pipes_in_a_committed_folder_are_told(damaged, tmp_path):
    outside = tmp_path / "outside"
    outside.mkdir()
    (damaged / "extra").symlink_to(outside)
    content = (damaged / "room.toml").read_bytes()
    (outside / "room.toml").write_bytes(content)
    (damaged / "room.toml").unlink()
    (damaged / "room.toml").symlink_to(outside / "room.toml")
    (damaged / "predicted_weeks.csv").unlink()
    (damaged / "predicted_weeks.csv").symlink_to(tmp_path / "nowhere")
    (damaged / "predicted_sets.csv").unlink()
    os.mkfifo(damaged / "predicted_sets.csv")
    found = verify(damaged)
    assert not found.same
    assert set(found.changed) == {
        "extra was added",
        "room.toml was changed: it is a link",
        "predicted_weeks.csv was changed: it is a link",
        "predicted_sets.csv was changed: it is no ordinary file",
    }
    (damaged / MANIFEST).unlink()
    (damaged / MANIFEST).symlink_to(tmp_path / "nowhere")
    assert "cannot be read" in verify(damaged).changed[0]


@pytest.mark.parametrize(
    "raw",
    [b"", b"lifter\n", b"\xff", b'a,"' + b"x" * 200_000, b"a\0b\n", b"a,b\n1,2,3\n" * 20],
    ids=["empty", "no rows", "binary", "long cell", "nul", "ragged"],
)
@pytest.mark.parametrize(
    "name", ["predicted_sets.csv", "predicted_weeks.csv", "parameters/parameters.csv", "block.toml"]
)
def test_damaged_files_are_named(damaged, name, raw):
    (damaged / name).write_bytes(raw)
    content = json.loads((damaged / MANIFEST).read_text(encoding="utf-8"))
    found = verify(damaged)
    assert not found.same
    assert f"{name} was changed" in found.changed
    # Made to fit its digest, the damage itself still shows, but for what predictions do not come from.
    content["files"][name] = hashlib.sha256(raw).hexdigest()
    content["data"]["parameters.csv"] = "0" * 64
    (damaged / MANIFEST).write_text(signed(content), encoding="utf-8")
    assert verify(damaged).same == (name == "parameters/parameters.csv")


def test_what_a_damaged_table_holds_is_spelled_out(damaged):
    table = damaged / "predicted_sets.csv"
    heading, first, *others = table.read_text(encoding="utf-8").splitlines()
    *before, last = first.split(",")
    table.write_text("\n".join([heading, ",".join([*before, f"\x1b[31m{last}"]), *others, ""]), encoding="utf-8")
    found = str(verify(damaged))
    assert "predicted_sets.csv was changed" in found
    assert "\\x1b[31m" in found
    assert "\x1b" not in found


def test_other_code_under_the_same_version_is_named_as_the_cause(whole, monkeypatch):
    monkeypatch.setattr("workbench.publish.commit.verification.code_digest", lambda: "0" * 64)
    found = verify(whole)
    assert str(found).splitlines()[0].endswith(": same")
    assert str(found).endswith("every file is as committed, and every predicted digit comes out again")
    assert found.changed == ()
    assert any("the code of the workbench is not the one used then" in text for text in found.since)
    from workbench.reference.parameters import Noise

    monkeypatch.setattr("workbench.simulate.draws.noise", lambda: Noise(0.05, 0.2))
    found = verify(whole)
    assert not found.same
    assert str(found).splitlines()[0].endswith(": NOT the same")
    assert "comes out again" not in str(found)
    assert found.changed == ()
    assert "every file is as committed: other digits come from what has changed in the workbench since then" in str(
        found
    )
    monkeypatch.setattr("workbench.publish.commit.verification.code_digest", code_digest)
    assert "other digits come from another computer or library" in str(verify(whole))


def test_the_digest_of_the_code_is_that_of_every_module(tmp_path, monkeypatch):
    (tmp_path / "inner").mkdir()
    (tmp_path / "b.py").write_bytes(b"x = 1\n")
    (tmp_path / "inner" / "a.py").write_bytes(b"y = 2\n")
    (tmp_path / "note.txt").write_bytes(b"not code")
    monkeypatch.setattr("workbench.publish.commit.contents.code_path", lambda: tmp_path)
    # By hand: name, a null, the digest of the text, a line end; modules by name.
    listed = [("b.py", b"x = 1\n"), ("inner/a.py", b"y = 2\n")]
    text = "".join(f"{name}\0{hashlib.sha256(raw).hexdigest()}\n" for name, raw in listed)
    first = code_digest()
    assert first == hashlib.sha256(text.encode()).hexdigest()
    (tmp_path / "note.txt").write_bytes(b"changed")
    (tmp_path / "b.py").write_bytes(b"x = 1\r\n")  # only the line end of another system
    assert code_digest() == first
    (tmp_path / "inner" / "a.py").write_bytes(b"y = 3\n")
    assert code_digest() != first


def test_a_committed_block_carries_the_digest_of_its_code(whole):
    assert read_committed(whole).manifest["code"] == code_digest()
