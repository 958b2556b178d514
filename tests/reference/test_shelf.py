"""Things put aside: made anew when asked for, in memory up to a size and then in a file that nobody else sees."""

import errno
import gc

import numpy as np
import pytest

from workbench.quantities import InputError
from workbench.reference import shelf
from workbench.reference.shelf import Shelf


@pytest.mark.parametrize("in_memory", [10**6, 100])
def test_what_was_put_aside_comes_back_in_any_order(in_memory, monkeypatch):
    monkeypatch.setattr(shelf, "IN_MEMORY", in_memory)
    things = [np.full(size, float(size)) for size in (3, 0, 40, 7)]
    kept = Shelf(things[:2])
    assert kept[1].size == 0  # read between writing
    for thing in things[2:]:
        kept.append(thing)
    assert len(kept) == 4
    for at in (2, 0, 3, 1, -1, -4):
        assert kept[at].tolist() == things[at].tolist()
    assert [one.size for one in kept] == [3, 0, 40, 7]
    assert [one.size for one in kept[1:9]] == [0, 40, 7]
    assert kept[0] is not kept[0]
    with pytest.raises(IndexError):
        kept[4]
    # 40 numbers of 8 bytes are more than 100, and less than a million.
    assert kept._file._rolled == (in_memory == 100)


def test_nothing_lies_in_the_folder_or_stays_open(monkeypatch, tmp_path):
    monkeypatch.setattr(shelf, "IN_MEMORY", 0)
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    kept = Shelf(["Ann"])
    assert list(kept) == ["Ann"]
    file = kept._file
    del kept
    gc.collect()
    assert file.closed
    assert list(tmp_path.iterdir()) == []


def test_a_full_disk_is_told(monkeypatch):
    kept = Shelf([1])

    def full(_at):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(kept._file, "seek", full, raising=False)
    with pytest.raises(InputError, match=r"No space left.*TMPDIR"):
        kept.append(2)
