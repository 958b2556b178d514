"""``workbench bench``: the speed figures, as ratios within one run."""

from __future__ import annotations

import argparse
import json
from typing import Any

__all__ = ["add_to", "run"]


def add_to(subparsers: Any) -> argparse.ArgumentParser:
    """Describe the command."""
    parser: argparse.ArgumentParser = subparsers.add_parser(
        "bench", help="measure speed, as ratios within one run", description="Measure speed, as ratios within one run."
    )
    parser.add_argument("--json", action="store_true", help="print JSON in place of a table")
    return parser


def run(arguments: argparse.Namespace) -> int:
    """Measure and print."""
    from workbench.commands.benchmark import run_benchmark

    if arguments.json:
        print(json.dumps([row.as_dict() for row in run_benchmark()], indent=2))
        return 0
    words = {True: "yes", False: "NO", None: "not measured"}
    print(f"{'':<42}{'ratio':>8}{'target':>18}  met")
    for row in run_benchmark():
        ratio = "" if row.ratio is None else f"{row.ratio:.2f}"
        target = f"at {'most' if row.at_most else 'least'} {row.target:.2f}"
        print(f"{row.name:<42}{ratio:>8}{target:>18}  {words[row.met]}")
        print(f"    {row.note}", flush=True)
    return 0
