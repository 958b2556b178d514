"""Chances and shares: one way to say them, and no other way left in the package."""

import math
import re

import pytest

from workbench.present.words import in_words, percent_said
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
