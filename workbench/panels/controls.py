"""What a coach sets in a panel: files by the name written in them, and numbers as people type them beside a slider.

A number may have a decimal comma, a time minutes and seconds; what is typed never becomes another number in silence.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable
from html import escape
from pathlib import Path
from typing import Any, Final, Generic, TypeVar

import ipywidgets as widgets
import traitlets

from workbench.answers.start_loads import lifter_for
from workbench.gym.equipment import Room, read_room
from workbench.lifter import Lifter, read_lifter
from workbench.lifter.gym_prior import GYM_FILE
from workbench.log.typed import typed_number, typed_seconds, typed_whole
from workbench.panels.desk import Desk
from workbench.panels.frame import control_style, quiet
from workbench.prescription.block import Block, read_block
from workbench.quantities import InputError
from workbench.reference.copies import fingerprint_of_file
from workbench.reference.toml_files import MAX_BYTES, toml_text
from workbench.reference.whole_files import read_whole

__all__ = [
    "BlockFiles",
    "FilePicker",
    "KeepBlock",
    "NumberControl",
    "NumberRange",
    "block_picker",
    "lifter_picker",
    "named_files",
    "number",
    "room_picker",
    "whole_number",
]

_OTHER = "another file …"
#: What may stand behind a number, unless the label speaks of another of them.
_UNITS: Final = ({"%"}, {"kg", "kgs"}, {"lb", "lbs"}, {"rep", "reps"})
_BETWEEN: Final = re.compile(r"\s*(?:\bto\b|;|–|\s-\s)\s*")
Read = TypeVar("Read")


class FilePicker(widgets.VBox, Generic[Read]):  # type: ignore[misc]  # ipywidgets has no types
    """A list of the gym's files of a kind by the name written in each, and a line for the path of any other.

    Parameters
    ----------
    label : str
    kind : str
        As `workbench.reference.gym_folder.KINDS` has them.
    read : callable
        Reads a chosen file.
    desk : Desk, optional
        Says what is open at first, and is told what is chosen; without one, the demo's.

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

    def __init__(self, label: str, kind: str, read: Callable[[Path], Read], desk: Desk | None = None) -> None:
        self._kind, self._read, self._desk = kind, read, desk or Desk()
        self.choice = widgets.Dropdown(options=[(_OTHER, None)], description=label, **control_style())
        self.path = widgets.Text(
            description="its path",
            placeholder="for instance demo/block.toml",
            continuous_update=False,
            **control_style(),
        )
        super().__init__([self.choice, self.path])
        self._filling = False
        self._seen: str | None = None
        self.look_again()
        for line in (self.choice, self.path):
            line.observe(self._choose, "value")

    def look_again(self) -> None:
        """Take what is open on the desk now; a file that was written since counts as another choice."""
        path, files = self._desk.chosen(self._kind), self._desk.gym.files(self._kind)
        self._filling = True
        try:
            self.choice.options = [*named_files(files), (_OTHER, None)]
            self.choice.value = path if path in files else None
            self.path.value = "" if path is None or path in files else str(path)
        finally:
            self._filling = False
        seen = self._fingerprint(path)
        if path == self.value and seen != self._seen:
            self.value = None
        self._show(path, seen)

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
        if self._filling:
            return
        typed = self.path.value.strip()
        path = self.choice.value or (Path(typed) if typed else None)
        if path is not None:
            self._desk.choose(self._kind, path)
        self._show(path, self._fingerprint(path))

    def _fingerprint(self, path: Path | None) -> str | None:
        """Tell one content from another; a lifter may start from the numbers of the gym."""
        if path is None:
            return None
        files = [path, *([self._desk.gym.path / GYM_FILE] if self._kind == "lifters" else [])]
        return " ".join(str(fingerprint_of_file(file)) for file in files)

    def _show(self, path: Path | None, seen: str | None) -> None:
        self.path.layout.display = "none" if self.choice.value is not None else None
        self._seen, self.value = seen, path


def block_picker(desk: Desk | None = None) -> FilePicker[Block]:
    """Return a picker of blocks."""
    return FilePicker("block", "blocks", read_block, desk)


def lifter_picker(desk: Desk | None = None) -> FilePicker[Lifter]:
    """Return a picker of lifters."""
    return FilePicker("lifter", "lifters", read_lifter, desk)


def room_picker(desk: Desk | None = None) -> FilePicker[Room]:
    """Return a picker of rooms."""
    return FilePicker("room", "rooms", read_room, desk)


class KeepBlock(widgets.HBox):  # type: ignore[misc]  # ipywidgets has no types
    """A button that keeps a block in the gym as a new one; unseen where the gym is not one's own.

    Parameters
    ----------
    words : str
    desk : Desk
        The block kept is open there from then on.
    block : callable
        Gives the block, or None where there is none to keep.
    """

    def __init__(self, words: str, desk: Desk, block: Callable[[], Block | None]) -> None:
        self._desk, self._block = desk, block
        self.button, self.said = widgets.Button(description=words, layout={"width": "auto"}), widgets.HTML()
        super().__init__(
            [self.button, self.said], layout={"display": None if desk.is_own else "none", "flex_flow": "row wrap"}
        )
        self.button.on_click(self._keep)

    def _keep(self, _button: object) -> None:
        block = self._block()
        if block is None:
            self.said.value = "There is none yet."
            return
        names = [_name_in(path) for path in self._desk.gym.files("blocks")]
        name, number = block.name, 1
        while name in names:
            number += 1
            name = f"{block.name} ({number})"
        try:
            self._desk.add("blocks", name, toml_text(block.model_copy(update={"name": name})))
            self.said.value = f"Kept as {escape(name)}; the other pages now have it open."
        except InputError as error:
            self.said.value = escape(str(error))


class BlockFiles:
    """What every panel about a block begins with.

    Attributes
    ----------
    desk : Desk
    block, lifter, room : FilePicker
    """

    def __init__(self, desk: Desk | None = None) -> None:
        self.desk = desk = desk or Desk()
        self.block, self.lifter, self.room = block_picker(desk), lifter_picker(desk), room_picker(desk)
        self.files = (self.block, self.lifter, self.room)

    def read(self) -> tuple[Block, Lifter, Room]:
        """Return what the files hold, read anew, the lifter with the 1RMs that follow by ratio.

        Raises
        ------
        InputError
            As `FilePicker.read`; a load of the block that is still to be found.
        """
        block, lifter, room = self.block.read(), self.lifter.read(), self.room.read()
        return block, lifter_for(lifter, room, block), room


def named_files(files: list[Path]) -> list[tuple[str, Path]]:
    """Return files with the names written in them; with that of the file where two are called alike."""
    names = [_name_in(path) for path in files]
    return [
        (name if names.count(name) == 1 else f"{name} ({path.name})", path)
        for name, path in zip(names, files, strict=True)
    ]


def _name_in(path: Path) -> str:
    """Name written in the file, else the file's own: a broken file must be seen to be mended."""
    if path.suffix != ".toml":
        return path.stem
    try:
        name = tomllib.loads(read_whole(path, MAX_BYTES).decode("utf-8-sig")).get("name")
    except (ValueError, RecursionError):
        name = None
    return name if isinstance(name, str) and name else path.stem


def _of_slider(name: str) -> property:
    """Return a property that is the slider's."""
    return property(
        lambda control: getattr(control.slider, name), lambda control, value: setattr(control.slider, name, value)
    )


def _plain(value: Any) -> Any:
    """Return a slider's value as set: once shown in a browser it comes back as 6.000000000000001, which is no move."""
    return tuple(map(_plain, value)) if isinstance(value, tuple) else round(value, 9)


class _Typed(widgets.VBox):  # type: ignore[misc]  # ipywidgets has no types
    """A slider, a line to type into, and what was understood of it.

    Attributes
    ----------
    value
        As the slider's; follows it and moves it.
    slider : ipywidgets slider
        Its readout only shows: typed numbers go through `typed`.
    typed : ipywidgets.Text
    said : ipywidgets.HTML
        What was understood, or why it was not; the last good value then stays.
    """

    value = traitlets.Any()

    def __init__(self, slider: Any, *, seconds: bool = False) -> None:
        self.slider, self._seconds = slider, seconds
        slider.layout.flex = "1 1 auto"
        self.typed = widgets.Text(placeholder="or type", continuous_update=False, layout={"width": "78px"})
        self.typed.add_class("workbench-typed")
        self.said = quiet()
        line = widgets.HBox([slider, self.typed], layout={"width": "98%", "max_width": "440px"})
        super().__init__([line, self.said], value=slider.value)
        self.add_class("workbench-number")
        slider.observe(self._moved, "value")
        self.typed.observe(self._type, "value")
        self.observe(self._set, "value")

    min, max, step = _of_slider("min"), _of_slider("max"), _of_slider("step")
    description, readout_format = _of_slider("description"), _of_slider("readout_format")

    def _set(self, change: Any) -> None:
        self.slider.value = change["new"]
        self.value = self.slider.value  # a slider keeps within its ends

    def _moved(self, change: Any) -> None:
        self.value = _plain(change["new"])
        if self.value != _plain(change["old"]):
            self.typed.value = self.said.value = ""

    def _type(self, change: Any) -> None:
        text = change["new"]
        if not text.strip():
            return
        try:
            value = self._read(text)
        except InputError as error:
            self.said.value = f"{escape(str(error))}. {escape(self._shown(self.value))} stays."
            return
        self.value = value
        self.typed.value = text  # as typed, beside what was understood
        understood = self._shown(value)
        self.said.value = "" if text.strip() == understood else f"{escape(text.strip())}: read as {escape(understood)}"

    def _number(self, text: str) -> float | int:
        if self._seconds:
            value = typed_seconds(text, self.min, self.max)
        elif isinstance(self.slider, widgets.IntSlider):
            return typed_whole(text, self.min, self.max, unit="%" if "%" in self.description else "")
        else:
            value = typed_number(text, self.min, self.max, words=dict.fromkeys(self._units(), 1.0))
        if not isinstance(self.slider, widgets.IntSlider):
            return value
        if not float(value).is_integer():
            raise InputError(None, repr(text), "is not whole", "type whole seconds")
        return int(value)

    def _units(self) -> set[str]:
        """Return the units that may be typed: those of the label, or any where it names none."""
        named = [units for units in _UNITS if units & set(re.findall(r"[a-z]+|%", self.description.casefold()))]
        return set().union(*(named or _UNITS))

    def _read(self, text: str) -> Any:
        return self._number(text)

    def _shown(self, value: Any) -> str:
        return f"{value:g} s" if self._seconds else f"{value:g}"


class NumberControl(_Typed):
    """A number with a slider and a line to type into."""

    def __init__(self, *, whole: bool = False, seconds: bool = False, **slider: Any) -> None:
        kind = widgets.IntSlider if whole else widgets.FloatSlider
        super().__init__(kind(**{**control_style(), **slider}), seconds=seconds)


class NumberRange(_Typed):
    """A lowest and a highest number, typed as 60 to 75; one number alone sets both."""

    def __init__(self, *, seconds: bool = False, **slider: Any) -> None:
        super().__init__(widgets.FloatRangeSlider(**{**control_style(), **slider}), seconds=seconds)

    def _read(self, text: str) -> tuple[float, float]:
        ends = [self._number(part) for part in _BETWEEN.split(text.strip())]
        if len(ends) > 2 or ends[0] > ends[-1]:
            raise InputError(None, repr(text), "is no range", "type it as 60 to 75")
        return ends[0], ends[-1]

    def _shown(self, value: Any) -> str:
        return f"{value[0]:g} to {value[1]:g}" + (" s" if self._seconds else "")


def whole_number(**slider: Any) -> NumberControl:
    """Return a control of a whole number."""
    return NumberControl(whole=True, **slider)


def number(
    description: str, value: float, low: float, high: float, step: float, *, digits: int = 1, seconds: bool = False
) -> NumberControl:
    """Return a control of a number from low to high, shown with so many decimals."""
    slider: dict[str, Any] = {"description": description, "value": value, "min": low, "max": high, "step": step}
    return NumberControl(seconds=seconds, readout_format=f".{digits}f", **slider)
