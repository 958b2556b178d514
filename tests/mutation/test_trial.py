"""A mutant is seen by every test that runs with it, doctests of the changed module itself included."""

import os

import pytest

from tests.mutation.__main__ import ROOT
from tests.mutation.operators import mutants_of
from tests.mutation.trial import fork, is_compiled, run_mutant

DOCTEST = "workbench/quantities.py::workbench.quantities.to_kg"


@pytest.fixture
def apart(monkeypatch):
    """A child of this process has the package loaded already; it must load its own."""
    import sys

    for name in [name for name in sys.modules if name.partition(".")[0] == "workbench"]:
        monkeypatch.delitem(sys.modules, name)


def changed(source_line, after):
    places = mutants_of(ROOT / "workbench" / "quantities.py", ROOT)
    return next(m for place in places for m in place if m.source_line.startswith(source_line) and m.after == after)


@pytest.mark.parametrize(
    ("source_line", "after", "code"),
    [("return np.asarray(mass, dtype=np.float64) *", "/", 1), ("raise InputError(None, name", "pass", 0)],
    ids=["noticed", "not noticed by this test"],
)
def test_a_change_is_seen_by_the_doctest_of_its_module(apart, tmp_path, source_line, after, code):
    child = fork(lambda: run_mutant(ROOT, changed(source_line, after), [DOCTEST], 600.0), tmp_path / "log")
    _, status = os.waitpid(child, 0)
    assert os.waitstatus_to_exitcode(status) == code, (tmp_path / "log").read_text()


def test_a_compiled_function_is_known_by_its_module_text():
    text = (ROOT / "workbench" / "simulate" / "fused_sets.py").read_text(encoding="utf-8")
    assert is_compiled(text)
    assert not is_compiled((ROOT / "workbench" / "simulate" / "run.py").read_text(encoding="utf-8"))
