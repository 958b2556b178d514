"""What a fuzzing case is, and the odd values that all generators draw from."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from random import Random
from typing import Any

__all__ = ["MARK", "ODD_TEXTS", "Case", "chance", "marker", "odd_text"]

#: Text that no reader can take for a number, a date or a name; one for each row, so that a lost row is seen.
MARK = re.compile(r"kq\d{4}z")


@dataclass(repr=False)
class Case:
    """Files to write, which of them is read, and what the generator knows of them (as JSON)."""

    files: dict[str, bytes]
    main: str
    told: dict[str, Any] = field(default_factory=dict)

    def __repr__(self) -> str:
        """Return the names alone: the content is megabytes at times."""
        return f"Case({', '.join(self.files)})"


def marker(number: int) -> str:
    """The text that marks a row."""
    return f"kq{number:04d}z"


#: Short texts that have tripped readers of numbers, dates and names.
ODD_TEXTS = (
    "", " ", "-", "--5", "+-5", "5..5", "5,,5", "1.2.3.4", "nan", "NaN", "inf", "-inf", "1e400", "1e-320", "-1e308",
    "1e5", "0", "-0", "-1", "0.0000000001", "1,000,000,000,000", "00000000000000000000", "0x10", "1_000", "true",
    "TRUE", "None", "\u00b2", "\u00bd", "\u2460", "\u0663", "\uff11\uff10\uff10", "\u0967\u0968", "\u200b",
    "\u202e5", "\ufeff5", "\u00a05", "\x1b[31mred", "\x07", "\x0b", "\x1f", "\x85", "\u2028", "e\u0301",
    "\U0001f3cb", "\u0130", "\u00df", "\u0141ukasz", "'", "''", "'=1+1", "=1+1", "=", "@SUM(A1)", "+5", "%", "80%",
    "#REF!", "#", "\\", "/", "//", "a/b", "../../x", "a\nb", "a\rb", 'he said "five"', '"', '""', "null", "5 or 6",
    "5/5/4", "5-5-5", "3x", "x5", "100x5x5x5", "3x8@", "@", "@@8", "8+2", "8+", "8-10", "10-8", "AMRAP", "AMRAP 9",
    "5F", "5(f)", "RPE 11", "-3 RIR", "RPE 8-9", "BW", "BW+", "BW+1e9", "bw-500", "kg", "5kg", "5 stone", "1:30",
    "1:00:00", "1:00:00:00", "99:99", "24:00", "2 min 30", "90s", "1h", "00:00", "2024-03-05", "05/03/2024",
    "31/02/2024", "29.02.2023", "2062-01-01", "9999-12-31", "0001-01-01", "10000-01-01", "2024-13-45", "12/13/14",
    "Feb 30", "30 February", "5 Mar", "Mon 5/3", "Monday", "2024-W10-2", "45356", "45356.5", "20240305", "99999999",
    "2024-03-05T25:61:00Z", "2024-03-05T18:30:00+99:99", "2024-03-05 6pm", "1/1/1", "0/0/0000",
)  # fmt: skip

_LENGTHS = (41, 400, 400, 400, 4_299, 5_000, 5_000, 5_000, 25_000, 140_000)
_REPEATED = (
    "9",
    "1",
    "0",
    "1-",
    "5/",
    "1,",
    "1.",
    "3x",
    "a",
    "\u00e9",
    "-",
    "(",
    "1:",
    "5+",
    "'",
    "=",
    "@8 ",
    "kg",
    "F",
)
#: Code points that letters are drawn below: ASCII and its controls, the alphabets, all (halves of surrogates too).
_LETTERS = (0x80, 0x80, 0x3000, 0x110000)


def odd_text(rng: Random, *, longest: int = 6_000) -> str:
    """An odd text of the list, several of them, any few letters, or a text longer than any reader expects."""
    kind = rng.randrange(5)
    if kind == 0:
        return "".join(rng.choices(ODD_TEXTS, k=rng.randint(2, 3)))
    if kind == 1:
        length = rng.choice([length for length in _LENGTHS if length <= longest])
        return (rng.choice(_REPEATED) * length)[:length]
    if kind == 2:
        return "".join(chr(rng.randrange(rng.choice(_LETTERS))) for _ in range(rng.randint(0, 6)))
    return rng.choice(ODD_TEXTS)


def chance(rng: Random, percent: int) -> bool:
    """True in about this many of a hundred cases."""
    return rng.random() * 100 < percent
