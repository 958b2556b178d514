"""Sets and sessions as they came out, made by hand and counted number by number; reps lie on every boundary too."""

import math

import numpy as np
import pytest

from workbench.simulate.plan.planned import PlannedSet
from workbench.simulate.session_outcome import SessionOutcome, interval_by_week, interval_columns
from workbench.simulate.set_outcome import SetOutcome

DRAWS, WEEKS = 40, 3
INF = math.inf


def made_set(seed, *, low=(5, 6, 7), high=(5, 8, INF), active=(True, True, True), leaves=None, rule=False):
    """A set with reps in halves about the prescribed ones; under a rule some draws leave it out, or change the load."""
    rng = np.random.default_rng(seed)
    kg, one_rm = np.array([60.0, 62.5, 65.0]), 80.0
    planned = PlannedSet(
        *("back squat", 0, 1, 1, 1, 0, kg, kg, 0.0, kg / one_rm, np.array(low, float), np.array(high, float)),
        *(np.array(active), np.zeros(3), np.zeros(3), np.zeros(3)),
        leaves=leaves,
    )
    available = rng.integers(6, 22, (DRAWS, WEEKS)) / 2
    if not rule:
        return SetOutcome(planned, available)
    done = (rng.random((DRAWS, WEEKS)) < 0.7) & np.array([True, True, False])
    load = kg * rng.choice([0.9, 1.0], (DRAWS, WEEKS))
    return SetOutcome(planned, np.where(done, available, 0.0), load, done)


SETS = {
    "reps, a range, to failure": made_set(1),
    "not done in one week": made_set(2, active=(True, False, True)),
    "done in no week": made_set(3, active=(False, False, False)),
    "to a reserve": made_set(4, leaves=np.array([2.0, 2.0, 1.0])),
    "under a rule": made_set(5, high=(5, 8, 9), rule=True),
    "under a rule, not done in one week": made_set(6, high=(5, 8, 9), active=(False, True, True), rule=True),
}


def told(one, draw, week):
    """Of a set in one draw and week: prescribed, tried, made, reps missed, reps done, reserve."""
    planned, reps = one.planned, float(one.available[draw, week])
    low, high, active = planned.reps_low[week], planned.reps_high[week], bool(planned.active[week])
    prescribed = active and high != INF and planned.leaves is None
    tried = one.done is None or bool(one.done[draw, week])
    made = not prescribed or reps >= low
    missed = low - math.floor(reps) if not made and tried else 0.0
    done = min(math.floor(reps), high) if active else 0.0
    return prescribed, tried, made, missed, done, reps - low if prescribed and tried else INF


EVERYWHERE = [(draw, week) for draw in range(DRAWS) for week in range(WEEKS)]


@pytest.mark.parametrize("one", SETS.values(), ids=SETS.keys())
def test_a_set_is_what_its_numbers_say(one):
    planned = one.planned
    judged, left_out = (np.broadcast_to(of, (DRAWS, WEEKS)) for of in (one.judged, one.left_out))
    kg, share = (np.broadcast_to(of, (DRAWS, WEEKS)) for of in (one.lifted_kg, one.lifted_fraction))
    missing = []
    for at in EVERYWHERE:
        prescribed, tried, made, missed, done, _ = told(one, *at)
        load = planned.load_kg[at[1]] if one.load_kg is None else one.load_kg[at]
        assert one.made[at] == made
        assert judged[at] == (prescribed and tried)
        assert one.failed[at] == (missed > 0)
        assert one.missed[at] == missed
        assert one.reps_done[at] == done
        assert left_out[at] == (not tried and planned.active[at[1]])
        assert (kg[at], share[at]) == (load, pytest.approx(load / 80.0, rel=1e-12))
        for reserve in (0.0, 0.5, 2.0):
            ends = planned.active[at[1]] and tried and one.available[at] <= planned.reps_high[at[1]] + reserve
            assert one.ends_within(reserve)[at] == ends
        missing += [(at[1], at[0], missed)] if missed else []
    draw, week, short = one.misses
    assert list(zip(week, draw, short, strict=True)) == sorted(missing)


SESSIONS = {
    "planned": ["reps, a range, to failure", "to a reserve", "not done in one week"],
    "nothing prescribed": ["to a reserve", "done in no week"],
    "under rules": ["under a rule", "reps, a range, to failure", "under a rule, not done in one week"],
}


@pytest.mark.parametrize("names", SESSIONS.values(), ids=SESSIONS.keys())
def test_a_session_is_what_its_sets_are_together(names):
    sets = tuple(SETS[name] for name in names)
    session = SessionOutcome(sets)
    assert (len(session), session.draws, list(session), session[1]) == (len(sets), DRAWS, list(sets), sets[1])
    for week in range(WEEKS):
        all_told = [[told(one, draw, week) for one in sets] for draw in range(DRAWS)]
        made = [all(one[2] for one in of_draw) for of_draw in all_told]
        lowest = [min(one[5] for one in of_draw) for of_draw in all_told]
        assert session.made[:, week].tolist() == made
        assert session.chance_by_week[week] == pytest.approx(sum(made) / DRAWS, abs=1e-12)
        assert session.lowest_reserve[:, week].tolist() == lowest
        if math.isfinite(max(lowest)):
            assert session.reserve_interval[:, week] == pytest.approx(np.percentile(lowest, [10, 50, 90]), abs=1e-12)
        for number in range(len(sets)):
            column = [of_draw[number] for of_draw in all_told]
            missed = sum(one[3] for one in column)
            assert session.chances[number, week] == pytest.approx(sum(one[2] for one in column) / DRAWS, abs=1e-12)
            assert session.missed_in_all[number, week] == missed
            assert session.expected_missed[number, week] == pytest.approx(missed / DRAWS, abs=1e-12)
            assert session.done_in_all[number, week] == sum(one[4] for one in column)


@pytest.mark.parametrize("names", SESSIONS.values(), ids=SESSIONS.keys())
def test_the_reps_available_are_those_of_the_draws_that_do_the_set(names):
    """Where a rule leaves a set out on every draw, there are none."""
    sets = [SETS[name] for name in names]
    found = SessionOutcome(tuple(sets)).available_interval
    assert found.shape == (3, len(sets), WEEKS)
    for number, one in enumerate(sets):
        for week in range(WEEKS):
            does = [told(one, draw, week)[1] or not one.planned.active[week] for draw in range(DRAWS)]
            reps = one.available[np.array(does), week] if any(does) else [0.0]
            assert found[:, number, week] == pytest.approx(np.percentile(reps, [10, 50, 90]), abs=1e-12)


@pytest.mark.parametrize("known", [{0}, {1, 2}, {0, 3}, {0, 1, 2, 3}])
def test_intervals_that_were_taken_over_are_taken(known):
    sets = tuple(made_set(seed) for seed in range(4))
    intervals = {number: np.full((3, WEEKS), 100.0 + number) for number in known}
    found = SessionOutcome(sets, intervals=intervals).available_interval
    for number, one in enumerate(sets):
        worked = np.percentile(one.available, [10, 50, 90], axis=0)
        assert found[:, number] == pytest.approx(intervals.get(number, worked), abs=1e-12)


def test_a_session_says_its_sets_alone():
    """What it was worked out from is thousands of numbers."""
    session = SessionOutcome((SETS["to a reserve"],))
    assert session.planned is session.worked is None
    assert repr(session) == f"SessionOutcome(sets={session.sets!r})"


def test_an_interval_by_hand():
    """Of 0 to 10 in ones, nine in ten lie up to 9; between two numbers a quantile lies on the line, or is one."""
    values = np.column_stack([np.arange(11.0), 10 * np.arange(11.0)])
    assert interval_by_week(values).tolist() == [[1.0, 10.0], [5.0, 50.0], [9.0, 90.0]]
    assert {name: row.tolist() for name, row in interval_columns(values[:6], "load").items()} == {
        "load_p10": [0.5, 5.0],
        "load_p50": [2.5, 25.0],
        "load_p90": [4.5, 45.0],
    }
    steps = interval_columns(values[:6], method="inverted_cdf")
    assert {name: row.tolist() for name, row in steps.items()} == {
        "reps_p10": [0.0, 0.0],
        "reps_p50": [2.0, 20.0],
        "reps_p90": [5.0, 50.0],
    }
