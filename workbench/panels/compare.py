"""Panel: which of these schemes? Schemes of the library on one exercise, met by the same simulated days."""

from __future__ import annotations

from collections.abc import Callable
from html import escape
from typing import Any

import ipywidgets as widgets
import plotly.graph_objects as go

from workbench.answers.compare import DEFAULT_MEASURES, Comparison, compare_blocks
from workbench.answers.outcomes import MEASURES
from workbench.figures.compare import difference_bands, scheme_bands
from workbench.panels.files import lifter_picker, room_picker
from workbench.panels.frame import Panel, control_style, heading, table_box
from workbench.panels.numbers import NumberControl, whole_number
from workbench.panels.redraw import Redraw, live, refresh
from workbench.prescription.schemes import SCHEMES, Scheme, exercise_block
from workbench.present.tables import Table, plain_text
from workbench.present.words import amount, in_words
from workbench.quantities import SEED

__all__ = ["CompareControls", "ComparePanel"]

_START = ("constant step", "wave", "undulating", "top set with back-offs")


class CompareControls:
    """Every input of the compare panel.

    Attributes
    ----------
    lifter, room : FilePicker
    exercise : ipywidgets.Dropdown
        Among the lifter's lifts.
    schemes : ipywidgets.SelectMultiple
    percent, step, rest : NumberControl
    sets, reps, weeks, days : NumberControl
        Common to all schemes.
    outcome : ipywidgets.Dropdown
        Orders the schemes and chooses the figures.
    """

    def __init__(self) -> None:
        style = control_style()
        self.lifter, self.room = lifter_picker(), room_picker()
        self.exercise = widgets.Dropdown(options=["barbell bench pull"], description="exercise", **style)
        self.schemes = widgets.SelectMultiple(
            options=list(SCHEMES), value=_START, rows=len(SCHEMES), description="schemes", **style
        )

        def whole(name: str, value: int, low: int, high: int) -> NumberControl:
            return whole_number(value=value, min=low, max=high, description=name)

        def number(
            name: str, value: float, low: float, high: float, by: float, *, seconds: bool = False
        ) -> NumberControl:
            return NumberControl(
                value=value, min=low, max=high, step=by, readout_format=".1f", description=name, seconds=seconds
            )

        self.percent = number("first load, % of 1RM", 70, 40, 95, 2.5)
        self.step = number("step, points a week", 2, 0, 5, 0.5)
        self.rest = number("rest, s", 150, 30, 300, 15, seconds=True)
        self.sets, self.reps = whole("sets", 5, 1, 10), whole("reps", 5, 1, 15)
        self.weeks, self.days = whole("weeks", 4, 1, 12), whole("days a week", 2, 1, 4)
        named = [(one.label, key) for key, one in MEASURES.items()]
        self.outcome = widgets.Dropdown(options=named, value="lowest_reserve", description="order by", **style)

    def layout(self) -> list[widgets.Widget]:
        """Return the controls in the order in which they are used."""
        return [
            *(self.lifter.box, self.room.box, self.exercise, self.schemes),
            heading("Common to all schemes"),
            *(self.percent, self.step, self.sets, self.reps, self.rest, self.weeks, self.days),
            self.outcome,
        ]

    def observe(self, changed: Callable[[Any], None]) -> None:
        """Call ``changed`` after any change that needs another simulation."""
        for control in (*self.sliders, self.exercise, self.schemes):
            control.observe(changed, "value")

    @property
    def sliders(self) -> tuple[widgets.Widget, ...]:
        """The sliders."""
        return (self.percent, self.step, self.sets, self.reps, self.rest, self.weeks, self.days)

    def build(self, label: str) -> Scheme:
        """Return a scheme of the library with the parameters as the controls stand."""
        return SCHEMES[label](
            percent=self.percent.value,
            step=self.step.value,
            sets=self.sets.value,
            reps=self.reps.value,
            rest_s=self.rest.value,
            weeks=self.weeks.value,
        )


class ComparePanel(Panel):
    """Controls, schemes ordered by one outcome, and their differences on the same days.

    Parameters
    ----------
    seed : int
        The same seed gives the same digits.
    draws : int
        Simulated lifters and days.

    Attributes
    ----------
    controls : CompareControls
    answer, rows, pair_rows, meanings : ipywidgets.HTML
    bands, differences : plotly FigureWidget
    last : Comparison or None
    """

    def __init__(self, *, seed: int = SEED, draws: int = 2000) -> None:
        self.seed, self.draws = seed, draws
        self.controls = CompareControls()
        self.last: Comparison | None = None
        self.answer, self.meanings = widgets.HTML(), widgets.HTML()
        self.answer.add_class("workbench-answer")
        self.meanings.add_class("workbench-quiet")
        self.rows, self.pair_rows = table_box(), table_box()
        self.bands, self.differences = live(), live()
        super().__init__(
            self.controls.layout(),
            [self.answer, self.bands, self.differences, self.meanings],
            [self.rows, self.pair_rows],
        )
        self._redraw, self._reload = Redraw(self._draw), Redraw(self._load)
        self._show = Redraw(self._show_outcome)
        self._load()
        self.controls.observe(self._redraw.ask)
        self.controls.outcome.observe(self._show.ask, "value")
        self.controls.lifter.observe(self._reload.ask)
        self.controls.room.observe(self._redraw.ask)

    def text(self) -> str:
        """Return the answer as plain text, for the controls as they stand."""
        self._redraw.now()
        if self.last is None:
            return "No answer yet: the panel says what cannot be used."
        return plain_text(self._sentences(), self._outcome_table(), self._pair_table())

    def forget(self) -> None:
        """Forget the last answer."""
        self.last = None

    def _load(self) -> None:
        with self.explained():
            lifts = list(self.controls.lifter.read().lifts)
            kept = self.controls.exercise.value
            self.controls.exercise.options = lifts
            self.controls.exercise.value = kept if kept in lifts else lifts[0]
            self._draw()

    def _draw(self) -> None:
        with self.explained():
            controls = self.controls
            lifter, room = controls.lifter.read(), controls.room.read()
            days = (1, 4, 2, 6)[: controls.days.value]
            blocks = {
                label: exercise_block(
                    controls.exercise.value,
                    controls.build(label),
                    weeks=controls.weeks.value,
                    days=sorted(days),
                    exercises=room.catalogue,
                )
                for label in controls.schemes.value
            }
            self.last = compare_blocks(
                blocks, lifter, room, outcomes=DEFAULT_MEASURES, draws=self.draws, seed=self.seed
            )
            self._show_outcome()

    def _show_outcome(self) -> None:
        if self.last is None:
            return
        with self.explained():
            self._show_last(self.last)

    def _show_last(self, last: Comparison) -> None:
        outcome = self.controls.outcome.value
        refresh(self.bands, scheme_bands(last.ordered(outcome)))
        pairs = last.pairs[last.pairs["outcome"] == outcome]
        refresh(self.differences, difference_bands(pairs) if len(pairs) else go.Figure())
        first, *others = (escape(line) for line in self._sentences())
        self.answer.value = f"<b>{first}</b>" + "".join(f"<br>{line}" for line in others)
        self.rows.value, self.pair_rows.value = self._outcome_table().html(), self._pair_table().html()
        lines = [f"{label}: {self.controls.build(label).meaning}." for label in self.controls.schemes.value]
        self.meanings.value = "<br>".join(escape(line) for line in lines)

    def _sentences(self) -> list[str]:
        assert self.last is not None
        outcome = self.controls.outcome.value
        measure = MEASURES[outcome]
        ordered = self.last.ordered(outcome)
        best = str(ordered["scheme"].iloc[0])
        word = "highest" if measure.better >= 0 else "lowest"
        lines = [f"{measure.label.capitalize()}: {best} is {word}, in the mean of {self.last.draws:,} simulated runs."]
        pairs = self.last.pairs[self.last.pairs["outcome"] == outcome].to_dict("records")
        if len(ordered) > 1:
            second = str(ordered["scheme"].iloc[1])
            row = next(one for one in pairs if {one["a"], one["b"]} == {best, second})
            turned = row["a"] != best
            wanted_higher = measure.better >= 0
            chance = row["chance_b"] if turned == wanted_higher else row["chance_a"]
            lines.append(
                f"On the same days it beats {second} in {in_words(chance)} of runs and comes to the same in "
                f"{in_words(row['chance_same'])}."
            )
        lines.append(f"What is counted: {measure.meaning}.")
        if measure.better == 0:
            lines.append("Neither more nor less of it is better for its own sake.")
        if measure.grade == "assumed":
            lines.append("This outcome rests on assumptions: use it to think, not to decide.")
        return lines

    def _outcome_table(self) -> Table:
        assert self.last is not None
        order = list(self.last.ordered(self.controls.outcome.value)["scheme"])
        rows = []
        for _, of_outcome in self.last.schemes.groupby("outcome", sort=False):
            records = {row["scheme"]: row for row in of_outcome.to_dict("records")}
            first = of_outcome.iloc[0]
            share = first["unit"] == "1"
            name = str(first["label"]) + ("" if share else f", {first['unit']}")
            cells = [
                in_words(records[one]["mean"])
                if share
                else f"{amount(records[one]['mean'])} ({amount(records[one]['p10'])}–{amount(records[one]['p90'])})"
                for one in order
            ]
            rows.append((name, *cells))
        return Table("Mean and middle 80 % of the runs", ("outcome", *order), tuple(rows))

    def _pair_table(self) -> Table:
        assert self.last is not None
        pairs = self.last.pairs[self.last.pairs["outcome"] == self.controls.outcome.value]
        rows = tuple(
            (
                f"{row['a']} minus {row['b']}",
                amount(row["difference"], signed=True),
                f"{amount(row['p10'], signed=True)} to {amount(row['p90'], signed=True)}",
                in_words(row["chance_a"]),
                in_words(row["chance_b"]),
                in_words(row["chance_same"]),
            )
            for row in pairs.to_dict("records")
        )
        label = MEASURES[self.controls.outcome.value].label
        headings = ("on the same days", "mean", "middle 80 %", "higher in", "lower in", "same in")
        return Table(f"Differences of {label}", headings, rows)
