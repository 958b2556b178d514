"""One block, lifter, room, seed and number of draws: Python, command, panel, sheet and rationale say the same of it.

The table of `workbench.check` is what every door is held against: numbers where the door gives numbers, and else the
printed words, turned back into numbers by `tests.answers.doors`.
"""

from __future__ import annotations

import csv
import html
import json
import math
import re
import shutil
from collections import Counter
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

import workbench
from tests.answers.doors import (
    POUND,
    Place,
    Said,
    map_says,
    panel_table_says,
    printed,
    printed_sheet_says,
    rationale_says,
    table_rows,
    terminal_says,
    workbook_says,
)
from tests.answers.invented_blocks import FEATURES, RULES, features_of, invented_gym
from tests.fuzz.toml_cases import toml_of
from workbench.panels import BlockPanel, VolumePanel
from workbench.prescription.block import WHOLE_WEEK
from workbench.present.words import in_words
from workbench.reference.sources import data_path

SEED, DRAWS = 7, 30
CASES = 22
#: Of these so many run with the fast tests: together they hold every progression rule.
FAST = 3
#: Words have at most three decimals, of kg or lb in each hand: in kg, of two hands, no more than this.
LAST_DIGIT_KG = 2 * 0.00051
#: A committed table keeps four decimals.
FOUR_DECIMALS = 0.51e-4
#: Of sums of a few numbers below a hundred.
ROUNDING = 1e-9
#: A sheet tells no reserve of five reps from a larger one.
FAR_FROM_FAILURE = 5
#: From so many reps on their number is not said.
MANY = 30


class Doors:
    """What comes out of each door for the files of a folder."""

    def __init__(self, gym: Path, block: Path, panels: list[Any], folder: Path) -> None:
        lifter, room = gym / "lifter.toml", gym / "room.toml"
        files = ("--lifter", lifter, "--room", room, "--draws", DRAWS, "--seed", SEED)
        self.answer = workbench.check(block, lifter, room, draws=DRAWS, seed=SEED)
        self.volume = workbench.volume(block, lifter, room, draws=DRAWS, seed=SEED)
        self.text = printed("check", block, *files, "--sets")
        self.short = printed("check", block, *files)
        self.json = json.loads(printed("check", block, *files, "--json"))
        self.views = json.loads(printed("check", block, *files, "--muscles", "--json"))
        printed("commit", block, *files, "--reason", "to see", "--to", folder)
        (self.committed,) = folder.iterdir()
        printed("rationale", self.committed, "-o", folder / "why.html")
        self.rationale = (folder / "why.html").read_text(encoding="utf-8")
        (self.page,) = self.committed.glob("sheets/*.html")
        (self.workbook,) = self.committed.glob("sheets/*.xlsx")
        self.panel, self.volume_panel = panels
        for panel in panels:
            panel.controls.block.path.value = str(block)
            assert panel.trouble.value == ""
        self.panel.controls.shown.value = "all sessions"


@pytest.fixture(scope="module")
def gym(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder whose files are written anew for every case; the demonstration's stand there first."""
    folder, demo = tmp_path_factory.mktemp("gym"), data_path("demo")
    shutil.copy(demo / "block.toml", folder / "demo.toml")
    shutil.copy(demo / "lifters" / "bram_okafor.toml", folder / "lifter.toml")
    shutil.copy(demo / "rooms" / "boathouse_hall.toml", folder / "room.toml")
    return folder


@pytest.fixture(scope="module")
def panels(gym: Path) -> list[Any]:
    """Panels that read the files of the folder, and read them again when the block's path changes."""
    made = [BlockPanel(seed=SEED, draws=DRAWS), VolumePanel(seed=SEED, draws=DRAWS)]
    for panel in made:
        for picker, name in ((panel.controls.lifter, "lifter"), (panel.controls.room, "room")):
            picker.path.value, picker.choice.value = str(gym / f"{name}.toml"), None
        panel.controls.block.choice.value = None
    return made


_FAST = ["demo", *range(FAST)]
_SLOW = [pytest.param(number, marks=pytest.mark.slow) for number in range(FAST, CASES)]


@pytest.fixture(scope="module", params=[*_FAST, *_SLOW])
def doors(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory, gym: Path, panels: list[Any]
) -> Doors:
    block = gym / f"{request.param}.toml"
    if request.param != "demo":
        paths = (block, gym / "lifter.toml", gym / "room.toml")
        for path, content in zip(paths, invented_gym(request.param), strict=True):
            path.write_text(toml_of(content), encoding="utf-8")
    return Doors(gym, block, panels, tmp_path_factory.mktemp("committed"))


def test_the_invented_blocks_hold_every_way_to_prescribe_a_set() -> None:
    gyms = [invented_gym(number) for number in range(CASES)]
    assert {feature for block, _, room in gyms for feature in features_of(block, room)} == FEATURES
    assert {feature for block, _, room in gyms[:FAST] for feature in features_of(block, room)} >= set(RULES)


def test_every_door_says_the_same_of_every_set(doors: Doors) -> None:
    sets = doors.answer.sets.to_dict("records")
    places: list[Place] = [(row["week"], row["session"], row["exercise"], row["set"]) for row in sets]
    said = {
        "terminal": terminal_says(doors.text),
        "map": map_says(doors.panel),
        "rationale": rationale_says(doors.rationale),
        "panel's table": panel_table_says(doors.panel),
        "printed sheet": printed_sheet_says(doors.page.read_text(encoding="utf-8")),
        "workbook": workbook_says(doors.workbook),
    }
    numbered = dict.fromkeys(said, places) | dict.fromkeys(("printed sheet", "workbook"), _running(places))
    for door, found in said.items():
        assert sorted(found) == sorted(numbered[door]), door
    for number, (place, row) in enumerate(zip(places, sets, strict=True)):
        if not math.isnan(row["reserve"]):  # the fewest reps and what is left after them are the reps that there are
            assert -ROUNDING <= row["reserve"] + row["reps_low"] - row["reps_p50"] < 1 + ROUNDING, place
        of_set = {door: found[numbered[door][number]] for door, found in said.items()}
        assert len({(one.load, one.reps) for one in of_set.values()}) == 1, (place, of_set)
        assert len({one.chance for one in of_set.values() if one.chance is not None}) == 1, (place, of_set)
        for door, one in of_set.items():
            assert _load_and_reps_are(one, row), (door, place, one, row)
            assert _rest_is(one, row, first=row["rest_s"] == 0), (door, place, one, row)
            assert one.chance is None or _chance_is(one.chance, row["chance"]), (door, place, one, row)
            assert one.reserve is None or _reserve_is(one.reserve, row), (door, place, one, row)


def _running(places: list[Place]) -> list[Place]:
    """Places with sets numbered as they are done: a sheet counts none that is left out this week."""
    counts: Counter[tuple[int, str, str]] = Counter()
    found = []
    for week, session, exercise, label in places:
        drop = label.partition(",")[2]
        counts[week, session, exercise] += not drop
        found.append((week, session, exercise, f"{counts[week, session, exercise]}{',' if drop else ''}{drop}"))
    return found


def _load_and_reps_are(said: Said, row: dict[str, Any]) -> bool:
    load = math.isclose(said.load_kg(row["body_kg"]), row["load_kg"], abs_tol=LAST_DIGIT_KG)
    return load and said.reps_range() == (row["reps_low"], row["reps_high"])


def _rest_is(said: Said, row: dict[str, Any], *, first: bool) -> bool:
    """Whole seconds; a sheet leaves out what comes before a first set; a range holds the rests of all weeks."""
    if said.rest is None:
        return first
    low, _, high = said.rest.partition(" to ")
    return int(low) - 0.5 <= row["rest_s"] <= int(high or low) + 0.5


def _chance_is(said: str, chance: float) -> bool:
    """Whole percent; neither end is claimed, and a set to failure has no chance."""
    if math.isnan(chance):
        return said == ""
    if said in ("<1 %", ">99 %"):
        return chance < 0.01 if said == "<1 %" else chance > 0.99
    return abs(100 * chance - int(said.removesuffix(" %"))) <= 0.5 + ROUNDING


def _reserve_is(said: str, row: dict[str, Any]) -> bool:
    """Whole reps left, or short; with the middle 80 % where the door has room for it; of a set to failure its reps.

    From 30 reps on none says their number, and a map's cell does.
    """
    if math.isnan(row["chance"]):
        low, middle, high = (row[name] for name in ("reps_p10", "reps_p50", "reps_p90"))
        band = f" ({low:.0f} to {_many(high)})" if low < MANY else ""
        return said in ("", f"{middle:.0f} reps", f"{_many(middle)} reps{band}")
    low, middle, high = (math.floor(row[name]) for name in ("reserve_low", "reserve", "reserve_high"))
    after = f" after {row['reps_low']:.0f}" if row["reps_high"] > row["reps_low"] else ""
    if middle < 0:
        forecast = f"likely {-middle} short"
    else:
        forecast = (f"about {middle}" if middle < FAR_FROM_FAILURE else f"{FAR_FROM_FAILURE}+") + after
    return said in (forecast, f"{_many(middle)} ({low} to {_many(high)})" if low < MANY else _many(middle))


def _many(reps: float) -> str:
    return f"{MANY} or more" if reps >= MANY else f"{reps:.0f}"


def test_python_panel_json_and_commit_hold_the_same_numbers(doors: Doors) -> None:
    """To the digit in Python, panel and JSON; to four decimals in what was committed."""
    pd.testing.assert_frame_equal(doors.panel.check.sets, doors.answer.sets, check_exact=True)
    pd.testing.assert_frame_equal(doors.panel.check.weeks, doors.answer.weeks, check_exact=True)
    assert doors.panel.check.notes == doors.answer.notes == tuple(doors.json["warnings"])
    assert doors.json["chance_of_block"] == doors.answer.chance_of_block == doors.panel.check.chance_of_block
    for name in ("sets", "weeks"):
        rows = getattr(doors.answer, name).to_dict("records")
        for of_json, row in zip(doors.json[name], rows, strict=True):
            assert all(_is_json_of(of_json[key], value) for key, value in row.items()), (of_json, row)
        with (doors.committed / f"predicted_{name}.csv").open(encoding="utf-8", newline="") as file:
            for kept, row in zip(csv.DictReader(file), rows, strict=True):
                numbers = {key: row[key] for key in kept if isinstance(row.get(key), float)}
                assert all(_is_kept(kept[key], value) for key, value in numbers.items()), (kept, row)


def _is_json_of(found: Any, value: Any) -> bool:
    """JSON has neither infinity nor what is no number."""
    return found is None if isinstance(value, float) and not math.isfinite(value) else found == value


def _is_kept(text: str, value: float) -> bool:
    if not math.isfinite(value):
        return text == ("" if math.isnan(value) else "failure")
    return abs(float(text) - value) <= FOUR_DECIMALS


def test_every_door_says_the_same_of_every_week(doors: Doors) -> None:
    weeks = {(row["week"], row["session"]): row for row in doors.answer.weeks.to_dict("records")}
    sessions = {place: row for place, row in weeks.items() if place[1] != WHOLE_WEEK}

    head = r"^Week (\d+), (.+): (?:all reps (\S.*?)|no prescribed reps), about (\d+) min$"
    found = re.findall(head, doors.text, re.MULTILINE)
    assert sorted((int(week), session) for week, session, *_ in found) == sorted(sessions)
    for week, session, chance, minutes in found:
        assert _chance_is(chance, sessions[int(week), session]["chance"])
        assert _printed_as(minutes, sessions[int(week), session]["minutes"])
    assert re.search(r"^  whole block +(\S.*)$", doors.short, re.MULTILINE)[1] == in_words(doors.answer.chance_of_block)
    first, *others, last = doors.answer.sentences()
    panel, rationale = (html.unescape(door) for door in (doors.panel.answer.value, doors.rationale))
    for door in (" ".join(doors.short.split()), panel, rationale):
        assert first in door
        assert last in door
        if door is not panel or doors.panel.check.limit == doors.answer.limit:  # its slider has no limit below 50 %
            assert all(sentence in door for sentence in others)

    for session, minutes, *chances in _rows(doors.panel.week_rows.value, "Chance that all reps are made"):
        of_weeks = [row for (_, name), row in weeks.items() if name == session]
        assert len(of_weeks) == len(chances)
        assert all(_chance_is(said, row["chance"]) for said, row in zip(chances, of_weeks, strict=True))
        low, high = minutes.split("-")
        assert _printed_as(low, min(row["minutes"] for row in of_weeks))
        assert _printed_as(high, max(row["minutes"] for row in of_weeks))
    band = next(line for line in doors.panel.bands.shown.data if line.name == "median")
    wholes = [row["reserve"] for (_, name), row in weeks.items() if name == WHOLE_WEEK]
    assert list(band.y) == pytest.approx(wholes, rel=0, abs=0, nan_ok=True)

    rows = _rows(doors.rationale, "Weeks and sessions")
    assert sorted((int(week.removeprefix("week ")), session) for week, session, *_ in rows) == sorted(weeks)
    for week, session, chance, missed, reserve, minutes in rows:
        row = weeks[int(week.removeprefix("week ")), session]
        assert _chance_is(chance, row["chance"])
        assert _printed_as(minutes, row["minutes"])
        assert (missed == "" and math.isnan(row["missed"])) or _printed_as(missed, row["missed"])
        if math.isnan(row["reserve"]):
            assert reserve == ""
        else:
            low, middle, high = (math.floor(row[name]) for name in ("reserve_low", "reserve", "reserve_high"))
            assert reserve == (f"{_many(middle)} ({low} to {_many(high)})" if low < MANY else _many(middle))

    week, dated = 0, 0
    for number, session, minutes in re.findall(
        r"<h1>.*?, week (\d+): |<h2>(.+?), date: _+ \(about (\d+) min\)", _text(doors.page)
    ):
        week = int(number or week)
        if session:
            dated += 1
            assert _printed_as(minutes, sessions[week, html.unescape(session)]["minutes"])
    assert dated == len(sessions)


def test_every_door_counts_the_same_volume(doors: Doors) -> None:
    for name, table in doors.volume.tables.items():
        pd.testing.assert_frame_equal(doors.volume_panel.last.tables[name], table, check_exact=True)
        for of_json, row in zip(doors.views[name], table.to_dict("records"), strict=True):
            assert all(_is_json_of(of_json[key], value) for key, value in row.items()), (name, of_json, row)
    per_kg = 1 / POUND if doors.volume.unit == "lb" else 1.0
    weeks = doors.volume.weeks.to_dict("records")
    for page, caption in (
        (doors.rationale, "Volume and intensity by week"),
        (doors.volume_panel.week_rows.value, "Week by week"),
    ):
        for cells, row in zip(_rows(page, caption), weeks, strict=True):
            said = re.findall(r"[\d.,]+", " ".join(cells))
            expected = [row[name] for name in ("week", "sets", "hard", "hard_low", "hard_high", "lifts")]
            expected += [row["tonnage_kg"] * per_kg, row["intensity_percent"], row["minutes"]]
            assert len(said) == len(expected)
            assert all(map(_printed_as, said, expected)), (cells, row)
    lifts = {(row["week"], row["zone"]): row["lifts"] for row in doors.volume.zones.to_dict("records")}
    zones = list(dict.fromkeys(zone for _, zone in lifts))
    of_zones = [cells[1:] for cells in _rows(doors.rationale, "Lifts by zone of intensity")]
    of_weeks = [cells[1:] for cells in _rows(doors.volume_panel.week_rows.value, "Lifts by zone of intensity")]
    for (week, zone), number in lifts.items():
        assert _printed_as(of_zones[zones.index(zone)][week - 1], number)
        assert _printed_as(of_weeks[week - 1][zones.index(zone)], number)


def _rows(page: str, caption: str) -> list[list[str]]:
    """Rows of the tables with this caption, without their headings."""
    rows = [cells for above, cells in table_rows(page) if above.get("caption") == caption]
    assert rows
    return rows[1:]


def _text(path: Path) -> str:
    return path.read_text(encoding="utf-8")


def _printed_as(said: str, value: float) -> bool:
    """Whether a number is what is printed, to the decimals that are printed."""
    decimals = len(said.partition(".")[2])
    return abs(float(said.replace(",", "")) - value) <= 0.5 * 10**-decimals + ROUNDING
