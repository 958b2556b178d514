"""A posterior on finer points, and lifters drawn from it, where all is a normal distribution in closed form."""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
import pytest

from workbench.fit import learned as module
from workbench.fit.carried import CarryOver
from workbench.fit.filtering import Filtered
from workbench.fit.joint import FittedLift
from workbench.fit.learned import Learned
from workbench.fit.likelihood import Grid
from workbench.fit.marginals import LogNormal, Marginal
from workbench.lifter.belief import Belief
from workbench.lifter.file import SHARED

NAMES = ("back squat", "bench press")
RATES, STRENGTHS = np.linspace(-0.6, 0.6, 9), np.linspace(4.3, 4.9, 61)
COUNT = 20_000
#: The bells of strength end some 3.6 sds out.
CUT_OFF = 1e-5
#: Standard errors of a mean, and of an sd, of so many draws, times five.
MEAN, SD = 5 / math.sqrt(COUNT), 5 / math.sqrt(2 * COUNT)


def endurances(lane):
    return np.linspace(-4.1, -2.9, 11) + 0.2 * lane


def strength_of(rate, k, lane):
    """The middle of the strengths at a rate and an endurance."""
    return 4.6 - 0.05 * lane + 0.1 * rate - 0.1 * (k + 3.5)


def evidence_of(rate, k, lane):
    return -0.5 * ((rate - 0.05) / 0.3) ** 2 - 0.5 * ((k + 3.45 - 0.2 * lane + 0.5 * rate) / 0.2) ** 2


def lift_of(lane):
    """A lift with bells of sd 0.03 in strength; its evidence lies a thousand logs below one."""
    rate, k, strength = np.ix_(RATES, endurances(lane), STRENGTHS)
    today = np.exp(-0.5 * ((strength - strength_of(rate, k, lane)) / 0.03) ** 2)
    filtered = Filtered(evidence_of(rate, k, lane)[:, :, 0] - 1000.0, today / today.sum(axis=2, keepdims=True))
    return FittedLift(NAMES[lane], None, Grid(RATES, endurances(lane), STRENGTHS), filtered, None, None)


def learned_of(**keys):
    fit = {"lifts": (lift_of(0), lift_of(1)), "rate": "rate", "joint": SimpleNamespace(log_rate=RATES)}
    return Learned(SimpleNamespace(**fit | {"unknowns": None, "carry_over": None} | keys))


def test_the_posterior_is_read_on_four_times_as_many_points(monkeypatch):
    """The finer points lie on the same bells, first those of endurance, then those of the rate."""
    combined = []
    monkeypatch.setattr(module, "combine", lambda lifts, *of: combined.append((list(lifts), *of)) or len(combined))
    learned = learned_of()
    ridge, fine = learned._ridge, learned._fine
    assert (ridge[1], fine[1]) == (1, 2)
    finer_rates = np.linspace(-0.6, 0.6, 33)
    for (lifts, _), (combined_lifts, rate, log_rate), rates in (
        (ridge, combined[0], RATES),
        (fine, combined[1], finer_rates),
    ):
        assert tuple(combined_lifts) == lifts
        assert rate == "rate"
        assert log_rate == pytest.approx(rates)
        for lane, lift in enumerate(lifts):
            finer = np.linspace(-4.1, -2.9, 41) + 0.2 * lane
            assert lift.grid.log_rate == pytest.approx(rates)
            assert lift.grid.log_endurance == pytest.approx(finer)
            evidence = evidence_of(rates[:, None], finer, lane)
            found = lift.filtered.log_evidence
            assert found - found.max() == pytest.approx(evidence - evidence.max(), abs=CUT_OFF)
    for lane, lift in enumerate(ridge[0]):
        assert lift.filtered.today.sum(axis=2) == pytest.approx(np.ones((9, 41)))
        middles = strength_of(RATES[:, None], lift.grid.log_endurance, lane)
        assert lift.filtered.today @ STRENGTHS == pytest.approx(middles, abs=CUT_OFF)


# ---- draws -----------------------------------------------------------------------------------------------------------

NODES = np.array([-1.0, 0.0, 2.0])
SHARES = np.array([0.3, 0.5, 0.2])


def bell(points, mean, sd):
    weights = np.exp(-0.5 * ((points - mean) / sd) ** 2)
    return weights / weights.sum(axis=-1, keepdims=True)


@pytest.fixture
def drawn(monkeypatch):
    """Draw from bells: who has more of the shared part recovers faster, and tires sooner in both exercises."""
    monkeypatch.setattr(module, "shared_nodes", lambda: (NODES, None, None, None))
    monkeypatch.setattr(module, "carry_prior", lambda lifter: LogNormal(0.1, 0.3))
    fine_rates = np.linspace(-0.6, 0.6, 33)
    shared = SHARES[:, None] * bell(fine_rates, 0.1 * NODES[:, None], 0.1)
    lifts, given = [], []
    for lane in range(2):
        points = np.linspace(-4.1, -2.9, 41) + 0.2 * lane
        centre = -3.5 + 0.2 * lane + 0.1 * NODES[:, None, None] - 0.3 * fine_rates[:, None]
        lifts.append(SimpleNamespace(grid=Grid(fine_rates, points, STRENGTHS)))
        given.append(bell(points, centre, 0.08))
    joint = SimpleNamespace(shared=shared, log_rate=fine_rates, given_shared=given)
    lifter = SimpleNamespace(of_all={SHARED: Belief.normal(0.5, 2.0)}, bend=lambda curve: None)

    def draws(**keys):
        learned = learned_of(lifter=lifter, curve=None, **keys)
        vars(learned).update(_ridge=(learned.fit.lifts, None), _fine=(tuple(lifts), joint))
        return learned.draws(COUNT, np.random.default_rng(8))

    return draws


def test_draws_go_together_as_the_grids_say(drawn):
    found = drawn()
    assert found.exercises == NAMES
    assert sorted(set(found.shared)) == pytest.approx([-1.5, 0.5, 4.5])
    log_rate, log_k = np.log(found.recovery_rate), np.log(found.endurance)
    for node, share in zip(NODES, SHARES, strict=True):
        here = found.shared == 0.5 + 2.0 * node
        few = math.sqrt(1 / share)
        assert here.mean() == pytest.approx(share, abs=MEAN / 2)
        cell = 0.0375 / math.sqrt(12)
        assert log_rate[here].mean() == pytest.approx(0.1 * node, abs=0.1 * MEAN * few)
        assert log_rate[here].std() == pytest.approx(math.hypot(0.1, cell), rel=SD * few)
        for lane in range(2):
            off = log_k[here, lane] - (-3.5 + 0.2 * lane + 0.1 * node - 0.3 * log_rate[here])
            # The endurance goes with the point of the rate, not with its place inside the cell.
            assert off.mean() == pytest.approx(0.0, abs=0.08 * MEAN * few)
            assert off.std() == pytest.approx(math.hypot(0.08, 0.03 / math.sqrt(12), 0.3 * cell), rel=SD * few)
    for lane in range(2):
        off = found.log_one_rm[:, lane] - strength_of(log_rate, log_k[:, lane], lane)
        assert off.mean() == pytest.approx(0.0, abs=0.03 * MEAN)
        assert off.std() == pytest.approx(0.03, rel=SD)
    log_carry = np.log(found.carry_over)
    assert log_carry.mean() == pytest.approx(0.1, abs=0.3 * MEAN)
    assert log_carry.std() == pytest.approx(0.3, rel=SD)
    assert (found.gain.shape, found.gain.any(), found.reserve_bias.shape) == ((COUNT, 2), False, (COUNT,))
    assert (found.reserve_bias.any(), found.bend, found.tiring) == (False, None, None)


def test_everything_moves_with_the_carry_over(drawn):
    """By how far the factor lies from its median, in the proportions that were found."""
    points = 0.2 + 0.25 * np.linspace(-5.0, 5.0, 81)
    carried = CarryOver(
        LogNormal(0.0, 0.3), Marginal(points, bell(points, 0.2, 0.25)), 9, np.array([[0.1, -0.2], [0.05, 0.3]]), 0.4
    )
    without, found = drawn(), drawn(carry_over=carried)
    log_carry = np.log(found.carry_over)
    assert log_carry.mean() == pytest.approx(0.2, abs=0.25 * MEAN)
    assert log_carry.std() == pytest.approx(0.25, rel=SD)
    off = found.carry_over - math.exp(0.2)
    for lane in range(2):
        moved = found.log_one_rm[:, lane] - without.log_one_rm[:, lane]
        np.testing.assert_allclose(moved, carried.with_lifts[lane, 0] * off, atol=1e-6)
        moved = np.log(found.endurance[:, lane] / without.endurance[:, lane])
        np.testing.assert_allclose(moved, carried.with_lifts[lane, 1] * off, atol=1e-6)
    np.testing.assert_allclose(np.log(found.recovery_rate / without.recovery_rate), 0.4 * off, atol=1e-6)


@pytest.mark.parametrize("constants", [None, "some"])
def test_everything_moves_with_what_no_grid_holds(drawn, constants):
    own = np.linspace(-1.0, 1.0, COUNT)
    values = own[:, None] + np.arange(4.0)
    moved = 0.01 * own[:, None, None] + np.array([[0.01, 0.02], [0.03, 0.04]])
    unknowns = SimpleNamespace(
        of={"gain": np.array([1, 2]), "reserve": np.array([0]), "bend": np.array([3])}.__getitem__,
        draws=lambda count, rng: (values, moved, 0.5 * own) if count == COUNT else None,
        constants=constants,
        tiring=lambda shaped: ("tiring", shaped.shape),
    )
    without, found = drawn(), drawn(unknowns=unknowns)
    np.testing.assert_allclose(found.log_one_rm - without.log_one_rm, moved[..., 0], atol=1e-12)
    np.testing.assert_allclose(np.log(found.endurance / without.endurance), moved[..., 1], atol=1e-12)
    np.testing.assert_allclose(np.log(found.recovery_rate / without.recovery_rate), 0.5 * own, atol=1e-12)
    assert np.array_equal(found.gain, values[:, [1, 2]])
    assert np.array_equal(found.reserve_bias, values[:, 0])
    assert np.array_equal(found.bend, values[:, 3])
    assert found.tiring == (None if constants is None else ("tiring", (COUNT, 1, 4)))
