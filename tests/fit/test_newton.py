"""Newton's method, exercise by exercise and with arrays, against one large matrix of all that is not known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.fit.dense_newton import LOG_RATE, POINT, USED, Dense, believed, given_by_others, log_chance
from workbench.fit import FitSettings
from workbench.fit.evidence_sets import LoggedSet
from workbench.fit.newton import _bent, _Newton
from workbench.fit.places import Point
from workbench.fit.sets_together import Kind, SetsTogether

#: The same sums in another order.
ROUNDING = 1e-10
#: Both read slopes 1e-5 ahead: of some ten digits that are left, one or two go.
SLOPES = 1e-8
#: A gain is read through the strength of its day here, by itself there: by that step, and some sets bend much by it.
STEPS = 3e-4


class Watched(_Newton):
    """Keeps where it stood before its last step."""

    def step(self):
        self.before = everything(self)
        return super().step()


def everything(one):
    """Return all unknowns in the order of `Dense`."""
    return np.concatenate([one.at, *(local.at for local in one.local)])


def problem(case="usual", point=POINT, kind=Watched, **settings):
    """Return the same problem twice: constants of tiring that are not known, or exact ones; or another curve."""
    exact, other = case == "exact", case == "other curve"
    what, given = believed(exact, **settings), given_by_others(none=exact)
    sets = SetsTogether(USED, given, LOG_RATE, what.form)
    return kind(sets, point, what, other_curve=other), Dense(USED, given, what, point, other_curve=other)


CASES = pytest.mark.parametrize("case", ["usual", "exact", "other curve"])


def moved_off(one):
    """Put everything somewhere that nothing is expected at."""
    rng = np.random.default_rng(1)
    one.at = one.at + 0.2 * np.sqrt(np.diag(one.prior)) * rng.standard_normal(one.size)
    for local in one.local:
        days = local.columns.size
        local.at = local.at + np.repeat([0.01, 0.3], [days + 1, days]) * rng.standard_normal(local.at.size)
    return everything(one)


def close(found, expected, tolerance):
    np.testing.assert_allclose(found, expected, rtol=tolerance, atol=tolerance * np.abs(expected).max())


@CASES
def test_it_starts_from_what_is_believed_and_where_the_search_found_the_lifter(case):
    fast, slow = problem(case)
    size, count = fast.size, fast.lifts
    assert size == slow.size
    np.testing.assert_allclose(fast.mean, slow.mean[:size], rtol=ROUNDING)
    np.testing.assert_allclose(fast.prior, slow.covariance[:size, :size], rtol=ROUNDING)
    assert len(fast.names) == size - count - 1
    assert fast.names[-count - 4 :] == ("usual rest", "bend", "later", "reserve", "gain", "gain")
    assert fast.names[: -count - 4] == (() if case == "exact" else fast.constants.form.parameter_names)
    np.testing.assert_array_equal(fast.at[: count + 1], [*POINT.log_endurance, POINT.log_rate])
    np.testing.assert_array_equal(fast.at[count + 1 :], fast.mean[count + 1 :])
    for local, log_one_rm in zip(fast.local, POINT.log_one_rm, strict=True):
        days = local.columns.size
        np.testing.assert_array_equal(local.at, [*[log_one_rm] * (days + 1), *[0.0] * days])


def test_what_is_taken_as_exact_keeps_a_spread_of_a_ten_millionth():
    fast, _ = problem(reserve_bias_sd=0.0, later_sd=0.0, bend_sd=0.0)
    np.testing.assert_allclose(np.sqrt(np.diag(fast.prior))[-5:-2], 1e-7, rtol=ROUNDING)


def test_a_point_must_tell_of_every_exercise():
    with pytest.raises(ValueError, match="zip"):
        problem(point=Point(POINT.log_one_rm, POINT.log_endurance[:1], POINT.log_rate))


@CASES
def test_reps_available_and_their_slopes_as_set_by_set(case):
    """Directions: strength, the day's rests, endurance, rate, constants, usual rest, bend and later."""
    fast, slow = problem(case)
    x = moved_off(fast)
    log_available, moves = fast.slopes()
    expected, all_moves, at = slow.log_available(x), slow.moves(x), 0
    column = 0
    for number, lift in enumerate(USED.lifts):
        start, days = slow.starts[number], slow.days[number]
        for day, one in enumerate(lift.sessions):
            spoken = [start + day, start + days + 1 + day, number, *range(fast.lifts, slow.rest + 3)]
            for row in range(len(one.sets)):
                assert log_available[row, column] == pytest.approx(expected[at], abs=ROUNDING)
                close(moves[:, row, column], all_moves[at, spoken], SLOPES)
                at += 1
            column += 1
    assert at == USED.set_count


@CASES
def test_a_step_is_that_of_one_large_matrix(case):
    fast, slow = problem(case)
    x = moved_off(fast)
    precision, slope = slow.linearised(x)
    whole = np.linalg.solve(precision, slope)
    full = fast.step()
    inner = slice(fast.size, None)
    outer = slice(None, fast.size)
    summed_over = precision[outer, inner] @ np.linalg.solve(precision[inner, inner], precision[inner, outer])
    close(fast.curvature, precision[outer, outer] - summed_over, STEPS)
    narrowed = np.linalg.slogdet(precision[inner, inner])[1] + np.linalg.slogdet(slow.covariance[inner, inner])[1]
    assert fast.narrowed == pytest.approx(narrowed, rel=STEPS)
    share = share_of(whole, slow)
    close(full, share * whole[outer], STEPS)
    close(everything(fast) - x, share * whole, STEPS)


def share_of(whole, slow):
    """Return how much of a step is gone: 0.08 of a day's strength, 0.25 of an endurance, one sd of all else at most."""
    sds = np.sqrt(np.diag(slow.covariance))
    far = [*np.abs(whole[: slow.lifts]) / 0.25, *(np.abs(whole) / sds)[slow.lifts : slow.size]]
    for start, days in zip(slow.starts, slow.days, strict=False):
        far += [*np.abs(whole[start : start + days]) / 0.08]
    return 1.0 / max(1.0, *far)


@pytest.mark.parametrize(
    ("point", "limit"),
    [
        (Point(np.log([80.0, 141.0]), np.log([0.031, 0.027]), 0.1), "strength"),
        (Point(np.log([101.0, 141.0]), np.log([0.031, 0.075]), 0.1), "endurance"),
        (Point(np.log([101.0, 141.0]), np.log([0.031, 0.027]), 1.6), "sds"),
    ],
)
def test_no_step_goes_farther_than_its_limits(point, limit):
    fast, slow = problem(point=point)
    x = everything(fast)
    whole = np.linalg.solve(*slow.linearised(x))
    share, size = share_of(whole, slow), fast.size
    assert share < 0.97
    moved = everything(fast)
    fast.step()
    moved = everything(fast) - x
    close(moved, share * whole, STEPS)
    sds = np.sqrt(np.diag(slow.covariance))
    farthest = {
        "strength": max(np.abs(moved[s : s + d]).max() for s, d in zip(slow.starts, slow.days, strict=False)) / 0.08,
        "endurance": np.abs(moved[: fast.lifts]).max() / 0.25,
        "sds": (np.abs(moved) / sds)[fast.lifts : size].max(),
    }
    assert farthest.pop(limit) == pytest.approx(1.0, rel=1e-3)
    assert max(farthest.values()) < 0.99


def test_a_step_within_its_limits_is_gone_whole():
    fast, slow = problem()
    fast.solve()
    fast.last, fast.pace, x = np.zeros(fast.size), 1.0, everything(fast)
    whole = np.linalg.solve(*slow.linearised(x))
    assert share_of(whole, slow) == 1.0
    fast.step()
    moved = everything(fast) - x
    # The last steps are small beside the rounding of slopes.
    assert moved @ whole / (whole @ whole) == pytest.approx(1.0, rel=0.01)


@pytest.mark.parametrize(("ending", "available"), [("stated", 17.27), ("felt", 15.92)])
def test_a_set_that_bends_upwards_whatever_moves_counts_as_straight(ending, available):
    """One rep, none said to be left, where some 15 were: as good as a mistake in the log, in either direction."""
    one, settings = LoggedSet(0, 80.0, 1, ending, 0.0, 0.0), FitSettings()
    f = {
        (i, j): log_chance(
            one,
            np.log(available) + 0.7 * settings.set_log_sd * i,
            replace(settings, reserve=replace(settings.reserve, bias_at_turn=settings.reserve.bias_at_turn + 0.5 * j)),
        )
        for i in (-1, 0, 1)
        for j in (-1, 0, 1)
    }
    upwards = [f[1, 0] - 2 * f[0, 0] + f[-1, 0], f[0, 1] - 2 * f[0, 0] + f[0, -1]]
    assert min(upwards) > 0.0
    bias = settings.reserve.bias_at_turn + np.array([0.0, -0.5, 0.5])[:, None, None]
    biased = replace(settings, reserve=replace(settings.reserve, bias_at_turn=bias))
    slope, bend = _bent(Kind.of([(0, 0, one)]), np.log([available]), biased)
    np.testing.assert_allclose(bend, 0.0, atol=1e-12)
    np.testing.assert_allclose(slope[0, 1], f[0, 1] - f[0, -1], rtol=1e-6)


def test_after_a_way_back_steps_are_half_as_long():
    """Back is what goes against the last step, as the bend of all measures it; halved again at each turn."""
    lengths = []
    for turns in (0, 1, 2):
        fast, _ = problem()
        full = fast.step()
        fast, _ = problem()
        fast.last, fast.pace = (-1.0 if turns else 1.0) * full, 0.5 if turns == 2 else 1.0
        before = everything(fast)
        # What is returned is how far it would have gone: it says whether all has settled.
        np.testing.assert_allclose(fast.step(), full, rtol=ROUNDING)
        lengths.append(everything(fast) - before)
    np.testing.assert_allclose(lengths[1], 0.5 * lengths[0], rtol=ROUNDING)
    np.testing.assert_allclose(lengths[2], 0.25 * lengths[0], rtol=ROUNDING)


class Told(Watched):
    """Says of its steps that they were so long, in prior sds, the first unknown alone, downwards."""

    def step(self):
        super().step()
        self.seen.append((self.settings.set_log_sd, self.pace))
        said = np.zeros(self.size)
        said[0] = -next(self.lengths) * np.sqrt(self.prior[0, 0])
        return said


@pytest.mark.parametrize(
    ("other", "lengths", "times"),
    [
        (False, [0.2, 0.06, 0.049], [1.0] * 3),
        (False, [0.2, 0.1, 0.051] * 9, [1.0] * 12),
        (True, [1.0, 0.04, 1.0, 0.04, 1.0, 0.04, 1.0, 0.04], [10.0, 10.0, 4.0, 4.0, 1.6, 1.6, 1.0, 1.0]),
        (True, [0.1] * 99, [10.0] * 6 + [4.0] * 6 + [1.6] * 6 + [1.0] * 12),
    ],
)
def test_it_ends_with_a_step_of_a_twentieth_sd_or_after_twelve(other, lengths, times):
    """Another curve is looked for from afar first, by ten, four and 1.6 times the scatter of a set."""
    one, _ = problem("other curve" if other else "usual", kind=Told)
    one.lengths, one.seen = iter(lengths), []
    usual = one.settings
    one.pace = 0.125  # forgotten
    one.solve()
    np.testing.assert_allclose([sd / usual.set_log_sd for sd, _ in one.seen], times, rtol=ROUNDING)
    assert one.seen[0][1] == 1.0
    assert one.settings is usual


@pytest.fixture(scope="module", params=["usual", "exact", "other curve"])
def solved(request):
    """A search that has ended, what it found, and the covariance of all as one large matrix has it."""
    fast, slow = problem(request.param)
    found = fast.solve()
    precision, _ = slow.linearised(fast.before)
    return fast, slow, found, np.linalg.inv(precision), precision


def test_what_is_found_is_most_probable(solved):
    """The slope of the log of all, read over a part of the scatter of a set, is as good as none: a step of 0.05 sd."""
    fast, slow, _, _, _ = solved
    precision, slope = slow.linearised(everything(fast))
    left = np.abs(np.linalg.solve(precision, slope)[: fast.size]) / np.sqrt(np.diag(fast.prior))
    assert left.max() < 0.05


def test_what_no_grid_holds_is_known_as_one_large_matrix_has_it(solved):
    fast, slow, found, covariance, _ = solved
    held = slice(fast.lifts + 1, fast.size)
    close(found.covariance, covariance[held, held], STEPS)
    np.testing.assert_array_equal(found.mean, fast.at[held])
    np.testing.assert_allclose(found.prior_sd, np.sqrt(np.diag(slow.covariance))[held], rtol=ROUNDING)
    assert found.names == fast.names
    assert found.constants is fast.constants


def today(slow):
    """Return what takes everything to the 1RM today, the endurance of each exercise, and the recovery rate."""
    rows = np.zeros((2 * slow.lifts + 1, slow.starts[-1]))
    for number in range(slow.lifts):
        rows[2 * number, slow.starts[number] + slow.days[number]] = 1.0
        rows[2 * number, slow.rest + 4 + number] = slow.weeks(number)[-1]  # gains up to the last session
        rows[2 * number + 1, number] = 1.0
    rows[-1, slow.lifts] = 1.0
    return rows


def test_the_rest_moves_with_what_no_grid_holds_as_one_large_matrix_has_it(solved):
    """How one part of a normal distribution moves with another: their covariance over its own."""
    fast, slow, found, covariance, _ = solved
    held = slice(fast.lifts + 1, fast.size)
    rows = today(slow)
    moves = rows @ covariance[:, held] @ np.linalg.inv(covariance[held, held])
    close(found.with_lifts.reshape(-1, moves.shape[1]), moves[:-1], STEPS)
    close(found.with_rate, moves[-1], STEPS)


def test_where_a_lifter_is_likely_with_other_values_held(solved):
    fast, slow, found, covariance, precision = solved
    held = slice(fast.lifts + 1, fast.size)
    values = found.mean + 0.3 * found.prior_sd
    likely = fast.likely(found, values)
    rows, x = today(slow), everything(fast)
    moves = rows @ covariance[:, held] @ np.linalg.inv(covariance[held, held])
    expected = rows @ x + moves @ (values - found.mean)
    at = [*np.column_stack([likely.at.log_one_rm, likely.at.log_endurance]).ravel(), likely.at.log_rate]
    np.testing.assert_allclose(at, expected, atol=STEPS * np.abs(expected - rows @ x).max())
    # With these held, what is left of the others is what precision they have without them.
    others = np.delete(np.arange(slow.starts[-1]), np.arange(slow.size)[held])
    sds = np.sqrt(np.diag(np.linalg.inv(precision[np.ix_(others, others)])))[: fast.lifts + 1]
    np.testing.assert_allclose([*likely.endurance_sd, likely.rate_sd], sds, rtol=STEPS)


def test_evidence_is_as_high_and_as_wide_as_one_large_matrix_has_it(solved):
    """After Laplace; endurances have their own tails, which stood in as normal where the search began."""
    fast, slow, _, _, precision = solved
    x, before = everything(fast), np.linalg.inv(slow.covariance)
    expected = slow.log_chances(x).sum() - 0.5 * (x - slow.mean) @ before @ (x - slow.mean)
    expected -= 0.5 * (np.linalg.slogdet(precision)[1] - np.linalg.slogdet(before)[1])
    # The 1RM today is in no set: at its likeliest given the strengths of the days it adds nothing.
    for number, prior in enumerate(slow.what.priors):
        today_at = slow.starts[number] + slow.days[number]
        off = before[today_at] @ (x - slow.mean)
        expected += 0.5 * off**2 / before[today_at, today_at]
        z = (x[number] - prior.endurance.log_mean) / prior.endurance.log_sd
        tails = 0.97 * np.exp(-0.5 * z**2) + 0.03 / 2.5 * np.exp(-0.5 * (z / 2.5) ** 2)
        sd = np.sqrt(slow.covariance[number, number])
        stood_in = np.exp(-0.5 * ((x[number] - slow.mean[number]) / sd) ** 2) / sd
        expected += np.log(tails / prior.endurance.log_sd / stood_in)
    assert fast.log_evidence(slow.what) == pytest.approx(expected, abs=1e-3)
