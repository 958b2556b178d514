"""``workbench fit``: what a training log teaches about its lifter, what surprised, next week, and the next test set."""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from workbench.commands.arguments import CLOSING, add_replace, add_simulation, room_of, whole
from workbench.commands.arguments import date as a_date
from workbench.commands.log import add_reading, read
from workbench.fit.said import learned_in
from workbench.present.answer import records
from workbench.present.words import load_said, say_load

if TYPE_CHECKING:
    from workbench.answers.next_test import NextTest
    from workbench.answers.next_week import NextWeek
    from workbench.answers.surprises import Surprises
    from workbench.fit import Learned
    from workbench.gym.catalogue import Catalogue
    from workbench.gym.equipment import Room
    from workbench.gym.equipment.loads import Unit

__all__ = ["add_to", "run"]

#: Possible lifters that test sets are ranked on.
_FEW = 300


def add_to(subparsers: Any) -> argparse.ArgumentParser:
    """Describe the command."""
    parser: argparse.ArgumentParser = subparsers.add_parser(
        "fit",
        help="what did the log teach about the lifter?",
        description="Learn 1RM, endurance and recovery of a lifter from a training log, with intervals; say what was "
        "not expected, what it means for the rest of a block, and which test set would teach most.",
    )
    parser.add_argument("log", metavar="LOG", help="training log (CSV or XLSX)")
    parser.add_argument("--lifter", required=True, metavar="FILE", help="lifter file (TOML), as before the log")
    parser.add_argument(
        "--lifter-rows",
        "--name",
        action="append",
        default=[],
        metavar="NAME",
        help="the lifter's name in the log, where it is not that of the lifter file; may be given again",
    )
    parser.add_argument("--today", type=a_date, metavar="DATE", help="date for which the 1RM shall hold")
    parser.add_argument("--block", metavar="FILE", help="block under way (TOML); needs --room")
    parser.add_argument("--room", metavar="FILE", help="room file (TOML)")
    parser.add_argument("--week", type=whole(1, 52), default=1, metavar="N", help="first week to come (default 1)")
    parser.add_argument("-o", "--output", type=Path, metavar="FILE", help="write the updated lifter (a new TOML file)")
    add_replace(parser)
    parser.add_argument("--json", action="store_true", help="print JSON in place of tables")
    add_simulation(parser)
    add_reading(parser)
    return parser


def run(arguments: argparse.Namespace) -> int:
    """Fit the log and print what it taught."""
    from workbench.answers.next_test import suggest_test
    from workbench.answers.surprises import find_surprises
    from workbench.fit import fit_log
    from workbench.fit.lifter_file import write_lifter
    from workbench.lifter import read_lifter
    from workbench.log import rows_of
    from workbench.quantities import InputError
    from workbench.reference.whole_files import check_free

    if arguments.output is not None:
        check_free(arguments.output, replace=arguments.replace)
        if arguments.output.exists() and arguments.output.samefile(arguments.lifter):
            problem = "is the lifter as before the log, which stays as it is"
            raise InputError(arguments.output, "", problem, "choose another name")
    if arguments.block and not arguments.room:
        raise InputError(None, "--block", "needs a room", "add --room FILE")
    room = room_of(arguments) if arguments.room else None
    lifter = read_lifter(arguments.lifter, arguments.own if room is None else room.catalogue)
    reading = read(arguments.log, arguments, lifter.catalogue)
    try:
        rows = rows_of(reading, lifter.name, called=arguments.lifter_rows)
        learned = fit_log(rows, lifter, today=arguments.today)
    except InputError as error:
        raise InputError(arguments.log, error.place, error.problem, error.remedy) from None
    surprises = find_surprises(learned)
    week = _next_week(learned, room, arguments)
    coming = None if week is None else week.plan
    test = suggest_test(learned, room=room, plan=coming, week=arguments.week, draws=_FEW, seed=arguments.seed)
    if arguments.output is not None:
        write_lifter(learned, arguments.output, replace=arguments.replace)
    if arguments.json:
        print(json.dumps(_as_dict(learned, surprises, test, week, reading), indent=2, allow_nan=False))
        return 0
    print("\n".join(_lines(learned, surprises, test, week, reading)))
    if arguments.output is not None:
        print(f"\nWritten: {arguments.output}")
    return 0


def _next_week(learned: Learned, room: Room | None, arguments: argparse.Namespace) -> NextWeek | None:
    from workbench.answers.next_week import next_week
    from workbench.prescription.block import read_block
    from workbench.quantities import InputError

    if not arguments.block or room is None:
        return None
    block = read_block(arguments.block)
    try:
        return next_week(learned, block, room, week=arguments.week, draws=arguments.draws, seed=arguments.seed)
    except InputError as error:
        raise InputError(arguments.block, error.place, error.problem, error.remedy) from None


def _as_dict(
    learned: Learned, surprises: Surprises, test: NextTest | None, week: NextWeek | None, reading: Any
) -> dict[str, Any]:
    return {
        "lifter": learned.lifter.name,
        "today": learned.today.isoformat(),
        "rows": {name: int(count) for name, count in reading.totals.items()},
        "questions": [str(question) for question in learned.questions],
        "notes": list(learned.notes),
        "sets_used": learned.fit.log.set_count,
        "left_out": records(learned.fit.log.left_out),
        "rests_assumed": len(learned.fit.log.rests_assumed),
        "learned": records(learned.summary()),
        "surprises": records(surprises.found),
        "days": records(surprises.days[surprises.days["reading"] != ""]),
        "next_test": None if test is None else {"answer": test.answer, "tests": records(test.table)},
        "next_week": None
        if week is None
        else {
            "sets": records(week.sets),
            "weeks": records(week.weeks),
            "first_break": None if week.breaks is None else str(week.breaks),
            "proposals": [
                {"kind": one.kind, "change": one.change, "chance": one.chance, "reason": week.reason}
                for one in week.proposals
            ],
        },
    }


def _lines(
    learned: Learned, surprises: Surprises, test: NextTest | None, week: NextWeek | None, reading: Any
) -> list[str]:
    used = learned.fit.log
    unit: Unit = "kg" if week is None else week.plan.unit
    lines = [
        f"{learned.lifter.name}: {used.set_count} sets used, as of {learned.today}.",
        *(f"Please answer: {question}" for question in learned.questions),
        *learned.notes,
    ]
    if len(reading.quarantine):
        lines.append(f"{len(reading.quarantine)} rows of the log were set aside; `workbench log` shows them.")
    lines += [f"Left out: {row['exercise']}, {row['reason']}." for row in used.left_out.to_dict("records")[:10]]
    if used.rests_assumed:
        lines.append(
            f"{len(used.rests_assumed)} rests are not in the log; {learned.fit.settings.unknown_rest_s:.0f} s assumed."
        )
    lines += ["", f"{'':<26}{'':<15}{'before the log':>26}{'after':>26}{'unit':>14}"]
    lines += [
        _learned_line(row) for row in learned_in(learned.summary(), unit, learned.lifter.catalogue).to_dict("records")
    ]
    lines += ["Endurance: strength lost with each rep; lower is more enduring. Recovery rate: 1 is average.", ""]
    if surprises.found.empty:
        lines.append("No set of the log was surprising.")
    else:
        lines.append("Not expected, the most surprising first (ask the lifter; none of this is a finding):")
        lines += [_surprise_line(row, unit, learned.lifter.catalogue) for row in surprises.found.to_dict("records")]
    for row in surprises.days[surprises.days["reading"] != ""].to_dict("records"):
        lines.append(f"  {row['date']}, {row['exercise']}: {row['effect_percent']:+.1f} %: {row['reading']}")
    lines.append("")
    lines += _test_lines(test)
    if week is not None:
        lines += ["", *_week_lines(week)]
    return [*lines, "", CLOSING]


def _learned_line(row: dict[Any, Any]) -> str:
    digits = {"1RM": 1, "endurance": 4}.get(row["quantity"], 2)

    def span(prefix: str) -> str:
        low, middle, high = (row[f"{prefix}p{level}"] for level in (10, 50, 90))
        return f"{middle:.{digits}f} ({low:.{digits}f} to {high:.{digits}f})"

    text = f"{row['exercise']:<26}{row['quantity']:<15}{span('prior_'):>26}{span(''):>26}{row['unit']:>14}"
    return f"{text}  {row['note']}" if row["note"] else text


def _surprise_line(row: dict[Any, Any], unit: Unit, catalogue: Catalogue) -> str:
    load = say_load(row["load_kg"], unit, hands=catalogue.hands_of(row["exercise"]))
    return (
        f"  {row['date']}, {row['exercise']}, set {row['set']}: {row['reps']} reps with {load} "
        f"({row['ending']}); about {row['expected']:.0f} were to be expected: {row['reading']}"
    )


def _test_lines(test: NextTest | None) -> list[str]:
    if test is None:
        return ["No safe test set is left to propose."]
    first, *others = [*test.sentences(), *test.notes]
    return [first, *(f"  {line}" for line in others)]


def _week_lines(week: NextWeek) -> list[str]:
    lines = [
        "Chance that all reps of the week are made:",
        f"  {'week':<6}{'before the log':>16}{'same loads now':>16}{'updated loads':>16}",
    ]
    lines += [
        f"  {row['week']:<6}{row['chance_before']:>16.0%}{row['chance_now']:>16.0%}{row['chance_updated']:>16.0%}"
        for row in week.weeks.to_dict("records")
    ]
    first = week.sets[week.sets["week"] == week.sets["week"].min()]
    lines += ["", f"Week {first['week'].iloc[0]}, loads from the learned 1RM:"]
    lines += [
        f"  {row['session'][:22]:<24}{row['exercise'][:24]:<26}{row['set']:<11}{load_said(row):>15} -> "
        f"{load_said(row, 'load_updated_kg'):>15}"
        + ("" if np.isnan(row["chance_updated"]) else f"{row['chance_updated']:>7.0%}")
        for row in first.to_dict("records")
    ]
    if week.breaks is None:
        return [*lines, f"Every set has at least the wanted {week.limit:.0%}."]
    if not week.proposals:
        lines.append(f"First set under the limit of {week.limit:.0%}: {week.breaks}.")
        return [*lines, "No single change of rest, load or reps within reach mends it; think the group over."]
    lines.append(f"First to mend: {week.reason}.")
    lines.append("What would mend it (one of these, proposed only):")
    return [*lines, *(f"  {one.change} (lowest chance then {one.chance:.0%})" for one in week.proposals)]
