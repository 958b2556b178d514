"""What a coach can change in a block, one knob at a time."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Final

from workbench.gym import catalogue
from workbench.prescription.block import Block, LighterWeek, SetGroup
from workbench.prescription.progression import Step
from workbench.quantities import InputError
from workbench.reference.toml_files import validate

__all__ = ["KNOBS", "Knob", "apply_settings"]


def _percent(group: SetGroup, value: float) -> SetGroup | None:
    if group.percent is None:
        return None
    rule = group.progression
    update: dict[str, Any] = {"percent": value}
    if rule is not None and rule.rule == "by week":
        update["progression"] = rule.model_copy(update={"load": [one + value - rule.load[0] for one in rule.load]})
    return group.model_copy(update=update)


def _step(group: SetGroup, value: float) -> SetGroup | None:
    rule = group.progression
    if group.part is not None or (rule is not None and rule.rule == "by week"):
        return None
    if rule is None:
        return group.model_copy(update={"progression": Step(rule="step", step=value)})
    return group.model_copy(update={"progression": rule.model_copy(update={"step": value})})


def _reps(group: SetGroup, value: float) -> SetGroup | None:
    rule = group.progression
    if group.to_failure or (rule is not None and rule.rule == "by week" and rule.reps is not None):
        return None
    reps = int(value)
    update: dict[str, Any] = {"reps": (reps, reps)}
    if rule is not None and rule.rule == "reps then load":
        rise = rule.reps_to - int(group.reps[0])
        update["progression"] = rule.model_copy(update={"reps_to": reps + rise})
    return group.model_copy(update=update)


def _sets(group: SetGroup, value: float) -> SetGroup | None:
    rule = group.progression
    if rule is not None and rule.rule == "by week" and rule.sets is not None:
        return None
    return group.model_copy(update={"count": int(value)})


def _rest(group: SetGroup, value: float) -> SetGroup | None:
    return group.model_copy(update={"rest_s": value})


def _drop(group: SetGroup, value: float) -> SetGroup | None:
    if group.drops is None:
        return None
    return group.model_copy(
        update={"drops": group.drops.model_copy(update={"sizes": [value] * len(group.drops.sizes)})}
    )


#: The knobs of a set group: the change, how a value is shown, and whether values are whole numbers.
_GROUP_KNOBS: Final[dict[str, tuple[Callable[[SetGroup, float], SetGroup | None], str, bool]]] = {
    "percent": (_percent, "start at {:g} %", False),
    "step": (_step, "{:+g} a week", False),
    "reps": (_reps, "{:g} reps", True),
    "sets": (_sets, "{:g} sets", True),
    "rest": (_rest, "rest {:g} s", False),
    "drop": (_drop, "drops of {:g} %", False),
}
_LIGHTER: Final = "lighter week"
#: Kinds of knob. "lighter week" is the part of the load in the block's lighter weeks; in its last week if it has none.
KNOBS: Final = (*_GROUP_KNOBS, _LIGHTER)


@dataclass(frozen=True)
class Knob:
    """One thing to change, and the values it may take.

    Attributes
    ----------
    kind : str
        One of `KNOBS`.
    values : tuple of float
        In percent of 1RM, points a week, reps, sets, seconds, percent taken off, or part of the load.
    exercise, session : str, optional
        Change only this exercise's sets, or only this session; all otherwise.
    group : int, optional
        Change only this set group of the exercise, from 1; all that can be changed otherwise.
    """

    kind: str
    values: tuple[float, ...]
    exercise: str | None = None
    session: str | None = None
    group: int | None = None

    def __post_init__(self) -> None:
        """Refuse an unknown kind, no values, or values that are not in order and different."""
        if self.kind not in KNOBS:
            raise InputError(None, "knob", f"{self.kind!r} is not one", f"use one of: {', '.join(KNOBS)}")
        if not self.values:
            raise InputError(None, f"knob {self.kind}", "has no values", "give at least one")
        if list(self.values) != sorted(set(self.values)):
            raise InputError(None, f"knob {self.kind}", "values do not rise", "give each once, lowest first")
        if self.kind in _GROUP_KNOBS and _GROUP_KNOBS[self.kind][2] and any(one != int(one) for one in self.values):
            raise InputError(None, f"knob {self.kind}", "values are not whole", "give whole numbers")

    def shown(self, value: float) -> str:
        """Return a value in words."""
        lighter = self.kind == _LIGHTER
        text = f"lighter week at {value:.0%}" if lighter else _GROUP_KNOBS[self.kind][1].format(value)
        where = self.exercise or self.session
        group = f" {self.group}" if self.group is not None else ""
        return f"{where}{group}: {text}" if where or group else text


def apply_settings(block: Block, knobs: Sequence[Knob], settings: Sequence[float]) -> Block:
    """Return the block with every knob at its value, checked again as if it had been read from a file.

    Raises
    ------
    InputError
        A knob that finds nothing to change, or a value that the block cannot have.
    """
    for knob, value in zip(knobs, settings, strict=True):
        block = _lighter(block, value) if knob.kind == _LIGHTER else _change_groups(block, knob, value)
    content = block.model_dump(mode="python", exclude_none=True)
    return validate(content, Block)


def _lighter(block: Block, value: float) -> Block:
    weeks = [one.model_copy(update={"load": value}) for one in block.lighter_weeks]
    return block.model_copy(update={"lighter_weeks": weeks or [LighterWeek(week=block.weeks, load=value)]})


def _change_groups(block: Block, knob: Knob, value: float) -> Block:
    change = _GROUP_KNOBS[knob.kind][0]
    wanted = None if knob.exercise is None else catalogue.exercise(knob.exercise).name
    changed = False
    sessions = []
    for session in block.expanded_sessions():
        slots = []
        for slot in session.exercises:
            groups = list(slot.sets)
            here = knob.session in (None, session.name) and wanted in (None, catalogue.exercise(slot.exercise).name)
            for number in range(len(groups)) if here else ():
                if knob.group in (None, number + 1):
                    new = change(groups[number], value)
                    if new is not None:
                        groups[number], changed = new, True
            slots.append(slot.model_copy(update={"sets": groups}))
        sessions.append(session.model_copy(update={"exercises": slots}))
    if not changed:
        raise InputError(
            None, f"knob {knob.kind}", "finds no set group to change", "check its exercise, session and group"
        )
    return block.model_copy(update={"sessions": sessions})
