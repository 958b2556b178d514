"""Time is short: which sets can go? Those whose loss costs least of what the week is to give each muscle.

A set is worth the hard sets that it is expected to give to muscles that have no more than their target without it. All
ways to leave out sets from the end of each group are looked at; the best is then planned and simulated anew, on the
same days as the whole session.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import pandas as pd

from workbench.answers.session import one_session
from workbench.answers.volume import judged_sets, studied_weekly_sets
from workbench.gym.catalogue import MUSCLES
from workbench.gym.equipment import Room
from workbench.lifter import Lifter
from workbench.models.fatigue import DEFAULT_FORM, FatigueForm
from workbench.models.load_reps import DEFAULT_CURVE, Curve
from workbench.models.volume import RULES
from workbench.prescription.block import Block
from workbench.present.answer import Answer
from workbench.quantities import SEED, FloatArray, InputError
from workbench.simulate.draws import SeededDays, draw_for
from workbench.simulate.plan import Plan, PlannedSession, PlannedSet, make_plan
from workbench.simulate.run import SessionOutcome, run_block, simulate

__all__ = ["Option", "Way", "WhatCanGo", "ways_to_save", "what_can_go"]

#: Ways looked at before sets are only taken in whole groups.
_MOST_WAYS: Final = 200_000
#: Weight of a hard set beyond the target, against one within: enough to keep it where nothing else decides.
_BEYOND: Final = 0.01
#: Shown in the table.
_MOST_ROWS: Final = 8
#: Muscles named in the sentence.
_MOST_MUSCLES: Final = 4


@dataclass(frozen=True)
class Option:
    """Something of one exercise that can go: sets from the end of each group but its first set, or all of it.

    Attributes
    ----------
    removed : tuple of int
        How many sets of each group go.
    seconds : float, [s]
        Saved.
    hard : array, shape (muscles,), [sets]
        Hard sets that go with them.
    """

    removed: tuple[int, ...]
    seconds: float
    hard: FloatArray


@dataclass(frozen=True)
class Way:
    """One way to save time: an option for each exercise, what it saves [s], and what it costs [sets]."""

    options: tuple[Option, ...]
    seconds: float
    cost: float
    hard: FloatArray


@dataclass(frozen=True, repr=False)
class WhatCanGo(Answer):
    """The answer to "what can go?".

    Attributes
    ----------
    ways : DataFrame
        Ways to save the minutes, the one that costs least first: way [1]; leave_out (in words); minutes [min] (saved);
        cost [sets] (hard sets within the week's targets that are lost), hard [sets] (all hard sets lost).
    muscles : DataFrame
        One row a muscle that the best way takes sets from: muscle; before, after [sets/week] (hard, fractional, of the
        whole week); target [sets/week].
    gains : DataFrame
        One row a set left: exercise, set; before, after [reps] (median reps in reserve with and without what goes).
    wanted_minutes : float, [min]
    """

    ways: pd.DataFrame
    muscles: pd.DataFrame
    gains: pd.DataFrame
    wanted_minutes: float

    @property
    def notes(self) -> tuple[str, ...]:
        """What the ranking rests on."""
        return (
            "Targets not given are the low end of the studied range of weekly sets: no promise of growth",
            f"Hard: at most {RULES.hard_reserve:g} reps in reserve (assumed); shares of muscles are mostly assumed",
        )

    def sentences(self) -> list[str]:
        """Say what to leave out, what it costs and what the rest gains."""
        if not len(self.ways):
            return [f"Nothing short of the whole session saves {self.wanted_minutes:g} min."]
        best = self.ways.iloc[0]
        lines = [f"Leave out {best['leave_out']}: {best['minutes']:.0f} min less."]
        within = self.muscles[["before", "target"]].min(axis=1) - self.muscles["after"]
        costs = self.muscles.assign(within=within).nlargest(_MOST_MUSCLES, "within")
        costs = costs[costs["within"] >= 0.05]
        if len(costs):
            each = (
                f"{row['muscle']} {row['before']:.1f} to {row['after']:.1f} (target {row['target']:g})"
                for row in costs.to_dict("records")
            )
            lines.append(f"Hard sets of the week: {', '.join(each)}.")
        else:
            names = ", ".join(self.muscles["muscle"])
            lines.append(f"The week's targets are met without it{f': {names}' if names else ''}.")
        gain = self.gains["after"] - self.gains["before"]
        if len(gain) and gain.max() >= 0.3:
            row = self.gains.iloc[int(np.argmax(gain))]
            lines.append(f"What follows gains up to {gain.max():.1f} reps in reserve ({row['exercise']}).")
        return lines


# More than seven parameters: what a coach may leave to its default is a keyword of the question.
def what_can_go(
    block: Block,
    lifter: Lifter,
    room: Room,
    *,
    minutes: float,
    session: str | int = 1,
    week: int = 1,
    done: Mapping[str, int] | None = None,
    keep: Sequence[str] = (),
    targets: Mapping[str, float] | None = None,
    draws: int = 1000,
    seed: int = SEED,
    form: FatigueForm = DEFAULT_FORM,
    curve: Curve = DEFAULT_CURVE,
) -> WhatCanGo:
    """Find the sets of a session whose loss costs least.

    Parameters
    ----------
    block : Block
    lifter : Lifter
    room : Room
    minutes : float, [min], 0 to 600
        To save.
    session : str or int
        Name, or number from 1.
    week : int, [1], 1 to 52
        Of the block.
    done : mapping of str to int
        How many sets of an exercise are done already: they cannot go.
    keep : sequence of str
        Exercises of which nothing may go: the lifts that matter most.
    targets : mapping of str to float
        Hard sets a week [sets/week] wanted for a muscle; the low end of the studied range for the others.
    draws : int, [1], 10 to 100,000
        Simulated lifters and runs of days.
    seed : int, [1], >= 0
        The same seed gives the same digits.
    form : FatigueForm
        How a set tires, or the name of one in `FORMS`.
    curve : Curve
        Load and reps, fresh: one of `CURVES`, or of your own.

    Returns
    -------
    WhatCanGo
        Sets to leave out, minutes saved [min], hard sets lost [sets], reps gained by the rest [reps].

    Raises
    ------
    InputError
        For a session, week, exercise or muscle that there is not, or a lift or load that is missing.

    Notes
    -----
    Muscle shares from ``data/muscle_shares.csv``, studied ranges from ``data/evidence/volume_ranges.csv``.
    """
    wanted = _targets(targets or {})
    alone, at = one_session(block, session, week)
    outcome = run_block(block, lifter, room, SeededDays(draws, seed), form=form, curve=curve)
    number = block.session_number(session) - 1
    planned = outcome.plan.sessions[number]
    kept = {room.catalogue.exercise(name).name for name in keep}
    known = {room.catalogue.exercise(name).name: count for name, count in (done or {}).items()}
    shares = np.asarray(outcome.plan.catalogue.shares_of(outcome.plan.exercises), dtype=np.float64)
    hard = [_hard(sets, at)[:, np.newaxis] * shares[[one.planned.lane for one in sets]] for sets in outcome.sessions]
    hard_of_week = np.sum([of_session.sum(axis=0) for of_session in hard], axis=0)
    options = [
        _options(planned, hard[number], at, place, known, room.catalogue.exercise(slot.exercise).name in kept)
        for place, slot in enumerate(planned.of.exercises, start=1)
    ]
    whole_s = max(float(one.end_s[at]) for one in planned.sets if one.active[at])
    ways = ways_to_save(options, 60.0 * minutes, whole_s, hard_of_week, wanted)
    rows = [
        (rank, _in_words(planned, way), way.seconds / 60.0, way.cost, way.hard.sum())
        for rank, way in enumerate(ways, 1)
    ]
    table = pd.DataFrame(rows, columns=["way", "leave_out", "minutes", "cost", "hard"])
    if not ways:
        empty = pd.DataFrame(columns=["muscle", "before", "after", "target"])
        return WhatCanGo(table, empty, pd.DataFrame(columns=["exercise", "set", "before", "after"]), minutes)
    lost = ways[0].hard
    touched = lost > _BEYOND
    muscles = pd.DataFrame({"muscle": MUSCLES, "before": hard_of_week, "after": hard_of_week - lost, "target": wanted})
    plan = make_plan(alone, lifter, room, form=form, curve=curve)
    gains = _gains(plan, ways[0], at, draws, seed)
    return WhatCanGo(table, muscles[touched].reset_index(drop=True), gains, minutes)


def ways_to_save(
    options: Sequence[Sequence[Option]], wanted_s: float, whole_s: float, hard_of_week: FloatArray, targets: FloatArray
) -> list[Way]:
    """Rank all ways to save some time, by what they cost.

    Parameters
    ----------
    options : sequence of sequences of Option
        Of each exercise, one of which takes nothing.
    wanted_s, whole_s : float, [s], >= 0
        To save at least, and what the whole session would save.
    hard_of_week, targets : array, shape (muscles,), [sets]
        With the whole session, and wanted.

    Returns
    -------
    list of Way
        The best first; of equals the one that loses fewer hard sets, then the shorter. None leaves out everything.
    """
    if np.prod([len(each) for each in options]) > _MOST_WAYS:
        options = [[each[0], *each[1:2], each[-1]] if len(each) > 2 else each for each in options]
    if np.prod([len(each) for each in options]) > _MOST_WAYS:
        options = [[each[0], each[-1]] if len(each) > 1 else each for each in options]
    seconds, hard = np.zeros(1), np.zeros((1, hard_of_week.size))
    for each in options:
        seconds = np.add.outer(seconds, [one.seconds for one in each]).ravel()
        hard = (hard[:, np.newaxis] + np.array([one.hard for one in each])).reshape(-1, hard_of_week.size)
    within = np.minimum(hard_of_week, targets).sum()
    cost = within - np.minimum(np.maximum(hard_of_week - hard, 0.0), targets).sum(axis=1)
    usable = np.flatnonzero((seconds >= wanted_s - 1e-6) & (seconds < whole_s - 1e-6))
    order = usable[np.lexsort((seconds[usable], np.round(cost[usable] + _BEYOND * hard[usable].sum(axis=1), 6)))]
    sizes = [len(each) for each in options]
    return [
        Way(
            tuple(each[place] for each, place in zip(options, np.unravel_index(row, sizes), strict=True)),
            float(seconds[row]),
            float(cost[row]),
            hard[row],
        )
        for row in order[:_MOST_ROWS]
    ]


def _targets(given: Mapping[str, float]) -> FloatArray:
    """Hard sets a week wanted for every muscle."""
    low, _ = studied_weekly_sets()
    wanted = np.full(len(MUSCLES), low)
    for muscle, sets in given.items():
        if muscle not in MUSCLES:
            raise InputError(None, "targets", f"no muscle is called {muscle!r}", f"use one of: {', '.join(MUSCLES)}")
        wanted[MUSCLES.index(muscle)] = sets
    return wanted


def _hard(sets: SessionOutcome, at: int) -> FloatArray:
    """Chance of every set of a session to end hard in a week, shape (sets,); a set with drops where the last ends."""
    places = {id(one): place for place, one in enumerate(sets)}
    chances = np.zeros(len(sets))
    for one, weight in judged_sets(sets):
        chances[places[id(one)]] = weight * float(one.ends_within(RULES.hard_reserve)[:, at].mean())
    return chances


def _options(
    planned: PlannedSession, hard: FloatArray, at: int, slot: int, done: Mapping[str, int], kept: bool
) -> list[Option]:
    """Return what of an exercise can go: nothing first, all of it last, where none of its sets is done."""
    groups = len(planned.of.exercises[slot - 1].sets)
    by_set: dict[tuple[int, int], tuple[float, FloatArray]] = {}
    before = 0.0
    for place, one in enumerate(planned.sets):
        if not one.active[at]:
            continue
        if one.slot == slot:
            seconds, lost = by_set.get((one.group, one.number), (0.0, np.zeros(hard.shape[1])))
            by_set[one.group, one.number] = seconds + float(one.end_s[at]) - before, lost + hard[place]
        before = float(one.end_s[at])
    nothing = Option((0,) * groups, 0.0, np.zeros(hard.shape[1]))
    if kept or not by_set:
        return [nothing]
    name = next(one.exercise for one in planned.sets if one.slot == slot)
    by_group = [
        [by_set[key] for key in sorted(by_set, reverse=True) if key[0] == group] for group in range(1, groups + 1)
    ]
    to_come = _not_done([len(sets) for sets in by_group], done.get(name, 0))
    most = [min(count, max(len(sets) - 1, 0)) for count, sets in zip(to_come, by_group, strict=True)]
    some = itertools.product(*(range(count + 1) for count in most))
    found = [nothing, *(_option(removed, by_group) for removed in some if any(removed))]
    if to_come == [len(sets) for sets in by_group]:
        found.append(_option(tuple(to_come), by_group))
    return found


def _not_done(counts: Sequence[int], done: int) -> list[int]:
    """Return how many sets of each group are still to come after some of the exercise are done.

    >>> _not_done([1, 3], 2)
    [0, 2]
    """
    left = []
    for count in counts:
        left.append(max(count - done, 0))
        done = max(done - count, 0)
    return left


def _option(removed: tuple[int, ...], by_group: Sequence[Sequence[tuple[float, FloatArray]]]) -> Option:
    gone = [one for count, sets in zip(removed, by_group, strict=True) for one in sets[:count]]
    return Option(removed, sum(seconds for seconds, _ in gone), np.sum([hard for _, hard in gone], axis=0))


def _in_words(planned: PlannedSession, way: Way) -> str:
    """Say what goes: "back squat; the last 2 sets of leg press"."""
    said = []
    for slot, option in enumerate(way.options, start=1):
        sets = {(one.group, one.number) for one in planned.sets if one.slot == slot}
        count = sum(option.removed)
        if count:
            name = next(one.exercise for one in planned.sets if one.slot == slot)
            said.append(name if count == len(sets) else f"{_last(count)} of {name}")
    return "; ".join(said) or "nothing"


def _last(count: int) -> str:
    return "the last set" if count == 1 else f"{count} sets"


def _gains(plan: Plan, way: Way, at: int, draws: int, seed: int) -> pd.DataFrame:
    """Return the reps in reserve of the sets that stay, with and without those that go, on the same days."""
    session = plan.sessions[0]
    gone = _gone(session, way, at)
    drawn = draw_for(plan, draws=draws, seed=seed)
    shorter = replace(plan, sessions=(replace(session, sets=_closed_up(session, gone, at)),))
    outcomes = [simulate(each, drawn).sessions[0] for each in (plan, shorter)]
    rows = []
    for place, one in enumerate(session.sets):
        if one.active[at] and place not in gone and one.prescribed[at]:
            left = [float(np.median(outcome[place].available[:, at])) - one.reps_low[at] for outcome in outcomes]
            rows.append((one.exercise, one.label, *left))
    return pd.DataFrame(rows, columns=["exercise", "set", "before", "after"])


def _gone(session: PlannedSession, way: Way, at: int) -> set[int]:
    """Places of the sets that go, drops included: the last ones of each group."""
    gone = set()
    for slot, option in enumerate(way.options, start=1):
        for group, count in enumerate(option.removed, start=1):
            numbers = sorted(
                {one.number for one in session.sets if (one.slot, one.group) == (slot, group) and one.active[at]}
            )
            last = set(numbers[len(numbers) - count :])
            gone |= {
                place
                for place, one in enumerate(session.sets)
                if (one.slot, one.group) == (slot, group) and one.number in last
            }
    return gone


def _closed_up(session: PlannedSession, gone: set[int], at: int) -> tuple[PlannedSet, ...]:
    """Return the sets with those that go left undone, and the clock of the others moved up."""
    sets, saved, before = [], 0.0, 0.0
    for place, one in enumerate(session.sets):
        if place in gone:
            sets.append(replace(one, active=np.zeros_like(one.active)))
            saved += float(one.end_s[at]) - before if one.active[at] else 0.0
        else:
            sets.append(replace(one, start_s=one.start_s - saved, end_s=one.end_s - saved))
        before = float(one.end_s[at]) if one.active[at] else before
    return tuple(sets)
