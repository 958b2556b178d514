"""Rows of a log sorted into sets a fit can use, worked by hand: what each becomes, and why one is left out."""

from __future__ import annotations

import datetime
import hashlib

import numpy as np
import pandas as pd
import pytest

from workbench.fit.evidence_sets import LiftLog, LoggedSession, LoggedSet, UsedLog, only_new, read_sets
from workbench.fit.rests import LOGGED, RestSpread
from workbench.fit.settings import FitSettings
from workbench.gym.catalogue import built_in
from workbench.quantities import InputError

NAN = float("nan")
MONDAY, TUESDAY = datetime.date(2026, 3, 2), datetime.date(2026, 3, 3)
BENCH, SQUAT = "bench press", "back squat"
COLUMNS = ("date", "exercise", "load_kg", "reps", "outcome", "reps_in_reserve", "rest_s", "load_as_written")


def table(*rows):
    """Rows of date, exercise, load, reps, outcome, reserve, rest and, where it matters, the load as written."""
    made = [dict(zip(COLUMNS, (*row, "")[: len(COLUMNS)], strict=True)) for row in rows]
    return pd.DataFrame(made, columns=list(COLUMNS), index=[f"r{number}" for number in range(len(rows))])


def one(**changes):
    """Read a log of one row: five reps of a bench press with 80 kg, but for some changes."""
    row = dict(zip(COLUMNS, (MONDAY, BENCH, 80.0, 5, "completed", NAN, 60.0, "80"), strict=True)) | changes
    return read_sets(pd.DataFrame([row], dtype=object), body_mass_kg=75.0)


def seconds(exercise):
    return built_in().exercise(exercise).seconds_per_rep


def test_every_row_becomes_the_set_worked_out_by_hand():
    """Two exercises in turn on one day, written after the day that follows; the clock starts anew each day."""
    log = table(
        (TUESDAY, BENCH, 82.5, 4, "failed", NAN, NAN),
        (MONDAY, BENCH, 80.0, 5, "completed", NAN, NAN),
        (MONDAY, SQUAT, 100.0, 8, "stopped", 2.0, 30.0),
        (MONDAY, BENCH, 75.0, 6, "completed", 3.0, 90.0),
    )
    used = read_sets(log, FitSettings(stopped_by_feel=True))
    press, squat = 5 * seconds(BENCH), 8 * seconds(SQUAT)
    first = LoggedSet("r1", 80.0, 5, "completed", NAN, 0.0, 0.0, press)
    second = LoggedSet("r2", 100.0, 8, "felt", 2.0, 0.0, press + 30, press + 30 + squat)
    begins = press + 30 + squat + 90
    third = LoggedSet("r3", 75.0, 6, "stated", 3.0, 30 + squat + 90, begins, begins + 6 * seconds(BENCH))
    last = LoggedSet("r0", 82.5, 4, "failed", NAN, 0.0, 0.0, 4 * seconds(BENCH))
    assert [lift.exercise for lift in used.lifts] == [BENCH, SQUAT]
    assert [[session.date for session in lift.sessions] for lift in used.lifts] == [[MONDAY, TUESDAY], [MONDAY]]
    found = [list(map(str, session.sets)) for lift in used.lifts for session in lift.sessions]
    assert found == [list(map(str, sets)) for sets in ([first, third], [last], [second])]
    assert [one.row for one in used.sets] == ["r1", "r3", "r0", "r2"]
    assert (used.set_count, used.rests_assumed, used.rests_said, len(used.left_out)) == (4, (), "", 0)
    bench = used.lifts[0]
    assert (bench.set_count, [one.row for one in bench.sets]) == (3, ["r1", "r3", "r0"])
    assert bench.first.tolist() == [0, 2, 3]
    assert bench.places == [slice(0, 2), slice(2, 3)]
    told = {
        "load_kg": [80.0, 75.0, 82.5],
        "reps": [5, 6, 4],
        "reserve": [NAN, 3.0, NAN],
        "rest_s": [0.0, 120 + squat, 0.0],
        "start_s": [0.0, begins, 0.0],
        "end_s": [press, begins + 6 * seconds(BENCH), 4 * seconds(BENCH)],
        "usual": [0.0] * 3,
        "day": [0.0] * 3,
    }
    assert set(bench.told) == set(told)
    for name, values in told.items():
        np.testing.assert_array_equal(bench.told[name], values)


def test_a_session_is_known_by_a_digest_of_what_its_rows_say():
    used = read_sets(
        table(
            (MONDAY, BENCH, 80.456, 5, "completed", NAN, 60.0),
            (MONDAY, BENCH, 75.0, 6, "stopped", 2.25, NAN),
            (TUESDAY, BENCH, 75.0, 6, "failed", 0.0, 90.4),
        )
    )
    written = (
        "80.46 5 - 60 completed\n75.00 6 2.2 - stopped",
        "75.00 6 0.0 90 failed",
    )
    digests = [hashlib.sha256(text.encode()).hexdigest()[:12] for text in written]
    sessions = used.lifts[0].sessions
    assert [session.digest for session in sessions] == digests
    assert [session.stamp for session in sessions] == [f"2 sets, {digests[0]}", f"1 set, {digests[1]}"]


@pytest.mark.parametrize(
    ("outcome", "reserve", "ending", "told"),
    [
        ("failed", 3.0, "failed", NAN),
        ("completed", NAN, "completed", NAN),
        ("completed", 2.0, "stated", 2.0),
        ("stopped", None, "completed", NAN),
        ("stopped", 0.0, "felt", 0.0),
        ("stopped", -1.0, "felt", 0.0),
        ("stopped", 9.9, "felt", 9.9),
        # From ten on it says only that the set was easy.
        ("stopped", 10.0, "stated", 10.0),
        ("stopped", 15.0, "stated", 10.0),
    ],
)
@pytest.mark.parametrize("by_feel", [True, False])
def test_how_a_set_ended(outcome, reserve, ending, told, by_feel):
    log = table((MONDAY, BENCH, 80.0, 5, outcome, reserve, 60.0))
    (found,) = read_sets(log, FitSettings(stopped_by_feel=by_feel)).sets
    assert found.ending == ("stated" if ending == "felt" and not by_feel else ending)
    assert found.reserve == pytest.approx(told, nan_ok=True)


LEFT_OUT = {
    "no load": ({"load_kg": None}, "no load"),
    "below 0 kg": ({"load_kg": -0.5}, "a load below 0 kg"),
    "0 kg": ({"load_kg": 0.0}, "no load above 0 kg: only loaded sets are used"),
    "half a kg": ({"load_kg": 0.5}, None),
    "no reps": ({"reps": NAN}, "no reps"),
    "below 0 reps": ({"reps": -1, "outcome": "failed"}, "fewer than no reps"),
    "0 reps failed": ({"reps": 0, "outcome": "failed"}, None),
    "0 reps completed": ({"reps": 0}, "no reps done and none failed"),
    "1 rep completed": ({"reps": 1}, None),
}


@pytest.mark.parametrize(("changes", "reason"), LEFT_OUT.values(), ids=LEFT_OUT.keys())
def test_a_row_is_left_out_for_a_reason_that_is_named(changes, reason):
    used = one(**changes)
    assert used.left_out.to_numpy().tolist() == ([] if reason is None else [[0, BENCH, reason]])
    assert used.set_count == (reason is None)


def test_a_row_that_is_left_out_takes_no_time_and_ends_no_day():
    used = read_sets(
        table(
            (MONDAY, BENCH, 80.0, 5, "completed", NAN, NAN),
            (MONDAY, BENCH, None, 9, "completed", NAN, 500.0),
            (MONDAY, BENCH, 80.0, 5, "completed", NAN, 60.0),
        )
    )
    assert used.left_out.to_numpy().tolist() == [["r1", BENCH, "no load"]]
    assert [one.rest_s for one in used.sets] == [0.0, 60.0]


def test_an_exercise_that_nobody_knows_and_a_day_that_is_not_there_are_named():
    used = read_sets(
        table(
            (MONDAY, "juggling", 80.0, 5, "completed", NAN, 60.0),
            (pd.NaT, BENCH, 80.0, 5, "completed", NAN, 60.0),
        )
    )
    (unknown, undated) = used.left_out.to_dict("records")
    assert (unknown["row"], unknown["exercise"]) == ("r0", "juggling")
    assert "juggling" in unknown["reason"]
    assert undated == {"row": "r1", "exercise": BENCH, "reason": "no date: the session is not known"}


@pytest.mark.parametrize(
    ("written", "load", "counts"),
    # 0.64 of 75 kg is lifted in a push-up: 48 kg, and 27 kg are not.
    [("10", 10.0, 58.0), ("BW", 75.0, 48.0), ("BW + 10", 85.0, 58.0), ("BW - 40", 28.0, 1.0), ("0", 0.0, 48.0)],
)
def test_what_is_done_against_the_body_counts_with_the_part_that_is_lifted(written, load, counts):
    (found,) = one(exercise="push-up", load_kg=load, load_as_written=written).sets
    assert found.load_kg == pytest.approx(counts, abs=1e-9)
    nobody = read_sets(table((MONDAY, "push-up", load, 5, "completed", NAN, 60.0, written)))
    assert nobody.left_out["reason"].tolist() == ["done against body mass, and the lifter file gives none"]


@pytest.mark.parametrize(
    ("taken_off", "reason"), [(27.0, "no load above 0 kg: only loaded sets are used"), (28.0, None)]
)
def test_so_much_help_that_nothing_is_lifted_is_no_set(taken_off, reason):
    used = one(exercise="push-up", load_kg=taken_off, load_as_written="BW - 48")
    assert used.left_out["reason"].tolist() == ([] if reason is None else [reason])


def test_rows_of_several_lifters_are_refused_and_of_one_are_not():
    log = table(*[(MONDAY, BENCH, 80.0, 5, "completed", NAN, 60.0)] * 9)
    assert read_sets(log.assign(lifter=["", None, *["A"] * 7])).set_count == 9
    with pytest.raises(InputError, match="holds sets of 2 lifters: A, B; choose the rows of one"):
        read_sets(log.assign(lifter=["", None, *"AABBABA"]))
    with pytest.raises(InputError, match="holds sets of 8 lifters: A, B, C, D, E, F; choose"):
        read_sets(log.assign(lifter=["", *"HGFEDCBA"]))
    with pytest.raises(InputError, match="has no column exercise, outcome; give the table"):
        read_sets(log.drop(columns=["exercise", "outcome"]))


def logged(row, unsure=LOGGED, rest_s=0.0):
    return LoggedSet(row, 80.0, 5, "completed", NAN, rest_s, unsure=unsure)


def used_of(*lifts, **keys):
    return UsedLog(tuple(lifts), pd.DataFrame(), keys.pop("rests_assumed", ()), **keys)


def test_rests_that_the_log_does_not_give_are_said_with_their_spread():
    """The middle of 90, 100 and 300 s, and of the spreads 0.5, 0.5 (3-4-5) and 0.1: 80 % within exp(1.2816 x 0.5)."""
    wide = RestSpread(0.3, 0.4)
    sets = [logged("a", wide, 100.0), logged("b", wide, 300.0), logged("c", RestSpread(0.1, 0.0), 90.0)]
    sets.append(logged("d", rest_s=700.0))
    used = used_of(LiftLog(BENCH, (LoggedSession(MONDAY, tuple(sets)),)), rests_assumed=("a", "b", "c"))
    assert used.rests_said == ("3 rests are not in the log; about 100 s are taken, 53 to 190 s allowed for.")


# ---- what a lifter file has learned from already ---------------------------------------------------------------------

DAYS = [datetime.date(2026, 3, day) for day in range(1, 11)]
TO_LEARN = "to learn from the log as it is now, fit all of it with the lifter file from before it"
EDITED, MOVED, SKIPPED = "were rows edited?", "was the date corrected?", f"skipped; {TO_LEARN}"


def session(day, digest, sets=1):
    return LoggedSession(DAYS[day], tuple(logged(f"{day}.{number}") for number in range(sets)), digest)


def kept_of(used, learned):
    found = only_new(
        used, {name: {f"{DAYS[day]}": stamp for day, stamp in days.items()} for name, days in learned.items()}
    )
    kept = {lift.exercise: [DAYS.index(one.date) for one in lift.sessions] for lift in found.lifts}
    return kept, [DAYS.index(one.date) for one in found.skipped], list(found.questions), found.rests_assumed


def test_only_days_that_were_not_learned_are_kept():
    """Of day 3 the log now says otherwise; days 1 and 9 lie outside the log, 5 has other exercises, 6 nobody."""
    bench = LiftLog(BENCH, (session(2, "two"), session(3, "three", 2), session(7, "seven")))
    squat = LiftLog(SQUAT, (session(2, "s"), session(5, "s"), session(8, "s")))
    learned = {BENCH: {1: "1 set, a", 2: "1 set, two", 3: "1 set, old", 5: "4 sets, b", 6: "2 sets, c", 9: "1 set, d"}}
    used = used_of(bench, squat, rests_assumed=("2.0", "7.0", "3.1"))
    kept, skipped, questions, assumed = kept_of(used, learned)
    assert kept == {BENCH: [7], SQUAT: [2, 5, 8]}
    assert skipped == [2, 3]
    assert questions == [
        f"{BENCH}, {DAYS[3]}: 1 set learned, and the log now says otherwise (2 sets); {EDITED} They are {SKIPPED}",
        f"{BENCH}, {DAYS[5]}: 4 sets learned, and the log now has none; {EDITED} {TO_LEARN}",
    ]
    assert assumed == ("2.0", "7.0")  # that of the squat on day 2


@pytest.mark.parametrize("learned_on", [2, 8])
def test_sets_moved_to_another_day_are_asked_about(learned_on):
    """The learned day lies at either end of what the log covers, by what it says of another exercise."""
    squat = LiftLog(SQUAT, (session(2, "s"), session(8, "s")))
    bench = LiftLog(BENCH, (session(5, "same"), session(6, "same")))
    kept, skipped, questions, _ = kept_of(used_of(squat, bench), {BENCH: {learned_on: "1 set, same"}})
    # One of the two days is the learned one, moved; the other is new.
    assert (kept, skipped) == ({SQUAT: [2, 8], BENCH: [6]}, [5])
    assert questions == [
        f"{BENCH}, {DAYS[5]}: the same sets were learned as those of {DAYS[learned_on]}; {MOVED} They are {SKIPPED}"
    ]


@pytest.mark.parametrize("learned_on", [1, 9])
def test_the_same_sets_on_a_day_beyond_the_log_are_new(learned_on):
    squat = LiftLog(SQUAT, (session(2, "s"), session(8, "s")))
    bench = LiftLog(BENCH, (session(5, "same"),))
    kept, skipped, questions, _ = kept_of(used_of(squat, bench), {BENCH: {learned_on: "1 set, same"}})
    assert (kept, skipped, questions) == ({SQUAT: [2, 8], BENCH: [5]}, [], [])


def test_an_exercise_that_the_log_has_no_more_is_asked_about_on_days_that_it_has():
    squat = LiftLog(SQUAT, (session(2, "s"), session(8, "s")))
    kept, skipped, questions, _ = kept_of(
        used_of(squat), {BENCH: {2: "3 sets, a", 5: "1 set, b"}, SQUAT: {2: "1 set, s"}}
    )
    assert (kept, skipped) == ({SQUAT: [8]}, [2])
    assert questions == [f"{BENCH}, {DAYS[2]}: 3 sets learned, and the log now has none; {EDITED} {TO_LEARN}"]
    assert kept_of(used_of(), {BENCH: {2: "3 sets, a"}}) == ({}, [], [], ())
