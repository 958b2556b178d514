"""Changes of a block as a whole and of its list of sessions, each a pure function of the block, a place and a value.

Only `workbench.prescription.edit` calls these.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, Final

from workbench.prescription.block import Block, LighterWeek, Session, SetGroup
from workbench.prescription.group_changes import checked
from workbench.prescription.progression import ByWeek
from workbench.quantities import InputError
from workbench.reference.toml_files import validate

__all__ = ["BLOCK_CHANGES"]


def _entry(block: Block, _number: int | None, value: Mapping[str, Any]) -> Block:
    unknown = sorted(value.keys() - Block.model_fields.keys() | value.keys() & {"sessions"})
    if unknown:
        known = ", ".join(key for key in Block.model_fields if key != "sessions")
        raise InputError(None, "of_block", f"has no key {unknown[0]!r} that is changed so", f"use one of: {known}")
    weeks = value.get("weeks", block.weeks)
    if weeks == block.weeks or type(weeks) is not int or not 1 <= weeks <= 52:
        return checked(block, **value)
    fitted = {
        "sessions": [_for_weeks(session, weeks) for session in block.sessions],
        "lighter_weeks": [lighter for lighter in block.lighter_weeks if lighter.week <= weeks],
    }
    return checked(block, **(fitted | dict(value)))


def _for_weeks(session: Session, weeks: int) -> Session:
    """Return a session whose sets written out by week hold so many weeks: the last goes on, or the last are gone."""
    slots = [
        slot.model_copy(update={"sets": [_group_for_weeks(group, weeks) for group in slot.sets]})
        for slot in session.exercises
    ]
    return session.model_copy(update={"exercises": slots})


def _group_for_weeks(group: SetGroup, weeks: int) -> SetGroup:
    rule = group.progression
    if not isinstance(rule, ByWeek):
        return group
    fitted = {
        key: [*values, *[values[-1]] * (weeks - len(values))][:weeks]
        for key in ("load", "reps", "sets")
        if (values := getattr(rule, key)) is not None
    }
    return group.model_copy(update={"progression": rule.model_copy(update=fitted)})


def _add_session(block: Block, _number: int | None, value: Session | Mapping[str, Any]) -> Block:
    return checked(block, sessions=[*block.sessions, value])


def _copy_session(block: Block, number: int | None, value: Mapping[str, Any]) -> Block:
    """Add a session like another one: ``name``, and at will ``day``, ``percent_change`` and ``reps_change``."""
    original = block.sessions[_one(number, "copy_session") - 1]
    repeat = {"day": None, **value, "repeat_of": original.name}
    copied = checked(block, sessions=[*block.sessions, validate(repeat, Session)])
    return checked(copied, sessions=[*copied.sessions[:-1], copied.expanded_sessions()[-1]])


def _leave_out_session(block: Block, number: int | None, value: bool) -> Block:
    out = _one(number, "leave_out_session")
    if not value:
        return block
    if len(block.sessions) == 1:
        raise InputError(None, "leave_out_session", "would leave no session", "add another session first")
    return checked(block, sessions=[kept for at, kept in enumerate(block.expanded_sessions(), start=1) if at != out])


def _session_to(block: Block, number: int | None, value: int) -> Block:
    sessions = block.expanded_sessions()
    moved = sessions.pop(_one(number, "session_to") - 1)
    if not 1 <= value <= len(sessions) + 1:
        raise InputError(None, "session_to", f"{value} is no place", f"use 1 to {len(sessions) + 1}")
    sessions.insert(value - 1, moved)
    return checked(block, sessions=sessions)


def _one(number: int | None, kind: str) -> int:
    if number is None:
        raise InputError(None, kind, "is of one session", "name it in the place")
    return number


def _lighter_week(block: Block, _number: int | None, value: LighterWeek | Mapping[str, Any]) -> Block:
    week = value if isinstance(value, LighterWeek) else validate(dict(value), LighterWeek)
    others = [lighter for lighter in block.lighter_weeks if lighter.week != week.week]
    return checked(block, lighter_weeks=sorted([*others, week], key=lambda lighter: lighter.week))


def _lighter_load(block: Block, _number: int | None, value: float) -> Block:
    weeks = block.lighter_weeks or [LighterWeek(week=block.weeks)]
    return checked(block, lighter_weeks=[checked(lighter, load=value) for lighter in weeks])


#: Changes of the whole, by the keyword of `change`; the number is that of the session in the place, None without one.
BLOCK_CHANGES: Final[dict[str, Callable[[Block, int | None, Any], Block]]] = {
    "of_block": _entry,
    "add_session": _add_session,
    "copy_session": _copy_session,
    "leave_out_session": _leave_out_session,
    "session_to": _session_to,
    "lighter_week": _lighter_week,
    "lighter_load": _lighter_load,
}
