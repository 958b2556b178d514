"""TOML files and pydantic models: one clear line for whatever is wrong in a file, and models as text again."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path
from typing import Any, TypeVar

import tomli_w
from pydantic import BaseModel, ConfigDict, ValidationError, ValidationInfo, field_validator

from workbench.quantities import InputError, refuse_control
from workbench.reference.whole_files import read_whole

__all__ = ["MAX_BYTES", "Number", "PlacedError", "Strict", "Whole", "read_model", "toml_text", "validate"]

#: A hand-written block of a year stays far below this.
MAX_BYTES = 1_000_000
#: Deeper nesting than any of the models has; the parser would otherwise run into its own recursion limit.
MAX_DEPTH = 30
#: Whole numbers of more digits fit nothing here, and would be slow or impossible to print.
MAX_WHOLE = 2**63

#: A number as people write one: 72 and 72.5. What is no number is kept out by `Strict`.
Number = float
#: A whole number: 72, not 72.0.
Whole = int

#: Fields in which people write more than a name.
_SEVERAL_LINES = {"note", "reason", "why_not"}


def _texts_in(value: object) -> Iterator[str]:
    """All texts in a value, in lists, and in tables with their keys."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for key, inner in value.items():
            yield from (*_texts_in(key), *_texts_in(inner))
    elif isinstance(value, list | tuple):
        for inner in value:
            yield from _texts_in(inner)


class Strict(BaseModel):
    """Base of every file model: unknown keys are errors, values do not change after reading.

    Nothing is converted: "72" and true are no numbers, 1 is not true. A whole number may stand for any number.
    """

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)

    @field_validator("*")
    @classmethod
    def _no_control_characters(cls, value: Any, info: ValidationInfo) -> Any:
        """Let no text hide, move or colour what is printed around it; notes may run over several lines."""
        if not isinstance(value, str | dict | list | tuple):
            return value
        for text in _texts_in(value):
            try:
                refuse_control("", text, lines=info.field_name in _SEVERAL_LINES)
            except InputError as error:
                raise ValueError(f"{error.problem}; {error.remedy}") from None
        return value


class PlacedError(ValueError):
    """A fault in a part of a model that only the whole can find; ``place`` leads from the whole to it, from 0."""

    def __init__(self, message: str, *place: str | int) -> None:
        super().__init__(message)
        self.place = place


ModelT = TypeVar("ModelT", bound=BaseModel)


def read_model(path: str | Path, model: type[ModelT], context: object = None) -> ModelT:
    """Read one TOML file; ``context`` is handed to the validators of the model.

    Raises
    ------
    InputError
        With file, place (key path) and remedy: missing, unreadable, too large, not text, not TOML, or not
        what ``model`` asks for.
    """
    path = Path(path)
    return validate(_read_toml(path), model, path, context)


def _read_toml(path: Path) -> dict[str, Any]:
    raw = read_whole(path, MAX_BYTES)
    if not raw.strip():
        raise InputError(path, "", "is empty", "see data/demo for a complete example")
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError(path, f"byte {error.start}", "is not UTF-8 text", "save it as UTF-8") from error
    try:
        content = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise InputError(path, "", f"is not valid TOML ({error})", "correct that line") from error
    except ValueError as error:  # a whole number of thousands of digits
        raise InputError(path, "", "holds a number too long to read", "use numbers of usual length") from error
    except RecursionError:
        raise InputError(path, "", "is nested too deeply", f"use at most {MAX_DEPTH} levels") from None
    _check_values(content, path)
    return content


def _check_values(content: dict[str, Any], path: Path) -> None:
    layer: list[object] = [content]
    for _ in range(MAX_DEPTH):
        children: list[object] = []
        for item in layer:
            if isinstance(item, dict):
                children.extend(item.values())
            elif isinstance(item, list):
                children.extend(item)
            elif isinstance(item, int) and abs(item) > MAX_WHOLE:
                raise InputError(path, "", "holds a number too long to read", "use numbers of usual length")
        if not children:
            return
        layer = children
    raise InputError(path, "", "is nested too deeply", f"use at most {MAX_DEPTH} levels")


def validate(
    content: dict[str, Any], model: type[ModelT], file: str | Path | None = None, context: object = None
) -> ModelT:
    """Check a mapping against a model; InputError names the first fault and how many more there are."""
    try:
        return model.model_validate(content, context=context)
    except ValidationError as error:
        raise _input_error(error, file) from None


def _input_error(error: ValidationError, file: str | Path | None) -> InputError:
    faults = error.errors(include_url=False)
    first = faults[0]
    cause = first.get("ctx", {}).get("error")
    path = (*first["loc"], *(cause.place if isinstance(cause, PlacedError) else ()))
    steps = [str(part + 1) if isinstance(part, int) else str(part) for part in path]
    place = ".".join(steps) or "file"
    message = first["msg"].removeprefix("Value error, ")
    problem, remedy = _explain(first["type"], message, first.get("input"))
    if len(faults) > 1:
        remedy = f"{remedy} (and {len(faults) - 1} more)" if remedy else f"{len(faults) - 1} more faults follow"
    return InputError(file, place, problem, remedy)


_NO_NUMBER = {
    "float_type": "give a number without quotes, such as 72.5",
    "int_type": "give a whole number without quotes, such as 5",
    "int_from_float": "give a whole number, such as 5",
}


def _explain(kind: str, message: str, given: object) -> tuple[str, str]:
    shown = str(given).lower() if isinstance(given, bool) else repr(given)
    shown = shown if len(shown) <= 60 else shown[:57] + "..."
    if kind == "extra_forbidden":
        return "unknown key", "check its spelling or remove it"
    if kind == "missing":
        return "is missing", "add this key"
    if kind == "value_error":
        problem, _, remedy = message.partition("; ")
        return problem, remedy
    if kind in _NO_NUMBER:
        return f"{shown} does not fit", _NO_NUMBER[kind]
    return f"{shown} does not fit", message[0].lower() + message[1:]


def toml_text(model: BaseModel, *, defaults: bool = True) -> str:
    """Return a file model as TOML: every value written out, defaults too, so that no later default changes it.

    Without ``defaults``, what a person would write: only what differs from them.

    >>> from workbench.prescription.block import Limits
    >>> print(toml_text(Limits()), end="")
    chance_of_reps = 0.85
    """
    return tomli_w.dumps(_as_typed("", model.model_dump(exclude_none=True, exclude_defaults=not defaults)))


def _as_typed(key: str, value: Any) -> Any:
    """Return a value as people type it: whole numbers without a point; reps as a number, a range or "failure"."""
    if isinstance(value, dict):
        return {name: _as_typed(name, inner) for name, inner in value.items()}
    if key == "reps" and isinstance(value, tuple):
        low, high = value
        return "failure" if math.isinf(high) else low if low == high else [low, int(high)]
    if isinstance(value, list | tuple):
        return [_as_typed("", inner) for inner in value]
    if isinstance(value, float | Decimal):
        whole = abs(float(value)) < MAX_WHOLE and value == int(value)
        return int(value) if whole else value
    return value
