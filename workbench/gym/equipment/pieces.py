"""Pieces of equipment as a room file states them. Masses stay as written; `assembly` beside this adds them up.

Every piece has a plain ``name``, its ``kind`` and, where it differs from the room's, its ``unit``.
"""

from __future__ import annotations

from decimal import Decimal
from functools import partial
from typing import Annotated, Final, Literal, get_args

from pydantic import (
    BeforeValidator,
    Field,
    StrictBool,
    ValidationInfo,
    WithJsonSchema,
    field_validator,
    model_validator,
)

from workbench.quantities import Unit
from workbench.reference.toml_files import Strict

__all__ = [
    "KINDS",
    "AddOn",
    "Barbell",
    "Bodyweight",
    "Dumbbells",
    "Equipment",
    "Ladder",
    "PlateLoaded",
    "PlateMachine",
    "PlateStock",
    "Rack",
    "Stack",
    "StatedUnit",
]

#: Heavier than any single plate, stack or load rating in a gym, in kg or lb.
_HEAVIEST: Final = 2000
_DECIMALS: Final = 3
_MOST_STEPS: Final = 200


def _exact(value: object) -> Decimal:
    """Take a TOML number as the decimal that was typed, so that 1.1 is eleven tenths."""
    if isinstance(value, Decimal):
        return value
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise ValueError(f"{_short(value)} is not a number; give a number without quotes or unit, such as 2.5")
    number = Decimal(repr(value))
    if not number.is_finite():
        raise ValueError(f"{value!r} is not a mass; give a number such as 2.5")
    return number


def _mass(value: object, *, or_zero: bool = False) -> Decimal:
    number = _exact(value)
    if not 0 <= number <= _HEAVIEST:
        raise ValueError(f"{_short(value)} is out of range; give 0 to {_HEAVIEST}")
    if number != round(number, _DECIMALS):
        raise ValueError(f"{_short(value)} has too many decimals; give at most {_DECIMALS}")
    if number == 0 and not or_zero:
        raise ValueError(f"{_short(value)} is not above zero; give the mass, or leave the item out")
    return number


def _ratio(value: object) -> Decimal:
    number = _exact(value)
    if not Decimal("0.1") <= number <= 4 or number != round(number, 2):
        raise ValueError(f"{_short(value)} is not a pulley ratio; give 0.1 to 4 with at most two decimals")
    return number


def _whole(value: object, most: int) -> int:
    if isinstance(value, bool) or not isinstance(value, int):
        raise ValueError(f"{_short(value)} is not a whole number; count what is there")
    if not 1 <= value <= most:
        raise ValueError(f"{_short(value)} is out of range; give 1 to {most}, or leave out what is not there")
    return value


def _unit(value: object) -> object:
    if value not in ("kg", "lb"):
        raise ValueError(f'unknown unit of mass {_short(value)}; use "kg" or "lb"')
    return value


def _short(value: object) -> str:
    shown = repr(value)
    return shown if len(shown) <= 40 else shown[:37] + "..."


_AS_NUMBER = {"type": "number", "maximum": _HEAVIEST}
#: Above zero, at most three decimals.
Positive = Annotated[Decimal, BeforeValidator(_mass), WithJsonSchema({**_AS_NUMBER, "exclusiveMinimum": 0})]
#: The same, or zero.
ZeroOrMore = Annotated[
    Decimal, BeforeValidator(partial(_mass, or_zero=True)), WithJsonSchema({**_AS_NUMBER, "minimum": 0})
]
Ratio = Annotated[Decimal, BeforeValidator(_ratio), WithJsonSchema({"type": "number", "minimum": 0.1, "maximum": 4})]
Pairs = Annotated[int, Field(ge=1, le=40), BeforeValidator(partial(_whole, most=40))]
Positions = Annotated[int, Field(ge=1, le=_MOST_STEPS), BeforeValidator(partial(_whole, most=_MOST_STEPS))]
FewItems = Annotated[int, Field(ge=1, le=8), BeforeValidator(partial(_whole, most=8))]
Pegs = Annotated[Literal[1, 2], BeforeValidator(partial(_whole, most=2))]
StatedUnit = Annotated[Unit, BeforeValidator(_unit)]


class PlateStock(Strict):
    """Plates of one mass: how many pairs there are."""

    mass: Positive
    pairs: Pairs
    unit: StatedUnit | None = None


def no_plate_twice(stock: list[PlateStock], info: ValidationInfo) -> list[PlateStock]:
    """Refuse a stock that lists one plate in two places, whether it says the unit again or not."""
    seen: dict[tuple[Decimal, str | None], int] = {}
    for number, plate in enumerate(stock, start=1):
        key = (plate.mass, plate.unit or info.data.get("unit"))
        if key in seen:
            raise ValueError(
                f"entries {seen[key]} and {number} are both plates of {plate.mass.normalize():f}; "
                "list each mass once, with all its pairs"
            )
        seen[key] = number
    return stock


class Piece(Strict):
    """What every piece of equipment has."""

    name: str = Field(min_length=1, max_length=80)
    unit: StatedUnit | None = None
    note: str = Field(default="", max_length=400)


class PlateLoaded(Piece):
    """A piece that plates go on: its own stock, or without it the room's. ``max_load``: heaviest total it may carry."""

    plates: list[PlateStock] = Field(default=[], max_length=30)

    _plates_once = field_validator("plates")(no_plate_twice)


class Barbell(PlateLoaded):
    """A bar loaded with pairs of plates.

    ``bar``: the empty bar. ``collars``: the pair of collars; they go on with the first plates, the empty bar carries
    none.
    """

    kind: Literal["barbell"]
    bar: Positive
    collars: ZeroOrMore = Decimal(0)
    max_load: Positive | None = None

    @model_validator(mode="after")
    def _bar_within_rating(self) -> Barbell:
        if self.max_load is not None and self.max_load < self.bar:
            raise ValueError("max_load is less than the bar alone; give the heaviest total that the bar may carry")
        return self


class PlateMachine(PlateLoaded):
    """A machine loaded with plates, on two pegs or one. ``empty``: what it weighs at the start position, unloaded."""

    kind: Literal["plate_machine"]
    empty: ZeroOrMore
    pegs: Pegs = 2
    max_load: Positive | None = None

    @model_validator(mode="after")
    def _empty_within_rating(self) -> PlateMachine:
        if self.max_load is not None and self.max_load < self.empty:
            raise ValueError("max_load is less than the empty machine; give the heaviest total that it may carry")
        return self


class Bodyweight(PlateLoaded):
    """Somewhere to lift the own body (a bar, rings, a dip station). The load is what is added with the belt.

    ``belt``: the belt or vest itself; plates hang from it one by one. Without ``plates`` and without ``belt_uses_room``
    nothing can be added.
    """

    kind: Literal["bodyweight"]
    belt: ZeroOrMore = Decimal(0)
    belt_uses_room: StrictBool = False
    max_load: Positive | None = None


class Ladder(Piece):
    """Masses one beside the other: a list (``masses``), or even steps (``first``, ``step``, and ``last`` or ``count``).

    Only what is there counts: a gap in the rack is a reason to list the masses.
    """

    masses: list[Positive] | None = Field(default=None, min_length=1, max_length=_MOST_STEPS)
    first: Positive | None = None
    step: Positive | None = None
    last: Positive | None = None
    count: Positions | None = None

    @model_validator(mode="after")
    def _one_way(self) -> Ladder:
        if self.masses is not None:
            if any(part is not None for part in (self.first, self.step, self.last, self.count)):
                raise ValueError("the masses are given twice; give masses, or first and step with last or count")
            repeated = {mass for mass in self.masses if self.masses.count(mass) > 1}
            if repeated:
                raise ValueError(f"masses lists {min(repeated).normalize():f} more than once; list each mass once")
        elif self.first is None or self.step is None or (self.last is None) == (self.count is None):
            raise ValueError("the masses are not given; give masses, or first and step with either last or count")
        elif self.last is not None:
            steps = (self.last - self.first) / self.step
            if steps < 0 or steps != int(steps):
                raise ValueError(
                    f"steps of {self.step} from {self.first} do not reach {self.last}; mend last, or list the masses"
                )
            if steps >= _MOST_STEPS:
                raise ValueError(f"more than {_MOST_STEPS} steps from first to last; mend step")
        return self

    def steps(self) -> list[Decimal]:
        """Return the masses, rising, in the piece's unit."""
        if self.masses is not None:
            return sorted(self.masses)
        first, step = self.first or Decimal(0), self.step or Decimal(1)  # both are given where masses are not
        count = self.count if self.last is None else int((self.last - first) / step) + 1
        return [first + step * number for number in range(count or 0)]


class Dumbbells(Ladder):
    """A rack of dumbbells, each mass that of one dumbbell, as labelled.

    The load is that of both dumbbells. ``single``: there is one of each only, and that one is the load.
    """

    kind: Literal["dumbbells"]
    single: StrictBool = False


class Rack(Ladder):
    """Kettlebells and plates, held one at a time, barbells with fixed plates, or elastic bands by nominal pull.

    The real pull of a band grows with the stretch, so its loads are a label, not a mass. Plates that a room lists for
    its bars need no piece of their own to be held.
    """

    kind: Literal["kettlebells", "loose_plates", "fixed_barbells", "bands"]


class AddOn(Strict):
    """A small mass that goes on top of a stack, and how many of it there are."""

    mass: Positive
    count: FewItems = 1
    unit: StatedUnit | None = None


class Stack(Ladder):
    """A pin-loaded stack, its pin positions as labelled.

    ``add_ons``: small masses for the steps between; ``combine``: whether several may go on at once.
    ``pulley_ratio``: load at the handle for each kilogram on the stack (0.5 where the cable runs over a moving pulley).
    """

    kind: Literal["stack"]
    add_ons: list[AddOn] = Field(default=[], max_length=8)
    combine: StrictBool = True
    pulley_ratio: Ratio = Decimal(1)

    @model_validator(mode="after")
    def _positions_are_few(self) -> Stack:
        if sum(item.count for item in self.add_ons) > 8:
            raise ValueError("more than 8 add-ons; list those that are used")
        return self


_ANY = Barbell | PlateMachine | Dumbbells | Stack | Rack | Bodyweight
KINDS: Final = tuple(kind for piece in get_args(_ANY) for kind in get_args(piece.model_fields["kind"].annotation))


def _known_kind(value: object) -> object:
    """Say what a kind may be, in place of the message about tags and discriminators."""
    if isinstance(value, dict):
        if "kind" not in value:
            raise ValueError(f"kind is missing; add kind = one of {', '.join(KINDS)}")
        if value["kind"] not in KINDS:
            raise ValueError(f"unknown kind {_short(value['kind'])}; use one of {', '.join(KINDS)}")
    return value


Equipment = Annotated[_ANY, Field(discriminator="kind"), BeforeValidator(_known_kind)]
