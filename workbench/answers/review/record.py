"""The track record: what the forecasts were worth, in words and tables."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any

import pandas as pd

from workbench.answers.review.misses import Miss
from workbench.answers.review.tables import (
    FEW,
    SET,
    against,
    calls,
    calls_said,
    expected_reserve,
    measures,
    weeks_of_history,
)
from workbench.answers.review.walk import BEFORE_ANY_LOG, WORKBENCH
from workbench.present.answer import Answer
from workbench.present.tables import Table, frame_table
from workbench.present.words import percent_said

if TYPE_CHECKING:
    from workbench.fit import Learned

__all__ = ["Review"]

#: Of the small table.
_HEADINGS = {
    "forecaster": "",
    "crps": "reps: score",
    "error": "to failure: off by",
    "inside_80": "in 80 % bands",
    "brier": "made or missed: score",
    "log_score": "log score",
}
#: A mean error smaller than this is not worth a word, reps.
_NO_BIAS = 0.25
#: Sets from this number on are looked at together.
_LATE = 5


@dataclass(frozen=True, repr=False, eq=False)
class Review(Answer):
    """What forecasts were worth, of one lifter or of many.

    Attributes
    ----------
    scores : DataFrame
        A row for each set and forecaster, as `workbench.answers.review.scored` gives them, with lifter and week (of
        history, from 1).
    learned : mapping of str to Learned
        By lifter, what the log taught, its last week or day left out.
    left_out : DataFrame
        Sets that were not forecast: lifter, date, exercise, reason.
    misses : tuple of Miss
        What systematic misses mean, and what to do about them.
    nobodys : tuple of str
        Logs of nobody, and lifters without a log.
    finished : bool
        False where the work was stopped; what was not reached is then missing.
    """

    scores: pd.DataFrame
    learned: Mapping[str, Learned] = field(default_factory=dict)
    left_out: pd.DataFrame = field(
        default_factory=lambda: pd.DataFrame(columns=["lifter", "date", "exercise", "reason"])
    )
    misses: tuple[Miss, ...] = ()
    nobodys: tuple[str, ...] = ()
    finished: bool = True

    @cached_property
    def mine(self) -> pd.DataFrame:
        """The scores of the workbench, of all sets that it could forecast."""
        return self.scores[self.scores["forecaster"] == WORKBENCH]

    @cached_property
    def common(self) -> pd.DataFrame:
        """The scores of sets that every forecaster could forecast: on these they are compared."""
        alike = self.scores.groupby(SET, sort=False)["forecaster"].transform("count")
        return self.scores[alike == self.scores["forecaster"].nunique()]

    @cached_property
    def table(self) -> pd.DataFrame:
        """Every forecaster over all sets, see `workbench.answers.review.tables.measures`."""
        return measures(self.common)

    @cached_property
    def against(self) -> pd.DataFrame:
        """The workbench against every other forecaster, see `workbench.answers.review.tables.against`."""
        return against(self.common)

    @cached_property
    def calls(self) -> pd.DataFrame:
        """What became of the workbench's chances, see `workbench.answers.review.tables.calls`."""
        return calls(self.mine)

    @property
    def tables(self) -> dict[str, pd.DataFrame]:
        """The tables above; `table` by number of set, exercise, weeks of history and distance from failure; misses."""
        scores = self.common
        of_distance = scores.assign(expected_reserve=expected_reserve(scores))
        missed = pd.DataFrame(
            [vars(miss) for miss in self.misses], columns=["lifter", "kind", "evidence", "remedy", "size"]
        )
        return {
            "table": self.table,
            "against": self.against,
            "calls": self.calls,
            "by_set": measures(scores.assign(set=scores["set"].clip(upper=_LATE)), ["set"]),
            "by_exercise": measures(scores, ["exercise"]),
            "by_week": measures(scores.assign(weeks=weeks_of_history(scores)), ["weeks"]),
            "by_distance": measures(of_distance[of_distance["expected_reserve"] != ""], ["expected_reserve"]),
            "misses": missed,
            "left_out": self.left_out,
        }

    def small_table(self) -> Table:
        """Return every forecaster's scores, lower is better."""
        shown = self.table[["forecaster", "sets", "crps", "error", "inside_80", "brier", "log_score"]]
        return frame_table("Beside the rules, on the same sets", shown.rename(columns=_HEADINGS).round(3))

    @property
    def notes(self) -> tuple[str, ...]:
        """What was left out or assumed."""
        said = [*([] if self.finished else ["stopped before the end"]), *self.nobodys]
        guessed = int((~self.mine["told"]).sum())
        if guessed:
            said.append(
                f"{guessed} of {len(self.mine)} sets do not say what was prescribed: completed sets are taken as "
                "prescribed with the reps that were done, which the forecaster is then told. Filled sheets say it"
            )
        for reason, count in self.left_out["reason"].value_counts().items():
            said.append(f"{count} sets are left out: {reason}")
        lacking = self.mine["lifter"].size - int((self.common["forecaster"] == WORKBENCH).sum())
        if lacking:
            said.append(f"{lacking} sets that not every rule could forecast are left out of the comparison")
        return tuple(said)

    def sentences(self) -> list[str]:
        """Say what the forecasts were worth, where they were worth nothing, and what to do about it."""
        return [*self.record_said(), *(miss.said for miss in self.misses)]

    def record_said(self) -> list[str]:
        """Say what the forecasts were worth, and where they were worth nothing."""
        mine = self.mine
        prescribed, to_failure = int(mine["made"].notna().sum()), int(mine["inside_80"].notna().sum())
        names = mine["lifter"].unique()
        who = str(names[0]) if len(names) == 1 else f"{len(names)} lifters"
        by_feel = len(mine) - prescribed - to_failure
        others = f"; {by_feel} ended where it felt so or their end is not known" if by_feel else ""
        forecast = f"{len(mine)} sets forecast, {prescribed} with prescribed reps, {to_failure} to failure{others}."
        return [
            f"{who}, {min(mine['date'])} to {max(mine['date'])}: {forecast}",
            *calls_said(self.calls),
            self._reps_said(),
            *self._rivals_said("reps"),
            *self._rivals_said("made or missed"),
        ]

    def _reps_said(self) -> str:
        row = measures(self.mine).to_dict("records")[0]
        if row["to_failure"] < FEW:
            return f"Too few sets to failure to say how far off the reps were: {row['to_failure']}."
        too = "many" if row["bias"] > 0.0 else "few"
        bias = "" if abs(row["bias"]) < _NO_BIAS else f", {abs(row['bias']):.1f} too {too} in the mean"
        inside = f"{percent_said(row['inside_80'])} lay in the 80 % bands ({row['width_80']:.1f} reps wide)"
        return (
            f"Sets to failure: off by {row['error']:.1f} reps{bias}; of {row['to_failure']}, {inside} and "
            f"{percent_said(row['inside_50'])} in the 50 % bands."
        )

    def _rivals_said(self, of: str) -> list[str]:
        """Say against which rules the workbench did better, and against which it did not."""
        table = self.against
        rows = table[(table["of"] == of) & (table["rival"] != BEFORE_ANY_LOG) & (table["sets"] >= FEW)]
        beaten = rows[rows["better"] == "yes"].sort_values("difference").to_dict("records")
        lines = []
        if beaten:
            closest = beaten[-1]
            weeks = [row["from_week"] for row in beaten]
            since = f", from week {max(weeks):.0f} of a log on" if all(week == week for week in weeks) else ""
            unit = " reps" if of == "reps" else ""
            names = _listed([row["rival"] for row in beaten])
            by = f"{-closest['difference']:.2g}{unit} ({_span(-closest['high'], -closest['low'])})"
            lines.append(f"In {of} better than {names}{since}; the closest is {closest['rival']}, by {by}.")
        for row in rows[rows["better"] != "yes"].to_dict("records"):
            worse = "worse than" if row["better"] == "no" else "not known to be better than"
            by = f"{row['difference']:+.2g} ({_span(row['low'], row['high'])}), below 0 is better"
            lines.append(f"In {of} {worse} {row['rival']}: {by}.")
        return lines


def _span(low: Any, high: Any) -> str:
    return f"{low:.2g} to {high:.2g}"


def _listed(names: list[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
