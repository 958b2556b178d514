"""``workbench log``: how a training log was understood, what was set aside, and the log in one canonical form."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from typing import Any

from workbench.commands.arguments import show
from workbench.gym.catalogue import Catalogue
from workbench.log import ReadOptions, read_log, write_canonical, write_quarantine
from workbench.quantities import InputError
from workbench.reference.whole_files import check_free

__all__ = ["log", "read"]

#: Options that are fields of `ReadOptions` as they stand.
_ANSWERS = (
    *("date_order", "year", "odd_dates", "real_dates", "unit", "dumbbells", "decimal", "rest_unit", "rest_is"),
    *("body_mass_kg", "pair_means", "sets_column", "sheet"),
)


def log(arguments: argparse.Namespace) -> int:
    """Read the log, print how it was understood, write what was asked for; 1 where questions are open.

    While a question is open no canonical log is written: read again, it would not ask.
    """
    writers = ((arguments.output, write_canonical), (arguments.set_aside, write_quarantine))
    wanted = [(path, write) for path, write in writers if path is not None]
    for path, _ in wanted:
        check_free(path, replace=arguments.replace)
    reading = read(arguments)
    written = [path for path, write in wanted if not (reading.questions and write is write_canonical)]
    for path, write in wanted:
        if path in written:
            write(reading, path, replace=arguments.replace)
    said = [f"\nWritten: {path}" for path in written]
    if arguments.output is not None and arguments.output not in written:
        said.append(f"\nNot written: {arguments.output}; answer the questions first")
    show(arguments, _as_dict, _as_lines, reading, said)
    return 1 if reading.questions else 0


def read(arguments: argparse.Namespace, exercises: Catalogue | None = None) -> Any:
    """Read a log with the answers given; InputError where the file as a whole cannot be used."""
    answers: dict[str, Any] = {name: getattr(arguments, name) for name in _ANSWERS}
    answers |= {"columns": _columns(arguments.columns), "leave_out": tuple(arguments.leave_out)}
    return read_log(arguments.log, exercises=exercises or arguments.own, options=ReadOptions(**answers))


def _columns(pairs: Sequence[str]) -> dict[str, str]:
    found = {}
    for pair in pairs:
        heading, equals, name = pair.rpartition("=")
        if not equals or not heading.strip():
            raise InputError(None, "--column", f"{pair!r} maps nothing", "write HEADING=FIELD, as in Gewicht=load")
        found[heading.strip()] = name.strip()
    return found


def _as_dict(reading: Any, _said: Sequence[str]) -> dict[str, Any]:
    return {
        "file": str(reading.path),
        "totals": {name: int(count) for name, count in reading.totals.items()},
        "understood": reading.understood.astype(str).to_dict("records"),
        "set_aside": reading.quarantine.astype(str).to_dict("records"),
        "ignored": reading.ignored.astype(str).to_dict("records"),
        "questions": [str(question) for question in reading.questions],
    }


def _as_lines(reading: Any, said: Sequence[str]) -> list[str]:
    return [reading.preview(), *said]
