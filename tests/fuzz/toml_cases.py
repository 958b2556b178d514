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
from typing import Any, Literal, get_args, get_origin

import annotated_types
from hypothesis import strategies as st
from pydantic import BaseModel

from tests.fuzz.cases import Case, chance, odd_texts
from workbench.gym import catalogue
from workbench.gym.catalogue.own_file import OwnExercises
from workbench.gym.equipment.room import Room
from workbench.lifter import Lifter
from workbench.prescription.block import Block

__all__ = ["Raw", "toml_cases", "toml_of"]


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
_MASSES = st.sampled_from((0.5, 1.25, 2.5, 4, 5, 10, 15, 20, 25, 33.3, 45, 100, 300))
_WORDS = st.sampled_from(("a", "b", "c", "Monday", "heavy pull", "Ana", "Bo\u00eb", "\u0141ukasz"))

#: Fields whose values the model's types do not tell.
_BY_NAME: dict[str, st.SearchStrategy[Any]] = {
    "exercise": st.sampled_from(_EXERCISES),
    "reps": st.one_of(st.integers(1, 20), st.sampled_from(([8, 12], [1, 3], "failure"))),
    "avoid_positions": st.lists(st.sampled_from(sorted(catalogue.joint_positions())), max_size=2, unique=True),
    "joint_positions": st.lists(st.sampled_from(sorted(catalogue.joint_positions())), max_size=2, unique=True),
    "avoid_exercises": st.lists(st.sampled_from(_EXERCISES), max_size=2, unique=True),
    "fixtures": st.lists(st.sampled_from(("rack", "bench", "box")), max_size=3, unique=True),
    "mass": _MASSES,
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


def _number(draw: Any, metadata: list[Any], *, whole: bool) -> float | int:
    low, high = -100.0, 200.0
    for item in metadata:
        low = getattr(item, "ge", getattr(item, "gt", low))
        high = getattr(item, "le", getattr(item, "lt", high))
    if whole:
        return draw(st.integers(math.ceil(low), math.floor(min(high, max(low, 1) * 6))))
    return round(low + (min(high, low + 100) - low) * draw(st.integers(1, 99)) / 100, 3)


def _value(draw: Any, annotation: Any, metadata: list[Any], name: str) -> Any:
    """A value that fits an annotation of a file model."""
    if name in _BY_NAME:
        return copy.deepcopy(draw(_BY_NAME[name]))
    origin = get_origin(annotation)
    if origin is typing.Annotated:
        inner, *more = get_args(annotation)
        return _value(draw, inner, [*metadata, *_flat(more)], name)
    if origin in (typing.Union, types.UnionType):
        choices = [one for one in get_args(annotation) if one is not type(None)]
        return _value(draw, draw(st.sampled_from(choices)), metadata, name)
    if origin is Literal:
        return draw(st.sampled_from(get_args(annotation)))
    if origin is list:
        least = max((getattr(item, "min_length", 0) or 0 for item in metadata), default=0)
        return [_value(draw, get_args(annotation)[0], [], "") for _ in range(draw(st.integers(least, max(least, 2))))]
    if origin is dict:
        key, inner = get_args(annotation)
        keys = st.sampled_from(get_args(key)) if get_origin(key) is Literal else st.sampled_from(_EXERCISES)
        return {one: _value(draw, inner, [], "") for one in draw(st.lists(keys, min_size=1, max_size=3, unique=True))}
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return _document(draw, annotation)
    return _plain_value(draw, annotation, metadata)


def _plain_value(draw: Any, annotation: Any, metadata: list[Any]) -> Any:
    if annotation is bool:
        return draw(st.booleans())
    if annotation in (int, float):
        return _number(draw, metadata, whole=annotation is int)
    if annotation is Decimal:
        return draw(_MASSES)
    if annotation is datetime.date:
        return datetime.date(2024, 3, draw(st.integers(1, 28)))
    return draw(_WORDS)


def _flat(metadata: list[Any]) -> list[Any]:
    """Field(...) holds its bounds inside; the rest stands for itself."""
    found: list[Any] = []
    for item in metadata:
        found += getattr(item, "metadata", [item]) if not isinstance(item, annotated_types.BaseMetadata) else [item]
    return found


def _document(draw: Any, model: type[BaseModel]) -> dict[str, Any]:
    content: dict[str, Any] = {}
    for name, info in model.model_fields.items():
        if info.is_required() or chance(draw, 25):
            content[name] = _value(draw, info.annotation, list(info.metadata), name)
    mend = _MENDS.get(model.__name__)
    if mend is not None:
        mend(draw, content)
    return content


_LOADS = ("percent", "reps_in_reserve", "part_of_group", "kg", "lb")


def _mend_sets(draw: Any, group: dict[str, Any]) -> None:
    for key in (*_LOADS, "part"):
        group.pop(key, None)
    key = draw(st.sampled_from(("percent", "percent", "reps_in_reserve", "kg", "lb")))
    group[key] = {"percent": 70, "reps_in_reserve": 2, "kg": 60, "lb": 135}[key] + draw(st.integers(0, 5))
    if key == "reps_in_reserve" and group["reps"] == "failure":
        group["reps"] = 8


def _mend_slot(draw: Any, slot: dict[str, Any]) -> None:
    slot.pop("equipment", None)
    slot.pop("alternate_with_next", None)
    if len(slot["sets"]) > 1 and chance(draw, 40):
        last = slot["sets"][-1]
        for key in ("percent", "reps_in_reserve", "kg", "lb", "progression"):
            last.pop(key, None)
        last |= {"part_of_group": 1, "part": 0.85}


def _mend_session(draw: Any, session: dict[str, Any]) -> None:
    for key in ("repeat_of", "percent_change", "reps_change"):
        session.pop(key, None)
    session["exercises"] = session.get("exercises") or [_document(draw, _models(Block)["ExerciseSlot"])]


def _mend_block(draw: Any, block: dict[str, Any]) -> None:
    block["weeks"] = weeks = draw(st.integers(1, 4))
    block.pop("lighter_weeks", None)
    if chance(draw, 30):
        block["lighter_weeks"] = [{"week": weeks, "load": 0.9, "sets": 0.6}]
    for at, session in enumerate(block["sessions"]):
        session["name"] = f"s{at}"
        for slot in session["exercises"]:
            for group in slot["sets"]:
                _mend_rule(group, weeks)
    if chance(draw, 30):
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


def _mend_lift(draw: Any, lift: dict[str, Any]) -> None:
    for key in ("one_rm_kg", "one_rm_lb", "reps_at"):
        lift.pop(key, None)
    lift[draw(st.sampled_from(("one_rm_kg", "one_rm_lb")))] = draw(st.integers(20, 400))


def _mend_ladder(draw: Any, piece: dict[str, Any]) -> None:
    for key in ("masses", "first", "step", "last", "count"):
        piece.pop(key, None)
    ways = ({"masses": [4, 8, 12]}, {"first": 5, "step": 5, "last": 100}, {"first": 1, "step": 2, "count": 30})
    piece |= copy.deepcopy(draw(st.sampled_from(ways)))


def _mend_room(draw: Any, room: dict[str, Any]) -> None:
    room["plates"] = [{"mass": mass, "pairs": 2} for mass in (20, 10, 5, 2.5, 1.25)]
    for at, piece in enumerate(room["equipment"]):
        piece["name"] = f"piece {at}"
        piece.pop("max_load", None)
        if piece.get("plates"):
            piece["plates"] = piece["plates"][:1]


def _mend_own(draw: Any, exercise: dict[str, Any]) -> None:
    exercise["name"] = f"own {draw(_WORDS)}"
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


@st.composite
def toml_cases(draw: Any, kind: str) -> Case:
    """A TOML file of one kind: as the model asks, or with one to three mutations."""
    content = _document(draw, _FILES[kind])
    names = sorted({name for model in _models(_FILES[kind]).values() for name in model.model_fields})
    lines: list[str] = []
    ways = draw(st.lists(st.sampled_from(_WAYS), max_size=3))
    for way in ways:
        if way == "text":
            lines.append(way)
        else:
            _mutate(draw, content, way, names)
    text = toml_of(content)
    for _ in lines:
        text = _damage(draw, text)
    told = {"draws": draw(st.sampled_from((4, 4, 4, 4, 4, 4, 4, 300))), "untouched": not ways}
    return Case({f"{kind}.toml": text.encode("utf-8", errors="surrogatepass")}, f"{kind}.toml", told)


def _places(content: Any) -> list[tuple[Any, Any]]:
    found = []
    items = content.items() if isinstance(content, dict) else enumerate(content) if isinstance(content, list) else ()
    for key, value in items:
        found.append((content, key))
        found += _places(value)
    return found


def _mutate(draw: Any, content: dict[str, Any], way: str, names: list[str]) -> None:
    places = _places(content)
    if not places:
        return
    holder, key = places[draw(st.integers(0, len(places) - 1))]
    if way == "replace":
        holder[key] = copy.deepcopy(draw(st.one_of(st.sampled_from(_ODD_VALUES), odd_texts(longest=5_000))))
    elif way == "bounds":
        old = holder[key]
        numbers = (0, 1, 0.003, 20, 40, 52, 53, 100, 101, 120, 1000, 1e6, -1, 0.5, 1.5, 7)
        holder[key] = draw(st.sampled_from(numbers)) if isinstance(old, int | float) else draw(odd_texts(longest=400))
    elif way == "leave out":
        del holder[key]
    elif way == "swap":
        other, place = places[draw(st.integers(0, len(places) - 1))]
        holder[key], other[place] = copy.deepcopy(other[place]), copy.deepcopy(holder[key])
    elif way == "many" and isinstance(holder, list):
        holder += [copy.deepcopy(holder[key]) for _ in range(draw(st.sampled_from((1, 5, 13, 39))))]
        for at, item in enumerate(holder):
            if isinstance(item, dict) and "name" in item:
                item["name"] = f"{item['name']} {at}"[:70]
    elif isinstance(holder, dict):
        name = draw(st.one_of(st.sampled_from(names), odd_texts(longest=400)))
        old = holder.pop(key) if way == "rename" else copy.deepcopy(draw(st.sampled_from(_ODD_VALUES)))
        holder[name] = old


def _damage(draw: Any, text: str) -> str:
    at = draw(st.integers(0, max(len(text) - 1, 0)))
    piece = draw(
        st.sampled_from(
            ('"', "'", "\n", "[", "]]", "=", "\0", "\x1b", "\ufeff", "\\", "#", ".", "\ud800", "}", "\r", "")
        )
    )
    if chance(draw, 20):
        lines = text.split("\n")
        return "\n".join([*lines, lines[at % len(lines)]])
    return text[:at] + piece + text[at + draw(st.integers(0, 3)) :]


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
