"""The rule of a coach for what a lifter may change within a set group; `workbench.simulate.adjusting` follows it."""

from __future__ import annotations

from typing import Annotated

import numpy as np
from pydantic import Field, model_validator

from workbench.quantities import FloatArray
from workbench.reference.toml_files import Number, Strict, Whole

__all__ = ["Adjust"]


class Adjust(Strict):
    """What the lifter may change within a set group by what its sets have shown.

    ``lower``: percent off the load of the next set after each set with a missed rep, down to ``lowest`` percent of the
    plan's. ``increase``: percent put on after a set that felt like ``increase_from`` reps in reserve or more, up to
    ``highest`` percent. ``end_after``: the group ends after so many sets with a missed rep.
    """

    lower: Annotated[Number, Field(ge=0, le=30)] = 0.0
    lowest: Annotated[Number, Field(ge=50, le=100)] = 70.0
    increase: Annotated[Number, Field(ge=0, le=10)] = 0.0
    increase_from: Annotated[Number, Field(ge=2, le=10)] = 4.0
    highest: Annotated[Number, Field(ge=100, le=110)] = 105.0
    end_after: Annotated[Whole, Field(ge=1, le=10)] | None = None

    @model_validator(mode="after")
    def _something(self) -> Adjust:
        if not (self.lower or self.increase or self.end_after):
            raise ValueError("changes nothing; give lower, increase or end_after, or leave adjust out")
        return self

    def factor_after(
        self, factor: FloatArray | float, missed: np.ndarray | bool, felt: FloatArray | float
    ) -> FloatArray:
        """Return the part of the plan's load for the next set.

        Parameters
        ----------
        factor : array, any shape, [1]
            That of the set just done.
        missed : array of bool, same shape
            Whether it had a missed rep.
        felt : array, same shape, [reps]
            Reps in reserve as felt after it; NaN where that is not known.

        Returns
        -------
        array, same shape, [1], within lowest and highest
        """
        after = np.where(missed, factor * (1.0 - self.lower / 100.0), factor)
        if self.increase:
            after = np.where(felt >= self.increase_from, after * (1.0 + self.increase / 100.0), after)
        return np.asarray(np.clip(after, self.lowest / 100.0, self.highest / 100.0))

    def ended(self, misses: np.ndarray | int) -> np.ndarray:
        """Whether the group is ended after so many sets with a missed rep, bool."""
        return np.asarray(np.zeros_like(misses, dtype=bool) if self.end_after is None else misses >= self.end_after)
