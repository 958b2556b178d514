"""What a room can load: its pieces of equipment, every load they can be set to, and rounding to those loads."""

from workbench.gym.equipment.assembly import assemble
from workbench.gym.equipment.loads import LoadTable
from workbench.gym.equipment.room import IMPLEMENTS, Room, read_room

__all__ = ["IMPLEMENTS", "LoadTable", "Room", "assemble", "read_room"]
