"""``workbench review``: what forecasts were worth, from logs walked forward."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, Final

from workbench.answers.gym_numbers import LogOfLifter, logs_of_gym, logs_of_lifters
from workbench.answers.review import Review, walk_forward
from workbench.commands.arguments import CLOSING, said_of_file, show
from workbench.commands.logs import answers_of
from workbench.lifter import read_lifter
from workbench.log import read_log, rows_of
from workbench.models.fatigue import FORMS
from workbench.models.fatigue_rivals import RIVALS
from workbench.models.load_reps import CURVES
from workbench.present.tables import frame_table, plain_text
from workbench.publish.commit import list_committed
from workbench.publish.track_record import keep_scores
from workbench.quantities import InputError

__all__ = ["review"]

#: Misses printed unless all are asked for, the largest first.
_FIRST: Final = 10


def review(arguments: argparse.Namespace) -> int:
    """Walk forward through the logs, and print what the forecasts were worth."""
    of_lifters, left_out = _logs_of(arguments)
    found = walk_forward(
        of_lifters,
        models={name: _model(name) for name in arguments.model},
        simple_rules=not arguments.no_rules,
        every=arguments.every,
        draws=arguments.draws,
        seed=arguments.seed,
        progress=_progress(),
    )
    record = _record(arguments, of_lifters)
    show(arguments, _as_dict, _lines, found, record, left_out, arguments.table, None if arguments.all else _FIRST)
    return 0


def _record(arguments: argparse.Namespace, of_lifters: Sequence[LogOfLifter]) -> list[str]:
    """Score what came back of a gym's committed blocks, keep it beside them, and say it."""
    committed = arguments.logs[0] / "committed"
    return keep_scores(committed, of_lifters).sentences() if list_committed(committed) else []


def _logs_of(arguments: argparse.Namespace) -> tuple[Sequence[LogOfLifter], list[tuple[str, str]]]:
    folders = [path for path in arguments.logs if os.path.isdir(path)]  # noqa: PTH112 - false for what is no name too
    if folders:
        if len(arguments.logs) > 1 or arguments.lifter:
            raise InputError(folders[0], "", "is a folder, and was given with others", "give one gym's folder alone")
        return logs_of_gym(folders[0], answers_of(arguments))
    if not arguments.lifter:
        raise InputError(None, "--lifter", "is not given", "say whose logs these are, or give a gym's folder")
    lifters = {Path(path): read_lifter(path, arguments.own, gym_numbers=False) for path in arguments.lifter}
    if len(lifters) > 1:
        return logs_of_lifters(lifters, arguments.logs, answers_of(arguments))
    (lifter,) = lifters.values()
    rows = []
    for path in arguments.logs:
        with said_of_file(path):
            reading = read_log(path, exercises=lifter.catalogue, options=answers_of(arguments))
            rows.append(rows_of(reading, lifter.name, called=arguments.lifter_rows))
    return [LogOfLifter.of(lifter, rows)], []


def _model(name: str) -> Any:
    models: dict[str, Any] = {**FORMS, **RIVALS, **CURVES}
    if name not in models:
        raise InputError(None, "--model", f"{name!r} is not one", f"use one of: {', '.join(models)}")
    return models[name]


def _progress() -> Callable[[int, int, str], None] | None:
    """Tell at a terminal how far the work is; nothing where the answer goes into a file."""
    if not sys.stderr.isatty():
        return None
    return lambda done, of, said: print(f"\r{done + 1} of {of}: {said:<60.60}", end="", file=sys.stderr, flush=True)


def _as_dict(
    found: Review,
    record: Sequence[str],
    left_out: Sequence[tuple[str, str]],
    _tables: Sequence[str],
    _most: int | None = None,
) -> dict[str, Any]:
    aside = [{"what": what, "reason": reason} for what, reason in left_out]
    return found.to_records() | {"committed": list(record), "logs_left_out": aside}


def _lines(
    found: Review,
    record: Sequence[str],
    left_out: Sequence[tuple[str, str]],
    tables: Sequence[str],
    most: int | None = None,
) -> list[str]:
    lines = [*found.record_said(), *(miss.said for miss in found.misses[:most])]
    if more := len(found.misses) - len(found.misses[:most]):
        lines.append(f"Smaller misses: {more} more; --all prints them.")
    lines += [*(f"Committed forecasts: {line}" for line in record), ""]
    lines += [f"Note: {note}." for note in found.notes]
    lines += [f"Note: left out: {what}: {reason}." for what, reason in left_out]
    for name in tables:
        lines += ["", plain_text(frame_table(name.replace("_", " "), found.tables[name].round(3)))]
    return [*lines, "", CLOSING]
