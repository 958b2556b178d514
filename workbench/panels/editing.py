"""The pages that edit a gym's files: every edit is written at once, can be undone, and overwrites no other window's."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from html import escape
from pathlib import Path
from typing import Any

import ipywidgets as widgets

from workbench.gym.equipment import read_room
from workbench.lifter import read_lifter
from workbench.panels.builder import BlockBuilder
from workbench.panels.controls import FilePicker
from workbench.panels.desk import Desk
from workbench.panels.editor import Editor
from workbench.panels.fields import button
from workbench.panels.frame import parts_of, row
from workbench.panels.lifter_editor import LifterEditor
from workbench.panels.room_editor import RoomEditor
from workbench.prescription.block import read_block
from workbench.quantities import InputError
from workbench.reference.gym_folder import ChangedMeanwhileError, EditedFile

__all__ = ["BlockPage", "EditingPage", "LifterPage", "RoomPage"]


class EditingPage:
    """An editor over the files of one kind: choose one or begin a new one; every edit is in the file at once.

    Parameters
    ----------
    desk : Desk
    kind : str
        As `workbench.reference.gym_folder.KINDS` has it.
    word : str
        What one such file holds, as a coach calls it.
    editor : Editor
    read : callable
        Reads a file.

    Attributes
    ----------
    root : ipywidgets.VBox
    file : EditedFile or None
        None while a new one holds nothing yet.
    """

    def __init__(
        self, desk: Desk, kind: str, word: str, editor: Editor[Any], read: Callable[[str | Path], Any]
    ) -> None:
        self._desk, self._kind, self.editor, self._read = desk, kind, editor, read
        self.file: EditedFile | None = None
        self._unwritten = False
        self.picker: FilePicker[Any] = FilePicker(word, kind, read, desk)
        self.new = button(f"New {word}", self._begin)
        self.undo = button("Undo", lambda: self._do(lambda file: file.undo()), tooltip="take the last edit back")
        self.redo = button("Redo", lambda: self._do(lambda file: file.redo()), tooltip="make the edit again")
        self.theirs = button("Take what is there now", lambda: self._do(lambda file: file.take_theirs()))
        self.mine = button("Keep mine under a new name", self._keep_mine)
        self.said = widgets.HTML()
        self.said.add_class("workbench-trouble")
        self._choice = row(self.theirs, self.mine)
        chosen = row(self.picker, self.new, self.undo, self.redo)
        chosen.add_class("workbench-editing")
        editor.history.layout.display = "none"  # these go through the file, and outlive the page
        editor.on_edit(self._write)
        self.root = widgets.VBox([chosen, self.said, self._choice, editor.root])
        self.picker.observe(lambda _change: self._turn(), "value")
        self._turn()

    def look_again(self) -> None:
        """Take what other pages or windows chose and wrote since, unless something waits here to be written."""
        if not self._unwritten:
            self.picker.look_again()
            for part in parts_of(self.editor.root):
                if isinstance(part, FilePicker):
                    part.look_again()

    def _begin(self) -> None:
        """Begin a new one: its file is made with the first edit that is enough for one."""
        self.file, self._unwritten = None, False
        self._say("")
        self.editor.open(None)

    def _turn(self) -> None:
        """Edit the file that was chosen."""
        path = self.picker.value
        if self.file is not None and self.file.path == path and not self.file.changed_elsewhere:
            return
        self.file, self._unwritten = None, False
        try:
            self.file = None if path is None else self._desk.gym.edit(path)
            self._say("")
            self.editor.open(None if path is None else self._read(path))
        except InputError as error:
            self.editor.open(None)
            self._say(f"This cannot be used: {error}.")

    def _write(self, value: Any) -> None:
        """Write an edit; a new one gets a file of its name."""
        if value is None:
            return
        if self.file is not None:
            self._unwritten = True
            text = self.editor.toml()
            self._do(lambda file: file.write(text), opens=False)
            return
        self._create(value.name)

    def _create(self, name: str) -> None:
        try:
            path = self._desk.add(self._kind, name, self.editor.toml())
            self.file, self._unwritten = self._desk.gym.edit(path), False
            self._say("")
            self.picker.look_again()
        except InputError as error:
            self._say(str(error))

    def _keep_mine(self) -> None:
        if self.editor.value is not None:
            self._create(self.editor.value.name)

    def _do(self, work: Callable[[EditedFile], object], *, opens: bool = True) -> None:
        """Do something with the file, and edit what it holds then; where that cannot be, say why and what to do."""
        if self.file is None:
            return
        try:
            work(self.file)
            self._unwritten = False
            self._say("")
            if opens:
                self.editor.open(self._read(self.file.path))
        except ChangedMeanwhileError as error:
            self._say(str(error), choice=True)
        except InputError as error:
            self._say(str(error))

    def _say(self, text: str, *, choice: bool = False) -> None:
        self.said.value = escape(text)
        self._choice.layout.display = None if choice else "none"
        self.picker.layout.display = None if self._desk.gym.files(self._kind) else "none"  # nothing to choose from yet
        self.undo.disabled = self.file is None or not self.file.can_undo
        self.redo.disabled = self.file is None or not self.file.can_redo


class LifterPage(EditingPage):
    """Lifters: who trains, what hurts, and what is known of each lift."""

    def __init__(self, desk: Desk | None = None) -> None:
        super().__init__(desk or Desk(), "lifters", "lifter", LifterEditor(), partial(read_lifter, gym_numbers=False))


class RoomPage(EditingPage):
    """Rooms: what there is to lift with."""

    def __init__(self, desk: Desk | None = None) -> None:
        super().__init__(desk or Desk(), "rooms", "room", RoomEditor(), read_room)


class BlockPage(EditingPage):
    """Blocks: what is to be done, week by week, for the lifter and the room that are open."""

    def __init__(self, desk: Desk | None = None) -> None:
        desk = desk or Desk()
        builder = BlockBuilder(desk=desk)
        for part in (builder.files.block, builder.open_file, builder.new):  # the page has its own
            part.layout.display = "none"
        super().__init__(desk, "blocks", "block", builder, read_block)
