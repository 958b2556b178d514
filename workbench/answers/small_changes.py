"""The changes of a set group that a coach would call small, in words, the smallest of each kind first."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from workbench.answers.block_tables import FirstBreak
from workbench.prescription.block import Block, SetGroup
from workbench.prescription.edit import group_at
from workbench.prescription.progression import ByWeek, RepsThenLoad, Step
from workbench.present.words import percent_said
from workbench.simulate.plan import Plan

__all__ = [
    "MOST_POINTS",
    "MOST_REST_S",
    "SLOWEST",
    "Change",
    "beyond_small",
    "clashes",
    "small_changes",
]

#: The largest changes that are still small: points of percent taken off (or parts of a hundred of another load), rest
#: added, s, and the part of a climb that is left.
MOST_POINTS: Final = 5
MOST_REST_S: Final = 60
SLOWEST: Final = 0.5
_REST_STEP_S: Final = 15
#: A climb is slowed by so many points a week at a time; one in kg or lb by this part of it.
_CLIMB_STEP, _CLIMB_PART = 0.5, 0.25
#: At most this part of the weeks is weak by itself.
_MOST_WEEKS: Final = 0.5
#: What is said of a change that is no longer small.
_BEYOND_POINTS: Final = (7.5, 10.0, 12.5, 15.0, 17.5, 20.0)
_BEYOND_REPS: Final = (2, 3, 4, 5, 6, 8, 10, 12, 15)
#: With fewer reps, or sets, one of them is a large part.
_FEWEST: Final = 3


@dataclass(frozen=True)
class Change:
    """One change of a set group: its kind, in words, and as `workbench.prescription.edit.change` takes it."""

    kind: str
    words: str
    what: dict[str, Any]

    def with_(self, other: Change) -> Change:
        """Return both together."""
        return Change(f"{self.kind} + {other.kind}", f"{self.words}, and {other.words}", self.what | other.what)


def small_changes(plan: Plan, broken: FirstBreak, weak_weeks: np.ndarray) -> dict[str, list[Change]]:
    """Return the small changes of a breaking set's group by their kind, the smallest first.

    Parameters
    ----------
    plan : Plan
    broken : FirstBreak
        A set; where it is a drop, what follows its set is changed.
    weak_weeks : array, shape (weeks,), bool
        In which the group is below the limit.
    """
    group = group_at(plan.block, broken.where)
    if broken.drop:
        assert group.drops is not None
        fewer = [_fewer(1, "after each drop", "drop_reps_by")] if group.drops.reps[0] >= _FEWEST else []
        return {"drop": _larger_drops(group), "reps": fewer}
    sets = group.count
    return {
        "rest": [
            Change("rest", f"{more} s more rest after each set ({group.rest_s + more:g} s)", {"rest_by": more})
            for more in range(_REST_STEP_S, MOST_REST_S + 1, _REST_STEP_S)
        ],
        "climb": _slower_climbs(group),
        "week": _weak_weeks_alone(plan, broken, group, weak_weeks),
        "load": [_lighter(group, points) for points in range(1, MOST_POINTS + 1)],
        "reps": [_fewer(1, "in each set", "reps_by")] if group.reps[0] >= _FEWEST else [],
        "sets": [Change("sets", f"1 set fewer ({sets - 1} in place of {sets})", {"sets_by": -1})]
        if sets >= _FEWEST
        else [],
    }


def clashes(a: str, b: str) -> bool:
    """Whether two kinds take from the same thing: two small ones together would be one that is not small.

    >>> clashes("load", "week"), clashes("rest", "load")
    (True, False)
    """
    return {a, b} <= {"load", "week", "climb"} or {a, b} == {"reps", "sets"}


def beyond_small(block: Block, broken: FirstBreak) -> Iterable[list[Change]]:
    """Return larger changes of load, and of reps to half of them, the smallest first: to say what it would take."""
    group = group_at(block, broken.where)
    if broken.drop:
        assert group.drops is not None
        most = group.drops.reps[0] / 2
        return [[_fewer(step, "after each drop", "drop_reps_by") for step in _BEYOND_REPS if step <= most]]
    return [
        [_lighter(group, points) for points in _BEYOND_POINTS],
        [_fewer(step, "in each set", "reps_by") for step in _BEYOND_REPS if step <= group.reps[0] / 2],
    ]


def _fewer(step: int, where: str, kind: str) -> Change:
    return Change("reps", f"{step} rep{'s' if step > 1 else ''} fewer {where}", {kind: -step})


def _lighter(group: SetGroup, points: float) -> Change:
    now = group.load_in_week_one
    if group.way == "percent":
        words = f"{_points(points)} lighter every week ({now - points:g} % in place of {now:g} % in week 1)"
        return Change("load", words, {"load_by": -points})
    if group.way == "part":
        words = f"{percent_said(now - points / 100)} in place of {percent_said(now)} of group {group.part_of_group}"
        return Change("load", words, {"load_by": -points / 100})
    return Change("load", f"{points:g} % lighter every week ({group.way})", {"load_by": -points / 100 * now})


def _of(number: float, unit: str) -> str:
    return f"{number:g} {unit.removesuffix('s') if number == 1 else unit}"


def _points(points: float) -> str:
    return _of(points, "points")


def _larger_drops(group: SetGroup) -> list[Change]:
    """Each drop a little larger."""
    assert group.drops is not None
    sizes = group.drops.sizes
    changes = []
    for points in range(1, MOST_POINTS + 1):
        larger = [size + points for size in sizes]
        said, were = (" and ".join(f"{size:g}" for size in some) for some in (larger, sizes))
        changes.append(Change("drop", f"drops of {said} % in place of {were} %", {"drop": larger}))
    return changes


def _slower_climbs(group: SetGroup) -> list[Change]:
    """Return the same start, with less added each time; never less than half of it."""
    rule = group.progression
    if rule is None or isinstance(rule, ByWeek) or rule.step <= 0 or group.way == "reps_in_reserve":
        return []
    by = _CLIMB_STEP if group.way == "percent" else _CLIMB_PART * rule.step
    unit = "points" if group.way == "percent" else group.way
    each = "a week" if isinstance(rule, Step) else "each time"
    steps = np.arange(rule.step - by, SLOWEST * rule.step - 1e-9, -by)
    return [
        Change("climb", f"climb by {_of(step, unit)} {each} in place of {rule.step:g}", {"step": float(step)})
        for step in steps
    ]


def _weak_weeks_alone(plan: Plan, broken: FirstBreak, group: SetGroup, weak: np.ndarray) -> list[Change]:
    """Return the weeks below the limit lighter, where they are few; every week is then written out as it was."""
    if group.way == "part" or not 0 < weak.sum() <= _MOST_WEEKS * weak.size:
        return []
    block, week_numbers = plan.block, np.flatnonzero(weak) + 1
    load, low, _ = group.weekly(block.weeks)
    lighter = np.ones(block.weeks)
    for one in () if isinstance(group.progression, ByWeek) else block.lighter_weeks:
        lighter[one.week - 1] = one.load
    counts = np.sum(
        [
            one.active
            for one in plan.sessions[broken.session_number - 1].sets
            if (one.slot, one.group, one.drop) == (broken.slot, broken.group, 0)
        ],
        axis=0,
    )
    written: dict[str, Any] = {"rule": "by week"}
    if np.ptp(low) or isinstance(group.progression, RepsThenLoad):
        written["reps"] = [int(reps) for reps in low]
    if np.ptp(counts):
        written["sets"] = [int(count) for count in counts]
    names = " and ".join(map(str, week_numbers))
    which = f"week{'s' if week_numbers.size > 1 else ''} {names} alone"
    changes = []
    for points in range(1, MOST_POINTS + 1):
        by = points if group.way == "percent" else points / 100 * load
        loads = [round(float(value), 9) for value in np.where(weak, load - by, load) * lighter]
        words = f"{which} {_points(points) if group.way == 'percent' else f'{points} %'} lighter"
        changes.append(Change("week", words, {"by_week": written | {"load": loads}}))
    return changes
