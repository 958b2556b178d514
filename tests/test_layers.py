"""The layer rule of DEVELOPERS.md, read from the imports: data flow one way, from files to draws to pictures."""

from __future__ import annotations

import ast
import functools
import graphlib
from collections.abc import Iterable
from pathlib import Path

import pytest

import workbench

PACKAGE = Path(workbench.__file__).parent

#: From the top of the flow to its end. A module imports from its own layer and from those above, never from below.
LAYERS: list[set[str]] = [
    {"loading", "quantities"},
    {"models"},
    {"present"},
    {"reference"},
    {"gym"},
    {"lifter"},
    {"prescription"},
    {"log"},
    {"simulate"},
    {"fit"},
    {"evidence"},
    {"answers"},
    {"figures"},
    {"publish"},
    {"public"},
    {"panels"},
    {"commands"},
    {"__main__"},
]
LAYER_OF = {name: number for number, names in enumerate(LAYERS) for name in names}

#: Models are arithmetic on arrays: no file, clock, randomness, or other library can come in through these.
MODELS_MAY_IMPORT = {
    "__future__",
    "abc",
    "collections",
    "dataclasses",
    "enum",
    "functools",
    "math",
    "numpy",
    "types",
    "typing",
    "workbench",
}
READS_OR_DRAWS = {
    f"{numpy}.{name}" for numpy in ("np", "numpy") for name in ("random", "load", "loadtxt", "genfromtxt", "fromfile")
}
#: Panels bind controls to calls and figures draw what they are given: what would do sums there stays out.
NO_MATHS = {"panels": {"numpy", "scipy", "math", "statistics", "random"}, "figures": {"scipy", "statistics", "random"}}

MODULES = sorted(path for path in PACKAGE.rglob("*.py") if path != PACKAGE / "__init__.py")


def name_of(path: Path) -> str:
    """Return the dotted name below the package: models/fatigue.py is models.fatigue."""
    parts = list(path.relative_to(PACKAGE).with_suffix("").parts)
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


KNOWN = {name_of(path) for path in MODULES}


def imported(tree: ast.AST) -> set[str]:
    """Return the dotted names that a module imports, those for type checking and inside functions included."""
    names: set[str] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            names.update(alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            module = "." * node.level + (node.module or "")
            names.update(f"{module}.{alias.name}" for alias in node.names)
    return names


def own_modules(tree: ast.AST) -> set[str]:
    """Return the modules of this package among the imports, as `name_of` names them."""
    found = set()
    for name in imported(tree):
        root, _, rest = name.partition(".")
        if root != "workbench" or not rest:
            continue
        while rest not in KNOWN and "." in rest:
            rest = rest.rpartition(".")[0]
        found.add(rest)
    return found


def against_the_flow(name: str, imports: Iterable[str]) -> list[str]:
    """Return those of a module's imports that come from a layer below its own."""
    own = LAYER_OF[name.partition(".")[0]]
    return sorted(other for other in imports if LAYER_OF[other.partition(".")[0]] > own)


def impurities(tree: ast.AST) -> list[str]:
    """Return what a model may not do: import beyond arithmetic, open a file, draw a random number."""
    faults = {f"import {name}" for name in imported(tree) if name.partition(".")[0] not in MODELS_MAY_IMPORT}
    faults |= {f"import {name}" for name in imported(tree) if name.startswith("numpy.random")}
    for node in ast.walk(tree):
        if isinstance(node, ast.Name) and node.id in {"open", "__import__", "exec", "eval"}:
            faults.add(node.id)
        if isinstance(node, ast.Attribute) and ast.unparse(node) in READS_OR_DRAWS:
            faults.add(ast.unparse(node))
    return sorted(faults)


def parse(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"), filename=str(path))


@functools.cache
def own_modules_at(path: Path) -> frozenset[str]:
    return frozenset(own_modules(parse(path)))


@pytest.mark.parametrize("path", MODULES, ids=name_of)
def test_every_module_has_a_layer_and_imports_only_from_it_and_above(path: Path) -> None:
    name = name_of(path)
    assert name.partition(".")[0] in LAYER_OF, f"{name} has no layer: give it one in this test and in DEVELOPERS.md"
    unknown = [other for other in own_modules_at(path) if other.partition(".")[0] not in LAYER_OF]
    assert unknown == [], f"{name} imports what has no layer or does not exist"
    assert against_the_flow(name, own_modules_at(path)) == [], f"{name} imports against the flow"


def test_no_two_modules_import_each_other() -> None:
    graph = {}
    for path in MODULES:
        # A package's __init__ gathers its own modules; they import each other, not the package.
        inside = f"{name_of(path)}." if path.name == "__init__.py" else None
        graph[name_of(path)] = {
            other for other in own_modules_at(path) if inside is None or not other.startswith(inside)
        }
    graphlib.TopologicalSorter(graph).prepare()  # raises CycleError with the cycle in its text


@pytest.mark.parametrize("path", [path for path in MODULES if "models" in path.parts], ids=name_of)
def test_models_are_arithmetic_only(path: Path) -> None:
    assert impurities(parse(path)) == []


@pytest.mark.parametrize("path", [path for path in MODULES if name_of(path).split(".")[0] in NO_MATHS], ids=name_of)
def test_panels_and_figures_do_no_maths(path: Path) -> None:
    forbidden = NO_MATHS[name_of(path).partition(".")[0]]
    assert {name.partition(".")[0] for name in imported(parse(path))} & forbidden == set()


@pytest.mark.parametrize("path", MODULES, ids=name_of)
def test_a_module_stays_readable_in_one_sitting(path: Path) -> None:
    lines = len(path.read_text(encoding="utf-8").splitlines())
    assert lines <= 420, f"{name_of(path)} has {lines} lines: split it"


def test_the_rules_can_be_broken() -> None:
    """Each rule above refuses a source that breaks it; else it would hold nothing."""
    upwards = own_modules(ast.parse("from workbench.reference.sources import sources"))
    assert against_the_flow("quantities", upwards) == ["reference.sources"]
    assert against_the_flow("models.fatigue", upwards) == ["reference.sources"]
    hidden = "from typing import TYPE_CHECKING\nif TYPE_CHECKING:\n    from workbench.panels import BlockPanel"
    assert against_the_flow("reference.sources", own_modules(ast.parse(hidden))) == ["panels"]
    assert against_the_flow("gym", own_modules(ast.parse("from workbench.quantities import to_kg"))) == []
    for source in (
        "import time",
        "from numpy.random import default_rng",
        "import numpy as np\nnp.random.default_rng()",
        "open('x')",
        "from pathlib import Path",
        "import pandas as pd",
        "import numpy as np\nnp.loadtxt('x')",
        "from . import fatigue",
    ):
        assert impurities(ast.parse(source)), source
