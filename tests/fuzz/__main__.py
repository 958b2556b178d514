"""Feed the readers with made files: ``python -m tests.fuzz --reader csv --cases 50000 --seed 1 --jobs 2``."""

from __future__ import annotations

import argparse
import json
import math
import sys
from pathlib import Path

from tests.fuzz.readers import READERS, try_case
from tests.fuzz.running import examine, fuzz


def main() -> int:
    """Run, print the summary; 1 where anything was found."""
    parser = argparse.ArgumentParser(prog="python -m tests.fuzz", description=__doc__)
    parser.add_argument("--reader", choices=[*READERS, "all"], default="all")
    parser.add_argument("--cases", type=int, default=2_000, help="of each reader")
    parser.add_argument("--minutes", type=float, default=math.inf, help="of each reader, if sooner than its cases")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--output", type=Path, default=Path("build/fuzz"), help="folder of reproducers and summaries")
    parser.add_argument("--replay", type=Path, metavar="FOLDER", help="try one kept case again, with its traceback")
    arguments = parser.parse_args()
    if arguments.replay:
        return _replay(arguments.replay)
    found = False
    for reader in READERS if arguments.reader == "all" else [arguments.reader]:
        summary = fuzz(
            reader,
            cases=arguments.cases,
            minutes=arguments.minutes,
            seed=arguments.seed,
            jobs=arguments.jobs,
            output=arguments.output,
        )
        print(summary, flush=True)
        found = found or bool(summary.groups)
    return int(found)


def _replay(folder: Path) -> int:
    case = json.loads((folder / "case.json").read_text())
    (folder / "case.json").unlink()  # it is no part of a committed folder
    try:
        path = folder / case["main"]
        finding = examine(case["reader"], path, case["told"])
        print(finding.group if finding else "nothing is found any more")
        if finding:
            try_case(case["reader"], path, case["told"])
        return int(finding is not None)
    finally:
        (folder / "case.json").write_text(json.dumps(case, indent=2))


if __name__ == "__main__":
    sys.exit(main())
