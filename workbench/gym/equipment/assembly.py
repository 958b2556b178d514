"""Every load that a piece of equipment can be set to, exactly, with the plates, pin or dumbbells that make it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from workbench.gym.equipment.loads import QUANTA_PER, Assembly, LoadTable, Mass
from workbench.gym.equipment.pieces import (
    Barbell,
    Bodyweight,
    Dumbbells,
    Equipment,
    PlateLoaded,
    PlateMachine,
    PlateStock,
    Rack,
    Stack,
)
from workbench.quantities import InputError, Unit

__all__ = ["MAX_LOADS", "assemble"]

#: Loads heavier than this are left out: nobody lifts them, and they would not fit the whole numbers used for adding.
_HEAVIEST: Final = 2000 * QUANTA_PER["kg"]
#: A stock of odd masses in both units can make millions of different sums, all within grams of each other. The bound is
#: that of one piece, and that of a whole room.
MAX_LOADS: Final = 100_000


def assemble(piece: Equipment, *, unit: Unit = "kg", plates: Sequence[PlateStock] = ()) -> LoadTable:
    """Table of all loads that the piece can be set to.

    Parameters
    ----------
    piece : Barbell, PlateMachine, Dumbbells, Stack, Rack or Bodyweight
    unit : {"kg", "lb"}
        The room's unit, for a piece that states none.
    plates : sequence of PlateStock
        The room's plates, for a bar or machine that states none of its own.

    Returns
    -------
    LoadTable
        Rising, every load once; of several ways to make one load, the one with the fewest plates (or add-ons), and
        of those the one with the heavier plates. Both sides of a bar carry the same. Loads over 2,000 kg are left out.

    Raises
    ------
    InputError
        If the stock makes more than 100,000 different loads.
    """
    labelled = piece.unit or unit
    if isinstance(piece, PlateLoaded):
        return _plate_loaded(piece, labelled, unit, plates)
    if isinstance(piece, Stack):
        return _stack(piece, labelled)
    return _rack(piece, labelled)


@dataclass(frozen=True)
class _Sums:
    """Sums that a stock reaches: ``sums`` rising; ``counts[i, j]`` plates of the j-th lightest mass make sum i."""

    sums: NDArray[np.int64]
    counts: NDArray[np.int64]


def _reachable(name: str, masses: Sequence[int], stock: Sequence[int], sides: int, limit: int) -> _Sums:
    """Return the sums of a stock up to ``limit``, found once for all pieces that share it."""
    every = _sums_of(tuple(masses), tuple(stock), _HEAVIEST // sides)
    if every is not None:
        return _Sums(every.sums[every.sums <= limit], every.counts[every.sums <= limit])
    found = _sums_of(tuple(masses), tuple(stock), limit)
    if found is None:
        raise InputError(
            None,
            name,
            f"these plates make more than {MAX_LOADS:,} different loads",
            "list fewer odd plates, or give max_load",
        )
    return found


@lru_cache(maxsize=4)
def _sums_of(masses: tuple[int, ...], stock: tuple[int, ...], limit: int) -> _Sums | None:
    """All sums up to ``limit`` of at most ``stock[j]`` pieces of ``masses[j]`` (rising), each with the fewest pieces.

    One mass after the other is added to the sums already reached, and only the best way to each sum is kept.
    That is enough: a better way to the same part of a sum also makes the whole sum better. Of each mass 1, 2, 4, ...
    and what is then missing are added as one, which makes every number of it in few steps.
    """
    sums = np.zeros(1, dtype=np.int64)
    pieces = np.zeros(1, dtype=np.int64)
    counts = np.zeros((1, 0), dtype=np.int64)
    for mass, available in zip(masses, stock, strict=True):
        before, number = np.arange(sums.size), np.zeros(sums.size, dtype=np.int64)
        for at_once in _portions(available):
            sums, (pieces, number, before) = _add(sums, (pieces, number, before), at_once * mass, at_once, limit)
            if sums.size > MAX_LOADS:
                return None
        counts = np.column_stack([counts[before], number])
    return _Sums(sums, counts)


def _portions(number: int) -> Iterator[int]:
    """Give 1, 2, 4, ... and what is then missing: parts of them sum to every number up to ``number``."""
    portion = 1
    while number > 0:
        yield min(portion, number)
        number, portion = number - portion, 2 * portion


def _add(
    sums: NDArray[np.int64], ways: tuple[NDArray[np.int64], ...], mass: int, at_once: int, limit: int
) -> tuple[NDArray[np.int64], tuple[NDArray[np.int64], ...]]:
    """Return the sums without and with ``at_once`` more pieces that weigh ``mass`` together; of each the better way.

    ``ways``: for each sum the number of pieces in all, of those that are being added (the heaviest so far; of equally
    few pieces more of these are the better way), and where it began.
    """
    pieces, number, before = ways
    more = np.searchsorted(sums, limit - mass, side="right")  # those to which it can be added
    totals = np.concatenate([sums, sums[:more] + mass])
    pieces = np.concatenate([pieces, pieces[:more] + at_once])
    number = np.concatenate([number, number[:more] + at_once])
    before = np.concatenate([before, before[:more]])
    order = np.argsort(totals, kind="stable")  # of two equal sums the one without comes first
    twice = np.flatnonzero(np.diff(totals[order]) == 0)
    without, with_it = order[twice], order[twice + 1]
    better = pieces[with_it] < pieces[without]
    better |= (pieces[with_it] == pieces[without]) & (number[with_it] > number[without])
    kept = np.ones(order.size, dtype=bool)
    kept[twice], kept[twice + 1] = ~better, better
    order = order[kept]
    return totals[order], (pieces[order], number[order], before[order])


def _plate_loaded(
    piece: Barbell | PlateMachine | Bodyweight, unit: Unit, room_unit: Unit, room_plates: Sequence[PlateStock]
) -> LoadTable:
    stock = _rising((Mass(plate.mass, plate.unit or unit), plate.pairs) for plate in piece.plates)
    if not stock and (not isinstance(piece, Bodyweight) or piece.belt_uses_room):
        stock = _rising((Mass(plate.mass, plate.unit or room_unit), plate.pairs) for plate in room_plates)
    bare, loaded = _without_and_with_plates(piece, unit)
    sides = bare.sides
    start, start_loaded = (sum(mass.quanta for mass in assembly.base) for assembly in (bare, loaded))
    rated = Mass(piece.max_load, unit).quanta if piece.max_load is not None else _HEAVIEST
    reached = _reachable(
        piece.name,
        [mass.quanta for mass, _ in stock],
        # On a bar one plate of each pair goes to either side; on a single peg both hang side by side.
        [pairs * (2 if sides == 1 else 1) for _, pairs in stock],
        sides,
        max(min(rated, _HEAVIEST) - start_loaded, 0) // sides,
    )
    loads = [start if total == 0 else start_loaded + sides * int(total) for total in reached.sums]
    masses = tuple(mass for mass, _ in stock)
    return LoadTable(piece.name, unit, loads, _PlatesByIndex(masses, reached.counts, bare, loaded))


def _without_and_with_plates(piece: Barbell | PlateMachine | Bodyweight, unit: Unit) -> tuple[Assembly, Assembly]:
    """Return what is there before any plate, and what goes with the plates: collars or a belt go on with the first."""
    empty: Decimal | None
    if isinstance(piece, Barbell):
        empty, words, added, added_words, sides = piece.bar, "bar", piece.collars, "collars", 2
    elif isinstance(piece, PlateMachine):
        empty, words, added, added_words, sides = piece.empty, "machine", Decimal(0), "", piece.pegs
    else:
        empty, words, added, added_words, sides = None, "body mass", piece.belt, "belt", 1
    base: tuple[Mass, ...] = ()
    if empty is not None:
        base = (Mass(empty, unit),)
        words = f"{base[0].text(unit)} {words}"
    bare = Assembly(words, base, sides=sides)
    if not added:
        return bare, bare
    on_top = Mass(added, unit)
    return bare, Assembly(f"{words} + {on_top.text(unit)} {added_words}", (*base, on_top), sides=sides)


@dataclass(frozen=True, eq=False)
class _PlatesByIndex:
    """Puts the plates of one load on, when asked: a table may have thousands. A class, so that rooms can be pickled."""

    masses: tuple[Mass, ...]
    counts: NDArray[np.int64]
    bare: Assembly
    loaded: Assembly

    def __call__(self, index: int) -> Assembly:
        plates = _heaviest_first(self.masses, self.counts[index])
        return replace(self.loaded, per_side=plates) if plates else self.bare


def _heaviest_first(masses: Sequence[Mass], counts: NDArray[np.int64]) -> tuple[Mass, ...]:
    """Return every item of a choice from rising masses."""
    return tuple(
        mass for mass, count in zip(reversed(masses), counts[::-1].tolist(), strict=True) for _ in range(count)
    )


def _rising(counted: Iterable[tuple[Mass, int]]) -> list[tuple[Mass, int]]:
    return sorted(counted, key=lambda entry: entry[0].quanta)


def _stack(piece: Stack, unit: Unit) -> LoadTable:
    add_ons = _rising((Mass(item.mass, item.unit or unit), item.count) for item in piece.add_ons)
    extra = _reachable(piece.name, [mass.quanta for mass, _ in add_ons], [count for _, count in add_ons], 1, _HEAVIEST)
    # From few add-ons to many, so that the first way found to a load has the fewest.
    order = np.argsort(extra.counts.sum(axis=1), kind="stable")
    if not piece.combine:
        order = order[extra.counts[order].sum(axis=1) <= 1]
    pins, hundredths = [Mass(position, unit) for position in piece.steps()], int(piece.pulley_ratio * 100)
    totals = np.add.outer(extra.sums[order], np.array([pin.quanta for pin in pins], dtype=np.int64)).ravel()
    # No remainder: the counting step is a hundredth of the finest mass, and the ratio has two decimals.
    light = np.flatnonzero(totals <= _HEAVIEST * 100 // hundredths)
    loads, first = np.unique(totals[light] * hundredths // 100, return_index=True)
    ways: dict[int, Assembly] = {}
    for load, way in zip(loads.tolist(), light[first].tolist(), strict=True):
        with_these, pin = extra.counts[order[way // len(pins)]], pins[way % len(pins)]
        on_top = _heaviest_first([mass for mass, _ in add_ons], with_these)
        ways[load] = Assembly(f"pin at {pin.text(unit)}", (pin,), (), 0, on_top, piece.pulley_ratio)
    return _from_ways(piece.name, unit, ways)


#: What one of a rack is called; of dumbbells there are two, unless the rack has one of each.
_ONE_OF: Final = {
    "kettlebells": "kettlebell of {}",
    "loose_plates": "plate of {}",
    "fixed_barbells": "fixed barbell of {}",
    "bands": "band of {} (nominal)",
    "dumbbells": "one dumbbell of {}",
}


def _rack(piece: Dumbbells | Rack, unit: Unit) -> LoadTable:
    in_pairs = isinstance(piece, Dumbbells) and not piece.single
    hands, words = (2, "two dumbbells of {}") if in_pairs else (1, _ONE_OF[piece.kind])
    masses = [Mass(value, unit) for value in piece.steps()]
    ways = {hands * mass.quanta: Assembly(words.format(mass.text(unit)), (mass,) * hands, sides=0) for mass in masses}
    return _from_ways(piece.name, unit, ways, hands)


def _from_ways(name: str, unit: Unit, ways: dict[int, Assembly], hands: int = 1) -> LoadTable:
    loads = sorted(load for load in ways if load <= _HEAVIEST)
    if not loads:
        raise InputError(None, name, "every load is over 2,000 kg", "check the masses and the unit")
    return LoadTable(name, unit, loads, [ways[load] for load in loads].__getitem__, hands)
