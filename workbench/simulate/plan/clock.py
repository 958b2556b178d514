"""A session as it is worked out, and what it has come to between two exercises."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NamedTuple

from workbench.models.load_reps import Curve
from workbench.models.sharing import SharedFatigue
from workbench.quantities import FloatArray

__all__ = ["Clock", "Reached"]


class Reached(NamedTuple):
    """What a session has come to between two exercises: time, end of the last set of each exercise, fatigue."""

    now: FloatArray
    last_end: dict[int, FloatArray]
    fatigue: SharedFatigue | None

    @property
    def value(self) -> tuple[object, ...]:
        """All of it as one value: from equal ones the same exercises go on alike, to the digit."""
        ends = tuple((lane, end.tobytes()) for lane, end in self.last_end.items())
        return (self.now.tobytes(), ends, None if self.fatigue is None else self.fatigue.value)


@dataclass
class Clock:
    """The session as it is worked out: the time, the rest still to come, and the median lifter's fatigue.

    Its arrays are never changed in place: sets and ramp sets keep them.

    ``tires``: whether that is asked for at all, by a load that is given by a reserve or the length of a set to failure.
    """

    now: FloatArray
    shared: SharedFatigue
    curve: Curve
    tires: bool
    rest_s: FloatArray | float = 0.0
    last_end: dict[int, FloatArray] = field(default_factory=dict)

    def reached(self) -> Reached:
        """Return what the session has come to, to go on from in another way too."""
        return Reached(self.now, dict(self.last_end), self.shared.copy() if self.tires else None)

    def go_on_from(self, reached: Reached) -> None:
        """Put the clock where another session alike had come to."""
        self.now, self.last_end = reached.now, dict(reached.last_end)
        if reached.fatigue is not None:
            self.shared = reached.fatigue.copy()
