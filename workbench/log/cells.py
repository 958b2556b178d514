"""Cells as a file holds them, and the numbers that people write into them."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from functools import lru_cache
from typing import Final

__all__ = ["DITTO", "MAX_WRITTEN", "Cell", "Formula", "Number", "Percent", "clean", "read_number", "text_of"]


@dataclass(frozen=True)
class Percent:
    """A number that the spreadsheet shows as a percentage; ``value`` is the fraction."""

    value: float


@dataclass(frozen=True)
class Formula:
    """A formula without a usable stored value: ``text`` is the formula or the error that it shows."""

    text: str


Cell = str | int | float | bool | datetime | date | time | timedelta | Percent | Formula | None

#: Characters of a cell that is read; only notes, and columns that are kept unread, may be longer.
MAX_WRITTEN: Final = 200

#: "The same as above", as people write it.
DITTO: Final = frozenset({'"', "''", "\u3003", "\u201d", "\u201c", "ditto", "same", "as above", "do.", "\u2033"})


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


@lru_cache(maxsize=65536)
def clean(text: str) -> str:
    """Return ``text`` in compatibility form, without odd spaces, dashes and case: for matching, never for keeping.

    >>> clean(" 8\u00a0\u00d7\u00a03 ")
    '8 x 3'
    """
    text = unicodedata.normalize("NFKC", text).replace("\u00d7", "x").replace("\u2212", "-")
    text = re.sub("[\u2010-\u2015]", "-", text).replace("\u2019", "'").replace("\u2032", "'").replace("\u200b", "")
    return " ".join(text.split()).casefold()


@dataclass(frozen=True)
class Number:
    """Readings of one number: by decimal point and by decimal comma; None where it cannot be read so.

    Attributes
    ----------
    point, comma : float or None
        The value if the decimal mark is a point, or a comma.
    shows : str
        The decimal mark that the number itself proves, empty where it proves none.
    """

    point: float | None
    comma: float | None
    shows: str = ""

    def value(self, decimal: str | None) -> float | None:
        """Return the value under a decimal mark; None where it is unreadable or stays open."""
        if self.point == self.comma:
            return self.point
        if self.shows:
            return self.point if self.shows == "." else self.comma
        if decimal is None:
            return None
        return self.point if decimal == "." else self.comma


_PLAIN = re.compile(r"[+-]?\d+")
_ONE_MARK = re.compile(r"([+-]?\d*)([.,])(\d+)")
_GROUPED = re.compile(r"([+-]?\d{1,3})((?:([.,' ])\d{3})(?:\3\d{3})*)(?:([.,])(\d+))?")
_NOTHING: Final = Number(None, None)


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
    return _NOTHING
