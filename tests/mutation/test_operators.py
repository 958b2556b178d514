"""The wrong changes that the mutation runner makes: each still reads as Python, and none is a text or a type."""

import ast
import inspect
import tomllib
from pathlib import Path

import pytest

from tests.mutation import operators
from tests.mutation.operators import mutants_of
from tests.mutation.trial import _Finder

SOURCE = '''"""Doc with 1 < 2."""
from typing import TYPE_CHECKING, Annotated
import numpy as np
from pydantic import Field
if TYPE_CHECKING:
    from x import y
__all__ = ["f"]
LIMIT: Annotated[int, Field(le=5)] = 3

def f(a: int | None, b: float = 0.5, *, unit: str = "kg") -> "int | 7":
    """Between 1 and 2."""
    if not a or b <= 2.0:
        raise ValueError(f"{a + 1} is under 2")
    total = min(a, b) + np.where(a > b, a, b)
    return g(first=total[0], second=-b), zip(a, b, strict=True)

def warm_up():
    f(1, 2.0)
'''


@pytest.fixture
def found(tmp_path):
    path = tmp_path / "module.py"
    path.write_text(SOURCE)
    return [mutant for place in mutants_of(path, tmp_path) for mutant in place]


def test_every_change_is_still_python_and_differs(found):
    for mutant in found:
        changed = mutant.applied(SOURCE)
        assert ast.dump(ast.parse(changed)) != ast.dump(ast.parse(SOURCE)), mutant


def test_the_changes_are_those_that_people_make(found):
    assert {(mutant.line, mutant.before, mutant.after) for mutant in found} == {
        (8, "5", "6"), (8, "5", "4"), (8, "3", "4"), (8, "3", "2"),  # the bound inside the type does something
        (10, "0.5", "0.55"), (10, "0.5", "0.45"), (10, '"kg"', "'lb'"),
        (12, "not a or b <= 2.0", "False"), (12, "not a or b <= 2.0", "not (not a or b <= 2.0)"),
        (12, "not a", "(a)"), (12, "or", "and"), (12, "<=", "<"), (12, "<=", ">"), (12, "2.0", "2.2"),
        (12, "2.0", "1.8"), (13, 'raise ValueError(f"{a + 1} is under 2")', "pass"),
        (14, "+", "-"), (14, "min", "max"), (14, "a, b", "b, a"), (14, ">", ">="), (14, ">", "<="),
        (15, "0", "-1"), (15, "0", "1"), (15, "-b", "(b)"), (15, "total[0], second=-b", "-b, second=total[0]"),
    }  # fmt: skip


def test_what_runs_at_import_is_told_from_what_a_call_runs(found):
    assert {mutant.line for mutant in found if mutant.at_import} == {8, 10}


def test_the_changed_module_is_loaded_in_place_of_the_file(found, tmp_path):
    mutant = next(mutant for mutant in found if mutant.after == "4" and mutant.before == "3")
    finder = _Finder("module", tmp_path / "module.py", mutant.applied(SOURCE))
    spec = finder.find_spec("module", None)
    code = spec.loader.get_code("module")
    values = {}
    exec(code, values)
    assert values["LIMIT"] == 4
    assert finder.find_spec("another", None) is None


def test_most_of_the_package_can_be_changed_and_still_reads():
    root = Path(inspect.getfile(operators)).parents[2]
    path = root / "workbench" / "simulate" / "run.py"
    text = path.read_text(encoding="utf-8")
    places = mutants_of(path, root)
    assert len(places) > 100
    for mutant in (mutant for place in places[::7] for mutant in place):
        ast.parse(mutant.applied(text))


def test_every_change_that_changes_nothing_is_one_that_can_be_made():
    root = Path(inspect.getfile(operators)).parents[2]
    listed = tomllib.loads((root / "tests/mutation/equivalent.toml").read_text(encoding="utf-8"))["mutants"]
    files = {one["file"] for one in listed}
    made = {mutant.key for file in files for places in mutants_of(root / file, root) for mutant in places}
    gone = [one for one in listed if (one["file"], one["line"], one["before"], one["after"]) not in made]
    assert not gone, "take out what names a line that is no more, or write it as it is now"
