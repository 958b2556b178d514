"""The next week: prescribed, forecast from the log and from the lifter file written of it, and lived through."""

from __future__ import annotations

import math
import tempfile
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from tests.calibration.body import Body
from tests.calibration.people import Person, median_endurance
from tests.calibration.weeks import Habit, Life, rounded
from workbench.answers.learned import learned_draws
from workbench.fit import Learned
from workbench.fit.lifter_file import write_lifter
from workbench.gym import catalogue
from workbench.gym.equipment import Room
from workbench.lifter import read_lifter
from workbench.prescription.block import Block
from workbench.reference.toml_files import validate
from workbench.simulate.draws import draw_for
from workbench.simulate.plan import Plan, make_plan
from workbench.simulate.run import simulate

__all__ = ["RULES", "Forecast", "forecasts", "lived_through", "next_week_of", "rules_of_thumb"]

RULES = ("last time", "percent table", "rep-max formula")
#: Reps of later sets over those of the first, means of 29 studies (nuzzo_2024_sets).
_FALL = (1.0, 0.70, 0.55, 0.50, 0.45, 0.45)
#: Of the rep-max formula, 1RM = load (1 + 0.0333 reps) (epley_1985).
_PER_REP = 0.0333

ROOM = validate(
    {
        "name": "A room with every load",
        "unit": "kg",
        "plates": [{"mass": mass, "pairs": 8} for mass in (25, 20, 15, 10, 5, 2.5, 1.25)],
        "equipment": [
            {"name": "bar", "kind": "barbell", "bar": 20},
            {"name": "stack", "kind": "stack", "first": 2.5, "step": 2.5, "last": 250},
            {"name": "leg press", "kind": "plate_machine", "empty": 20, "pegs": 2},
        ],
    },
    Room,
)


@dataclass(frozen=True)
class Forecast:
    """Reps available in every set of the week, in order, shape (sets, draws), real-valued, [reps]."""

    reps: np.ndarray


def next_week_of(person: Person, trained: list[Habit], rng: np.random.Generator) -> Block:
    """Prescribe two or three sessions: sets to failure, or sets of so many reps and a last one to failure."""
    sessions = []
    for number in range(int(rng.integers(2, 4))):
        slots = []
        for habit in trained:
            load = rounded(habit.percent * rng.uniform(0.92, 1.08) * habit.believed)
            usual = 1.0 + math.log(max(habit.believed / load, 1.02)) / median_endurance(habit.exercise)
            kind = {"kg": load, "rest_s": habit.rest_s}
            groups = [{**kind, "count": 3, "reps": "failure"}]
            if rng.random() < 0.5:
                asked = max(1, round(usual * rng.uniform(0.5, 0.85)))
                groups = [{**kind, "count": 3, "reps": asked}, {**kind, "count": 1, "reps": "failure"}]
            slots.append({"exercise": habit.exercise, "sets": groups})
        sessions.append({"name": f"Session {number + 1}", "day": 1 + 2 * number, "exercises": slots})
    return validate({"name": "Next week", "weeks": 1, "sessions": sessions}, Block)


def forecasts(learned: Learned, block: Block, *, draws: int, seed: int) -> tuple[Plan, dict[str, Forecast]]:
    """Forecast a block as a coach can: from what the log taught, and from the lifter file that is written of it."""
    plan = make_plan(block, learned.lifter, ROOM, form=learned.fit.form, curve=learned.fit.curve)
    found = {"log": simulate(plan, learned_draws(learned, plan, draws=draws, seed=seed))}
    with tempfile.TemporaryDirectory() as folder:
        again = read_lifter(write_lifter(learned, Path(folder) / "lifter.toml"))
    from_file = make_plan(block, again, ROOM, form=learned.fit.form, curve=learned.fit.curve)
    found["file"] = simulate(from_file, draw_for(from_file, draws=draws, seed=seed))
    return plan, {
        name: Forecast(np.array([one.available[:, 0] for _, session in outcome for one in session]))
        for name, outcome in found.items()
    }


def lived_through(life: Life, plan: Plan) -> np.ndarray:
    """Reps that were available in every set of the week, in order, real-valued."""
    reps = []
    for session in plan.sessions:
        life.wake_up(2)
        body, before = Body(life.person), None
        for one in session.sets:
            load, high = float(one.load_kg[0]), float(one.reps_high[0])
            body.rest(one.exercise, 0.0 if before is None else float(one.start_s[0] - before.end_s[0]))
            headroom, fresh = life.set_of(one.exercise, load)
            available = body.available(headroom, fresh)
            done = min(math.floor(available), high)
            seconds = done * catalogue.exercise(one.exercise).seconds_per_rep
            body.do(headroom, fresh, math.inf if done < high else float(done), seconds)
            reps.append(available)
            before = one
    return np.array(reps)


def rules_of_thumb(log: pd.DataFrame, person: Person, plan: Plan) -> np.ndarray:
    """Whole reps of every set of the week by the rules that a coach would use instead, shape (rules, sets)."""
    found, done_of = [], {name: _Done.of(sets) for name, sets in log.groupby("exercise", sort=False)}
    for one in (one for session in plan.sessions for one in session.sets):
        done, load = done_of[one.exercise], float(one.load_kg[0])
        # The published fall is that of sets to failure; by it, prescribed sets would be missed that are made.
        fall = _FALL[min(one.number, len(_FALL)) - 1] if np.isinf(one.reps_high[0]) else 1.0
        stated, _ = person.stated[one.exercise]
        in_table = max(1.0 + math.log(stated / load) / median_endurance(one.exercise), 0.0)
        by_formula = max((done.best_one_rm() / load - 1.0) / _PER_REP, 0.0)
        found.append([done.last_time(load, one.number), round(in_table * fall), round(by_formula * fall)])
    return np.array(found, dtype=float).T


@dataclass(frozen=True)
class _Done:
    """What was done of an exercise, a value a set: reps are those that could have been done by what was stated."""

    date: np.ndarray
    number: np.ndarray
    load_kg: np.ndarray
    reps: np.ndarray
    ended: np.ndarray

    @classmethod
    def of(cls, sets: pd.DataFrame) -> _Done:
        left = sets["reps_in_reserve"].to_numpy(dtype=float)
        return cls(
            sets["date"].to_numpy(dtype="datetime64[D]"),
            sets["set_number"].to_numpy(),
            sets["load_kg"].to_numpy(dtype=float),
            sets["reps"].to_numpy(dtype=float) + np.nan_to_num(left),
            (sets["outcome"] == "failed").to_numpy() | np.isfinite(left),
        )

    def best_one_rm(self) -> float:
        """Best 1RM by the formula, of the sets of the last fortnight."""
        recent = self.date >= self.date.max() - np.timedelta64(14, "D")
        return float((self.load_kg * (1.0 + _PER_REP * self.reps))[recent].max())

    def last_time(self, load: float, number: int) -> float:
        """Reps of the last such set at this load, or at the nearest.

        Of those sets whose end is known, where there are any: a set simply completed says little.
        """
        usable = self.ended if self.ended.any() else np.ones_like(self.ended)
        apart = np.abs(np.log(self.load_kg / load))
        alike = usable & (apart <= max(0.025, float(apart[usable].min()) + 1e-9))
        day = alike & (self.date == self.date[alike].max())
        same = day & (self.number == number)
        return float(self.reps[same if same.any() else day][-1])
