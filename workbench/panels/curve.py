"""Panel of the question what a lifter can do at a load: curve, published equations, own sets."""

from __future__ import annotations

from collections.abc import Callable
from html import escape

import ipywidgets as widgets

from workbench.answers.curve import CurveAnswer, curve_question, own_sets_table
from workbench.figures.curve import curve_figure
from workbench.models.published import EQUATIONS
from workbench.panels.frame import control_style, table_box
from workbench.panels.numbers import whole_number
from workbench.panels.one_exercise import OneExerciseControls, OneExercisePanel
from workbench.panels.redraw import live, refresh
from workbench.present.tables import Table, plain_text
from workbench.present.words import in_words, say_load
from workbench.quantities import SEED

__all__ = ["CurveControls", "CurvePanel"]

_FIRST_EQUATIONS = ("brzycki_1993", "epley_1985", "mayhew_1992")
_TABLE_PERCENTS = (95, 90, 85, 80, 75, 70, 65, 60)


class CurveControls(OneExerciseControls):
    """Every input of the curve panel, besides those of one exercise.

    Attributes
    ----------
    reps : NumberControl
    equations : ipywidgets.SelectMultiple
        Names of published equations.
    own_sets : ipywidgets.Text
        The lifter's own sets to failure, as load x reps, parted by semicolons.
    """

    def __init__(self) -> None:
        super().__init__("load of the room")
        self.reps = whole_number(value=8, min=1, max=40, description="reps wanted")
        self.own_sets = widgets.Text(
            description="own sets", placeholder="80 x 8; 72.5 x 11", continuous_update=False, **control_style()
        )
        self.equations = widgets.SelectMultiple(
            options=[(equation.label, name) for name, equation in EQUATIONS.items()],
            value=_FIRST_EQUATIONS,
            rows=7,
            description="equations",
            **control_style(),
        )

    def changing(self) -> tuple[widgets.Widget, ...]:
        """Return the controls whose change needs no file read again."""
        return (self.load, self.reps, self.own_sets, self.equations)

    def layout(self) -> list[widgets.Widget]:
        """Return the controls in the order in which a coach uses them."""
        several = widgets.HTML("Several equations: hold Ctrl (or Cmd) and click.")
        several.add_class("workbench-quiet")
        return [*super().layout(), self.reps, self.own_sets, self.equations, several]


class CurvePanel(OneExercisePanel):
    """Controls, the load-reps curve with its band, and a table of reps by percent.

    Parameters
    ----------
    seed : int
        The same seed gives the same digits.
    draws : int
        Simulated lifters and days.

    Attributes
    ----------
    controls : CurveControls
    answer, rows : ipywidgets.HTML
    figure : plotly FigureWidget
    last : CurveAnswer or None
    """

    controls: CurveControls

    def __init__(self, *, seed: int = SEED, draws: int = 2000) -> None:
        self.seed, self.draws = seed, draws
        self.controls = CurveControls()
        self.last: CurveAnswer | None = None
        self.answer, self.rows = widgets.HTML(), table_box()
        self.answer.add_class("workbench-answer")
        self.figure = live()
        super().__init__(self.controls.layout(), [self.answer, self.figure, self.rows])
        self.start()

    def text(self) -> str:
        """Return the answer as plain text, for the controls as they stand."""
        self._redraw.now()
        if self.last is None:
            return "No answer yet: the panel says what cannot be used."
        return plain_text(_sentences(self.last, self._say), _table(self.last, self._say))

    def forget(self) -> None:
        """Forget the last answer."""
        self.last = None

    def _draw(self) -> None:
        if self._lifter is None or self._room is None:
            return
        with self.explained():
            controls = self.controls
            answer = curve_question(
                self._lifter,
                controls.exercise.value,
                load_kg=controls.load.value,
                reps_wanted=controls.reps.value,
                equations=controls.equations.value,
                draws=self.draws,
                seed=self.seed,
            )
            own = own_sets_table(controls.own_sets.value, float(answer.one_rm["believed_kg"].iloc[0]))
            self.last = answer
            figure = curve_figure(
                answer.curve,
                answer.equations,
                answer.at_load,
                own_sets=own,
                title=f"Reps to failure of a fresh set: {escape(answer.exercise)}",
                note=_note(answer),
            )
            refresh(self.figure, figure)
            first, *others = (escape(sentence) for sentence in _sentences(answer, self._say))
            self.answer.value = f"<b>{first}</b><br>" + "<br>".join(others)
            self.rows.value = _table(answer, self._say).html()

    def _say(self, load_kg: float) -> str:
        """Say a load, or a 1RM, in the unit of the equipment; two dumbbells by one hand."""
        assert self._room is not None
        table = self._room.loads_for(self._room.catalogue.exercise(self.controls.exercise.value))
        return say_load(load_kg, table.unit, hands=table.hands, digits=1).replace(".0 ", " ")


def _sentences(answer: CurveAnswer, say: Callable[[float], str]) -> list[str]:
    row, one_rm = answer.at_load.iloc[0], answer.one_rm.iloc[0]
    reps = f"probably {row['reps_p50']:.0f} reps ({row['reps_p10']:.0f} to {row['reps_p90']:.0f})"
    return [
        (
            f"At {say(row['load_kg'])} ({row['percent']:.0f} % of 1RM): {reps}; "
            f"{row['reps_wanted']:.0f} reps or more: {in_words(row['chance'])}."
        ),
        (
            f"The 1RM is taken as {say(one_rm['believed_kg'])} "
            f"({say(one_rm['low_kg'])} to {say(one_rm['high_kg'])}); brackets hold the middle 80 %."
        ),
        _endurance(answer),
    ]


def _endurance(answer: CurveAnswer) -> str:
    if answer.endurance_known:
        return "Endurance: this lifter's own, from the lifter's file."
    return f"Endurance: not known of this lifter, so what is usual in this kind of exercise ({answer.grade})."


def _note(answer: CurveAnswer) -> str:
    known = "the lifter's own" if answer.endurance_known else f"usual for the kind of exercise ({answer.grade})"
    return f"Endurance: {known}. Dotted: extrapolated, outside the percents that were studied."


def _table(answer: CurveAnswer, say: Callable[[float], str]) -> Table:
    """Reps at round percents: this lifter, then each equation; blank where an equation is not valid."""
    names = list(dict.fromkeys(answer.equations["equation"]))
    by_equation = {(row["equation"], row["percent"]): row["reps"] for row in answer.equations.to_dict("records")}
    rows = []
    for row in answer.curve.to_dict("records"):
        if row["percent"] not in _TABLE_PERCENTS:
            continue
        mark = "" if row["studied"] else " *"
        cells = [by_equation[name, row["percent"]] for name in names]
        rows.append(
            (
                f"{row['percent']:.0f} %{mark}",
                say(row["load_kg"]),
                f"{row['reps_p50']:.0f} ({row['reps_p10']:.0f}-{row['reps_p90']:.0f})",
                *("" if reps != reps else f"{reps:.0f}" for reps in cells),
            )
        )
    caption = "Reps to failure, fresh (* extrapolated; blank: outside the equation's range)"
    return Table(caption, ("of 1RM", "load", "this lifter", *names), tuple(reversed(rows)))
