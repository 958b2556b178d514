"""What changed from one revision of a block to another, in a coach's words."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from workbench.gym.equipment.loads import Unit
from workbench.lifter import Lifter
from workbench.prescription.block import Block, Drops, ExerciseSlot, Session, SetGroup
from workbench.present.words import say_load
from workbench.publish.commit.record import Committed

__all__ = ["block_differences", "differences"]

_UNITS = {"percent": " %", "rest_s": " s", "kg": " kg", "lb": " lb", "seconds_per_rep": " s a rep"}
_WORDS = {
    "count": "sets",
    "rest_s": "rest",
    "percent": "load",
    "kg": "load",
    "lb": "load",
    "reps_in_reserve": "reps in reserve",
    "part": "part of the earlier group's load",
    "part_of_group": "earlier group",
    "seconds_per_rep": "tempo",
}


def differences(old: Committed, new: Committed) -> list[str]:
    """Return what changed, one sentence a change: block, lifters, room, and what the predictions make of it."""
    found = block_differences(old.block, new.block)
    found += _lifters(old.lifters, new.lifters, new.room.unit)
    # Compared by content: a room also remembers its file, which is another in every folder.
    if old.room.model_dump() != new.room.model_dump():
        before, after = old.room.name, new.room.name
        found.append(f"Room: {before} became {after}." if before != after else f"Room {before}: its equipment changed.")
    if old.room.catalogue != new.room.catalogue:
        found.append("The own exercises changed.")
    for name, before in old.manifest["chance_of_block"].items():
        after = new.manifest["chance_of_block"].get(name)
        if after is not None and after != before:
            found.append(
                f"{name}: the chance that all reps of the block are made went from {before:.0%} to {after:.0%}."
            )
    if any(old.manifest.get(key) != new.manifest.get(key) for key in ("data", "version", "code")):
        found.append("The numbers or the version that predict changed in between.")
    return found


def block_differences(old: Block, new: Block) -> list[str]:
    """Return what changed between two blocks."""
    found: list[str] = []
    if old.name != new.name:
        found.append(f"The block is now called {new.name} ({old.name} before).")
    if old.weeks != new.weeks:
        found.append(f"Weeks: {old.weeks} became {new.weeks}.")
    before, after = ({one.week: one for one in block.lighter_weeks} for block in (old, new))
    for week in sorted(set(before) | set(after)):
        if week not in after:
            found.append(f"Week {week} is no longer a lighter week.")
        elif week not in before:
            one = after[week]
            found.append(f"Week {week} is now lighter: {one.load:.0%} of the load, {one.sets:.0%} of the sets.")
        elif before[week] != after[week]:
            was, now = before[week], after[week]
            loads, sets = f"{was.load:.0%} became {now.load:.0%}", f"{was.sets:.0%} became {now.sets:.0%}"
            found.append(f"Lighter week {week}: load {loads}, sets {sets}.")
    chance, longest = new.limits.chance_of_reps, new.limits.session_minutes
    if old.limits.chance_of_reps != chance:
        found.append(f"Lowest accepted chance of a set: {old.limits.chance_of_reps:.0%} became {chance:.0%}.")
    if old.limits.session_minutes != longest:
        found.append(f"Longest session: {_minutes(old.limits.session_minutes)} became {_minutes(longest)}.")
    found += _sessions(old.expanded_sessions(), new.expanded_sessions())
    if old.note != new.note:
        found.append("The note of the block changed.")
    return found


def _minutes(value: float | None) -> str:
    return "no limit" if value is None else f"{value:g} min"


def _sessions(old: list[Session], new: list[Session]) -> list[str]:
    before, after = ({one.name: one for one in sessions} for sessions in (old, new))
    found = [f"Session {name} was taken out." for name in before if name not in after]
    found += [f"Session {name} was added." for name in after if name not in before]
    kept = [name for name in after if name in before]
    if kept != [name for name in before if name in after]:
        found.append(f"The sessions come in another order: {', '.join(kept)}.")
    for name in kept:
        if before[name].day != after[name].day:
            found.append(
                f"{name}: moved from day {before[name].day or 'open'} to day {after[name].day or 'open'} of the week."
            )
        found += [f"{name}: {text}" for text in _slots(before[name].exercises, after[name].exercises)]
    return found


def _keyed(slots: Iterable[ExerciseSlot]) -> dict[tuple[str, int], ExerciseSlot]:
    keyed: dict[tuple[str, int], ExerciseSlot] = {}
    for slot in slots:
        turn = sum(name == slot.exercise for name, _ in keyed)
        keyed[slot.exercise, turn] = slot
    return keyed


def _slots(old: list[ExerciseSlot], new: list[ExerciseSlot]) -> list[str]:
    before, after = _keyed(old), _keyed(new)
    found = [f"{name} was taken out." for name, turn in before if (name, turn) not in after]
    found += [f"{name} was added." for name, turn in after if (name, turn) not in before]
    kept = [key for key in after if key in before]
    if kept != [key for key in before if key in after]:
        found.append(f"the exercises come in another order: {', '.join(name for name, _ in kept)}.")
    for key in kept:
        was, now = before[key], after[key]
        if was.equipment != now.equipment:
            found.append(f"{key[0]}: done with {now.equipment or 'the first that fits'}.")
        if was.ramp != now.ramp:
            found.append(f"{key[0]}: {'with' if now.ramp else 'without'} ramp sets.")
        found += [f"{key[0]}{text}" for text in _groups(was.sets, now.sets)]
        others = [
            field
            for field in ExerciseSlot.model_fields
            if field not in {"exercise", "equipment", "ramp", "sets"} and getattr(was, field) != getattr(now, field)
        ]
        found += [f"{key[0]}: {field.replace('_', ' ')} changed." for field in others]
    return found


def _groups(old: list[SetGroup], new: list[SetGroup]) -> list[str]:
    found = []
    for number in range(max(len(old), len(new))):
        place = f", group {number + 1}" if max(len(old), len(new)) > 1 else ""
        if number >= len(new):
            found.append(f"{place}: taken out.")
        elif number >= len(old):
            found.append(f"{place}: added ({_describe(new[number])}).")
        elif old[number] != new[number]:
            found.append(f"{place}: {'; '.join(_group(old[number], new[number]))}.")
    return found


def _group(old: SetGroup, new: SetGroup) -> list[str]:
    found = []
    for field in SetGroup.model_fields:
        was, now = getattr(old, field), getattr(new, field)
        if was == now:
            continue
        if field == "reps":
            found.append(f"reps {_reps(was)} became {_reps(now)}")
        elif field == "progression":
            found.append(f"from week to week: {_rule(was)} became {_rule(now)}")
        elif field == "drops":
            found.append(f"drops: {_drops(was)} became {_drops(now)}")
        elif field == "each_hand":
            found.append(f"the load is that of {'one hand' if now else 'both hands'}")
        elif field == "note":
            found.append("the note changed")
        else:
            word, unit = _WORDS.get(field, field.replace("_", " ")), _UNITS.get(field, "")
            found.append(f"{word} {_number(was, unit)} became {_number(now, unit)}")
    return found


def _describe(group: SetGroup) -> str:
    return f"{group.count} x {_reps(group.reps)}, rest {group.rest_s:g} s"


def _number(value: Any, unit: str) -> str:
    return "none" if value is None else f"{value:g}{unit}" if isinstance(value, int | float) else str(value)


def _reps(reps: tuple[int, float]) -> str:
    low, high = reps
    return "to failure" if high == float("inf") else f"{low:g}" if low == high else f"{low:g} to {high:g}"


def _drops(drops: Drops | None) -> str:
    if drops is None:
        return "none"
    sizes = " and ".join(f"{size:g} %" for size in drops.sizes)
    return f"{sizes} ({_reps(drops.reps)} reps, {drops.change_s:g} s to change)"


def _rule(rule: Any) -> str:
    if rule is None:
        return "no change"
    if rule.rule == "step":
        reps = f" and {rule.reps_step:+d} reps" if rule.reps_step else ""
        return f"{rule.step:+g}{reps} every week"
    if rule.rule == "wave":
        return f"a wave of {rule.length} weeks, {rule.step:+g} each, {rule.rise:+g} from wave to wave"
    if rule.rule == "reps then load":
        return f"reps up by {rule.reps_step} to {rule.reps_to}, then {rule.step:+g}"
    return "by week " + ", ".join(f"{load:g}" for load in rule.load)


def _lifters(old: tuple[Lifter, ...], new: tuple[Lifter, ...], unit: Unit) -> list[str]:
    before, after = ({one.name: one for one in lifters} for lifters in (old, new))
    found = [f"{name} is no longer in it." for name in before if name not in after]
    found += [f"{name} was added." for name in after if name not in before]
    for name in after:
        if name not in before or before[name].model_dump() == after[name].model_dump():
            continue
        was, now, hands = before[name].lifts, after[name].lifts, after[name].catalogue.hands_of
        parts = [
            f"1RM of {lift} {say_load(was[lift].one_rm, unit, hands=hands(lift), digits=1)} became "
            f"{say_load(now[lift].one_rm, unit, hands=hands(lift), digits=1)}"
            for lift in now
            if lift in was and was[lift].one_rm != now[lift].one_rm
        ]
        found.append(f"{name}: {'; '.join(parts) if parts else 'what is known of this lifter changed'}.")
    return found
