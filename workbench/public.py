"""The questions as they are asked from outside: paths are read, and what is of the wrong kind is refused in words.

Each question stands in its own module with its docstring; here it only gets its arguments made fit.
"""

from __future__ import annotations

import dataclasses
import datetime
import functools
import inspect
import math
import os
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import Any, Final, TypeVar

import numpy as np
import pandas as pd

from workbench.answers.block_check import check_block
from workbench.answers.compare import compare_blocks
from workbench.answers.curve import curve_question
from workbench.answers.decide import Knob, Limit, knob_of, limit_of
from workbench.answers.decide import decide as search_plans
from workbench.answers.drop import drop_question
from workbench.answers.exchange import Exclusions, exchange_question
from workbench.answers.gym_numbers import LogOfLifter
from workbench.answers.gym_numbers import gym_numbers as numbers_of_gym
from workbench.answers.review import walk_forward as walk_through_logs
from workbench.answers.session import session_question
from workbench.answers.start_loads import with_ratios
from workbench.answers.team import read_roster, team_check
from workbench.answers.today import SetDone, today_question
from workbench.answers.unsure import what_is_unsure as split_spread
from workbench.answers.volume import VolumeAnswer, volume_question
from workbench.answers.what_can_go import what_can_go as without_some_sets
from workbench.evidence.predict import predict_sets as predict_group
from workbench.evidence.scoring import score as score_model
from workbench.evidence.scoring import tried
from workbench.fit import fit_log as fit_rows
from workbench.gym.catalogue import Catalogue
from workbench.gym.equipment import Room
from workbench.gym.equipment import read_room as room_file
from workbench.lifter import Lifter
from workbench.lifter import read_lifter as lifter_file
from workbench.log import LogReading, ReadOptions
from workbench.log import read_log as log_file
from workbench.models.fatigue import DEFAULT_FORM, FORMS, FatigueForm
from workbench.models.load_reps import CURVES, DEFAULT_CURVE, Curve
from workbench.models.volume import RULES, CountRules
from workbench.prescription.block import Block
from workbench.prescription.block import read_block as block_file
from workbench.prescription.edit import Where
from workbench.prescription.edit import change as change_block
from workbench.publish.commit import Decision, commit_block
from workbench.quantities import SEED, InputError
from workbench.simulate.draws import SeededDays
from workbench.simulate.run import run_block

__all__ = [
    "change",
    "check",
    "commit",
    "compare",
    "curve",
    "decide",
    "drop",
    "exchange",
    "fit_log",
    "gym_numbers",
    "predict_sets",
    "read_block",
    "read_lifter",
    "read_log",
    "read_room",
    "score",
    "session",
    "team",
    "today",
    "volume",
    "walk_forward",
    "what_can_go",
    "what_is_unsure",
]

Kind = TypeVar("Kind")
Asked = TypeVar("Asked", bound=Callable[..., Any])
#: Makes a value fit for the argument of that name, or raises InputError.
Fit = Callable[[str, Any], Any]
#: As many simulated runs as a command takes.
_MOST_DRAWS: Final = 100_000
#: Shown of what cannot be used.
_LONGEST: Final = 60


def _refused(name: str, value: Any, wanted: str) -> InputError:
    shown = repr(value) if isinstance(value, bool | int | float | str | None) else f"a {type(value).__name__}"
    shown = shown if len(shown) <= _LONGEST else f"{shown[:_LONGEST]}..."
    return InputError(None, name, f"{shown} is not what is asked for", f"give {wanted}")


def _model(kind: type[Kind], read: Callable[[str | Path], Kind]) -> Fit:
    """Take an object of a kind, or the path of a file that holds it."""

    def fit(name: str, value: Any) -> Kind:
        if isinstance(value, kind):
            return value
        if isinstance(value, str | os.PathLike):
            return read(Path(value))
        raise _refused(name, value, f"a {kind.__name__} or the path of its file")

    return fit


def _several(each: Fit, folder: Callable[[Path], list[Any]] | None = None) -> Fit:
    """Take several objects or paths; a single one stands for itself, a folder for what it holds."""

    def fit(name: str, value: Any) -> list[Any]:
        if folder is not None and isinstance(value, str | os.PathLike) and Path(value).is_dir():
            return folder(Path(value))
        if isinstance(value, str | os.PathLike) or not isinstance(value, Iterable):
            return [each(name, value)]
        if isinstance(value, Block | Lifter | Room):  # a model can be gone through, field by field
            return [each(name, value)]
        return [each(f"{name}, {number}", one) for number, one in enumerate(value, start=1)]

    return fit


def _blocks(name: str, value: Any) -> dict[str, Block]:
    """Take blocks by name, or several that are named as their files say."""
    if isinstance(value, Mapping):
        return {str(key): _block(f"{name}, {key}", one) for key, one in value.items()}
    blocks = _several(_block)(name, value)
    found = {block.name: block for block in blocks}
    if len(found) < len(blocks):
        raise InputError(None, name, "two blocks have the same name", "give a mapping of names to blocks")
    return found


def _number(low: float, high: float, *, whole: bool = False) -> Fit:
    kinds: Any = int | np.integer if whole else int | float | np.number
    wanted = f"a {'whole ' if whole else ''}number from {low:g} to {high:g}"

    def fit(name: str, value: Any) -> Any:
        if isinstance(value, bool) or not isinstance(value, kinds) or not low <= value <= high:
            raise _refused(name, value, wanted)
        return value

    return fit


def _of(kinds: Any, wanted: str, *, text: Callable[[str], Any] | None = None) -> Fit:
    """Take an object of some kinds, or a text that names it."""

    def fit(name: str, value: Any) -> Any:
        if text is not None and isinstance(value, str):
            return text(value)
        if not isinstance(value, kinds):
            raise _refused(name, value, wanted)
        return value

    return fit


def _listed(kind: type[Kind], known: Mapping[str, Kind], wanted: str) -> Fit:
    """Take an object of a kind, or its name in a list."""

    def fit(name: str, value: Any) -> Kind:
        if isinstance(value, kind):
            return value
        if not isinstance(value, str):
            raise _refused(name, value, f"{wanted} or one of: {', '.join(known)}")
        if value not in known:
            raise InputError(None, name, f"{value!r} is not one", f"use one of: {', '.join(known)}")
        return known[value]

    return fit


def _exercises(name: str, value: Any) -> Any:
    """Take a catalogue, or the path or paths of files with own exercises."""
    if isinstance(value, Catalogue | str | os.PathLike):
        return value
    wanted = "a Catalogue, or the path or paths of exercise files"
    if isinstance(value, bytes | Mapping) or not isinstance(value, Iterable):
        raise _refused(name, value, wanted)
    return [_of(str | os.PathLike, wanted)(f"{name}, {at}", one) for at, one in enumerate(value, start=1)]


def _curve(name: str, value: Any) -> Any:
    """Take a curve, the name of one, or a plain function of load fraction and endurance."""
    return tried(value if callable(value) else _listed(Curve, CURVES, "a Curve, a function,")(name, value))


def _form(name: str, value: Any) -> Any:
    return tried(_listed(FatigueForm, FORMS, "a FatigueForm")(name, value))


def _options(name: str, value: Any) -> ReadOptions:
    """Take what a log may leave open, also as a mapping of question to answer."""
    if isinstance(value, ReadOptions):
        return value
    if not isinstance(value, Mapping):
        raise _refused(name, value, 'ReadOptions, or a mapping such as {"unit": "kg"}')
    known = [field.name for field in dataclasses.fields(ReadOptions)]
    for key in value:
        if key not in known:
            raise InputError(None, name, f"{key!r} is no question of a log", f"use one of: {', '.join(known)}")
    return ReadOptions(**value)


def _log(name: str, value: Any) -> LogReading | pd.DataFrame:
    if isinstance(value, LogReading | pd.DataFrame):
        return value
    if isinstance(value, str | os.PathLike):
        return log_file(Path(value))
    raise _refused(name, value, "what read_log gives, rows of it, or the path of a log")


def _logs(name: str, value: Any) -> Any:
    """Take the log of one lifter, rows by lifter, or the path of a gym's folder."""
    if isinstance(value, str | os.PathLike) and Path(value).is_dir():
        return value
    if isinstance(value, list | tuple) and all(isinstance(one, LogOfLifter) for one in value):
        return value
    return _log(name, value)


def _numbers(name: str, value: Any) -> list[float]:
    if isinstance(value, str | bytes) or not isinstance(value, Iterable):
        raise _refused(name, value, "a list of numbers")
    return [_number(-math.inf, math.inf)(f"{name}, {at}", one) for at, one in enumerate(value, start=1)]


_block = _model(Block, block_file)
_KNOB: Final = _of(Knob, "a Knob, or a text as 'percent=60:80:2.5 of back squat'", text=knob_of)
_LIMIT: Final = _of(Limit, "a Limit, or a text as 'session_minutes<=60'", text=limit_of)
_TEXT: Final = _of(str, "a text")
_YES_OR_NO: Final = _of(bool, "True or False")

#: How the argument of each name is made fit; an argument that may be left out may be None.
_FITS: Final[dict[str, Fit]] = {
    "block": _block,
    "blocks": _blocks,
    "room": _model(Room, room_file),
    "rows": _log,
    "logs": _logs,
    "simple_rules": _YES_OR_NO,
    "models": _of(Mapping, "a mapping of names to forms, curves or functions"),
    "path": _of(str | os.PathLike, "the path of a file"),
    "exercise": _TEXT,
    "session": _of(str | int, "the name of a session, or its number from 1"),
    "where": _of(Where, "a Where"),
    "week": _number(1, 52, whole=True),
    "draws": _number(10, _MOST_DRAWS, whole=True),
    "seed": _number(0, 2**63 - 1, whole=True),
    "limit": _number(0, 1),
    "load_kg": _number(0, 10_000),
    "reps_wanted": _number(1, 1000, whole=True),
    "fewest_reps": _number(0, 1000, whole=True),
    "most": _number(1, 1000, whole=True),
    "change_s": _number(0, 86_400),
    "largest_drop": _number(0, 1),
    "first_set_reps": _number(0.5, 300),
    "group_size": _number(1, 100_000, whole=True),
    "equipment": _TEXT,
    "demand": _TEXT,
    "sex": _TEXT,
    "form": _form,
    "exercises": _exercises,
    "model": _of((FatigueForm, Curve, Callable), "a FatigueForm, a Curve or a function"),
    "rules": _of(CountRules, "CountRules"),
    "leave_out": _of(Exclusions, "Exclusions"),
    "decision": _of(Decision, "a Decision, or the reason as a text", text=Decision),
    "curve": _curve,
    "options": _options,
    "knobs": _several(_KNOB),
    "limits": _several(_LIMIT),
    "outcomes": _several(_TEXT),
    "equations": _several(_TEXT),
    "load_fractions": _numbers,
    "rests_s": _numbers,
    "mend": _YES_OR_NO,
    "today": _of(datetime.date, "a date"),
    "done": _several(_of(SetDone, "a SetDone")),
    "skipped": _several(_TEXT),
    "most_up": _number(0, 0.2),
    "minutes": _number(0, 600),
    "keep": _several(_TEXT),
    "most_down": _number(0, 1),
    "start": _of(datetime.date, "a date"),
    "folder": _of(str | os.PathLike, "the path of a folder"),
}


def _fits_of_lifters(room: Room | None) -> dict[str, Fit]:
    """Take lifters whose files are read with the exercises of the room, where there is one."""
    exercises = None if room is None else room.catalogue
    one = _model(Lifter, functools.partial(lifter_file, exercises=exercises))
    several = _several(one, functools.partial(read_roster, exercises=exercises))
    return {"lifter": one, "lifters": several, "roster": several}


def _asked(question: Asked, name: str) -> Asked:
    """Return a question under a short name, with its arguments made fit before it is asked."""
    signature = inspect.signature(question)

    @functools.wraps(question)
    def ask(*args: Any, **kwargs: Any) -> Any:
        bound = signature.bind(*args, **kwargs)
        given = bound.arguments
        if "room" in given:  # first, as it knows the exercises that a lifter's file may name
            given["room"] = _FITS["room"]("room", given["room"])
        fits = {**_FITS, **_fits_of_lifters(given.get("room"))}
        for argument, value in given.items():
            may_be_none = signature.parameters[argument].default is None
            if argument in fits and not (value is None and may_be_none):
                given[argument] = fits[argument](argument, value)
        _give_ratios(given)
        return question(*bound.args, **bound.kwargs)

    ask.__name__ = ask.__qualname__ = name
    ask.__module__ = "workbench"
    return ask  # type: ignore[return-value]


def _give_ratios(given: dict[str, Any]) -> None:
    """Give lifters of whom blocks are asked the 1RMs that follow by ratio."""
    blocks = [given["block"]] if "block" in given else list(given.get("blocks", {}).values())
    if not blocks or "room" not in given:
        return
    if "lifter" in given:
        given["lifter"] = with_ratios(given["lifter"], given["room"], *blocks)
    if "lifters" in given:
        given["lifters"] = [with_ratios(lifter, given["room"], *blocks) for lifter in given["lifters"]]


# More than seven parameters: what a coach may leave to its default is a keyword of the question.
def _volume(
    block: Block,
    lifter: Lifter,
    room: Room,
    *,
    rules: CountRules = RULES,
    draws: int = 2000,
    seed: int = SEED,
    form: FatigueForm = DEFAULT_FORM,
    curve: Curve = DEFAULT_CURVE,
) -> VolumeAnswer:
    """Count the volume and intensity of a block.

    Parameters
    ----------
    block : Block
    lifter : Lifter
    room : Room
    rules : CountRules
        What counts as a set and as a hard one.
    draws : int, [1], 10 to 100,000
        Simulated lifters and runs of days.
    seed : int, [1], >= 0
        The same seed gives the same digits.
    form : FatigueForm
        How a set tires, or the name of one in `FORMS`.
    curve : Curve
        Load and reps, fresh: one of `CURVES`, its name, or of your own.

    Returns
    -------
    VolumeAnswer
        Sets [1/week] of each muscle, tonnage [kg], lifts, zones [% of 1RM] and minutes.

    Raises
    ------
    InputError
        A file that cannot be used, a lift or load that is missing, or an argument of the wrong kind.

    Notes
    -----
    Shares from ``data/muscle_shares.csv``, studied ranges from ``data/evidence/volume_ranges.csv``, each row with its
    source key and grade; which sets are hard follows from the simulation, as for `check`.
    """
    outcome = run_block(block, lifter, room, SeededDays(draws, seed), form=form, curve=curve)
    return volume_question(outcome, rules=rules)


check = _asked(check_block, "check")
session = _asked(session_question, "session")
volume = _asked(_volume, "volume")
curve = _asked(curve_question, "curve")
drop = _asked(drop_question, "drop")
exchange = _asked(exchange_question, "exchange")
compare = _asked(compare_blocks, "compare")
decide = _asked(search_plans, "decide")
team = _asked(team_check, "team")
today = _asked(today_question, "today")
what_can_go = _asked(without_some_sets, "what_can_go")
fit_log = _asked(fit_rows, "fit_log")
walk_forward = _asked(walk_through_logs, "walk_forward")
what_is_unsure = _asked(split_spread, "what_is_unsure")
commit = _asked(commit_block, "commit")
change = _asked(change_block, "change")
gym_numbers = _asked(numbers_of_gym, "gym_numbers")
read_block = _asked(block_file, "read_block")
read_lifter = _asked(lifter_file, "read_lifter")
read_log = _asked(log_file, "read_log")
read_room = _asked(room_file, "read_room")
predict_sets = _asked(predict_group, "predict_sets")
score = _asked(score_model, "score")
