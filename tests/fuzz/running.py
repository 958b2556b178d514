"""Run cases in worker processes under limits of time and memory, and gather what goes wrong."""

from __future__ import annotations

import json
import multiprocessing
import resource
import shutil
import signal
import sys
import tempfile
import time
import traceback
import warnings
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from types import FrameType
from typing import Any

import hypothesis

from tests.fuzz.cases import Case
from tests.fuzz.readers import READERS, BrokenPromiseError, try_case, write_case

__all__ = ["PATIENCE_S", "Summary", "examine", "fuzz"]

#: Longest that a case may take, of the processor's time: a machine that others use too is no fault of the reader.
PATIENCE_S = 5
#: Longest that a case may wait for something.
_WAIT_S = 60
#: A worker that is silent for so long sits in code that no signal interrupts, and is ended.
_SILENCE_S = 120.0
#: Most that a worker may grow by, bytes.
_MEMORY = 1 << 30
_BATCH = 500
#: Reproducers kept of each kind of finding.
_KEPT = 3
_PROJECT = Path(__file__).parents[2]


class TooSlowError(BaseException):
    """The case ran longer than it may; no ``except Exception`` can swallow it."""


@dataclass
class Finding:
    """One case that went wrong: the error's type, the last line of the project that it passed, and what it said."""

    kind: str
    where: str
    message: str

    @property
    def group(self) -> str:
        """Cases of one group have one cause, as far as can be told from outside."""
        told = self.message if self.kind in {"BrokenPromiseError", "TooMuchMemory"} else ""
        return " ".join(filter(None, (self.kind, self.where, told)))


@dataclass
class Summary:
    """Of one run: cases, and findings by group with the folders of their reproducers."""

    reader: str
    cases: int = 0
    groups: Counter[str] = field(default_factory=Counter)
    kept: dict[str, list[str]] = field(default_factory=dict)
    messages: dict[str, str] = field(default_factory=dict)

    def __str__(self) -> str:
        """Return the findings as text, most frequent first."""
        lines = [
            f"{self.reader}: {self.cases} cases, {sum(self.groups.values())} findings in {len(self.groups)} groups"
        ]
        for group, count in self.groups.most_common():
            lines += [
                f"  {count:6d}  {group}",
                f"          {self.messages[group][:200]}",
                f"          {self.kept[group][0]}",
            ]
        return "\n".join(lines)


def examine(reader: str, path: Path, told: dict[str, Any]) -> Finding | None:
    """Read one case under the limits; None if all is as it should be."""
    before = _peak()
    _set_timers(PATIENCE_S, _WAIT_S)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            try_case(reader, path, told)
    except (Exception, TooSlowError) as error:  # noqa: BLE001 - whatever a reader raises is what is looked for
        _set_timers(0, 0)
        return Finding(type(error).__name__, _last_project_line(error), str(error)[:300])
    finally:
        _set_timers(0, 0)
    if _peak() - before > _MEMORY:
        return Finding("TooMuchMemory", reader, f"grew by more than {_MEMORY >> 20} MiB")
    return None


def _set_timers(busy_s: float, wait_s: float) -> None:
    """Have TooSlowError raised after so much of the processor's time, or of anybody's; 0 for never."""
    for number, timer, seconds in (
        (signal.SIGPROF, signal.ITIMER_PROF, busy_s),
        (signal.SIGALRM, signal.ITIMER_REAL, wait_s),
    ):
        signal.signal(number, _too_slow)
        signal.setitimer(timer, seconds)


def _too_slow(number: int, frame: FrameType | None) -> None:
    raise TooSlowError(f"more than {PATIENCE_S} s")


def _peak() -> int:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024


def _last_project_line(error: BaseException) -> str:
    frames = traceback.extract_tb(error.__traceback__)
    ours = [frame for frame in frames if str(_PROJECT / "workbench") in frame.filename]
    if not ours or isinstance(error, BrokenPromiseError):
        return ""
    last = ours[-1]
    return f"{Path(last.filename).relative_to(_PROJECT)}:{last.lineno} {last.name}"


def _limit_memory() -> None:
    with open("/proc/self/statm") as handle:  # noqa: PTH123 - a file of the system
        held = int(handle.read().split()[0]) * resource.getpagesize()
    resource.setrlimit(resource.RLIMIT_AS, (held + _MEMORY, held + _MEMORY))


def _generate(reader: str, seed: int, count: int, use: Callable[[Case], None]) -> None:
    """Call ``use`` with cases, the same ones for the same seed."""
    settings = hypothesis.settings(
        max_examples=count,
        database=None,
        deadline=None,
        phases=[hypothesis.Phase.generate],
        suppress_health_check=list(hypothesis.HealthCheck),
    )
    hypothesis.seed(seed)(settings(hypothesis.given(READERS[reader].cases)(use)))()


def _work(reader: str, seed: int, count: int, scratch: Path, done: Any) -> None:
    """Work through one batch; the findings are appended to a file, so that they survive the end of the process."""
    if sys.platform == "linux":
        _limit_memory()

    def use(case: Case) -> None:
        folder = scratch / f"{done.value}"
        folder.mkdir()
        path = write_case(case, folder)
        (scratch / "told.json").write_text(json.dumps(case.told))
        finding = examine(reader, path, case.told)
        if finding is not None:
            kept = scratch / f"found-{done.value}"
            _keep(folder, kept, case.told, reader, finding, inputs=case)
            with (scratch / "findings.jsonl").open("a") as handle:
                handle.write(json.dumps([finding.kind, finding.where, finding.message, str(kept)]) + "\n")
        shutil.rmtree(folder, ignore_errors=True)
        done.value += 1

    _generate(reader, seed, count, use)


def _keep(folder: Path, kept: Path, told: Any, reader: str, finding: Finding, inputs: Case | None) -> None:
    if inputs is not None:
        kept.mkdir()
        write_case(inputs, kept)
    else:
        shutil.copytree(folder, kept, symlinks=True)
    what = {"reader": reader, "told": told, "finding": finding.group, "message": finding.message}
    (kept / "case.json").write_text(json.dumps(what, indent=2))


@dataclass
class _Batch:
    process: Any
    scratch: Path
    done: Any
    seen: int = 0
    since: float = field(default_factory=time.monotonic)


def fuzz(reader: str, *, cases: int, seed: int, jobs: int, output: Path) -> Summary:
    """Run so many cases; reproducers go to folders below ``output``."""
    context = multiprocessing.get_context("fork")
    summary = Summary(reader)
    running: list[_Batch] = []
    number = 0
    with tempfile.TemporaryDirectory(prefix="fuzz-") as base:
        while summary.cases + len(running) * _BATCH < cases or running:
            while len(running) < jobs and summary.cases + len(running) * _BATCH < cases:
                scratch = Path(base) / f"{number}"
                scratch.mkdir()
                done = context.Value("q", 0, lock=False)
                count = min(_BATCH, cases - summary.cases - len(running) * _BATCH)
                process = context.Process(target=_work, args=(reader, seed * 1_000_003 + number, count, scratch, done))
                process.start()
                running.append(_Batch(process, scratch, done))
                number += 1
            time.sleep(0.05)
            running = [batch for batch in running if not _finished(batch, reader, summary, output)]
    return summary


def _finished(batch: _Batch, reader: str, summary: Summary, output: Path) -> bool:
    """Look after one batch; True once it has ended and its findings are gathered."""
    if batch.done.value != batch.seen:
        batch.seen, batch.since = batch.done.value, time.monotonic()
    silent = time.monotonic() - batch.since > _SILENCE_S
    if batch.process.is_alive() and not silent:
        return False
    if silent:
        batch.process.kill()
    batch.process.join()
    if batch.process.exitcode != 0:
        kind = "Hang" if silent else "WorkerEnded"
        _gather_death(batch, reader, kind, summary, output)
    findings = batch.scratch / "findings.jsonl"
    for line in findings.read_text().splitlines() if findings.exists() else ():
        kind, where, message, kept = json.loads(line)
        _gather(summary, Finding(kind, where, message), Path(kept), output)
    summary.cases += max(batch.done.value, 1)
    shutil.rmtree(batch.scratch, ignore_errors=True)
    return True


def _gather_death(batch: _Batch, reader: str, kind: str, summary: Summary, output: Path) -> None:
    folder = batch.scratch / f"{batch.done.value}"
    finding = Finding(kind, f"exit code {batch.process.exitcode}", "see the worker's own output")
    kept = batch.scratch / "ended"
    if folder.exists():
        told = json.loads((batch.scratch / "told.json").read_text())
        _keep(folder, kept, told, reader, finding, inputs=None)
    else:
        kept.mkdir()
    _gather(summary, finding, kept, output)


def _gather(summary: Summary, finding: Finding, kept: Path, output: Path) -> None:
    group = finding.group
    summary.groups[group] += 1
    summary.messages.setdefault(group, finding.message)
    folders = summary.kept.setdefault(group, [])
    if len(folders) < _KEPT:
        target = output / summary.reader / f"{list(summary.kept).index(group) + 1:03d}-{len(folders) + 1}"
        shutil.rmtree(target, ignore_errors=True)
        target.parent.mkdir(parents=True, exist_ok=True)
        shutil.move(kept, target)
        folders.append(str(target))
