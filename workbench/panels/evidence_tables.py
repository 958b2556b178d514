"""Small printed tables of evidence beside the session and the block: exercise order, gains, session load, tapers."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from workbench.answers.exercise_order import exercise_order_table
from workbench.answers.week_to_week import gain_prior, published_tapers, week_load
from workbench.prescription.block import WHOLE_WEEK
from workbench.present.tables import Table
from workbench.present.words import change
from workbench.quantities import SEED

if TYPE_CHECKING:
    from workbench.lifter import Lifter
    from workbench.simulate.plan import Plan

__all__ = ["gain_table", "load_table", "order_evidence_table", "taper_table"]


def order_evidence_table(*, seed: int = SEED, draws: int = 400) -> Table:
    """Return predicted against published changes of reps by exercise order."""
    rows = []
    for row in exercise_order_table(draws=draws, seed=seed).to_dict("records"):
        sized = row["published_percent"] == row["published_percent"]
        published = f"{row['published_percent']:.1f} ± {row['error_percent']:.1f}" if sized else row["direction"]
        middle, low, high = (change(row[name], 0) for name in ("predicted_percent", "low", "high"))
        predicted = f"{middle} ({low} to {high})"
        agrees = "yes" if row["agrees"] else "no"
        rows.append((row["exercise"], row["before"], published, predicted, agrees, row["source"], row["grade"]))
    headings = ("exercise", "after", "published, %", "predicted, % (middle 80 %)", "agrees", "source", "grade")
    return Table("Change of reps through earlier exercises (± one standard error)", headings, tuple(rows))


def gain_table(lifter: Lifter, weeks: int) -> Table:
    """Return what the 1RMs may become, by years of training alone."""
    rows = tuple(
        (
            row["exercise"],
            f"{row['one_rm_kg']:.1f}",
            f"{row['after_kg']:.1f}",
            f"{row['low_kg']:.1f} to {row['high_kg']:.1f}",
            row["grade"],
        )
        for row in gain_prior(lifter, weeks).to_dict("records")
    )
    caption = f"1RM after {weeks} weeks, kg, by {lifter.training_years:g} years of training alone (no promise)"
    return Table(caption, ("exercise", "now", "after", "range", "grade"), rows)


def load_table(plan: Plan, ratings: Mapping[str, float], *, week: int = 1) -> Table:
    """Return session load, monotony and strain of a week."""
    rows = []
    for row in week_load(plan, ratings, week=week).to_dict("records"):
        whole = row["session"] == WHOLE_WEEK
        rows.append(
            (
                row["session"],
                "" if whole else f"{row['rating']:g}",
                f"{row['minutes']:.0f}",
                f"{row['load']:.0f}",
                f"{row['monotony']:.2f}" if whole else "",
                f"{row['strain']:.0f}" if whole else "",
            )
        )
    headings = ("session", "rating, 0-10", "minutes", "load", "monotony", "strain")
    return Table(f"Session load of week {week} (foster_1998)", headings, tuple(rows))


def taper_table() -> Table:
    """Return what is known of lighter weeks and tapers."""
    rows = []
    for row in published_tapers().to_dict("records"):
        value = "" if row["value"] != row["value"] else f"{row['value']:g}"
        between = "" if row["low"] != row["low"] else f"{row['low']:g} to {row['high']:g}"
        text = value or between or row["note"].split(";")[0]
        rows.append((f"{row['topic']}: {row['measure']}", text, between if value else "", row["unit"], row["source"]))
    headings = ("what was studied", "value", "between", "unit", "source")
    return Table("Lighter weeks and tapers, as published", headings, tuple(rows))
