"""The controls of the block panel: files, the set group to change, and its sliders."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import ipywidgets as widgets

from workbench.answers.block_check import with_changes
from workbench.panels.files import block_picker, lifter_picker, room_picker
from workbench.panels.frame import heading, row
from workbench.panels.numbers import NumberControl, whole_number
from workbench.prescription.block import Block
from workbench.prescription.edit import Where, group_at, groups_of
from workbench.prescription.group_changes import GroupValues, values_of

__all__ = ["BlockControls", "load_text"]

#: How the load of a group is said, by the way it is given: label of its slider, label of its step, format, slider
#: range and step.
_WAYS = {
    "percent": (
        "load in week 1, % of 1RM",
        "step a week, % of 1RM",
        ".1f",
        (30.0, 100.0, 0.5),
        (-5.0, 10.0, 0.5),
    ),
    "reps_in_reserve": (
        "reps to leave in reserve",
        "step a week, reps",
        ".1f",
        (0.0, 6.0, 0.5),
        (-2.0, 2.0, 0.5),
    ),
    "part": ("part of the earlier load", "", ".0%", (0.4, 1.1, 0.01), (0.0, 1.0, 1.0)),
    "kg": ("load in week 1, kg", "step a week, kg", ".1f", (1.0, 300.0, 0.5), (-10.0, 20.0, 0.5)),
    "lb": ("load in week 1, lb", "step a week, lb", ".1f", (2.0, 660.0, 1.0), (-20.0, 40.0, 1.0)),
}


class BlockControls:
    """Every input of the block panel, and the changes made with them.

    Attributes
    ----------
    block, lifter, room : FilePicker
    place : ipywidgets.Dropdown
        Which set group the sliders change; its value is a `Where`.
    load, step, sets, reps, rest : sliders
        The group's values, in the units that its own file entry uses.
    limit : NumberControl
        Lowest acceptable chance that a set's reps are all made, %.
    shown : ipywidgets.ToggleButtons
        "this session" or "all sessions".
    reset_group, reset_all, find_mend : ipywidgets.Button
    changes : dict of Where to dict
        What was changed against the block's file, as `workbench.prescription.edit.change` takes it.
    """

    def __init__(self) -> None:
        self.block, self.lifter, self.room = block_picker(), lifter_picker(), room_picker()
        self.place = widgets.Dropdown(
            tooltip="set group to change", layout=widgets.Layout(width="98%", max_width="440px")
        )
        self.load = NumberControl()
        self.step = NumberControl()
        self.sets = whole_number(description="sets", min=1, max=12)
        self.reps = whole_number(description="reps", min=1, max=30)
        self.rest = whole_number(description="rest after each set, s", min=0, max=600, step=15, seconds=True)
        self.limit = whole_number(description="wanted chance for each set, %", min=50, max=99, value=85)
        self.shown = widgets.ToggleButtons(options=["this session", "all sessions"], style={"button_width": "110px"})
        self.reset_group = widgets.Button(description="undo for this group", layout=widgets.Layout(width="150px"))
        self.reset_all = widgets.Button(description="undo all", layout=widgets.Layout(width="90px"))
        self.find_mend = widgets.Button(description="find what would mend it", layout=widgets.Layout(width="190px"))
        self.changes: dict[Where, dict[str, float]] = {}
        self._block: Block | None = None
        self._filling = False
        self._changed: Callable[[object], None] = lambda _change: None
        for slider in self._sliders().values():
            slider.observe(self._record, "value")
        self.place.observe(self._place_chosen, "value")
        self.reset_group.on_click(self._reset_group)
        self.reset_all.on_click(self._reset_all)

    def observe(self, changed: Callable[[object], None]) -> None:
        """Call ``changed`` after any change of a slider, the set group, the limit or what is shown."""
        self._changed = changed
        self.limit.observe(changed, "value")
        self.shown.observe(changed, "value")

    def layout(self) -> list[widgets.Widget]:
        """Return the controls in the order in which a coach uses them."""
        return [
            *(picker.box for picker in (self.block, self.lifter, self.room)),
            heading("Change a set group"),
            self.place,
            *self._sliders().values(),
            row(self.reset_group, self.reset_all),
            heading("How sure?"),
            self.limit,
            self.find_mend,
        ]

    def take(self, block: Block) -> None:
        """Start with a block that was just read: no changes, its first set group chosen."""
        self._block, self.changes = block, {}
        self._filling = True
        try:
            self.place.options = [(self._place_text(place), place) for place in groups_of(block)]
            self.place.index = 0
            self.limit.value = round(100 * block.limits.chance_of_reps)
            self._fill()
        finally:
            self._filling = False

    def change(self, place: Where, change: dict[str, float]) -> None:
        """Set the change of one group, choose it, and redraw."""
        self.changes[place] = change
        self._filling = True
        try:
            self.place.value = place
            self._fill()
        finally:
            self._filling = False
        self._changed(None)

    def changes_in_words(self) -> list[str]:
        """One line a changed value: what it was and what it is."""
        if self._block is None:
            return []
        changed = with_changes(self._block, self.changes)
        lines = []
        for place in self.changes:
            old, new = values_of(group_at(self._block, place)), values_of(group_at(changed, place))
            label, step_label, *_ = self._way(place)
            parts = [
                f"{name} {before} → {after}"
                for name, before, after in (
                    (label, load_text(old.way, old.load), load_text(old.way, new.load)),
                    (step_label, _plain(old.step), _plain(new.step)),
                    ("sets", _plain(old.sets), _plain(new.sets)),
                    ("reps", _plain(old.reps), _plain(new.reps)),
                    ("rest, s", _plain(old.rest_s), _plain(new.rest_s)),
                )
                if before != after
            ]
            lines.append(f"{self._place_text(place)}: {'; '.join(parts)}")
        return lines

    def _sliders(self) -> dict[str, Any]:
        return {"load": self.load, "step": self.step, "sets": self.sets, "reps": self.reps, "rest_s": self.rest}

    def _own_values(self) -> GroupValues:
        assert self._block is not None
        return values_of(group_at(self._block, self.place.value))

    def _place_text(self, place: Where) -> str:
        assert self._block is not None
        session = self._block.expanded_sessions()[int(place.session or 0) - 1]
        slot = session.exercises[int(place.exercise or 0) - 1]
        group = group_at(self._block, place)
        reps = "to failure" if group.to_failure else _plain(group.reps[0])
        return f"{session.name.split(',')[0]}: {slot.exercise}, {group.count} × {reps}"

    def _way(self, place: Where) -> Any:
        """How the load of a group is said; with kg or lb of two dumbbells, whose they are."""
        assert self._block is not None
        group = group_at(self._block, place)
        label, step_label, *others = _WAYS[group.way]
        hand = {None: "", True: " in each hand", False: " in both hands"}[group.each_hand]
        return f"{label}{hand}", f"{step_label}{hand}" if step_label else "", *others

    def _fill(self) -> None:
        """Set the sliders to the chosen group's values; those it does not have are hidden."""
        own = self._own_values()
        change = self.changes.get(self.place.value, {})
        label, step_label, number, bounds, step_bounds = self._way(self.place.value)
        _range(self.load, bounds, own.load, label, number)
        _range(self.step, step_bounds, own.step or 0.0, step_label, ".1f")
        for name, slider in self._sliders().items():
            value = getattr(own, name)
            slider.layout.display = "none" if value is None else None
            if value is None:
                continue
            chosen = change.get(name)
            wanted = value if chosen is None else chosen
            slider.max = max(slider.max, wanted)
            slider.value = wanted

    def _record(self, change: Any) -> None:
        if self._filling or self._block is None:
            return
        place, own = self.place.value, self._own_values()
        name = next(name for name, slider in self._sliders().items() if slider is change["owner"])
        new = {kind: value for kind, value in self.changes.pop(place, {}).items() if kind != name}
        if change["new"] != getattr(own, name):
            new[name] = change["new"]
        if new:
            self.changes[place] = new
        self._changed(change)

    def _place_chosen(self, change: object) -> None:
        if self._filling or self._block is None or self.place.value is None:
            return
        self._refill()
        self._changed(change)

    def _reset_group(self, _button: object) -> None:
        self.changes.pop(self.place.value, None)
        self._refill()
        self._changed(None)

    def _reset_all(self, _button: object) -> None:
        self.changes.clear()
        self._refill()
        self._changed(None)

    def _refill(self) -> None:
        self._filling = True
        try:
            self._fill()
        finally:
            self._filling = False


def load_text(way: str, load: float) -> str:
    """Return a load in the unit that the group gives it in.

    >>> load_text("part", 0.85), load_text("kg", 62.5)
    ('85 %', '62.5')
    """
    return f"{100 * load:.0f} %" if way == "part" else f"{load:g}"


def _plain(value: float | None) -> str:
    return "" if value is None else f"{value:g}"


def _range(slider: NumberControl, bounds: tuple[float, float, float], value: float, label: str, number: str) -> None:
    low, high, step = bounds
    low, high = min(low, value), max(high, value)
    if low > slider.max:  # a slider refuses, for a moment too, to have its ends the wrong way round
        slider.max = high
    slider.min, slider.max, slider.step = low, high, step
    slider.description, slider.readout_format = label, number
