"""The lifter: maxes with where they come from, endurance, recovery, and what to leave out, as read from TOML."""

from workbench.lifter.file import Lifter, read_lifter
from workbench.lifter.lift import FromSet, Lift, RepsAtPercent

__all__ = ["FromSet", "Lift", "Lifter", "RepsAtPercent", "read_lifter"]
