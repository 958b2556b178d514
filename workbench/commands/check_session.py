"""The views of ``workbench check``: one session, sets of each muscle, intensity zones, duration and cautions."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Any

import numpy as np

from workbench.commands.arguments import CLOSING, positive, whole
from workbench.present.answer import records
from workbench.present.words import change, in_words, load_said, mass_in, reserve_said

if TYPE_CHECKING:
    import pandas as pd

    from workbench.answers.block_check import BlockCheck
    from workbench.answers.session import SessionAnswer
    from workbench.answers.volume import VolumeAnswer
    from workbench.gym.equipment import Room
    from workbench.lifter import Lifter
    from workbench.prescription.block import Block

__all__ = ["add_views", "asked", "view_json", "view_text"]

_VIEWS = ("session", "muscles", "zones", "duration", "cautions")


def add_views(parser: argparse.ArgumentParser) -> None:
    """Add the options that choose a view in place of the list of all sets."""
    views = parser.add_argument_group("views", "each shows this in place of the list of all sets; several may be given")
    views.add_argument("--session", metavar="S", help="one session: its name, or its number counted from 1")
    views.add_argument("--week", type=whole(1, 52), metavar="N", help="week of the views (default 1)")
    views.add_argument("--order", metavar="2,1,3", help="with --session: compare with its exercises in this order")
    views.add_argument("--muscles", action="store_true", help="weekly sets of each muscle beside the studied range")
    views.add_argument("--zones", action="store_true", help="lifts by zone of intensity, and weekly totals")
    views.add_argument("--duration", action="store_true", help="predicted minutes of every session")
    views.add_argument("--cautions", action="store_true", help="cautions of the block's exercises")
    views.add_argument(
        "--hard-reserve",
        type=positive(0, 20),
        default=None,
        metavar="R",
        help="a set is hard with at most R reps in reserve (default 4, assumed)",
    )
    views.add_argument(
        "--each-drop",
        type=positive(0, 1),
        default=None,
        metavar="P",
        help="what a drop adds to its set's count (default 0: a set with its drops is one set, assumed)",
    )


def asked(arguments: argparse.Namespace) -> bool:
    """Whether any view is asked for."""
    return any(getattr(arguments, view, None) for view in _VIEWS)


def view_text(arguments: argparse.Namespace, check: BlockCheck, block: Block, lifter: Lifter, room: Room) -> str:
    """Return the views that are asked for, as text."""
    week = arguments.week or 1
    lines = [f"{block.name}: {lifter.name}", block.note, ""]
    if arguments.session:
        lines += _session_lines(_session(arguments, block, lifter, room), arguments, block, lifter, room)
    if arguments.muscles or arguments.zones or arguments.duration:
        answer = _volume(arguments, check)
        _week_of(answer, week)
        lines += _muscle_lines(answer, week) if arguments.muscles else []
        lines += _zone_lines(answer) if arguments.zones else []
        lines += _duration_lines(answer, block) if arguments.duration else []
    if arguments.cautions:
        lines += _caution_lines(check, lifter)
    return "\n".join([*lines, CLOSING])


def view_json(
    arguments: argparse.Namespace, check: BlockCheck, block: Block, lifter: Lifter, room: Room
) -> dict[str, Any]:
    """Return the views that are asked for, ready for JSON."""
    content: dict[str, Any] = {"block": block.name, "lifter": lifter.name, "model": check.form.name}
    if arguments.session:
        answer = _session(arguments, block, lifter, room)
        content["session"] = {
            "name": answer.name,
            "week": answer.week,
            "minutes": answer.minutes,
            "minutes_by_kind": answer.minutes_by_kind(),
            "timeline": records(answer.timeline),
            "sets": records(answer.sets),
            "muscles": records(answer.muscles),
            "carried": records(answer.carried),
            "avoided": [{"exercise": name, "reason": reason} for name, reason in answer.avoided],
            "cautions": [{"caution": one.sentence, "exercises": list(names)} for one, names in answer.cautions],
        }
        if arguments.order:
            content["session"]["orders"] = records(_orders(arguments, block, lifter, room))
    if arguments.muscles or arguments.zones or arguments.duration:
        volume = _volume(arguments, check)
        content["hard_reserve"], content["each_drop"] = volume.rules.hard_reserve, volume.rules.each_drop
        content["muscles"] = records(volume.muscles)
        content["weeks"] = records(volume.weeks)
        content["zones"] = records(volume.zones)
        content["sessions"] = records(volume.sessions)
    if arguments.cautions:
        content["cautions"] = _caution_lines(check, lifter)
    return content


def _session_key(text: str) -> str | int:
    # A longer number is none of a session.
    return int(text) if text.strip().isdecimal() and len(text.strip()) < 4 else text


def _session(arguments: argparse.Namespace, block: Block, lifter: Lifter, room: Room) -> SessionAnswer:
    from workbench.answers.session import session_question

    return session_question(
        block,
        lifter,
        room,
        _session_key(arguments.session),
        week=arguments.week or 1,
        draws=min(arguments.draws, 2000),
        seed=arguments.seed,
    )


def _orders(arguments: argparse.Namespace, block: Block, lifter: Lifter, room: Room) -> pd.DataFrame:
    from workbench.answers.orders import compare_orders
    from workbench.quantities import InputError

    try:
        order = tuple(int(part) for part in arguments.order.split(","))
    except ValueError:
        raise InputError(None, "--order", f"{arguments.order!r} is no order", "write places as 2,1,3") from None
    return compare_orders(
        block,
        lifter,
        room,
        _session_key(arguments.session),
        order,
        week=arguments.week or 1,
        draws=min(arguments.draws, 2000),
        seed=arguments.seed,
    )


def _volume(arguments: argparse.Namespace, check: BlockCheck) -> VolumeAnswer:
    from workbench.answers.volume import volume_question
    from workbench.models.volume import CountRules

    given = {
        name: value
        for name, value in (("hard_reserve", arguments.hard_reserve), ("each_drop", arguments.each_drop))
        if value is not None
    }
    return volume_question(check.outcome, rules=CountRules(**given))


def _week_of(answer: VolumeAnswer, week: int) -> None:
    from workbench.quantities import InputError

    last = int(answer.weeks["week"].max())
    if week > last:
        raise InputError(None, "--week", f"the block has no week {week}", f"use 1 to {last}")


def _session_lines(
    answer: SessionAnswer, arguments: argparse.Namespace, block: Block, lifter: Lifter, room: Room
) -> list[str]:
    lines = answer.sentences()
    shown = answer.timeline[answer.timeline["kind"] != "rest"]
    lines += [f"  {row['start_min']:>5.1f} min  {row['exercise']:<24}{row['what']}" for row in shown.to_dict("records")]
    lines += ["", "Reps in reserve (median, middle 80 %; below 0: reps missed):"]
    for row in answer.sets.dropna(subset=["reserve"]).to_dict("records"):
        reserve = reserve_said(row["reserve_low"], row["reserve"], row["reserve_high"])
        lines.append(f"  {row['exercise']:<24}{row['set']:<10}{load_said(row):>20}  {reserve}")
    if len(answer.carried):
        lines += ["", "Reps of the first set that earlier exercises cost:"]
        for row in answer.carried.to_dict("records"):
            cost = f"{row['lost']:.0f} % ({row['low']:.0f} to {row['high']:.0f})"
            lines.append(f"  {row['exercise']:<24}{cost:<22}{'after ' + row['from'] if row['from'] else ''}".rstrip())
    last = answer.muscles[answer.muscles["end_min"] == answer.muscles["end_min"].max()]
    lines += ["", "Reps that a set led by this muscle would lose right at the end:"]
    for row in last.sort_values("lost", ascending=False).to_dict("records"):
        lines.append(f"  {row['muscle']:<24}{row['lost']:.0f} % ({row['low']:.0f} to {row['high']:.0f})")
    if arguments.order:
        lines += ["", f"Exercises in the order {arguments.order}, on the same simulated days:"]
        table = _orders(arguments, block, lifter, room)
        for row in table.to_dict("records"):
            chances = f"all reps {_percent(row['chance_a'])} now, {_percent(row['chance_b'])} then"
            gain = f"{change(row['reps'])} reps a set ({change(row['reps_low'])} to {change(row['reps_high'])})"
            minutes = f"{row['minutes_a']:.0f} min now, {row['minutes_b']:.0f} then"
            lines.append(f"  {row['exercise']:<24}{chances:<34}{minutes if np.isnan(row['reps']) else gain}")
    lines += [""] if answer.avoided else []
    lines += [f"Note: {name} is in this session, though the lifter avoids it ({why})." for name, why in answer.avoided]
    if answer.cautions:
        lines += ["", "Cautions:"]
        lines += [f"  {caution.sentence} ({', '.join(names)})" for caution, names in answer.cautions]
    return [*lines, ""]


def _percent(chance: float) -> str:
    return "to failure" if np.isnan(chance) else in_words(chance)


def _muscle_lines(answer: VolumeAnswer, week: int) -> list[str]:
    rows = answer.muscles[answer.muscles["week"] == week].sort_values("fractional", ascending=False)
    low, high = rows["range_low"].iloc[0], rows["range_high"].iloc[0]
    rules = (
        f"hard: at most {answer.rules.hard_reserve:g} reps in reserve; a drop adds {answer.rules.each_drop:g} of a set"
    )
    lines = [
        f"Sets of each muscle, week {week} ({rules}):",
        f"  {'muscle':<18}{'direct':>8}{'fractional':>12}{'hard':>16}   beside {low:g} to {high:g}",
    ]
    for row in rows.to_dict("records"):
        hard = f"{row['hard']:.1f} ({row['hard_low']:.1f}-{row['hard_high']:.1f})"
        lines.append(
            f"  {row['muscle']:<18}{row['direct']:>8.1f}{row['fractional']:>12.1f}{hard:>16}   {row['beside']}"
        )
    return [
        *lines,
        f"  {low:g} to {high:g} sets a week: a review's suggestion for growth, trained young men; indirect sets were",
        "  counted whole there (baz_valle_2022, published). A studied range, no promise. Shares mostly assumed.",
        "",
    ]


def _zone_lines(answer: VolumeAnswer) -> list[str]:
    names = list(dict.fromkeys(answer.zones["zone"]))
    lines = ["Lifts by zone of intensity (of the believed 1RM), and weekly totals:"]
    for week, rows in answer.zones.groupby("week"):
        total = answer.weeks[answer.weeks["week"] == week].iloc[0]
        shown = ", ".join(f"{name}: {lifts:.0f}" for name, lifts in zip(names, rows["lifts"], strict=True))
        lines.append(f"  week {week}: {shown}")
        lines.append(
            f"          {total['sets']:.0f} sets, {total['hard']:.0f} hard ({total['hard_low']:.0f} to "
            f"{total['hard_high']:.0f}), {total['lifts']:.0f} lifts, "
            f"{mass_in(total['tonnage_kg'], answer.unit):,.0f} {answer.unit}, "
            f"mean {total['intensity_percent']:.1f} % of 1RM"
        )
    return [*lines, ""]


def _duration_lines(answer: VolumeAnswer, block: Block) -> list[str]:
    limit = block.limits.session_minutes
    lines = ["Minutes of each session" + (f" (the block allows {limit:.0f}):" if limit else ":")]
    for session, rows in answer.sessions.groupby("session", sort=False):
        over = [f"week {row['week']}" for row in rows.to_dict("records") if limit and row["minutes"] > limit]
        shown = ", ".join(f"{minutes:.0f}" for minutes in rows["minutes"])
        lines.append(f"  {session:<28}{shown}" + (f"   over the limit: {', '.join(over)}" if over else ""))
    return [*lines, "  Times to set up and for a rep are usual ones (assumed).", ""]


def _caution_lines(check: BlockCheck, lifter: Lifter) -> list[str]:
    from workbench.answers.session import heaviest_percents, session_cautions
    from workbench.gym.catalogue import general_cautions

    lines = ["Cautions:", *(f"  {caution.sentence}" for caution in general_cautions())]
    exercises = [check.plan.catalogue.exercise(name) for name in check.plan.exercises]
    for caution, names in session_cautions(lifter, exercises, heaviest_percents(check.sets)):
        lines.append(f"  {caution.sentence} Ask: {caution.who_to_see}. ({', '.join(names)})")
    return [*lines, ""]
