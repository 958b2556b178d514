"""What in the log was not expected: sets and days, ranked, with what they may mean."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

import numpy as np
import pandas as pd
from scipy.special import ndtr

from workbench.fit import Learned
from workbench.fit.expected import ExpectedDay, ExpectedSet, expectations
from workbench.gym.catalogue import Catalogue, built_in
from workbench.present.answer import Answer
from workbench.present.words import say_load
from workbench.quantities import KG_PER_LB, Unit

__all__ = ["Surprises", "find_surprises"]

_SET_COLUMNS: Final = (
    *("row", "date", "exercise", "set", "load_kg", "reps", "ending", "expected_low", "expected", "expected_high"),
    *("tail", "direction", "surprising", "reading"),
)
_DAY_COLUMNS: Final = (
    *("date", "exercise", "usual_low", "usual", "usual_high", "day_kg", "effect_percent", "z", "tail", "reading"),
)
#: Another load or other reps explain a set if they make it at least this usual, and this many times more usual. What
#: was meant is itself less usual once in twenty.
_USUAL, _TIMES = 0.05, 10.0
#: A day counts as unusual beyond this many sds.
_FAR_DAY = 2.0


@dataclass(frozen=True, repr=False)
class Surprises(Answer):
    """What was not expected.

    Attributes
    ----------
    sets : DataFrame
        One row a set, the most surprising first: row (label in the log's table), date, exercise, set, load_kg, reps,
        ending, expected_low, expected, expected_high (80 % interval and median of the reps available, from all other
        sets), tail (probability of something at least as far out), direction ("more" or "fewer" reps than expected),
        surprising (whether the tail is below the level, shared out over all sets), reading (what it may mean).
    days : DataFrame
        One row a day and exercise, in order: date, exercise, usual_low, usual, usual_high (80 % interval and median of
        the usual 1RM, kg), day_kg (strength of that day, as a 1RM), effect_percent (the same against the usual), z,
        tail, reading.
    level : float
        How likely one false alarm in the whole log is accepted to be.
    catalogue : Catalogue
        The lifter's, which knows the exercises.
    """

    sets: pd.DataFrame
    days: pd.DataFrame
    level: float
    catalogue: Catalogue = field(default_factory=built_in)

    @property
    def notes(self) -> tuple[str, ...]:
        """What a reading is not."""
        return ("A reading is what may be behind it, never a finding: ask the lifter.",)

    def sentences(self, unit: Unit = "kg") -> list[str]:
        """Say which sets and days were not expected, and what may be behind them."""
        lines = [
            f"{row['date']}, {row['exercise']}, set {row['set']}: {row['reps']} reps with "
            f"{say_load(row['load_kg'], unit, hands=self.catalogue.hands_of(row['exercise']))}, "
            f"about {row['expected']:.0f} expected; {row['reading']}."
            for row in self.found.to_dict("records")
        ]
        lines += [
            f"{row['date']}, {row['exercise']}: {row['effect_percent']:+.1f} % on that day; {row['reading']}."
            for row in self.days[self.days["reading"] != ""].to_dict("records")
        ]
        return lines or ["Nothing: every set and day is within what the others let expect."]

    @property
    def found(self) -> pd.DataFrame:
        """Only the surprising sets."""
        return self.sets[self.sets["surprising"]]


def find_surprises(learned: Learned, *, level: float = 0.2) -> Surprises:
    """Rank every set and day by how unexpected it was, each held against all the others.

    Parameters
    ----------
    learned : Learned
    level : float
        Accepted chance that a log without anything odd shows one surprising set; the threshold for a single set is
        this over the number of sets.

    Returns
    -------
    Surprises

    Notes
    -----
    A reading is what may be behind it, never a finding; ask the lifter. Pain or illness are for a professional.
    """
    sets, days = expectations(learned)
    by_day = {(day.exercise, day.date): day for day in days}
    threshold = level / max(len(sets), 1)
    rows = []
    for one in sets:
        surprising = one.tail < threshold
        rows.append(
            {
                "row": one.logged.row,
                "date": one.date,
                "exercise": one.exercise,
                "set": one.number,
                "load_kg": one.logged.load_kg,
                "reps": one.logged.reps,
                "ending": one.logged.ending,
                "expected_low": one.reps[0],
                "expected": one.reps[1],
                "expected_high": one.reps[2],
                "tail": one.tail,
                "direction": "more" if one.better else "fewer",
                "surprising": surprising,
                "reading": _reading(one, by_day[one.exercise, one.date]) if surprising else "",
            }
        )
    table = pd.DataFrame(rows, columns=_SET_COLUMNS).sort_values("tail", kind="stable", ignore_index=True)
    table["surprising"] = table["surprising"].astype(bool)
    return Surprises(table, _day_table(days, learned), level, learned.lifter.catalogue)


def _reading(one: ExpectedSet, day: ExpectedDay) -> str:
    load, reps = one.logged.load_kg, one.logged.reps
    usual = max(_USUAL, _TIMES * one.tail)
    explained = [key for key, tail in one.at_other.items() if tail >= usual]
    parts = []
    if any(np.isclose(other, load * KG_PER_LB) for other, _ in explained):
        parts.append(f"unit mix-up ({load:g} lb noted as kilograms)")
    elif any(np.isclose(other, load / KG_PER_LB) for other, _ in explained):
        parts.append(f"unit mix-up ({load / KG_PER_LB:.4g} kg noted as pounds)")
    else:
        # The nearest explanations first.
        explained.sort(key=lambda key: abs(np.log(key[0] / load)) + abs(np.log((key[1] + 1) / (reps + 1))))
        slips = [
            f"{other_reps} reps in place of {reps}" if other_reps != reps else f"{other:g} kg in place of {load:g} kg"
            for other, other_reps in explained[:2]
        ]
        if slips:
            parts.append(f"typing error ({' or '.join(slips)})")
    if abs(day.z) > _FAR_DAY and (day.z > 0) == one.better:
        parts.append("a good day" if one.better else "a bad day")
    if not parts:
        parts.append("a set better than usual" if one.better else "a set cut short or gone wrong")
    return "; or ".join(parts)


def _day_table(days: list[ExpectedDay], learned: Learned) -> pd.DataFrame:
    drift = learned.fit.settings.drift_sd
    rows = []
    for at, day in enumerate(days):
        same = [other for other in days if other.exercise == day.exercise]
        last = same[-1] is day
        before = days[at - 1] if at and days[at - 1].exercise == day.exercise else None
        reading = ""
        if abs(day.z) > _FAR_DAY:
            reading = "a good day" if day.z > 0 else "a bad day"
            if last:
                reading += ", or a real change: the next session will tell"
            elif before is not None:
                weeks = max((day.date - before.date).days / 7.0, 1 / 7)
                moved = np.log(day.usual[1] / before.usual[1]) / (drift * np.sqrt(weeks))
                if moved * np.sign(day.z) > 1.0:
                    reading = "a real change: later sessions agree"
        rows.append(
            {
                "date": day.date,
                "exercise": day.exercise,
                "usual_low": day.usual[0],
                "usual": day.usual[1],
                "usual_high": day.usual[2],
                "day_kg": day.usual[1] * np.exp(day.effect),
                "effect_percent": 100.0 * np.expm1(day.effect),
                "z": day.z,
                "tail": float(2.0 * ndtr(-abs(day.z))),
                "reading": reading,
            }
        )
    return pd.DataFrame(rows, columns=_DAY_COLUMNS)
