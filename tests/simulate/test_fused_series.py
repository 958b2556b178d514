"""Exponential and logarithm of the compiled loops: right to the last digits on all of their range, ends and seams."""

import math
from decimal import Decimal, localcontext

import numpy as np
import pytest

from workbench.simulate import fused_series

#: Two roundings of a number of 53 bits, in the worst case together.
LAST_DIGITS = 1e-15
LN2 = math.log(2.0)


@pytest.fixture(scope="module")
def series(core):
    return core(fused_series)


def both_sides(value):
    """A number, and the next ones on both sides of it."""
    return np.nextafter(value, -np.inf), value, np.nextafter(value, np.inf)


#: From one end of the range to the other, finely about 0, and at the seams between two powers of two.
EXPONENTS = [
    *np.linspace(-700.0, 700.0, 401),
    *np.linspace(-0.4, 0.4, 161),
    *(sign * 10.0**-power for power in range(1, 18) for sign in (1.0, -1.0)),
    *(one for power in (-1009, -500, -3, -2, -1, 0, 1, 2, 40, 1008) for one in both_sides((power + 0.5) * LN2)),
]
#: What a base is multiplied by: the same, so that whole and base come to be 3/2 apart and 2/3, with powers between.
RATIOS = [
    *np.exp(np.linspace(-30.0, 30.0, 121)),
    *np.linspace(0.4, 2.6, 89),
    *(1.0 + sign * 10.0**-power for power in range(1, 16) for sign in (1.0, -1.0)),
    *(one for seam in (0.375, 0.75, 1.5, 3.0) for one in both_sides(seam)),
]
BASES = (1.0, 1.25, 1.5, 1.999, 3e-9, 7e11)


def test_the_exponential_to_the_last_digits(series):
    for value in EXPONENTS:
        assert series.exponential(value) == pytest.approx(math.exp(value), rel=LAST_DIGITS, abs=0.0)
        assert series.exp_less_one(value) == pytest.approx(math.expm1(value), rel=LAST_DIGITS, abs=0.0)


def test_what_is_left_of_an_exponential_is_small(series):
    for value in EXPONENTS:
        power, more = series.power_and_rest(value)
        assert math.frexp(power)[0] == 0.5, "a power of two"
        # Half a power of two, and as far as a quotient of that size is right.
        assert abs(math.log1p(more)) < 0.5 * LN2 + 1e-12


def exact_log_of_part(more, base):
    """The logarithm to forty digits."""
    with localcontext() as context:
        context.prec = 40
        return float((1 + Decimal(more) / Decimal(base)).ln())


def test_the_logarithm_to_the_last_digits(series):
    for base in BASES:
        for ratio in RATIOS:
            more = ratio * base - base
            expected = exact_log_of_part(more, base)
            # Of a sum of so many times the base the base is the small difference of two such numbers.
            lost = 0.0 if ratio < 1.5 else ratio * 2.0**-52
            assert series.log_of_part(more, base) == pytest.approx(expected, rel=LAST_DIGITS, abs=lost)


def test_a_logarithm_is_that_of_a_part_of_a_fifth_at_most(series):
    # (3/2 - 1) / (3/2 + 1): the series is good for no more.
    largest = 0.0
    for base in BASES:
        for ratio in RATIOS:
            over, under, more = series.near_one(ratio * base - base, base)
            powers = more / LN2
            assert powers == pytest.approx(round(powers), abs=1e-12)
            largest = max(largest, abs(over / under))
    assert largest == pytest.approx(0.2, abs=1e-12)


def test_twice_the_artanh(series):
    for part in np.linspace(-0.2, 0.2, 81):
        assert series.twice_artanh(part, 0.0) == pytest.approx(2.0 * math.atanh(part), rel=LAST_DIGITS, abs=0.0)
        assert series.twice_artanh(part, 3.0) == pytest.approx(3.0 + 2.0 * math.atanh(part), rel=LAST_DIGITS)


def farthest(coefficients, exact, low, high):
    """How far a polynomial is from its series of sixty terms, to forty digits."""
    with localcontext() as context:
        context.prec = 40
        most = Decimal(0)
        for x in map(Decimal, np.linspace(low, high, 101).tolist()):
            polynomial, series = Decimal(0), Decimal(0)
            for one in reversed(coefficients):
                polynomial = polynomial * x + Decimal(one)
            for term in reversed([exact(power) for power in range(60)]):
                series = series * x + term
            most = max(most, abs(polynomial - series))
        return float(most)


def test_few_terms_are_as_near_as_they_are_said_to_be():
    artanh = farthest(fused_series._ARTANH, lambda power: 1 / Decimal(3 + 2 * power), 0.0, 0.04)
    assert artanh < 2e-15
    half = 0.5 * LN2
    assert farthest(fused_series._EXP, lambda power: 1 / Decimal(math.factorial(power + 2)), -half, half) < 1e-15
    # Two more terms would be no nearer.
    assert (len(fused_series._ARTANH), len(fused_series._EXP)) == (7, 10)
