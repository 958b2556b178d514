"""Workbook and page say, cell by cell, what the lines of the sheet say."""

import dataclasses
import datetime
from html.parser import HTMLParser

import openpyxl
import pytest

from workbench.answers.block_check import check_block
from workbench.gym.equipment import read_room
from workbench.lifter import read_lifter
from workbench.prescription.schemes import constant_step, exercise_block
from workbench.publish.sheets import make_sheet, page_html, write_sheets, write_workbook
from workbench.reference.sources import data_path

DEMO = data_path("demo")


@pytest.fixture(scope="module")
def room():
    return read_room(DEMO / "rooms" / "boathouse_hall.toml")


@pytest.fixture(scope="module")
def lifter():
    return read_lifter(DEMO / "lifters" / "emre_sandoval.toml")


@pytest.fixture(scope="module")
def sheet(lifter, room):
    """Two weeks of three lines whose content is set by hand."""
    block = exercise_block("barbell bench pull", constant_step(sets=3), weeks=2, days=(1,), name="Pulls")
    made = make_sheet(
        check_block(block, lifter, room, draws=20, seed=1), room, start=datetime.date(2026, 1, 5), forecast=True
    )
    names = ("said", "how", "reps", "reserve", "forecast", "rest_s", "before", "then")
    cells = (
        ("60 kg", "bar + 20", "5", "3", "4", None, "ramp 20 x 5", ""),
        ("60 kg", "bar + 20", "5 to 8", "", "likely 1 short", 90.4, "", "After set 2, missed: go on"),
        ("62.5 kg", "bar + 21.25", "to failure", "0", "", 150.0, "b<c", ""),
    )
    by_hand = [dict(zip(names, row, strict=True)) for row in cells]
    weeks = []
    for week in made.weeks:
        (session,) = week.sessions
        assert len(session.lines) == 3
        rests = 10.0 * week.number  # another rest in each week
        lines = tuple(
            dataclasses.replace(line, **{**words, "rest_s": words["rest_s"] and words["rest_s"] + rests})
            for line, words in zip(session.lines, by_hand, strict=True)
        )
        weeks.append(dataclasses.replace(week, sessions=(dataclasses.replace(session, lines=lines),)))
    return dataclasses.replace(made, weeks=tuple(weeks))


def test_every_cell_of_the_workbook(sheet, tmp_path):
    book = openpyxl.load_workbook(write_workbook(sheet, tmp_path / "a.xlsx"))
    assert book.sheetnames == ["Week 1", "Week 2", "How to fill in"]
    for number in (1, 2):
        rows = list(book[f"Week {number}"].iter_rows(min_row=3, values_only=True))
        heads = [head.replace(" (kg; one hand of two dumbbells)", "") for head in rows[0]]
        found = [dict(zip(heads, row, strict=True)) for row in rows[1:]]
        day = datetime.datetime(2026, 1, 5) + datetime.timedelta(weeks=number - 1)  # noqa: DTZ001 - a sheet has no zone
        assert [row["Date"] for row in found] == [day] * 3
        assert {row["Lifter"] for row in found} == {"Emre Sandoval"}
        assert {row["Exercise"] for row in found} == {"barbell bench pull"}
        assert [row["Set"] for row in found] == [1, 2, 3]
        assert [row["Planned load"] for row in found] == ["60 kg", "60 kg", "62.5 kg"]
        assert [row["How to load"] for row in found] == ["bar + 20", "bar + 20", "bar + 21.25"]
        assert [row["Planned reps"] for row in found] == [5, "5 to 8", "to failure"]
        assert [row["Planned RIR"] for row in found] == [3, None, 0]
        assert [row["Forecast RIR"] for row in found] == ["4", "likely 1 short", None]
        # 90.4 + 10 and 150 + 10 in week 1, ten more in week 2; whole seconds.
        assert [row["Rest before (s)"] for row in found] == [None, 90 + 10 * number, 150 + 10 * number]
        assert [row["Before this set"] for row in found] == ["ramp 20 x 5", None, "b<c"]
        assert [row["After this set"] for row in found] == [None, "After set 2, missed: go on", None]
        for blank in ("Load done", "Reps done", "RIR done", "Notes"):
            assert [row[blank] for row in found] == [None] * 3


class Cells(HTMLParser):
    """The rows of all tables of a page, as texts."""

    def __init__(self):
        super().__init__()
        self.rows, self.inside = [], False

    def handle_starttag(self, tag, attrs):
        if tag == "tr":
            self.rows.append([])
        if tag in {"td", "th"}:
            self.rows[-1].append("")
            self.inside = True
        if tag == "br" and self.inside:
            self.rows[-1][-1] += " / "

    def handle_endtag(self, tag):
        self.inside = self.inside and tag not in {"td", "th"}

    def handle_data(self, data):
        if self.inside:
            self.rows[-1][-1] += data


def test_every_cell_of_the_page(sheet):
    parser = Cells()
    parser.feed(page_html(sheet))
    blank = [""] * 4
    wanted = []
    for week, rests in ((1, ("", "100 s", "160 s")), (2, ("", "110 s", "170 s"))):
        wanted += [
            [f"Emre Sandoval, week {week}: {sheet.weeks[0].sessions[0].name}"],
            parser.rows[1],
            ["barbell bench pull / ramp 20 x 5", "1", "60 kg", "bar + 20", "5", "3", "4", rests[0], *blank],
            # The plates stay on the bar: said once.
            ["", "2", "60 kg", "same", "5 to 8", "", "likely 1 short", rests[1], *blank],
            ["", "After set 2, missed: go on"],
            [" / b<c", "3", "62.5 kg", "bar + 21.25", "to failure", "0", "", rests[2], *blank],
        ]
    assert parser.rows == wanted
    assert parser.rows[1][2:8] == ["Load", "How to load", "Reps", "RIR asked", "RIR forecast", "Rest before"]


def test_what_to_do_with_one_left_is_said_where_that_is_asked(sheet):
    assert "with one left" not in page_html(sheet)
    (session,) = sheet.weeks[0].sessions
    then = "After set 2, two or more left: go on; none left: 55 kg from set 3; missed a rep: 50 kg from set 3"
    lines = (session.lines[0], dataclasses.replace(session.lines[1], then=then), session.lines[2])
    first = dataclasses.replace(sheet.weeks[0], sessions=(dataclasses.replace(session, lines=lines),))
    page = " ".join(page_html(dataclasses.replace(sheet, weeks=(first, *sheet.weeks[1:]))).split())
    assert page.count("with one left, do as with none") == 1  # on the page of that session


def test_sheets_of_a_roster_hold_the_digits_of_team(lifter, room, tmp_path):
    """Each lifter's own seed, so that sheet and row of the team agree; the files in the order of the roster."""
    block = exercise_block("barbell bench pull", constant_step(sets=2, reps=9, percent=80), weeks=1, days=(1,))
    roster = [lifter, lifter.model_copy(update={"name": "Łucja / X"})]
    written = write_sheets(block, roster, room, tmp_path, draws=40, seed=6)
    names = ["001-emre-sandoval.xlsx", "001-emre-sandoval.html", "002-ucja-x.xlsx", "002-ucja-x.html"]
    assert [path.name for path in written] == names
    for who, path in zip(roster, written[1::2], strict=True):
        check = check_block(block, who, room, draws=40, seed=6)
        assert path.read_text(encoding="utf-8") == page_html(make_sheet(check, room))
