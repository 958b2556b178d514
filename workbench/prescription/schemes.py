"""Loading schemes built from parameters, each a list of set groups to put into a block.

The names say what the scheme does. Percent is of 1RM; steps are points of percent from week to week.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Final, TypedDict, Unpack

from workbench.gym.catalogue import Catalogue, OwnFiles, catalogue_for
from workbench.prescription.block import Block, SetGroup
from workbench.present.words import percent_said
from workbench.reference.toml_files import validate

__all__ = [
    "SCHEMES",
    "Scheme",
    "Start",
    "constant_step",
    "drop_set_finish",
    "exercise_block",
    "reps_then_load",
    "top_set_with_back_offs",
    "undulating",
    "wave",
]


@dataclass(frozen=True)
class Scheme:
    """A scheme: what to call it, what it does in one sentence, and its set groups."""

    label: str
    meaning: str
    sets: tuple[SetGroup, ...]


class StartKeys(TypedDict, total=False):
    """Keywords that every scheme takes, each with the default of `Start`."""

    percent: float
    step: float
    sets: int
    reps: int
    rest_s: float
    weeks: int


@dataclass(frozen=True, kw_only=True)
class Start:
    """What every scheme starts from: the first week's load and work, how fast the load climbs, and for how long."""

    percent: float = 70
    step: float = 2.5
    sets: int = 5
    reps: int = 5
    rest_s: float = 150
    weeks: int = 4

    def group(self, **keys: Any) -> SetGroup:
        """Return a set group as it starts, climbing by the step, but for these keys; None leaves one out."""
        usual = {"count": self.sets, "reps": self.reps, "percent": self.percent, "rest_s": self.rest_s}
        climb = {"rule": "step", "step": self.step}
        return validate(
            {key: value for key, value in {**usual, "progression": climb, **keys}.items() if value is not None},
            SetGroup,
        )


def constant_step(**start: Unpack[StartKeys]) -> Scheme:
    """Build sets alike whose load climbs by the same step every week.

    >>> constant_step(percent=70, step=2).meaning
    '5 x 5 from 70 %, +2 points every week'
    """
    at = Start(**start)
    meaning = f"{at.sets} x {at.reps} from {at.percent:g} %, {at.step:+g} points every week"
    return Scheme("constant step", meaning, (at.group(),))


def wave(*, length: int = 2, rise: float | None = None, **start: Unpack[StartKeys]) -> Scheme:
    """Build sets alike whose load climbs for ``length`` weeks and starts again ``rise`` higher (else one step).

    >>> wave(percent=70, step=2).meaning
    '5 x 5 from 70 %, in waves of 2 weeks with +4 points every week, each wave 2 points higher'
    """
    at = Start(**start)
    up = at.step if rise is None else rise
    group = at.group(progression={"rule": "wave", "length": length, "step": 2 * at.step, "rise": up})
    meaning = (
        f"{at.sets} x {at.reps} from {at.percent:g} %, in waves of {length} weeks with {2 * at.step:+g} points every "
        f"week, each wave {up:g} points higher"
    )
    return Scheme("wave", meaning, (group,))


def undulating(*, turns: Sequence[tuple[float, int]] = ((0.0, 0), (7.5, -2)), **start: Unpack[StartKeys]) -> Scheme:
    """Build sets whose load and reps alternate from week to week, the whole climbing by ``step`` each time round.

    Parameters
    ----------
    turns : sequence of pairs
        For each week of a round: points of percent and reps to add to ``percent`` and ``reps``.
    """
    at = Start(**start)
    loads = [at.percent + turns[week % len(turns)][0] + at.step * (week // len(turns)) for week in range(at.weeks)]
    counts = [max(at.reps + turns[week % len(turns)][1], 1) for week in range(at.weeks)]
    group = at.group(progression={"rule": "by week", "load": loads, "reps": counts})
    shown = ", ".join(f"{load:g} % x {count}" for load, count in zip(loads[: len(turns)], counts, strict=False))
    meaning = f"{at.sets} sets, weeks in turn at {shown}, {at.step:+g} points each time round"
    return Scheme("undulating", meaning, (group,))


def reps_then_load(*, more_reps: int = 2, **start: Unpack[StartKeys]) -> Scheme:
    """Build sets that gain a rep a week up to ``more_reps`` more, then go back to ``reps`` with twice the step.

    >>> reps_then_load(percent=70, step=2).meaning
    '5 x 5 from 70 %, a rep more every week up to 7, then +4 points and back to 5'
    """
    at = Start(**start)
    most = at.reps + more_reps
    group = at.group(progression={"rule": "reps then load", "reps_to": most, "step": 2 * at.step})
    meaning = (
        f"{at.sets} x {at.reps} from {at.percent:g} %, a rep more every week up to {most}, "
        f"then {2 * at.step:+g} points and back to {at.reps}"
    )
    return Scheme("reps then load", meaning, (group,))


def top_set_with_back_offs(*, above: float = 7.5, part: float = 0.87, **start: Unpack[StartKeys]) -> Scheme:
    """Build one heavier set, then back-off sets at a part of its load; as many sets in all as asked for."""
    at = Start(**start)
    top_reps, others = max(at.reps - 2, 1), max(at.sets - 1, 1)
    top = at.group(count=1, reps=top_reps, percent=at.percent + above, rest_s=max(at.rest_s, 180))
    back_offs = at.group(count=others, percent=None, progression=None, part_of_group=1, part=part)
    meaning = (
        f"1 x {top_reps} from {at.percent + above:g} %, then {others} x {at.reps} at {percent_said(part)} of its load, "
        f"{at.step:+g} points every week"
    )
    return Scheme("top set with back-offs", meaning, (top, back_offs))


def drop_set_finish(*, drop: float = 20, drops: int = 2, **start: Unpack[StartKeys]) -> Scheme:
    """Build sets alike, the last of them to failure with drops straight after it."""
    at = Start(**start)
    others = max(at.sets - 1, 1)
    last = at.group(count=1, reps="failure", drops={"sizes": [drop] * drops})
    meaning = (
        f"{others} x {at.reps} from {at.percent:g} %, {at.step:+g} points every week, then one set to failure with "
        f"{drops} drops of {drop:g} %"
    )
    return Scheme("drop-set finish", meaning, (at.group(count=others), last))


#: The library, by label. Each takes what `Start` has, and parameters of its own.
SCHEMES: Final[dict[str, Callable[..., Scheme]]] = {
    "constant step": constant_step,
    "wave": wave,
    "undulating": undulating,
    "reps then load": reps_then_load,
    "top set with back-offs": top_set_with_back_offs,
    "drop-set finish": drop_set_finish,
}


def exercise_block(
    exercise: str,
    scheme: Scheme,
    *,
    weeks: int = 4,
    days: Sequence[int] = (1,),
    name: str | None = None,
    exercises: Catalogue | OwnFiles | None = None,
) -> Block:
    """Build a block of one exercise under one scheme, on the given days of the week (1 Monday to 7 Sunday).

    ``exercises`` says what the name means, as ``room.catalogue``; the built-in catalogue where not given.

    >>> block = exercise_block("back squat", constant_step(), weeks=3, days=(1, 4))
    >>> block.weeks, [session.name for session in block.sessions]
    (3, ['day 1', 'day 4'])
    """
    known = catalogue_for(None, exercises).exercise(exercise).name
    slot = {"exercise": known, "sets": list(scheme.sets)}
    content = {
        "name": name or f"{known}, {scheme.label}",
        "weeks": weeks,
        "sessions": [{"name": f"day {day}", "day": day, "exercises": [slot]} for day in days],
    }
    return validate(content, Block)
