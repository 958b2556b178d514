"""What committed forecasts were worth: filled sheets come back, are scored against the commit, and kept beside it."""

import datetime
import hashlib
import json
import shutil

import numpy as np
import pandas as pd
import pytest
from openpyxl import load_workbook

from workbench.__main__ import main
from workbench.answers.gym_numbers import LogOfLifter
from workbench.gym.equipment import read_room
from workbench.lifter import read_lifter
from workbench.log import read_log, rows_of
from workbench.panels.app import App
from workbench.panels.desk import Desk
from workbench.panels.frame import parts_of
from workbench.panels.log import LogPanel
from workbench.panels.session_today import SessionToday
from workbench.prescription.block import Block
from workbench.publish import track_record as track_records
from workbench.publish.commit import Decision, commit_block, list_committed, read_committed, verify
from workbench.publish.rationale import rationale_html
from workbench.publish.track_record import keep_scores, scored_sets, track_record
from workbench.quantities import InputError
from workbench.reference.gym_folder import GymFolder
from workbench.reference.sources import data_path
from workbench.reference.toml_files import validate

DEMO = data_path("demo")
LIFTER = read_lifter(DEMO / "lifters" / "emre_sandoval.toml")
ROOM = read_room(DEMO / "rooms" / "boathouse_hall.toml")
MONDAY = datetime.date(2026, 1, 5)
BLOCK = validate(
    {
        "name": "Small",
        "weeks": 2,
        "sessions": [
            {
                "name": name,
                "day": day,
                "exercises": [
                    {
                        "exercise": "back squat",
                        "sets": [
                            {"count": 2, "reps": 5, "percent": percent, "rest_s": 150},
                            {"count": 1, "reps": "failure", "percent": percent, "rest_s": 150},
                        ],
                    }
                ],
            }
            for name, day, percent in (("Heavy", 1, 80), ("Light", 4, 65))
        ],
    },
    Block,
)
ROUNDING = 1e-9


@pytest.fixture
def committed(tmp_path):
    now = datetime.datetime(2026, 1, 4, 12, tzinfo=datetime.UTC)
    folder = tmp_path / "committed"
    return commit_block(BLOCK, [LIFTER], ROOM, Decision("to see"), folder=folder, draws=40, start=MONDAY, now=now)


def digests(folder):
    return {str(path): hashlib.sha256(path.read_bytes()).hexdigest() for path in folder.rglob("*") if path.is_file()}


def filled(committed, path, reps, *, weeks=1, load=None):
    """Fill in the sheet that was handed out: reps of the sets of each session, of the first weeks."""
    book = load_workbook(next((committed.path / "sheets").glob("*.xlsx")))
    for sheet in book.worksheets[:weeks]:
        columns = {str(cell.value).split(" (")[0]: cell.column for cell in sheet[3]}
        rows = [row for row in range(4, sheet.max_row + 1) if sheet.cell(row, columns["Planned reps"]).value]
        for row, done in zip(rows, reps * 2, strict=True):
            planned = str(sheet.cell(row, columns["Planned load"]).value)
            sheet.cell(row, columns["Load done"]).value = load or float(planned.removesuffix(" kg"))
            sheet.cell(row, columns["Reps done"]).value = done
    book.save(path)
    reading = read_log(path)
    assert not reading.questions
    return LogOfLifter(LIFTER, rows_of(reading, LIFTER.name))


def test_a_filled_sheet_is_scored_against_the_commit_which_stays_as_it_is(committed, tmp_path):
    before = digests(committed.path)
    record = keep_scores(committed.path.parent, [filled(committed, tmp_path / "s.xlsx", [5, "4 F", "9 F"])])
    assert digests(committed.path) == before
    assert verify(committed.path).same
    assert list_committed(committed.path.parent) == [committed.path]
    predicted = pd.read_csv(committed.path / "predicted_sets.csv")
    first_week = predicted[predicted["week"] == 1].reset_index(drop=True)
    scores = record.scores.sort_values(["session", "set"]).reset_index(drop=True)
    assert scores["session"].tolist() == ["Heavy"] * 3 + ["Light"] * 3
    assert scores["chance"].fillna(-1).tolist() == first_week["chance"].fillna(-1).tolist()
    assert scores["made"].fillna(-1).tolist() == [1.0, 0.0, -1.0] * 2
    # By hand: the first set was made, the second missed.
    chance = np.clip(first_week["chance"], 0.00025, 0.99975)
    assert scores["brier"][0] == pytest.approx((1.0 - chance[0]) ** 2, abs=ROUNDING)
    assert scores["log_score"][1] == pytest.approx(-np.log(1.0 - chance[1]), abs=ROUNDING)
    to_failure = first_week.loc[2]
    assert scores["inside_80"][2] == float(to_failure["reps_p10"] <= 9 <= to_failure["reps_p90"])
    assert record.sentences() == ["Too few sets with prescribed reps to say whether chances hold: 4."]


def log_of_days(*days, load):
    """A log that is no sheet: one set of back squat on each day."""
    rows = [{"date": pd.Timestamp(day), "exercise": "back squat", "set_number": 1, "load_kg": load} for day in days]
    table = pd.DataFrame(rows).assign(reps=5, outcome="completed", source_sheet="")
    return LogOfLifter(LIFTER, table.astype({"source_sheet": "str"}))


def test_a_log_that_goes_on_after_the_block_is_scored_where_the_block_was(committed):
    predicted = pd.read_csv(committed.path / "predicted_sets.csv")
    heavy = float(predicted["load_kg"][0])
    # Monday of the first week is in the block; of the third, which the block has not, is not.
    days = (MONDAY, MONDAY + datetime.timedelta(weeks=2))
    scores = keep_scores(committed.path.parent, [log_of_days(*days, load=heavy)]).scores
    assert scores[["week", "session", "set"]].values.tolist() == [[1, "Heavy", 1]]
    assert scored_sets(committed.path, LIFTER.name, log_of_days(days[1], load=heavy).rows).empty


def test_a_session_typed_at_the_rack_is_scored_as_that_session_of_its_block(committed, tmp_path):
    """Monday left out, Thursday done a day late in the next week of the calendar; then a set of another block."""
    gym = GymFolder(tmp_path / "gym")
    evening = datetime.datetime(2026, 1, 12, 18)  # noqa: DTZ001 (the clock of the place)
    for block in (BLOCK, BLOCK.model_copy(update={"name": "Other"})):
        chosen = {"week": 1, "session": 2, "draws": 20, "now": lambda: evening}
        today = SessionToday(gym, block, LIFTER, ROOM, **chosen)
        first = today.answer([]).sets.iloc[0]
        form = {
            "do": "set",
            "entry": today.log.next_entry([]),
            "exercise": "back squat",
            "load": f"{first['load_kg']:g}",
        }
        today.take({**form, "reps": "5"})
        log = LogOfLifter(LIFTER, rows_of(read_log(today.log.path), LIFTER.name))
        scores = scored_sets(committed.path, LIFTER.name, log.rows)
        wanted = [[1, "Light", 1, 5]] if block is BLOCK else []
        assert scores[["week", "session", "set", "reps"]].values.tolist() == wanted


def test_the_record_is_kept_and_grows_with_each_week(committed, tmp_path):
    folder = committed.path.parent
    keep_scores(folder, [filled(committed, tmp_path / "a.xlsx", [5, 5, "9 F"])])
    assert len(track_record(folder).scores) == 6
    keep_scores(folder, [filled(committed, tmp_path / "b.xlsx", [5, "4 F", "9 F"], weeks=2)])
    scores = track_record(folder).scores
    assert len(scores) == 12
    # What the log now says of a set counts, once.
    assert scores.loc[scores["set"] == 2, "made"].tolist() == [0.0] * 4
    # A log that is gone takes nothing away.
    assert len(keep_scores(folder, []).scores) == 12


def test_another_load_or_a_day_before_the_commit_was_not_forecast(committed, tmp_path):
    other = filled(committed, tmp_path / "s.xlsx", [5, 5, "9 F"], load=40.0)
    assert scored_sets(committed.path, LIFTER.name, other.rows).empty
    done = filled(committed, tmp_path / "t.xlsx", [5, 5, "9 F"])
    early = done.rows.assign(date=pd.Timestamp("2026-01-03"))
    assert scored_sets(committed.path, LIFTER.name, early).empty
    assert scored_sets(committed.path, "Somebody Else", done.rows).empty


def test_a_commit_is_read_once_for_all_logs_and_later_weeks_are_not_gone_through(committed, monkeypatch):
    """Otherwise scoring would grow with commits times logs times weeks."""
    read, placed = [], []
    of, days_of = track_records._Forecast.of, track_records._placed
    monkeypatch.setattr(track_records._Forecast, "of", lambda path: read.append(path) or of(path))
    monkeypatch.setattr(track_records, "_placed", lambda *asked: placed.append(days_of(*asked)) or placed[-1])
    heavy = float(pd.read_csv(committed.path / "predicted_sets.csv")["load_kg"][0])
    log = log_of_days(*[MONDAY + datetime.timedelta(weeks=week) for week in range(50)], load=heavy)
    somebody = LIFTER.model_copy(update={"name": "Somebody Else"})
    keep_scores(committed.path.parent, [log, LogOfLifter(somebody, log.rows)])
    assert read == [committed.path]
    assert [table["week"].tolist() for table in placed] == [[1.0, 2.0]]


def test_a_typed_log_is_placed_by_its_dates(committed, tmp_path):
    sheet = filled(committed, tmp_path / "s.xlsx", [5, "4 F", "9 F"])
    typed = sheet.rows.drop(columns="Session").assign(source_sheet="")
    by_sheet, by_date = (scored_sets(committed.path, LIFTER.name, rows) for rows in (sheet.rows, typed))
    pd.testing.assert_frame_equal(by_sheet, by_date)


def test_many_sets_are_said_in_plain_words(committed, tmp_path):
    folder = committed.path.parent
    keep_scores(folder, [filled(committed, tmp_path / "s.xlsx", [5, 5, "9 F"])])
    kept = next(folder.glob("*.record.csv"))
    one = pd.read_csv(kept).iloc[[0]]
    made = [1.0] * 78 + [0.0] * 22
    many = pd.concat([one.assign(chance=0.8, made=value) for value in made])
    kept.write_text(many.to_csv(index=False), encoding="utf-8")
    assert track_record(folder).sentences() == [
        "Of 100 sets called about 80 %, 78 were made (78 %; called 80 % in the mean: as it should be)."
    ]


def test_the_learn_page_keeps_the_score_and_start_page_and_rationale_show_it(committed, tmp_path):
    gym = GymFolder(tmp_path)
    gym.make()
    for kind in ("lifters", "rooms"):
        shutil.copytree(DEMO / kind, tmp_path / kind, dirs_exist_ok=True)
    filled(committed, tmp_path / "logs" / "emre_sandoval.xlsx", [5, "4 F", "9 F"])
    desk = Desk(gym)
    assert "No set of a committed block has come back yet" in rationale_html(read_committed(committed.path))
    desk.choose("lifters", tmp_path / "lifters" / "emre_sandoval.toml")
    panel = LogPanel(desk, draws=20)
    said = "Too few sets with prescribed reps to say whether chances hold: 4."
    assert f"Committed forecasts: {said}" in panel.text().replace("\n", " ")
    assert len(track_record(tmp_path / "committed").scores) == 6
    assert said in rationale_html(read_committed(committed.path))
    app = App(tmp_path)
    app.pages["start"].look_again()
    start = " ".join(str(part.value) for part in parts_of(app.root) if type(part).__name__ == "HTML")
    assert said in start


def test_workbench_review_keeps_the_score_of_a_gyms_folder(committed, tmp_path, capsys):
    (tmp_path / "lifters").mkdir()
    (tmp_path / "logs").mkdir()
    shutil.copy(DEMO / "lifters" / "emre_sandoval.toml", tmp_path / "lifters")
    filled(committed, tmp_path / "logs" / "emre_sandoval.xlsx", [5, "4 F", "9 F"])
    assert main(["review", str(tmp_path), "--draws", "20", "--table", "by_set"]) == 0
    said = capsys.readouterr().out
    assert "Committed forecasts: Too few sets with prescribed reps to say whether chances hold: 4." in said
    assert "by set" in said
    # A filled sheet says what was prescribed.
    assert "do not say what was prescribed" not in said
    assert len(track_record(committed.path.parent).scores) == 6
    assert main(["review", str(tmp_path), "--draws", "20", "--json", "--no-rules"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["committed"] == ["Too few sets with prescribed reps to say whether chances hold: 4."]
    assert answer["tables"]["calls"][0]["called"] == "under 50 %"


def test_a_damaged_record_says_what_to_do(committed):
    path = committed.path.with_name(f"{committed.path.name}.record.csv")
    path.write_text("week,set\n1,2\n", encoding="utf-8")
    with pytest.raises(InputError, match="remove it; it is made again") as caught:
        track_record(committed.path.parent)
    assert str(path) in str(caught.value)


def test_no_folder_no_record(tmp_path):
    assert track_record(tmp_path / "none").sentences() == ["No set of a committed block has come back yet."]
