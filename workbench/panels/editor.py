"""The base of the editors: a history of whole values, one file's text, and whoever wants to know of an edit."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any, ClassVar, Generic, TypeVar

import ipywidgets as widgets

from workbench.panels.fields import button
from workbench.panels.frame import row, wide
from workbench.panels.panel import Panel
from workbench.quantities import SEED, InputError
from workbench.reference.toml_files import Strict, toml_text
from workbench.reference.whole_files import write_whole

__all__ = ["Editor"]

Model = TypeVar("Model", bound=Strict)


class Editor(Panel, Generic[Model]):
    """A panel that edits what one file holds. Values do not change: an edit makes the next one, undo goes back.

    Attributes
    ----------
    value : model or None
        What is there now; None before there is enough for a file.
    undo, redo : ipywidgets.Button
    section : ipywidgets.ToggleButtons
        Which fields are shown.
    """

    kept: ClassVar[tuple[str, ...]] = ()

    def __init__(self, value: Model | None = None, *, seed: int = SEED, draws: int = 2000) -> None:
        super().__init__(seed=seed, draws=draws)
        self._trail: list[Model | None] = [value]
        self._at = 0
        self._told: list[Callable[[Model | None], None]] = []
        self.undo = button("Undo", lambda: self._go(self._at - 1), tooltip="take the last edit back")
        self.redo = button("Redo", lambda: self._go(self._at + 1), tooltip="make the edit again")
        self.history = wide(row(self.undo, self.redo))
        self._mark_history()

    @property
    def value(self) -> Model | None:
        """What is there now."""
        return self._trail[self._at]

    def arrange_sections(
        self,
        sections: Mapping[str, Sequence[widgets.Widget]],
        answers: Sequence[widgets.Widget],
        below: Sequence[widgets.Widget] = (),
    ) -> None:
        """Put sections of fields left, one at a time, and what follows from them right.

        Parameters
        ----------
        sections : mapping of str to sequence of Widget
        answers, below : sequence of Widget
            As for `arrange`.
        """
        self.section = widgets.ToggleButtons(options=list(sections), style={"button_width": "auto"})
        self.section.add_class("workbench-sections")
        boxes = {name: wide(widgets.VBox(list(children))) for name, children in sections.items()}

        def show(_change: object = None) -> None:
            for name, box in boxes.items():
                box.layout.display = None if name == self.section.value else "none"

        self.section.observe(show, "value")
        show()
        self.arrange([wide(self.section), *boxes.values(), self.history], answers, below)
        self.root.children[1].layout.flex = "1 1 340px"
        self.root.children[2].layout.flex = "3 1 520px"

    def open(self, value: Model | None) -> None:
        """Edit another value; what was done before can no longer be undone."""
        self._trail, self._at = [value], 0
        self._mark_history()
        self.fill()

    def on_edit(self, call: Callable[[Model | None], None]) -> None:
        """Call this with the new value after every edit, undo and redo."""
        self._told.append(call)

    def fill(self) -> None:
        """Show the value in the fields, and what follows from it."""
        raise NotImplementedError

    def toml(self) -> str:
        """Return the file's text.

        Raises
        ------
        InputError
            Where there is not enough for a file yet.
        """
        if self.value is None:
            raise InputError(None, "file", "there is nothing to write yet", self.lacking())
        return toml_text(self.value, defaults=False)

    def lacking(self) -> str:
        """Say what is needed before there can be a file."""
        return "fill in what is blank"

    def save(self, path: str | Path, *, replace: bool = False) -> Path:
        """Write the file whole; InputError as `toml` and `write_whole`."""
        return write_whole(path, self.toml(), replace=replace)

    def edit(self, value: Model | None) -> None:
        """Go on with the next value."""
        if value == self.value:
            return
        self._trail = [*self._trail[: self._at + 1], value]
        self._at += 1
        self._after()

    def _go(self, at: int) -> None:
        if 0 <= at < len(self._trail):
            self._at = at
            self._after()

    def _after(self) -> None:
        self._mark_history()
        self.fill()
        for call in self._told:
            call(self.value)

    def _mark_history(self) -> None:
        self.undo.disabled, self.redo.disabled = self._at == 0, self._at == len(self._trail) - 1

    def attempt(self, work: Callable[[], Any]) -> Callable[[], None]:
        """Return what a button does: the work, and in the place for trouble what could not be done."""

        def pressed() -> None:
            with self.explained(part=widgets.HTML()):
                work()

        return pressed
