"""``workbench team``: a block over a roster: who misses what, and the smallest change that would mend it."""

from __future__ import annotations

import argparse
import sys
from typing import Any

from workbench.answers.team import Team, read_roster, team_check
from workbench.commands.arguments import CLOSING, room_of, show
from workbench.prescription.block import read_block
from workbench.present.answer import records
from workbench.publish.sheets import write_sheets

__all__ = ["team"]


def team(arguments: argparse.Namespace) -> int:
    """Check the roster and print."""
    block, room = read_block(arguments.block), room_of(arguments)
    roster = read_roster(arguments.roster, room.catalogue)
    simulation = {"draws": arguments.draws, "seed": arguments.seed}
    found = team_check(
        block,
        roster,
        room,
        mend=not arguments.no_mend,
        cluster=arguments.cluster,
        workers=arguments.workers,
        progress=_progress if sys.stderr.isatty() else None,
        **simulation,
    )
    show(arguments, _as_dict, _as_lines, found)
    if arguments.sheets:
        written = write_sheets(
            block,
            roster,
            room,
            arguments.sheets,
            start=arguments.start,
            replace=arguments.replace,
            problem=lambda lifter, error: print(f"no sheet for {lifter.name}: {error}", file=sys.stderr),
            **simulation,
        )
        print(f"{len(written)} sheets in {arguments.sheets}", file=sys.stderr if arguments.json else sys.stdout)
    return 0


def _progress(done: int, of: int) -> None:
    print(f"\r{done} of {of} lifters", end="\n" if done == of else "", file=sys.stderr, flush=True)


def _as_dict(found: Team) -> dict[str, Any]:
    return {"limit": found.limit, "finished": found.finished, "lifters": records(found.table)}


def _as_lines(found: Team) -> list[str]:
    lines = [f"Lowest accepted chance of a set: {found.limit:.0%}", ""]
    lines.append(f"{'lifter':<24}{'block':>7}{'least likely set':>18}{'groups short':>14}{'longest':>10}")
    answered = "{chance_of_block:>7.0%}{lowest_chance:>18.0%}{groups_below:>14}{minutes:>6.0f} min"
    for row in found.table.to_dict("records"):
        said = f" no answer: {row['problem']}" if row["problem"] else answered.format_map(row)
        lines.append(f"{row['lifter']:<24}{said}")
    short = found.falling_short()
    lines.append("")
    lines.append(
        f"{len(short)} of {len(found.table)} fall short; the first set of each, and what would mend its group:"
    )
    for row in short.to_dict("records"):
        mended = "; or ".join(row[key] for key in ("mend_rest", "mend_load", "mend_reps") if row[key])
        lines.append(f"  {row['lifter']}: {row['first_break']}")
        lines.append(f"    {mended or 'no single change of rest, load or reps looked for or found'}")
    notes = found.note_lines()
    if notes:
        lines += ["", "Notes, as workbench check gives them for each lifter:", *(f"  {note}" for note in notes)]
    return [*lines, "", CLOSING]
