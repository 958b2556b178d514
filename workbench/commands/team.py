"""``workbench team``: a block over a roster: who misses what, and the smallest change that would mend it."""

from __future__ import annotations

import argparse
import json
import sys
from typing import TYPE_CHECKING, Any

from workbench.commands.arguments import CLOSING, add_replace, add_room, monday, room_of, whole
from workbench.present.words import in_words, percent_said
from workbench.quantities import SEED

if TYPE_CHECKING:
    from workbench.answers.team import Team

__all__ = ["add_to", "run"]


def add_to(subparsers: Any) -> argparse.ArgumentParser:
    """Describe the command."""
    parser: argparse.ArgumentParser = subparsers.add_parser(
        "team",
        help="does the block suit the whole team?",
        description="Check a block for every lifter of a roster: who misses what, and what would mend it.",
    )
    parser.add_argument("block", metavar="BLOCK", help="block file (TOML)")
    parser.add_argument("--roster", required=True, metavar="FOLDER", help="folder of lifter files (TOML)")
    add_room(parser)
    parser.add_argument("--no-mend", action="store_true", help="do not look for mends: several times as fast")
    parser.add_argument("--sheets", metavar="FOLDER", help="also write a sheet for each lifter into this folder")
    parser.add_argument("--start", type=monday, metavar="DATE", help="first Monday, as 2026-01-05, to date the sheets")
    add_replace(parser)
    parser.add_argument("--cluster", metavar="WHERE", help="'local' or the address of a Dask scheduler")
    parser.add_argument("--workers", type=whole(1, 256), default=2, metavar="N", help="workers of a local cluster")
    parser.add_argument(
        "--draws", type=whole(10, 100_000), default=500, metavar="N", help="simulated runs (default 500)"
    )
    parser.add_argument(
        "--seed", type=whole(0, 2**63 - 1), default=SEED, metavar="N", help=f"same seed, same digits (default {SEED})"
    )
    parser.add_argument("--json", action="store_true", help="print JSON in place of a table")
    return parser


def run(arguments: argparse.Namespace) -> int:
    """Check the roster and print."""
    from workbench.answers.team import read_roster, team_check
    from workbench.prescription.block import read_block
    from workbench.publish.sheets import write_sheets

    block, room = read_block(arguments.block), room_of(arguments)
    roster = read_roster(arguments.roster, room.catalogue)
    team = team_check(
        block,
        roster,
        room,
        draws=arguments.draws,
        seed=arguments.seed,
        mend=not arguments.no_mend,
        cluster=arguments.cluster,
        workers=arguments.workers,
        progress=_progress if sys.stderr.isatty() else None,
    )
    print(_as_json(team) if arguments.json else _as_text(team))
    if arguments.sheets:
        written = write_sheets(
            block,
            roster,
            room,
            arguments.sheets,
            draws=arguments.draws,
            seed=arguments.seed,
            start=arguments.start,
            replace=arguments.replace,
            problem=lambda lifter, error: print(f"no sheet for {lifter.name}: {error}", file=sys.stderr),
        )
        print(f"{len(written)} sheets in {arguments.sheets}", file=sys.stderr if arguments.json else sys.stdout)
    return 0


def _progress(done: int, of: int) -> None:
    print(f"\r{done} of {of} lifters", end="\n" if done == of else "", file=sys.stderr, flush=True)


def _as_json(team: Team) -> str:
    from workbench.present.answer import records

    content = {"limit": team.limit, "finished": team.finished, "lifters": records(team.table)}
    return json.dumps(content, indent=2, allow_nan=False)


def _as_text(team: Team) -> str:
    lines = [f"Lowest accepted chance of a set: {percent_said(team.limit)}", ""]
    lines.append(f"{'lifter':<24}{'block':>7}{'least likely set':>18}{'groups short':>14}{'longest':>10}")
    for row in team.table.to_dict("records"):
        if row["problem"]:
            lines.append(f"{row['lifter']:<24} no answer: {row['problem']}")
            continue
        block, lowest = in_words(row["chance_of_block"]), in_words(row["lowest_chance"])
        lines.append(f"{row['lifter']:<24}{block:>7}{lowest:>18}{row['groups_below']:>14}{row['minutes']:>6.0f} min")
    short = team.falling_short()
    lines += [
        "",
        f"{len(short)} of {len(team.table)} fall short; the first set of each, and what would mend its group:",
    ]
    for row in short.to_dict("records"):
        lines.append(f"  {row['lifter']}: {row['first_break']}")
        found = [row[key] for key in ("mend_rest", "mend_load", "mend_reps") if row[key]]
        lines.append(
            f"    {'; or '.join(found) if found else 'no single change of rest, load or reps looked for or found'}"
        )
    notes = team.note_lines()
    if notes:
        lines += ["", "Notes, as workbench check gives them for each lifter:", *(f"  {note}" for note in notes)]
    return "\n".join([*lines, "", CLOSING])
