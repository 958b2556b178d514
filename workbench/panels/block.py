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
from workbench.panels.frame import Panel, first_bold, heading, listed, row, table_box, wide
from workbench.panels.redraw import live, refresh
from workbench.prescription.edit import group_at
from workbench.prescription.group_changes import differences, values_of
from workbench.present.tables import Table
from workbench.present.words import in_words, load_said, reps_said
from workbench.quantities import SEED

if TYPE_CHECKING:
    import pandas as pd

    from workbench.answers.block_check import BlockCheck, FirstBreak
    from workbench.prescription.edit import Where

__all__ = ["BlockPanel"]


class BlockPanel(Panel):
    """Controls, the map of the block, its tables, and what would mend the first set that breaks.

    Attributes
    ----------
    controls : BlockControls
    set_rows, week_rows, mended : ipywidgets.HTML
    mend_buttons : ipywidgets.Box
        One button for each proposal.
    map, bands : plotly FigureWidget
    check : BlockCheck or None
        The last answer; None where none could be worked out.
    """

    kept = ("check",)
    check: BlockCheck | None
    _what_if: WhatIf
    _as_written: BlockCheck

    def __init__(self, *, seed: int = SEED, draws: int = 2000) -> None:
        super().__init__(seed=seed, draws=draws)
        self.controls = chosen = BlockControls()
        self.mended, self.mend_buttons = wide(widgets.HTML()), wide(row())
        self.set_rows, self.week_rows = table_box(), table_box()
        self.map, self.bands = live(), live()
        files, sliders = [chosen.block, chosen.lifter, chosen.room], list(chosen.sliders.values())
        group = [heading("Change a set group"), chosen.place, *sliders, row(chosen.reset_group, chosen.reset_all)]
        self.arrange(
            [*files, *group, heading("How sure?"), chosen.limit, chosen.find_mend],
            [chosen.shown, self.map, self.week_rows, self.bands],
            below=[self.set_rows],
            beside=[self.mended, self.mend_buttons],
        )
        self.prepare(self._read, *files)
        self.prepare(chosen.fill, chosen.place, after=self._read)
        self.step(self._draw, *sliders, chosen.limit, chosen.shown, after=chosen.fill)
        self.step(self._draw_rest, after=self._draw, later=True)
        self.take_steps(at_once=True)
        chosen.reset_group.on_click(lambda _button: self._undo([chosen.place.value]))
        chosen.reset_all.on_click(lambda _button: self._undo(list(chosen.changes)))
        chosen.find_mend.on_click(self._find_mend)

    def _read(self) -> None:
        """Read the files again and start without changes."""
        chosen = self.controls
        block, lifter, room = chosen.block.read(), chosen.lifter.read(), chosen.room.read()
        self._what_if = WhatIf(block, lifter, room, draws=self.draws, seed=self.seed)
        self._as_written = self._what_if.check()
        chosen.take(block)

    def _draw(self) -> None:
        self.check = self._what_if.check(self.controls.changes, limit=self.controls.limit.value / 100)
        sets, title = self._shown_sets(self.check)
        refresh(self.map, block_map(sets, title=title))
        lines = [*_answer(self.check, self._as_written), *(f"Note: {note}." for note in self.check.notes)]
        changes = self.controls.changes_in_words()
        against = f"<br>Changed against the file:{listed(changes)}" if changes else ""
        self.put(self.answer, lines, html=first_bold(lines) + against)
        # Proposals belong to what was just changed.
        self.mended.value, self.mend_buttons.children = "", ()

    def _draw_rest(self) -> None:
        assert self.check is not None
        self.put(self.week_rows, _week_table(self.check))
        self.put(self.set_rows, *_set_tables(self._shown_sets(self.check)[0]))
        refresh(self.bands, reserve_bands(self.check.weeks))

    def _shown_sets(self, check: BlockCheck) -> tuple[pd.DataFrame, str]:
        if self.controls.shown.value == "all sessions":
            return check.sets, "Will every rep be made?"
        number = self.controls.place.value.session
        sets = check.sets[check.sets["session_number"] == number]
        return sets, f"Will every rep be made? {escape(check.plan.sessions[number - 1].name)}"

    def _undo(self, places: list[Where]) -> None:
        for place in places:
            self.controls.changes.pop(place, None)
        self.again(self.controls.fill)

    def _find_mend(self, _button: object) -> None:
        if self.check is None:
            return
        self.controls.find_mend.disabled = True
        self.mended.value, self.mend_buttons.children = "Looking …", ()
        try:
            with self.explained(part=self.mended):
                self._offer(mends(self.check, self._what_if.room, seed=self.seed), self.check.first_break)
        finally:
            self.controls.find_mend.disabled = False

    def _offer(self, found: list[Mend], broken: FirstBreak | None) -> None:
        """Show proposals with a button each."""
        if broken is None:
            self.mended.value = "Nothing to mend: every set reaches the wanted chance."
            return
        place = escape(f"{broken.session}, {broken.exercise}")
        if not found:
            self.mended.value = (
                f"No single change of rest, load or reps within reach mends {place}. Think the group over."
            )
            return
        self.mended.value = f"One of these mends {place} in every week (proposed only; press to try):"
        self.mend_buttons.children = [self._button(mend) for mend in found]

    def _button(self, mend: Mend) -> widgets.Button:
        words = f"{mend.change} ({in_words(mend.chance)})"
        button = widgets.Button(description=words, layout=widgets.Layout(width="98%", max_width="440px"))
        button.on_click(lambda _button: self._try(mend))
        return button

    def _try(self, mend: Mend) -> None:
        before, after = (values_of(group_at(block, mend.where)) for block in (self._what_if.block, mend.block))
        what = differences(before, after)
        if not what:  # of a drop, for which there is no slider
            self.mended.value = "The sliders cannot make this change: write it into the block's file."
            return
        self.controls.changes[mend.where] = what
        self.controls.place.value = mend.where
        self.again(self.controls.fill)


def _answer(check: BlockCheck, as_written: BlockCheck) -> list[str]:
    """Two sentences: the chance of the whole block, and the first set under the wanted chance."""
    block = f"All reps of the whole block: {in_words(check.chance_of_block)} chance"
    if as_written.plan.block != check.plan.block:
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
            rest = one["rest_s"].max()
            rows.append((f"{exercise}, set {label}", f"{rest:.0f}", *(cells.get(week, "") for week in weeks)))
        headings = ("set", "rest, s", *(f"week {week}" for week in weeks))
        caption = f"{session}: reps × load, and the rest before the set"
        tables.append(Table(caption, headings, tuple(rows)))
    return tables


def _prescribed(row: Mapping[Hashable, Any]) -> str:
    return f"{reps_said(row['reps_low'], row['reps_high'])} × {load_said(row)}"
