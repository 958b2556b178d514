"""The preview: in plain words, how the file, each column and each manner of writing was read."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any, Final

from workbench.log.options import FIELDS, ReadOptions
from workbench.log.settling import Facts
from workbench.log.sheet import Sheet
from workbench.log.tables import Column, Section, Table

__all__ = ["understood"]

_EFFORT: Final = {
    "rpe": "5 to 10 is 10 minus the reps in reserve; lower ratings are kept but not used",
    "rir": "a range counts as its middle; a set with a stated reserve ended as stopped",
}


def understood(
    tables: Sequence[Table],
    not_read: Sequence[Sheet],
    facts: Facts,
    matched_by: str,
    names: Iterable[tuple[str, str]],
    options: ReadOptions,
) -> Any:
    """Return the preview as a table: sheet, heading, read_as, how."""
    import pandas as pd

    lines: list[tuple[str, str, str, str]] = []
    for table in tables:
        name = table.sheet.name
        lines += [(name, "", "the file", fact) for fact in table.sheet.facts]
        for section in table.sections:
            told = "canonical log" if section.canonical else "headings"
            lines.append((name, "", told, f"in row {section.header_row}"))
            lines += [
                (name, column.heading.text or column.name, *_column(section, column, facts, matched_by, options))
                for column in section.columns
            ]
            lines += [
                (name, "", FIELDS[field], f"{value}, from a title above the headings")
                for field, value in section.defaults.items()
            ]
        lines += [
            (name, "", f"blank {field}", f"taken from the row above in {count} rows (fill_down=False to forbid)")
            for field, count in table.filled.items()
        ]
        if not any(section.has("set_number") for section in table.sections):
            lines.append((name, "", "number of the set", "counted within lifter, day and exercise"))
    lines += [(sheet.name, "", "the sheet", "not read: it has no headings of a log") for sheet in not_read]
    if facts.decimal:
        lines.append(("", "", "decimal mark", facts.decimal))
    lines += [("", written, name, "") for written, name in names if written.casefold() != name.casefold()]
    lines += [("", "", "manner of writing", how) for how in _manners(tables, options)]
    return pd.DataFrame(lines, columns=["sheet", "heading", "read_as", "how"])


def _column(section: Section, column: Column, facts: Facts, matched_by: str, options: ReadOptions) -> tuple[str, str]:
    field = column.field
    if field == "carried":
        return "carried along", "as the canonical log holds it"
    if not field:
        return FIELDS["keep"], column.why
    unit = column.heading.unit
    read_as = FIELDS["load"] if field == "load_twin" else FIELDS[field]
    if column.heading.index:
        read_as += f" of set {column.heading.index}"
    if field in {"load", "load_twin", "load_by_reps", "set_result"}:
        if unit:
            return read_as, f"in {unit}, by the heading, unless a cell says otherwise"
        if section.has("unit"):
            return read_as, "in the unit of the unit column"
        if "unit" in section.defaults:
            return read_as, f"in {section.defaults['unit']}, by a title, unless a cell says otherwise"
        told = (
            f"in {options.unit} as told, unless a cell says otherwise" if options.unit else "each cell states its unit"
        )
        return read_as, told
    if field in {"rest", "rest_after"}:
        how = f"in {unit}, by the heading" if unit else facts.rest or "each cell states its unit"
        how = how.rstrip(".")
        if field == "rest":
            read_as = FIELDS["rest_after"] if facts.rest_is == "after" else read_as
            how += "; taken before the row's set" if options.rest_is is None and column.heading.rank == 2 else ""
        return read_as, how
    return read_as, {
        "date": facts.dates,
        "exercise": matched_by,
        "set_count": facts.sets or "so many sets of the same load and reps",
        **_EFFORT,
    }.get(field, "")


def _manners(tables: Sequence[Table], options: ReadOptions) -> list[str]:
    """Return the readings of shorthand that occur in this file."""
    written = " ".join(
        str(cell)
        for table in tables
        for record in table.records[:5000]
        for cells in (record.fields, *record.numbered.values())
        for name in ("reps", "sets_by_reps", "set_result")
        if isinstance(cell := cells.get(name), str)
    ).casefold()
    pause = (
        f"8+2: 8 reps, a short pause assumed to last {options.pause_s:g} s, then 2 reps: two sets"
        if options.plus_means == "pause"
        else "8+2: 8 reps alone, then 2 with help: 8 reps, the ninth failed"
    )
    first, second = ("sets", "reps") if options.times_order == "sets_first" else ("reps", "sets")
    told = (
        ("+", pause),
        ("/", "5/5/4: three sets; what is said of effort or failing concerns the last of them"),
        ("x", f"3x8: {first} first, then {second}; 7X: 7 reps and the eighth failed"),
        ("amrap", "AMRAP 9: 9 reps, as many as possible, so a tenth would have failed"),
        ("f", "7F: 7 reps, the eighth failed"),
    )
    return [how for mark, how in told if mark in written]
