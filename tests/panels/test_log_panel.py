"""The log panel: controls moved by code, what it says, and what it does with a log that cannot be used."""

from __future__ import annotations

import datetime
import re

import numpy as np
import pytest

from workbench.answers.learned import fresh_sets, learned_curve, rep_max_table
from workbench.fit import fit_log
from workbench.lifter import read_lifter
from workbench.log import read_log
from workbench.panels.log import LogPanel
from workbench.reference.sources import data_path

pytestmark = pytest.mark.usefixtures("compiled_sets")

DEMO = data_path("demo")


@pytest.fixture(scope="module")
def panel():
    made = LogPanel(seed=3, draws=200)
    assert made.trouble.value == ""
    return made


def uploaded(name, content):
    """Return a file as the browser hands it over."""
    when = datetime.datetime(2026, 1, 20, tzinfo=datetime.UTC)
    kind = {"name": name, "type": "text/csv", "size": len(content), "last_modified": when}
    return kind | {"content": memoryview(content)}


def test_building_a_panel_shows_nothing(short_log, capsys):
    LogPanel(seed=3, draws=20)
    assert capsys.readouterr().out == ""


def test_the_panel_gives_the_digits_of_the_plain_function(panel):
    rows = read_log(DEMO / "logs" / "emre_sandoval_weeks_1_2.csv").rows
    learned = fit_log(rows, read_lifter(DEMO / "lifters" / "emre_sandoval.toml"))
    low, middle, high = learned.one_rm("back squat").quantile([0.1, 0.5, 0.9])
    # A band of 13 kg: half of it keeps one digit, so whole kg are said.
    assert re.search(rf"back squat, 1RM .* {middle:.0f} \({low:.0f} to {high:.0f}\)", panel.text())


def test_another_exercise_redraws_both_figures(panel):
    before = panel.curve.shown.layout.title.text
    panel.exercise.value = "back squat"
    assert "back squat" in panel.curve.shown.layout.title.text != before
    assert "back squat" in panel.time.shown.layout.title.text
    panel.exercise.value = "barbell bench pull"


def test_a_later_week_shows_its_own_loads(panel):
    panel.week.value = 4
    assert "Week 4: loads" in panel.week_rows.value
    panel.week.value = 3
    assert "Week 3: loads" in panel.week_rows.value
    # What next week brings is seen before the long tables.
    below = panel.root.children[-1].children
    assert below[:3] == (panel.week_rows, panel.proposed, panel.learned_rows)


def test_a_week_that_is_not_there_is_explained(panel):
    panel.week.value = 9
    assert "use 1 to 5" in panel.trouble.value
    panel.week.value = 3
    assert panel.trouble.value == ""


def test_an_uploaded_log_is_read_like_any_other(short_log):
    panel = LogPanel(seed=3, draws=20)
    lines = (DEMO / "logs" / "bram_okafor_eight_weeks.csv").read_bytes().splitlines()
    panel.upload.value = (uploaded("mine.csv", b"\n".join(lines[:8])),)
    assert panel.trouble.value == ""
    assert panel.reading.path.name == "mine.csv"
    assert panel.learned.fit.log.set_count == 7


def test_whose_rows_they_are_is_asked_and_answered_for_one_lifter_only(short_log):
    panel = LogPanel(seed=3, draws=20)
    lines = (DEMO / "logs" / "emre_sandoval_weeks_1_2.csv").read_text().splitlines()
    named = "\n".join([f"{lines[0]},lifter", *(f"{line},Ana Lind" for line in lines[1:7])])
    panel.upload.value = (uploaded("ana.csv", named.encode()),)
    assert "the log holds 6 sets of Ana Lind" in panel.trouble.value
    panel.answers.rows.value = "Ana Lind"
    assert panel.trouble.value == ""
    assert panel.learned.fit.log.set_count == 6
    panel.lifter.choice.value = next(path for _, path in panel.lifter.choice.options if path.stem == "cato_venn")
    assert "not known to be those of Cato Venn" in panel.trouble.value


def test_an_open_question_is_answered_by_its_list(short_log):
    panel = LogPanel(seed=3, draws=20)
    panel.upload.value = (uploaded("x.csv", b"Date,Exercise,Load,Reps\n2026-05-04,back squat,100,5\n"),)
    assert "please answer" in panel.answer.value
    assert "unit" in panel.answer.value
    panel.answers.lists["unit"].value = "kg"
    assert panel.trouble.value == ""
    assert panel.learned.fit.log.set_count == 1


def test_a_row_that_is_set_aside_is_said_with_what_was_learned_without_it(short_log):
    panel = LogPanel(seed=3, draws=20)
    assert "set aside" not in panel.answer.value
    head = "date,exercise,set,load kg,reps\n"
    rows = "2026-05-04,back squat,1,100,5\n2026-05-04,back squad lift,2,100,5\n"
    panel.upload.value = (uploaded("x.csv", (head + rows).encode()),)
    assert panel.trouble.value == ""
    assert "1 sets used" in panel.answer.value
    assert "1 row of the log is set aside" in panel.answer.value
    assert "Set aside, row 3" in panel.understood.value


def test_an_upload_that_is_no_log_is_explained_in_the_place_of_an_answer(short_log):
    panel = LogPanel(seed=3, draws=20)
    panel.upload.value = (uploaded("x.csv", b"hello"),)
    assert "cannot be used" in panel.trouble.value
    assert panel.learned_rows.value == ""
    assert "x.csv" in panel.answer.value


def test_the_curve_before_is_the_prior_and_after_is_narrower(panel):
    curve = learned_curve(panel.learned, "barbell bench pull", draws=2000, seed=1)
    # Before, by the lifter file: one rep at 90 kg, and ln(90 / load) / 0.032 more below (horizontal pull).
    heaviest = curve.iloc[-1]
    assert heaviest["before_p50"] == pytest.approx(1.0 + np.log(90.0 / heaviest["load_kg"]) / 0.032, abs=0.35)
    middle = curve[(curve["percent"] > 65) & (curve["percent"] < 85)]
    assert ((middle["after_p90"] - middle["after_p10"]) < (middle["before_p90"] - middle["before_p10"])).all()


def test_only_the_first_set_of_each_day_is_a_fresh_one(panel):
    sets = fresh_sets(panel.learned, "barbell bench pull")
    assert len(sets) == 4  # Mondays and Fridays of two weeks
    assert set(sets["reps"]) <= {6, 7}  # as the demonstration block prescribes


def test_a_rep_max_formula_on_an_easy_log_by_hand():
    """Cato's heaviest bench pull set in the log: 47.5 kg for five reps, by Epley 47.5 (1 + 5 / 30) = 55.4 kg."""
    rows = read_log(DEMO / "logs" / "cato_venn_all_easy.csv").rows
    table = rep_max_table(fit_log(rows, read_lifter(DEMO / "lifters" / "cato_venn.toml"))).set_index("exercise")
    pull = rows[rows["exercise"] == "barbell bench pull"]
    heaviest = pull["load_kg"].max()
    assert table.loc["barbell bench pull", "formula_kg"] == pytest.approx(heaviest * (1 + 5 / 30), rel=0.002)
    assert (table["formula_kg"] < 0.85 * table["believed_kg"]).all()
    assert (table["learned_kg"] >= table["believed_kg"]).all()
    assert (table["failed_sets"] == 0).all()


def test_the_panel_and_its_room_of_pounds(short_log):
    panel = LogPanel(seed=3, draws=20)
    room = panel.room.choice.value
    quay = next(path for name, path in panel.room.choice.options if name == "Quay room")
    panel.room.choice.value = quay
    assert "<td>lb</td>" in panel.learned_rows.value
    assert "<td>kg</td>" not in panel.learned_rows.value
    panel.room.choice.value = room
    assert "<td>kg</td>" in panel.learned_rows.value
