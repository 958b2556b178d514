"""Order A against order B: the same session with its exercises in another order, on the same simulated days."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from workbench.answers.session import one_session
from workbench.models.fatigue import DEFAULT_FORM, FatigueForm
from workbench.models.load_reps import DEFAULT_CURVE, Curve
from workbench.prescription.edit import Where, change
from workbench.quantities import SEED
from workbench.simulate.draws import LifterDraws, draw_for
from workbench.simulate.plan import Plan, make_plan
from workbench.simulate.run import INTERVAL, SetOutcome, simulate

if TYPE_CHECKING:
    from workbench.gym.equipment import Room
    from workbench.lifter import Lifter
    from workbench.prescription.block import Block
    from workbench.quantities import FloatArray

__all__ = ["compare_orders", "moved", "reordered"]


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


def reordered(block: Block, session: str | int, order: Sequence[int]) -> Block:
    """Return the block with the exercises of one session in another order.

    Parameters
    ----------
    order : sequence of int
        Present places of the exercises (counted from 1), in the wanted order.

    Raises
    ------
    InputError
        Where the order does not name every exercise once, or ends in an exercise that alternates with the next.
    """
    return change(block, Where(session), order=order)


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

    Returns
    -------
    DataFrame
        One row an exercise and one "whole session": exercise, place_a, place_b, chance_a, chance_b (that all its reps
        are made; NaN for sets to failure only), reps_low, reps, reps_high (reps gained in B, mean of its sets: 10, 50,
        90 % of the paired differences), minutes_a, minutes_b (whole session only).
    """
    blocks = (one_session(block, session, week), one_session(reordered(block, session, order), session, week))
    at = week - 1
    plans = [make_plan(one, lifter, room, form=form, curve=curve) for one, _ in blocks]
    drawn = draw_for(plans[0], draws=draws, seed=seed)
    sets_a = simulate(plans[0], drawn).sessions[0]
    sets_b = simulate(plans[1], _same_days(drawn, plans[0], plans[1], order)).sessions[0]
    place = {number: index for index, number in enumerate(order, start=1)}
    rows = []
    for slot, exercise in dict.fromkeys((one.planned.slot, one.planned.exercise) for one in sets_a):
        mine_a = [one for one in sets_a if one.planned.slot == slot and one.planned.active[at]]
        mine_b = [one for one in sets_b if one.planned.slot == place[slot] and one.planned.active[at]]
        gain = np.mean(
            [_at(b.available, at) - _at(a.available, at) for a, b in zip(mine_a, mine_b, strict=True)], axis=0
        )
        low, median, high = np.quantile(gain, INTERVAL)
        chances = [_chance(mine, at) for mine in (mine_a, mine_b)]
        rows.append((exercise, slot, place[slot], *chances, low, median, high, np.nan, np.nan))
    whole = [_chance(list(sets), at) for sets in (sets_a, sets_b)]
    minutes = [float(plan.sessions[0].duration_s[at]) / 60.0 for plan in plans]
    rows.append(("whole session", 0, 0, *whole, np.nan, np.nan, np.nan, *minutes))
    columns = ["exercise", "place_a", "place_b", "chance_a", "chance_b", "reps_low", "reps", "reps_high"]
    return pd.DataFrame(rows, columns=[*columns, "minutes_a", "minutes_b"])


def _same_days(drawn: LifterDraws, first: Plan, second: Plan, order: Sequence[int]) -> LifterDraws:
    """Draws of one plan for the same session in another order: every lift and every set keeps its own."""
    lanes = [first.exercises.index(name) for name in second.exercises]
    at = {(one.slot, one.label): number for number, one in enumerate(first.sessions[0].sets)}
    sets = [at[order[one.slot - 1], one.label] for one in second.sessions[0].sets]
    return replace(
        drawn,
        exercises=second.exercises,
        log_one_rm=drawn.log_one_rm[:, lanes],
        endurance=drawn.endurance[:, lanes],
        set_noise=drawn.set_noise[sets],
    )


def _chance(sets: list[SetOutcome], week: int) -> float:
    counted = [one for one in sets if one.planned.active[week] and np.isfinite(one.planned.reps_high[week])]
    if not counted:
        return np.nan
    return float(np.mean(np.logical_and.reduce([one.made[:, week] for one in counted])))


def _at(available: FloatArray, week: int) -> FloatArray:
    return available[:, week if available.shape[1] > 1 else 0]
