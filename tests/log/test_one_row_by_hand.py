"""Single rows whose reading is easy to get wrong by one set, one unit or a factor of sixty; expected values by hand."""

from __future__ import annotations

from datetime import date, time, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import openpyxl
import pytest

from workbench.log import LogReading, ReadOptions, read_log, write_canonical
from workbench.log.cells import AsideError, Percent, cell_fault
from workbench.log.dates import read_date
from workbench.log.files import _trim
from workbench.log.headings import heading_score
from workbench.log.loads import LoadReader
from workbench.log.workbooks import Budget
from workbench.quantities import InputError

TODAY = date(2026, 6, 1)


def plain(name: str) -> str:
    return name


def row_of(folder: Path, options: ReadOptions | None = None, **cells: Any) -> LogReading:
    """Read a workbook of one row, with cells as a spreadsheet program stores them."""
    book = openpyxl.Workbook()
    book.active.append(["Date", "Exercise", *cells])
    book.active.append([date(2026, 5, 4), "Squat", *cells.values()])
    book.save(folder / "log.xlsx")
    return read_log(folder / "log.xlsx", options=options, match_exercise=plain, today=TODAY)


@pytest.mark.parametrize(
    ("outcome", "endings"),
    [
        ("failed", ["completed", "completed", "failed"]),
        ("stopped", ["completed", "completed", "stopped"]),
        ("completed", ["completed", "completed", "completed"]),
    ],
)
def test_the_ending_of_a_row_is_that_of_its_last_set(tmp_path: Path, outcome: str, endings: list[str]) -> None:
    rows = row_of(tmp_path, Load="100 kg", Reps="5/5/4", Outcome=outcome).rows
    assert rows["reps"].tolist() == [5, 5, 4]
    assert rows["outcome"].tolist() == endings


def test_the_ending_of_a_row_that_counts_sets_is_that_of_the_last(tmp_path: Path) -> None:
    rows = row_of(tmp_path, Load="100 kg", Reps="3x5", Outcome="failed").rows
    assert rows["outcome"].tolist() == ["completed", "completed", "failed"]


def test_a_rating_of_a_row_is_that_of_its_last_set(tmp_path: Path) -> None:
    rows = row_of(tmp_path, Load="100 kg", Reps="5/5/4", RPE=8).rows
    assert rows["reps_in_reserve"].fillna(-1).tolist() == [-1, -1, 2]  # 10 less 8, and nothing said of the others


@pytest.mark.parametrize(
    ("written", "kg"),
    [
        # A pound is 0.45359237 kg exactly: 200, 210 and 220 lb.
        ("200/210/220 lb", (90.718474, 95.2543977, 99.7903214)),
        ("200; 210; 220 lbs", (90.718474, 95.2543977, 99.7903214)),
        ("100/105/110 kg", (100.0, 105.0, 110.0)),
        ("100/105/110", (45.359237, 47.62719885, 49.8951607)),  # of the column
    ],
)
def test_a_unit_at_the_end_of_a_list_of_loads_is_that_of_all(
    tmp_path: Path, written: str, kg: tuple[float, ...]
) -> None:
    loads = LoadReader("lb" if "lb" not in written else "kg").read(written)
    assert [load.value for load in loads] == pytest.approx(kg, abs=1e-9)  # a millionth of a gram: the factor is exact
    rows = row_of(tmp_path, ReadOptions(unit="lb" if "lb" not in written else "kg"), Load=written, Reps="5/5/4").rows
    assert rows["load_kg"].tolist() == pytest.approx(kg, abs=1e-9)


@pytest.mark.parametrize(
    ("cells", "sets"),
    [
        ({"Load kg": "2x8 @ 60", "Reps": None}, [(60.0, 8)] * 2),
        ({"Load kg": "8 @ 62,5", "Reps": None}, [(62.5, 8)]),
        ({"Load kg": "100 kg x 5", "Reps": None}, [(100.0, 5)]),
        ({"Sets": "4x6 @ 82,5 kg", "Load kg": None, "Reps": None}, [(82.5, 6)] * 4),
        ({"Load x reps": "2x8 @ 60 kg"}, [(60.0, 8)] * 2),
        ({"Load x reps": "60 kg x 8 @ 9"}, [(60.0, 8)]),  # a rating
        ({"Load kg": "@ 60", "Reps": 8}, [(60.0, 8)]),
    ],
)
def test_load_and_reps_may_stand_in_one_cell(
    tmp_path: Path, cells: dict[str, Any], sets: list[tuple[float, int]]
) -> None:
    rows = row_of(tmp_path, **cells).rows
    assert list(zip(rows["load_kg"], rows["reps"], strict=True)) == sets


@pytest.mark.parametrize("written", ["2x16", "3x12 @ 10", "100 x 5 @ 85"])
def test_what_may_be_a_rating_or_two_dumbbells_is_not_taken_for_load_and_reps(tmp_path: Path, written: str) -> None:
    reading = row_of(tmp_path, **{"Load kg": written, "Reps": None})
    assert len(reading.rows) == 0
    assert len(reading.quarantine) == 1


@pytest.mark.parametrize(
    ("written", "cell", "seconds"),
    [
        ("1:00", None, 60),
        ("1:00:00", timedelta(hours=1), 60),  # 1:00 typed into a spreadsheet is one o'clock, or an hour
        ("1:00:00", time(1, 0), 60),
        ("3:00:00", time(3, 0), 180),
        ("1:30:00", time(1, 30), 90),
        ("2:30:30", time(2, 30, 30), 150.5),  # thirty seconds of an hour are half a second of a minute
        ("0:03:00", time(0, 3), 180),
        ("0:01:00", timedelta(minutes=1), 60),
        ("0:45", time(0, 0, 45), 45),
    ],
)
def test_a_rest_is_the_same_as_text_and_as_a_time(tmp_path: Path, written: str, cell: Any, seconds: float) -> None:
    for stored in (written, cell):
        if stored is not None:
            rows = row_of(tmp_path, Load="100 kg", Reps=5, Rest=stored).rows
            assert rows["rest_s"].tolist() == [pytest.approx(seconds)], stored


def test_a_span_below_zero_is_no_rest(tmp_path: Path) -> None:
    rows = row_of(tmp_path, Load="100 kg", Reps=5, Rest=timedelta(seconds=-90)).rows
    assert rows["rest_s"].isna().all()


def test_stored_numbers_are_read_as_they_are_shown(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    book.active.append(["Date", "Exercise", "Load", "Reps", "Share", "Day"])
    for shown in ('0.0" lb"', '0" kg"', "0%", "General"):
        book.active.append([46146, "Squat", 100, 5, 0.8, 1.5])
        book.active.cell(book.active.max_row, 3).number_format = shown
        book.active.cell(book.active.max_row, 1).number_format = "dd.mm.yyyy"
        book.active.cell(book.active.max_row, 5).number_format = "0%"
    book.save(tmp_path / "log.xlsx")
    reading = read_log(
        tmp_path / "log.xlsx", options=ReadOptions(leave_out=("unit",)), match_exercise=plain, today=TODAY
    )
    # Day 46,146 after 30 December 1899: 126 years of 365 days to 30 December 2025 are 45,990, with 31 leap days from
    # 1904 to 2024 46,021; the 125 days left end on 4 May 2026.
    assert reading.rows["date"].dt.strftime("%Y-%m-%d").tolist() == ["2026-05-04", "2026-05-04"]
    assert reading.rows["load_kg"].tolist() == [pytest.approx(45.359237), 100.0]
    assert reading.rows["Share"].tolist() == ["80%", "80%"]
    reasons = reading.quarantine["reason"].tolist()
    assert "is a percentage" in reasons[0]
    assert "has no unit" in reasons[1]
    assert Percent(0.8).value == 0.8


@pytest.mark.parametrize("reps", ["0x10", "10x0", "5/0/5"])
def test_sets_of_no_rep_that_did_not_fail_are_asked_about(tmp_path, reps):
    """Neither done nor failed: the row goes aside, whichever way it is written."""
    path = tmp_path / "log.csv"
    path.write_text(f"Date,Exercise,Load kg,Reps\n2026-01-05,back squat,100,{reps}\n", encoding="utf-8")
    reading = read_log(path, match_exercise=plain, today=TODAY)
    assert reading.so_far.empty
    assert len(reading.quarantine) == 1


@pytest.mark.parametrize(("stored", "used"), [(200, 1), (201, 0), ("200", 1), ("201", 0)])
def test_as_many_as_two_hundred_reps_are_believed(tmp_path: Path, stored: Any, used: int) -> None:
    assert len(row_of(tmp_path, Load="20 kg", Reps=stored).rows) == used


@pytest.mark.parametrize(
    ("written", "lacks_a_year"),
    [
        ("13/3", True),  # 13 March
        ("3/13", True),  # March the 13th
        ("31/4", False),  # April has 30 days, and there is no month 31
        ("4/31", False),
        ("29/2", True),  # in a leap year
        ("30/2", False),
        ("2/30", False),
    ],
)
def test_a_date_without_a_year_must_be_one_in_some_year(written: str, lacks_a_year: bool) -> None:
    assert read_date(written).needs_year is lacks_a_year


def test_the_preview_of_a_canonical_log_names_its_units(tmp_path: Path) -> None:
    write_canonical(row_of(tmp_path, Load="100 kg", Reps=5, Rest="90 s"), tmp_path / "canonical.csv")
    preview = read_log(tmp_path / "canonical.csv", match_exercise=plain, today=TODAY).preview()
    assert "'load_kg' is read as load: in kg" in preview


def test_half_a_kilogram_is_a_load_and_less_than_nothing_is_none() -> None:
    (load,) = LoadReader("").read("0.5 kg")
    assert load.value == 0.5
    with pytest.raises(AsideError, match="is not a mass"):
        LoadReader("kg").read("-1")


@pytest.mark.parametrize(
    ("written", "kept"),
    [('="100"', "100"), ('"100"', '"100"'), ('="100', '="100'), ('="1"&"2"', '="1"&"2"'), ('="a', '="a')],
)
def test_only_a_number_kept_from_being_reformatted_loses_its_wrapping(written: str, kept: str) -> None:
    assert _trim(written) == kept


def test_a_workbook_may_hold_as_much_as_its_budget_and_no_more() -> None:
    budget = Budget(Path("log.xlsx"), 10, cells=3, characters=5)
    budget.take(3, 5)
    with pytest.raises(InputError, match="characters"):
        budget.take(0, 1)
    with pytest.raises(InputError, match="cells"):
        Budget(Path("log.xlsx"), 10, cells=3, characters=5).take(4)


@pytest.mark.parametrize(
    ("written", "clock"),
    [("12:30 am", "00:30"), ("12:30 pm", "12:30"), ("11:30 am", "11:30"), ("11:30 pm", "23:30"), ("1:05 pm", "13:05")],
)
def test_noon_and_midnight_on_a_clock_of_twelve_hours(written: str, clock: str) -> None:
    assert read_date(f"2026-05-04 {written}").time == clock


@pytest.mark.parametrize("written", ["24:00", "23:60", "23:59:60", "13:00 pm", "0:30 am"])
def test_what_no_clock_shows_is_no_time(written: str) -> None:
    assert read_date("2026-05-04 23:59:59").time == "23:59:59"
    assert read_date(f"2026-05-04 {written}").time == ""


@pytest.mark.parametrize(("reps", "outcome"), [("5/8", "stopped"), ("8/8", "completed"), ("9/8", "completed")])
def test_fewer_reps_than_planned_is_a_set_that_was_stopped(tmp_path: Path, reps: str, outcome: str) -> None:
    rows = row_of(tmp_path, ReadOptions(pair_means="of_plan"), Load="100 kg", Reps=reps).rows
    assert rows["reps"].tolist() == [int(reps[0])]
    assert rows["outcome"].tolist() == [outcome]


def test_a_cell_may_hold_what_a_cell_of_a_spreadsheet_can() -> None:
    # 2**15 - 1 characters.
    assert cell_fault(["x" * 32_767]) == ""
    assert "32,767 characters" in cell_fault(["x" * 32_768])


@pytest.mark.parametrize(("kind", "rating"), [("RPE", date(2026, 8, 7)), ("RIR", date(2026, 2, 1)), ("RPE", True)])
def test_a_rating_that_a_spreadsheet_turned_into_something_else_goes_aside(tmp_path, kind: str, rating: Any) -> None:
    """A range typed as 7-8 is stored as the eighth of July: no rating, and never one read from the digits of a date."""
    reading = row_of(tmp_path, Load="100 kg", Reps=5, **{kind: rating})
    assert reading.rows_used == 0
    assert reading.quarantine["reason"].str.contains(f"{kind} .*is no rating").tolist() == [True]


@pytest.mark.parametrize(
    ("rating", "reserves"),
    [
        ("8/9/10", [2, 1, 0]),  # one for each set, 10 less the rating
        ("9, 9.5, 10", [1, 0.5, 0]),
        ("RIR 3/2/1", [3, 2, 1]),  # a word at the first is meant for all
        ("RIR 3/2/RPE 10", [3, 2, 0]),
        ("8/9", None),  # two ratings of three sets: nobody knows whose
    ],
)
def test_ratings_of_each_set_of_a_row(tmp_path: Path, rating: str, reserves: list[float] | None) -> None:
    reading = row_of(tmp_path, Load="100 kg", Reps="5/5/4", RPE=rating)
    got = reading.rows["reps_in_reserve"].tolist() if reading.rows_used else None
    assert got == reserves or (reserves is None and np.isnan(got[:2]).all())


def preview_of(folder: Path, text: str) -> LogReading:
    (folder / "log.csv").write_text(text, encoding="utf-8")
    return read_log(folder / "log.csv", match_exercise=plain, today=TODAY)


@pytest.mark.parametrize(("heading", "said"), [("Rest s", True), ("Rest after s", False), ("Rest before s", False)])
def test_whose_rest_a_bare_heading_means_is_said(tmp_path: Path, heading: str, said: bool) -> None:
    """A heading that says which rest it is needs no word; one that does not is taken as the rest before the set."""
    reading = preview_of(tmp_path, f"Date,Exercise,Load kg,Reps,{heading}\n2026-05-04,Squat,100,5,90\n")
    assert ("taken before the row's set" in reading.preview()) is said


def test_rests_after_a_set_are_those_before_the_next(tmp_path: Path) -> None:
    sets = ("2026-05-04,Squat,100,5,90", "2026-05-04,Squat,100,5,120", "2026-05-05,Squat,90,5,60")
    text = "\n".join(["Date,Exercise,Load kg,Reps,{}", *sets, ""])
    before = preview_of(tmp_path, text.format("Rest before s")).rows["rest_s"].fillna(-1).tolist()
    after = preview_of(tmp_path, text.format("Rest after s")).rows["rest_s"].fillna(-1).tolist()
    assert before == [90, 120, 60]
    assert after == [-1, 90, -1]  # each day begins without one


def test_both_kinds_of_rest_in_one_table(tmp_path: Path) -> None:
    """What is written as the rest before a set stays; the other fills what is empty."""
    sets = [f"2026-05-04,Squat,100,5,{rests}" for rests in (",90", ",120", "75,30")]
    text = "\n".join(["Date,Exercise,Load kg,Reps,Rest before s,Rest after s", *sets, ""])
    assert preview_of(tmp_path, text).rows["rest_s"].fillna(-1).tolist() == [-1, 90, 75]


def test_the_shortest_rest_without_a_unit_is_the_one_that_is_named(tmp_path: Path) -> None:
    text = "Date,Exercise,Load kg,Reps,Rest\n" + "".join(f"2026-05-04,Squat,100,5,{rest}\n" for rest in (5, 2, 4))
    (question,) = preview_of(tmp_path, text).questions
    assert question.about == "rest unit"
    assert "a rest of 2 (" in question.problem


@pytest.mark.parametrize(("cell", "said"), [('"Squat', True), ('"Squat"', False), ("Squat", False)])
def test_quotation_marks_that_are_not_closed_are_told(tmp_path: Path, cell: str, said: bool) -> None:
    reading = preview_of(tmp_path, f"Date,Exercise,Load kg,Reps\n2026-05-04,{cell},100,5\n2026-05-04,Squat,100,5\n")
    assert ("quotation marks are not closed" in reading.preview()) is said


@pytest.mark.parametrize(
    ("headings", "a_log"),
    [
        ("Exercise,Reps", True),
        ("Exercise,Load kg,Sets", True),  # so many sets at a load, reps told in the cell of sets
        ("Exercise,Load kg", False),  # nothing says how often
        ("Exercise,Sets", False),
        ("Exercise,Notes", False),
        ("Reps,Notes", False),  # nothing says of what
    ],
)
def test_what_makes_a_row_of_headings(headings: str, a_log: bool) -> None:
    assert (heading_score(headings.split(",")) > 0) is a_log


@pytest.mark.parametrize(
    ("reps", "told"),
    [
        ("5/5/4", "three sets; what is said of effort"),
        ("3x8", "7 reps and the eighth failed"),
        ("amrap 9", "as many as possible"),
        ("8+2", "a short pause assumed to last 15 s"),
        ("5", None),
    ],
)
def test_only_the_shorthand_of_the_file_is_explained(tmp_path: Path, reps: str, told: str | None) -> None:
    every = ("three sets; what is said of effort", "7 reps and the eighth failed", "a short pause")
    preview = preview_of(tmp_path, f"Date,Exercise,Load kg,Reps\n2026-05-04,Squat,100,{reps}\n").preview()
    assert told is None or told in preview
    assert not [words for words in every if words not in (told or "") and words in preview]


@pytest.mark.parametrize(
    ("dates", "told"),
    [
        (("13/04/2026", "05/04/2026"), "day"),
        (("03/04/2026", "05/04/2026"), "Not settled, see the questions."),
        (("", ""), "No dates: sessions cannot be told apart."),
    ],
)
def test_how_dates_are_read_is_told(tmp_path: Path, dates: tuple[str, str], told: str) -> None:
    every = ("Not settled, see the questions.", "No dates: sessions cannot be told apart.")
    rows = "".join(f"{day},Squat,100,5\n" for day in dates)
    preview = preview_of(tmp_path, f"Date,Exercise,Load kg,Reps\n{rows}").preview()
    assert told in preview
    assert not [words for words in every if words != told and words in preview]


@pytest.mark.parametrize(
    ("column", "sets"),
    [
        ("123", 3),  # numbers each set
        ("333", 9),  # three rows of three sets each
        ("312", 6),
    ],
)
def test_a_column_of_sets_numbers_them_only_where_it_counts_up(tmp_path: Path, column: str, sets: int) -> None:
    rows = "".join(f"2026-05-04,Squat,{number},100,5\n" for number in column)
    assert len(preview_of(tmp_path, f"Date,Exercise,Sets,Load kg,Reps\n{rows}").rows) == sets


def test_reps_before_the_sign_are_bounded_like_those_after_it(tmp_path: Path) -> None:
    for order, written in (("reps_first", "500x3"), ("sets_first", "3x500")):
        reading = row_of(tmp_path, ReadOptions(times_order=order), Load="100 kg", Reps=written)
        assert reading.rows_used == 0
        assert "more than 200" in reading.quarantine["reason"].iloc[0]


def test_set_1_alone_numbers_nothing(tmp_path: Path) -> None:
    """One column called "Set 1" is a column of sets: three rows of a day are sets 1, 2 and 3."""
    rows = "2026-05-04,Squat,100,5\n" * 3
    assert preview_of(tmp_path, f"Date,Exercise,Load kg,Set 1\n{rows}").rows["set_number"].tolist() == [1, 2, 3]
    both = "2026-05-04,Squat,100,5,4\n"
    assert preview_of(tmp_path, f"Date,Exercise,Load kg,Set 1,Set 2\n{both}").rows["reps"].tolist() == [5, 4]


def test_a_line_that_names_the_delimiter_is_believed(tmp_path: Path) -> None:
    text = "sep=^\nDate^Exercise^Load kg^Reps\n2026-05-04^Squat^100^5\n"
    assert preview_of(tmp_path, text).rows["load_kg"].tolist() == [100]
