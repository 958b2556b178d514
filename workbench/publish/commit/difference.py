"""What changed from one revision of a block to another, in a coach's words."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from itertools import zip_longest
from typing import Any

from workbench.gym.equipment.loads import Unit
from workbench.lifter import Lifter
from workbench.prescription.block import Block, Drops, ExerciseSlot, Session, SetGroup
from workbench.present.words import in_words, percent_said, reps_said, say_load
from workbench.publish.commit.record import Committed

__all__ = ["block_differences", "differences"]

#: A name, and how many of the same name come before it.
_Key = tuple[str, int]

#: What a number of a set group is called, and its unit; others go by their own name.
_NUMBERS = {
    "count": ("sets", ""),
    "rest_s": ("rest", " s"),
    "percent": ("load", " %"),
    "kg": ("load", " kg"),
    "lb": ("load", " lb"),
    "part": ("part of the earlier group's load", ""),
    "part_of_group": ("earlier group", ""),
    "seconds_per_rep": ("tempo", " s a rep"),
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
                f"{name}: the chance that all reps of the block are made went from {in_words(before)} "
                f"to {in_words(after)}."
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
    found += _lighter_weeks(old, new)
    was, now = old.limits, new.limits
    if was.chance_of_reps != now.chance_of_reps:
        limits = f"{percent_said(was.chance_of_reps)} became {percent_said(now.chance_of_reps)}"
        found.append(f"Lowest accepted chance of a set: {limits}.")
    if was.session_minutes != now.session_minutes:
        found.append(f"Longest session: {_minutes(was.session_minutes)} became {_minutes(now.session_minutes)}.")
    found += _sessions(old.expanded_sessions(), new.expanded_sessions())
    if old.note != new.note:
        found.append("The note of the block changed.")
    return found


def _lighter_weeks(old: Block, new: Block) -> list[str]:
    before, after = ({lighter.week: lighter for lighter in block.lighter_weeks} for block in (old, new))
    found = []
    for week in sorted(set(before) | set(after)):
        was, now = before.get(week), after.get(week)
        if now is None:
            found.append(f"Week {week} is no longer a lighter week.")
        elif was is None:
            loads, sets = percent_said(now.load), percent_said(now.sets)
            found.append(f"Week {week} is now lighter: {loads} of the load, {sets} of the sets.")
        elif was != now:
            loads = f"{percent_said(was.load)} became {percent_said(now.load)}"
            sets = f"{percent_said(was.sets)} became {percent_said(now.sets)}"
            found.append(f"Lighter week {week}: load {loads}, sets {sets}.")
    return found


def _minutes(value: float | None) -> str:
    return "no limit" if value is None else f"{value:g} min"


def _by_name(parts: Iterable[Any], attribute: str) -> dict[tuple[str, int], Any]:
    """Return parts by their name, and by how many of the same name come before them."""
    turns: Counter[str] = Counter()
    named = {}
    for part in parts:
        name = getattr(part, attribute)
        named[name, turns[name]] = part
        turns[name] += 1
    return named


def _members(old: Iterable[_Key], new: Iterable[_Key], what: str, order: str) -> list[str]:
    """Say what was taken out and added, and where those that stayed come in another order."""
    before, after = list(old), list(new)
    found = [f"{what}{name} was taken out." for name, turn in before if (name, turn) not in after]
    found += [f"{what}{name} was added." for name, turn in after if (name, turn) not in before]
    kept = [key for key in after if key in before]
    if kept != [key for key in before if key in after]:
        found.append(f"{order} come in another order: {', '.join(name for name, _ in kept)}.")
    return found


def _sessions(old: list[Session], new: list[Session]) -> list[str]:
    before, after = _by_name(old, "name"), _by_name(new, "name")
    found = _members(before, after, "Session ", "The sessions")
    for key in (key for key in after if key in before):
        name, was, now = key[0], before[key], after[key]
        if was.day != now.day:
            found.append(f"{name}: moved from day {was.day or 'open'} to day {now.day or 'open'} of the week.")
        found += [f"{name}: {text}" for text in _slots(was.exercises, now.exercises)]
    return found


def _slots(old: list[ExerciseSlot], new: list[ExerciseSlot]) -> list[str]:
    before, after = _by_name(old, "exercise"), _by_name(new, "exercise")
    found = _members(before, after, "", "the exercises")
    for key in (key for key in after if key in before):
        name, was, now = key[0], before[key], after[key]
        if was.equipment != now.equipment:
            found.append(f"{name}: done with {now.equipment or 'the first that fits'}.")
        if was.ramp != now.ramp:
            found.append(f"{name}: {'with' if now.ramp else 'without'} ramp sets.")
        found += [f"{name}{text}" for text in _groups(was.sets, now.sets)]
        found += [
            f"{name}: {field.replace('_', ' ')} changed."
            for field in ExerciseSlot.model_fields
            if field not in {"exercise", "equipment", "ramp", "sets"} and getattr(was, field) != getattr(now, field)
        ]
    return found


def _groups(old: list[SetGroup], new: list[SetGroup]) -> list[str]:
    found = []
    for number, (was, now) in enumerate(zip_longest(old, new), start=1):
        place = f", group {number}" if max(len(old), len(new)) > 1 else ""
        if now is None:
            found.append(f"{place}: taken out.")
        elif was is None:
            found.append(f"{place}: added ({now.count} x {reps_said(*now.reps)}, rest {now.rest_s:g} s).")
        elif was != now:
            found.append(f"{place}: {'; '.join(_group(was, now))}.")
    return found


def _group(old: SetGroup, new: SetGroup) -> list[str]:
    found = []
    for field in SetGroup.model_fields:
        was, now = getattr(old, field), getattr(new, field)
        if was == now:
            continue
        if field == "reps":
            found.append(f"reps {reps_said(*was)} became {reps_said(*now)}")
        elif field == "progression":
            found.append(f"from week to week: {_rule(was)} became {_rule(now)}")
        elif field == "drops":
            found.append(f"drops: {_drops(was)} became {_drops(now)}")
        elif field == "each_hand":
            found.append(f"the load is that of {'one hand' if now else 'both hands'}")
        elif field == "note":
            found.append("the note changed")
        else:
            word, unit = _NUMBERS.get(field, (field.replace("_", " "), ""))
            found.append(f"{word} {_number(was, unit)} became {_number(now, unit)}")
    return found


def _number(value: Any, unit: str) -> str:
    return "none" if value is None else f"{value:g}{unit}" if isinstance(value, int | float) else str(value)


def _drops(drops: Drops | None) -> str:
    if drops is None:
        return "none"
    sizes = " and ".join(f"{size:g} %" for size in drops.sizes)
    return f"{sizes} ({reps_said(*drops.reps)} reps, {drops.change_s:g} s to change)"


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
    before, after = ({lifter.name: lifter for lifter in lifters} for lifters in (old, new))
    found = [f"{name} is no longer in it." for name in before if name not in after]
    found += [f"{name} was added." for name in after if name not in before]
    for name in (name for name in after if name in before):
        if before[name].model_dump() == after[name].model_dump():
            continue
        was, now, hands = before[name].lifts, after[name].lifts, after[name].catalogue.hands_of
        parts = [
            f"1RM of {lift} {say_load(was[lift].one_rm, unit, hands=hands(lift), digits=1)} became "
            f"{say_load(now[lift].one_rm, unit, hands=hands(lift), digits=1)}"
            for lift in now
            if lift in was and was[lift].one_rm != now[lift].one_rm
        ]
        gyms = [one.gym.said if one.gym is not None else "studies" for one in (before[name], after[name])]
        if before[name].gym != after[name].gym:
            parts.append(f"what is not known is that of {gyms[1]}, before that of {gyms[0]}")
        found.append(f"{name}: {'; '.join(parts) if parts else 'what is known of this lifter changed'}.")
    return found
