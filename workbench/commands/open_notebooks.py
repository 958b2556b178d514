"""``workbench open``: JupyterLab on a working copy of the notebooks."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from workbench.commands.arguments import whole

__all__ = ["add_to", "run"]


def add_to(subparsers: Any) -> argparse.ArgumentParser:
    """Describe the command."""
    parser: argparse.ArgumentParser = subparsers.add_parser(
        "open",
        help="open the notebooks in JupyterLab",
        description="Open JupyterLab on a working copy of the notebooks.",
    )
    parser.add_argument("--no-browser", action="store_true", help="print the address, open no browser")
    parser.add_argument("--folder", type=Path, help="folder of the working copy (default: workbench-notebooks)")
    parser.add_argument("--port", type=whole(1, 65535), metavar="N", help="port on this machine (default: a free one)")
    return parser


def run(arguments: argparse.Namespace) -> int:
    """Start JupyterLab and wait for it to end."""
    from workbench.commands.notebook_server import open_workbench

    return open_workbench(browser=not arguments.no_browser, folder=arguments.folder, port=arguments.port)
