"""One lifter of a row, from the first session to the scores of the week after; and the tables of many."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np

from tests.calibration.forecasts import RULES, forecasts, lived_through, next_week_of, rules_of_thumb
from tests.calibration.people import drawn_person, lifter_file
from tests.calibration.rows import Row
from tests.calibration.scores import brier, cluster_mean, crps, inside, rank
from tests.calibration.weeks import Life, habits, kept_log
from workbench.fit import Learned, fit_log

__all__ = ["DOORS", "QUANTITIES", "Found", "coverage_table", "forecast_table", "lifter_of", "together", "wanted"]

QUANTITIES = ("1RM", "endurance", "recovery")
DOORS = ("log", "file")
#: What is scored beside the two doors.
_FORECASTERS = (*DOORS, *RULES)
#: What a note about a 1RM of the lifter file says, of a far one and of one that the log speaks against.
_OF_FILE = "the lifter file"


@dataclass
class Found:
    """What was found of some lifters of one row; each value with the number of its lifter.

    Attributes
    ----------
    values : dict of str to list of (int, float)
        By name: ranks of the truth ("rank 1RM"), widths of the 80 % interval ("width 1RM", natural log, or reps), and
        errors ("error 1RM": median less truth); "crps log", "brier last time", and so on; "noted".
    """

    values: dict[str, list[tuple[int, float]]] = field(default_factory=dict)

    def add(self, name: str, lifter: int, value: float) -> None:
        """Add a value."""
        self.values.setdefault(name, []).append((lifter, float(value)))

    def of(self, name: str) -> tuple[np.ndarray, np.ndarray]:
        """Values of a name, and the lifters that they are of."""
        pairs = self.values.get(name, [])
        return np.array([value for _, value in pairs]), np.array([lifter for lifter, _ in pairs])


def together(parts: Iterable[Found]) -> Found:
    """Put what was found of several lifters together."""
    whole = Found()
    for part in parts:
        for name, pairs in part.values.items():
            whole.values.setdefault(name, []).extend(pairs)
    return whole


def lifter_of(row: Row, number: int, *, seed: int, draws: int, noted: bool = True) -> Found:
    """Let one lifter of a row live through the weeks, learn from the log, forecast the next week, and score it.

    Without ``noted`` nobody asks whether the log contradicts the model, which takes a fifth of the time. Lifters of the
    same number are the same people in every row, as far as the row allows.
    """
    drawn, lived, kept, tossed = np.random.default_rng([seed, number]).spawn(4)
    person = drawn_person(drawn, row)
    life, trained = Life(person, row, lived), habits(person, kept)
    log = kept_log(life, trained, row)
    learned = fit_log(log, lifter_file(person))
    found = Found()
    _learned_against_truth(found, learned, life, number)
    if noted:
        notes = [*learned.summary()["note"], *learned.notes]
        found.add("noted", number, any(_OF_FILE in note for note in notes))
    plan, forecast = forecasts(learned, next_week_of(person, trained, kept), draws=draws, seed=seed)
    by_rule = rules_of_thumb(log, person, plan)
    for index, truth in enumerate(lived_through(life, plan)):
        high = [one for session in plan.sessions for one in session.sets][index].reps_high[0]
        for door in DOORS:
            reps = forecast[door].reps[index]
            _score(found, number, door, np.floor(reps), (truth, high))
            if not np.isfinite(high):
                found.add(f"rank reps {door}", number, rank(np.floor(reps), np.floor(truth), tossed))
                found.add(f"width reps {door}", number, np.subtract(*np.quantile(reps, [0.9, 0.1])))
                found.add(f"error reps {door}", number, np.median(reps) - truth)
        for name, reps in zip(RULES, by_rule[:, index], strict=True):
            _score(found, number, name, np.array([reps]), (truth, high))
    return found


def _learned_against_truth(found: Found, learned: Learned, life: Life, number: int) -> None:
    """Hold the intervals that are reported of a lifter to the truth."""
    person = life.person
    for name in learned.exercises:
        told = {
            "1RM": (learned.one_rm(name), life.log_one_rm[name]),
            "endurance": (learned.endurance(name), np.log(person.endurance[name])),
        }
        if name == learned.exercises[0]:
            told["recovery"] = (learned.recovery_rate, np.log(person.recovery_rate))
        for quantity, (marginal, truth) in told.items():
            low, middle, high = marginal.log_quantile([0.1, 0.5, 0.9])
            found.add(f"rank {quantity}", number, marginal.below(float(truth)))
            found.add(f"width {quantity}", number, high - low)
            found.add(f"error {quantity}", number, middle - truth)


def _score(found: Found, number: int, name: str, reps: np.ndarray, of_set: tuple[float, float]) -> None:
    """Score whole reps of a set that had ``truth`` to give and was to end after ``high``."""
    truth, high = of_set
    if np.isfinite(high):
        found.add(f"brier {name}", number, brier(float((reps >= high).mean()), bool(truth >= high)))
    else:
        found.add(f"crps {name}", number, crps(reps, float(np.floor(truth))))


def coverage(found: Found, name: str, share: float) -> tuple[float, float]:
    """Part of the truths inside a middle interval, and its standard error."""
    ranks, lifters = found.of(f"rank {name}")
    return cluster_mean(inside(ranks, share).astype(float), lifters)


def wanted(row: Row, name: str) -> tuple[float, float]:
    """Where the coverage of an 80 % interval has to lie.

    Who tires as the middle of all people does not test a band of recovery from above that allows for other constants.
    """
    low, high = row.within
    return low, 1.0 if name == "recovery" and not row.drawn else high


def coverage_table(rows: dict[str, tuple[Row, Found]]) -> str:
    """Coverage of the 80 and 50 % intervals in percent, mean width of the 80 % interval, and bias.

    ``*`` marks a coverage of the 80 % interval outside where the row wants it, ``!`` one that is outside by more than
    twice its standard error. Widths and biases of 1RM, endurance and recovery in percent (natural log), of reps in
    reps: the median less the truth.
    """
    names = [*QUANTITIES, *(f"reps {door}" for door in DOORS)]
    lines = [f"{'':<24}" + "".join(f"{name:^29}" for name in names)]
    lines.append(f"{'':<24}" + f"{'80 %    se  50 %  width bias':>29}" * len(names) + "  noted")
    for title, (row, found) in rows.items():
        line = f"{title:<24}"
        for name in names:
            (at_80, se), (at_50, _) = (coverage(found, name, share) for share in (0.8, 0.5))
            low, high = wanted(row, name)
            off = max(low - at_80, at_80 - high)
            mark = " " if off <= 0 else "*" if off <= 2 * se else "!"
            scale, digits = (1.0, 2) if name.startswith("reps") else (100.0, 1)
            width, bias = (scale * float(found.of(f"{what} {name}")[0].mean()) for what in ("width", "error"))
            line += f"{100 * at_80:7.1f}{mark}{100 * se:4.1f}{100 * at_50:6.1f}{width:6.{digits}f}{bias:+5.{digits}f}"[
                :29
            ]
        lines.append(line + f"{100 * found.of('noted')[0].mean():6.0f} %")
    return "\n".join(lines)


def forecast_table(rows: dict[str, tuple[Row, Found]]) -> str:
    """CRPS of the reps of sets to failure, and Brier score of made or missed sets, of forecasts and rules of thumb."""
    head = "".join(f"{name:>16}" for name in _FORECASTERS)
    lines = []
    for score, digits in (("crps", 2), ("brier", 3)):
        lines.append(f"{score.upper() if score == 'crps' else 'Brier':<24}{head}")
        for title, (_, found) in rows.items():
            means = (found.of(f"{score} {name}")[0].mean() for name in _FORECASTERS)
            lines.append(f"{title:<24}" + "".join(f"{mean:>16.{digits}f}" for mean in means))
        lines.append("")
    return "\n".join(lines)
