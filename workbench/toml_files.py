"""Read a TOML file into a pydantic model, with one clear line for whatever is wrong with it."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, ConfigDict, ValidationError

from workbench.quantities import InputError

__all__ = ["MAX_BYTES", "Strict", "read_model", "validate"]

#: A hand-written block of a year stays far below this.
MAX_BYTES = 1_000_000
#: Deeper nesting than any of the models has; the parser would otherwise run into its own recursion limit.
MAX_DEPTH = 30


class Strict(BaseModel):
    """Base of every file model: unknown keys are errors, values do not change after reading."""

    model_config = ConfigDict(extra="forbid", frozen=True)


ModelT = TypeVar("ModelT", bound=BaseModel)


def read_model(path: str | Path, model: type[ModelT]) -> ModelT:
    """Read one TOML file.

    Raises
    ------
    InputError
        With file, place (key path) and remedy: missing, unreadable, too large, not text, not TOML, or not
        what ``model`` asks for.
    """
    path = Path(path)
    return validate(_read_toml(path), model, path)


def _read_toml(path: Path) -> dict[str, Any]:
    if path.is_dir():
        raise InputError(path, "", "is a folder", "give a TOML file")
    try:
        size = path.stat().st_size
        if size > MAX_BYTES:
            raise InputError(path, "", f"is {size:,} bytes", f"a TOML file here has at most {MAX_BYTES:,}")
        raw = path.read_bytes()
    except OSError as error:
        raise InputError(path, "", f"cannot be read ({error.strerror})", "check the name and the folder") from error
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
    except RecursionError:
        raise InputError(path, "", "is nested too deeply", f"use at most {MAX_DEPTH} levels") from None
    if _depth_exceeds(content, MAX_DEPTH):
        raise InputError(path, "", "is nested too deeply", f"use at most {MAX_DEPTH} levels")
    return content


def _depth_exceeds(value: object, limit: int) -> bool:
    layer: list[object] = [value]
    for _ in range(limit):
        children: list[object] = []
        for item in layer:
            if isinstance(item, dict):
                children.extend(item.values())
            elif isinstance(item, list):
                children.extend(item)
        if not children:
            return False
        layer = children
    return True


def validate(content: dict[str, Any], model: type[ModelT], file: str | Path | None = None) -> ModelT:
    """Check a mapping against a model; InputError names the first fault and how many more there are."""
    try:
        return model.model_validate(content)
    except ValidationError as error:
        raise _input_error(error, file) from None


def _input_error(error: ValidationError, file: str | Path | None) -> InputError:
    faults = error.errors(include_url=False)
    first = faults[0]
    steps = [str(part + 1) if isinstance(part, int) else str(part) for part in first["loc"]]
    place = ".".join(steps) or "file"
    message = first["msg"].removeprefix("Value error, ")
    problem, remedy = _explain(first["type"], message, first.get("input"))
    if len(faults) > 1:
        remedy = f"{remedy} (and {len(faults) - 1} more)" if remedy else f"{len(faults) - 1} more faults follow"
    return InputError(file, place, problem, remedy)


def _explain(kind: str, message: str, given: object) -> tuple[str, str]:
    shown = repr(given)
    shown = shown if len(shown) <= 60 else shown[:57] + "..."
    if kind == "extra_forbidden":
        return "unknown key", "check its spelling or remove it"
    if kind == "missing":
        return "is missing", "add this key"
    if kind == "value_error":
        problem, _, remedy = message.partition("; ")
        return problem, remedy
    return f"{shown} does not fit", message[0].lower() + message[1:]
