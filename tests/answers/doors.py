"""What each door says of every set of a block, read as a person reads it: from what is printed.

Words of loads, reps and reserves are turned back into numbers by `Said`, with no code of the package.
"""

from __future__ import annotations

import html.parser
import io
import math
import re
from contextlib import redirect_stdout
from dataclasses import dataclass
from pathlib import Path

import openpyxl

from workbench.__main__ import main

#: A set's place: week, session, exercise, label of the set ("2", or "2, drop 1").
Place = tuple[int, str, str, str]
#: International definition of the pound, kg.
POUND = 0.45359237

_SET = r"\d+(?:, drop \d+)?"
_REPS = r"\d+ to \d+|\d+|to failure"
#: A line of the printed answer: columns of set, load, percent, reps, rest, chance where there is one, reserve.
_LINE = re.compile(
    rf"  (?P<exercise>\S.*?) +(?P<set>{_SET}) +(?P<load>(?:body mass|\d).*?) +[\d.]+ %  (?P<reps>{_REPS}) +"
    r"(?:(?P<rest>\d+) s)? +(?:(?P<chance>[<>]?\d+ %)  )?(?P<reserve>\S.*?) *"
)
#: What stands beside a cell of the map when it is pointed at.
_HOVER = re.compile(
    rf"<b>(?P<exercise>.+)</b>, set (?P<set>{_SET}), week (?P<week>\d+)<br>(?P<load>.+) \([\d.]+ % of 1RM\)"
    r"(?:, rest before it (?P<rest>\d+) s)?<br>(?:(?P<reps>[^<]+) reps: all made with chance (?P<chance>[^<]+)<br>"
    rf"reps in reserve (?P<reserve>.+)|(?P<open>{_REPS})(?:, leaving [\d.]+ in reserve)?: (?P<will_be>.+))"
)


@dataclass(frozen=True)
class Said:
    """What a door says of a set; None where the door has no place for it."""

    load: str
    reps: str
    rest: str | None
    chance: str | None = None
    reserve: str | None = None

    def load_kg(self, body_kg: float) -> float:
        """Kilograms that the words name: of both hands, with the body where it counts."""
        body = body_kg if self.load.startswith("body mass") else 0.0
        added = self.load.removeprefix("body mass").removeprefix(" + ")
        if not added:
            return body
        hands, number, unit = re.fullmatch(r"(?:(2) x )?([\d.]+) (kg|lb)", added).groups()
        return body + int(hands or 1) * float(number) * (POUND if unit == "lb" else 1.0)

    def reps_range(self) -> tuple[float, float]:
        """Fewest and most reps that the words name."""
        if self.reps == "to failure":
            return 1.0, math.inf
        low, _, high = self.reps.partition(" to ")
        return float(low), float(high or low)


class _Tables(html.parser.HTMLParser):
    """Rows of every table of a page, each with the headings and the caption that stand above it."""

    def __init__(self) -> None:
        super().__init__()
        self.rows: list[tuple[dict[str, str], list[str]]] = []
        self._above: dict[str, str] = {}
        self._open = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag in ("h1", "h2", "caption"):
            self._open = tag
            self._above = {**self._above, tag: ""}
        elif tag == "tr":
            self.rows.append((self._above, []))
        elif tag in ("td", "th"):
            self._open = "cell"
            self.rows[-1][1].append("")
        elif tag == "br":
            self.handle_data("\n")

    def handle_endtag(self, tag: str) -> None:
        if tag in ("td", "th", self._open):
            self._open = ""

    def handle_data(self, data: str) -> None:
        if self._open == "cell":
            self.rows[-1][1][-1] += data
        elif self._open:
            self._above[self._open] += data


def table_rows(page: str) -> list[tuple[dict[str, str], list[str]]]:
    """Rows of a page without its scripts: the drawing library alone has millions of letters."""
    tables = _Tables()
    tables.feed(re.sub(r"<(script|style)\b.*?</\1>", "", page, flags=re.DOTALL))
    return tables.rows


def printed(*arguments: object) -> str:
    """Run a command and return what it prints."""
    out = io.StringIO()
    with redirect_stdout(out):
        assert main([str(argument) for argument in arguments]) == 0
    return out.getvalue()


def terminal_says(text: str) -> dict[Place, Said]:
    """Sets of what ``workbench check`` prints."""
    found = {}
    for line in text.splitlines():
        head = re.match(r"Week (\d+), (.+): (?:all reps |no prescribed reps)", line)
        if head:
            week, session = int(head[1]), head[2]
        row = _LINE.fullmatch(line)
        if row:
            place = (week, session, row["exercise"], row["set"])
            found[place] = Said(row["load"], row["reps"], row["rest"], row["chance"] or "", row["reserve"])
    return found


def map_says(panel) -> dict[Place, Said]:
    """Sets of the block panel's map: its cells, and what stands beside each when it is pointed at."""
    drawn = panel.map.shown.data[0]
    sessions = {name.split(",")[0]: name for name in panel.check.sets["session"]}
    found = {}
    for label, hovers, cells in zip(drawn.y, drawn.customdata, drawn.text, strict=True):
        session = sessions[label.split(": ")[0]]
        for hover, cell in zip(hovers, cells, strict=True):
            row = _HOVER.fullmatch(hover) if hover else None
            if row is None:
                assert (hover, cell) == ("", "")
                continue
            reserve = row["reserve"] or row["will_be"]
            first = reserve.split(" (")[0]
            shown, load = cell.split("<br>")
            expected = f"{row['chance']}, {first}" if row["reserve"] else first
            assert (shown.removeprefix("\u25bc "), load) == (expected, row["load"]), (hover, cell)
            found[int(row["week"]), session, row["exercise"], row["set"]] = Said(
                row["load"], row["reps"] or row["open"], row["rest"], row["chance"] or "", reserve
            )
    return found


def panel_table_says(panel) -> dict[Place, Said]:
    """Sets of the tables below the map; the rest is that of all weeks together, as one number or as a range."""
    found = {}
    for above, cells in table_rows(panel.set_rows.value):
        session = above["caption"].split(": ")[0]
        if cells[0] == "set":
            weeks = [int(heading.removeprefix("week ")) for heading in cells[2:]]
            continue
        exercise, label = re.fullmatch(rf"(.+), set ({_SET})", cells[0]).groups()
        for week, cell in zip(weeks, cells[2:], strict=True):
            if cell:
                reps, load = cell.split(" × ")
                found[week, session, exercise, label] = Said(load, reps, cells[1] or None)
    return found


def rationale_says(page: str) -> dict[Place, Said]:
    """Sets of the table of every set in a rationale for one lifter."""
    found = {}
    for above, cells in table_rows(page):
        if above.get("caption") == "Sets" and cells[0].isdigit():
            week, session, exercise, label, load, _, reps, rest, chance, reserve = cells
            place = (int(week), session, exercise, label)
            found[place] = Said(load, reps, rest.removesuffix(" s") or None, chance, reserve)
    return found


def printed_sheet_says(page: str) -> dict[Place, Said]:
    """Sets of a sheet to print."""
    found, exercise, heads = {}, "", []
    for above, cells in table_rows(page):
        if cells[0] == "Exercise":
            heads = cells
            continue
        if len(cells) == 1 or len(cells) < len(heads):  # whose it is, on every page; what to do after the set above
            continue
        week = int(re.search(r", week (\d+): ", above["h1"])[1])
        session = re.fullmatch(r"(.+?), date: _+ \(about \d+ min\)", above["h2"])[1]
        exercise = cells[0].split("\n")[0] or exercise  # said once, in the first row of its sets
        row = dict(zip(heads, cells, strict=True))
        rest = row["Rest before"].removesuffix(" s")
        found[week, session, exercise, row["Set"]] = _of_sheet(row["Load"], row["Reps"], rest, row.get("RIR forecast"))
    return found


def workbook_says(path: Path) -> dict[Place, Said]:
    """Sets of a sheet to fill in."""
    found = {}
    for tab in openpyxl.load_workbook(path):
        if not tab.title.startswith("Week "):
            continue
        rows = list(tab.iter_rows(values_only=True))
        start = next(number for number, row in enumerate(rows) if "Planned load" in row)
        for values in rows[start + 1 :]:
            row = dict(zip(rows[start], (str(value if value is not None else "") for value in values), strict=True))
            place = (int(tab.title.removeprefix("Week ")), row["Session"], row["Exercise"], row["Set"])
            found[place] = _of_sheet(
                row["Planned load"], row["Planned reps"], row["Rest before (s)"], row.get("Forecast RIR")
            )
    return found


def _of_sheet(load: str, reps: str, rest: str, forecast: str | None) -> Said:
    """A sheet names the sides, says whose drop it is, leaves out what comes before a first set, and gives no chance."""
    reps = re.sub(r"( each side)?(, drop \d+ straight after)?$", "", reps)
    return Said(load, reps, rest or None, reserve=forecast)
