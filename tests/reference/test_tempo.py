"""The exponent of slow reps, by hand from the published rows; predicted beside published."""

import numpy as np
import pytest

from workbench.evidence.rep_duration import not_known_of_slow_reps, slow_rep_table
from workbench.models.tempo import SLOW_REPS
from workbench.panels import slow_reps_table
from workbench.reference.tempo import comparisons, exponent_of, slow_rep_prior

#: Of ln(usual - 1 / slow - 1) over ln(seconds / usual seconds); where only percent is known, without the ones.
BY_HAND = {
    "rbme_ke_2007": [0.579, 0.532],
    "lachance_1994": [0.794, 0.557],
    "keefer_2021": [0.480, 0.425],
    "hatfield_2006": [0.922, 1.264, 0.773],
}
#: Worked to three digits.
DIGITS = 0.0006


def test_each_row_s_exponent_by_hand():
    found = {}
    for row in comparisons():
        if row.use == "fit":
            found.setdefault(row.source, []).append(exponent_of(row))
    assert found.keys() == BY_HAND.keys()
    for source, exponents in BY_HAND.items():
        assert found[source] == pytest.approx(exponents, abs=DIGITS)


def test_the_prior_by_hand():
    """Study means 0.556, 0.676, 0.453, 0.986: mean 0.668, sd 0.231.

    One more study: times (1 + 1/4) ** 0.5, and at 90 % Student's t with 3 degrees is 1.638 where a normal has 1.282:
    0.231 x 1.118 x 1.278 = 0.330.
    """
    prior = slow_rep_prior()
    assert prior.mean == pytest.approx(0.668, abs=DIGITS)
    assert prior.sd == pytest.approx(0.330, abs=0.001)
    assert SLOW_REPS.exponent == pytest.approx(prior.mean, abs=0.005)
    # Without the last: mean of 0.556, 0.676, 0.453 is 0.561, sd 0.112 x (4/3) ** 0.5 x 1.886 / 1.282 = 0.190.
    left = slow_rep_prior("hatfield_2006")
    assert (left.mean, left.sd) == (pytest.approx(0.561, abs=0.001), pytest.approx(0.190, abs=0.001))
    assert left.studies == 3


def test_no_exponent_lies_below_none():
    assert slow_rep_prior().draw(np.array([-5.0, 0.0])).tolist() == [0.0, slow_rep_prior().mean]


def test_predicted_beside_published_by_hand():
    """Knee extension, left out: exponent (0.676 + 0.453 + 0.986) / 3 = 0.705; 1 + 15.3 x 3.2 ** -0.705 = 7.74."""
    table = slow_rep_table()
    row = table.iloc[0]
    assert (row["source"], row["published"], row["usual"]) == ("rbme_ke_2007", 8.8, 16.3)
    assert row["predicted"] == pytest.approx(7.74, abs=0.01)
    assert row["low"] < row["predicted"] < row["high"]
    assert row["inside"]
    # In percent there is no first rep to keep: 100 x (6 / 2.57) ** -0.665 = 56.9.
    assert table.iloc[2]["predicted"] == pytest.approx(56.9, abs=0.1)


def test_within_the_studied_seconds_the_published_numbers_lie_inside_and_beyond_they_are_marked():
    table = slow_rep_table()
    beyond = table["seconds"] > 7.2
    assert table.loc[~beyond, "inside"].all()
    assert table.loc[beyond, "mark"].str.contains("extrapolated").all()
    assert not table.loc[~beyond, "mark"].str.contains("extrapolated").any()


def test_what_is_not_known_is_said():
    said = " ".join(not_known_of_slow_reps())
    assert "range that the catalogue describes" in said
    assert "how far could not be read" in said
    shown = slow_reps_table().text()
    assert "7.7 (4.4 to 14.3)" in shown
    assert "51.0 %" in shown
    assert "extrapolated" in shown
