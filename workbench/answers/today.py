"""What now, in the middle of a session? Today's form from the sets done so far, and the loads to come that it asks for.

How the days that fit are found says `workbench.answers.session_under_way`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pandas as pd

from workbench.answers.days_that_fit import Pools, rest_of_day
from workbench.answers.exchange import left_out_said
from workbench.answers.session import one_session
from workbench.answers.session_under_way import Choice, Day, Forecast, SetDone
from workbench.gym.equipment import Room
from workbench.lifter import Lifter
from workbench.log.loads import counts_from_body
from workbench.models.fatigue import DEFAULT_FORM, FatigueForm
from workbench.models.load_reps import DEFAULT_CURVE, Curve
from workbench.prescription.block import Block
from workbench.present.answer import Answer
from workbench.present.words import in_words, percent_said, put_on_said, reps_said
from workbench.quantities import SEED, InputError
from workbench.simulate.plan import make_plan
from workbench.simulate.run import INTERVAL

__all__ = ["OpenSession", "SetDone", "Today", "sets_done", "today_question"]

#: Effective draws below which the answer says that the day is truly odd.
_FEW: Final = 100
#: And the part of the sets done above which they are rather typed wrong.
_MISTAKEN: Final = 0.4


@dataclass(frozen=True, repr=False)
class Today(Answer):
    """The answer to "what now?".

    Attributes
    ----------
    sets : DataFrame
        One row a set still to come, in order: exercise, set, unit; slot, group, hands [1]; reps_low, reps_high [reps];
        load_kg, today_kg, body_kg [kg] (planned, the one that keeps the limit on the room's plates, and the part of
        both that is the body); chance, chance_today [1] (that its reps are made, at the two loads, all sets before it
        done likewise); reserve_p10, reserve_p50, reserve_p90 [reps] (left at today_kg; below 0: will be missing);
        reps_at_limit [reps] (most whole reps at the planned load with the chance of the limit; 0 where not even one).
    form : DataFrame
        One row an exercise done today: exercise; change_p10, change_p50, change_p90 [%] (today's strength against what
        the lifter file says); sets [1] (done).
    rules : DataFrame
        One row a set group whose rule bears on what is to come: exercise; slot, group [1]; misses [sets] (with a missed
        rep); left_out [sets] (that the rule ends); least_kg, most_kg, planned_kg, body_kg [kg] (what it allows, what is
        planned, and the part of each that is the body); unit, hands.
    limit : float, [1]
        Chance wanted for every set.
    effective_draws : float, [1]
        How many equally likely days the weighted ones are worth.
    mistakes : float, [sets]
        How many of the sets done are likely typed wrong: nothing thought possible explains them.
    missed, missed_today : float, [reps]
        Reps to expect missed in the sets to come, at the planned loads and at today's.
    left_out : tuple of str
        What is still to come though the lifter file leaves it out, each with the reason.
    """

    sets: pd.DataFrame
    form: pd.DataFrame
    rules: pd.DataFrame
    limit: float
    effective_draws: float
    mistakes: float
    missed: float
    missed_today: float
    left_out: tuple[str, ...] = ()

    @property
    def notes(self) -> tuple[str, ...]:
        """What makes the answer unsure, and what it never does."""
        odd = self.effective_draws < _FEW or self.mistakes > _MISTAKEN * self.form["sets"].sum()
        unlike = "What was done fits hardly any day that was thought possible: "
        return (
            *self.left_out,
            *((f"{unlike}check what was typed, and the lifter's 1RM",) if odd and len(self.form) else ()),
            "Chances are of days drawn for this session: those of a whole block may lie a point or two beside them",
            "No load is above the plan's unless that was asked for; a set ends when form breaks or anything hurts",
        )

    def sentences(self) -> list[str]:
        """Say today's form, and what to do next."""
        lines = [_form_said(row) for row in self.form.to_dict("records")] or ["No set is done yet: as planned."]
        lines += [_rule_said(row) for row in self.rules.to_dict("records")]
        if not len(self.sets):
            return [*lines, "Nothing is left to do."]
        lines.append(self._next_said())
        if len(self.sets) > 1:
            total = f"In the {len(self.sets)} sets to come, {self.missed:.1f} reps missed are to be expected as planned"
            changed = np.any(self.sets["today_kg"] != self.sets["load_kg"])
            lines.append(f"{total}, {self.missed_today:.1f} with today's loads." if changed else f"{total}.")
        return lines

    def _next_said(self) -> str:
        row = self.sets.iloc[0]
        said = f"Next: {row['exercise']}, set {row['set']}, {reps_said(row['reps_low'], row['reps_high'])}"
        planned, today = (
            put_on_said(row[load], row["body_kg"], row["unit"], row["hands"]) for load in ("load_kg", "today_kg")
        )
        if np.isinf(row["reps_high"]):
            return f"{said}, {planned}."
        if row["today_kg"] == row["load_kg"]:
            return f"{said}, {planned} as planned: chance {in_words(row['chance'])}."
        chance, chance_today = in_words(row["chance"]), in_words(row["chance_today"])
        kept = "keeps" if row["chance_today"] >= self.limit else "is the lightest allowed and has"
        return f"{said}: {planned} has a chance of {chance}; {today} {kept} {chance_today}."


def _form_said(row: dict[Any, Any]) -> str:
    low, middle, high = (percent_said(row[f"change_p{at}"] / 100.0, signed=True) for at in (10, 50, 90))
    count = f"{row['sets']} set{'' if row['sets'] == 1 else 's'}"
    return f"{row['exercise']}: {middle} ({low} to {high}) against what was expected, after {count}."


def _rule_said(row: dict[Any, Any]) -> str:
    """Say what the rule of a set group leaves of it."""
    rule = f"{row['exercise']}: the block's rule"
    if row["left_out"]:
        sets = "the one set left is" if row["left_out"] == 1 else f"the {row['left_out']} sets left are"
        return f"{rule} ends these sets after {row['misses']} with a missed rep; {sets} not done."
    least, most, planned = (
        put_on_said(row[f"{name}_kg"], row["body_kg"], row["unit"], row["hands"])
        for name in ("least", "most", "planned")
    )
    allowed = f"{most} now" if least == most else f"{least} to {most} now"
    return f"{rule} allows {allowed}" + (f" (planned {planned})." if most != planned else ".")


def sets_done(rows: pd.DataFrame, *, body_mass_kg: float | None = None) -> list[SetDone]:
    """Return the sets of a log's rows, in their order; rows without load or reps are left out.

    Parameters
    ----------
    rows : DataFrame
        As `workbench.log.read_log` gives them, of one lifter and one day.
    body_mass_kg : float, optional, [kg]
        The lifter's: taken off a load that was written with it, as "BW + 10", to leave what was added.
    """

    def added(row: dict[Any, Any]) -> float:
        with_body = body_mass_kg is not None and counts_from_body(row.get("load_as_written", ""))
        return float(row["load_kg"]) - (body_mass_kg or 0.0) * with_body

    def given(value: Any) -> float | None:
        return None if value is None or pd.isna(value) else float(value)

    usable = rows[rows["load_kg"].notna() & rows["reps"].notna()]
    return [
        SetDone(
            str(row["exercise"]),
            added(row),
            int(row["reps"]),
            row["outcome"] == "failed",
            None if row["outcome"] == "failed" else given(row.get("reps_in_reserve")),
            given(row.get("rest_s")),
        )
        for row in usable.to_dict("records")
    ]


# More than seven parameters: what a coach may leave to its default is a keyword of the question.
def today_question(
    block: Block,
    lifter: Lifter,
    room: Room,
    done: Sequence[SetDone] = (),
    *,
    session: str | int = 1,
    week: int = 1,
    skipped: Sequence[str] = (),
    limit: float = 0.85,
    most_up: float = 0.0,
    most_down: float = 0.3,
    draws: int = 2000,
    seed: int = SEED,
    form: FatigueForm = DEFAULT_FORM,
    curve: Curve = DEFAULT_CURVE,
) -> Today:
    """Work out the rest of a session from what was done of it.

    Parameters
    ----------
    block : Block
    lifter : Lifter
    room : Room
    done : sequence of SetDone
        In order of time. The n-th set of an exercise is taken for the n-th that the plan has of it.
    session : str or int
        Name, or number from 1.
    week : int, [1], 1 to 52
        Of the block.
    skipped : sequence of str
        Exercises that will not be done today.
    limit : float, [1], 0 to 1
        Chance wanted for every set that is to be made.
    most_up : float, [1], 0 to 0.2
        How far a load may go above the plan's, as a share of it. Nothing goes up unless this is given. In a set group
        with a rule (``adjust``) the rule stands instead: no load above what it allows, none where it ends the group.
    most_down : float, [1], 0 to 1
        How far a load may go below the plan's, as a share of it; in a set group whose rule lowers loads, that says how
        far.
    draws : int, [1], 10 to 100,000
        Simulated days on which the sets to come are done.
    seed : int, [1], >= 0
        The same seed gives the same digits.
    form : FatigueForm
        How a set tires, or the name of one in `FORMS`.
    curve : Curve
        Load and reps, fresh: one of `CURVES`, or of your own.

    Returns
    -------
    Today
        Loads [kg], chances [1] and reserves [reps] of the sets to come; today's strength [%].

    Raises
    ------
    InputError
        For a session or week that the block does not have, an exercise done or skipped that is not in the session, a
        number out of range, or a lift or load that is missing.

    Notes
    -----
    Likelihood and priors as in `fit_log`: ``data/parameters.csv``, ``data/evidence/rir_accuracy.csv``.
    A set that is to leave a reserve gets the load whose median reserve is
    nearest to it; a set to failure keeps its load.
    """
    opened = OpenSession(
        block,
        lifter,
        room,
        session=session,
        week=week,
        choice=Choice(limit, most_up, most_down),
        draws=draws,
        seed=seed,
        form=form,
        curve=curve,
    )
    return opened.after(done, skipped)


class OpenSession:
    """A session that is asked about set after set: worked out and its possible days drawn once, then only weighed.

    Parameters
    ----------
    block, lifter, room, session, week, draws, seed, form, curve
        As for `today_question`.
    choice : Choice
        The limit [1], 0 to 1, and how far loads may go up, 0 to 0.2, and down, 0 to 1, as a share [1].

    Raises
    ------
    InputError
        As `today_question`.
    """

    # More than seven parameters: those of the question.
    def __init__(
        self,
        block: Block,
        lifter: Lifter,
        room: Room,
        *,
        session: str | int = 1,
        week: int = 1,
        choice: Choice,
        draws: int = 2000,
        seed: int = SEED,
        form: FatigueForm = DEFAULT_FORM,
        curve: Curve = DEFAULT_CURVE,
    ) -> None:
        bounds = (("most_up", choice.most_up, 0.2), ("most_down", choice.most_down, 1.0), ("limit", choice.limit, 1.0))
        for name, value, high in bounds:
            if not 0.0 <= value <= high:
                raise InputError(None, name, f"{value:g} is out of range", f"give 0 to {high:g}")
        alone, self.at = one_session(block, session, week)
        self.plan = make_plan(alone, lifter, room, form=form, curve=curve)
        self._choice, self._draws, self._pools = choice, draws, Pools(self.plan, seed)

    def after(self, done: Sequence[SetDone], skipped: Sequence[str] = ()) -> Today:
        """Return the rest of the session after these sets, some exercises left out; InputError as `today_question`."""
        day = Day(self.plan, self.at, done, skipped)
        rest = rest_of_day(day, self._pools, self._choice, self._draws)
        return Today(
            sets=_table(rest.as_planned, rest.as_today, self._choice.limit),
            form=day.form_table(rest.draws),
            rules=_rule_table(day, self._choice),
            limit=self._choice.limit,
            effective_draws=rest.effective_draws,
            mistakes=rest.mistakes,
            missed=sum(one.missed for one in rest.as_planned),
            missed_today=sum(one.missed for one in rest.as_today),
            left_out=left_out_said(
                self.plan.lifter,
                [
                    self.plan.catalogue.exercise(name)
                    for name in dict.fromkeys(one.planned.exercise for one in rest.as_planned)
                ],
            ),
        )

    def seconds_left(self, done: Sequence[SetDone], skipped: Sequence[str] = ()) -> float:
        """Return how long the sets to come take as planned, rests included [s], from the end of the last set done."""
        day = Day(self.plan, self.at, done, skipped)
        now = day.done[-1][1].end_s if day.done else 0.0
        return day.to_come[-1][2] - now if day.to_come else 0.0


def _rule_table(day: Day, choice: Choice) -> pd.DataFrame:
    """Return what the rules of set groups leave allowed: of groups begun or ended, of all where more was asked for."""
    rows = []
    begun = {(one.slot, one.group) for one, _ in day.done}
    for place, rule in day.rules.items():
        coming = next((one for one, *_ in day.to_come if (one.slot, one.group) == place and not one.drop), None)
        if rule.left_out or (coming is not None and (place in begun or choice.most_up)):
            one = coming or next(one for one in day.session.sets if (one.slot, one.group) == place)
            loads = (*day.bounds(one, choice), float(one.load_kg[day.at]), one.body_kg)
            rows.append((one.exercise, *place, rule.misses, rule.left_out, *loads, one.unit, one.hands))
    columns = "exercise slot group misses left_out least_kg most_kg planned_kg body_kg unit hands"
    return pd.DataFrame(rows, columns=columns.split())


def _table(planned: Sequence[Forecast], today: Sequence[Forecast], limit: float) -> pd.DataFrame:
    """Return the sets to come, one row each, as `Today` has them."""
    rows = []
    for before, after in zip(planned, today, strict=True):
        one, at = before.planned, before.at
        reserve = np.quantile(after.available, INTERVAL) - after.low
        most = float(np.floor(np.quantile(before.available, 1.0 - limit)))
        place = (one.exercise, one.slot, one.group, one.label, float(one.reps_low[at]), float(one.reps_high[at]))
        loads = (before.load_kg, after.load_kg, one.body_kg, one.unit, one.hands)
        rows.append((*place, *loads, before.chance, after.chance, *reserve, most))
    columns = "exercise slot group set reps_low reps_high load_kg today_kg body_kg unit hands chance chance_today"
    return pd.DataFrame(rows, columns=[*columns.split(), *(f"reserve_p{p}" for p in (10, 50, 90)), "reps_at_limit"])
