"""``workbench decide``: the most demanding plan within the coach's limits, and the trade-off around it."""

from __future__ import annotations

import argparse
import signal
import sys
import threading
from typing import Any

from workbench.answers.decide import Decision, knob_of, limit_of
from workbench.answers.decide import decide as decided
from workbench.commands.arguments import CLOSING, each, lifter_and_room, show
from workbench.prescription.block import read_block
from workbench.present.answer import records
from workbench.present.words import amount
from workbench.publish.commit.toml_text import toml_text
from workbench.reference.whole_files import check_free, write_whole

__all__ = ["decide"]


def decide(arguments: argparse.Namespace) -> int:
    """Search and print; 1 where nothing keeps the limits."""
    if arguments.output:
        check_free(arguments.output, replace=arguments.replace)
    stop = threading.Event()
    before = signal.signal(signal.SIGINT, lambda *_: stop.set())
    try:
        found = decided(
            read_block(arguments.block),
            *lifter_and_room(arguments),
            [knob_of(text, place="--turn") for text in arguments.turn],
            limits=[limit_of(text, place="--limit") for text in arguments.limit] or None,
            demand=arguments.demand,
            draws=arguments.draws,
            seed=arguments.seed,
            progress=_progress if sys.stderr.isatty() else None,
            stop=stop,
        )
    finally:
        signal.signal(signal.SIGINT, before)
    show(arguments, _as_dict, _as_lines, found)
    if arguments.output and found.chosen is not None:
        write_whole(arguments.output, toml_text(found.chosen), replace=arguments.replace)
    return 0 if found.chosen is not None else 1


def _progress(done: int, expected: int, best: str) -> None:
    end = "\n" if done == expected else ""
    print(f"\r{done} of at most {expected} plans; best: {best[:80]:<80}", end=end, file=sys.stderr, flush=True)


def _as_dict(found: Decision) -> dict[str, Any]:
    return {
        "settings": found.settings,
        "within_limits": found.chosen is not None,
        "demand": found.demand,
        "chance": found.chance,
        "weakest": found.weakest,
        **{name: records(getattr(found, name)) for name in ("limits", "steps", "front")},
        "tried": found.tried,
        "finished": found.finished,
        "method": found.method,
    }


def _as_lines(found: Decision) -> list[str]:
    first, *others = found.sentences()
    lines = [first, *(f"  {line}" for line in others), "", "Limits:"]
    for row in found.limits.to_dict("records"):
        lines.append(f"  {row['limit']}: {amount(row['value'])}{' BINDS' if row['binds'] else ''}")
        lines.append(f"    {row['reason']}")
    if len(found.steps):
        kept = found.steps.assign(breaks=[breaks or "keeps the limits" for breaks in found.steps["breaks"]])
        lines += ["", "One value harder:", *each(kept, "  {change}: {breaks}")]
    lines += ["", "Trade-off (demand, chance of all reps):"]
    for row in found.front.to_dict("records"):
        mark = " <- chosen" if row["chosen"] else "" if row["allowed"] else "  (breaks a limit)"
        lines.append(f"  {amount(row['demand']):>10}  {row['chance']:>5.0%}  {row['settings']}{mark}")
    return [*lines, "", CLOSING]
