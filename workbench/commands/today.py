"""``workbench today``: the rest of a session from the sets done so far, and what to do if, for paper."""

from __future__ import annotations

import argparse
import dataclasses
import datetime
from collections import Counter
from collections.abc import Sequence
from typing import Any, Final

import pandas as pd

from workbench.answers.if_then import Branch, if_then
from workbench.answers.today import SetDone, Today, sets_done, today_question
from workbench.answers.what_can_go import WhatCanGo, what_can_go
from workbench.commands.arguments import CLOSING, each, lifter_and_room, number, said_of_file, show
from workbench.commands.logs import read_with_answers
from workbench.lifter import Lifter
from workbench.log import rows_of
from workbench.prescription.block import read_block
from workbench.present.words import in_words, put_on_said, reps_said, reserve_said
from workbench.quantities import InputError

__all__ = ["today"]

#: A longer number is the name of a session.
_DIGITS: Final = 3


def today(arguments: argparse.Namespace) -> int:
    """Work out the rest of the session and print it."""
    block = read_block(arguments.block)
    lifter, room = lifter_and_room(arguments, block)
    number_of = arguments.session.isascii() and arguments.session.isdigit() and len(arguments.session) <= _DIGITS
    session = int(arguments.session) if number_of else arguments.session
    where: dict[str, Any] = {"session": session, "week": arguments.week}
    where |= {"limit": arguments.limit, "draws": arguments.draws, "seed": arguments.seed}
    if (arguments.keep or arguments.target) and arguments.save is None:
        raise InputError(None, "--keep, --target", "say what may go when time is short", "add --save MINUTES")
    if arguments.if_then:
        if arguments.log:
            raise InputError(None, "--if-then", "is for before the first set", "leave out --log, or --if-then")
        show(arguments, _branches_as_dict, _branches_as_lines, if_then(block, lifter, room, **where))
        return 0
    done = _done(arguments, lifter) if arguments.log else []
    if arguments.save is not None:
        where.pop("limit")
        counts = Counter(lifter.catalogue.exercise(one.exercise).name for one in done)
        targets = dict(map(_target, arguments.target))
        kept = {"keep": arguments.keep, "targets": targets, "done": counts}
        ways = what_can_go(block, lifter, room, minutes=arguments.save, **kept, **where)
        show(arguments, WhatCanGo.to_records, _ways_as_lines, ways)
        return 0
    up = arguments.up / 100.0
    answer = today_question(block, lifter, room, done, skipped=arguments.skip, most_up=up, **where)
    show(arguments, Today.to_records, _lines, answer)
    return 0


def _done(arguments: argparse.Namespace, lifter: Lifter) -> Sequence[SetDone]:
    """Return the sets of one day of the log: the day asked for, or its last."""
    reading = read_with_answers(arguments, lifter.catalogue)
    with said_of_file(arguments.log):
        rows = rows_of(reading, lifter.name, called=arguments.lifter_rows)
        dates = pd.to_datetime(rows["date"]).dt.date
        day: datetime.date = arguments.date or dates.dropna().max()
        if not (dates == day).any():
            raise InputError(None, "date", f"the log has no set of {day}", "name a day of the log with --date")
        return sets_done(rows[dates == day], body_mass_kg=lifter.body_mass_kg)


def _lines(answer: Today) -> list[str]:
    lines = [*answer.sentences(), ""]
    rows = answer.sets.to_dict("records")
    if rows:
        lines.append(f"{'':<26}{'set':<11}{'reps':<12}{'planned':>16}{'chance':>8}{'today':>16}{'chance':>8}  left")
        lines += [_line(row) for row in rows]
        lines.append("")
    return [*lines, *(f"Note: {note}." for note in answer.notes), CLOSING]


def _line(row: dict[Any, Any]) -> str:
    planned, loads = (
        put_on_said(row[load], row["body_kg"], row["unit"], row["hands"]) for load in ("load_kg", "today_kg")
    )
    left, chances = "", ("", "")
    if row["reps_high"] != float("inf"):
        left = reserve_said(*(row[f"reserve_p{at}"] for at in (10, 50, 90)))
        chances = in_words(row["chance"]), in_words(row["chance_today"])
    return (
        f"{row['exercise'][:25]:<26}{row['set']:<11}{reps_said(row['reps_low'], row['reps_high']):<12}"
        f"{planned:>16}{chances[0]:>8}{loads:>16}{chances[1]:>8}  {left}"
    ).rstrip()


def _target(text: str) -> tuple[str, float]:
    """Read a muscle and its hard sets a week."""
    muscle, equals, sets = text.partition("=")
    try:
        return muscle.strip(), number(0, 100)(sets if equals else "")
    except argparse.ArgumentTypeError as error:
        raise InputError(None, "--target", f"{text!r}: {error}", "write MUSCLE=SETS, as biceps=12") from None


def _ways_as_lines(ways: WhatCanGo) -> list[str]:
    way = "  {way}. {leave_out}: {minutes:.0f} min, {hard:.1f} hard sets ({cost:.1f} within the targets)"
    notes = [f"Note: {note}." for note in ways.notes]
    return [*ways.sentences(), "", "Ways to save the time:", *each(ways.ways, way), "", *notes, CLOSING]


def _branches_as_dict(branches: Sequence[Branch]) -> list[dict[str, Any]]:
    return [{**dataclasses.asdict(one), "said": one.said} for one in branches]


def _branches_as_lines(branches: Sequence[Branch]) -> list[str]:
    if not branches:
        return ["No set group needs an if-then: whatever the first sets show, the plan stands.", "", CLOSING]
    lines = []
    for at, one in enumerate(branches):
        if not at or (branches[at - 1].slot, branches[at - 1].group) != (one.slot, one.group):
            lines.append(one.exercise)
        lines.append(f"  {one.said}")
    return [*lines, "", CLOSING]
