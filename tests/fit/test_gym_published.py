"""The published prior taken apart, against the table as it stands in the file."""

from __future__ import annotations

import csv
import math

import numpy as np
import pytest

from workbench.fit import FitSettings
from workbench.fit.gym_published import Published
from workbench.models.fatigue import DEFAULT_FORM
from workbench.quantities import SEED
from workbench.reference.parameters import group_draws
from workbench.reference.sources import data_path


def table():
    with data_path("parameters.csv").open(encoding="utf-8", newline="") as handle:
        return {(row["quantity"], row["group"]): row for row in csv.DictReader(handle)}


def test_middles_and_spreads_are_those_of_the_table():
    rows, found = table(), Published.of()
    for at, name in enumerate(found.classes):
        row = rows["endurance", name]
        assert found.middle[at] == pytest.approx(math.log(float(row["value"])))
        assert found.between_lifters[at] == float(row["spread"])
        of_groups, of_median = (
            float(row[key] or usual) for key, usual in (("group_spread", 0.2), ("uncertainty", 0.1))
        )
        assert found.between_gyms[at] == pytest.approx(math.hypot(of_groups, of_median))
    assert len(found.classes) == sum(quantity == "endurance" for quantity, _ in rows)
    rate, women = rows["recovery_rate", "all"], rows["recovery_rate", "female"]
    assert found.rate == math.log(float(rate["value"]))
    assert (found.rate_between_gyms, found.rate_between_lifters) == (float(rate["group_spread"]), float(rate["spread"]))
    # A woman may lie as far off as half of what some studies found for women.
    half = 0.5 * math.log(float(women["value"]) / float(rate["value"]))
    assert found.women_between_gyms == pytest.approx(half)
    # Where nothing else is said, stated reserves are off by 0.7 reps between lifters, as a fit takes it.
    assert found.reserve_sd == FitSettings().reserve_bias_sd == 0.7
    assert Published.of(reserve_sd=1.2).reserve_sd == 1.2


def test_a_tie_with_one_exercise_is_a_closer_one_with_what_all_share():
    """Half of the variance of an exercise is shared: its correlation is root one half of that, at most 0.95."""
    found = Published.of()
    published = float(table()["recovery_endurance_tie", "all"]["value"])
    assert math.tanh(found.tie) == pytest.approx(min(published / math.sqrt(0.5), 0.95))
    drawn = group_draws(4000, np.random.default_rng(SEED), DEFAULT_FORM)[1]["tie"]
    closer = [math.atanh(min(max(tie / math.sqrt(0.5), -0.95), 0.95)) for tie in drawn]
    assert found.tie_sd == pytest.approx(np.std(closer))
