"""Does order matter as much as published? The carry-over between exercises, against the studies of exercise order."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pandas as pd

from workbench.gym.catalogue import Catalogue, Exercise, built_in
from workbench.models.fatigue import DEFAULT_FORM, FatigueForm
from workbench.models.load_reps import DEFAULT_CURVE, Curve
from workbench.models.sharing import CARRY, Carry, SharedFatigue
from workbench.quantities import SEED, FloatArray
from workbench.reference.parameters import endurance_prior, fatigue_draws, recovery_prior
from workbench.reference.sources import read_rows
from workbench.simulate.plan import overlap_of
from workbench.simulate.run import INTERVAL

__all__ = ["exercise_order_table"]

#: Standard errors between prediction and study within which a size counts as met.
WITHIN_ERRORS: Final = 2.0
#: Change of reps from which there is a direction, and up to which it counts as none, %.
SOME: Final = 0.5
NEAR_NOTHING: Final = 5.0


def exercise_order_table(
    *,
    draws: int = 400,
    seed: int = SEED,
    form: FatigueForm = DEFAULT_FORM,
    curve: Curve = DEFAULT_CURVE,
    carry: Carry = CARRY,
    exercises: Catalogue | None = None,
) -> pd.DataFrame:
    """Predict the reps lost or won by order in each study, beside what was published.

    Lifters are drawn from the published spread; each study's exercises are done to failure at its loads and rests.

    Parameters
    ----------
    draws, seed : int
    form, curve : FatigueForm, Curve
    carry : Carry
    exercises : Catalogue
        Knows the muscles of the studies' exercises; the built-in one where not given.

    Returns
    -------
    DataFrame
        One row a study and order: source, before, exercise, published_percent and error_percent (NaN where only a
        direction was published), direction ("fewer", "more" or "equal"), predicted_percent (median), low, high (10
        and 90 %), errors_off (difference over the study's standard error), agrees (direction, and size within two
        standard errors where one was published), grade.
    """
    catalogue = exercises or built_in()
    rows = []
    for row in read_rows("evidence", "exercise_order.csv"):
        # The same lifters for every row of the table.
        ratio = _ratio(row, draws, np.random.default_rng(seed), catalogue, form, curve, carry)
        low, median, high = np.quantile(100.0 * (ratio - 1.0), INTERVAL)
        published = float(row["change_percent"]) if row["change_percent"] else np.nan
        error = float(row["se_percent"]) if row["se_percent"] else np.nan
        off = (median - published) / error
        direction = row["direction"]
        agrees = {"fewer": median < -SOME, "more": median > SOME, "equal": abs(median) < NEAR_NOTHING}[direction]
        rows.append(
            {
                "source": row["source"],
                "before": ("alternating with " if row["alternating"] == "yes" else "")
                + row["first"].replace(";", ", "),
                "exercise": row["second"],
                "published_percent": published,
                "error_percent": error,
                "direction": direction,
                "predicted_percent": float(median),
                "low": float(low),
                "high": float(high),
                "errors_off": off,
                "agrees": bool(agrees and (np.isnan(off) or abs(off) <= WITHIN_ERRORS)),
                "grade": row["grade"],
            }
        )
    return pd.DataFrame(rows)


@dataclass(frozen=True)
class _Lifters:
    """Drawn lifters, arrays with draws first, and the exercises of a study, one lane each."""

    exercises: tuple[Exercise, ...]
    overlap: FloatArray
    endurance: FloatArray
    rate: FloatArray
    parameters: Any
    form: FatigueForm
    curve: Curve
    carry: Carry

    def last_reps(self, sets: list[tuple[int, float]], maximum: float) -> FloatArray:
        """Reps of the last exercise over all its sets (lane and rest before), all to failure, shape (draws, 1)."""
        shared = SharedFatigue(self.form, self.overlap, self.rate, parameters=self.parameters, carry=self.carry)
        clock, total = np.zeros_like(self.rate), np.zeros_like(self.rate)
        for lane, rest in sets:
            clock = clock + rest
            headroom = self.curve.headroom_for(maximum, self.endurance[:, lane : lane + 1])
            state = shared.before(lane, clock)
            available, after = self.form.work(state, headroom, maximum, np.inf, parameters=self.parameters)
            clock = clock + available * self.exercises[lane].seconds_per_rep
            shared.after(lane, after, clock)
            if lane == len(self.exercises) - 1:
                total = total + available
        return total


def _ratio(
    row: dict[str, str],
    draws: int,
    rng: np.random.Generator,
    catalogue: Catalogue,
    form: FatigueForm,
    curve: Curve,
    carry: Carry,
) -> FloatArray:
    """Reps of the second exercise after the first over its reps without it, shape (draws,)."""
    exercises = tuple(catalogue.exercise(name) for name in (*row["first"].split(";"), row["second"]))
    streams = rng.spawn(3)
    priors = [endurance_prior(one.endurance_class) for one in exercises]
    between = np.array([prior.log_sd_between_lifters for prior in priors])
    endurance = np.exp(between * streams[0].standard_normal((draws, len(exercises))))
    recovery = recovery_prior(None if row["sex"] == "unknown" else row["sex"])
    lifters = _Lifters(
        exercises,
        overlap_of(tuple(one.name for one in exercises), catalogue),
        np.array([prior.median for prior in priors]) * endurance,
        recovery.median * np.exp(recovery.log_sd * streams[1].standard_normal((draws, 1))),
        fatigue_draws(draws, streams[2], form=form),
        form,
        curve,
        carry,
    )
    rest, gap, count = float(row["rest_s"]), float(row["gap_s"]), int(row["second_sets"])
    last = len(exercises) - 1
    alone = [(last, 0.0 if not number else rest) for number in range(count)]
    if row["alternating"] == "yes":
        sets = [(lane, rest) for _ in range(count) for lane in (0, last)]
    else:
        blocks = [(lane, int(row["first_sets"])) for lane in range(last)] + [(last, count)]
        sets = [(lane, gap if not number else rest) for lane, times in blocks for number in range(times)]
    maximum = float(row["repetition_maximum"])
    return (lifters.last_reps(sets, maximum) / lifters.last_reps(alone, maximum))[:, 0]
