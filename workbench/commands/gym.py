"""``workbench gym``: what a gym's own lifters are like, from all logs in its folder."""

from __future__ import annotations

import argparse
from typing import Any

from workbench.answers.gym_numbers import GymNumbers, gym_numbers, gym_text, shared_text
from workbench.commands.arguments import CLOSING, show
from workbench.commands.logs import answers_of
from workbench.lifter.gym_prior import GYM_FILE
from workbench.present.answer import records
from workbench.reference.whole_files import check_free, write_whole

__all__ = ["gym"]


def gym(arguments: argparse.Namespace) -> int:
    """Learn the gym's numbers, print where a new lifter starts, and write what was asked for."""
    kept = arguments.folder / GYM_FILE
    wanted = [path for path in (kept if arguments.keep else None, arguments.share) if path is not None]
    for path in wanted:
        check_free(path, replace=arguments.replace)
    found = gym_numbers(
        arguments.folder,
        options=answers_of(arguments),
        draws=arguments.draws,
        seed=arguments.seed,
        cluster=arguments.cluster,
        workers=arguments.workers,
    )
    texts = {path: gym_text(found.prior) if path == kept and arguments.keep else shared_text(found) for path in wanted}
    for path, text in texts.items():
        write_whole(path, text, replace=arguments.replace)
    show(arguments, _as_dict, _as_lines, found, [f"Written: {path}" for path in wanted])
    return 0


def _as_dict(found: GymNumbers, _said: list[str]) -> dict[str, Any]:
    return {
        "lifters": found.prior.lifters,
        "sets": found.prior.sets,
        "notes": list(found.notes),
        "numbers": records(found.table),
        "left_out": records(found.left_out),
    }


def _as_lines(found: GymNumbers, said: list[str]) -> list[str]:
    return [*found.sentences(), "", *(f"Note: {note}." for note in found.notes), *said, "", CLOSING]
