"""``workbench exercises``: search the catalogue, and find an exchange for an exercise that is left out."""

from __future__ import annotations

import argparse
import json
from typing import TYPE_CHECKING, Any

import numpy as np

from workbench.commands.arguments import CLOSING, add_lifter_and_room, add_own_exercises, lifter_and_room, whole

if TYPE_CHECKING:
    from workbench.answers.exchange import ExchangeAnswer
    from workbench.answers.load_search import OneRmGuess
    from workbench.gym.catalogue import Exercise
    from workbench.gym.equipment import Room

__all__ = ["add_to", "run"]


def add_to(subparsers: Any) -> argparse.ArgumentParser:
    """Describe the command."""
    parser: argparse.ArgumentParser = subparsers.add_parser(
        "exercises",
        help="search the exercises, or exchange one",
        description="Search the catalogue of exercises, or find an exchange for one that is left out.",
    )
    actions = parser.add_subparsers(title="actions", metavar="ACTION", required=True)
    search = actions.add_parser("search", help="find exercises by name, muscle, movement or implement")
    search.add_argument("text", nargs="*", metavar="WORD", help="words to look for; none lists all")
    add_own_exercises(search)
    search.add_argument("--json", action="store_true", help="print JSON in place of a table")
    search.set_defaults(action=_search)
    exchange = actions.add_parser("exchange", help="what else trains the same muscles in this room?")
    exchange.add_argument("exercise", metavar="EXERCISE", help="the exercise to exchange")
    add_lifter_and_room(exchange)
    for name, what in (
        ("position", "a joint position, or a joint for all its positions"),
        ("movement", "a movement pattern"),
        ("implement", "an implement"),
        ("without", "an exercise"),
    ):
        exchange.add_argument(
            f"--{name}", action="append", default=[], metavar="NAME", help=f"leave out {what}; may be given again"
        )
    exchange.add_argument("--most", type=whole(1, 50), default=6, metavar="N", help="most exchanges (default 6)")
    exchange.add_argument("--json", action="store_true", help="print JSON in place of a table")
    exchange.set_defaults(action=_exchange)
    return parser


def run(arguments: argparse.Namespace) -> int:
    """Search or exchange."""
    return int(arguments.action(arguments))


def _search(arguments: argparse.Namespace) -> int:
    from workbench.gym.catalogue import catalogue_for

    found = catalogue_for(None, arguments.own).search(" ".join(arguments.text))
    if arguments.json:
        print(json.dumps([_as_dict(one) for one in found], indent=2))
    elif not found:
        print("Nothing found. Try fewer words, a muscle or a movement.")
    else:
        print(f"{'exercise':<36}{'movement':<22}{'implement':<16}muscles (share of a set)")
        for one in found:
            muscles = ", ".join(f"{part.muscle} {part.share:g}" for part in one.muscles)
            print(f"{one.name:<36}{one.movement_pattern:<22}{one.implement:<16}{muscles}")
        print(
            f"\n{len(found)} exercises. Shares: 1 direct, less indirect; mostly assumed. --json gives grade and source."
        )
    return 0


def _as_dict(one: Exercise) -> dict[str, Any]:
    return {
        "name": one.name,
        "movement_pattern": one.movement_pattern,
        "implement": one.implement,
        "sides": one.sides,
        "equipment": list(one.equipment),
        "range_of_motion": one.range_of_motion,
        "joint_positions": list(one.joint_positions),
        "muscles": [
            {"muscle": part.muscle, "share": part.share, "grade": part.grade, "source": part.source}
            for part in one.muscles
        ],
    }


def _exchange(arguments: argparse.Namespace) -> int:
    from workbench.answers.exchange import SEE_A_PROFESSIONAL, Exclusions, exchange_question

    lifter, room = lifter_and_room(arguments)
    leave_out = Exclusions.of(
        lifter,
        positions=arguments.position,
        patterns=arguments.movement,
        implements=arguments.implement,
        exercises=arguments.without,
        catalogue=room.catalogue,
    )
    answer = exchange_question(lifter, room, arguments.exercise, leave_out=leave_out, most=arguments.most)
    if arguments.json:
        print(json.dumps(_exchange_dict(answer), indent=2, allow_nan=False))
    else:
        print("\n".join([*_exchange_lines(answer, lifter.name, room), "", SEE_A_PROFESSIONAL, CLOSING]))
    return 0


def _exchange_dict(answer: ExchangeAnswer) -> dict[str, Any]:
    from workbench.present.answer import records

    return {
        "exercise": answer.exercise.name,
        "exchanges": [{**row, **_search_dict(answer.loads[row["exercise"]])} for row in records(answer.table)],
        "missing": list(answer.missing),
    }


def _search_dict(guess: OneRmGuess) -> dict[str, Any]:
    search = guess.search
    known = search is not None and not np.isnan(search.bound_kg)
    return {
        "search_loads_kg": list(search.loads_kg) if search is not None else [],
        "search_bound_kg": search.bound_kg if search is not None and known else None,
        "protocol": list(guess.protocol),
    }


def _exchange_lines(answer: ExchangeAnswer, lifter: str, room: Room) -> list[str]:
    from workbench.gym.catalogue import cautions
    from workbench.present.words import say_load

    if answer.table.empty:
        return [f"No exchange for {answer.exercise.name} in {room.name}.", *answer.missing]
    lines = [f"Exchanges for {answer.exercise.name}: {lifter}, {room.name}, best first", ""]
    for row in answer.table.to_dict("records"):
        guess = answer.loads[row["exercise"]]
        piece = "body mass" if row["implement"] == "bodyweight" else row["piece"]
        lines.append(f"{row['exercise']} ({piece}): keeps {row['shared']:.0%} of the muscle shares")
        if row["limit"]:
            lines.append(f"  {row['limit']}")
        if row["gone"]:
            lines.append(f"  no longer trained directly: {row['gone']}")
        lines += [f"  adds {name}: {cautions()[name].sentence}" for name in row["adds"].split(", ") if name]
        if row["check"]:
            lines.append(f"  the room file does not name: {row['check']}")
        safe = guess.search is None or guess.search.safe
        if not np.isnan(guess.one_rm_kg):
            basis = guess.basis if guess.basis == "own 1RM" else f"{guess.basis}, {guess.source}, {guess.grade}"
            middle, low, high = (
                say_load(kg, room.unit, hands=room.catalogue.hands_of(row["exercise"]), digits=0)
                for kg in (guess.one_rm_kg, guess.low_kg, guess.high_kg)
            )
            lines.append(f"  1RM about {middle} ({low} to {high}; {basis})")
        else:
            lines.append("  1RM unknown: " + ("find the load" if safe else "no load to start from"))
        if not safe:
            lines.append(f"  {guess.protocol[0]}")
        lines.append("")
    if answer.missing:
        lines += [*answer.missing, ""]
    searches = (answer.loads[name].search for name in answer.table["exercise"])
    first = next((search for search in searches if search is not None and search.safe), None)
    if first is not None:
        lines.append(f"How to find the load of {first.exercise}:")
        lines += [f"  {number}. {step}" for number, step in enumerate(first.lines, start=1)]
    return lines
