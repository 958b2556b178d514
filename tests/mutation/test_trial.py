"""A mutant is seen by every test that runs with it, doctests of the changed module itself included."""

import os
import subprocess
import sys

import pytest

from tests.mutation.__main__ import ROOT, _tests_for
from tests.mutation.covering import Covering
from tests.mutation.operators import mutants_of
from tests.mutation.trial import fork, is_compiled, run_mutant

DOCTEST = "workbench/quantities.py::workbench.quantities.to_kg"


@pytest.fixture
def apart(monkeypatch):
    """A child of this process has the package loaded already; it must load its own."""
    for name in [name for name in sys.modules if name.partition(".")[0] == "workbench"]:
        monkeypatch.delitem(sys.modules, name)


def changed(source_line, after, file="workbench/quantities.py"):
    places = mutants_of(ROOT / file, ROOT)
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


SERIES = "workbench/simulate/fused_series.py"
OF_SERIES = "tests/simulate/test_fused_series.py::"
#: What an exponential less one comes to, and what does not hang on it.
EXPONENTIAL, ARTANH = OF_SERIES + "test_the_exponential_to_the_last_digits[", OF_SERIES + "test_twice_the_artanh["


def change_of_series():
    return changed("return scale * more + (scale - 1.0)", "-", SERIES)


def tried_apart(*tests):
    """Try it in a process that has loaded nothing; its exit code and what was said of each run of tests."""
    program = f"""
import sys
from tests.mutation.test_trial import ROOT, change_of_series
from tests.mutation.trial import run_mutant
sys.exit(run_mutant(ROOT, change_of_series(), {list(tests)!r}, 600.0))
"""
    asked = [sys.executable, "-c", program]
    done = subprocess.run(asked, cwd=ROOT, capture_output=True, text=True, timeout=900, check=False)
    return done.returncode, [line for line in done.stdout.splitlines() if line.startswith("exit code")]


def test_nothing_is_compiled_for_what_a_plain_test_notices():
    code, runs = tried_apart(ARTANH + "compiled]", EXPONENTIAL + "plain]")
    assert code == 1
    assert [run[:11] for run in runs] == ["exit code 1"]


def test_what_no_plain_test_notices_is_compiled():
    pytest.importorskip("numba", reason="numba is not installed: pip install '.[fast]'")
    code, runs = tried_apart(EXPONENTIAL + "compiled]", ARTANH + "plain]")
    assert code == 1
    assert [run[:11] for run in runs] == ["exit code 0", "exit code 1"]


def test_compiled_tests_are_tried_beside_those_that_are_seen_to_run_a_line():
    mutant = change_of_series()
    seen, unseen, elsewhere = EXPONENTIAL + "plain]", EXPONENTIAL + "compiled]", "tests/simulate/test_run.py::test_one"
    not_run = ARTANH + "plain]"
    seconds = dict.fromkeys([elsewhere, not_run, unseen, seen], 1.0)
    covering = Covering({SERIES: {mutant.line: [seen], mutant.line - 1: [not_run]}}, seconds)
    assert _tests_for(mutant, covering, 90.0) == ([seen, unseen], 0)
    plain = changed("raise InputError(None, name", "pass")
    assert _tests_for(plain, Covering({plain.file: {plain.line: [elsewhere]}}, seconds), 90.0) == ([elsewhere], 0)
