"""Pages that edit files: every edit is in the file, undone from there, and no other window's edit is overwritten."""

from __future__ import annotations

import pytest

from workbench.gym.equipment import read_room
from workbench.panels.app import App
from workbench.panels.desk import Desk
from workbench.panels.editing import BlockPage, RoomPage
from workbench.reference.gym_folder import GymFolder


@pytest.fixture
def gym(tmp_path):
    folder = GymFolder(tmp_path / "gym")
    folder.make()
    return folder


@pytest.fixture
def page(gym):
    """A page on which a first room was begun: a rack of dumbbells."""
    page = RoomPage(Desk(gym))
    page.editor.new["dumbbells"].click()
    return page


def rename(page, name):
    page.editor.name.typed.value = name


def in_file(page):
    return read_room(page.file.path).name


def test_nothing_is_written_before_there_is_enough_for_a_file(gym):
    page = RoomPage(Desk(gym))
    rename(page, "Cellar")
    assert gym.files("rooms") == []
    assert page.undo.disabled
    page.editor.new["dumbbells"].click()
    assert [read_room(path).name for path in gym.files("rooms")] == ["Cellar"]
    assert page.picker.read().name == "Cellar"  # open for every other page


def test_every_edit_is_in_the_file_and_undone_there_after_a_restart_too(gym, page):
    first = in_file(page)
    rename(page, "Cellar")
    assert in_file(page) == "Cellar"
    page.undo.click()
    assert in_file(page) == first == page.editor.value.name
    page.redo.click()
    assert in_file(page) == "Cellar"
    assert page.redo.disabled
    again = RoomPage(Desk(gym))
    assert again.editor.value.name == "Cellar"
    again.undo.click()
    assert in_file(again) == first


def test_two_windows_on_one_file_take_theirs(gym, page):
    rename(RoomPage(Desk(gym)), "Theirs")
    rename(page, "Mine")
    assert "was changed in another window" in page.said.value
    assert in_file(page) == "Theirs"
    page.theirs.click()
    assert page.editor.value.name == "Theirs"
    assert page.said.value == ""
    rename(page, "Both")
    assert in_file(page) == "Both"


def test_two_windows_on_one_file_keep_mine(gym, page):
    rename(RoomPage(Desk(gym)), "Theirs")
    rename(page, "Mine")
    page.mine.click()
    assert [read_room(path).name for path in gym.files("rooms")] == ["Mine", "Theirs"]
    assert in_file(page) == "Mine"
    assert page.said.value == ""


def test_what_waits_to_be_written_is_not_replaced_by_a_look_at_the_page(gym, page):
    rename(RoomPage(Desk(gym)), "Theirs")
    rename(page, "Mine")
    page.look_again()
    assert page.editor.value.name == "Mine"
    page.mine.click()
    assert {read_room(path).name for path in gym.files("rooms")} == {"Mine", "Theirs"}


def test_what_another_window_wrote_is_shown_when_the_page_is_shown_again(gym, page):
    rename(RoomPage(Desk(gym)), "Theirs")
    page.look_again()
    assert page.editor.value.name == "Theirs"
    rename(page, "Ours")
    assert in_file(page) == "Ours"


def test_a_new_one_gets_a_file_of_its_own(gym, page):
    old = page.file.path
    page.new.click()
    assert page.editor.value is None
    rename(page, "Second")
    page.editor.new["dumbbells"].click()
    assert page.file.path != old
    assert len(gym.files("rooms")) == 2


def test_a_file_that_cannot_be_used_is_said_and_left_alone(gym):
    path = gym.add("rooms", "broken", "name = 'Cellar")
    page = RoomPage(Desk(gym))
    assert "This cannot be used" in page.said.value
    assert "broken.toml" in page.said.value
    assert page.editor.value is None
    assert path.read_text(encoding="utf-8") == "name = 'Cellar"


def test_the_blocks_page_follows_lifter_and_room_of_the_other_pages(gym):
    gym.add_demo()
    app = App(gym.path)
    app.go("block")
    page: BlockPage = app.pages["block"]
    assert page.editor.value.name == "Winter block, pull and legs"
    app.desk.choose("lifters", gym.path / "lifters" / "cato_venn.toml")
    app.go("start")
    app.go("block")
    assert page.editor.files.lifter.read().name == "Cato Venn"
    assert page.file is not None
    assert page.editor.files.block.layout.display == "none"
