"""Writing a log in canonical form and reading it again gives the same rows, whatever the log holds."""

from __future__ import annotations

import csv
from datetime import date, timedelta
from pathlib import Path

import openpyxl
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from workbench.log import COLUMNS, LogReading, ReadOptions, read_log, write_canonical

HEADINGS = ["Date", "Lifter", "Exercise", "Load", "Unit", "Reps", "Outcome", "RPE", "Rest", "Notes", "Bar"]
TODAY = date(2026, 6, 1)
TOLD = ReadOptions(
    pair_means="sets",
    decimal=".",
    rest_unit="s",
    body_mass_kg=80,
    odd_dates="as_written",
    leave_out=("date", "unit"),
)


def plain(name: str) -> str:
    return name


def read(path: Path) -> LogReading:
    return read_log(path, options=TOLD, match_exercise=plain, today=TODAY)


def same_again(path: Path) -> LogReading:
    """Write, read, compare to the bit; return the first reading."""
    first = read(path)
    canonical = path.with_name("canonical.csv")
    write_canonical(first, canonical)
    pd.testing.assert_frame_equal(read(canonical).rows, first.rows, check_exact=True)
    return first


#: Every manner of writing reps that the reader knows.
REPS = st.one_of(
    st.integers(1, 30).map(str),
    st.lists(st.integers(1, 12), min_size=2, max_size=4).map(lambda reps: "/".join(map(str, reps))),
    st.lists(st.integers(1, 12), min_size=3, max_size=4).map(lambda reps: "-".join(map(str, reps))),
    st.lists(st.integers(1, 12), min_size=3, max_size=4).map(lambda reps: ", ".join(map(str, reps))),
    st.sampled_from(
        ["8+2", "8+2+1", "3x8", "3 sets of 8", "AMRAP 9", "9 amrap", "7F", "7 failed", "7X", "F", "5/5/4F"]
    ),
    st.sampled_from(["5 @8", "5 (RPE 8)", "5, 2 RIR", "8 per side", "8 each leg", "5.0", "100 kg x 5", "3x5@100kg"]),
)
NOTES = st.one_of(
    st.sampled_from(
        ["could have done 2 more", "failed the last one", "no lift", "=1+1", "'=x", '="100"', "a\nb,c,d,e\n,,,,", '"',
         "2024-01-01,a,squat,1,kg,5,,,,\n2024-01-02,a,squat,1,kg,5,,,,", "nan", "<NA>", "NaT", "  ", "ditto",
         "\u2028", "\ufeff"]
    ),
    st.text(st.characters(exclude_categories=["Cs"]), max_size=30),
)  # fmt: skip
ROW = st.tuples(
    st.dates(date(1960, 1, 1), TODAY).map(str) | st.just(""),
    st.sampled_from(["", "Ana", "Zo\u00eb"]),
    st.sampled_from(["Squat", "squat", "Bench press"]),
    st.sampled_from(["100", "102.5", "0.00001", "BW", "BW+20", "225 lb", "2x30", "1499.999999"])
    | st.floats(0.001, 1400).map(repr),
    st.sampled_from(["kg", "lb", ""]),
    REPS,
    st.sampled_from(["", "completed", "failed", "stopped", "done"]),
    st.sampled_from(["", "8", "8.5", "10", "7-8", "4", "failed", "2 RIR"]),
    st.sampled_from(["", "90", "2:30", "12", "1:00:00", "3 min", "soon"]),
    NOTES,
    st.sampled_from(["", "=bar", "long"]),
)


@settings(max_examples=80, deadline=None)
@given(rows=st.lists(ROW, min_size=1, max_size=4))
def test_a_canonical_log_reads_back_to_the_same_rows(
    tmp_path_factory: pytest.TempPathFactory, rows: list[tuple[str, ...]]
) -> None:
    path = tmp_path_factory.mktemp("any") / "log.csv"
    with path.open("w", newline="", encoding="utf-8") as handle:
        csv.writer(handle).writerows([HEADINGS, *rows])
    same_again(path)


def test_three_sets_with_a_stated_reserve_stay_as_they_were(tmp_path: Path) -> None:
    """The note says how the last set ended; read back, it says nothing of the first two."""
    path = tmp_path / "log.csv"
    path.write_text("Date,Exercise,Load kg,Reps,Notes\n2024-03-05,Squat,100,5/5/5,could have done 2 more\n")
    rows = same_again(path).rows
    assert rows["outcome"].tolist() == ["completed", "completed", "stopped"]
    assert rows["reps_in_reserve"].isna().tolist() == [True, True, False]
    assert rows["reps_in_reserve"].tolist()[2] == 2


def test_a_note_of_many_lines_and_commas_is_not_taken_for_rows(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    book.active.append(["Date", "Exercise", "Load kg", "Reps", "Notes"])
    book.active.append(
        [date(2024, 3, 5), "Squat", 100, 5, "plan:\n" + "\n".join([",".join("abcdefghijklmnopqrstuvwxyz")] * 3)]
    )
    book.save(tmp_path / "log.xlsx")
    assert len(same_again(tmp_path / "log.xlsx").rows) == 1


@pytest.mark.parametrize(
    ("column", "text", "reason"),
    [
        ("source_row", "x", "source_row 'x' is no number"),
        ("source_row", "1.5", "source_row '1.5' is no whole number"),
        ("source_row", "9" * 150, "is not 0 to"),
        ("load_kg", "-5", "load_kg '-5' is not 0 to 1500"),
        ("load_kg", "heavy", "load_kg 'heavy' is no number"),
        ("load_kg", "0", "load_kg is 0"),
        ("load_kg", "", "no load_kg"),
        ("reps", "5/5", "reps '5/5' is no number"),
        ("reps", "9" * 5000, "more than 200 characters"),
        ("rest_s", "7201", "rest_s '7201' is not 0 to 7200"),
        ("date", "2062-03-05", "in the future"),
    ],
)
def test_a_bad_cell_of_a_canonical_log_sets_its_row_aside(tmp_path: Path, column: str, text: str, reason: str) -> None:
    path = tmp_path / "log.csv"
    path.write_text("Date,Exercise,Load kg,Reps\n2024-03-05,Squat,100,5\n2024-03-05,Squat,105,5\n")
    write_canonical(read(path), tmp_path / "canonical.csv")
    table = pd.read_csv(tmp_path / "canonical.csv", dtype=str, keep_default_na=False)
    assert table.columns.tolist() == list(COLUMNS)
    table.loc[0, column] = text
    table.to_csv(tmp_path / "canonical.csv", index=False)
    reading = read(tmp_path / "canonical.csv")
    assert reading.so_far["load_kg"].tolist() == [105.0]
    assert reason in reading.quarantine["reason"].tolist()[0]


def test_dates_once_accepted_are_not_asked_about_again(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    days = ["2020-03-05", "2024-03-05", "2024-01-05"]
    path.write_text("Date,Exercise,Load kg,Reps\n" + "".join(f"{day},Squat,100,5\n" for day in days))
    write_canonical(read(path), tmp_path / "canonical.csv")
    again = read_log(tmp_path / "canonical.csv", match_exercise=plain, today=TODAY)
    assert again.rows["date"].dt.strftime("%Y-%m-%d").tolist() == days
    assert (read(path).rows["date"].max() - pd.Timestamp(TODAY)) < timedelta(0)
