"""Today's page: what is typed is in the log at once and once; the rest is that of `workbench.today`; undo is undo."""

from __future__ import annotations

import datetime
import re
from html import unescape

import pytest

import workbench
from workbench.log import read_log
from workbench.panels.desk import Desk
from workbench.panels.session_today import SessionToday
from workbench.panels.today import TodayPanel
from workbench.panels.today_form import _clock, form_html
from workbench.panels.today_form import _said as next_said
from workbench.prescription.block import read_block
from workbench.quantities import InputError
from workbench.reference.gym_folder import GymFolder
from workbench.reference.sources import data_path

DRAWS = 50
NOON = datetime.datetime(2026, 1, 5, 12, 0, 0)  # noqa: DTZ001 (the clock of the place)
ROOM = workbench.read_room(data_path("demo", "rooms", "boathouse_hall.toml"))
LIFTER = workbench.read_lifter(data_path("demo", "lifters", "emre_sandoval.toml"), exercises=ROOM.catalogue)
BLOCK = read_block(data_path("demo", "block.toml"))
PULL, SQUAT = "barbell bench pull", "back squat"


class Clock:
    """A clock that is set by hand."""

    def __init__(self):
        self.now = NOON

    def __call__(self):
        return self.now


@pytest.fixture
def clock():
    return Clock()


@pytest.fixture
def gym(tmp_path):
    folder = GymFolder(tmp_path)
    folder.make()
    return folder


def opened(gym, clock, number=1, **more):
    """Session 1: pull 5 sets, squat 1 and 3, pulldown 1. Session 2: 4 and 3 sets, 2 rows with 2 drops each, 3 curls."""
    return SessionToday(gym, BLOCK, LIFTER, ROOM, week=1, session=number, now=clock, draws=DRAWS, **more)


def typed(session, **fields):
    """Type the next set as the page offers it, but for some fields."""
    rows = session.rows()
    row = session.answer(rows).sets.iloc[0]
    hand_kg = (row["load_kg"] - row["body_kg"]) / row["hands"]
    asked = {"exercise": row["exercise"], "load": f"{hand_kg:g}", "reps": f"{row['reps_low']:g}", "reserve": ""}
    form = {"do": "set", "entry": session.log.next_entry(rows), **asked, **fields}
    session.take(form)
    return form


def test_the_rest_is_that_of_the_question(gym, clock):
    session = opened(gym, clock)
    typed(session, reserve="2")
    typed(session, reps="5", failed="yes", rest="2:00")
    typed(session, exercise=SQUAT, load="98.5", reps="3", reserve="4+")
    done = [
        workbench.SetDone(PULL, 58.5, 6, reserve=2.0),
        workbench.SetDone(PULL, 58.5, 5, failed=True, rest_s=120.0),
        workbench.SetDone(SQUAT, 98.5, 3),
    ]
    asked = workbench.today(BLOCK, LIFTER, ROOM, done, session=1, week=1, draws=DRAWS)
    answer = session.answer(session.rows())
    assert answer.sets.equals(asked.sets)
    assert answer.form.equals(asked.form)
    assert answer.effective_draws == asked.effective_draws


def test_what_is_typed_is_read_by_the_reader_of_logs_drops_with_their_set(gym, clock):
    session = opened(gym, clock, number=2)
    for _ in range(16):
        typed(session)
    rows = read_log(session.log.path).rows
    assert len(rows) == 16
    row = rows[rows["exercise"] == "seated cable row"]
    assert list(row["set_number"]) == [1, 1, 1, 2, 2, 2]
    drops = ["", "drop 1 of set 1", "drop 2 of set 1", "", "drop 1 of set 2", "drop 2 of set 2"]
    assert [notes.partition(";")[0] for notes in row["reading_notes"]] == drops
    # The demo's curl is done with two dumbbells; by hand in the log, both in what is read.
    curl = rows[rows["exercise"] == "dumbbell curl"]
    assert len(curl) == 3
    assert all(float(written) * 2 == kg for written, kg in zip(curl["load_as_written"], curl["load_kg"], strict=True))
    assert session.answer(session.rows()).sets.empty
    assert "Nothing is left to do" in form_html(session)


def test_a_form_sent_twice_is_one_set_and_undo_takes_back_one(gym, clock):
    session = opened(gym, clock)
    first = typed(session)
    session.take(first)
    second = typed(session)
    session.take(first)
    assert [row.entry for row in session.rows()] == [first["entry"], second["entry"]]
    undo = {"do": "undo", "entry": session.log.next_entry(session.rows()), "last": second["entry"]}
    session.take(undo)
    session.take(undo)
    assert [row.entry for row in session.rows()] == [first["entry"]]
    assert session.answer(session.rows()).sets.iloc[0]["set"] == "2"


def test_another_window_and_a_reload_go_on_where_it_was(gym, clock):
    session = opened(gym, clock)
    typed(session, reserve="1")
    other = opened(gym, clock)
    assert form_html(other) == form_html(session)
    typed(other, reserve="0")
    assert form_html(session) == form_html(other)


def test_a_session_over_midnight_goes_on_and_the_next_day_begins_anew(gym, clock):
    clock.now = NOON.replace(hour=23, minute=50)
    session = opened(gym, clock)
    typed(session)
    clock.now += datetime.timedelta(minutes=20)
    typed(session)
    assert len(opened(gym, clock).rows()) == len(session.rows()) == 2
    assert set(read_log(session.log.path).rows["date"].dt.date) == {NOON.date()}
    clock.now += datetime.timedelta(hours=20)
    assert session.rows() == []


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"reps": "many"}, "is not a number"),
        ({"reps": "2.5"}, "is not whole"),
        ({"reps": "201"}, "out of range"),
        ({"reps": "0"}, "no rep made"),
        ({"load": "heavy"}, "is not a mass"),
        ({"load": "0"}, "is 0"),
        ({"other": "1e9"}, "is not a mass"),
        ({"reserve": "7"}, "none of those offered"),
        ({"exercise": "leg press"}, "is not in this session"),
        ({"exercise": "<b>"}, "<b>"),
        ({"entry": "000000000000"}, "typed meanwhile"),
        ({"do": "rm"}, "something unknown"),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_is_written(gym, clock, wrong, said):
    session = opened(gym, clock)
    with pytest.raises(InputError, match=said):
        typed(session, **wrong)
    assert session.rows() == []


def test_a_rest_that_cannot_be_read_is_refused_and_none_is_needed(gym, clock):
    session = opened(gym, clock)
    typed(session, rest="90")
    with pytest.raises(InputError, match="seconds or"):
        typed(session, rest="2")
    typed(session, rest="")
    typed(session, rest="1:30")
    # Before the first set of an exercise there is no rest of its own.
    assert [row.rest_s for row in session.rows()] == [None, None, 90.0]


@pytest.mark.parametrize(
    ("between", "rest_s"),
    [
        # Six reps of 2.5 s, as the catalogue has the bench pull, are no rest: 150 - 15.
        ("150", 135.0),
        ("35.2", 20.0),
        ("1815", 1800.0),
        # Sets typed one after the other, or long after; a clock set back; a device that saw no press.
        *((unknown, None) for unknown in ("34.9", "1816", "-40", "nan", "soon", "")),
    ],
)
def test_a_rest_is_what_was_measured_between_two_presses_and_never_the_plan_s(gym, clock, between, rest_s):
    session = opened(gym, clock)
    assert ROOM.catalogue.exercise(PULL).seconds_per_rep == 2.5
    typed(session, between="150")  # the first of its exercise has no rest of its own
    typed(session, between=between)
    typed(session, between=between, rest="1:30")
    assert [row.rest_s for row in session.rows()] == [None, rest_s, 90.0]
    rest = re.search(r'<input type="text" name="rest"[^>]*>', form_html(session))
    assert 'value=""' in rest[0]
    assert "planned 1:30" in rest[0]


def test_before_a_drop_any_short_pause_is_believed_and_one_that_is_not_known_is_no_usual_rest(gym, clock):
    session = opened(gym, clock, number=2)
    row = "seated cable row"
    typed(session, exercise=row, reps="12")
    typed(session, exercise=row, reps="8")
    typed(session, exercise=row, reps="8", between="40")
    rows = read_log(session.log.path).rows
    assert list(rows["reading_notes"].str.contains("the pause before a drop, assumed 15 s")) == [False, True, False]
    # Eight reps of 3 s are 24 of the 40 s.
    assert list(rows["rest_s"][1:]) == [15.0, 16.0]


def test_a_load_may_be_typed_in_another_unit_and_of_one_hand(gym, clock):
    session = opened(gym, clock, number=2)
    typed(session, exercise="dumbbell curl", other="2 x 12,5", reps="8")
    typed(session, exercise="dumbbell curl", other="30 lb", reps="8")
    rows = read_log(session.log.path).rows
    # 2 x 12.5 kg, and 2 x 30 lb = 60 * 0.45359237 kg.
    assert list(rows["load_kg"]) == pytest.approx([25.0, 27.2155422], abs=1e-9)


def test_a_skipped_exercise_has_no_sets_to_come_and_undo_brings_it_back(gym, clock):
    session = opened(gym, clock)
    typed(session, do="skip", exercise=SQUAT)
    assert set(session.answer(session.rows()).sets["exercise"]) == {PULL, "lat pulldown"}
    assert f"Take back: {SQUAT}: skipped" in form_html(session)
    session.take({"do": "undo", "last": session.rows()[-1].entry})
    assert SQUAT in set(session.answer(session.rows()).sets["exercise"])


def test_an_exercise_may_be_done_before_the_others(gym, clock):
    session = opened(gym, clock)
    typed(session)
    typed(session, do="first", exercise="lat pulldown")
    sets = session.answer(session.rows()).sets
    assert [*sets["exercise"]][:2] == ["lat pulldown", PULL]
    assert len(sets) == 9


def test_an_exchange_is_offered_with_a_known_load_and_done_in_place(gym, clock):
    session = opened(gym, clock)
    typed(session, do="offer", exercise=SQUAT)
    assert session.offered_for == SQUAT
    assert session.offered
    assert "not all load on the joint" in form_html(session)
    other = session.offered[0]
    form = typed(session, do="exchange", exercise=SQUAT, instead=other)
    session.take(form)  # twice is once
    assert len(session.rows()) == 1
    sets = session.answer(session.rows()).sets
    assert SQUAT not in set(sets["exercise"])
    assert (sets["exercise"] == other).sum() == 4
    load = float(sets[sets["exercise"] == other]["load_kg"].iloc[0])
    typed(session, exercise=other, load=f"{load:g}", reps="3")
    assert session.rows()[-1].note == f"in place of {SQUAT}"
    with pytest.raises(InputError, match="has sets done already"):
        typed(session, do="offer", exercise=other)


def test_what_hurts_ends_there_and_is_seen_by_a_professional(gym, clock):
    session = opened(gym, clock)
    typed(session, reps="3")
    assert f"{PULL} hurts: leave out the rest of it" in form_html(session)
    assert "see a licensed physician" not in form_html(session)
    form = typed(session, do="hurts", exercise=PULL)
    session.take(form)  # twice is once
    assert set(session.answer(session.rows()).sets["exercise"]) == {SQUAT, "lat pulldown"}
    assert [(row.reps, row.failed, row.note) for row in session.rows()] == [
        (3, False, ""),
        (None, False, "it hurt: the rest left out"),
    ]
    assert "see a licensed physician" in form_html(session)
    # What was ended for pain is no sign of weakness: the log's reader has a set that was completed, and no other.
    read = read_log(session.log.path).rows
    assert read.loc[read["reps"].notna(), ["reps", "outcome"]].to_numpy().tolist() == [[3, "completed"]]
    session.take({"do": "undo", "last": session.rows()[-1].entry})
    assert PULL in set(session.answer(session.rows()).sets["exercise"])
    assert "see a licensed physician" not in form_html(session)


def test_what_the_lifter_file_leaves_out_is_said_beside_it_while_it_is_to_come(gym, clock):
    sore = LIFTER.model_copy(update={"avoid_positions": ["deep knee flexion"]})
    session = SessionToday(gym, BLOCK, sore, ROOM, week=1, session=1, now=clock, draws=DRAWS)
    said = f"{SQUAT}: the lifter file leaves it out (joint position left out: deep knee flexion)"
    assert said in session.answer(session.rows()).notes
    assert f"<b>{said}.</b>" not in form_html(session)  # the pull is next
    typed(session, do="first", exercise=SQUAT)
    assert f"<b>{said}.</b> Skip it or exchange it below." in form_html(session)
    typed(session, do="skip", exercise=SQUAT)
    assert said not in form_html(session)


def test_loads_in_kg_are_not_taken_over_to_another_exercise(gym, clock):
    block = workbench.change(BLOCK, workbench.Where(1, SQUAT, 1), load_as={"kg": 100})
    session = SessionToday(gym, block, LIFTER, ROOM, week=1, session=1, now=clock, draws=DRAWS)
    with pytest.raises(InputError, match="written in kg or lb"):
        typed(session, do="exchange", exercise=SQUAT, instead="leg press")
    assert session.rows() == []


def test_what_can_go_is_said_for_the_minutes_left(gym, clock):
    session = opened(gym, clock)
    typed(session)
    left = session.opened(session.rows()).seconds_left([workbench.SetDone(PULL, 58.5, 6)]) / 60.0
    typed(session, do="save", minutes=f"{left + 1:.0f}")
    assert "nothing has to go" in session.advice[0]
    typed(session, do="save", minutes=f"{left - 6:.2f}")
    assert "6 more than there are" in session.advice[0]
    assert session.advice[1].startswith("Leave out ")
    typed(session)
    assert session.advice == []  # said of another state


def test_one_set_more_than_planned_counts_on(gym, clock):
    session = opened(gym, clock)
    for _ in range(10):
        typed(session)
    session.take(
        {
            "do": "set",
            "entry": session.log.next_entry(session.rows()),
            "exercise": "lat pulldown",
            "load": "60",
            "reps": "8",
        }
    )
    assert session.rows()[-1].label == "2"


def test_markup_in_names_and_in_what_was_typed_is_no_markup(gym, clock):
    bad = "<script>alert(1)</script>"
    lifter = LIFTER.model_copy(update={"name": bad})
    session = SessionToday(gym, BLOCK, lifter, ROOM, week=1, session=1, now=clock, draws=DRAWS)
    html = form_html(session, f"Not taken: {bad}", secret='"><script>')
    assert "<script>" not in html
    assert bad in unescape(html)


# ---- what is said of the next set -----------------------------------------------------------------------------------


LEFT = "2 (0 to 5) left after this set."


def row_of(**more):
    """A set of 6 at 60 kg, as `Today.sets` has it, that is likely enough as planned."""
    ends = {"reserve_p10": 0.4, "reserve_p50": 2.9, "reserve_p90": 5.0, "reps_at_limit": 7.0, "set": "2"}
    loads = {"load_kg": 60.0, "today_kg": 60.0, "body_kg": 0.0, "unit": "kg", "hands": 1}
    reps = {"reps_low": 6.0, "reps_high": 6.0, "chance": 0.9, "chance_today": 0.9}
    return {**ends, **loads, **reps, **more}


@pytest.mark.parametrize(
    ("row", "others", "said"),
    [
        (row_of(), [], ["Chance of 6 reps: 90 %, 2 (0 to 5) left expected."]),
        (
            row_of(reps_low=1.0, reps_high=float("inf"), reserve_p10=8.0, reserve_p50=10.0, reserve_p90=13.0),
            [],
            ["As many as can be made in good form: 10 reps (8 to 13) expected."],
        ),
        (
            row_of(today_kg=55.0, chance_today=0.97),
            [row_of(set="4", chance=0.7, chance_today=0.88)],
            [
                "Chance of 6 reps at 60 kg: 90 % now, 70 % in set 4.",
                f"55 kg (20 bar) keeps your 85 % in every set: chance 97 % now, 88 % in set 4; {LEFT}",
            ],
        ),
        (
            row_of(chance=0.5, today_kg=45.0, chance_today=0.7, reps_at_limit=1.0),
            [],
            [
                "Chance of 6 reps at 60 kg: 50 %.",
                f"45 kg (20 bar) is the lightest allowed: chance 70 %; {LEFT}",
                "To keep 85 %, end these sets here.",
                "1 rep at 60 kg would keep 85 %.",
            ],
        ),
        (
            row_of(chance=0.5, today_kg=45.0, chance_today=0.9, reps_at_limit=3.0),
            [row_of(set="3", chance=0.4, chance_today=0.6), row_of(set="4", chance=0.3, chance_today=0.4)],
            [
                "Chance of 6 reps at 60 kg: 50 % now, 30 % in set 4.",
                f"45 kg (20 bar) is the lightest allowed: chance 90 % now, 40 % in set 4; {LEFT}",
                "To keep 85 %, end these sets before set 3.",
                "3 reps at 60 kg would keep 85 %.",
            ],
        ),
        (
            row_of(reps_low=1.0, chance=0.5, chance_today=0.5, reps_at_limit=0.0),
            [],
            ["Chance of 1 rep at 60 kg: 50 %.", "2 (0 to 5) left expected.", "No rep at 60 kg is sure."],
        ),
        (
            row_of(today_kg=62.5, chance=0.99, chance_today=0.95),
            [],
            [
                "Chance of 6 reps at 60 kg: 99 %.",
                f"62.5 kg (20 bar) is what the coach allows today: chance 95 %; {LEFT}",
            ],
        ),
        (
            row_of(today_kg=57.5, chance=0.9, chance_today=0.95),
            [],
            [
                "Chance of 6 reps at 60 kg: 90 %.",
                f"57.5 kg (20 bar) leaves the reps asked for: chance 95 %; {LEFT}",
            ],
        ),
    ],
)
def test_what_is_said_of_the_next_set(row, others, said):
    assert next_said(row, [row, *others], "20 bar", 0.85) == said


def headline(session):
    return re.search(r'class="asked"><b>([^<]*)</b>', form_html(session))[1]


def offered(session):
    """Return the loads offered for the next set, and the one that is taken unless another is chosen."""
    html = form_html(session)
    return (
        re.findall(r'name="load" value="([^"]+)"', html),
        re.findall(r'name="load" value="([^"]+)" checked', html),
    )


def test_after_a_miss_the_load_that_is_asked_for_is_the_lighter_one(gym, clock):
    session = opened(gym, clock)
    assert headline(session) == "58.5 kg"
    typed(session)
    typed(session, reps="3", failed="yes")
    row = session.answer(session.rows()).sets.iloc[0]
    assert row["chance"] < 0.85
    assert row["today_kg"] < row["load_kg"] == 58.5
    loads, taken = offered(session)
    assert loads == ["58.5", f"{row['today_kg']:g}"]
    assert taken == [loads[1]]
    assert headline(session) == f"{row['today_kg']:g} kg"


def test_a_plan_that_keeps_the_limit_in_this_set_stays_the_load_asked_for(gym, clock):
    session = opened(gym, clock, limit=0.95)
    row = session.answer([]).sets.iloc[0]
    assert row["today_kg"] < row["load_kg"]  # the last set of the group would not keep it
    assert row["chance"] > 0.95
    assert offered(session)[1] == ["58.5"]
    assert headline(session) == "58.5 kg"


@pytest.mark.parametrize(
    ("number", "name", "twice", "more"), [(1, PULL, "180", "180.5"), (2, "dumbbell curl", "40", "41")]
)
def test_a_load_above_twice_the_one_rm_is_a_slip_of_the_finger(gym, clock, number, name, twice, more):
    # Emre Sandoval's 1RM in the bench pull is 90 kg, and 20 kg in each hand in the curl.
    session = opened(gym, clock, number=number)
    with pytest.raises(InputError, match="more than 2 times the lifter's 1RM"):
        typed(session, exercise=name, other=more, reps="1")
    assert session.rows() == []
    typed(session, exercise=name, other=twice, reps="1")
    assert len(session.rows()) == 1


def test_what_was_asked_for_is_answered_where_it_was_asked(gym, clock):
    session = opened(gym, clock)
    html = form_html(session)
    assert '<details id="else"><' in html
    assert '<details id="time"><' in html
    typed(session, do="save", minutes="5")
    _, _, time = form_html(session).partition('<details id="time" open>')
    assert session.advice[0] in time.partition("</details>")[0]
    typed(session, do="offer", exercise=SQUAT)
    _, _, other = form_html(session).partition('<details id="else" open>')
    assert f"In place of {SQUAT}" in other.partition("</details>")[0]


@pytest.mark.parametrize(("seconds", "clock"), [(0, "0:00"), (59.6, "1:00"), (90, "1:30"), (605, "10:05")])
def test_a_rest_is_said_as_a_clock(seconds, clock):
    assert _clock(seconds) == clock


# ---- the panel ------------------------------------------------------------------------------------------------------


@pytest.fixture
def panel(gym):
    gym.add_demo()
    made = TodayPanel(Desk(gym), draws=DRAWS)
    made.sent = []
    made.form.send = made.sent.append
    return made


def form_of(panel, **fields):
    html = panel.form.html
    entry = re.search(r'data-entry="(\w+)"', html)[1]
    load = re.search(r'name="load" value="([^"]+)"', html)[1]
    return {"do": "set", "entry": entry, "exercise": PULL, "load": load, "reps": "6", "reserve": "2", **fields}


def test_a_message_of_the_page_is_a_set_and_is_answered(panel):
    form = form_of(panel)
    for number in (1, 2):  # sent again, as after a dropped connection
        panel._typed(panel.form, {"form": form, "number": number}, None)
    assert [answer["taken"] for answer in panel.sent] == [1, 2]
    assert len(panel.last.rows()) == 1
    words = re.sub(r"<[^>]*>", "", panel.form.html)
    assert "set 2 of 5" in words
    # 58.5 kg: a bar of 20 with collars of 5, and (58.5 - 25) / 2 = 16.75 a side.
    assert "58.5 kg × 6 20 bar + 5 collars, per side 15 + 1.25 + 0.5" in words
    assert f'data-entered="{form["entry"]}"' in panel.form.html
    panel._typed(panel.form, {"form": form_of(panel, reps="x"), "number": 3}, None)
    assert "Not taken" in panel.form.html
    assert len(panel.last.rows()) == 1
    panel._typed(panel.form, {"form": "nonsense"}, None)
    panel._typed(panel.form, {}, None)
    assert len(panel.sent) == 3


def test_what_cannot_be_used_takes_the_page_away_and_it_comes_back(panel, gym):
    path = panel.lifter.value
    before = path.read_text(encoding="utf-8")
    path.write_text("name = 1", encoding="utf-8")
    panel.look_again()
    assert panel.form.html == ""
    assert "cannot be used" in panel.trouble.value
    path.write_text(before, encoding="utf-8")
    panel.look_again()
    assert "set 1 of 5" in re.sub(r"<[^>]*>", "", panel.form.html)
    assert panel.trouble.value == ""


def test_week_session_and_limit_are_chosen(panel):
    assert (panel.week.value, panel.session.value) == (1, 1)
    panel.week.value, panel.session.value = 3, 2
    assert panel.last.week == 3
    assert "Romanian deadlift" in panel.form.html
    panel.limit.value = 60.0
    assert panel.last.answer([]).limit == pytest.approx(0.6)


def test_the_block_that_is_open_on_the_other_pages_is_taken_and_stays_open(panel, gym):
    other = gym.add("blocks", "another", (gym.path / "blocks" / "block.toml").read_text(encoding="utf-8"))
    desk = panel._desk
    assert sorted([other, panel.block.value])[0] == other  # it stands first in the list
    before = panel.block.value
    panel.look_again()
    assert panel.block.value == before == desk.chosen("blocks")
    desk.choose("blocks", other)
    panel.look_again()
    assert panel.block.value == other
    panel.block.value = before
    assert desk.chosen("blocks") == before


@pytest.mark.slow
def test_the_newest_committed_block_can_be_chosen_and_its_log_is_that_of_the_block(panel, gym):
    workbench.commit(BLOCK, [LIFTER], ROOM, "to see", folder=gym.path / "committed", draws=10)
    panel.look_again()
    (committed,) = [path for words, path in panel.block.options if words.startswith("committed: ")]
    panel._typed(panel.form, {"form": form_of(panel), "number": 1}, None)
    panel.block.value = committed
    assert len(panel.last.rows()) == 1
    assert (panel.week.value, panel.session.value) == (1, 1)  # under way
