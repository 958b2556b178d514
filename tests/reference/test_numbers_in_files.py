"""Every number field of every file model takes numbers only: quoted ones, true and what is none are refused."""

import importlib
import pkgutil
import types
import typing
from decimal import Decimal

import pytest
from pydantic import ValidationError

import workbench
from workbench.reference.toml_files import Strict, validate

#: Some number that any field takes: counts, shares, masses, loads over a range, and whole numbers.
CANDIDATES = (1, 2, 5, 0.5, 50, 0.1, 72.5)
NO_NUMBERS = (True, False, float("nan"), "five", None)


def _models():
    """Every file model of the package: whatever module defines one."""
    for module in pkgutil.walk_packages(workbench.__path__, "workbench."):
        if not module.name.endswith("__main__"):
            importlib.import_module(module.name)
    found, waiting = [], [Strict]
    while waiting:
        subclasses = waiting.pop().__subclasses__()
        found += [one for one in subclasses if one.__module__.startswith("workbench.")]
        waiting += subclasses
    return sorted(set(found), key=lambda one: (one.__module__, one.__name__))


def _ways(annotation):
    """Ways to write one number where such a value is wanted: functions from the number to the value."""
    origin, parts = typing.get_origin(annotation), typing.get_args(annotation)
    if origin is typing.Annotated:
        return _ways(parts[0])
    if origin in (typing.Union, types.UnionType):
        return [way for part in parts for way in _ways(part)]
    if origin is typing.Literal:
        return [lambda number: number] if any(type(part) is int for part in parts) else []
    if origin is list:
        return [lambda number, way=way: [way(number)] for way in _ways(parts[0])]
    if origin is tuple:
        return [lambda number: number, lambda number: [number, 12], lambda number: [1, number]]
    if origin is dict:
        key = typing.get_args(parts[0])[0] if typing.get_origin(parts[0]) is typing.Literal else "a"
        return [lambda number, way=way: {key: way(number)} for way in _ways(parts[1])]
    return [lambda number: number] if annotation in (int, float, Decimal) else []


FIELDS = [
    pytest.param(model, name, way, id=f"{model.__name__}.{name}.{number}")
    for model in _models()
    for name, field in model.model_fields.items()
    for number, way in enumerate(_ways(field.annotation))
]


def _refused(model, name, value):
    """Whether the field is among the faults, the rest of the model left out."""
    try:
        model.model_validate({name: value})
    except ValidationError as error:
        return any(fault["loc"][0] == name for fault in error.errors() if fault["loc"])
    return False


def test_the_fields_are_found():
    # One of each kind of annotation: plain, optional, in a list, in a mapping, a pair, a literal, an exact decimal.
    names = {param.id for param in FIELDS}
    assert {
        "Block.weeks.0",
        "SetGroup.percent.0",
        "Drops.sizes.0",
        "OwnExercise.muscles.0",
        "SetGroup.reps.1",
        "PlateMachine.pegs.0",
        "PlateStock.mass.0",
        "Step.reps_step.0",
        "Wave.rise.0",
        "ByWeek.load.0",
        "Lift.one_rm_lb.0",
    } <= names


@pytest.mark.parametrize(("model", "name", "way"), FIELDS)
def test_only_numbers_are_numbers(model, name, way):
    good = [number for number in CANDIDATES if not _refused(model, name, way(number))]
    assert good, "no candidate fits: add one"
    for number in good:
        assert _refused(model, name, way(str(number))), f'"{number}" passed'
    optional = not _refused(model, name, None)
    for value in NO_NUMBERS:
        if value is None and optional and way(None) is None:
            continue
        assert _refused(model, name, way(value)), f"{value!r} passed"


@pytest.mark.parametrize("value", ["72", "72.5", True])
def test_the_remedy_speaks_of_numbers(value):
    from workbench.lifter import Lifter

    with pytest.raises(ValueError, match="give a number without quotes") as caught:
        validate({"name": "X", "lifts": {"back squat": {"one_rm_kg": value}}}, Lifter, "x.toml")
    assert str(caught.value).startswith("x.toml: lifts.back squat.one_rm_kg: ")


def test_a_whole_number_stands_for_any_number():
    from workbench.lifter import Lifter

    assert validate({"name": "X", "lifts": {"back squat": {"one_rm_kg": 100}}}, Lifter).lift("back squat").one_rm == 100
