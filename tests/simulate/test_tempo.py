"""Sets at a slower tempo: equal to the plain loop, fewer reps in a wider band; at the usual tempo no digit moves."""

import numpy as np
import pytest

from tests.scalar_oracle import simulate_slowly
from workbench.answers.block_check import check_block
from workbench.gym.equipment import read_room
from workbench.lifter import read_lifter
from workbench.prescription.block import Block
from workbench.reference.sources import data_path
from workbench.reference.toml_files import validate
from workbench.simulate.draws import draw_for
from workbench.simulate.plan import make_plan
from workbench.simulate.run import simulate

DEMO = data_path("demo")
#: The fast form does the same few hundred operations in another order.
ROUNDING = 1e-12
#: Of a back squat in the catalogue.
USUAL = 4.0


@pytest.fixture(scope="module")
def hall():
    return read_room(DEMO / "rooms" / "boathouse_hall.toml")


@pytest.fixture(scope="module")
def lifter():
    return read_lifter(DEMO / "lifters" / "emre_sandoval.toml")


def block(*groups):
    groups = groups or ({},)
    usual = {"count": 3, "reps": 6, "percent": 65, "rest_s": 120}
    slots = [{"exercise": "back squat", "sets": [usual | group for group in groups]}]
    return validate({"name": "A", "weeks": 2, "sessions": [{"name": "only", "exercises": slots}]}, Block)


def test_slow_sets_are_those_of_the_plain_loop(hall, lifter):
    drops = {"sizes": [20], "change_s": 10, "reps": 3}
    plan = make_plan(block({"seconds_per_rep": 8}, {}, {"seconds_per_rep": 6, "drops": drops}), lifter, hall)
    draws = draw_for(plan, draws=10, seed=2)
    outcome = simulate(plan, draws)
    slow = simulate_slowly(plan, draws)
    assert len(slow) == 10 * plan.weeks * plan.set_count
    for (session, at, draw, week), reps in slow.items():
        found = outcome.sessions[session][at].available[draw, week]
        assert found == pytest.approx(reps, abs=ROUNDING, rel=ROUNDING)


@pytest.mark.parametrize("seconds", [USUAL, 2.0])
def test_at_the_usual_tempo_and_faster_no_rep_moves(hall, lifter, seconds):
    """A faster tempo saves seconds between the sets of one exercise nothing: their rests are asked for."""
    without, with_tempo = (
        check_block(block(group), lifter, hall, draws=200) for group in ({}, {"seconds_per_rep": seconds})
    )
    columns = ["load_kg", "chance", "reserve", "reps_p10", "reps_p50", "reps_p90"]
    assert with_tempo.sets[columns].equals(without.sets[columns])
    assert any("no more reps are counted on" in note for note in with_tempo.notes) == (seconds < USUAL)


def test_twice_as_slow_by_hand(hall, lifter):
    """A first set has 1 + (r - 1) 2 ** -b reps, with each lifter's own b."""
    plans = [make_plan(block(group), lifter, hall) for group in ({}, {"seconds_per_rep": 2 * USUAL})]
    draws = draw_for(plans[0], draws=500, seed=1)
    usual, slow = (simulate(plan, draws).sessions[0][0].available[:, 0] for plan in plans)
    # The set's scatter is a factor on all reps of a fresh set, the first with them.
    noise = draws.set_noise[0][:, 0]
    expected = noise * (1 + (usual / noise - 1) * 2.0**-draws.slow_reps)
    assert slow == pytest.approx(expected, rel=1e-9)
    assert draws.slow_reps.std() > 0.2


def test_the_band_is_wider_for_its_middle(hall, lifter):
    usual, slow = (
        check_block(block(group), lifter, hall, draws=2000).sets.iloc[0] for group in ({}, {"seconds_per_rep": 12.0})
    )
    assert slow["reserve"] < usual["reserve"] - 2
    reps = [
        np.array([row[f"reserve{end}"] + row["reps_low"] for end in ("_low", "", "_high")]) for row in (usual, slow)
    ]
    width = [np.log(end[2] / end[0]) for end in reps]
    assert width[1] > 1.1 * width[0]


def test_a_load_by_reserve_is_lighter_for_slow_reps(hall, lifter):
    loads = []
    for seconds in (None, 8.0):
        group = {"count": 1, "reps": 8, "reps_in_reserve": 2, "rest_s": 120, "seconds_per_rep": seconds}
        group = {key: value for key, value in group.items() if value is not None}
        slots = [{"exercise": "back squat", "sets": [group]}]
        made = validate({"name": "A", "weeks": 1, "sessions": [{"name": "only", "exercises": slots}]}, Block)
        loads.append(make_plan(made, lifter, hall).sessions[0].sets[0].wanted_kg[0])
    # k 2 ** 0.67 = 1.59 k: nine reps beyond the first cost 0.59 more of what they did.
    fresh = -np.log(loads[0] / lifter.lift("back squat").one_rm)
    assert -np.log(loads[1] / lifter.lift("back squat").one_rm) == pytest.approx(fresh * 2.0**0.6676, rel=1e-3)


def test_slow_reps_are_noted_with_what_is_known(hall, lifter):
    slow, slower = (check_block(block({"seconds_per_rep": one}), lifter, hall, draws=50).notes for one in (6.0, 12.0))
    start = "back squat: 6 s a rep leave fewer reps than the usual 4 s; how many fewer differs between studies"
    assert start in slow
    assert any(note.endswith("; above 7 s a rep extrapolated, fewer are likely") for note in slower)
    assert not any("a rep" in note for note in check_block(block(), lifter, hall, draws=50).notes)
