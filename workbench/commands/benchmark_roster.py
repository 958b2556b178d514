"""Speed rows of deciding and of rosters, in the form of `workbench.commands.benchmark.Row`."""

from __future__ import annotations

import contextlib
import importlib
import importlib.util
import multiprocessing
import statistics
import time
from concurrent.futures import ProcessPoolExecutor
from typing import Any

from workbench.answers.team import local_cluster, team_check
from workbench.commands.benchmark import Row
from workbench.gym.equipment import Room, read_room
from workbench.lifter import Lifter, read_lifter
from workbench.prescription.block import Block
from workbench.prescription.schemes import constant_step, exercise_block
from workbench.reference.sources import data_path

__all__ = ["cluster_rows", "invented_roster", "roster_rows"]

_FEW, _MANY, _DRAWS = 200, 2000, 20
_WORKED, _WORKED_DRAWS = 400, 2000


def invented_roster(size: int) -> list[Lifter]:
    """Return invented lifters: one of the demonstration's, weaker and stronger by turns."""
    base = read_lifter(data_path("demo") / "lifters" / "emre_sandoval.toml")
    roster = []
    for number in range(size):
        factor = 0.6 + 0.007 * ((number * 37) % 100)
        lifts = {
            name: lift.model_copy(
                update={
                    "one_rm_kg": round(lift.one_rm * factor, 1),
                    "one_rm_lb": None,
                    "each_hand": None if lift.each_hand is None else False,
                }
            )
            for name, lift in base.lifts.items()
        }
        roster.append(base.model_copy(update={"name": f"Invented {number}", "lifts": lifts}))
    return roster


def _case() -> tuple[Block, Room]:
    block = exercise_block("barbell bench pull", constant_step(percent=72, sets=4, rest_s=90), weeks=4, days=(1, 4))
    return block, read_room(data_path("demo") / "rooms" / "boathouse_hall.toml")


def roster_rows() -> list[Row]:
    """Time 2,000 lifters against 200, in processor time: linear cost gives ten."""
    block, room = _case()
    seconds = []
    for size in (_FEW, _MANY):
        roster = invented_roster(size)
        start = time.process_time()
        team_check(block, roster, room, draws=_DRAWS, seed=1, mend=False)
        seconds.append(time.process_time() - start)
    return [
        Row(
            f"{_MANY:,} lifters / {_FEW} lifters",
            seconds[1] / seconds[0],
            12.0,
            True,
            f"{seconds[0]:.1f} s and {seconds[1]:.1f} s of processor time, {_DRAWS} draws each; linear is 10",
        )
    ]


def cluster_rows() -> list[Row]:
    """Time one Dask worker against two on the same roster, workers started and warm."""
    name, target = "one Dask worker / two", 1.8
    if importlib.util.find_spec("distributed") is None:
        return [Row(name, None, target, False, "the extra 'cluster' is not installed")]
    block, room = _case()
    roster = invented_roster(_WORKED)
    seconds: dict[int, list[float]] = {1: [], 2: []}
    run: dict[str, Any] = {"seed": 1, "mend": False}
    with contextlib.ExitStack() as stack:
        clusters = {workers: stack.enter_context(local_cluster(workers)) for workers in seconds}
        for workers, cluster in clusters.items():
            # Every worker has imported everything before the clock starts.
            team_check(block, roster[: 40 * workers], room, draws=10, cluster=cluster.scheduler_address, **run)
        for _ in range(3):
            for workers, cluster in clusters.items():
                start = time.perf_counter()
                team_check(block, roster, room, draws=_WORKED_DRAWS, cluster=cluster.scheduler_address, **run)
                seconds[workers].append(time.perf_counter() - start)
    ratio = statistics.median(one / two for one, two in zip(seconds[1], seconds[2], strict=True))
    plain = _plain_gain(block, room, roster)
    note = f"{_WORKED} lifters, {_WORKED_DRAWS:,} draws: {min(seconds[1]):.1f} s and {min(seconds[2]):.1f} s"
    other = f"two processes without Dask reach {plain:.2f} on this machine as busy as it is now"
    return [
        Row(name, ratio, target, False, f"{note}; {other}"),
        Row("gain by Dask / gain without", ratio / plain, 0.9, False, other),
    ]


def _plain_gain(block: Block, room: Room, roster: list[Lifter]) -> float:
    """How much faster two plain processes are than one, on the same work: what the machine has to give."""
    halves = [roster[: _WORKED // 2], roster[_WORKED // 2 :]]
    with ProcessPoolExecutor(2, mp_context=multiprocessing.get_context("spawn")) as pool:
        list(pool.map(_work, [block] * 4, [room] * 4, [roster[:20]] * 4))  # both have imported everything
        gains = []
        for _ in range(3):
            start = time.perf_counter()
            for half in halves:
                pool.submit(_work, block, room, half).result()
            middle = time.perf_counter()
            list(pool.map(_work, [block] * 2, [room] * 2, halves))
            gains.append((middle - start) / (time.perf_counter() - middle))
    return statistics.median(gains)


def _work(block: Block, room: Room, lifters: list[Lifter]) -> None:
    team_check(block, lifters, room, draws=_WORKED_DRAWS, seed=1, mend=False)
