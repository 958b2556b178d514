"""Tables of the panels: what each column says of a row; and the small printed tables of evidence."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from string import Formatter
from typing import TYPE_CHECKING, Any

from workbench.answers.exercise_order import exercise_order_table
from workbench.answers.volume import studied_ranges
from workbench.answers.week_to_week import gain_prior, published_tapers, week_load
from workbench.evidence.rep_duration import slow_rep_table
from workbench.present.tables import Table, rows_of
from workbench.present.words import change, in_words
from workbench.quantities import SEED

if TYPE_CHECKING:
    import pandas as pd

    from workbench.lifter import Lifter
    from workbench.simulate.plan import Plan

__all__ = [
    "Row",
    "chance",
    "gain_table",
    "load_table",
    "order_evidence_table",
    "ranges_table",
    "slow_reps_table",
    "table_of",
    "taper_table",
]

Row = Mapping[Any, Any]
Cell = str | Callable[[Row], str]


def table_of(caption: str, rows: pd.DataFrame | list[dict[Any, Any]], columns: Mapping[str, Cell]) -> Table:
    """Return a table with a line for each row.

    Parameters
    ----------
    caption : str
    rows : DataFrame or list of dict
    columns : mapping
        By heading, what a cell says: a format of the row's values, blank where one of them is missing, or a function
        of the row.

    >>> rows = [{"set": 1, "kg": 60.0}, {"set": 2, "kg": float("nan")}]
    >>> print(table_of("Loads", rows, {"set": "{set}", "kg": "{kg:.1f}"}).text())
    Loads
    set    kg
    1    60.0
    2
    """
    of_rows = rows if isinstance(rows, list) else rows_of(rows)
    cells = tuple(tuple(_cell(row, column) for column in columns.values()) for row in of_rows)
    return Table(caption, tuple(columns), cells)


def _cell(row: Row, column: Cell) -> str:
    if not isinstance(column, str):
        return column(row)
    values = (row[name] for _, name, _, _ in Formatter().parse(column) if name)
    return "" if any(value != value for value in values) else column.format_map(row)


def chance(name: str) -> Callable[[Row], str]:
    """Return a column of chances."""
    return lambda row: in_words(row[name])


def _range(row: Row) -> str:
    """Say the ends that were studied; blank where there is no lower one."""
    return _cell(row, "{low:g} to {high:g}" if row["high"] == row["high"] else "over {low:g}")


def _reported(row: Row) -> str:
    """Say a published number, or the range where there is none, or what the note says first."""
    return _cell(row, "{value:g}") or _range(row) or row["note"].split(";")[0]


def order_evidence_table(*, seed: int = SEED, draws: int = 400) -> Table:
    """Return predicted against published changes of reps by exercise order."""

    def predicted(row: Row) -> str:
        middle, low, high = (change(row[name], 0) for name in ("predicted_percent", "low", "high"))
        return f"{middle} ({low} to {high})"

    return table_of(
        "Change of reps through earlier exercises (± one standard error)",
        exercise_order_table(draws=draws, seed=seed),
        {
            "exercise": "{exercise}",
            "after": "{before}",
            "published, %": lambda row: _cell(row, "{published_percent:.1f} ± {error_percent:.1f}") or row["direction"],
            "predicted, % (middle 80 %)": predicted,
            "agrees": lambda row: "yes" if row["agrees"] else "no",
            "source": "{source}",
            "grade": "{grade}",
        },
    )


def slow_reps_table() -> Table:
    """Return predicted against published reps of slow sets, each study predicted from the others."""

    def said(row: Row, *names: str) -> str:
        unit = " %" if row["unit"] == "percent" else ""
        values = [f"{row[name]:.1f}{unit}" for name in names]
        return values[0] if len(values) == 1 else f"{values[0]} ({values[1]} to {values[2]})"

    return table_of(
        "Reps to failure at a slower tempo, each study predicted from the others",
        slow_rep_table(),
        {
            "exercise": "{exercise}",
            "of 1RM": "{percent:.0f} %",
            "s a rep": "{seconds:g}",
            "against": "{usual_seconds:g}",
            "reps then": lambda row: said(row, "usual"),
            "published": lambda row: said(row, "published"),
            "predicted (middle 80 %)": lambda row: said(row, "predicted", "low", "high"),
            "mark": "{mark}",
            "source": "{source}",
            "grade": "{grade}",
        },
    )


def gain_table(lifter: Lifter, weeks: int) -> Table:
    """Return what the 1RMs may become, by years of training alone."""
    return table_of(
        f"1RM after {weeks} weeks, kg, by {lifter.training_years:g} years of training alone (no promise)",
        gain_prior(lifter, weeks),
        {
            "exercise": "{exercise}",
            "now": "{one_rm_kg:.1f}",
            "after": "{after_kg:.1f}",
            "range": "{low_kg:.1f} to {high_kg:.1f}",
            "grade": "{grade}",
        },
    )


def load_table(plan: Plan, ratings: Mapping[str, float], *, week: int = 1) -> Table:
    """Return session load, monotony and strain of a week."""
    return table_of(
        f"Session load of week {week} (foster_1998)",
        week_load(plan, ratings, week=week),
        {
            "session": "{session}",
            "rating, 0-10": "{rating:g}",
            "minutes": "{minutes:.0f}",
            "load": "{load:.0f}",
            "monotony": "{monotony:.2f}",
            "strain": "{strain:.0f}",
        },
    )


def taper_table() -> Table:
    """Return what is known of lighter weeks and tapers."""
    return table_of(
        "Lighter weeks and tapers, as published",
        published_tapers(),
        {
            "what was studied": "{topic}: {measure}",
            "value": _reported,
            "between": lambda row: _range(row) if row["value"] == row["value"] else "",
            "unit": "{unit}",
            "source": "{source}",
        },
    )


def ranges_table() -> Table:
    """Return the published ranges and dose-responses behind the panel of volume, with source and grade."""
    return table_of(
        "Published ranges and dose-responses",
        studied_ranges(),
        {
            "what was studied": "{measure}",
            "value": lambda row: _range(row) or _reported(row),
            "95 % interval": "{ci_low:g} to {ci_high:g}",
            "unit": "{unit}",
            "source": "{source}",
            "grade": "{grade}",
        },
    )
