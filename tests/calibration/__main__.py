"""``python -m tests.calibration``: print the tables."""

from __future__ import annotations

import argparse
import multiprocessing
import sys
import time
from collections.abc import Iterable, Iterator
from contextlib import nullcontext
from functools import partial

from tests.calibration.measure import Found, coverage_table, forecast_table, lifter_of, together
from tests.calibration.rows import ROWS, Row
from workbench.quantities import SEED

Measured = Iterator[tuple[str, tuple[Row, Found]]]


def _job(task: tuple[str, int], *, seed: int, draws: int, noted: bool) -> Found:
    name, number = task
    return lifter_of(ROWS[name], number, seed=seed, draws=draws, noted=noted)


def measured(names: Iterable[str], lifters: int, *, seed: int, draws: int, jobs: int, noted: bool = True) -> Measured:
    """Measure some lifters of each row, spread over processes; each row as soon as it is done."""
    job = partial(_job, seed=seed, draws=draws, noted=noted)
    with multiprocessing.get_context("fork").Pool(jobs) if jobs > 1 else nullcontext() as pool:
        for name in names:
            tasks = [(name, number) for number in range(lifters)]
            parts = map(job, tasks) if pool is None else pool.map(job, tasks, chunksize=2)
            yield name, (ROWS[name], together(parts))


def main() -> None:
    """Read the arguments, measure, print."""
    parser = argparse.ArgumentParser(prog="python -m tests.calibration", description=__doc__)
    parser.add_argument("--lifters", type=int, default=300, help="lifters a row")
    parser.add_argument("--rows", default="all", help=f"all, or some: {'; '.join(ROWS)}")
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--draws", type=int, default=1000, help="draws of a forecast")
    parser.add_argument("--jobs", type=int, default=1)
    asked = parser.parse_args()
    names = list(ROWS) if asked.rows == "all" else [name.strip() for name in asked.rows.split(";")]
    unknown = [name for name in names if name not in ROWS]
    if unknown:
        parser.error(f"no such rows: {'; '.join(unknown)}; use {'; '.join(ROWS)}")
    start, rows = time.perf_counter(), {}
    for name, row in measured(names, asked.lifters, seed=asked.seed, draws=asked.draws, jobs=asked.jobs):
        rows[name] = row
        print(coverage_table({name: row}).splitlines()[-1], file=sys.stderr, flush=True)
    print(f"{asked.lifters} lifters a row, seed {asked.seed}, {time.perf_counter() - start:.0f} s\n")
    print(coverage_table(rows), forecast_table(rows), sep="\n\n")


if __name__ == "__main__":
    main()
