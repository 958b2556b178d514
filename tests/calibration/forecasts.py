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
    found = []
    for one in (one for session in plan.sessions for one in session.sets):
        of_lift, load = log[log["exercise"] == one.exercise], float(one.load_kg[0])
        # The published fall is that of sets to failure; by it, prescribed sets would be missed that are made.
        fall = _FALL[min(one.number, len(_FALL)) - 1] if np.isinf(one.reps_high[0]) else 1.0
        stated, _ = person.stated[one.exercise]
        in_table = max(1.0 + math.log(stated / load) / median_endurance(one.exercise), 0.0)
        by_formula = max((_best_one_rm(of_lift) / load - 1.0) / _PER_REP, 0.0)
        found.append([_last_time(of_lift, load, one.number), round(in_table * fall), round(by_formula * fall)])
    return np.array(found, dtype=float).T


def _best_one_rm(of_lift: pd.DataFrame) -> float:
    """Best 1RM by the formula, of the sets of the last fortnight, with what was stated to be left."""
    recent = of_lift[of_lift["date"] >= of_lift["date"].max() - pd.Timedelta(days=14)]
    return float((recent["load_kg"] * (1.0 + _PER_REP * _could(recent))).max())


def _could(sets: pd.DataFrame) -> pd.Series:
    return sets["reps"] + sets["reps_in_reserve"].fillna(0.0)


def _last_time(of_lift: pd.DataFrame, load: float, number: int) -> float:
    """Reps of the last such set at this load, or at the nearest, with what was stated to be left.

    Of those sets whose end is known, where there are any: a set simply completed says little.
    """
    ended = of_lift[(of_lift["outcome"] == "failed") | of_lift["reps_in_reserve"].notna()]
    sets = ended if len(ended) else of_lift
    apart = np.log(sets["load_kg"] / load).abs()
    alike = sets[apart <= max(0.025, float(apart.min()) + 1e-9)]
    day = alike[alike["date"] == alike["date"].max()]
    same = day[day["set_number"] == number]
    return float(_could(same if len(same) else day).iloc[-1])
