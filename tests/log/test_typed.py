"""What is typed into a field and what happens, by hand: nothing becomes another number in silence."""

from __future__ import annotations

import math
from collections.abc import Callable
from decimal import Decimal

import pytest

from workbench.log.typed import (
    Mass,
    RememberedSet,
    date_said,
    masses_said,
    typed_date,
    typed_list,
    typed_mass,
    typed_masses,
    typed_monday,
    typed_name,
    typed_number,
    typed_percent,
    typed_reps,
    typed_reserve,
    typed_seconds,
    typed_set,
    typed_whole,
)
from workbench.quantities import InputError

#: The fields of the table: what reads them.
FIELDS: dict[str, Callable[[str], object]] = {
    "number 0 to 300": lambda text: typed_number(text, 0, 300),
    "kg": lambda text: typed_mass(text, "kg"),
    "lb": lambda text: typed_mass(text, "lb"),
    "kg of one hand": lambda text: typed_mass(text, "kg", each_hand=True),
    "percent": typed_percent,
    "rest": typed_seconds,
    "whole 1 to 20": lambda text: typed_whole(text, 1, 20),
    "reps": typed_reps,
    "reserve": typed_reserve,
    "set": lambda text: typed_set(text, "kg"),
    "set of one hand": lambda text: typed_set(text, "kg", each_hand=True),
    "rack": lambda text: [float(mass) for mass in typed_masses(text)],
    "list 0 to 300": lambda text: typed_list(text, 0, 300),
    "date": lambda text: date_said(typed_date(text)),
    "Monday": lambda text: date_said(typed_monday(text)),
    "name": typed_name,
}

#: field | typed | -> what is taken, or ! a part of what is said. \x escapes are characters.
TABLE = r"""
number 0 to 300 | 67.5 | 67.5
number 0 to 300 | 67,5 | 67.5
number 0 to 300 |  67.5  | 67.5
number 0 to 300 | 67,50 | 67.5
number 0 to 300 | 0 | 0
number 0 to 300 | 000 | 0
number 0 to 300 | 007 | 7
number 0 to 300 | .5 | 0.5
number 0 to 300 | ,5 | 0.5
number 0 to 300 | +5 | 5
number 0 to 300 | 5. | 5
number 0 to 300 | 300 | 300
number 0 to 300 | 300.01 | ! use 0 to 300
number 0 to 300 | 301 | ! use 0 to 300
number 0 to 300 | -0.1 | ! use 0 to 300
number 0 to 300 | -5 | ! out of range
number 0 to 300 | \u22125 | ! out of range
number 0 to 300 | 1e9 | ! not a number
number 0 to 300 | 99999999999999999999999999 | ! out of range
number 0 to 300 |  | ! blank
number 0 to 300 | \u00a0 | ! blank
number 0 to 300 | \t | ! blank
number 0 to 300 | sixty | ! not a number
number 0 to 300 | 6o | ! not a number
number 0 to 300 | l0 | ! not a number
number 0 to 300 | nan | ! not a number
number 0 to 300 | inf | ! not a number
number 0 to 300 | \u221e | ! not a number
number 0 to 300 | 1/2 | ! not a number
number 0 to 300 | \u00bd | ! not a number
number 0 to 300 | 5-8 | ! not a number
number 0 to 300 | 67,5,2 | ! not a number
number 0 to 300 | 67..5 | ! not a number
number 0 to 300 | 67.5.2 | ! not a number
number 0 to 300 | 6 7 | ! not a number
number 0 to 300 | 1,250 | ! could be 1.25 or 1250
number 0 to 300 | 1.250 | 1.25
number 0 to 300 | 0.125 | 0.125
number 0 to 300 | 1 250 | ! out of range
number 0 to 300 | \uff15 | 5
number 0 to 300 | 5 kg | ! not a number
number 0 to 300 | =5 | ! not a number
number 0 to 300 | <b>5</b> | ! not a number
number 0 to 300 | 5\x00 | ! not a number
kg | 100 | 100 kg
kg | 100kg | 100 kg
kg | 100 KG | 100 kg
kg | 102,5 kg | 102.5 kg
kg | 100 kilos | 100 kg
kg | 100 kg. | 100 kg
kg | 225 lb | 225 lb
kg | 225lbs | 225 lb
kg | 225 pounds | 225 lb
kg | 225 # | ! not a mass
kg | 100 k | ! not a mass
kg | 500 g | ! not a mass
kg | 15 stone | ! not a mass
kg | 1000 | 1000 kg
kg | 1001 | ! out of range
kg | 2200 lb | 2200 lb
kg | 2201 lb | ! out of range
kg | -20 | ! out of range
kg | 1.250 kg | 1.25 kg
lb | 1.250 | ! could be 1.25 or 1250
kg | 1,25 | 1.25 kg
kg | 1,250 | ! could be
kg | BW | ! not a mass
kg | BW+10 | ! not a mass
kg | 60 % | ! not a mass
kg | 2 x 16 | ! speaks of two
kg | 16 each | ! speaks of two
kg | 100 kg 5 | ! not a mass
kg | 100 to 110 | ! not a mass
kg | 20+20+20 | ! not a mass
kg |  | ! blank
kg | kg | ! not a mass
lb | 225 | 225 lb
lb | 100 kg | 100 kg
lb | 2.5 | 2.5 lb
lb | 1001 | 1001 lb
lb | 2,200 | ! could be 2.2 or 2200
kg of one hand | 16 | 16 kg
kg of one hand | 2x16 | 16 kg
kg of one hand | 2 x 16 kg | 16 kg
kg of one hand | 2 \u00d7 17,5 kg | 17.5 kg
kg of one hand | 16 each | 16 kg
kg of one hand | 16 kg per hand | 16 kg
kg of one hand | 35 lb in each hand | 35 lb
kg of one hand | 3x16 | ! not a mass
kg of one hand | 2x | ! not a mass
percent | 70 | 70
percent | 70 % | 70
percent | 70% | 70
percent | 72,5 % | 72.5
percent | 70 percent | 70
percent | 0.7 | ! could be 0.7 % or 70 %
percent | 0,7 | ! could be 0.7 % or 70 %
percent | 1 | ! could be 1 % or 100 %
percent | 1 % | 1
percent | 0 | ! use 1 to 120
percent | 0.5 % | ! use 1 to 120
percent | 120 | 120
percent | 121 | ! use 1 to 120 %
percent | -70 | ! out of range
percent | 70 kg | ! not a number
percent | seventy | ! not a number
percent | %% | ! not a number
percent |  | ! blank
rest | 90 | 90
rest | 90 s | 90
rest | 90sec | 90
rest | 90 seconds | 90
rest | 2:00 | 120
rest | 02:30 | 150
rest | 0:45 | 45
rest | 3 min | 180
rest | 3min | 180
rest | 3 m | 180
rest | 2 minutes | 120
rest | 1.5 min | 90
rest | 1,5 min | 90
rest | 1 min 30 | 90
rest | 1 min 30 s | 90
rest | 2' | 120
rest | 0 | 0
rest | 0 s | 0
rest | 3 | ! could be 3 seconds or 3 minutes
rest | 2.5 | ! could be 2.5 seconds or 2.5 minutes
rest | 2,5 | ! could be 2,5 seconds or 2,5 minutes
rest | 9 | ! could be
rest | 10 | 10
rest | 3 s | 3
rest | 2:75 | ! no time
rest | 2:5 | ! no time
rest | 1:30:00 | ! no time
rest | :30 | ! no time
rest | 60-90 | ! no time
rest | 2-3 min | ! no time
rest | 30 min | 1800
rest | 31 min | ! out of range
rest | 1801 | ! use 0 to 1800 s
rest | 1,500 | ! could be
rest | -60 | ! out of range
rest | 1 h | ! no time
rest | long | ! no time
rest | 90 kg | ! no time
rest | 90 % | ! no time
rest |  | ! blank
whole 1 to 20 | 5 | 5
whole 1 to 20 | 5.0 | 5
whole 1 to 20 | 5,0 | 5
whole 1 to 20 | 5 sets | 5
whole 1 to 20 | 5 x | 5
whole 1 to 20 | 4 weeks | 4
whole 1 to 20 | 3 pairs | 3
whole 1 to 20 | 5.5 | ! not whole
whole 1 to 20 | 5,5 | ! not whole
whole 1 to 20 | 0 | ! use 1 to 20
whole 1 to 20 | 21 | ! use 1 to 20
whole 1 to 20 | -3 | ! use 1 to 20
whole 1 to 20 | 5x5 | ! not a number
whole 1 to 20 | 3-4 | ! not a number
whole 1 to 20 | five | ! not a number
whole 1 to 20 | 1e1 | ! not a number
whole 1 to 20 | 5 kg | ! not a number
whole 1 to 20 |  | ! blank
reps | 6 | 6 to 6
reps | 6 reps | 6 to 6
reps | 8-12 | 8 to 12
reps | 8 - 12 | 8 to 12
reps | 8\u201312 | 8 to 12
reps | 8 to 12 reps | 8 to 12
reps | 12-8 | ! runs downwards
reps | failure | 1 to inf
reps | To Failure | 1 to inf
reps | AMRAP | 1 to inf
reps | 8+ | ! not a number
reps | 5/5/4 | ! not a number
reps | 0 | ! use 1 to 100
reps | 0-5 | ! out of range
reps | 101 | ! use 1 to 100
reps | 5-101 | ! use 1 to 100
reps | 6,5 | ! not whole
reps | -6 | ! out of range
reps | ten | ! not a number
reps | 8,12 | ! not whole
reps |  | ! blank
reserve | 2 | 2
reserve | 2 left | 2
reserve | 2 reps left | 2
reserve | 2 in reserve | 2
reserve | RIR 2 | 2
reserve | 2 RIR | 2
reserve | 1,5 | 1.5
reserve | 0 | 0
reserve | 10 | 10
reserve | 11 | ! use 0 to 10 reps
reserve | -1 | ! out of range
reserve | RPE 8 | ! rating of effort
reserve | @8 | ! rating of effort
reserve | 1-2 | ! not a number
reserve | RIR | ! not a number
reserve | none | ! not a number
reserve |  | ! blank
set | 24 kg, 12 reps, 2 left | 24 kg x 12, 2 left
set | 24 kg 12 reps 2 left | ! no set
set | 24 x 12, 2 left | 24 kg x 12, 2 left
set | 24x12 | 24 kg x 12
set | 24 kg x 12 to failure | 24 kg x 12, 0 left
set | 24kg x 12 RIR 2 | 24 kg x 12, 2 left
set | 102,5 kg, 5 reps, 1 left | 102.5 kg x 5, 1 left
set | 102,5 kg; 5; 1 left | 102.5 kg x 5, 1 left
set | 225 lb for 5 | 225 lb x 5
set | 100 kg x 5 | 100 kg x 5
set | 100 kg, 5 | 100 kg x 5
set | 5 x 100 kg | 100 kg x 5
set | 3x5@100kg | ! more than load, reps
set | 100 | ! no set
set | 100 kg | ! no set
set | 12 reps | ! no set
set | 100 kg, 0 reps | ! use 1 to 100
set | 100 kg, 5 reps, 9 left | ! use 0 to 5
set | 100 kg, 5 reps, RPE 8 | ! no set
set | 100 kg, 5,5 reps | ! no set
set | -100 kg, 5 reps | ! out of range
set | a few with 100 | ! no set
set |  | ! no set
set of one hand | 2x16, 12 reps, 2 left | 16 kg x 12, 2 left
set of one hand | 2 x 16 kg x 12 | 16 kg x 12
set of one hand | 16 kg, 12 reps | 16 kg x 12
rack | 4 to 12 in 2s | 4 6 8 10 12
rack | 4 to 12 in 2s, without 10 | 4 6 8 12
rack | 4-12 in 2s without 10 | 4 6 8 12
rack | 4 to 12 by 2, but not 6 and 8 | 4 10 12
rack | 4 to 12 in steps of 4 | 4 8 12
rack | 2,5 to 10 in 2,5s | 2.5 5 7.5 10
rack | 2.5 to 10 by 2.5 | 2.5 5 7.5 10
rack | 4, 6, 8 | 4 6 8
rack | 4; 6; 7,5 | 4 6 7.5
rack | 8 6 4 | 4 6 8
rack | 4,6,8 | 4 6 8
rack | 4,6 | ! could be 4.6 alone or 4 and 6
rack | 16 | 16
rack | 4 to 12 in 3s | ! do not reach
rack | 12 to 4 in 2s | ! do not reach
rack | 4 to 12 in 0s | ! out of range
rack | 1 to 500 in 1s | ! more than 200
rack | 4 to 12 in 2s, without 7 | ! has no 7
rack | 4 to 12 | ! not a number
rack | some | ! not a number
rack | 0, 2 | ! out of range
rack | -4, 6 | ! out of range
rack | 1.0005, 2 | ! decimals
rack |  | ! blank
list 0 to 300 | 65, 67.5, 70 | 65 67.5 70
list 0 to 300 | 65; 67,5; 70 | 65 67.5 70
list 0 to 300 | 65 67,5 70 | 65 67.5 70
list 0 to 300 | 65,70,75 | 65 70 75
list 0 to 300 | 65,7 | ! could be 65.7 alone or 65 and 7
list 0 to 300 | 65 | 65
list 0 to 300 | 65, x, 70 | ! not a number
list 0 to 300 | 65, 301 | ! out of range
list 0 to 300 | 65,,70 | ! blank
date | 5 Jan 2026 | 5 Jan 2026
date | 5. January 2026 | 5 Jan 2026
date | Mon 5 Jan 2026 | 5 Jan 2026
date | 2026-01-05 | 5 Jan 2026
date | 25/1/2026 | 25 Jan 2026
date | 1/25/26 | 25 Jan 2026
date | 5.5.2026 | 5 May 2026
date | 5/1/2026 | ! could be 5 Jan 2026 or 1 May 2026; type it as 5 Jan 2026
date | 5 Jan | ! has no year
date | Tue 5 Jan 2026 | ! is not a date here
date | 31 Feb 2026 | ! is not a date here
date | Monday | ! is not a date here
date | 5 Jan 2026 18:30 | ! is not a date here
date |  | ! is blank
date | 2026 | ! is not a date here
date | -5 | ! is not a date here
Monday | 2026-01-05 | 5 Jan 2026
Monday | 7 Jan 2026 | ! is a Wednesday; type the Monday of that week, 5 Jan 2026
Monday | 1 Jan 2026 | ! is a Thursday; type the Monday of that week, 29 Dec 2025
Monday | Monday | ! is not a date here
set | 24 kg × 12 | 24 kg x 12
set | 72,5 kg x 11 | 72.5 kg x 11
set | 72,5 x 11, 2 left | 72.5 kg x 11, 2 left
set | 100 x 5, 105 x 3 | ! no set
name |  Ada   Quill  | Ada Quill
name |  | ! blank
name | \u202eadA | ! control character
"""


def _row(line: str) -> tuple[str, str, str]:
    field, typed, expected = (
        line.split(" | ") if line.count(" | ") == 2 else line.replace(" |  | ", " || ").split("|", 2)
    )
    typed = typed.lstrip("|").removesuffix("|")
    return field.strip(), typed.encode().decode("unicode_escape") if "\\" in typed else typed, expected.strip("| ")


ROWS = [_row(line) for line in TABLE.strip("\n").splitlines()]


def _said(value: object) -> str:
    """What was taken, as the table writes it."""
    if isinstance(value, Mass):
        return f"{value.value:g} {value.unit}"
    if isinstance(value, RememberedSet):
        left = "" if value.reserve is None else f", {value.reserve:g} left"
        return f"{_said(value.load)} x {value.reps}{left}"
    if isinstance(value, tuple):
        return f"{value[0]} to {value[1]:g}"
    if isinstance(value, list):
        return " ".join(f"{one:g}" for one in value)
    return value if isinstance(value, str) else f"{value:g}"


def test_the_table_has_at_least_200_values_of_every_field():
    assert len(ROWS) >= 200
    assert {field for field, _, _ in ROWS} == set(FIELDS)
    assert len({(field, typed) for field, typed, _ in ROWS}) == len(ROWS)


@pytest.mark.parametrize(("field", "typed", "expected"), ROWS)
def test_what_is_typed_is_taken_as_it_stands_or_refused_with_a_remedy(field, typed, expected):
    if not expected.startswith("!"):
        assert _said(FIELDS[field](typed)) == expected
        return
    with pytest.raises(InputError) as caught:
        FIELDS[field](typed)
    assert expected.removeprefix("! ") in str(caught.value)
    assert caught.value.remedy
    assert len(str(caught.value)) < 250


def test_masses_of_a_rack_are_exact():
    assert typed_masses("0.1 to 0.5 in 0.1s") == [Decimal(f"0.{tenth}") for tenth in (1, 2, 3, 4, 5)]


@pytest.mark.parametrize(
    ("masses", "said"),
    [
        ("4 6 8 10", "4 to 10 in 2s"),
        ("4 6 8 10 12 14 16 20", "4 to 20 in 2s, without 18"),
        ("5 8 10 12 15", "5; 8; 10; 12; 15"),
        ("2.5 5", "2.5; 5"),
        ("1.25 2.5 3.75", "1.25 to 3.75 in 1.25s"),
        ("16", "16"),
        ("100 110 120", "100 to 120 in 10s"),
    ],
)
def test_masses_are_said_as_they_are_typed(masses, said):
    exact = [Decimal(mass) for mass in masses.split()]
    assert masses_said(exact) == said
    assert typed_masses(said) == exact


def test_what_is_very_long_is_refused_and_not_said_in_full():
    for read in FIELDS.values():
        with pytest.raises(InputError) as caught:
            read("9" * 100_000)
        assert len(str(caught.value)) < 250


def test_a_number_may_stand_with_its_unit_alone():
    assert typed_number("7 days", 0, 14, unit="days") == 7
    with pytest.raises(InputError, match="use 0 to 14 days"):
        typed_number("15", 0, 14, unit="days")
    with pytest.raises(InputError, match="use 5 or more"):
        typed_number("4", 5)
    assert math.isinf(typed_reps("failure")[1])
