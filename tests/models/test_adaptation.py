"""Session load after Foster, gain, and the impulse-response model: hand-solved values and limits."""

import numpy as np
import pytest

from workbench.models.adaptation import (
    ImpulseResponse,
    gained,
    impulse_response,
    monotony,
    session_load,
    strain,
)
from workbench.quantities import InputError
from workbench.reference.sources import read_rows, sources

ROUNDING = 1e-9


def test_session_load_is_rating_times_minutes():
    assert session_load([5, 8], [90, 45]).tolist() == [450, 360]
    # The ends of the ranges: the highest rating, and a day.
    assert session_load([0, 10, 1], [60, 60, 1440]).tolist() == [0, 600, 1440]


@pytest.mark.parametrize(("rating", "minutes"), [(10.1, 60), (11, 60), (-0.1, 60), (5, -1), (5, 1441), (np.nan, 60)])
def test_impossible_session_ratings_are_refused(rating, minutes):
    with pytest.raises(InputError, match="out of range"):
        session_load(rating, minutes)


def test_monotony_and_strain_of_a_week_by_hand():
    # 420, 0, 300, 0, 360, 0, 0: mean 1080 / 7 = 154.286; squares 176400 + 90000 + 129600 = 396000;
    # variance (396000 - 7 x 154.286^2) / 6 = (396000 - 166628.6) / 6 = 38228.57; sd 195.521; monotony 0.78910;
    # strain 1080 x 0.78910 = 852.23.
    week = [420, 0, 300, 0, 360, 0, 0]
    printed = 5e-5
    assert monotony(week) == pytest.approx(0.78910, abs=printed)
    assert strain(week) == pytest.approx(852.23, abs=0.01)


def test_seven_equal_days_have_no_monotony():
    assert np.isnan(monotony([100.0] * 7))
    assert np.isnan(strain([0.0] * 7))


def test_monotony_has_no_unit_and_strain_that_of_load():
    week = np.array([420.0, 0, 300, 0, 360, 0, 0])
    assert monotony(3 * week) == pytest.approx(monotony(week), abs=ROUNDING)
    assert strain(3 * week) == pytest.approx(3 * strain(week), abs=1e-6)


def test_no_gain_and_a_gain_by_hand():
    assert gained(120, 0, 12) == 120
    assert gained(100, 0.5, 2) == pytest.approx(100 * 1.005 * 1.005, abs=ROUNDING)


def test_impulse_response_is_the_double_sum_written_out():
    rng = np.random.default_rng(1)
    load = rng.uniform(0, 3, 40)
    p = ImpulseResponse(baseline=50.0, fitness_gain=0.7, fatigue_gain=1.3, fitness_tau_days=41.0, fatigue_tau_days=11.0)
    for day, value in enumerate(impulse_response(load, parameters=p)):
        by_sum = 50.0
        for i in range(day):
            by_sum += load[i] * (0.7 * np.exp(-(day - i) / 41.0) - 1.3 * np.exp(-(day - i) / 11.0))
        assert value == pytest.approx(by_sum, abs=ROUNDING)


def times_after_one_dose(p):
    """Days to the baseline, t1 t2 / (t1 - t2) ln(k2 / k1), and to the peak, the same with k2 t1 / (k1 t2)."""
    tau = p.fitness_tau_days * p.fatigue_tau_days / (p.fitness_tau_days - p.fatigue_tau_days)
    gains = p.fatigue_gain / p.fitness_gain
    return tau * np.log(gains), tau * np.log(gains * p.fitness_tau_days / p.fatigue_tau_days)


def test_after_one_dose_it_returns_and_peaks_when_the_formulas_say():
    p = ImpulseResponse()
    to_baseline, to_peak = times_after_one_dose(p)
    one = np.zeros(400)
    one[0] = 1.0
    days = impulse_response(one, parameters=p)
    crossing = int(np.flatnonzero(days[1:] > p.baseline)[0]) + 1
    assert crossing - 1 < to_baseline <= crossing
    half_a_day = 0.5 + 1e-9
    assert abs(int(np.argmax(days)) - to_peak) <= half_a_day


def test_published_times_of_the_swimmers():
    """hellard_2006: means of 38 and 19 days; reported return to baseline 19 and peak 43 days, ratio not printed.

    The peak comes ln(t1 / t2) t1 t2 / (t1 - t2) = 38 ln 2 = 26.3 days after the return, for any ratio; reported 24.
    """
    to_baseline, to_peak = times_after_one_dose(ImpulseResponse())
    between = to_peak - to_baseline
    means_of_ratios = 3.0
    assert between == pytest.approx(43 - 19, abs=means_of_ratios)


@pytest.mark.parametrize("name", ["gain_rates.csv", "taper.csv"])
def test_every_row_has_a_known_source_and_grade(name):
    for row in read_rows("evidence", name):
        assert {key.strip() for key in row["source"].split(";")} <= set(sources())
        assert row["grade"] in {"published", "derived", "recalled", "assumed"}
