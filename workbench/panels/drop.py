"""Panel of the question how large a drop should be: reps at every lighter load of the room, and chains of drops."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING, Any

import ipywidgets as widgets

from workbench.answers.drop import DropAnswer, chain_loads, drop_chain_table, drop_question
from workbench.figures.drop import chain_figure, drop_figure
from workbench.panels.frame import heading, table_box
from workbench.panels.numbers import whole_number
from workbench.panels.one_exercise import OneExerciseControls, OneExercisePanel
from workbench.panels.redraw import live, refresh
from workbench.present.tables import Table, plain_text
from workbench.present.words import in_words
from workbench.quantities import SEED

if TYPE_CHECKING:
    from collections.abc import Hashable

    import pandas as pd

    from workbench.gym.catalogue import Exercise

__all__ = ["DropControls", "DropPanel"]

_MOST_DROPS = 3


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

    def __init__(self) -> None:
        super().__init__("first load")
        self.reps = whole_number(value=6, min=1, max=30, description="reps wanted after the drop")
        self.fewest = whole_number(value=3, min=1, max=10, description="fewest reps worth a drop")
        self.change = whole_number(value=12, min=0, max=90, description="seconds to change the load", seconds=True)
        self.drops = tuple(
            whole_number(value=size, min=0, max=60, step=5, description=f"drop {number}, % of the load before it")
            for number, size in enumerate((25, 20, 0), start=1)
        )

    def changing(self) -> tuple[widgets.Widget, ...]:
        """Return the controls whose change needs no file read again."""
        return (self.load, self.reps, self.fewest, self.change, *self.drops)

    def layout(self) -> list[widgets.Widget]:
        """Return the controls in the order in which a coach uses them."""
        chain = [heading("A chain of drops (0 % ends it)"), *self.drops]
        return [*super().layout(), self.reps, self.fewest, self.change, *chain]

    def take_loads(self, loads: list[tuple[str, float]], exercise: Exercise) -> None:
        """Offer loads, and the usual time to change them."""
        super().take_loads(loads, exercise)
        self.change.value = round(exercise.change_load_s)

    def sizes(self) -> list[float]:
        """Return the drops of the chain, in percent, up to the first of 0."""
        sizes: list[float] = []
        for slider in self.drops:
            if not slider.value:
                break
            sizes.append(float(slider.value))
        return sizes


class DropPanel(OneExercisePanel):
    """Controls, reps after each drop that the room allows, and a chain of drops.

    Parameters
    ----------
    seed : int
        The same seed gives the same digits.
    draws : int
        Simulated lifters and days.

    Attributes
    ----------
    controls : DropControls
    answer, rows, chain_rows : ipywidgets.HTML
    figure, chain : plotly FigureWidget
    last : DropAnswer or None
    """

    controls: DropControls

    def __init__(self, *, seed: int = SEED, draws: int = 2000) -> None:
        self.seed, self.draws = seed, draws
        self.controls = DropControls()
        self.last: DropAnswer | None = None
        self._last_chain: pd.DataFrame | None = None
        self.answer, self.rows, self.chain_rows = widgets.HTML(), table_box(), table_box()
        self.answer.add_class("workbench-answer")
        self.figure, self.chain = live(), live()
        answers = [self.answer, self.figure, self.rows, self.chain, self.chain_rows]
        super().__init__(self.controls.layout(), answers)
        self.start()

    def text(self) -> str:
        """Return the answer as plain text, for the controls as they stand."""
        self._redraw.now()
        if self.last is None or self._last_chain is None:
            return "No answer yet: the panel says what cannot be used."
        tables = [_drop_table(self.last, self.controls.reps.value), _chain_table(self._last_chain, self.last)]
        return plain_text(self._sentences(), *tables)

    def forget(self) -> None:
        """Forget the last answer."""
        self.last = self._last_chain = None

    def _draw(self) -> None:
        if self._lifter is None or self._room is None:
            return
        with self.explained():
            controls = self.controls
            exercise, change_s = controls.exercise.value, float(controls.change.value)
            answer = drop_question(
                self._lifter,
                exercise,
                self._room,
                load_kg=controls.load.value,
                reps_wanted=controls.reps.value,
                change_s=change_s,
                fewest_reps=controls.fewest.value,
                draws=self.draws,
                seed=self.seed,
            )
            loads = chain_loads(self._room, exercise, answer.load_kg, controls.sizes())
            chain = drop_chain_table(self._lifter, exercise, loads, change_s=change_s, draws=self.draws, seed=self.seed)
            self.last, self._last_chain = answer, chain
            title = f"Reps after a drop from {answer.say(answer.load_kg)}: {escape(answer.exercise)}"
            refresh(
                self.figure,
                drop_figure(
                    answer.drops,
                    say=answer.say,
                    reps_wanted=controls.reps.value,
                    fewest_reps=controls.fewest.value,
                    title=title,
                ),
            )
            refresh(self.chain, chain_figure(chain, say=answer.say))
            first, *others = (escape(sentence) for sentence in self._sentences())
            self.answer.value = f"<b>{first}</b><br>" + "<br>".join(others)
            self.rows.value = _drop_table(answer, controls.reps.value).html()
            self.chain_rows.value = _chain_table(chain, answer).html()

    def _sentences(self) -> list[str]:
        assert self.last is not None
        answer, wanted = self.last, self.controls.reps.value
        first = answer.first.iloc[0]
        sentences = []
        if answer.advised is not None:
            row = answer.advised
            sentences.append(
                f"For {wanted} more reps: drop to {answer.say(row['load_kg'])}, {row['drop_percent']:.0f} % off. "
                f"Probably {row['reps_p50']:.0f} reps ({row['reps_p10']:.0f} to {row['reps_p90']:.0f}); "
                f"{wanted} or more: {in_words(row['chance'])}."
            )
        if answer.warning:
            sentences.append(answer.warning)
        sentences.append(
            f"First set, to failure: {answer.say(answer.load_kg)} ({first['percent']:.0f} % of 1RM), probably "
            f"{first['reps_p50']:.0f} reps ({first['reps_p10']:.0f} to {first['reps_p90']:.0f})."
        )
        sentences.append(
            "Reps after a drop are assumed: no study that could be read reports them. Brackets: middle 80 %."
        )
        return sentences


def _drop_table(answer: DropAnswer, wanted: int) -> Table:
    rows = tuple(
        (
            answer.say(row["load_kg"]),
            f"{row['drop_percent']:.0f} %",
            f"{row['reps_p50']:.0f} ({row['reps_p10']:.0f}-{row['reps_p90']:.0f})",
            in_words(row["chance"]),
            "" if row["worth_it"] else "too small",
        )
        for row in _few(answer)
    )
    headings = ("load", "taken off", "reps", f"{wanted} or more", "")
    return Table("Reps to failure after the drop (assumed), on loads of the room", headings, rows)


def _few(answer: DropAnswer) -> list[dict[Hashable, Any]]:
    """One load for every five percent, and the advised one: a finely stepped stack has dozens."""
    advised = None if answer.advised is None else answer.advised["load_kg"]
    rows, last = [], -1
    for row in answer.drops.to_dict("records"):
        step = int(row["drop_percent"] // 5)
        if step != last or row["load_kg"] == advised:
            rows.append(row)
        last = step
    return rows


def _chain_table(chain: pd.DataFrame, answer: DropAnswer) -> Table:
    rows = tuple(
        (
            f"drop {number}" if number else "first set",
            answer.say(row["load_kg"]),
            f"{row['drop_percent']:.0f} %" if number else "",
            f"{row['percent']:.0f} %",
            f"{row['reps_p50']:.0f} ({row['reps_p10']:.0f}-{row['reps_p90']:.0f})",
        )
        for number, row in enumerate(chain.to_dict("records"))
    )
    headings = ("", "load", "taken off", "of 1RM", "reps")
    return Table("The chain, every run of reps to failure (assumed)", headings, rows)
