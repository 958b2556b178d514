"""A search for an exercise by name, alias, muscle or movement, among those that this room and this lifter can do."""

from __future__ import annotations

from html import escape
from typing import Final

import ipywidgets as widgets

from workbench.answers.find_exercise import find_exercises
from workbench.gym.catalogue import MOVEMENT_PATTERNS, MUSCLES, Catalogue, built_in
from workbench.gym.equipment import Room
from workbench.lifter import Lifter
from workbench.panels.frame import quiet, row

__all__ = ["ExerciseFinder"]

#: Shown at most: a list that nobody scrolls through is searched again.
_MOST: Final = 60


class ExerciseFinder(widgets.VBox):  # type: ignore[misc]  # ipywidgets has no types
    """A line to search with, two lists to narrow it by, what was found, and what to do with it.

    Parameters
    ----------
    buttons : sequence of Button
        What can be done with the exercise that is chosen.

    Attributes
    ----------
    text : ipywidgets.Text
    muscle, movement : ipywidgets.Dropdown
    found : ipywidgets.Select
    all : ipywidgets.Checkbox
        Whether exercises that cannot be done here are shown too.
    said : HTML
    """

    def __init__(self, *buttons: widgets.Button) -> None:
        full = widgets.Layout(width="100%")
        self.text = widgets.Text(
            description="find an exercise", placeholder="flye, dips, squat, abs …", continuous_update=False, layout=full
        )
        self.muscle = widgets.Dropdown(
            options=[("any muscle", ""), *((name, name) for name in MUSCLES)], description="muscle", layout=full
        )
        self.movement = widgets.Dropdown(
            options=[("any movement", ""), *((name, name) for name in MOVEMENT_PATTERNS)],
            description="movement",
            layout=full,
        )
        self.found = widgets.Select(
            options=[], rows=7, description="found", layout=widgets.Layout(width="100%", height="auto")
        )
        self.all = widgets.Checkbox(description="show what cannot be done here too", indent=False)
        self.said = quiet()
        self._room: Room | None = None
        self._lifter: Lifter | None = None
        super().__init__([self.text, self.muscle, self.movement, self.found, self.all, self.said, row(*buttons)])
        self.add_class("workbench-field")
        for control in (self.text, self.muscle, self.movement, self.all):
            control.observe(self._search, "value")

    @property
    def chosen(self) -> str | None:
        """Name of the exercise that is chosen; None where nothing was found."""
        name: str | None = self.found.value
        return name

    def look_in(self, room: Room | None, lifter: Lifter | None) -> None:
        """Search this room's catalogue for this lifter from now on; the built-in one without a room."""
        if (room, lifter) != (self._room, self._lifter) or not self.found.options:
            self._room, self._lifter = room, lifter
            self._search()

    def _search(self, _change: object = None) -> None:
        options, said = self._options()
        chosen = self.found.value
        self.found.options = options[:_MOST]
        values = [value for _, value in options[:_MOST]]
        self.found.value = chosen if chosen in values and not self.text.value else (values[0] if values else None)
        more = f" The first {_MOST} are shown: narrow it." if len(options) > _MOST else ""
        self.said.value = escape(said + more)

    def _options(self) -> tuple[list[tuple[str, str]], str]:
        text, muscle, movement = self.text.value, self.muscle.value, self.movement.value
        if self._room is None:
            catalogue: Catalogue = built_in()
            names = [
                one.name
                for one in catalogue.search(text)
                if (not muscle or muscle in one.direct_muscles) and movement in ("", one.movement_pattern)
            ]
            said = f"{len(names)} found." if names else "Nothing is called that. Try a muscle or a movement."
            return [(name, name) for name in names], said
        found = find_exercises(self._room, self._lifter, text, muscle=muscle, movement=movement)
        options = [(one.name, one.name) for one in found.possible]
        if self.all.value or not options:
            options += [(f"{name} ({reason})", name) for name, reason in found.others.items()]
        return options, found.sentences()[0]
