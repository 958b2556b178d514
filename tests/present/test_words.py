"""Chances and shares: one way to say them, and no other way left in the package."""

import math
import re

import pytest

from workbench.present.words import in_words, mean_and_band, outcome_named, outcome_said, percent_said, say_load
from workbench.reference.sources import code_path

#: A number formatted as "85%": by Python, or by the drawing library, whose own percent has no space either.
OTHER_WAY = re.compile(r"[:{][^:{}\"']*\.[0-9]%[}\"']")
#: A slider's readout is formatted in the browser, which knows no space before the sign.
READOUTS = {"panels/block_controls.py"}


@pytest.mark.parametrize(
    ("share", "said"), [(0.0, "0 %"), (0.845, "84 %"), (0.855, "86 %"), (1.0, "100 %"), (-0.04, "-4 %")]
)
def test_a_share_is_said_in_whole_percent_with_a_space(share, said):
    # Of two equally near whole percents Python takes the even one, as far as the number is exact in binary.
    assert percent_said(share) == said


def test_a_chance_claims_neither_end_and_is_otherwise_said_like_a_share():
    assert (in_words(1.0), in_words(0.0), in_words(math.nan)) == (">99 %", "<1 %", "")
    assert all(in_words(percent / 100) == percent_said(percent / 100) for percent in range(1, 100))


def test_no_module_says_a_percent_in_another_way():
    root = code_path()
    found = {
        path.relative_to(root).as_posix()
        for path in root.rglob("*.py")
        if OTHER_WAY.search(path.read_text(encoding="utf-8"))
    }
    assert found <= READOUTS


@pytest.mark.parametrize(
    ("mean", "low", "high", "said"),
    [
        # Half of a band of 5 is 2.5: two digits, so tenths; whole ends are said whole.
        (1.86, 0.0, 5.0, ("1.9", "0 to 5")),
        # Half of 9.1 is 4.55, half of 7.2 is 3.6: from 3.55 on one digit, so whole numbers; half of 7.0 still two.
        (90.0, 85.5, 94.6, ("90", "86 to 95")),
        (3.3, 0.0, 7.2, ("3", "0 to 7")),
        (3.3, 0.4, 7.4, ("3.3", "0.4 to 7.4")),
        # Half of 0.26 is 0.13: two digits are hundredths. Nothing is 0, without them.
        (-0.12, -0.26, 0.0, ("-0.12", "-0.26 to 0")),
        # A number from 10 on has at most tenths, from 100 on none, however narrow the band.
        (31.52, 31.5, 31.54, ("31.5", "31.5 to 31.5")),
        (10484.3, 10285.2, 10605.4, ("10,484", "10,285 to 10,605")),
        (0.5, 0.5, 0.5, ("0.50", "0.50 to 0.50")),
    ],
)
def test_a_band_says_how_many_decimals_are_worth_reading(mean, low, high, said):
    assert mean_and_band(mean, low, high) == said


def test_a_difference_has_a_sign_but_zero_has_none():
    assert mean_and_band(2.0, -0.004, 4.0, signed=True) == ("+2.0", "0 to +4")
    assert mean_and_band(math.nan, math.nan, math.nan) == ("none", "none")


def test_an_outcome_is_named_with_its_unit_once_and_a_share_is_a_percent():
    named = {"minutes a week": "min/week", "mean intensity": "% of 1RM", "all reps made": "1"}
    assert [outcome_named({"label": label, "unit": unit}) for label, unit in named.items()] == [
        "minutes a week",
        "mean intensity, % of 1RM",
        "all reps made",
    ]
    assert outcome_said({"unit": "1", "mean": 0.996, "p10": 1.0, "p90": 1.0}) == ">99 %"
    assert outcome_said({"unit": "reps", "mean": 1.86, "p10": 0.0, "p90": 5.0}) == "1.9 (0 to 5)"


def test_a_load_keeps_no_decimal_that_says_nothing():
    assert [say_load(kg, digits=1) for kg in (90.04, 82.5, 100.0)] == ["90 kg", "82.5 kg", "100 kg"]
    assert say_load(100.0, digits=0) == "100 kg"
