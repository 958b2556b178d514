"""The app: every question as a page over one gym's folder, each step finding what the one before has chosen."""

from __future__ import annotations

import gc
import importlib
import threading
from html import escape
from pathlib import Path
from typing import Any, Final, NamedTuple

import anywidget
import ipywidgets as widgets
import traitlets
from IPython.display import display

from workbench.panels.desk import Desk
from workbench.panels.frame import look, parts_of, row
from workbench.quantities import InputError
from workbench.reference.gym_folder import GymFolder

__all__ = ["PAGES", "App", "Page"]


class Page(NamedTuple):
    """A page of the app: its short title, the question in a coach's words, what shows it, which files it needs."""

    key: str
    title: str
    question: str
    where: str
    needs: tuple[str, ...] = ()


_ALL: Final = ("lifters", "rooms", "blocks")
#: In the order in which a coach comes by.
PAGES: Final = (
    Page("start", "Start", "Who trains, where, which block?", "start:StartPage"),
    Page("guides", "Guides", "Where to begin? Short walks for coach, student and team.", "guides:GuidesPage"),
    Page("lifter", "Lifter", "Who trains, what hurts, what is known?", "editing:LifterPage"),
    Page("room", "Room", "What is there to lift with?", "editing:RoomPage"),
    Page("block", "Block", "What is to be done, week by week?", "editing:BlockPage", _ALL[:2]),
    Page("check", "Check", "Will every rep be made?", "block:BlockPanel", _ALL),
    Page("lift", "One lift", "What can this lifter do at this load?", "exercise:CurvePanel", _ALL[:2]),
    Page("drops", "Drops", "How large should the drop be?", "exercise:DropPanel", _ALL[:2]),
    Page("session", "Session", "Does a session hold together? A sore joint?", "session:SessionPanel", _ALL),
    Page("volume", "Volume", "Are volume and intensity sensible?", "volume:VolumePanel", _ALL),
    Page("compare", "Compare", "Which of these blocks, or of these schemes?", "compare:ComparePanel", _ALL[:2]),
    Page("team", "Team", "Does the block suit everybody?", "team:TeamPanel", _ALL),
    Page("decide", "Decide", "What is the most demanding plan within my limits?", "decide:DecidePanel", _ALL),
    Page("commit", "Commit", "This is the block: keep it, hand out its sheets.", "commit:CommitPanel", _ALL),
    Page("today", "Today", "What now, at the rack?", "today:TodayPanel", ("lifters", "rooms")),
    Page("learn", "Learn", "What did the sheets teach, and what next week?", "log:LogPanel", _ALL),
    Page("review", "Record", "Were the forecasts worth anything?", "review:ReviewPanel", ("lifters",)),
    Page("gym", "Our lifters", "What do our own lifters say?", "gym:GymPanel", ("lifters",)),
)
#: Pages whose buttons go to others.
_OF_APP: Final = {"start", "guides"}
_BY_KEY: Final = {page.key: page for page in PAGES}
#: What is missing where a gym holds no file of a kind, and the page that makes one.
_MISSING: Final = {"lifters": ("a lifter", "lifter"), "rooms": ("a room", "room"), "blocks": ("a block", "block")}


class _Frame(anywidget.AnyWidget):
    """Invisible: gives the app its look and its landmarks, and says when the kernel behind the page is gone.

    Attributes
    ----------
    shown : threading.Event
        Set once a browser shows the app. What is changed while it is still asking for the widgets can be lost to it.
    """

    _esm = Path(__file__).with_name("app.js")
    _css = look("app.css")

    page = traitlets.Unicode().tag(sync=True)

    def __init__(self) -> None:
        super().__init__()
        self.shown = threading.Event()
        self.on_msg(self._answer)
        self.add_class("workbench-frame")

    def _answer(self, _widget: object, _content: object, _buffers: object) -> None:
        self.shown.set()
        self.send("alive")


class App:
    """Start page, navigation, and a page for each question; every page is made when it is first gone to.

    Parameters
    ----------
    folder : str or Path
        The gym's folder; made where it is missing.

    Attributes
    ----------
    desk : Desk
    root : ipywidgets.Box
    pages : dict
        What was made so far, by the key of its page.
    """

    def __init__(self, folder: str | Path = ".") -> None:
        gym = GymFolder(folder)
        gym.make()
        self.desk = Desk(gym, served=gym.path)
        self.pages: dict[str, Any] = {}
        self._frame = _Frame()
        self._buttons = {page.key: self.link(page.key, page.title) for page in PAGES}
        steps = widgets.Box(list(self._buttons.values()))
        steps.add_class("workbench-steps")
        self._heading, self._place, self._onward = widgets.HTML(), widgets.VBox(), widgets.Box()
        place = widgets.VBox([self._heading, self._place, self._onward])
        place.add_class("workbench-place")
        self._onward.add_class("workbench-onward")
        self.root = widgets.Box([self._frame, steps, place])
        self.root.add_class("workbench-app")
        self.go("start")

    def show(self) -> None:
        """Show the app here, and get the rest of the workbench ready meanwhile."""
        shown = self.root._repr_mimebundle_() | {"text/plain": "The app appears here once the page is run."}
        display(shown, raw=True)  # type: ignore[no-untyped-call]
        threading.Thread(target=self._get_ready, daemon=True).start()

    def enter(self, gym: GymFolder) -> None:
        """Go on in another gym: what was made of this one goes."""
        self.desk.enter(gym)
        self.pages = {"start": self.pages["start"]}
        gc.unfreeze()

    def questions(self) -> list[Page]:
        """Return the pages that answer a question."""
        return [page for page in PAGES if page.key != "start"]

    def title_of(self, key: str) -> str:
        """Return the title of a page."""
        return _BY_KEY[key].title

    def link(self, key: str, words: str) -> widgets.Button:
        """Return a button that goes to a page."""
        button = widgets.Button(description=words, layout={"width": "auto"})
        button.on_click(lambda _button: self.go(key))
        return button

    def go(self, key: str) -> None:
        """Go to a page; what it needs and the gym does not have is said in its place."""
        page = _BY_KEY.get(key, PAGES[0])
        for name, button in self._buttons.items():
            (button.add_class if name == key else button.remove_class)("workbench-here")
        self._heading.value = f"<h1>{escape(page.title)}</h1><p>{escape(page.question)}</p>"
        self._frame.page = page.title
        missing = [kind for kind in page.needs if not self.desk.gym.files(kind)]
        self._onward.children = ()
        if missing:
            self._place.children = [self._explain(missing)]
            return
        if key in self.pages:
            self._place.children = [self.pages[key].root]
            look_again(self.pages[key])
        else:
            self._place.children = [widgets.HTML("One moment …")]
            try:
                self.pages[key] = self._make(page)
            except Exception as error:
                self._place.children = [self._explain_failure(page, error)]
                raise
            self._place.children = [self.pages[key].root]
            # It stays: looked through for what can go, it would hold up an answer for a tenth of a second now and then.
            gc.freeze()
        self.desk.remember(page=key)
        self._onward.children = self._way_onward(page)

    def _get_ready(self) -> None:
        """Fill the start page once it is on the screen, and import what it and the other pages will need."""
        for module in ("controls", "next_steps"):
            importlib.import_module(f"workbench.panels.{module}")
        self._frame.shown.wait()
        self.pages["start"].look_again()
        for page in PAGES:
            importlib.import_module(f"workbench.panels.{page.where.partition(':')[0]}")
        importlib.import_module("workbench.simulate.fused").load_soon()

    def _make(self, page: Page) -> Any:
        module, _, name = page.where.partition(":")
        make = getattr(importlib.import_module(f"workbench.panels.{module}"), name)
        return make(self) if page.key in _OF_APP else make(desk=self.desk)

    def _explain(self, missing: list[str]) -> widgets.Widget:
        needed = " and ".join(_MISSING[kind][0] for kind in missing)
        said = widgets.HTML(f"<p>This needs {needed}, and the gym has none yet.</p>")
        first, page = _MISSING[missing[0]]
        ways = row(self.link(page, f"Enter {first}"), self.link("start", "Go to the start page"))
        return widgets.VBox([said, ways])

    def _explain_failure(self, page: Page, error: Exception) -> widgets.Widget:
        """Say why a page is not there, and what to do."""
        known = isinstance(error, InputError)
        why = str(error) if known else f"something went wrong inside the workbench, {type(error).__name__}: {error}"
        said = widgets.HTML(
            f"<p>This page could not be opened: {escape(why)}.</p><p>All that was entered is kept in the gym's folder. "
            "Try again; where that does not help, reload the whole page, or choose other files on the start page.</p>"
        )
        ways = row(self.link(page.key, "Try again"), self.link("start", "Go to the start page"))
        return widgets.VBox([said, ways])

    def _way_onward(self, page: Page) -> list[widgets.Widget]:
        at = PAGES.index(page)
        if page.key == "start" or at + 1 == len(PAGES):
            return []
        return [self.link(PAGES[at + 1].key, f"Next: {PAGES[at + 1].title}")]


def look_again(page: Any) -> None:
    """Let a page take what is open now: itself where it knows how, else each picker of files in it."""
    if hasattr(page, "look_again"):
        page.look_again()
        return
    for part in parts_of(page.root):
        if hasattr(part, "look_again"):
            part.look_again()
