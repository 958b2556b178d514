"""Order A against order B: the same session with its exercises in another order, on the same simulated days."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
import pandas as pd

from workbench.answers.session import one_session
from workbench.gym.equipment import Room
from workbench.lifter import Lifter
from workbench.models.fatigue import DEFAULT_FORM, FatigueForm
from workbench.models.load_reps import DEFAULT_CURVE, Curve
from workbench.prescription.block import Block
from workbench.prescription.edit import Where, change
from workbench.quantities import SEED
from workbench.simulate.draws import CommonDays
from workbench.simulate.plan import make_plan
from workbench.simulate.run import INTERVAL, simulate
from workbench.simulate.set_outcome import SetOutcome

__all__ = ["compare_orders", "moved"]


def moved(count: int, place: int, to: int) -> tuple[int, ...] | None:
    """Order of ``count`` exercises with the one at ``place`` moved to another place; None where that changes nothing.

    >>> moved(4, 4, 1), moved(3, 2, 2)
    ((4, 1, 2, 3), None)
    """
    if place == to:
        return None
    order = [number for number in range(1, count + 1) if number != place]
    order.insert(to - 1, place)
    return tuple(order)


# More than seven parameters: what a coach may leave to its default is a keyword of the question.
def compare_orders(
    block: Block,
    lifter: Lifter,
    room: Room,
    session: str | int,
    order: Sequence[int],
    *,
    week: int = 1,
    draws: int = 1000,
    seed: int = SEED,
    form: FatigueForm = DEFAULT_FORM,
    curve: Curve = DEFAULT_CURVE,
) -> pd.DataFrame:
    """Compare a session as it is (A) with its exercises in another order (B), on the same lifters and days.

    Parameters
    ----------
    block, lifter, room, session, week, draws, seed, form, curve
        As for `workbench.answers.session.session_question`.
    order : sequence of int
        Present places of the exercises (counted from 1), in the wanted order.

    Returns
    -------
    DataFrame
        One row an exercise and one "whole session": exercise, place_a, place_b, chance_a, chance_b (that all its reps
        are made; NaN for sets to failure only), reps_low, reps, reps_high (reps gained in B, mean of its sets: 10, 50,
        90 % of the paired differences), minutes_a, minutes_b (whole session only).

    Raises
    ------
    InputError
        Where the order does not name every exercise once, or ends in an exercise that alternates with the next.
    """
    turned = change(block, Where(session), order=order)
    blocks = [one_session(one, session, week)[0] for one in (block, turned)]
    plans = [make_plan(one, lifter, room, form=form, curve=curve) for one in blocks]
    days = CommonDays(plans, draws=draws, seed=seed)
    both = [simulate(plan, days.of(plan)).sessions[0] for plan in plans]
    place = {number: index for index, number in enumerate(order, start=1)}
    rows = []
    for slot, exercise in dict.fromkeys((one.planned.slot, one.planned.exercise) for one in both[0]):
        sets_a, sets_b = (
            [one for one in sets if one.planned.slot == at and one.planned.active[week - 1]]
            for sets, at in zip(both, (slot, place[slot]), strict=True)
        )
        gains = [b.available - a.available for a, b in zip(sets_a, sets_b, strict=True)]
        interval = np.quantile(np.mean(gains, axis=0)[:, week - 1], INTERVAL)
        chances = [_chance(sets, week) for sets in (sets_a, sets_b)]
        rows.append((exercise, slot, place[slot], *chances, *interval, np.nan, np.nan))
    minutes = [float(plan.sessions[0].duration_s[week - 1]) / 60.0 for plan in plans]
    rows.append(("whole session", 0, 0, *(_chance(sets, week) for sets in both), np.nan, np.nan, np.nan, *minutes))
    columns = ["exercise", "place_a", "place_b", "chance_a", "chance_b", "reps_low", "reps", "reps_high"]
    return pd.DataFrame(rows, columns=[*columns, "minutes_a", "minutes_b"])


def _chance(sets: Iterable[SetOutcome], week: int) -> float:
    counted = [one.made[:, week - 1] for one in sets if one.planned.prescribed[week - 1]]
    return float(np.mean(np.logical_and.reduce(counted))) if counted else np.nan
