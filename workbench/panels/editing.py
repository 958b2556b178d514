"""What the panels that edit a file share: every edit written at once, undo and redo, two windows on one file."""

from __future__ import annotations

from collections.abc import Callable
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING

import ipywidgets as widgets

from workbench.panels.frame import row
from workbench.quantities import InputError
from workbench.reference.gym_folder import ChangedMeanwhileError, EditedFile

if TYPE_CHECKING:
    from workbench.panels.desk import Desk

__all__ = ["FileEditing"]


class FileEditing:
    """Buttons to undo and redo edits of one file, and the choice that another window's edit makes necessary.

    Parameters
    ----------
    desk : Desk
    kind : str
        What the file is, as `workbench.reference.gym_folder.KINDS` has it.
    changed : callable
        Called with the content whenever it is not what was written here last: opened, undone, taken from elsewhere.

    Attributes
    ----------
    root : ipywidgets.VBox
    file : EditedFile or None
        None until one is opened.
    """

    def __init__(self, desk: Desk, kind: str, changed: Callable[[str], None]) -> None:
        self._desk, self._kind, self._changed = desk, kind, changed
        self.file: EditedFile | None = None
        self._mine = ""
        self.undo = widgets.Button(description="Undo", disabled=True)
        self.redo = widgets.Button(description="Redo", disabled=True)
        self.theirs = widgets.Button(description="Take what is there now")
        self.mine = widgets.Button(description="Keep mine under a new name")
        self.said = widgets.HTML()
        self.said.add_class("workbench-trouble")
        self._choice = row(self.theirs, self.mine)
        self._choice.layout.display = "none"
        self.root = widgets.VBox([row(self.undo, self.redo), self.said, self._choice])
        self.undo.on_click(lambda _button: self._do(lambda file: self._changed(file.undo().decode())))
        self.redo.on_click(lambda _button: self._do(lambda file: self._changed(file.redo().decode())))
        self.theirs.on_click(lambda _button: self._do(lambda file: self._changed(file.take_theirs().decode())))
        self.mine.on_click(lambda _button: self._keep_mine())

    def turn_to(self, path: Path | None) -> None:
        """Edit this file from now on; with None, none. InputError where it cannot be read."""
        self.file = None if path is None else self._desk.gym.edit(path)
        self._show()
        if self.file is not None:
            self._changed(self.file.content.decode("utf-8-sig"))

    def create(self, name: str, content: str) -> Path:
        """Write a new file under a name that nothing has, choose it, and edit it from now on; InputError as ever."""
        path = self._desk.add(self._kind, name, content)
        self.turn_to(path)
        return path

    def write(self, content: str) -> None:
        """Write an edit at once; where that cannot be done, `root` says why and what to do, and nothing is lost."""
        self._mine = content
        self._do(lambda file: file.write(content))

    def look_again(self) -> None:
        """Take what another page or window wrote since, where nothing here waits to be written."""
        if self.file is not None and self.file.changed_elsewhere and self._choice.layout.display == "none":
            self._do(lambda file: self._changed(file.take_theirs().decode("utf-8-sig")))

    def _keep_mine(self) -> None:
        assert self.file is not None
        stem = self.file.path.stem
        self._do(lambda _file: self.create(stem, self._mine))

    def _do(self, work: Callable[[EditedFile], object]) -> None:
        if self.file is None:
            return
        self.said.value, self._choice.layout.display = "", "none"
        try:
            work(self.file)
        except ChangedMeanwhileError as error:
            self.said.value, self._choice.layout.display = escape(str(error)), None
        except InputError as error:
            self.said.value = escape(str(error))
        self._show()

    def _show(self) -> None:
        self.undo.disabled = self.file is None or not self.file.can_undo
        self.redo.disabled = self.file is None or not self.file.can_redo
