"""Published rows as tables, and a study of one's own among them: what is read is what was written, or it is refused."""

from dataclasses import fields

import numpy as np
import pandas as pd
import pytest

import workbench
from workbench.evidence import scoring
from workbench.evidence.read import read_load_reps, read_sets
from workbench.evidence.studies import load_reps_from, sets_from, studies
from workbench.quantities import InputError

MINE = {"source": "mine_2026", "exercise": "back squat", "load_fraction": 0.8, "reps_mean": 9.0, "grade": "published"}
RUN = {
    "source": "mine_2026",
    "exercise": "back squat",
    "family": "set reps",
    "load_fraction": 0.8,
    "rests_s": 120,
    "set_to": 3,
    "value": 5.5,
    "grade": "derived",
}


def with_mine(table, **row):
    return pd.concat([studies(table), pd.DataFrame([row])], ignore_index=True)


def same(one, other):
    for field in fields(one):
        a, b = getattr(one, field.name), getattr(other, field.name)
        if isinstance(a, np.ndarray | float):
            np.testing.assert_array_equal(a, b)  # NaN where nothing is said, on both sides
        else:
            assert a == b, field.name


def test_the_tables_read_back_as_the_workbench_reads_them():
    same(load_reps_from(studies("reps_at_load")), read_load_reps())
    for one, other in zip(sets_from(studies("sets")), read_sets(), strict=True):
        same(one, other)


@pytest.mark.parametrize("table", ["reps_at_load", "sets"])
def test_every_published_row_names_who_found_it_and_where(table):
    rows = studies(table)
    assert rows["citation"].str.len().min() > 20
    known = rows[rows["doi"] != ""]
    assert known["doi"].str.startswith("10.").all()
    assert set(rows["grade"]) <= {"published", "derived", "recalled", "assumed"}


def test_a_study_of_ones_own_needs_little_and_stands_alone_when_left_out():
    rows = load_reps_from(with_mine("reps_at_load", **MINE))
    assert rows.size == read_load_reps().size + 1
    last = {field.name: getattr(rows, field.name)[-1] for field in fields(rows)}
    assert (last["fold"], last["endurance_class"], last["use"], last["training"]) == (
        "mine_2026",
        "squat",
        "fit",
        "unknown",
    )
    assert (last["load_fraction"], last["reps_mean"], last["n"]) == (0.8, 9.0, 10.0)  # ten people where not said
    run = sets_from(with_mine("sets", **RUN))[-1]
    assert (run.load_fractions, run.rests_s, run.set_from, run.set_to) == ((0.8,) * 3, (120.0,), 3, 3)
    assert (run.fold, run.endurance_class, run.value) == ("mine_2026", "squat", 5.5)
    assert (run.cap, run.load_cut) == (np.inf, 0.0)


def test_a_csv_file_is_read_as_the_same_rows(tmp_path):
    path = tmp_path / "rows.csv"
    with_mine("reps_at_load", **MINE).to_csv(path, index=False)
    same(load_reps_from(path), load_reps_from(with_mine("reps_at_load", **MINE)))


@pytest.mark.slow
def test_a_study_of_ones_own_is_predicted_by_the_others():
    few = studies("reps_at_load")
    few = few[few["fold"].isin(["wolfe2024", "eches"])]
    scored = workbench.score(scoring.CURVES["power"], pd.concat([few, pd.DataFrame([MINE])]))
    mine = scored.rows[scored.rows["source"] == "mine_2026"].iloc[0]
    assert mine["observed"] == 9.0
    assert mine["low"] < mine["predicted"] < mine["high"]


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"load_fraction": 80}, r"row 90, load_fraction: '80.*' cannot be; use 0.05 to 1, a share of 1RM, as 0.8"),
        ({"load_fraction": "0,8"}, "row 90, load_fraction: '0,8' cannot be"),
        ({"load_fraction": None}, "load_fraction: is missing; every row needs source, exercise, load_fraction"),
        ({"reps_mean": -3.0}, "reps_mean: '-3.0' cannot be; use 1 to 300, reps"),
        ({"reps_mean": float("inf")}, "reps_mean: 'inf' cannot be"),
        ({"n": 0}, "n: '0.*' cannot be; use 1 to"),
        ({"grade": "sure"}, "grade: 'sure' is not one; use one of: published, derived, recalled, assumed"),
        ({"exercise": "log toss"}, "exercise: .*log toss.*; use a name of the catalogue, or fill endurance_class"),
    ],
)
def test_a_row_that_cannot_be_is_refused_with_its_place(change, said):
    with pytest.raises(InputError, match=said):
        load_reps_from(with_mine("reps_at_load", **{**MINE, **change}))


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"family": "reps"}, "row 87, family: 'reps' is not one; use one of: set reps, total"),
        ({"rests_s": "2 min"}, "mine_2026, rests_s: '2 min' is no number"),
        ({"set_to": None}, "set_to: is missing"),
        ({"load_fraction": None}, "load_fraction: is missing; give load_fraction, or rep_max"),
        ({"value": "half"}, "value: 'half' cannot be"),
    ],
)
def test_a_run_of_sets_that_cannot_be_is_refused_with_its_place(change, said):
    with pytest.raises(InputError, match=said):
        sets_from(with_mine("sets", **{**RUN, **change}))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("source;exercise\na;b\n", "rows.csv: row 1, source: is missing"),
        ("source,load_fraction\na,0,8\n", "rows.csv: row 1, its end: has more cells .*decimals with a point"),
        (
            "source,exercise,load_fraction,reps_mean,grade\na,bench press,0.8,9,published\n",
            "no second study.*pd.concat",
        ),
        ("", "no second study"),
    ],
)
def test_a_file_that_cannot_be_used_is_refused_with_its_name(tmp_path, text, said):
    path = tmp_path / "rows.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match=said):
        workbench.score(scoring.CURVES["power"], path)


def test_what_is_no_table_is_refused(tmp_path):
    latin = tmp_path / "latin.csv"
    latin.write_bytes("source\nMüller\n".encode("latin-1"))
    for data, said in (
        (latin, "UTF-8"),
        (tmp_path / "none.csv", "cannot be read"),
        ({"source": 1}, "give a DataFrame"),
    ):
        with pytest.raises(InputError, match=said):
            workbench.score(scoring.CURVES["power"], data)
    with pytest.raises(InputError, match="use one of: reps_at_load, sets"):
        studies("reps")
