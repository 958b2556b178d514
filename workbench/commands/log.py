"""``workbench log``: how a training log was understood, what was set aside, and the log in one canonical form."""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

from workbench.commands.arguments import FIRST_YEAR, LAST_YEAR, add_own_exercises, add_replace, positive, whole

if TYPE_CHECKING:
    from workbench.gym.catalogue import Catalogue

__all__ = ["add_reading", "add_to", "read", "run"]


def add_to(subparsers: Any) -> argparse.ArgumentParser:
    """Describe the command."""
    parser: argparse.ArgumentParser = subparsers.add_parser(
        "log",
        help="how was this training log understood?",
        description="Read a training log (CSV or XLSX), say how every column was understood and what was set aside, "
        "and write it in one canonical form where wanted. The log itself is never changed.",
    )
    parser.add_argument("log", metavar="LOG", help="training log (CSV or XLSX)")
    add_reading(parser)
    parser.add_argument("-o", "--output", type=Path, metavar="FILE", help="write the canonical log (a new CSV file)")
    parser.add_argument("--set-aside", type=Path, metavar="FILE", help="write the rows set aside (a new CSV file)")
    add_replace(parser)
    parser.add_argument("--json", action="store_true", help="print JSON in place of text")
    return parser


def add_reading(parser: argparse.ArgumentParser) -> None:
    """Add the answers to what a log may leave open."""
    add_own_exercises(parser)
    answers = parser.add_argument_group("answers to what a log may leave open")
    answers.add_argument("--date-order", choices=("dmy", "mdy", "ymd"), help="order of day, month and year")
    answers.add_argument("--year", type=whole(FIRST_YEAR, LAST_YEAR), metavar="YEAR", help="year of dates without one")
    answers.add_argument(
        "--odd-dates", choices=("as_written",), help="dates out of order, or far from all others, are right as they are"
    )
    answers.add_argument(
        "--real-dates", choices=("as_is", "swapped"), help="whether recognised dates have day and month swapped"
    )
    answers.add_argument("--unit", choices=("kg", "lb"), help="unit of loads that state none")
    answers.add_argument(
        "--dumbbells", choices=("one_hand", "both"), help="whether loads of two dumbbells are of one hand or of both"
    )
    answers.add_argument("--decimal", choices=(".", ","), help="decimal mark")
    answers.add_argument("--rest-unit", choices=("s", "min"), help="unit of bare numbers in a rest column")
    answers.add_argument("--rest-is", choices=("before", "after"), help="whether a rest stands before or after its set")
    answers.add_argument("--body-mass", type=positive(25, 300), metavar="KG", help="body mass, for loads written as BW")
    answers.add_argument("--pair-means", choices=("sets", "sides", "of_plan"), help="what reps such as 8/8 are")
    answers.add_argument("--sets-column", choices=("count", "number"), help="whether it counts or numbers the sets")
    answers.add_argument("--sheet", metavar="NAME", help="the one sheet of a workbook to read")
    answers.add_argument(
        "--column",
        action="append",
        default=[],
        metavar="HEADING=FIELD",
        help="what a column is, for instance Gewicht=load; may be given again",
    )
    answers.add_argument(
        "--leave-out",
        action="append",
        default=[],
        metavar="QUESTION",
        help="a question to leave open: what it concerns is left out; may be given again",
    )


def read(path: str, arguments: argparse.Namespace, exercises: Catalogue | None = None) -> Any:
    """Read a log with the answers given; InputError where the file as a whole cannot be used."""
    from workbench.log import ReadOptions, read_log

    return read_log(
        path,
        exercises=exercises or arguments.own,
        options=ReadOptions(
            columns=_columns(arguments.column),
            date_order=arguments.date_order,
            year=arguments.year,
            odd_dates=arguments.odd_dates,
            real_dates=arguments.real_dates,
            unit=arguments.unit,
            dumbbells=arguments.dumbbells,
            decimal=arguments.decimal,
            rest_unit=arguments.rest_unit,
            rest_is=arguments.rest_is,
            body_mass_kg=arguments.body_mass,
            pair_means=arguments.pair_means,
            sets_column=arguments.sets_column,
            sheet=arguments.sheet,
            leave_out=tuple(arguments.leave_out),
        ),
    )


def _columns(pairs: list[str]) -> dict[str, str]:
    from workbench.quantities import InputError

    found = {}
    for pair in pairs:
        heading, equals, name = pair.rpartition("=")
        if not equals or not heading.strip():
            raise InputError(None, "--column", f"{pair!r} maps nothing", "write HEADING=FIELD, as in Gewicht=load")
        found[heading.strip()] = name.strip()
    return found


def run(arguments: argparse.Namespace) -> int:
    """Read the log, print how it was understood, write what was asked for; 1 where questions are open.

    While a question is open no canonical log is written: read again, it would not ask.
    """
    from workbench.log import write_canonical, write_quarantine
    from workbench.reference.whole_files import check_free

    wanted = [
        (path, write)
        for path, write in ((arguments.output, write_canonical), (arguments.set_aside, write_quarantine))
        if path is not None
    ]
    for path, _ in wanted:
        check_free(path, replace=arguments.replace)
    reading = read(arguments.log, arguments)
    written = []
    for path, write in wanted:
        if reading.questions and write is write_canonical:
            continue
        write(reading, path, replace=arguments.replace)
        written.append(path)
    if arguments.json:
        print(json.dumps(_as_dict(reading), indent=2, allow_nan=False))
    else:
        print(reading.preview())
        for path in written:
            print(f"\nWritten: {path}")
        if arguments.output is not None and arguments.output not in written:
            print(f"\nNot written: {arguments.output}; answer the questions first")
    return 1 if reading.questions else 0


def _as_dict(reading: Any) -> dict[str, Any]:
    return {
        "file": str(reading.path),
        "totals": {name: int(count) for name, count in reading.totals.items()},
        "understood": reading.understood.astype(str).to_dict("records"),
        "set_aside": reading.quarantine.astype(str).to_dict("records"),
        "ignored": reading.ignored.astype(str).to_dict("records"),
        "questions": [str(question) for question in reading.questions],
    }
