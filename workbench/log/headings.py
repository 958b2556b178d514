"""Headings: which field of a log each of them names, in which unit, and how much a row looks like headings."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache, lru_cache
from typing import Final

from workbench.log.cells import MASS_UNITS, MAX_WRITTEN, Cell, clean, text_of
from workbench.log.options import COLUMNS
from workbench.reference.sources import read_rows

__all__ = ["Heading", "heading_score", "is_total_label", "numbered_titles", "plain", "read_heading", "read_headings"]

_UNITS: Final = {
    **MASS_UNITS,
    **dict.fromkeys(("s", "sec", "secs", "second", "seconds"), "s"),
    **dict.fromkeys(("min", "mins", "minute", "minutes"), "min"),
}
#: The units that a heading may state, by field.
_UNITS_OF: Final = {
    **dict.fromkeys(("load", "load_by_reps", "body_mass", "set_result"), ("kg", "lb")),
    **dict.fromkeys(("rest", "rest_after"), ("s", "min")),
}
#: Fields that may come once per set in one row, with the number of the set in the heading.
_PER_SET: Final = frozenset({"reps", "load", "rpe", "rir", "rest", "notes", "outcome", "set_result", "failed_mark"})
_ONE_HAND = re.compile(r"\b(?:one hand of two dumbbells|(?:(?:per|in|each|one) )+(?:hand|arm|dumbbell|db)|each)\b")
_BOTH_HANDS = re.compile(r"\b(?:(?:of|in) )?both(?: hands| arms| dumbbells| dbs)?\b")
_SET_FIRST = re.compile(r"(?:set|s)\s?#?\s?(\d{1,2})\b\s*(.*)")
_SET_LAST = re.compile(r"(.*?)\s?(?:set|s)?\s?#?(\d{1,2})")
_SET_TITLE = re.compile(r"(?:set|s)\s?#?\s?\d{1,2}")

#: What the columns of a canonical log are read as: the kilograms are the load, what was written is only carried along.
_CANONICAL_ROLES: Final = {
    **dict.fromkeys(COLUMNS, "carried"),
    **{name: name for name in ("date", "time", "lifter", "exercise", "set_number", "reps", "outcome", "notes")},
    "load_kg": "load",
    "reps_in_reserve": "rir",
    "rest_s": "rest",
}


@dataclass(frozen=True)
class Heading:
    """What one heading says of its column."""

    text: str
    #: A field of ``FIELDS``, or empty where the heading is not known and the column is kept unread.
    field: str
    #: ``kg``, ``lb``, ``s``, ``min`` or empty.
    unit: str = ""
    #: Number of the set in the heading ("Reps 2"), 0 where there is none.
    index: int = 0
    #: 1 for headings that say "done"; they win over plain ones (2), which may be the plan.
    rank: int = 2
    #: Of loads: whether the heading says that those of two dumbbells are of one hand, or of both.
    each_hand: bool | None = None
    #: What the column is called where it is kept, and why it is not read, if that needs saying.
    name: str = ""
    why: str = ""


def plain(text: str) -> str:
    """Return a heading in plain form: small letters, no punctuation but ``#``.

    >>> plain("Set_No."), plain("Weight (lb)"), plain("ExerciseName")
    ('set no', 'weight lb', 'exercise name')
    """
    return _plain_short(text) if len(text) <= MAX_WRITTEN else _plain(text)


def _plain(text: str) -> str:
    text = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", text)
    return " ".join(re.sub(r"[^\w#%?]+|_", " ", clean(text)).split()).strip("? ") or clean(text)


# The rows of a log hold the same few texts again and again.
_plain_short = lru_cache(maxsize=8192)(_plain)


@cache
def _spellings() -> tuple[dict[str, tuple[str, int]], frozenset[str]]:
    known: dict[str, tuple[str, int]] = {}
    totals: set[str] = set()
    for row in read_rows("header_spellings.csv"):
        if row["field"] == "total_row":
            totals.add(plain(row["spelling"]))
        else:
            known[plain(row["spelling"])] = (row["field"], int(row["rank"]))
    return known, frozenset(totals)


def read_heading(text: str, columns: Mapping[str, str] | None = None) -> Heading:
    """Read one heading; ``columns`` are the coach's own spellings and win.

    >>> read_heading("Weight (lbs)").field, read_heading("Weight (lbs)").unit
    ('load', 'lb')
    >>> read_heading("Reps 2").index, read_heading("Gewicht [kg]", {"gewicht": "load"}).field
    (2, 'load')
    """
    if len(text) > MAX_WRITTEN:
        return Heading(text, "")
    return _read_heading(text, tuple((columns or {}).items()))


@lru_cache(maxsize=8192)
def _read_heading(text: str, columns: tuple[tuple[str, str], ...]) -> Heading:
    name = plain(text)
    told = {plain(key): field for key, field in columns}
    if found := _look_up(name, told):
        return replace(found, text=text)
    for hands, each_hand in ((_ONE_HAND, True), (_BOTH_HANDS, False)):
        found = _look_up(" ".join(hands.sub(" ", name).split()), told) if hands.search(name) else None
        if found and found.field in {"load", "load_by_reps", "set_result"}:
            return replace(found, text=text, each_hand=each_hand)
    for pattern, index_at, name_at in ((_SET_FIRST, 1, 2), (_SET_LAST, 2, 1)):
        if match := pattern.fullmatch(name):
            rest = match[name_at].strip()
            if not rest and pattern is _SET_LAST:
                continue
            inner = _look_up(rest, told) if rest else Heading(text, "set_result")
            if inner is not None and inner.field in _PER_SET and int(match[index_at]) > 0:
                return replace(inner, text=text, index=int(match[index_at]))
    return Heading(text, "")


def _look_up(name: str, told: Mapping[str, str]) -> Heading | None:
    words = name.split()
    units = {_UNITS[word] for word in words if word in _UNITS}
    unit = units.pop() if len(units) == 1 else ""
    bare = " ".join(word for word in words if word not in _UNITS and word not in {"in", "total"})
    for key in (name, bare):
        if key in told:
            return Heading(name, told[key], unit, rank=0)
    known, _ = _spellings()
    for key in (name, bare):
        if key in known:
            field, rank = known[key]
            fits = unit in _UNITS_OF.get(field, ())
            return Heading(name, field, unit if fits else "", rank=rank)
    return None


def read_headings(texts: Sequence[str], columns: Mapping[str, str] | None = None) -> list[Heading]:
    """Read a row of headings; the exact headings of a canonical log are taken as what they are there."""
    if set(COLUMNS) <= set(texts):
        units = {"load_kg": "kg", "rest_s": "s"}
        return [Heading(text, _CANONICAL_ROLES.get(text, ""), units.get(text, ""), rank=0) for text in texts]
    headings = [read_heading(text, columns) for text in texts]
    beside_reps = any(heading.field == "reps" for heading in headings)
    alone = max((heading.index for heading in headings), default=0) == 1  # "Set 1" alone numbers nothing
    for at, heading in enumerate(headings):
        # Beside a column of reps, a "result" says how the set ended, unless the coach has said otherwise.
        if beside_reps and heading.field == "set_result" and heading.rank and not heading.index:
            headings[at] = replace(heading, field="outcome", unit="")
        elif alone:
            headings[at] = replace(heading, index=0)
    return headings


def heading_score(cells: Sequence[Cell], columns: Mapping[str, str] | None = None) -> float:
    """How much a row looks like the headings of a log: known fields, with a log's necessary ones counting more.

    Rows that lack reps, or have neither load nor exercise, score 0.
    """
    texts = [cell for cell in cells if cell is not None]
    if len(texts) < 2 or not all(isinstance(cell, str) for cell in texts):
        return 0.0
    headings = read_headings([text_of(cell) for cell in texts], columns)
    fields = {heading.field for heading in headings} - {"", "keep"}
    if not fields & {"reps", "sets_by_reps", "load_by_reps", "set_result"} and not {"set_count", "load"} <= fields:
        return 0.0
    if not fields & {"load", "load_by_reps", "exercise", "set_result"} or len(fields) < 2:
        return 0.0
    known = sum(heading.field != "" for heading in headings)
    return len(fields) + known / len(headings)


def is_total_label(text: str) -> bool:
    """Whether a row that starts with this text sums up other rows.

    >>> is_total_label("Total:"), is_total_label("Weekly total 4,200 kg"), is_total_label("Total body press")
    (True, True, False)
    """
    _, totals = _spellings()
    name = re.sub(r"\b(\d+|kg|kgs|lb|lbs)\b", " ", plain(text))
    name = re.sub(r"^(week|day|session|workout) (?=total|sum|average|volume|tonnage)", "", " ".join(name.split()))
    return name in totals or re.fullmatch(r"(sub)?totals? (for )?(week|day|session|workout)?", name + " ") is not None


def numbered_titles(cells: Sequence[Cell]) -> list[str]:
    """Titles such as "Set 1" that stand once over several columns, carried to the right; empty if there are none."""
    texts = [text_of(cell) for cell in cells]
    titles = [text if _SET_TITLE.fullmatch(plain(text)) else "" for text in texts]
    if sum(map(bool, titles)) < 2:
        return []
    for at in range(1, len(texts)):
        titles[at] = titles[at] if texts[at] else titles[at - 1]
    return titles
