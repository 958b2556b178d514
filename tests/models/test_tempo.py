"""What slow reps cost: published values, limits, order, refusals."""

import numpy as np
import pytest

from workbench.models.tempo import SlowReps, endurance_at, slowness
from workbench.quantities import InputError


def test_knee_extensions_at_80_percent_as_published():
    """rbme_ke_2007: 10.1 reps at 80 degrees per second, 5.9 at 25: ln(9.1 / 4.9) / ln(3.2) = 0.532."""
    k = np.log(1 / 0.8) / 9.1
    slow = endurance_at(k, slowness(80.0, 25.0), parameters=SlowReps(exponent=0.532))
    assert 1 + np.log(1 / 0.8) / slow == pytest.approx(5.9, abs=0.01)


def test_at_the_usual_tempo_nothing_changes():
    assert endurance_at(0.03, slowness(4.0, 4.0)) == 0.03


def test_haste_gains_nothing():
    assert slowness([1.0, 2.0, 3.99], 4.0).tolist() == [0.0, 0.0, 0.0]


def test_an_exponent_of_one_keeps_the_seconds_and_one_of_none_the_reps():
    """Twice as slow: half of the reps beyond the first, in as many seconds; or all of them."""
    slower = slowness(8.0, 4.0)
    assert endurance_at(0.03, slower, parameters=SlowReps(exponent=1.0)) == pytest.approx(0.06)
    assert endurance_at(0.03, slower, parameters=SlowReps(exponent=0.0)) == 0.03


def test_slower_is_never_less_tiring_and_arrays_are_as_scalars():
    seconds = np.array([4.0, 5.0, 8.0, 20.0])
    exponents = np.array([[0.2], [0.9]])
    found = endurance_at(0.03, slowness(seconds, 4.0), parameters=SlowReps(exponent=exponents))
    assert (np.diff(found, axis=1) > 0).all()
    assert (found[1, 1:] > found[0, 1:]).all()
    for at, one in np.ndenumerate(found):
        alone = endurance_at(0.03, slowness(seconds[at[1]], 4.0), parameters=SlowReps(exponent=exponents[at[0], 0]))
        assert one == pytest.approx(float(alone), rel=1e-12)


@pytest.mark.parametrize("seconds", [(0.0, 4.0), (4.0, 0.0), (-1.0, 4.0)])
def test_a_rep_takes_time(seconds):
    with pytest.raises(InputError):
        slowness(*seconds)
