"""The fields of one set group: load, sets, reps, rest, drops, and how it changes from week to week."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, Final

from workbench.log.typed import (
    typed_list,
    typed_mass,
    typed_number,
    typed_percent,
    typed_reps,
    typed_reserve,
    typed_seconds,
    typed_whole,
)
from workbench.panels.adjust_fields import AdjustFields
from workbench.panels.fields import Choice, Field
from workbench.panels.frame import fields, heading, show_only, wide
from workbench.prescription.block import LOAD_KEYS, Drops, SetGroup
from workbench.prescription.progression import ByWeek, RepsThenLoad, Step, Wave
from workbench.present.words import reps_said
from workbench.quantities import InputError, Unit

__all__ = ["SetGroupFields"]

Change = Callable[[Mapping[str, Any]], None]

#: Ways to give the load, in words.
_WAYS: Final[tuple[tuple[str, str], ...]] = (
    ("% of 1RM", "percent"),
    ("reps left in reserve", "reps_in_reserve"),
    ("part of an earlier group's load", "part"),
    ("a fixed load in kg", "kg"),
    ("a fixed load in lb", "lb"),
)
_LABELS: Final = {
    "percent": "load in week 1, % of 1RM",
    "reps_in_reserve": "reps left in reserve",
    "part": "part of that load, %",
    "kg": "load in week 1, kg",
    "lb": "load in week 1, lb",
}
#: What a way begins with where nothing is known of the load.
_BEGINS: Final = {"percent": 70.0, "reps_in_reserve": 2.0, "part": 0.85, "kg": 20.0, "lb": 45.0}
_RULES: Final = (
    ("stays the same", "none"),
    ("the same step every week", "step"),
    ("climbs, then starts again higher", "wave"),
    ("more reps first, then more load", "reps then load"),
    ("written out for every week", "by week"),
)
#: What a drop of the load begins with, %.
_DROPS: Final = {key: Drops.model_fields[key].default for key in ("change_s", "reps")}


def _plain(value: float) -> str:
    return f"{round(value, 9):.10g}"


def _listed(values: list[float]) -> str:
    return ", ".join(map(_plain, values))


def _reps_shown(reps: tuple[int, float]) -> str:
    return reps_said(*reps)


class SetGroupFields:
    """Fields that show one set group, and hand on what is changed in it.

    Parameters
    ----------
    change : callable
        Takes keys of the group's file entry with their new values; raises InputError where the block cannot have them.

    Attributes
    ----------
    way, of_group, rule : Choice
    load, sets, reps, rest, drops, drop_change, drop_reps, seconds_per_rep, note : Field
    step, reps_step, length, rise, reps_to, loads_by_week, reps_by_week, sets_by_week : Field
        Of the rule by which it changes from week to week.
    adjust : AdjustFields
        Of the rule by which the lifter changes it within a session.
    box : ipywidgets.Box
        All of them; those that the group has no use for are hidden, as all are where there is no group.
    """

    def __init__(self, change: Change) -> None:
        self._change = change
        self._group: SetGroup | None = None
        self._number, self._weeks, self._hands, self._now = 1, 1, 1, dict[str, float]()
        self._make_load_fields()
        self._make_rule_fields()
        self.adjust = AdjustFields(lambda entry: self._set(adjust=entry))
        changes = heading("How it changes")
        of_rules = [self.reps_to, self.step, self.reps_step, self.length, self.rise]
        of_rules += [self.loads_by_week, self.reps_by_week, self.sets_by_week]
        self._of_weeks, self._of_drops = [changes, self.rule], [self.drop_change, self.drop_reps]
        self._of_some = [self.of_group, *self._of_weeks, *of_rules, *self._of_drops, *self.adjust.fields]
        self.box = fields(
            *(wide(self.way), self.of_group, self.load, self.sets, self.reps, self.rest),
            *(changes, wide(self.rule), *of_rules),
            *(
                heading("Drops, tempo and note"),
                self.drops,
                *self._of_drops,
                self.seconds_per_rep,
                self.note,
                *self.adjust.fields,
            ),
        )

    def _make_load_fields(self) -> None:
        self.way = Choice("the load is given as", _WAYS, self._take_way)
        self.of_group = Choice("of set group", [("1", 1)], lambda value: self._set(part_of_group=value))
        self.load = Field("load", typed_percent, self._take_load)
        self.sets = Field("sets", lambda text: typed_whole(text, 1, 20), lambda value: self._set(count=value))
        self.reps = Field(
            "reps (6, 8-12 or failure)", typed_reps, lambda value: self._set(reps=value), show=_reps_shown
        )
        self.rest = Field("rest after each set, s", typed_seconds, lambda value: self._set(rest_s=value), show=_plain)
        self.drops = Field(
            "drops straight after, % off each",
            lambda text: typed_list(text.replace("%", ""), 0.1, 89.9),
            self._take_drops,
            show=_listed,
            needed=False,
            example="none; 25, 15",
        )
        self.drop_change = Field(
            "seconds to change the load",
            lambda text: typed_seconds(text, 0, 120),
            lambda value: self._take_drops(self.drops.value, change_s=value),
            show=_plain,
        )
        self.drop_reps = Field(
            "reps of each drop",
            typed_reps,
            lambda value: self._take_drops(self.drops.value, reps=value),
            show=_reps_shown,
        )
        self.seconds_per_rep = Field(
            "seconds of each rep",
            lambda text: typed_number(text, 0.5, 30, unit="s", example="3"),
            lambda value: self._set(seconds_per_rep=value),
            show=_plain,
            needed=False,
            example="as usual",
        )
        self.note = Field(
            "note for the sheet", str, lambda value: self._set(note=value or ""), needed=False, example="none"
        )

    def _make_rule_fields(self) -> None:
        def of_rule(label: str, key: str, read: Callable[[str], Any], **more: Any) -> Field:
            return Field(label, read, lambda value: self._take_rule(key, value), **{"show": _plain, **more})

        def number(text: str) -> float:
            return typed_number(text.replace("%", ""), -100, 100, example="2.5")

        self.rule = Choice("from week to week", _RULES, self._take_kind_of_rule)
        self.step = of_rule("step", "step", number)
        self.reps_step = of_rule("more reps every week", "reps_step", lambda text: typed_whole(text, -10, 10))
        self.length = of_rule("weeks it climbs", "length", lambda text: typed_whole(text, 2, 12))
        self.rise = of_rule("higher at each new start by", "rise", number)
        self.reps_to = of_rule("up to reps", "reps_to", lambda text: typed_whole(text, 1, 100))
        self.loads_by_week = of_rule("load of each week", "load", self._read_loads, show=_listed)
        self.reps_by_week = of_rule(
            "reps of each week", "reps", self._whole_list, show=_listed, needed=False, example="as above"
        )
        self.sets_by_week = of_rule(
            "sets of each week", "sets", self._whole_list, show=_listed, needed=False, example="as above"
        )

    def put(
        self, group: SetGroup | None, *, number: int = 1, weeks: int = 1, hands: int = 1, now: Mapping[str, float]
    ) -> None:
        """Show a group.

        Parameters
        ----------
        group : SetGroup or None
        number : int, [1], >= 1
            Its place in the exercise.
        weeks : int, [weeks]
            Of the block.
        hands : int, [1]
            In how many hands its load is.
        now : mapping of str to float
            The first week's load by each way that is known: what the field begins with when the way changes.
        """
        self._group, self._number, self._weeks, self._hands, self._now = group, number, weeks, hands, dict(now)
        if group is None:
            show_only(self.box, ())
            return
        self._put_load(group)
        self._put_rule(group)
        drops = group.drops
        self.sets.put(group.count)
        self.reps.put(group.reps)
        self.rest.put(group.rest_s)
        self.drops.put(None if drops is None else drops.sizes)
        self.seconds_per_rep.put(group.seconds_per_rep)
        self.note.put(group.note or None)
        if drops is not None:
            self.drop_change.put(drops.change_s)
            self.drop_reps.put(drops.reps)
        of_way = [self.of_group] if group.way == "part" else [*self._of_weeks, *self._of_rule(group)]
        of_drops = [] if drops is None else self._of_drops
        always = [field for field in self.box.children if field not in self._of_some]
        show_only(self.box, [*always, *of_way, *of_drops, *self.adjust.shown(group)])

    def know(self, now: Mapping[str, float]) -> None:
        """Take the first week's load by each way that is known."""
        self._now = dict(now)

    def _put_load(self, group: SetGroup) -> None:
        way = group.way
        hand = {None: "", True: " in each hand", False: " in both hands together"}[group.each_hand]
        # A part needs an earlier group; only what can be chosen is offered, so that arrow keys pass through the list.
        self.way.put(way, [one for one in _WAYS if one[1] != "part" or self._number > 1])
        self.load.label = f"{_LABELS[way]}{hand}"
        reads: dict[str, Callable[[str], Any]] = {
            "percent": typed_percent,
            "reps_in_reserve": typed_reserve,
            "part": lambda text: typed_percent(text, 1, 120) / 100.0,
        }
        self.load.read_as(
            reads.get(way, self._read_mass), (lambda part: _plain(100 * part)) if way == "part" else _plain
        )
        self.load.put(group.load_in_week_one)
        earlier = [(str(number), number) for number in range(1, self._number)]
        self.of_group.put(group.part_of_group or 1, earlier or [("1", 1)])

    def _read_mass(self, text: str) -> float:
        """Read a fixed load; one in the other unit is refused, for the group speaks of one unit alone."""
        assert self._group is not None
        unit: Unit = "lb" if self._group.way == "lb" else "kg"
        mass = typed_mass(text, unit, 0.1, each_hand=self._group.each_hand is True)
        if mass.unit != unit:
            remedy = f"type it in {unit}, or choose a fixed load in {mass.unit} above"
            raise InputError(None, repr(text), f"is in {mass.unit}", remedy)
        return mass.value

    def _put_rule(self, group: SetGroup) -> None:
        rule = group.progression
        self.rule.put("none" if rule is None else rule.rule)
        unit = {"percent": "points of %", "reps_in_reserve": "reps"}.get(group.way, group.way)
        kinds = {"wave": f"step of each week, {unit}", "reps then load": f"step when the reps start over, {unit}"}
        self.step.label = kinds.get(self.rule.value, f"step every week, {unit}")
        for key, field in (
            *(("step", self.step), ("reps_step", self.reps_step), ("length", self.length), ("rise", self.rise)),
            *(("reps_to", self.reps_to), ("load", self.loads_by_week), ("reps", self.reps_by_week)),
            ("sets", self.sets_by_week),
        ):
            if hasattr(rule, key):
                field.put(getattr(rule, key))

    def _of_rule(self, group: SetGroup) -> list[Field]:
        rule = group.progression
        if isinstance(rule, Step):
            return [self.step] if group.to_failure else [self.step, self.reps_step]
        if isinstance(rule, Wave):
            return [self.step, self.length, self.rise]
        if isinstance(rule, RepsThenLoad):
            return [self.reps_to, self.reps_step, self.step]
        if isinstance(rule, ByWeek):
            return [self.loads_by_week, self.reps_by_week, self.sets_by_week]
        return []

    def _set(self, **entry: Any) -> None:
        self._change(entry)

    def _take_way(self, way: str) -> None:
        first = self._now.get(way, _BEGINS[way])
        self._change(
            {
                **dict.fromkeys(LOAD_KEYS),
                "progression": None,
                "part_of_group": 1 if way == "part" else None,
                "each_hand": True if way in ("kg", "lb") and self._hands == 2 else None,
                way: first,
            }
        )

    def _take_load(self, value: float) -> None:
        assert self._group is not None
        moved = self._group.moved(load=value - self._group.load_in_week_one)
        self._set(**{moved.way: getattr(moved, moved.way), "progression": moved.progression})

    def _take_drops(self, sizes: list[float] | None, **more: Any) -> None:
        assert self._group is not None
        if sizes is None:
            self._set(drops=None)
            return
        before = self._group.drops
        kept = dict(_DROPS) if before is None else {"change_s": before.change_s, "reps": before.reps}
        self._set(drops={**kept, "sizes": sizes, **more})

    def _take_kind_of_rule(self, kind: str) -> None:
        assert self._group is not None
        group = self._group
        step = getattr(group.progression, "step", 2.5 if group.way != "reps_in_reserve" else 0.0)
        loads, reps, _ = group.weekly(self._weeks)
        begins: dict[str, dict[str, Any] | None] = {
            "none": None,
            "step": {"step": step},
            "wave": {"length": 2, "step": step, "rise": step},
            "reps then load": {"reps_to": min(int(group.reps_in_week_one) + 2, 100), "step": step},
            "by week": {
                "load": [round(float(load), 9) for load in loads],
                "reps": None if group.to_failure else [int(number) for number in reps],
            },
        }
        rule = begins[kind]
        self._set(progression=None if rule is None else {"rule": kind, **rule})

    def _take_rule(self, key: str, value: Any) -> None:
        assert self._group is not None
        rule = self._group.progression
        assert rule is not None
        self._set(progression={**rule.model_dump(), key: value})

    def _read_loads(self, text: str) -> list[float]:
        return self._of_every_week(text, typed_list(text.replace("%", ""), 0, 2200))

    def _whole_list(self, text: str) -> list[int]:
        numbers = typed_list(text, 0, 100)
        if any(not number.is_integer() for number in numbers):
            raise InputError(None, repr(text), "holds what is not whole", "type whole numbers")
        return [int(number) for number in self._of_every_week(text, numbers)]

    def _of_every_week(self, text: str, numbers: list[float]) -> list[float]:
        if len(numbers) != self._weeks:
            remedy = f"type {self._weeks}, as 65, 67.5, 70"
            raise InputError(None, repr(text), f"holds {len(numbers)} for {self._weeks} weeks", remedy)
        return numbers
