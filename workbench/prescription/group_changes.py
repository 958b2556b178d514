"""Changes of one set group: what can be changed of it, and each change as a pure function of the group and a value.

Only `workbench.prescription.edit` calls these on a block.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import partial
from typing import Any, Final, NamedTuple, TypeVar

from workbench.prescription.block import LOAD_KEYS, SetGroup
from workbench.prescription.progression import Step
from workbench.quantities import InputError
from workbench.reference.toml_files import Strict, validate

__all__ = ["GROUP_CHANGES", "TAKE_ONE_NUMBER", "GroupValues", "checked", "differences", "values_of"]


class GroupValues(NamedTuple):
    """What can be changed of a set group; None where the group has no such value to change.

    ``way`` is how the load is given, one of `LOAD_KEYS`; ``load`` the first week's in that unit, ``step`` its change a
    week (or each time the reps start over); ``reps`` the lowest of the first week, ``drop_reps`` of each drop.
    """

    way: str
    load: float
    step: float | None
    sets: int | None
    reps: int | None
    rest_s: float
    drop_reps: int | None


def values_of(group: SetGroup) -> GroupValues:
    """Return what can be changed of a group, with its present values."""
    rule = group.progression
    written_out = rule.written_out if rule is not None else frozenset()
    no_step = group.way == "part" or "load" in written_out or (group.way == "reps_in_reserve" and rule is None)
    return GroupValues(
        way=group.way,
        load=group.load_in_week_one,
        step=None if no_step else getattr(rule, "step", 0.0),
        sets=None if "sets" in written_out else group.count,
        reps=None if group.to_failure else group.reps_in_week_one,
        rest_s=group.rest_s,
        drop_reps=None if group.drops is None else group.drops.reps[0],
    )


def differences(before: GroupValues, after: GroupValues) -> dict[str, float]:
    """Return the changes, as `change` takes them, that turn the values of one group into those of another.

    >>> group = SetGroup(reps=5, percent=70, rest_s=120)
    >>> differences(values_of(group), values_of(group.moved(load=-5)))
    {'load': 65.0}
    """
    names = ("load", "step", "sets", "reps", "rest_s")
    return {name: getattr(after, name) for name in names if getattr(after, name) != getattr(before, name)}


ModelT = TypeVar("ModelT", bound=Strict)


def checked(model: ModelT, **update: object) -> ModelT:
    """Build a model anew with some values, checked as when it is read from a file."""
    return validate({name: getattr(model, name) for name in type(model).model_fields} | update, type(model))


# Of set groups: each takes a group and the value, and gives the group with it, or None where there is no such value.


def _moved(group: SetGroup, **by: Any) -> SetGroup:
    moved = group.moved(**by)
    return checked(moved, progression=None if moved.progression is None else checked(moved.progression))


def _load(group: SetGroup, value: float, *, way: str | None = None) -> SetGroup | None:
    return _moved(group, load=value - group.load_in_week_one) if way in (None, group.way) else None


def _load_as(group: SetGroup, value: Mapping[str, float]) -> SetGroup:
    return checked(group, **{"part_of_group": None, **dict.fromkeys(LOAD_KEYS), **value}, progression=None)


def _entry(group: SetGroup, value: Mapping[str, Any]) -> SetGroup:
    unknown = sorted(value.keys() - SetGroup.model_fields.keys())
    if unknown:
        known = ", ".join(SetGroup.model_fields)
        raise InputError(None, "set_group", f"has no key {unknown[0]!r}", f"use one of: {known}")
    return checked(group, **value)


def _step(group: SetGroup, value: float) -> SetGroup | None:
    rule = group.progression
    if group.way == "part" or (rule is not None and "load" in rule.written_out):
        return None
    if rule is not None:
        return checked(group, progression=checked(rule, step=value))
    return checked(group, progression=Step(rule="step", step=value) if value else None)


def _by_week(group: SetGroup, value: Mapping[str, Any]) -> SetGroup | None:
    return None if group.way == "part" else checked(group, progression={"rule": "by week", **value})


def _reps(group: SetGroup, value: float | Sequence[float]) -> SetGroup | None:
    if group.to_failure:
        return None
    if not isinstance(value, Sequence):
        return _moved(group, reps=_whole(value - group.reps_in_week_one, "reps"))
    written_out = group.progression is not None and "reps" in group.progression.written_out
    return None if written_out else checked(group, reps=tuple(value))


def _sets(group: SetGroup, value: float) -> SetGroup | None:
    if group.progression is not None and "sets" in group.progression.written_out:
        return None
    return checked(group, count=_whole(value, "sets"))


def _rest(group: SetGroup, value: float) -> SetGroup:
    return checked(group, rest_s=value)


def _drop(group: SetGroup, value: float | Sequence[float]) -> SetGroup | None:
    if group.drops is None:
        return None
    sizes = list(value) if isinstance(value, Sequence) else [value] * len(group.drops.sizes)
    return checked(group, drops=checked(group.drops, sizes=sizes))


def _drop_reps(group: SetGroup, value: float) -> SetGroup | None:
    if group.drops is None:
        return None
    low, high = group.drops.reps
    more = _whole(value - low, "drop_reps")
    return checked(group, drops=checked(group.drops, reps=(low + more, high + more)))


def _by(group: SetGroup, value: float, *, kind: str) -> SetGroup | None:
    present = getattr(values_of(group), kind)
    return None if present is None else GROUP_CHANGES[kind](group, present + value)


def _whole(value: float, kind: str) -> int:
    if value != int(value):
        raise InputError(None, kind, f"{value:g} is not whole", "give a whole number")
    return int(value)


#: Changes of a set group, by the keyword of `change`.
GROUP_CHANGES: Final[dict[str, Callable[[SetGroup, Any], SetGroup | None]]] = {
    "load": _load,
    "load_as": _load_as,
    "set_group": _entry,
    **{way: partial(_load, way=way) for way in LOAD_KEYS},
    "step": _step,
    "by_week": _by_week,
    "reps": _reps,
    "sets": _sets,
    "rest_s": _rest,
    "drop": _drop,
    "drop_reps": _drop_reps,
    **{
        f"{kind.removesuffix('_s')}_by": partial(_by, kind=kind)
        for kind in ("load", "reps", "sets", "rest_s", "drop_reps")
    },
}


#: Changes that take one number and nothing else.
_NO_NUMBER: Final = {"load_as", "by_week", "set_group", "reps", "drop"}
TAKE_ONE_NUMBER: Final = frozenset(GROUP_CHANGES) - _NO_NUMBER | {"lighter_load", "move_to"}
