"""Panel: does the block suit the whole team? Every lifter of a folder, who falls short, and what would mend it."""

from __future__ import annotations

import asyncio
import threading
from html import escape

import ipywidgets as widgets
import plotly.graph_objects as go

from workbench.answers.team import Team, read_roster, team_check
from workbench.figures.compare import roster_chances
from workbench.panels.files import block_picker, demo_folder, room_picker
from workbench.panels.frame import Panel, control_style, row, table_box
from workbench.panels.redraw import live, refresh
from workbench.present.tables import Table, plain_text
from workbench.present.words import in_words, percent_said
from workbench.quantities import SEED

__all__ = ["TeamPanel"]

_PRESS = "Press <b>Check the roster</b>."


class TeamPanel(Panel):
    """Block, room and folder of lifters; progress; the roster against the limit, and a row for each lifter.

    Parameters
    ----------
    seed : int
        The same seed gives the same digits, here as in ``workbench team``.
    draws : int
        Simulated days for each lifter.

    Attributes
    ----------
    block, room : FilePicker
    folder : ipywidgets.Text
        Folder of lifter files.
    check, stop : ipywidgets.Button
    answer, rows, places : ipywidgets.HTML
    bar : ipywidgets.IntProgress
    chances : plotly FigureWidget
    last : Team or None
    """

    def __init__(self, *, seed: int = SEED, draws: int = 500) -> None:
        self.seed, self.draws = seed, draws
        self.last: Team | None = None
        self._stop, self._changed = threading.Event(), threading.Event()
        self.block, self.room = block_picker(), room_picker()
        self.folder = widgets.Text(
            value=(demo_folder() / "lifters").as_posix(),
            description="lifters in",
            continuous_update=False,
            **control_style(),
        )
        self.check = widgets.Button(description="Check the roster", button_style="primary")
        self.stop = widgets.Button(description="Stop", disabled=True)
        self.answer = widgets.HTML(_PRESS)
        self.answer.add_class("workbench-answer")
        self.bar = widgets.IntProgress(min=0, max=1, layout=widgets.Layout(width="98%", visibility="hidden"))
        self.chances, self.rows, self.places = live(go.Figure()), table_box(), widgets.HTML()
        super().__init__(
            [self.block.box, self.room.box, self.folder, row(self.check, self.stop)],
            [self.answer, self.bar, self.chances],
            [self.rows, self.places],
        )
        for picker in (self.block, self.room):
            picker.observe(self._choice_changed)
        self.folder.observe(self._choice_changed, "value")
        self.check.on_click(self._start)
        self.stop.on_click(lambda _: self._stop.set())

    def run(self) -> None:
        """Check the roster here and now, and show the answer."""
        self._stop.clear()
        self._changed.clear()
        with self.explained():
            block, room = self.block.read(), self.room.read()
            found = team_check(
                block,
                read_roster(self.folder.value.strip(), room.catalogue),
                room,
                draws=self.draws,
                seed=self.seed,
                block_size=1,
                progress=self._progress,
            )
            if self._changed.is_set():
                self.blank(f"The choice changed during the check. {_PRESS}")
                return
            self.last = found
            first, *others = (escape(line) for line in self._sentences())
            self.answer.value = f"<b>{first}</b>" + "".join(f"<br>{line}" for line in others)
            refresh(self.chances, roster_chances(self.last.table, limit=self.last.limit))
            places = "".join(f"<li>{escape(line)}</li>" for line in [*self._places(), *self._notes()])
            self.rows.value, self.places.value = self._table().html(), f"<ul>{places}</ul>"

    def forget(self) -> None:
        """Forget the last answer."""
        self.last = None

    def _choice_changed(self, _change: object) -> None:
        """Take away an answer about another block, room or roster, found or still being looked for."""
        self._changed.set()
        self._stop.set()
        self.blank(_PRESS)

    def text(self) -> str:
        """Return the answer as plain text; checks first where that has not been done."""
        if self.last is None:
            self.run()
        if self.last is None:
            return "No answer: the panel says what cannot be used."
        return plain_text(self._sentences(), self._table(), self._places(), self._notes())

    def _start(self, _button: object) -> None:
        """Work in a thread of its own, so that the page stays alive; without an event loop, at once."""
        self.check.disabled, self.stop.disabled = True, False
        self.bar.layout.visibility = "visible"
        try:
            asyncio.get_running_loop()
        except RuntimeError:
            self._run_and_tidy()
            return
        threading.Thread(target=self._run_and_tidy, daemon=True).start()

    def _run_and_tidy(self) -> None:
        try:
            self.run()
        finally:
            self.check.disabled, self.stop.disabled = False, True
            self.bar.layout.visibility = "hidden"

    def _progress(self, done: int, of: int) -> bool:
        self.bar.max, self.bar.value = of, done
        self.answer.value = f"{done} of {of} lifters"
        return not self._stop.is_set()

    def _sentences(self) -> list[str]:
        assert self.last is not None
        table = self.last.table
        answered = table[table["problem"] == ""]
        short = self.last.falling_short()
        kept, accepted = len(answered) - len(short), percent_said(self.last.limit)
        lines = [f"{kept} of {len(answered)} lifters have at least a {accepted} chance in every set."]
        unanswered = table[table["problem"] != ""]
        lines.extend(f"No answer for {row['lifter']}: {row['problem']}." for row in unanswered.to_dict("records"))
        if not self.last.finished:
            lines.append("Stopped before the end: lifters not reached are missing.")
        return lines

    def _places(self) -> list[str]:
        """Where each lifter first falls short, and what would mend that."""
        assert self.last is not None
        lines = []
        for one in self.last.falling_short().to_dict("records"):
            found = [one[key] for key in ("mend_rest", "mend_load", "mend_reps") if one[key]]
            mend = "; or ".join(found) if found else "no single change of rest, load or reps"
            lines.append(f"{one['lifter']}: {one['first_break']}. Its group would be mended by: {mend}.")
        return lines

    def _notes(self) -> list[str]:
        """Return what `check` notes of each lifter, every note once."""
        assert self.last is not None
        return [f"Note. {line}" for line in self.last.note_lines()]

    def _table(self) -> Table:
        assert self.last is not None
        rows = tuple(
            (
                str(one["lifter"]),
                in_words(one["chance_of_block"]),
                in_words(one["lowest_chance"]),
                str(one["groups_below"]),
                f"{one['minutes']:.0f}",
            )
            for one in self.last.table.to_dict("records")
            if not one["problem"]
        )
        headings = ("lifter", "all reps", "least likely set", "groups under the limit", "longest session, min")
        return Table("The roster", headings, rows)
