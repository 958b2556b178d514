"""The forecast of a block while it is built: chances and minutes, plates of every week, muscles, cautions."""

from __future__ import annotations

from itertools import groupby
from operator import itemgetter
from typing import TYPE_CHECKING

from workbench.answers.session import heaviest_percents, load_on_plates, session_cautions
from workbench.answers.volume import volume_question
from workbench.gym.catalogue import general_cautions
from workbench.prescription.block import WHOLE_WEEK
from workbench.present.tables import Table, rows_of
from workbench.present.words import in_words, left_said, load_said, reps_said

if TYPE_CHECKING:
    from workbench.answers.block_check import BlockCheck
    from workbench.prescription.edit import Where

__all__ = ["caution_lines", "muscle_table", "plates_table", "week_grid"]


def week_grid(check: BlockCheck) -> Table:
    """Weeks across, sessions down: the chance that all reps are made, and the minutes."""
    weeks = range(1, check.plan.weeks + 1)
    lighter = {week.week for week in check.plan.block.lighter_weeks}
    rows = [
        (str(session), *(_chance_and_time(row["chance"], row["minutes"]) for row in rows_of(table)))
        for session, table in check.weeks.groupby("session", sort=False)
        if session != WHOLE_WEEK
    ]
    headings = ("session", *(f"week {week}{' (lighter)' if week in lighter else ''}" for week in weeks))
    return Table("Chance that all reps are made, and time", headings, tuple(rows))


def _chance_and_time(chance: float, minutes: float) -> str:
    """Say both; only the time where no set has reps that must be made."""
    return ", ".join(said for said in (in_words(chance), f"{minutes:.0f}\u00a0min") if said)


def plates_table(check: BlockCheck, where: Where) -> Table:
    """Every week of one set group: reps and load, the plates that make it, the lowest chance, reps left at the end."""
    sets = check.sets
    chosen = sets[
        (sets["session_number"] == where.session) & (sets["slot"] == where.exercise) & (sets["group"] == where.group)
    ]
    session = check.plan.sessions[int(where.session or 1) - 1]
    slot = session.of.exercises[int(where.exercise or 1) - 1]
    room = check.plan.room
    table = room.loads_for(room.catalogue.exercise(slot.exercise), slot.equipment)
    rows = []
    for week, by_week in groupby(rows_of(chosen), key=itemgetter("week")):
        of_week = list(by_week)
        first = [one for one in of_week if one["drop"] == 0]
        last, chances = first[-1], [one["chance"] for one in first if one["chance"] == one["chance"]]
        run = {one["drop"]: one for one in reversed(of_week)}  # the first set's
        loads = [load_on_plates(table, one["load_kg"], one["body_kg"]) for _, one in sorted(run.items())]
        if last["load_kg"] != first[0]["load_kg"]:
            loads.append(f"{load_said(last)} in the last set")
        rows.append(
            (
                str(week),
                f"{len(first)} × {reps_said(last['reps_low'], last['reps_high'])}",
                "; then ".join(loads),
                f"{first[0]['percent']:.0f} %",
                in_words(min(chances)) if chances else "–",
                left_said(last),
            )
        )
    headings = ("week", "sets × reps", "load on this room's plates", "of 1RM", "chance", "reps left (below 0: missed)")
    return Table(f"{slot.exercise}, every week", headings, tuple(rows), texts=(0, 2))


def muscle_table(check: BlockCheck) -> Table:
    """Fractional sets of each muscle in the first and the last week, beside the studied range."""
    muscles = volume_question(check.outcome).muscles
    first, last = (muscles[muscles["week"] == week].set_index("muscle") for week in (1, check.plan.weeks))
    rows = tuple(
        (
            str(muscle),
            *(f"{sets:.3g}" for sets in (row["fractional"], last["fractional"].get(muscle, 0.0), row["hard"])),
            f"{row['beside']} {row['range_low']:g} to {row['range_high']:g}",
        )
        for muscle, row in first.sort_values("fractional", ascending=False).iterrows()
    )
    headings = ("muscle", "sets, week 1", f"sets, week {check.plan.weeks}", "hard, week 1", "studied range, week 1")
    caption = "Sets a week for each muscle (a helping muscle counts a half); studied in trained young men, no target"
    return Table(caption, headings, rows, texts=(0, 4))


def caution_lines(check: BlockCheck) -> list[str]:
    """Cautions of what is in the block, each once with the exercises that it is about."""
    names = [check.plan.catalogue.exercise(name) for name in check.plan.exercises]
    found = session_cautions(check.plan.lifter, names, heaviest_percents(check.sets))
    general = [caution.sentence for caution in general_cautions() if caution.show == "always"]
    return [*(f"{', '.join(of)}: {caution.sentence}" for caution, of in found), *general]
