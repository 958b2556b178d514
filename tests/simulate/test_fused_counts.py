"""What is counted in one pass over the draws: against sorting, and against counting with a pencil."""

import math

import numpy as np
import pytest

from workbench.simulate import fused, fused_counts
from workbench.simulate.plan.planned import SetArrays

#: Values of one bin that are sorted, at most.
IN_A_BIN = 64


@pytest.fixture(scope="module")
def counts(core):
    return core(fused_counts)


def picked(counts, rows, ranks):
    found = np.full((len(rows), len(ranks)), -99.0)
    counts.pick_out(np.array(rows, dtype=float), np.array(ranks), found)
    return found


def mixed(size, seed):
    """Values of both signs in any order, some of them alike."""
    values = np.random.default_rng(seed).normal(8.0, 20.0, size)
    values[size // 3 :: 7] = values[size // 3]
    return values


@pytest.mark.parametrize("size", [2, 3, 63, 64, 65, 130, 400])
def test_values_of_any_rank_are_picked_out(counts, size):
    rows = np.stack([mixed(size, 1), mixed(size, 2) * 1e-9, 1e6 - mixed(size, 3)])
    assert picked(counts, rows, range(size)).tolist() == np.sort(rows, axis=1).tolist()
    for ranks in ([0], [size - 1], [0, size - 1], [size // 2, size // 2 + size % 2], sorted({0, size // 3, size - 2})):
        assert picked(counts, rows, ranks).tolist() == np.sort(rows, axis=1)[:, ranks].tolist()


# As far as that a value beyond the lowest and the highest known would go round to a bin amid the others.
@pytest.mark.parametrize("far", [-488.3, 488.3])
def test_the_lowest_and_the_highest_are_found_wherever_they_stand(counts, far):
    rank = 0 if far < 0.0 else 129
    for place in range(130):
        values = np.linspace(10.0, 11.0, 130)
        values[place] = far
        assert picked(counts, [values], [rank]).tolist() == [[far]]


def test_neighbours_are_told_apart_into_five_hundred_bins(counts):
    """Whole numbers from 0 to 512 have a bin each, so that each may come 64 times."""
    values = np.repeat(np.arange(513.0), 2)
    ranks = np.arange(0, 1026, 3)
    assert picked(counts, [np.roll(values, 300)], ranks).tolist() == [values[ranks].tolist()]


@pytest.mark.parametrize("at", [0.0, 1.0, 300.0, 511.0, 512.0])
def test_a_bin_may_hold_so_many_and_no_more(counts, at):
    ends = [0.0, 512.0, 200.5, 200.5]
    full = [at] * (IN_A_BIN - ends.count(at)) + ends
    over = [at] * (IN_A_BIN + 1 - ends.count(at)) + ends[:-1]
    rank = 0 if at == 0.0 else 5
    first, then = picked(counts, [over, full], [rank, rank + 1])
    assert math.isnan(first[0])
    assert then.tolist() == np.sort(full)[[rank, rank + 1]].tolist(), "the next row all the same"
    # One that is not asked may hold any number.
    rank = np.sort(over).tolist().index(200.5)
    assert picked(counts, [over], [rank]).tolist() == [[200.5]]


@pytest.mark.parametrize("row", [[3.0] * 5, [np.inf] * 4, [1.0, 2.0, np.inf], [-np.inf, 1.0, 2.0], [7.0]])
def test_a_row_without_a_width_is_left_as_it_is(counts, row):
    with np.errstate(invalid="ignore"):  # infinity less infinity
        assert picked(counts, [row, row], [0]).tolist() == [[-99.0]] * 2
        if len(row) > 1:
            after = [6.0, *range(1, len(row))]
            assert picked(counts, [row, after], [0]).tolist() == [[-99.0], [1.0]], "the next row all the same"


def test_sets_are_counted_one_by_one(counts):
    #            week 1, reps 5 to 6         week 2, reps 3 to 8
    reps = [[[4.999, 5.0, 6.3, 0.0], [2.5, 3.0, 9.9, 8.4]], [[1.2, 0.9, 2.0, 7.7], [3.1, 2.9, 0.4, 11.0]]]
    low, high = np.array([[5.0, 3.0], [1.0, 3.0]]), np.array([[6.0, 8.0], [2.0, np.inf]])
    counted = np.array([[True, True], [True, False]])
    lowest = np.array([[np.inf, np.inf, 1.0, np.inf], [np.inf, -2.0, np.inf, np.inf]])
    made, missed, done = np.full((2, 2), 4.0), np.zeros((2, 2)), np.full((2, 2), np.nan)
    counts.count_reps(np.array(reps), low, high, counted, lowest, made, missed, done)
    # Set 1: 5.0 and 6.3 are made; 4.999 is 4 whole reps, one short, and 0.0 is five short.
    # Set 2 of week 2 has no reps to be made: it leaves made and missed as they were.
    assert made.tolist() == [[2.0, 3.0], [3.0, 4.0]]
    assert missed.tolist() == [[6.0, 1.0], [1.0, 0.0]]
    assert done.tolist() == [[4 + 5 + 6 + 0, 2 + 3 + 8 + 8], [1 + 0 + 2 + 2, 3 + 2 + 0 + 11]]
    spare = [[min(4.999 - 5, 1.2 - 1), 0.9 - 1, 1.0, -5.0], [2.5 - 3, -2.0, 9.9 - 3, 8.4 - 3]]
    assert lowest == pytest.approx(np.array(spare), abs=1e-12)


def test_only_reps_that_are_meant_to_be_made_are_missed(counts, monkeypatch):
    monkeypatch.setattr(fused, "_counts", lambda: counts)
    # In turn: five reps; five in a week without the set; as many as leave two in reserve; to failure.
    column = np.ones((4, 1))
    low, high = np.array([[5.0], [5.0], [8.0], [0.0]]), np.array([[5.0], [5.0], [8.0], [np.inf]])
    active, leaves = np.array([[True], [False], [True], [True]]), np.array([[np.nan], [np.nan], [2.0], [np.nan]])
    asked = SetArrays(column, column, low, high, active, column, column, column, leaves)
    lowest = np.full((1, 2), np.inf)
    found = fused.counted(np.tile([4.5, 6.2], (4, 1, 1)), asked, lowest)
    assert found.made.ravel().tolist() == [1, 2, 2, 2]
    assert found.missed.ravel().tolist() == [1, 0, 0, 0]
    assert found.done.ravel().tolist() == [4 + 5, 0, 4 + 6, 4 + 6]
    assert lowest == pytest.approx(np.array([[4.5 - 5, 6.2 - 5]]), abs=1e-12)


def test_counting_nothing_is_counted(counts):
    counts.warm_up()
