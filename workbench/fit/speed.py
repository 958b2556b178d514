"""The refit of the speed target: its log, and the array work that cannot be saved."""

from __future__ import annotations

import datetime
from typing import Any

import numpy as np
import pandas as pd
from scipy.special import ndtr

from workbench.fit.learned import Learned
from workbench.lifter import Lifter
from workbench.reference.toml_files import validate

__all__ = ["irreducible_work", "refit_case"]

#: Five exercises on twelve days, five sets each: 300 sets.
NAMES = ("back squat", "bench press", "barbell bench pull", "lat pulldown", "leg press")
SESSIONS, SETS = 12, 5


def refit_case() -> tuple[pd.DataFrame, Lifter]:
    """Build a log of 300 sets and its lifter: straight sets, a stated reserve, a last set to failure.

    Loads and rests are such that a lifter of usual endurance has about these reps.
    """
    rng = np.random.default_rng(1)
    rows: list[dict[str, Any]] = []
    for day in range(SESSIONS):
        date = datetime.date(2026, 1, 5) + datetime.timedelta(days=3 * day)
        for name in NAMES:
            load = float(rng.choice([77.5, 80.0, 82.5, 85.0]))
            for number in range(SETS):
                last = number == SETS - 1
                rows.append(
                    {
                        "date": pd.Timestamp(date),
                        "exercise": name,
                        "load_kg": load,
                        "reps": int(rng.integers(6, 9)) if last else 5,
                        "outcome": "failed" if last else "completed",
                        "reps_in_reserve": 3.0 if number == 1 else np.nan,
                        "rest_s": 180.0,
                    }
                )
    lifts = {name: {"one_rm_kg": 100.0, "uncertainty_percent": 4.0} for name in NAMES}
    return pd.DataFrame(rows), validate({"name": "speed", "lifts": lifts}, Lifter)


def irreducible_work(learned: Learned) -> None:
    """Do the calls that the equations ask for at every point of the last grids for every set, and nothing else.

    A root for the quadratic of the set, a logarithm of the reps, two normal distributions. Searching for the grids, the
    passes through time and everything else is on top.
    """
    for log, lift in zip(learned.fit.log.lifts, learned.fit.lifts, strict=True):
        numbers = np.linspace(0.5, 1.0, int(np.prod(lift.grid.shape)))
        for _ in range(log.set_count):
            np.sqrt(numbers)
            np.log(numbers)
            ndtr(numbers)
            ndtr(numbers)
