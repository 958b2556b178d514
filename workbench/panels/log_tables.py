"""What the log panel says: its sentences and tables."""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from typing import TYPE_CHECKING, Any

from workbench.fit.said import learned_in
from workbench.gym.equipment.loads import Unit
from workbench.present.tables import Table
from workbench.present.words import in_words, load_said

if TYPE_CHECKING:
    import pandas as pd

    from workbench.answers.next_test import NextTest
    from workbench.answers.next_week import NextWeek
    from workbench.fit import Learned
    from workbench.log import LogReading

__all__ = [
    "answer_lines",
    "learned_table",
    "question_lines",
    "reading_lines",
    "rep_max_lines",
    "test_table",
    "week_table",
]

_MOST_TESTS = 6


def reading_lines(reading: LogReading) -> list[str]:
    """Say where the rows of the file went, what is open, and what was set aside."""
    totals = reading.totals
    lines = [", ".join(f"{count} {name}" for name, count in totals.items())]
    for heading, read_as, how in reading.understood[["heading", "read_as", "how"]].astype(str).itertuples(index=False):
        if heading:
            lines.append(f"{heading}: {read_as}{'; ' if how else ''}{how}")
    lines += [f"Please answer: {question}" for question in question_lines(reading)]
    aside = reading.quarantine
    lines += [f"Set aside, row {row}: {reason}" for row, reason in zip(aside["row"], aside["reason"], strict=True)][:20]
    return lines


def question_lines(reading: LogReading) -> list[str]:
    """Say what the log leaves open, each question with how to answer it."""
    return [str(question) for question in reading.questions]


def answer_lines(learned: Learned, unit: Unit = "kg") -> list[str]:
    """Say in a sentence or two what changed most, and what to know before it is believed."""
    return [*learned.sentences(unit), *learned.notes]


def learned_table(learned: Learned, unit: Unit = "kg") -> Table:
    """Make the table of prior and posterior of every quantity."""
    rows = learned_in(learned.summary(), unit, learned.lifter.catalogue).to_dict("records")
    cells = tuple((_quantity(row), row["unit"], _span(row, "prior_"), _span(row, ""), str(row["sets"])) for row in rows)
    headings = ("", "unit", "before the log (80 %)", "after (80 %)", "sets")
    return Table("What the log taught", headings, cells)


def _quantity(row: Mapping[Hashable, Any]) -> str:
    of_all = {
        "recovery rate": "recovery between sets, 1 is average",
        "carry-over": "carry-over between exercises, 1 is average",
    }
    return of_all.get(row["quantity"], f"{row['exercise']}, {row['quantity']}")


def _span(row: Mapping[Hashable, Any], prefix: str) -> str:
    digits = {"1RM": 1, "endurance": 4}.get(row["quantity"], 2)
    low, middle, high = (row[f"{prefix}p{level}"] for level in (10, 50, 90))
    return f"{middle:.{digits}f} ({low:.{digits}f} to {high:.{digits}f})"


def rep_max_lines(table: pd.DataFrame) -> Table:
    """Make the table of `workbench.answers.learned.rep_max_table`."""
    cells = tuple(
        (
            row["exercise"],
            f"{row['believed_kg']:.1f}",
            "" if row["formula_kg"] != row["formula_kg"] else f"{row['formula_kg']:.1f}",
            f"{row['learned_kg']:.1f} ({row['low_kg']:.1f} to {row['high_kg']:.1f})",
            str(row["failed_sets"]),
        )
        for row in table.to_dict("records")
    )
    headings = ("1RM, kg", "before the log", "rep-max formula", "learned (80 %)", "sets to failure")
    return Table("The same log, read in two ways", headings, cells)


def week_table(coming: NextWeek) -> Table:
    """Make the table of loads and chances of the first week to come."""
    week = int(coming.weeks["week"].iloc[0])
    rows = coming.sets[coming.sets["week"] == week].to_dict("records")
    cells = tuple(
        (
            f"{row['session']}, {row['exercise']}, set {row['set']}",
            load_said(row),
            load_said(row, "load_updated_kg"),
            *("" if row[name] != row[name] else in_words(row[name]) for name in _CHANCES),
        )
        for row in rows
    )
    headings = ("", "load, file", "load, now", "chance before", "file's loads now", "loads of now")
    return Table(f"Week {week}: loads and the chance that all reps are made", headings, cells)


_CHANCES = ("chance_before", "chance_now", "chance_updated")


def test_table(test: NextTest) -> Table:
    """Make the table of test sets that would teach most."""
    cells = tuple(
        (
            f"{row['exercise']}, {row['how']}",
            f"{row['load_kg']:g}",
            f"{row['percent']:.0f}",
            "" if row["second_after_s"] != row["second_after_s"] else f"{row['second_after_s']:.0f} s",
            f"{row['reps']:.0f} ({row['reps_low']:.0f} to {row['reps_high']:.0f})",
            f"{row['sd_now']:.2f} to {row['sd_after']:.2f}",
        )
        for row in test.table.head(_MOST_TESTS).to_dict("records")
    )
    headings = ("", "kg", "% of 1RM", "again after", "reps", "sd shrinks from")
    return Table(f"Test sets that would teach most of the {test.answer}", headings, cells)
