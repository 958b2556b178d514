"""The page of a session under way, as HTML: what is asked next, what to type, what is to come, what was done."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import pandas as pd

from workbench.answers.exchange import SEE_A_PROFESSIONAL, left_out_said
from workbench.answers.session import load_on_plates, session_cautions
from workbench.answers.today import Today
from workbench.log.session_log import HURT, LogRow
from workbench.log.typed import date_said
from workbench.panels.session_today import RESERVES, SessionToday
from workbench.present.pages import render
from workbench.present.words import (
    in_words,
    mass_in,
    percent_said,
    put_on_said,
    reps_expected,
    reps_said,
    reserve_said,
)
from workbench.publish.sheets import always_shown
from workbench.quantities import InputError

__all__ = ["form_html"]


def form_html(session: SessionToday, trouble: str = "", *, secret: str = "") -> str:
    """Return the page of a session as it is now; every text that was typed or came from a file is escaped.

    Parameters
    ----------
    session : SessionToday
    trouble : str
        Why the last thing typed was not taken.
    secret : str
        Goes back with every form, where a server asks for it.
    """
    rows, answer = [], None
    try:
        rows = session.rows()
        answer = session.answer(rows)
    except InputError as error:
        trouble = trouble or f"{error}"
    name = session.log.name
    return render(
        "today.html",
        title=f"{name.title}, week {name.week}",
        place=f"{name.lifter} · {name.block} · {session.room.name} · {date_said(name.day)}",
        trouble=trouble,
        secret=secret,
        session=session.log.next_entry([]),
        entry=session.log.next_entry(rows),
        entered=[row.entry for row in rows],
        last=_done(session, rows[-1]) if rows else "",
        done=[_done(session, row) for row in rows],
        next=None if answer is None or answer.sets.empty else _next(session, rows, answer),
        finished=answer is not None and answer.sets.empty,
        to_come=[] if answer is None else [_line(row, answer.limit) for row in answer.sets.to_dict("records")],
        limit="" if answer is None else percent_said(answer.limit),
        why=[] if answer is None else [line for line in answer.sentences() if not line.startswith("Next:")],
        notes=[] if answer is None else [*session.start.notes, *answer.notes],
        exercises=[] if answer is None else _left(session, rows, answer),
        offered=session.offered,
        offered_for=session.offered_for,
        offered_cautions=session.offered_cautions,
        advice=session.advice,
        hurt=SEE_A_PROFESSIONAL if any(row.note == HURT for row in rows) else "",
        cautions=_cautions(session, rows) if answer is not None else list(always_shown()),
    )


def _next(session: SessionToday, rows: Sequence[LogRow], answer: Today) -> dict[str, Any]:
    """Return what is asked of the next set, what may be typed of it and what it is expected to be."""
    row = answer.sets.iloc[0].to_dict()
    of_group = answer.sets[(answer.sets["slot"] == row["slot"]) & (answer.sets["group"] == row["group"])]
    alike = of_group.to_dict("records")
    worst = min(alike, key=lambda one: float(one["chance"]))
    planned = session.opened(rows).plan.sessions[0].sets
    at = session.week - 1
    of_this = [one for one in planned if one.exercise == row["exercise"] and one.active[at]]
    this = next(one for one in of_this if (one.slot, one.label) == (row["slot"], row["set"]))
    ended = max(
        (one.end_s[at] for one in planned if one.active[at] and one.start_s[at] < this.start_s[at]), default=0.0
    )
    slot = session.opened(rows).plan.sessions[0].of.exercises[this.slot - 1]
    table = session.room.loads_for(session.room.catalogue.exercise(this.exercise), slot.equipment)
    to_failure = row["reps_high"] == float("inf")
    fewest = int(row["reserve_p50"]) if to_failure else int(row["reps_low"])
    last = next((one for one in reversed(rows) if one.reps is not None and one.exercise == this.exercise), None)
    hows = [load_on_plates(table, row[at], row["body_kg"]).partition(": ")[2] for at in ("load_kg", "today_kg")]
    loads = [_typed(row, column) for column in ("load_kg", "today_kg")]
    changed = last is not None and last.load not in {_typed_of(session, one, at) for one in of_this}
    too_heavy = not to_failure and row["chance"] < answer.limit and row["today_kg"] < row["load_kg"]
    takes_today = (changed or too_heavy) and loads[1] != loads[0]
    return {
        "exercise": this.exercise,
        "set": this.label,
        "of": len({one.number for one in of_this}),
        "asked": _put_on(row, "load_kg"),
        "today": _put_on(row, "today_kg") if loads[1] != loads[0] else "",
        "how": hows[1 if takes_today else 0],
        "loads": loads,
        "takes_today": takes_today,
        "reps": reps_said(row["reps_low"], row["reps_high"]),
        "prefilled": max(fewest, 0),
        "to_failure": to_failure,
        "left_out": "; ".join(left_out_said(session.lifter, [session.room.catalogue.exercise(this.exercise)])),
        "said": _said(row, alike, "" if takes_today else hows[1], answer.limit),
        "low": not to_failure and worst["chance"] < answer.limit,
        "rest": _clock(this.start_s[at] - ended) if last is not None else "",
        "unit": row["unit"] if row["hands"] == 1 else f"{row['unit']}, one hand",
        "body": row["body_kg"] > 0.0,
        "reserves": [(value, value or "not said") for value in RESERVES],
    }


def _said(row: dict[Any, Any], alike: Sequence[dict[Any, Any]], how_today: str, limit: float) -> list[str]:
    """Say what to expect of the next set and those of its group, and what keeps the limit where the plan does not."""
    asked, today = _put_on(row, "load_kg"), _put_on(row, "today_kg")
    if row["reps_high"] == float("inf"):
        return [f"As many as can be made in good form: {_left_said(row, to_failure=True)} expected."]
    left, reps = _left_said(row, to_failure=False), _reps(int(row["reps_low"]))
    worst, worst_today = (min(alike, key=lambda one: float(one[name])) for name in ("chance", "chance_today"))
    if worst["chance"] >= limit and today == asked:
        return [f"Chance of {reps}: {in_words(row['chance'])}, {left} expected."]
    sets = [row] if worst["chance"] >= limit else [row, worst]
    said = [f"Chance of {reps} at {asked}: {_chances(sets, 'chance')}."]
    if today != asked:
        with_plates = f"{today} ({how_today})" if how_today else today
        if row["today_kg"] > row["load_kg"]:
            keeps = "is what the coach allows today"
        elif worst["chance"] >= limit:
            keeps = "leaves the reps asked for"
        elif worst_today["chance_today"] >= limit:
            keeps = f"keeps your {percent_said(limit)} in every set"
        else:
            keeps = "is the lightest allowed"
        chances = _chances([row, worst_today], "chance_today")
        said.append(f"{with_plates} {keeps}: chance {chances}; {left} after this set.")
        if worst_today["chance_today"] < limit and worst["chance"] < limit:
            first = next(one["set"] for one in alike if one["chance_today"] < limit)
            where = "here" if first == row["set"] else f"before set {first}"
            said.append(f"To keep {percent_said(limit)}, end these sets {where}.")
    else:
        said.append(f"{left} expected.")
    fewer = int(row["reps_at_limit"])
    if row["chance"] < limit:
        keep = f"{_reps(fewer)} at {asked} would keep {percent_said(limit)}" if fewer else f"No rep at {asked} is sure"
        said.append(f"{keep}.")
    return said


def _reps(count: int) -> str:
    return f"{count} rep{'' if count == 1 else 's'}"


def _chances(sets: Sequence[dict[Any, Any]], column: str) -> str:
    """Say the chance of the next set, and that of another where it is another."""
    first, last = sets[0], sets[-1]
    there = f" now, {in_words(last[column])} in set {last['set']}"
    return in_words(first[column]) + (there if in_words(last[column]) != in_words(first[column]) else "")


def _left_said(row: dict[Any, Any], *, to_failure: bool) -> str:
    ends = [row[f"reserve_p{percent}"] for percent in (10, 50, 90)]
    return reps_expected(*ends) if to_failure else f"{reserve_said(*ends)} left"


def _put_on(row: dict[Any, Any], column: str) -> str:
    return put_on_said(row[column], row["body_kg"], row["unit"], row["hands"])


def _typed(row: dict[Any, Any], column: str) -> str:
    """Return a load as it is typed: in the unit of the equipment, of one hand, without the body."""
    return f"{mass_in(row[column] - row['body_kg'], row['unit']) / row['hands']:.3f}".rstrip("0").rstrip(".")


def _typed_of(session: SessionToday, planned: Any, at: int) -> str:
    row = {"load_kg": planned.load_kg[at], "body_kg": planned.body_kg, "unit": planned.unit, "hands": planned.hands}
    typed = _typed(row, "load_kg")
    return (f"BW+{typed}" if typed != "0" else "BW") if planned.body_kg > 0.0 else typed


def _clock(seconds: float) -> str:
    minutes, rest = divmod(round(float(seconds)), 60)
    return f"{minutes}:{rest:02d}"


def _line(row: dict[Any, Any], limit: float) -> dict[str, Any]:
    to_failure = row["reps_high"] == float("inf")
    today = "" if row["today_kg"] == row["load_kg"] else _put_on(row, "today_kg")
    return {
        "exercise": row["exercise"],
        "set": row["set"],
        "asked": f"{_put_on(row, 'load_kg')} × {reps_said(row['reps_low'], row['reps_high'])}",
        "chance": "" if to_failure else in_words(row["chance"]),
        "low": not to_failure and row["chance"] < limit,
        "left": _left_said(row, to_failure=to_failure),
        "today": today and f"{today} ({in_words(row['chance_today'])})",
    }


def _done(session: SessionToday, row: LogRow) -> str:
    if row.reps is None:
        return f"{row.exercise}: {row.note}"
    two = session.room.catalogue.hands_of(row.exercise) == 2
    load = {"BW": "body mass"}.get(row.load, row.load.replace("BW+", "body mass + "))
    load = load if load == "body mass" else f"{'2 x ' if two else ''}{load} {row.unit}"
    end = ", then failed" if row.failed else f", {row.reserve} left" if row.reserve else ""
    rest = "" if row.rest_s is None else f", after {_clock(row.rest_s)}"
    return f"{row.exercise}, set {row.label}: {load} × {row.reps}{end}{rest}"


def _left(session: SessionToday, rows: Sequence[LogRow], answer: Today) -> list[dict[str, Any]]:
    """Return every exercise of the session, with what may still be done with it."""
    to_come = set(answer.sets["exercise"])
    begun = {row.exercise for row in rows if row.reps is not None}
    skipped = set(session.skipped(rows))
    return [
        {"name": name, "to_come": name in to_come, "begun": name in begun, "skipped": name in skipped}
        for name in session.exercises(rows)
    ]


def _cautions(session: SessionToday, rows: Sequence[LogRow]) -> list[str]:
    plan, shown = session.opened(rows).plan, always_shown()
    sets = pd.DataFrame([(one.exercise, one.load_fraction[session.week - 1]) for one in plan.sessions[0].sets])
    heaviest = {str(name): 100.0 * float(part) for name, part in sets.groupby(0)[1].max().items()}
    found = session_cautions(session.start.lifter, session.exercises(rows), heaviest)
    more = (f"{', '.join(names)}: {caution.sentence}" for caution, names in found if caution.sentence not in shown)
    return [*shown, *more]
