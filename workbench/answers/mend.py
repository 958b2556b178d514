"""What would mend a set that breaks, as a coach would: one small change, or two together, that keeps most training.

Where no small change is enough, the answer says whether that is because the lifter is not known, or what
it would take.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Final

import numpy as np
import pandas as pd

from workbench.answers.block_check import BlockCheck
from workbench.answers.block_tables import FirstBreak
from workbench.answers.settling import settles_said, settling_test, target_at
from workbench.answers.small_changes import Change, beyond_small, clashes, small_changes
from workbench.prescription.block import Block
from workbench.prescription.edit import Where, change
from workbench.present.answer import Answer
from workbench.present.words import in_words, percent_said, put_on_said
from workbench.quantities import SEED, FloatArray, InputError
from workbench.simulate.draws import Days, SeededDays
from workbench.simulate.plan import Plan
from workbench.simulate.run import Outcome, changed
from workbench.simulate.set_outcome import SetOutcome

__all__ = ["Mend", "Mending", "mends", "mends_of"]

#: So many mends are offered, and so many of them two changes together: more is no help.
_MOST, _MOST_PAIRS = 4, 2
#: Mends that keep as much training as this, apart, keep the same; then the one of fewer changes comes first.
_SAME: Final = 0.005
#: A lifter of whom something is not known: the more and the less tireless part of those whom it may be.
_PART: Final = 1 / 3
#: What keeps less of the work than this is no mend.
_LEAST_KEPT: Final = 0.7
#: A block in which no more than this part of the reps is missed can stand as it is.
_FEW_MISSED: Final = 1 / 40
#: A set is no test at more than this part of the believed 1RM.
_HEAVIEST_TEST: Final = 0.85


@dataclass(frozen=True)
class Mend:
    """One small change, or two together, that bring a set group up to the limit in every week.

    Attributes
    ----------
    kind : str
        "rest", "climb", "week", "load", "reps", "sets" or "drop"; two joined by " + ".
    change : str
        The change in words, with its unit.
    chance : float, [1]
        Lowest chance, after the change, among the group's sets over all weeks.
    kept : float, [1]
        Load times reps that will be done in the group, against that without the change.
    minutes : float, [min]
        How much longer the longest session of that name gets.
    block : Block
        The block with the change made. Proposed, never applied by itself.
    where, what : Where, dict
        The change itself, as `workbench.prescription.edit.change` takes it.
    """

    kind: str
    change: str
    chance: float
    kept: float
    minutes: float
    block: Block
    where: Where
    what: dict[str, Any]

    def __str__(self) -> str:
        """Return the change with what it comes to."""
        work = "as much work gets done" if self.kept > 1.0 - _SAME else f"keeps {percent_said(self.kept)} of the work"
        longer = f", {self.minutes:.0f} min longer" if self.minutes >= 1 else ""
        return f"{self.change} (least likely set then {in_words(self.chance)}; {work}{longer})"


@dataclass(frozen=True, repr=False)
class Mending(Answer):
    """What would mend the first set that breaks.

    Attributes
    ----------
    table : DataFrame
        One row a mend, in the order of the training that they keep: kind, change, chance [1], kept [1], minutes [min].
    found : tuple of Mend
        The same, with their blocks.
    broken : FirstBreak or None
        The set that is to be mended; None where none is.
    beyond : str
        Where nothing small is enough: what it would take.
    tired, tireless : float or None, [1]
        Chance of the group's least likely set for the third of the possible lifters that tires most, and for the third
        that tires least; None where endurance and recovery are known.
    limit : float, [1]
    test : str
        What would tell more of the lifter.
    missed_part : float, [1]
        Part of the group's prescribed reps that are missed without a mend, expected.
    important : bool
        Whether the coach marked the exercise as most important: then nothing of it is lowered.
    """

    table: pd.DataFrame
    found: tuple[Mend, ...] = ()
    broken: FirstBreak | None = None
    beyond: str = ""
    tired: float | None = None
    tireless: float | None = None
    limit: float = 0.0
    test: str = ""
    missed_part: float = 0.0
    important: bool = False

    @property
    def unknown(self) -> bool:
        """Whether nothing small is enough because the lifter is not known: a tireless one needs no mend."""
        return not self.found and self.tireless is not None and self.tireless >= self.limit

    @property
    def short(self) -> str:
        """The first mend, or why there is none, for a row of a table; empty where nothing breaks."""
        if self.broken is None:
            return ""
        if self.found:
            return str(self.found[0])
        if self.unknown and self.tired is not None and self.tireless is not None:
            ends = f"easily tired {in_words(self.tired)}, tireless {in_words(self.tireless)}"
            return f"no small change, as this lifter is not known in it ({ends})"
        return f"no small change{self.beyond}"

    def sentences(self) -> list[str]:
        """Say what would mend the set that breaks, or why nothing small does and what then."""
        if self.broken is None:
            return ["Nothing needs to change."]
        group = f"the {self.broken.exercise} of {self.broken.session}"
        if self.found:
            first, *others = map(str, self.found)
            lines = [f"What would mend {group} in every week: {first}.", *(f"Or: {other}." for other in others)]
            if self.missed_part <= _FEW_MISSED:
                lines[0] = f"It can stand, if a missed rep now and then will do. {lines[0]}"
            if self.tireless is not None and self.tireless >= self.limit:
                lines.append(f"A tireless lifter needs none of it ({in_words(self.tireless)}). {self.test}".rstrip())
            return lines
        kept = ", which is marked as most important: none of its load, reps or sets is taken" if self.important else ""
        if self.unknown and self.tired is not None and self.tireless is not None:
            both = f"one who tires easily has {in_words(self.tired)} in its least likely set, a tireless one"
            why = f"because this lifter is not known in it: {both} {in_words(self.tireless)}"
            return [f"No small change makes {group} sure, {why}{kept}. {self.test}".rstrip()]
        test = self.test if self.tireless is not None else ""
        return [f"No small change mends {group}{kept}{self.beyond}. {test}".rstrip()]


def mends(check: BlockCheck, *, draws: int = 1000, seed: int = SEED, test: bool = True) -> Mending:
    """Find the small changes that bring the group of the first breaking set up to the limit in every week.

    A mend holds on the days of the check, and on others besides: a chance that is only just enough on one run of days
    is luck.

    Parameters
    ----------
    check : BlockCheck
    draws, seed : int, [1], 10 to 100,000 and >= 0
        Of the other days; their seed is the next one.
    test : bool
        Whether to look for the test that would tell most too, which takes longer than the mends; their ``short`` form
        does not say it.

    Returns
    -------
    Mending
        In the order of the training that they keep.
    """
    if check.first_break is None:
        return Mending(_table(()), limit=check.limit)
    found = mends_of(check.outcome, check.first_break, check.limit, SeededDays(draws, seed + 1))
    if not test or found.tireless is None:
        return found
    return replace(found, test=_what_would_tell(check) or found.test)


def _what_would_tell(check: BlockCheck) -> str:
    """Say which safe test would settle most of the least likely set of the group that breaks; empty where none is."""
    broken = check.first_break
    assert broken is not None
    group = check.sets[check.sets["chance"].notna() & (check.sets["drop"].astype(bool) == bool(broken.drop))]
    for name in ("session_number", "slot", "group"):
        group = group[group[name] == getattr(broken, name)]
    row = group.sort_values("chance", kind="stable").to_dict("records")[0]
    target = target_at(check.plan, row["week"], row["session_number"], row["slot"], row["set"])
    test = settling_test(check.outcome, target)
    return "" if test is None else f"What would tell most: {settles_said(check.plan, test)}."


def mends_of(outcome: Outcome, broken: FirstBreak, limit: float, other_days: Days, *, first_week: int = 1) -> Mending:
    """Find the mends of a breaking set's group in a simulated block; weeks from 1."""
    bench = _Bench(outcome, broken, limit, other_days, first_week)
    slot = outcome.plan.block.expanded_sessions()[broken.session_number - 1].exercises[broken.slot - 1]
    kinds = small_changes(outcome.plan, broken, bench.weak_weeks)
    if slot.important:
        kinds = {kind: changes for kind, changes in kinds.items() if kind == "rest"}
    singles = [mend for changes in kinds.values() if (mend := bench.smallest(changes))]
    found = _ranked([*singles, *bench.pairs(kinds)])
    tired, tireless = bench.tired_and_tireless()
    return Mending(
        table=_table(found),
        found=found,
        broken=broken,
        beyond="" if found or slot.important else bench.beyond(),
        tired=tired,
        tireless=tireless,
        limit=limit,
        test=bench.test,
        missed_part=bench.missed_part,
        important=slot.important,
    )


def _half_and_whole(changes: Sequence[Change]) -> list[Change]:
    """Return a change of middle size and the largest."""
    return [changes[at] for at in dict.fromkeys(((len(changes) - 1) // 2, len(changes) - 1))]


def _up_to(block: Block, broken: FirstBreak) -> Block:
    """Return the block with the breaking set's session alone, up to its exercise and those that alternate with it."""
    session = block.expanded_sessions()[broken.session_number - 1]
    last = broken.slot
    while session.exercises[last - 1].alternate_with_next:
        last += 1
    session = session.model_copy(update={"exercises": session.exercises[:last]})
    return block.model_copy(update={"sessions": [session]})


def _ranked(mends: Iterable[Mend]) -> tuple[Mend, ...]:
    """Order mends by the training that they keep, the simpler first where that is the same; not too many pairs."""
    kept: list[Mend] = []
    for mend in sorted(mends, key=lambda one: (-round(min(one.kept, 1.0) / _SAME), "+" in one.kind, one.minutes)):
        if "+" not in mend.kind or sum("+" in one.kind for one in kept) < _MOST_PAIRS:
            kept.append(mend)
    return tuple(kept[:_MOST])


def _table(mends: Sequence[Mend]) -> pd.DataFrame:
    columns = ["kind", "change", "chance", "kept", "minutes"]
    return pd.DataFrame([[getattr(mend, name) for name in columns] for mend in mends], columns=columns)


@dataclass
class _Bench:
    """Tries changes of one group, each once: first on other days, up to its exercise alone, then on those of the check.

    Pairs ask again for what was tried alone.
    """

    outcome: Outcome
    broken: FirstBreak
    limit: float
    other_days: Days
    first_week: int
    _tried: Outcome = field(init=False)
    _blocks: dict[str, Block | None] = field(init=False, default_factory=dict)
    _mends: dict[str, Mend | None] = field(init=False, default_factory=dict)

    def __post_init__(self) -> None:
        self._tried = Outcome(self.plan, (), days=self.other_days)
        self._group = self._sets(self.outcome, self.broken.session_number - 1)
        self._minutes = self._longest(self.outcome.plan)

    @property
    def plan(self) -> Plan:
        return self.outcome.plan

    @property
    def weak_weeks(self) -> np.ndarray:
        """In which of the coming weeks the group is below the limit, shape (weeks,), bool."""
        return np.asarray(np.min([self._chances(one) for one in self._group], axis=0) < self.limit)

    def smallest(self, changes: Sequence[Change]) -> Mend | None:
        """Return the smallest of the changes that is enough; the largest is tried first, as it seldom is."""
        if not changes or self._enough_on_other_days(changes[-1]) is None:
            return None
        return next((mend for one in changes if (mend := self._mend(one))), None)

    def pairs(self, kinds: Mapping[str, Sequence[Change]]) -> list[Mend]:
        """Return the pairs of small changes that are enough where neither is alone: of each two kinds the best."""
        found = []
        for a, b in itertools.combinations(kinds, 2):
            if clashes(a, b) or not kinds[a] or not kinds[b]:
                continue
            if self._mend(kinds[a][-1]) or self._mend(kinds[b][-1]):
                continue
            if self._enough_on_other_days(kinds[a][-1].with_(kinds[b][-1])) is None:
                continue
            both = [first.with_(second) for first in _half_and_whole(kinds[a]) for second in _half_and_whole(kinds[b])]
            mends = [mend for one in both if (mend := self._mend(one))]
            found.extend(sorted(mends, key=lambda one: -one.kept)[:1])
        return found

    def beyond(self) -> str:
        """Say what it would take where nothing small is enough."""
        enough = (
            next((one.words for one in changes if self._enough_on_other_days(one) is not None), "")
            for changes in beyond_small(self.plan.block, self.broken)
        )
        said = " or ".join(words for words in enough if words)
        if said:
            return f": it would take {said}, and that is another prescription"
        return ": nothing near it is enough, so it wants to be written anew"

    def tired_and_tireless(self) -> tuple[float | None, float | None]:
        """Chance of the least likely set for the third of the possible lifters that tires most, and least."""
        draws, lifter = self.outcome.draws, self.plan.lifter
        assert draws is not None
        known_endurance = lifter.lift(self.broken.exercise).endurance_on(draws.curve) is not None
        if known_endurance and lifter.recovery_rate is not None:
            return None, None
        lane = self.plan.exercises.index(self.broken.exercise)
        tires = np.zeros(draws.count)
        for values, known in ((draws.endurance[:, lane], known_endurance), (1 / draws.recovery_rate, False)):
            if not known and values.std() > 0:
                tires += (np.log(values) - np.log(values).mean()) / np.log(values).std()
        low, high = np.quantile(tires, (_PART, 1 - _PART))
        tired, tireless = (
            float(min(self._chances(one, chosen).min() for one in self._group))
            for chosen in (tires >= high, tires <= low)
        )
        return tired, tireless

    @property
    def test(self) -> str:
        """A set that tells more of the lifter and is no heavier than what is planned anyway."""
        first, week = self._group[0].planned, self.first_week - 1
        if first.load_fraction[week] > _HEAVIEST_TEST:
            return ""
        load = put_on_said(float(first.load_kg[week]), first.body_kg, first.unit, first.hands)
        return (
            f"What would tell: set {first.label} of {self.broken.exercise} in week {self.first_week}, {load}, with "
            "spotters or safety arms where they belong, until one rep is left in reserve; write down the reps."
        )

    @property
    def missed_part(self) -> float:
        """Part of the prescribed reps of the group that are missed as it is, expected."""
        missed = sum(float(one.missed.mean(axis=0).sum()) for one in self._group)
        return missed / sum(float(one.planned.reps_low[one.planned.prescribed].sum()) for one in self._group)

    def _mend(self, one: Change) -> Mend | None:
        """Return a change as a mend where it is enough on both runs of days, and no session becomes too long."""
        key = repr(one)
        if key not in self._mends:
            self._mends[key] = self._tried_on_both(one)
        return self._mends[key]

    def _tried_on_both(self, one: Change) -> Mend | None:
        block = self._enough_on_other_days(one)
        if block is None:
            return None
        after = changed(self.outcome, block)
        group = self._sets(after, self.broken.session_number - 1)
        chance = self._lowest(group)
        longest, allowed = self._longest(after.plan), block.limits.session_minutes
        too_long = allowed is not None and longest > max(allowed, self._minutes)
        if chance < self._enough(after) or too_long:
            return None
        kept = self._work(group) / self._work(self._group)
        if kept < _LEAST_KEPT:
            return None
        return Mend(one.kind, one.words, chance, kept, longest - self._minutes, block, self.broken.where, one.what)

    def _enough_on_other_days(self, one: Change) -> Block | None:
        """Return the changed block where the change is enough on the other days."""
        key = repr(one)
        if key not in self._blocks:
            self._blocks[key] = self._tried_on_other_days(one)
        return self._blocks[key]

    def _tried_on_other_days(self, one: Change) -> Block | None:
        try:
            block = change(self.plan.block, self.broken.where, exercises=self.plan.catalogue, **one.what)
            self._tried = changed(self._tried, _up_to(block, self.broken))
        except InputError:  # no block can have that value
            return None
        group = self._sets(self._tried, 0)
        return block if group and self._lowest(group) >= self._enough(self._tried) else None

    def _enough(self, outcome: Outcome) -> float:
        """Return the limit, and one standard error of a chance from so many draws."""
        return self.limit + float(np.sqrt(self.limit * (1.0 - self.limit) / outcome.sessions[0][0].available.shape[0]))

    def _sets(self, outcome: Outcome, session: int) -> list[SetOutcome]:
        """Return the sets of the breaking one's group; where a drop breaks, its drops."""
        broken = self.broken
        return [
            one
            for one in outcome.sessions[session]
            if (one.planned.slot, one.planned.group) == (broken.slot, broken.group)
            and bool(one.planned.drop) == bool(broken.drop)
        ]

    def _chances(self, one: SetOutcome, chosen: np.ndarray | slice = slice(None)) -> FloatArray:
        """Chance of a set in the coming weeks, among some draws; infinite where it is not done."""
        coming = one.planned.active & (np.arange(self.plan.weeks) >= self.first_week - 1)
        return np.where(coming, one.made[chosen].mean(axis=0), np.inf)

    def _lowest(self, group: list[SetOutcome]) -> float:
        return float(min(self._chances(one).min() for one in group))

    def _work(self, group: list[SetOutcome]) -> float:
        """Load times reps that will be done, whole reps, in the mean of the draws."""
        return sum(float((one.reps_done * one.lifted_kg).mean(axis=0).sum()) for one in group)

    def _longest(self, plan: Plan) -> float:
        return float(np.max(plan.sessions[self.broken.session_number - 1].duration_s)) / 60.0
