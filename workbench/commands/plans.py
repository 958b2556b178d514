"""``workbench compare``, ``decide`` and ``team``: which of these blocks, the best within limits, and for everybody."""

from __future__ import annotations

import argparse
import signal
import sys
import threading
from pathlib import Path
from typing import Any

import pandas as pd

from workbench.answers.compare import DEFAULT_MEASURES, Comparison, compare_blocks
from workbench.answers.decide import Decision, knob_of, limit_of
from workbench.answers.decide import decide as decided
from workbench.answers.group_rules import has_rules, with_and_without
from workbench.answers.start_loads import with_ratios
from workbench.answers.team import Team, read_roster, team_check
from workbench.commands.arguments import CLOSING, each, lifter_and_room, room_of, show
from workbench.gym.catalogue import Catalogue
from workbench.prescription.block import Block, read_block
from workbench.prescription.schemes import SCHEMES, exercise_block
from workbench.present.answer import records
from workbench.present.words import amount, in_words, mean_and_band, outcome_named, outcome_said, percent_said
from workbench.publish.sheets import write_sheets
from workbench.quantities import InputError
from workbench.reference.toml_files import toml_text
from workbench.reference.whole_files import check_free, write_whole

__all__ = ["compare", "decide", "team"]


# ---- which of these -------------------------------------------------------------------------------------------------


def compare(arguments: argparse.Namespace) -> int:
    """Compare and print."""
    lifter, room = lifter_and_room(arguments)
    blocks = _blocks(arguments, room.catalogue)
    lifter = with_ratios(lifter, room, *blocks.values())
    outcomes = tuple(dict.fromkeys(arguments.outcome or DEFAULT_MEASURES))
    order = arguments.order_by or outcomes[0]
    if order not in outcomes:
        outcomes = (*outcomes, order)
    found = compare_blocks(blocks, lifter, room, outcomes=outcomes, draws=arguments.draws, seed=arguments.seed)
    show(arguments, _compared_as_dict, _compared_as_lines, found, order)
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
    if arguments.without_rules:
        if not any(map(has_rules, blocks.values())):
            raise InputError(None, "--without-rules", "no block has a rule in a set group", "leave it out")
        blocks = with_and_without(blocks)
    if not blocks:
        remedy = "give block files, or --exercise for the library of schemes"
        raise InputError(None, "compare", "nothing to compare", remedy)
    return blocks


def _compared_as_dict(found: Comparison, order: str) -> dict[str, Any]:
    return {
        "draws": found.draws,
        "seed": found.seed,
        "order": list(found.ordered(order)["scheme"]),
        "schemes": records(found.schemes),
        "pairs": records(found.pairs),
    }


def _compared_as_lines(found: Comparison, order: str) -> list[str]:
    best, *others = names = list(found.ordered(order)["scheme"])
    lines = [found.sentences()[0], ""]
    for key, rows in found.schemes.groupby("outcome", sort=False):
        first = rows.iloc[0].to_dict()
        lines.append(outcome_named(first) + (", grade assumed" if first["grade"] == "assumed" else ""))
        of_scheme = rows.set_index("scheme")
        lines += [f"  {name:<34}{outcome_said(of_scheme.loc[name].to_dict())}" for name in names]
        pairs = found.pairs[found.pairs["outcome"] == key]
        lines += [_pair_line(pairs, best, other) for other in others]
        lines.append("")
    return [*lines, *(f"Note: {note}." for note in found.by_ratio), CLOSING]


def _pair_line(pairs: pd.DataFrame, first: str, other: str) -> str:
    row = pairs[pairs["a"].isin([first, other]) & pairs["b"].isin([first, other])].iloc[0]
    turned = row["a"] != first
    sign = -1.0 if turned else 1.0
    low, high = sorted((sign * row["p10"], sign * row["p90"]))
    mean, band = mean_and_band(sign * row["difference"], low, high, signed=True)
    return (
        f"    {first} minus {other}: {mean} ({band}); higher in "
        f"{in_words(row['chance_b' if turned else 'chance_a'])} of runs, the same in {in_words(row['chance_same'])}"
    )


# ---- the most demanding within limits -------------------------------------------------------------------------------


def decide(arguments: argparse.Namespace) -> int:
    """Search and print; 1 where nothing keeps the limits."""
    if arguments.output:
        check_free(arguments.output, replace=arguments.replace)
    stop = threading.Event()
    before = signal.signal(signal.SIGINT, lambda *_: stop.set())
    try:
        block = read_block(arguments.block)
        found = decided(
            block,
            *lifter_and_room(arguments, block),
            [knob_of(text, place="--turn") for text in arguments.turn],
            limits=[limit_of(text, place="--limit") for text in arguments.limit] or None,
            demand=arguments.demand,
            draws=arguments.draws,
            seed=arguments.seed,
            progress=_plans_tried if sys.stderr.isatty() else None,
            stop=stop,
        )
    finally:
        signal.signal(signal.SIGINT, before)
    show(arguments, _decided_as_dict, _decided_as_lines, found)
    if arguments.output and found.chosen is not None:
        write_whole(arguments.output, toml_text(found.chosen), replace=arguments.replace)
    return 0 if found.chosen is not None else 1


def _plans_tried(done: int, expected: int, best: str) -> None:
    end = "\n" if done == expected else ""
    print(f"\r{done} of at most {expected} plans; best: {best[:80]:<80}", end=end, file=sys.stderr, flush=True)


def _decided_as_dict(found: Decision) -> dict[str, Any]:
    return {
        "settings": found.settings,
        "within_limits": found.chosen is not None,
        "demand": found.demand,
        "chance": found.chance,
        "weakest": found.weakest,
        **{name: records(getattr(found, name)) for name in ("limits", "steps", "front")},
        "tried": found.tried,
        "finished": found.finished,
        "method": found.method,
        **({} if found.rules is None else {"rules": found.rules.to_dict()}),
    }


def _decided_as_lines(found: Decision) -> list[str]:
    first, *others = found.sentences()
    lines = [first, *(f"  {line}" for line in others), "", "Limits:"]
    for row in found.limits.to_dict("records"):
        lines.append(f"  {row['limit']}: {row['here']}{' BINDS' if row['binds'] else ''}")
        lines.append(f"    {row['reason']}")
    if len(found.steps):
        kept = found.steps.assign(breaks=[breaks or "keeps the limits" for breaks in found.steps["breaks"]])
        lines += ["", "One value harder:", *each(kept, "  {change}: {breaks}")]
    lines += ["", "Trade-off (demand, chance of all reps):"]
    for row in found.front.to_dict("records"):
        mark = " <- chosen" if row["chosen"] else "" if row["allowed"] else "  (breaks a limit)"
        lines.append(f"  {amount(row['demand']):>10}  {in_words(row['chance']):>5}  {row['settings']}{mark}")
    return [*lines, "", CLOSING]


# ---- for the whole team ---------------------------------------------------------------------------------------------


def team(arguments: argparse.Namespace) -> int:
    """Check the roster and print."""
    block, room = read_block(arguments.block), room_of(arguments)
    roster = read_roster(arguments.roster, room.catalogue, gym_numbers=not arguments.published_start)
    roster = [with_ratios(lifter, room, block) for lifter in roster]
    simulation = {"draws": arguments.draws, "seed": arguments.seed}
    found = team_check(
        block,
        roster,
        room,
        mend=not arguments.no_mend,
        cluster=arguments.cluster,
        workers=arguments.workers,
        progress=_lifters_done if sys.stderr.isatty() else None,
        **simulation,
    )
    show(arguments, _team_as_dict, _team_as_lines, found)
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


def _lifters_done(done: int, of: int) -> None:
    print(f"\r{done} of {of} lifters", end="\n" if done == of else "", file=sys.stderr, flush=True)


def _team_as_dict(found: Team) -> dict[str, Any]:
    return {"limit": found.limit, "finished": found.finished, "lifters": records(found.table)}


def _team_as_lines(found: Team) -> list[str]:
    lines = [
        f"Lowest accepted chance of a set that is meant to be made: {percent_said(found.limit)}.",
        "Reps to expect missed in the whole block, and the chance that none is:",
        "",
    ]
    lines.append(f"{'lifter':<24}{'missed':>8}{'none':>7}{'least likely set':>18}{'groups short':>14}{'longest':>10}")
    answered = "{missed_reps:>8.0f}{chance_of_block:>7}{lowest_chance:>18}{groups_below:>14}{minutes:>6.0f} min"
    for row in found.table.to_dict("records"):
        chances = {name: in_words(row[name]) for name in ("chance_of_block", "lowest_chance")}
        said = f" no answer: {row['problem']}" if row["problem"] else answered.format_map(row | chances)
        lines.append(f"{row['lifter']:<24}{said}")
    short = found.falling_short()
    lines.append("")
    lines.append(
        f"{len(short)} of {len(found.table)} fall short; the first set of each, and what would mend its group:"
    )
    for row in short.to_dict("records"):
        lines.append(f"  {row['lifter']}: {row['first_break']}")
        lines.append(f"    {row['mend'] or 'no mend looked for'}")
    notes = found.note_lines()
    if notes:
        lines += ["", "Notes, as workbench check gives them for each lifter:", *(f"  {note}" for note in notes)]
    return [*lines, "", CLOSING]
