"""What a room can load: its pieces of equipment, every load they can be set to, and rounding to those loads."""

from workbench.gym.equipment.assembly import assemble
from workbench.gym.equipment.loads import Assembly, LoadTable, Mass, RoundingMode, rounding_error_percent
from workbench.gym.equipment.pieces import (
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
from workbench.gym.equipment.room import IMPLEMENTS, Room, read_room

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
