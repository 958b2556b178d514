"""Invented gyms: lifters who train together for half a year, the logs that they keep, and the truth that nobody sees.

>>> gym = invent_gym(1, lifters=2, weeks=2)
>>> sorted(gym.lifters)
['Alva Brandt', 'Arne Holtby']

People are made of the published numbers, live and tire by the plain steps of `tests.calibration`, and write their
logs as people do: no prior and no likelihood of `workbench.fit` is used. ``python -m tests.invented_gyms`` writes
``data/demo_gym`` again.
"""

from tests.invented_gyms.gym import InventedGym, invent_gym
from tests.invented_gyms.people import Common

__all__ = ["Common", "InventedGym", "invent_gym"]
