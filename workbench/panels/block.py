"""Panel of the question whether every rep of a block will be made, with sliders for each set group."""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from html import escape
from typing import TYPE_CHECKING, Any

import ipywidgets as widgets

from workbench.answers.mend import Mend, mends
from workbench.answers.what_if import WhatIf
from workbench.figures.block_map import block_map, reserve_bands
from workbench.panels.block_controls import BlockControls
from workbench.panels.frame import Panel, row, table_box
from workbench.panels.redraw import Redraw, live, refresh
from workbench.prescription.edit import group_at
from workbench.prescription.group_changes import differences, values_of
from workbench.present.tables import Table, plain_text
from workbench.present.words import in_words, load_said, reps_said
from workbench.quantities import SEED

if TYPE_CHECKING:
    import pandas as pd

    from workbench.answers.block_check import BlockCheck

__all__ = ["BlockPanel"]


class BlockPanel(Panel):
    """Controls, the map of the block, its tables, and what would mend the first set that breaks.

    Parameters
    ----------
    seed : int
        The same seed gives the same digits, here as in ``workbench check``.
    draws : int
        Simulated lifters and days.

    Attributes
    ----------
    controls : BlockControls
    answer, set_rows, week_rows, mended : ipywidgets.HTML
    map, bands : plotly FigureWidget
    check : BlockCheck or None
        The last answer; None before the first that could be worked out.
    """

    def __init__(self, *, seed: int = SEED, draws: int = 2000) -> None:
        self.seed, self.draws = seed, draws
        self.controls = BlockControls()
        self.check: BlockCheck | None = None
        self._as_written: BlockCheck | None = None
        self._what_if: WhatIf | None = None
        self.answer, self.mended = widgets.HTML(), widgets.HTML()
        self.answer.add_class("workbench-answer")
        self.mend_buttons = row()
        for wide in (self.mended, self.mend_buttons):
            wide.add_class("workbench-wide")
        self.set_rows, self.week_rows = table_box(), table_box()
        self.map, self.bands = live(), live()
        controls = [*self.controls.layout(), self.mended, self.mend_buttons]
        answers = [self.answer, self.controls.shown, self.map, self.week_rows, self.bands]
        super().__init__(controls, answers, below=[self.set_rows], beside=[self.mended, self.mend_buttons])
        self._redraw = Redraw(self._draw)
        self._redraw_rest = Redraw(self._draw_rest)
        self._reload = Redraw(self._load)
        self._load()
        self._observe()

    def _observe(self) -> None:
        controls = self.controls
        controls.observe(self._redraw.ask)
        for picker in (controls.block, controls.lifter, controls.room):
            picker.observe(self._reload.ask)
        controls.find_mend.on_click(self._find_mend)

    def text(self) -> str:
        """Return the answer as plain text, for the controls as they stand."""
        self._redraw.now()
        if self.check is None:
            return "No answer yet: the panel says what cannot be used."
        sentences = [*_answer(self.check, self._as_written), *_notes(self.check)]
        sets, _ = self._shown_sets()
        tables = [_week_table(self.check), *_set_tables(sets)]
        return plain_text(sentences, *tables)

    def forget(self) -> None:
        """Forget the last answer."""
        self.check = None

    def _load(self) -> None:
        """Read the files again and start without changes."""
        self._what_if = self._as_written = None
        with self.explained():
            controls = self.controls
            block, lifter, room = controls.block.read(), controls.lifter.read(), controls.room.read()
            what_if = WhatIf(block, lifter, room, draws=self.draws, seed=self.seed)
            self._as_written = what_if.check()
            self._what_if = what_if
            self.controls.take(block)
            self._draw()
            self._redraw_rest.now()

    def _draw(self) -> None:
        if self._what_if is None:
            return
        with self.explained():
            self.check = self._what_if.check(self.controls.changes, limit=self.controls.limit.value / 100)
            sets, title = self._shown_sets()
            refresh(self.map, block_map(sets, title=title))
            lines = [escape(line) for line in (*_answer(self.check, self._as_written), *_notes(self.check))]
            changes = [f"<li>{escape(line)}</li>" for line in self.controls.changes_in_words()]
            self.answer.value = (
                f"<b>{lines[0]}</b><br>"
                + "<br>".join(lines[1:])
                + (f"<br>Changed against the file:<ul>{''.join(changes)}</ul>" if changes else "")
            )
            self._offer(None)
            # The map first; the rest waits until no further change is on its way.
            self._redraw_rest.ask()

    def _draw_rest(self) -> None:
        if self.check is None:
            return
        with self.explained():
            sets, _ = self._shown_sets()
            self.week_rows.value = _week_table(self.check).html()
            self.set_rows.value = "".join(table.html() for table in _set_tables(sets))
            refresh(self.bands, reserve_bands(self.check.weeks))

    def _shown_sets(self) -> tuple[pd.DataFrame, str]:
        assert self.check is not None
        if self.controls.shown.value == "all sessions":
            return self.check.sets, "Will every rep be made?"
        number = self.controls.place.value.session
        sets = self.check.sets[self.check.sets["session_number"] == number]
        return sets, f"Will every rep be made? {escape(self.check.plan.sessions[number - 1].name)}"

    def _find_mend(self, _button: object) -> None:
        if self.check is None or self._what_if is None:
            return
        self.controls.find_mend.disabled = True
        self.mended.value = "Looking …"
        try:
            with self.explained(part=self.mended):
                self._offer(mends(self.check, self._what_if.room, seed=self.seed))
        finally:
            self.controls.find_mend.disabled = False

    def _offer(self, found: list[Mend] | None) -> None:
        """Show proposals with a button each; None clears them, for they belong to what was just changed."""
        self.mend_buttons.children = ()
        self.mended.value = ""
        if found is None or self.check is None:
            return
        broken = self.check.first_break
        if broken is None:
            self.mended.value = "Nothing to mend: every set reaches the wanted chance."
            return
        place = f"{broken.session}, {broken.exercise}"
        if not found:
            self.mended.value = (
                f"No single change of rest, load or reps within reach mends {escape(place)}. Think the group over."
            )
            return
        self.mended.value = f"One of these mends {escape(place)} in every week (proposed only; press to try):"
        self.mend_buttons.children = [self._button(mend) for mend in found]

    def _button(self, mend: Mend) -> widgets.Button:
        words = f"{mend.change} ({in_words(mend.chance)})"
        button = widgets.Button(description=words, layout=widgets.Layout(width="98%", max_width="440px"))
        button.on_click(lambda _button: self._try(mend))
        return button

    def _try(self, mend: Mend) -> None:
        assert self.check is not None
        assert self._what_if is not None
        before, after = (values_of(group_at(block, mend.where)) for block in (self._what_if.block, mend.block))
        what = differences(before, after)
        if not what:  # of a drop, for which there is no slider
            self.mended.value = "The sliders cannot make this change: write it into the block's file."
            return
        self.controls.change(mend.where, what)


def _answer(check: BlockCheck, as_written: BlockCheck | None) -> list[str]:
    """Two sentences: the chance of the whole block, and the first set under the wanted chance."""
    block = f"All reps of the whole block: {in_words(check.chance_of_block)} chance"
    if as_written is not None and as_written.plan.block != check.plan.block:
        block += f" (as the file has it: {in_words(as_written.chance_of_block)})"
    broken = check.first_break
    if broken is None:
        return [f"{block}.", f"Every set has at least the wanted {in_words(check.limit)}."]
    return [
        f"{block}.",
        (
            f"First set under the wanted {in_words(check.limit)}: week {broken.week}, {broken.session}, "
            f"{broken.exercise}, set {broken.label}, with {in_words(broken.chance)}."
        ),
    ]


def _notes(check: BlockCheck) -> list[str]:
    return [f"Note: {warning}." for warning in check.notes]


def _week_table(check: BlockCheck) -> Table:
    weeks = range(1, check.plan.weeks + 1)
    rows = [
        (
            str(session),
            f"{table['minutes'].min():.0f}-{table['minutes'].max():.0f}",
            *(in_words(chance) for chance in table["chance"]),
        )
        for session, table in check.weeks.groupby("session", sort=False)
    ]
    headings = ("session", "minutes", *(f"week {week}" for week in weeks))
    return Table("Chance that all reps are made", headings, tuple(rows))


def _set_tables(sets: pd.DataFrame) -> list[Table]:
    """One table a session: what is prescribed in each week, and the rest before each set."""
    weeks = sorted(sets["week"].unique())
    tables = []
    for session, table in sets.groupby("session", sort=False):
        rows = []
        for (_, exercise, label), one in table.groupby(["slot", "exercise", "set"], sort=False):
            cells = {row["week"]: _prescribed(row) for row in one.to_dict("records")}
            shortest, longest = (f"{rest:.0f}" for rest in (one["rest_s"].min(), one["rest_s"].max()))
            rest = shortest if shortest == longest else f"{shortest} to {longest}"
            rows.append((f"{exercise}, set {label}", rest, *(cells.get(week, "") for week in weeks)))
        headings = ("set", "rest, s", *(f"week {week}" for week in weeks))
        caption = f"{session}: reps × load, and the rest before the set"
        tables.append(Table(caption, headings, tuple(rows)))
    return tables


def _prescribed(row: Mapping[Hashable, Any]) -> str:
    return f"{reps_said(row['reps_low'], row['reps_high'])} × {load_said(row)}"
