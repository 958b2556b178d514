"""``workbench exercises``: search the catalogue, and find an exchange for an exercise that is left out."""

from __future__ import annotations

import argparse
from collections.abc import Iterable
from typing import Any

import numpy as np

from workbench.answers.exchange import NOT_ALL_LOAD, SEE_A_PROFESSIONAL, ExchangeAnswer, Exclusions, exchange_question
from workbench.answers.load_search import OneRmGuess
from workbench.commands.arguments import CLOSING, lifter_and_room, show
from workbench.gym.catalogue import Exercise, catalogue_for, cautions
from workbench.gym.equipment import Room
from workbench.present.answer import records
from workbench.present.words import percent_said, say_load

__all__ = ["exchange", "search"]

#: Of an exercise and of a muscle's share, as JSON has them.
_FIELDS = ("name", "movement_pattern", "implement", "sides", "equipment", "range_of_motion", "joint_positions")
_SHARE_FIELDS = ("muscle", "share", "grade", "source")


def search(arguments: argparse.Namespace) -> int:
    """Print the exercises that some words find."""
    show(
        arguments, _found_as_list, _found_as_lines, catalogue_for(None, arguments.own).search(" ".join(arguments.text))
    )
    return 0


def _found_as_list(found: list[Exercise]) -> list[dict[str, Any]]:
    return [
        {**_fields(exercise, _FIELDS), "muscles": [_fields(part, _SHARE_FIELDS) for part in exercise.muscles]}
        for exercise in found
    ]


def _fields(value: object, names: Iterable[str]) -> dict[str, Any]:
    return {name: getattr(value, name) for name in names}


def _found_as_lines(found: list[Exercise]) -> list[str]:
    if not found:
        return ["Nothing found. Try fewer words, a muscle or a movement."]
    lines = [f"{'exercise':<36}{'movement':<22}{'implement':<16}muscles (share of a set)"]
    for exercise in found:
        muscles = ", ".join(f"{part.muscle} {part.share:g}" for part in exercise.muscles)
        lines.append(f"{exercise.name:<36}{exercise.movement_pattern:<22}{exercise.implement:<16}{muscles}")
    said = "Shares: 1 direct, less indirect; mostly assumed. --json gives grade and source."
    return [*lines, "", f"{len(found)} exercises. {said}"]


def exchange(arguments: argparse.Namespace) -> int:
    """Print what else trains the same muscles in the room."""
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
    show(arguments, _exchange_as_dict, _exchange_as_lines, answer, lifter.name, room)
    return 0


def _exchange_as_dict(answer: ExchangeAnswer, _lifter: str, _room: Room) -> dict[str, Any]:
    return {
        "exercise": answer.exercise.name,
        "exchanges": [{**row, **_search_as_dict(answer.loads[row["exercise"]])} for row in records(answer.table)],
        "missing": list(answer.missing),
    }


def _search_as_dict(guess: OneRmGuess) -> dict[str, Any]:
    search = guess.search
    return {
        "search_loads_kg": [] if search is None else list(search.loads_kg),
        "search_bound_kg": None if search is None or np.isnan(search.bound_kg) else search.bound_kg,
        "protocol": list(guess.protocol),
    }


def _exchange_as_lines(answer: ExchangeAnswer, lifter: str, room: Room) -> list[str]:
    closing = ["", NOT_ALL_LOAD, SEE_A_PROFESSIONAL, CLOSING]
    if answer.table.empty:
        return [f"No exchange for {answer.exercise.name} in {room.name}.", *answer.missing, *closing]
    lines = [f"Exchanges for {answer.exercise.name}: {lifter}, {room.name}, best first", ""]
    for row in answer.table.to_dict("records"):
        lines += [*_exchange_lines(row, answer.loads[row["exercise"]], room), ""]
    if answer.missing:
        lines += [*answer.missing, ""]
    searches = (answer.loads[name].search for name in answer.table["exercise"])
    first = next((search for search in searches if search is not None and search.safe), None)
    if first is not None:
        lines.append(f"How to find the load of {first.exercise}:")
        lines += [f"  {number}. {step}" for number, step in enumerate(first.lines, start=1)]
    return [*lines, *closing]


def _exchange_lines(row: dict[Any, Any], guess: OneRmGuess, room: Room) -> list[str]:
    piece = "body mass" if row["implement"] == "bodyweight" else row["piece"]
    lines = [f"{row['exercise']} ({piece}): keeps {percent_said(row['shared'])} of the muscle shares"]
    if row["limit"]:
        lines.append(f"  {row['limit']}")
    if row["gone"]:
        lines.append(f"  no longer trained directly: {row['gone']}")
    lines += [f"  adds {name}: {cautions()[name].sentence}" for name in row["adds"].split(", ") if name]
    if row["check"]:
        lines.append(f"  the room file does not name: {row['check']}")
    safe = guess.search is None or guess.search.safe
    if np.isnan(guess.one_rm_kg):
        lines.append("  1RM unknown: " + ("find the load" if safe else "no load to start from"))
    else:
        basis = guess.basis if guess.basis == "own 1RM" else f"{guess.basis}, {guess.source}, {guess.grade}"
        hands = room.catalogue.hands_of(row["exercise"])
        masses = (guess.one_rm_kg, guess.low_kg, guess.high_kg)
        middle, low, high = (say_load(kg, room.unit, hands=hands, digits=0) for kg in masses)
        lines.append(f"  1RM about {middle} ({low} to {high}; {basis})")
    return lines if safe else [*lines, f"  {guess.protocol[0]}"]
