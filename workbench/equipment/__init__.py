"""What a room can load: its pieces of equipment, every load they can be set to, and rounding to those loads."""

from workbench.equipment.assembly import assemble
from workbench.equipment.loads import Assembly, LoadTable, Mass, RoundingMode, rounding_error_percent
from workbench.equipment.pieces import (
    AddOn,
    Bands,
    Barbell,
    Bodyweight,
    Dumbbells,
    Equipment,
    FixedBarbells,
    Kettlebells,
    PlateMachine,
    PlateStock,
    Stack,
)
from workbench.equipment.room import IMPLEMENTS, Room, read_room

__all__ = [
    "IMPLEMENTS",
    "AddOn",
    "Assembly",
    "Bands",
    "Barbell",
    "Bodyweight",
    "Dumbbells",
    "Equipment",
    "FixedBarbells",
    "Kettlebells",
    "LoadTable",
    "Mass",
    "PlateMachine",
    "PlateStock",
    "Room",
    "RoundingMode",
    "Stack",
    "assemble",
    "read_room",
    "rounding_error_percent",
]
