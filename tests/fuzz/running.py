"""Run cases in worker processes under limits of time and memory, and gather what goes wrong."""

from __future__ import annotations

import json
import math
import multiprocessing
import os
import resource
import shutil
import signal
import sys
import tempfile
import time
import traceback
import warnings
from collections import Counter, deque
from dataclasses import dataclass, field
from pathlib import Path
from types import FrameType
from typing import Any

from tests.fuzz.readers import BrokenPromiseError, made_case, try_case, write_case

__all__ = ["PATIENCE_S", "Summary", "examine", "fuzz"]

#: Longest that a case may take, of the processor's time: a machine that others use too is no fault of the reader.
PATIENCE_S = 5
#: Longest that a case may wait for something.
_WAIT_S = 60
#: A worker that is silent for so long sits in code that no signal interrupts, and is ended.
_SILENCE_S = 120.0
#: Most that a worker may grow by, bytes.
_MEMORY = 1 << 30
#: Cases that one worker process tries: what it must read first is read for so many.
_BATCH = 5_000
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
    processor_s: float = 0.0
    wall_s: float = 0.0

    def __str__(self) -> str:
        """Return the findings as text, most frequent first."""
        found = f"{sum(self.groups.values())} findings in {len(self.groups)} groups"
        times = f"{self.processor_s:.1f} s of the processor, {self.wall_s:.1f} s by the clock"
        lines = [f"{self.reader}: {self.cases} cases, {found}; {times}"]
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


@dataclass
class _Batch:
    """Cases that one worker tries, how many of them it has tried, and since when it is silent."""

    reader: str
    seed: int
    numbers: range
    until: float
    scratch: Path
    done: Any
    process: Any = None
    seen: int = 0
    since: float = field(default_factory=time.monotonic)


def _work(batch: _Batch) -> None:
    """Try each case; the findings are appended to a file, so that they survive the end of the process."""
    if sys.platform == "linux":
        _limit_memory()
    tempfile.tempdir = str(batch.scratch)  # for what the reader and the maker of a case put away meanwhile
    for number in batch.numbers:
        if time.monotonic() > batch.until:
            return
        case = made_case(batch.reader, batch.seed, number)
        folder = batch.scratch / f"{number}"
        folder.mkdir()
        finding = examine(batch.reader, write_case(case, folder), case.told)
        if finding is not None:
            with (batch.scratch / "findings.jsonl").open("a") as handle:
                handle.write(json.dumps([number, finding.kind, finding.where, finding.message]) + "\n")
        shutil.rmtree(folder, ignore_errors=True)
        batch.done.value += 1


def fuzz(reader: str, *, cases: int, seed: int, jobs: int, output: Path, minutes: float = math.inf) -> Summary:
    """Try cases 0, 1, 2 ... until there are so many, or so many minutes are over.

    Reproducers go to folders below ``output``; the summary there is written anew after each batch.
    """
    made_case(reader, seed, 0)  # what all cases are made of is made once, before the workers are forked
    context = multiprocessing.get_context("fork")
    summary = Summary(reader)
    begin, busy = time.monotonic(), _children_s()
    until = begin + 60 * minutes
    size = min(_BATCH, math.ceil(cases / jobs))
    waiting = deque(range(at, min(at + size, cases)) for at in range(0, cases, size))
    running: list[_Batch] = []
    output.mkdir(parents=True, exist_ok=True)
    memory = "/dev/shm"
    with tempfile.TemporaryDirectory(prefix="fuzz-", dir=memory if os.access(memory, os.W_OK) else None) as base:
        while running or (waiting and time.monotonic() < until):
            while waiting and len(running) < jobs and time.monotonic() < until:
                scratch = Path(tempfile.mkdtemp(dir=base))
                batch = _Batch(reader, seed, waiting.popleft(), until, scratch, context.Value("q", 0, lock=False))
                batch.process = context.Process(target=_work, args=(batch,))
                batch.process.start()
                running.append(batch)
            time.sleep(0.05)
            for batch in [batch for batch in running if _ended(batch)]:
                running.remove(batch)
                if left := _gather_batch(batch, summary, output):
                    waiting.appendleft(left)
                summary.processor_s, summary.wall_s = _children_s() - busy, time.monotonic() - begin
                (output / f"{reader}.txt").write_text(f"{summary}\n", encoding="utf-8")
    return summary


def _children_s() -> float:
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def _ended(batch: _Batch) -> bool:
    """Whether the worker has ended; one that is silent for too long is ended here."""
    if batch.done.value != batch.seen:
        batch.seen, batch.since = batch.done.value, time.monotonic()
    if batch.process.is_alive() and time.monotonic() - batch.since > _SILENCE_S:
        batch.process.kill()
        batch.process.join()
    return not batch.process.is_alive()


def _gather_batch(batch: _Batch, summary: Summary, output: Path) -> range:
    """Add up what a worker found that has ended; the cases that it left untried because one ended it."""
    batch.process.join()
    done = batch.done.value
    findings = batch.scratch / "findings.jsonl"
    for line in findings.read_text().splitlines() if findings.exists() else ():
        number, *finding = json.loads(line)
        _gather(Finding(*finding), batch, number, summary, output)
    left = range(0)
    if batch.process.exitcode != 0:
        kind = "Hang" if batch.process.exitcode == -signal.SIGKILL else "WorkerEnded"
        finding = Finding(kind, f"exit code {batch.process.exitcode}", "see the worker's own output")
        _gather(finding, batch, batch.numbers[done], summary, output)
        done += 1
        left = batch.numbers[done:]
    summary.cases += done
    shutil.rmtree(batch.scratch, ignore_errors=True)
    return left


def _gather(finding: Finding, batch: _Batch, number: int, summary: Summary, output: Path) -> None:
    """Count a finding, and make the case again for the folder of reproducers if its group has few."""
    group = finding.group
    summary.groups[group] += 1
    summary.messages.setdefault(group, finding.message)
    folders = summary.kept.setdefault(group, [])
    if len(folders) >= _KEPT:
        return
    target = output / batch.reader / f"{list(summary.kept).index(group) + 1:03d}-{len(folders) + 1}"
    shutil.rmtree(target, ignore_errors=True)
    target.mkdir(parents=True)
    case = made_case(batch.reader, batch.seed, number)
    write_case(case, target)
    what = {"reader": batch.reader, "seed": batch.seed, "number": number, "main": case.main, "told": case.told}
    what |= {"finding": group, "message": finding.message}
    (target / "case.json").write_text(json.dumps(what, indent=2))
    folders.append(str(target))
