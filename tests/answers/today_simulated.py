"""Simulated sessions with the truth known: the plan unchanged, a rule of thumb, today's loads, and knowing the truth.

``python -m tests.answers.today_simulated --lifters 300`` prints the table. A lifter is one draw of what the lifter file
says, a set one draw of its scatter; stated reserves are off as published. Every policy meets the same lifters and sets.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from tests.hand_made import hall, lifter_of
from workbench.answers.today import SetDone, today_question
from workbench.models.sharing import SharedFatigue
from workbench.models.stated_reserve import statement_bias, statement_sd
from workbench.prescription.block import Block
from workbench.reference.parameters import noise
from workbench.reference.toml_files import validate
from workbench.simulate.draws import LifterDraws, draw_for
from workbench.simulate.plan import Plan, make_plan

LIMIT = 0.85
#: Reps left in the last set of a group that a coach would call right for sets that are to be made.
WANTED_RESERVE = 1.5
_LOW_SCATTER = float(np.exp(-1.04 * noise().set_log_sd))
_BLOCK = {
    "name": "one day",
    "weeks": 1,
    "sessions": [
        {
            "name": "day",
            "exercises": [
                {
                    "exercise": "bench press",
                    "ramp": False,
                    "sets": [{"count": 5, "reps": 6, "percent": 75, "rest_s": 150}],
                },
                {
                    "exercise": "back squat",
                    "ramp": False,
                    "sets": [{"count": 4, "reps": 5, "percent": 80, "rest_s": 180}],
                },
            ],
        }
    ],
}


@dataclass(frozen=True)
class Truth:
    """One lifter on one day: the only draw there is, the scatter of every set, and what is said of each."""

    draws: LifterDraws
    plan: Plan
    said: np.ndarray

    def lived(self, load_of: Callable[[int, list[SetDone]], float]) -> list[tuple[float, SetDone]]:
        """Do every set with the load that a policy gives; return the reps available and what was seen."""
        plan, draws = self.plan, self.draws
        shared = SharedFatigue(
            draws.form,
            plan.overlap,
            draws.recovery_rate[:, np.newaxis],
            parameters=draws.fatigue,
            carry=plan.carry.times(draws.carry),
        )
        found: list[tuple[float, SetDone]] = []
        for number, planned in enumerate(plan.sessions[0].sets):
            load = load_of(number, [one for _, one in found])
            headroom = draws.log_one_rm[:, planned.lane] + draws.day[0, :, 0] - np.log(load)
            fresh = draws.curve.fresh_reps(headroom, draws.endurance[:, planned.lane])
            fresh = fresh[:, np.newaxis] * draws.set_noise[number]
            state = shared.before(planned.lane, planned.start_s)
            wanted = planned.reps_high
            available, after = draws.form.work(state, headroom[:, np.newaxis], fresh, wanted, parameters=draws.fatigue)
            shared.after(planned.lane, after, planned.end_s)
            reps = float(available[0, 0])
            made = int(min(np.floor(reps), wanted[0]))
            failed = made < wanted[0]
            found.append((reps, SetDone(planned.exercise, load, made, failed, self._says(number, reps, made, failed))))
        return found

    def _says(self, number: int, available: float, made: int, failed: bool) -> float | None:
        if failed:
            return None
        left = max(available - 0.5 - made, 0.0)
        felt = left - float(statement_bias(available)) + float(statement_sd(left, available)) * self.said[number]
        return float(np.clip(np.round(felt), 0, 10))


def truths(count: int, *, seed: int = 1, uncertainty: float = 5.0) -> list[Truth]:
    """Return so many lifters, as the lifter file of an unknown lifter has them."""
    one_rm = {"bench press": 100.0, "back squat": 140.0}
    lifter = lifter_of(one_rm)
    lifts = {name: lift.model_copy(update={"uncertainty_percent": uncertainty}) for name, lift in lifter.lifts.items()}
    plan = make_plan(validate(_BLOCK, Block), lifter.model_copy(update={"lifts": lifts}), hall())
    draws = draw_for(plan, draws=count, seed=seed)
    rng = np.random.default_rng([seed, 2])
    return [Truth(draws.taken(np.array([row])), plan, rng.standard_normal(plan.set_count)) for row in range(count)]


def as_planned(truth: Truth) -> list[tuple[float, SetDone]]:
    """Do the plan whatever happens."""
    sets = truth.plan.sessions[0].sets
    return truth.lived(lambda number, _: float(sets[number].load_kg[0]))


def five_percent(truth: Truth) -> list[tuple[float, SetDone]]:
    """Take 5 % off what is left of the exercise after each miss."""
    sets = truth.plan.sessions[0].sets

    def load(number: int, done: Sequence[SetDone]) -> float:
        missed = sum(one.failed for one in done if one.exercise == sets[number].exercise)
        return _plates(truth, number, float(sets[number].load_kg[0]) * 0.95**missed)

    return truth.lived(load)


def with_today(truth: Truth, chances: list[tuple[int, float, bool]] | None = None) -> list[tuple[float, SetDone]]:
    """Take the load that today's form asks for, from the second set on; note chance and outcome of each set."""
    plan = truth.plan
    expected: list[float] = []

    def load(_number: int, done: Sequence[SetDone]) -> float:
        answer = today_question(plan.block, plan.lifter, plan.room, done, limit=LIMIT, draws=1000)
        row = answer.sets.iloc[0]
        expected.append(float(row["chance_today"]))
        return float(row["today_kg"])

    lived = truth.lived(load)
    if chances is not None:
        chances += [
            (seen, chance, not one.failed) for seen, (chance, (_, one)) in enumerate(zip(expected, lived, strict=True))
        ]
    return lived


def with_the_truth(truth: Truth) -> list[tuple[float, SetDone]]:
    """Take the heaviest load up to the plan's with which this very lifter, scatter apart, makes the whole group.

    The scatter is what nobody can know: its low end, one sd times 1.04 (15 % of a normal distribution lie below),
    is asked to be enough in every set.
    """
    sets = truth.plan.sessions[0].sets
    sure = replace(truth, draws=replace(truth.draws, set_noise=np.full_like(truth.draws.set_noise, _LOW_SCATTER)))
    share: dict[str, float] = {}

    def enough(exercise: str, tried: float) -> bool:
        """Whether all sets of an exercise are made with a share of its loads, those before as already chosen."""

        def load(number: int, _: Sequence[SetDone]) -> float:
            name = sets[number].exercise
            return float(sets[number].load_kg[0]) * (tried if name == exercise else share.get(name, 1.0))

        return not any(one.failed for _, one in sure.lived(load) if one.exercise == exercise)

    for name in dict.fromkeys(one.exercise for one in sets):
        share[name] = next((tried for tried in np.arange(1.0, 0.69, -0.01) if enough(name, tried)), 0.7)
    return truth.lived(lambda number, _: float(sets[number].load_kg[0]) * share[sets[number].exercise])


def _plates(truth: Truth, number: int, load: float) -> float:
    planned = truth.plan.sessions[0].sets[number]
    exercise = truth.plan.catalogue.exercise(planned.exercise)
    return float(truth.plan.room.loads_for(exercise).round_kg(load, "nearest"))


def scores(lived: list[list[tuple[float, SetDone]]], truths: Sequence[Truth]) -> dict[str, float]:
    """Share of prescribed sets failed, mean distance of the last set of a group from the reserve wanted, mean load."""
    last = [number for number, one in enumerate(truths[0].plan.sessions[0].sets) if number in (4, 8)]
    wanted = [float(one.reps_low[0]) for one in truths[0].plan.sessions[0].sets]
    failed = np.mean([one.failed for day in lived for _, one in day])
    away = np.mean([abs(day[number][0] - wanted[number] - WANTED_RESERVE) for day in lived for number in last])
    load = np.mean(
        [
            one.load_kg / truth.plan.sessions[0].sets[number].load_kg[0]
            for truth, day in zip(truths, lived, strict=True)
            for number, (_, one) in enumerate(day)
        ]
    )
    return {"failed": float(failed), "off_reserve": float(away), "load": float(load)}


def calibration(chances: list[tuple[int, float, bool]]) -> pd.DataFrame:
    """Return chances told beside what came, by the number of sets seen."""
    table = pd.DataFrame(chances, columns=["seen", "told", "came"])
    return table.groupby("seen").agg(told=("told", "mean"), came=("came", "mean"), sets=("came", "size")).reset_index()


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--lifters", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    arguments = parser.parse_args()
    lifters = truths(arguments.lifters, seed=arguments.seed)
    chances: list[tuple[int, float, bool]] = []
    policies = {
        "as planned": [as_planned(one) for one in lifters],
        "5 % off after a miss": [five_percent(one) for one in lifters],
        "today": [with_today(one, chances) for one in lifters],
        "the truth known": [with_the_truth(one) for one in lifters],
    }
    print(pd.DataFrame({name: scores(lived, lifters) for name, lived in policies.items()}).T.round(3).to_string())
    print(calibration(chances).round(3).to_string(index=False))


if __name__ == "__main__":
    main()
