"""Sixty sessions typed while the process behind the page is killed at random moments: no set is lost, none doubled.

The process runs the panel's code and is ended by SIGKILL after a random number of its steps with files (opening,
locking, renaming ...), so between any two of them. What stands for the page does what `today.js` does: it keeps a form
until it hears that it was taken, and after a reload sends it again unless the page that it gets says it is in the log.
"""

from __future__ import annotations

import multiprocessing
import os
import random
import re
import signal
import sys
from html import unescape

import pytest

from workbench.log import read_log
from workbench.panels.desk import Desk
from workbench.panels.today import TodayPanel
from workbench.reference.gym_folder import GymFolder

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(not hasattr(os, "fork"), reason="kills processes that were forked"),
]

SESSIONS = 60
#: Steps with files of opening a session and typing a set or two: a process lives for up to so many.
MOST_STEPS = 250
LIFTERS = ("emre_sandoval", "cato_venn", "asta_lindqvist", "bram_okafor")


def work(pipe, folder, lifter, week, session, steps):
    """Be the process behind the page, until SIGKILL: a form comes in, the page goes out."""
    left = [steps]

    def count(event, _arguments):
        if event == "open" or event.startswith(("os.", "fcntl.")):
            left[0] -= 1
            if left[0] == 0:
                os.kill(os.getpid(), signal.SIGKILL)

    desk = Desk(GymFolder(folder))
    desk.choose("lifters", desk.gym.path / "lifters" / f"{lifter}.toml")
    sys.addaudithook(count)
    panel = TodayPanel(desk, draws=10)
    panel.week.value, panel.session.value = week, session
    panel.form.send = lambda answer: pipe.send((panel.form.html, answer))
    pipe.send((panel.form.html, {}))
    while True:
        panel._typed(panel.form, pipe.recv(), None)


class Page:
    """The page in a browser: shows, keeps a form until it was taken, and comes back after the process was killed."""

    def __init__(self, rng, *place):
        self.rng, self.place = rng, place
        self.killed, self.waiting = 0, None
        self.load()

    def load(self):
        """Load the page anew, from a new process where the old one is gone."""
        context = multiprocessing.get_context("fork")
        while True:
            self.pipe, theirs = context.Pipe()
            self.process = context.Process(target=work, args=(theirs, *self.place, self.rng.randint(1, MOST_STEPS)))
            self.process.start()
            theirs.close()
            try:
                self.html, _ = self.pipe.recv()
                return
            except EOFError:
                self.end()

    def end(self):
        self.process.kill()
        self.process.join()
        self.pipe.close()
        self.killed += 1

    @property
    def entered(self):
        return re.search('data-entered="([^"]*)"', self.html)[1].split()

    def send(self, form):
        """Send a form, and again after every kill, until it was taken."""
        while True:
            try:
                self.pipe.send({"form": form, "number": 1})
                self.html, answer = self.pipe.recv()
                assert answer == {"taken": 1, "refused": ""}
                return
            except (EOFError, BrokenPipeError, ConnectionResetError):
                self.end()
                self.load()
                if form["do"] == "set" and form["entry"] in self.entered:
                    return

    def next_form(self):
        """Return the fields of the next set as offered, or None where nothing is left."""
        found = re.search(r'<form method="post" class="set">.*?</form>', self.html, re.S)
        if found is None:
            return None
        hidden = dict(re.findall(r'type="hidden" name="(\w+)" value="([^"]*)"', found[0]))
        checked = dict(re.findall(r'type="radio" name="(\w+)" value="([^"]*)" checked', found[0]))
        typed = dict(re.findall(r'name="(reps|rest)".*? value="([^"]*)"', found[0]))
        return {name: unescape(value) for name, value in (hidden | checked | typed).items()}


def type_session(page, rng):
    """Type a whole session with misses and undone sets; return what was done, as the log is to have it."""
    done = []
    while (form := page.next_form()) is not None:
        form["reps"] = str(max(1, int(form["reps"]) - rng.choice((0, 0, 0, 1, 2))))
        form["reserve"] = rng.choice(("", "0", "1", "2", "3", "4+"))
        if rng.random() < 0.2:
            form |= {"failed": "yes"}
        page.send(form)
        done.append((form["exercise"], float(form["load"]), int(form["reps"]), "failed" in form))
        if rng.random() < 0.1:
            page.send({"do": "undo", "last": page.entered[-1]})
            done.pop()
        if rng.random() < 0.1:  # a reload without a kill, or the screen slept
            page.end()
            page.load()
    page.end()
    return done


def test_sixty_sessions_killed_at_random_moments_lose_and_double_no_set(tmp_path):
    gym = GymFolder(tmp_path / "gym")
    gym.make()
    gym.add_demo()
    TodayPanel(Desk(gym), draws=10)  # loads and reads, once for all processes, what each of them would
    rng = random.Random(20260105)
    killed, sets = 0, 0
    wanted = {lifter: [] for lifter in LIFTERS}
    places = [(lifter, week, session) for week in (1, 2, 3, 4, 5) for session in (1, 2, 3) for lifter in LIFTERS]
    assert len(places) == SESSIONS
    for lifter, week, session in places:
        page = Page(rng, gym.path, lifter, week, session)
        wanted[lifter] += type_session(page, rng)
        killed += page.killed
        sets = sum(map(len, wanted.values()))
    for lifter, typed in wanted.items():
        (log,) = (path for path in gym.files("logs") if path.stem.startswith(f"{lifter}_winter"))
        reading = read_log(log)
        assert len(reading.quarantine) == 0
        rows = reading.rows
        written = [float(load) for load in rows["load_as_written"]]
        found = zip(rows["exercise"], written, rows["reps"], rows["outcome"] == "failed", strict=True)
        assert [tuple(one) for one in found] == typed
    print(f"{SESSIONS} sessions, {sets} sets, {killed} processes killed")
    assert killed > 3 * SESSIONS
