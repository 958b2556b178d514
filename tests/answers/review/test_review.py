"""Walking forward through logs: what is forecast, from what, and how it is scored."""

import datetime
import functools

import numpy as np
import pandas as pd
import pytest

from workbench.answers.review import SIMPLE_RULES, Review, scored, sets_done, walk_forward
from workbench.answers.review.done import PLANNED_REPS
from workbench.answers.review.forecasts import Known
from workbench.answers.review.rivals import Rule, Said
from workbench.answers.review.tables import against, calls, calls_said, measures
from workbench.answers.review.walk import forecasters, walked
from workbench.lifter import Lifter
from workbench.models.fatigue import FORMS
from workbench.quantities import InputError
from workbench.reference.toml_files import validate

pytestmark = pytest.mark.usefixtures("compiled_sets")

ROUNDING = 1e-12
MONDAY = datetime.date(2026, 1, 5)
SQUAT, PRESS = "back squat", "bench press"


def lifter(**more):
    lifts = {SQUAT: {"one_rm_kg": 140.0}, PRESS: {"one_rm_kg": 100.0}}
    return validate({"name": "Ada Berg", "lifts": lifts, **more}, Lifter)


def log(sets, **columns):
    """Rows of (day, exercise, load, reps, failed, reserve) with two minutes of rest."""
    rows = [
        {
            "date": pd.Timestamp(MONDAY) + pd.Timedelta(days=day),
            "lifter": "",
            "exercise": exercise,
            "load_kg": float(load),
            "reps": reps,
            "outcome": "failed" if failed else "completed",
            "reps_in_reserve": reserve,
            "rest_s": 120.0,
        }
        for day, exercise, load, reps, failed, reserve in sets
    ]
    return pd.DataFrame(rows).assign(**columns)


NONE = float("nan")
WEEKS = log(
    [
        (7 * week + day, exercise, load, reps, reps == 7 and number == 2, NONE)
        for week in range(3)
        for day in (0, 3)
        for exercise, load, reps in ((SQUAT, 105, 7), (PRESS, 75, 5))
        for number in range(3)
    ]
)


@functools.cache
def walk(*, every="week", simple_rules=False):
    return walk_forward(WEEKS, lifter(), draws=60, simple_rules=simple_rules, every=every)


# ---- what was prescribed --------------------------------------------------------------------------------------------


def test_prescribed_reps_are_those_of_the_log_where_it_says_so():
    rows = log([(0, SQUAT, 100, 5, False, NONE), (0, SQUAT, 100, 3, True, NONE), (0, SQUAT, 80, 9, True, NONE)])
    done = sets_done(rows.assign(**{"Planned reps": ["5 to 8", "5", "to failure"]}), lifter())
    assert done["low"].tolist()[:2] == [5.0, 5.0]
    assert np.isnan(done["low"].iloc[2])
    assert done["high"].tolist() == [8.0, 5.0, np.inf]
    assert done["told"].all()
    assert "planned reps" in PLANNED_REPS


def test_without_them_completed_sets_tell_what_a_missed_one_was_to_be():
    rows = log(
        [
            (0, SQUAT, 100, 5, False, NONE),
            (0, SQUAT, 100, 4, True, NONE),  # of five: missed
            (0, SQUAT, 80, 12, True, NONE),  # nobody completed more at this load: to failure
            (0, PRESS, 60, 0, True, NONE),  # nobody is asked for no rep
            (3, SQUAT, 90, 9, False, 2.0),  # stopped where it felt so: nothing prescribed
            (3, SQUAT, 90, 7, False, 2.0),
            (3, PRESS, 60, 8, False, NONE),
            (3, PRESS, 60, 8, False, 3.0),  # the reps of the set before: prescribed
        ]
    )
    done = sets_done(rows, lifter())
    assert done["low"].fillna(-1).tolist() == [5.0, 5.0, -1.0, 1.0, -1.0, -1.0, 8.0, 8.0]
    assert done["high"].fillna(-1).tolist() == [5.0, 5.0, np.inf, 1.0, -1.0, -1.0, 8.0, 8.0]
    assert not done["told"].any()


# ---- scores of one set ----------------------------------------------------------------------------------------------


def of_set(reps, failed, low, high):
    return {
        "date": MONDAY,
        "exercise": SQUAT,
        "set": 1,
        "load_kg": 100.0,
        "rest_s": 120.0,
        "told": True,
        "reps": reps,
        "failed": failed,
        "low": low,
        "high": high,
    }


def test_a_set_that_ended_as_prescribed_says_at_least():
    # Draws 4.9, 6.2, 9.7: whole 4, 6, 9. Five of five made: what is scored is the smaller of both: 4, 5, 5 against 5.
    # Distances 1, 0, 0, mean 1/3; among them 4 pairs of nine at 1: 4/9; 1/3 - 2/9 = 1/9. Two of three draws make it:
    # (2 + 0.5) / 4 = 0.625, Brier 0.375^2.
    (row,) = scored(of_set(5, False, 5.0, 5.0), {"mine": np.array([4.9, 6.2, 9.7])})
    assert row["crps"] == pytest.approx(1.0 / 9.0, abs=ROUNDING)
    assert row["chance"] == pytest.approx(0.625, abs=ROUNDING)
    assert row["brier"] == pytest.approx(0.375**2, abs=ROUNDING)
    assert row["log_score"] == pytest.approx(-np.log(0.625), abs=ROUNDING)
    assert row["made"] == 1.0
    assert np.isnan(row["error"])
    # How far beyond five the draws lie is not seen, and changes nothing.
    (other,) = scored(of_set(5, False, 5.0, 5.0), {"mine": np.array([4.9, 5.2, 30.0])})
    assert other["crps"] == row["crps"]


def test_a_missed_set_says_how_many():
    # Whole 4, 6, 9, at most the 5 prescribed: 4, 5, 5, against 3 done: distances 1, 2, 2, mean 5/3; less 2/9.
    (row,) = scored(of_set(3, True, 5.0, 5.0), {"mine": np.array([4.9, 6.2, 9.7])})
    assert row["crps"] == pytest.approx(5.0 / 3.0 - 2.0 / 9.0, abs=ROUNDING)
    assert row["brier"] == pytest.approx(0.625**2, abs=ROUNDING)
    assert row["made"] == 0.0


def test_a_set_to_failure_is_scored_in_full_and_is_never_missed():
    # Whole 4, 6, 9 against 7: distances 3, 1, 2, mean 2; pairs 2, 5, 3 twice of nine, 20/9: 2 - 10/9.
    # The median is 6: off by -1.
    (row,) = scored(of_set(7, True, NONE, np.inf), {"mine": np.array([4.9, 6.2, 9.7])})
    assert row["crps"] == pytest.approx(2.0 - 10.0 / 9.0, abs=ROUNDING)
    assert row["error"] == -1.0
    assert np.isnan(row["made"])
    assert np.isnan(row["chance"])
    # Stopped before failure, nobody knows how many there were.
    (stopped,) = scored(of_set(7, False, NONE, np.inf), {"mine": np.array([4.9, 6.2, 9.7])})
    assert np.isnan(stopped["crps"])


def test_a_range_is_made_from_its_fewest_reps_on_and_says_at_least():
    (row,) = scored(of_set(6, False, 5.0, 8.0), {"mine": Said(np.array([5.5, 7.5]), 0.9)})
    assert row["made"] == 1.0
    assert row["brier"] == pytest.approx(0.01, abs=ROUNDING)
    # 5 and 6 (of 7, at most the six that were done) against 6: mean 1/2, less half of 1/2.
    assert row["crps"] == pytest.approx(0.25, abs=ROUNDING)


# ---- no look ahead --------------------------------------------------------------------------------------------------


def test_what_comes_later_changes_no_earlier_forecast():
    later = WEEKS.copy()
    changed = later["date"] >= pd.Timestamp(MONDAY + datetime.timedelta(days=14))
    assert changed.sum() == 12
    later.loc[changed, "load_kg"] *= 1.2
    later.loc[changed, "reps"] = 2
    parts = [walk(simple_rules=True).scores, walk_forward(later, lifter(), draws=60).scores]
    before = [part[part["week"] <= 2].reset_index(drop=True) for part in parts]
    pd.testing.assert_frame_equal(*before)
    assert not parts[0][parts[0]["week"] == 3].reset_index(drop=True).equals(parts[1][parts[1]["week"] == 3])


def test_by_the_day_the_first_session_of_a_week_teaches_the_second():
    mine = [walk(every=every).mine.set_index(["date", "exercise", "set"])["chance"] for every in ("week", "day")]
    assert mine[0].loc[MONDAY].equals(mine[1].loc[MONDAY])
    thursday = MONDAY + datetime.timedelta(days=3)
    assert not mine[0].loc[thursday].equals(mine[1].loc[thursday])


def test_in_the_first_week_nothing_is_known_but_the_file():
    scores = walk().scores
    chances = scores[scores["week"] == 1].pivot(
        index=["date", "exercise", "set"], columns="forecaster", values="chance"
    )
    assert chances["workbench"].equals(chances["workbench before any log"].rename("workbench"))


def test_days_that_the_lifter_file_knows_of_are_no_forecast():
    tested = MONDAY + datetime.timedelta(days=10)
    lifts = {SQUAT: {"one_rm_kg": 140.0, "tested": tested}, PRESS: {"one_rm_kg": 100.0}}
    review = walk_forward(WEEKS, lifter(lifts=lifts), draws=100, simple_rules=False)
    squats = review.scores[review.scores["exercise"] == SQUAT]
    assert min(squats["date"]) == tested
    assert min(review.scores["date"]) == MONDAY
    # Three days before the test with three sets each.
    assert len(review.left_out) == 9
    assert "knows of this day" in " ".join(review.notes)


# ---- rivals ---------------------------------------------------------------------------------------------------------


def history_and_day():
    rows = log(
        [
            (0, SQUAT, 100, 9, True, NONE),
            (0, SQUAT, 100, 6, True, NONE),
            (2, SQUAT, 120, 3, False, 2.0),
            (2, SQUAT, 120, 4, True, NONE),
            (7, SQUAT, 100, 8, True, NONE),
            (7, SQUAT, 100, 5, True, NONE),
            (7, PRESS, 80, 5, False, NONE),
        ]
    )
    sets = sets_done(rows, lifter())
    sets["one_rm_kg"] = sets["exercise"].map({SQUAT: 140.0, PRESS: 100.0})
    sets["usual_endurance"] = 0.03
    return sets[sets["date"] < MONDAY + datetime.timedelta(days=7)], sets[
        sets["date"] >= MONDAY + datetime.timedelta(days=7)
    ]


def test_simple_rules_by_hand():
    history, day = history_and_day()
    # Last time at 100 kg: 9 and 6. A press was never done: by the table 1 + ln(100 / 80) / 0.03 = 8.438.
    press = 1.0 + np.log(100.0 / 80.0) / 0.03
    assert SIMPLE_RULES["last time at this load"](history, day) == pytest.approx([9.0, 6.0, press])
    assert SIMPLE_RULES["same as the first set"](history, day) == pytest.approx([9.0, 9.0, press])
    # Table: 1 + ln(1.4) / 0.03 = 12.216; the second set to failure has 70 % of it.
    table = 1.0 + np.log(1.4) / 0.03
    assert SIMPLE_RULES["percent table"](history, day) == pytest.approx([table, 0.7 * table, press])
    # Best 1RM of the fortnight: 120 kg, 3 done and 2 said to be left: 120 (1 + 0.0333 x 5) = 139.98, above 100 x
    # (1 + 0.0333 x 9) = 129.97. At 100 kg that is (1.3998 - 1) / 0.0333 = 12.006 reps.
    reps = (1.3998 - 1.0) / 0.0333
    assert SIMPLE_RULES["rep-max equation"](history, day) == pytest.approx([reps, 0.7 * reps, press])


def test_a_load_that_was_never_done_takes_the_nearest():
    history, day = history_and_day()
    heavier = day.assign(load_kg=117.5)
    # 120 kg is within 2.5 %: three done with two said to be left, then four.
    assert SIMPLE_RULES["last time at this load"](history, heavier)[:2] == [5.0, 4.0]


def test_a_rule_is_given_the_spread_of_its_own_errors_and_is_believed_as_often_as_it_was_right():
    rule = Rule("eight", lambda history, day: [8.0] * len(day))
    first, second = (
        log([(day, SQUAT, 100, reps, True, NONE), (day, PRESS, 70, 5, False, NONE)]) for day, reps in ((0, 6), (7, 9))
    )
    rows = pd.concat([first, second], ignore_index=True)
    sets = sets_done(rows, lifter())
    rule.learn(Known(lifter(), rows[:0], sets[:0], MONDAY))
    squat, press = rule.forecast(sets[:2])
    # Before it has errors of its own it is off by two at most; four of five of its words are right.
    assert sorted(squat.reps) == [6.0, 7.0, 8.0, 9.0, 10.0]
    assert press.chance == pytest.approx(0.8, abs=ROUNDING)
    rule.learn(Known(lifter(), rows[:2], sets[:2], MONDAY + datetime.timedelta(days=7)))
    squat, press = rule.forecast(sets[2:])
    # The squat to failure ended at 6, two fewer; the press was made as it had said: five of six.
    assert sorted(squat.reps) == [6.0, 6.0, 7.0, 8.0, 9.0, 10.0]
    assert press.chance == pytest.approx(5.0 / 6.0, abs=ROUNDING)


def test_a_students_model_is_scored_like_the_others_and_sees_no_outcome():
    seen = []

    def my_model(history, day):
        seen.append((len(history), list(day.columns)))
        return [4.0 if one.exercise == PRESS else np.array([6.0, 7.0, 8.0]) for one in day.itertuples()]

    review = walk_forward(
        WEEKS, lifter(), models={"mine": my_model, "two states": FORMS["two states"]}, simple_rules=False, draws=100
    )
    assert {"mine", "two states", "workbench"} <= set(review.table["forecaster"])
    assert review.table["sets"].nunique() == 1
    assert [count for count, _ in seen] == [0, 0, 12, 12, 24, 24]
    assert not {"reps", "failed", "reserve", "end_s"} & set(seen[0][1])


def test_a_model_that_answers_short_is_refused():
    with pytest.raises(InputError, match="gives 1 forecasts for 6 sets"):
        walk_forward(WEEKS, lifter(), models={"mine": lambda history, day: [1.0]}, simple_rules=False, draws=50)


# ---- tables and words -----------------------------------------------------------------------------------------------


def made(chances, outcomes):
    return pd.DataFrame({"chance": chances, "made": outcomes})


def test_calls_count_what_became_of_chances():
    table = calls(made([0.8] * 100 + [0.3] * 10, [1.0] * 78 + [0.0] * 22 + [0.0] * 10)).set_index("called")
    row = table.loc["about 80 %"]
    assert (row["sets"], row["made"], row["share"]) == (100, 78, 0.78)
    # Of 100 with 80 % each the sd is 4: nine times in ten at least 75, at most 85.
    assert (row["low"], row["high"]) == (75.0, 85.0)
    said = calls_said(table.reset_index())
    assert said == [
        "Of 100 sets called about 80 %, 78 were made (78 %; called 80 % in the mean: as it should be).",
        "Too few to say: 10 called under 50 %.",
    ]


def test_too_few_sets_are_said():
    assert calls_said(calls(made([0.8] * 12, [1.0] * 12))) == [
        "Too few sets with prescribed reps to say whether chances hold: 12."
    ]


def test_a_rule_that_is_better_is_said_to_be():
    days = [MONDAY + datetime.timedelta(days=day) for day in range(40)]
    rows = [
        {
            "lifter": "A",
            "date": day,
            "exercise": SQUAT,
            "set": 1,
            "week": 1 + at // 7,
            "forecaster": name,
            "crps": score,
            "brier": 0.1,
        }
        for at, day in enumerate(days)
        for name, score in (("workbench", 2.0 + 0.1 * (at % 2)), ("coin", 1.0), ("worse", 3.0))
    ]
    table = against(pd.DataFrame(rows)).set_index(["rival", "of"])
    coin, worse = table.loc[("coin", "reps")], table.loc[("worse", "reps")]
    # Off by 1.05 in the mean, by 1.0 or 1.1 every day.
    assert coin["difference"] == pytest.approx(1.05, abs=1e-9)
    assert 1.0 < coin["low"] < 1.05 < coin["high"] < 1.1
    assert (coin["better"], worse["better"]) == ("no", "yes")
    assert worse["from_week"] == 1.0
    assert np.isnan(coin["from_week"])
    assert table.loc[("coin", "made or missed"), "better"] == "not known"


def test_the_answer_says_the_record_its_doubts_and_counts_every_set():
    review = walk(simple_rules=True)
    text = review.text()
    assert "36 sets forecast" in text
    assert "Too few" in text
    assert isinstance(review, Review)
    records = review.to_records()
    assert {"table", "against", "calls", "by_set", "by_exercise", "by_week", "by_distance", "misses"} <= set(
        records["tables"]
    )
    for name, by in (("by_set", "set"), ("by_week", "weeks"), ("by_exercise", "exercise")):
        table = review.tables[name]
        of_mine = table[table["forecaster"] == "workbench"]
        assert of_mine["sets"].sum() == review.table.set_index("forecaster").loc["workbench", "sets"]
        assert of_mine[by].is_unique


def test_bands_of_the_workbench_hold_its_own_draws():
    # Whoever is as the lifter file says: outcomes drawn from the forecast lie in 80 % bands 8 times in 10.
    rng = np.random.default_rng(5)
    draws = 6.0 + 2.0 * rng.standard_normal((400, 300))
    rows = [row for one in draws for row in scored(of_set(int(one[0]), True, NONE, np.inf), {"workbench": one[1:]})]
    table = measures(pd.DataFrame(rows)).set_index("forecaster")
    # Standard error of 400 shares of which each is 0 to 1: below 0.02; two and a half of them.
    assert table.loc["workbench", "inside_80"] == pytest.approx(0.8, abs=0.05)
    assert table.loc["workbench", "inside_50"] == pytest.approx(0.5, abs=0.06)


def test_a_log_needs_its_lifter_and_a_file_that_knows_it_all_leaves_nothing():
    with pytest.raises(InputError, match="say whose log it is"):
        walk_forward(WEEKS)
    tested = MONDAY + datetime.timedelta(days=99)
    knowing = lifter(lifts={name: {"one_rm_kg": 140.0, "tested": tested} for name in (SQUAT, PRESS)})
    with pytest.raises(InputError, match="no set of Ada Berg that could be forecast"):
        walk_forward(WEEKS, knowing, draws=50)


def test_rows_that_cannot_be_used_are_counted_and_a_log_of_such_rows_is_refused():
    rows = WEEKS.copy()
    rows.loc[3, "date"] = pd.NaT
    rows.loc[5, "reps"] = 0
    review = walk_forward(rows, lifter(), draws=30, simple_rules=False)
    assert len(review.mine) == len(WEEKS) - 2
    assert "2 sets are left out: the row holds no date, load or reps that can be used" in review.notes
    for nothing in (rows.assign(date=pd.NaT), rows[:0]):
        with pytest.raises(InputError, match="no set of Ada Berg that could be forecast"):
            walk_forward(nothing, lifter(), draws=30)


def test_a_gyms_folder_is_walked_through_lifter_by_lifter_and_can_be_stopped(tmp_path):
    for name in ("ada", "bo", "cy"):
        (tmp_path / "lifters").mkdir(exist_ok=True)
        (tmp_path / "logs").mkdir(exist_ok=True)
        lifts = f'[lifts."{SQUAT}"]\none_rm_kg = 140\n'
        (tmp_path / "lifters" / f"{name}.toml").write_text(f'name = "{name.title()} Berg"\n{lifts}')
        rows = [f"2026-01-{day:02d},{SQUAT},100,6,completed" for day in (5, 5, 12, 12)]
        if name != "cy":
            (tmp_path / "logs" / f"{name}.csv").write_text("\n".join(["date,exercise,load kg,reps,outcome", *rows]))
    said = []
    review = walk_forward(tmp_path, draws=50, simple_rules=False, progress=lambda *told: said.append(told))
    assert said == [
        *[(0, 2, f"Ada Berg, 2026-01-{day:02d}") for day in (5, 12)],
        *[(1, 2, f"Bo Berg, 2026-01-{day:02d}") for day in (5, 12)],
    ]
    assert review.mine.groupby("lifter").size().to_dict() == {"Ada Berg": 4, "Bo Berg": 4}
    assert any("Cy Berg" in note for note in review.notes)
    stopped = walk_forward(tmp_path, draws=50, simple_rules=False, progress=lambda done, *_: done < 1)
    assert not stopped.finished
    assert set(stopped.mine["lifter"]) == {"Ada Berg"}
    assert "stopped before the end" in stopped.notes


def test_forecasters_learn_anew_for_every_lifter():
    among = forecasters(None, draws=50)
    assert len({id(one) for one in among}) == len(among) == 6
    assert walked(WEEKS, lifter(), among).learned.lifter.name == "Ada Berg"
