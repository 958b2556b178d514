"""``python -m tests.answers.review.simulated``: the workbench against simple rules, in many invented gyms.

In each gym everybody tires by another form and has reps on another curve than in the next; lifters state too much, rest
too little, get hurt, and their files err. Prints the tables so far after every tenth gym; ``--scores FILE`` keeps all.
"""

from __future__ import annotations

import argparse
import itertools
import math
from collections.abc import Iterator
from pathlib import Path

import pandas as pd

from tests.invented_gyms import InventedGym, invent_gym
from workbench.answers.review import Review, walk_forward
from workbench.models.fatigue import FORMS
from workbench.models.fatigue_rivals import RIVALS

#: Ways in which a gym's people may differ from what the workbench takes for granted, and as it does.
CURVES = ("exponential", "asymptotic", "power", "square root")
_FORMS = (*FORMS, *RIVALS)
_SHOWN_EVERY = 10


def truths() -> Iterator[tuple[str, str]]:
    """Go through fatigue form and curve: every form soon, each with every curve in the first 112 gyms."""
    for at, form in enumerate(itertools.cycle(_FORMS)):
        yield form, CURVES[(at + at // len(_FORMS) + at // (len(_FORMS) * len(CURVES))) % len(CURVES)]


def prescribed(asked: float) -> str:
    """Say what was asked as a sheet does."""
    return "to RIR 2" if math.isnan(asked) else "to failure" if math.isinf(asked) else f"{asked:.0f}"


def review_of(gym: InventedGym, *, draws: int = 400) -> pd.DataFrame:
    """Walk forward through a gym's logs, as sheets that came back would tell them."""
    rows = gym.sets.assign(**{"planned reps": gym.sets["asked"].map(prescribed)})
    found = []
    for name, lifter in gym.lifters.items():
        of_lifter = rows[rows["lifter"] == name].drop(columns=["asked", "true_rest_s", "week"])
        if len(of_lifter):
            found.append(walk_forward(of_lifter.reset_index(drop=True), lifter, draws=draws).scores)
    return pd.concat(found, ignore_index=True)


def main() -> None:
    """Read the arguments, walk forward through gym after gym, print."""
    parser = argparse.ArgumentParser(prog="python -m tests.answers.review.simulated", description=__doc__)
    parser.add_argument("--gyms", type=int, default=100)
    parser.add_argument("--first", type=int, default=0, help="number of the first gym, from 0, to go on from there")
    parser.add_argument("--lifters", type=int, default=4)
    parser.add_argument("--weeks", type=int, default=8)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--scores", type=Path, help="keep all scores in this file (CSV), as far as they are")
    told = parser.parse_args()
    every: list[pd.DataFrame] = []
    for number, (form, curve) in zip(range(told.gyms), truths(), strict=False):
        if number < told.first:
            continue
        gym = invent_gym(told.seed + number, form=form, curve=curve, lifters=told.lifters, weeks=told.weeks)
        scores = review_of(gym).assign(form=form, curve=curve, gym=number)
        scores["lifter"] = [f"{number}: {name}" for name in scores["lifter"]]
        every.append(scores)
        if told.scores is not None:
            scores.to_csv(told.scores, mode="a", header=number == told.first, index=False)
        print(f"{number + 1}: {form}, {curve}, {len(scores)} scores", flush=True)
        if (number + 1) % _SHOWN_EVERY == 0 or number + 1 == told.gyms:
            show(pd.concat(every, ignore_index=True), number + 1)


def show(scores: pd.DataFrame, gyms: int) -> None:
    """Print the tables of all gyms so far."""
    review = Review(scores)
    mine = scores[scores["forecaster"] == "workbench"]
    print(f"\n== {gyms} gyms, {mine['lifter'].nunique()} lifters, {len(mine)} sets")
    with pd.option_context("display.width", 250, "display.max_columns", None, "display.max_rows", None):
        print(review.table.round(3).to_string(index=False))
        print(review.against.round(4).to_string(index=False))
        print(review.calls.round(3).to_string(index=False))
        by_week = review.tables["by_week"]
        print(by_week[by_week["forecaster"] == "workbench"].round(3).to_string(index=False))
        for by in ("form", "curve"):
            kept = mine.groupby(by)[["inside_50", "inside_80"]].agg(["mean", "count"])
            print(kept.round(3).to_string())
            rows = []
            for name, some in scores.groupby(by):
                of_truth = Review(some).against
                rows.append(of_truth[of_truth["better"] != "yes"].assign(truth=name))
            print(pd.concat(rows).round(4).to_string(index=False))
    print(flush=True)


if __name__ == "__main__":
    main()
