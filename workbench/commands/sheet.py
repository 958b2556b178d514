"""``workbench sheet``: the sheet of a block for one lifter, as a workbook to fill in and a page to print."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from workbench.commands.arguments import (
    add_lifter_and_room,
    add_replace,
    add_simulation,
    lifter_and_room,
    monday,
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
    add_replace(parser)
    add_simulation(parser)
    return parser


def run(arguments: argparse.Namespace) -> int:
    """Write and print the names."""
    from workbench.answers.block_check import check_block
    from workbench.prescription.block import read_block
    from workbench.publish.sheets import make_sheet, write_page, write_workbook
    from workbench.quantities import InputError
    from workbench.reference.whole_files import check_free

    output = Path(arguments.output)
    if output.suffix.lower() not in {"", ".xlsx", ".html"}:
        raise InputError(output, "output", f"{output.suffix} is no kind of sheet", "end the name in .xlsx or .html")
    if not output.name:
        raise InputError(output, "output", "is no name of a file", "give name.xlsx or name.html")
    kinds = {".xlsx": write_workbook, ".html": write_page}
    wanted = [(output.with_suffix(kind), write) for kind, write in kinds.items() if output.suffix.lower() in {"", kind}]
    for path, _ in wanted:
        check_free(path, replace=arguments.replace)
    block, (lifter, room) = read_block(arguments.block), lifter_and_room(arguments)
    check = check_block(block, lifter, room, draws=arguments.draws, seed=arguments.seed)
    sheet = make_sheet(check, room, start=arguments.start)
    for path, write in wanted:
        print(write(sheet, path, replace=arguments.replace))
    for note in check.notes:
        print(f"Note: {note}.")
    return 0
