"""``python -m tests.calibration``: print the tables."""

from __future__ import annotations

import argparse
import multiprocessing
import time
from functools import partial

from tests.calibration.measure import Found, coverage_table, forecast_table, lifter_of, together
from tests.calibration.rows import ROWS, Row
from workbench.quantities import SEED


def _job(task: tuple[str, int], *, seed: int, draws: int) -> Found:
    name, number = task
    return lifter_of(ROWS[name], number, seed=seed, draws=draws)


def measured(names: list[str], lifters: int, *, seed: int, draws: int, jobs: int) -> dict[str, tuple[Row, Found]]:
    """Measure some lifters of each row, spread over processes."""
    tasks = [(name, number) for name in names for number in range(lifters)]
    job = partial(_job, seed=seed, draws=draws)
    if jobs == 1:
        parts = [job(task) for task in tasks]
    else:
        with multiprocessing.get_context("fork").Pool(jobs) as pool:
            parts = pool.map(job, tasks, chunksize=4)
    return {
        name: (ROWS[name], together(parts[index * lifters : (index + 1) * lifters])) for index, name in enumerate(names)
    }


def main() -> None:
    """Read the arguments, measure, print."""
    parser = argparse.ArgumentParser(prog="python -m tests.calibration", description=__doc__)
    parser.add_argument("--lifters", type=int, default=300, help="lifters a row")
    parser.add_argument("--rows", default="all", help=f"all, or names with commas: {', '.join(ROWS)}")
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--draws", type=int, default=1000, help="draws of a forecast")
    parser.add_argument("--jobs", type=int, default=1)
    asked = parser.parse_args()
    names = list(ROWS) if asked.rows == "all" else [name.strip() for name in asked.rows.split(",")]
    start = time.perf_counter()
    rows = measured(names, asked.lifters, seed=asked.seed, draws=asked.draws, jobs=asked.jobs)
    print(f"{asked.lifters} lifters a row, seed {asked.seed}, {time.perf_counter() - start:.0f} s\n")
    print(coverage_table(rows), forecast_table(rows), sep="\n\n")


if __name__ == "__main__":
    main()
