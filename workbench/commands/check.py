"""``workbench check``: what will probably be made of a block, set by set, or one view of it.

The views are one session, sets of each muscle, intensity zones, duration and cautions.
"""

from __future__ import annotations

import argparse
from textwrap import wrap
from typing import Any

import numpy as np
import pandas as pd

from workbench.answers.block_check import BlockCheck, check_block
from workbench.answers.mend import Mending, mends
from workbench.answers.orders import compare_orders
from workbench.answers.session import SessionAnswer, heaviest_percents, session_cautions, session_question
from workbench.answers.unsure import SHARE_COLUMNS, Unsure, share_said, unsure_check
from workbench.answers.volume import VolumeAnswer, volume_question
from workbench.commands.arguments import CLOSING, each, lifter_and_room, show
from workbench.gym.catalogue import general_cautions
from workbench.gym.equipment import Room
from workbench.models.volume import CountRules
from workbench.prescription.block import read_block
from workbench.present.answer import records
from workbench.present.words import (
    change,
    in_words,
    load_said,
    mass_in,
    reps_said,
    reserve_said,
    rest_said,
    set_forecast,
)
from workbench.quantities import InputError

__all__ = ["as_dict", "as_lines", "check", "set_lines"]

_HEADINGS = (
    f"  {'exercise':<24}{'set':<10}{'load':>20}{'of 1RM':>8}  {'reps':<10}{'rest':>6}{'chance':>8}  {'in reserve':<22}"
)
_VIEWS = ("sets", "unsure", "session", "muscles", "zones", "duration", "cautions")
#: Characters in a line of sentences, weeks side by side.
_WIDTH, _WEEKS_A_LINE = 96, 5
#: Columns of the table of weeks; names of sessions that are longer are cut.
_SESSION_WIDTH = 30
_PLACE_WIDTH = 40
#: Headings of shares that are longer in the table.
_SHORT = {"not_known": "not known", "fatigue constants": "tiring", "set scatter": "set"}


def check(arguments: argparse.Namespace) -> int:
    """Check the block and print the answer."""
    block = read_block(arguments.block)
    lifter, room = lifter_and_room(arguments, block)
    try:
        found = check_block(block, lifter, room, draws=arguments.draws, seed=arguments.seed)
        if any(getattr(arguments, view) for view in _VIEWS):
            show(arguments, _views_as_dict, _views_as_lines, arguments, found, room)
            return 0
        mended, unsure = mends(found, draws=min(arguments.draws, 1000), seed=arguments.seed), unsure_check(found)
    except InputError as error:
        file = arguments.lifter if error.place.startswith("lifter ") else arguments.block
        raise InputError(error.file or file, error.place, error.problem, error.remedy) from None
    show(arguments, as_dict, as_lines, found, mended, unsure)
    return 0


# ---- all sets -------------------------------------------------------------------------------------------------------


def as_dict(found: BlockCheck, mended: Mending, unsure: Unsure | None = None) -> dict[str, Any]:
    """Return a check, why it is unsure, and what would mend it, ready for JSON."""
    said = [load_said(row) for row in found.sets.to_dict("records")]
    made = found.sets[found.sets["chance"].notna()]
    return {
        "block": found.plan.block.name,
        "lifter": found.plan.lifter.name,
        "model": found.form.name,
        "limit": found.limit,
        "sentences": _sentences(found, mended, unsure),
        "sets_to_be_made": len(made),
        "reps_to_be_made": float(made["reps_low"].sum()),
        "missed_reps": float(made["missed"].sum()),
        "chance_of_block": found.chance_of_block,
        "weeks": records(found.weeks),
        "sets": records(found.sets.assign(load=said)),
        "first_break": None if found.first_break is None else vars(found.first_break),
        "mends": records(mended.table),
        "warnings": list(found.notes),
        **({} if found.rules is None else {"rules": found.rules.to_dict()}),
    }


def _sentences(found: BlockCheck, mended: Mending, unsure: Unsure | None) -> list[str]:
    why = [] if unsure is None or unsure.about is None else [unsure.why()]
    return [*found.sentences(), *why, *mended.sentences()]


def as_lines(found: BlockCheck, mended: Mending, unsure: Unsure | None = None) -> list[str]:
    """Return the same as a terminal shows it: what a colleague would say first, then weeks."""
    lines = [part for line in _sentences(found, mended, unsure) for part in (*wrap(line, _WIDTH), "")]
    lines += _week_lines(found)
    notes = (part for note in found.notes for part in wrap(f"Note: {note}.", _WIDTH))
    return [
        *lines,
        "",
        *notes,
        f"Model: {found.form.name}. Brackets hold the middle 80 % of the simulated days. Every set: --sets.",
        "What is not known, and what is luck: --unsure.",
        "",
        CLOSING,
    ]


def _week_lines(found: BlockCheck) -> list[str]:
    """Return a row for each session and one for the whole week: chance that no rep is missed, and reps missed."""
    weeks = found.plan.weeks
    lines = ["Chance that no rep is missed, and reps to expect missed (-: no set has prescribed reps):"]
    shown = [range(first, min(first + _WEEKS_A_LINE, weeks + 1)) for first in range(1, weeks + 1, _WEEKS_A_LINE)]
    for some in shown:
        lines.append(f"  {'':<{_SESSION_WIDTH}}" + "".join(f"{f'week {week}':>13}" for week in some))
        for name, rows in found.weeks.groupby("session", sort=False):
            cells = [
                f"{in_words(row['chance'])}, {row['missed']:.0f}" if row["chance"] == row["chance"] else "-"
                for row in rows[rows["week"].isin(some)].to_dict("records")
            ]
            lines.append(f"  {str(name)[:_SESSION_WIDTH]:<{_SESSION_WIDTH}}" + "".join(f"{cell:>13}" for cell in cells))
    return [*lines, f"  {'whole block':<{_SESSION_WIDTH}}{in_words(found.chance_of_block):>13}"]


def set_lines(found: BlockCheck) -> list[str]:
    """Return every set of every week, as a terminal shows them."""
    lines = []
    for (week, _), sets in found.sets.groupby(["week", "session_number"], sort=False):
        name = sets["session"].iloc[0]
        summary = found.weeks[(found.weeks["week"] == week) & (found.weeks["session"] == name)]
        lines += [
            *(_session_line(row) for row in summary.to_dict("records")),
            _HEADINGS,
            *(_set_line(row) for row in sets.to_dict("records")),
            "",
        ]
    return lines


def _session_line(row: dict[Any, Any]) -> str:
    chance = f"all reps {in_words(row['chance'])}" if row["chance"] == row["chance"] else "no prescribed reps"
    return f"Week {row['week']}, {row['session']}: {chance}, about {row['minutes']:.0f} min"


def _set_line(row: dict[Any, Any]) -> str:
    reps = reps_said(row["reps_low"], row["reps_high"])
    return (
        f"  {row['exercise']:<24}{row['set']:<10}{load_said(row):>20}{row['percent']:>6.1f} %  {reps:<10}"
        f"{rest_said(row['rest_s']):>6}{in_words(row['chance']):>8}  {set_forecast(row)}"
    )


# ---- views ----------------------------------------------------------------------------------------------------------


def _views_as_lines(arguments: argparse.Namespace, found: BlockCheck, room: Room) -> list[str]:
    block, week = found.plan.block, arguments.week or 1
    lines = [f"{block.name}: {found.plan.lifter.name}", block.note, ""]
    if arguments.sets:
        lines += set_lines(found)
    if arguments.unsure:
        lines += _unsure_lines(found, arguments.week)
    if arguments.session:
        lines += _session_lines(arguments, found, room)
    if arguments.muscles or arguments.zones or arguments.duration:
        answer = _volume(arguments, found)
        last = int(answer.weeks["week"].max())
        if week > last:
            raise InputError(None, "--week", f"the block has no week {week}", f"use 1 to {last}")
        lines += _muscle_lines(answer, week) if arguments.muscles else []
        lines += _zone_lines(answer) if arguments.zones else []
        lines += _duration_lines(answer, block.limits.session_minutes) if arguments.duration else []
    if arguments.cautions:
        lines += _caution_lines(found)
    return [*lines, CLOSING]


def _views_as_dict(arguments: argparse.Namespace, found: BlockCheck, room: Room) -> dict[str, Any]:
    plan = found.plan
    content: dict[str, Any] = {"block": plan.block.name, "lifter": plan.lifter.name, "model": found.form.name}
    if arguments.sets:
        content["sets"] = records(found.sets)
    if arguments.unsure:
        content["unsure"] = unsure_check(found).to_records()
    if arguments.session:
        answer = _session(arguments, found, room)
        content["session"] = {
            "name": answer.name,
            "week": answer.week,
            "minutes": answer.minutes,
            "minutes_by_kind": answer.minutes_by_kind(),
            **{name: records(getattr(answer, name)) for name in ("timeline", "sets", "muscles", "carried")},
            "avoided": [{"exercise": name, "reason": reason} for name, reason in answer.avoided],
            "cautions": [{"caution": caution.sentence, "exercises": list(names)} for caution, names in answer.cautions],
        }
        if arguments.order:
            content["session"]["orders"] = records(_orders(arguments, found, room))
    if arguments.muscles or arguments.zones or arguments.duration:
        volume = _volume(arguments, found)
        content["hard_reserve"], content["each_drop"] = volume.rules.hard_reserve, volume.rules.each_drop
        content |= {name: records(getattr(volume, name)) for name in ("muscles", "weeks", "zones", "sessions")}
    if arguments.cautions:
        content["cautions"] = _caution_lines(found)
    return content


def _unsure_lines(found: BlockCheck, week: int | None) -> list[str]:
    """Return what is unsure in sentences, and its shares by session and week, or by every set of one week."""
    answer = unsure_check(found)
    table = answer.summary() if week is None else answer.summary("set")
    table = table if week is None else table[table["week"] == week]
    if table.empty:
        raise InputError(None, "--week", f"the block has no week {week}", f"use 1 to {found.plan.weeks}")
    lines = [part for line in answer.sentences() for part in (*wrap(line, _WIDTH), "")]
    lines += ["Of the spread of the chance (of the reps, to failure) the share of ...:"]
    lines.append(f"  {'':<{_PLACE_WIDTH}}" + "".join(f"{_SHORT.get(name, name):>11}" for name in SHARE_COLUMNS))
    for row in table.to_dict("records"):
        place = f"{row['exercise']}, set {row['set']}" if row["set"] else row["session"]
        place = f"week {row['week']}, {place}" if row["week"] and week is None else place
        cells = (share_said(row[name]) for name in SHARE_COLUMNS)
        lines.append(f"  {place[:_PLACE_WIDTH]:<{_PLACE_WIDTH}}" + "".join(f"{cell:>11}" for cell in cells))
    return [*lines, *wrap(f"{answer.notes[0]}. Blank: too little to split. Every set of a week: --week.", _WIDTH), ""]


def _run(arguments: argparse.Namespace) -> dict[str, Any]:
    return {"week": arguments.week or 1, "draws": min(arguments.draws, 2000), "seed": arguments.seed}


def _session_key(text: str) -> str | int:
    # A longer number is none of a session.
    return int(text) if text.strip().isdecimal() and len(text.strip()) < 4 else text


def _session(arguments: argparse.Namespace, found: BlockCheck, room: Room) -> SessionAnswer:
    session = _session_key(arguments.session)
    return session_question(found.plan.block, found.plan.lifter, room, session, **_run(arguments))


def _orders(arguments: argparse.Namespace, found: BlockCheck, room: Room) -> pd.DataFrame:
    try:
        order = tuple(int(part) for part in arguments.order.split(","))
    except ValueError:
        raise InputError(None, "--order", f"{arguments.order!r} is no order", "write places as 2,1,3") from None
    session = _session_key(arguments.session)
    return compare_orders(found.plan.block, found.plan.lifter, room, session, order, **_run(arguments))


def _volume(arguments: argparse.Namespace, found: BlockCheck) -> VolumeAnswer:
    stated = {name: getattr(arguments, name) for name in ("hard_reserve", "each_drop")}
    rules = CountRules(**{name: value for name, value in stated.items() if value is not None})
    return volume_question(found.outcome, rules=rules)


def _session_lines(arguments: argparse.Namespace, found: BlockCheck, room: Room) -> list[str]:
    answer = _session(arguments, found, room)
    lost = "{lost:.0f} % ({low:.0f} to {high:.0f})"
    lines = answer.sentences()
    shown = answer.timeline[answer.timeline["kind"] != "rest"]
    lines += each(shown, "  {start_min:>5.1f} min  {exercise:<24}{what}")
    lines += ["", "Reps in reserve (median, middle 80 %; below 0: reps missed):"]
    for row in answer.sets.dropna(subset=["reserve"]).to_dict("records"):
        reserve = reserve_said(row["reserve_low"], row["reserve"], row["reserve_high"])
        lines.append(f"  {row['exercise']:<24}{row['set']:<10}{load_said(row):>20}  {reserve}")
    if len(answer.carried):
        lines += ["", "Reps of the first set that earlier exercises cost:"]
        for row in answer.carried.to_dict("records"):
            after = f"after {row['from']}" if row["from"] else ""
            lines.append(f"  {row['exercise']:<24}{lost.format_map(row):<22}{after}".rstrip())
    last = answer.muscles[answer.muscles["end_min"] == answer.muscles["end_min"].max()]
    lines += ["", "Reps that a set led by this muscle would lose right at the end:"]
    lines += each(last.sort_values("lost", ascending=False), f"  {{muscle:<24}}{lost}")
    if arguments.order:
        lines += ["", f"Exercises in the order {arguments.order}, on the same simulated days:"]
        lines += [_order_line(row) for row in _orders(arguments, found, room).to_dict("records")]
    lines += [""] if answer.avoided else []
    lines += [f"Note: {name} is in this session, though the lifter avoids it ({why})." for name, why in answer.avoided]
    if answer.cautions:
        lines += ["", "Cautions:"]
        lines += [f"  {caution.sentence} ({', '.join(names)})" for caution, names in answer.cautions]
    return [*lines, ""]


def _order_line(row: dict[Any, Any]) -> str:
    now, then = ("to failure" if np.isnan(row[key]) else in_words(row[key]) for key in ("chance_a", "chance_b"))
    gain = f"{change(row['reps'])} reps a set ({change(row['reps_low'])} to {change(row['reps_high'])})"
    minutes = f"{row['minutes_a']:.0f} min now, {row['minutes_b']:.0f} then"
    chances = f"all reps {now} now, {then} then"
    return f"  {row['exercise']:<24}{chances:<34}{minutes if np.isnan(row['reps']) else gain}"


def _muscle_lines(answer: VolumeAnswer, week: int) -> list[str]:
    rows = answer.muscles[answer.muscles["week"] == week].sort_values("fractional", ascending=False)
    low, high = rows["range_low"].iloc[0], rows["range_high"].iloc[0]
    rules = (
        f"hard: at most {answer.rules.hard_reserve:g} reps in reserve; a drop adds {answer.rules.each_drop:g} of a set"
    )
    said = each(rows, "{hard:.3g} ({hard_low:.3g}-{hard_high:.3g})")
    return [
        f"Sets of each muscle, week {week} ({rules}):",
        f"  {'muscle':<18}{'direct':>8}{'fractional':>12}{'hard':>16}   beside {low:g} to {high:g}",
        *each(rows.assign(said=said), "  {muscle:<18}{direct:>8.3g}{fractional:>12.3g}{said:>16}   {beside}"),
        f"  {low:g} to {high:g} sets a week: a review's suggestion for growth, trained young men; indirect sets were",
        "  counted whole there (baz_valle_2022, published). A studied range, no promise. Shares mostly assumed.",
        "",
    ]


def _zone_lines(answer: VolumeAnswer) -> list[str]:
    lines = ["Lifts by zone of intensity (of the believed 1RM), and weekly totals:"]
    for week, rows in answer.zones.groupby("week"):
        total = answer.weeks[answer.weeks["week"] == week].iloc[0]
        lines.append(f"  week {week}: {', '.join(each(rows, '{zone}: {lifts:.0f}'))}")
        lines.append(
            "          {sets:.0f} sets, {hard:.0f} hard ({hard_low:.0f} to {hard_high:.0f}), {lifts:.0f} lifts, "
            "{mass:,.0f} {unit}, mean {intensity_percent:.1f} % of 1RM".format_map(
                {**total, "mass": mass_in(total["tonnage_kg"], answer.unit), "unit": answer.unit}
            )
        )
    return [*lines, ""]


def _duration_lines(answer: VolumeAnswer, limit: float | None) -> list[str]:
    lines = ["Minutes of each session" + (f" (the block allows {limit:.0f}):" if limit else ":")]
    for session, rows in answer.sessions.groupby("session", sort=False):
        over = each(rows[rows["minutes"] > (limit or np.inf)], "week {week}")
        shown = ", ".join(each(rows, "{minutes:.0f}"))
        lines.append(f"  {session:<28}{shown}" + (f"   over the limit: {', '.join(over)}" if over else ""))
    return [*lines, "  Times to set up and for a rep are usual ones (assumed).", ""]


def _caution_lines(found: BlockCheck) -> list[str]:
    exercises = [found.plan.catalogue.exercise(name) for name in found.plan.exercises]
    special = session_cautions(found.plan.lifter, exercises, heaviest_percents(found.sets))
    return [
        "Cautions:",
        *(f"  {caution.sentence}" for caution in general_cautions()),
        *(f"  {caution.sentence} Ask: {caution.who_to_see}. ({', '.join(names)})" for caution, names in special),
        "",
    ]
