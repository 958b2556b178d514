"""Panel of the question what a lifter can do at a load: curve, published equations, own sets."""

from __future__ import annotations

from collections.abc import Callable
from html import escape

import ipywidgets as widgets

from workbench.answers.curve import CurveAnswer, curve_question
from workbench.answers.own_sets import own_sets_table
from workbench.figures.curve import curve_figure
from workbench.models.published import EQUATIONS
from workbench.panels.frame import control_style, quiet, table_box
from workbench.panels.numbers import whole_number
from workbench.panels.one_exercise import OneExerciseControls, OneExercisePanel
from workbench.panels.redraw import live, refresh
from workbench.panels.tables import Row, table_of
from workbench.present.tables import Table
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


class CurvePanel(OneExercisePanel):
    """Controls, the load-reps curve with its band, and a table of reps by percent.

    Attributes
    ----------
    controls : CurveControls
    rows : ipywidgets.HTML
    figure : plotly FigureWidget
    last : CurveAnswer or None
    """

    controls: CurveControls
    last: CurveAnswer | None

    def __init__(self, *, seed: int = SEED, draws: int = 2000) -> None:
        super().__init__(seed=seed, draws=draws)
        self.controls = chosen = CurveControls()
        self.figure, self.rows = live(), table_box()
        several = quiet("Several equations: hold Ctrl (or Cmd) and click.")
        files = [chosen.lifter, chosen.room, chosen.exercise, chosen.load]
        self.arrange([*files, chosen.reps, chosen.own_sets, chosen.equations, several], [self.figure, self.rows])
        self.start(chosen.reps, chosen.own_sets, chosen.equations)

    def draw(self) -> None:
        """Work out and show the curve, what it says at the load, and own sets."""
        chosen = self.controls
        answer = curve_question(
            self._lifter,
            chosen.exercise.value,
            load_kg=chosen.load.value,
            reps_wanted=chosen.reps.value,
            equations=chosen.equations.value,
            draws=self.draws,
            seed=self.seed,
        )
        own = own_sets_table(chosen.own_sets.value, float(answer.one_rm["believed_kg"].iloc[0]))
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
        self.put(self.answer, _sentences(answer, self._say))
        self.put(self.rows, _table(answer, self._say))

    def _say(self, load_kg: float) -> str:
        """Say a load, or a 1RM, in the unit of the equipment; two dumbbells by one hand."""
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
    by_equation = answer.equations.pivot(index="percent", columns="equation", values="reps")
    rows = answer.curve.join(by_equation, on="percent")
    return table_of(
        "Reps to failure, fresh (* extrapolated; blank: outside the equation's range)",
        rows[rows["percent"].isin(_TABLE_PERCENTS)][::-1],
        {
            "of 1RM": lambda row: f"{row['percent']:.0f} %{'' if row['studied'] else ' *'}",
            "load": lambda row: say(row["load_kg"]),
            "this lifter": "{reps_p50:.0f} ({reps_p10:.0f}-{reps_p90:.0f})",
            **{name: _reps_by(name) for name in answer.equations["equation"].unique()},
        },
    )


def _reps_by(equation: str) -> Callable[[Row], str]:
    return lambda row: "" if row[equation] != row[equation] else f"{row[equation]:.0f}"
