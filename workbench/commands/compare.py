"""``workbench compare``: schemes met by the same simulated lifters and days, and what tells them apart."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

import pandas as pd

from workbench.answers.compare import DEFAULT_MEASURES, Comparison, compare_blocks
from workbench.commands.arguments import CLOSING, lifter_and_room, show
from workbench.gym.catalogue import Catalogue
from workbench.prescription.block import Block, read_block
from workbench.prescription.schemes import SCHEMES, exercise_block
from workbench.present.answer import records
from workbench.present.words import amount
from workbench.quantities import InputError

__all__ = ["compare"]


def compare(arguments: argparse.Namespace) -> int:
    """Compare and print."""
    lifter, room = lifter_and_room(arguments)
    blocks = _blocks(arguments, room.catalogue)
    outcomes = tuple(dict.fromkeys(arguments.outcome or DEFAULT_MEASURES))
    order = arguments.order_by or outcomes[0]
    if order not in outcomes:
        outcomes = (*outcomes, order)
    found = compare_blocks(blocks, lifter, room, outcomes=outcomes, draws=arguments.draws, seed=arguments.seed)
    show(arguments, _as_dict, _as_lines, found, order)
    return 0


def _blocks(arguments: argparse.Namespace, catalogue: Catalogue) -> dict[str, Block]:
    blocks: dict[str, Block] = {}
    for path in arguments.blocks:
        block = read_block(path)
        name = block.name if block.name not in blocks else f"{block.name} ({Path(path).name})"
        if name in blocks:
            raise InputError(path, "block", "is given twice", "give each block once")
        blocks[name] = block
    if arguments.exercise:
        start = {name: getattr(arguments, name) for name in ("percent", "step", "sets", "reps", "weeks")}
        for label, build in SCHEMES.items():
            scheme = build(**start, rest_s=arguments.rest)
            blocks[label] = exercise_block(arguments.exercise, scheme, weeks=arguments.weeks, exercises=catalogue)
    if not blocks:
        remedy = "give block files, or --exercise for the library of schemes"
        raise InputError(None, "compare", "nothing to compare", remedy)
    return blocks


def _as_dict(found: Comparison, order: str) -> dict[str, Any]:
    return {
        "draws": found.draws,
        "seed": found.seed,
        "order": list(found.ordered(order)["scheme"]),
        "schemes": records(found.schemes),
        "pairs": records(found.pairs),
    }


def _as_lines(found: Comparison, order: str) -> list[str]:
    best, *others = names = list(found.ordered(order)["scheme"])
    lines = [found.sentences()[0], ""]
    for key, rows in found.schemes.groupby("outcome", sort=False):
        first = rows.iloc[0]
        lines.append(f"{first['label']} [{first['unit']}]" + (", grade assumed" if first["grade"] == "assumed" else ""))
        of_scheme = rows.set_index("scheme")
        for name in names:
            row = of_scheme.loc[name]
            lines.append(f"  {name:<34}{amount(row['mean']):>10}  ({amount(row['p10'])} to {amount(row['p90'])})")
        pairs = found.pairs[found.pairs["outcome"] == key]
        lines += [_pair_line(pairs, best, other) for other in others]
        lines.append("")
    return [*lines, CLOSING]


def _pair_line(pairs: pd.DataFrame, first: str, other: str) -> str:
    row = pairs[pairs["a"].isin([first, other]) & pairs["b"].isin([first, other])].iloc[0]
    turned = row["a"] != first
    sign = -1.0 if turned else 1.0
    low, high = sorted((sign * row["p10"], sign * row["p90"]))
    return (
        f"    {first} minus {other}: {amount(sign * row['difference'], signed=True)} ({amount(low, signed=True)} to "
        f"{amount(high, signed=True)}); higher in {row['chance_b' if turned else 'chance_a']:.0%} of runs, the same in "
        f"{row['chance_same']:.0%}"
    )
