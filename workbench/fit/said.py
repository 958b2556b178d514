"""What a log taught, in the room's unit and in sentences."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from workbench.gym.catalogue import Catalogue, built_in
from workbench.quantities import KG_PER_LB, Unit

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["learned_in", "what_changed"]

#: A posterior narrower than this part of its prior is worth a sentence.
_NARROWED: Final = 0.8


def learned_in(summary: pd.DataFrame, unit: Unit, catalogue: Catalogue | None = None) -> pd.DataFrame:
    """Return `workbench.fit.learned.Learned.summary` with 1RMs in the room's unit, of two dumbbells in each hand.

    ``catalogue`` knows the exercises: the lifter's; the built-in one where not given.
    """
    table = summary.copy()
    of_mass = table["quantity"] == "1RM"
    hands = table["exercise"].map((catalogue or built_in()).hands_of)
    for name in [column for column in table.columns if column.removeprefix("prior_") in ("p10", "p50", "p90")]:
        table[name] = table[name].where(~of_mass, table[name] / hands / (KG_PER_LB if unit == "lb" else 1.0))
    said = hands.map(lambda number: f"{unit} each hand" if number == 2 else unit)
    table["unit"] = table["unit"].where(~of_mass, said)
    return table


def what_changed(summary: pd.DataFrame) -> list[str]:
    """Say in a sentence each what the log narrowed, of a summary in the room's unit."""
    narrowed = summary[summary["narrowed"] < _NARROWED].to_dict("records")
    lines = [
        f"{row['exercise']}: {row['p50']:.1f} {row['unit']} ({row['p10']:.1f} to {row['p90']:.1f}), "
        f"before {row['prior_p50']:.1f}."
        for row in narrowed
        if row["quantity"] == "1RM"
    ]
    for row in narrowed:
        if row["exercise"] != "all":
            continue
        more = row["p50"] > row["prior_p50"]
        if row["quantity"] == "recovery rate":
            text = f"Recovers {'faster' if more else 'slower'} between sets than thought: rate"
        else:
            less = "more" if more else "less"
            text = f"Exercises for the same muscles take {less} from each other than thought: factor"
        lines.append(f"{text} {row['p50']:.2f} ({row['p10']:.2f} to {row['p90']:.2f}; 1 is average).")
    return lines
