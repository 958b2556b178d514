"""Choosing a lifter, room or block: from the demo's files, or any file by its path."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Generic, TypeVar

import ipywidgets as widgets
import traitlets

from workbench.gym.equipment import Room, read_room
from workbench.lifter import Lifter, read_lifter
from workbench.panels.frame import control_style
from workbench.prescription.block import Block, read_block
from workbench.quantities import InputError
from workbench.reference.sources import data_path
from workbench.reference.toml_files import MAX_BYTES
from workbench.reference.whole_files import read_whole

__all__ = ["FilePicker", "block_picker", "demo_folder", "lifter_picker", "room_picker"]

_OTHER = "another file …"
Read = TypeVar("Read")


def demo_folder() -> Path:
    """Folder of the demo's files: the copy beside the notebook where there is one, else the shipped one."""
    beside = Path("demo")
    return beside if (beside / "block.toml").is_file() else data_path("demo")


class FilePicker(widgets.VBox, Generic[Read]):  # type: ignore[misc]  # ipywidgets has no types
    """A list of files by the name written in each, and a line for the path of any other.

    Attributes
    ----------
    value : Path or None
        The file that is chosen; None where none is named.
    choice : ipywidgets.Dropdown
        Its value is a Path, or None for another file.
    path : ipywidgets.Text
        Path of that other file; only seen where it is needed.
    """

    value = traitlets.Any()

    def __init__(self, label: str, files: list[Path], read: Callable[[Path], Read], start: str) -> None:
        self._read = read
        options: list[tuple[str, Path | None]] = [(_name_in(path), path) for path in files]
        first = next((path for path in files if path.stem == start), files[0] if files else None)
        self.choice = widgets.Dropdown(
            options=[*options, (_OTHER, None)], value=first, description=label, **control_style()
        )
        self.path = widgets.Text(
            description="its path",
            placeholder="for instance demo/block.toml",
            continuous_update=False,
            **control_style(),
        )
        super().__init__([self.choice, self.path])
        self._choose()
        for line in (self.choice, self.path):
            line.observe(self._choose, "value")

    def read(self) -> Read:
        """Return what the chosen file holds.

        Raises
        ------
        InputError
            Where the file cannot be used, or none is named.
        """
        if self.value is None:
            raise InputError(None, self.choice.description, "no file is named", "write its path in the line below")
        return self._read(self.value)

    def _choose(self, _change: object = None) -> None:
        typed = self.path.value.strip()
        self.path.layout.display = "none" if self.choice.value is not None else None
        self.value = self.choice.value or (Path(typed) if typed else None)


def block_picker() -> FilePicker[Block]:
    """Return a picker of blocks."""
    return FilePicker("block", sorted(demo_folder().glob("*.toml")), read_block, "block")


def lifter_picker(start: str = "emre_sandoval") -> FilePicker[Lifter]:
    """Return a picker of lifters."""
    return FilePicker("lifter", sorted((demo_folder() / "lifters").glob("*.toml")), read_lifter, start)


def room_picker(start: str = "boathouse_hall") -> FilePicker[Room]:
    """Return a picker of rooms."""
    return FilePicker("room", sorted((demo_folder() / "rooms").glob("*.toml")), read_room, start)


def _name_in(path: Path) -> str:
    """Name written in the file, else the file's own: a broken file must be seen to be mended."""
    try:
        name = tomllib.loads(read_whole(path, MAX_BYTES).decode("utf-8-sig")).get("name")
    except (ValueError, RecursionError):
        name = None
    return name if isinstance(name, str) and name else path.stem
