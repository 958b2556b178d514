"""``workbench rationale``: the page that says what was decided, against which alternatives, and how sure it is."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from workbench.commands.arguments import add_replace

__all__ = ["add_to", "run"]


def add_to(subparsers: Any) -> argparse.ArgumentParser:
    """Describe the command."""
    parser: argparse.ArgumentParser = subparsers.add_parser(
        "rationale",
        help="one offline page that says why this block",
        description="Write the rationale of a committed block as one HTML file that opens offline, or as PDF where "
        "Chromium is installed.",
    )
    parser.add_argument("committed", metavar="COMMITTED", help="folder of a committed block")
    parser.add_argument("-o", "--output", required=True, metavar="FILE", help="name.html or name.pdf")
    add_replace(parser)
    return parser


def run(arguments: argparse.Namespace) -> int:
    """Write and print the name."""
    from workbench.publish.rationale import write_pdf, write_rationale
    from workbench.quantities import InputError

    output = Path(arguments.output)
    kind = output.suffix.lower()
    if kind not in {".html", ".pdf"}:
        raise InputError(
            output, "output", f"{kind or 'no ending'} is not a kind of page", "end the name in .html or .pdf"
        )
    written = (write_rationale if kind == ".html" else write_pdf)(
        arguments.committed, output, replace=arguments.replace
    )
    print(f"{written} ({written.stat().st_size / 1e6:.1f} MB)")
    return 0
