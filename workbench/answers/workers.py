"""Many lifters worked through in blocks, in this process or on workers; memory does not grow with their number.

Blocks are made as they are handed out, a few at a time, and what they come to is passed on in their order: neither how
the lifters are cut into blocks, nor how many workers share them, nor the loss of one changes any digit.
"""

from __future__ import annotations

import asyncio
import concurrent.futures
import contextlib
import hashlib
import importlib
import itertools
import logging
from collections import deque
from collections.abc import Callable, Generator, Iterable, Iterator, Sequence
from typing import Any, Final

import numpy as np

from workbench.quantities import InputError

__all__ = ["Progress", "local_cluster", "on_cluster", "seed_of", "work_through"]

#: Blocks that are on the way for each worker: enough that none stands idle, few enough that memory stays flat.
ON_THE_WAY: Final = 3
#: How often a block of lifters may be lost with its worker before the run gives up.
_LOSSES: Final = 10
#: Seconds that a scheduler has to answer.
_PATIENCE: Final = 15
#: Where time goes would be a table a second on each worker; the steps of each task hold what was handed out with it.
_NO_RECORDS: Final = {"distributed.worker.profile.enabled": False, "distributed.admin.low-level-log-length": 0}

Progress = Callable[[int, int], bool | None]


def work_through(
    work: Callable[[Any], Sequence[Any]],
    items: Sequence[Any],
    size: int,
    *,
    cluster: str | None,
    workers: int,
    progress: Progress | None,
) -> Iterator[Any]:
    """Work through lifters, so many of them together, in this process or on workers.

    Parameters
    ----------
    work : callable
        Returns what each of a list of items comes to.
    items : sequence
        Asked for block by block.
    size : int
        How many are given to ``work`` together.
    cluster, workers, progress
        As for `workbench.answers.team.team_check`.

    Yields
    ------
    object
        What each item comes to, in their order; fewer where the run was stopped.
    """
    blocks = (list(items[at : at + size]) for at in range(0, len(items), size))
    here = (work(block) for block in blocks)
    done = 0
    with contextlib.closing(here if cluster is None else on_cluster(work, blocks, cluster, workers)) as results:
        for found in results:
            done += len(found)
            stopped = progress is not None and progress(done, len(items)) is False
            yield from found
            if stopped:
                break


@contextlib.contextmanager
def local_cluster(workers: int) -> Iterator[Any]:
    """Start workers on this computer and end them: nothing listens outside, no log line comes in between or after.

    One thread each, since numpy work shares no thread well. Nothing is written down beside the work (`_NO_RECORDS`).
    """
    dask: Any = importlib.import_module("dask")
    distributed: Any = importlib.import_module("distributed")
    log = logging.getLogger("distributed")
    level = log.level
    log.setLevel(logging.CRITICAL)  # the cluster's own silence ends before it does
    try:
        with (
            dask.config.set(_NO_RECORDS),
            distributed.LocalCluster(
                n_workers=workers,
                threads_per_worker=1,
                dashboard_address="127.0.0.1:0",  # without the address it would answer everybody
                host="127.0.0.1",
                silence_logs=logging.CRITICAL,
            ) as cluster,
        ):
            yield cluster
    finally:
        log.setLevel(level)


def _answering(address: str) -> str:
    """Return the address once a scheduler there takes a connection.

    A client that finds nobody is never made: what is left of one ends whenever Python collects it, and waits for ever
    where another client is just then starting.

    Raises
    ------
    OSError, TypeError, ValueError
        If nothing answers there or it is no address.
    """
    comm: Any = importlib.import_module("distributed.comm")

    async def greet() -> None:
        connection = await comm.connect(address, timeout=_PATIENCE)
        await connection.close()

    with concurrent.futures.ThreadPoolExecutor(1) as thread:  # a notebook's own loop runs in this one
        thread.submit(lambda: asyncio.run(greet())).result()
    return address


def on_cluster(
    work: Callable[[Any], Any], blocks: Iterable[Any], cluster: str, workers: int
) -> Generator[Any, None, None]:
    """Hand blocks to the workers, a few at a time; what a lost worker held is done again elsewhere.

    Yields what each block comes to, in their order. ``cluster`` and ``workers`` as for
    `workbench.answers.team.team_check`, InputError too.
    """
    try:
        dask: Any = importlib.import_module("dask")
        distributed: Any = importlib.import_module("distributed")
    except ImportError:
        raise InputError(
            None,
            "cluster",
            "dask is not installed",
            'pip install "program-research-workbench[cluster]", or leave it out',
        ) from None
    with contextlib.ExitStack() as stack:
        stack.enter_context(dask.config.set({"distributed.scheduler.allowed-failures": _LOSSES}))
        try:
            workers_at = stack.enter_context(local_cluster(workers)) if cluster == "local" else _answering(cluster)
            client = stack.enter_context(distributed.Client(workers_at, timeout=_PATIENCE))
        except (OSError, TypeError, ValueError) as error:  # no one there, a bare tls address, no address
            remedy = "start a scheduler there, or use local"
            raise InputError(None, "cluster", f"{cluster} cannot be reached", remedy) from error
        waiting = iter(blocks)
        handed_out: deque[Any] = deque()

        def hand_out(count: int) -> None:
            for block in itertools.islice(waiting, count):
                handed_out.append(client.submit(work, block, pure=False, retries=_LOSSES))

        hand_out(ON_THE_WAY * max(len(client.nthreads()), 1))
        while handed_out:
            result = handed_out.popleft().result()
            hand_out(1)
            yield result


def seed_of(seed: int, name: str) -> int:
    """Return the seed of one lifter of a run: a lifter more or less changes no digit of another.

    >>> seed_of(1, "A") == seed_of(1, "A") != seed_of(1, "B")
    True
    """
    digest = hashlib.sha256(name.encode("utf-8", "surrogatepass")).digest()
    words = tuple(int.from_bytes(digest[at : at + 4], "big") for at in range(0, 16, 4))
    state = np.random.SeedSequence(seed, spawn_key=words).generate_state(1, np.uint64)
    return int(state[0] >> np.uint64(1))
