"""Stated reps in reserve: the published numbers, limits, arrays and order."""

import numpy as np
import pytest

from workbench.models.stated_reserve import statement_bias, statement_sd
from workbench.reference.sources import read_rows

#: Mean absolute error of a normal distribution over its sd.
ABSOLUTE = np.sqrt(2 / np.pi)
#: A few operations on doubles.
ROUNDING = 1e-12


def table():
    return read_rows("evidence", "rir_accuracy.csv")


def test_bias_of_sets_of_about_nine_reps_is_the_published():
    published = next(row for row in table() if row["use"] == "bias_at_turn")
    assert float(statement_bias(9.5)) == pytest.approx(float(published["bias_reps"]), abs=0.005)


@pytest.mark.parametrize(("use", "low", "high"), [("slope_short", 6, 10), ("slope_long", 14, 18)])
def test_slopes_are_the_published(use, low, high):
    published = next(row for row in table() if row["use"] == use)
    slope = (statement_bias(high) - statement_bias(low)) / (high - low)
    assert float(slope) == pytest.approx(float(published["bias_reps"]), abs=1e-12)


def test_scatter_lies_at_the_published_errors_of_short_and_long_sets():
    """Eight reps: mean absolute errors at one and four left. Sixteen: sds at one, three and five, to a fifth."""
    for reserve, use in ((1, "sd_at_failure"), (4, "sd_per_rep")):
        seen = np.mean([float(row["abs_error_reps"]) for row in table() if row["use"] == use])
        assert float(statement_sd(reserve, 8)) * ABSOLUTE == pytest.approx(seen, abs=0.05)
    for row in table():
        if row["use"] == "sd_reps":
            reserve = int(row["condition"][0])
            assert float(statement_sd(reserve, 16)) == pytest.approx(float(row["sd_reps"]), rel=0.2)


def test_arrays_equal_scalars_and_order_is_kept():
    reps = np.linspace(0, 40, 81)
    assert np.array_equal(statement_bias(reps), [float(statement_bias(one)) for one in reps])
    assert np.all(np.diff(statement_bias(reps)) >= 0)
    reserve = np.linspace(-2, 12, 29)
    spread = statement_sd(reserve, 10.0)
    assert np.all(np.diff(spread) >= 0)
    assert np.all(spread > 0)
    assert spread[0] == float(statement_sd(0.0, 10.0))


def test_the_bias_stops_growing_where_nobody_looked():
    assert float(statement_bias(30)) == float(statement_bias(20))


@pytest.mark.parametrize(
    ("reps", "bias"),
    [
        (6, -0.04),  # 0.32 - 0.06 x 6
        (12, 0.32),
        (16, 2.20),  # 0.32 + 0.47 x 4
        (19, 3.61),
        (20, 4.08),
        (25, 4.08),  # no farther than 20
    ],
)
def test_bias_by_hand(reps, bias):
    assert float(statement_bias(reps)) == pytest.approx(bias, abs=ROUNDING)


@pytest.mark.parametrize(
    ("reserve", "reps", "sd"),
    [
        (1, 8, 0.93),  # 0.74 + 0.19
        (3, 12, 1.965),  # (0.74 + 0.57) x 12/8
        (1, 4, 0.465),
        (1, 2, 0.465),  # no shorter than half of 8
        (1, 20, 2.325),  # 0.93 x 20/8
        (1, 40, 2.325),
        (-3, 8, 0.74),  # nothing left counts as none
    ],
)
def test_scatter_by_hand(reserve, reps, sd):
    assert float(statement_sd(reserve, reps)) == pytest.approx(sd, abs=ROUNDING)
