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
CANDIDATES = (1, 2, 5, 0.5, 50, 0.1, 72.5, 105)
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


def _ways(annotation, fewest=1):
    """Ways to write one number where such a value is wanted: functions from the number to the value.

    ``fewest``: how many numbers a list wants.
    """
    origin, parts = typing.get_origin(annotation), typing.get_args(annotation)
    if origin is typing.Annotated:
        lengths = [getattr(part, "min_length", None) for field in parts[1:] for part in getattr(field, "metadata", ())]
        return _ways(parts[0], next((length for length in lengths if length), 1))
    if origin in (typing.Union, types.UnionType):
        return [way for part in parts for way in _ways(part)]
    if origin is typing.Literal:
        return [lambda number: number] if any(type(part) is int for part in parts) else []
    if origin is list:
        # The others are plain and rise, as ends of an interval do.
        return [
            lambda number, way=way: [way(number), *(way(12 + place) for place in range(fewest - 1))]
            for way in _ways(parts[0])
        ]
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
    for number, way in enumerate(_ways(typing.Annotated[field.annotation, field]))
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


#: What every number of a file may be. A coach's files rest on it: a bound moves only on purpose.
BOUNDS = """
OwnExercise.setup_s >= 0 <= 900
OwnExercise.change_load_s >= 0 <= 300
OwnExercise.seconds_per_rep >= 0.5 <= 30
OwnExercise.body_mass_share >= 0 <= 1
OwnExercise.reach > 0 <= 1
OwnExercise.muscles > 0 <= 1
AddOn.count >= 1 <= 8
Dumbbells.count >= 1 <= 200
Ladder.count >= 1 <= 200
PlateStock.pairs >= 1 <= 40
Rack.count >= 1 <= 200
Stack.count >= 1 <= 200
OfGym.lifters >= 0 <= 1000000
OfGym.start >= -20 <= 20
OfGym.middle >= -20 <= 20
OfGym.spread > 0 <= 20
GymPrior.lifters >= 1 <= 1000000
GymPrior.sets >= 1 <= 1000000000
GymPrior.tie > -1 < 1
Together.others >= -100 <= 1000000
Together.correlations > -1 < 1
FromSet.kg >= 0.1 <= 1000
FromSet.lb >= 0.1 <= 2200
FromSet.reps >= 1 <= 20
FromSet.reps_in_reserve >= 0 <= 5
Lift.one_rm_kg >= 0.1 <= 1000
Lift.one_rm_lb >= 0.1 <= 2200
Lift.kept_low_percent > 0 <= 30
Lift.one_rm_interval > 0 <= 5000
Lift.endurance_interval > 0 <= 5000
Lifter.recovery_interval > 0 <= 5000
Lifter.carry_over_interval > 0 <= 5000
Lift.uncertainty_percent >= 0 <= 40
Lift.endurance >= 0.003 <= 0.3
Lifter.body_mass_kg >= 25 <= 300
Lifter.training_years >= 0 <= 80
Lifter.recovery_rate >= 0.2 <= 5
Lifter.carry_over >= 0.2 <= 5
RepsAtPercent.percent >= 30 <= 97.5
RepsAtPercent.reps > 1 <= 100
Adjust.lower >= 0 <= 30
Adjust.lowest >= 50 <= 100
Adjust.increase >= 0 <= 10
Adjust.increase_from >= 2 <= 10
Adjust.highest >= 100 <= 110
Adjust.end_after >= 1 <= 10
Block.weeks >= 1 <= 52
Drops.sizes > 0 < 90
Drops.change_s >= 0 <= 120
LighterWeek.week >= 1 <= 52
LighterWeek.load > 0 <= 1
LighterWeek.sets > 0 <= 1
Limits.chance_of_reps > 0 < 1
Limits.session_minutes > 0 <= 300
Session.day >= 1 <= 7
Session.percent_change >= -60 <= 60
Session.reps_change >= -20 <= 20
SetGroup.count >= 1 <= 20
SetGroup.percent >= 1 <= 120
SetGroup.reps_in_reserve >= 0 <= 10
SetGroup.part_of_group >= 1 <= 20
SetGroup.part >= 0.01 <= 1.2
SetGroup.kg >= 0.1 <= 1000
SetGroup.lb >= 0.1 <= 2200
SetGroup.rest_s >= 0 <= 1800
SetGroup.seconds_per_rep >= 0.5 <= 30
ByWeek.load >= 0 <= 2200
ByWeek.reps >= 1 <= 100
ByWeek.sets >= 0 <= 20
RepsThenLoad.reps_to >= 1 <= 100
RepsThenLoad.reps_step >= 1 <= 10
RepsThenLoad.step >= -100 <= 100
Step.step >= -100 <= 100
Step.reps_step >= -10 <= 10
Wave.length >= 2 <= 12
Wave.step >= -100 <= 100
Wave.rise >= -100 <= 100
_Manifest.format >= 1 <= 1
_Manifest.seed >= 0 < 9.223372037e+18
_Manifest.draws >= 1 <= 1000000
_Manifest.chance_of_block >= 0 <= 1
_Manifest.revision >= 1 <= 1000000
"""


def _bounds(annotation, metadata=()):
    """Bounds in the order in which a field states them."""
    signs = {"gt": ">", "ge": ">=", "lt": "<", "le": "<="}
    for part in metadata:
        yield from (f"{signs[key]} {getattr(part, key):.10g}" for key in signs if getattr(part, key, None) is not None)
        yield from _bounds(None, getattr(part, "metadata", ()) or ())
    parts = typing.get_args(annotation)
    if typing.get_origin(annotation) is typing.Annotated:
        yield from _bounds(parts[0], parts[1:])
    else:
        for part in parts:
            yield from _bounds(part)


def test_the_range_of_every_number_of_a_file():
    stated = {
        f"{model.__name__}.{name}": " ".join(_bounds(field.annotation, field.metadata))
        for model in _models()
        for name, field in model.model_fields.items()
    }
    assert {name: text for name, text in stated.items() if text} == dict(
        line.split(" ", 1) for line in BOUNDS.strip().splitlines()
    )
