"""The rule of a coach for what a lifter may change within a set group; `workbench.simulate.adjusting` follows it."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, model_validator

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
