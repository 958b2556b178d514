"""The start page: who trains, where, which block, what is next, the questions, and the gym's folder."""

from __future__ import annotations

import datetime
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Final

import ipywidgets as widgets

from workbench.panels.frame import NameControls, listed, quiet, row
from workbench.quantities import InputError
from workbench.reference.gym_folder import GymFolder
from workbench.reference.last_gym import GONE_REMEDY, keep_last_gym, last_gym

if TYPE_CHECKING:
    from collections.abc import Callable

    from workbench.panels.app import App
    from workbench.panels.controls import BlockFiles
    from workbench.reference.copies import Copied

__all__ = ["StartPage"]

_EMPTY = (
    "<p>This gym is empty. To answer anything, the workbench needs a <b>lifter</b> (who trains, and what is known of "
    "the lifts), a <b>room</b> (what there is to lift with) and a <b>block</b> (what is to be done, week by week). "
    "Enter your own, or look around first in the gym of an invented club; it can be taken out again.</p>"
)


#: Rows of the table of who trains; a page that one scrolls through is not read.
_MOST_TRAINING: Final = 16
_ADD_DEMO, _REMOVE_DEMO = "Copy the invented gym in", "Take the invented gym out"


class StartPage:
    """Who trains, where, which block; what is next; the questions in a coach's words; the gym's folder.

    Parameters
    ----------
    app : App
        Whose pages the buttons go to.

    Attributes
    ----------
    root : ipywidgets.VBox
    folder : ipywidgets.Text
        Path of the gym's folder.
    gone, next_start : ipywidgets.HTML
        That the folder opened last is gone, with the remedy; which one the next start opens.
    """

    def __init__(self, app: App) -> None:
        self._app = app
        self._files: BlockFiles | None = None
        self.folder = widgets.Text(description="folder", continuous_update=False, layout={"width": "min(560px, 98%)"})
        opening = widgets.Button(description="Open or make this folder")
        self._add, self._remove = widgets.Button(description=_ADD_DEMO), widgets.Button(description=_REMOVE_DEMO)
        self.said, self.gone, self.next_start = widgets.HTML(), widgets.HTML(), quiet()
        for line in (self.said, self.gone):
            line.add_class("workbench-trouble")
        self._chosen, self._next = widgets.Box([widgets.HTML("Looking into the gym …")]), widgets.VBox()
        self._chosen.add_class("workbench-chosen")
        self._next.add_class("workbench-next")
        questions = widgets.Box([app.link(page.key, page.question) for page in app.questions()])
        questions.add_class("workbench-questions")
        names = NameControls()
        names.add_class("workbench-name-controls")
        self.root = widgets.VBox(
            [
                names,
                *(self.said, self.gone, self._chosen, self._next, widgets.HTML("<h2>Questions</h2>"), questions),
                *(widgets.HTML("<h2>The gym's folder</h2>"), self.folder, self.next_start),
                row(opening, self._add, self._remove),
            ]
        )
        self.root.add_class("workbench-start")
        opening.on_click(lambda _button: self.do(self.open_folder))
        self._add.on_click(lambda _button: self.do(self.add_demo))
        self._remove.on_click(lambda _button: self.do(self.remove_demo))

    def look_again(self) -> None:
        """Show the gym as it is now."""
        gym = self._app.desk.gym
        self.folder.value = str(gym.path.resolve())
        self._add.disabled = bool(gym.demo_fingerprints())
        self._remove.disabled = not self._add.disabled
        if gym.is_empty:
            self._chosen.children = [
                widgets.HTML(_EMPTY),
                self._app.link("lifter", "Enter a lifter"),
                self._add,
                self._app.link("guides", "Take a walk in two minutes"),
            ]
        else:
            self._chosen.children = self._pickers()
        self._show_next()
        self._say_next_start(gym)

    def open_folder(self) -> str:
        """Go on in the folder that is typed; it is made where it is missing."""
        gym = GymFolder(Path(self.folder.value.strip()).expanduser())
        gym.make()
        self._app.enter(gym)
        keep_last_gym(gym.path)
        return ""

    def add_demo(self) -> str:
        """Copy the invented gym in, and say what was left alone."""
        return _said("copied in", self._app.desk.gym.add_demo(), "A file of that name was there already, and is kept")

    def remove_demo(self) -> str:
        """Take the invented gym out, and say what was left alone."""
        return _said("taken out", self._app.desk.gym.remove_demo(), "Kept, because you changed it")

    def do(self, work: Callable[[], str]) -> None:
        """Do one of these, say how it went, and show the gym as it is then."""
        try:
            self.said.value = work()
        except InputError as error:
            self.said.value = f"This cannot be used: {escape(str(error))}."
        self.look_again()

    def _say_next_start(self, gym: GymFolder) -> None:
        """Say which folder the next start opens, and where the one opened last is gone."""
        last = last_gym()
        gone = last is not None and not last.is_dir()
        self.gone.value = f"The gym that was opened last is gone: {escape(str(last))}. {GONE_REMEDY}" if gone else ""
        if last is None:
            said = "Press Open or make this folder, and the next start opens it too, wherever that is."
        else:
            said = f"The next start opens {'this folder' if last == gym.path.resolve() else last}."
        self.next_start.value = "" if gone else escape(said)

    def _pickers(self) -> list[widgets.Widget]:
        if self._files is None:
            # What reads files is loaded when it is needed: the page is on the screen before.
            from workbench.panels.controls import BlockFiles

            self._files = BlockFiles(self._app.desk)
            for picker in self._files.files:
                picker.observe(lambda _change: self._show_next(), "value")
        else:
            for picker in self._files.files:
                picker.look_again()
        return [self._files.lifter, self._files.room, self._files.block]

    def _show_next(self) -> None:
        from workbench.panels.next_steps import next_steps

        steps = [self._app.link(step.page, step.sentence) for step in next_steps(self._app.desk)]
        nothing = widgets.HTML("Nothing is missing. Press a question.")
        record = widgets.HTML(_record_said(self._app.desk.gym.path / "committed"))
        who = widgets.HTML(_who_trains(self._app.desk.gym))
        self._next.children = [widgets.HTML("<h2>What is next</h2>"), *(steps or [nothing]), who, record]


def _who_trains(gym: GymFolder) -> str:
    """Return who trains today and tomorrow, as HTML; nothing where no committed block has days."""
    from workbench.present.tables import Table
    from workbench.publish.training_days import training_days

    now = datetime.datetime.now()  # noqa: DTZ005 (a session is on a day of the place where it is)
    found = training_days(gym, now)
    rows = [
        (
            "today" if one.day == now.date() else "tomorrow",
            one.lifter,
            f"{one.block}, week {one.week}",
            f"{one.session}{' (under way)' if one.is_open else ''}",
            "" if one.last is None else f"{(now.date() - one.last).days}",
        )
        for one in found[:_MOST_TRAINING]
    ]
    more = f"<p>{len(found) - len(rows)} more.</p>" if len(found) > len(rows) else ""
    headings = ("day", "lifter", "block", "session", "days since the last set typed at the rack")
    return Table("Today and tomorrow", headings, tuple(rows), texts=(0, 1, 2, 3)).html() + more if rows else ""


def _record_said(committed: Path) -> str:
    """Return what the forecasts of committed blocks were worth so far, as HTML; nothing where none is committed."""
    from workbench.publish.commit import list_committed
    from workbench.publish.track_record import track_record

    try:
        lines = track_record(committed).sentences() if list_committed(committed) else []
    except InputError as error:
        lines = [f"This cannot be used: {error}."]
    return listed(lines, "What committed forecasts were worth") if lines else ""


def _said(how: str, copied: Copied, why_kept: str) -> str:
    said = f"{len(copied.done)} files {how}."
    return said + (f" {why_kept}: {escape(', '.join(copied.kept))}." if copied.kept else "")
