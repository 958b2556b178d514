"""Dates and times of day. The order of day and month is settled by the file or asked about, never guessed."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from functools import lru_cache
from typing import Final

from workbench.log.cells import MAX_WRITTEN, Cell, clean, text_of

__all__ = ["DAY_ZERO", "ORDERS", "DateReading", "Order", "day_of", "read_clock", "read_date", "settle_order"]

#: Day 0 of dates that a spreadsheet stores as numbers of days, unless the workbook says otherwise.
DAY_ZERO: Final = datetime(1899, 12, 30)  # noqa: DTZ001 (the dates of a log carry no zone)
ORDERS: Final = {"dmy": "day before month", "mdy": "month before day", "ymd": "year, month, day"}
_MONTHS: Final = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
#: Years that a log can be from.
_YEARS: Final = (1950, 2100)
_DAYS: Final = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
#: Days since 30 December 1899 that fall in 1954 to 2119: five-digit numbers in a date column are taken as such.
_SERIALS: Final = (20_000, 80_000)

_CLOCK = re.compile(r"(\d{1,2})(?:[:.h](\d{2})(?:[:.m](\d{2})(?:\.\d+)?)?)?\s*(a\.?m\.?|p\.?m\.?)?(?:\s*(?:uhr|h))?")
_WITH_TIME = re.compile(
    r"(.+?)(?:t|,?\s+(?:at\s+)?)(\d{1,2}:\d{2}(?::\d{2}(?:\.\d+)?)?\s*(?:[ap]\.?m\.?)?)\s*(z|utc|[+-]\d{2}:?\d{2})?"
)
_WEEKDAY = re.compile(r"\b(mon|tue|wed|thu|fri|sat|sun)(?:s|nes|rs?|ur)?(?:day)?\b\.?,?")
_MONTH_NAME = re.compile(
    r"\b(jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)"
    r"(?:uary|ruary|ch|il|e|y|ust|t|tember|ober|ember)?\b\.?"
)


@dataclass(frozen=True)
class DateReading:
    """Possible readings of one cell.

    Attributes
    ----------
    dates : mapping of str to date
        By order (``dmy``, ``mdy``, ``ymd``); key ``""`` where the cell is plain by itself. Empty if it is no date.
    time : str
        Time of day, ``HH:MM`` or ``HH:MM:SS``, or empty.
    problem : str
        Why there is no date, in plain words.
    needs_year : bool
        A day and month without a year.
    recognised : bool
        A real date of a spreadsheet program, not text.
    """

    dates: Mapping[str, date] = field(default_factory=dict)
    time: str = ""
    problem: str = ""
    needs_year: bool = False
    recognised: bool = False

    def day(self, order: str | None) -> date | None:
        """Return the date under an order, or None where it stays open or is impossible."""
        if "" in self.dates:
            return self.dates[""]
        days = set(self.dates.values())
        if order is not None:
            return self.dates.get(order)
        return days.pop() if len(days) == 1 and len(self.dates) > 1 else None


def read_date(cell: Cell, *, year: int | None = None, epoch: datetime = DAY_ZERO) -> DateReading:
    """Read a cell as a date, with a time where it has one.

    >>> read_date("2024-03-05T18:30:00Z").dates[""].isoformat()
    '2024-03-05'
    >>> sorted(read_date("05/03/2024").dates)
    ['dmy', 'mdy']
    """
    if isinstance(cell, date):
        if not _YEARS[0] <= cell.year <= _YEARS[1]:
            return DateReading(problem=f"date {text_of(cell)} is not from {_YEARS[0]} to {_YEARS[1]}")
        if isinstance(cell, datetime):
            return DateReading({"": cell.date()}, _clock_text(cell.time()), recognised=True)
        return DateReading({"": cell}, recognised=True)
    if isinstance(cell, int | float) and not isinstance(cell, bool):
        return _serial(float(cell), epoch) or _read_text(text_of(cell), year)
    if isinstance(cell, str) and len(cell) <= MAX_WRITTEN:
        if re.fullmatch(r"\d{5}(\.\d+)?", cell) and (reading := _serial(float(cell), epoch)):
            return reading
        return _read_text(cell, year)
    return DateReading(problem=f"{text_of(cell)[:MAX_WRITTEN]!r} is not a date")


def day_of(reading: DateReading, order: str | None, *, swapped: bool) -> date | None:
    """Return the date under an order; ``swapped`` changes day and month of recognised dates back."""
    day = reading.day(order)
    if day is not None and swapped and reading.recognised and day.day <= 12:
        return day.replace(month=day.day, day=day.month)
    return day


def _serial(days: float, epoch: datetime) -> DateReading | None:
    if not _SERIALS[0] <= days < _SERIALS[1]:
        return None
    moment = epoch + timedelta(seconds=round(days * 86400))
    return DateReading({"": moment.date()}, _clock_text(moment.time()), recognised=True)


def _clock_text(moment: time) -> str:
    if moment == time():
        return ""
    return moment.strftime("%H:%M:%S" if moment.second else "%H:%M")


@lru_cache(maxsize=65536)
def _read_text(written: str, year: int | None) -> DateReading:
    text = clean(written)
    clock = ""
    if match := _WITH_TIME.fullmatch(text):
        clock = read_clock(match[2]) or ""
        text = match[1]
    weekday = _WEEKDAY.search(text)
    if weekday and not _MONTH_NAME.fullmatch(weekday[0].strip(" ,.")):
        text = (text[: weekday.start()] + " " + text[weekday.end() :]).strip(" ,")
    else:
        weekday = None
    dates, needs_year = _orders(text, year)
    if weekday and dates:
        dates = {order: day for order, day in dates.items() if _DAYS[day.weekday()] == weekday[1]}
        if not dates:
            return DateReading(problem=f"{written!r}: the weekday is not that of the date", time=clock)
        if len(dates) == 1:
            dates = {"": next(iter(dates.values()))}
    if needs_year:
        return DateReading(problem=f"{written!r} has no year", time=clock, needs_year=True)
    if not dates:
        return DateReading(problem=f"{written!r} is not a date", time=clock)
    return DateReading(dates, clock)


def _orders(text: str, year: int | None) -> tuple[dict[str, date], bool]:
    """Return the possible dates of a text without weekday and time, and whether only the year is missing."""
    name = _MONTH_NAME.search(text)
    numbers = [part for part in re.split(r"[^0-9]+", text) if part]
    if name and re.fullmatch(r"[\d\s,./'a-z-]*", text):
        month = _MONTHS.index(name[1]) + 1
        text = re.sub(r"(?<=\d)(st|nd|rd|th)\b|\bof\b", "", text)
        if re.sub(r"[\d\s,./'-]", "", text.replace(name[0], "", 1)):
            return {}, False
        if len(numbers) == 1 and len(numbers[0]) <= 2:
            return _named(None if year is None else _day(year, month, int(numbers[0]))), year is None
        if len(numbers) != 2:
            return {}, False
        first, second = numbers
        if len(first) == 4:
            return _named(_day(int(first), month, int(second))), False
        return _named(_day(_century(second), month, int(first))), False
    if match := re.fullmatch(r"(\d{4})(\d{2})(\d{2})", text):
        return _named(_day(*map(int, match.groups()))), False
    if not re.fullmatch(r"\d{1,4}([-/. ])\s?\d{1,2}(\1\s?\d{1,4})?\1?", text):
        return {}, False
    if len(numbers) == 2 and max(map(len, numbers)) <= 2:
        if year is None:
            possible = _day(2000, int(numbers[1]), int(numbers[0])) or _day(2000, int(numbers[0]), int(numbers[1]))
            return {}, possible is not None
        numbers = [*numbers, str(year)]
    if len(numbers) != 3:
        return {}, False
    if len(numbers[0]) == 4:
        return _named(_day(*map(int, numbers))), False
    if len(numbers[0]) > 2 or len(numbers[2]) not in (2, 4):
        return {}, False
    first, second = int(numbers[0]), int(numbers[1])
    last = _century(numbers[2])
    found = {"dmy": _day(last, second, first), "mdy": _day(last, first, second)}
    if len(numbers[2]) == 2 and len(numbers[0]) == 2 and "-" in text:
        found["ymd"] = _day(_century(numbers[0]), second, int(numbers[2]))
    return {order: day for order, day in found.items() if day is not None}, False


def _named(day: date | None) -> dict[str, date]:
    return {} if day is None else {"": day}


def _century(text: str) -> int:
    year = int(text)
    return year if len(text) > 2 else year + (2000 if year < 70 else 1900)


def _day(year: int, month: int, day: int) -> date | None:
    try:
        return date(year, month, day) if _YEARS[0] <= year <= _YEARS[1] else None
    except (ValueError, OverflowError):
        return None


@dataclass(frozen=True)
class Order:
    """What the dates of a file say together about the order of day and month.

    Attributes
    ----------
    order : str or None
        The order to use; None where none is needed or none is settled.
    how : str
        In plain words.
    open : bool
        The dates leave more than one order, or contradict each other: ask.
    """

    order: str | None
    how: str
    open: bool = False


def settle_order(readings: Iterable[tuple[str, str, DateReading]], told: str | None) -> Order:
    """Find the order that every regional date of a file allows; ``readings`` are (place, text, reading).

    A date whose first number is over 12 settles it for all. Where several orders remain, it is left open.
    """
    left = set(ORDERS)
    regional: list[tuple[str, str, DateReading]] = []
    witness: dict[str, str] = {}
    doubtful = False
    for place, text, reading in readings:
        if not reading.dates or "" in reading.dates:
            continue
        regional.append((place, text, reading))
        doubtful = doubtful or len(set(reading.dates.values())) > 1
        for order in set(ORDERS) - set(reading.dates):
            witness.setdefault(order, f"{text!r} ({place})")
        left &= set(reading.dates)
    if not regional:
        return Order(None, "Dates are plain by themselves.")
    if told is not None:
        return Order(told, f"Dates are read with {ORDERS[told]}, as told.")
    if len(left) == 1:
        order = left.pop()
        proof = witness["mdy" if order == "dmy" else "dmy"]
        return Order(order, f"Dates are read with {ORDERS[order]}: {proof} allows nothing else.")
    place, text, reading = regional[0]
    if not left:
        proofs = " and ".join(dict.fromkeys(witness[order] for order in ("dmy", "mdy")))
        return Order(
            None, f"some dates are only possible with the day first and some only with the month first: {proofs}", True
        )
    if not doubtful:
        return Order(None, "Dates mean the same with day or month first.")
    place, text, reading = next(item for item in regional if len(set(item[2].dates.values())) > 1)
    choices = " or ".join(f"{day.day} {day:%B} {day.year}" for day in dict.fromkeys(reading.dates.values()))
    return Order(None, f"{text!r} ({place}) can be {choices}, and no date in the file settles it", True)


@lru_cache(maxsize=4096)
def read_clock(written: str) -> str | None:
    """Read a time of day; None where it is none.

    >>> read_clock("6:30 pm"), read_clock("18h30"), read_clock("1830"), read_clock("evening")
    ('18:30', '18:30', '18:30', None)
    """
    text = clean(written)
    if re.fullmatch(r"\d{3,4}", text):
        text = f"{text[:-2]}:{text[-2:]}"
    match = _CLOCK.fullmatch(text)
    if match is None or not (match[2] or match[4] or text.endswith("h")):
        return None
    hour, minute, second = int(match[1]), int(match[2] or 0), int(match[3] or 0)
    if match[4]:
        if not 1 <= hour <= 12:
            return None
        hour = hour % 12 + (12 if match[4][0] == "p" else 0)
    if hour > 23 or minute > 59 or second > 59:
        return None
    return f"{hour:02d}:{minute:02d}" + (f":{second:02d}" if second else "")
