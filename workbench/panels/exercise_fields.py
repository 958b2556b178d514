"""The exercises of one session: their set groups, order, piece of equipment, scheme, and what could stand for them."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

import ipywidgets as widgets

from workbench.gym.equipment import IMPLEMENTS, Room
from workbench.panels.block_fields import Attempt, Change
from workbench.panels.fields import Choice, Tick, button
from workbench.panels.frame import heading, quiet, row
from workbench.panels.set_group_fields import SetGroupFields
from workbench.prescription.block import ExerciseSlot, Session, SetGroup
from workbench.prescription.edit import Where
from workbench.prescription.progression import Step
from workbench.prescription.schemes import SCHEMES
from workbench.present.words import percent_said, reps_said
from workbench.quantities import InputError

__all__ = ["ExerciseFields", "group_said"]

_WAYS: Final = {
    "percent": "at {:g} %",
    "reps_in_reserve": "leaving {:g}",
    "kg": "with {:g} kg",
    "lb": "with {:g} lb",
}
#: A further set group of an exercise begins as the one before; the first one, and one after a part, as this.
USUAL_GROUP: Final = {"count": 3, "reps": 8, "reps_in_reserve": 2.0, "rest_s": 120.0}


def group_said(group: SetGroup) -> str:
    """Return a set group in a few words."""
    load = group.load_in_week_one
    if group.way == "part":
        said = f"at {percent_said(load)} of group {group.part_of_group}"
    else:
        said = _WAYS[group.way].format(load)
    hand = " each hand" if group.each_hand else ""
    low = group.reps_in_week_one
    reps = reps_said(low, low + group.reps[1] - group.reps[0])
    drops = "" if group.drops is None else f", {len(group.drops.sizes)} drops"
    return f"{group.count} × {reps} {said}{hand}{drops}{_change_said(group)}"


def _change_said(group: SetGroup) -> str:
    """Say how a set group changes from week to week: by how much where it is the same every week."""
    rule = group.progression
    if rule is None:
        return ""
    if not isinstance(rule, Step):
        return f", {rule.rule}"
    steps = [f"{rule.step:+g}" if rule.step else "", f"{rule.reps_step:+d} reps" if rule.reps_step else ""]
    return "".join(f", {said} a week" for said in steps if said)


class ExerciseFields:
    """What is done in a session, exercise by exercise and set group by set group.

    Attributes
    ----------
    place : ipywidgets.Select
        Its value is the `Where` of a set group.
    group : SetGroupFields
    piece : Choice
    ramp, alternate : Tick
    scheme : ipywidgets.Dropdown
    up, down, leave_out, add_group, leave_out_group, find_exchange, use_scheme : ipywidgets.Button
    everywhere : ipywidgets.Checkbox
        Whether an exchange is made in every session.
    offered : ipywidgets.Box
        A button for each exchange that was found.
    box : ipywidgets.Box
    """

    def __init__(self, change: Change, attempt: Attempt, show: Callable[[], None], find: Callable[[], None]) -> None:
        self._change, self._show = change, show
        self._session: Session | None = None
        self._number, self._weeks, self._now = 1, 1, dict[str, float]()
        self._room: Room | None = None
        self._filling = False
        self.place = widgets.Select(
            options=[],
            rows=8,
            description="exercises and their sets",
            layout=widgets.Layout(width="100%", height="auto"),
        )
        self.group = SetGroupFields(lambda entry: self._change(self.where, set_group=entry))
        self.piece = Choice("done on", [("", None)], lambda name: self._of_slot(equipment=name))
        self.ramp = Tick("with warm-up sets up to the load", lambda ticked: self._of_slot(ramp=ticked))
        self.alternate = Tick("its sets alternate with those of the next exercise", self._alternate)
        self.up = button("Up", attempt(lambda: self._move(-1)), tooltip="move the exercise up")
        self.down = button("Down", attempt(lambda: self._move(1)), tooltip="move the exercise down")
        self.leave_out = button("Leave exercise out", attempt(self._leave_out))
        self.add_group = button("Add a set group", attempt(self._add_group))
        self.leave_out_group = button("Leave set group out", attempt(self._leave_out_group))
        self.find_exchange = button("Find what could stand for it", attempt(find))
        self.everywhere = widgets.Checkbox(description="exchange it in every session", indent=False)
        self.offered = widgets.VBox()
        self.scheme = widgets.Dropdown(options=list(SCHEMES), description="scheme", layout=widgets.Layout(width="100%"))
        self.use_scheme = button("Use this scheme for the exercise", attempt(self._use_scheme))
        self.meaning, schemes = quiet(), widgets.VBox([self.scheme])
        schemes.add_class("workbench-field")
        self._rest = widgets.VBox(
            [
                row(self.up, self.down, self.leave_out, self.add_group, self.leave_out_group),
                heading("The set group that is chosen"),
                self.group.box,
                heading("Its exercise"),
                *(self.piece, self.ramp, self.alternate),
                *(row(self.find_exchange, self.everywhere), self.offered),
                *(heading("A scheme to start from"), schemes, row(self.use_scheme), self.meaning),
            ]
        )
        self.box = widgets.VBox([self.place, self._rest])
        self.box.add_class("workbench-field")
        self.place.observe(self._choose, "value")

    @property
    def where(self) -> Where:
        """Place of the set group that is chosen."""
        if self.place.value is None:
            raise InputError(None, "exercises", "there is none in this session", "add one below")
        place: Where = self.place.value
        return place

    @property
    def slot(self) -> ExerciseSlot:
        """The exercise that is chosen."""
        assert self._session is not None
        return self._session.exercises[int(self.where.exercise or 0) - 1]

    def put(
        self, session: Session | None, number: int, *, weeks: int, room: Room | None, choose: Where | None = None
    ) -> None:
        """Show what is done in a session, and one of its set groups."""
        self._session, self._number, self._weeks, self._room = session, number, weeks, room
        before = choose or self.place.value
        options = [] if session is None else self._places(session)
        places = [place for _, place in options]
        self._filling = True
        try:
            self.place.options = options
            self.place.value = self._nearest(before, places)
        finally:
            self._filling = False
        self._rest.layout.display = "none" if not places else None
        self._put_group()

    def know(self, now: dict[str, float]) -> None:
        """Take the first week's load of the chosen set group by each way: what another way begins with."""
        self._now = now
        self.group.know(now)

    def offer(self, buttons: list[widgets.Button], said: str) -> None:
        """Show what could stand for the exercise."""
        self.offered.children = [quiet(said), *buttons]

    def _places(self, session: Session) -> list[tuple[str, Where]]:
        return [
            (
                f"{at}. {slot.exercise}{' ⇄' if slot.alternate_with_next else ''}: {group_said(group)}",
                Where(self._number, at, of),
            )
            for at, slot in enumerate(session.exercises, start=1)
            for of, group in enumerate(slot.sets, start=1)
        ]

    def _nearest(self, before: Where | None, places: list[Where]) -> Where | None:
        if not places:
            return None
        if before is None or before.session != self._number:
            return places[0]
        exercise, group = int(before.exercise or 1), int(before.group or 1)
        earlier = [place for place in places if (place.exercise, place.group) <= (exercise, group)]
        return earlier[-1] if earlier else places[0]

    def _choose(self, _change: object) -> None:
        if not self._filling and self.place.value is not None:
            self._put_group()
            self._show()

    def _put_group(self) -> None:
        self.offered.children = ()
        if self.place.value is None:
            self.group.put(None, now={})
            return
        slot, of = self.slot, int(self.where.group or 1)
        known = self._room is not None and self._room.catalogue.knows(slot.exercise)
        hands = self._room.catalogue.hands_of(slot.exercise) if self._room is not None else 1
        self.group.put(slot.sets[of - 1], number=of, weeks=self._weeks, hands=hands, now=self._now)
        pieces = []
        if self._room is not None and known:
            kinds = IMPLEMENTS[self._room.catalogue.exercise(slot.exercise).implement]
            pieces = [piece.name for piece in self._room.equipment if piece.kind in kinds]
        if slot.equipment is not None and slot.equipment not in pieces:
            pieces.append(slot.equipment)
        self.piece.put(slot.equipment, [("what fits best", None), *((name, name) for name in pieces)])
        self.ramp.put(slot.ramp)
        self.alternate.put(slot.alternate_with_next)

    def _of_slot(self, **entry: Any) -> None:
        self._change(Where(*self.where[:2]), slot=entry)

    def _alternate(self, ticked: bool) -> None:
        assert self._session is not None
        if ticked and self.where.exercise == len(self._session.exercises):
            raise InputError(None, "", "it is the last exercise, so none comes next", "add the other one first")
        self._of_slot(alternate_with_next=ticked)

    def _move(self, by: int) -> None:
        assert self._session is not None
        session, exercise, _ = self.where
        place = int(exercise or 0) + by
        if not 1 <= place <= len(self._session.exercises):
            raise InputError(None, "exercise", f"is the {'first' if by < 0 else 'last'} already", "move another one")
        self._change(Where(session, exercise), move_to=place)
        self._choose_place(place, 1)

    def _choose_place(self, exercise: int, group: int) -> None:
        self.place.value = Where(self._number, exercise, group)

    def _leave_out(self) -> None:
        assert self._session is not None
        if len(self._session.exercises) == 1:
            raise InputError(None, self._session.name, "would have no exercise left", "leave the session out instead")
        self._change(Where(*self.where[:2]), leave_out=True)

    def _add_group(self) -> None:
        last = self.slot.sets[-1]
        group = dict(USUAL_GROUP) if last.way == "part" else last.model_dump()
        self._change(Where(*self.where[:2]), add_group=group)
        self._choose_place(int(self.where.exercise or 0), len(self.slot.sets))

    def _leave_out_group(self) -> None:
        self._change(self.where, leave_out_group=True)

    def _use_scheme(self) -> None:
        group = self.slot.sets[int(self.where.group or 1) - 1]
        percent = group.load_in_week_one if group.way == "percent" else self._now.get("percent", 70.0)
        reps = 5 if group.to_failure else group.reps_in_week_one
        scheme = SCHEMES[self.scheme.value](
            percent=round(percent), sets=group.count, reps=reps, rest_s=group.rest_s, weeks=self._weeks
        )
        self._change(Where(*self.where[:2]), set_groups=scheme.sets)
        self.meaning.value = f"{scheme.label}: {scheme.meaning}"
