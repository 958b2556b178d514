"""Panel of the question how large a drop should be: reps at every lighter load of the room, and chains of drops."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING, Any

from workbench.answers.drop import DropAnswer, drop_chain_table, drop_question
from workbench.answers.room_loads import chain_loads
from workbench.figures.drop import chain_figure, drop_figure
from workbench.panels.frame import heading, table_box
from workbench.panels.numbers import whole_number
from workbench.panels.one_exercise import OneExerciseControls, OneExercisePanel
from workbench.panels.redraw import live, refresh
from workbench.panels.tables import chance, table_of
from workbench.present.tables import Table
from workbench.present.words import in_words
from workbench.quantities import SEED

if TYPE_CHECKING:
    from collections.abc import Hashable

    import pandas as pd

    from workbench.gym.catalogue import Exercise

__all__ = ["DropControls", "DropPanel"]


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

    Attributes
    ----------
    controls : DropControls
    rows, chain_rows : ipywidgets.HTML
    figure, chain : plotly FigureWidget
    last : DropAnswer or None
    """

    controls: DropControls
    last: DropAnswer | None

    def __init__(self, *, seed: int = SEED, draws: int = 2000) -> None:
        super().__init__(seed=seed, draws=draws)
        self.controls = chosen = DropControls()
        self.rows, self.chain_rows = table_box(), table_box()
        self.figure, self.chain = live(), live()
        files = [chosen.lifter, chosen.room, chosen.exercise, chosen.load]
        wanted = [chosen.reps, chosen.fewest, chosen.change]
        self.arrange(
            [*files, *wanted, heading("A chain of drops (0 % ends it)"), *chosen.drops],
            [self.figure, self.rows, self.chain, self.chain_rows],
        )
        self.start(*wanted, *chosen.drops)

    def draw(self) -> None:
        """Work out and show the drops to every lighter load, and the chain."""
        chosen = self.controls
        exercise, change_s = chosen.exercise.value, float(chosen.change.value)
        wanted, fewest = chosen.reps.value, chosen.fewest.value
        answer = drop_question(
            self._lifter,
            exercise,
            self._room,
            load_kg=chosen.load.value,
            reps_wanted=wanted,
            change_s=change_s,
            fewest_reps=fewest,
            draws=self.draws,
            seed=self.seed,
        )
        loads = chain_loads(self._room, exercise, answer.load_kg, chosen.sizes())
        chain = drop_chain_table(self._lifter, exercise, loads, change_s=change_s, draws=self.draws, seed=self.seed)
        self.last = answer
        title = f"Reps after a drop from {answer.say(answer.load_kg)}: {escape(answer.exercise)}"
        drops = drop_figure(answer.drops, say=answer.say, reps_wanted=wanted, fewest_reps=fewest, title=title)
        refresh(self.figure, drops)
        refresh(self.chain, chain_figure(chain, say=answer.say))
        self.put(self.answer, _sentences(answer, wanted))
        self.put(self.rows, _drop_table(answer, wanted))
        self.put(self.chain_rows, _chain_table(chain, answer))


def _sentences(answer: DropAnswer, wanted: int) -> list[str]:
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
    return [
        *sentences,
        (
            f"First set, to failure: {answer.say(answer.load_kg)} ({first['percent']:.0f} % of 1RM), probably "
            f"{first['reps_p50']:.0f} reps ({first['reps_p10']:.0f} to {first['reps_p90']:.0f})."
        ),
        "Reps after a drop are assumed: no study that could be read reports them. Brackets: middle 80 %.",
    ]


def _drop_table(answer: DropAnswer, wanted: int) -> Table:
    columns = {
        "load": lambda row: answer.say(row["load_kg"]),
        "taken off": "{drop_percent:.0f} %",
        "reps": "{reps_p50:.0f} ({reps_p10:.0f}-{reps_p90:.0f})",
        f"{wanted} or more": chance("chance"),
        "": lambda row: "" if row["worth_it"] else "too small",
    }
    return table_of("Reps to failure after the drop (assumed), on loads of the room", _few(answer), columns)


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
    return table_of(
        "The chain, every run of reps to failure (assumed)",
        chain.reset_index(names="number"),
        {
            "": lambda row: f"drop {row['number']}" if row["number"] else "first set",
            "load": lambda row: answer.say(row["load_kg"]),
            "taken off": lambda row: f"{row['drop_percent']:.0f} %" if row["number"] else "",
            "of 1RM": "{percent:.0f} %",
            "reps": "{reps_p50:.0f} ({reps_p10:.0f}-{reps_p90:.0f})",
        },
    )
