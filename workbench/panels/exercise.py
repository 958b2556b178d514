"""Panels about one exercise: what a lifter can do at a load, and how large a drop should be."""

from __future__ import annotations

from collections.abc import Callable
from html import escape
from itertools import takewhile
from typing import TYPE_CHECKING, Any

import ipywidgets as widgets

from workbench.answers.curve import CurveAnswer, curve_question, own_sets_table
from workbench.answers.drop import DropAnswer, chain_loads, drop_chain_table, drop_question, room_loads
from workbench.figures.curve import curve_figure
from workbench.figures.drop import chain_figure, drop_figure
from workbench.models.published import EQUATIONS
from workbench.panels.controls import lifter_picker, room_picker, whole_number
from workbench.panels.desk import Desk
from workbench.panels.frame import control_style, heading, live, quiet, refresh, table_box
from workbench.panels.panel import Panel
from workbench.panels.tables import Row, chance, table_of
from workbench.present.tables import Table, rows_of
from workbench.present.words import in_words, reps_band, reps_expected, say_load
from workbench.quantities import SEED, InputError
from workbench.reference.sources import claims

if TYPE_CHECKING:
    from collections.abc import Hashable

    import pandas as pd

    from workbench.gym.catalogue import Exercise
    from workbench.gym.equipment import Room
    from workbench.lifter import Lifter

__all__ = ["CurveControls", "CurvePanel", "DropControls", "DropPanel"]

_FIRST_EQUATIONS = ("brzycki_1993", "epley_1985", "mayhew_1992")
_TABLE_PERCENTS = (95, 90, 85, 80, 75, 70, 65, 60)


class OneExerciseControls:
    """A lifter, a room, an exercise of the lifter and a load of the room.

    Attributes
    ----------
    load : ipywidgets.SelectionSlider
        One of the loads that the room has for the exercise; its value is in kg.
    """

    #: The exercise that is chosen at first, where the lifter has it.
    first_exercise = ""

    def __init__(self, load_label: str, desk: Desk | None = None) -> None:
        desk = desk or Desk()
        self.lifter, self.room = lifter_picker(desk), room_picker(desk)
        self.exercise = widgets.Dropdown(description="exercise", **control_style())
        self.load = widgets.SelectionSlider(options=[("-", 0.0)], description=load_label, **control_style())
        self.common = (self.lifter, self.room, self.exercise, self.load)

    def take(self, lifter: Lifter) -> None:
        """Offer the exercises of a lifter, keeping the chosen one where it is among them; InputError without any."""
        if not lifter.lifts:
            remedy = "type any set that is remembered where the lifter is edited"
            raise InputError(None, f"lifter {lifter.name}", "has no lift that is known", remedy)
        chosen = self.exercise.value or self.first_exercise
        self.exercise.options = list(lifter.lifts)
        self.exercise.value = chosen if chosen in lifter.lifts else next(iter(lifter.lifts))

    def take_loads(self, loads: list[tuple[str, float]], exercise: Exercise) -> None:
        """Offer loads of an exercise; one from the middle upward is chosen where the old one is not among them."""
        chosen = self.load.value
        start = loads[(3 * len(loads)) // 5][1]
        self.load.options = loads
        self.load.value = chosen if chosen in [kg for _, kg in loads] else start


class OneExercisePanel(Panel):
    """A panel whose answer is about one exercise of one lifter in one room.

    Another lifter or room is read, then the exercise's loads are listed, then the answer is drawn by `draw`, and
    said by `say` once it is on the screen.
    """

    controls: OneExerciseControls
    _lifter: Lifter
    _room: Room

    def list_steps(self, *others: widgets.Widget) -> None:
        """Name the steps to the answer, which every change of these and the common controls makes due."""
        controls = self.controls
        self.step(self._read, controls.lifter, controls.room, prepares=True)
        self.step(self._list_loads, controls.exercise, after=self._read, prepares=True)
        self.step(self.draw, controls.load, *others, after=self._list_loads)
        self.step(self.say, after=self.draw, later=True)

    def draw(self) -> None:
        """Work out the answer and draw it."""
        raise NotImplementedError

    def say(self) -> None:
        """Say the answer in sentences and a table."""
        raise NotImplementedError

    def _read(self) -> None:
        self._lifter, self._room = self.controls.lifter.read(), self.controls.room.read()
        self.controls.take(self._lifter)

    def _list_loads(self) -> None:
        exercise = self._room.catalogue.exercise(self.controls.exercise.value)
        self.controls.take_loads(room_loads(self._room, self._lifter, exercise.name), exercise)


class CurveControls(OneExerciseControls):
    """Every input of the curve panel, besides those of one exercise.

    Attributes
    ----------
    own_sets : ipywidgets.Text
        The lifter's own sets to failure, as load x reps, parted by semicolons.
    """

    def __init__(self, desk: Desk | None = None) -> None:
        super().__init__("load of the room", desk)
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
    """Controls, the load-reps curve with its band, and a table of reps by percent."""

    controls: CurveControls
    last: CurveAnswer | None

    def __init__(self, desk: Desk | None = None, *, seed: int = SEED, draws: int = 2000) -> None:
        super().__init__(seed=seed, draws=draws)
        self.controls = chosen = CurveControls(desk)
        self.figure, self.rows = live(), table_box()
        several = quiet("Several equations: hold Ctrl (or Cmd) and click.")
        self.arrange(
            [*chosen.common, chosen.reps, chosen.own_sets, chosen.equations, several], [self.figure, self.rows]
        )
        self.list_steps(chosen.reps, chosen.own_sets, chosen.equations)
        self.take_steps(at_once=True)

    def draw(self) -> None:
        """Work out and draw the curve, what it says at the load, and own sets."""
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
        table = self._room.loads_for(self._room.catalogue.exercise(chosen.exercise.value))
        believed_kg = float(answer.one_rm["believed_kg"].iloc[0])
        own = own_sets_table(chosen.own_sets.value, believed_kg, unit=table.unit, hands=table.hands)
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

    def say(self) -> None:
        """Say what the curve comes to at the load, and at round percents."""
        assert self.last is not None
        self.put(self.answer, _curve_sentences(self.last, self._load_said))
        self.put(self.rows, _curve_table(self.last, self._load_said))

    def _load_said(self, load_kg: float) -> str:
        """Say a load, or a 1RM, in the unit of the equipment; two dumbbells by one hand."""
        table = self._room.loads_for(self._room.catalogue.exercise(self.controls.exercise.value))
        return say_load(load_kg, table.unit, hands=table.hands, digits=1)


def _curve_sentences(answer: CurveAnswer, say: Callable[[float], str]) -> list[str]:
    row, one_rm = answer.at_load.iloc[0], answer.one_rm.iloc[0]
    source = "from the lifter's file" if answer.endurance_known else answer.grade
    reps = f"probably {_expected(row)}"
    return [
        (
            f"At {say(row['load_kg'])} ({row['percent']:.0f} % of 1RM): {reps}; "
            f"{row['reps_wanted']:.0f} reps or more: {in_words(row['chance'])}."
        ),
        (
            f"The 1RM is taken as {say(one_rm['believed_kg'])} "
            f"({say(one_rm['low_kg'])} to {say(one_rm['high_kg'])}); brackets hold the middle 80 %."
        ),
        f"{answer.endurance.capitalize()} ({source}).",
    ]


def _expected(row: Any) -> str:
    return reps_expected(row["reps_p10"], row["reps_p50"], row["reps_p90"])


def _reps(row: Any) -> str:
    return reps_band(row["reps_p10"], row["reps_p50"], row["reps_p90"])


def _note(answer: CurveAnswer) -> str:
    known = "the lifter's own" if answer.endurance_known else f"usual for the kind of exercise ({answer.grade})"
    return f"Endurance: {known}. Dotted: extrapolated, outside the percents that were studied."


def _curve_table(answer: CurveAnswer, say: Callable[[float], str]) -> Table:
    """Reps at round percents: this lifter, then each equation; blank where an equation is not valid."""
    by_equation = answer.equations.pivot(index="percent", columns="equation", values="reps")
    rows = answer.curve.join(by_equation, on="percent")
    return table_of(
        "Reps to failure, fresh (* extrapolated; blank: outside the equation's range)",
        rows[rows["percent"].isin(_TABLE_PERCENTS)][::-1],
        {
            "of 1RM": lambda row: f"{row['percent']:.0f} %{'' if row['studied'] else ' *'}",
            "load": lambda row: say(row["load_kg"]),
            "this lifter": _reps,
            **{name: _reps_by(name) for name in answer.equations["equation"].unique()},
        },
    )


def _reps_by(equation: str) -> Callable[[Row], str]:
    return lambda row: "" if row[equation] != row[equation] else f"{row[equation]:.0f}"


class DropControls(OneExerciseControls):
    """Every input of the drop panel, besides those of one exercise; the load is that of the first set.

    Attributes
    ----------
    reps : NumberControl
        Reps wanted after the drop.
    fewest : NumberControl
        A drop that leaves fewer reps is not worth it.
    change : NumberControl
        Seconds to change the load.
    drops : tuple of NumberControl
        Sizes of a chain of drops, each in percent of the load before it; 0 ends the chain.
    """

    first_exercise = "seated cable row"

    def __init__(self, desk: Desk | None = None) -> None:
        super().__init__("first load", desk)
        self.reps = whole_number(value=6, min=1, max=30, description="reps wanted after the drop")
        self.fewest = whole_number(value=3, min=1, max=10, description="fewest reps worth a drop")
        self.change = whole_number(value=12, min=0, max=90, description="seconds to change the load", seconds=True)
        self.drops = tuple(
            whole_number(value=size, min=0, max=60, step=5, description=f"drop {number}, % of the load before it")
            for number, size in enumerate((25, 20, 0), start=1)
        )

    def take_loads(self, loads: list[tuple[str, float]], exercise: Exercise) -> None:
        """Offer loads, and the usual time to change them."""
        super().take_loads(loads, exercise)
        self.change.value = round(exercise.change_load_s)

    def sizes(self) -> list[float]:
        """Return the drops of the chain, in percent, up to the first of 0."""
        return list(takewhile(bool, (float(slider.value) for slider in self.drops)))


class DropPanel(OneExercisePanel):
    """Controls, reps after each drop that the room allows, and a chain of drops."""

    controls: DropControls
    last: DropAnswer | None

    def __init__(self, desk: Desk | None = None, *, seed: int = SEED, draws: int = 2000) -> None:
        super().__init__(seed=seed, draws=draws)
        self.controls = chosen = DropControls(desk)
        self.rows, self.chain_rows = table_box(), table_box()
        self.figure, self.chain = live(), live()
        wanted = [chosen.reps, chosen.fewest, chosen.change]
        self.arrange(
            [*chosen.common, *wanted, heading("A chain of drops (0 % ends it)"), *chosen.drops],
            [self.figure, self.rows, self.chain, self.chain_rows],
        )
        self.list_steps(*wanted)
        self.step(self._chain, chosen.load, chosen.change, *chosen.drops, after=self._list_loads, later=True)
        self.take_steps(at_once=True)

    def draw(self) -> None:
        """Work out and draw the drops to every lighter load."""
        chosen = self.controls
        wanted, fewest = chosen.reps.value, chosen.fewest.value
        self.last = answer = drop_question(
            self._lifter,
            chosen.exercise.value,
            self._room,
            load_kg=chosen.load.value,
            reps_wanted=wanted,
            change_s=float(chosen.change.value),
            fewest_reps=fewest,
            draws=self.draws,
            seed=self.seed,
        )
        title = f"Reps after a drop from {answer.say(answer.load_kg)}: {escape(answer.exercise)}"
        drops = drop_figure(answer.drops, claims(), say=answer.say, reps_wanted=wanted, fewest_reps=fewest, title=title)
        refresh(self.figure, drops)

    def say(self) -> None:
        """Say which drop is advised, and what each comes to."""
        assert self.last is not None
        wanted = self.controls.reps.value
        self.put(self.answer, _drop_sentences(self.last, wanted))
        self.put(self.rows, _drop_table(self.last, wanted))

    def _chain(self) -> None:
        """Work out and show the chain of drops from the same first load."""
        assert self.last is not None
        answer, chosen = self.last, self.controls
        loads = chain_loads(self._room, answer.exercise, answer.load_kg, chosen.sizes())
        change_s = float(chosen.change.value)
        chain = drop_chain_table(
            self._lifter, answer.exercise, loads, change_s=change_s, draws=self.draws, seed=self.seed
        )
        refresh(self.chain, chain_figure(chain, claims(), say=answer.say))
        self.put(self.chain_rows, _chain_table(chain, answer))


def _drop_sentences(answer: DropAnswer, wanted: int) -> list[str]:
    first = answer.first.iloc[0]
    sentences = []
    if answer.advised is not None:
        row = answer.advised
        sentences.append(
            f"For {wanted} more reps: drop to {answer.say(row['load_kg'])}, {row['drop_percent']:.0f} % off. "
            f"Probably {_expected(row)}; "
            f"{wanted} or more: {in_words(row['chance'])}."
        )
    if answer.warning:
        sentences.append(answer.warning)
    return [
        *sentences,
        (
            f"First set, to failure: {answer.say(answer.load_kg)} ({first['percent']:.0f} % of 1RM), probably "
            f"{_expected(first)}."
        ),
        "Reps after a drop are assumed: no study that could be read reports them. Brackets: middle 80 %.",
    ]


def _drop_table(answer: DropAnswer, wanted: int) -> Table:
    return table_of(
        "Reps to failure after the drop (assumed), on loads of the room",
        _few(answer),
        {
            "load": lambda row: answer.say(row["load_kg"]),
            "taken off": "{drop_percent:.0f} %",
            "reps": _reps,
            f"{wanted} or more": chance("chance"),
            "": lambda row: "" if row["worth_it"] else "too small",
        },
    )


def _few(answer: DropAnswer) -> list[dict[Hashable, Any]]:
    """One load for every five percent, and the advised one: a finely stepped stack has dozens."""
    advised = None if answer.advised is None else answer.advised["load_kg"]
    rows, last = [], -1
    for row in rows_of(answer.drops):
        step = int(row["drop_percent"] // 5)
        if step != last or row["load_kg"] == advised:
            rows.append(row)
        last = step
    return rows


def _chain_table(chain: pd.DataFrame, answer: DropAnswer) -> Table:
    return table_of(
        "The chain, every run of reps to failure (assumed)",
        chain.reset_index(names="number"),
        {
            "": lambda row: f"drop {row['number']}" if row["number"] else "first set",
            "load": lambda row: answer.say(row["load_kg"]),
            "taken off": lambda row: f"{row['drop_percent']:.0f} %" if row["number"] else "",
            "of 1RM": "{percent:.0f} %",
            "reps": _reps,
        },
    )
