"""Sets that a lifter file has learned from: known by date and content, so that no fit counts them twice."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import replace

from workbench.fit.evidence_sets import LiftLog, LoggedSession, UsedLog

__all__ = ["only_new"]

_REMEDY = "to learn from the log as it is now, fit all of it with the lifter file from before it"


def only_new(used: UsedLog, learned: Mapping[str, Mapping[str, str]]) -> UsedLog:
    """Return a log without the sets that a lifter file has learned from.

    Sets are the same where exercise and date are. Where the log now says otherwise of such a day it is skipped too, and
    asked about; so is a day with the very sets of a learned one that the log, though it covers it, has no more.

    Parameters
    ----------
    used : UsedLog
    learned : mapping
        As in `workbench.lifter.Lifter`: for each exercise and date, number and digest of its sets.

    Returns
    -------
    UsedLog
        With ``skipped`` and ``questions``.
    """
    logged = {session.date for lift in used.lifts for session in lift.sessions}
    lifts: list[LiftLog] = []
    skipped: list[LoggedSession] = []
    questions: list[str] = []
    by_name = {lift.exercise: lift for lift in used.lifts}
    for name in dict.fromkeys([*by_name, *learned]):
        lift = by_name.get(name, LiftLog(name, ()))
        known = {datetime.date.fromisoformat(date): stamp for date, stamp in learned.get(name, {}).items()}
        dates = {session.date for session in lift.sessions}
        gone = {stamp: date for date, stamp in known.items() if logged and min(logged) <= date <= max(logged)}
        gone = {stamp: date for stamp, date in gone.items() if date not in dates}
        kept = []
        for session in lift.sessions:
            moved = gone.pop(session.stamp, None) if session.date not in known else None
            if session.date not in known and moved is None:
                kept.append(session)
                continue
            skipped.append(session)
            if moved is not None:
                questions.append(
                    f"{name}, {session.date}: the same sets were learned as those of {moved}; was the date corrected? "
                    f"They are skipped; {_REMEDY}"
                )
            elif known[session.date] != session.stamp:
                questions.append(
                    f"{name}, {session.date}: {_count(known[session.date])} learned, and the log now says otherwise "
                    f"({_count(session.stamp)}); were rows edited? They are skipped; {_REMEDY}"
                )
        questions += [
            f"{name}, {date}: {_count(stamp)} learned, and the log now has none; were rows edited? {_REMEDY}"
            for stamp, date in gone.items()
            if date in logged
        ]
        if kept:
            lifts.append(replace(lift, sessions=tuple(kept)))
    rows = {one.row for lift in lifts for session in lift.sessions for one in session.sets}
    assumed = tuple(label for label in used.rests_assumed if label in rows)
    return replace(used, lifts=tuple(lifts), rests_assumed=assumed, skipped=tuple(skipped), questions=tuple(questions))


def _count(stamp: str) -> str:
    return stamp.partition(",")[0]
