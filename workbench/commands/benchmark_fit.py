"""Speed rows of learning a lifter from a log, in the form of `workbench.commands.benchmark.Row`."""

from __future__ import annotations

import importlib
import importlib.util
import statistics
import sys
import time
from collections.abc import Callable
from pathlib import Path
from types import ModuleType

from workbench.commands.benchmark import Row
from workbench.fit import fit_log
from workbench.fit.speed import irreducible_work, refit_case

__all__ = ["refit_rows", "sampler_rows"]

#: Steps that a sampler needs at least: about fifty autocorrelation times, of some forty steps each.
_STEPS_NEEDED, _STEPS_TIMED = 2000, 40


def refit_rows() -> list[Row]:
    """Time the refit of 300 sets against its array work, in time of the one processor that both use."""
    rows, lifter = refit_case()
    learned = fit_log(rows, lifter)
    pairs = [
        (_processor(lambda: fit_log(rows, lifter).summary()), _processor(lambda: irreducible_work(learned)))
        for _ in range(5)
    ]
    refit, floor = min(pair[0] for pair in pairs), min(pair[1] for pair in pairs)
    return [
        Row(
            "refit of 300 sets / its array work",
            statistics.median(pair[0] / pair[1] for pair in pairs),
            20.0,
            True,
            f"{1e3 * refit:.0f} ms of one processor (wanted: under 300); root, logarithm and normal distributions of "
            f"the last pass alone {1e3 * floor:.0f} ms",
        )
    ]


def sampler_rows() -> list[Row]:
    """Time a general-purpose sampler on the same model and log against the refit."""
    name = "general-purpose sampler / refit"
    tests = _in_tests("sampled_posterior"), _in_tests("test_agreement")
    if importlib.util.find_spec("emcee") is None or None in tests:
        return [Row(name, None, 100.0, False, "needs emcee and the tests beside the package")]
    sampled, agreement = tests
    assert sampled is not None
    assert agreement is not None
    log, lifter = agreement.short_log(0)
    refit = min(_processor(lambda: fit_log(log, lifter).summary()) for _ in range(5))
    begin = time.thread_time()
    sampled.sample(log, lifter, steps=_STEPS_TIMED, seed=1)
    needed = (time.thread_time() - begin) * _STEPS_NEEDED / _STEPS_TIMED
    return [
        Row(
            name,
            needed / refit,
            100.0,
            False,
            f"{len(log)} sets: refit {1e3 * refit:.0f} ms; {_STEPS_NEEDED:,} steps {needed:.0f} s "
            f"(from {_STEPS_TIMED})",
        )
    ]


def _processor(work: Callable[[], object]) -> float:
    begin = time.thread_time()
    work()
    return time.thread_time() - begin


def _in_tests(name: str) -> ModuleType | None:
    """Return a module of ``tests/fit``, which lies beside the package in a checkout and nowhere else."""
    root = Path(__file__).resolve().parents[2]
    if not (root / "tests" / "fit" / f"{name}.py").is_file():
        return None
    if str(root) not in sys.path:
        sys.path.append(str(root))
    return importlib.import_module(f"tests.fit.{name}")
