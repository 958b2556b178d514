"""Endurance and recovery in a coach's words: worked by hand from the load-reps curve, and in the right order."""

import math

import numpy as np
import pandas as pd
import pytest

from workbench.answers.lifter_words import endurance_said, kept_after_rest, learned_as_reps, reps_at_share
from workbench.models.fatigue import DEFAULT_FORM
from workbench.models.load_reps import CURVES
from workbench.reference.parameters import endurance_prior, fatigue_typical

LINE = CURVES["exponential"]
#: ln(1 / 0.7)
HEADROOM = 0.3566749


def test_reps_at_70_percent_are_whole_and_from_few_to_many():
    """1 + 0.35667 / k: 12.89, 10.51 and 8.13 reps at k of 0.03, 0.0375 and 0.05."""
    spread = np.repeat([0.03, 0.0375, 0.05], [20, 60, 20])
    assert reps_at_share(spread, LINE).tolist() == [8, 10, 12]
    said = endurance_said(spread, LINE, (0.03, 0.3), known=True)
    assert said.startswith("about 10 reps (8 to 12) at 70 %, usual ")


def test_the_usual_is_the_middle_of_the_class_and_stands_alone_where_the_lifter_is_not_known():
    prior = endurance_prior("horizontal press")
    ends = [1 + HEADROOM / (prior.median * math.exp(sign * 1.2816 * prior.log_sd)) for sign in (1, -1)]
    few, many = (math.floor(reps) for reps in ends)
    said = endurance_said(np.full(5, 0.03), LINE, (prior.median, prior.log_sd), known=False)
    assert said == f"endurance not known, usual is {few} to {many if many < 30 else '30 or more'} reps at 70 %"


def test_a_quick_recovery_keeps_more_and_none_keeps_more_than_all():
    endurance, settings = np.full(3, 0.035), {"form": DEFAULT_FORM, "curve": LINE}
    rates = np.array([0.5, 1.0, 3.0])
    each = [
        kept_after_rest(endurance[:1], rates[at : at + 1], **settings, parameters=fatigue_typical())[1]
        for at in range(3)
    ]
    assert 0 < each[0] < each[1] < each[2] <= 1
    together = kept_after_rest(endurance, rates, **settings, parameters=fatigue_typical())
    assert together[1] == pytest.approx(each[1])
    assert each[0] < together[0] < together[2] < each[2]


def test_what_a_log_taught_is_said_in_reps_and_the_ends_change_places():
    """Endurance 0.03 to 0.05: the lifter who loses least with each rep has the most of them."""
    ends = {"prior_p10": 0.03, "prior_p50": 0.0375, "prior_p90": 0.05, "p10": 0.0375, "p50": 0.0375, "p90": 0.0375}
    mass = {"quantity": "1RM", "unit": "kg", **dict.fromkeys(ends, 100.0)}
    table = pd.DataFrame([mass, {"quantity": "endurance", "unit": "1/rep", **ends}])
    one_rm, reps = learned_as_reps(table, LINE).to_dict("records")
    assert one_rm == mass
    assert (reps["quantity"], reps["unit"]) == ("reps at 70 %", "reps")
    assert [reps[name] for name in ends] == [8, 10, 12, 10, 10, 10]
    assert table["quantity"].tolist() == ["1RM", "endurance"]  # the table given stays
