"""Versions: of Python and of what the package stands on, old, new and missing."""

import ast
import importlib.metadata
import re
import sys
import tomllib
import warnings
from pathlib import Path

import pytest

from workbench.answers.workers import on_cluster
from workbench.quantities import InputError

ROOT = Path(__file__).resolve().parents[2]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
OLDEST = (3, 11)


def numbers(version):
    """The leading whole numbers of a version."""
    return [int(part) for part in re.match(r"\d+(?:\.\d+)*", version)[0].split(".")]


def test_the_oldest_python_is_the_same_everywhere():
    assert PROJECT["requires-python"] == f">={OLDEST[0]}.{OLDEST[1]}"
    settings = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]
    assert settings["ruff"]["target-version"] == "py311"
    assert settings["mypy"]["python_version"] == "3.11"
    assert "Programming Language :: Python :: 3.11" in PROJECT["classifiers"]


@pytest.mark.parametrize("folder", ["answers", "commands", "fit", "log", "models", "panels", "reference", "simulate"])
def test_the_oldest_python_reads_every_module(folder):
    """New syntax is refused by the grammar of the oldest Python, whichever one runs here."""
    modules = list((ROOT / "workbench" / folder).rglob("*.py"))
    assert modules
    for path in modules:
        ast.parse(path.read_text(encoding="utf-8"), feature_version=OLDEST)


def test_the_grammar_of_the_oldest_python_is_older():
    with pytest.raises(SyntaxError):
        ast.parse("type Number = float", feature_version=OLDEST)


REQUIRED = [
    *PROJECT["dependencies"],
    *(one for extra in ("check", "cluster", "fast") for one in PROJECT["optional-dependencies"][extra]),
]


@pytest.mark.parametrize("required", REQUIRED)
def test_every_dependency_has_a_floor_that_lies_below_what_runs_here(required):
    name, floor = re.fullmatch(r"([\w-]+)>=([\d.]+)(?:,<[\d.]+)?", required).groups()
    try:
        here = importlib.metadata.version(name)
    except importlib.metadata.PackageNotFoundError:
        pytest.skip(f"{name} is not installed")
    assert numbers(here) >= numbers(floor)


def test_what_newer_versions_will_take_away_fails_today():
    """Dependencies and Python warn before they change: a warning that passes in silence is the next version's fault."""
    settings = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["pytest"]["ini_options"]
    assert settings["filterwarnings"] == ["error"]
    with pytest.raises(DeprecationWarning, match="will go"):
        warnings.warn("will go", DeprecationWarning, stacklevel=1)


def test_without_dask_the_way_out_is_named(monkeypatch):
    monkeypatch.setitem(sys.modules, "dask", None)
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(InputError, match=r"dask is not installed; pip install .*cluster.*or leave it out"):
        next(on_cluster(abs, [1], "local", 1))
