"""Does the session hold together? Its timeline, the loss of each muscle as it builds up, and its cautions."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import pandas as pd

from workbench.answers.block_tables import set_table
from workbench.answers.exchange import Exclusions, left_out
from workbench.gym.catalogue import MUSCLES, Caution, Exercise, cautions, cautions_for
from workbench.gym.equipment import LoadTable, Room
from workbench.lifter import Lifter
from workbench.models.fatigue import DEFAULT_FORM, FatigueForm, State
from workbench.models.load_reps import DEFAULT_CURVE, Curve
from workbench.models.sharing import CARRY, NO_CARRY, Carry, SharedFatigue, muscle_pools, reps_lost
from workbench.prescription.block import Block
from workbench.present.answer import Answer
from workbench.present.words import kind_said, put_on_said, reps_said, say_load
from workbench.quantities import SEED, FloatArray, InputError
from workbench.simulate.draws import LifterDraws, draw_for
from workbench.simulate.plan import Plan, PlannedSession, PlannedSet, RampSet, SetUp, make_plan
from workbench.simulate.run import INTERVAL, Outcome, SessionOutcome, run_session, simulate

__all__ = [
    "SessionAnswer",
    "SessionRun",
    "heaviest_percents",
    "load_on_plates",
    "one_session",
    "session_cautions",
    "session_question",
]

#: Percent of 1RM from which a set has the caution of a maximal single, and an overhead press that of heavy work.
_NEAR_MAXIMAL = 95.0
_HEAVY_OVERHEAD = 80.0


@dataclass(frozen=True, repr=False)
class SessionAnswer(Answer):
    """The answer to "does the session hold together?", for one week.

    Attributes
    ----------
    name : str
    week : int, [1]
        Counted from 1.
    minutes : float, [min]
        Predicted duration.
    limit_minutes : float or None, [min]
        The coach's limit, where the block has one.
    timeline : DataFrame
        One row a stretch of time: start_min, end_min [min]; kind ("set up", "ramp", "work", "rest" or "change" of
        load for a drop), exercise, what (in words, with the plates).
    sets : DataFrame
        Rows as `set_table` of this session and week, with start_min [min].
    muscles : DataFrame
        One row a muscle and set: end_min [min]; exercise, set, muscle; low, lost, high [%] (of its fresh reps that a
        set led by that muscle would lose right then, 10, 50, 90 %, its strength of the last seconds apart).
    carried : DataFrame
        One row an exercise after the first: exercise; low, lost, high [%] (of the reps of its first set that earlier
        exercises cost, on the same simulated days); from (the exercises that share muscles with it).
    cautions : tuple of (Caution, tuple of str)
        Those that belong on the page, with the exercises they are about.
    avoided : tuple of (str, str)
        Exercises of the session that the lifter should not do by the lifter file, each with the reason.
    """

    name: str
    week: int
    minutes: float
    limit_minutes: float | None
    timeline: pd.DataFrame
    sets: pd.DataFrame
    muscles: pd.DataFrame
    carried: pd.DataFrame
    cautions: tuple[tuple[Caution, tuple[str, ...]], ...]
    avoided: tuple[tuple[str, str], ...]

    @property
    def notes(self) -> tuple[str, ...]:
        """What is in the session though the lifter avoids it, and the cautions that belong on the page."""
        avoided = (f"{name} is in this session, though the lifter avoids it ({why})" for name, why in self.avoided)
        return (*avoided, *(f"{', '.join(names)}: {caution.sentence}" for caution, names in self.cautions))

    def sentences(self) -> list[str]:
        """Say how long the session is, and on what."""
        limit = f"; the block allows {self.limit_minutes:.0f}" if self.limit_minutes else ""
        return [f"{self.name}, week {self.week}: about {self.minutes:.0f} min ({self.spent_said()}{limit})"]

    def spent_said(self) -> str:
        """Say what the minutes go into, whole ones."""
        spent = self.minutes_by_kind().items()
        return ", ".join(f"{kind_said(kind)} {minutes:.0f}" for kind, minutes in spent if minutes >= 0.5)

    def minutes_by_kind(self) -> dict[str, float]:
        """Minutes of setting up, ramp sets, work, rest and load changes for drops; they add up to the duration."""
        spent = (self.timeline["end_min"] - self.timeline["start_min"]).groupby(self.timeline["kind"]).sum()
        return {kind: float(spent.get(kind, 0.0)) for kind in ("set up", "ramp", "work", "rest", "change")}


# More than seven parameters: what a coach may leave to its default is a keyword of the question.
def session_question(
    block: Block,
    lifter: Lifter,
    room: Room,
    session: str | int = 1,
    *,
    week: int = 1,
    draws: int = 1000,
    seed: int = SEED,
    form: FatigueForm = DEFAULT_FORM,
    curve: Curve = DEFAULT_CURVE,
    carry: Carry = CARRY,
) -> SessionAnswer:
    """Work out one session of one week.

    Parameters
    ----------
    block : Block
    lifter : Lifter
    room : Room
    session : str or int
        Its name, or its number counted from 1.
    week : int, [1], 1 to 52
        Counted from 1.
    draws : int, [1], 10 to 100,000
        Simulated lifters and runs of days.
    seed : int, [1], >= 0
        The same seed gives the same digits.
    form : FatigueForm
        How a set tires, or the name of one in `FORMS`.
    curve : Curve
        Load and reps, fresh: one of `CURVES`, or of your own.
    carry : Carry
        How strongly fatigue passes between exercises that share muscles.

    Returns
    -------
    SessionAnswer
        The session minute by minute [min], with the reps [reps] and strength [%] that its own fatigue takes.

    Raises
    ------
    InputError
        For a session or week that the block does not have, or a lift or load that is missing.

    Notes
    -----
    What passes between exercises is set on three published losses (`workbench.models.sharing.CARRY` names them), by
    the shares of ``data/muscle_shares.csv``; all else as for `check`.
    """
    run = SessionRun.of(block, lifter, room, session, draws=draws, seed=seed, form=form, curve=curve, carry=carry)
    return run.in_week(week)


@dataclass(frozen=True)
class SessionRun:
    """One session of a block on its simulated days; what is asked of a week is worked out then.

    Attributes
    ----------
    plan : Plan
        Of the block with this session alone.
    drawn : LifterDraws
    number : int, [1]
        The session's in the block, from 1.
    """

    plan: Plan
    drawn: LifterDraws
    number: int

    # More than seven parameters: what a coach may leave to its default is a keyword of the question.
    @classmethod
    def of(
        cls,
        block: Block,
        lifter: Lifter,
        room: Room,
        session: str | int = 1,
        *,
        draws: int = 1000,
        seed: int = SEED,
        form: FatigueForm = DEFAULT_FORM,
        curve: Curve = DEFAULT_CURVE,
        carry: Carry = CARRY,
    ) -> SessionRun:
        """Plan the session in every week, and draw its days; as for `session_question`."""
        alone, _ = one_session(block, session, 1)
        plan = make_plan(alone, lifter, room, form=form, curve=curve, carry=carry)
        return cls(plan, draw_for(plan, draws=draws, seed=seed), block.session_number(session))

    def timeline(self, week: int) -> pd.DataFrame:
        """Return the ``timeline`` of a week's answer: of the plan alone, so at once; InputError as for `in_week`."""
        return _timeline(self.plan.sessions[0], self._at(week), self.plan.room)

    def in_week(self, week: int) -> SessionAnswer:
        """Return the answer for a week counted from 1; InputError where the block, or the session then, has none."""
        at, plan, planned = self._at(week), self.plan, self.plan.sessions[0]
        outcomes, muscles = _with_muscles(plan, self.drawn, at)
        sets = set_table(Outcome(plan, (outcomes,)))
        sets = sets[sets["week"] == week]
        starts = {(one.slot, one.label): one.start_s[at] / 60.0 for one in planned.sets}
        sets = sets.assign(
            session_number=self.number,
            start_min=[starts[key] for key in zip(sets["slot"], sets["set"], strict=True)],
        )
        exercises = [plan.catalogue.exercise(name) for name in plan.exercises]
        return SessionAnswer(
            name=planned.name,
            week=week,
            minutes=float(planned.duration_s[at]) / 60.0,
            limit_minutes=plan.block.limits.session_minutes,
            timeline=self.timeline(week),
            sets=sets.sort_values("start_min", kind="stable", ignore_index=True),
            muscles=muscles,
            carried=_carried(plan, outcomes, self._by_themselves, at),
            cautions=session_cautions(plan.lifter, exercises, heaviest_percents(sets)),
            avoided=left_out(plan.lifter, exercises),
        )

    @cached_property
    def _by_themselves(self) -> SessionOutcome:
        """The session where nothing passes between its exercises."""
        return simulate(replace(self.plan, carry=NO_CARRY), self.drawn).sessions[0]

    def _at(self, week: int) -> int:
        """Return the index of a week in which there is something to do."""
        _, at = one_session(self.plan.block, 1, week)
        planned = self.plan.sessions[0]
        if not any(one.active[at] for one in planned.sets):
            raise InputError(
                None, "week", f"{planned.name} has no set in week {week}", "choose another week or session"
            )
        return at


def _with_muscles(plan: Plan, drawn: LifterDraws, week: int) -> tuple[SessionOutcome, pd.DataFrame]:
    """Simulate the plan's only session, and read the loss of every muscle after each set of a week (from 0)."""
    shares = plan.catalogue.shares_of(plan.exercises)
    used = [number for number, _ in enumerate(MUSCLES) if shares[:, number].any()]
    losses: list[tuple[object, ...]] = []

    def watch(index: int, fatigue: SharedFatigue) -> None:
        one = plan.sessions[0].sets[index]
        if one.active[week]:
            lost = _lost_by_muscle(fatigue, one, shares[:, used], drawn, week)
            low, median, high = 100.0 * np.quantile(lost, INTERVAL, axis=1)
            of_set = (one.end_s[week] / 60.0, one.exercise, one.label)
            rows = zip((MUSCLES[number] for number in used), low, median, high, strict=True)
            losses.extend((*of_set, *row) for row in rows)

    outcome = run_session(plan, drawn, 0, watch)
    return outcome, pd.DataFrame(losses, columns=["end_min", "exercise", "set", "muscle", "low", "lost", "high"])


def one_session(block: Block, session: str | int, week: int) -> tuple[Block, int]:
    """Return the block with only one of its sessions, and the index of the week.

    Raises
    ------
    InputError
        For a session or week that the block does not have.
    """
    chosen = block.expanded_sessions()[block.session_number(session) - 1]
    if not 1 <= week <= block.weeks:
        raise InputError(None, "week", f"the block has no week {week}", f"use 1 to {block.weeks}")
    return block.model_copy(update={"sessions": [chosen]}), week - 1


def session_cautions(
    lifter: Lifter, exercises: Sequence[str | Exercise], heaviest: Mapping[str, float] | None = None
) -> tuple[tuple[Caution, tuple[str, ...]], ...]:
    """Cautions that belong on the page of a session, each once.

    Those of joint positions show where the catalogue says always, or where the lifter avoids that position. Maximal
    singles (from 95 % of 1RM) and heavy overhead presses (from 80 %) have theirs where the session has them.

    Parameters
    ----------
    lifter : Lifter
    exercises : sequence of str or Exercise
        Names are looked up in the lifter's catalogue.
    heaviest : mapping of str to float
        Heaviest load of each exercise, % of 1RM.
    """
    looked_up = (lifter.catalogue.exercise(named) if isinstance(named, str) else named for named in exercises)
    chosen = list(dict.fromkeys(looked_up))
    percent = dict(heaviest or {})
    over_body = [
        one for one in chosen if "bar over the body" in one.joint_positions and one.implement != "machine plates"
    ]
    single = [one for one in chosen if percent.get(one.name, 0.0) >= _NEAR_MAXIMAL]
    overhead = [
        one
        for one in chosen
        if one.endurance_class == "vertical press"
        and "overhead" in one.joint_positions
        and percent.get(one.name, 0.0) >= _HEAVY_OVERHEAD
    ]
    of_work = {"spotters": over_body, "maximal singles": single, "heavy overhead work": overhead}
    found = [
        (cautions()[topic], tuple(one.name for one in ones))
        for topic, ones in of_work.items()
        if ones and topic in cautions()
    ]
    avoided = Exclusions.of(lifter).positions
    for caution, names in cautions_for(chosen).items():
        # The spotter stands there already.
        if caution.topic != "bar over the body" and (caution.show == "always" or caution.topic in avoided):
            found.append((caution, names))
    return tuple(found)


def heaviest_percents(sets: pd.DataFrame) -> dict[str, float]:
    """Heaviest load of each exercise in a set table, % of 1RM."""
    return {str(name): float(rows.max()) for name, rows in sets.groupby("exercise")["percent"]}


def _lost_by_muscle(
    fatigue: SharedFatigue, one: PlannedSet, shares: FloatArray, drawn: LifterDraws, week: int
) -> FloatArray:
    """Share of fresh reps lost by each muscle right after a set, shape (muscles, draws)."""
    own = fatigue.own(one.end_s)
    form = drawn.form
    carried = 1.0 if drawn.carry is None else drawn.carry[:, 0]
    pools: list[FloatArray] = []
    for number in range(form.pools):
        by_lane = np.zeros((shares.shape[0], drawn.count))
        if number or form.pools == 1:
            for lane, state in own.items():
                pool = np.broadcast_to(state[number], (drawn.count, one.end_s.size))
                by_lane[lane] = pool[:, week] * carried
        pools.append(muscle_pools(shares, by_lane))
    # Parameters of shape (draws, 1) meet draws first, muscles last.
    by_draw: State = tuple(pool.T for pool in pools)
    return reps_lost(by_draw, form, parameters=drawn.fatigue).T


def _carried(plan: Plan, outcomes: SessionOutcome, by_themselves: SessionOutcome, week: int) -> pd.DataFrame:
    rows: list[tuple[str, float, float, float, str]] = []
    seen: list[int] = []
    for with_others, without in zip(outcomes, by_themselves, strict=True):
        lane = with_others.planned.lane
        if lane in seen:
            continue
        if seen:
            alone = np.maximum(without.available[:, week], 1e-9)
            lost = 100.0 * (1.0 - with_others.available[:, week] / alone)
            low, median, high = np.quantile(lost, INTERVAL)
            sharing = [plan.exercises[other] for other in seen if plan.overlap[lane, other] > 0]
            rows.append((with_others.planned.exercise, low, median, high, ", ".join(sharing)))
        seen.append(lane)
    return pd.DataFrame(rows, columns=["exercise", "low", "lost", "high", "from"])


def _timeline(planned: PlannedSession, week: int, room: Room) -> pd.DataFrame:
    slots = planned.of.exercises
    tables = [room.loads_for(room.catalogue.exercise(slot.exercise), slot.equipment) for slot in slots]
    body = {one.slot: one.body_kg for one in planned.sets}
    rows: list[tuple[float, float, str, str, str]] = []

    def add(one: SetUp | RampSet | PlannedSet, kind: str, what: str) -> None:
        rows.append((one.start_s[week], one.end_s[week], kind, one.exercise, what))

    for set_up in planned.set_ups:
        if set_up.end_s[week] > set_up.start_s[week]:
            add(set_up, "set up", "go there and set up")
    for ramp in planned.ramps:
        if ramp.end_s[week] > ramp.start_s[week]:  # else the exercise is not done in that week
            load = load_on_plates(tables[ramp.slot - 1], ramp.load_kg[week], body.get(ramp.slot, 0.0))
            add(ramp, "ramp", f"{kind_said('ramp')} {ramp.reps} × {load}")
    for one in planned.sets:
        if one.active[week]:
            reps = reps_said(float(one.reps_low[week]), float(one.reps_high[week]))
            load = load_on_plates(tables[one.slot - 1], one.load_kg[week], one.body_kg)
            add(one, "work", f"set {one.label}: {reps} × {load}")
    rows.sort(key=lambda row: row[0])
    filled: list[tuple[float, float, str, str, str]] = []
    clock = 0.0
    for row in rows:
        if row[0] > clock + 1e-6:
            kind, words = ("change", "change the load") if ", drop" in row[4] else ("rest", "rest")
            filled.append((clock, row[0], kind, row[3], f"{words} {row[0] - clock:.0f} s"))
        filled.append(row)
        clock = max(clock, row[1])
    table = pd.DataFrame(filled, columns=["start_min", "end_min", "kind", "exercise", "what"])
    table[["start_min", "end_min"]] /= 60.0
    return table


def load_on_plates(table: LoadTable, load_kg: float, body_kg: float) -> str:
    """Return a load with the plates, pin or dumbbells that make it, as ``60 kg: 20 bar, per side 15 + 5``."""
    index = int(table.round(load_kg - body_kg))
    if index >= len(table):
        return say_load(load_kg, table.unit, hands=table.hands, digits=1)
    if not body_kg:
        return table.describe(index)
    said = put_on_said(float(table.kg[index]) + body_kg, body_kg, table.unit, table.hands)
    return f"{said}: {table.assembly(index).text(table.unit)}"
