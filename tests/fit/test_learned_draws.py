"""Possible lifters drawn from grids, against the moments of those grids; numbers that fill the unit square evenly."""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
import pytest

from workbench.fit.learned_draws import LearnedDraws, draw_strength, inside, pick
from workbench.fit.likelihood import Grid
from workbench.models.fatigue import Effort

COUNT = 40_000
#: Of sums over so many evenly spread numbers, in sds.
EVENLY = 2e-3


class Evenly:
    """Gives the two numbers of each draw: evenly spaced, and by steps of the golden section."""

    def __init__(self):
        number = np.arange(COUNT)
        self.given = [((number + 0.5) / COUNT)[:, None], number * 0.6180339887498949 % 1.0]

    def random(self, shape):
        found = self.given.pop(0)
        assert found.shape in (shape, (shape,))
        return found


def test_draws_lie_evenly_in_the_cells_of_their_points():
    rng = SimpleNamespace(random=lambda count: np.linspace(0.0, 1.0, count))
    assert inside(np.array([3.0, 3.5, 4.0]), 5, rng) == pytest.approx([-0.25, -0.125, 0.0, 0.125, 0.25], abs=1e-15)


def test_a_column_is_picked_with_its_weight():
    """Of 1, 0, 2 and 1, numbers up to a quarter pick the first, up to three quarters the third; in any scale."""
    at = np.array([[0.0], [0.25], [0.26], [0.75], [0.76], [0.999]])
    weights = np.array([1.0, 0.0, 2.0, 1.0]) * np.array([1.0, 2.0, 8.0, 0.5, 1.0, 3.0])[:, None]
    rng = SimpleNamespace(random=lambda shape: at if shape == (6, 1) else None)
    assert pick(weights, rng).tolist() == [0, 0, 2, 2, 3, 3]


GRID = Grid(np.log([0.5, 0.8, 1.28, 2.048]), -3.0 + 0.1 * np.arange(5.0), 4.0 + 0.05 * np.arange(-7.0, 8.0))


def lift_of(today):
    return SimpleNamespace(grid=GRID, filtered=SimpleNamespace(today=today / today.sum(axis=2, keepdims=True)))


def drawn(lift, log_rate, log_k):
    return draw_strength(lift, np.full(COUNT, log_rate), np.full(COUNT, log_k), Evenly())


def moments_of(values):
    mean = values.mean()
    return mean, values.std(), ((values - mean) ** 3).mean()


@pytest.fixture(scope="module")
def uneven():
    """A grid with another lopsided distribution at each of its points."""
    return lift_of(np.random.default_rng(3).random((4, 5, 15)) ** 4)


@pytest.mark.parametrize(("row", "column"), [(0, 0), (1, 3), (2, 1), (3, 4)])
def test_at_a_point_of_the_grid_strength_is_distributed_as_there(uneven, row, column):
    """Mean and sd are those of the point; lopsidedness too, beside the part that is spread over cells."""
    weights, points = uneven.filtered.today[row, column], GRID.log_strength
    mean = sum(w * s for w, s in zip(weights, points, strict=True))
    sd = math.sqrt(sum(w * (s - mean) ** 2 for w, s in zip(weights, points, strict=True)))
    third = sum(w * (s - mean) ** 3 for w, s in zip(weights, points, strict=True))
    wider = math.sqrt(1.0 + 0.05**2 / 12 / sd**2)
    found = moments_of(drawn(uneven, GRID.log_rate[row], GRID.log_endurance[column]))
    assert found[0] == pytest.approx(mean, abs=EVENLY * sd)
    assert found[1] == pytest.approx(sd, rel=EVENLY)
    assert found[2] / sd**3 == pytest.approx(third / (sd * wider) ** 3, abs=5 * EVENLY)
    # Two fifths of a cell away the shape is still that of the nearest point.
    for rate, k in ((0.4, -0.4), (-0.4, 0.4)):
        mean, sd, beside = moments_of(
            drawn(uneven, GRID.log_rate[row] + rate * 0.47, GRID.log_endurance[column] + k * 0.1)
        )
        assert beside / sd**3 == pytest.approx(found[2] / found[1] ** 3, abs=5 * EVENLY)


@pytest.mark.parametrize(("log_rate", "log_k"), [(0.0, -2.85), (0.31, -2.77), (-0.52, -2.62)])
def test_between_points_mean_and_sd_are_read_on_a_line_where_they_lie_on_one(log_rate, log_k):
    """Normal distributions; mean and log sd grow in proportion to the logs of rate and endurance."""

    def middle(rate, k):
        return 4.0 + 0.03 * rate - 0.2 * (k + 2.8)

    def spread(rate, k):
        return 0.05 * np.exp(0.1 * rate + 0.4 * (k + 2.8))

    rate, k, strength = np.ix_(GRID.log_rate, GRID.log_endurance, GRID.log_strength)
    lift = lift_of(np.exp(-0.5 * ((strength - middle(rate, k)) / spread(rate, k)) ** 2))
    mean, sd, _ = moments_of(drawn(lift, log_rate, log_k))
    # The sum over points a whole sd apart has the moments of the bell to some 1e-7; its ends lie six sds out.
    assert mean == pytest.approx(middle(log_rate, log_k), abs=EVENLY * sd)
    assert sd == pytest.approx(spread(log_rate, log_k), rel=EVENLY)


def test_a_strength_that_is_known_to_a_point_is_drawn_there():
    today = np.zeros((4, 5, 15))
    today[:, :, 9] = 1.0
    found = drawn(lift_of(today), 0.1, -2.8)
    a_millionth = 1e-6
    assert np.abs(found - GRID.log_strength[9]).max() < 2 * a_millionth


def test_some_of_the_draws_are_the_same_of_everything():
    """By their index in every array, one of them twice; what is the same for all stays."""
    own = np.arange(4.0)
    both = 10 * own[:, None] + np.array([1.0, 2.0])
    values = {"log_one_rm": both, "endurance": both + 100, "gain": both + 200, "recovery_rate": own, "shared": own + 10}
    values |= {"carry_over": own + 20, "reserve_bias": own + 30, "bend": own + 40}
    tiring = Effort(depletion_gain=own[:, None], half_reps=own[:, None] + 5)
    few = {name: np.full((4, 1), value) for name, value in vars(tiring).items() if np.ndim(value) == 0}
    draws = LearnedDraws(("a", "b"), **values, tiring=Effort(**vars(tiring) | few))
    chosen = np.array([3, 0, 3])
    found = draws.rows(chosen)
    assert found.exercises == ("a", "b")
    for name, value in values.items():
        assert np.array_equal(getattr(found, name), [value[3], value[0], value[3]]), name
    assert found.tiring.depletion_gain.tolist() == [[3.0], [0.0], [3.0]]
    assert found.tiring.half_reps.tolist() == [[8.0], [5.0], [8.0]]
    without = LearnedDraws(("a", "b"), **values | {"bend": None}).rows(chosen)
    assert (without.bend, without.tiring) == (None, None)
