"""TOML files of blocks, lifters, rooms and own exercises: built from the fields of the file models, then mutated."""

from __future__ import annotations

import copy
import datetime
import math
import types
import typing
from collections.abc import Callable
from decimal import Decimal
from functools import cache
from random import Random
from typing import Any, Literal, get_args, get_origin

import annotated_types
from pydantic import BaseModel

from tests.fuzz.cases import Case, chance, odd_text
from workbench.gym import catalogue
from workbench.gym.catalogue.own_file import OwnExercises
from workbench.gym.equipment.room import Room
from workbench.lifter import Lifter
from workbench.prescription.block import Block

__all__ = ["Raw", "toml_case", "toml_of"]


class Raw(str):
    """A value that is written as it is, whether TOML allows it or not."""

    __slots__ = ()


_EXERCISES = (
    "back squat",
    "bench press",
    "barbell bench pull",
    "lat pulldown",
    "pull-up",
    "dumbbell curl",
    "leg press",
)
_MASSES = (0.5, 1.25, 2.5, 4, 5, 10, 15, 20, 25, 33.3, 45, 100, 300)
_WORDS = ("a", "b", "c", "Monday", "heavy pull", "Ana", "Bo\u00eb", "\u0141ukasz")
_POSITIONS = sorted(catalogue.joint_positions())

#: Fields whose values the model's types do not tell.
_BY_NAME: dict[str, Callable[[Random], Any]] = {
    "exercise": lambda rng: rng.choice(_EXERCISES),
    "reps": lambda rng: rng.choice((rng.randint(1, 20), rng.choice(([8, 12], [1, 3], "failure")))),
    "avoid_positions": lambda rng: rng.sample(_POSITIONS, rng.randint(0, 2)),
    "joint_positions": lambda rng: rng.sample(_POSITIONS, rng.randint(0, 2)),
    "avoid_exercises": lambda rng: rng.sample(_EXERCISES, rng.randint(0, 2)),
    "fixtures": lambda rng: rng.sample(("rack", "bench", "box"), rng.randint(0, 3)),
    "mass": lambda rng: rng.choice(_MASSES),
}
#: Odd values of any type; texts come besides.
_ODD_VALUES = (
    True, False, 0, -1, 1, 2**31, 2**63, -(2**63), 10**400, 0.0, -0.0, 1e-320, 1e308, math.inf, -math.inf, math.nan,
    0.1, 72.5, 725, [], [[]], {}, {"a": {"a": {"a": {}}}}, [1, 2], [8, 12], [12, 8], [1, 10**30], ["failure"],
    "failure", [True], [1, "2"], [{}], datetime.date(9999, 12, 31), datetime.date(1, 1, 1), datetime.time(23, 59),
    "72.5", "5", "kg", Raw("9" * 5000), Raw("0x" + "f" * 5000), Raw("1e" + "9" * 400), Raw("0." + "1" * 5000),
    Raw("1979-13-99"), Raw("\u0663"), Raw("[" * 40 + "]" * 40), Raw("{a=" * 40 + "1" + "}" * 40), Raw("[" * 3000),
    Raw("nul"), Raw('"\\ud800"'), Raw('"\\x"'), Raw('"""\n\n"""'), Raw("1__0"), Raw("+nan"),
    Raw("1979-05-27T07:32:00+99:99"), Raw("24:00:00"), Raw("1.5.5"), Raw("'\x1b[31m'"),
)  # fmt: skip


def _number(rng: Random, metadata: list[Any], *, whole: bool) -> float | int:
    low, high = -100.0, 200.0
    for item in metadata:
        low = getattr(item, "ge", getattr(item, "gt", low))
        high = getattr(item, "le", getattr(item, "lt", high))
    if whole:
        return rng.randint(math.ceil(low), math.floor(min(high, max(low, 1) * 6)))
    return round(low + (min(high, low + 100) - low) * rng.randint(1, 99) / 100, 3)


def _value(rng: Random, annotation: Any, metadata: list[Any], name: str) -> Any:
    """A value that fits an annotation of a file model."""
    if name in _BY_NAME:
        return copy.deepcopy(_BY_NAME[name](rng))
    origin = get_origin(annotation)
    if origin is typing.Annotated:
        inner, *more = get_args(annotation)
        return _value(rng, inner, [*metadata, *_flat(more)], name)
    if origin in (typing.Union, types.UnionType):
        choices = [one for one in get_args(annotation) if one is not type(None)]
        return _value(rng, rng.choice(choices), metadata, name)
    if origin is Literal:
        return rng.choice(get_args(annotation))
    if origin is list:
        least = max((getattr(item, "min_length", 0) or 0 for item in metadata), default=0)
        return [_value(rng, get_args(annotation)[0], [], "") for _ in range(rng.randint(least, max(least, 2)))]
    if origin is dict:
        key, inner = get_args(annotation)
        keys = get_args(key) if get_origin(key) is Literal else _EXERCISES
        return {one: _value(rng, inner, [], "") for one in rng.sample(keys, rng.randint(1, min(3, len(keys))))}
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return _document(rng, annotation)
    return _plain_value(rng, annotation, metadata)


def _plain_value(rng: Random, annotation: Any, metadata: list[Any]) -> Any:
    if annotation is bool:
        return rng.choice((False, True))
    if annotation in (int, float):
        return _number(rng, metadata, whole=annotation is int)
    if annotation is Decimal:
        return rng.choice(_MASSES)
    if annotation is datetime.date:
        return datetime.date(2024, 3, rng.randint(1, 28))
    return rng.choice(_WORDS)


def _flat(metadata: list[Any]) -> list[Any]:
    """Field(...) holds its bounds inside; the rest stands for itself."""
    found: list[Any] = []
    for item in metadata:
        found += getattr(item, "metadata", [item]) if not isinstance(item, annotated_types.BaseMetadata) else [item]
    return found


def _document(rng: Random, model: type[BaseModel]) -> dict[str, Any]:
    content: dict[str, Any] = {}
    for name, info in model.model_fields.items():
        if info.is_required() or chance(rng, 25):
            content[name] = _value(rng, info.annotation, list(info.metadata), name)
    mend = _MENDS.get(model.__name__)
    if mend is not None:
        mend(rng, content)
    return content


_LOADS = ("percent", "reps_in_reserve", "part_of_group", "kg", "lb")


def _mend_sets(rng: Random, group: dict[str, Any]) -> None:
    for key in (*_LOADS, "part"):
        group.pop(key, None)
    key = rng.choice(("percent", "percent", "reps_in_reserve", "kg", "lb"))
    group[key] = {"percent": 70, "reps_in_reserve": 2, "kg": 60, "lb": 135}[key] + rng.randint(0, 5)
    if key == "reps_in_reserve" and group["reps"] == "failure":
        group["reps"] = 8


def _mend_slot(rng: Random, slot: dict[str, Any]) -> None:
    slot.pop("equipment", None)
    slot.pop("alternate_with_next", None)
    if len(slot["sets"]) > 1 and chance(rng, 40):
        last = slot["sets"][-1]
        for key in ("percent", "reps_in_reserve", "kg", "lb", "progression"):
            last.pop(key, None)
        last |= {"part_of_group": 1, "part": 0.85}


def _mend_session(rng: Random, session: dict[str, Any]) -> None:
    for key in ("repeat_of", "percent_change", "reps_change"):
        session.pop(key, None)
    session["exercises"] = session.get("exercises") or [_document(rng, _models(Block)["ExerciseSlot"])]


def _mend_block(rng: Random, block: dict[str, Any]) -> None:
    block["weeks"] = weeks = rng.randint(1, 4)
    block.pop("lighter_weeks", None)
    if chance(rng, 30):
        block["lighter_weeks"] = [{"week": weeks, "load": 0.9, "sets": 0.6}]
    for at, session in enumerate(block["sessions"]):
        session["name"] = f"s{at}"
        for slot in session["exercises"]:
            for group in slot["sets"]:
                _mend_rule(group, weeks)
    if chance(rng, 30):
        block["sessions"].append({"name": "again", "repeat_of": "s0", "percent_change": -5, "reps_change": 1})


def _mend_rule(group: dict[str, Any], weeks: int) -> None:
    rule = group.get("progression")
    if rule is None:
        return
    if rule["rule"] == "by week":
        rule.clear()
        rule |= {"rule": "by week", "load": [60 + week for week in range(weeks)]}
    if rule["rule"] == "reps then load":
        group["reps"], rule["reps_to"] = 6, 9


def _mend_lift(rng: Random, lift: dict[str, Any]) -> None:
    for key in ("one_rm_kg", "one_rm_lb", "reps_at"):
        lift.pop(key, None)
    lift[rng.choice(("one_rm_kg", "one_rm_lb"))] = rng.randint(20, 400)


def _mend_ladder(rng: Random, piece: dict[str, Any]) -> None:
    for key in ("masses", "first", "step", "last", "count"):
        piece.pop(key, None)
    ways = ({"masses": [4, 8, 12]}, {"first": 5, "step": 5, "last": 100}, {"first": 1, "step": 2, "count": 30})
    piece |= copy.deepcopy(rng.choice(ways))


def _mend_room(rng: Random, room: dict[str, Any]) -> None:
    room["plates"] = [{"mass": mass, "pairs": 2} for mass in (20, 10, 5, 2.5, 1.25)]
    for at, piece in enumerate(room["equipment"]):
        piece["name"] = f"piece {at}"
        piece.pop("max_load", None)
        if piece.get("plates"):
            piece["plates"] = piece["plates"][:1]


def _mend_own(rng: Random, exercise: dict[str, Any]) -> None:
    exercise["name"] = f"own {rng.choice(_WORDS)}"
    exercise["muscles"][next(iter(exercise["muscles"]))] = 1
    exercise.pop("body_mass_share", None)
    exercise["aliases"] = []


_MENDS: dict[str, Callable[[Any, dict[str, Any]], None]] = {
    "SetGroup": _mend_sets,
    "ExerciseSlot": _mend_slot,
    "Session": _mend_session,
    "Block": _mend_block,
    "Lift": _mend_lift,
    "Room": _mend_room,
    "OwnExercise": _mend_own,
    **dict.fromkeys(("Dumbbells", "Rack", "Stack"), _mend_ladder),
}


@cache
def _models(model: type[BaseModel]) -> dict[str, type[BaseModel]]:
    """Every model that a file model holds, by name."""
    found: dict[str, type[BaseModel]] = {}

    def walk(annotation: Any) -> None:
        is_model = isinstance(annotation, type) and issubclass(annotation, BaseModel)
        if is_model and annotation.__name__ not in found:
            found[annotation.__name__] = annotation
            for info in annotation.model_fields.values():
                walk(info.annotation)
        for part in get_args(annotation):
            walk(part)

    walk(model)
    return found


_FILES: dict[str, type[BaseModel]] = {"block": Block, "lifter": Lifter, "room": Room, "exercises": OwnExercises}
_WAYS = ("replace", "replace", "replace", "leave out", "add", "rename", "many", "swap", "text", "bounds")


def toml_case(rng: Random, kind: str) -> Case:
    """A TOML file of one kind: as the model asks, or with one to three mutations."""
    content = _document(rng, _FILES[kind])
    names = sorted({name for model in _models(_FILES[kind]).values() for name in model.model_fields})
    lines: list[str] = []
    ways = rng.choices(_WAYS, k=rng.randint(0, 3))
    for way in ways:
        if way == "text":
            lines.append(way)
        else:
            _mutate(rng, content, way, names)
    text = toml_of(content)
    for _ in lines:
        text = _damage(rng, text)
    told = {"draws": rng.choice((4, 4, 4, 4, 4, 4, 4, 300)), "untouched": not ways}
    return Case({f"{kind}.toml": text.encode("utf-8", errors="surrogatepass")}, f"{kind}.toml", told)


def _places(content: Any) -> list[tuple[Any, Any]]:
    found = []
    items = content.items() if isinstance(content, dict) else enumerate(content) if isinstance(content, list) else ()
    for key, value in items:
        found.append((content, key))
        found += _places(value)
    return found


def _mutate(rng: Random, content: dict[str, Any], way: str, names: list[str]) -> None:
    places = _places(content)
    if not places:
        return
    holder, key = places[rng.randint(0, len(places) - 1)]
    if way == "replace":
        holder[key] = copy.deepcopy(rng.choice(_ODD_VALUES)) if chance(rng, 30) else odd_text(rng, longest=5_000)
    elif way == "bounds":
        old = holder[key]
        numbers = (0, 1, 0.003, 20, 40, 52, 53, 100, 101, 120, 1000, 1e6, -1, 0.5, 1.5, 7)
        holder[key] = rng.choice(numbers) if isinstance(old, int | float) else odd_text(rng, longest=400)
    elif way == "leave out":
        del holder[key]
    elif way == "swap":
        other, place = places[rng.randint(0, len(places) - 1)]
        holder[key], other[place] = copy.deepcopy(other[place]), copy.deepcopy(holder[key])
    elif way == "many" and isinstance(holder, list):
        holder += [copy.deepcopy(holder[key]) for _ in range(rng.choice((1, 5, 13, 39)))]
        for at, item in enumerate(holder):
            if isinstance(item, dict) and "name" in item:
                item["name"] = f"{item['name']} {at}"[:70]
    elif isinstance(holder, dict):
        name = rng.choice(names) if chance(rng, 30) else odd_text(rng, longest=400)
        old = holder.pop(key) if way == "rename" else copy.deepcopy(rng.choice(_ODD_VALUES))
        holder[name] = old


def _damage(rng: Random, text: str) -> str:
    at = rng.randint(0, max(len(text) - 1, 0))
    piece = rng.choice(
        ('"', "'", "\n", "[", "]]", "=", "\0", "\x1b", "\ufeff", "\\", "#", ".", "\ud800", "}", "\r", "")
    )
    if chance(rng, 20):
        lines = text.split("\n")
        return "\n".join([*lines, lines[at % len(lines)]])
    return text[:at] + piece + text[at + rng.randint(0, 3) :]


def toml_of(content: dict[str, Any]) -> str:
    """Write a document as TOML, inner tables in one line; raw values as they are."""
    lines = []
    tables = []
    for key, value in content.items():
        if isinstance(value, list) and value and all(isinstance(item, dict) for item in value):
            tables += [f"\n[[{_key(key)}]]\n" + toml_of_inner(item) for item in value]
        else:
            lines.append(f"{_key(key)} = {_written(value)}\n")
    return "".join([*lines, *tables])


def toml_of_inner(content: dict[str, Any]) -> str:
    """Write the values of one table."""
    return "".join(f"{_key(key)} = {_written(value)}\n" for key, value in content.items())


def _key(key: object) -> str:
    text = str(key)
    bare = text.isascii() and text.replace("_", "a").replace("-", "a").isalnum()
    return text if bare else _written(text)


def _written(value: Any) -> str:
    if isinstance(value, Raw):
        return str(value)
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        marks = {'"': '\\"', "\\": "\\\\", "\n": "\\n", "\r": "\\r", "\t": "\\t"}
        return '"' + "".join(marks.get(s, s if s >= " " and s != "\x7f" else f"\\u{ord(s):04x}") for s in value) + '"'
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{_key(key)} = {_written(item)}" for key, item in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(map(_written, value)) + "]"
    if isinstance(value, int) and abs(value) > 10**4000:
        return Raw("9" * 5000)
    return value.isoformat() if hasattr(value, "isoformat") else repr(value)
