"""Panel: today's session at the rack. What is done is in the gym's log before the next set is asked for."""

from __future__ import annotations

import datetime
from html import escape
from pathlib import Path
from typing import Any, Final

import anywidget
import ipywidgets as widgets
import traitlets

from workbench.log.session_log import proposed_session
from workbench.panels.controls import lifter_picker, named_files, number, room_picker
from workbench.panels.desk import Desk
from workbench.panels.frame import control_style, folded, look
from workbench.panels.panel import Panel
from workbench.panels.session_today import SessionToday
from workbench.panels.today_form import form_html
from workbench.prescription.block import Block, read_block
from workbench.publish.commit import list_committed, read_committed
from workbench.quantities import SEED, InputError

__all__ = ["SessionForm", "TodayPanel", "block_of", "blocks_of"]

_COMMITTED: Final = "committed: "


class SessionForm(anywidget.AnyWidget):
    """The page of a session, whose forms come back as messages; the page keeps each until it hears that it was taken.

    Attributes
    ----------
    html : str
        What is shown.
    """

    _esm = Path(__file__).with_name("today.js")
    _css = look("today.css")

    html = traitlets.Unicode().tag(sync=True)


def blocks_of(desk: Desk) -> list[tuple[str, Path]]:
    """Return the blocks and the committed blocks of a gym, by name, the newest commits first."""
    committed = reversed(list_committed(desk.gym.path / "committed"))
    return [*named_files(desk.gym.files("blocks")), *((f"{_COMMITTED}{path.name}", path) for path in committed)]


def block_of(path: Path) -> tuple[Block, datetime.date | None]:
    """Return a block, from its file or as it was committed, and the Monday of its first week where it has one."""
    if not path.is_dir():
        return read_block(path), None
    committed = read_committed(path)
    start = committed.manifest["start"]
    return committed.block, None if start is None else datetime.date.fromisoformat(start)


class TodayPanel(Panel):
    """Lifter, block, room, week and session, the next one proposed; and the page of that session.

    Parameters
    ----------
    desk : Desk, optional
    seed, draws : int

    Attributes
    ----------
    block, week, session : ipywidgets.Dropdown
    limit : NumberControl
        Chance wanted for every set, %.
    form : SessionForm
    last : SessionToday or None
    """

    last: SessionToday | None

    def __init__(self, desk: Desk | None = None, *, seed: int = SEED, draws: int = 2000) -> None:
        super().__init__(seed=seed, draws=draws)
        self._desk = desk or Desk()
        self.lifter, self.room = lifter_picker(self._desk), room_picker(self._desk)
        self.block = widgets.Dropdown(description="block", **control_style())
        self.week = widgets.Dropdown(description="week", **control_style())
        self.session = widgets.Dropdown(description="session", **control_style())
        self.limit = number("chance, %", 85.0, 50.0, 99.0, 1.0, digits=0)
        self.form = SessionForm()
        self._offer_blocks()
        chosen = [self.lifter, self.block, self.room, self.week, self.session, self.limit]
        self.choice = folded("Choose", widgets.VBox(chosen))
        self.arrange([self.choice], [self.form])
        self.root.add_class("workbench-today")
        self.step(self._propose, self.lifter, self.block, prepares=True)
        self.step(self._open, self.room, self.week, self.session, self.limit, after=self._propose)
        self.form.on_msg(self._typed)
        self.take_steps(at_once=True)

    def look_again(self) -> None:
        """Take what is open now, and what was written since in another window or on a phone."""
        for picker in (self.lifter, self.room):
            picker.look_again()
        before = self.block.value
        self._offer_blocks()
        self.again(self._open if self.block.value == before else self._propose)

    def blank(self, reason: str) -> None:
        """Take the page of the session away with the answer."""
        super().blank(reason)
        self.form.html = ""

    def _offer_blocks(self) -> None:
        """List the blocks, and take the one that is open on the other pages, unless a committed one is chosen here."""
        found, before, open_now = blocks_of(self._desk), self.block.value, self._desk.chosen("blocks")
        paths = [path for _, path in found]
        stays = before in paths and before.is_dir()
        with self._by_itself():
            self.block.options = found
            self.block.value = before if stays else open_now if open_now in paths else None

    def choice_changed(self, change: Any) -> None:
        """Open a block that is chosen on the other pages, too."""
        if change["owner"] is self.block and self.block.value is not None and not self.block.value.is_dir():
            self._desk.choose("blocks", self.block.value)

    def _propose(self) -> None:
        """Offer weeks and sessions of the block, and propose where the lifter is."""
        if self.block.value is None:
            raise InputError(None, "block", "none is chosen", "choose one")
        block, start = block_of(self.block.value)
        week, session = proposed_session(self._desk.gym, block, self.lifter.read().name, start=start)
        self.week.options = list(range(1, block.weeks + 1))
        self.session.options = [(one.name, at) for at, one in enumerate(block.expanded_sessions(), start=1)]
        self.week.value, self.session.value = week, session

    def _open(self) -> None:
        self.last = None
        block, _ = block_of(self.block.value)
        where = {"week": self.week.value, "session": self.session.value, "limit": self.limit.value / 100.0}
        lifter = self.lifter.read()
        self.last = SessionToday(
            self._desk.gym, block, lifter, self.room.read(), seed=self.seed, draws=self.draws, **where
        )
        self.choice.titles = (f"{lifter.name}, week {self.week.value}: choose another",)
        self._draw()

    def _draw(self, trouble: str = "") -> None:
        assert self.last is not None
        self.form.html = form_html(self.last, trouble)
        self.put(self.answer, [], html="")

    def _typed(self, _form: SessionForm, content: dict[str, Any], _buffers: object) -> None:
        """Take a form that the page sent, and say that it was taken, or why not."""
        typed = content.get("form")
        if self.last is None or not isinstance(typed, dict):
            return
        trouble = ""
        try:
            self.last.take({str(name): str(value) for name, value in typed.items()})
        except InputError as error:
            trouble = f"Not taken: {error}."
        self._draw(trouble)
        self.form.send({"taken": content.get("number"), "refused": escape(trouble)})
