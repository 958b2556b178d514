"""A gym's folder: what lies in it, edits that can be undone, two windows on one file, and the demo in and out."""

import json
import os

import pytest

from workbench.quantities import InputError
from workbench.reference.gym_folder import KINDS, ChangedMeanwhileError, GymFolder
from workbench.reference.sources import data_path


@pytest.fixture
def gym(tmp_path):
    folder = GymFolder(tmp_path / "gym")
    folder.make()
    return folder


@pytest.fixture
def lifter(gym):
    return gym.add("lifters", "Ada", "name = 'Ada'\n")


def names(paths):
    return [path.name for path in paths]


def test_a_made_folder_has_a_place_for_every_kind_and_holds_nothing(gym):
    assert sorted(path.name for path in gym.path.iterdir()) == sorted(KINDS)
    assert gym.is_empty
    assert all(gym.files(kind) == [] for kind in KINDS)


def test_making_again_keeps_what_is_there(gym, lifter):
    gym.make()
    assert gym.files("lifters") == [lifter]
    assert not gym.is_empty


def test_what_a_cut_off_program_left_is_swept_and_what_is_being_written_is_not(gym):
    old, new = (gym.path / "blocks" / f".{name}.part" for name in ("old", "new"))
    for path in (old, new):
        path.write_text("half", encoding="utf-8")
    two_hours_ago = new.stat().st_mtime - 7200
    os.utime(old, (two_hours_ago, two_hours_ago))
    gym.make()
    assert (old.exists(), new.exists()) == (False, True)


def test_files_are_told_by_folder_and_ending_and_hidden_ones_left_out(gym):
    for name in ("lifters/b.toml", "lifters/a.toml", "lifters/.c.toml", "lifters/note.txt", "lifters/d.TOML"):
        (gym.path / name).write_text("", encoding="utf-8")
    for name in ("logs/a.csv", "logs/b.xlsx", "logs/c.pdf", "top.toml", "blocks/in.toml"):
        (gym.path / name).write_text("", encoding="utf-8")
    (gym.path / "committed" / "x-r01").mkdir()
    (gym.path / "committed" / "x-r01.html").write_text("", encoding="utf-8")
    (gym.path / "lifters" / "folder.toml").mkdir()
    assert names(gym.files("lifters")) == ["a.toml", "b.toml", "d.TOML"]
    assert names(gym.files("logs")) == ["a.csv", "b.xlsx"]
    assert names(gym.files("blocks")) == ["in.toml", "top.toml"]
    assert names(gym.files("committed")) == ["x-r01"]
    assert gym.files("rooms") == []


@pytest.mark.parametrize("kind", ["lifters", "rooms", "blocks", "logs"])
def test_a_gym_with_one_file_is_not_empty(gym, kind):
    gym.add(kind, "one", "", KINDS[kind][0])
    assert not gym.is_empty


@pytest.mark.parametrize(
    ("name", "stem"),
    [
        ("Ada", "ada"),
        ("  Ada  Lovelace-King ", "ada_lovelace_king"),
        ("Žofie Å.", "zofie_a"),
        ("../../etc/passwd", "etc_passwd"),
        ("漢字", "lifter"),
        ("", "lifter"),
        ("x" * 200, "x" * 60),
    ],
)
def test_a_name_becomes_a_plain_file_name_of_that_folder(gym, name, stem):
    path = gym.free_path("lifters", name)
    assert path == gym.path / "lifters" / f"{stem}.toml"


def test_a_second_of_the_same_name_gets_a_number(gym):
    made = [gym.add("blocks", "Spring", f"week = {number}") for number in range(3)]
    assert names(made) == ["spring.toml", "spring_2.toml", "spring_3.toml"]
    assert made[0].read_text(encoding="utf-8") == "week = 0"


def test_edits_are_written_at_once_and_undone_and_redone_in_order(gym, lifter):
    edited = gym.edit(lifter)
    first = lifter.read_bytes()
    assert (edited.can_undo, edited.can_redo) == (False, False)
    for text in ("two", "three"):
        edited.write(text)
        assert lifter.read_text(encoding="utf-8") == text
    assert edited.undo() == b"two"
    assert (edited.can_undo, edited.can_redo) == (True, True)
    assert edited.undo() == first == lifter.read_bytes()
    assert (edited.can_undo, edited.can_redo) == (False, True)
    assert edited.undo() == first  # there is nothing before
    assert edited.redo() == b"two" == lifter.read_bytes()
    edited.write("other")
    assert not edited.can_redo  # what was undone is no longer ahead
    assert edited.redo() == b"other"
    assert edited.undo() == b"two"


def test_versions_outlive_the_program(gym, lifter):
    gym.edit(lifter).write("two")
    again = gym.edit(lifter)
    assert again.can_undo
    assert again.undo() == b"name = 'Ada'\n"


def test_the_same_content_again_is_no_edit(gym, lifter):
    edited = gym.edit(lifter)
    edited.write(lifter.read_bytes())
    assert not edited.can_undo
    assert not (gym.path / ".previous").exists()


def test_the_first_edit_keeps_what_was_there_before(gym, lifter):
    gym.edit(lifter).write("two")
    kept = sorted((gym.path / ".previous" / "lifters" / "ada.toml").iterdir())
    assert [path.read_text(encoding="utf-8") for path in kept] == ["name = 'Ada'\n", "two"]


def test_what_another_window_wrote_is_noticed_and_stays(gym, lifter):
    here, there = gym.edit(lifter), gym.edit(lifter)
    there.write("theirs")
    assert here.changed_elsewhere
    assert not there.changed_elsewhere
    for edit in (lambda: here.write("mine"), lambda: gym.remove(gym.path / "lifters" / "no.toml")):
        with pytest.raises(InputError):
            edit()
    with pytest.raises(ChangedMeanwhileError, match="nothing was overwritten"):
        here.write("mine")
    assert lifter.read_text(encoding="utf-8") == "theirs"
    # Theirs can be taken, and edits go on from there, undo included.
    assert here.take_theirs() == b"theirs"
    here.write("both")
    assert here.undo() == b"theirs" == lifter.read_bytes()


def test_undo_does_not_overwrite_another_window_either(gym, lifter):
    here = gym.edit(lifter)
    here.write("mine")
    lifter.write_text("by hand", encoding="utf-8")
    with pytest.raises(ChangedMeanwhileError):
        here.undo()
    assert lifter.read_text(encoding="utf-8") == "by hand"
    assert here.content == b"mine"  # nothing that was typed is lost: it can be kept under another name


def test_a_removed_file_is_not_made_again_in_silence(gym, lifter):
    here = gym.edit(lifter)
    lifter.unlink()
    with pytest.raises(ChangedMeanwhileError):
        here.write("mine")
    assert not lifter.exists()


def test_a_window_that_takes_the_number_of_a_version_first_is_noticed(gym, lifter, monkeypatch):
    """Both windows looked before either wrote: the file is as it was, the next number is not."""
    here, there = gym.edit(lifter), gym.edit(lifter)
    there.write("theirs")
    lifter.write_bytes(here.content)  # as if theirs had not yet been put in place
    stale = type(here)._versions(here)[:1]
    monkeypatch.setattr(here, "_versions", lambda: list(stale))
    with pytest.raises(ChangedMeanwhileError):
        here.write("mine")
    assert lifter.read_bytes() == here.content


def test_an_edit_by_hand_between_is_a_version_of_its_own(gym, lifter):
    gym.edit(lifter).write("two")
    lifter.write_text("by hand", encoding="utf-8")
    here = gym.edit(lifter)
    here.write("four")
    assert [here.undo(), here.undo(), here.undo()] == [b"by hand", b"two", b"name = 'Ada'\n"]


def test_old_versions_go_when_there_are_very_many(gym, lifter):
    edited = gym.edit(lifter)
    for number in range(230):
        edited.write(str(number))
    kept = sorted((gym.path / ".previous" / "lifters" / "ada.toml").iterdir())
    assert len(kept) == 200
    assert kept[-1].read_text(encoding="utf-8") == "229"
    assert kept[0].read_text(encoding="utf-8") == "30"


def test_a_removed_file_is_kept_among_its_versions(gym, lifter):
    kept = gym.remove(lifter)
    assert not lifter.exists()
    assert [path.read_text(encoding="utf-8") for path in kept.iterdir()] == ["name = 'Ada'\n"]
    with pytest.raises(InputError):
        gym.remove(lifter)


def test_a_file_from_elsewhere_keeps_its_versions_in_the_gym(gym, tmp_path):
    outside = tmp_path / "outside.toml"
    outside.write_text("one", encoding="utf-8")
    gym.edit(outside).write("two")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["gym", "outside.toml"]
    assert gym.edit(outside).undo() == b"one"


def test_a_file_that_cannot_be_read_is_one_clear_error(gym):
    with pytest.raises(InputError, match=r"nobody\.toml"):
        gym.edit(gym.path / "lifters" / "nobody.toml")


def test_the_demo_goes_in_and_out_again(gym):
    copied = gym.add_demo()
    assert copied.kept == ()
    assert "blocks/block.toml" in copied.done
    original = data_path("demo", "lifters", "emre_sandoval.toml").read_bytes()
    assert (gym.path / "lifters" / "emre_sandoval.toml").read_bytes() == original
    assert set(gym.demo_fingerprints()) == set(copied.done)
    taken = gym.remove_demo()
    assert (sorted(taken.done), taken.kept) == (sorted(copied.done), ())
    assert gym.is_empty
    assert gym.demo_fingerprints() == {}


def test_only_untouched_files_of_the_demo_are_taken_out(gym, lifter):
    gym.add_demo()
    changed = gym.path / "blocks" / "block.toml"
    gym.edit(changed).write("name = 'Mine now'")
    (gym.path / "rooms" / "quay_room.toml").unlink()
    taken = gym.remove_demo()
    assert taken.kept == ("blocks/block.toml",)
    assert changed.read_text(encoding="utf-8") == "name = 'Mine now'"
    assert gym.files("lifters") == [lifter]
    assert gym.files("blocks") == [changed]
    assert gym.files("rooms") == gym.files("logs") == []
    # It is the gym's own from now on, and never taken for the demo's again.
    assert gym.remove_demo().done == ()


def test_the_demo_never_overwrites_a_file_of_the_gym(gym):
    mine = gym.path / "lifters" / "emre_sandoval.toml"
    mine.write_text("name = 'Our Emre'", encoding="utf-8")
    assert gym.add_demo().kept == ("lifters/emre_sandoval.toml",)
    assert mine.read_text(encoding="utf-8") == "name = 'Our Emre'"
    gym.remove_demo()
    assert mine.read_text(encoding="utf-8") == "name = 'Our Emre'"


def test_what_was_open_is_remembered_beside_what_was_before(gym):
    assert gym.remembered() == {}
    gym.remember(lifters="lifters/ada.toml")
    gym.remember(page="check")
    assert GymFolder(gym.path).remembered() == {"lifters": "lifters/ada.toml", "page": "check"}
    gym.remember(page="volume")
    assert gym.remembered()["page"] == "volume"


@pytest.mark.parametrize("damage", [b"", b"[1]", b"\xff", b'{"page": 3, "lifters": "a"}', b"[" * 100_000])
def test_a_damaged_memory_forgets_and_goes_on(gym, damage):
    gym.remember(page="check")
    (gym.path / ".workbench" / "open.json").write_bytes(damage)
    assert "page" not in gym.remembered()
    gym.remember(page="volume")
    assert gym.remembered()["page"] == "volume"
    json.loads((gym.path / ".workbench" / "open.json").read_bytes())


@pytest.mark.skipif(os.name != "posix", reason="links need rights elsewhere")
def test_a_link_is_replaced_by_an_edit_not_written_through(gym, tmp_path):
    outside = tmp_path / "outside.toml"
    outside.write_text("name = 'Elsewhere'", encoding="utf-8")
    link = gym.path / "lifters" / "link.toml"
    link.symlink_to(outside)
    gym.edit(link).write("name = 'Here'")
    assert outside.read_text(encoding="utf-8") == "name = 'Elsewhere'"
    assert link.read_text(encoding="utf-8") == "name = 'Here'"
