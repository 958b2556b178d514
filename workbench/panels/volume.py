"""Panel: are volume and intensity of the block sensible? Sets of each muscle, zones, and the block over its weeks."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

import ipywidgets as widgets

from workbench.answers.block_check import BlockCheck, check_block
from workbench.answers.volume import VolumeAnswer, studied_ranges, volume_question
from workbench.figures.volume import block_chart, muscle_sets_figure, zones_figure
from workbench.models.volume import RULES, CountRules
from workbench.panels.files import block_picker, lifter_picker, room_picker
from workbench.panels.frame import Panel, heading, table_box
from workbench.panels.numbers import NumberControl, whole_number
from workbench.panels.redraw import Redraw, live, refresh
from workbench.present.tables import Table, plain_text
from workbench.present.words import mass_in
from workbench.quantities import SEED
from workbench.reference.sources import claims

if TYPE_CHECKING:
    from collections.abc import Callable

__all__ = ["VolumeControls", "VolumePanel", "ranges_table"]


class VolumeControls:
    """Every input of the volume panel.

    Attributes
    ----------
    block, lifter, room : FilePicker
    week : NumberControl
    hard_reserve : NumberControl
        A set is hard with at most so many reps in reserve.
    each_drop : NumberControl
        What a drop adds to the count of its set.
    """

    def __init__(self) -> None:
        self.block, self.lifter, self.room = block_picker(), lifter_picker(), room_picker()
        self.week = whole_number(value=1, min=1, max=1, description="week")
        self.hard_reserve = NumberControl(
            value=RULES.hard_reserve,
            min=0,
            max=10,
            step=0.5,
            readout_format=".1f",
            description="hard: reps in reserve, at most",
        )
        self.each_drop = NumberControl(
            value=RULES.each_drop,
            min=0,
            max=1,
            step=0.25,
            readout_format=".2f",
            description="a drop adds so much of a set",
        )

    def observe(self, changed: Callable[[object], None]) -> None:
        """Call ``changed`` after any change that needs no file read again."""
        for control in (self.week, self.hard_reserve, self.each_drop):
            control.observe(changed, "value")

    def layout(self) -> list[widgets.Widget]:
        """Return the controls in the order in which a coach uses them."""
        return [
            *(picker.box for picker in (self.block, self.lifter, self.room)),
            self.week,
            heading("What counts"),
            *(self.hard_reserve, self.each_drop),
        ]

    @property
    def rules(self) -> CountRules:
        """The counting rules as the controls stand."""
        return CountRules(hard_reserve=self.hard_reserve.value, each_drop=self.each_drop.value)


class VolumePanel(Panel):
    """Controls, sets of each muscle beside the studied range, lifts by zone, and the block over its weeks.

    Parameters
    ----------
    seed : int
        The same seed gives the same digits, here as in ``workbench check --muscles``.
    draws : int
        Simulated lifters and days.

    Attributes
    ----------
    controls : VolumeControls
    answer, muscle_rows, week_rows : ipywidgets.HTML
    muscles, zones, weeks : plotly FigureWidget
    check : BlockCheck or None
        The simulated block behind the numbers.
    last : VolumeAnswer or None
    """

    def __init__(self, *, seed: int = SEED, draws: int = 2000) -> None:
        self.seed, self.draws = seed, draws
        self.controls = VolumeControls()
        self.last: VolumeAnswer | None = None
        self.check: BlockCheck | None = None
        self._counted: tuple[BlockCheck, CountRules] | None = None
        self.answer = widgets.HTML()
        self.answer.add_class("workbench-answer")
        self.muscle_rows, self.week_rows = table_box(), table_box()
        self.muscles, self.zones, self.weeks = live(), live(), live()
        super().__init__(
            self.controls.layout(),
            [self.answer, self.muscles, self.zones],
            [self.weeks, self.muscle_rows, self.week_rows],
        )
        self._redraw, self._reload = Redraw(self._draw), Redraw(self._load)
        self._filling = False
        self._load()
        self._observe()

    def _observe(self) -> None:
        self.controls.observe(self._changed)
        for picker in (self.controls.block, self.controls.lifter, self.controls.room):
            picker.observe(self._reload.ask)

    def text(self) -> str:
        """Return the answer as plain text, for the controls as they stand."""
        self._redraw.now()
        if self.last is None:
            return "No answer yet: the panel says what cannot be used."
        tables = (_muscle_table(self.last, self.controls.week.value), _week_table(self.last), _zone_table(self.last))
        return plain_text(self._sentences(), *tables)

    def forget(self) -> None:
        """Forget the last answer."""
        self.last = self._counted = None

    def _changed(self, change: object) -> None:
        if not self._filling:
            self._redraw.ask(change)

    def _load(self) -> None:
        self.check = None
        with self.explained():
            block, lifter, room = self.controls.block.read(), self.controls.lifter.read(), self.controls.room.read()
            self.check = check_block(block, lifter, room, draws=self.draws, seed=self.seed)
            self._filling = True
            try:
                self.controls.week.max = block.weeks
                self.controls.week.value = 1
            finally:
                self._filling = False
            self._draw()

    def _draw(self) -> None:
        if self.check is None:
            return
        with self.explained():
            counted = self._counted
            if (
                self.last is None
                or counted is None
                or counted[0] is not self.check
                or counted[1] != self.controls.rules
            ):
                self.last = volume_question(self.check.outcome, rules=self.controls.rules)
                lighter = tuple(one.week for one in self.check.plan.block.lighter_weeks)
                refresh(self.weeks, block_chart(self.last.weeks, unit=self.last.unit, lighter_weeks=lighter))
                if counted is None or counted[0] is not self.check:
                    refresh(self.zones, zones_figure(self.last.zones, claims()))
                self._counted = (self.check, self.controls.rules)
            week = self.controls.week.value
            refresh(self.muscles, muscle_sets_figure(self.last.muscles, claims(), week=week))
            first, *others = (escape(line) for line in self._sentences())
            self.answer.value = f"<b>{first}</b>" + "".join(f"<br>{line}" for line in others)
            self.muscle_rows.value = _muscle_table(self.last, week).html()
            self.week_rows.value = _week_table(self.last).html() + _zone_table(self.last).html()

    def _sentences(self) -> list[str]:
        assert self.last is not None
        week = self.controls.week.value
        row = self.last.weeks[self.last.weeks["week"] == week].iloc[0]
        muscles = self.last.muscles[self.last.muscles["week"] == week]
        low, high = muscles["range_low"].iloc[0], muscles["range_high"].iloc[0]
        hard = f"{row['hard']:.0f} hard ({row['hard_low']:.0f} to {row['hard_high']:.0f})"
        lines = [
            f"Week {week}: {row['sets']:.0f} sets, of these probably {hard}, in about {row['minutes']:.0f} minutes.",
        ]
        for where in ("within", "above"):
            names = list(muscles.loc[muscles["beside"] == where, "muscle"])
            if names:
                lines.append(f"{where.capitalize()} the studied {low:g} to {high:g} sets: {', '.join(names)}.")
        drop = f"{self.last.rules.each_drop:g} of a set" if self.last.rules.each_drop else "nothing"
        lines.append(
            f"A set counts as hard with at most {self.last.rules.hard_reserve:g} reps in reserve (no study gives "
            f"a cut-off: assumed); a drop adds {drop} to its set. Both can be changed."
        )
        return lines


def ranges_table() -> Table:
    """Return the published ranges and dose-responses behind the panel, with source and grade."""
    rows = []
    for row in studied_ranges().to_dict("records"):
        number = "" if row["value"] != row["value"] else f"{row['value']:g}"
        if row["low"] == row["low"]:
            number = f"{row['low']:g} to {row['high']:g}" if row["high"] == row["high"] else f"over {row['low']:g}"
        interval = "" if row["ci_low"] != row["ci_low"] else f"{row['ci_low']:g} to {row['ci_high']:g}"
        rows.append(
            (row["measure"], number or row["note"].split(";")[0], interval, row["unit"], row["source"], row["grade"])
        )
    headings = ("what was studied", "value", "95 % interval", "unit", "source", "grade")
    return Table("Published ranges and dose-responses", headings, tuple(rows))


def _muscle_table(answer: VolumeAnswer, week: int) -> Table:
    rows = answer.muscles[answer.muscles["week"] == week].sort_values("fractional", ascending=False, kind="stable")
    cells = tuple(
        (
            row["muscle"],
            f"{row['direct']:.1f}",
            f"{row['fractional']:.1f}",
            f"{row['hard']:.1f} ({row['hard_low']:.1f} to {row['hard_high']:.1f})",
            row["beside"],
            f"{100 * row['assumed_share']:.0f} %",
        )
        for row in rows.to_dict("records")
    )
    low, high = rows["range_low"].iloc[0], rows["range_high"].iloc[0]
    headings = ("muscle", "direct", "fractional", "hard (middle 80 %)", f"beside {low:g}-{high:g}", "share assumed")
    return Table(f"Sets of each muscle, week {week}", headings, cells)


def _week_table(answer: VolumeAnswer) -> Table:
    rows = tuple(
        (
            f"{row['week']:.0f}",
            f"{row['sets']:.0f}",
            f"{row['hard']:.0f} ({row['hard_low']:.0f} to {row['hard_high']:.0f})",
            f"{row['lifts']:.0f}",
            f"{mass_in(row['tonnage_kg'], answer.unit):,.0f}",
            f"{row['intensity_percent']:.1f}",
            f"{row['minutes']:.0f}",
        )
        for row in answer.weeks.to_dict("records")
    )
    headings = ("week", "sets", "hard (middle 80 %)", "lifts", f"tonnage, {answer.unit}", "mean % of 1RM", "minutes")
    return Table("Week by week", headings, rows)


def _zone_table(answer: VolumeAnswer) -> Table:
    grid = answer.zones.pivot_table(index="week", columns="zone", values="lifts", sort=False)
    rows = tuple(
        (f"{week}", *(f"{lifts:.0f}" for lifts in row)) for week, row in zip(grid.index, grid.to_numpy(), strict=True)
    )
    return Table("Lifts by zone of intensity", ("week", *(str(zone) for zone in grid.columns)), rows)
