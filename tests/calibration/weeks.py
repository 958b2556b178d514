"""Weeks of training as people train, and the log that they keep of it."""

from __future__ import annotations

import datetime
import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from tests.calibration.body import Body, fresh_reps
from tests.calibration.people import Person, Scatter, median_endurance, scatter
from tests.calibration.rows import Row
from workbench.gym import catalogue

__all__ = ["FIRST_DAY", "Habit", "Life", "habits", "kept_log", "lived_set", "said_reserve"]

FIRST_DAY = datetime.date(2026, 1, 5)
#: From one exercise to the next, s.
_BETWEEN_S = 240.0
_RESTS = (90, 120, 150, 180, 240)
#: Scatter of the rests about the meant one, natural log.
_REST_SD = 0.15


@dataclass
class Habit:
    """How an exercise is trained: percent of the believed 1RM, number of sets, meant rest, what is written down."""

    exercise: str
    percent: float
    sets: int
    rest_s: float
    style: str
    believed: float


class Life:
    """A person's strength through the weeks: drift, gain, bad weeks and days, with the scatter of sets and rests."""

    def __init__(self, person: Person, row: Row, rng: np.random.Generator) -> None:
        self.person, self.row, self.rng = person, row, rng
        self.scatter: Scatter = scatter()
        self.log_one_rm = dict(person.log_one_rm)
        self.day_number = 0
        self.today = 0.0

    @property
    def date(self) -> datetime.date:
        """Today."""
        return FIRST_DAY + datetime.timedelta(days=self.day_number)

    def wake_up(self, days: int) -> None:
        """Let days pass; the strength of the day is that of all exercises."""
        self.day_number += days
        for name in self.log_one_rm:
            drift = self.scatter.week * math.sqrt(days / 7.0) * self.rng.standard_normal()
            self.log_one_rm[name] += self.row.weekly_gain * days / 7.0 + drift
        bad = self.row.bad_days[0] <= self.day_number < self.row.bad_days[1]
        self.today = self.scatter.day * self.rng.standard_normal() - self.row.bad_fortnight * bad

    def set_of(self, exercise: str, load_kg: float) -> tuple[float, float]:
        """Headroom and fresh reps of one set, with the scatter of that set."""
        headroom = self.log_one_rm[exercise] + self.today - math.log(load_kg)
        fresh = fresh_reps(self.person.curve, headroom, self.person.endurance[exercise])
        return headroom, fresh * math.exp(self.scatter.reps * self.rng.standard_normal())


def habits(person: Person, rng: np.random.Generator) -> list[Habit]:
    """Draw how somebody trains: percent work, sets near failure, sets simply completed."""
    styles = rng.choice(
        ["completed", "hard last", "stated", "last stated"], size=len(person.stated), p=[0.35, 0.25, 0.25, 0.15]
    )
    return [
        Habit(name, rng.uniform(0.66, 0.82), int(rng.integers(3, 6)), float(rng.choice(_RESTS)), str(style), kg)
        for (name, (kg, _)), style in zip(person.stated.items(), styles, strict=True)
    ]


def said_reserve(left: float, to_failure: float, z: float, row: Row) -> int:
    """Reps in reserve that somebody states with ``left`` to go in a set of ``to_failure``; ``z`` is standard normal.

    Published: 0.32 more are left than said in sets of 12 reps, 0.06 a rep less in shorter ones and 0.47 a rep more in
    longer ones, up to 20; scatter of 0.74 reps at failure and 0.19 for each rep left in sets of 8, in proportion to
    their length.
    """
    beyond = min(to_failure, 20.0) - 12.0
    bias = 0.32 + (0.06 if beyond < 0 else 0.47) * beyond
    sd = (0.74 + 0.19 * left) * min(max(to_failure, 4.0), 20.0) / 8.0 + row.reserve_scatter * left
    return max(0, round(left - bias + row.reserve_shift + sd * z))


def kept_log(life: Life, trained: list[Habit], row: Row) -> pd.DataFrame:
    """Live through the weeks of a row; return the log that is kept, as `workbench.log.read_log` would give it."""
    rng, written = life.rng, []
    days = _training_days(row, rng)
    for number, gap in enumerate(np.diff(days, prepend=0)):
        life.wake_up(int(gap))
        body = Body(life.person)
        # Heavier and lighter sessions take turns.
        wave = (1.0, 0.94, 1.05)[number % 3]
        for habit in trained:
            written += _trained(life, body, habit, wave, row)
    return pd.DataFrame(written)


def _training_days(row: Row, rng: np.random.Generator) -> list[int]:
    """Two or three days of every week."""
    days: list[int] = []
    for week in range(row.weeks):
        chosen = sorted(int(day) for day in rng.choice([0, 2, 4], size=int(rng.integers(2, 4)), replace=False))
        days += [7 * week + day for day in chosen]
    days = [day - days[0] for day in days]
    return days[: row.sessions]


def rounded(load: float) -> float:
    """Round to 2.5 kg, at least the bar."""
    return max(float(np.round(load / 2.5) * 2.5), 20.0)


def _trained(life: Life, body: Body, habit: Habit, wave: float, row: Row) -> list[dict[str, Any]]:
    """One exercise of one session, and what is written of it."""
    rng, name = life.rng, habit.exercise
    load = rounded(habit.percent * wave * habit.believed)
    usual = 1.0 + math.log(max(habit.believed / load, 1.02)) / median_endurance(name)
    asked = max(1, round(usual * rng.uniform(0.55, 0.8)))
    no_rests = rng.random() < row.rests_missing
    written, failed = [], False
    for number in range(1, habit.sets + 1):
        last = number == habit.sets
        first_of_day, first = body.at == "", number == 1
        meant = _BETWEEN_S if first else habit.rest_s
        rest = 0.0 if first_of_day else meant * math.exp(_REST_SD * rng.standard_normal())
        wanted = math.inf if last and habit.style == "hard last" else float(asked)
        says = habit.style == "stated" or (habit.style == "last stated" and last)
        reps, failed, stated = lived_set(life, body, (name, load, rest), wanted, says, row)
        logged_rest = 5.0 * round(rest / 5.0) if row.exact_rests else habit.rest_s
        if first_of_day or no_rests or (first and not row.exact_rests):
            logged_rest = math.nan
        outcome = "failed" if failed else "stopped" if says else "completed"
        written.append(
            {
                "date": pd.Timestamp(life.date),
                "lifter": "",
                "exercise": name,
                "set_number": number,
                "load_kg": load,
                "reps": reps,
                "outcome": outcome,
                "reps_in_reserve": stated,
                "rest_s": logged_rest,
            }
        )
    # The next loads follow what happened, as a coach would have it.
    habit.believed *= 0.97 if failed and habit.style != "hard last" else 1.005
    return written


def lived_set(
    life: Life, body: Body, what: tuple[str, float, float], wanted: float, says: bool, row: Row
) -> tuple[int, bool, float]:
    """Do one set, of an exercise at a load after a rest: reps done, whether the next failed, and the stated reserve."""
    name, load, rest = what
    body.rest(name, rest)
    headroom, fresh = life.set_of(name, load)
    available = body.available(headroom, fresh)
    z = life.rng.standard_normal()

    def felt(reps: float) -> int:
        return said_reserve(math.floor(available) - reps, available, z, row)

    if says and row.by_feel:
        stop_at, wanted = int(life.rng.integers(*row.stops_at, endpoint=True)), 1.0
        while wanted <= available and (available - wanted > row.feels_within or felt(wanted) > stop_at):
            wanted += 1.0  # who feels that more is left tries the next rep, and may fail
    reps = int(min(math.floor(available), wanted))
    failed = reps < wanted
    seconds = reps * catalogue.exercise(name).seconds_per_rep
    body.do(headroom, fresh, math.inf if failed else float(reps), seconds)
    return reps, failed, float(felt(reps)) if says and not failed else math.nan
