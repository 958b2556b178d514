"""Training logs as text: headings x separators x encodings x cell forms, with odd cells and damage."""

from __future__ import annotations

import csv
import io
from typing import Any

from hypothesis import strategies as st

from tests.fuzz.cases import MARK, Case, chance, marker, odd_texts

__all__ = ["ANSWERS", "FORMS", "csv_cases", "table"]

#: Headings that the reader must know, by field.
_HEADINGS = {
    "date": ("Date", "date", "Session Date", "DATE", "Workout date"),
    "time": ("Time", "Clock"),
    "lifter": ("Lifter", "Athlete", "Client"),
    "exercise": ("Exercise", "Lift", "Movement", "exercise name"),
    "set_number": ("Set", "Set #", "set_number"),
    "load": ("Weight", "Load", "Weight (kg)", "Load [lb]", "weight lbs"),
    "unit": ("Unit", "units"),
    "reps": ("Reps", "Repetitions", "reps done"),
    "rpe": ("RPE",),
    "rir": ("RIR",),
    "rest": ("Rest", "Rest (s)", "Rest min"),
    "notes": ("Notes", "Comment"),
    "body_mass": ("Bodyweight", "Body mass (kg)"),
    "sets": ("Sets",),
    "extra": (
        "Mood",
        "Weather",
        "\u00dcbung",
        "Set 1",
        "Set 2",
        "Load x reps",
        "Result",
        "Reps 2",
        "source_row",
        "load_kg",
    ),
}
#: Cells as people write them, by field.
FORMS = {
    "date": (
        "2024-03-05",
        "2024-03-07",
        "05/03/2024",
        "25/03/2024",
        "5 Mar 2024",
        "2024-03-05 18:30",
        "Tue 5 Mar 2024",
    ),
    "time": ("18:30", "6:30 pm", "0730", ""),
    "lifter": ("Ana", "Bo", ""),
    "exercise": ("Back squat", "bench press", "Deadlift", "lat pulldown", "leg press", "pull-up", "bakc sqat"),
    "set_number": ("1", "2", "3", ""),
    "load": ("100", "102.5", "102,5", "60 kg", "135 lb", "BW", "BW+10", "1,250", "1.250,5", "40/40", "0"),
    "unit": ("kg", "lb", "lbs", ""),
    "reps": ("5", "8", "5/5/4", "3x8", "AMRAP 9", "8+2", "5F", "5 @8", "8/8", "100 kg x 5", "5,5,5", "10 each"),
    "rpe": ("8", "7.5", "8,5", "RPE 9", "@8", ""),
    "rir": ("2", "0", "1-2", ""),
    "rest": ("90", "2:00", "2 min", "3", "1:30", "90s", ""),
    "notes": ("easy", "felt heavy", "missed last", ""),
    "body_mass": ("82", "82.5 kg", ""),
    "sets": ("1", "2", "3"),
    "extra": ("", "sunny", "5", "100x5", "7"),
}
_ODD_ROWS = ("blank", "spaces", "total", "week", "headings", "short", "long", "only")
ANSWERS = (
    {"unit": "kg", "date_order": "dmy", "decimal": ".", "body_mass_kg": 80.0, "pair_means": "sets", "rest_unit": "s"},
    {"unit": "lb", "date_order": "mdy", "decimal": ",", "rest_is": "after", "sets_column": "count"},
    {"unit": "kg", "pair_means": "of_plan", "plus_means": "assisted", "times_order": "reps_first", "rest_unit": "min"},
    {"unit": "kg", "pair_means": "sides", "fill_down": False, "sets_column": "number", "year": 2024},
    {},
)


@st.composite
def table(draw: Any) -> tuple[list[list[str]], bool]:
    """Rows of cells under one row of headings, the last column holding each row's marker; whether it must be read."""
    fields = ["date", "exercise", "load", "reps"]
    optional = [name for name in _HEADINGS if name not in fields]
    fields += draw(st.lists(st.sampled_from(optional), max_size=4, unique=True))
    must_read = "extra" not in fields
    if chance(draw, 10):
        fields.remove(draw(st.sampled_from(fields)))
        must_read = False
    headings = [draw(st.sampled_from(_HEADINGS[name])) for name in fields]
    if chance(draw, 5):
        headings[draw(st.integers(0, len(headings) - 1))] = draw(odd_texts())
        must_read = False
    rows = []
    for number in range(draw(st.integers(0, 6))):
        row = [draw(st.sampled_from(FORMS[name])) for name in fields]
        if chance(draw, 40):
            row[draw(st.integers(0, len(row) - 1))] = draw(odd_texts(longest=140_000))
        row.append(marker(number))
        if chance(draw, 20):
            row = _odd_row(draw(st.sampled_from(_ODD_ROWS)), row, headings)
        rows.append(row)
    above = [[], ["Training log"], ["Athlete: Ana"], ["Athlete", "Ana"], ["All weights in kg"]]
    top = [draw(st.sampled_from(above))] if chance(draw, 20) else []
    return [*top, [*headings, "Key"], *rows], must_read


def _odd_row(kind: str, row: list[str], headings: list[str]) -> list[str]:
    changed = {
        "blank": [],
        "spaces": [" "] * len(row),
        "total": ["Total", *row[1:]],
        "week": ["Week 2"],
        "headings": [*headings, "Key"],
        "short": row[:2],
        "long": [*row, "", "more", row[-1]],
        "only": [*[""] * (len(row) - 1), row[-1]],
    }
    return changed[kind]


@st.composite
def csv_cases(draw: Any) -> Case:
    """A log as text, sound or damaged."""
    rows, must_read = draw(table())
    stream = io.StringIO()
    delimiter = draw(st.sampled_from(",;\t|"))
    quoting = csv.QUOTE_ALL if chance(draw, 15) else csv.QUOTE_MINIMAL
    csv.writer(stream, delimiter=delimiter, lineterminator="\n", quoting=quoting).writerows(rows)
    text = stream.getvalue()
    if chance(draw, 5):
        text = f"sep={delimiter}\n{text}"
        rows = [["sep="], *rows]
    newline = draw(st.sampled_from(("\n", "\r\n", "\r")))
    text = text.replace("\n", newline)
    damaged = chance(draw, 30)
    if damaged:
        text = _damage_text(draw, text)
    encoding = draw(st.sampled_from(("utf-8", "utf-8-sig", "utf-16", "utf-16-le", "cp1252", "utf-32", "latin-1")))
    content = text.encode(encoding, errors="replace")
    if damaged and chance(draw, 40):
        content = _damage_bytes(draw, content)
        encoding = "damaged"
    # How many records there are is plain only while no cell holds a line of its own, or is too long for one.
    plain = not damaged and not any("\n" in cell or "\r" in cell or len(cell) > 20_000 for row in rows for cell in row)
    held = [at for at, row in enumerate(rows, start=1) if any(cell.strip() for cell in row)]
    told = {
        "options": draw(st.sampled_from(ANSWERS)),
        "again": chance(draw, 40),
        "must_read": must_read and not damaged and encoding not in {"utf-16-le"},
        "rows": held[-1] if plain and held else None,
        "marks": sorted(set(MARK.findall(text))) if encoding != "damaged" else [],
    }
    name = "log.txt" if chance(draw, 3) else "log.csv"
    return Case({name: content}, name, told)


def _damage_text(draw: Any, text: str) -> str:
    for _ in range(draw(st.integers(1, 3))):
        at = draw(st.integers(0, max(len(text) - 1, 0)))
        piece = draw(
            st.sampled_from(('"', '""', "'", "\n", "\r", ",", ";", "\t", "\0", "\x1a", "\ufeff", '"\n"', '=""', ""))
        )
        text = text[:at] + piece + text[at + draw(st.integers(0, 2)) :]
    return text


def _damage_bytes(draw: Any, content: bytes) -> bytes:
    if not content:
        return content
    at = draw(st.integers(0, len(content) - 1))
    kind = draw(st.sampled_from(("flip", "cut", "zero", "bad", "twice")))
    changed = {
        "flip": content[:at] + bytes([content[at] ^ (1 << draw(st.integers(0, 7)))]) + content[at + 1 :],
        "cut": content[:at],
        "zero": content[:at] + b"\0" * 3 + content[at:],
        "bad": content[:at] + b"\xff\xfe\x80" + content[at:],
        "twice": content + content[:at],
    }
    return changed[kind]
