"""How what was learned is said: rows of the summary, units of the room, sentences."""

from __future__ import annotations

import datetime
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from workbench.fit.learned import Learned, _row, learned_in
from workbench.fit.marginals import LogNormal, Marginal, Normal
from workbench.gym.catalogue import built_in
from workbench.quantities import InputError


def test_a_row_of_the_summary_holds_both_intervals_and_how_much_narrower_it_is():
    """One in ten lies beyond 1.2815516 sds: of 100 kg with 5 % between 93.793 and 106.617 kg; after, half as wide."""
    points = np.log(110.0) + np.linspace(-0.2, 0.2, 81)
    after = Marginal(points, np.exp(-0.5 * ((points - np.log(110.0)) / 0.025) ** 2))
    found = _row(("back squat", "1RM", "kg"), LogNormal(np.log(100.0), 0.05), after, 7, "note")
    assert [found[name] for name in ("exercise", "quantity", "unit", "sets", "note")] == [
        "back squat",
        "1RM",
        "kg",
        7,
        "note",
    ]
    before = [found[f"prior_p{level}"] for level in (10, 50, 90)]
    assert before == pytest.approx([93.793, 100.0, 106.617], abs=0.001)
    assert [found[f"p{level}"] for level in (10, 50, 90)] == pytest.approx([106.532, 110.0, 113.581], rel=1e-4)
    assert found["narrowed"] == pytest.approx(0.5, rel=1e-3)
    # A gain in % a week from one in parts: none with an sd of 0.4 %, then 0.2 with 0.1 %.
    gain = _row(("back squat", "gain", "%/week"), Normal(0.0, 0.004), Normal(0.002, 0.001), 7, times=100.0)
    assert [gain[f"prior_p{level}"] for level in (10, 50, 90)] == pytest.approx([-0.512621, 0.0, 0.512621], abs=1e-6)
    assert [gain[f"p{level}"] for level in (10, 50, 90)] == pytest.approx([0.071845, 0.2, 0.328155], abs=1e-6)
    assert gain["narrowed"] == pytest.approx(0.25)


def test_what_was_learned_is_said_in_the_unit_of_the_room_and_by_one_hand():
    """A 1RM of two dumbbells of 40 kg in all is 20 kg, or 44.09 lb, in each hand; one of 100 kg is 220.46 lb."""
    row = {"quantity": "1RM", "unit": "kg", "prior_p50": 40.0, "p50": 40.0}
    summary = pd.DataFrame(
        [
            {**row, "exercise": "dumbbell curl"},
            {**row, "exercise": "back squat", "p50": 100.0},
            {"exercise": "back squat", "quantity": "endurance", "unit": "1/rep", "prior_p50": 0.03, "p50": 0.02},
        ]
    )
    pounds, kilograms = learned_in(summary, "lb"), learned_in(summary, "kg")
    assert pounds["p50"].tolist() == pytest.approx([44.09, 220.46, 0.02], abs=0.01)
    assert kilograms["p50"].tolist() == [20.0, 100.0, 0.02]
    assert pounds["unit"].tolist() == ["lb each hand", "lb", "1/rep"]
    assert kilograms["unit"].tolist() == ["kg each hand", "kg", "1/rep"]


@pytest.mark.parametrize("rests", ["", "3 rests are not in the log."])
def test_what_was_assumed_asked_and_left_out_is_said(rests, monkeypatch):
    """In this order: sets used, questions, what changed (here nothing), rests taken, the first ten rows left out."""
    row = {"exercise": "all", "quantity": "recovery rate", "unit": "1", "narrowed": 1.0}
    row |= dict.fromkeys(("prior_p10", "prior_p50", "prior_p90", "p10", "p50", "p90"), 1.0)
    monkeypatch.setattr(Learned, "summary", lambda learned: pd.DataFrame([row]))
    monkeypatch.setattr(Learned, "_hardly_told", (), raising=False)
    left_out = pd.DataFrame([{"exercise": "plank", "reason": f"no reps in row {number}"} for number in range(12)])
    used = SimpleNamespace(set_count=7, rests_said=rests, left_out=left_out, questions=("is Monday right?",))
    lifter = SimpleNamespace(name="A", catalogue=built_in())
    learned = Learned(SimpleNamespace(log=used, lifter=lifter, today=datetime.date(2026, 2, 3)))
    assert learned.sentences() == [
        "A: 7 sets used, as of 2026-02-03.",
        "Please answer: is Monday right?.",
        *([rests] if rests else []),
        *(f"Left out: plank, no reps in row {number}." for number in range(10)),
    ]


# What lies beyond the grids


@pytest.fixture
def beyond():
    """Grids with a 1RM, an endurance and a rate about 0 with sds of 0.1, 0.2 and 0.3, and what no grid holds."""
    bells = {
        sd: (sd * np.linspace(-6.0, 6.0, 49), np.exp(-0.5 * np.linspace(-6.0, 6.0, 49) ** 2)) for sd in (0.1, 0.2, 0.3)
    }
    (strength, today), (log_k, of_k), (log_rate, of_rate) = bells.values()
    both = of_rate[:, None] * of_k / (of_rate.sum() * of_k.sum())
    lift = SimpleNamespace(
        grid=SimpleNamespace(log_strength=strength, log_endurance=log_k),
        filtered=SimpleNamespace(today=np.broadcast_to(today / today.sum(), (49, 49, 49))),
    )
    joint = SimpleNamespace(lifts=(both,), log_rate=log_rate, rate=of_rate / of_rate.sum())
    unknowns = SimpleNamespace(
        of_lift=lambda number, column: ((0.05, 0.03), (-0.07, 0.04))[column], of_rate=lambda: (0.02, 0.05)
    )
    carried = SimpleNamespace(sd=0.5, with_lifts=np.array([[0.08, -0.12]]), with_rate=-0.2)
    fit = SimpleNamespace(unknowns=unknowns, carry_over=carried, lifts=(SimpleNamespace(exercise="back squat"),))
    learned = Learned(fit)
    vars(learned).update(_ridge=((lift,), joint), _fine=((lift,), joint))
    return learned


def test_each_quantity_moves_and_scatters_by_what_no_grid_holds(beyond):
    """Sds add in squares: of the grid, of the carry-over (0.5 times how far each moves with it), of the unseen."""
    for found, middle, parts in (
        (beyond.one_rm("back squat"), 0.05, (0.1, 0.5 * 0.08, 0.03)),
        (beyond.endurance("back squat"), -0.07, (0.2, 0.5 * 0.12, 0.04)),
        (beyond.recovery_rate, 0.02, (0.3, 0.5 * 0.2, 0.05)),
    ):
        assert found.mean == pytest.approx(middle, abs=1e-6)
        # A scatter finer than 0.6 steps of the grid keeps its variance; the ends at six sds lose nothing.
        assert found.sd == pytest.approx(np.linalg.norm(parts), rel=2e-3)


def test_an_exercise_that_is_not_in_the_log_is_refused_with_those_that_are(beyond):
    with pytest.raises(InputError, match="'plank' is not in the log; use one of: back squat"):
        beyond.one_rm("plank")
