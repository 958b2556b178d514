"""``workbench check``: simulate a block for one lifter in one room and print what will probably be made."""

from __future__ import annotations

import argparse
import json
from typing import TYPE_CHECKING, Any

import numpy as np

from workbench.commands.arguments import add_lifter_and_room, add_simulation, lifter_and_room
from workbench.commands.check_session import add_views, asked, view_json, view_text
from workbench.present.answer import records
from workbench.present.words import in_words, load_said, reps_said, reserve_said
from workbench.reference.sources import data_path

if TYPE_CHECKING:
    import pandas as pd

    from workbench.answers.block_check import BlockCheck
    from workbench.answers.mend import Mend

__all__ = ["add_to", "run", "run_demo"]


def add_to(subparsers: Any) -> argparse.ArgumentParser:
    """Describe the command."""
    parser: argparse.ArgumentParser = subparsers.add_parser(
        "check",
        help="will every rep of a block be made?",
        description="Simulate a block for one lifter in one room: chance of all reps, reps in reserve, what breaks "
        "first, what would mend it.",
    )
    parser.add_argument("block", metavar="BLOCK", help="block file (TOML)")
    add_lifter_and_room(parser)
    add_simulation(parser)
    parser.add_argument("--json", action="store_true", help="print JSON in place of tables")
    add_views(parser)
    return parser


def run(arguments: argparse.Namespace) -> int:
    """Check the block and print the answer."""
    from workbench.answers.block_check import check_block
    from workbench.answers.mend import mends
    from workbench.prescription.block import read_block
    from workbench.quantities import InputError

    block, (lifter, room) = read_block(arguments.block), lifter_and_room(arguments)
    try:
        check = check_block(block, lifter, room, draws=arguments.draws, seed=arguments.seed)
        if asked(arguments):
            if arguments.json:
                print(json.dumps(view_json(arguments, check, block, lifter, room), indent=2, allow_nan=False))
            else:
                print(view_text(arguments, check, block, lifter, room))
            return 0
    except InputError as error:
        file = arguments.lifter if error.place.startswith("lifter ") else arguments.block
        raise InputError(error.file or file, error.place, error.problem, error.remedy) from None
    mended = mends(check, room, draws=min(arguments.draws, 1000), seed=arguments.seed)
    print(_as_json(check, mended) if arguments.json else _as_text(check, mended))
    return 0


def run_demo() -> int:
    """Check the demonstration block with a fixed seed."""
    demo = data_path("demo")
    arguments = argparse.Namespace(
        block=demo / "block.toml",
        lifter=demo / "lifters" / "emre_sandoval.toml",
        room=demo / "rooms" / "boathouse_hall.toml",
        draws=2000,
        seed=1,
        json=False,
    )
    return run(arguments)


def _as_json(check: BlockCheck, mended: list[Mend]) -> str:
    said = [load_said(row) for row in check.sets.to_dict("records")]
    content = {
        "block": check.plan.block.name,
        "lifter": check.plan.lifter.name,
        "model": check.form.name,
        "limit": check.limit,
        "chance_of_block": check.chance_of_block,
        "weeks": records(check.weeks),
        "sets": records(check.sets.assign(load=said)),
        "first_break": None if check.first_break is None else vars(check.first_break),
        "mends": [{"kind": mend.kind, "change": mend.change, "chance": mend.chance} for mend in mended],
        "warnings": list(check.notes),
    }
    return json.dumps(content, indent=2, allow_nan=False)


def _as_text(check: BlockCheck, mended: list[Mend]) -> str:
    from workbench.prescription.block import WHOLE_WEEK

    lines = [
        f"{check.plan.block.name}: {check.plan.lifter.name}",
        check.plan.block.note,
        f"Model: {check.form.name}. Bands are the middle 80 % of the simulated days.",
        "",
    ]
    for (week, _), sets in check.sets.groupby(["week", "session_number"], sort=False):
        name = sets["session"].iloc[0]
        summary = check.weeks[(check.weeks["week"] == week) & (check.weeks["session"] == name)].iloc[0]
        lines.append(f"Week {week}, {name}: all reps {in_words(summary['chance'])}, about {summary['minutes']:.0f} min")
        lines.append(
            f"  {'exercise':<24}{'set':<10}{'load':>20}{'of 1RM':>8}  {'reps':<10}{'rest':>6}{'chance':>8}  "
            f"{'in reserve':<22}"
        )
        lines.extend(_set_line(row) for _, row in sets.iterrows())
        lines.append("")
    lines.append("Chance that all reps of the week are made:")
    whole = check.weeks[check.weeks["session"] == WHOLE_WEEK]
    lines.extend(f"  week {row['week']}: {in_words(row['chance'])}" for row in whole.to_dict("records"))
    lines.append(f"  whole block: {in_words(check.chance_of_block)}")
    lines.append("")
    if check.first_break is None:
        lines.append(f"Every set has at least a {check.limit:.0%} chance that all its reps are made.")
    else:
        lines.append(f"First set under {check.limit:.0%}: {check.first_break}.")
        lines.append("What would mend that group in every week (one of these, proposed only):")
        lines.extend(f"  {mend.change} (lowest chance then {in_words(mend.chance)})" for mend in mended)
        if not mended:
            lines.append("  no single change of rest, load or reps within reach; think the group over")
    lines.extend(f"Note: {warning}." for warning in check.notes)
    lines.append("")
    lines.append("A prediction for a healthy, experienced adult with a qualified coach; it clears nobody to train.")
    lines.append("Spotters or safety arms for sets near failure. Stop on pain.")
    return "\n".join(lines)


def _set_line(row: pd.Series) -> str:
    reps = reps_said(row["reps_low"], row["reps_high"])
    if np.isinf(row["reps_high"]):
        chance = ""
        reserve = f"{row['reps_p50']:.0f} reps ({row['reps_p10']:.0f} to {row['reps_p90']:.0f})"
    else:
        chance = in_words(row["chance"])
        reserve = reserve_said(row["reserve_low"], row["reserve"], row["reserve_high"])
    return (
        f"  {row['exercise']:<24}{row['set']:<10}{load_said(row.to_dict()):>20}{row['percent']:>6.1f} %  {reps:<10}"
        f"{row['rest_s']:>4.0f} s{chance:>8}  {reserve:<22}"
    )
