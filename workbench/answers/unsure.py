"""What is not known, and what is luck: where a block is least sure, where that comes from, which test settles most.

Chances and bands of a block hold two things: that this lifter's 1RM, endurance and recovery are not known, which a test
can change, and the luck of day and set, which nothing can.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, Final, Literal

import numpy as np
import pandas as pd

from workbench.answers.block_check import BlockCheck
from workbench.answers.next_test import NextTest
from workbench.answers.settling import SETTLED, Target, settles_said, settling_test, target_at
from workbench.answers.spread import PLACE, Spread, spread_of
from workbench.gym.equipment import Room
from workbench.lifter import Lifter
from workbench.models.fatigue import DEFAULT_FORM, FatigueForm
from workbench.models.load_reps import DEFAULT_CURVE, Curve
from workbench.prescription.block import Block
from workbench.present.answer import Answer
from workbench.present.tables import Table
from workbench.present.words import in_words, percent_said
from workbench.quantities import SEED, FloatArray
from workbench.simulate.draws import SeededDays
from workbench.simulate.plan import Plan
from workbench.simulate.run import Outcome, run_block
from workbench.simulate.sources import LUCK, SOURCES

__all__ = ["SHARE_COLUMNS", "Unsure", "least_sure", "share_said", "unsure_check", "unsure_of", "what_is_unsure"]

#: Shares in short, in the order of `Unsure.summary`.
SHARE_COLUMNS: Final = (
    *("not_known", "1RM", "endurance", "recovery", "fatigue constants"),
    *("luck", "day", "set scatter"),
)
#: Correlation from which two quantities are said to go together, and what then is said.
_FOLLOWS: Final = 0.3
_TOGETHER: Final = (
    "1RM, endurance and recovery of this lifter go together: the share of each is that of moving it by itself"
)
#: Rows of the table beside the sentences: with them about one screen.
_MOST_ROWS: Final = 12
#: A share of the spread that is worth a word.
_WORTH_SAYING: Final = 0.1


@dataclass(frozen=True, repr=False)
class Unsure(Answer):
    """The answer to "what is not known, and what is luck?".

    Attributes
    ----------
    outcome : Outcome
    places : DataFrame
        One row a set and week, then a week and session, a week, and the block: level ("set", "session", "week",
        "block"), week, session_number, session, slot, exercise, group, set, drop; chance, chance_tired, chance_tireless
        [1] (that all reps are made, of this lifter, and of the easily tired and the tireless one among those that the
        file leaves possible); reps, reps_p10, reps_p90, reps_tired, reps_tireless [reps] (that a set has; the fewest in
        reserve of a session, week or block); sd_chance [1] and sd_reps [reps] (between the possible lifters).
    shares : DataFrame
        One row a place, quantity and source: level, week, session_number, session, slot, exercise, group, set, drop; of
        ("chance" that all reps are made, or "reps": those that a set has, the fewest in reserve of a session, week or
        block); source ("1RM", "endurance", "recovery", "fatigue constants", "day", "set"); share [1] (of the variance;
        the six add up to 1); alone [1] (what the source does by itself), total [1] (with all that it does together
        with others). NaN where nothing varies, or a chance rests on fewer than twenty draws.
    together : DataFrame
        One row a place, quantity and pair of sources: the same first columns; source, with_source, share [1] (of the
        variance that the two cause together, beyond what each does alone).
    about : Target or None
        The set that the sentences are about: the one of which least is known, where none is asked about; None for a
        block without sets in which lifters differ.
    asked : bool
        Whether the set was asked about.
    """

    outcome: Outcome
    places: pd.DataFrame
    shares: pd.DataFrame
    together: pd.DataFrame
    about: Target | None
    asked: bool = False

    @property
    def plan(self) -> Plan:
        """The block as it was worked out."""
        return self.outcome.plan

    @cached_property
    def test(self) -> NextTest | None:
        """Safe tests, the one that would narrow the answer of that set most first; None where no safe one is left."""
        return None if self.about is None else settling_test(self.outcome, self.about)

    @property
    def notes(self) -> tuple[str, ...]:
        """How sure the shares are, and how the test is kept safe."""
        assert self.outcome.draws is not None
        count = self.outcome.draws.count
        good = f"good to about {100.0 / np.sqrt(count):.0f} points"
        sure = f"Shares of the spread are {good}, with {count:,} simulated lifters"
        together = (_TOGETHER,) if self._goes_together else ()
        return (sure, *together, *(() if self.test is None else self.test.notes))

    @property
    def _goes_together(self) -> bool:
        """Whether 1RM, endurance and recovery of the set's exercise are drawn so that they follow each other."""
        draws = self.outcome.draws
        if draws is None or self.about is None:
            return False
        lane = self.plan.exercises.index(self.about.exercise)
        logs = [draws.log_one_rm[:, lane], np.log(draws.endurance[:, lane]), np.log(draws.recovery_rate)]
        varied = [values for values in logs if values.std() > 0]
        return len(varied) > 1 and bool(np.abs(np.corrcoef(varied) - np.eye(len(varied))).max() > _FOLLOWS)

    def sentences(self) -> list[str]:
        """Say where least is known, why, what lifters at either end would do there, and what would settle it."""
        if self.about is None:
            return ["Nothing here is unsure: the block has no set of which one lifter would make more than another."]
        return [self.where(), self.why(), self.ends(), self.settles()]

    def where(self) -> str:
        """Say in a sentence which set it is about, and what it has."""
        row = self._row
        place = f"week {row['week']}, {row['session']}, {row['exercise']}, set {row['set']}"
        reps = f"{row['reps']:.0f} reps ({row['reps_p10']:.0f} to {row['reps_p90']:.0f}) are there to be had"
        return f"{'In' if self.asked else 'Least sure is'} {place}: {reps}{_chance(row['chance'])}."

    def why(self) -> str:
        """Say in a sentence how much of that is not known, how much is luck, and what of the lifter it comes from."""
        assert self.about is not None
        shares = self.shares_at(self.place, self.about.of)
        luck = float(shares[list(LUCK)].sum())
        unknown = shares.drop(list(LUCK)).sort_values(ascending=False)
        named = [f"{name} {percent_said(value)}" for name, value in unknown.items() if value >= _WORTH_SAYING]
        of = f" ({', '.join(named)})" if named else ""
        return (
            f"Of what is unsure there, {percent_said(1.0 - luck)} is that the lifter is not known better{of}; "
            f"{percent_said(luck)} is the luck of the day and the set."
        )

    def ends(self) -> str:
        """Say in a sentence what an easily tired and a tireless lifter of this file would do there."""
        row = self._row
        tired, tireless = (
            f"{row[f'reps_{end}']:.0f} reps{_chance(row[f'chance_{end}'])}" for end in ("tired", "tireless")
        )
        return f"The one in ten who tires most easily would have {tired}; the one in ten who tires least {tireless}."

    def settles(self) -> str:
        """Say in a sentence which safe test would settle most, and how much of it."""
        if self.test is None:
            return "No safe test that would tell more is left; the log of the first weeks will."
        return f"What would settle most: {settles_said(self.plan, self.test)}."

    @property
    def place(self) -> int:
        """Row of ``places`` that the sentences are about."""
        assert self.about is not None
        one = self.plan.sessions[self.about.session_number - 1].sets[self.about.index]
        wanted = {"level": "set", "week": self.about.week, "session_number": self.about.session_number}
        wanted |= {"slot": one.slot, "set": one.label, "drop": one.drop}
        return int(np.flatnonzero((self.places[list(wanted)] == pd.Series(wanted)).all(axis=1))[0])

    @property
    def _row(self) -> dict[Any, Any]:
        return self.places.iloc[self.place].to_dict()

    def shares_at(self, place: int, of: str = "chance") -> pd.Series:
        """Return the shares of one row of ``places`` by source; of the "chance" or of the "reps"."""
        rows = self.shares.iloc[2 * len(SOURCES) * place :][: 2 * len(SOURCES)]
        rows = rows[rows["of"] == of]
        return pd.Series(rows["share"].to_numpy(), index=rows["source"].to_numpy())

    def summary(self, *levels: str) -> pd.DataFrame:
        """Shares of the chance in short.

        Parameters
        ----------
        levels : str
            "set", "session", "week" or "block"; sessions, weeks and block where none is named.

        Returns
        -------
        DataFrame
            One row a place: week (0 for the block), session, exercise, set; chance, chance_tired, chance_tireless,
            not_known, 1RM, endurance, recovery, fatigue constants, luck, day, set scatter [1] (shares of the variance
            of the chance; of the reps, for sets without a chance).
        """
        of_reps = (self.places["level"] == "set") & self.places["chance"].isna()
        both = self.shares["share"].to_numpy().reshape(len(self.places), 2, len(SOURCES))
        shares = pd.DataFrame(np.where(of_reps.to_numpy()[:, None], both[:, 1], both[:, 0]), columns=list(SOURCES))
        shares["luck"] = shares[list(LUCK)].sum(axis=1, skipna=False)
        shares["not_known"] = 1.0 - shares["luck"]
        shares = shares.rename(columns={"set": "set scatter"})[list(SHARE_COLUMNS)]
        columns = ["week", "session", "exercise", "set", "chance", "chance_tired", "chance_tireless"]
        table = pd.concat([self.places[columns], shares], axis=1)
        return table[self.places["level"].isin(levels or ("session", "week", "block"))].reset_index(drop=True)

    def small_table(self) -> Table:
        """Return the shares of the last weeks, and of the block."""
        table = self.share_table("week", "block")
        return replace(table, rows=table.rows[-_MOST_ROWS:])

    def share_table(self, *levels: str) -> Table:
        """Return the shares of sessions, weeks and the block, or of those levels that are named."""
        rows = [
            (
                f"week {row['week']}" if row["week"] else "",
                row["session"],
                *(share_said(row[name]) for name in SHARE_COLUMNS),
            )
            for row in self.summary(*levels).to_dict("records")
        ]
        headings = ("week", "session", *(name.replace("_", " ") for name in SHARE_COLUMNS))
        return Table("Shares of the spread of the chance that all reps are made", headings, tuple(rows), texts=(0, 1))


def share_said(share: float) -> str:
    """Return a share as a percent; blank where there is too little to split."""
    return "" if np.isnan(share) else percent_said(share)


def _chance(chance: float) -> str:
    return "" if np.isnan(chance) else f", with a chance of {in_words(chance)} that all are made"


# More than seven parameters: what a coach may leave to its default is a keyword of the question.
def what_is_unsure(
    block: Block,
    lifter: Lifter,
    room: Room,
    *,
    draws: int = 2000,
    seed: int = SEED,
    form: FatigueForm = DEFAULT_FORM,
    curve: Curve = DEFAULT_CURVE,
) -> Unsure:
    """Split every chance and band of a block into what is not known of the lifter and what is luck.

    Parameters
    ----------
    block : Block
        As read by `read_block`.
    lifter : Lifter
        As read by `read_lifter`.
    room : Room
        As read by `read_room`.
    draws : int, [1], 10 to 100,000
        Simulated lifters and runs of days.
    seed : int, [1], >= 0
        The same seed gives the same digits, and the same lifters and days as those of `check`.
    form : FatigueForm
        How a set tires, or the name of one in `FORMS`.
    curve : Curve
        Load and reps, fresh: one of `CURVES`, its name, or a plain function ``reps(load_fraction, endurance)``.

    Returns
    -------
    Unsure
        Shares [1] of the variance by source, what lifters at either end would do [reps, 1], and the safe test that
        would narrow the least sure set most.

    Raises
    ------
    InputError
        A lift or a load that is missing.

    Notes
    -----
    The spreads that are split come from the lifter file, and where it is silent from ``data/parameters.csv`` and
    ``data/fitted/``, each number with its source key and grade. Shares by exchanging one source at a time between two
    halves of the draws (Saltelli 2002, doi 10.1016/S0010-4655(02)00280-1).
    """
    return unsure_of(run_block(block, lifter, room, SeededDays(draws, seed), form=form, curve=curve))


def unsure_of(outcome: Outcome, about: Target | None = None) -> Unsure:
    """Split the spread of a simulated block; see `what_is_unsure`. ``about``: the set that the sentences are about."""
    spread = spread_of(outcome)
    shares, together = _tables(spread)
    if about is None:
        return Unsure(outcome, spread.places, shares, together, least_sure(outcome.plan, spread))
    found = Unsure(outcome, spread.places, shares, together, about, asked=True)
    open_still = spread.places["sd_chance"].iloc[found.place] > SETTLED
    return found if open_still else replace(found, about=replace(about, of="reps"))


def unsure_check(check: BlockCheck) -> Unsure:
    """Split the spread of a checked block; the sentences are about its least likely set, as those of the check."""
    if check.sets["chance"].isna().all():
        return unsure_of(check.outcome)
    row = check.sets.loc[[check.sets["chance"].idxmin()]].to_dict("records")[0]
    target = target_at(check.plan, row["week"], row["session_number"], row["slot"], row["set"])
    return unsure_of(check.outcome, target)


def _tables(spread: Spread) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Shares, and pairs, with a row for each place."""
    names, kinds = list(SOURCES), (("chance", spread.chance), ("reps", spread.reps))
    keys, count = spread.places[list(PLACE)], len(spread.places)

    def repeated(times: int) -> pd.DataFrame:
        return keys.iloc[np.repeat(np.arange(count), times)].reset_index(drop=True)

    def by_place(arrays: list[FloatArray]) -> FloatArray:
        return np.stack([array.T for array in arrays], axis=1).ravel()

    shares = repeated(2 * len(names)).assign(
        of=np.tile(np.repeat([of for of, _ in kinds], len(names)), count),
        source=np.tile(names, 2 * count),
        **{name: by_place([getattr(of, name) for _, of in kinds]) for name in ("share", "alone", "total")},
    )
    first, second = np.triu_indices(len(names), 1)
    together = repeated(2 * first.size).assign(
        of=np.tile(np.repeat([of for of, _ in kinds], first.size), count),
        source=np.tile(np.array(names)[first], 2 * count),
        with_source=np.tile(np.array(names)[second], 2 * count),
        share=by_place([of.pairs[first, second] for _, of in kinds]),
    )
    return shares, together


def least_sure(plan: Plan, spread: Spread) -> Target | None:
    """Return the set of which least is known.

    It is the set whose chance differs most between the lifters that the file leaves possible; where no chance differs
    by more than a few points, the set, first of those to failure, whose expected reps do.
    """
    sets = spread.places[spread.places["level"] == "set"]
    of: Literal["chance", "reps"] = "chance"
    by = sets["sd_chance"].where(sets["sd_chance"] > SETTLED)
    if not by.notna().any():
        of, free = "reps", sets["chance"].isna()
        by = sets["sd_reps"].where(free) if free.any() else sets["sd_reps"]
    if not by.notna().any():
        return None
    row = sets.iloc[int(np.nanargmax(by.to_numpy()))]
    return target_at(plan, int(row["week"]), int(row["session_number"]), int(row["slot"]), str(row["set"]), of)
