"""Searches for a load over all exercises, lifters and rooms, held against bounds worked out apart from the package.

The whole run, with the exercises for which there is no safe search and what is said instead:
``python -m tests.answers.search_bounds``.
"""

from __future__ import annotations

import csv
import math
from collections import Counter
from collections.abc import Iterator

import numpy as np

from tests.simulated_logs import both_hands
from workbench.answers.load_search import LoadSearch, guess_one_rm
from workbench.gym import catalogue
from workbench.gym.equipment import Room, read_room
from workbench.lifter import Lifter, read_lifter
from workbench.quantities import InputError
from workbench.reference.sources import data_path
from workbench.reference.toml_files import validate

#: Floating point: a load, a bound or a step this close is equal.
ROUNDING = 1e-9
RESERVE = 3
#: One in ten lies below the middle less so many standard deviations (normal distribution).
ONE_IN_TEN = 1.28
#: A room with little in it: a bar with large plates only, far between, and a machine whose sled weighs nothing.
BARE = {
    "name": "Bare room",
    "unit": "kg",
    "plates": [{"mass": 10, "pairs": 4}],
    "equipment": [
        {"name": "bar", "kind": "barbell", "bar": 20},
        {"name": "sled", "kind": "plate_machine", "empty": 0, "note": "Leg press."},
        {"name": "few dumbbells", "kind": "dumbbells", "masses": [2, 5, 10, 20]},
        {"name": "bells", "kind": "kettlebells", "masses": [4, 16]},
        {"name": "column", "kind": "stack", "first": 2.5, "step": 2.5, "last": 60},
        {"name": "beam", "kind": "bodyweight"},
    ],
}


def table(*parts: str) -> list[dict[str, str]]:
    """Read a data file without the package's own reader."""
    with data_path(*parts).open(encoding="utf-8", newline="") as handle:
        return list(csv.DictReader(handle))


EXERCISES = {row["name"]: row for row in table("exercises.csv")}
SHARES: dict[str, dict[str, float]] = {}
for _row in table("muscle_shares.csv"):
    SHARES.setdefault(_row["exercise"], {})[_row["muscle"]] = float(_row["share"])
SPARED = {row["name"]: set(row["spares"].split(";")) for row in table("limiters.csv")}
CAUTIOUS = {(row["quantity"], row["group"]): float(row["value"]) for row in table("load_search.csv")}
#: Endurance of the one in ten who tires the most with each rep, 1/rep: log-normal, its three spreads independent.
TIRES_QUICKLY = {
    row["group"]: float(row["value"])
    * math.exp(ONE_IN_TEN * math.sqrt(sum(float(row[key]) ** 2 for key in ("spread", "group_spread", "uncertainty"))))
    for row in table("parameters.csv")
    if row["quantity"] == "endurance"
}
RATIOS = table("evidence", "load_ratios.csv")


def low_by_ratio(lifter: Lifter, name: str) -> float | None:
    """Low end of a 1RM by the narrowest published ratio to a lift that the lifter knows, at the low end of that."""
    best: tuple[float, float] | None = None
    for row in RATIOS:
        low, high = float(row["low"]), float(row["high"])
        if row["to"] == name:
            known, factor = row["from"], low
        elif row["from"] == name:
            known, factor = row["to"], 1 / high
        else:
            continue
        if known in lifter.lifts:
            lift = lifter.lifts[known]
            kg = lift.one_rm * (1 - ONE_IN_TEN * lift.uncertainty_percent / 100) * factor
            if best is None or high / low < best[0] * (1 - ROUNDING):
                best = (high / low, kg)
    return None if best is None else best[1]


def part_kept(known: str, name: str) -> float:
    """Muscle shares of one exercise that another keeps, by hand."""

    def reach(exercise: str, muscle: str) -> float:
        row = EXERCISES[exercise]
        limited = row["limited_by"] and muscle not in SPARED[row["limited_by"]]
        return float(row["reach"]) if limited else 1.0

    before, after = SHARES[known], SHARES[name]
    if not any(before[muscle] == 1 and after.get(muscle) == 1 for muscle in before):
        return 0.0
    low, high = 0.0, 0.0
    for muscle in set(before) | set(after):
        share, other = before.get(muscle, 0.0), after.get(muscle, 0.0)
        low += min(share, other * min(1.0, reach(name, muscle) / reach(known, muscle)))
        high += max(share, other)
    return low / high


def low_by_shares(lifter: Lifter, name: str) -> float | None:
    """Low end of a 1RM by known lifts that share muscles, or body mass; None where neither says anything."""
    row = EXERCISES[name]
    best = 0.0
    for known, lift in lifter.lifts.items():
        other = EXERCISES[known]
        same = other["movement_pattern"] == row["movement_pattern"]
        kg = lift.one_rm * (1 - ONE_IN_TEN * lift.uncertainty_percent / 100) * part_kept(known, name)
        kg *= CAUTIOUS["known_lift", "same movement" if same else "another movement"]
        machines = {"stack", "machine plates"}
        if other["implement"] in machines and row["implement"] not in machines:
            kg *= CAUTIOUS["known_lift", "machine to free"]
        if row["sides"] == "one-sided" and other["sides"] == "two-sided":
            kg *= CAUTIOUS["known_lift", "one side"]
        best = max(best, kg)
    if lifter.body_mass_kg is not None:
        trained = (lifter.training_years or 0) >= CAUTIOUS["trained_years", "all"]
        kg = lifter.body_mass_kg * CAUTIOUS["trained" if trained else "untrained", row["movement_pattern"]]
        kg *= float(row["reach"]) * (CAUTIOUS["known_lift", "one side"] if row["sides"] == "one-sided" else 1.0)
        best = max(best, kg)
    return best or None


def reserve(load: float, low_one_rm: float, name: str) -> float:
    """Reps left after the set by the curve, reps = 1 + ln(1RM / load) / k, for a lifter who tires quickly."""
    k = TIRES_QUICKLY[EXERCISES[name]["endurance_class"]]
    reps = 3 if EXERCISES[name]["movement_pattern"] == "explosive pull" else 6
    return 1 + math.log(low_one_rm / load) / k - reps


def hold(search: LoadSearch, lifter: Lifter, room: Room) -> None:
    """Assert everything that a search promises."""
    name = search.exercise
    by_ratio = low_by_ratio(lifter, name)
    low = by_ratio if by_ratio is not None else low_by_shares(lifter, name)
    row = EXERCISES[name]
    where = f"{name}, {lifter.name}, {room.name}: {search.loads_kg}"
    offered = room.loads_for(catalogue.exercise(name)).kg
    assert len(search.lines) >= 2, where
    if row["implement"] in ("bodyweight", "band") or low is None:
        assert not search.loads_kg, where
    elif any(load > 0 and reserve(load, low, name) >= RESERVE + ROUNDING for load in offered):
        assert search.loads_kg, where
    if not search.loads_kg:
        assert search.lines[0].startswith("No "), where
        return
    assert low is not None
    for load in search.loads_kg:
        assert load > 0, where
        assert reserve(load, low, name) >= RESERVE - ROUNDING, where
    top = search.bound_kg
    for load, after in zip(search.loads_kg, search.loads_kg[1:], strict=False):
        step = after / load - 1
        far = by_ratio is not None and step <= 1 / 3 + ROUNDING and after <= 0.75 * top * (1 + ROUNDING)
        assert step > 0, where
        assert far or step <= 0.1 + ROUNDING, where
    if len(search.loads_kg) == 1 and row["implement"] != "barbell":
        above = [float(load) for load in offered if load > search.loads_kg[0]]
        if above and above[0] <= top:
            assert any("nothing between" in line for line in search.lines), where


def rooms() -> list[Room]:
    """Return the demo rooms and a bare one."""
    return [*(read_room(path) for path in sorted(data_path("demo", "rooms").glob("*.toml"))), validate(BARE, Room)]


def demo_lifters() -> list[Lifter]:
    """Return the demo lifters."""
    return [read_lifter(path) for path in sorted(data_path("demo", "lifters").glob("*.toml"))]


def random_lifters(count: int, seed: int = 11) -> Iterator[Lifter]:
    """Invent lifters: light and heavy, new and old, with one to six lifts known well or hardly, some never weighed."""
    rng = np.random.default_rng(seed)
    names = list(EXERCISES)
    for number in range(count):
        mass = float(rng.uniform(40, 140))
        chosen = rng.choice(names, size=int(rng.integers(1, 7)), replace=False)
        lifts = {
            str(name): {
                "one_rm_kg": float(np.clip(mass * rng.lognormal(-0.5, 0.8), 1, 600)),
                "uncertainty_percent": float(rng.uniform(0, 25)),
                **both_hands(str(name)),
            }
            for name in chosen
        }
        content = {"name": f"Invented {number}", "lifts": lifts}
        if rng.random() < 0.85:
            content["body_mass_kg"] = mass
        if rng.random() < 0.8:
            content["training_years"] = float(rng.uniform(0, 15))
        yield validate(content, Lifter)


def searches(lifter: Lifter, room: Room) -> Iterator[LoadSearch]:
    """Search for every exercise of the catalogue that the room can load and the lifter does not know."""
    for exercise in list(catalogue.exercises().values()):
        try:
            search = guess_one_rm(lifter, room, exercise).search
        except InputError:
            continue  # nothing in the room to load it with
        if search is not None:
            yield search


def check_all(
    lifters: list[Lifter], in_rooms: list[Room]
) -> tuple[Counter[tuple[str, str]], list[tuple[str, LoadSearch]]]:
    """Hold every search of every lifter in every room.

    Returns how often there are loads, by exercise and room, and the searches without, each after its room.
    """
    found: Counter[tuple[str, str]] = Counter()
    none = []
    for lifter in lifters:
        for room in in_rooms:
            for search in searches(lifter, room):
                hold(search, lifter, room)
                found[search.exercise, room.name] += search.safe
                none += [] if search.safe else [(room.name, search)]
    return found, none


def main() -> None:
    """Run all, and print the exercises without a safe search."""
    lifters = [*demo_lifters(), *random_lifters(500)]
    found, none = check_all(lifters, rooms())
    print(f"{len(lifters)} lifters, {len(rooms())} rooms, {len(EXERCISES)} exercises:")
    print(f"{found.total()} searches, no step above its bound; {len(none)} times there is no safe search:")
    count = Counter((search.exercise, room) for room, search in none)
    said = {(search.exercise, room): search.lines for room, search in none}
    for (exercise, room), times in sorted(count.items()):
        asked = times + found[exercise, room]
        print(f"\n{exercise} ({room}): {times} of {asked} lifters who do not know it. Said, for instance:")
        print("\n".join(f"  {line}" for line in said[exercise, room]))
    print("\nNo safe search for any lifter:")
    for room in dict.fromkeys(room for _, room in count):
        names = sorted(exercise for exercise, where in count if where == room and not found[exercise, where])
        print(f"  {room}: {', '.join(names)}")


if __name__ == "__main__":
    main()
