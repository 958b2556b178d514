"""Draws in which a source is exchanged: nothing else moves, and every random part of a draw belongs to a source."""

import dataclasses

import numpy as np
import pytest

from workbench.models.fatigue import FORMS, Effort
from workbench.simulate.draws import LifterDraws
from workbench.simulate.sources import LUCK, SOURCES, exchanged, frozen, halves

COUNT, SESSIONS, SETS, WEEKS, LIFTS = 6, 2, 5, 3, 2


def numbered():
    """Draws whose every value says which draw it belongs to, and the parameters of the form as well."""
    own = np.arange(COUNT, dtype=float)
    parameters = Effort(**{one.name: 10.0 + own[:, None] for one in dataclasses.fields(Effort)})
    return LifterDraws(
        exercises=("back squat", "leg press"),
        log_one_rm=np.tile(20.0 + own[:, None], (1, LIFTS)),
        endurance=np.tile(30.0 + own[:, None], (1, LIFTS)),
        recovery_rate=40.0 + own,
        fatigue=parameters,
        form=FORMS["effort"],
        day=np.tile(50.0 + own[None, :, None], (SESSIONS, 1, WEEKS)),
        set_noise=np.tile(60.0 + own[None, :, None], (SETS, 1, WEEKS)),
        carry=70.0 + own[:, None],
        slow_reps=80.0 + own,
    )


def whose(draws):
    """By field, the draw that each value came from."""
    found = {name: getattr(draws, name) for name in ("log_one_rm", "endurance", "recovery_rate", "carry", "slow_reps")}
    found |= {name: getattr(draws, name).transpose(1, 0, 2) for name in ("day", "set_noise")}
    found |= {f"fatigue.{one.name}": getattr(draws.fatigue, one.name) for one in dataclasses.fields(draws.fatigue)}
    return {name: (values.reshape(len(values), -1) % 10) for name, values in found.items()}


def test_partners_are_each_other_s_and_of_the_other_half():
    partner = halves(COUNT)
    assert partner.tolist() == [3, 4, 5, 0, 1, 2]
    assert partner[partner].tolist() == list(range(COUNT))


@pytest.mark.parametrize("source", SOURCES)
def test_one_source_is_the_partner_s_and_all_else_the_draw_s_own(source):
    partner = halves(COUNT)
    for field, draws in whose(exchanged(numbered(), [source], partner)).items():
        expected = partner if field.split(".")[0] in SOURCES[source] else np.arange(COUNT)
        assert (draws == expected[:, None]).all(), field


def test_the_layout_of_the_arrays_stays():
    before, after = numbered(), exchanged(numbered(), LUCK, halves(COUNT))
    assert (after.day.shape, after.set_noise.shape) == (before.day.shape, before.set_noise.shape)


def test_fewer_draws_are_the_first_ones():
    draws = exchanged(numbered(), ["endurance"], np.array([5, 4]))
    assert draws.count == 2
    assert (whose(draws)["endurance"][:, 0] == [5, 4]).all()
    assert (whose(draws)["fatigue.half_reps"][:, 0] == [0, 1]).all()


def test_every_array_of_the_draws_belongs_to_one_source():
    arrays = {one.name for one in dataclasses.fields(LifterDraws)} - {"exercises", "form", "curve"}
    named = [field for of_source in SOURCES.values() for field in of_source]
    assert sorted(named) == sorted(arrays)
    assert set(LUCK) <= set(SOURCES)


def test_a_lifter_at_an_end_has_one_endurance_and_one_recovery():
    """Of 30 to 35 the value that 80 % lie below is 30 + 0.8 x 5 = 34; of 40 to 45 the one that 20 % do is 41."""
    draws = frozen(numbered(), endurance=0.8, recovery=0.2)
    assert draws.endurance == pytest.approx(np.full((COUNT, LIFTS), 34.0))
    assert draws.recovery_rate == pytest.approx(np.full(COUNT, 41.0))
    rest = whose(draws)
    assert all(
        (rest[name] == np.arange(COUNT)[:, None]).all() for name in rest if name not in ("endurance", "recovery_rate")
    )
