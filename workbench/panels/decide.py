"""Panel: the most demanding plan within the coach's limits. The search runs beside the page and can be stopped."""

from __future__ import annotations

from html import escape
from typing import NamedTuple

import ipywidgets as widgets

from workbench.answers.decide import Decision, Knob, Limit, decide
from workbench.answers.outcomes import MEASURES
from workbench.figures.compare import trade_off
from workbench.panels.controls import BlockFiles, KeepBlock, NumberRange, number, whole_number
from workbench.panels.desk import Desk
from workbench.panels.frame import control_style, heading, live, refresh, row, table_box
from workbench.panels.pressed import PressedPanel
from workbench.panels.tables import table_of
from workbench.prescription.block import Block
from workbench.prescription.group_changes import values_of
from workbench.present.tables import Table
from workbench.present.words import amount, in_words
from workbench.quantities import SEED

__all__ = ["DecideControls", "DecidePanel"]

_WHOLE_BLOCK = "every exercise"


class _Turn(NamedTuple):
    """A knob as the coach sees it: its range, its first ends, its step, and how far about the block's own value."""

    name: str
    low: float
    high: float
    value: tuple[float, float]
    step: float
    about: tuple[float, float]


_KNOBS = {
    "percent": _Turn("first load, % of 1RM", 40, 95, (55, 75), 2.5, (-15, 5)),
    "step": _Turn("step a week, % of 1RM", 0, 5, (0, 3), 0.5, (-2, 1)),
    "reps": _Turn("reps", 1, 20, (4, 8), 1.0, (-2, 0)),
    "sets": _Turn("sets", 1, 8, (3, 5), 1.0, (-2, 1)),
    "rest": _Turn("rest, s", 30, 300, (90, 180), 30.0, (0, 90)),
}
#: What turns at first.
_TURNED = ("percent", "reps", "rest")
_DEMANDS = ("tonnage", "completed_reps", "hard_sets", "intensity")
#: The least progress worth a message to the page.
_EVERY = 5


class DecideControls(BlockFiles):
    """Every input of the decide panel.

    Attributes
    ----------
    exercise : ipywidgets.Dropdown
        The exercise that the knobs turn, or every one.
    ranges : dict of str to slider
        Lowest and highest value of each knob; a knob whose ends meet is set, not searched.
    turns : dict of str to ipywidgets.Checkbox
        Which knobs may turn.
    set_chance, chance, minutes : sliders
        Limits: chance that each set of the exercise (or of every one) is made, chance that all reps of the block are
        made, longest session. A chance of 0 is no limit. The block's own limits are where they start.
    """

    def __init__(self, desk: Desk | None = None) -> None:
        super().__init__(desk)
        style = control_style()
        self.exercise = widgets.Dropdown(options=[_WHOLE_BLOCK], description="exercise", **style)
        self.ranges = {
            kind: NumberRange(
                description=f"{knob.name}, from and to",
                value=knob.value,
                min=knob.low,
                max=knob.high,
                step=knob.step,
                readout_format=".0f" if knob.step.is_integer() else ".1f",
                seconds=kind == "rest",
            )
            for kind, knob in _KNOBS.items()
        }
        self.turns = {
            kind: widgets.Checkbox(value=kind in _TURNED, description=knob.name, indent=False)
            for kind, knob in _KNOBS.items()
        }
        self.set_chance = number("each set of the exercise, % at least", 0, 0, 99, 1, digits=0)
        self.chance = number("all reps of the block, % at least", 0, 0, 99, 1, digits=0)
        self.minutes = whole_number(value=60, min=10, max=180, step=5, description="longest session, min")
        self.demand = widgets.Dropdown(
            options=[(MEASURES[key].label, key) for key in _DEMANDS], value="tonnage", description="most of", **style
        )
        self.find = widgets.Button(description="Find", button_style="primary")

    @property
    def chosen_exercise(self) -> str | None:
        """The exercise that the knobs turn; None for every one."""
        return None if self.exercise.value in (None, _WHOLE_BLOCK) else str(self.exercise.value)

    def offer(self, block: Block) -> None:
        """Offer the exercises of another block, and start from its limits and its first exercise."""
        names = dict.fromkeys(slot.exercise for session in block.expanded_sessions() for slot in session.exercises)
        if list(self.exercise.options) == [_WHOLE_BLOCK, *names]:
            return
        self.exercise.options = [_WHOLE_BLOCK, *names]
        self.exercise.value = next(iter(names))
        self.set_chance.value = 100 * block.limits.chance_of_reps
        if block.limits.session_minutes is not None:
            self.minutes.value = round(block.limits.session_minutes)
        self.start_from(block)

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
                low, high = (start + by for by in _KNOBS[kind].about)
                slider.value = (max(low, slider.min), min(high, slider.max))

    def knobs(self) -> list[Knob]:
        """Return the knobs that may turn."""
        exercise = self.chosen_exercise
        found = []
        for kind, slider in self.ranges.items():
            if self.turns[kind].value:
                low, high = slider.value
                step = _KNOBS[kind].step
                values = tuple(low + step * at for at in range(round((high - low) / step) + 1))
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


class DecidePanel(PressedPanel):
    """Controls, progress, the plan found, the trade-off around it, and why it cannot be more."""

    press = "Press <b>Find</b>."
    doing = "search"
    last: Decision | None

    def __init__(self, desk: Desk | None = None, *, seed: int = SEED, draws: int = 1000) -> None:
        self.controls = chosen = DecideControls(desk)
        super().__init__(chosen.find, seed=seed, draws=draws)
        self.limit_rows, self.reasons = table_box(), widgets.HTML()
        self.front = live()
        self.keep = KeepBlock("Keep this block as a new one", chosen.desk, lambda: self.chosen)
        knobs = [widget for kind in chosen.ranges for widget in (chosen.turns[kind], chosen.ranges[kind])]
        limits = [chosen.set_chance, chosen.chance, chosen.minutes, chosen.demand]
        changing, limiting = heading("What may change"), heading("Limits")
        self.arrange(
            [
                *chosen.files,
                chosen.exercise,
                changing,
                *knobs,
                limiting,
                *limits,
                row(chosen.find, self.stop),
                self.keep,
            ],
            [self.bar, self.front, self.limit_rows, self.reasons],
        )
        self.step(lambda: chosen.offer(chosen.block.read()), chosen.block, prepares=True)
        self.step(lambda: chosen.start_from(chosen.block.read()), chosen.exercise, prepares=True)
        self.watch(chosen.lifter, chosen.room, *knobs, *limits)
        self.take_steps()

    @property
    def chosen(self) -> Block | None:
        """The block found; None where none keeps the limits or none was looked for."""
        return None if self.last is None else self.last.chosen

    def work_out(self) -> Decision:
        """Return the most demanding plan found; the best so far where the search is stopped."""
        chosen = self.controls
        return decide(
            *chosen.read(),
            chosen.knobs(),
            limits=chosen.limits(),
            demand=chosen.demand.value,
            draws=self.draws,
            seed=self.seed,
            progress=self._progress,
            stop=self._stop,
        )

    def show_answer(self) -> None:
        """Show the plan, the trade-off around it, and its limits."""
        assert self.last is not None
        found, limit = self.last, self.controls.chance.value / 100 or None
        self.put(self.answer, _sentences(found))
        refresh(self.front, trade_off(found.candidates, found.front, demand_label=found.demand_label, limit=limit))
        self.put(self.limit_rows, _table(found))
        self.put(self.reasons, _reasons(found))

    def _progress(self, done: int, expected: int, best: str) -> None:
        if done % _EVERY == 0 or done == expected:
            self.progress(done, expected, f"{done} of at most {expected} plans; best so far: {escape(best)}")


def _sentences(found: Decision) -> list[str]:
    head = "Most demanding within the limits" if found.chosen is not None else "No plan keeps the limits; closest"
    label, _, unit = found.demand_label.partition(", ")
    demand = f"{label[:1].upper()}{label[1:]}: {amount(found.demand)}{f' {unit}' if unit else ''}."
    lines = [
        f"{head}: {found.settings}.",
        f"{demand} Chance that all reps of the block are made: {in_words(found.chance)}.",
        f"Least likely set of the whole block: {found.weakest}.",
        *([] if found.rules is None else found.rules.sentences()),
        f"{found.tried} plans tried ({found.method}), all on the same simulated days.",
    ]
    if not found.finished:
        lines.append("Stopped before the end: this is the best so far.")
    return lines


def _reasons(found: Decision) -> list[str]:
    """Why it cannot be more, a sentence a limit and a knob."""
    lines = [f"{limit['limit']}: {limit['reason']}." for limit in found.limits.to_dict("records") if limit["binds"]]
    if found.chosen is not None and not lines:
        lines.append("No limit binds: nothing in the ranges demands more. Widen a range, or turn another knob.")
    for step in found.steps.to_dict("records"):
        what = f"breaks {step['breaks']}" if step["breaks"] else "keeps the limits"
        lines.append(f"One value harder, {step['change']}: {what}.")
    return lines


def _table(found: Decision) -> Table:
    return table_of(
        "Limits",
        found.limits,
        {
            "limit": "{limit}",
            "here": "{here}",
            "binds": lambda limit: "yes" if limit["binds"] else "no",
        },
    )
