"""``workbench commit``: freeze a block with its lifters, predictions and the reason, and write the sheets."""

from __future__ import annotations

import argparse
from typing import Any

from workbench.commands.arguments import CLOSING, add_room, monday, room_of, whole
from workbench.present.words import in_words
from workbench.quantities import SEED

__all__ = ["add_to", "run"]


def add_to(subparsers: Any) -> argparse.ArgumentParser:
    """Describe the command."""
    parser: argparse.ArgumentParser = subparsers.add_parser(
        "commit",
        help="freeze a block, with predictions, reason and sheets",
        description="Freeze a block in a folder of its own, whole or not at all. Never overwrites: revisions count up.",
    )
    parser.add_argument("block", metavar="BLOCK", help="block file (TOML)")
    parser.add_argument(
        "--lifter", required=True, action="append", metavar="FILE", help="lifter file (TOML); may be given again"
    )
    add_room(parser)
    parser.add_argument("--reason", required=True, metavar="TEXT", help="why this block, in a sentence or two")
    parser.add_argument("--by", default="", metavar="NAME", help="who decided")
    parser.add_argument(
        "--instead-of",
        action="append",
        default=[],
        metavar="FILE",
        help="a block looked at and not taken; may be given again",
    )
    parser.add_argument(
        "--why-not", action="append", default=[], metavar="TEXT", help="why not, once for each --instead-of, in order"
    )
    parser.add_argument("--start", type=monday, metavar="DATE", help="first Monday, as 2026-01-05, to date the sheets")
    parser.add_argument(
        "--to", default="committed", metavar="FOLDER", help="where committed blocks lie (default: committed)"
    )
    parser.add_argument(
        "--draws", type=whole(10, 100_000), default=2000, metavar="N", help="simulated runs (default 2000)"
    )
    parser.add_argument(
        "--seed", type=whole(0, 2**63 - 1), default=SEED, metavar="N", help=f"of the predictions (default {SEED})"
    )
    return parser


def run(arguments: argparse.Namespace) -> int:
    """Commit and print where."""
    from workbench.answers.block_check import check_block
    from workbench.lifter import read_lifter
    from workbench.prescription.block import read_block
    from workbench.publish.commit import (
        Alternative,
        Decision,
        commit_block,
        differences,
        earlier_revisions,
        read_committed,
    )
    from workbench.quantities import InputError

    if len(arguments.why_not) > len(arguments.instead_of):
        raise InputError(None, "--why-not", "is given more often than --instead-of", "give each block looked at first")
    block = read_block(arguments.block)
    reasons = [*arguments.why_not, *[""] * (len(arguments.instead_of) - len(arguments.why_not))]
    looked_at = [read_block(path) for path in arguments.instead_of]
    decision = Decision(
        reason=arguments.reason,
        decided_by=arguments.by,
        alternatives=tuple(Alternative(one.name, one, why) for one, why in zip(looked_at, reasons, strict=True)),
    )
    room = room_of(arguments)
    lifters = [read_lifter(path, room.catalogue) for path in arguments.lifter]
    committed = commit_block(
        block,
        lifters,
        room,
        decision,
        seed=arguments.seed,
        folder=arguments.to,
        draws=arguments.draws,
        start=arguments.start,
    )
    print(f"Committed: {committed.path} (fingerprint {committed.fingerprint[:16]})")
    for name, chance in committed.manifest["chance_of_block"].items():
        print(f"  {name}: {in_words(chance)} chance that all reps of the block are made")
    earlier = earlier_revisions(committed)
    if earlier:
        print(f"Changed since {earlier[-1].name}:")
        try:
            told = differences(read_committed(earlier[-1]), committed)
        except InputError as error:  # of the earlier one; this one is committed
            told = [f"cannot be told: {error}"]
        print("\n".join(f"  {text}" for text in told) if told else "  nothing")
    for who in lifters:
        # What there is to note does not depend on the draws.
        notes = check_block(block, who, room, draws=10, seed=arguments.seed).notes
        for note in notes:
            print(f"Note for {who.name}: {note}.")
    print(f"Sheets: {committed.path / 'sheets'}")
    print(CLOSING)
    return 0
