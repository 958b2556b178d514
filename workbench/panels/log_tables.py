"""What the log panel says: its sentences and tables."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.fit.said import learned_in
from workbench.gym.equipment.loads import Unit
from workbench.panels.tables import Row, chance, table_of
from workbench.present.words import load_said

if TYPE_CHECKING:
    import pandas as pd

    from workbench.answers.next_test import NextTest
    from workbench.answers.next_week import NextWeek
    from workbench.fit import Learned
    from workbench.log import LogReading
    from workbench.present.tables import Table

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
#: Quantities that belong to no exercise.
_OF_ALL = {
    "recovery rate": "recovery between sets, 1 is average",
    "carry-over": "carry-over between exercises, 1 is average",
}


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
    return table_of(
        "What the log taught",
        learned_in(learned.summary(), unit, learned.lifter.catalogue),
        {
            "": lambda row: _OF_ALL.get(row["quantity"], f"{row['exercise']}, {row['quantity']}"),
            "unit": "{unit}",
            "before the log (80 %)": lambda row: _span(row, "prior_"),
            "after (80 %)": lambda row: _span(row, ""),
            "sets": "{sets}",
        },
    )


def _span(row: Row, prefix: str) -> str:
    digits = {"1RM": 1, "endurance": 4}.get(row["quantity"], 2)
    low, middle, high = (row[f"{prefix}p{level}"] for level in (10, 50, 90))
    return f"{middle:.{digits}f} ({low:.{digits}f} to {high:.{digits}f})"


def rep_max_lines(table: pd.DataFrame) -> Table:
    """Make the table of `workbench.answers.learned_curve.rep_max_table`."""
    return table_of(
        "The same log, read in two ways",
        table,
        {
            "1RM, kg": "{exercise}",
            "before the log": "{believed_kg:.1f}",
            "rep-max formula": "{formula_kg:.1f}",
            "learned (80 %)": "{learned_kg:.1f} ({low_kg:.1f} to {high_kg:.1f})",
            "sets to failure": "{failed_sets}",
        },
    )


def week_table(coming: NextWeek) -> Table:
    """Make the table of loads and chances of the first week to come."""
    week = int(coming.weeks["week"].iloc[0])
    return table_of(
        f"Week {week}: loads and the chance that all reps are made",
        coming.sets[coming.sets["week"] == week],
        {
            "": "{session}, {exercise}, set {set}",
            "load, file": load_said,
            "load, now": lambda row: load_said(row, "load_updated_kg"),
            "chance before": chance("chance_before"),
            "file's loads now": chance("chance_now"),
            "loads of now": chance("chance_updated"),
        },
    )


def test_table(test: NextTest) -> Table:
    """Make the table of test sets that would teach most."""
    return table_of(
        f"Test sets that would teach most of the {test.answer}",
        test.table.head(_MOST_TESTS),
        {
            "": "{exercise}, {how}",
            "kg": "{load_kg:g}",
            "% of 1RM": "{percent:.0f}",
            "again after": "{second_after_s:.0f} s",
            "reps": "{reps:.0f} ({reps_low:.0f} to {reps_high:.0f})",
            "sd shrinks from": "{sd_now:.2f} to {sd_after:.2f}",
        },
    )
