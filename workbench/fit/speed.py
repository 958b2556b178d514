"""The refit of the speed target: its log, and the array work that cannot be saved."""

from __future__ import annotations

import datetime
from typing import Any

import numpy as np
import pandas as pd
from scipy.special import ndtr

from workbench.fit.learned import Learned
from workbench.gym.catalogue import built_in
from workbench.lifter import Lifter
from workbench.models.fatigue import sequence
from workbench.reference.parameters import endurance_prior, noise
from workbench.reference.toml_files import validate

__all__ = ["irreducible_work", "refit_case"]

#: Five exercises on twelve days, five sets each: 300 sets.
NAMES = ("back squat", "bench press", "barbell bench pull", "lat pulldown", "leg press")
SESSIONS, SETS, REST_S = 12, 5, 180.0


def refit_case(sessions: int = SESSIONS) -> tuple[pd.DataFrame, Lifter]:
    """Build a log, of 300 sets where not told otherwise, and its lifter: a stated reserve, a last set to failure.

    The reps are those of a lifter of usual endurance and recovery, with the usual scatter.
    """
    rng = np.random.default_rng(1)
    rows: list[dict[str, Any]] = []
    for day in range(sessions):
        date = datetime.date(2026, 1, 5) + datetime.timedelta(days=3 * day)
        for name in NAMES:
            load = float(rng.choice([70.0, 72.5, 75.0, 77.5, 80.0]))
            per_rep = endurance_prior(built_in().exercise(name).endurance_class).median
            available = sequence([load / 100.0] * SETS, [REST_S] * SETS, per_rep, reps_wanted=[5, 5, 5, 5, np.inf])
            at_failure = int(available[-1] * np.exp(noise().set_log_sd * rng.standard_normal()))
            for number in range(SETS):
                last = number == SETS - 1
                rows.append(
                    {
                        "date": pd.Timestamp(date),
                        "exercise": name,
                        "load_kg": load,
                        "reps": at_failure if last else 5,
                        "outcome": "failed" if last else "completed",
                        "reps_in_reserve": round(available[1] - 5.5) if number == 1 else np.nan,
                        "rest_s": REST_S,
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
