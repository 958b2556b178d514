"""One person through one session, set by set, in plain numbers."""

from __future__ import annotations

import functools
import math

from tests.calibration.people import Person
from tests.scalar_oracle import PASSED_ON, effort_slowly, exponential_slowly, overlap_slowly, steep_slowly, work_slowly
from workbench.models.load_reps import CURVES

__all__ = ["Body", "fresh_reps"]

#: Headroom of 75 % of 1RM, where all curves give the same reps.
_AGREED = math.log(4.0 / 3.0)

#: Forms of which a set is written out in plain numbers; of the others the models' own function is taken.
_SLOWLY = {"effort": effort_slowly, "two states": work_slowly, "steep end": steep_slowly}

_overlap = functools.cache(overlap_slowly)


def fresh_reps(curve: str, headroom: float, endurance: float) -> float:
    """Reps of a fresh set to failure.

    On the square root, strength falls as the root of the reps, so these go as the square of the headroom.
    """
    if curve == "exponential":
        return exponential_slowly(headroom, endurance)
    if curve == "square root":
        return exponential_slowly(headroom * abs(headroom) / _AGREED, endurance)
    return float(CURVES[curve].fresh_reps(headroom, endurance))


class Body:
    """Fatigue of a person through one session: what each exercise keeps, and what it got from the others.

    Of the first pool nothing passes to another exercise; of the others half of what shared muscles ask for, times the
    person's carry-over. What was got counts from the change of exercise on and fades in the pauses between the sets.
    """

    def __init__(self, person: Person) -> None:
        self.person, self.names = person, person.form.time_constants
        self.clock, self.at = 0.0, ""
        self.own: dict[str, list[float]] = {}
        self.ended: dict[str, float] = {}
        self.got = self.state = [0.0] * len(self.names)

    def _rested(self, pools: list[float], seconds: float) -> list[float]:
        taus = [getattr(self.person.constants, name) for name in self.names]
        rate = self.person.recovery_rate
        return [pool * math.exp(-seconds * rate / tau) for pool, tau in zip(pools, taus, strict=True)]

    def rest(self, exercise: str, seconds: float) -> None:
        """Rest before a set of an exercise."""
        nothing = [0.0] * len(self.names)
        self.clock += seconds
        if exercise == self.at:
            self.got = self._rested(self.got, seconds)
        else:
            self.at, self.got = exercise, nothing
            for other in [name for name in self.own if name != exercise]:
                left = self._rested(self.own[other], self.clock - self.ended[other])
                share = PASSED_ON * _overlap(exercise, other) * self.person.carry_over
                passed = [0.0 if number == 0 and len(left) > 1 else share * pool for number, pool in enumerate(left)]
                self.got = [a + b for a, b in zip(self.got, passed, strict=True)]
        mine = nothing
        if exercise in self.own:
            mine = self._rested(self.own[exercise], self.clock - self.ended[exercise])
        self.state = [a + b for a, b in zip(mine, self.got, strict=True)]

    def available(self, headroom: float, fresh: float) -> float:
        """Reps that could be done now, real-valued."""
        return self._work(headroom, fresh, math.inf)[0]

    def do(self, headroom: float, fresh: float, reps: float, seconds: float) -> None:
        """Do a set of so many reps, infinite to failure, that takes so long."""
        after = self._work(headroom, fresh, reps)[1]
        self.own[self.at] = [a - b for a, b in zip(after, self.got, strict=True)]
        self.clock += seconds
        self.ended[self.at] = self.clock

    def _work(self, headroom: float, fresh: float, reps: float) -> tuple[float, list[float]]:
        form, used = self.person.form, self.person.constants
        if form.name in _SLOWLY:
            available, after = _SLOWLY[form.name](*self.state, headroom, fresh, reps, vars(used))
        else:
            available, after = form.work(tuple(self.state), headroom, fresh, reps, parameters=used)
        return float(available), [float(pool) for pool in after]
