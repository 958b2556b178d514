"""What an invented gym does from week to week, and its lifters through it, set by set."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd

from tests.calibration.body import Body
from tests.calibration.weeks import Life, lived_set
from tests.invented_gyms.people import LB, Trainee

__all__ = ["BLOCK", "PHASES", "WITH_LIGHT_BAR", "Group", "Phase", "lived_weeks", "load_of", "phase_in", "scheme_for"]

#: From one exercise to the next, s.
_BETWEEN_S = 240.0
#: Scatter of the rests about the meant one, natural log.
_REST_SD = 0.15
#: Chance that a session does not take place.
_MISSED = 0.12
#: Weeks off an exercise that hurts, what it is weaker by when taken up again, and what comes back each week.
_OFF_WEEKS, _WEAKER, _BACK = 3, 0.12, 0.02
#: Natural log of the 1RM lost in each week without training.
_IDLE = 0.006
#: Of what was believed, what is left after a day on which less than half was made.
_LIGHTER = 0.95
#: What is tried when a 1RM is tested, parts of the one believed.
_TRIED = (0.9, 0.96, 1.0, 1.03, 1.06, 1.09, 1.12)
#: Most reps in reserve that anybody counts.
_COUNTED = 5
#: Lightest load and step: of the machine with pound plates in lb, of all others in kg; exercises with the light bar.
_IN_LB = {"leg press": (75.0, 10.0)}
_STEP, _BAR, _LIGHT_BAR, _PIN = 2.5, 20.0, 10.0, 5.0
WITH_LIGHT_BAR = ("overhead press", "barbell curl")


@dataclass(frozen=True)
class Group:
    """Sets alike. ``reps``: infinite to failure, NaN to two in reserve. ``says``: a reserve is said after the last."""

    sets: int
    reps: float
    percent: float
    rest_s: float
    says: bool = False


@dataclass(frozen=True)
class Phase:
    """Some weeks with the same schemes, which exercises take in turn; ``climb``: percent of 1RM more every week."""

    name: str
    weeks: int
    schemes: tuple[tuple[Group, ...], ...]
    climb: float = 1.0


_HARD, _TO_TWO = math.inf, math.nan
_LIGHT = Phase("light", 1, ((Group(2, 6, 60, 120),),))
#: The last four weeks, which some lifters have as a file.
BLOCK = Phase(
    "block",
    4,
    (
        (Group(3, 6, 77, 150), Group(1, _HARD, 77, 180)),
        (Group(4, 5, 82, 180),),
        (Group(1, 3, 88, 210), Group(3, 8, 73, 120)),
    ),
    1.5,
)
PHASES = (
    Phase(
        "volume",
        6,
        (
            (Group(3, 10, 63, 120), Group(1, _HARD, 63, 120)),
            (Group(4, 8, 68, 150, says=True),),
            (Group(3, _TO_TWO, 66, 120),),
        ),
    ),
    _LIGHT,
    Phase(
        "fives",
        6,
        (
            (Group(5, 5, 77, 180, says=True),),
            (Group(4, 5, 77, 180), Group(1, _HARD, 77, 210)),
            (Group(4, 8, 65, 75),),
        ),
    ),
    _LIGHT,
    Phase(
        "top and back-off",
        7,
        (
            (Group(1, 3, 85, 240, says=True), Group(3, 6, 73, 150)),
            (Group(1, _HARD, 80, 210), Group(2, 8, 66, 120)),
            (Group(3, _TO_TWO, 72, 150),),
        ),
        0.5,
    ),
    Phase("tests", 1, ()),
    BLOCK,
)


def phase_in(week: int) -> tuple[Phase, int]:
    """Return the phase of a week counted from 0, and the week within it; after the last one it begins anew."""
    week %= sum(phase.weeks for phase in PHASES)
    for phase in PHASES:
        if week < phase.weeks:
            return phase, week
        week -= phase.weeks
    raise AssertionError("phases hold every week")


def load_of(exercise: str, kg: float) -> float:
    """Return what can be loaded next to a wish, kg."""
    if exercise in _IN_LB:
        lightest, step = _IN_LB[exercise]
        return LB * (lightest + step * max(round((kg / LB - lightest) / step), 0))
    lightest = _LIGHT_BAR if exercise in WITH_LIGHT_BAR else _PIN if exercise == "lat pulldown" else _BAR
    return max(round(kg / _STEP) * _STEP, lightest)


def scheme_for(phase: Phase, session: int, place: int) -> tuple[Group, ...]:
    """Return the scheme that an exercise has by its place in a session of the week."""
    return phase.schemes[(session + place) % len(phase.schemes)]


def lived_weeks(lifter: Trainee, rng: np.random.Generator) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    """Live through the weeks; return the sets done, and what was true at the end of each week."""
    life = Life(lifter.person, lifter.row, rng)
    life.day_number = 7 * lifter.weeks.start
    sets: list[dict[str, Any]] = []
    true: list[dict[str, Any]] = []
    made: dict[str, list[bool]] = {}
    for week in lifter.weeks:
        phase, within = phase_in(week)
        if within == 0:
            _believe_anew(lifter, made)
        _month_by_month(lifter, life, week)
        for session, day in enumerate((0, 2, 4)):
            if week in lifter.away or rng.random() < _MISSED:
                continue
            life.wake_up(7 * week + day + int(rng.random() < 0.2) - life.day_number)
            done = _session(lifter, life, (week, session), phase, within)
            of_day: dict[str, list[bool]] = {}
            for row in done:
                if math.isfinite(row["asked"]):
                    of_day.setdefault(row["exercise"], []).append(row["reps"] >= row["asked"])
            for name, marks in of_day.items():
                made.setdefault(name, []).extend(marks)
                if phase is not BLOCK and phase.schemes and sum(marks) < len(marks) / 2:
                    lifter.believed[name] *= _LIGHTER
            sets += done
        true += [
            {"lifter": lifter.name, "exercise": name, "week": week, "one_rm_kg": math.exp(value)}
            for name, value in life.log_one_rm.items()
        ]
    return sets, true


def _believe_anew(lifter: Trainee, made: dict[str, list[bool]]) -> None:
    """Let what loads go by follow what was made, as a coach would have it."""
    for name, marks in made.items():
        share = sum(marks) / len(marks)
        lifter.believed[name] *= 1.025 if share > 0.95 else 0.96 if share < 0.75 else 1.005
    made.clear()


def _month_by_month(lifter: Trainee, life: Life, week: int) -> None:
    """What rest, and what hurts, does to strength."""
    for name in life.log_one_rm:
        if week in lifter.away:
            life.log_one_rm[name] -= _IDLE
        if lifter.hurt is not None and lifter.hurt[0] == name:
            since = week - lifter.hurt[1]
            if since == 0:
                life.log_one_rm[name] -= _WEAKER
            elif since == _OFF_WEEKS:
                lifter.believed[name] *= 0.85
            elif _OFF_WEEKS < since <= _OFF_WEEKS + _WEAKER / _BACK:
                life.log_one_rm[name] += _BACK


def _session(lifter: Trainee, life: Life, at: tuple[int, int], phase: Phase, within: int) -> list[dict[str, Any]]:
    body, rows = Body(lifter.person), []
    week, session = at
    for place, name in enumerate(lifter.sessions[session]):
        if lifter.hurt is not None and lifter.hurt[0] == name and 0 <= week - lifter.hurt[1] < _OFF_WEEKS:
            continue
        if phase.schemes:
            scheme = scheme_for(phase, session, place)
            rows += _trained(lifter, life, body, name, [(group, phase.climb * within) for group in scheme])
        else:
            rows += _tested(lifter, life, body, name)
    return [{**row, "week": week} for row in rows]


def _trained(
    lifter: Trainee, life: Life, body: Body, name: str, scheme: list[tuple[Group, float]]
) -> list[dict[str, Any]]:
    """One exercise of a session by its scheme, each group with the percent that it climbed."""
    rows: list[dict[str, Any]] = []
    for group, climbed in scheme:
        load = load_of(name, (group.percent + climbed) / 100.0 * lifter.believed[name])
        for number in range(1, group.sets + 1):
            says = math.isnan(group.reps) or (group.says and number == group.sets)
            rows.append(_done(lifter, life, body, (name, load, group.rest_s), (group.reps, says, not rows)))
    return [{**row, "set_number": number} for number, row in enumerate(rows, start=1)]


def _tested(lifter: Trainee, life: Life, body: Body, name: str) -> list[dict[str, Any]]:
    """Singles that climb until one is missed; the best is believed from now on."""
    rows: list[dict[str, Any]] = []
    for part in _TRIED:
        load = load_of(name, part * lifter.believed[name])
        if rows and load <= rows[-1]["load_kg"]:
            continue
        rows.append(_done(lifter, life, body, (name, load, 240.0), (1.0, False, not rows)))
        if rows[-1]["outcome"] == "failed":
            break
    best = [row["load_kg"] for row in rows if row["outcome"] != "failed"]
    lifter.believed[name] = max(best, default=0.93 * rows[0]["load_kg"])
    return [{**row, "set_number": number} for number, row in enumerate(rows, start=1)]


def _done(
    lifter: Trainee,
    life: Life,
    body: Body,
    what: tuple[str, float, float],
    how: tuple[float, bool, bool],
) -> dict[str, Any]:
    """One set of an exercise at a load after a meant rest: reps asked, whether a reserve is said, whether the first."""
    (name, load, meant), (asked, says, first) = what, how
    first_of_day = body.at == ""
    between = _BETWEEN_S if first else meant * lifter.rest_factor
    rest = 0.0 if first_of_day else between * math.exp(_REST_SD * life.rng.standard_normal())
    by_feel = math.isnan(asked)  # only sets to a reserve end where it feels so
    row = replace(lifter.row, by_feel=by_feel)
    reps, failed, stated = lived_set(life, body, (name, load, rest), asked, says, row)
    counted = stated if stated <= _COUNTED else math.nan
    return {
        "date": pd.Timestamp(life.date),
        "lifter": lifter.name,
        "exercise": name,
        "load_kg": load,
        "reps": reps,
        "outcome": "failed" if failed else "completed" if math.isnan(counted) else "stopped",
        "reps_in_reserve": counted,
        "rest_s": math.nan if first else meant,
        "asked": asked,
        "true_rest_s": math.nan if first_of_day else rest,
    }
