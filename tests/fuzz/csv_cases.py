"""Training logs as text: headings x separators x encodings x cell forms, with odd cells and damage."""

from __future__ import annotations

import csv
import io
from random import Random

from tests.fuzz.cases import MARK, Case, chance, marker, odd_text

__all__ = ["ANSWERS", "FORMS", "csv_case", "table"]

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


def table(rng: Random) -> tuple[list[list[str]], bool]:
    """Rows of cells under one row of headings, the last column holding each row's marker; whether it must be read."""
    fields = ["date", "exercise", "load", "reps"]
    optional = [name for name in _HEADINGS if name not in fields]
    fields += rng.sample(optional, rng.randint(0, 4))
    must_read = "extra" not in fields
    if chance(rng, 10):
        fields.remove(rng.choice(fields))
        must_read = False
    headings = [rng.choice(_HEADINGS[name]) for name in fields]
    if chance(rng, 5):
        headings[rng.randint(0, len(headings) - 1)] = odd_text(rng)
        must_read = False
    rows = []
    for number in range(rng.randint(0, 6)):
        row = [rng.choice(FORMS[name]) for name in fields]
        if chance(rng, 40):
            row[rng.randint(0, len(row) - 1)] = odd_text(rng, longest=140_000)
        row.append(marker(number))
        if chance(rng, 20):
            row = _odd_row(rng.choice(_ODD_ROWS), row, headings)
        rows.append(row)
    above = [[], ["Training log"], ["Athlete: Ana"], ["Athlete", "Ana"], ["All weights in kg"]]
    top = [rng.choice(above)] if chance(rng, 20) else []
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


def csv_case(rng: Random) -> Case:
    """A log as text, sound or damaged."""
    rows, must_read = table(rng)
    stream = io.StringIO()
    delimiter = rng.choice(",;\t|")
    quoting = csv.QUOTE_ALL if chance(rng, 15) else csv.QUOTE_MINIMAL
    csv.writer(stream, delimiter=delimiter, lineterminator="\n", quoting=quoting).writerows(rows)
    text = stream.getvalue()
    if chance(rng, 5):
        text = f"sep={delimiter}\n{text}"
        rows = [["sep="], *rows]
    newline = rng.choice(("\n", "\r\n", "\r"))
    text = text.replace("\n", newline)
    damaged = chance(rng, 30)
    if damaged:
        text = _damage_text(rng, text)
    encoding = rng.choice(("utf-8", "utf-8-sig", "utf-16", "utf-16-le", "cp1252", "utf-32", "latin-1"))
    content = text.encode(encoding, errors="replace")
    if damaged and chance(rng, 40):
        content = _damage_bytes(rng, content)
        encoding = "damaged"
    # How many records there are is plain only while no cell holds a line of its own, or is too long for one.
    plain = not damaged and not any("\n" in cell or "\r" in cell or len(cell) > 20_000 for row in rows for cell in row)
    held = [at for at, row in enumerate(rows, start=1) if any(cell.strip() for cell in row)]
    told = {
        "options": rng.choice(ANSWERS),
        "again": chance(rng, 40),
        "must_read": must_read and not damaged and encoding not in {"utf-16-le"},
        "rows": held[-1] if plain and held else None,
        "marks": sorted(set(MARK.findall(text))) if encoding != "damaged" else [],
    }
    name = "log.txt" if chance(rng, 3) else "log.csv"
    return Case({name: content}, name, told)


def _damage_text(rng: Random, text: str) -> str:
    for _ in range(rng.randint(1, 3)):
        at = rng.randint(0, max(len(text) - 1, 0))
        piece = rng.choice(('"', '""', "'", "\n", "\r", ",", ";", "\t", "\0", "\x1a", "\ufeff", '"\n"', '=""', ""))
        text = text[:at] + piece + text[at + rng.randint(0, 2) :]
    return text


def _damage_bytes(rng: Random, content: bytes) -> bytes:
    if not content:
        return content
    at = rng.randint(0, len(content) - 1)
    kind = rng.choice(("flip", "cut", "zero", "bad", "twice"))
    changed = {
        "flip": content[:at] + bytes([content[at] ^ (1 << rng.randint(0, 7))]) + content[at + 1 :],
        "cut": content[:at],
        "zero": content[:at] + b"\0" * 3 + content[at:],
        "bad": content[:at] + b"\xff\xfe\x80" + content[at:],
        "twice": content + content[:at],
    }
    return changed[kind]
