"""What panels about one exercise share: its controls, and reading files, listing loads and redrawing in that order."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING

import ipywidgets as widgets

from workbench.answers.drop import room_loads
from workbench.panels.files import lifter_picker, room_picker
from workbench.panels.frame import Panel, control_style
from workbench.panels.redraw import Redraw

if TYPE_CHECKING:
    from collections.abc import Iterator

    from workbench.gym.catalogue import Exercise
    from workbench.gym.equipment import Room
    from workbench.lifter import Lifter

__all__ = ["OneExerciseControls", "OneExercisePanel"]


class OneExerciseControls:
    """A lifter, a room, an exercise of the lifter and a load of the room.

    Attributes
    ----------
    lifter, room : FilePicker
    exercise : ipywidgets.Dropdown
    load : ipywidgets.SelectionSlider
        One of the loads that the room has for the exercise; its value is in kg.
    """

    #: The exercise that is chosen at first, where the lifter has it.
    first_exercise = ""

    def __init__(self, load_label: str) -> None:
        self.lifter, self.room = lifter_picker(), room_picker()
        self.exercise = widgets.Dropdown(description="exercise", **control_style())
        self.load = widgets.SelectionSlider(
            options=[("-", 0.0)], description=load_label, continuous_update=False, **control_style()
        )

    def changing(self) -> Sequence[widgets.Widget]:
        """Return the controls whose change needs no file read again."""
        return (self.load,)

    def layout(self) -> list[widgets.Widget]:
        """Return the controls in the order in which a coach uses them."""
        return [self.lifter.box, self.room.box, self.exercise, self.load]

    def take(self, lifter: Lifter) -> None:
        """Offer the exercises of a lifter, keeping the chosen one where it is among them."""
        chosen = self.exercise.value or self.first_exercise
        self.exercise.options = list(lifter.lifts)
        self.exercise.value = chosen if chosen in lifter.lifts else next(iter(lifter.lifts))

    def take_loads(self, loads: list[tuple[str, float]], exercise: Exercise) -> None:
        """Offer loads of an exercise; one from the middle upward is chosen where the old one is not among them."""
        chosen = self.load.value
        start = loads[(3 * len(loads)) // 5][1]
        self.load.options = loads
        self.load.value = chosen if chosen in [kg for _, kg in loads] else start


class OneExercisePanel(Panel):
    """A panel whose answer is about one exercise of one lifter in one room.

    Another lifter or room is read, then the exercise's loads are listed, then the answer is drawn; a change of the
    exercise starts at the second step, any other at the third. Subclasses build their outputs, call `start`, and
    implement `_draw`.
    """

    controls: OneExerciseControls

    def start(self) -> None:
        """Read the files, draw the first answer, and answer every change from now on."""
        self._lifter: Lifter | None = None
        self._room: Room | None = None
        self._filling = False
        self._listed = False
        self._redraw, self._reload, self._relist = Redraw(self._answer), Redraw(self._load), Redraw(self._list_loads)
        self._load()
        for control in self.controls.changing():
            control.observe(self._by_hand(self._redraw), "value")
        self.controls.exercise.observe(self._by_hand(self._relist), "value")
        for picker in (self.controls.lifter, self.controls.room):
            picker.observe(self._reload.ask)

    def _draw(self) -> None:
        raise NotImplementedError

    def _answer(self) -> None:
        """Draw the answer; where the loads of this exercise could not be listed, list them first."""
        if self._listed:
            self._draw()
        else:
            self._list_loads()

    def _by_hand(self, redraw: Redraw) -> Callable[[object], None]:
        """Ask for a redraw after changes that are not the panel's own."""

        def ask(change: object) -> None:
            if not self._filling:
                redraw.ask(change)

        return ask

    @contextmanager
    def _own_changes(self) -> Iterator[None]:
        self._filling = True
        try:
            yield
        finally:
            self._filling = False

    def _load(self) -> None:
        self._lifter = self._room = None
        with self.explained():
            self._lifter, self._room = self.controls.lifter.read(), self.controls.room.read()
            with self._own_changes():
                self.controls.take(self._lifter)
            self._list_loads()

    def _list_loads(self) -> None:
        if self._lifter is None or self._room is None:
            return
        self._listed = False
        with self.explained():
            exercise = self._room.catalogue.exercise(self.controls.exercise.value)
            loads = room_loads(self._room, self._lifter, exercise.name)
            with self._own_changes():
                self.controls.take_loads(loads, exercise)
            self._listed = True
            self._draw()
