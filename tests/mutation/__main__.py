"""Make small wrong changes and see which no test notices: ``python -m tests.mutation --mutants 300 --seed 1``."""

from __future__ import annotations

import argparse
import json
import os
import random
import signal
import sys
import time
import tomllib
from collections import Counter
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path

from tests.mutation.covering import Covering, collect, digest_of, run_covered
from tests.mutation.operators import Mutant, mutants_of
from tests.mutation.trial import fork, is_compiled, is_plain, run_mutant, warm_up

ROOT = Path(__file__).parents[2]
FOLDERS = ("models", "prescription", "simulate", "fit", "log", "answers", "publish")
#: A mutant is tried with tests of at most so many seconds, those nearest to it first.
_MOST_S = 90.0
_EQUIVALENT = Path(__file__).with_name("equivalent.toml")


@dataclass
class Result:
    """What became of one mutant."""

    mutant: Mutant
    outcome: str
    tests: int
    noticed_by: str = ""
    left_out: int = 0

    def __str__(self) -> str:
        """Return it in two lines."""
        mutant = self.mutant
        why = "no test runs this line" if not self.tests else f"{self.tests} tests ran"
        more = f", {self.left_out} left out for time" if self.left_out else ""
        change = f"{mutant.before!r} -> {mutant.after!r}"
        return f"{mutant.file}:{mutant.line}  {change}  ({why}{more})\n    {mutant.source_line[:140]}"


def main() -> int:
    """Try the mutants, write the report; 1 where less than the wanted share was noticed."""
    arguments = _arguments()
    output: Path = arguments.output
    output.mkdir(parents=True, exist_ok=True)
    warm_up()
    covering = _covering(output, arguments.jobs)
    chosen = _chosen(arguments.folders, arguments.mutants, arguments.seed, arguments.only)
    results = _try_all(chosen, covering, arguments, output)
    text = _report(results, arguments.folders)
    (output / "report.txt").write_text(text, encoding="utf-8")
    content = [{**asdict(result), "folder": _folder(result.mutant)} for result in results]
    (output / "report.json").write_text(json.dumps(content, indent=1), encoding="utf-8")
    print(text)
    return int(_share(results) < arguments.wanted / 100)


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.mutation", description=__doc__)
    parser.add_argument("--mutants", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--folders", nargs="+", default=list(FOLDERS), help="folders or modules of the package")
    parser.add_argument("--only", metavar="FILE[:LINE]", help="every mutant of this file or line, in place of a sample")
    parser.add_argument("--seconds", type=float, default=_MOST_S, help="of tests that a mutant is tried with, at most")
    parser.add_argument("--wanted", type=float, default=80.0, help="percent that must be noticed")
    parser.add_argument("--output", type=Path, default=Path("build/mutation"))
    return parser.parse_args()


def _covering(output: Path, jobs: int) -> Covering:
    path = output / f"covering-{digest_of(ROOT)[:16]}.json"
    if not path.exists():
        print("Finding out which test runs which line ...", flush=True)
        os.environ["CI"] = "1"
        begin = time.monotonic()
        _wait(fork(lambda: run_covered(ROOT, path) or 0, output / "covering.log"))
        if not path.exists():
            raise SystemExit(f"the suite could not be run: see {output / 'covering.log'}")
        print(f"... in {time.monotonic() - begin:.0f} s", flush=True)
    return collect(path)


def _chosen(folders: Sequence[str], count: int, seed: int, only: str | None) -> list[Mutant]:
    """A random change of each of so many random places, alike for every place of the folders."""
    if only:
        file, _, line = only.partition(":")
        return [m for places in mutants_of(ROOT / file, ROOT) for m in places if not line or m.line == int(line)]
    places = []
    for folder in folders:
        base = ROOT / "workbench" / folder
        files = sorted(base.rglob("*.py")) if base.is_dir() else [base.with_suffix(".py")]
        places += [place for file in files for place in mutants_of(file, ROOT)]
    rng = random.Random(seed)
    return [rng.choice(place) for place in rng.sample(places, min(count, len(places)))]


def _wait(child: int) -> int:
    _, status = os.waitpid(child, 0)
    return os.waitstatus_to_exitcode(status)


@dataclass
class _Running:
    mutant: Mutant
    tests: list[str]
    left_out: int
    log: Path
    deadline: float


def _try_all(chosen: list[Mutant], covering: Covering, arguments: argparse.Namespace, output: Path) -> list[Result]:
    reasons = _equivalents()
    results: list[Result] = []
    running: dict[int, _Running] = {}
    waiting = list(enumerate(chosen))
    logs = output / "logs"
    logs.mkdir(exist_ok=True)
    while waiting or running:
        while waiting and len(running) < arguments.jobs:
            number, mutant = waiting.pop(0)
            if mutant.key in reasons:
                results.append(Result(mutant, "equivalent", 0, reasons[mutant.key]))
                continue
            tests, left_out = _tests_for(mutant, covering, arguments.seconds)
            if not tests:
                results.append(Result(mutant, "survived", 0))
                continue
            limit = 30 + 4 * sum(covering.seconds[test] for test in tests)
            log = logs / f"{number:04d}.log"
            child = fork(lambda m=mutant, t=tests, s=limit: run_mutant(ROOT, m, t, s), log)
            running[child] = _Running(mutant, tests, left_out, log, time.monotonic() + 10 * limit)
        results += _gather(running)
        _say(results, len(chosen))
        time.sleep(0.05)
    return sorted(results, key=lambda result: (result.mutant.file, result.mutant.line))


def _gather(running: dict[int, _Running]) -> list[Result]:
    """The results of the children that have ended, or have had their time."""
    done = []
    for child, one in list(running.items()):
        ended, status = os.waitpid(child, os.WNOHANG)
        if not ended and time.monotonic() > one.deadline:
            os.killpg(child, signal.SIGKILL)
            ended, status = os.waitpid(child, 0)
        if ended:
            del running[child]
            code = os.waitstatus_to_exitcode(status)
            # 1: a test failed; 2: a test file could not be read; below 0: ended by a limit; 0: nothing noticed it.
            outcome = {0: "survived"}.get(code, "killed" if code in (1, 2) or code < 0 else "error")
            done.append(Result(one.mutant, outcome, len(one.tests), _noticed_by(one.log, code), one.left_out))
    return done


def _noticed_by(log: Path, code: int) -> str:
    if code < 0:
        return f"ended by signal {-code}"
    found = [line for line in log.read_text(errors="replace").splitlines() if line.startswith(("FAILED", "ERROR"))]
    return found[0][:200] if found else ""


_said = [0]


def _say(results: list[Result], total: int) -> None:
    if len(results) // 10 > _said[0]:
        _said[0] = len(results) // 10
        counts = Counter(result.outcome for result in results)
        print(f"{len(results)} of {total}: " + ", ".join(f"{n} {name}" for name, n in counts.items()), flush=True)


def _tests_for(mutant: Mutant, covering: Covering, most_s: float) -> tuple[list[str], int]:
    """The covering tests, those of the file named alike first, then by file, the quickest files first."""
    end_line = mutant.line + mutant.before.count("\n")
    tests = covering.tests(mutant.file, mutant.line, end_line, whole_file=mutant.at_import)
    if mutant.at_import and not tests:
        tests = _tests_that_import(mutant.file, covering)  # a module of constants runs nothing later
    if is_compiled((ROOT / mutant.file).read_text(encoding="utf-8")):  # of what runs compiled no line is seen to run
        unseen = [one for one in covering.seconds if ("/test_fused" in one or "[compiled" in one) and not is_plain(one)]
        tests += [one for one in unseen if one not in tests]
    by_file: dict[str, list[str]] = {}
    for test in tests:
        by_file.setdefault(test.partition("::")[0], []).append(test)
    words = set(Path(mutant.file).with_suffix("").parts[1:])

    def rank(file: str) -> tuple[int, float]:
        path = Path(file)
        near = len(words & {path.stem.removeprefix("test_"), *path.parts[1:-1]})
        return -near, sum(covering.seconds[test] for test in by_file[file])

    kept: list[str] = []
    total = 0.0
    for file in sorted(by_file, key=rank):
        for test in by_file[file]:
            total += covering.seconds[test]
            if total <= most_s or not kept:
                kept.append(test)
    return kept, len(tests) - len(kept)


def _tests_that_import(file: str, covering: Covering) -> list[str]:
    """Tests of the files that name a module, and its doctests."""
    name = ".".join(Path(file).with_suffix("").parts)
    files = {test.partition("::")[0] for test in covering.seconds}
    naming = {one for one in files if one == file or name in (ROOT / one).read_text(encoding="utf-8")}
    return [test for test in covering.seconds if test.partition("::")[0] in naming]


def _equivalents() -> dict[tuple[str, str, str, str], str]:
    """Changes that change nothing, each with the reason, as reviewed."""
    if not _EQUIVALENT.exists():
        return {}
    listed = tomllib.loads(_EQUIVALENT.read_text(encoding="utf-8")).get("mutants", [])
    return {(one["file"], one["line"], one["before"], one["after"]): one["reason"] for one in listed}


def _folder(mutant: Mutant) -> str:
    return Path(mutant.file).with_suffix("").parts[1]


def _share(results: list[Result]) -> float:
    counted = [result for result in results if result.outcome != "equivalent"]
    return sum(result.outcome == "killed" for result in counted) / max(len(counted), 1)


def _report(results: list[Result], folders: Sequence[str]) -> str:
    lines = [
        f"{'folder':12} {'mutants':>8} {'killed':>8} {'survived':>9} {'equivalent':>11} {'error':>6} {'killed %':>9}"
    ]
    for folder in [*dict.fromkeys(_folder(result.mutant) for result in results), "all"]:
        those = [result for result in results if folder in ("all", _folder(result.mutant))]
        counts = Counter(result.outcome for result in those)
        numbers = (
            f"{len(those):8} {counts['killed']:8} {counts['survived']:9} {counts['equivalent']:11} {counts['error']:6}"
        )
        lines.append(f"{folder:12} {numbers} {100 * _share(those):8.0f}%")
    for outcome, title in (
        ("survived", "Survivors"),
        ("error", "Could not be tried"),
        ("equivalent", "Change nothing"),
    ):
        those = [result for result in results if result.outcome == outcome]
        if those:
            lines += [
                "",
                f"{title}:",
                *(f"  {result}" + (f"\n    {result.noticed_by}" if result.noticed_by else "") for result in those),
            ]
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    sys.exit(main())
