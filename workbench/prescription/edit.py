"""Change a block: the only place that does. Sliders, mends, knobs, orders, schemes and exchanges all call it.

A change names where (a session, an exercise in it, a set group in that, each by name or by number from 1) and what.
It gives a new block, checked as if it had been read from a file; the old one stays as it was, so that undoing is
keeping the old one.

>>> from workbench.prescription.schemes import constant_step, exercise_block
>>> block = exercise_block("back squat", constant_step(percent=70, step=2.5, reps=5), weeks=3, days=(1, 4))
>>> changed = change(block, Where(session=2), percent=65, rest_s=180)
>>> [session.exercises[0].sets[0].percent for session in changed.sessions]
[70.0, 65.0]
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import lru_cache, partial
from typing import Any, Final, NamedTuple

import numpy as np

from workbench.gym.catalogue import Catalogue, OwnFiles, catalogue_for
from workbench.prescription.block import Block, ExerciseSlot, Session, SetGroup
from workbench.prescription.group_changes import GROUP_CHANGES, TAKE_ONE_NUMBER, checked
from workbench.prescription.whole_sessions import BLOCK_CHANGES
from workbench.quantities import InputError

__all__ = [
    "EVERYWHERE",
    "Where",
    "change",
    "group_at",
    "groups_of",
]


class Where(NamedTuple):
    """A place in a block; what is left out stands for all.

    Session and exercise by name, or by number from 1 (an exercise: its place in the session); the set group within the
    exercise by number from 1.
    """

    session: str | int | None = None
    exercise: str | int | None = None
    group: int | None = None

    def __str__(self) -> str:
        """Return the place in words.

        >>> str(Where("Monday", "bench press", 2)), str(Where())
        ('Monday, bench press, set group 2', 'the whole block')
        """
        numbered = (("session", self.session), ("exercise", self.exercise), ("set group", self.group))
        parts = [part if isinstance(part, str) else f"{kind} {part}" for kind, part in numbered if part is not None]
        return ", ".join(parts) or "the whole block"


EVERYWHERE: Final = Where()


def groups_of(block: Block) -> list[Where]:
    """Return the place of every set group, in order, by numbers from 1."""
    return [
        Where(session_number, slot_number, group_number)
        for session_number, session in enumerate(block.expanded_sessions(), start=1)
        for slot_number, slot in enumerate(session.exercises, start=1)
        for group_number, _ in enumerate(slot.sets, start=1)
    ]


def group_at(block: Block, where: Where, exercises: Catalogue | OwnFiles | None = None) -> SetGroup:
    """Return the set group at a place; InputError where the block has none there, or more than one."""
    wanted = None if where.session is None else block.session_number(where.session)
    catalogue = catalogue_for(None, exercises)
    found = [
        group
        for session_number, session in enumerate(block.expanded_sessions(), start=1)
        for slot_number in _slot_numbers(session, where.exercise, catalogue)
        for group_number, group in enumerate(session.exercises[slot_number - 1].sets, start=1)
        if wanted in (None, session_number) and where.group in (None, group_number)
    ]
    if len(found) != 1:
        raise InputError(None, str(where), f"names {len(found)} set groups", "name a session, exercise and set group")
    return found[0]


def change(
    block: Block, where: Where = EVERYWHERE, *, exercises: Catalogue | OwnFiles | None = None, **what: Any
) -> Block:
    """Change a block at a place, in one or several ways.

    A change in one session leaves its repeats as they were: they are written out. Loads and reps that are written out
    by week move with those of the first week.

    Parameters
    ----------
    block : Block
    where : Where
        What has no such value there is left as it is.
    exercises : Catalogue, or path or paths of own exercise files, optional
        What names mean, as ``room.catalogue``; the built-in ones, and names as they stand in the block, otherwise.
    **what
        Of set groups: ``percent`` [% of 1RM], ``reps_in_reserve`` [reps], ``part`` [1], ``kg``, ``lb`` (the first
        week's load, of groups that give it so), ``load`` (the same, whichever way it is given), ``load_as`` (another
        way with its value, as ``{"kg": 60}``; the progression, whose unit it was, goes), ``set_group`` (keys of its
        entry in a file, as ``{"drops": None}``), ``reps`` [reps] (a number moves the lowest and keeps the width of a
        range, a pair sets both), ``sets`` [1], ``rest_s`` [s], ``step`` (change of the load a week, in its unit),
        ``by_week`` (mapping with load, and perhaps reps and sets, written out for every week), ``drop`` [%] (taken off
        at each drop), ``drop_reps`` [reps];
        ``load_by``, ``reps_by``, ``sets_by``, ``rest_by`` [s], ``drop_reps_by`` move a value.
        Of exercises: ``exchange`` (another exercise in its place), ``leave_out=True``, ``move_to`` (place in its
        session), ``set_groups`` (others in place of its own), ``add_group`` (a `SetGroup` or the mapping of one, as the
        last), ``leave_out_group=True``, ``slot`` (keys of its entry in a file, as ``{"ramp": False}``). Of sessions:
        ``order`` (present places of the exercises, in the wanted order), ``add`` (an `ExerciseSlot` or the mapping of
        one, as the last), ``session`` (keys of its entry in a file: name, day), ``copy_session`` (mapping with the name
        of the new one; day, percent_change, reps_change), ``leave_out_session=True``, ``session_to`` (place in the
        week). Of the block: ``of_block`` (keys of the file: name, note, weeks, limits, lighter_weeks; sets written out
        by week go on as in their last week), ``add_session`` (a `Session` or the mapping of one), ``lighter_week``
        (mapping with week, load, sets), ``lighter_load`` (part of the load in its lighter weeks; in its last week where
        it has none).

    Returns
    -------
    Block
        Another one; what was given stays as it is.

    Raises
    ------
    InputError
        A kind of change that there is not, a place that the block does not have, nothing there to change, or a value
        that the block cannot have; with the place as in a block file.
    """
    catalogue = catalogue_for(None, exercises)
    together = _groups_at_once(block, where, what, catalogue) if len(what) > 1 and what.keys() <= _QUICK else None
    if together is not None:
        return together
    for kind, value in what.items():
        if kind in TAKE_ONE_NUMBER and (isinstance(value, bool) or not isinstance(value, int | float | np.number)):
            raise InputError(None, kind, f"{value!r} is no number", "give a number")
        if kind in _SESSION_CHANGES:
            block = _change_sessions(block, where, kind, value, catalogue)
        elif kind in BLOCK_CHANGES:
            number = None if where.session is None else block.session_number(where.session)
            block = BLOCK_CHANGES[kind](block, number, value)
        else:
            known = ", ".join((*_SESSION_CHANGES, *BLOCK_CHANGES))
            raise InputError(None, "change", f"{kind!r} is not one", f"use one of: {known}")
    return block


def _slot_numbers(session: Session, exercise: str | int | None, catalogue: Catalogue) -> list[int]:
    """Numbers, from 1, of the exercises that are meant."""
    numbers = range(1, len(session.exercises) + 1)
    if exercise is None or isinstance(exercise, int):
        return [number for number in numbers if exercise in (None, number)]
    wanted = _meaning(exercise, catalogue)
    return [number for number in numbers if _meaning(session.exercises[number - 1].exercise, catalogue) == wanted]


def _meaning(written: str, catalogue: Catalogue) -> str:
    """Return the same for all spellings of one exercise; a name that the catalogue lacks means itself."""
    return catalogue.exercise(written).name if catalogue.knows(written) else " ".join(written.split()).casefold()


def _change_sessions(block: Block, where: Where, kind: str, value: Any, catalogue: Catalogue) -> Block:
    before = block.expanded_sessions()
    wanted = None if where.session is None else block.session_number(where.session)
    chosen = [wanted in (None, number) for number in range(1, len(before) + 1)]
    new = _SESSION_CHANGES[kind]
    after = [
        new(session, where, value, catalogue) if meant else session
        for session, meant in zip(before, chosen, strict=True)
    ]
    if all(changed is session for changed, session in zip(after, before, strict=True)):
        searched = [session for session, meant in zip(before, chosen, strict=True) if meant]
        if not any(_slot_numbers(session, where.exercise, catalogue) for session in searched):
            if isinstance(where.exercise, str):
                catalogue.exercise(where.exercise)  # says what comes close where it is none
            held = ", ".join(dict.fromkeys(slot.exercise for session in searched for slot in session.exercises))
            raise InputError(None, str(where), f"does not hold {where.exercise}", f"choose one of: {held}")
        remedy = "check its session, exercise and set group"
        raise InputError(None, f"{where}, {kind}", "finds nothing to change", remedy)
    return checked(block, sessions=after)


# Of sessions: each takes a session, the place, the value and the catalogue, and gives the session; the same one where
# it finds nothing to change.


def _groups(session: Session, where: Where, value: Any, catalogue: Catalogue, *, kind: str) -> Session:
    def with_groups(slot: ExerciseSlot) -> ExerciseSlot:
        try:
            changed = [
                GROUP_CHANGES[kind](group, value) if where.group in (None, number) else None
                for number, group in enumerate(slot.sets, start=1)
            ]
        except InputError as error:
            raise InputError(None, f"{where}, {error.place}", error.problem, error.remedy) from None
        if not any(changed):
            return slot
        return checked(slot, sets=[new or group for new, group in zip(changed, slot.sets, strict=True)])

    return _at_slots(session, where, catalogue, with_groups)


def _groups_at_once(block: Block, where: Where, what: Mapping[str, Any], catalogue: Catalogue) -> Block | None:
    """Change groups in several ways, building the block once; None where one is refused, or finds nothing to change.

    Who goes through the changes one by one then says why. Exercises that are alike come out as one and the same.
    """
    found: set[str] = set()
    built: dict[tuple[Any, ...], ExerciseSlot] = {}

    def with_groups(slot: ExerciseSlot) -> ExerciseSlot:
        alike = (*(value for name, value in slot if name != "sets"), *slot.sets)
        if alike in built:
            return built[alike]
        sets = list(slot.sets)
        for number in range(1, len(sets) + 1):
            if where.group not in (None, number):
                continue
            for kind, value in what.items():
                changed = _stepped(sets[number - 1], kind, value, block.weeks)
                if changed is not None:
                    sets[number - 1] = changed
                    found.add(kind)
        built[alike] = checked(slot, sets=sets)
        return built[alike]

    wanted = None if where.session is None else block.session_number(where.session)
    sessions = enumerate(block.expanded_sessions(), start=1)
    try:
        after = [
            _at_slots(session, where, catalogue, with_groups) if wanted in (None, number) else session
            for number, session in sessions
        ]
        return checked(block, sessions=after) if found == what.keys() else None
    except (ValueError, TypeError):
        return None


@lru_cache(maxsize=4096, typed=True)
def _stepped(group: SetGroup, kind: str, value: Any, weeks: int) -> SetGroup | None:
    """Change a group in one way, leaving every week within range; many are alike, and come out as one and the same."""
    if isinstance(value, bool) or not isinstance(value, int | float | np.number):
        raise TypeError(kind)
    changed = GROUP_CHANGES[kind](group, value)
    if changed is not None:
        changed.weekly(weeks)
    return changed


def _at_slots(
    session: Session, where: Where, catalogue: Catalogue, new: Callable[[ExerciseSlot], ExerciseSlot | None]
) -> Session:
    """Change the exercises that are meant; those that come out as None are left out."""
    chosen = _slot_numbers(session, where.exercise, catalogue)
    slots = [new(slot) if number in chosen else slot for number, slot in enumerate(session.exercises, start=1)]
    if all(changed is slot for changed, slot in zip(slots, session.exercises, strict=True)):
        return session
    kept = [slot for slot in slots if slot is not None]
    if not kept:
        raise InputError(None, session.name, "would have no exercise left", "remove the session instead")
    if kept[-1].alternate_with_next:  # its partner is gone
        kept[-1] = checked(kept[-1], alternate_with_next=False)
    return checked(session, exercises=kept)


def _exchange(session: Session, where: Where, value: str, catalogue: Catalogue) -> Session:
    exercise = catalogue.exercise(value)

    def exchanged(slot: ExerciseSlot) -> ExerciseSlot:
        # Loads in kg or lb are of the exercise that goes; whose hand they are in must be said anew.
        sets = [
            checked(group, each_hand=(group.each_hand or False) if exercise.hands == 2 else None)
            if group.way in ("kg", "lb")
            else group
            for group in slot.sets
        ]
        return checked(slot, exercise=exercise.name, equipment=None, sets=sets)

    return _at_slots(session, where, catalogue, exchanged)


def _leave_out(session: Session, where: Where, value: bool, catalogue: Catalogue) -> Session:
    return _at_slots(session, where, catalogue, lambda slot: None if value else slot)


def _set_groups(
    session: Session, where: Where, value: Sequence[SetGroup | Mapping[str, Any]], catalogue: Catalogue
) -> Session:
    return _at_slots(session, where, catalogue, lambda slot: checked(slot, sets=list(value)))


def _add_group(session: Session, where: Where, value: SetGroup | Mapping[str, Any], catalogue: Catalogue) -> Session:
    return _at_slots(session, where, catalogue, lambda slot: checked(slot, sets=[*slot.sets, value]))


def _leave_out_group(session: Session, where: Where, value: bool, catalogue: Catalogue) -> Session:
    def without(slot: ExerciseSlot) -> ExerciseSlot:
        out = where.group or 0
        if not value or not 1 <= out <= len(slot.sets):
            return slot
        if len(slot.sets) == 1:
            raise InputError(None, str(where), "is the only set group", "leave the exercise out instead")
        if any(group.part_of_group == out for group in slot.sets):
            raise InputError(None, str(where), "is what a later set group takes a part of", "change that one first")
        kept = [group for number, group in enumerate(slot.sets, start=1) if number != out]
        return checked(slot, sets=[_part_of_earlier(group, out) for group in kept])

    return _at_slots(session, where, catalogue, without)


def _part_of_earlier(group: SetGroup, gone: int) -> SetGroup:
    """Return a group that takes its part of the same one as before, now that one of this number is gone."""
    of = group.part_of_group
    return group if of is None or of < gone else group.model_copy(update={"part_of_group": of - 1})


def _slot_entry(session: Session, where: Where, value: Mapping[str, Any], catalogue: Catalogue) -> Session:
    _refuse_keys("slot", value, ("equipment", "ramp", "alternate_with_next", "note"))
    return _at_slots(session, where, catalogue, lambda slot: checked(slot, **value))


def _session_entry(session: Session, _where: Where, value: Mapping[str, Any], _catalogue: Catalogue) -> Session:
    _refuse_keys("session", value, ("name", "day"))
    return checked(session, **value)


def _refuse_keys(kind: str, value: Mapping[str, Any], known: tuple[str, ...]) -> None:
    for key in value:
        if key not in known:
            raise InputError(None, kind, f"has no key {key!r} that is changed so", f"use one of: {', '.join(known)}")


def _move_to(session: Session, where: Where, value: int, catalogue: Catalogue) -> Session:
    chosen = _slot_numbers(session, where.exercise, catalogue)
    if len(chosen) != 1:
        return session
    order = [number for number in range(1, len(session.exercises) + 1) if number != chosen[0]]
    order.insert(value - 1, chosen[0])
    return _order(session, where, order, catalogue)


def _order(session: Session, _where: Where, value: Sequence[int], _catalogue: Catalogue) -> Session:
    if sorted(value) != list(range(1, len(session.exercises) + 1)):
        shown = ", ".join(f"{number} {slot.exercise}" for number, slot in enumerate(session.exercises, start=1))
        raise InputError(None, "order", "does not name every exercise once", f"use each of: {shown}")
    slots = [session.exercises[number - 1] for number in value]
    if slots[-1].alternate_with_next:
        problem = f"{slots[-1].exercise} alternates with the next and would be last"
        raise InputError(None, "order", problem, "put its partner after it")
    return checked(session, exercises=slots)


def _add(session: Session, _where: Where, value: ExerciseSlot | Mapping[str, Any], _catalogue: Catalogue) -> Session:
    return checked(session, exercises=[*session.exercises, value])


#: Changes of set groups by one number, several of which are made at once.
_QUICK: Final = GROUP_CHANGES.keys() - {"load_as", "set_group", "by_week"}
_SESSION_CHANGES: Final[dict[str, Callable[..., Session]]] = {
    **{kind: partial(_groups, kind=kind) for kind in GROUP_CHANGES},
    "exchange": _exchange,
    "leave_out": _leave_out,
    "set_groups": _set_groups,
    "add_group": _add_group,
    "leave_out_group": _leave_out_group,
    "slot": _slot_entry,
    "session": _session_entry,
    "move_to": _move_to,
    "order": _order,
    "add": _add,
}
