"""``workbench verify``: whether a committed block is what was committed, and its digits come out again."""

from __future__ import annotations

import argparse
from typing import Any

__all__ = ["add_to", "run"]


def add_to(subparsers: Any) -> argparse.ArgumentParser:
    """Describe the command."""
    parser: argparse.ArgumentParser = subparsers.add_parser(
        "verify",
        help="is a committed block unchanged, and predicted the same?",
        description="Compare committed blocks with their fingerprints and work out their predictions again. Exit "
        "code 1 where anything is not the same.",
    )
    parser.add_argument("committed", nargs="+", metavar="COMMITTED", help="folder of a committed block")
    parser.add_argument("--against", metavar="COMMITTED", help="also tell what changed since this revision")
    return parser


def run(arguments: argparse.Namespace) -> int:
    """Verify and print."""
    from workbench.publish.commit import differences, read_committed, verify

    found = [verify(path) for path in arguments.committed]
    print("\n".join(str(one) for one in found))
    if arguments.against:
        old = read_committed(arguments.against)
        for path in arguments.committed:
            told = differences(old, read_committed(path))
            print(f"From {old.path.name} to {read_committed(path).path.name}:")
            print("\n".join(f"  {text}" for text in told) if told else "  nothing changed")
    return 0 if all(one.same for one in found) else 1
