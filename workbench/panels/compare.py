"""Panel: which of these schemes? Schemes of the library on one exercise, met by the same simulated days."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

import ipywidgets as widgets

from workbench.answers.compare import DEFAULT_MEASURES, Comparison, compare_blocks
from workbench.answers.group_rules import with_and_without
from workbench.answers.outcomes import MEASURES
from workbench.answers.start_loads import lifter_for
from workbench.figures.compare import difference_bands, scheme_bands
from workbench.panels.controls import lifter_picker, named_files, number, room_picker, whole_number
from workbench.panels.desk import Desk
from workbench.panels.frame import SEVERAL, control_style, heading, live, quiet, refresh, table_box
from workbench.panels.panel import Panel
from workbench.panels.tables import Row, chance, table_of
from workbench.prescription.block import Block, read_block
from workbench.prescription.schemes import SCHEMES, Scheme, exercise_block
from workbench.present.tables import Table
from workbench.present.words import in_words, mean_and_band, outcome_named, outcome_said
from workbench.quantities import SEED, InputError

if TYPE_CHECKING:
    import pandas as pd

    from workbench.answers.outcomes import Measure
    from workbench.lifter import Lifter

__all__ = ["CompareControls", "ComparePanel"]

_CAPTION = "Mean and middle 80 % of the runs"
_NO_MISS = " (without a miss, the week of the first one is the week after the last)"
_START = ("constant step", "wave", "undulating", "top set with back-offs")


class CompareControls:
    """Every input of the compare panel.

    Attributes
    ----------
    blocks : ipywidgets.SelectMultiple
        The gym's blocks; where some are chosen, these are compared, and no schemes.
    without_rules : ipywidgets.Checkbox
        Whether each of them that has rules of its set groups is compared with itself without them.
    percent, step, rest, sets, reps, weeks, days : NumberControl
        Common to all schemes.
    outcome : ipywidgets.Dropdown
        Orders the schemes and chooses the figures.
    """

    def __init__(self, desk: Desk | None = None) -> None:
        style, desk = control_style(), desk or Desk()
        self.lifter, self.room = lifter_picker(desk), room_picker(desk)
        self._desk = desk
        self.blocks = widgets.SelectMultiple(rows=4, description="blocks", **control_style())
        self.offer_blocks()
        self.without_rules = widgets.Checkbox(description="each also without its rules", indent=False)
        self.exercise = widgets.Dropdown(options=["barbell bench pull"], description="exercise", **style)
        self.schemes = widgets.SelectMultiple(
            options=list(SCHEMES), value=_START, rows=len(SCHEMES), description="schemes", **style
        )
        self.percent = number("first load, % of 1RM", 70, 40, 95, 2.5)
        self.step = number("step, points a week", 2, 0, 5, 0.5)
        self.rest = number("rest, s", 150, 30, 300, 15, seconds=True)
        self.sets = whole_number(value=5, min=1, max=10, description="sets")
        self.reps = whole_number(value=5, min=1, max=15, description="reps")
        self.weeks = whole_number(value=4, min=1, max=12, description="weeks")
        self.days = whole_number(value=2, min=1, max=4, description="days a week")
        named = [(measure.label, key) for key, measure in MEASURES.items()]
        self.outcome = widgets.Dropdown(
            options=named, value="lowest_reserve", description="order by", **control_style()
        )

    @property
    def sliders(self) -> tuple[widgets.Widget, ...]:
        """What is common to all schemes."""
        return (self.percent, self.step, self.sets, self.reps, self.rest, self.weeks, self.days)

    def offer_blocks(self) -> None:
        """List the blocks that the gym has now, keeping the chosen ones where they are among them."""
        kept, offered = self.blocks.value, named_files(self._desk.gym.files("blocks"))
        self.blocks.options = offered
        self.blocks.value = [path for _, path in offered if path in kept]

    def chosen_blocks(self) -> dict[str, Block]:
        """Return the chosen blocks as the list names them; InputError where one cannot be read."""
        blocks = {name: read_block(path) for name, path in self.blocks.options if path in self.blocks.value}
        return with_and_without(blocks) if self.without_rules.value else blocks

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
    """Controls, schemes ordered by one outcome, and their differences on the same days."""

    last: Comparison | None
    _lifter: Lifter

    def __init__(self, desk: Desk | None = None, *, seed: int = SEED, draws: int = 2000) -> None:
        super().__init__(seed=seed, draws=draws)
        self.controls = chosen = CompareControls(desk)
        self.meanings = quiet()
        self.rows, self.pair_rows = table_box(), table_box()
        self.bands, self.differences = live(), live()
        files, several = [chosen.lifter, chosen.room], quiet(SEVERAL)
        self._of_schemes = [chosen.exercise, chosen.schemes, heading("Common to all schemes"), *chosen.sliders]
        self.arrange(
            [
                *(*files, heading("Your blocks"), chosen.blocks, several, chosen.without_rules),
                *(heading("Or schemes on one exercise, while no block is chosen"), *self._of_schemes, chosen.outcome),
            ],
            [self.bands, self.differences, self.meanings],
            below=[self.rows, self.pair_rows],
        )
        self.step(self._read, chosen.lifter, prepares=True)
        schemes = (*chosen.sliders, chosen.exercise, chosen.schemes)
        self.step(self._compare, chosen.blocks, chosen.without_rules, *schemes, chosen.room, after=self._read)
        self.step(self._show_outcome, chosen.outcome, after=self._compare)
        self.take_steps()

    def _read(self) -> None:
        self._lifter = self.controls.lifter.read()
        lifts = list(self._lifter.lifts)
        kept = self.controls.exercise.value
        self.controls.exercise.options = lifts
        self.controls.exercise.value = kept if kept in lifts else next(iter(lifts), None)

    def look_again(self) -> None:
        """Take what is open now, and list the blocks that there are."""
        self.controls.offer_blocks()
        for picker in (self.controls.lifter, self.controls.room):
            picker.look_again()

    def _compare(self) -> None:
        chosen = self.controls
        for control in self._of_schemes:
            control.layout.display = "none" if chosen.blocks.value else None
        room = chosen.room.read()
        days = (1, 4, 2, 6)[: chosen.days.value]
        if not chosen.blocks.value and chosen.exercise.value is None:
            remedy = "type any set that is remembered where the lifter is edited, or choose blocks"
            raise InputError(None, f"lifter {self._lifter.name}", "has no lift that is known", remedy)
        blocks = chosen.chosen_blocks() or {
            label: exercise_block(
                chosen.exercise.value,
                chosen.build(label),
                weeks=chosen.weeks.value,
                days=sorted(days),
                exercises=room.catalogue,
            )
            for label in chosen.schemes.value
        }
        lifter = lifter_for(self._lifter, room, *blocks.values())
        self.last = compare_blocks(blocks, lifter, room, outcomes=DEFAULT_MEASURES, draws=self.draws, seed=self.seed)

    def _show_outcome(self) -> None:
        assert self.last is not None
        last, outcome = self.last, self.controls.outcome.value
        ordered, pairs = last.ordered(outcome), last.pairs[last.pairs["outcome"] == outcome]
        refresh(self.bands, scheme_bands(ordered))
        refresh(self.differences, difference_bands(pairs) if len(pairs) else None)
        schemes = list(ordered["scheme"])
        notes = [f"Note: {note}." for note in last.by_ratio]
        self.put(self.answer, [*_sentences(MEASURES[outcome], schemes, pairs, last.draws), *notes])
        self.put(self.rows, _outcome_table(last, schemes))
        self.put(self.pair_rows, _pair_table(MEASURES[outcome].label, pairs))
        chosen = [] if self.controls.blocks.value else self.controls.schemes.value
        lines = [f"{label}: {self.controls.build(label).meaning}." for label in chosen]
        self.meanings.value = "<br>".join(map(escape, lines))


def _sentences(measure: Measure, schemes: list[str], pairs: pd.DataFrame, draws: int) -> list[str]:
    """Say which scheme is ahead, by how much, and what is counted; ``schemes`` are in order, the best first."""
    best = schemes[0]
    rows = {frozenset((row["a"], row["b"])): row for row in pairs.to_dict("records")}
    against = {scheme: rows[frozenset((best, scheme))] for scheme in schemes[1:]}
    equal = [best, *(scheme for scheme, row in against.items() if row["chance_same"] == 1.0)]
    behind = [scheme for scheme in schemes if scheme not in equal]
    wanted_higher = measure.better >= 0
    word, label = "highest" if wanted_higher else "lowest", measure.label.capitalize()
    if len(equal) == 1:
        lines = [f"{label}: {best} is {word}, in the mean of {draws:,} simulated runs."]
    else:
        ahead = f", the {word} in the mean" if behind else ""
        lines = [f"{label}: {' and '.join(equal)} come to the same in each of {draws:,} simulated runs{ahead}."]
    if behind:
        second = behind[0]
        row = against[second]
        turned = row["a"] != best
        beats = row["chance_b"] if turned == wanted_higher else row["chance_a"]
        lines.append(
            f"On the same days {'each' if len(equal) > 1 else 'it'} beats {second} in {in_words(beats)} of runs "
            f"and comes to the same in {in_words(row['chance_same'])}."
        )
    lines.append(f"What is counted: {measure.meaning}.")
    if measure.better == 0:
        lines.append("Neither more nor less of it is better for its own sake.")
    if measure.grade == "assumed":
        lines.append("This outcome rests on assumptions: use it to think, not to decide.")
    return lines


def _outcome_table(comparison: Comparison, schemes: list[str]) -> Table:
    """Every outcome by scheme, in the order of the one that is chosen."""
    rows = []
    for _, of_outcome in comparison.schemes.groupby("outcome", sort=False):
        records = {row["scheme"]: row for row in of_outcome.to_dict("records")}
        rows.append((outcome_named(of_outcome.iloc[0].to_dict()), *(outcome_said(records[name]) for name in schemes)))
    return Table(f"{_CAPTION}{_NO_MISS}", ("outcome", *schemes), tuple(rows))


def _difference(row: Row) -> tuple[str, str]:
    return mean_and_band(row["difference"], row["p10"], row["p90"], signed=True)


def _pair_table(label: str, pairs: pd.DataFrame) -> Table:
    return table_of(
        f"Differences of {label}",
        pairs,
        {
            "on the same days": "{a} minus {b}",
            "mean": lambda row: _difference(row)[0],
            "middle 80 %": lambda row: _difference(row)[1],
            "higher in": chance("chance_a"),
            "lower in": chance("chance_b"),
            "same in": chance("chance_same"),
        },
    )
