"""What stands on a sheet, week by week, as plain text: the workbook and the printed page show the same lines."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from workbench.answers.exchange import Exclusions
from workbench.gym.catalogue import Catalogue, cautions, cautions_for, general_cautions
from workbench.present.words import load_said, put_on_said, reps_said, whole_reserve

if TYPE_CHECKING:
    from workbench.answers.block_check import BlockCheck
    from workbench.gym.equipment import LoadTable, Room
    from workbench.prescription.block import ExerciseSlot
    from workbench.simulate.plan import PlannedSession, PlannedSet

__all__ = ["Sheet", "SheetLine", "SheetSession", "SheetWeek", "always_shown", "make_sheet"]

#: Nobody can tell more reps in reserve than this apart.
_FAR_FROM_FAILURE: Final = 5
#: Progressions are worked out for as many weeks as a block can have; the week asked for is then taken.
_WEEKS: Final = 52


@dataclass(frozen=True)
class SheetLine:
    """One set, or one drop of a set.

    Attributes
    ----------
    exercise : str
    number, drop : int
        Running number of the set within the exercise, and of the drop within the set: 0 for the set itself.
    load, unit : float, str
        The load to put on, in the unit of the equipment: of two dumbbells that of one hand, as it is written down.
    said : str
        The same in words, as `workbench.present.words.load_said` says it.
    how : str
        How that load is put together: bar and plates per side, pin and add-ons.
    reps : str
    reserve : str
        Reps in reserve that the block asks for, 0 for a set to failure; empty where it asks for none.
    forecast : str
        Reps in reserve to expect after the fewest reps, or how many reps the set will likely be short.
    rest_s : float or None
        Rest before the set, [s]; None before the first of an exercise.
    before : str
        Ramp sets to do before, and notes of the block.
    """

    exercise: str
    number: int
    drop: int
    load: float
    unit: str
    said: str
    how: str
    reps: str
    reserve: str
    forecast: str
    rest_s: float | None
    before: str

    @property
    def label(self) -> str:
        """The set in the column of sets, as the log reader takes it back: "2", or "2, drop 1"."""
        return f"{self.number}, drop {self.drop}" if self.drop else str(self.number)


@dataclass(frozen=True)
class SheetSession:
    """One session of one week: its lines, its date where known, about how long it takes, and its cautions."""

    name: str
    date: datetime.date | None
    minutes: float
    lines: tuple[SheetLine, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True)
class SheetWeek:
    """One week."""

    number: int
    sessions: tuple[SheetSession, ...]


@dataclass(frozen=True)
class Sheet:
    """A whole block for one lifter.

    Attributes
    ----------
    block, lifter, note : str
    weeks : tuple of SheetWeek
    unit : str
        The unit that most loads are given in; the column of loads done is headed with it.
    cautions : tuple of str
        For any training.
    """

    block: str
    lifter: str
    note: str
    weeks: tuple[SheetWeek, ...]
    unit: str
    cautions: tuple[str, ...]


def always_shown() -> tuple[str, ...]:
    """Return the general cautions that every page shows where someone could act on a number."""
    shown = [one for one in general_cautions() if one.show == "always"]
    return tuple(one.sentence for one in (*shown, cautions()["spotters"]))


def make_sheet(check: BlockCheck, room: Room, *, start: datetime.date | None = None) -> Sheet:
    """Lay out the sheet of a checked block.

    Parameters
    ----------
    check : BlockCheck
        As from `workbench.answers.block_check.check_block`, with the same room.
    room : Room
    start : date, optional
        The Monday of the first week; sessions that state their weekday are then dated.

    Returns
    -------
    Sheet
    """
    plan = check.plan
    slots = [session.exercises for session in plan.block.expanded_sessions()]
    predicted = {
        (int(row["week"]), int(row["session_number"]), int(row["slot"]), str(row["set"])): (
            load_said(row),
            float(row["reserve"]),
        )
        for row in check.sets.to_dict("records")
    }
    avoided = Exclusions.of(plan.lifter).positions
    weeks = []
    for week in range(plan.weeks):
        sessions = [
            _session(
                planned, slots[number - 1], room, week, _date(planned.day, week, start), predicted, number, avoided
            )
            for number, planned in enumerate(plan.sessions, start=1)
            if any(one.active[week] for one in planned.sets)
        ]
        weeks.append(SheetWeek(week + 1, tuple(sessions)))
    units = [line.unit for one in weeks for session in one.sessions for line in session.lines]
    unit = max(sorted(set(units)), key=units.count) if units else room.unit
    return Sheet(
        block=plan.block.name,
        lifter=plan.lifter.name,
        note=plan.block.note,
        weeks=tuple(weeks),
        unit=unit,
        cautions=always_shown(),
    )


def _date(day: int | None, week: int, start: datetime.date | None) -> datetime.date | None:
    if day is None or start is None:
        return None
    monday = start - datetime.timedelta(days=start.weekday())
    return monday + datetime.timedelta(weeks=week, days=day - 1)


def _session(
    planned: PlannedSession,
    slots: list[ExerciseSlot],
    room: Room,
    week: int,
    date: datetime.date | None,
    predicted: dict[tuple[int, int, int, str], tuple[str, float]],
    number: int,
    avoided: frozenset[str],
) -> SheetSession:
    lines: list[SheetLine] = []
    numbers: dict[str, int] = {}
    seen: set[int] = set()
    tables = [room.loads_for(room.catalogue.exercise(slot.exercise), slot.equipment) for slot in slots]
    for one in planned.sets:
        if not one.active[week]:
            continue
        slot = slots[one.slot - 1]
        table = tables[one.slot - 1]
        numbers[one.exercise] = numbers.get(one.exercise, 0) + (not one.drop)
        said, left = predicted[week + 1, number, one.slot, one.label]
        first = one.slot not in seen
        seen.add(one.slot)
        index_of_load = int(table.round(float(one.load_kg[week]) - _body(one)))
        lines.append(
            SheetLine(
                exercise=one.exercise,
                number=numbers[one.exercise],
                drop=one.drop,
                load=float(table.in_unit[index_of_load]) / table.hands,
                unit=table.unit,
                said=said,
                how=table.assembly(index_of_load).text(table.unit),
                reps=_reps(one, week, each_side=room.catalogue.exercise(one.exercise).sides == "one-sided"),
                reserve=_asked_reserve(one, slot, week),
                forecast=_forecast(one, week, left),
                rest_s=None if first else float(np.ravel(one.rest_s)[week]),
                before=_before(planned, one, slots, week, table, room.catalogue) if first else "",
            )
        )
    exercises = [room.catalogue.exercise(name) for name in dict.fromkeys(line.exercise for line in lines)]
    by_exercises: dict[tuple[str, ...], list[str]] = {}
    for caution, names in cautions_for(exercises).items():
        if caution.show == "always" or caution.topic in avoided:
            by_exercises.setdefault(names, []).append(caution.sentence)
    shown = [f"{', '.join(names)}: {' '.join(sentences)}" for names, sentences in by_exercises.items()]
    return SheetSession(
        name=planned.name,
        date=date,
        minutes=float(np.ravel(planned.duration_s)[week]) / 60.0,
        lines=tuple(lines),
        cautions=tuple(shown),
    )


def _body(one: PlannedSet) -> float:
    return float(one.body_kg)


def _reps(one: PlannedSet, week: int, *, each_side: bool) -> str:
    reps = reps_said(float(one.reps_low[week]), float(one.reps_high[week]))
    sides = " each side" if each_side else ""
    return f"{reps}{sides}, drop {one.drop} straight after" if one.drop else f"{reps}{sides}"


def _asked_reserve(one: PlannedSet, slot: ExerciseSlot, week: int) -> str:
    """Reps in reserve that the coach asks for, none where the load is given in another way."""
    if np.isinf(one.reps_high[week]):
        return "0"
    group = slot.sets[one.group - 1]
    if group.reps_in_reserve is not None and not one.drop:
        asked = group.reps_in_reserve
        if group.progression is not None:
            asked = float(group.progression.weekly(asked, group.reps, _WEEKS)[0][week])
        return f"{max(asked, 0):g}"
    return ""


def _forecast(one: PlannedSet, week: int, reserve: float) -> str:
    """Reps in reserve to expect after the fewest reps that count as made, as on the map and in the terminal."""
    low, high = float(one.reps_low[week]), float(one.reps_high[week])
    if np.isinf(high):
        return ""
    left = whole_reserve(reserve)
    if left < 0:
        return f"likely {-left} short"
    after = f" after {low:.0f}" if high > low else ""
    return f"{_FAR_FROM_FAILURE}+{after}" if left >= _FAR_FROM_FAILURE else f"about {left}{after}"


def _before(
    planned: PlannedSession,
    one: PlannedSet,
    slots: list[ExerciseSlot],
    week: int,
    table: LoadTable,
    catalogue: Catalogue,
) -> str:
    """Say what comes before the first set of an exercise, and what goes for all of its sets."""
    slot = slots[one.slot - 1]
    group = slot.sets[one.group - 1]
    parts = []
    steps = []
    for ramp in planned.ramps:
        if ramp.slot == one.slot:
            on_it, working = (int(table.round(float(kg[week]) - _body(one))) for kg in (ramp.load_kg, one.load_kg))
            if on_it < working:
                said = put_on_said(float(table.kg[on_it]) + _body(one), _body(one), table.unit, table.hands)
                steps.append(f"{said} for {ramp.reps}")
    if steps:
        parts.append("ramp " + ", ".join(steps))
    others = _alternating(slots, one.slot, catalogue)
    if others:
        parts.append(f"a set of each in turn with {', '.join(others)}, {group.rest_s:g} s after each set of this one")
    parts.extend(note for note in (slot.note, group.note) if note)
    return "; ".join(parts)


def _alternating(slots: list[ExerciseSlot], number: int, catalogue: Catalogue) -> list[str]:
    """Exercises whose sets alternate with those of a slot, counted from 1."""
    first = last = number - 1
    while first and slots[first - 1].alternate_with_next:
        first -= 1
    while slots[last].alternate_with_next:
        last += 1
    return [catalogue.exercise(slots[one].exercise).name for one in range(first, last + 1) if one != number - 1]
