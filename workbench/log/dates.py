"""Dates and times of day. The order of day and month is settled by the file or asked about, never guessed."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from functools import lru_cache
from typing import Final, NamedTuple

from workbench.log.cells import DAY_ZERO, MAX_WRITTEN, Cell, clean, text_of

__all__ = ["DateReading", "Order", "read_clock", "read_date", "settle_order"]

_ORDERS: Final = {"dmy": "day before month", "mdy": "month before day", "ymd": "year, month, day"}
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
    """Possible readings of one cell, which only the whole file may decide between."""

    #: By order (``dmy``, ``mdy``, ``ymd``), or under ``""`` where the cell is plain by itself. Empty if it is no date.
    dates: Mapping[str, date] = field(default_factory=dict)
    #: Time of day, ``HH:MM`` or ``HH:MM:SS``, or empty.
    time: str = ""
    #: Why there is no date; ``needs_year`` where a day and month lack only the year.
    problem: str = ""
    needs_year: bool = False
    #: A real date of a spreadsheet program, not text.
    recognised: bool = False

    def day(self, order: str | None, *, swapped: bool | None) -> date | None:
        """Return the date under an order, None where it stays open or is impossible.

        ``swapped`` changes day and month of recognised dates back.
        """
        day = self.dates.get("", self.dates.get(order or ""))
        days = set(self.dates.values())
        if day is None and order is None and len(self.dates) > len(days) == 1:
            return days.pop()
        if day is not None and swapped and self.recognised and day.day <= 12:
            return day.replace(month=day.day, day=day.month)
        return day


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
    dates = _orders(text, year)
    if dates is None:
        return DateReading(problem=f"{written!r} has no year", time=clock, needs_year=True)
    if weekday and dates:
        dates = {order: day for order, day in dates.items() if _DAYS[day.weekday()] == weekday[1]}
        if not dates:
            return DateReading(problem=f"{written!r}: the weekday is not that of the date", time=clock)
        if len(dates) == 1:
            dates = {"": next(iter(dates.values()))}
    if not dates:
        return DateReading(problem=f"{written!r} is not a date", time=clock)
    return DateReading(dates, clock)


def _orders(text: str, year: int | None) -> dict[str, date] | None:
    """Return the possible dates of a text without weekday and time; None where only the year is missing."""
    name = _MONTH_NAME.search(text)
    numbers = [part for part in re.split(r"[^0-9]+", text) if part]
    if name and re.fullmatch(r"[\d\s,./'a-z-]*", text):
        month = _MONTHS.index(name[1]) + 1
        text = re.sub(r"(?<=\d)(st|nd|rd|th)\b|\bof\b", "", text)
        if re.sub(r"[\d\s,./'-]", "", text.replace(name[0], "", 1)):
            return {}
        if len(numbers) == 1 and len(numbers[0]) <= 2:
            return None if year is None else _named(year, month, int(numbers[0]))
        if len(numbers) != 2:
            return {}
        first, second = numbers
        if len(first) == 4:
            return _named(int(first), month, int(second))
        return _named(_century(second), month, int(first))
    if match := re.fullmatch(r"(\d{4})(\d{2})(\d{2})", text):
        return _named(*map(int, match.groups()))
    if not re.fullmatch(r"\d{1,4}([-/. ])\s?\d{1,2}(\1\s?\d{1,4})?\1?", text):
        return {}
    if len(numbers) == 2 and max(map(len, numbers)) <= 2:
        if year is None:
            leap = (_day(2000, int(numbers[1]), int(numbers[0])), _day(2000, int(numbers[0]), int(numbers[1])))
            return None if any(leap) else {}
        numbers = [*numbers, str(year)]
    if len(numbers) != 3:
        return {}
    if len(numbers[0]) == 4:
        return _named(*map(int, numbers))
    if len(numbers[0]) > 2 or len(numbers[2]) not in (2, 4):
        return {}
    left, middle, last = int(numbers[0]), int(numbers[1]), _century(numbers[2])
    found = {"dmy": _day(last, middle, left), "mdy": _day(last, left, middle)}
    if len(numbers[2]) == 2 and len(numbers[0]) == 2 and "-" in text:
        found["ymd"] = _day(_century(numbers[0]), middle, int(numbers[2]))
    return {order: day for order, day in found.items() if day is not None}


def _named(year: int, month: int, day: int) -> dict[str, date]:
    found = _day(year, month, day)
    return {} if found is None else {"": found}


def _century(text: str) -> int:
    year = int(text)
    return year if len(text) > 2 else year + (2000 if year < 70 else 1900)


def _day(year: int, month: int, day: int) -> date | None:
    try:
        return date(year, month, day) if _YEARS[0] <= year <= _YEARS[1] else None
    except (ValueError, OverflowError):
        return None


class Order(NamedTuple):
    """The order of day and month of a file (None: none needed or settled), how it was found, and whether to ask."""

    order: str | None
    how: str
    open: bool = False


def settle_order(readings: Iterable[tuple[str, str, DateReading]], told: str | None) -> Order:
    """Find the order that every regional date of a file allows; ``readings`` are (place, text, reading).

    A date whose first number is over 12 settles it for all. Where several orders remain, it is left open.
    """
    regional = [item for item in readings if item[2].dates and "" not in item[2].dates]
    if not regional:
        return Order(None, "The dates leave no doubt.")
    if told is not None:
        return Order(told, f"Dates are read with {_ORDERS[told]}, as told.")

    def proof(order: str) -> str:
        return next(f"{text!r} ({place})" for place, text, reading in regional if order not in reading.dates)

    possible = [order for order in _ORDERS if all(order in reading.dates for _, _, reading in regional)]
    if len(possible) == 1:
        (order,) = possible
        others = proof("mdy" if order == "dmy" else "dmy")
        return Order(order, f"Dates are read with {_ORDERS[order]}: {others} allows nothing else.")
    if not possible:
        proofs = " and ".join(dict.fromkeys((proof("dmy"), proof("mdy"))))
        how = f"some dates are only possible with the day first and some only with the month first: {proofs}"
        return Order(None, how, True)
    for place, text, reading in regional:
        days = dict.fromkeys(reading.dates.values())
        if len(days) > 1:
            choices = " or ".join(f"{day.day} {day:%B} {day.year}" for day in days)
            return Order(None, f"{text!r} ({place}) can be {choices}, and no date in the file settles it", True)
    return Order(None, "Dates mean the same with day or month first.")


def read_clock(cell: Cell) -> str | None:
    """Read a time of day; None where it is none.

    >>> read_clock("6:30 pm"), read_clock("18h30"), read_clock("1830"), read_clock("evening")
    ('18:30', '18:30', '18:30', None)
    """
    if isinstance(cell, int | float) and not isinstance(cell, bool) and 0 <= cell < 1:
        minutes = round(cell * 1440)
        return f"{minutes // 60 % 24:02d}:{minutes % 60:02d}"
    text = clean(text_of(cell.time() if isinstance(cell, datetime) else cell))
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
