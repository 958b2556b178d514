"""The app without a browser: what is open goes from page to page, is remembered, and what is next is said."""

from __future__ import annotations

import datetime
import gc
import os
import shutil
import subprocess
import sys

import pytest

from workbench.log.session_log import LogRow, SessionLog, SessionName, log_of
from workbench.panels.app import PAGES, App
from workbench.panels.controls import KeepBlock, block_picker, lifter_picker
from workbench.panels.desk import Desk
from workbench.panels.frame import parts_of
from workbench.panels.next_steps import next_steps
from workbench.prescription.block import read_block
from workbench.publish.commit import list_committed, read_committed
from workbench.quantities import InputError
from workbench.reference.gym_folder import GymFolder
from workbench.reference.last_gym import keep_last_gym, last_gym
from workbench.reference.sources import data_path


@pytest.fixture
def gym(tmp_path):
    folder = GymFolder(tmp_path / "gym")
    folder.make()
    return folder


@pytest.fixture
def demo(gym):
    gym.add_demo()
    return gym


def sentences(gym):
    return [step.sentence for step in next_steps(Desk(gym))]


def said(app):
    return " ".join(str(part.value) for part in parts_of(app.root) if type(part).__name__ == "HTML")


# ---- what is open ---------------------------------------------------------------------------------------------------


def test_what_is_chosen_is_open_in_the_next_panel_and_after_a_restart(demo):
    desk = Desk(demo)
    first = lifter_picker(desk)
    first.choice.value = demo.path / "lifters" / "cato_venn.toml"
    assert lifter_picker(desk).read().name == "Cato Venn"
    assert lifter_picker(Desk(demo)).read().name == "Cato Venn"


def test_the_memory_moves_with_the_folder(demo, tmp_path):
    Desk(demo).choose("lifters", demo.path / "lifters" / "cato_venn.toml")
    moved = GymFolder(shutil.move(demo.path, tmp_path / "elsewhere"))
    assert Desk(moved).chosen("lifters") == moved.path / "lifters" / "cato_venn.toml"


def test_a_chosen_file_that_went_leaves_another_one_open(demo):
    desk = Desk(demo)
    desk.choose("lifters", demo.path / "lifters" / "cato_venn.toml")
    (demo.path / "lifters" / "cato_venn.toml").unlink()
    assert desk.chosen("lifters") == demo.path / "lifters" / "emre_sandoval.toml"
    assert desk.chosen("exercises") == demo.path / "exercises" / "own.toml"


def test_an_empty_gym_has_nothing_open(gym):
    assert Desk(gym).chosen("lifters") is None
    assert lifter_picker(Desk(gym)).value is None


def test_a_file_written_elsewhere_is_another_choice_when_looked_at_again(demo):
    picker, changes = block_picker(Desk(demo)), []
    picker.observe(lambda change: changes.append(change["new"]), "value")
    picker.look_again()
    assert changes == []
    demo.edit(picker.value).write((demo.path / "blocks" / "block.toml").read_text(encoding="utf-8") + "\n# more\n")
    picker.look_again()
    assert changes[-1] == demo.path / "blocks" / "block.toml"


def test_files_that_came_are_listed_when_looked_at_again(demo):
    desk = Desk(demo)
    picker = lifter_picker(desk)
    path = demo.add("lifters", "Zed", "name = 'Zed'\n[lifts.'back squat']\none_rm_kg = 100\n")
    assert path not in [file for _, file in picker.choice.options]
    picker.look_again()
    assert ("Zed", path) in picker.choice.options


def test_two_of_one_name_are_told_apart_by_their_files(demo):
    text = (demo.path / "lifters" / "cato_venn.toml").read_text(encoding="utf-8")
    demo.add("lifters", "Cato Venn", text)
    labels = [label for label, _ in lifter_picker(Desk(demo)).choice.options]
    assert {"Cato Venn (cato_venn.toml)", "Cato Venn (cato_venn_2.toml)"} <= set(labels)


def test_the_demo_beside_a_notebook_is_no_gym_to_write_in():
    desk = Desk()
    assert not desk.is_own
    before = sorted(data_path("demo").rglob("*"))
    desk.choose("lifters", desk.gym.files("lifters")[0])
    assert sorted(data_path("demo").rglob("*")) == before
    assert KeepBlock("keep", desk, lambda: None).layout.display == "none"


def test_links_lead_to_what_is_served_and_nowhere_else(demo, tmp_path):
    desk = Desk(demo, served=demo.path)
    link = desk.link(demo.path / "logs" / "a b&c.csv", "Log <1>")
    assert 'href="/files/logs/a%20b%26c.csv"' in link
    assert "Log &lt;1&gt;</a>" in link
    assert "<a" not in desk.link(tmp_path / "outside.csv", "Log")
    assert "<a" not in Desk(demo).link(demo.path / "logs" / "a.csv", "Log")


def test_a_block_that_is_kept_is_open_from_then_on_and_no_other_is_overwritten(demo):
    desk = Desk(demo)
    block = read_block(demo.path / "blocks" / "block.toml")
    keep = KeepBlock("keep", desk, lambda: block)
    keep.button.click()
    keep.button.click()
    names = [read_block(path).name for path in demo.files("blocks")]
    assert sorted(names) == [block.name, f"{block.name} (2)", f"{block.name} (3)"]
    opened = read_block(desk.chosen("blocks"))
    assert opened.name == f"{block.name} (3)"
    assert opened.sessions == block.sessions


# ---- what is next ---------------------------------------------------------------------------------------------------


def test_an_empty_gym_asks_for_lifter_room_and_block(gym):
    assert [step.page for step in next_steps(Desk(gym))] == ["lifter", "room", "block"]


def test_an_uncommitted_block_is_to_be_checked(demo):
    assert sentences(demo) == ["Winter block, pull and legs is not committed yet: check it, then commit it."]


def test_a_missing_1rm_is_named_with_its_lifter(demo):
    path = demo.path / "lifters" / "emre_sandoval.toml"
    text = path.read_text(encoding="utf-8")
    start = text.index('[lifts."dumbbell curl"]')
    end = text.index('[lifts."bench press"]')
    path.write_text(text[:start] + text[end:], encoding="utf-8")
    assert "No 1RM for dumbbell curl of Emre Sandoval: enter it, or any set remembered." in sentences(demo)


def test_what_a_room_cannot_load_is_named(demo):
    rack = '[[equipment]]\nkind = "dumbbells"\nname = "rack"\nmasses = [10, 12]\n'
    room = demo.add("rooms", "Bare", f'name = "Bare"\nunit = "kg"\n{rack}')
    Desk(demo).choose("rooms", room)
    (said,) = [line for line in sentences(demo) if line.startswith("Bare")]
    assert "barbell bench pull, back squat, lat pulldown, Romanian deadlift" in said
    assert "dumbbell curl" not in said


def test_a_file_that_cannot_be_used_is_a_step_of_its_own(demo):
    (demo.path / "lifters" / "emre_sandoval.toml").write_text("name = 'Emre", encoding="utf-8")
    steps = next_steps(Desk(demo))
    assert (steps[0].page, steps[0].sentence.startswith("This cannot be used: ")) == ("lifter", True)
    assert "emre_sandoval.toml" in steps[0].sentence


def a_log(*days):
    rows = "".join(f"{day},Emre Sandoval,back squat,100,kg,5,completed\n" for day in days)
    return f"date,lifter,exercise,load,unit,reps,outcome\n{rows}"


def test_a_log_that_came_is_said_until_it_was_looked_at(demo):
    path = demo.add("logs", "came back", a_log("2026-02-02"), ".csv")
    assert "came_back.csv came back: see what it taught." in sentences(demo)
    Desk(demo).looked_at(path)
    assert not [line for line in sentences(demo) if "came back" in line]
    path.write_text(a_log("2026-02-02", "2026-02-03"), encoding="utf-8")
    assert "came_back.csv came back: see what it taught." in sentences(demo)


def test_of_many_logs_that_came_the_newest_are_said_and_the_others_counted(demo):
    for number in range(6):
        path = demo.add("logs", f"log {number}", a_log("2026-02-02"), ".csv")
        os.utime(path, (1e9 - number, 1e9 - number))  # log_0 is the newest
    said = [line for line in sentences(demo) if "log_" in line or "nobody has looked" in line]
    assert said == [
        *(f"log_{number}.csv came back: see what it taught." for number in range(4)),
        "2 older logs that nobody has looked at are there too.",
    ]
    Desk(demo).looked_at(path)
    assert "1 older log that nobody has looked at is there too." in sentences(demo)


# ---- the pages ------------------------------------------------------------------------------------------------------


def test_a_page_is_made_when_it_is_gone_to_and_follows_what_others_choose(demo):
    app = App(demo.path)
    assert list(app.pages) == ["start"]
    app.go("lift")
    app.go("drops")
    app.pages["drops"].controls.lifter.choice.value = demo.path / "lifters" / "cato_venn.toml"
    assert "Cato" not in str(app.pages["lift"].controls.lifter.value)
    app.go("lift")
    assert app.pages["lift"].controls.lifter.read().name == "Cato Venn"
    assert set(app.pages) == {"start", "lift", "drops"}


def test_what_a_page_needs_and_the_gym_lacks_is_said_in_its_place(gym):
    app = App(gym.path)
    app.go("check")
    assert "This needs a lifter and a room and a block" in said(app)
    assert "check" not in app.pages


def test_every_question_stands_on_the_start_page_and_in_the_navigation(gym):
    app = App(gym.path)
    words = {part.description for part in parts_of(app.root) if hasattr(part, "description")}
    assert {page.question for page in PAGES[1:]} <= words
    assert {page.title for page in PAGES} <= words


def test_the_first_page_is_there_before_anything_that_works_answers_out_is_loaded(tmp_path):
    code = (
        "import sys; from workbench.panels import App; App(sys.argv[1]); "
        "print([name for name in ('pandas', 'pydantic', 'scipy', 'workbench.simulate', 'workbench.answers') "
        "if name in sys.modules]); "
        # And the check of a block before anything that only a fit needs, which takes as long to load as all the rest.
        "import workbench.answers.block_check; "
        "print([name for name in ('scipy.stats', 'scipy.optimize', 'scipy.interpolate') if name in sys.modules])"
    )
    run = subprocess.run([sys.executable, "-c", code, str(tmp_path)], capture_output=True, text=True, check=True)
    assert run.stdout.split("\n")[:2] == ["[]", "[]"]


def test_the_start_page_is_filled_only_once_a_browser_shows_it(demo, monkeypatch):
    app = App(demo.path)
    before = said(app)
    frame = next(part for part in parts_of(app.root) if hasattr(part, "shown"))
    assert not frame.shown.is_set()
    seen = []
    monkeypatch.setattr(frame.shown, "wait", lambda: seen.append(said(app)))
    app._get_ready()
    assert seen == [before]
    assert "What is next" in said(app)
    frame._handle_custom_msg("there?", [])
    assert frame.shown.is_set()


def test_a_page_that_cannot_be_made_says_why_and_can_be_tried_again(demo, monkeypatch):
    app = App(demo.path)
    for error, words in (
        (InputError("a.toml", "reps", "are <0", "type more"), "a.toml"),
        (ValueError("<b>"), "ValueError: "),
    ):

        def fail(*_args, error=error, **_kwargs):
            raise error

        with monkeypatch.context() as patched:
            patched.setattr("workbench.panels.exercise.CurvePanel.__init__", fail)
            with pytest.raises(type(error)):
                app.go("lift")
        assert "One moment" not in said(app)
        assert "This page could not be opened" in said(app)
        assert words in said(app)
        assert "<b>." not in said(app)
        assert "lift" not in app.pages
        buttons = {part.description: part for part in parts_of(app.root) if hasattr(part, "description")}
        assert "Go to the start page" in buttons
    buttons["Try again"].click()
    assert "could not be opened" not in said(app)
    assert "lift" in app.pages


def test_the_next_start_opens_what_was_opened_last_and_says_so(demo, tmp_path, monkeypatch):
    monkeypatch.setenv("WORKBENCH_HOME", str(tmp_path / "home"))
    start = App(demo.path).pages["start"]
    start.look_again()
    assert last_gym() is None
    assert "Press Open or make this folder" in start.next_start.value
    start.folder.value = str(tmp_path / "another")
    start.do(start.open_folder)
    assert last_gym() == tmp_path / "another"
    assert start.next_start.value == "The next start opens this folder."
    elsewhere = App(demo.path).pages["start"]
    elsewhere.look_again()
    assert elsewhere.next_start.value == f"The next start opens {tmp_path / 'another'}."
    assert elsewhere.gone.value == ""


def test_a_gym_that_is_gone_is_said_until_another_is_opened(demo, tmp_path, monkeypatch):
    monkeypatch.setenv("WORKBENCH_HOME", str(tmp_path / "home"))
    keep_last_gym(tmp_path / "a & b")
    start = App(demo.path).pages["start"]
    start.look_again()
    assert "is gone" in start.gone.value
    assert "a &amp; b" in start.gone.value
    assert "open it at its new place" in start.gone.value
    assert start.next_start.value == ""
    start.do(start.open_folder)
    assert last_gym() == demo.path
    assert start.gone.value == ""


def test_a_home_that_cannot_be_written_is_said_and_the_folder_open_all_the_same(demo, tmp_path, monkeypatch):
    (tmp_path / "home").write_text("", encoding="utf-8")
    monkeypatch.setenv("WORKBENCH_HOME", str(tmp_path / "home"))
    app = App(demo.path)
    start = app.pages["start"]
    start.folder.value = str(tmp_path / "another")
    start.do(start.open_folder)
    assert "This cannot be used" in start.said.value
    assert app.desk.gym.path == tmp_path / "another"


def test_what_python_looks_through_for_garbage_is_not_the_pages_that_are_there(demo):
    app = App(demo.path)
    try:
        app.go("lift")
        assert not any(found is app.pages["lift"].controls for found in gc.get_objects())
        app.enter(demo)
        assert gc.get_freeze_count() == 0  # the pages of another gym can go
    finally:
        gc.unfreeze()


def test_another_gym_takes_the_pages_of_the_one_before_away(demo, tmp_path, monkeypatch):
    monkeypatch.setenv("WORKBENCH_HOME", str(tmp_path / "home"))
    app = App(demo.path)
    app.go("lift")
    app.go("start")
    start = app.pages["start"]
    start.folder.value = str(tmp_path / "another")
    start.do(start.open_folder)
    assert app.desk.gym.path == tmp_path / "another"
    assert list(app.pages) == ["start"]
    assert "This gym is empty" in said(app)
    start.do(start.add_demo)
    assert "files copied in" in start.said.value
    assert (tmp_path / "another" / "blocks" / "block.toml").exists()


def test_a_folder_that_cannot_be_made_is_said(demo, tmp_path):
    (tmp_path / "file").write_text("", encoding="utf-8")
    app = App(demo.path)
    start = app.pages["start"]
    start.folder.value = str(tmp_path / "file" / "below")
    start.do(start.open_folder)
    assert "This cannot be used" in start.said.value
    assert app.desk.gym == demo


def test_a_block_is_committed_with_why_not_and_its_sheets_are_handed_out(demo):
    app = App(demo.path)
    app.go("commit")
    panel = app.pages["commit"]
    panel.draws = 20
    other = demo.add("blocks", "Other", (demo.path / "blocks" / "block.toml").read_text(encoding="utf-8"))
    panel.look_again()
    panel.alternatives.value = [other]
    panel.why_not.children[0].value = "too long"
    panel.look_again()
    assert panel.why_not.children[0].value == "too long"
    panel.others.value = [demo.path / "lifters" / "cato_venn.toml"]
    panel.reason.value = "it fits"
    assert "is not committed yet" in " ".join(sentences(demo))
    panel.commit.click()
    assert panel.trouble.value == ""
    (made,) = list_committed(demo.path / "committed")
    assert [one.why_not for one in read_committed(made).decision.alternatives] == ["too long"]
    assert sentences(demo) == ["Winter block, pull and legs is committed, its sheets are not handed out."]
    panel.sheets.click()
    assert panel.handed.value.count('<a href="/files/committed/') == 4  # for each of two to print, and to fill in
    assert ".xlsx" in panel.handed.value
    assert sentences(demo) == [
        "Winter block, pull and legs is handed out: log its sets at the rack, one by one.",
        "Filled sheets of Winter block, pull and legs: read them in, and plan the week after.",
    ]


def test_sheets_of_what_was_never_committed_are_refused(demo):
    app = App(demo.path)
    app.go("commit")
    app.pages["commit"].sheets.click()
    assert "is not committed yet" in app.pages["commit"].handed.value


def test_a_session_under_way_is_what_is_next_and_its_log_has_not_come_back_yet(demo):
    lifter, block = "Emre Sandoval", read_block(demo.path / "blocks" / "block.toml")
    now = datetime.datetime.now()  # noqa: DTZ005
    name = SessionName(lifter, block.name, 1, 2, "Wednesday", now.date())
    log = SessionLog(log_of(demo, lifter, block.name), name)
    log.add(LogRow(log.next_entry([]), now.time(), "leg press", "1", "100", "kg", 5))
    assert sentences(demo)[0] == "Wednesday of Emre Sandoval is under way: go on with it."
    assert not [said for said in sentences(demo) if "came back" in said]
    written = log.path.read_text(encoding="utf-8-sig")
    log.path.write_text(written.replace(now.date().isoformat(), "2026-01-07"), encoding="utf-8-sig")
    assert not [said for said in sentences(demo) if "under way" in said]
    assert [said for said in sentences(demo) if "came back" in said]
