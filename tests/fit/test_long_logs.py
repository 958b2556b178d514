"""A long log: what is done otherwise there to save work changes nothing that is said."""

import numpy as np
import pandas as pd
import pytest

from workbench.fit import fit_log, learning
from workbench.fit.filtering import _spread
from workbench.fit.marginals import gaussian_kernel
from workbench.fit.speed import refit_case

#: Against grids twice as fine quantiles move by a few hundredths of a posterior sd, as `learning` states; of the
#: carry-over, which three points tell, by a tenth.
GRIDS, THREE_POINTS = 0.05, 0.1


def far_apart():
    """Two exercises that share muscles, thirteen sessions of each in eighteen months."""
    rows, who = refit_case(13)
    rows = rows[rows["exercise"].isin(["lat pulldown", "barbell bench pull"])]
    first = rows["date"].min()
    return rows.assign(date=first + 14 * (rows["date"] - first)), who


@pytest.fixture(scope="module")
def short_and_long():
    rows, who = far_apart()
    with pytest.MonkeyPatch.context() as patch:
        at_once = fit_log(rows, who)
        patch.setattr(learning, "_LONG", 1)
        return at_once, fit_log(rows, who)


@pytest.mark.slow
def test_strengths_of_a_long_log_reach_no_farther_than_its_days(short_and_long):
    at_once, long = short_and_long
    for before, after in zip(at_once.fit.lifts, long.fit.lifts, strict=True):
        assert np.ptp(after.grid.log_strength) < 0.8 * np.ptp(before.grid.log_strength)
        assert after.grid.strength_step == pytest.approx(before.grid.strength_step, rel=0.05)


@pytest.mark.slow
def test_what_it_says_stays_the_same(short_and_long):
    at_once, long = (one.summary() for one in short_and_long)
    pd.testing.assert_frame_equal(at_once[["exercise", "quantity"]], long[["exercise", "quantity"]])
    sd = (at_once["p90"] - at_once["p10"]) / (2 * 1.2816)
    for level in ("p10", "p50", "p90"):
        off = ((long[level] - at_once[level]) / sd).abs()
        carried = at_once["quantity"] == "carry-over"
        assert off[~carried].max() < GRIDS
        assert off[carried].max() < THREE_POINTS


def test_messages_are_spread_row_by_row():
    """A skewed kernel, so that it counts which side it stands on; rows that belong to two rates."""
    points = np.linspace(0.0, 1.0, 7)
    kernel = gaussian_kernel(points, 0.3) * points
    messages = np.random.default_rng(1).random((6, 7))
    by_hand = [[sum(row[k] * kernel[k, at] for k in range(7)) for at in range(7)] for row in messages]
    assert _spread(messages, kernel, 3) == pytest.approx(np.array(by_hand), rel=1e-12)
    assert _spread(np.stack([messages, messages]), kernel, 3).shape == (2, 6, 7)
