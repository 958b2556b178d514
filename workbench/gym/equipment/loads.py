"""A table of the loads that one piece of equipment can be set to, and rounding to them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Final, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from workbench.present.words import say_load
from workbench.quantities import FloatArray, InputError, Unit

__all__ = [
    "QUANTA_PER",
    "Assembly",
    "LoadTable",
    "Mass",
    "RoundingMode",
    "Unit",
]

RoundingMode = Literal["nearest", "not_above", "not_below"]

#: Masses are added as whole numbers, so that ten plates of 2.5 lb weigh exactly 25 lb. The step of 1e-13 kg is the
#: largest in which a thousandth of a pound, seen through a pulley ratio with two decimals, is still a whole number.
QUANTA_PER: Final[dict[Unit, int]] = {"kg": 10**13, "lb": 4_535_923_700_000}

#: A target this close to a load, or to the middle of two loads, is taken to be there. A percent of a 1RM carries
#: the rounding error of floating point (about 1e-14 kg); no scale in a gym shows a milligram.
SAME_LOAD_KG: Final = 1e-6


@dataclass(frozen=True)
class Mass:
    """One item as it is labelled: ``value`` (at most three decimals) in ``unit``."""

    value: Decimal
    unit: Unit

    @property
    def quanta(self) -> int:
        """The mass as a whole number of 1e-13 kg."""
        return int(self.value * 1000) * (QUANTA_PER[self.unit] // 1000)

    def text(self, unit: Unit) -> str:
        """Return the mass as printed among masses in ``unit``: the unit is only said where it differs.

        >>> Mass(Decimal("2.50"), "lb").text("lb"), Mass(Decimal("20"), "kg").text("lb")
        ('2.5', '20 kg')
        """
        shown = f"{self.value:.3f}".rstrip("0").rstrip(".")
        return shown if self.unit == unit else f"{shown} {self.unit}"


@dataclass(frozen=True)
class Assembly:
    """How one load is put together.

    ``base`` is what is there before any plate or add-on (bar and collars, dumbbells, the stack down to the pin), and
    ``base_text`` says it: ``20 bar``, ``two dumbbells of 20``, ``pin at 35``. ``per_side``: plates on each of the
    ``sides`` (1 for a single peg or a belt), heaviest first. ``add_ons``: small masses on top of a stack, heaviest
    first. ``pulley_ratio``: load at the handle for each kilogram on the stack.
    """

    base_text: str
    base: tuple[Mass, ...]
    per_side: tuple[Mass, ...] = ()
    sides: int = 2
    add_ons: tuple[Mass, ...] = ()
    pulley_ratio: Decimal = Decimal(1)

    def text(self, unit: Unit) -> str:
        """Return the assembly in words, masses in ``unit`` unless said otherwise."""
        parts = [self.base_text] if self.base_text else []
        if self.per_side:
            plates = " + ".join(plate.text(unit) for plate in self.per_side)
            parts.append(f"per side {plates}" if self.sides == 2 else f"plates {plates}")
        if self.add_ons:
            parts.append("add-on " + " + ".join(item.text(unit) for item in self.add_ons))
        if self.pulley_ratio != 1:
            parts.append(f"times {self.pulley_ratio.normalize():f} at the handle")
        return ", ".join(parts)


class LoadTable:
    """All loads that a piece of equipment can be set to, lightest first.

    Made from the name of the piece, the unit that it is labelled in, the loads as rising whole numbers of 1e-13 kg, and
    what gives the assembly of the load at an index. With two ``hands`` the loads are those of both dumbbells.

    Attributes
    ----------
    kg, in_unit : array, shape (loads,), [kg] and [unit]
        The loads, and in the piece's own unit. Read-only.
    """

    def __init__(
        self, equipment: str, unit: Unit, exact: Sequence[int], assembly: Callable[[int], Assembly], hands: int = 1
    ) -> None:
        self.equipment = equipment
        self.unit = unit
        self.hands = hands
        self.exact = tuple(int(load) for load in exact)
        if not self.exact:
            raise ValueError(f"{equipment}: a table of loads needs at least one load")
        # Division of two whole Python numbers is rounded once: 25 lb prints as 25.0 lb.
        self.kg = _frozen([load / QUANTA_PER["kg"] for load in self.exact])
        self.in_unit = _frozen([load / QUANTA_PER[unit] for load in self.exact])
        self._assembly = assembly
        self._kg_or_none = np.append(self.kg, np.nan)
        self._midpoints = 0.5 * (self.kg[:-1] + self.kg[1:])

    def __len__(self) -> int:
        """Return the number of loads."""
        return len(self.exact)

    def round(self, target_kg: ArrayLike, mode: RoundingMode = "nearest") -> NDArray[np.intp]:
        """Index of the load to use for each target.

        Parameters
        ----------
        target_kg : array, any shape, [kg]
            The wanted loads.
        mode : {"nearest", "not_above", "not_below"}
            ``nearest``: the closest load; of two equally close ones the lighter, the safer of the two; beyond
            either end the load at that end. ``not_above``: the heaviest load that is not heavier than the target.
            ``not_below``: the lightest load that is not lighter.

        Returns
        -------
        array, same shape, of int
            Indices into `kg`. Where no load fits (nothing so light, nothing so heavy, or the target is NaN) the index
            is ``len(table)``, which `round_kg` turns into NaN and which raises IndexError if used on `kg` unread.

        Raises
        ------
        InputError
            On an unknown mode.
        """
        target = np.asarray(target_kg, dtype=np.float64)
        if mode == "nearest":
            index = np.searchsorted(self._midpoints, target - SAME_LOAD_KG, side="left")
        elif mode == "not_above":
            index = np.searchsorted(self.kg, target + SAME_LOAD_KG, side="right") - 1
        elif mode == "not_below":
            index = np.searchsorted(self.kg, target - SAME_LOAD_KG, side="left")
        else:
            raise InputError(None, "mode", f"unknown way to round {mode!r}", "use nearest, not_above or not_below")
        return np.asarray(np.where(np.isnan(target) | (index < 0), len(self), index), dtype=np.intp)

    def round_kg(self, target_kg: ArrayLike, mode: RoundingMode = "nearest") -> FloatArray:
        """Return the loads to use for the targets, kg, same shape; NaN where no load fits (see `round`)."""
        return np.asarray(self._kg_or_none[self.round(target_kg, mode)], dtype=np.float64)

    def assembly(self, index: int) -> Assembly:
        """Return how the load at an index is put together; IndexError where there is none."""
        if not 0 <= index < len(self):
            raise IndexError(f"{self.equipment} has no load number {index}")
        return self._assembly(int(index))

    def say(self, index: int) -> str:
        """Return the load at an index as people speak of it: ``60 kg``, ``2 x 16 kg``."""
        return say_load(float(self.kg[index]), self.unit, hands=self.hands)

    def describe(self, index: int) -> str:
        """Return the load at an index in words, such as ``60 kg: 20 bar, per side 15 + 5``."""
        how = self.assembly(index).text(self.unit)  # IndexError where there is none
        return f"{self.say(index)}: {how}"


def _frozen(values: list[float]) -> FloatArray:
    array = np.array(values, dtype=np.float64)
    array.flags.writeable = False
    return array
