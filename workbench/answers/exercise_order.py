"""Does order matter as much as published? The carry-over between exercises, against the studies of exercise order."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import pandas as pd

from workbench.gym import catalogue
from workbench.models.fatigue import DEFAULT_FORM, FatigueForm
from workbench.models.load_reps import DEFAULT_CURVE
from workbench.models.sharing import CARRY, Carry, SharedFatigue
from workbench.quantities import SEED, FloatArray
from workbench.reference.parameters import endurance_prior, fatigue_draws, recovery_prior
from workbench.reference.sources import read_rows
from workbench.simulate.plan import overlap_of

__all__ = ["exercise_order_table"]

#: Standard errors between prediction and study within which a size counts as met.
WITHIN_ERRORS: Final = 2.0
#: Change of reps from which there is a direction, and up to which it counts as none, %.
SOME: Final = 0.5
NEAR_NOTHING: Final = 5.0


def exercise_order_table(
    *, draws: int = 400, seed: int = SEED, form: FatigueForm = DEFAULT_FORM, carry: Carry = CARRY
) -> pd.DataFrame:
    """Predict the reps lost or won by order in each study, beside what was published.

    Lifters are drawn from the published spread; each study's exercises are done to failure at its loads and rests.

    Parameters
    ----------
    draws, seed : int
    form : FatigueForm
    carry : Carry

    Returns
    -------
    DataFrame
        One row a study and order: source, before, exercise, published_percent and error_percent (NaN where only a
        direction was published), direction ("fewer", "more" or "equal"), predicted_percent (median), low, high (10
        and 90 %), errors_off (difference over the study's standard error), agrees (direction, and size within two
        standard errors where one was published), grade.
    """
    rows = []
    for row in read_rows("evidence", "exercise_order.csv"):
        # The same lifters for every row of the table.
        change = 100.0 * (_ratio(row, draws, np.random.default_rng(seed), form, carry) - 1.0)
        low, median, high = np.quantile(change, (0.1, 0.5, 0.9))
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


def _ratio(row: dict[str, str], draws: int, rng: np.random.Generator, form: FatigueForm, carry: Carry) -> FloatArray:
    """Reps of the second exercise after the first over its reps without it, shape (draws,)."""
    earlier = [catalogue.exercise(name).name for name in row["first"].split(";")]
    second = catalogue.exercise(row["second"]).name
    names = (*earlier, second)
    streams = rng.spawn(3)
    sd = [endurance_prior(catalogue.exercise(name).endurance_class) for name in names]
    between = np.array([one.log_sd_between_lifters for one in sd])
    endurance = [one.median for one in sd] * np.exp(between * streams[0].standard_normal((draws, len(names))))
    recovery = recovery_prior(None if row["sex"] == "unknown" else row["sex"])
    lifter = {
        "endurance": endurance,
        "rate": recovery.median * np.exp(recovery.log_sd * streams[1].standard_normal((draws, 1))),
        "parameters": fatigue_draws(draws, streams[2], form=form),
    }
    rest, gap, count = float(row["rest_s"]), float(row["gap_s"]), int(row["second_sets"])
    last = len(names) - 1
    alone = [(last, 0.0 if not number else rest) for number in range(count)]
    if row["alternating"] == "yes":
        sets = [(lane, rest) for _ in range(count) for lane in (0, last)]
    else:
        blocks = [(lane, int(row["first_sets"])) for lane in range(last)] + [(last, count)]
        sets = [(lane, gap if not number else rest) for lane, times in blocks for number in range(times)]
    maximum = float(row["repetition_maximum"])
    tired = _reps(sets, names, maximum, lifter, form, carry)
    return (tired / _reps(alone, names, maximum, lifter, form, carry))[:, 0]


def _reps(
    sets: list[tuple[int, float]],
    names: tuple[str, ...],
    maximum: float,
    lifter: dict[str, Any],
    form: FatigueForm,
    carry: Carry,
) -> FloatArray:
    """Reps of the last exercise over all its sets, all to failure, shape (draws, 1)."""
    shared = SharedFatigue(form, overlap_of(names), lifter["rate"], parameters=lifter["parameters"], carry=carry)
    clock, total = np.zeros((lifter["rate"].shape[0], 1)), np.zeros((lifter["rate"].shape[0], 1))
    for lane, rest in sets:
        clock = clock + rest
        state = shared.before(lane, clock)
        headroom = DEFAULT_CURVE.headroom_for(maximum, lifter["endurance"][:, lane : lane + 1])
        available, after = form.work(state, headroom, maximum, np.inf, parameters=lifter["parameters"])
        clock = clock + available * catalogue.exercise(names[lane]).seconds_per_rep
        shared.after(lane, after, clock)
        if lane == len(names) - 1:
            total = total + available
    return total
