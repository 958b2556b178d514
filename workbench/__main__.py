"""The command line: ``workbench`` or ``python -m workbench``."""

from __future__ import annotations

import argparse
import importlib
import sys
from collections.abc import Sequence

from workbench.commands import COMMANDS
from workbench.quantities import InputError

__all__ = ["main"]

_ABOUT = """\
Plan blocks of resistance training and see, before anyone lifts, what a particular lifter can probably do:
simulated percent waves, drop sets, back-offs and repetition-maximum curves, with how sure each answer is.
"""

_CAUTIONS = """\
It predicts; it clears nobody to train. For healthy, experienced adults with a qualified coach. Stop on pain.
Spotters or safety arms for sets near failure. Minors, pregnancy, illness or injury: ask a licensed professional
first. The facility's rules and local codes come before anything printed here.
"""


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; return the exit code (2 for input that cannot be used, 130 when interrupted)."""
    parser = argparse.ArgumentParser(
        prog="workbench",
        description=_ABOUT,
        epilog=_CAUTIONS,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    subparsers = parser.add_subparsers(title="commands", metavar="COMMAND")
    modules = [importlib.import_module(f"workbench.commands.{name}") for name in COMMANDS]
    for module in modules:
        command = module.add_to(subparsers)
        command.set_defaults(run=module.run)
    arguments = parser.parse_args(argv)
    try:
        if not hasattr(arguments, "run"):
            parser.print_help()
            return _demo()
        return int(arguments.run(arguments))
    except InputError as error:
        print(f"workbench: {error}", file=sys.stderr)
        return 2
    except BrokenPipeError:
        sys.stderr.close()
        return 0
    except KeyboardInterrupt:
        return 130


def _demo() -> int:
    from workbench.commands.check import run_demo

    print("\nThe demonstration (invented lifter, room and block):\n")
    return run_demo()


if __name__ == "__main__":
    sys.exit(main())
