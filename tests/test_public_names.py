"""The public names of the package: a fixed list, each loadable, none hidden by a module, each refusing in words."""

import importlib
import inspect
import json
import pkgutil
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import workbench
import workbench.panels
from tests.own_gyms import make_gym
from workbench.models.load_reps import CURVES
from workbench.publish.commit import Decision
from workbench.quantities import SEED
from workbench.reference.sources import data_path

NAMES = [
    "CURVES",
    "FORMS",
    "FatigueForm",
    "InputError",
    "SetDone",
    "Where",
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
    "studies",
    "team",
    "today",
    "volume",
    "walk_forward",
    "what_can_go",
    "what_is_unsure",
]
FUNCTIONS = [name for name in NAMES if name.islower()]

NOTEBOOKS = sorted((Path(__file__).resolve().parents[1] / "notebooks").glob("*.ipynb"))
_DEMO = data_path("demo")
BLOCK = _DEMO / "block.toml"
LIFTER = _DEMO / "lifters" / "emre_sandoval.toml"
ROOM = _DEMO / "rooms" / "boathouse_hall.toml"
LOG = _DEMO / "logs" / "emre_sandoval_weeks_1_2.csv"
FEW = {"draws": 10, "seed": 1}
DONE = workbench.SetDone("barbell bench pull", 45, 6)
KNOB = "rest=150,180 of barbell bench pull"

#: Each question asked with paths only.
WITH_PATHS = {
    "change": lambda: workbench.change(BLOCK, percent=60),
    "check": lambda: workbench.check(str(BLOCK), str(LIFTER), str(ROOM), **FEW),
    "compare": lambda: workbench.compare([BLOCK], LIFTER, ROOM, **FEW),
    "curve": lambda: workbench.curve(LIFTER, "back squat", **FEW),
    "decide": lambda: workbench.decide(BLOCK, LIFTER, ROOM, [KNOB], limits=["session_minutes<=90"], **FEW),
    "drop": lambda: workbench.drop(LIFTER, "back squat", ROOM, load_kg=80, **FEW),
    "exchange": lambda: workbench.exchange(LIFTER, ROOM, "back squat"),
    "fit_log": lambda: workbench.fit_log(LOG, LIFTER),
    "gym_numbers": lambda: workbench.gym_numbers(_DEMO, **FEW),
    "session": lambda: workbench.session(BLOCK, LIFTER, ROOM, 1, **FEW),
    "team": lambda: workbench.team(BLOCK, [LIFTER], ROOM, mend=False, **FEW),
    "today": lambda: workbench.today(BLOCK, LIFTER, ROOM, [DONE], **FEW),
    "volume": lambda: workbench.volume(BLOCK, LIFTER, ROOM, **FEW),
    "what_can_go": lambda: workbench.what_can_go(BLOCK, LIFTER, ROOM, minutes=5, **FEW),
    "what_is_unsure": lambda: workbench.what_is_unsure(BLOCK, LIFTER, ROOM, **FEW),
}

#: Each question with good arguments; every one of them is then exchanged for something of a wrong kind.
GOOD = {
    "change": {"block": BLOCK, "where": workbench.Where()},
    "check": {"block": BLOCK, "lifter": LIFTER, "room": ROOM, "draws": 10, "seed": 1, "limit": 0.8, "curve": "power"},
    "commit": {"block": BLOCK, "lifters": [LIFTER], "room": ROOM, "decision": Decision("a reason"), "draws": 10},
    "compare": {"blocks": [BLOCK], "lifter": LIFTER, "room": ROOM, "outcomes": ["minutes"], "draws": 10},
    "curve": {
        "lifter": LIFTER,
        "exercise": "back squat",
        "load_kg": 80,
        "reps_wanted": 8,
        "draws": 10,
    },
    "decide": {"block": BLOCK, "lifter": LIFTER, "room": ROOM, "knobs": [KNOB], "demand": "tonnage", "draws": 10},
    "drop": {"lifter": LIFTER, "exercise": "back squat", "room": ROOM, "load_kg": 80, "change_s": 10, "draws": 10},
    "exchange": {"lifter": LIFTER, "room": ROOM, "exercise": "back squat", "most": 3},
    "fit_log": {"rows": LOG, "lifter": LIFTER},
    "gym_numbers": {"folder": _DEMO, "draws": 10},
    "predict_sets": {"exercise": "bench press", "load_fractions": [0.7], "rests_s": [0], "draws": 10, "seed": 1},
    "read_block": {"path": BLOCK},
    "read_lifter": {"path": LIFTER},
    "read_log": {"path": LOG, "options": {"unit": "kg"}},
    "read_room": {"path": ROOM},
    "score": {"model": workbench.FORMS["effort"], "data": data_path("evidence", "sets.csv")},
    "session": {"block": BLOCK, "lifter": LIFTER, "room": ROOM, "session": 1, "week": 1, "draws": 10},
    "studies": {"table": "sets"},
    "team": {"block": BLOCK, "roster": [LIFTER], "room": ROOM, "draws": 10},
    "today": {"block": BLOCK, "lifter": LIFTER, "room": ROOM, "done": [DONE], "skipped": [], "draws": 10},
    "volume": {"block": BLOCK, "lifter": LIFTER, "room": ROOM, "draws": 10},
    "what_can_go": {"block": BLOCK, "lifter": LIFTER, "room": ROOM, "minutes": 5, "keep": [], "draws": 10},
    "what_is_unsure": {"block": BLOCK, "lifter": LIFTER, "room": ROOM, "draws": 10, "seed": 1, "curve": "power"},
}
WRONG = [
    pytest.param(name, argument, value, id=f"{name}-{argument}-{type(value).__name__}")
    for name, arguments in GOOD.items()
    for argument in arguments
    for value in (object(), 3.25j, pd.DataFrame({"a": [1]}))
    if not (argument == "rows" and isinstance(value, pd.DataFrame))
]


def test_the_list_changes_only_on_purpose():
    assert workbench.__all__ == NAMES


@pytest.mark.parametrize("name", FUNCTIONS)
def test_each_function_loads(name):
    assert callable(getattr(workbench, name))


def test_no_module_has_a_public_name():
    # Once imported, a module of the same name would stand where the function should.
    modules = {module.name for module in pkgutil.iter_modules(workbench.__path__)}
    assert modules.isdisjoint(NAMES)


def test_functions_stay_what_they_are_where_all_modules_were_imported_first():
    modules = [f"workbench.{module.name}" for module in pkgutil.iter_modules(workbench.__path__)]
    program = (
        f"import importlib, types, workbench\n"
        f"for name in {[name for name in modules if not name.endswith('__main__')]!r}: importlib.import_module(name)\n"
        "import workbench.answers.decide, workbench.answers.team, workbench.publish.commit, workbench.fit.learned\n"
        "for name in workbench.__all__:\n"
        "    assert not isinstance(getattr(workbench, name), types.ModuleType), name\n"
    )
    subprocess.run([sys.executable, "-c", program], check=True)


def test_an_unknown_name_is_an_attribute_error():
    with pytest.raises(AttributeError, match="no attribute 'no_such_name'"):
        _ = workbench.no_such_name


@pytest.mark.parametrize("name", workbench.panels.__all__)
def test_what_notebooks_show_loads_and_no_module_hides_it(name):
    modules = {module.name for module in pkgutil.iter_modules(workbench.panels.__path__)}
    assert name not in modules
    assert callable(getattr(workbench.panels, name))


@pytest.mark.parametrize("notebook", NOTEBOOKS, ids=lambda path: path.stem)
def test_a_notebook_imports_from_the_package_and_its_panels_only(notebook):
    cells = json.loads(notebook.read_text(encoding="utf-8"))["cells"]
    lines = [line for cell in cells if cell["cell_type"] == "code" for line in "".join(cell["source"]).splitlines()]
    found = {line.split()[1] for line in lines if line.startswith(("from workbench", "import workbench"))}
    assert found
    assert found <= {"workbench", "workbench.panels"}


@pytest.mark.parametrize("name", WITH_PATHS)
def test_a_path_is_read_where_an_object_is_wanted(name):
    assert WITH_PATHS[name]() is not None


def test_commit_reads_paths_and_a_reason_stands_for_a_decision(tmp_path):
    made = workbench.commit(BLOCK, [LIFTER], ROOM, "strong pulls", folder=tmp_path, draws=10)
    assert made.manifest["seed"] == SEED
    assert made.decision == Decision("strong pulls")


@pytest.mark.parametrize(("name", "argument", "value"), WRONG)
def test_what_is_of_a_wrong_kind_is_refused_in_words(name, argument, value, tmp_path):
    more = {"folder": tmp_path} if name == "commit" else {}
    with pytest.raises(workbench.InputError):
        getattr(workbench, name)(**{**GOOD[name], argument: value}, **more)


def test_a_refusal_names_the_argument_and_what_would_do():
    with pytest.raises(workbench.InputError, match="lifter: a DataFrame is not what is asked for; give a Lifter or"):
        workbench.check(BLOCK, pd.DataFrame(), ROOM)
    with pytest.raises(workbench.InputError, match="form: 'eff' is not one; use one of: steep end"):
        workbench.check(BLOCK, LIFTER, ROOM, form="eff")


def test_a_curve_may_be_named_or_be_a_plain_function():
    def as_shipped(load_fraction, endurance):
        return 1 - np.log(load_fraction) / endurance

    of_name, own, shipped = (
        workbench.check(BLOCK, LIFTER, ROOM, **FEW, **more).sets["reps_p50"]
        for more in ({"curve": "exponential"}, {"curve": as_shipped}, {})
    )
    assert of_name.equals(shipped)
    # The function is inverted by halving, to some 1e-15 of the load.
    assert np.abs(own - shipped).max() <= 1
    with pytest.raises(workbench.InputError, match="curve: 'line' is not one; use one of: exponential"):
        workbench.check(BLOCK, LIFTER, ROOM, curve="line")
    with pytest.raises(workbench.InputError, match="reps at the 1RM"):
        workbench.check(BLOCK, LIFTER, ROOM, curve=lambda load_fraction, endurance: 2 + 0 * load_fraction)


def test_questions_of_a_log_are_answered_by_a_mapping(tmp_path):
    path = tmp_path / "log.csv"
    path.write_text("date,exercise,set,load,reps\n2026-01-05,back squat,1,100,5\n", encoding="utf-8")
    assert [one.about for one in workbench.read_log(path).questions] == ["unit"]
    assert workbench.read_log(path, options={"unit": "kg"}).rows["load_kg"].tolist() == [100.0]
    with pytest.raises(workbench.InputError, match=r"'units' is no question of a log; use one of: .*unit"):
        workbench.read_log(path, options={"units": "kg"})


@pytest.mark.parametrize("name", FUNCTIONS)
def test_every_question_that_draws_has_the_same_seed(name):
    seed = inspect.signature(getattr(workbench, name)).parameters.get("seed")
    assert seed is None or seed.default == SEED


def test_every_seed_of_the_answers_is_the_same():
    import workbench.answers

    wrong = []
    for found in pkgutil.walk_packages(workbench.answers.__path__, "workbench.answers."):
        module = importlib.import_module(found.name)
        for name, value in vars(module).items():
            if inspect.isfunction(value) and value.__module__ == found.name:
                seed = inspect.signature(value).parameters.get("seed")
                if seed is not None and seed.default not in (SEED, inspect.Parameter.empty):
                    wrong.append(f"{found.name}.{name}")
    assert wrong == []


@pytest.mark.parametrize("value", [5, 2.5, True, {"a": 1}, b"own.toml", [1], object()])
@pytest.mark.parametrize(("read", "path"), [("read_room", ROOM), ("read_lifter", LIFTER)])
def test_own_exercises_of_a_wrong_kind_are_refused_in_words(read, path, value):
    with pytest.raises(workbench.InputError, match=r"exercises.*give a Catalogue, or the path or paths of exercise"):
        getattr(workbench, read)(path, exercises=value)


def test_a_curve_may_be_named_and_is_refused_in_words():
    named = list(CURVES)[-1]
    assert workbench.check(BLOCK, LIFTER, ROOM, curve=named, **FEW).plan.curve is CURVES[named]
    with pytest.raises(workbench.InputError, match=r"curve: 'bent' is not one; use one of: .*exponential"):
        workbench.check(BLOCK, LIFTER, ROOM, curve="bent")
    with pytest.raises(
        workbench.InputError, match="curve: 5 is not what is asked for; give a Curve, a function, or one of"
    ):
        workbench.check(BLOCK, LIFTER, ROOM, curve=5)


def test_a_lifter_file_is_read_with_the_exercises_of_the_room(tmp_path):
    """Files that lie in no gym's folder: only the room was told of the own exercises."""
    gym = make_gym(tmp_path, "gym")
    block, lifter, hall = (
        shutil.copy(gym / name, tmp_path) for name in ("block.toml", "lifters/a.toml", "rooms/hall.toml")
    )
    room = workbench.read_room(hall, exercises=gym / "exercises" / "own.toml")
    with pytest.raises(workbench.InputError, match="log"):
        workbench.read_lifter(lifter)
    check = workbench.check(block, lifter, room, **FEW)
    assert check.plan.exercises == ("log press", "back squat")
    assert check.plan.lifter.lift("log press").one_rm == 80
    assert workbench.team(block, [lifter], room, mend=False, **FEW).table["problem"].tolist() == [""]
    assert workbench.session(block, lifter, room, **FEW).name == "one"


#: Runs that a question makes where nobody says how many: what its time and its last digits rest on.
OTHER_DRAWS = {"gym_numbers": 600, "predict_sets": 600, "session": 1000, "walk_forward": 1000}
DRAWS = (
    OTHER_DRAWS
    | {"what_can_go": 1000}
    | dict.fromkeys(
        ("check", "commit", "compare", "curve", "decide", "drop", "team", "today", "volume", "what_is_unsure"), 2000
    )
)


def test_the_runs_of_every_question_where_nobody_says_how_many():
    signatures = {name: inspect.signature(getattr(workbench, name)).parameters for name in DRAWS}
    assert {name: parameters["draws"].default for name, parameters in signatures.items()} == DRAWS
    assert {parameters["seed"].default for parameters in signatures.values()} == {1}
    others = [one for one in map(workbench.__dict__.get, workbench.__all__) if inspect.isfunction(one)]
    assert [one.__name__ for one in others if "draws" in inspect.signature(one).parameters] == sorted(DRAWS)


@pytest.mark.parametrize(
    ("option", "value"),
    [("columns", 3), ("max_rows", "a"), ("max_rows", True), ("sheet", 2), ("pause_s", "15"), ("leave_out", "unit")],
)
def test_an_answer_of_the_wrong_kind_is_refused_in_words(option, value):
    log = _DEMO / "logs" / "emre_sandoval_weeks_1_2.csv"
    with pytest.raises(workbench.InputError, match=rf"{option}: .* is not an answer; give a"):
        workbench.read_log(log, options={option: value})


def test_a_signature_shows_the_names_of_its_defaults():
    shown = str(inspect.signature(workbench.check))
    assert "= <FatigueForm steep end>" in shown
    assert "= <Curve anchored exponential>" in shown
