"""``workbench compare``: schemes met by the same simulated lifters and days, and what tells them apart."""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

from workbench.commands.arguments import CLOSING, add_lifter_and_room, add_simulation, lifter_and_room, positive, whole

if TYPE_CHECKING:
    from workbench.answers.compare import Comparison
    from workbench.gym.catalogue import Catalogue
    from workbench.prescription.block import Block

__all__ = ["add_to", "as_text", "run"]


def add_to(subparsers: Any) -> argparse.ArgumentParser:
    """Describe the command."""
    parser: argparse.ArgumentParser = subparsers.add_parser(
        "compare",
        help="which of these schemes?",
        description="Compare blocks, or the library of schemes on one exercise, on the same simulated days.",
    )
    parser.add_argument("blocks", nargs="*", metavar="BLOCK", help="block files (TOML); none: the library of schemes")
    add_lifter_and_room(parser)
    parser.add_argument("--exercise", metavar="NAME", help="compare the library's schemes on this exercise")
    parser.add_argument(
        "--percent", type=positive(20, 100), default=70.0, metavar="P", help="library: first percent of 1RM"
    )
    parser.add_argument("--step", type=positive(-10, 10), default=2.5, metavar="P", help="library: points a week")
    parser.add_argument("--sets", type=whole(1, 20), default=5, metavar="N", help="library: sets")
    parser.add_argument("--reps", type=whole(1, 50), default=5, metavar="N", help="library: reps")
    parser.add_argument("--rest", type=positive(0, 1800), default=150.0, metavar="S", help="library: rest, s")
    parser.add_argument("--weeks", type=whole(1, 52), default=4, metavar="N", help="library: weeks")
    parser.add_argument(
        "--outcome", action="append", metavar="KEY", help="outcome to show; may be given again (default: all)"
    )
    parser.add_argument(
        "--order-by", metavar="KEY", default=None, help="outcome that orders the schemes (default: the first)"
    )
    add_simulation(parser)
    parser.add_argument("--json", action="store_true", help="print JSON in place of tables")
    return parser


def run(arguments: argparse.Namespace) -> int:
    """Compare and print."""
    from workbench.answers.compare import DEFAULT_MEASURES, compare_blocks

    lifter, room = lifter_and_room(arguments)
    blocks = _blocks(arguments, room.catalogue)
    outcomes = tuple(dict.fromkeys(arguments.outcome or DEFAULT_MEASURES))
    order = arguments.order_by or outcomes[0]
    if order not in outcomes:
        outcomes = (*outcomes, order)
    found = compare_blocks(blocks, lifter, room, outcomes=outcomes, draws=arguments.draws, seed=arguments.seed)
    print(_as_json(found, order) if arguments.json else as_text(found, order))
    return 0


def _blocks(arguments: argparse.Namespace, catalogue: Catalogue) -> dict[str, Block]:
    from workbench.prescription.block import read_block
    from workbench.prescription.schemes import SCHEMES, exercise_block
    from workbench.quantities import InputError

    blocks: dict[str, Block] = {}
    for path in arguments.blocks:
        block = read_block(path)
        name = block.name if block.name not in blocks else f"{block.name} ({Path(path).name})"
        if name in blocks:
            raise InputError(path, "block", "is given twice", "give each block once")
        blocks[name] = block
    if arguments.exercise:
        for label, build in SCHEMES.items():
            scheme = build(
                percent=arguments.percent,
                step=arguments.step,
                sets=arguments.sets,
                reps=arguments.reps,
                rest_s=arguments.rest,
                weeks=arguments.weeks,
            )
            blocks[label] = exercise_block(arguments.exercise, scheme, weeks=arguments.weeks, exercises=catalogue)
    if not blocks:
        raise InputError(
            None, "compare", "nothing to compare", "give block files, or --exercise for the library of schemes"
        )
    return blocks


def _as_json(found: Comparison, order: str) -> str:
    from workbench.present.answer import records

    content = {
        "draws": found.draws,
        "seed": found.seed,
        "order": list(found.ordered(order)["scheme"]),
        "schemes": records(found.schemes),
        "pairs": records(found.pairs),
    }
    return json.dumps(content, indent=2, allow_nan=False)


def as_text(found: Comparison, order: str) -> str:
    """Return the tables of a comparison as text, schemes ordered by one outcome."""
    from workbench.present.words import amount

    names = list(found.ordered(order)["scheme"])
    lines = [found.sentences()[0], ""]
    for key, rows in found.schemes.groupby("outcome", sort=False):
        first = rows.iloc[0]
        lines.append(f"{first['label']} [{first['unit']}]" + (", grade assumed" if first["grade"] == "assumed" else ""))
        of_scheme = rows.set_index("scheme")
        for name in names:
            row = of_scheme.loc[name]
            lines.append(f"  {name:<34}{amount(row['mean']):>10}  ({amount(row['p10'])} to {amount(row['p90'])})")
        best = names[0]
        pairs = found.pairs[found.pairs["outcome"] == key]
        lines.extend(_pair_line(pairs, best, other) for other in names[1:])
        lines.append("")
    return "\n".join([*lines, CLOSING])


def _pair_line(pairs: Any, first: str, other: str) -> str:
    from workbench.present.words import amount, in_words

    row = pairs[((pairs["a"] == first) & (pairs["b"] == other)) | ((pairs["a"] == other) & (pairs["b"] == first))].iloc[
        0
    ]
    turned = row["a"] != first
    sign = -1.0 if turned else 1.0
    low, high = sorted((sign * row["p10"], sign * row["p90"]))
    chance = row["chance_b"] if turned else row["chance_a"]
    return (
        f"    {first} minus {other}: {amount(sign * row['difference'], signed=True)} ({amount(low, signed=True)} to "
        f"{amount(high, signed=True)}); "
        f"higher in {in_words(chance)} of runs, the same in {in_words(row['chance_same'])}"
    )
