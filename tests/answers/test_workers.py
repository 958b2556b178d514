"""Lifters worked through in blocks: how many of them, and of what they come to, are there at any one time."""

import contextlib
from collections.abc import Sequence

import pytest

from tests.alive import Alive
from workbench.answers.workers import ON_THE_WAY, local_cluster, work_through

SIZE = 4


class Item:
    def __init__(self, number):
        self.number = number
        ITEMS.seen(self)


class Found:
    def __init__(self, number):
        self.number = number
        FOUND.seen(self)


ITEMS, FOUND = Alive(), Alive()


class Items(Sequence):
    """Each made when it is asked for, as those of a shelf are."""

    def __init__(self, count):
        self.count = count

    def __len__(self):
        return self.count

    def __getitem__(self, at):
        if isinstance(at, slice):
            return [Item(number) for number in range(self.count)[at]]
        return Item(at)


def work(block):
    return [Found(one.number) for one in block]


@contextlib.contextmanager
def in_this_process(workers):
    """Workers that are threads, so that what they hold is counted here."""
    distributed = pytest.importorskip("distributed", reason="needs the extra 'cluster'")
    with distributed.LocalCluster(
        n_workers=workers, threads_per_worker=1, processes=False, dashboard_address=None
    ) as cluster:
        yield cluster.scheduler_address


def most_alive(count, cluster):
    ITEMS.most = FOUND.most = 0
    seen = 0
    for found in work_through(work, Items(count), SIZE, cluster=cluster, workers=1, progress=None):
        assert found.number == seen
        seen += 1
    del found
    assert seen == count
    return ITEMS.most, FOUND.most


def test_one_block_at_a_time_here():
    few, many = most_alive(3 * SIZE, None), most_alive(30 * SIZE, None)
    # The block that is worked on, and what came of the one before.
    assert few == many
    assert max(many) <= 2 * SIZE


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore::ResourceWarning", "ignore::DeprecationWarning")
@pytest.mark.parametrize("workers", [1, 2])
def test_no_more_blocks_are_on_the_way_than_the_workers_ask_for(workers):
    with in_this_process(workers) as cluster:
        items, found = most_alive(100 * SIZE, cluster)
    # Those on the way, the one that is passed on, and those that a scheduler has not yet let go.
    assert items <= SIZE * (ON_THE_WAY * workers + 3)
    assert found <= SIZE * (ON_THE_WAY * workers + 3)
    assert found > SIZE  # several at a time, or one worker would wait for the other


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore::ResourceWarning", "ignore::DeprecationWarning")
def test_nothing_piles_up_on_a_worker():
    distributed = pytest.importorskip("distributed", reason="needs the extra 'cluster'")
    seen = []

    def held(dask_worker):
        state = dask_worker.state
        return len(dask_worker.data), len(state.tasks), len(dask_worker.profile_history)

    with local_cluster(1) as cluster, distributed.Client(cluster) as client:

        def progress(_done, _all):
            seen.extend([*client.run(held).values(), (len(cluster.scheduler.tasks), 0, 0)])

        results = work_through(
            sum_slowly, [1] * 120, 2, cluster=cluster.scheduler_address, workers=1, progress=progress
        )
        assert list(results) == [1] * 120
    assert max(most for most, *_ in seen) <= ON_THE_WAY + 1
    assert max(tasks for _, tasks, _ in seen) <= ON_THE_WAY + 1
    # A worker's record of where its time goes would have grown with every second.
    assert max(records for *_, records in seen) == 0


def sum_slowly(block):
    import time

    time.sleep(0.05)  # as work takes, for the records that are made by the second
    return block


def test_a_stopped_run_keeps_what_was_done():
    told = []

    def progress(done, of):
        told.append((done, of))
        return done < 2 * SIZE

    found = work_through(work, Items(9 * SIZE), SIZE, cluster=None, workers=1, progress=progress)
    assert [one.number for one in found] == list(range(2 * SIZE))
    assert told == [(SIZE, 9 * SIZE), (2 * SIZE, 9 * SIZE)]
