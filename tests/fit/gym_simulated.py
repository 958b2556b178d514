"""Is a gym's own prior worth anything? Invented gyms of which the truth is known, and lifters whom none of it saw.

``python -m tests.fit.gym_simulated --gyms 20 --lifters 3 8 16 30 --new 4 --seed 1`` prints, by number of lifters, how
often the 80 % intervals of the gym's numbers hold the truth, and how forecasts of the first and the second week of new
lifters score that start from the gym's numbers, from the published ones, and (``truth``) from all that could be known.
"""

from __future__ import annotations

import argparse
import dataclasses
import math
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from tests.calibration.forecasts import ROOM, lived_through, next_week_of
from tests.calibration.people import parameter
from tests.calibration.scores import brier, crps
from tests.calibration.weeks import Life, habits
from tests.fit.gym_people import CLASSES, Invented, InventedGym, drawn_gym, invented
from workbench.answers import learned as answers
from workbench.fit import fit_log
from workbench.fit.gym_member import Member, member_of
from workbench.fit.gym_prior import GymFit, fit_gym
from workbench.lifter.belief import TENTH
from workbench.lifter.gym_prior import GymPrior, OfGym
from workbench.models.fatigue import DEFAULT_FORM, FORMS
from workbench.models.fatigue_rivals import RIVALS
from workbench.models.load_reps import CURVES
from workbench.simulate.draws import draw_for
from workbench.simulate.plan import make_plan
from workbench.simulate.run import simulate

__all__ = ["members_of", "new_lifters", "numbers_against_truth", "summary", "true_prior"]

_DRAWS = 1000
#: What the fit takes for granted.
_AS_FITTED = {"form": DEFAULT_FORM.name, "curve": "exponential"}


def members_of(
    gym: InventedGym, count: int, rng: np.random.Generator, *, weeks: int, **truth: str
) -> tuple[list[Member], list[Any]]:
    """Let some lifters train and fit each log; what these say, and the lifters."""
    people = [invented(gym, number, rng.spawn(1)[0], weeks=weeks, **truth) for number in range(count)]
    found = [
        member_of(fit_log(one.log, one.lifter), draws=600, rng=np.random.default_rng([7, n]))
        for n, one in enumerate(people)
    ]
    return found, people


def numbers_against_truth(fit: GymFit, gym: InventedGym) -> Iterator[tuple[str, float, float]]:
    """Part of what is possible that lies below the truth, for each number of the gym, and error in its prior sds."""
    gyms, classes = fit.gyms, fit.published.classes
    for name in CLASSES:
        if name in fit.behind.by_class:
            values = gyms.middle[:, classes.index(name)]
            yield (
                "middle of endurance",
                float((values < gym.middle[name]).mean()),
                float(values.mean()) - gym.middle[name],
            )
    for name in ("times", "rate", "rate_sd", "tie", "reserve", "reserve_sd"):
        values, truth = getattr(gyms, name), getattr(gym, name)
        yield name, float((values < truth).mean()), float(values.mean()) - truth


def true_prior(gym: InventedGym) -> GymPrior:
    """Return a gym's numbers as they are: what endless logs of endlessly many lifters would say."""

    def of(middle: float, sd: float, *, logs: bool = True) -> OfGym:
        ends = middle + sd * TENTH * np.array([-1.0, 0.0, 1.0])
        known = middle + np.array([-1e-4, 0.0, 1e-4])
        return OfGym(
            lifters=10**6,
            start=[float(one) for one in (np.exp(ends) if logs else ends)],
            middle=[float(one) for one in (np.exp(known) if logs else known)],
            spread=[0.999 * sd, sd, 1.001 * sd],
        )

    return GymPrior(
        lifters=10**6,
        sets=10**8,
        endurance={name: of(gym.middle[name], gym.times * parameter("endurance", name)["spread"]) for name in CLASSES},
        recovery=of(gym.rate, gym.rate_sd),
        stated_reserve=of(gym.reserve, gym.reserve_sd, logs=False),
        tie=gym.tie,
    )


def new_lifters(
    gym: InventedGym, priors: dict[str, GymPrior | None], count: int, rng: np.random.Generator, **truth: str
) -> Iterator[dict[str, Any]]:
    """Forecast the first and the second week of lifters whom no prior saw; a row each for lifter, week and prior."""
    for number in range(count):
        one = invented(gym, 1000 + number, rng.spawn(1)[0], weeks=1, **truth)
        first_life = Life(one.person, one.row, one.rng.spawn(1)[0])
        first = next_week_of(one.person, habits(one.person, one.rng.spawn(1)[0]), one.rng)
        log, second = one.log, None
        second = next_week_of(one.person, one.trained, one.rng)
        lived = None
        for name, prior in priors.items():
            lifter = one.lifter.model_copy(update={"gym": prior})
            plan = make_plan(first, lifter, ROOM)
            if lived is None:
                lived = {
                    1: lived_through(first_life, plan),
                    2: lived_through(one.life, make_plan(second, lifter, ROOM)),
                }
            reps = _reps(simulate(plan, draw_for(plan, draws=_DRAWS, seed=number)))
            yield {"new": number, "week": 1, "prior": name, **_scores(plan, reps, lived[1])}
            learned = fit_log(log, lifter)
            plan = make_plan(second, lifter, ROOM)
            reps = _reps(simulate(plan, answers.learned_draws(learned, plan, draws=_DRAWS, seed=number)))
            yield {"new": number, "week": 2, "prior": name, **_scores(plan, reps, lived[2])}


def _reps(outcome: Any) -> np.ndarray:
    return np.array([one.available[:, 0] for _, session in outcome for one in session])


def _scores(plan: Any, reps: np.ndarray, truth: np.ndarray) -> dict[str, float]:
    highs = [float(one.reps_high[0]) for session in plan.sessions for one in session.sets]
    free = [at for at, high in enumerate(highs) if math.isinf(high)]
    asked = [at for at, high in enumerate(highs) if math.isfinite(high)]
    ends = np.quantile(reps[free], [0.1, 0.9], axis=1)
    made = [brier(float((reps[at] >= highs[at]).mean()), bool(truth[at] >= highs[at])) for at in asked]
    return {
        "crps": float(np.mean([crps(np.floor(reps[at]), float(np.floor(truth[at]))) for at in free])),
        "brier": float(np.mean(made)) if made else np.nan,
        "inside": float(np.mean((truth[free] >= ends[0]) & (truth[free] <= ends[1]))),
        "width": float(np.mean(ends[1] - ends[0])),
    }


def _behind(people: Sequence[Invented], prior: GymPrior) -> Iterator[tuple[str, float]]:
    """Rank of the truth in what is learned of lifters who stand behind the numbers that they start from."""
    for one in people:
        learned = fit_log(one.log, one.lifter.model_copy(update={"gym": prior}))
        yield "recovery", learned.recovery_rate.below(math.log(one.person.recovery_rate))
        for name in learned.exercises:
            yield "endurance", learned.endurance(name).below(math.log(one.person.endurance[name]))


def _numbers(fit: GymFit, gym: InventedGym, behind: Sequence[Invented], number: int) -> Iterator[dict[str, Any]]:
    """Rows of a gym's numbers, and of some lifters behind them, against the truth."""
    row = {"gym": number, "lifters": fit.behind.lifters}
    for name, rank, error in numbers_against_truth(fit, gym):
        yield {**row, "number": name, "rank": rank, "error": error}
    for name, rank in _behind(behind, fit.prior):
        yield {**row, "number": f"one of them: {name}", "rank": rank, "error": np.nan}


def summary(numbers: pd.DataFrame, forecasts: pd.DataFrame) -> str:
    """Say coverage of the gym's numbers, and scores of new lifters with the difference from the published prior."""
    lines = []
    if len(numbers):
        lines = ["80 % intervals of the gym's numbers that hold the truth, % (error in 80 % of gyms up to)"]
    for (name, count), found in numbers.groupby(["number", "lifters"], sort=False) if len(numbers) else ():
        inside = ((found["rank"] > 0.1) & (found["rank"] < 0.9)).mean()
        off = "" if found["error"].isna().all() else f"   {found['error'].abs().quantile(0.8):.3f}"
        lines.append(f"  {name:<22}{count:>4} lifters {100 * inside:6.0f} of {len(found):<5}{off}")
    lines.append("New lifters: mean score, and what is better than published (difference with 2 se over gyms)")
    for (week, name), of_prior in forecasts.groupby(["week", "prior"], sort=False):
        usual = forecasts[(forecasts["week"] == week) & (forecasts["prior"] == "published")].set_index(["gym", "new"])
        found = of_prior.set_index(["gym", "new"])
        text = f"  week {week} {name:<12}"
        for score in ("crps", "brier"):
            by_gym = (usual[score] - found[score]).groupby("gym").mean().dropna()
            se = by_gym.std() / math.sqrt(max(len(by_gym), 1))
            text += f" {score} {found[score].mean():.3f} ({by_gym.mean():+.3f} +- {2 * se:.3f})"
        lines.append(f"{text}  inside {100 * found['inside'].mean():.0f} %, width {found['width'].mean():.1f} reps")
    return "\n".join(lines)


def main() -> None:
    """Invent gyms one after the other; print after each what was found so far."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--gyms", type=int, default=10)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--lifters", type=int, nargs="+", default=[3, 8, 16, 30])
    parser.add_argument("--new", type=int, default=4)
    parser.add_argument("--weeks", type=int, default=4)
    parser.add_argument("--behind", type=int, default=2)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--form", default=_AS_FITTED["form"], choices=[*FORMS, *RIVALS])
    parser.add_argument("--curve", default=_AS_FITTED["curve"], choices=[*CURVES, "square root"])
    parser.add_argument("--keep", type=Path)
    given = parser.parse_args()
    truth = {"form": given.form, "curve": given.curve}
    as_fitted = truth == _AS_FITTED
    # All exercises of the plans are in the logs, whose draws take the place of all that a file says: none is written.
    answers.updated_lifter = lambda learned: learned.lifter
    numbers: list[dict[str, Any]] = []
    forecasts: list[dict[str, Any]] = []
    for number in range(given.first, given.first + given.gyms):
        drawn, trained, new = np.random.default_rng([given.seed, number]).spawn(3)
        gym = drawn_gym(drawn)
        members, people = members_of(gym, max(given.lifters), trained, weeks=given.weeks, **truth)
        priors: dict[str, GymPrior | None] = {"published": None}
        for count in given.lifters:
            fit = fit_gym(members[:count])
            priors[f"gym of {count}"] = fit.prior
            if as_fitted:
                numbers += _numbers(fit, gym, people[: given.behind], number)
        if as_fitted:
            priors["truth"] = true_prior(gym)
        forecasts += [{"gym": number, **row} for row in new_lifters(gym, priors, given.new, new, **truth)]
        if given.keep is not None:
            pd.DataFrame(numbers).to_csv(given.keep.with_suffix(".numbers.csv"), index=False)
            pd.DataFrame(forecasts).to_csv(given.keep.with_suffix(".forecasts.csv"), index=False)
        print(f"{number - given.first + 1} gyms, {dataclasses.asdict(gym)}", flush=True)
        print(summary(pd.DataFrame(numbers), pd.DataFrame(forecasts)), flush=True)


if __name__ == "__main__":
    main()
