"""How masses are said where the catalogue must be asked: two dumbbells by what is in one hand."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.gym import catalogue
from workbench.present.words import say_load
from workbench.quantities import KG_PER_LB

if TYPE_CHECKING:
    import pandas as pd

    from workbench.gym.equipment.loads import Unit

__all__ = ["learned_in", "mass_said"]


def mass_said(kg: float, unit: Unit, *, exercise: str | None = None, digits: int = 1) -> str:
    """Return a mass that no plates make, such as a 1RM, in the room's unit; of an exercise: as its loads are said.

    >>> mass_said(40.0, "kg", exercise="dumbbell curl"), mass_said(100.0, "lb", digits=0)
    ('2 x 20.0 kg', '220 lb')
    """
    return say_load(kg, unit, hands=1 if exercise is None else catalogue.hands_of(exercise), digits=digits)


def learned_in(summary: pd.DataFrame, unit: Unit) -> pd.DataFrame:
    """Return `workbench.fit.learned.Learned.summary` with 1RMs in the room's unit, of two dumbbells in each hand."""
    table = summary.copy()
    of_mass = table["quantity"] == "1RM"
    hands = table["exercise"].map(catalogue.hands_of)
    for name in [column for column in table.columns if column.removeprefix("prior_") in ("p10", "p50", "p90")]:
        table[name] = table[name].where(~of_mass, table[name] / hands / (KG_PER_LB if unit == "lb" else 1.0))
    said = hands.map(lambda number: f"{unit} each hand" if number == 2 else unit)
    table["unit"] = table["unit"].where(~of_mass, said)
    return table
