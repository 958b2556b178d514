"""Loading schemes built from parameters, each a list of set groups to put into a block.

The names say what the scheme does. Percent is of 1RM; steps are points of percent from week to week.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Final

from workbench.gym.catalogue import Catalogue, OwnFiles, catalogue_for
from workbench.prescription.block import Block, SetGroup
from workbench.prescription.edit import Where, change
from workbench.present.words import percent_said
from workbench.reference.toml_files import validate

__all__ = [
    "SCHEMES",
    "Scheme",
    "constant_step",
    "drop_set_finish",
    "exercise_block",
    "reps_then_load",
    "top_set_with_back_offs",
    "undulating",
    "wave",
    "with_scheme",
]


@dataclass(frozen=True)
class Scheme:
    """A scheme: what to call it, what it does in one sentence, and its set groups."""

    label: str
    meaning: str
    sets: tuple[SetGroup, ...]


def _group(**keys: Any) -> SetGroup:
    return validate({key: value for key, value in keys.items() if value is not None}, SetGroup)


def constant_step(
    *, percent: float = 70, step: float = 2.5, sets: int = 5, reps: int = 5, rest_s: float = 150, weeks: int = 4
) -> Scheme:
    """Build sets alike whose load climbs by the same step every week.

    >>> constant_step(percent=70, step=2).label
    'constant step'
    """
    del weeks
    group = _group(count=sets, reps=reps, percent=percent, rest_s=rest_s, progression={"rule": "step", "step": step})
    return Scheme("constant step", f"{sets} x {reps} from {percent:g} %, {step:+g} points every week", (group,))


def wave(
    *,
    percent: float = 70,
    step: float = 2.5,
    sets: int = 5,
    reps: int = 5,
    rest_s: float = 150,
    weeks: int = 4,
    length: int = 2,
    rise: float | None = None,
) -> Scheme:
    """Build sets alike whose load climbs for ``length`` weeks and starts again ``rise`` higher (else one step)."""
    del weeks
    up = step if rise is None else rise
    rule = {"rule": "wave", "length": length, "step": 2 * step, "rise": up}
    group = _group(count=sets, reps=reps, percent=percent, rest_s=rest_s, progression=rule)
    return Scheme("wave", f"{sets} x {reps}, climbing {length} weeks, then again {up:g} points higher", (group,))


def undulating(
    *,
    percent: float = 70,
    step: float = 2.5,
    sets: int = 5,
    reps: int = 5,
    rest_s: float = 150,
    weeks: int = 4,
    turns: Sequence[tuple[float, int]] = ((0.0, 0), (7.5, -2)),
) -> Scheme:
    """Build sets whose load and reps alternate from week to week, the whole climbing by ``step`` each time round.

    Parameters
    ----------
    turns : sequence of pairs
        For each week of a round: points of percent and reps to add to ``percent`` and ``reps``.
    """
    loads = [percent + turns[week % len(turns)][0] + step * (week // len(turns)) for week in range(weeks)]
    counts = [max(reps + turns[week % len(turns)][1], 1) for week in range(weeks)]
    rule = {"rule": "by week", "load": loads, "reps": counts}
    group = _group(count=sets, reps=reps, percent=percent, rest_s=rest_s, progression=rule)
    shown = ", ".join(f"{load:g} % x {count}" for load, count in zip(loads[: len(turns)], counts, strict=False))
    return Scheme("undulating", f"{sets} sets, weeks in turn at {shown}, {step:+g} points each time round", (group,))


def reps_then_load(
    *,
    percent: float = 70,
    step: float = 2.5,
    sets: int = 5,
    reps: int = 5,
    rest_s: float = 150,
    weeks: int = 4,
    more_reps: int = 2,
) -> Scheme:
    """Build sets that gain a rep a week up to ``more_reps`` more, then go back to ``reps`` with twice the step."""
    del weeks
    rule = {"rule": "reps then load", "reps_to": reps + more_reps, "step": 2 * step}
    group = _group(count=sets, reps=reps, percent=percent, rest_s=rest_s, progression=rule)
    meaning = f"{sets} x {reps} up to {reps + more_reps} reps, then {2 * step:+g} points and back to {reps}"
    return Scheme("reps then load", meaning, (group,))


def top_set_with_back_offs(
    *,
    percent: float = 70,
    step: float = 2.5,
    sets: int = 5,
    reps: int = 5,
    rest_s: float = 150,
    weeks: int = 4,
    above: float = 7.5,
    part: float = 0.87,
) -> Scheme:
    """Build one heavier set, then back-off sets at a part of its load; as many sets in all as asked for."""
    del weeks
    top = _group(
        reps=max(reps - 2, 1),
        percent=percent + above,
        rest_s=max(rest_s, 180),
        progression={"rule": "step", "step": step},
    )
    back_offs = _group(count=max(sets - 1, 1), reps=reps, part_of_group=1, part=part, rest_s=rest_s)
    meaning = (
        f"1 x {max(reps - 2, 1)} from {percent + above:g} %, then {max(sets - 1, 1)} x {reps} at {percent_said(part)} "
        f"of its load, {step:+g} points every week"
    )
    return Scheme("top set with back-offs", meaning, (top, back_offs))


def drop_set_finish(
    *,
    percent: float = 70,
    step: float = 2.5,
    sets: int = 5,
    reps: int = 5,
    rest_s: float = 150,
    weeks: int = 4,
    drop: float = 20,
    drops: int = 2,
) -> Scheme:
    """Build sets alike, the last of them to failure with drops straight after it."""
    del weeks
    rule = {"rule": "step", "step": step}
    straight = _group(count=max(sets - 1, 1), reps=reps, percent=percent, rest_s=rest_s, progression=rule)
    last = _group(reps="failure", percent=percent, rest_s=rest_s, progression=rule, drops={"sizes": [drop] * drops})
    meaning = (
        f"{max(sets - 1, 1)} x {reps} from {percent:g} %, {step:+g} points every week, then one set to failure with "
        f"{drops} drops of {drop:g} %"
    )
    return Scheme("drop-set finish", meaning, (straight, last))


#: The library, by label. Each takes percent, step, sets, reps, rest_s and weeks, and parameters of its own.
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


def with_scheme(block: Block, scheme: Scheme, *, exercise: str, session: str | None = None) -> Block:
    """Return the block with one exercise's sets replaced by a scheme, in one session or in all that hold it.

    Raises
    ------
    InputError
        Where no such session holds the exercise, or the scheme does not fit the block's weeks.
    """
    return change(block, Where(session, exercise), set_groups=scheme.sets)
