"""What stands on a sheet, week by week, as plain text: the workbook and the printed page show the same lines."""

from __future__ import annotations

import datetime
from collections import Counter
from collections.abc import Hashable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from workbench.answers.days_that_fit import Pools
from workbench.answers.exchange import Exclusions, left_out
from workbench.answers.if_then import POOL, Branch, branches_of
from workbench.answers.session_under_way import Choice
from workbench.gym.catalogue import Catalogue, cautions, cautions_for, general_cautions
from workbench.present.words import load_said, put_on_said, reps_said, whole_reserve
from workbench.publish.sheets.rule_lines import rule_line
from workbench.quantities import SEED

if TYPE_CHECKING:
    from workbench.answers.block_check import BlockCheck
    from workbench.gym.equipment import LoadTable, Room
    from workbench.lifter import Lifter
    from workbench.prescription.block import ExerciseSlot, SetGroup
    from workbench.simulate.plan import PlannedSession, PlannedSet

__all__ = ["Sheet", "SheetLine", "SheetSession", "SheetWeek", "always_shown", "make_sheet"]

#: A row of `workbench.answers.block_tables.set_table`, and what it is found by: week, session, slot, label of the set.
_Row = Mapping[Hashable, Any]
_Key = tuple[int, int, int, str]

#: Nobody can tell more reps in reserve than this apart.
_FAR_FROM_FAILURE: Final = 5
#: Beside an exercise that the lifter file leaves out.
_LEFT_OUT: Final = "Do not do it: the lifter file leaves it out; ask what to do instead"
#: How far below the plan's a load beside an if-then may be, and simulated days behind it.
_MOST_DOWN: Final = 0.3
_IF_THEN_DRAWS: Final = 500
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
        Ramp (warm-up) sets to do before, and notes of the block.
    then : str
        What to do after this set, by what it showed; empty where that changes nothing. Beside the first set of a group
        with a rule, that rule.
    not_to_do : str
        Beside the first set: that the lifter file leaves the exercise out, and why.
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
    then: str = ""
    not_to_do: str = ""

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
    block, lifter : str
    weeks : tuple of SheetWeek
    unit : str
        The unit that most loads are given in; the column of loads done is headed with it.
    cautions : tuple of str
        For any training.
    forecast : bool
        Whether the reps in reserve to expect are printed.
    """

    block: str
    lifter: str
    weeks: tuple[SheetWeek, ...]
    unit: str
    cautions: tuple[str, ...]
    forecast: bool = False


def always_shown() -> tuple[str, ...]:
    """Return the general cautions that every page shows where someone could act on a number."""
    shown = [one for one in general_cautions() if one.show == "always"]
    return tuple(one.sentence for one in (*shown, cautions()["spotters"]))


def make_sheet(
    check: BlockCheck,
    room: Room,
    *,
    start: datetime.date | None = None,
    if_then: bool = True,
    forecast: bool = False,
    seed: int = SEED,
) -> Sheet:
    """Lay out the sheet of a checked block.

    Parameters
    ----------
    check : BlockCheck
        As from `workbench.answers.block_check.check_block`, with the same room.
    room : Room
    start : date, optional
        The Monday of the first week; sessions that state their weekday are then dated.
    if_then : bool
        Whether what to do after the first sets of a group stands beside it.
    forecast : bool
        Whether the reps in reserve to expect are printed.
    seed : int
        Of the lines of ``if_then``.

    Returns
    -------
    Sheet
    """
    plan = check.plan
    pools = Pools(plan, seed, size=POOL) if if_then else None
    rows = {(row["week"], row["session_number"], row["slot"], row["set"]): row for row in check.sets.to_dict("records")}
    weeks = tuple(
        SheetWeek(
            week,
            tuple(
                _session(check, room, week, number, rows, start, pools)
                for number, planned in enumerate(plan.sessions, start=1)
                if any(planned_set.active[week - 1] for planned_set in planned.sets)
            ),
        )
        for week in range(1, plan.weeks + 1)
    )
    units = [line.unit for week in weeks for session in week.sessions for line in session.lines]
    unit = max(sorted(set(units)), key=units.count) if units else room.unit
    return Sheet(plan.block.name, plan.lifter.name, weeks, unit, always_shown(), forecast)


def _session(
    check: BlockCheck,
    room: Room,
    week: int,
    number: int,
    rows: Mapping[_Key, _Row],
    start: datetime.date | None,
    pools: Pools | None,
) -> SheetSession:
    """Lay out one session of one week, both counted from 1."""
    planned = check.plan.sessions[number - 1]
    lines = tuple(_lines(check, room, week, number, rows, _branches(check, number - 1, week - 1, pools)))
    return SheetSession(
        name=planned.name,
        date=_date(planned.day, week, start),
        minutes=float(np.ravel(planned.duration_s)[week - 1]) / 60.0,
        lines=lines,
        cautions=_cautions(list(dict.fromkeys(line.exercise for line in lines)), check.plan.lifter, room.catalogue),
    )


def _lines(
    check: BlockCheck,
    room: Room,
    week: int,
    number: int,
    rows: Mapping[_Key, _Row],
    branches: Mapping[tuple[int, int], Sequence[Branch]],
) -> Iterator[SheetLine]:
    """Go through the sets of a session in the order in which they are done."""
    planned = check.plan.sessions[number - 1]
    slots = check.plan.block.expanded_sessions()[number - 1].exercises
    tables = [room.loads_for(room.catalogue.exercise(slot.exercise), slot.equipment) for slot in slots]
    warned = dict(left_out(check.plan.lifter, [room.catalogue.exercise(slot.exercise) for slot in slots]))
    sets_of: Counter[str] = Counter()
    seen: set[int] = set()
    told: set[tuple[int, int]] = set()  # set groups whose tempo and rule have been said
    for planned_set in planned.sets:
        if not planned_set.active[week - 1]:
            continue
        row = rows[week, number, planned_set.slot, planned_set.label]
        table = tables[planned_set.slot - 1]
        group = slots[planned_set.slot - 1].sets[planned_set.group - 1]
        sets_of[planned_set.exercise] += not planned_set.drop
        first = planned_set.slot not in seen
        seen.add(planned_set.slot)
        place_in_plan = planned_set.slot, planned_set.number
        place = int(table.round(row["load_kg"] - row["body_kg"]))
        before = _before(planned, planned_set, week, row, table, slots, room.catalogue) if first else ""
        why = warned.get(planned_set.exercise, "") if first else ""
        of_group = planned_set.slot, planned_set.group
        tempo = "" if group.seconds_per_rep is None or of_group in told else f"{group.seconds_per_rep:g} s a rep"
        then = "" if planned_set.drop else _then(branches.get(place_in_plan, ()), sets_of[planned_set.exercise])
        if group.adjust is not None and of_group not in told:
            count = sum(
                (one.slot, one.group, one.drop) == (*of_group, 0) for one in planned.sets if one.active[week - 1]
            )
            then = rule_line(group.adjust, count, row["load_kg"], row["body_kg"], table)
        told.add(of_group)
        yield SheetLine(
            exercise=planned_set.exercise,
            number=sets_of[planned_set.exercise],
            drop=planned_set.drop,
            load=float(table.in_unit[place]) / table.hands,
            unit=table.unit,
            said=load_said(row),
            how=table.assembly(place).text(table.unit),
            reps=_reps(row, each_side=room.catalogue.exercise(planned_set.exercise).sides == "one-sided"),
            reserve=_asked_reserve(row, group, week),
            forecast=_forecast(row),
            rest_s=None if first else float(row["rest_s"]),
            before="; ".join(part for part in (before, tempo) if part),
            then=then,
            not_to_do=f"{_LEFT_OUT} ({why})" if why else "",
        )


def _branches(check: BlockCheck, session: int, at: int, pools: Pools | None) -> dict[tuple[int, int], list[Branch]]:
    """Return what to do after a set, by its slot and its number in the plan; none in a group with a rule."""
    found: dict[tuple[int, int], list[Branch]] = {}
    if pools is not None:
        choice = Choice(check.limit, 0.0, _MOST_DOWN)
        slots = check.plan.sessions[session].of.exercises
        for branch in branches_of(check.plan, session, at, choice, pools, _IF_THEN_DRAWS):
            if slots[branch.slot - 1].sets[branch.group - 1].adjust is None:
                found.setdefault((branch.slot, branch.after), []).append(branch)
    return found


def _before(
    planned: PlannedSession,
    first: PlannedSet,
    week: int,
    row: _Row,
    table: LoadTable,
    slots: list[ExerciseSlot],
    catalogue: Catalogue,
) -> str:
    """Say what comes before the first set of an exercise: ramp sets, turns with others, notes of the block."""
    slot = slots[first.slot - 1]
    group = slot.sets[first.group - 1]
    ramps = [ramp for ramp in planned.ramps if ramp.slot == first.slot]
    steps = _ramp_steps([(float(ramp.load_kg[week - 1]), ramp.reps) for ramp in ramps], row, table)
    turns = _turns(slots, first.slot, catalogue, group.rest_s)
    return "; ".join(part for part in (steps, turns, slot.note, group.note) if part)


def _then(branches: Sequence[Branch], number: int) -> str:
    said = "; ".join(f"{branch.seen}: {branch.instead(number)}" for branch in branches)
    return f"After set {number}, {said}" if said else ""


def _date(day: int | None, week: int, start: datetime.date | None) -> datetime.date | None:
    if day is None or start is None:
        return None
    monday = start - datetime.timedelta(days=start.weekday())
    return monday + datetime.timedelta(weeks=week - 1, days=day - 1)


def _cautions(names: list[str], lifter: Lifter, catalogue: Catalogue) -> tuple[str, ...]:
    """Return what is always shown with these exercises, and what concerns the positions that the lifter avoids."""
    avoided = Exclusions.of(lifter).positions
    by_exercises: dict[tuple[str, ...], list[str]] = {}
    for caution, concerned in cautions_for([catalogue.exercise(name) for name in names]).items():
        if caution.show == "always" or caution.topic in avoided:
            by_exercises.setdefault(concerned, []).append(caution.sentence)
    return tuple(f"{', '.join(concerned)}: {' '.join(said)}" for concerned, said in by_exercises.items())


def _reps(row: _Row, *, each_side: bool) -> str:
    sides = " each side" if each_side else ""
    after = f", drop {row['drop']} straight after" if row["drop"] else ""
    return f"{reps_said(row['reps_low'], row['reps_high'])}{sides}{after}"


def _asked_reserve(row: _Row, group: SetGroup, week: int) -> str:
    """Reps in reserve that the coach asks for, none where the load is given in another way."""
    if np.isinf(row["reps_high"]):
        return "0"
    asked = group.reps_in_reserve
    if asked is None or row["drop"]:
        return ""
    if group.progression is not None:
        asked = float(group.progression.weekly(asked, group.reps, _WEEKS)[0][week - 1])
    return f"{max(asked, 0):g}"


def _forecast(row: _Row) -> str:
    """Reps in reserve to expect after the fewest reps that count as made, as on the map and in the terminal."""
    if np.isnan(row["reserve"]):
        return ""
    left = whole_reserve(row["reserve"])
    if left < 0:
        return f"likely {-left} short"
    after = f" after {row['reps_low']:.0f}" if row["reps_high"] > row["reps_low"] else ""
    return f"{_FAR_FROM_FAILURE}+{after}" if left >= _FAR_FROM_FAILURE else f"about {left}{after}"


def _ramp_steps(ramps: list[tuple[float, int]], row: _Row, table: LoadTable) -> str:
    """Say the ramp sets, loads in kg and reps, that come out lighter than the working load in this room."""
    body = row["body_kg"]
    working = table.round(row["load_kg"] - body)
    places = [(int(table.round(kg - body)), reps) for kg, reps in ramps]
    steps = [
        f"{put_on_said(float(table.kg[place]) + body, body, table.unit, table.hands)} for {reps}"
        for place, reps in places
        if place < working
    ]
    return f"warm-up {', '.join(steps)}" if steps else ""


def _turns(slots: list[ExerciseSlot], number: int, catalogue: Catalogue, rest_s: float) -> str:
    """Say with which exercises the sets of a slot, counted from 1, alternate."""
    first = last = number - 1
    while first and slots[first - 1].alternate_with_next:
        first -= 1
    while slots[last].alternate_with_next:
        last += 1
    others = [*slots[first : number - 1], *slots[number : last + 1]]
    names = ", ".join(catalogue.exercise(slot.exercise).name for slot in others)
    return f"a set of each in turn with {names}, {rest_s:g} s after each set of this one" if others else ""
