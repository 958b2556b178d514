"""A whole gym: drawn, lived through, and handed out as values or as files."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from tests.invented_gyms.months import lived_weeks
from tests.invented_gyms.people import Common, Trainee, drawn_lifters, lifter_table
from tests.invented_gyms.written import gym_files
from workbench.lifter import Lifter
from workbench.reference.toml_files import validate

__all__ = ["InventedGym", "invent_gym"]


@dataclass
class InventedGym:
    """What a gym knows, and what nobody sees of it.

    Attributes
    ----------
    lifters : dict of str to Lifter
        The lifter files as of the first week, by name; 1RMs are missing in some.
    sets : DataFrame
        All sets as the logs have them, by the columns of `workbench.read_log`, without the slips of those who write:
        rests are those that were meant. Beside them, never in a log: ``asked`` (reps prescribed; infinite to failure,
        NaN to two in reserve), ``true_rest_s`` and ``week``, counted from 0.
    truth : DataFrame
        By lifter, exercise and week: 1RM at the end of the week, kg, without the strength of the day; endurance, 1/rep;
        recovery rate, carry-over, reps that are stated too many, and what is rested of the meant rest.
    common : Common
        What the lifters have in common.
    trainees : list of Trainee
        The lifters themselves.
    """

    lifters: dict[str, Lifter]
    sets: pd.DataFrame
    truth: pd.DataFrame
    common: Common
    trainees: list[Trainee]

    def log_of(self, lifter: str) -> pd.DataFrame:
        """Sets of one lifter, in order, as `workbench.fit.fit_log` takes them."""
        return self.sets[self.sets["lifter"] == lifter].reset_index(drop=True)

    def write(self, folder: str | Path) -> dict[str, dict[str, str]]:
        """Write the gym's folder, untidy as people are; return the answers that its logs ask for, by file name."""
        files, answers = gym_files(self.trainees, self.sets)
        for name, content in files.items():
            path = Path(folder) / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(content)
        return answers


def invent_gym(
    seed: int,
    *,
    form: str = "two states",
    curve: str = "asymptotic",
    lifters: int = 24,
    weeks: int = 26,
    common: Common | None = None,
    untidy: bool = True,
) -> InventedGym:
    """Invent a gym and let it live through some weeks.

    Parameters
    ----------
    seed : int
        The same seed gives the same gym.
    form, curve : str
        How everybody tires, by a name of `FORMS` or `RIVALS`, and "exponential", "square root" or another of `CURVES`.
    lifters, weeks : int
    common : Common, optional
        Means and spreads of the gym. Drawn as groups differ in what is published otherwise.
    untidy : bool
        Whether lifters state reserves with a bias of their own, rest too little, get hurt, have a bad month, are away,
        join late or leave.
    """
    of_gym, of_lifters, of_weeks = np.random.default_rng([seed, lifters, weeks]).spawn(3)
    common = common or Common.drawn(of_gym)
    trainees = drawn_lifters(of_lifters, common, form=form, curve=curve, lifters=lifters, weeks=weeks, untidy=untidy)
    sets, true = [], []
    for trainee, rng in zip(trainees, of_weeks.spawn(lifters), strict=True):
        done, was = lived_weeks(trainee, rng)
        sets += done
        true += [
            {
                **row,
                "endurance": trainee.person.endurance[row["exercise"]],
                "recovery_rate": trainee.person.recovery_rate,
                "carry_over": trainee.person.carry_over,
                "reserve_shift": trainee.row.reserve_shift,
                "rest_factor": trainee.rest_factor,
            }
            for row in was
        ]
    files = {trainee.name: validate(lifter_table(trainee), Lifter) for trainee in trainees}
    return InventedGym(files, pd.DataFrame(sets), pd.DataFrame(true), common, trainees)
