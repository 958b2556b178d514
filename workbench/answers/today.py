"""What now, in the middle of a session? Today's form from the sets done so far, and the loads to come that it asks for.

The possible lifters and days of the forecast are weighted by what the sets done so far have shown, with the likelihood
that also reads a log; the scatter of those sets is integrated out. The sets to come are then simulated on lifters and
days drawn with these weights.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pandas as pd

from workbench.answers.session import one_session
from workbench.fit.evidence_sets import LARGEST_RESERVE, Ending, LoggedSet
from workbench.fit.likelihood import probability_in_log
from workbench.fit.settings import FitSettings
from workbench.gym.equipment import LoadTable, Room
from workbench.lifter import Lifter
from workbench.models.fatigue import DEFAULT_FORM, FatigueForm
from workbench.models.load_reps import DEFAULT_CURVE, Curve
from workbench.models.sharing import SharedFatigue
from workbench.prescription.block import Block
from workbench.present.answer import Answer
from workbench.present.words import in_words, percent_said, put_on_said, reps_said
from workbench.quantities import SEED, FloatArray, InputError
from workbench.simulate.draws import LifterDraws, draw_lifter
from workbench.simulate.plan import Plan, PlannedSet, make_plan
from workbench.simulate.run import INTERVAL

__all__ = ["Choice", "Day", "Forecast", "Pools", "SetDone", "Today", "rest_of_day", "sets_done", "today_question"]

#: Possible days drawn at a time, and how often at most where few of them fit what was done.
_POOL: Final = 10_000
_MOST_POOLS: Final = 8
#: Effective draws from which no more are drawn, and below which the answer says that the day is truly odd.
_ENOUGH: Final = 1000
_FEW: Final = 100
#: Loads tried for a set group.
_MOST_LOADS: Final = 16
#: Loads that differ by less are the same, kg.
_SAME_KG: Final = 1e-6


@dataclass(frozen=True)
class SetDone:
    """One set that was done today.

    Attributes
    ----------
    exercise : str
        Name or alias.
    load_kg : float, [kg]
        As put on: both dumbbells together; for moves against body mass only what was added.
    reps : int, [reps], >= 0
        Whole reps made.
    failed : bool
        Whether the next rep was tried and missed.
    reserve : float, optional, [reps]
        Reps in reserve as stated after it.
    rest_s : float, optional, [s]
        From the end of the last set done, of whatever exercise; as planned where not given.
    """

    exercise: str
    load_kg: float
    reps: int
    failed: bool = False
    reserve: float | None = None
    rest_s: float | None = None

    def __post_init__(self) -> None:
        """Refuse what no set can be."""
        bounds = {"load_kg": (0.0, 10_000.0), "reps": (0, 200), "reserve": (0, 50), "rest_s": (0, 86_400)}
        for name, (low, high) in bounds.items():
            value = getattr(self, name)
            if value is not None and not low <= value <= high:
                raise InputError(
                    None, f"{self.exercise}, {name}", f"{value:g} is out of range", f"give {low} to {high}"
                )
        if not self.reps and not self.failed:
            raise InputError(
                None, self.exercise, "no rep made and none missed", "leave the set out, or say that it failed"
            )

    @property
    def ending(self) -> Ending:
        """How it ended, as a log has it."""
        if self.failed:
            return "failed"
        return "completed" if self.reserve is None else "stated"


@dataclass(frozen=True, repr=False)
class Today(Answer):
    """The answer to "what now?".

    Attributes
    ----------
    sets : DataFrame
        One row a set still to come, in order: exercise, slot, group, set; reps_low, reps_high [reps]; load_kg (planned)
        and today_kg (that keeps the limit, on the room's plates) [kg], body_kg [kg] (part of both that is the body),
        unit, hands; chance and chance_today [1] (that its reps are made, at the two loads, all sets before it done
        likewise); reserve_p10, reserve_p50, reserve_p90 [reps] (left at today_kg; below 0: reps that will be missing);
        reps_at_limit [reps] (most whole reps at the planned load with the chance of the limit; 0 where not even one).
    form : DataFrame
        One row an exercise done today: exercise; change_p10, change_p50, change_p90 [%] (today's strength against what
        was expected of the lifter before the first set); sets (done).
    limit : float, [1]
    effective_draws : float, [1]
        How many equally likely days the weighted ones are worth.
    missed : float, missed_today : float, [reps]
        Reps to expect missed in the sets to come, at the planned loads and at today's.
    """

    sets: pd.DataFrame
    form: pd.DataFrame
    limit: float
    effective_draws: float
    missed: float
    missed_today: float

    @property
    def notes(self) -> tuple[str, ...]:
        """What makes the answer unsure, and what it never does."""
        odd = self.effective_draws < _FEW
        unlike = f"what was done fits hardly any of the days that were thought possible ({self.effective_draws:.0f}): "
        return (
            *((f"{unlike}check what was typed, and the lifter's 1RM",) if odd else ()),
            "No load is above the plan's unless that was asked for; a set ends when form breaks or anything hurts",
        )

    def sentences(self) -> list[str]:
        """Say today's form, and what to do next."""
        lines = [_form_said(row) for row in self.form.to_dict("records")] or ["No set is done yet: as planned."]
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


def sets_done(rows: pd.DataFrame) -> list[SetDone]:
    """Return the sets of a log's rows, in their order; rows without load or reps are left out.

    Parameters
    ----------
    rows : DataFrame
        As `workbench.log.read_log` gives them, of one lifter and one day.
    """

    def given(value: Any) -> float | None:
        return None if value is None or pd.isna(value) else float(value)

    usable = rows[rows["load_kg"].notna() & rows["reps"].notna()]
    return [
        SetDone(
            str(row["exercise"]),
            float(row["load_kg"]),
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
    week : int, [1]
        From 1.
    skipped : sequence of str
        Exercises that will not be done today.
    limit : float, [1], 0 to 1
        Chance wanted for every set that is to be made.
    most_up, most_down : float, [1], 0 to 0.2 and 0 to 1
        How far a load may go above and below the plan's, as a share of it. Nothing goes up unless this is given.
    draws : int, [1], 10 to 100,000
        Simulated days on which the sets to come are done.
    seed : int, [1], >= 0
        The same seed gives the same digits.
    form : FatigueForm
    curve : Curve

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
    Likelihood and priors as in `fit_log`. A set that is to leave a reserve gets the load whose median reserve is
    nearest to it; a set to failure keeps its load.
    """
    for name, value, high in (("most_up", most_up, 0.2), ("most_down", most_down, 1.0), ("limit", limit, 1.0)):
        if not 0.0 <= value <= high:
            raise InputError(None, name, f"{value:g} is out of range", f"give 0 to {high:g}")
    alone, at = one_session(block, session, week)
    plan = make_plan(alone, lifter, room, form=form, curve=curve)
    day = Day(plan, at, done, skipped)
    rest = rest_of_day(day, Pools(plan, seed), Choice(limit, most_up, most_down), draws)
    return Today(
        sets=_table(rest.as_planned, rest.as_today, limit),
        form=day.form_table(rest.draws),
        limit=limit,
        effective_draws=rest.effective_draws,
        missed=sum(one.missed for one in rest.as_planned),
        missed_today=sum(one.missed for one in rest.as_today),
    )


@dataclass(frozen=True)
class RestOfDay:
    """The sets to come, with the planned loads and with those chosen, on days that fit what was done."""

    as_planned: list[Forecast]
    as_today: list[Forecast]
    draws: LifterDraws
    effective_draws: float


def rest_of_day(day: Day, pools: Pools, choice: Choice, draws: int) -> RestOfDay:
    """Weigh the possible days by the sets done, draw days by weight, and do the sets to come on them."""
    possible, weight = pools.weighted(day)
    rng = np.random.default_rng([pools.seed, _MOST_POOLS])
    chosen = possible.taken(_systematic(weight, draws, rng))
    noise = np.exp(FitSettings().set_log_sd * rng.standard_normal((len(day.to_come), draws, 1)))
    return RestOfDay(
        as_planned=list(day.run_on(chosen, noise)),
        as_today=list(day.run_on(chosen, noise, choice)),
        draws=chosen,
        effective_draws=float(1.0 / np.sum(weight**2)),
    )


@dataclass(frozen=True)
class Choice:
    """What the loads of the sets to come are chosen by."""

    limit: float
    most_up: float
    most_down: float

    def loads(self, planned_kg: float, body_kg: float, kg: FloatArray) -> FloatArray:
        """Return loads of a table to try, the planned one among them, lightest first; body included, [kg]."""
        low, high = planned_kg * (1.0 - self.most_down), planned_kg * (1.0 + self.most_up)
        near = kg + body_kg
        near = near[(near > 0.0) & (near >= low - _SAME_KG) & (near <= high + _SAME_KG)]
        spread = near[np.unique(np.linspace(0, near.size - 1, min(near.size, _MOST_LOADS)).astype(int))]
        return np.union1d(spread[np.abs(spread - planned_kg) > _SAME_KG], planned_kg)


@dataclass(frozen=True)
class Forecast:
    """One set to come: its load, and the reps that every draw could make of it, shape (draws, 1)."""

    planned: PlannedSet
    at: int
    load_kg: float
    available: FloatArray

    @property
    def low(self) -> float:
        """Fewest reps that count as made; none in a set to failure."""
        return float(self.planned.reps_low[self.at]) if self.to_be_made else 0.0

    @property
    def to_be_made(self) -> bool:
        """Whether it has reps that are to be made."""
        return bool(np.isfinite(self.planned.reps_high[self.at]))

    @property
    def chance(self) -> float:
        """Chance that its reps are made."""
        return float(np.mean(self.available >= self.low))

    @property
    def missed(self) -> float:
        """Whole reps to expect missed."""
        return float(np.mean(np.maximum(self.low - np.floor(self.available), 0.0)))


class Day:
    """The session of one week: what was done of it, and what is to come."""

    def __init__(self, plan: Plan, at: int, done: Sequence[SetDone], skipped: Sequence[str]) -> None:
        self.plan, self.at, self.session = plan, at, plan.sessions[0]
        left = [one for one in self.session.sets if one.active[at]]
        before = dict(zip((id(one) for one in left[1:]), left[:-1], strict=True))
        # From the end of the set before it in the plan.
        gap = {
            id(one): float(one.start_s[at] - (before[id(one)].end_s[at] if id(one) in before else 0.0)) for one in left
        }
        now = 0.0
        self.done: list[tuple[PlannedSet, LoggedSet]] = []
        for number, was in enumerate(done):
            name = self._in_session(was.exercise)
            planned = next((one for one in left if one.exercise == name), None)
            if planned is None:  # one set more than planned counts as one more like the last
                planned = next(one for one in reversed(self.session.sets) if one.exercise == name)
            else:
                left = [one for one in left if one is not planned]
            rest = gap.get(id(planned), 0.0) if was.rest_s is None else was.rest_s
            start = now + (rest if number or was.rest_s is None else 0.0)
            now = start + planned.seconds_per_rep * was.reps
            reserve = np.nan if was.reserve is None else min(was.reserve, LARGEST_RESERVE)
            load = was.load_kg + planned.body_kg
            self.done.append((planned, LoggedSet(number, load, was.reps, was.ending, reserve, rest, start, now)))
        without = {self._in_session(name) for name in skipped}
        self.to_come: list[tuple[PlannedSet, float, float]] = []
        for one in left:
            if one.exercise not in without:
                start = now + gap[id(one)]
                now = start + float(one.end_s[at] - one.start_s[at])
                self.to_come.append((one, start, now))

    def _in_session(self, exercise: str) -> str:
        name = self.plan.catalogue.exercise(exercise).name
        if name not in self.plan.exercises:
            raise InputError(
                None,
                exercise,
                f"is not in {self.session.name}",
                f"use one of: {', '.join(self.plan.exercises)}; exchange it in the block first, if it was exchanged",
            )
        return name

    def read(self, draws: LifterDraws) -> tuple[FloatArray, SharedFatigue]:
        """Return how well every draw explains the sets done, log, shape (draws,), and its fatigue after them."""
        shared = self._fresh(draws)
        settings = FitSettings(curve=draws.curve)
        total = np.zeros(draws.count)
        for planned, logged in self.done:
            wanted = np.inf if logged.ending == "failed" else float(logged.reps)
            load = np.array([logged.load_kg])
            available = _work(shared, draws, planned.lane, load, (logged.start_s, logged.end_s), wanted)
            with np.errstate(divide="ignore"):
                log_available = np.log(available[:, 0])
            total += np.log(probability_in_log(logged, log_available, settings.set_log_sd, settings))
        return total, shared

    def _fresh(self, draws: LifterDraws) -> SharedFatigue:
        carry = self.plan.carry if draws.carry is None else self.plan.carry.times(draws.carry)
        rate = draws.recovery_rate[:, np.newaxis]
        return SharedFatigue(draws.form, self.plan.overlap, rate, parameters=draws.fatigue, carry=carry)

    def run_on(self, draws: LifterDraws, noise: FloatArray, choice: Choice | None = None) -> Iterator[Forecast]:
        """Go on through the sets to come, with the planned loads or with loads chosen once for a set group."""
        _, shared = self.read(draws)
        share: dict[tuple[int, int], float] = {}
        for number, (planned, start, end) in enumerate(self.to_come):
            group = planned.slot, planned.group
            if choice is not None and group not in share:
                chosen = self._chosen(shared.copy(), draws, noise[number:], self.to_come[number:], choice)
                share[group] = chosen / float(planned.load_kg[self.at])
            load = self._load(planned, share.get(group, 1.0))
            high = float(planned.reps_high[self.at])
            available = _work(shared, draws, planned.lane, np.array([load]), (start, end), high, noise[number])
            yield Forecast(planned, self.at, load, available)

    def _load(self, planned: PlannedSet, share: float) -> float:
        """Load of a set whose group was changed by a share; drops follow, on the room's plates, never above."""
        load = float(planned.load_kg[self.at])
        if share == 1.0:
            return load
        table = self._table(planned)
        rounded = float(table.round_kg(share * load - planned.body_kg, "not_above")) + planned.body_kg
        return rounded if rounded > 0.0 else load  # nothing so light: as planned

    def _table(self, planned: PlannedSet) -> LoadTable:
        slot = self.session.of.exercises[planned.slot - 1]
        return self.plan.room.loads_for(self.plan.catalogue.exercise(planned.exercise), slot.equipment)

    def _chosen(
        self,
        shared: SharedFatigue,
        draws: LifterDraws,
        noise: FloatArray,
        to_come: Sequence[tuple[PlannedSet, float, float]],
        choice: Choice,
    ) -> float:
        """Return the load of the first set's group that the limit asks for: all loads tried side by side."""
        first = to_come[0][0]
        planned_kg, high = float(first.load_kg[self.at]), float(first.reps_high[self.at])
        if np.isinf(high):
            return planned_kg
        loads = choice.loads(planned_kg, first.body_kg, self._table(first).kg)
        chances, reserves = [], []
        for (one, start, end), scatter in zip(to_come, noise, strict=True):
            if (one.slot, one.group, one.drop) != (first.slot, first.group, 0):
                continue
            available = _work(shared, draws, one.lane, loads, (start, end), float(one.reps_high[self.at]), scatter)
            chances.append(np.mean(available >= one.reps_low[self.at], axis=0))
            reserves.append(np.median(available, axis=0) - 0.5 * (one.reps_low[self.at] + one.reps_high[self.at]))
        kept = np.min(chances, axis=0) >= choice.limit
        if not kept.any():
            return float(loads[0])
        wanted = self.session.of.exercises[first.slot - 1].sets[first.group - 1]
        if wanted.reps_in_reserve is None:
            planned_keeps = kept[loads <= planned_kg + _SAME_KG][-1]
            if planned_keeps and choice.most_up == 0.0:
                return planned_kg
            return float(loads[kept][-1])
        reserve = wanted.weekly(self.plan.weeks)[0][self.at]
        return float(loads[np.argmin(np.where(kept, np.abs(reserves[0] - reserve), np.inf))])

    def form_table(self, draws: LifterDraws) -> pd.DataFrame:
        """Return today's strength of the exercises done against what was expected before the first set."""
        names = [planned.exercise for planned, _ in self.done]
        rows = []
        for name in dict.fromkeys(names):
            lane = self.plan.exercises.index(name)
            strength = draws.log_one_rm[:, lane] + draws.day[0, :, 0]
            change = 100.0 * np.expm1(np.quantile(strength, INTERVAL) - np.log(self.plan.lifter.lift(name).one_rm))
            rows.append((name, *change, names.count(name)))
        return pd.DataFrame(rows, columns=["exercise", "change_p10", "change_p50", "change_p90", "sets"])


def _work(
    shared: SharedFatigue,
    draws: LifterDraws,
    lane: int,
    load_kg: FloatArray,
    clock_s: tuple[float, float],
    wanted: float,
    noise: FloatArray | float = 1.0,
) -> FloatArray:
    """Work one set at several loads [kg], shape (loads,); return the reps available, shape (draws, loads)."""
    headroom = (draws.log_one_rm[:, lane] + draws.day[0, :, 0])[:, np.newaxis] - np.log(load_kg)
    fresh = draws.curve.fresh_reps(headroom, draws.endurance[:, lane, np.newaxis]) * noise
    start, end = clock_s
    state = shared.before(lane, [start])
    available, after = draws.form.work(state, headroom, fresh, wanted, parameters=draws.fatigue)
    shared.after(lane, after, [end])
    return np.asarray(available)


class Pools:
    """Possible days of a session, drawn some at a time as they are asked for, and kept."""

    def __init__(self, plan: Plan, seed: int) -> None:
        self.plan, self.seed = plan, seed
        self._drawn: list[LifterDraws] = []

    def _pool(self, number: int) -> LifterDraws:
        plan = self.plan
        if number == len(self._drawn):
            rng = np.random.default_rng([self.seed, number])
            size: dict[str, Any] = {"weeks": 1, "sessions": 1, "sets": 0, "draws": _POOL}
            models: dict[str, Any] = {"form": plan.form, "curve": plan.curve, "catalogue": plan.catalogue}
            self._drawn.append(draw_lifter(plan.lifter, plan.exercises, rng=rng, **size, **models))
        return self._drawn[number]

    def weighted(self, day: Day) -> tuple[LifterDraws, FloatArray]:
        """Weigh possible days by the sets done, more of them while few fit; the weights sum to 1."""
        pools: list[LifterDraws] = []
        logs: list[FloatArray] = []
        weight = np.zeros(0)
        for number in range(_MOST_POOLS):
            pools.append(self._pool(number))
            logs.append(day.read(pools[-1])[0])
            log_weight = np.concatenate(logs)
            weight = np.exp(log_weight - log_weight.max())
            weight /= weight.sum()
            if 1.0 / np.sum(weight**2) >= _ENOUGH:
                break
        return LifterDraws.joined(pools), weight


def _systematic(weight: FloatArray, count: int, rng: np.random.Generator) -> np.ndarray:
    """Return rows drawn by weight: each as often as its weight asks for, to within one."""
    places = (np.arange(count) + rng.random()) / count
    return np.minimum(np.searchsorted(np.cumsum(weight), places), weight.size - 1)


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
