"""Gyms' folders with own exercises: a room, two lifters, a block and a log that name them."""

from __future__ import annotations

from pathlib import Path

ROOM = """
name = "Hall {name}"
unit = "kg"
[[plates]]
mass = 10
pairs = 8
[[plates]]
mass = 2.5
pairs = 2
[[equipment]]
name = "bar"
kind = "barbell"
bar = 20
[[equipment]]
name = "dumbbells"
kind = "dumbbells"
masses = [5, 10, 15, 20, 25, 30]
"""
EXERCISES = """
[[exercises]]
name = "log press"
movement_pattern = "vertical press"
implement = "{implement}"
endurance_class = "vertical press"
setup_s = {setup_s}
muscles = {{ {muscle} = 1, triceps = 0.5 }}
aliases = ["log"]
"""
LIFTER = """
name = "{name}"
body_mass_kg = 80
{avoid}
[lifts."back squat"]
one_rm_kg = 120
[lifts.log]
one_rm_kg = {kg}
{hand}
"""
BLOCK = """
name = "Logs"
weeks = 2
[[sessions]]
name = "one"
[[sessions.exercises]]
exercise = "log press"
sets = [{ count = 3, reps = 5, percent = 70, rest_s = 120 }]
[[sessions.exercises]]
exercise = "back squat"
sets = [{ count = 2, reps = 5, percent = 70, rest_s = 120 }]
"""
LOG = """date,exercise,load,reps,outcome
2026-01-05,log,40 kg,5,completed
2026-01-07,Log press,42.5 kg,5,completed
2026-01-09,log presses,45 kg,4,failed
"""


def make_gym(
    folder: Path, name: str, *, implement: str = "barbell", setup_s: float = 60, muscle: str = "chest", kg: float = 80
) -> Path:
    """Write a gym whose own exercise is the log press, and return its folder."""
    gym = folder / name
    hand = "each_hand = false" if implement == "dumbbells" else ""
    texts = {
        "rooms/hall.toml": ROOM.format(name=name),
        "exercises/own.toml": EXERCISES.format(implement=implement, setup_s=setup_s, muscle=muscle),
        "lifters/a.toml": LIFTER.format(name="Ada", kg=kg, hand=hand, avoid=""),
        "lifters/b.toml": LIFTER.format(name="Ben", kg=1.2 * kg, hand=hand, avoid='avoid_exercises = ["log"]'),
        "block.toml": BLOCK,
        "log.csv": LOG,
    }
    for path, text in texts.items():
        (gym / path).parent.mkdir(parents=True, exist_ok=True)
        (gym / path).write_text(text, encoding="utf-8")
    return gym
