"""Write a block, a lifter or a room as TOML in one canonical form that reads back to the same object."""

from __future__ import annotations

import datetime
import math
import re
import tomllib
from decimal import Decimal
from typing import Any

from pydantic import BaseModel

from workbench.gym.catalogue import Catalogue, built_in
from workbench.gym.catalogue.own_file import OwnExercise, OwnExercises
from workbench.quantities import InputError
from workbench.reference.toml_files import validate

__all__ = ["own_exercises_text", "toml_text"]

_BARE = re.compile(r"[A-Za-z0-9_-]+")
_ESCAPES = {"\b": "\\b", "\t": "\\t", "\n": "\\n", "\f": "\\f", "\r": "\\r", '"': '\\"', "\\": "\\\\"}


def toml_text(model: BaseModel) -> str:
    """Return a file model as TOML: every value written out, defaults too, so that no later default changes it.

    >>> from workbench.prescription.block import Limits
    >>> print(toml_text(Limits()), end="")
    chance_of_reps = 0.85
    """
    lines: list[str] = []
    _table(model.model_dump(mode="python", exclude_none=True), (), lines)
    return "\n".join(lines).strip("\n") + "\n"


def own_exercises_text(catalogue: Catalogue) -> str:
    """Return the own exercises as a file; empty where there are none."""
    if catalogue.own is None:
        raise InputError(None, "room", "has a catalogue of its own making", "add own exercises to the built-in one")
    if not catalogue.own:
        return ""
    text = toml_text(OwnExercises(exercises=[OwnExercise.of(exercise) for exercise in catalogue.own]))
    again = validate(tomllib.loads(text), OwnExercises).exercises
    if built_in().with_own(member.as_exercise() for member in again) != catalogue:
        raise InputError(None, "own exercises", "would not be read again as they are", "read them from a file")
    return text


def _table(content: dict[str, Any], path: tuple[str, ...], lines: list[str]) -> None:
    """Write plain values first, then tables: in TOML whatever follows a table heading belongs to it."""
    later: list[tuple[str, Any]] = []
    for key, value in content.items():
        if _is_table(value) or _is_tables(value):
            later.append((key, value))
        else:
            lines.append(f"{_key(key)} = {_value(key, value)}")
    for key, value in later:
        inner = (*path, key)
        heading = ".".join(_key(part) for part in inner)
        if _is_tables(value):
            for item in value:
                lines += ["", f"[[{heading}]]"]
                _table(item, inner, lines)
        else:
            if any(not _is_table(one) for one in value.values()):
                lines += ["", f"[{heading}]"]
            _table(value, inner, lines)


def _is_table(value: object) -> bool:
    """Whether a mapping has a heading of its own; one of plain values only is written in one line."""
    return isinstance(value, dict) and any(isinstance(one, dict) or _is_tables(one) for one in value.values())


def _is_tables(value: object) -> bool:
    return isinstance(value, list | tuple) and bool(value) and all(isinstance(one, dict) for one in value)


def _key(key: str) -> str:
    return key if _BARE.fullmatch(key) else _text(key)


def _value(key: str, value: object) -> str:
    if key == "reps" and isinstance(value, tuple):
        return _reps(value)
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{_key(name)} = {_value(name, one)}" for name, one in value.items()) + " }"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(_value("", one) for one in value) + "]"
    return _plain(value)


def _plain(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int):
        return str(value)
    if isinstance(value, float):
        if not math.isfinite(value):
            raise ValueError(f"{value} has no place in a file")
        return str(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(value)
    if isinstance(value, Decimal):
        return f"{value.normalize():f}"
    if isinstance(value, datetime.date):
        return value.isoformat()
    if isinstance(value, str):
        return _text(value)
    raise TypeError(f"no TOML form for {type(value).__name__}")


def _reps(bounds: tuple[Any, ...]) -> str:
    low, high = bounds
    if math.isinf(high):
        return '"failure"'
    return str(int(low)) if low == high else f"[{int(low)}, {int(high)}]"


def _text(text: str) -> str:
    def escaped(character: str) -> str:
        if character in _ESCAPES:
            return _ESCAPES[character]
        code = ord(character)
        return f"\\u{code:04X}" if code < 0x20 or code == 0x7F else character

    return '"' + "".join(escaped(one) for one in text) + '"'
