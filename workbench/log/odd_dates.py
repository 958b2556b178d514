"""Dates that a person should look at before they count: in the future, far from all others, or out of order."""

from __future__ import annotations

from bisect import bisect_right
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from itertools import groupby
from typing import Final

__all__ = ["MAX_GAP_DAYS", "DatedRow", "find_future", "find_odd"]

#: A year mistyped by one leaves a gap of a year less the days to the next session; few lifters pause for so long.
MAX_GAP_DAYS: Final = 300

#: A set may be added below to a session of the same week that is in the file.
_WRITTEN_LATER_DAYS: Final = 7


@dataclass(frozen=True, slots=True)
class DatedRow:
    """A row with its date: ``key`` names the row, ``sheet``, ``lifter`` and ``exercise`` where it belongs."""

    key: int
    day: date
    sheet: str
    lifter: str
    exercise: str


def find_future(rows: Sequence[DatedRow], today: date) -> dict[int, str]:
    """Return the rows after today, with the reason."""
    return {row.key: f"date {row.day} is in the future (today is {today})" for row in rows if row.day > today}


def find_odd(rows: Sequence[DatedRow]) -> dict[int, str]:
    """Return the rows that are far from the lifter's others or out of order, with the reason.

    A log may run forwards or backwards, and may be grouped by lifter or by exercise. Of what lies on both sides of a
    gap, the side with fewer sessions is named; of sessions out of order, those that may be the wrong ones.
    """
    odd: dict[int, str] = {}
    by_lifter: dict[str, list[DatedRow]] = {}
    for row in rows:
        by_lifter.setdefault(row.lifter, []).append(row)
    for those in by_lifter.values():
        odd |= _far(those)
    by_sheet: dict[tuple[str, str], list[DatedRow]] = {}
    for row in rows:
        if row.key not in odd:
            by_sheet.setdefault((row.sheet, row.lifter), []).append(row)
    for those in by_sheet.values():
        odd |= _out_of_order(those)
    return odd


def _far(rows: Sequence[DatedRow]) -> dict[int, str]:
    days = sorted({row.day for row in rows})
    parts: list[list[date]] = [[]]
    for day in days:
        if parts[-1] and (day - parts[-1][-1]).days >= MAX_GAP_DAYS:
            parts.append([])
        parts[-1].append(day)
    most = max(parts, key=len)
    others = [day for part in parts if part is not most for day in part]
    distance = {day: (most[0] - day if day < most[0] else day - most[-1]).days for day in others}
    return {
        row.key: f"date {row.day} is {distance[row.day]:,} days from the nearest of the other sessions"
        for row in rows
        if row.day in distance
    }


def _out_of_order(rows: Sequence[DatedRow]) -> dict[int, str]:
    found = _fewest([rows])
    blocks = [list(block) for _, block in groupby(rows, key=lambda row: row.exercise)]
    grouped = len(blocks) == len({row.exercise for row in rows}) and len(blocks) > 1
    # Grouped by exercise, the dates start anew with each; blocks of a single day would tell nothing.
    if found and grouped and 2 * sum(block[0].day != block[-1].day for block in blocks) >= len(blocks):
        return _fewest(blocks)
    return found


def _fewest(blocks: Sequence[Sequence[DatedRow]]) -> dict[int, str]:
    """Return the rows out of order in the direction, the same for all blocks, in which there are fewer."""
    forwards, backwards = ([item for block in blocks for item in _not_in_run(block, sign)] for sign in (1, -1))
    return dict(backwards if len(backwards) < len(forwards) else forwards)


def _not_in_run(rows: Sequence[DatedRow], sign: int) -> list[tuple[int, str]]:
    """Return the rows of the sessions that do not stand in every longest run of sessions in order.

    Of two sessions of which either may be the wrong one, both are returned.
    """
    sessions = _sessions(rows)
    days = [sign * session[0].day.toordinal() for session in sessions]
    until = _run_lengths(days)
    since = _run_lengths([-day for day in reversed(days)])[::-1]
    longest = max(until, default=0)
    on_a_longest = [at for at in range(len(days)) if until[at] + since[at] - 1 == longest]
    rivals = Counter(until[at] for at in on_a_longest)
    kept = {at for at in on_a_longest if rivals[until[at]] == 1}
    return [
        (row.key, f"date {row.day} is out of order: {_beside(sessions, at)}")
        for at, session in enumerate(sessions)
        if at not in kept
        for row in session
    ]


def _sessions(rows: Sequence[DatedRow]) -> list[list[DatedRow]]:
    """Rows of one day that follow each other; without sets added below to a session of the same week."""
    sessions: list[list[DatedRow]] = []
    seen: set[date] = set()
    for day, group in groupby(rows, key=lambda row: row.day):
        if not (day in seen and abs((day - sessions[-1][0].day).days) <= _WRITTEN_LATER_DAYS):
            sessions.append(list(group))
        seen.add(day)
    return sessions


def _run_lengths(days: Sequence[int]) -> list[int]:
    """Return, for each day, how many stand in the longest run in order that ends with it (patience sorting)."""
    tops: list[int] = []
    lengths: list[int] = []
    for day in days:
        at = bisect_right(tops, day)
        tops[at : at + 1] = [day]
        lengths.append(at + 1)
    return lengths


def _beside(sessions: Sequence[Sequence[DatedRow]], at: int) -> str:
    other, word = (at - 1, "before") if at else (at + 1, "after")
    return f"the session {word} it in the file is of {sessions[other][0].day}"
