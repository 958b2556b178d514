"""``workbench decide``: the most demanding plan within the coach's limits, and the trade-off around it."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from workbench.commands.arguments import CLOSING, add_lifter_and_room, add_replace, lifter_and_room, whole
from workbench.quantities import SEED

if TYPE_CHECKING:
    from workbench.answers.decide import Decision

__all__ = ["add_to", "run"]


def add_to(subparsers: Any) -> argparse.ArgumentParser:
    """Describe the command."""
    parser: argparse.ArgumentParser = subparsers.add_parser(
        "decide",
        help="the most demanding plan within your limits",
        description="Search what may change in a block for the most demanding plan that keeps the limits. Interrupt to "
        "stop the search and see the best so far.",
        epilog="Knobs: percent, step, reps, sets, rest, drop, lighter week. Example: --turn 'percent=60:80:2.5' "
        "--turn 'rest=90,120,180 of back squat' --limit 'set_chance:back squat>=0.85' --limit 'session_minutes<=60' "
        "--limit 'fractional_sets:biceps<=15'",
    )
    parser.add_argument("block", metavar="BLOCK", help="block file (TOML)")
    add_lifter_and_room(parser)
    parser.add_argument(
        "--turn",
        required=True,
        action="append",
        metavar="KNOB",
        help="what may change: knob=first:last:step or knob=value,value, then perhaps ' of EXERCISE'; may come again",
    )
    parser.add_argument(
        "--limit",
        action="append",
        metavar="LIMIT",
        help="quantity>=value or quantity<=value (default: the block's own, for every set of the block, turned or not)",
    )
    parser.add_argument("--demand", default="tonnage", metavar="KEY", help="what to have most of (default: tonnage)")
    parser.add_argument(
        "--draws", type=whole(10, 100_000), default=2000, metavar="N", help="simulated runs (default 2000)"
    )
    parser.add_argument(
        "--seed", type=whole(0, 2**63 - 1), default=SEED, metavar="N", help=f"same seed, same answer (default {SEED})"
    )
    parser.add_argument("-o", "--output", metavar="FILE", help="write the block found to this file (TOML)")
    add_replace(parser)
    parser.add_argument("--json", action="store_true", help="print JSON in place of tables")
    return parser


def run(arguments: argparse.Namespace) -> int:
    """Search and print."""
    import signal
    import threading

    from workbench.answers.decide import decide, knob_of, limit_of
    from workbench.prescription.block import read_block
    from workbench.reference.toml_files import toml_text
    from workbench.reference.whole_files import check_free, write_whole

    if arguments.output:
        check_free(arguments.output, replace=arguments.replace)

    stop = threading.Event()
    before = signal.signal(signal.SIGINT, lambda *_: stop.set())
    try:
        found = decide(
            read_block(arguments.block),
            *lifter_and_room(arguments),
            [knob_of(text, place="--turn") for text in arguments.turn],
            limits=[limit_of(text, place="--limit") for text in arguments.limit] if arguments.limit else None,
            demand=arguments.demand,
            draws=arguments.draws,
            seed=arguments.seed,
            progress=_progress(),
            stop=stop,
        )
    finally:
        signal.signal(signal.SIGINT, before)
    print(_as_json(found) if arguments.json else _as_text(found))
    if arguments.output and found.chosen is not None:
        write_whole(arguments.output, toml_text(found.chosen), replace=arguments.replace)
    return 0 if found.chosen is not None else 1


def _progress() -> Callable[[int, int, str], None] | None:
    if not sys.stderr.isatty():
        return None

    def show(done: int, expected: int, best: str) -> None:
        end = "\n" if done == expected else ""
        print(f"\r{done} of at most {expected} plans; best: {best[:80]:<80}", end=end, file=sys.stderr, flush=True)

    return show


def _as_json(found: Decision) -> str:
    from workbench.present.answer import records

    content = {
        "settings": found.settings,
        "within_limits": found.chosen is not None,
        "demand": found.demand,
        "chance": found.chance,
        "weakest": found.weakest,
        "limits": records(found.limits),
        "steps": records(found.steps),
        "front": records(found.front),
        "tried": found.tried,
        "finished": found.finished,
        "method": found.method,
    }
    return json.dumps(content, indent=2, allow_nan=False)


def _as_text(found: Decision) -> str:
    from workbench.present.words import amount, in_words

    first, *others = found.sentences()
    lines = [first, *(f"  {line}" for line in others), "", "Limits:"]
    for row in found.limits.to_dict("records"):
        lines.append(f"  {row['limit']}: {amount(row['value'])}{' BINDS' if row['binds'] else ''}")
        lines.append(f"    {row['reason']}")
    if len(found.steps):
        lines += ["", "One value harder:"]
        lines.extend(
            f"  {row['change']}: {row['breaks'] or 'keeps the limits'}" for row in found.steps.to_dict("records")
        )
    lines += ["", "Trade-off (demand, chance of all reps):"]
    for row in found.front.to_dict("records"):
        mark = " <- chosen" if row["chosen"] else "" if row["allowed"] else "  (breaks a limit)"
        lines.append(f"  {amount(row['demand']):>10}  {in_words(row['chance']):>5}  {row['settings']}{mark}")
    return "\n".join([*lines, "", CLOSING])
