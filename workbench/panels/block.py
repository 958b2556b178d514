"""Panel of the question whether every rep of a block will be made, with sliders for each set group."""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from html import escape
from typing import TYPE_CHECKING, Any

import ipywidgets as widgets

from workbench.answers.block_check import check_block, with_changes
from workbench.answers.mend import Mend, Mending, mends
from workbench.answers.unsure import unsure_check
from workbench.figures.block_map import block_map, reserve_bands
from workbench.panels.controls import BlockFiles, KeepBlock, NumberControl, whole_number
from workbench.panels.desk import Desk
from workbench.panels.frame import first_bold, folded, heading, listed, live, refresh, row, table_box, wide
from workbench.panels.panel import Panel
from workbench.prescription.edit import Where, group_at, groups_of
from workbench.prescription.group_changes import GroupValues, differences, values_of
from workbench.present.tables import Table, rows_of
from workbench.present.words import in_words, load_said, reps_said
from workbench.quantities import SEED

if TYPE_CHECKING:
    import pandas as pd

    from workbench.answers.block_check import BlockCheck
    from workbench.prescription.block import Block

__all__ = ["BlockControls", "BlockPanel"]


#: How the load of a group is said, by the way it is given: label of its slider, label of its step, format, slider
#: range and step.
_WAYS = {
    "percent": ("load in week 1, % of 1RM", "step a week, % of 1RM", ".1f", (30.0, 100.0, 0.5), (-5.0, 10.0, 0.5)),
    "reps_in_reserve": ("reps to leave in reserve", "step a week, reps", ".1f", (0.0, 6.0, 0.5), (-2.0, 2.0, 0.5)),
    "part": ("part of the earlier load", "", ".0%", (0.4, 1.1, 0.01), (0.0, 1.0, 1.0)),
    "kg": ("load in week 1, kg", "step a week, kg", ".1f", (1.0, 300.0, 0.5), (-10.0, 20.0, 0.5)),
    "lb": ("load in week 1, lb", "step a week, lb", ".1f", (2.0, 660.0, 1.0), (-20.0, 40.0, 1.0)),
}


class BlockControls(BlockFiles):
    """Every input of the block panel, and the changes made with them.

    Attributes
    ----------
    place : ipywidgets.Dropdown
        Which set group the sliders change; its value is a `Where`.
    load, step, sets, reps, rest : sliders
        The group's values, in the units that its own file entry uses.
    limit : NumberControl
        Lowest acceptable chance that a set's reps are all made, %.
    shown : ipywidgets.ToggleButtons
        "this session" or "all sessions".
    sliders : dict of str to slider
        Those of the group, by the value that each sets.
    changes : dict of Where to dict
        What was changed against the block's file, as `workbench.prescription.edit.change` takes it.
    """

    _block: Block

    def __init__(self, desk: Desk | None = None) -> None:
        super().__init__(desk)
        self.place = widgets.Dropdown(
            tooltip="set group to change", layout=widgets.Layout(width="98%", max_width="440px")
        )
        self.load = NumberControl()
        self.step = NumberControl()
        self.sets = whole_number(description="sets", min=1, max=12)
        self.reps = whole_number(description="reps", min=1, max=30)
        self.rest = whole_number(description="rest after each set, s", min=0, max=600, step=15, seconds=True)
        self.limit = whole_number(description="wanted chance for each set, %", min=50, max=99, value=85)
        self.shown = widgets.ToggleButtons(options=["this session", "all sessions"], style={"button_width": "110px"})
        self.reset_group = widgets.Button(description="undo for this group", layout=widgets.Layout(width="150px"))
        self.reset_all = widgets.Button(description="undo all", layout=widgets.Layout(width="90px"))
        self.find_mend = widgets.Button(description="find what would mend it", layout=widgets.Layout(width="190px"))
        self.ask_unsure = widgets.Button(description="not known, or luck?", layout=widgets.Layout(width="190px"))
        self.changes: dict[Where, dict[str, float]] = {}
        sliders = (self.load, self.step, self.sets, self.reps, self.rest)
        self.sliders = dict(zip(("load", "step", "sets", "reps", "rest_s"), sliders, strict=True))
        self._filling, self._chosen = False, False
        self.place.observe(self._choose, "value")
        for slider in self.sliders.values():
            slider.observe(self._record, "value")

    def take(self, block: Block, opened: Where | None = None) -> None:
        """Start with a block that was just read: no changes, one set group open; the coach's own choice stays."""
        before = self.place.value
        self._block, self.changes = block, {}
        options = [(self._place_text(place), place) for place in groups_of(block)]
        stays = self._chosen and options == list(self.place.options)
        self._filling = True
        try:
            self.place.options = options
            self.place.value = before if stays else opened or options[0][1]
        finally:
            self._filling = False
        self._chosen = stays
        self.limit.value = round(100 * block.limits.chance_of_reps)
        self.fill()

    def fill(self) -> None:
        """Set the sliders to the chosen group's values; those it does not have are hidden."""
        self._filling = True
        try:
            self._fill()
        finally:
            self._filling = False

    def changes_in_words(self) -> list[str]:
        """One line a changed value: what it was and what it is."""
        changed = with_changes(self._block, self.changes)
        lines = []
        for place in self.changes:
            old, new = values_of(group_at(self._block, place)), values_of(group_at(changed, place))
            label, step_label, *_ = self._way(place)
            labels = {"load": label, "step": step_label, "sets": "sets", "reps": "reps", "rest_s": "rest, s"}
            parts = []
            for name, after in differences(old, new).items():
                part = name == "load" and old.way == "part"
                parts.append(f"{labels[name]} {_plain(getattr(old, name), part=part)} → {_plain(after, part=part)}")
            lines.append(f"{self._place_text(place)}: {'; '.join(parts)}")
        return lines

    def _own_values(self) -> GroupValues:
        return values_of(group_at(self._block, self.place.value))

    def _place_text(self, place: Where) -> str:
        session = self._block.expanded_sessions()[int(place.session or 0) - 1]
        slot = session.exercises[int(place.exercise or 0) - 1]
        group = group_at(self._block, place)
        reps = "to failure" if group.to_failure else reps_said(*group.reps)
        return f"{session.name.split(',')[0]}: {slot.exercise}, {group.count} × {reps}"

    def _way(self, place: Where) -> Any:
        """How the load of a group is said; with kg or lb of two dumbbells, whose they are."""
        group = group_at(self._block, place)
        label, step_label, *others = _WAYS[group.way]
        hand = {None: "", True: " in each hand", False: " in both hands"}[group.each_hand]
        return f"{label}{hand}", f"{step_label}{hand}" if step_label else "", *others

    def _fill(self) -> None:
        own = self._own_values()
        change = self.changes.get(self.place.value, {})
        label, step_label, number, bounds, step_bounds = self._way(self.place.value)
        _range(self.load, bounds, own.load, label, number)
        _range(self.step, step_bounds, own.step or 0.0, step_label, ".1f")
        for name, slider in self.sliders.items():
            value = change.get(name, getattr(own, name))
            slider.layout.display = "none" if value is None else None
            if value is not None:
                slider.max = max(slider.max, value)
                slider.value = value

    def _choose(self, _change: Any) -> None:
        self._chosen = not self._filling

    def _record(self, change: Any) -> None:
        if self._filling or self.place.value is None:
            return
        place, own = self.place.value, self._own_values()
        name = next(name for name, slider in self.sliders.items() if slider is change["owner"])
        new = {kind: value for kind, value in self.changes.pop(place, {}).items() if kind != name}
        if change["new"] != getattr(own, name):
            new[name] = change["new"]
        if new:
            self.changes[place] = new


class BlockPanel(Panel):
    """Controls, the map of the block, its tables, and what would mend the first set that breaks.

    Attributes
    ----------
    check : BlockCheck or None
        The last answer; None where none could be worked out.
    """

    kept = ("check",)
    check: BlockCheck | None
    _as_written: BlockCheck

    def __init__(self, desk: Desk | None = None, *, seed: int = SEED, draws: int = 2000) -> None:
        super().__init__(seed=seed, draws=draws)
        self.controls = chosen = BlockControls(desk)
        self.mended, self.mend_buttons = wide(widgets.HTML()), wide(row())
        self.set_rows, self.week_rows = table_box(), table_box()
        self.unsure, self.unsure_rows = wide(widgets.HTML()), table_box()
        self.map, self.bands = live(), live()
        self.keep = KeepBlock(
            "Keep as a new block", chosen.desk, lambda: None if self.check is None else self.check.plan.block
        )
        sliders = list(chosen.sliders.values())
        group = [
            heading("Change a set group"),
            chosen.place,
            *sliders,
            row(chosen.reset_group, chosen.reset_all),
            self.keep,
        ]
        self.shares = folded("What is not known, and what is luck", self.unsure_rows)
        weeks = folded("Chances, week by week", self.week_rows)
        sets = folded("Every set, week by week", self.set_rows)
        self.arrange(
            [*chosen.files, *group, heading("How sure?"), chosen.limit, chosen.find_mend, chosen.ask_unsure],
            [chosen.shown, self.map, weeks, self.bands],
            below=[self.shares, sets],
            beside=[self.mended, self.mend_buttons, self.unsure],
        )
        self.step(self._read, *chosen.files, prepares=True)
        self.step(chosen.fill, chosen.place, after=self._read, prepares=True)
        self.step(self._draw, *sliders, chosen.limit, chosen.shown, after=chosen.fill)
        self.step(self._say, after=self._draw, later=True)
        self.step(self._draw_bands, after=self._draw, later=True)
        self.step(self._list_weeks, after=self._draw, later=True, within=weeks)
        self.step(self._list_sets, after=self._draw, later=True, within=sets)
        self.take_steps(at_once=True)
        chosen.reset_group.on_click(lambda _button: self._undo([chosen.place.value]))
        chosen.reset_all.on_click(lambda _button: self._undo(list(chosen.changes)))
        chosen.find_mend.on_click(self._find_mend)
        chosen.ask_unsure.on_click(self._split)

    def _read(self) -> None:
        """Read the files again and start without changes."""
        block, lifter, room = self.controls.read()
        self._as_written = self.check = check_block(block, lifter, room, draws=self.draws, seed=self.seed)
        self.controls.take(self.check.plan.block, _least_likely(self.check))

    def _draw(self) -> None:
        before = self.check or self._as_written
        block = with_changes(self._as_written.plan.block, self.controls.changes, before.plan.catalogue)
        self.check = before.changed(block, limit=self.controls.limit.value / 100)
        sets, title = self._shown_sets(self.check)
        refresh(self.map, block_map(sets, title=title, wanted=self.controls.limit.value / 100))
        # Proposals belong to what was just changed.
        self.mended.value, self.mend_buttons.children = "", ()
        self.unsure.value = self.unsure_rows.value = ""
        self.shares.selected_index = None

    def _say(self) -> None:
        assert self.check is not None
        lines = [*self.check.sentences(), *_as_the_file_has_it(self.check, self._as_written)]
        lines += [f"Note: {note}." for note in self.check.notes]
        changes = self.controls.changes_in_words()
        against = f"<br>Changed against the file:{listed(changes)}" if changes else ""
        self.put(self.answer, lines, html=first_bold(lines) + against)
        self.put(self.unsure_rows)

    def _draw_bands(self) -> None:
        assert self.check is not None
        refresh(self.bands, reserve_bands(self.check.weeks))

    def _list_weeks(self) -> None:
        assert self.check is not None
        self.put(self.week_rows, _week_table(self.check))

    def _list_sets(self) -> None:
        assert self.check is not None
        self.put(self.set_rows, *_set_tables(self._shown_sets(self.check)[0]))

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
                self._offer(mends(self.check, seed=self.seed))
        finally:
            self.controls.find_mend.disabled = False

    def _split(self, _button: object) -> None:
        """Split the spread of the block; it takes about ten times as long as the block itself."""
        if self.check is None:
            return
        self.controls.ask_unsure.disabled = True
        self.unsure.value = "Looking …"
        try:
            with self.explained(part=self.unsure):
                found = unsure_check(self.check)
                self.unsure.value = listed(found.sentences(), "Not known, or luck?")
                self.put(self.unsure_rows, found.share_table())
                self.shares.selected_index = 0
        finally:
            self.controls.ask_unsure.disabled = False

    def _offer(self, found: Mending) -> None:
        """Show what is said of the mends, with a button for each."""
        self.mended.value = listed(found.sentences(), "What would mend it (proposed only; press to try)")
        self.mend_buttons.children = [self._button(mend) for mend in found.found]

    def _button(self, mend: Mend) -> widgets.Button:
        layout = widgets.Layout(width="98%", max_width="440px", height="auto")
        button = widgets.Button(description=mend.change, tooltip=str(mend), layout=layout)
        button.on_click(lambda _button: self._try(mend))
        return button

    def _try(self, mend: Mend) -> None:
        before, after = (values_of(group_at(block, mend.where)) for block in (self._as_written.plan.block, mend.block))
        what = differences(before, after)
        if not what or "by_week" in mend.what:  # of a drop, or of some weeks: there is no slider for these
            self.mended.value = "The sliders cannot make this change: write it into the block's file."
            return
        self.controls.changes[mend.where] = what
        self.controls.place.value = mend.where
        self.again(self.controls.fill)


def _least_likely(check: BlockCheck) -> Where | None:
    """Return the set group with the least likely set of the block; None where no set is to be made."""
    sets = check.sets.dropna(subset=["chance"]).sort_values("chance", kind="stable")
    places = sets[["session_number", "slot", "group"]].head(1).to_numpy()
    return next((Where(*map(int, place)) for place in places), None)


def _as_the_file_has_it(check: BlockCheck, as_written: BlockCheck) -> list[str]:
    """Say what the file's block came to, where it was changed."""
    if as_written.plan.block == check.plan.block:
        return []
    missed, chance = as_written.sets["missed"].sum(), in_words(as_written.chance_of_block)
    return [f"As the file has it: about {missed:.0f} reps missed, none with a chance of {chance}."]


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
            cells = {row["week"]: _prescribed(row) for row in rows_of(one)}
            shortest, longest = (f"{rest:.0f}" for rest in (one["rest_s"].min(), one["rest_s"].max()))
            rest = ("" if longest == "0" else shortest) if shortest == longest else f"{shortest} to {longest}"
            rows.append((f"{exercise}, set {label}", rest, *(cells.get(week, "") for week in weeks)))
        headings = ("set", "rest, s", *(f"week {week}" for week in weeks))
        caption = f"{session}: reps × load, and the rest before the set"
        tables.append(Table(caption, headings, tuple(rows)))
    return tables


def _prescribed(row: Mapping[Hashable, Any]) -> str:
    return f"{reps_said(row['reps_low'], row['reps_high'])} × {load_said(row)}"


def _plain(value: float | None, *, part: bool = False) -> str:
    if value is None:
        return ""
    return f"{100 * value:.0f} %" if part else f"{value:g}"


def _range(slider: NumberControl, bounds: tuple[float, float, float], value: float, label: str, number: str) -> None:
    low, high, step = bounds
    low, high = min(low, value), max(high, value)
    if low > slider.max:  # a slider refuses, for a moment too, to have its ends the wrong way round
        slider.max = high
    slider.min, slider.max, slider.step = low, high, step
    slider.description, slider.readout_format = label, number
