"""The fresh load-reps curve and its rivals: hand-solved values, limits, inverses."""

import itertools
import math
from dataclasses import dataclass

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from workbench.models.load_reps import (
    CURVES,
    MOST_REPS,
    Curve,
    Exponential,
    endurance_from_set,
    load_fraction_for,
    reps_to_failure,
    studied,
)
from workbench.models.load_reps_rivals import (
    AsymptoticExponential,
    CriticalLoad,
    PowerLaw,
    asymptotic_load_fraction,
    asymptotic_reps,
    critical_load_fraction,
    critical_load_reps,
    power_law_load_fraction,
    power_law_reps,
)
from workbench.quantities import InputError

#: The hand-worked values are printed to four decimals.
HAND_ATOL = 0.00006
#: Two orders of the same few operations on doubles differ by no more.
ROUNDING_RTOL = 1e-12
#: exp and log undo each other to a few units in the last place, which many reps multiply.
ROUND_TRIP_RTOL = 1e-9

ENDURANCES = st.floats(0.005, 0.2)
REPS = st.floats(0.0, 60.0)
FRACTIONS = st.floats(0.05, 1.5)
CURVE_NAMES = sorted(CURVES)


@pytest.mark.parametrize(
    ("load_fraction", "endurance", "reps"),
    [
        (1.0, 0.035, 1.0),  # ln 1 = 0
        (0.9, 0.035, 4.0103),  # ln(1/0.9) = 0.1053605; / 0.035 = 3.0103
        (0.8, 0.035, 7.3755),  # ln(1/0.8) = 0.2231436; / 0.035 = 6.3755
        (0.7, 0.025, 15.2670),  # ln(1/0.7) = 0.3566749; / 0.025 = 14.2670
        (0.5, 0.05, 14.8629),  # ln 2 = 0.6931472; / 0.05 = 13.8629
        (1.02, 0.04, 0.5049),  # ln 1.02 = 0.0198026; / 0.04 = 0.4951; 1 - 0.4951
    ],
)
def test_reps_worked_by_hand(load_fraction, endurance, reps):
    assert abs(float(reps_to_failure(load_fraction, endurance)) - reps) <= HAND_ATOL


@pytest.mark.parametrize(
    ("reps", "endurance", "load_fraction"),
    [
        (1, 0.035, 1.0),  # exp 0
        (5, 0.035, 0.8694),  # exp(-0.14) = 0.869358
        (10, 0.035, 0.7298),  # exp(-0.315) = 0.729789
        (20, 0.025, 0.6219),  # exp(-0.475) = 0.621885
        (0, 0.04, 1.0408),  # exp(0.04) = 1.040811
    ],
)
def test_load_fraction_worked_by_hand(reps, endurance, load_fraction):
    assert abs(float(load_fraction_for(reps, endurance)) - load_fraction) <= HAND_ATOL


def test_one_rm_and_endurance_worked_by_hand():
    # 80 * exp(0.035 * 7) = 80 * exp(0.245) = 80 * 1.2776213 = 102.2097
    assert abs(float(80 / load_fraction_for(8, 0.035)) - 102.2097) <= HAND_ATOL
    # ln(1/0.8) / (7 - 1) = 0.2231436 / 6 = 0.0371906
    assert abs(float(endurance_from_set(0.8, 7)) - 0.0372) <= HAND_ATOL


def test_over_the_maximum_reps_fall_below_one_and_stop_at_zero():
    k = 0.04
    reps = reps_to_failure([1.0, 1.01, math.exp(k), 1.2, 5.0], k)
    assert reps[0] == 1.0
    assert 0.0 < reps[1] < 1.0
    assert reps[2] == pytest.approx(0.0, abs=ROUND_TRIP_RTOL)
    assert reps[3:].tolist() == [0.0, 0.0]


def test_no_load_negative_load_and_missing_load():
    assert reps_to_failure([0.0, -0.1, np.nan], 0.035).tolist()[0] == np.inf
    assert np.isnan(reps_to_failure([-0.1, np.nan], 0.035)).all()
    assert np.isnan(reps_to_failure(0.8, np.nan))


@pytest.mark.parametrize("endurance", [0.0, -0.03, [0.03, -0.01]])
def test_endurance_must_be_positive(endurance):
    for call in (
        lambda: reps_to_failure(0.8, endurance),
        lambda: load_fraction_for(8, endurance),
    ):
        with pytest.raises(InputError, match=r"endurance.*over 0"):
            call()


def test_a_set_that_says_nothing_about_endurance():
    silent = endurance_from_set([0.8, 0.8, 1.0, 1.05, 0.0, -0.5, np.nan], [1, 0.5, 3, 3, 3, 3, 3])
    assert np.all(np.isnan(silent))
    assert endurance_from_set(0.8, [5, 10]).shape == (2,)


def test_array_equals_scalar_and_broadcasts():
    fractions, endurances = np.array([0.6, 0.75, 0.9, 1.1]), np.array([[0.02], [0.035], [0.06]])
    table = reps_to_failure(fractions, endurances)
    slow = [[max(1 + math.log(1 / x) / k, 0) for x in fractions.tolist()] for (k,) in endurances.tolist()]
    np.testing.assert_allclose(table, slow, rtol=ROUNDING_RTOL)
    reps = np.array([1.0, 5.0, 12.5])
    slow = [[math.exp(-k * (r - 1)) for r in reps.tolist()] for (k,) in endurances.tolist()]
    np.testing.assert_allclose(load_fraction_for(reps, endurances), slow, rtol=ROUNDING_RTOL)


@given(load_fraction=FRACTIONS, endurance=ENDURANCES)
def test_reps_then_load_fraction_is_the_identity(load_fraction, endurance):
    reps = reps_to_failure(load_fraction, endurance)
    back = load_fraction_for(reps, endurance)
    # over exp(k) the reps are clipped at 0, so the load that comes back is the lightest that cannot be moved
    assert float(back) == pytest.approx(min(load_fraction, math.exp(endurance)), rel=ROUND_TRIP_RTOL)


@given(reps=REPS, endurance=ENDURANCES)
def test_load_fraction_then_reps_is_the_identity(reps, endurance):
    assert float(reps_to_failure(load_fraction_for(reps, endurance), endurance)) == pytest.approx(
        reps, rel=ROUND_TRIP_RTOL, abs=ROUND_TRIP_RTOL
    )


@given(load=st.floats(1.0, 400.0), reps=st.floats(1.0, 40.0), endurance=ENDURANCES)
def test_a_set_predicts_itself(load, reps, endurance):
    one_rm = load / load_fraction_for(reps, endurance)
    assert one_rm >= load
    assert float(reps_to_failure(load / one_rm, endurance)) == pytest.approx(reps, rel=ROUND_TRIP_RTOL)


@given(reps=st.floats(1.5, 40.0), endurance=ENDURANCES)
def test_endurance_comes_back_from_a_set(reps, endurance):
    assert float(endurance_from_set(load_fraction_for(reps, endurance), reps)) == pytest.approx(
        endurance, rel=ROUND_TRIP_RTOL
    )


@given(low=st.floats(0.1, 0.98), step=st.floats(0.001, 0.5), endurance=ENDURANCES, less=st.floats(0.1, 0.9))
def test_a_heavier_load_or_less_endurance_means_fewer_reps(low, step, endurance, less):
    assert reps_to_failure(low + step, endurance) < reps_to_failure(low, endurance)
    assert reps_to_failure(low, endurance) < reps_to_failure(low, endurance * less)


@given(reps=st.floats(1.0, 30.0), endurance=ENDURANCES)
def test_every_rep_costs_the_same_share_of_strength(reps, endurance):
    ratio = load_fraction_for(reps + 1.0, endurance) / load_fraction_for(reps, endurance)
    assert float(ratio) == pytest.approx(math.exp(-endurance), rel=ROUND_TRIP_RTOL)


def test_studied_range_includes_its_ends():
    assert studied([0.59, 57 / 95, 0.6, 0.8, 0.95, 0.96, 1.0, np.nan]).tolist() == [
        False, True, True, True, True, False, False, False,
    ]  # fmt: skip


@pytest.mark.parametrize("name", CURVE_NAMES)
def test_every_curve_is_anchored_and_inverts(name):
    curve = CURVES[name]
    assert float(curve.load_fraction(1.0, parameters=curve.start)) == pytest.approx(1.0, rel=ROUNDING_RTOL)
    assert float(curve.reps(1.0, parameters=curve.start)) == pytest.approx(1.0, rel=ROUNDING_RTOL)
    reps = np.array([0.5, 1.0, 2.0, 5.5, 10.0, 25.0])
    fractions = curve.load_fraction(reps, parameters=curve.start)
    assert np.all(np.diff(fractions) < 0)
    np.testing.assert_allclose(curve.reps(fractions, parameters=curve.start), reps, rtol=ROUND_TRIP_RTOL)


@pytest.mark.parametrize("name", CURVE_NAMES)
def test_every_curve_starts_at_three_quarters_for_ten_reps(name):
    # The rule of thumb that the starting values stand for, to a percentage point.
    assert float(CURVES[name].load_fraction(10.0, parameters=CURVES[name].start)) == pytest.approx(0.75, abs=0.01)


@pytest.mark.parametrize("name", CURVE_NAMES)
def test_every_curve_takes_arrays_of_draws(name):
    curve = CURVES[name]
    values = [np.full((3, 1), getattr(curve.start, field)) for field in curve.parameter_names]
    fractions = np.array([0.6, 0.8, 0.95, 1.05])
    table = curve.reps(fractions, parameters=curve.parameters(values))
    one_by_one = [float(curve.reps(x, parameters=curve.start)) for x in fractions.tolist()]
    np.testing.assert_allclose(table, [one_by_one] * 3, rtol=ROUNDING_RTOL)


@pytest.mark.parametrize("name", CURVE_NAMES)
def test_every_start_lies_inside_its_bounds(name):
    curve = CURVES[name]
    for field in curve.parameter_names:
        low, high = curve.bounds[field]
        assert low < getattr(curve.start, field) < high


@pytest.mark.parametrize("name", CURVE_NAMES)
def test_wherever_a_search_may_go_a_curve_falls_from_one_rep_at_the_1rm(name):
    curve = CURVES[name]
    for corner in itertools.product(*(curve.bounds[field] for field in curve.parameter_names)):
        parameters = type(curve.start)(**dict(zip(curve.parameter_names, corner, strict=True)))
        fractions = curve.load_fraction(np.array([1.0, 2.0, 5.0, 20.0]), parameters=parameters)
        assert fractions[0] == pytest.approx(1.0, rel=ROUNDING_RTOL), corner
        assert np.all(np.diff(fractions) < 0), corner
        assert np.all(fractions > 0), corner


@pytest.mark.parametrize("name", CURVE_NAMES)
def test_every_curve_says_nan_to_a_negative_or_missing_load(name):
    assert np.isnan(CURVES[name].reps([-0.2, np.nan], parameters=CURVES[name].start)).all()


def test_asymptotic_worked_by_hand():
    parameters = AsymptoticExponential(floor=0.4, rate=0.06)
    # 0.4 + 0.6 exp(-0.06 * 9) = 0.4 + 0.6 * 0.582748 = 0.749649
    assert abs(float(asymptotic_load_fraction(10, parameters=parameters)) - 0.7496) <= HAND_ATOL
    # 1 + ln(0.6 / 0.4) / 0.06 = 1 + 0.4054651 / 0.06 = 7.757752
    assert abs(float(asymptotic_reps(0.8, parameters=parameters)) - 7.7578) <= HAND_ATOL


def test_asymptotic_without_a_floor_is_the_anchored_exponential():
    fractions = np.array([0.3, 0.6, 0.9, 1.1])
    np.testing.assert_allclose(
        asymptotic_reps(fractions, parameters=AsymptoticExponential(floor=0.0, rate=0.035)),
        reps_to_failure(fractions, 0.035),
        rtol=ROUNDING_RTOL,
    )


def test_no_limit_at_or_below_the_floor():
    asymptotic = asymptotic_reps([0.3, 0.4, 0.41], parameters=AsymptoticExponential(floor=0.4, rate=0.06))
    hyperbola = critical_load_reps([0.3, 0.4, 0.41], parameters=CriticalLoad(critical_load=0.4, half_reps=12.0))
    for reps in (asymptotic, hyperbola):
        assert np.isinf(reps).tolist() == [True, True, False]
    assert np.isinf(power_law_reps(0.0, parameters=PowerLaw(exponent=0.1)))


def test_power_law_worked_by_hand():
    # 10**-0.1 = 0.794328; 0.5**(-1/0.1) = 2**10 = 1024
    assert abs(float(power_law_load_fraction(10, parameters=PowerLaw(exponent=0.1))) - 0.7943) <= HAND_ATOL
    assert float(power_law_reps(0.5, parameters=PowerLaw(exponent=0.1))) == pytest.approx(1024, rel=ROUND_TRIP_RTOL)


def test_critical_load_worked_by_hand():
    parameters = CriticalLoad(critical_load=0.4, half_reps=12.0)
    # Half of the 0.6 above the critical load is gone 12 reps after the first: 0.4 + 0.3
    assert float(critical_load_fraction(13, parameters=parameters)) == pytest.approx(0.7, rel=ROUNDING_RTOL)
    # 1 + 12 * (0.6 / 0.4 - 1) = 7
    assert float(critical_load_reps(0.8, parameters=parameters)) == pytest.approx(7.0, rel=ROUND_TRIP_RTOL)


def test_plain_critical_load_keeps_the_product_constant():
    parameters = CriticalLoad(critical_load=0.5, half_reps=1.0)
    reps = np.array([1.0, 2.0, 5.0, 10.0])
    work = (critical_load_fraction(reps, parameters=parameters) - 0.5) * reps
    np.testing.assert_allclose(work, 0.5, rtol=ROUND_TRIP_RTOL)
    assert np.isnan(critical_load_fraction(0.0, parameters=parameters))


@pytest.mark.parametrize(
    "build",
    [
        lambda: Exponential(endurance=0.0),
        lambda: AsymptoticExponential(floor=1.0, rate=0.05),
        lambda: AsymptoticExponential(floor=-0.1, rate=0.05),
        lambda: AsymptoticExponential(floor=0.3, rate=0.0),
        lambda: PowerLaw(exponent=-0.1),
        lambda: CriticalLoad(critical_load=[0.2, 1.2], half_reps=10.0),
        lambda: CriticalLoad(critical_load=0.4, half_reps=0.0),
    ],
)
def test_parameters_without_meaning_are_refused(build):
    with pytest.raises(InputError, match="out of range"):
        build()


def test_a_curve_of_ones_own():
    @dataclass(frozen=True)
    class Line:
        slope: float

    curve = Curve(
        "straight line",
        lambda load_fraction, *, parameters: 1 + (1 - load_fraction) / parameters.slope,
        lambda reps, *, parameters: 1 - parameters.slope * (reps - 1),
        Line(slope=0.025),
        {"slope": (0.001, 0.2)},
    )
    assert curve.parameter_names == ("slope",)
    # 1 + 0.25 / 0.05 = 6
    assert curve.reps(0.75, parameters=curve.parameters([0.05])) == pytest.approx(6.0, rel=ROUNDING_RTOL)
    with pytest.raises(InputError, match="bounds"):
        Curve("no bounds", curve.reps, curve.load_fraction, Line(slope=0.025), {})


# Curves of lifters who go otherwise


@pytest.mark.parametrize(
    ("bend", "percent", "reps"),
    [
        # x^-8: 10 reps at 75 % where k is ln(4/3) / 8.9887 = 0.032005, for 0.75^-8 = 9.9887.
        (8.0, 60.0, 59.5374),
        (8.0, 90.0, 2.3231),
        # x^-1: (1/0.6 - 1) / (4/3 - 1) = 2 times the reps beyond the first at 75 %, (1/0.9 - 1) * 3 = a third of them.
        (1.0, 60.0, 18.9773),
        (1.0, 90.0, 3.9962),
        # A straight line: (1 - 0.6) / (1 - 0.75) = 1.6 times, (1 - 0.9) / 0.25 = 0.4 times.
        (-1.0, 60.0, 15.3818),
        (-1.0, 90.0, 4.5955),
    ],
)
def test_a_bent_curve_and_its_inverse_by_hand(bend, percent, reps):
    endurance = math.log(4.0 / 3.0) / (0.75**-8 - 1.0)
    curve, headroom = CURVES["exponential"].bent(bend), -math.log(percent / 100.0)
    assert float(curve.fresh_reps(headroom, endurance)) == pytest.approx(reps, abs=1e-3)
    assert float(curve.headroom_for(reps, endurance)) == pytest.approx(headroom, abs=1e-4)
    assert float(curve.endurance_from(percent / 100.0, reps)) == pytest.approx(endurance, rel=1e-4)


@pytest.mark.parametrize("name", CURVE_NAMES)
def test_a_bend_of_none_is_the_curve_to_the_digit_and_none_moves_reps_at_75_percent_or_over_the_maximum(name):
    curve, endurance = CURVES[name], np.array([[0.01], [0.032], [0.09]])
    headroom = -np.log(np.array([0.5, 0.6, 0.75, 0.9, 0.99, 1.0, 1.02]))
    usual = curve.fresh_reps(headroom, endurance)
    assert np.array_equal(curve.bent(0.0).fresh_reps(headroom, endurance), usual)
    assert np.array_equal(curve.bent(0.0).headroom_for(usual, endurance), curve.headroom_for(usual, endurance))
    assert curve.bent(3.0).bent(None).bend is None
    for bend in (-2.0, 0.5, 3.0, 12.0):
        moved = curve.bent(bend).fresh_reps(headroom, endurance)
        assert moved[:, 2] == pytest.approx(usual[:, 2], rel=ROUND_TRIP_RTOL)
        assert np.array_equal(moved[:, 5:], usual[:, 5:])
        # Lighter and heavier, to either side.
        assert ((moved[:, :2] > usual[:, :2]) == (bend > 0.0)).all()
        assert ((moved[:, 3:5] < usual[:, 3:5]) == (bend > 0.0)).all()


@given(
    name=st.sampled_from(CURVE_NAMES),
    bend=st.floats(-3.0, 12.0),
    headroom=st.floats(0.001, 0.65),
    endurance=ENDURANCES,
)
def test_the_inverse_of_a_bent_curve_leads_back(name, bend, headroom, endurance):
    curve = CURVES[name].bent(bend)
    reps = float(curve.fresh_reps(headroom, endurance))
    if 1.0 < reps < MOST_REPS:
        assert float(curve.headroom_for(reps, endurance)) == pytest.approx(headroom, rel=1e-6)


def test_no_load_is_light_enough_for_more_reps_than_a_bend_below_none_has():
    # x^2: 1 / (1 - 0.75^2) = 2.2857 times the reps beyond the first at 75 %, whatever the load.
    curve, endurance = CURVES["exponential"].bent(-2.0), math.log(4.0 / 3.0) / 9.0
    assert float(curve.fresh_reps(5.0, endurance)) == pytest.approx(1.0 + 9.0 * 2.2857, abs=0.01)
    assert np.isinf(curve.headroom_for(22.0, endurance))


def test_a_bend_for_each_draw_goes_with_its_row():
    bend, headroom = np.array([[-1.0], [0.0], [8.0]]), np.array([0.1, 0.5])
    together = CURVES["exponential"].bent(bend).fresh_reps(headroom, 0.03)
    alone = [CURVES["exponential"].bent(one).fresh_reps(headroom, 0.03) for one in (-1.0, 0.0, 8.0)]
    assert np.array_equal(together, np.stack(alone))
    slope = CURVES["exponential"].bent(bend).reps_per_headroom(headroom, 0.03 * np.ones((3, 1)))
    # d/dS of A (e^bS - 1) / (e^bA - 1) / k, with A = ln(4/3), at b = 8 and S = 0.1: 8 A e^0.8 / 8.9887 / 0.03.
    assert slope[2, 0] == pytest.approx(8.0 * math.log(4 / 3) * math.exp(0.8) / (0.75**-8 - 1.0) / 0.03, rel=1e-5)
