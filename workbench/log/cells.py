"""Cells and rows as a file holds them, the numbers written into them, and what one cell says of one set."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from functools import lru_cache
from typing import Final, Generic, TypeVar

__all__ = [
    "DAY_ZERO", "DITTO", "MASS_UNITS", "MAX_CELL", "MAX_CELLS", "MAX_COLUMNS", "MAX_ROW_NUMBER", "MAX_WRITTEN",
    "AsideError", "Cell", "Formula", "Number", "Percent", "Reading", "Sheet", "SourceRow", "cell_fault", "clean",
    "decimal", "neutralised", "read_number", "restored", "text_of",
]  # fmt: skip


@dataclass(frozen=True)
class Percent:
    """A number that the spreadsheet shows as a percentage; ``value`` is the fraction."""

    value: float


@dataclass(frozen=True)
class Formula:
    """A formula without a usable stored value: ``text`` is the formula or the error that it shows."""

    text: str


Cell = str | int | float | bool | datetime | date | time | timedelta | Percent | Formula | None

#: Day 0 of dates that a spreadsheet stores as numbers of days, unless the workbook says otherwise.
DAY_ZERO: Final = datetime(1899, 12, 30)  # noqa: DTZ001 (the dates of a log carry no zone)
#: Characters of a cell; spreadsheet programs hold no more.
MAX_CELL: Final = 32_767
#: Characters of a cell that is read; only notes, and columns that are kept unread, may be longer.
MAX_WRITTEN: Final = 200
#: Columns that hold anything.
MAX_COLUMNS: Final = 300
#: Last row of a sheet of a spreadsheet program.
MAX_ROW_NUMBER: Final = 1_048_576
#: Cells of a file, blank ones before the last of a row included: 500,000 rows of twelve columns.
MAX_CELLS: Final = 6_000_000
#: "The same as above", as people write it.
DITTO: Final = frozenset({'"', "''", "\u3003", "\u201d", "\u201c", "ditto", "same", "as above", "do.", "\u2033"})
#: Units of mass as people write them.
MASS_UNITS: Final = {
    **dict.fromkeys(("kg", "kgs", "kilo", "kilos", "kilogram", "kilograms"), "kg"),
    **dict.fromkeys(("lb", "lbs", "pound", "pounds"), "lb"),
}
#: Tabulators and line ends belong into text; the other control characters steer terminals and printers.
_CONTROL: Final = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f]")

# A spreadsheet program runs text that starts with one of these; the wide forms are taken for the narrow ones by some.
_RUNS: Final = re.compile("'*[=+\\-@\t\r\n\uff1d\uff0b\uff0d\uff20]")


class AsideError(Exception):
    """The row is set aside: ``reason`` in plain words, ``question`` if it waits for an answer."""

    def __init__(self, reason: str, question: str = "") -> None:
        super().__init__(reason)
        self.reason = reason
        self.question = question


Value = TypeVar("Value")


@dataclass(frozen=True)
class Reading(Generic[Value]):
    """What a cell says of one set, of whatever kind. A cell that cannot be used raises AsideError instead."""

    #: Load [kg], reps, rest [s] or reps in reserve; None where nothing usable is stated.
    value: Value
    #: The unit as written or in force; a rest without one is a bare number.
    unit: str = ""
    #: ``failed`` or ``stopped`` where the cell says so.
    ending: str = ""
    #: How the cell was read, where that is not plain.
    note: str = ""
    #: Whether only a short pause lies before the set.
    after_pause: bool = False


@dataclass(slots=True)
class SourceRow:
    """One row: its number as a spreadsheet program shows it (first row is 1), its cells, and what is broken in it."""

    number: int
    cells: list[Cell]
    broken: str = ""


@dataclass
class Sheet:
    """One table of a file: the rows that hold anything, and in plain words how it was opened.

    ``name`` is empty for a text file, ``delimiter`` for a workbook; ``epoch`` is day 0 of dates stored as numbers.
    """

    name: str
    rows: list[SourceRow]
    facts: list[str] = field(default_factory=list)
    epoch: datetime = DAY_ZERO
    delimiter: str = ""

    @property
    def length(self) -> int:
        """Number of the last row that holds anything; 0 for an empty sheet."""
        return self.rows[-1].number if self.rows else 0


def cell_fault(cells: Sequence[Cell]) -> str:
    r"""Return why the cells of a row cannot be used whatever they say, empty where they can.

    >>> cell_fault(["Squat", "Ana\x1b[31m"])
    'a cell holds a control character (U+001B); delete it'
    """
    for cell in cells:
        if not isinstance(cell, str):
            continue
        if len(cell) > MAX_CELL:
            return f"a cell holds more than {MAX_CELL:,} characters"
        if match := _CONTROL.search(cell):
            return f"a cell holds a control character (U+{ord(match[0]):04X}); delete it"
    return ""


def text_of(cell: Cell) -> str:
    """Text of a cell as its owner sees it, near enough: used for free text and for the quarantine.

    >>> text_of(100.0), text_of(Percent(0.8)), text_of(None)
    ('100', '80%', '')
    """
    if cell is None:
        return ""
    if isinstance(cell, str):
        return cell
    if isinstance(cell, bool):
        return "TRUE" if cell else "FALSE"
    if isinstance(cell, int | float):
        return str(int(cell)) if float(cell).is_integer() and abs(cell) < 1e15 else repr(cell)
    if isinstance(cell, Percent):
        return f"{100 * cell.value:.6g}%"
    if isinstance(cell, Formula):
        return cell.text
    if isinstance(cell, datetime):
        return cell.date().isoformat() if cell.time() == time() else cell.isoformat(" ", "seconds")
    if isinstance(cell, timedelta):
        return str(cell)
    return cell.isoformat()


def neutralised(text: str) -> str:
    """Put an apostrophe before text that a spreadsheet program would run as a formula.

    >>> neutralised("=1+1"), neutralised("squat")
    ("'=1+1", 'squat')
    """
    return f"'{text}" if _RUNS.match(text) else text


def restored(text: str) -> str:
    """Take the apostrophe off again.

    >>> restored(neutralised("'=1+1")), restored("'quoted'")
    ("'=1+1", "'quoted'")
    """
    return text[1:] if text.startswith("'") and _RUNS.match(text) else text


@lru_cache(maxsize=65536)
def clean(text: str) -> str:
    """Return ``text`` in compatibility form, without odd spaces, dashes and case: for matching, never for keeping.

    >>> clean(" 8\u00a0\u00d7\u00a03 ")
    '8 x 3'
    """
    text = unicodedata.normalize("NFKC", text).replace("\u00d7", "x").replace("\u2212", "-")
    text = re.sub("[\u2010-\u2015]", "-", text).replace("\u2019", "'").replace("\u2032", "'").replace("\u200b", "")
    return " ".join(text.split()).casefold()


def decimal(text: str) -> float:
    """Return a number without thousands marks, whichever decimal mark it has."""
    return float(text.replace(",", "."))


@dataclass(frozen=True)
class Number:
    """One number by decimal ``point`` and by ``comma`` (None: unreadable so); ``shows`` is the mark that it proves."""

    point: float | None = None
    comma: float | None = None
    shows: str = ""

    def value(self, mark: str | None) -> float | None:
        """Return the value under a decimal mark; None where it is unreadable or stays open."""
        if self.point == self.comma or mark is None:
            return self.point if self.point == self.comma else None
        return self.point if mark == "." else self.comma


_PLAIN = re.compile(r"[+-]?\d+")
_ONE_MARK = re.compile(r"([+-]?\d*)([.,])(\d+)")
_GROUPED = re.compile(r"([+-]?\d{1,3})((?:([.,' ])\d{3})(?:\3\d{3})*)(?:([.,])(\d+))?")


@lru_cache(maxsize=65536)
def read_number(text: str) -> Number:
    """Read a number written with a decimal point or comma, with or without thousands marks.

    Three digits after a single mark may be thousands or decimals: then both readings are given and neither is proven.

    >>> read_number("102,5").value(None), read_number("1.250,5").value(None), read_number("1,250").value(None)
    (102.5, 1250.5, None)
    >>> read_number("1,250").value("."), read_number("1,250").value(",")
    (1250.0, 1.25)
    """
    text = clean(text)
    if _PLAIN.fullmatch(text):
        return Number(float(text), float(text))
    if match := _ONE_MARK.fullmatch(text):
        whole, mark, decimals = match.groups()
        value = float(f"{whole}.{decimals}")
        if len(decimals) != 3 or not 1 <= len(whole.lstrip("+-")) <= 3 or whole.lstrip("+-").startswith("0"):
            return Number(value, value, mark)
        thousands = float(whole + decimals)
        return Number(value, thousands) if mark == "." else Number(thousands, value)
    if (match := _GROUPED.fullmatch(text)) and match[3] != match[4]:
        value = float(match[1] + re.sub(r"\D", "", match[2]) + "." + (match[5] or "0"))
        return Number(value, value, match[4] or {",": ".", ".": ","}.get(match[3], ""))
    return Number()
