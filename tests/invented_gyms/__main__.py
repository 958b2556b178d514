"""``python -m tests.invented_gyms``: write ``data/demo_gym`` again, or any other invented gym's folder."""

from __future__ import annotations

import argparse
from pathlib import Path

from tests.invented_gyms import Common, InventedGym, invent_gym

DEMO = Path(__file__).resolve().parents[2] / "data" / "demo_gym"
#: More enduring than most, quick to recover, and too sure of what is left.
COMMON = Common(
    endurance_shift=-0.2,
    endurance_spread=0.24,
    recovery_shift=0.25,
    recovery_spread=0.4,
    reserve_shift=0.8,
    reserve_spread=0.6,
)


def demo_gym(*, lifters: int = 24) -> InventedGym:
    """Return the gym of ``data/demo_gym``: people tire by the two-state form, and reps level off at heavy loads."""
    return invent_gym(2026, form="two states", curve="asymptotic", lifters=lifters, common=COMMON)


def main() -> None:
    """Write the folder, and say what the logs ask for."""
    parser = argparse.ArgumentParser(prog="python -m tests.invented_gyms", description=__doc__)
    parser.add_argument("folder", nargs="?", type=Path, default=DEMO)
    folder = parser.parse_args().folder
    gym = demo_gym()
    answers = gym.write(folder)
    size = sum(path.stat().st_size for path in folder.rglob("*") if path.is_file())
    print(f"{folder}: {len(gym.lifters)} lifters, {len(gym.sets)} sets, {size / 1e6:.2f} MB; asked: {answers}")


if __name__ == "__main__":
    main()
