"""The steps of a panel: what is due is done once, in order; no change of a control is lost."""

import asyncio
import threading

import ipywidgets as widgets
import pytest

from workbench.panels.frame import folded
from workbench.panels.panel import Panel
from workbench.panels.pressed import PressedPanel
from workbench.quantities import InputError

#: Far longer than any step below takes; only a deadlock waits so long.
PATIENCE_S = 120


@pytest.fixture(autouse=True)
def no_rest(monkeypatch):
    monkeypatch.setattr("workbench.panels.panel._REST_S", 0.0)


class Told(Panel):
    """Three steps that write down what they do: files, then what follows from them, then the answer."""

    def __init__(self):
        super().__init__()
        self.file, self.number = widgets.IntText(), widgets.IntText()
        self.done, self.broken = [], False
        self.meanwhile = lambda: None
        self.rows = widgets.HTML()
        self.arrange([self.file, self.number], [self.rows])
        self.step(self.read, self.file, prepares=True)
        self.step(self.answer_it, self.number, after=self.read)
        self.step(self.show_rows, after=self.answer_it)
        self.take_steps()

    def read(self):
        self.number.value = 10 * self.file.value
        self.done.append("read")

    def answer_it(self):
        if self.broken:
            raise InputError(None, "file", "is broken", "mend it")
        number = self.number.value
        self.meanwhile()
        self.done.append(f"answer {number}")
        self.put(self.answer, [f"It is {number}."])

    def show_rows(self):
        self.done.append("rows")
        self.put(self.rows, ["a row"])


def test_a_step_takes_those_that_come_after_it_along_and_its_own_changes_begin_nothing():
    panel = Told()
    assert panel.done == ["read", "answer 0", "rows"]
    panel.done.clear()
    panel.file.value = 3
    assert panel.done == ["read", "answer 30", "rows"]
    panel.done.clear()
    panel.number.value = 4
    assert panel.done == ["answer 4", "rows"]
    assert panel.text() == "It is 4.\n\na row"
    assert panel.done == ["answer 4", "rows"]  # nothing was due


def test_after_an_error_files_are_not_read_again_and_the_coachs_choice_stays():
    panel = Told()
    panel.broken = True
    panel.number.value = 7
    assert "is broken" in panel.trouble.value
    assert panel.rows.value == ""
    assert panel.text() == panel.no_answer
    panel.broken = False
    panel.done.clear()
    panel.number.value = 8
    assert panel.done == ["answer 8", "rows"]
    assert panel.trouble.value == ""
    assert "It is 8." in panel.answer.value


@pytest.mark.parametrize("control", ["file", "number"])
def test_a_change_in_another_thread_while_an_answer_is_worked_out_is_answered_too(control):
    panel = Told()
    working, go_on = threading.Event(), threading.Event()

    def wait():
        working.set()
        assert go_on.wait(PATIENCE_S)

    panel.meanwhile = wait
    moved = getattr(panel, control)
    first = threading.Thread(target=setattr, args=(panel.number, "value", 5))
    second = threading.Thread(target=setattr, args=(moved, "value", 6))
    first.start()
    assert working.wait(PATIENCE_S)
    second.start()
    while moved.value != 6:
        threading.Event().wait(0.01)
    go_on.set()
    first.join(PATIENCE_S)
    second.join(PATIENCE_S)
    assert f"It is {60 if control == 'file' else 6}." in panel.answer.value


class Place:
    """Where a notebook shows what it is given, and what is put in its stead."""

    def __init__(self):
        self.shown = []

    def display(self, data, *, raw, display_id=None):
        assert raw
        self.shown.append(data["text/plain"])
        return self

    update = display


def test_the_text_shown_follows_the_controls_and_goes_with_the_answer(monkeypatch):
    place = Place()
    monkeypatch.setattr("workbench.panels.panel.display", place.display)
    panel = Told()
    panel.number.value = 4
    assert place.shown == []
    panel.show_text()
    panel.number.value = 5
    panel.broken = True
    panel.number.value = 6
    panel.broken = False
    panel.number.value = 7
    assert [text.partition("\n")[0] for text in dict.fromkeys(place.shown)] == [
        "It is 4.",
        "It is 5.",
        panel.no_answer,
        "It is 7.",
    ]
    assert place.shown[-1] == panel.text() == "It is 7.\n\na row"


class Pressed(PressedPanel):
    """Works a number out when a button is pressed."""

    press, doing = "Press <b>Go</b>.", "work"

    def __init__(self):
        self.number, self.go = widgets.IntText(), widgets.Button()
        super().__init__(self.go, draws=20)
        self.arrange([self.number, self.go, self.stop], [self.bar])
        self.watch(self.number)

    def work_out(self):
        return self.number.value

    def show_answer(self):
        self.put(self.answer, [f"It is {self.last}."])


def test_the_text_of_a_pressed_panel_waits_for_the_press(monkeypatch):
    place = Place()
    monkeypatch.setattr("workbench.panels.panel.display", place.display)
    panel = Pressed()
    panel.show_text()
    panel.number.value = 5
    panel.go.click()
    assert list(dict.fromkeys(place.shown)) == ["It is 0.", panel.no_answer, "It is 5."]


class Folded(Panel):
    """A number, and below it two parts that a click opens; every message to the page is kept."""

    def __init__(self):
        super().__init__()
        self.number, self.rows, self.more = widgets.IntText(), widgets.HTML(), widgets.HTML()
        self.done = []
        self.fold, other = folded("rows", self.rows), folded("more", self.more)
        self.arrange([self.number], [self.fold, other])
        self.step(self.answer_it, self.number)
        self.step(self.show_rows, after=self.answer_it, within=self.fold)
        self.step(self.show_more, after=self.answer_it, within=other, later=True)

    def answer_it(self):
        self.done.append("answer")
        self.put(self.answer, [f"It is {self.number.value}."])

    def show_rows(self):
        self.done.append("rows")
        self.put(self.rows, [f"row {self.number.value}"])

    def show_more(self):
        self.done.append("more")
        self.put(self.more, [f"more {self.number.value}"])


async def at_rest(panel):
    while panel._waiting is not None:
        await asyncio.sleep(0)


def test_what_lies_in_a_closed_part_is_made_when_it_is_opened_and_nothing_of_another_choice_is_seen_there():
    async def by_hand():
        panel = Folded()
        panel.take_steps(at_once=True)
        assert panel.done == ["answer", "rows", "more"]
        panel.done.clear()
        panel.number.value = 3
        await at_rest(panel)
        assert panel.done == ["answer"]
        assert panel.rows.value == panel.more.value == ""
        panel.fold.selected_index = 0
        await at_rest(panel)
        assert panel.done == ["answer", "rows"]
        assert "row 3" in panel.rows.value
        panel.number.value = 4
        await at_rest(panel)
        assert panel.done == ["answer", "rows", "answer", "rows"]
        panel.fold.selected_index = None
        panel.number.value = 5
        await at_rest(panel)
        assert panel.rows.value == ""
        assert panel.text() == "It is 5.\n\nrow 5\n\nmore 5"  # a text has all of it

    asyncio.run(by_hand())


def test_what_may_come_later_waits_until_the_controls_rest_and_then_comes_once(monkeypatch):
    def rest(seconds):
        monkeypatch.setattr("workbench.panels.panel._REST_S", seconds)

    class Dragged(Folded):
        def __init__(self):
            super().__init__()
            for word in ("words", "tables"):
                self.step(lambda word=word: self.done.append(word), after=self.answer_it, later=True)

    async def change(panel, number):
        panel.done.clear()
        changed = asyncio.get_running_loop().time()
        panel.number.value = number
        while not panel.done:
            await asyncio.sleep(0)
        return changed

    async def by_hand():
        panel = Dragged()
        panel.take_steps(at_once=True)
        rest(3600.0)
        for number in (1, 2, 3):
            changed = await change(panel, number)
            assert panel.done == ["answer"]
            assert f"It is {number}." in panel.answer.value
            # From the change on, not from when it was answered.
            assert changed + 3600.0 <= panel._waiting.when() < asyncio.get_running_loop().time() + 3600.0
        panel._waiting.cancel()
        panel._take_steps_that_wait()
        assert panel.done == ["answer", "words"]
        rest(0.0)
        await change(panel, 4)
        await at_rest(panel)
        assert panel.done == ["answer", "words", "tables"]

    asyncio.run(by_hand())


def test_of_several_changes_that_wait_only_the_last_is_answered():
    async def by_hand():
        panel = Folded()
        panel.take_steps()
        panel.done.clear()
        for number in range(1, 30):
            panel.number.value = number
        await at_rest(panel)
        assert panel.done == ["answer"]
        assert "It is 29." in panel.answer.value

    asyncio.run(by_hand())
