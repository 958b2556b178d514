"""What panels about one exercise share: its controls, and reading files and listing loads before the answer."""

from __future__ import annotations

from typing import TYPE_CHECKING

import ipywidgets as widgets

from workbench.answers.room_loads import room_loads
from workbench.panels.files import lifter_picker, room_picker
from workbench.panels.frame import Panel, control_style

if TYPE_CHECKING:
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

    Another lifter or room is read, then the exercise's loads are listed, then the answer is drawn by `draw`.
    """

    controls: OneExerciseControls
    _lifter: Lifter
    _room: Room

    def start(self, *others: widgets.Widget) -> None:
        """Draw the first answer, and answer every change of these and the common controls from now on."""
        controls = self.controls
        self.prepare(self._read, controls.lifter, controls.room)
        self.prepare(self._list_loads, controls.exercise, after=self._read)
        self.step(self.draw, controls.load, *others, after=self._list_loads)
        self.take_steps()

    def draw(self) -> None:
        """Work out and show the answer."""
        raise NotImplementedError

    def _read(self) -> None:
        self._lifter, self._room = self.controls.lifter.read(), self.controls.room.read()
        self.controls.take(self._lifter)

    def _list_loads(self) -> None:
        exercise = self._room.catalogue.exercise(self.controls.exercise.value)
        self.controls.take_loads(room_loads(self._room, self._lifter, exercise.name), exercise)
