"""The published equations against hand arithmetic, their own text in the data file, and their limits."""

import ast
import inspect
import itertools
import math

import numpy as np
import pytest

from workbench.models import published
from workbench.models.published import EQUATIONS, brzycki_1993, kemmler_2006, kravitz_2003_squat, mayhew_1992
from workbench.quantities import InputError
from workbench.reference.sources import read_rows, sources

#: The hand-worked values are printed to a gram; half a gram is their rounding.
HAND_TOLERANCE_KG = 0.0006
#: Two orders of the same few operations on doubles differ by no more.
ROUNDING_RTOL = 1e-12
#: An inverse through exp, log or 60 halvings loses a few more digits.
ROUND_TRIP_ATOL = 1e-9

LOAD_225_LB = 102.05828325  # 225 * 0.45359237

# Worked with pencil arithmetic (exponentials to six places), not with the package.
HAND_WORKED = [
    ("epley_1985", 100, 1, 103.330),  # 100 * (1 + 0.0333 * 1) = 100 * 1.0333
    ("epley_1985", 100, 5, 116.650),  # 100 * (1 + 0.0333 * 5) = 100 * 1.1665
    ("epley_1985", 80, 8, 101.312),  # 80 * (1 + 0.0333 * 8) = 80 * 1.2664
    ("epley_1985", 62.5, 10, 83.312),  # 62.5 * (1 + 0.0333 * 10) = 62.5 * 1.333
    ("epley_1985", 140, 3, 153.986),  # 140 * (1 + 0.0333 * 3) = 140 * 1.0999
    ("brzycki_1993", 100, 1, 100.000),  # 100 / (1.0278 - 0.0278 * 1) = 100 / 1
    ("brzycki_1993", 100, 5, 112.511),  # 100 / (1.0278 - 0.0278 * 5) = 100 / 0.8888
    ("brzycki_1993", 80, 8, 99.330),  # 80 / (1.0278 - 0.0278 * 8) = 80 / 0.8054
    ("brzycki_1993", 62.5, 10, 83.356),  # 62.5 / (1.0278 - 0.0278 * 10) = 62.5 / 0.7498
    ("brzycki_1993", 140, 3, 148.242),  # 140 / (1.0278 - 0.0278 * 3) = 140 / 0.9444
    ("lander_1985", 100, 1, 101.390),  # 10000 / (101.3 - 2.67123 * 1) = 10000 / 98.62877
    ("lander_1985", 100, 5, 113.709),  # 10000 / (101.3 - 2.67123 * 5) = 10000 / 87.94385
    ("lander_1985", 80, 8, 100.087),  # 8000 / (101.3 - 2.67123 * 8) = 8000 / 79.93016
    ("lander_1985", 62.5, 10, 83.794),  # 6250.0 / (101.3 - 2.67123 * 10) = 6250.0 / 74.5877
    ("lander_1985", 140, 3, 150.076),  # 14000 / (101.3 - 2.67123 * 3) = 14000 / 93.28631
    ("lombardi_1989", 100, 1, 100.000),  # 100 * 1**0.1 = 100 * 1.000000
    ("lombardi_1989", 100, 5, 117.462),  # 100 * 5**0.1 = 100 * 1.174619
    ("lombardi_1989", 80, 8, 98.492),  # 80 * 8**0.1 = 80 * 1.231144
    ("lombardi_1989", 62.5, 10, 78.683),  # 62.5 * 10**0.1 = 62.5 * 1.258925
    ("lombardi_1989", 140, 3, 156.257),  # 140 * 3**0.1 = 140 * 1.116123
    ("oconner_1989", 100, 1, 102.500),  # 100 * (1 + 0.025 * 1) = 100 * 1.025
    ("oconner_1989", 100, 5, 112.500),  # 100 * (1 + 0.025 * 5) = 100 * 1.125
    ("oconner_1989", 80, 8, 96.000),  # 80 * (1 + 0.025 * 8) = 80 * 1.2
    ("oconner_1989", 62.5, 10, 78.125),  # 62.5 * (1 + 0.025 * 10) = 62.5 * 1.25
    ("oconner_1989", 140, 3, 150.500),  # 140 * (1 + 0.025 * 3) = 140 * 1.075
    ("mayhew_1992", 100, 1, 108.864),  # exp(-0.055) = 0.946485; 10000 / 91.85773
    ("mayhew_1992", 100, 5, 119.011),  # exp(-0.275) = 0.759572; 10000 / 84.02607
    ("mayhew_1992", 80, 8, 101.029),  # exp(-0.44) = 0.644036; 8000 / 79.18513
    ("mayhew_1992", 62.5, 10, 81.834),  # exp(-0.55) = 0.576950; 6250.0 / 76.37420
    ("mayhew_1992", 60, 15, 85.032),  # exp(-0.825) = 0.438235; 6000 / 70.56205
    ("wathan_1994", 100, 1, 101.304),  # exp(-0.075) = 0.927743; 10000 / 98.71260
    ("wathan_1994", 100, 5, 116.583),  # exp(-0.375) = 0.687289; 10000 / 85.77616
    ("wathan_1994", 80, 8, 102.137),  # exp(-0.6) = 0.548812; 8000 / 78.32607
    ("wathan_1994", 62.5, 10, 84.217),  # exp(-0.75) = 0.472367; 6250.0 / 74.21332
    ("wathan_1994", 140, 3, 152.572),  # exp(-0.225) = 0.798516; 14000 / 91.76017
    ("adams_1998", 100, 1, 102.041),  # 100 / (1 - 0.02 * 1) = 100 / 0.98
    ("adams_1998", 100, 5, 111.111),  # 100 / (1 - 0.02 * 5) = 100 / 0.9
    ("adams_1998", 80, 8, 95.238),  # 80 / (1 - 0.02 * 8) = 80 / 0.84
    ("adams_1998", 62.5, 10, 78.125),  # 62.5 / (1 - 0.02 * 10) = 62.5 / 0.8
    ("adams_1998", 140, 3, 148.936),  # 140 / (1 - 0.02 * 3) = 140 / 0.94
    ("berger_1970", 100, 1, 100.043),  # exp(-0.0262) = 0.974140; 100 / 0.999565
    ("berger_1970", 100, 5, 111.097),  # exp(-0.131) = 0.877218; 100 / 0.900113
    ("berger_1970", 80, 8, 96.145),  # exp(-0.2096) = 0.810909; 80 / 0.832073
    ("berger_1970", 62.5, 10, 79.154),  # exp(-0.262) = 0.769511; 62.5 / 0.789595
    ("berger_1970", 140, 3, 147.596),  # exp(-0.0786) = 0.924410; 140 / 0.948537
    ("brown_1992", 100, 1, 101.770),  # 100 * (0.9849 + 0.0328 * 1) = 100 * 1.0177
    ("brown_1992", 100, 5, 114.890),  # 100 * (0.9849 + 0.0328 * 5) = 100 * 1.1489
    ("brown_1992", 80, 8, 99.784),  # 80 * (0.9849 + 0.0328 * 8) = 80 * 1.2473
    ("brown_1992", 62.5, 10, 82.056),  # 62.5 * (0.9849 + 0.0328 * 10) = 62.5 * 1.3129
    ("brown_1992", 140, 3, 151.662),  # 140 * (0.9849 + 0.0328 * 3) = 140 * 1.0833
    ("cummings_finn_1998", 30, 4, 34.308),  # 35.25 + 3.356 - 4.29787
    ("cummings_finn_1998", 40, 5, 46.897),  # 47 + 4.195 - 4.29787
    ("cummings_finn_1998", 27.5, 6, 33.049),  # 32.3125 + 5.034 - 4.29787
    ("cummings_finn_1998", 35, 7, 42.700),  # 41.125 + 5.873 - 4.29787
    ("cummings_finn_1998", 50, 8, 61.164),  # 58.75 + 6.712 - 4.29787
    ("kemmler_2006", 100, 3, 103.472),  # 0.988 + 0.0312 + 0.0171 - 0.0015768 = 1.0347232
    ("kemmler_2006", 60, 5, 64.812),  # 0.988 + 0.052 + 0.0475 - 0.0073 = 1.0802
    ("kemmler_2006", 80, 10, 97.888),  # 0.988 + 0.104 + 0.19 - 0.0584 = 1.2236
    ("kemmler_2006", 50, 15, 68.720),  # 0.988 + 0.156 + 0.4275 - 0.1971 = 1.3744
    ("kemmler_2006", 40, 20, 59.552),  # 0.988 + 0.208 + 0.76 - 0.4672 = 1.4888
    ("reynolds_2006_chest_press_5rm", 40, 5, 45.928),  # 45.228 + 0.6999
    ("reynolds_2006_chest_press_5rm", 60, 5, 68.542),  # 67.842 + 0.6999
    ("reynolds_2006_chest_press_5rm", 80, 5, 91.156),  # 90.456 + 0.6999
    ("reynolds_2006_chest_press_5rm", 100, 5, 113.770),  # 113.07 + 0.6999
    ("reynolds_2006_chest_press_5rm", 122.5, 5, 139.211),  # 138.51075 + 0.6999
    ("reynolds_2006_leg_press_5rm", 100, 5, 123.955),  # 109.7 + 14.2546
    ("reynolds_2006_leg_press_5rm", 150, 5, 178.805),  # 164.55 + 14.2546
    ("reynolds_2006_leg_press_5rm", 180, 5, 211.715),  # 197.46 + 14.2546
    ("reynolds_2006_leg_press_5rm", 220, 5, 255.595),  # 241.34 + 14.2546
    ("reynolds_2006_leg_press_5rm", 262.5, 5, 302.217),  # 287.9625 + 14.2546
    ("reynolds_2006_chest_press", 100, 1, 99.892),  # exp(-0.0723) = 0.930252; 10000 / 100.10828
    ("reynolds_2006_chest_press", 100, 5, 114.758),  # exp(-0.3615) = 0.696631; 10000 / 87.13996
    ("reynolds_2006_chest_press", 80, 8, 100.503),  # exp(-0.5784) = 0.560795; 8000 / 79.59973
    ("reynolds_2006_chest_press", 62.5, 10, 82.882),  # exp(-0.723) = 0.485294; 6250.0 / 75.40868
    ("reynolds_2006_chest_press", 60, 20, 97.493),  # exp(-1.446) = 0.235510; 6000 / 61.54318
    ("reynolds_2006_leg_press", 200, 1, 199.489),  # exp(-0.0569) = 0.944689; 20000 / 100.25630
    ("reynolds_2006_leg_press", 200, 5, 234.675),  # exp(-0.2845) = 0.752390; 20000 / 85.22435
    ("reynolds_2006_leg_press", 160, 8, 210.541),  # exp(-0.4552) = 0.634321; 16000 / 75.99488
    ("reynolds_2006_leg_press", 150, 10, 212.280),  # exp(-0.569) = 0.566091; 15000 / 70.66135
    ("reynolds_2006_leg_press", 120, 20, 233.189),  # exp(-1.138) = 0.320459; 12000 / 51.46030
    ("kravitz_2003_squat", 100, 10, 147.380),  # 159.9 + 103 - 115.52; load is 67.9 % of it
    ("kravitz_2003_squat", 117.5, 8, 164.304),  # 159.9 + 96.82 - 92.416; load is 71.5 % of it
    ("kravitz_2003_squat", 120, 12, 169.596),  # 159.9 + 148.32 - 138.624; load is 70.8 % of it
    ("kravitz_2003_squat", 130, 9, 176.442),  # 159.9 + 120.51 - 103.968; load is 73.7 % of it
    ("kravitz_2003_squat", 140, 14, 200.052),  # 159.9 + 201.88 - 161.728; load is 70.0 % of it
    ("kravitz_2003_bench_press", 60, 10, 88.600),  # 90.66 + 51 - 53.06; load is 67.7 % of it
    ("kravitz_2003_bench_press", 65, 12, 93.288),  # 90.66 + 66.3 - 63.672; load is 69.7 % of it
    ("kravitz_2003_bench_press", 70, 10, 97.100),  # 90.66 + 59.5 - 53.06; load is 72.1 % of it
    ("kravitz_2003_bench_press", 75, 14, 105.626),  # 90.66 + 89.25 - 74.284; load is 71.0 % of it
    ("kravitz_2003_bench_press", 67.5, 15, 97.132),  # 90.66 + 86.0625 - 79.59; load is 69.5 % of it
    ("kravitz_2003_deadlift", 125, 8, 157.232),  # 156.08 + 98 - 96.848; load is 79.5 % of it
    ("kravitz_2003_deadlift", 130, 6, 159.884),  # 156.08 + 76.44 - 72.636; load is 81.3 % of it
    ("kravitz_2003_deadlift", 140, 10, 172.220),  # 156.08 + 137.2 - 121.06; load is 81.3 % of it
    ("kravitz_2003_deadlift", 132.5, 9, 163.991),  # 156.08 + 116.865 - 108.954; load is 80.8 % of it
    ("kravitz_2003_deadlift", 145, 7, 170.808),  # 156.08 + 99.47 - 84.742; load is 84.9 % of it
    ("mayhew_1999", LOAD_225_LB, 1, 106.050),  # 226.7 + 7.1 * 1 = 233.8 lb * 0.45359237
    ("mayhew_1999", LOAD_225_LB, 5, 118.932),  # 226.7 + 7.1 * 5 = 262.2 lb * 0.45359237
    ("mayhew_1999", LOAD_225_LB, 10, 135.034),  # 226.7 + 7.1 * 10 = 297.7 lb * 0.45359237
    ("mayhew_1999", LOAD_225_LB, 15, 151.137),  # 226.7 + 7.1 * 15 = 333.2 lb * 0.45359237
    ("mayhew_1999", LOAD_225_LB, 24, 180.122),  # 226.7 + 7.1 * 24 = 397.1 lb * 0.45359237
]

PROPORTIONAL = [name for name, equation in EQUATIONS.items() if equation.proportional]
FORMULAE = {row["name"]: row for row in read_rows("equations.csv")}

# Sets inside the validity of the equations that are made for one load or one sample: (loads, reps).
OWN_SETS = {
    "cummings_finn_1998": ([30.0, 40.0, 50.0], [4.0, 6.0, 8.0]),
    "mayhew_1999": ([LOAD_225_LB] * 3, [1.0, 12.0, 30.0]),
    "kravitz_2003_squat": ([117.5, 120.0, 130.0], [8.0, 12.0, 9.0]),
    "kravitz_2003_bench_press": ([65.0, 70.0, 75.0], [12.0, 10.0, 14.0]),
    "kravitz_2003_deadlift": ([125.0, 130.0, 140.0], [8.0, 6.0, 10.0]),
    "reynolds_2006_chest_press_5rm": ([40.0, 80.0, 120.0], [5.0, 5.0, 5.0]),
    "reynolds_2006_leg_press_5rm": ([100.0, 180.0, 260.0], [5.0, 5.0, 5.0]),
}


def own_sets(name):
    if name in OWN_SETS:
        return tuple(np.array(side) for side in OWN_SETS[name])
    equation = EQUATIONS[name]
    reps = np.linspace(equation.reps_low, equation.reps_high, 9)
    return np.full_like(reps, 80.0), reps


@pytest.mark.parametrize(("name", "load", "reps", "one_rm"), HAND_WORKED)
def test_hand_worked_value(name, load, reps, one_rm):
    assert abs(float(EQUATIONS[name](load, reps)) - one_rm) <= HAND_TOLERANCE_KG


def test_five_hand_worked_values_each():
    counts = {name: sum(row[0] == name for row in HAND_WORKED) for name in EQUATIONS}
    assert set(counts.values()) == {5}


@pytest.mark.parametrize("name", EQUATIONS)
def test_table_formula_is_the_one_computed(name):
    load, reps = own_sets(name)
    formula = compile(FORMULAE[name]["form"], name, "eval")
    expected = [eval(formula, {"exp": math.exp, "load": w, "reps": r}) for w, r in zip(load, reps, strict=True)]
    np.testing.assert_allclose(EQUATIONS[name](load, reps), expected, rtol=ROUNDING_RTOL)


@pytest.mark.parametrize("name", EQUATIONS)
def test_docstring_says_formula_and_source(name):
    body = ast.parse(inspect.getsource(published)).body
    after = {
        one.target.id: ast.literal_eval(text.value)
        for one, text in itertools.pairwise(body)
        if isinstance(one, ast.AnnAssign) and isinstance(text, ast.Expr)
    }
    cited = sources()[EQUATIONS[name].source]
    said = " ".join(after[name].split())
    assert f"``{FORMULAE[name]['form']}``" in said
    assert cited.citation.rstrip(".") in said
    assert f"doi {cited.doi}" in said if cited.doi else "doi" not in said


def test_table_and_registry_agree():
    assert sorted(FORMULAE) == sorted(EQUATIONS)
    for name, row in FORMULAE.items():
        equation = EQUATIONS[name]
        assert equation.name == name
        assert getattr(published, name) is equation
        assert name in published.__all__
        assert (row["source"], row["grade"], row["validity_grade"]) == (
            equation.source,
            equation.grade,
            equation.validity_grade,
        )
        assert row["population"] == equation.population
        assert float(row["valid_reps_low"]) == equation.reps_low
        assert float(row["valid_reps_high"] or "inf") == equation.reps_high
        has_condition = equation.fixed_load is not None or equation.fixed_load_fraction is not None
        assert bool(row["valid_condition"]) == has_condition


def test_every_source_is_listed():
    assert {equation.source for equation in EQUATIONS.values()} <= set(sources())


@pytest.mark.parametrize("name", EQUATIONS)
def test_array_equals_scalar(name):
    equation = EQUATIONS[name]
    load, reps = own_sets(name)
    one_by_one = [float(equation(w, r)) for w, r in zip(load.tolist(), reps.tolist(), strict=True)]
    np.testing.assert_allclose(equation(load, reps), one_by_one, rtol=ROUNDING_RTOL)
    assert np.all(np.isfinite(one_by_one))
    assert equation(load[:, None], reps[None, :]).shape == (load.size, reps.size)


@pytest.mark.parametrize("name", PROPORTIONAL)
def test_more_reps_or_more_load_mean_a_higher_one_rm(name):
    equation = EQUATIONS[name]
    load, reps = own_sets(name)
    assert np.all(np.diff(equation(load, reps)) > 0)
    assert np.all(np.diff(equation.load_fraction(reps)) < 0)
    assert np.all(np.diff(equation(np.array([40.0, 80.0, 120.0]), reps[4])) > 0)


@pytest.mark.parametrize("name", PROPORTIONAL)
def test_round_trip_of_share_and_reps(name):
    equation = EQUATIONS[name]
    _, reps = own_sets(name)
    np.testing.assert_allclose(equation.reps_to_failure(equation.load_fraction(reps)), reps, atol=ROUND_TRIP_ATOL)


@pytest.mark.parametrize("name", EQUATIONS)
def test_round_trip_of_load_and_reps(name):
    equation = EQUATIONS[name]
    load, reps = own_sets(name)
    one_rm = equation(load, reps)
    if equation.shape.holds_load:
        np.testing.assert_allclose(equation.load_for(one_rm, reps), load, rtol=ROUND_TRIP_ATOL)
    else:
        assert np.all(np.isnan(equation.load_for(one_rm, reps, extrapolate=True)))
    if equation.shape.holds_reps:
        np.testing.assert_allclose(equation.reps_for(load, one_rm), reps, rtol=ROUND_TRIP_ATOL)
    else:
        assert np.all(np.isnan(equation.reps_for(load, one_rm, extrapolate=True)))


@pytest.mark.parametrize("name", PROPORTIONAL)
def test_nan_outside_validity_unless_extrapolated(name):
    equation = EQUATIONS[name]
    outside = np.array([equation.reps_low - 0.5, equation.reps_high + 0.5])
    share = equation.load_fraction(outside, extrapolate=True)
    assert np.all(np.isfinite(share))
    assert np.all(np.isnan(equation.load_fraction(outside)))
    assert np.all(np.isnan(equation(80.0, outside)))
    assert np.all(np.isnan(equation.reps_to_failure(share)))
    np.testing.assert_allclose(equation(80.0, outside, extrapolate=True), 80.0 / share, rtol=ROUNDING_RTOL)
    np.testing.assert_allclose(
        equation.reps_to_failure(share, extrapolate=True), outside, rtol=ROUND_TRIP_ATOL, atol=ROUND_TRIP_ATOL
    )


@pytest.mark.parametrize("name", ["reynolds_2006_chest_press_5rm", "reynolds_2006_leg_press_5rm"])
def test_an_equation_for_five_reps_says_nothing_about_others(name):
    assert np.all(np.isnan(EQUATIONS[name](80.0, [4.0, 6.0], extrapolate=True)))


def test_an_equation_for_225_lb_says_nothing_about_other_loads():
    equation = EQUATIONS["mayhew_1999"]
    assert np.all(np.isnan(equation([100.0, 104.0], 10.0, extrapolate=True)))
    assert np.all(np.isfinite(equation([102.0, 102.3], 10.0)))


def test_regression_at_seventy_percent_is_silent_elsewhere():
    # 159.9 + 0.103 * 5 * 150 - 11.552 * 5 = 159.9 + 77.25 - 57.76 = 179.39; 150 is 83.6 % of it
    assert np.isnan(kravitz_2003_squat(150, 5))
    assert abs(float(kravitz_2003_squat(150, 5, extrapolate=True)) - 179.39) <= HAND_TOLERANCE_KG


def test_regression_falls_with_reps_for_the_weaker():
    # The slope over reps, 0.103 * load - 11.552, changes sign at 11.552 / 0.103 = 112.155 kg.
    assert kravitz_2003_squat(112.0, 11) < kravitz_2003_squat(112.0, 10)
    assert kravitz_2003_squat(112.3, 11) > kravitz_2003_squat(112.3, 10)


def test_nothing_lasts_past_the_end_of_an_equation():
    # Brzycki: 1.0278 / 0.0278 = 36.97 reps; Adams: 1 / 0.02 = 50; Lander: 101.3 / 2.67123 = 37.92
    for name, last in {"brzycki_1993": 36.97, "adams_1998": 50.0, "lander_1985": 37.92}.items():
        answers = EQUATIONS[name](10.0, [last - 0.1, last + 0.1], extrapolate=True)
        assert np.isfinite(answers).tolist() == [True, False]


def test_no_reps_at_or_below_an_asymptote():
    # Mayhew et al. 1992 levels off at 52.2 %, Wathan 1994 at 48.8 %.
    for name, floor in {"mayhew_1992": 0.522, "wathan_1994": 0.488}.items():
        reps = EQUATIONS[name].reps_to_failure([floor - 0.01, floor, floor + 0.01], extrapolate=True)
        assert np.isfinite(reps).tolist() == [False, False, True]


def test_cubic_turns_back_at_its_turning_point():
    # The slope 0.0104 + 0.0038 r - 0.0001752 r**2 is zero at
    # (0.0038 + sqrt(0.00001444 + 0.00000728832)) / 0.0003504 = (0.0038 + 0.00466136) / 0.0003504 = 24.1477
    assert abs(kemmler_2006.shape.turning_point - 24.1477) < 0.0005
    assert np.isfinite(kemmler_2006(50, [24.1, 24.2], extrapolate=True)).tolist() == [True, False]
    # There the multiple is 0.988 + 0.25114 + 1.10791 - 0.82232 = 1.52473: no smaller share has an answer.
    lowest = 1 / 1.52473
    assert np.isfinite(kemmler_2006.reps_to_failure([lowest + 0.001, lowest - 0.001], extrapolate=True)).tolist() == [
        True,
        False,
    ]


def test_which_equations_are_anchored():
    # Brzycki: 1.0278 - 0.0278 = 1; Lombardi: 1**0.1 = 1. Every other one misses, Berger by 0.04 %.
    assert {name for name, equation in EQUATIONS.items() if equation.anchored} == {"brzycki_1993", "lombardi_1989"}


@pytest.mark.parametrize("name", sorted(set(EQUATIONS) - set(PROPORTIONAL)))
def test_a_share_that_depends_on_strength_is_refused(name):
    with pytest.raises(InputError, match="use load_for"):
        EQUATIONS[name].load_fraction(5)
    with pytest.raises(InputError, match="use reps_for"):
        EQUATIONS[name].reps_to_failure(0.8)


@pytest.mark.parametrize("name", EQUATIONS)
def test_input_without_meaning_gives_nan(name):
    nonsense = EQUATIONS[name]([0.0, -80.0, np.nan, 80.0, 80.0], [5.0, 5.0, 5.0, -1.0, np.nan], extrapolate=True)
    assert np.all(np.isnan(nonsense))


def test_draws_lead_and_broadcast():
    draws = np.linspace(90.0, 110.0, 4)[:, None]
    loads = mayhew_1992.load_for(draws, [3.0, 6.0])
    assert loads.shape == (4, 2)
    np.testing.assert_allclose(loads, draws * mayhew_1992.load_fraction([3.0, 6.0]), rtol=ROUNDING_RTOL)


def test_the_valid_range_includes_its_ends():
    assert np.isfinite(brzycki_1993(100, [0.99, 1.0, 10.0, 10.01])).tolist() == [False, True, True, False]
