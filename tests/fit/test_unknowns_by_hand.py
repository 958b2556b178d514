"""Constants of tiring, places where a lifter may lie, and what an earlier log spoke of, each by its own equation."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest
from scipy.special import logit

from workbench.fit.priors import Kept
from workbench.fit.unknowns import Constants, Elsewhere, Unknowns, constants_of, start_from
from workbench.lifter.belief import ALL
from workbench.lifter.file import BEND, RECOVERY
from workbench.models.fatigue import DEFAULT_FORM, ONE_STATE
from workbench.reference.parameters import fatigue_draws, fatigue_typical

#: The same sums in another order.
ROUNDING = 1e-10

#: A form of four constants: power, slow share, fast and slow time.
ROOT = np.array([[0.3, 0.0, 0.0, 0.0], [0.1, 0.5, 0.0, 0.0], [-0.2, 0.1, 0.4, 0.0], [0.0, 0.2, -0.1, 0.6]])
MIDDLE = np.array([np.log(0.5), np.log(1 / 3), np.log(60.0), np.log(900.0)])
SPREAD = Constants(ONE_STATE, MIDDLE, MIDDLE - 1.0, MIDDLE + np.array([1.0, 1.0, 1.0, 0.5]), ROOT)


def test_constants_by_hand():
    """A quarter is odds of one in three; one sd of the second moves its odds, the third and the fourth constant."""
    found = SPREAD.parameters(np.array([[0.0, 0.0, 0.0, 0.0], [0.0, 1.0, 0.0, 0.0]]))
    np.testing.assert_allclose(found.power, [0.5, 0.5], rtol=ROUNDING)
    odds = np.array([1 / 3, np.exp(0.5) / 3])
    np.testing.assert_allclose(found.slow_share, odds / (1.0 + odds), rtol=ROUNDING)
    np.testing.assert_allclose(found.fast_tau_s, [60.0, 60.0 * np.exp(0.1)], rtol=ROUNDING)
    np.testing.assert_allclose(found.slow_tau_s, [900.0, 900.0 * np.exp(0.2)], rtol=ROUNDING)
    # Never farther than the published sets: the fourth by half, the first by one.
    far = SPREAD.parameters(np.array([-9.0, 0.0, 0.0, 9.0]))
    assert far.slow_tau_s == pytest.approx(900.0 * np.exp(0.5))
    assert far.power == pytest.approx(0.5 * np.exp(-1.0))


def test_the_spread_of_constants_is_that_of_2000_published_sets():
    found, drawn = constants_of(DEFAULT_FORM), fatigue_draws(2000, np.random.default_rng(0), DEFAULT_FORM)
    typical = fatigue_typical(DEFAULT_FORM)
    rows, middle = [], []
    for name in DEFAULT_FORM.parameter_names:
        scale = logit if name.endswith("_share") else np.log
        rows.append(scale(np.ravel(getattr(drawn, name))))
        middle.append(scale(getattr(typical, name)))
    assert any(name.endswith("_share") for name in DEFAULT_FORM.parameter_names)
    rows = np.array(rows)
    np.testing.assert_allclose(found.middle, middle, rtol=ROUNDING)
    np.testing.assert_allclose(found.low, [row.min() for row in rows], rtol=ROUNDING)
    np.testing.assert_allclose(found.high, [row.max() for row in rows], rtol=ROUNDING)
    off = rows - rows.mean(axis=1, keepdims=True)
    np.testing.assert_allclose(found.root @ found.root.T, off @ off.T / 1999.0, rtol=1e-8, atol=1e-12)


# Places where a lifter may lie

NAMES = (*ONE_STATE.parameter_names, "usual rest", "bend", "later", "reserve", "gain", "gain")


def unknowns(seed, other=None):
    """Everything goes with everything: two exercises."""
    rng, size = np.random.default_rng(seed), len(NAMES)
    root = 0.3 * rng.standard_normal((size, size))
    return Unknowns(
        names=NAMES,
        prior_sd=np.ones(size),
        mean=0.5 * rng.standard_normal(size),
        covariance=root @ root.T,
        with_lifts=0.1 * rng.standard_normal((2, 2, size)),
        with_rate=0.2 * rng.standard_normal(size),
        constants=SPREAD,
        other=other,
    )


HERE, LATER = unknowns(1), NAMES.index("later")
THERE = Elsewhere(0.3, unknowns(2), np.array([[0.2, -0.1], [0.05, 0.3]]), -0.25)
BOTH = unknowns(1, THERE)


def test_grids_are_read_with_typical_constants_and_later_sets_by_the_form():
    held = [0.0, 0.0, 0.0, 0.0, HERE.mean[4], HERE.mean[5], 0.0, *HERE.mean[7:]]
    np.testing.assert_array_equal(HERE.held, held)
    np.testing.assert_array_equal(HERE.beyond, [*HERE.mean[:4], *[0.0] * 6])
    assert HERE.of("gain").tolist() == [8, 9]
    told = HERE.tiring(np.stack([HERE.mean, HERE.held]))
    np.testing.assert_allclose(told.fast_tau_s[1], 60.0)
    np.testing.assert_allclose(told.fast_tau_s[0], 60.0 * np.exp((ROOT @ HERE.mean[:4])[2]), rtol=ROUNDING)


def test_one_of_several_of_a_kind_is_found_by_its_number():
    assert HERE.learned("gain") == HERE.learned("gain", 0)
    for number in (0, 1):
        found, there = HERE.learned("gain", number), THERE.unknowns.learned("gain", number)
        assert found.mean == HERE.mean[8 + number]
        assert found.sd == pytest.approx(HERE.covariance[8 + number, 8 + number] ** 0.5, rel=ROUNDING)
        mixed = BOTH.learned("gain", number)
        assert mixed.mean == pytest.approx(0.7 * found.mean + 0.3 * there.mean, rel=ROUNDING)
        second = 0.7 * (found.sd**2 + found.mean**2) + 0.3 * (there.sd**2 + there.mean**2)
        assert mixed.sd == pytest.approx((second - mixed.mean**2) ** 0.5, rel=ROUNDING)


def place_of(one, moves, off=0.0):
    """Mean and variance of what moves so with all unknowns: constants from typical, later sets from none."""
    variance = sum(moves[i] * moves[j] * one.covariance[i, j] for i in range(len(NAMES)) for j in range(len(NAMES)))
    return off + sum(moves[i] * one.mean[i] for i in range(4)), variance + (moves[LATER] * one.mean[LATER]) ** 2


@pytest.mark.parametrize("which", [(0, 0), (0, 1), (1, 0), (1, 1), "rate"])
def test_how_far_a_quantity_lies_from_the_grids_and_how_sure(which):
    def moves(one):
        return one.with_rate if which == "rate" else one.with_lifts[which]

    def found(one):
        return one.of_rate() if which == "rate" else one.of_lift(*which)

    mean, variance = place_of(HERE, moves(HERE))
    assert found(HERE) == pytest.approx((mean, variance**0.5), rel=ROUNDING)
    off = THERE.rate if which == "rate" else THERE.lifts[which]
    other, of_other = place_of(THERE.unknowns, moves(THERE.unknowns), off)
    together = 0.7 * mean + 0.3 * other
    second = 0.7 * (variance + mean**2) + 0.3 * (of_other + other**2)
    assert found(BOTH) == pytest.approx((together, (second - together**2) ** 0.5), rel=1e-8)


def test_draws_have_the_mean_and_the_covariance_of_all_and_move_the_rest():
    """20,000 draws know a mean to 0.7 % of an sd and a covariance to about 1 % of the sds."""
    values, lifts, rate = HERE.draws(20_000, np.random.default_rng(1))
    assert values.shape == (20_000, len(NAMES))
    assert np.all(values[:, LATER] == 0.0)
    free = np.delete(np.arange(len(NAMES)), LATER)
    sds = np.sqrt(np.diag(HERE.covariance))
    off = (values.mean(axis=0) - HERE.mean) / sds
    assert np.abs(off[free]).max() < 0.03
    spread = (np.cov(values.T) - HERE.covariance) / np.outer(sds, sds)
    assert np.abs(spread[np.ix_(free, free)]).max() < 0.05
    moved = values - HERE.held
    for exercise, quantity in np.ndindex(2, 2):
        expected = moved @ HERE.with_lifts[exercise, quantity]
        np.testing.assert_allclose(lifts[:, exercise, quantity], expected, atol=ROUNDING)
    np.testing.assert_allclose(rate, moved @ HERE.with_rate, atol=ROUNDING)


def test_draws_lie_in_either_place():
    values, lifts, rate = BOTH.draws(2000, np.random.default_rng(1))
    steps = {}
    for of, lift_off, rate_off in ((HERE, 0.0, 0.0), (THERE.unknowns, THERE.lifts, THERE.rate)):
        moved = values - of.held
        moved[:, LATER] = 0.0
        expected = np.einsum("du,elu->del", moved, of.with_lifts) + lift_off
        on_lift = np.abs(lifts - expected).max(axis=(1, 2)) < ROUNDING
        on_rate = np.abs(rate - moved @ of.with_rate - rate_off) < ROUNDING
        np.testing.assert_array_equal(on_lift, on_rate)
        steps[of is HERE] = on_lift
    assert np.all(steps[True] != steps[False])
    # 0.3 of 2,000 scatters by 0.01.
    assert steps[False].mean() == pytest.approx(0.3, abs=0.04)


# What an earlier log spoke of

LIFTS = [SimpleNamespace(exercise="back squat"), SimpleNamespace(exercise="bench press")]
RESERVE = (ALL, "stated reserve")
OF_FORM = tuple((ALL, name) for name in ONE_STATE.parameter_names)
OF_LIFTS = (("back squat", "endurance"), ("bench press", "endurance"), RECOVERY)


def kept(*names):
    """What a file keeps, in another order and with more than is asked for; all goes with all."""
    names = (("bench press", "1RM"), *names[::-1])
    rng = np.random.default_rng(3)
    root = 0.2 * rng.standard_normal((len(names), len(names)))
    return Kept(names, rng.standard_normal(len(names)), root @ root.T)


def started(what, constants):
    """Mean and covariance after the start, from values that tell what was left as it was."""
    size = 3 + (0 if constants is None else 4) + 4 + 2
    mean, covariance = 100.0 + np.arange(size), np.full((size, size), 50.0) + np.diag(np.arange(size))
    before = mean.copy(), covariance.copy()
    start_from(what, LIFTS, constants, mean, covariance)
    return mean, covariance, before


@pytest.mark.parametrize("more", [(), (RESERVE,), (BEND,), (RESERVE, BEND)])
@pytest.mark.parametrize("of_form", [(), OF_FORM[:2], OF_FORM])
@pytest.mark.parametrize("constants", [None, SPREAD])
def test_a_fit_starts_from_what_an_earlier_log_spoke_of(constants, of_form, more):
    """Constants count only if all are kept; then in sds that are independent, where theirs are logs or log odds."""
    what = kept(*OF_LIFTS, *of_form, *more)
    mean, covariance, (mean_before, covariance_before) = started(what, constants)
    # Where each name stands among the unknowns: usual rest, bend, later and reserve come before the two gains.
    size = mean.size
    places = dict(zip(OF_LIFTS, range(3), strict=True))
    places |= {name: size - 2 - back for name, back in ((RESERVE, 1), (BEND, 3)) if name in more}
    if constants is not None and of_form == OF_FORM:
        places |= {name: 3 + at for at, name in enumerate(OF_FORM)}
    expected, together = {}, {}
    rows = np.eye(len(what.names))
    middle = np.zeros(len(what.names))
    if constants is not None and of_form == OF_FORM:
        at = [what.names.index(name) for name in OF_FORM]
        middle[at] = MIDDLE
        rows[np.ix_(at, at)] = np.linalg.inv(ROOT)
    for name, place in places.items():
        row = rows[what.names.index(name)]
        expected[place] = row @ (what.mean - middle)
        for other, elsewhere in places.items():
            together[place, elsewhere] = row @ what.covariance @ rows[what.names.index(other)]
    for place in range(size):
        assert mean[place] == pytest.approx(expected.get(place, mean_before[place]), rel=1e-9)
        for other in range(size):
            if place in expected or other in expected:
                least = 1e-8 if place == other else 0.0  # so that rounded numbers leave a distribution
                value = together.get((place, other), 0.0) + least
            else:
                value = covariance_before[place, other]
            assert covariance[place, other] == pytest.approx(value, rel=1e-7, abs=1e-10)


def test_what_is_kept_as_exact_leaves_a_distribution():
    what = kept(*OF_LIFTS)
    what.covariance[:] = 0.0
    _, covariance, _ = started(what, None)
    np.testing.assert_allclose(np.diag(covariance)[:3], 1e-8, rtol=ROUNDING)
