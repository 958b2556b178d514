"""What a log must be asked before its rows count: whose they are, when they were, and every other open question."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import openpyxl
import pytest

from workbench.fit import fit_log
from workbench.lifter import Lifter
from workbench.log import LogReading, ReadOptions, lifters_of, read_log, rows_of, write_canonical
from workbench.log.options import places_by_reason
from workbench.quantities import InputError
from workbench.reference.toml_files import validate

TODAY = date(2026, 6, 1)
HEADINGS = "Date,Lifter,Exercise,Load kg,Reps,RIR\n"


def lifter(name: str) -> Lifter:
    return validate({"name": name, "lifts": {"back squat": {"one_rm_kg": 120}}}, Lifter)


def log_of(folder: Path, *rows: str, headings: str = HEADINGS, options: ReadOptions | None = None) -> LogReading:
    path = folder / "log.csv"
    path.write_text(headings + "\n".join(rows) + "\n", encoding="utf-8")
    return read_log(path, options=options, today=TODAY)


def dated(folder: Path, *days: str, options: ReadOptions | None = None) -> LogReading:
    return log_of(folder, *(f"{day},,back squat,100,5," for day in days), options=options)


def waiting(reading: LogReading) -> list[int]:
    """Rows of the file that wait for an answer about their date."""
    table = reading.quarantine
    assert table["reason"].str.startswith("waits for an answer (odd dates)").all()
    return sorted(table["row"].tolist())


# Whose rows

ANA = "2026-05-04,Ana Lind,back squat,100,5,2"
BEN = "2026-05-04,Ben,back squat,60,5,2"


def test_rows_of_somebody_else_are_not_fitted(tmp_path: Path) -> None:
    reading = log_of(tmp_path, ANA, ANA, BEN)
    for rows in (reading, reading.rows):
        with pytest.raises(
            InputError, match=r"those of Cara: the log holds 2 sets of Ana Lind, 1 set of Ben.*--lifter-rows"
        ):
            fit_log(rows, lifter("Cara"))


def test_the_answer_travels_with_the_rows(tmp_path: Path) -> None:
    reading = log_of(tmp_path, ANA, ANA, BEN)
    rows = rows_of(reading, "Cara", called=["ana  LIND"])
    assert rows["lifter"].tolist() == ["Cara", "Cara"]
    assert fit_log(rows, lifter("Cara")).fit.log.set_count == 2
    with pytest.raises(InputError, match="Dora"):
        fit_log(rows, lifter("Dora"))
    with pytest.raises(InputError, match="no rows of 'Eve'; 2 sets of Ana Lind, 1 set of Ben"):
        rows_of(reading, "Cara", called=["Eve"])


@pytest.mark.parametrize("name", ["Zo\u00eb Lind", "ZOE LIND", " zoe\u00a0 lind", "Zoe\u0308 Lind"])
def test_case_accents_and_spaces_make_no_other_lifter(tmp_path: Path, name: str) -> None:
    reading = log_of(tmp_path, f"2026-05-04,{name},back squat,100,5,2", BEN)
    assert fit_log(reading, lifter("Zo\u00eb Lind")).fit.log.set_count == 1
    assert len(lifters_of(reading.rows)) == 2


def test_a_log_that_names_nobody_is_of_the_chosen_lifter(tmp_path: Path) -> None:
    plain = log_of(tmp_path, "2026-05-04,back squat,100,5", headings="Date,Exercise,Load kg,Reps\n")
    assert fit_log(plain, lifter("Cara")).fit.log.set_count == 1


def test_rows_of_nobody_among_named_ones_are_asked_about(tmp_path: Path) -> None:
    alone = ReadOptions(fill_down=False)
    reading = log_of(tmp_path, ANA, "2026-05-04,,back squat,100,5,2", options=alone)
    with pytest.raises(InputError, match="1 set of Ana Lind, 1 set of nobody by name"):
        fit_log(reading, lifter("Ana Lind"))
    assert len(rows_of(reading, "Ana Lind", called=["Ana Lind", ""])) == 2
    assert len(rows_of(reading, "Ana Lind", called=["Ana Lind"])) == 1


# Which days


def test_a_date_in_the_future_is_asked_about_and_never_accepted(tmp_path: Path) -> None:
    days = ("2026-05-25", "2062-05-27", "2026-05-29", "2026-06-01")
    assert waiting(dated(tmp_path, *days)) == [3]
    assert waiting(dated(tmp_path, *days, options=ReadOptions(odd_dates="as_written"))) == [3]


def test_a_planned_set_that_is_still_to_be_done_is_not_asked_about(tmp_path: Path) -> None:
    done, to_do = "2026-05-29,,back squat,100,5,", "2026-06-03,,back squat,,,"
    reading = log_of(tmp_path, done, to_do, done.replace("05-29", "06-01"))
    assert reading.questions == ()
    assert reading.rows["source_row"].tolist() == [2, 4]
    assert reading.quarantine["row"].tolist() == [3]
    assert reading.quarantine["reason"].str.startswith("no load and no reps").all()
    for half in ("2026-06-03,,back squat,100,,", "2026-06-03,,back squat,,5,"):
        assert waiting(log_of(tmp_path, done, half)) == [3]


def test_rows_set_aside_are_named_by_reason_those_not_done_last(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    for week in (1, 2):
        tab = book.create_sheet(f"Week {week}")
        tab.append(["Date", "Exercise", "Load kg", "Reps"])
        for load, reps in ((None, None), (100, 5), ("much", 5), *[(None, None)] * 8):
            tab.append([date(2026, 5, 4), "back squat", load, reps])
    book.save(tmp_path / "log.xlsx")
    reading = read_log(tmp_path / "log.xlsx", today=TODAY)
    much, not_done = places_by_reason(reading.quarantine)
    assert much.startswith("Week 1 row 4, Week 2 row 4: load 'much' is not a mass")
    # Nine of each week, by row; the first eight places are named, ten of the eighteen are not.
    assert not_done.startswith("Week 1 row 2, Week 2 row 2, Week 1 row 5, Week 2 row 5, ")
    assert " and 10 more: no load and no reps" in not_done
    preview = reading.preview()
    assert f"  {much}\n  {not_done}\n" in preview
    assert preview.count("'Date' is read as date of the session") == 1
    assert "Week 1 and 1 more: 'Date'" in preview


def test_today_is_the_date_of_the_machine_unless_told(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    tomorrow = date.today() + timedelta(days=1)  # noqa: DTZ011 (dates of a log carry no zone)
    path.write_text(f"Date,Exercise,Load kg,Reps\n2020-01-01,back squat,100,5\n{tomorrow},back squat,100,5\n")
    assert "is in the future" in read_log(path).quarantine["reason"].tolist()[-1]
    options = ReadOptions(odd_dates="as_written")
    assert len(read_log(path, options=options, today=tomorrow).rows) == 2


@pytest.mark.parametrize(
    ("days", "asked"),
    [
        (("2026-05-04", "2026-05-06", "2025-05-08", "2026-05-11"), [4]),  # last year's number, among others
        (("2025-05-04", "2026-05-06", "2026-05-08"), [2]),  # the same in the first row
        (("2026-05-08", "2026-05-06", "2026-05-04", "2025-05-01"), [5]),  # and in the last of a log that runs backwards
        (("2019-05-04", "2026-05-06", "2026-05-08"), [2]),  # years
        (("2026-05-04", "2026-05-08", "2026-05-06", "2026-05-11", "2026-05-13"), [3, 4]),  # either may be wrong
        (("2026-05-04", "2026-05-06", "2026-05-04"), []),  # a set added later to a session of the week
        (("2026-03-04", "2026-05-06", "2026-03-04"), [3, 4]),  # but not two months later
        (("2026-05-08", "2026-05-06", "2026-05-04"), []),  # newest first is an order too
        # 299 days from 4 July are 29 April, 300 days are 30 April: the first passes, the second is asked about
        (("2025-07-04", "2026-04-29", "2026-05-01"), []),
        (("2025-07-04", "2026-04-30", "2026-05-01"), [2]),
    ],
)
def test_gaps_and_days_out_of_order_are_asked_about(tmp_path: Path, days: tuple[str, ...], asked: list[int]) -> None:
    reading = dated(tmp_path, *days)
    assert waiting(reading) == asked
    assert [question.about for question in reading.questions] == (["odd dates"] if asked else [])
    accepted = dated(tmp_path, *days, options=ReadOptions(odd_dates="as_written"))
    assert len(accepted.rows) == len(days)


def test_a_log_grouped_by_exercise_is_in_order(tmp_path: Path) -> None:
    days = ("2026-05-04", "2026-05-11", "2026-05-18")
    rows = [f"{day},,{name},100,5," for name in ("back squat", "bench press") for day in days]
    assert waiting(log_of(tmp_path, *rows)) == []
    rows[4] = rows[4].replace("2026-05-11", "2026-02-11")
    assert waiting(log_of(tmp_path, *rows)) == [5, 6]  # 4 May and 11 February: either may be wrong


def test_dates_of_a_workbook_are_bounded(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    book.active.append(["Date", "Exercise", "Load kg", "Reps"])
    for day in (date(2026, 5, 4), date(9999, 12, 31), date(1901, 1, 1), 79_000, 10**6):
        book.active.append([day, "back squat", 100, 5])
    book.active["B6"].offset(0, -1).number_format = "yyyy-mm-dd"
    book.save(tmp_path / "log.xlsx")
    reading = read_log(tmp_path / "log.xlsx", today=TODAY)
    assert reading.so_far["source_row"].tolist() == [2]
    reasons = reading.quarantine["reason"].tolist()
    assert "9999-12-31 is not from 1950 to 2100" in reasons[0]
    assert "1901-01-01 is not from 1950 to 2100" in reasons[1]
    assert "is in the future" in reasons[2]  # day 79,000 is in 2116


# Open questions

OPEN = {
    "unit": ("Date,Exercise,Load,Reps\n2026-05-04,back squat,100 kg,5\n2026-05-04,back squat,100,5\n", {"unit": "kg"}),
    "rest unit": (
        "Date,Exercise,Load kg,Reps,Rest\n2026-05-04,back squat,100,5,\n2026-05-04,back squat,100,5,3\n",
        {"rest_unit": "min"},
    ),
    "date order": (
        "Date,Exercise,Load kg,Reps\n2026-05-04,back squat,100,5\n05/04/2026,back squat,100,5\n",
        {"date_order": "mdy"},
    ),
    "odd dates": (
        "Date,Exercise,Load kg,Reps\n2026-05-04,back squat,100,5\n2020-05-04,back squat,100,5\n",
        {"odd_dates": "as_written"},
    ),
    "date": ("Date,Exercise,Load kg,Reps\n,back squat,100,5\n2026-05-04,back squat,100,5\n", {"leave_out": ("date",)}),
}


@pytest.mark.parametrize("about", OPEN)
def test_rows_are_not_given_out_while_a_question_is_open(tmp_path: Path, about: str) -> None:
    text, answer = OPEN[about]
    path = tmp_path / "log.csv"
    path.write_text(text)
    reading = read_log(path, today=TODAY)
    for use in (
        lambda: reading.rows,
        lambda: fit_log(reading, lifter("Cara")),
        lambda: fit_log(reading.rows, lifter("Cara")),
        lambda: rows_of(reading, "Cara"),
        lambda: write_canonical(reading, tmp_path / "canonical.csv"),
    ):
        with pytest.raises(InputError, match=rf"log\.csv: open question \({about}\).*leave_out="):
            use()
    assert not (tmp_path / "canonical.csv").exists()
    answered = read_log(path, options=ReadOptions(**answer), today=TODAY)  # type: ignore[arg-type]
    assert len(answered.rows) == 2


def test_what_is_left_out_as_told_stays_aside_and_says_so(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_text(OPEN["unit"][0])
    reading = read_log(path, options=ReadOptions(leave_out=("unit",)), today=TODAY)
    assert reading.rows["source_row"].tolist() == [2]
    assert reading.quarantine["reason"].tolist() == ["left out as told (unit): load 100 has no unit"]


# Sessions without a date

UNDATED = ("A,back squat,100,5", "A,back squat,100,4", "B,back squat,90,8")
SESSIONS = "Session,Exercise,Load kg,Reps\n"


def test_each_session_without_a_date_is_asked_for_one(tmp_path: Path) -> None:
    (question,) = log_of(tmp_path, *UNDATED, headings=SESSIONS).questions
    assert (question.about, question.sessions) == ("date", ("A", "B"))
    told = ReadOptions(dates={"A": "2026-05-04", "B": date(2026, 5, 6)})
    rows = log_of(tmp_path, *UNDATED, headings=SESSIONS, options=told).rows
    assert [str(day.date()) for day in rows["date"]] == ["2026-05-04", "2026-05-04", "2026-05-06"]
    assert rows["set_number"].tolist() == [1, 2, 1]
    assert set(rows["reading_notes"]) == {"date as told"}


def test_a_date_in_the_file_comes_before_one_that_is_told(tmp_path: Path) -> None:
    rows = ("2026-05-01,A,back squat,100,5", ",B,back squat,90,8")
    options = ReadOptions(fill_down=False, dates={"A": "2026-05-04", "B": "2026-05-06"})
    found = log_of(tmp_path, *rows, headings=f"Date,{SESSIONS}", options=options).rows
    assert [str(day.date()) for day in found["date"]] == ["2026-05-01", "2026-05-06"]


def test_a_told_date_is_looked_at_like_any_other(tmp_path: Path) -> None:
    told = ReadOptions(dates={"A": "2026-05-04", "B": "2026-06-02"})
    reading = log_of(tmp_path, *UNDATED, headings=SESSIONS, options=told)
    assert [question.about for question in reading.questions] == ["odd dates"]  # a day after today


def test_where_some_sets_stand_under_no_session_none_is_dated_by_name(tmp_path: Path) -> None:
    (question,) = log_of(tmp_path, *UNDATED, ",back squat,90,8", headings=SESSIONS).questions
    assert question.sessions == ()


@pytest.mark.parametrize("day", ["soon", "5/1/2026", "5 Jan", ""])
def test_what_is_no_plain_date_is_no_answer(day: str) -> None:
    with pytest.raises(InputError, match=r"dates\['A'\].*write it as 2026-01-05"):
        ReadOptions(dates={"A": day})
