"""``workbench log`` and ``workbench fit``: how a training log was understood, and what it teaches about its lifter."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from typing import Any, Final

from workbench.answers.lifter_words import learned_as_reps
from workbench.answers.next_test import NextTest, suggest_test
from workbench.answers.next_week import NextWeek, next_week
from workbench.answers.start_loads import ratio_notes
from workbench.answers.surprises import Surprises, find_surprises
from workbench.commands.arguments import CLOSING, each, room_of, said_of_file, show
from workbench.fit import Learned, fit_log
from workbench.fit.learned import learned_in
from workbench.fit.lifter_file import write_lifter
from workbench.gym.catalogue import Catalogue
from workbench.gym.equipment import Room
from workbench.lifter import read_lifter
from workbench.log import ReadOptions, read_log, rows_of, write_canonical, write_quarantine
from workbench.prescription.block import read_block
from workbench.present.answer import records
from workbench.present.words import in_words, load_said, percent_said, reps_band, say_load
from workbench.quantities import InputError, Unit
from workbench.reference.whole_files import check_free

__all__ = ["answers_of", "fit", "log", "read_with_answers"]

#: Options that are fields of `ReadOptions` as they stand.
_ANSWERS: Final = (
    *("date_order", "year", "odd_dates", "real_dates", "unit", "dumbbells", "decimal", "rest_unit", "rest_is"),
    *("body_mass_kg", "pair_means", "sets_column", "sheet"),
)
#: Possible lifters that test sets are ranked on.
_FEW: Final = 300


# ---- how it was understood ------------------------------------------------------------------------------------------


def log(arguments: argparse.Namespace) -> int:
    """Read the log, print how it was understood, write what was asked for; 1 where questions are open.

    While a question is open no canonical log is written: read again, it would not ask.
    """
    writers = ((arguments.output, write_canonical), (arguments.set_aside, write_quarantine))
    wanted = [(path, write) for path, write in writers if path is not None]
    for path, _ in wanted:
        check_free(path, replace=arguments.replace)
    reading = read_with_answers(arguments)
    written = [path for path, write in wanted if not (reading.questions and write is write_canonical)]
    for path, write in wanted:
        if path in written:
            write(reading, path, replace=arguments.replace)
    said = [f"\nWritten: {path}" for path in written]
    if arguments.output is not None and arguments.output not in written:
        said.append(f"\nNot written: {arguments.output}; answer the questions first")
    show(arguments, _reading_as_dict, _reading_as_lines, reading, said)
    return 1 if reading.questions else 0


def read_with_answers(arguments: argparse.Namespace, exercises: Catalogue | None = None) -> Any:
    """Read a log with the answers given; InputError where the file as a whole cannot be used."""
    return read_log(arguments.log, exercises=exercises or arguments.own, options=answers_of(arguments))


def answers_of(arguments: argparse.Namespace) -> ReadOptions:
    """Return the answers that were given to what a log may leave open."""
    answers: dict[str, Any] = {name: getattr(arguments, name) for name in _ANSWERS}
    answers |= {"dates": _pairs(arguments.session_dates, "--session-date", "SESSION=DATE, as in Week 1, A=2026-01-05")}
    answers |= {"columns": _pairs(arguments.columns, "--column", "HEADING=FIELD, as in Gewicht=load")}
    return ReadOptions(**answers, leave_out=tuple(arguments.leave_out))


def _pairs(pairs: Sequence[str], option: str, shape: str) -> dict[str, str]:
    found = {}
    for pair in pairs:
        name, equals, value = pair.rpartition("=")
        if not equals or not name.strip():
            raise InputError(None, option, f"{pair!r} maps nothing", f"write {shape}")
        found[name.strip()] = value.strip()
    return found


def _reading_as_dict(reading: Any, _said: Sequence[str]) -> dict[str, Any]:
    return {
        "file": str(reading.path),
        "totals": {name: int(count) for name, count in reading.totals.items()},
        "understood": reading.understood.astype(str).to_dict("records"),
        "set_aside": reading.quarantine.astype(str).to_dict("records"),
        "ignored": reading.ignored.astype(str).to_dict("records"),
        "questions": [str(question) for question in reading.questions],
    }


def _reading_as_lines(reading: Any, said: Sequence[str]) -> list[str]:
    return [reading.preview(), *said]


# ---- what it teaches ------------------------------------------------------------------------------------------------


def fit(arguments: argparse.Namespace) -> int:
    """Fit the log and print what it taught."""
    output = arguments.output
    if output is not None:
        check_free(output, replace=arguments.replace)
        if output.exists() and output.samefile(arguments.lifter):
            problem = "is the lifter as before the log, which stays as it is"
            raise InputError(output, "", problem, "choose another name")
    if arguments.block and not arguments.room:
        raise InputError(None, "--block", "needs a room", "add --room FILE")
    room = room_of(arguments) if arguments.room else None
    exercises = arguments.own if room is None else room.catalogue
    lifter = read_lifter(arguments.lifter, exercises, gym_numbers=not arguments.published_start)
    reading = read_with_answers(arguments, lifter.catalogue)
    with said_of_file(arguments.log):
        rows = rows_of(reading, lifter.name, called=arguments.lifter_rows)
        learned = fit_log(rows, lifter, today=arguments.today)
    surprises = find_surprises(learned)
    week = _next_week(learned, room, arguments)
    coming, known = (None, learned) if week is None else (week.plan, week.learned)
    test = suggest_test(known, room=room, plan=coming, week=arguments.week, draws=_FEW, seed=arguments.seed)
    if output is not None:
        write_lifter(learned, output, replace=arguments.replace)
    show(arguments, _learned_as_dict, _learned_lines, learned, surprises, test, week, reading)
    if output is not None and not arguments.json:
        print(f"\nWritten: {output}")
    return 0


def _next_week(learned: Learned, room: Room | None, arguments: argparse.Namespace) -> NextWeek | None:
    if not arguments.block or room is None:
        return None
    block = read_block(arguments.block)
    with said_of_file(arguments.block):
        return next_week(learned, block, room, week=arguments.week, draws=arguments.draws, seed=arguments.seed)


def _learned_as_dict(
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
        "next_week": None if week is None else _week_as_dict(week),
    }


def _week_as_dict(week: NextWeek) -> dict[str, Any]:
    return {
        "sets": records(week.sets),
        "weeks": records(week.weeks),
        "first_break": None if week.breaks is None else str(week.breaks),
        "proposals": [
            {"kind": mend.kind, "change": mend.change, "chance": mend.chance, "kept": mend.kept, "reason": week.reason}
            for mend in week.proposals
        ],
    }


def _learned_lines(
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
    lines += each(used.left_out.head(10), "Left out: {exercise}, {reason}.")
    if used.rests_said:
        lines.append(used.rests_said)
    lines += ["", f"{'':<26}{'':<15}{'before the log':>26}{'after':>26}{'unit':>14}"]
    table = learned_as_reps(learned_in(learned.summary(), unit, learned.lifter.catalogue), learned.bent_curve)
    learned_rows = table.to_dict("records")
    lines += [_learned_line(row) for row in learned_rows]
    lines += ["Reps at 70 %: of a fresh set to failure. Recovery rate: 1 is average, 2 twice as fast.", ""]
    if surprises.found.empty:
        lines.append("No set of the log was surprising.")
    else:
        lines.append("Not expected, the most surprising first (ask the lifter; none of this is a finding):")
        lines += [_surprise_line(row, unit, learned.lifter.catalogue) for row in surprises.found.to_dict("records")]
    days = surprises.days[surprises.days["reading"] != ""]
    lines += each(days, "  {date}, {exercise}: {effect_percent:+.1f} %: {reading}")
    lines.append("")
    lines += _test_lines(test)
    if week is not None:
        lines += ["", *_week_lines(week)]
    return [*lines, "", CLOSING]


def _learned_line(row: dict[Any, Any]) -> str:
    digits = {"1RM": 1}.get(row["quantity"], 2)

    def span(prefix: str) -> str:
        if row["unit"] == "reps":
            return reps_band(*(row[f"{prefix}p{level}"] for level in (10, 50, 90)))
        low, middle, high = (row[f"{prefix}p{level}"] for level in (10, 50, 90))
        return f"{middle:.{digits}f} ({low:.{digits}f} to {high:.{digits}f})"

    text = f"{row['exercise']:<26}{row['quantity']:<15}{span('prior_'):>26}{span(''):>26}{row['unit']:>14}"
    return f"{text}  {row['note']}" if row["note"] else text


def _surprise_line(row: dict[Any, Any], unit: Unit, catalogue: Catalogue) -> str:
    load = say_load(row["load_kg"], unit, hands=catalogue.hands_of(row["exercise"]))
    return (
        f"  {row['date']}, {row['exercise']}, set {row['set']}: {row['reps']} reps with {load} ({row['ending']}); "
        f"about {row['expected']:.0f} were to be expected: {row['reading']}"
    )


def _test_lines(test: NextTest | None) -> list[str]:
    if test is None:
        return ["No safe test set is left to propose."]
    first, *others = [*test.sentences(), *test.notes]
    return [first, *(f"  {line}" for line in others)]


def _week_lines(week: NextWeek) -> list[str]:
    first = week.sets[week.sets["week"] == week.sets["week"].min()]
    lines = [
        "Chance that all reps of the week are made:",
        f"  {'week':<6}{'before the log':>16}{'same loads now':>16}{'updated loads':>16}",
        *each(week.weeks, "  {week:<6}{chance_before:>16}{chance_now:>16}{chance_updated:>16}"),
        "",
        f"Week {first['week'].iloc[0]}, loads from the learned 1RM:",
        *(_loads_line(row) for row in first.to_dict("records")),
        *(f"Note: {note}." for note in (*week.left_out, *ratio_notes(week.plan))),
    ]
    if week.mending is None:
        return [*lines, f"Every set has at least the wanted {percent_said(week.limit)}."]
    return [*lines, f"First to mend: {week.reason}.", *week.mending.sentences(), "Proposed only."]


def _loads_line(row: dict[Any, Any]) -> str:
    return (
        f"  {row['session'][:22]:<24}{row['exercise'][:24]:<26}{row['set']:<11}{load_said(row):>15} -> "
        f"{load_said(row, 'load_updated_kg'):>15}{in_words(row['chance_updated']):>7}".rstrip()
    )
