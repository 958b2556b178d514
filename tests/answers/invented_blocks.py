"""Invented blocks, lifters and rooms, made at random, that together hold every way to prescribe a set.

Each is a gym's files as a person would write them, as the mappings that a TOML reader gives.
"""

from __future__ import annotations

import random
from collections.abc import Iterator

from workbench.quantities import KG_PER_LB

WEEKS = 3
#: Ways in which a set group may change from week to week; made anew for each group by `_rule`.
RULES = ("none", "step", "wave", "reps then load", "by week", "by week with reps", "by week with sets")
#: Name -> 1RM [kg, of both hands] and how it is loaded.
LIFTS = {
    "back squat": (130.0, "bar"),
    "bench press": (90.0, "bar"),
    "barbell bench pull": (85.0, "bar"),
    "Romanian deadlift": (125.0, "bar"),
    "dumbbell curl": (44.0, "hands"),
    "dumbbell shoulder press": (56.0, "hands"),
    "split squat": (60.0, "hands"),
    "pull-up": (120.0, "body"),
    "lat pulldown": (85.0, "bar"),
}
BODY_KG = 78.0
PLATES_LB = [{"mass": mass, "pairs": 6} for mass in (45, 25, 10, 5, 2.5)]
PLATES_KG = [{"mass": mass, "pairs": 4} for mass in (20, 15, 10, 5, 2.5, 1.25)]
ROOMS = {
    "lb": {
        "name": "pound room",
        "unit": "lb",
        "plates": PLATES_LB,
        "equipment": [
            {"name": "bar", "kind": "barbell", "bar": 45},
            {"name": "dumbbells", "kind": "dumbbells", "first": 5, "last": 80, "step": 5},
            {"name": "stack", "kind": "stack", "first": 10, "step": 10, "last": 250, "add_ons": [{"mass": 2.5}]},
            {"name": "belt", "kind": "bodyweight", "belt_uses_room": True},
        ],
    },
    "kg": {
        "name": "kilogram room",
        "unit": "kg",
        "plates": PLATES_KG,
        "equipment": [
            {"name": "bar", "kind": "barbell", "bar": 20, "collars": 5},
            {"name": "dumbbells", "kind": "dumbbells", "first": 4, "last": 40, "step": 2},
            {"name": "stack", "kind": "stack", "first": 5, "step": 5, "last": 120, "add_ons": [{"mass": 1.25}]},
            {"name": "belt", "kind": "bodyweight", "belt_uses_room": True},
        ],
    },
}
#: What some case must hold, so that the agreement is about all of them.
FEATURES = {
    *RULES,
    *("drops", "range", "to failure", "alternating", "dumbbells", "body mass", "each side", "repeat", "lighter week"),
    *("percent", "reps_in_reserve", "part", "kg", "lb", "loads by week", "kg room", "lb room"),
}


def invented_gym(number: int) -> tuple[dict, dict, dict]:
    """Return a block, a lifter and a room; the same number gives the same."""
    rng = random.Random(number)
    unit = ("kg", "lb")[number % 2]
    names = rng.sample(list(LIFTS), 3)
    rules = [RULES[(number + shift) % len(RULES)] for shift in (0, 2, 4)]
    slots = [_slot(rng, name, rule) for name, rule in zip(names, rules, strict=True)]
    if rng.random() < 0.6:
        slots[0]["alternate_with_next"] = True
    sessions = [
        {"name": "Tuesday", "day": 2, "exercises": slots[:2]},
        {"name": "Thursday, arms", "day": 4, "exercises": slots[2:]},
    ]
    if rng.random() < 0.4:
        sessions.append({"name": "Saturday", "repeat_of": "Tuesday", "percent_change": -5, "reps_change": 1})
    lighter = [{"week": WEEKS, "load": 0.9, "sets": 0.5}] if rng.random() < 0.6 else []
    block = {"name": f"Invented {number}", "weeks": WEEKS, "sessions": sessions, "lighter_weeks": lighter}
    if number % 4:  # nothing breaks, so that the command looks for no mend, which takes most of its time
        block["limits"] = {"chance_of_reps": 0.001}
    lifter = {"name": "A. Nyone", "body_mass_kg": BODY_KG, "lifts": {name: _lift(name, rng) for name in names}}
    return block, lifter, ROOMS[unit]


def _lift(name: str, rng: random.Random) -> dict:
    one_rm, loaded = LIFTS[name]
    lift = {"one_rm_kg": round(one_rm * rng.uniform(0.9, 1.1), 1), "uncertainty_percent": 4}
    return lift | ({"each_hand": False} if loaded == "hands" else {})


def _slot(rng: random.Random, name: str, rule: str) -> dict:
    """Return one exercise: a group that changes by the rule, then perhaps a part of it, or another one."""
    groups = [_group(rng, name, rule)]
    if rng.random() < 0.5:
        groups.append({"reps": 5, "part_of_group": 1, "part": 0.8, "rest_s": 100})
    if rng.random() < 0.4:
        groups.append({"count": 2, "reps": [6, 10], "reps_in_reserve": 2, "rest_s": 75})
    return {"exercise": name, "ramp": rng.random() < 0.5, "sets": groups}


def _group(rng: random.Random, name: str, rule: str) -> dict:
    way = rng.choice(["percent", "percent", "kg", "lb"])
    one_rm, loaded = LIFTS[name]
    # What a body is part of is hardly ever lighter than the body.
    percent = float(rng.choice([75, 85] if loaded == "body" else [55, 62.5, 70, 77.5]))
    load = {"percent": percent, "kg": round(one_rm * percent / 100), "lb": round(one_rm * percent / 100 / KG_PER_LB)}
    step = {"percent": 2.5, "kg": 2.0, "lb": 5.0}[way]
    reps = rng.choice([3, 5, 8])
    group = {"count": rng.choice([1, 2, 3]), "reps": reps, way: load[way], "rest_s": rng.choice([45, 90, 200])}
    if way != "percent" and loaded == "hands":
        group["each_hand"] = False
    by_week = [load[way] + step * week for week in range(WEEKS)]
    changes = {
        "step": {"rule": "step", "step": step, "reps_step": rng.choice([0, 1])},
        "wave": {"rule": "wave", "length": 2, "step": step, "rise": step / 2},
        "reps then load": {"rule": "reps then load", "reps_to": reps + 2, "step": step},
        "by week": {"rule": "by week", "load": by_week},
        "by week with reps": {"rule": "by week", "load": by_week, "reps": [reps, reps + 1, reps - 1]},
        "by week with sets": {"rule": "by week", "load": by_week, "sets": [group["count"], 3, 1]},
    }
    if rule != "none":
        group["progression"] = changes[rule]
    if rule in ("none", "wave", "by week", "by week with sets"):
        group["reps"] = rng.choice([reps, [reps, reps + 3], "failure"])
    if rng.random() < 0.4:
        group["drops"] = {"sizes": [20, 15], "change_s": 10, "reps": rng.choice([3, [2, 5], "failure"])}
    return group


def features_of(block: dict, room: dict) -> Iterator[str]:
    """Name what a block holds, as in `FEATURES`."""
    yield f"{room['unit']} room"
    if block["lighter_weeks"]:
        yield "lighter week"
    for session in block["sessions"]:
        if "repeat_of" in session:
            yield "repeat"
            continue
        for slot in session["exercises"]:
            if slot.get("alternate_with_next"):
                yield "alternating"
            if slot["exercise"] == "split squat":
                yield "each side"
            loaded = LIFTS[slot["exercise"]][1]
            yield from {"hands": ["dumbbells"], "body": ["body mass"]}.get(loaded, [])
            for group in slot["sets"]:
                yield from _features_of_group(group)


def _features_of_group(group: dict) -> Iterator[str]:
    rule = group.get("progression", {"rule": "none"})
    more = [f" with {key}" for key in ("reps", "sets") if key in rule]
    yield rule["rule"] + "".join(more)
    if rule["rule"] == "by week":
        yield "loads by week"
    if "drops" in group:
        yield "drops"
    if isinstance(group["reps"], list):
        yield "range"
    if group["reps"] == "failure":
        yield "to failure"
    yield from (way for way in ("percent", "reps_in_reserve", "part", "kg", "lb") if way in group)
