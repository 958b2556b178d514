"""``python -m tests.faults.year --weeks 52 --lifters 8``: live through a year, say what was lost and what it cost."""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
from pathlib import Path

from tests.faults.year.lived import Year


def main() -> int:
    """Run; 1 where anything was lost."""
    parser = argparse.ArgumentParser(prog="python -m tests.faults.year", description=__doc__)
    parser.add_argument("--weeks", type=int, default=52)
    parser.add_argument("--lifters", type=int, default=8)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--no-review", action="store_true", help="leave the walk through the whole log out")
    parser.add_argument("--keep", type=Path, help="an empty folder to do it in, which stays")
    arguments = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="year-") as scratch:
        folder = (arguments.keep or Path(scratch)).resolve()
        (folder / "temporary").mkdir(parents=True)
        tempfile.tempdir = str(folder / "temporary")
        os.environ["WORKBENCH_HOME"] = str(folder)
        year = Year(folder, weeks=arguments.weeks, lifters=arguments.lifters, seed=arguments.seed, say=_say)
        year.live()
        if not arguments.no_review:
            year.review()
        faults = year.faults()
        sets = sum(map(len, year.books.sets.values()))
        print(f"{arguments.weeks} weeks, {arguments.lifters} lifters, {sets} sets, {len(faults)} faults")
        print("\n".join([*faults, *year.costs.lines(arguments.weeks)]))
    return int(bool(faults))


def _say(line: str) -> None:
    print(line, flush=True)


if __name__ == "__main__":
    sys.exit(main())
