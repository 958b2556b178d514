"""Edit a lifter: who it is, what hurts and is left out, and what is known of each lift."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from typing import Any, ClassVar, Final

import ipywidgets as widgets

from workbench.answers.lifter_known import KnownLifter, known_of
from workbench.gym.catalogue import Catalogue, Exercise, built_in, cautions, joint_positions
from workbench.lifter import Lifter
from workbench.log.typed import typed_mass, typed_name, typed_number
from workbench.panels.editor import Editor
from workbench.panels.fields import Choice, Field, Tick, button
from workbench.panels.find_exercise import ExerciseFinder
from workbench.panels.frame import fields, heading, quiet, row, table_box, wide
from workbench.panels.lift_fields import LiftFields
from workbench.present.tables import Table
from workbench.quantities import KG_PER_LB, InputError, Unit
from workbench.reference.toml_files import validate

__all__ = ["LifterEditor"]

#: The sections of its fields.
PERSON, HURTS, LIFTS = "Person", "What hurts", "Lifts"
#: Joints in plain words, where their name is not one.
_JOINTS: Final = {
    "spine": "back",
    "hamstrings": "back of the thigh",
    "whole body": "balance, or a bar that could come down",
}
_SEXES: Final = (("not said", None), ("female", "female"), ("male", "male"))


def _plain(value: float) -> str:
    return f"{round(value, 1):.10g}"


class LifterEditor(Editor[Lifter]):
    """Edits a lifter.

    Parameters
    ----------
    lifter : Lifter, optional
        To change; without one a name begins it.
    catalogue : Catalogue, optional
        Exercises that are known; those of the lifter, or the built-in ones, where not given.

    Attributes
    ----------
    name, mass, years, note : Field
    sex : Choice
    maximum : Tick
        Whether a test to the maximum may be proposed.
    joints : dict of str to Tick
        Whether anything of a joint is left out.
    positions : dict of str to Tick
        Whether one position is.
    avoided : ipywidgets.Select
        Exercises that are left out by name.
    avoid, allow : ipywidgets.Button
        Leave the exercise out that was found; allow the one that is chosen again.
    lift : ipywidgets.Select
        Its value is the exercise whose lift is shown.
    fields : LiftFields
    add, leave_out : ipywidgets.Button
    finder : ExerciseFinder
    known : KnownLifter or None
    """

    kept: ClassVar[tuple[str, ...]] = ("known",)
    known: KnownLifter | None

    def __init__(self, lifter: Lifter | None = None, *, catalogue: Catalogue | None = None) -> None:
        super().__init__(lifter)
        self._catalogue = catalogue or (built_in() if lifter is None else lifter.catalogue)
        self._filling = False
        self._waiting_lift: str | None = None
        self._make_person()
        self._make_joints()
        self._make_lifts()
        self.lifts_table = table_box()
        self.lifts_table.add_class("workbench-wraps")
        self.notes = wide(widgets.HTML())
        lists = widgets.VBox([self.lift])
        lists.add_class("workbench-field")
        avoided = widgets.VBox([self.avoided])
        avoided.add_class("workbench-field")
        person = fields(wide(self.name), self.sex, self.years, self.mass, wide(self.maximum), wide(self.note))
        by_name = [heading("Exercises left out by name"), avoided, row(self.allow), self.finder_out]
        self.arrange_sections(
            {
                PERSON: [person],
                HURTS: [self._joint_help, self._joint_box, *by_name],
                LIFTS: [lists, self.fields.box, row(self.leave_out), heading("Another lift"), self.finder],
            },
            [self.lifts_table],
            below=[self.notes],
        )
        self.step(self._say_what_is_known)
        self.fill()
        self.take_steps(at_once=True)

    def _make_person(self) -> None:
        self.name = Field("name", typed_name, lambda text: self._set(name=text))
        self.sex = Choice("sex, if it is to count", _SEXES, lambda sex: self._set(sex=sex))
        self.years = Field(
            "years of training",
            lambda text: typed_number(text, 0, 80, words={"years": 1.0, "year": 1.0, "y": 1.0}, example="3"),
            lambda value: self._set(training_years=value),
            show=_plain,
            needed=False,
            example="not said",
        )
        self.mass = Field(
            "body mass, kg",
            self._read_mass,
            lambda value: self._set(body_mass_kg=value),
            show=_plain,
            needed=False,
            example="not said; 74 or 163 lb",
        )
        self.maximum = Tick("a test to the maximum may be proposed", lambda on: self._set(test_maximum=on))
        self.note = Field("note", str, lambda text: self._set(note=text or ""), needed=False, lines=True)

    def _make_joints(self) -> None:
        self._joint_help = quiet(
            "Tick a joint that is sore: everything that puts it into one of these positions is left out. Then untick "
            "what is fine. This is no diagnosis: have it looked at by a licensed physician or physiotherapist."
        )
        by_joint: dict[str, list[str]] = {}
        for name, position in joint_positions().items():
            by_joint.setdefault(position.joint, []).append(name)
        self.joints = {
            joint: Tick(_JOINTS.get(joint, joint), partial(self._take_joint, names))
            for joint, names in by_joint.items()
        }
        self.positions = {
            name: Tick(f"{name}: {position.meaning}", partial(self._take_position, name))
            for name, position in joint_positions().items()
        }
        self._below = {
            joint: widgets.VBox([self.positions[name] for name in names], layout=widgets.Layout(margin="0 0 6px 24px"))
            for joint, names in by_joint.items()
        }
        self._joint_box = widgets.VBox(
            [part for joint in self.joints for part in (self.joints[joint], self._below[joint])]
        )
        self.avoided = widgets.Select(
            options=[], rows=3, description="left out", layout=widgets.Layout(width="100%", height="auto")
        )
        self.allow = button("Allow it again", self.attempt(self._allow))
        self.avoid = button("Leave it out", self.attempt(self._avoid))
        self.finder_out = ExerciseFinder(self.avoid)

    def _make_lifts(self) -> None:
        self.lift = widgets.Select(
            options=[], rows=7, description="what is known", layout=widgets.Layout(width="100%", height="auto")
        )
        self.lift.observe(self._choose, "value")
        self.fields = LiftFields(self._change_lift)
        self.leave_out = button("Leave this lift out", self.attempt(self._leave_out))
        self.add = button("Add this lift", self.attempt(self._add))
        self.finder = ExerciseFinder(self.add)

    def lacking(self) -> str:
        """Say what begins a lifter."""
        return "type a name"

    @property
    def content(self) -> dict[str, Any]:
        """What the file holds."""
        if self.value is None:
            return {"lifts": {}}
        return {key: getattr(self.value, key) for key in Lifter.model_fields}

    def _set(self, **entry: Any) -> None:
        if self.value is None and "name" not in entry:
            raise InputError(None, "name", "is blank", "type the name first")
        self.edit(validate({**self.content, **entry}, Lifter, context=self._catalogue))

    def _read_mass(self, text: str) -> float:
        mass = typed_mass(text, "kg", 25, {"kg": 300, "lb": 660})
        kg = mass.value * (KG_PER_LB if mass.unit == "lb" else 1.0)
        if kg < 25:
            raise InputError(None, repr(text), "is out of range", "use 25 to 300 kg")
        return round(kg, 1)

    def fill(self) -> None:
        """Show the lifter in the fields."""
        value = self.value
        self.name.put(None if value is None else value.name)
        self.sex.put(None if value is None else value.sex)
        self.years.put(None if value is None else value.training_years)
        self.mass.put(None if value is None else value.body_mass_kg)
        self.maximum.put(value is not None and value.test_maximum)
        self.note.put(None if value is None else value.note or None)
        self._put_joints()
        self._put_lifts()
        self.again(self._say_what_is_known)

    # What hurts.

    def _put_joints(self) -> None:
        out = set() if self.value is None else set(self.value.avoid_positions)
        for joint, tick in self.joints.items():
            names = [name for name, position in joint_positions().items() if position.joint == joint]
            tick.put(bool(out & set(names)))
            self._below[joint].layout.display = None if out & set(names) else "none"
            for name in names:
                self.positions[name].put(name in out)
        names_out = [] if self.value is None else self.value.avoid_exercises
        self.avoided.options = names_out
        self.avoided.layout.display = None if names_out else "none"
        self.allow.layout.display = None if names_out else "none"

    def _take_joint(self, names: list[str], ticked: bool) -> None:
        out = [] if self.value is None else self.value.avoid_positions
        others = [name for name in out if name not in names]
        self._set(avoid_positions=[*others, *names] if ticked else others)

    def _take_position(self, name: str, ticked: bool) -> None:
        out = [] if self.value is None else self.value.avoid_positions
        others = [one for one in out if one != name]
        self._set(avoid_positions=[*others, name] if ticked else others)

    def _avoid(self) -> None:
        if self.finder_out.chosen is None:
            raise InputError(None, "exercise", "none is chosen", "find one first")
        out = [] if self.value is None else self.value.avoid_exercises
        self._set(avoid_exercises=[*dict.fromkeys([*out, self.finder_out.chosen])])

    def _allow(self) -> None:
        assert self.value is not None
        self._set(avoid_exercises=[one for one in self.value.avoid_exercises if one != self.avoided.value])

    # What is known of each lift.

    def _put_lifts(self) -> None:
        lifts = {} if self.value is None else self.value.lifts
        names = [*lifts, *([self._waiting_lift] if self._waiting_lift not in (None, *lifts) else [])]
        chosen = self._waiting_lift or self.lift.value
        self._filling = True
        try:
            self.lift.options = [(name if name in lifts else f"{name}: type what is known", name) for name in names]
            self.lift.value = chosen if chosen in names else (names[0] if names else None)
        finally:
            self._filling = False
        self._put_lift()

    def _put_lift(self) -> None:
        name, value = self.lift.value, self.value
        self.leave_out.layout.display = "none" if name is None else None
        if name is None:
            self.fields.put(None, None, "kg", None)
            return
        lifts = {} if value is None else value.lifts
        pounds = bool(lifts) and all(lift.in_pounds for lift in lifts.values())
        unit: Unit = "lb" if pounds else "kg"
        self.fields.put(self._exercise(name), lifts.get(name), unit, None if value is None else value.body_mass_kg)

    def _exercise(self, name: str) -> Exercise:
        return self._catalogue.exercise(name)

    def _choose(self, _change: object) -> None:
        if not self._filling:
            self._put_lift()

    def _add(self) -> None:
        """List an exercise, whose number is then asked for."""
        if self.value is None:
            raise InputError(None, "name", "is blank", "type the name first")
        if self.finder.chosen is None:
            raise InputError(None, "exercise", "none is chosen", "find one first")
        known = {self._exercise(name).name: name for name in self.value.lifts}
        self._waiting_lift = known.get(self.finder.chosen, self.finder.chosen)
        self._put_lifts()
        self._waiting_lift = self._waiting_lift if self._waiting_lift not in self.value.lifts else None
        self.fields.remembered.typed.focus()  # what is typed next

    def _change_lift(self, entry: Mapping[str, Any]) -> None:
        assert self.value is not None
        name = self.lift.value
        self._set(lifts={**self.value.lifts, name: {**self.fields.new_entry, **entry}})
        self._waiting_lift = None

    def _leave_out(self) -> None:
        assert self.value is not None
        name, self._waiting_lift = self.lift.value, None
        if name in self.value.lifts:
            self._set(lifts={one: lift for one, lift in self.value.lifts.items() if one != name})
        else:
            self._put_lifts()

    # What follows from it.

    def _say_what_is_known(self) -> None:
        self.finder.look_in(None, None)
        self.finder_out.look_in(None, None)
        if self.value is None:
            self.blank(f"Nobody is here yet: {self.lacking()}.")
            return
        self.known = known_of(self.value)
        self.put(self.answer, self.known.sentences())
        rows = tuple(self.known.lifts_said())
        headings = ("lift", "1RM, about", "between (4 in 5)", "known from")
        self.put(
            self.lifts_table,
            *([Table("What can probably be lifted once", headings, rows, texts=(0, 3))] if rows else []),
        )
        out = [cautions()[name] for name in self.value.avoid_positions if name in cautions()]
        said = dict.fromkeys(f"{caution.sentence} Ask a {caution.who_to_see}." for caution in out)
        self.put(self.notes, [*said, *self.known.notes])
