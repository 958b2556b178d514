"""``workbench sheet``: the sheet of a block for one lifter, as a workbook to fill in and a page to print."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from workbench.commands.arguments import (
    add_lifter_and_room,
    add_own_exercises,
    add_simulation,
    monday,
    use_own_exercises,
)

__all__ = ["add_to", "run"]


def add_to(subparsers: Any) -> argparse.ArgumentParser:
    """Describe the command."""
    parser: argparse.ArgumentParser = subparsers.add_parser(
        "sheet",
        help="sheets to hand out: a workbook to fill in, a page to print",
        description="Write the sheet of a block for one lifter. Once filled in, the workbook reads back as a log.",
    )
    parser.add_argument("block", metavar="BLOCK", help="block file (TOML)")
    add_lifter_and_room(parser)
    parser.add_argument(
        "-o",
        "--output",
        required=True,
        metavar="FILE",
        help="name.xlsx or name.html; without an ending, both are written",
    )
    parser.add_argument(
        "--start", type=monday, metavar="DATE", help="first Monday, as 2026-01-05, to date the sessions"
    )
    add_own_exercises(parser)
    add_simulation(parser)
    return parser


def run(arguments: argparse.Namespace) -> int:
    """Write and print the names."""
    from workbench.block import read_block
    from workbench.equipment import read_room
    from workbench.lifter import read_lifter
    from workbench.quantities import InputError
    from workbench.questions.block_check import check_block
    from workbench.sheets import make_sheet, write_page, write_workbook

    use_own_exercises(arguments)
    output = Path(arguments.output)
    if output.suffix.lower() not in {"", ".xlsx", ".html"}:
        raise InputError(output, "output", f"{output.suffix} is no kind of sheet", "end the name in .xlsx or .html")
    block, room = read_block(arguments.block), read_room(arguments.room)
    check = check_block(block, read_lifter(arguments.lifter), room, draws=arguments.draws, seed=arguments.seed)
    sheet = make_sheet(check, room, start=arguments.start)
    if output.suffix.lower() in {"", ".xlsx"}:
        print(write_workbook(sheet, output.with_suffix(".xlsx")))
    if output.suffix.lower() in {"", ".html"}:
        print(write_page(sheet, output.with_suffix(".html")))
    for note in check.notes:
        print(f"Note: {note}.")
    return 0
