"""The command line: ``workbench`` or ``python -m workbench``."""

from __future__ import annotations

import argparse
import io
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, redirect_stderr, redirect_stdout
from functools import cache
from typing import Any

from workbench.commands.described import COMMANDS
from workbench.quantities import InputError, visible
from workbench.reference.sources import data_path

__all__ = ["command_line", "main"]

_ABOUT = """\
Plan blocks of resistance training and see, before anyone lifts, what a particular lifter can probably do:
simulated percent waves, drop sets, back-offs and repetition-maximum curves, with how sure each answer is.
"""

_CAUTIONS = """\
It predicts; it clears nobody to train. For healthy, experienced adults with a qualified coach. Stop on pain.
Spotters or safety arms for sets near failure. Minors, pregnancy, illness, injury, medicine: ask a licensed
professional first. The facility's rules and local codes come before anything printed here.
"""


@cache
def command_line() -> argparse.ArgumentParser:
    """Return the parser of all commands, made once for whoever calls `main` again and again."""
    parser = argparse.ArgumentParser(
        prog="workbench",
        description=_ABOUT,
        epilog=_CAUTIONS,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    subparsers = parser.add_subparsers(title="commands", metavar="COMMAND")
    for command in COMMANDS:
        command.add_to(subparsers)
    return parser


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; return the exit code (2 for input that cannot be used, 130 when interrupted)."""
    with _printable():
        parser = command_line()
        arguments = parser.parse_args(argv)
        try:
            if not hasattr(arguments, "run"):
                parser.print_help()
                print("\nThe demonstration (invented lifter, room and block):\n")
                arguments = parser.parse_args(_demonstration())
            return int(arguments.run(arguments))
        except InputError as error:
            print(f"workbench: {error}", file=sys.stderr)
            return 2
        except BrokenPipeError:
            sys.stderr.close()
            return 0
        except OSError as error:  # of what is written beside the files that were asked for
            reason = " ".join((error.strerror or str(error) or type(error).__name__).split())
            print(f"workbench: {reason}; make room in the folder for temporary files (TMPDIR)", file=sys.stderr)
            return 2
        except KeyboardInterrupt:
            return 130


def _demonstration() -> list[str]:
    demo = data_path("demo")
    lifter, room = demo / "lifters" / "emre_sandoval.toml", demo / "rooms" / "boathouse_hall.toml"
    return ["check", str(demo / "block.toml"), "--lifter", str(lifter), "--room", str(room)]


class _Visible:
    """A text stream that spells control characters out: no name from a file can move the cursor or hide a line."""

    def __init__(self, stream: Any, kept: str) -> None:
        self._stream, self._kept = stream, kept

    def write(self, text: str) -> int:
        self._stream.write(visible(text, self._kept))
        return len(text)

    def __getattr__(self, name: str) -> Any:
        return getattr(self._stream, name)


@contextmanager
def _printable() -> Iterator[None]:
    """Print whatever a name may hold, in any encoding: letters that it lacks are spelled out, before work is lost."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")
    # A line of progress on the screen writes over itself.
    out: Any = _Visible(sys.stdout, "\n\t")
    error: Any = _Visible(sys.stderr, "\n\t\r")
    with redirect_stdout(out), redirect_stderr(error):
        yield


if __name__ == "__main__":
    sys.exit(main())
