"""Headings: which field of a log each of them names, in which unit, and where in the sheet they stand."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import Final

from workbench.log.cells import MAX_WRITTEN, Cell, clean, text_of
from workbench.log.options import COLUMNS
from workbench.reference.sources import read_rows

__all__ = [
    "CANONICAL_ROLES",
    "Heading",
    "heading_score",
    "is_total_label",
    "numbered_titles",
    "plain",
    "read_heading",
    "read_headings",
]

_UNITS: Final = {
    **dict.fromkeys(("kg", "kgs", "kilo", "kilos", "kilogram", "kilograms"), "kg"),
    **dict.fromkeys(("lb", "lbs", "pound", "pounds"), "lb"),
    **dict.fromkeys(("s", "sec", "secs", "second", "seconds"), "s"),
    **dict.fromkeys(("min", "mins", "minute", "minutes"), "min"),
}
#: Fields that may come once per set in one row, with the number of the set in the heading.
_PER_SET: Final = frozenset({"reps", "load", "rpe", "rir", "rest", "notes", "outcome", "set_result", "failed_mark"})
_ONE_HAND = re.compile(r"\b(?:one hand of two dumbbells|(?:(?:per|in|each|one) )+(?:hand|arm|dumbbell|db)|each)\b")
_BOTH_HANDS = re.compile(r"\b(?:(?:of|in) )?both(?: hands| arms| dumbbells| dbs)?\b")
_SET_FIRST = re.compile(r"(?:set|s)\s?#?\s?(\d{1,2})\b\s*(.*)")
_SET_LAST = re.compile(r"(.*?)\s?(?:set|s)?\s?#?(\d{1,2})")
_SET_TITLE = re.compile(r"(?:set|s)\s?#?\s?\d{1,2}")

#: What the columns of a canonical log are read as: the kilograms are the load, what was written is only carried along.
CANONICAL_ROLES: Final = {
    **dict.fromkeys(COLUMNS, "carried"),
    **{name: name for name in ("date", "time", "lifter", "exercise", "set_number", "reps", "outcome", "notes")},
    "load_kg": "load",
    "reps_in_reserve": "rir",
    "rest_s": "rest",
}


@dataclass(frozen=True)
class Heading:
    """What one heading says.

    Attributes
    ----------
    text : str
        As written.
    field : str
        A field of ``FIELDS``, or empty where the heading is not known.
    unit : str
        ``kg``, ``lb``, ``s``, ``min`` or empty.
    index : int
        Number of the set in the heading ("Reps 2"), 0 where there is none.
    each_hand : bool, optional
        Of loads: whether the heading says that those of two dumbbells are of one hand, or of both.
    rank : int
        1 for headings that say "done"; they win over plain ones (2), which may be the plan.
    """

    text: str
    field: str
    unit: str = ""
    index: int = 0
    rank: int = 2
    each_hand: bool | None = None


def plain(text: str) -> str:
    """Return a heading in plain form: small letters, no punctuation but ``#``.

    >>> plain("Set_No."), plain("Weight (lb)"), plain("ExerciseName")
    ('set no', 'weight lb', 'exercise name')
    """
    text = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", text)
    return " ".join(re.sub(r"[^\w#%?]+|_", " ", clean(text)).split()).strip("? ") or clean(text)


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
    name = plain(text)
    own = {plain(key): field for key, field in (columns or {}).items()}
    found = _look_up(name, own)
    if found is not None:
        return replace(found, text=text)
    for hands, each_hand in ((_ONE_HAND, True), (_BOTH_HANDS, False)):
        found = _look_up(" ".join(hands.sub(" ", name).split()), own) if hands.search(name) else None
        if found is not None and found.field in {"load", "load_by_reps", "set_result"}:
            return replace(found, text=text, each_hand=each_hand)
    for pattern, index_at, name_at in ((_SET_FIRST, 1, 2), (_SET_LAST, 2, 1)):
        if match := pattern.fullmatch(name):
            rest = match[name_at].strip()
            if not rest and pattern is _SET_LAST:
                continue
            inner = _look_up(rest, own) if rest else Heading(text, "set_result")
            if inner is not None and inner.field in _PER_SET and int(match[index_at]) > 0:
                return replace(inner, text=text, index=int(match[index_at]))
    return Heading(text, "")


def _look_up(name: str, own: Mapping[str, str]) -> Heading | None:
    known, _ = _spellings()
    words = name.split()
    units = [word for word in words if word in _UNITS]
    unit = _UNITS[units[-1]] if len({_UNITS[word] for word in units}) == 1 else ""
    bare = " ".join(word for word in words if word not in _UNITS and word not in {"in", "total"})
    for key in (name, bare):
        if key in own:
            return Heading(name, own[key], unit, rank=0)
    for key in (name, bare):
        if key in known:
            field, rank = known[key]
            heading = Heading(name, field, unit, rank=rank)
            return replace(heading, unit="") if not _fits(field, unit) else heading
    return None


def _fits(field: str, unit: str) -> bool:
    masses = {"load", "load_by_reps", "body_mass", "set_result"}
    return (unit in {"kg", "lb"} and field in masses) or (unit in {"s", "min"} and field in {"rest", "rest_after"})


def read_headings(texts: Sequence[str], columns: Mapping[str, str] | None = None) -> list[Heading]:
    """Read a row of headings; the exact headings of a canonical log are taken as what they are there."""
    if set(COLUMNS) <= set(texts):
        roles = CANONICAL_ROLES
        units = {"load_kg": "kg", "rest_s": "s"}
        return [Heading(text, roles.get(text, ""), units.get(text, ""), rank=0) for text in texts]
    headings = [read_heading(text, columns) for text in texts]
    if any(heading.field == "reps" for heading in headings):
        # Beside a column of reps, a "result" says how the set ended, unless the coach has said otherwise.
        headings = [_ending(heading) for heading in headings]
    numbered = {heading.index for heading in headings if heading.index}
    if numbered and max(numbered) == 1:  # "Set 1" alone numbers nothing
        return [replace(heading, index=0) for heading in headings]
    return headings


def _ending(heading: Heading) -> Heading:
    plain_result = heading.field == "set_result" and heading.rank and not heading.index
    return replace(heading, field="outcome", unit="") if plain_result else heading


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
    if sum(_SET_TITLE.fullmatch(plain(text)) is not None for text in texts if text) < 2:
        return []
    carried: list[str] = []
    current = ""
    for text in texts:
        if text:
            current = text if _SET_TITLE.fullmatch(plain(text)) else ""
        carried.append(current)
    return carried
