"""Things put aside until they are asked for again, so that memory does not grow with their number."""

from __future__ import annotations

import pickle
import tempfile
import weakref
from collections.abc import Iterable, Sequence
from typing import Any, Final, Generic, TypeVar, overload

from workbench.quantities import InputError

__all__ = ["Shelf"]

#: Bytes up to which a shelf stays in memory; beyond them it goes on in a temporary file that has no name.
IN_MEMORY: Final = 32_000_000

Thing = TypeVar("Thing")


class Shelf(Sequence[Thing], Generic[Thing]):
    """Things in the order in which they came, each made anew whenever it is asked for.

    >>> shelf = Shelf(["squat", "deadlift"])
    >>> shelf.append("bench press")
    >>> len(shelf), shelf[-1], shelf[:2]
    (3, 'bench press', ['squat', 'deadlift'])
    """

    def __init__(self, things: Iterable[Thing] = ()) -> None:
        self._file: Any = tempfile.SpooledTemporaryFile(IN_MEMORY)  # noqa: SIM115 - closed with the shelf
        weakref.finalize(self, self._file.close)
        self._starts: list[int] = []
        self._end = 0
        for thing in things:
            self.append(thing)

    def append(self, thing: Thing) -> None:
        """Put one more at the end.

        Raises
        ------
        InputError
            The folder for temporary files is full or closed.
        """
        try:
            self._file.seek(self._end)
            pickle.dump(thing, self._file, pickle.HIGHEST_PROTOCOL)
        except OSError as error:
            problem = f"is full or closed ({error.strerror})"
            remedy = "make room there, or name another folder in TMPDIR"
            raise InputError(None, "folder for temporary files", problem, remedy) from error
        self._starts.append(self._end)
        self._end = self._file.tell()

    def __len__(self) -> int:
        """Return how many there are."""
        return len(self._starts)

    @overload
    def __getitem__(self, at: int) -> Thing: ...

    @overload
    def __getitem__(self, at: slice) -> list[Thing]: ...

    def __getitem__(self, at: int | slice) -> Thing | list[Thing]:
        """Make a thing anew, or several."""
        if isinstance(at, slice):
            return [self[number] for number in range(len(self))[at]]
        self._file.seek(self._starts[at])
        thing: Thing = pickle.load(self._file)
        return thing
