"""Panel: the most demanding plan within the coach's limits. The search runs beside the page and can be stopped."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Callable
from html import escape
from typing import Any

import ipywidgets as widgets
import plotly.graph_objects as go

from workbench.answers.decide import Decision, Knob, Limit, decide
from workbench.answers.outcomes import MEASURES
from workbench.figures.compare import trade_off
from workbench.panels.files import block_picker, lifter_picker, room_picker
from workbench.panels.frame import Panel, control_style, heading, row, table_box
from workbench.panels.numbers import NumberControl, NumberRange, whole_number
from workbench.panels.redraw import live, refresh
from workbench.prescription.block import Block
from workbench.prescription.group_changes import values_of
from workbench.present.tables import Table, plain_text
from workbench.present.words import amount, in_words
from workbench.quantities import SEED

__all__ = ["DecideControls", "DecidePanel"]

_WHOLE_BLOCK = "every exercise"
#: What turns at first, and how far from the block's own value each knob ranges.
_TURNED = ("percent", "reps", "rest")
_ABOUT = {"percent": (-15, 5), "step": (-2, 1), "reps": (-2, 0), "sets": (-2, 1), "rest": (0, 90)}
_PRESS = "Press <b>Find</b>."
_DEMANDS = ("tonnage", "completed_reps", "hard_sets", "intensity")
#: The least progress worth a message to the page.
_EVERY = 5


class DecideControls:
    """Every input of the decide panel.

    Attributes
    ----------
    block, lifter, room : FilePicker
    exercise : ipywidgets.Dropdown
        The exercise that the knobs turn, or every one.
    ranges : dict of str to slider
        Lowest and highest value of each knob; a knob whose ends meet is set, not searched.
    turns : dict of str to ipywidgets.Checkbox
        Which knobs may turn.
    set_chance, chance, minutes : sliders
        Limits: chance that each set of the exercise (or of every one) is made, chance that all reps of the block are
        made, longest session. A chance of 0 is no limit. The block's own limits are where they start.
    demand : ipywidgets.Dropdown
    find, stop : ipywidgets.Button
    """

    def __init__(self) -> None:
        style = control_style()
        self.block, self.lifter, self.room = block_picker(), lifter_picker(), room_picker()
        self.exercise = widgets.Dropdown(options=[_WHOLE_BLOCK], description="exercise", **style)

        def numbers(
            low: float, high: float, value: tuple[float, float], step: float, *, seconds: bool = False
        ) -> NumberRange:
            digits = ".0f" if float(step).is_integer() else ".1f"
            return NumberRange(min=low, max=high, value=value, step=step, readout_format=digits, seconds=seconds)

        self.steps = {"percent": 2.5, "step": 0.5, "reps": 1.0, "sets": 1.0, "rest": 30.0}
        self.ranges = {
            "percent": numbers(40, 95, (55, 75), 2.5),
            "step": numbers(0, 5, (0, 3), 0.5),
            "reps": numbers(1, 20, (4, 8), 1),
            "sets": numbers(1, 8, (3, 5), 1),
            "rest": numbers(30, 300, (90, 180), 30, seconds=True),
        }
        names = {
            "percent": "first load, % of 1RM",
            "step": "step a week, % of 1RM",
            "reps": "reps",
            "sets": "sets",
            "rest": "rest, s",
        }
        self.turns = {
            kind: widgets.Checkbox(value=kind in _TURNED, description=names[kind], indent=False) for kind in self.ranges
        }
        for kind, slider in self.ranges.items():
            slider.description = f"{names[kind]}, from and to"

        def percent(description: str) -> NumberControl:
            return NumberControl(value=0, min=0, max=99, step=1, readout_format=".0f", description=description)

        self.set_chance = percent("each set of the exercise, % at least")
        self.chance = percent("all reps of the block, % at least")
        self.minutes = whole_number(value=60, min=10, max=180, step=5, description="longest session, min")
        self.demand = widgets.Dropdown(
            options=[(MEASURES[key].label, key) for key in _DEMANDS], value="tonnage", description="most of", **style
        )
        self.find = widgets.Button(description="Find", button_style="primary")
        self.stop = widgets.Button(description="Stop", disabled=True)

    def layout(self) -> list[widgets.Widget]:
        """Return the controls in the order in which they are used."""
        knobs = [widget for kind in self.ranges for widget in (self.turns[kind], self.ranges[kind])]
        return [
            *(self.block.box, self.lifter.box, self.room.box, self.exercise),
            heading("What may change"),
            *knobs,
            heading("Limits"),
            *(self.set_chance, self.chance, self.minutes, self.demand, row(self.find, self.stop)),
        ]

    @property
    def chosen_exercise(self) -> str | None:
        """The exercise that the knobs turn; None for every one."""
        return None if self.exercise.value in (None, _WHOLE_BLOCK) else str(self.exercise.value)

    def start_from(self, block: Block) -> None:
        """Set the ranges about what the block has for the exercise, on the side of what is easier."""
        groups = [
            group
            for session in block.expanded_sessions()
            for slot in session.exercises
            if slot.exercise == self.chosen_exercise
            for group in slot.sets
        ]
        if not groups:
            return
        values = values_of(groups[0])
        starts = {"percent": values.load if values.way == "percent" else None, "reps": values.reps}
        starts |= {"step": values.step, "sets": values.sets, "rest": values.rest_s}
        for kind, slider in self.ranges.items():
            start = starts[kind]
            self.turns[kind].value = kind in _TURNED and start is not None
            if start is not None:
                low, high = (start + by for by in _ABOUT[kind])
                slider.value = (max(low, slider.min), min(high, slider.max))

    def observe(self, changed: Callable[[Any], None]) -> None:
        """Call ``changed`` after any change of what is asked."""
        for picker in (self.block, self.lifter, self.room):
            picker.observe(changed)
        for control in (
            *self.ranges.values(),
            *self.turns.values(),
            self.exercise,
            self.set_chance,
            self.chance,
            self.minutes,
            self.demand,
        ):
            control.observe(changed, "value")

    def knobs(self) -> list[Knob]:
        """Return the knobs that may turn."""
        exercise = self.chosen_exercise
        found = []
        for kind, slider in self.ranges.items():
            if self.turns[kind].value:
                low, high = slider.value
                count = round((high - low) / self.steps[kind])
                values = tuple(low + self.steps[kind] * at for at in range(count + 1))
                found.append(Knob(kind, values, exercise=exercise))
        return found

    def limits(self) -> list[Limit]:
        """Return the limits as the controls stand."""
        of_sets = "set_chance" if self.chosen_exercise is None else f"set_chance:{self.chosen_exercise}"
        chances = ((of_sets, self.set_chance.value), ("all_reps", self.chance.value))
        return [
            *(Limit(key, at_least=percent / 100) for key, percent in chances if percent),
            Limit("session_minutes", at_most=self.minutes.value),
        ]


class DecidePanel(Panel):
    """Controls, progress, the plan found, the trade-off around it, and why it cannot be more.

    Parameters
    ----------
    seed : int
        The same seed gives the same answer.
    draws : int
        Simulated lifters and days.

    Attributes
    ----------
    controls : DecideControls
    answer, limit_rows, reasons : ipywidgets.HTML
    bar : ipywidgets.IntProgress
    front : plotly FigureWidget
    last : Decision or None
    """

    def __init__(self, *, seed: int = SEED, draws: int = 1000) -> None:
        self.seed, self.draws = seed, draws
        self.controls = DecideControls()
        self.last: Decision | None = None
        self._stop, self._changed = threading.Event(), threading.Event()
        self.answer = widgets.HTML(_PRESS)
        self.answer.add_class("workbench-answer")
        self.bar = widgets.IntProgress(min=0, max=1, layout=widgets.Layout(width="98%", visibility="hidden"))
        self.limit_rows, self.reasons = table_box(), widgets.HTML()
        self.front = live(go.Figure())
        super().__init__(self.controls.layout(), [self.answer, self.bar, self.front, self.limit_rows, self.reasons])
        self._list_exercises()
        self.controls.block.observe(self._list_exercises)
        self.controls.exercise.observe(self._start_from, "value")
        self.controls.observe(self._choice_changed)
        self.controls.find.on_click(self._start)
        self.controls.stop.on_click(lambda _: self._stop.set())

    @property
    def chosen(self) -> Block | None:
        """The block found; None where none keeps the limits or none was looked for."""
        return None if self.last is None else self.last.chosen

    def run(self) -> None:
        """Search here and now, and show the answer."""
        self._stop.clear()
        self._changed.clear()
        with self.explained():
            controls = self.controls
            found = decide(
                controls.block.read(),
                controls.lifter.read(),
                controls.room.read(),
                controls.knobs(),
                limits=controls.limits(),
                demand=controls.demand.value,
                draws=self.draws,
                seed=self.seed,
                progress=self._progress,
                stop=self._stop,
            )
            if self._changed.is_set():
                self.blank(f"The choice changed during the search. {_PRESS}")
                return
            self.last = found
            self._show()

    def forget(self) -> None:
        """Forget the last answer."""
        self.last = None

    def _choice_changed(self, _change: object) -> None:
        """Take away an answer to another question, found or still being looked for."""
        self._changed.set()
        self._stop.set()
        self.blank(_PRESS)

    def text(self) -> str:
        """Return the answer as plain text; searches first where that has not been done."""
        if self.last is None:
            self.run()
        if self.last is None:
            return "No answer: the panel says what cannot be used."
        return plain_text(self._sentences(), self._table(), self._reasons())

    def _list_exercises(self, _change: object = None) -> None:
        with self.explained():
            block = self.controls.block.read()
            names = dict.fromkeys(slot.exercise for one in block.expanded_sessions() for slot in one.exercises)
            if list(self.controls.exercise.options) == [_WHOLE_BLOCK, *names]:
                return
            self.controls.exercise.options = [_WHOLE_BLOCK, *names]
            self.controls.exercise.value = next(iter(names))
            self.controls.set_chance.value = 100 * block.limits.chance_of_reps
            if block.limits.session_minutes is not None:
                self.controls.minutes.value = round(block.limits.session_minutes)
            self.controls.start_from(block)

    def _start_from(self, _change: object) -> None:
        with self.explained():
            self.controls.start_from(self.controls.block.read())

    def _start(self, _button: object) -> None:
        """Search in a thread of its own, so that the page stays alive; without an event loop, at once."""
        self.controls.find.disabled, self.controls.stop.disabled = True, False
        self.bar.layout.visibility = "visible"
        try:
            asyncio.get_running_loop()
        except RuntimeError:
            self._finish_after(self.run)
            return
        threading.Thread(target=self._finish_after, args=(self.run,), daemon=True).start()

    def _finish_after(self, work: Any) -> None:
        try:
            work()
        finally:
            self.controls.find.disabled, self.controls.stop.disabled = False, True
            self.bar.layout.visibility = "hidden"

    def _progress(self, done: int, expected: int, best: str) -> None:
        if done % _EVERY and done != expected:
            return
        self.bar.max, self.bar.value = expected, done
        self.answer.value = f"{done} of at most {expected} plans; best so far: {escape(best)}"

    def _show(self) -> None:
        assert self.last is not None
        first, *others = (escape(line) for line in self._sentences())
        self.answer.value = f"<b>{first}</b>" + "".join(f"<br>{line}" for line in others)
        figure = trade_off(
            self.last.candidates,
            self.last.front,
            demand_label=self.last.demand_label,
            limit=self.controls.chance.value / 100 or None,
        )
        refresh(self.front, figure)
        self.limit_rows.value = self._table().html()
        self.reasons.value = "".join(f"<li>{escape(line)}</li>" for line in self._reasons())

    def _sentences(self) -> list[str]:
        assert self.last is not None
        found = self.last
        head = "Most demanding within the limits" if found.chosen is not None else "No plan keeps the limits; closest"
        demand = f"{found.demand_label[:1].upper()}{found.demand_label[1:]}: {amount(found.demand)}."
        lines = [
            f"{head}: {found.settings}.",
            f"{demand} Chance that all reps of the block are made: {in_words(found.chance)}.",
            f"Least likely set of the whole block: {found.weakest}.",
            f"{found.tried} plans tried ({found.method}), all on the same simulated days.",
        ]
        if not found.finished:
            lines.append("Stopped before the end: this is the best so far.")
        return lines

    def _reasons(self) -> list[str]:
        """Why it cannot be more, a sentence a limit and a knob."""
        assert self.last is not None
        lines = [f"{one['limit']}: {one['reason']}." for one in self.last.limits.to_dict("records") if one["binds"]]
        if self.last.chosen is not None and not lines:
            lines.append("No limit binds: nothing in the ranges demands more. Widen a range, or turn another knob.")
        lines += [
            f"One value harder, {one['change']}: "
            + (f"breaks {one['breaks']}." if one["breaks"] else "keeps the limits.")
            for one in self.last.steps.to_dict("records")
        ]
        return lines

    def _table(self) -> Table:
        assert self.last is not None
        rows = tuple(
            (one["limit"], amount(one["value"]), "yes" if one["binds"] else "no")
            for one in self.last.limits.to_dict("records")
        )
        return Table("Limits", ("limit", "here", "binds"), rows)
