"""Panel: are volume and intensity of the block sensible? Sets of each muscle, zones, and the block over its weeks."""

from __future__ import annotations

from workbench.answers.block_check import BlockCheck, check_block
from workbench.answers.volume import VolumeAnswer, volume_question
from workbench.figures.volume import block_chart, muscle_sets_figure, zones_figure
from workbench.models.volume import RULES, CountRules
from workbench.panels.controls import BlockFiles, number, whole_number
from workbench.panels.desk import Desk
from workbench.panels.frame import heading, live, refresh, table_box
from workbench.panels.panel import Panel
from workbench.panels.tables import table_of
from workbench.present.tables import Table
from workbench.present.words import mass_in
from workbench.quantities import SEED
from workbench.reference.sources import claims

__all__ = ["VolumeControls", "VolumePanel"]


class VolumeControls(BlockFiles):
    """Every input of the volume panel.

    Attributes
    ----------
    hard_reserve : NumberControl
        A set is hard with at most so many reps in reserve.
    each_drop : NumberControl
        What a drop adds to the count of its set.
    """

    def __init__(self, desk: Desk | None = None) -> None:
        super().__init__(desk)
        self.week = whole_number(value=1, min=1, max=1, description="week")
        self.hard_reserve = number("hard: reps in reserve, at most", RULES.hard_reserve, 0, 10, 0.5)
        self.each_drop = number("a drop adds so much of a set", RULES.each_drop, 0, 1, 0.25, digits=2)

    @property
    def rules(self) -> CountRules:
        """The counting rules as the controls stand."""
        return CountRules(hard_reserve=self.hard_reserve.value, each_drop=self.each_drop.value)


class VolumePanel(Panel):
    """Controls, sets of each muscle beside the studied range, lifts by zone, and the block over its weeks.

    Attributes
    ----------
    check : BlockCheck
        The simulated block behind the numbers.
    """

    check: BlockCheck
    last: VolumeAnswer | None

    def __init__(self, desk: Desk | None = None, *, seed: int = SEED, draws: int = 2000) -> None:
        super().__init__(seed=seed, draws=draws)
        self.controls = chosen = VolumeControls(desk)
        self.muscle_rows, self.week_rows = table_box(), table_box()
        self.muscles, self.zones, self.weeks = live(), live(), live()
        self.arrange(
            [*chosen.files, chosen.week, heading("What counts"), chosen.hard_reserve, chosen.each_drop],
            [self.muscles, self.zones],
            below=[self.weeks, self.muscle_rows, self.week_rows],
        )
        self.step(self._read, *chosen.files, prepares=True)
        self.step(self._count, chosen.hard_reserve, chosen.each_drop, after=self._read)
        self.step(self._show_week, chosen.week, after=self._count)
        self.take_steps()

    def _read(self) -> None:
        block, lifter, room = self.controls.read()
        self.check = check_block(block, lifter, room, draws=self.draws, seed=self.seed)
        self.controls.week.max = block.weeks
        self.controls.week.value = 1

    def _count(self) -> None:
        self.last = answer = volume_question(self.check.outcome, rules=self.controls.rules)
        lighter = tuple(lighter.week for lighter in self.check.plan.block.lighter_weeks)
        refresh(self.weeks, block_chart(answer.weeks, unit=answer.unit, lighter_weeks=lighter))
        refresh(self.zones, zones_figure(answer.zones, claims()))

    def _show_week(self) -> None:
        assert self.last is not None
        answer, week = self.last, self.controls.week.value
        refresh(self.muscles, muscle_sets_figure(answer.muscles, claims(), week=week))
        self.put(self.answer, _sentences(answer, week))
        self.put(self.muscle_rows, _muscle_table(answer, week))
        self.put(self.week_rows, _week_table(answer), _zone_table(answer))


def _sentences(answer: VolumeAnswer, week: int) -> list[str]:
    row = answer.weeks[answer.weeks["week"] == week].iloc[0]
    muscles = answer.muscles[answer.muscles["week"] == week]
    low, high = muscles["range_low"].iloc[0], muscles["range_high"].iloc[0]
    hard = f"{row['hard']:.0f} hard ({row['hard_low']:.0f} to {row['hard_high']:.0f})"
    lines = [f"Week {week}: {row['sets']:.0f} sets, of these probably {hard}, in about {row['minutes']:.0f} minutes."]
    for where in ("within", "above"):
        names = list(muscles.loc[muscles["beside"] == where, "muscle"])
        if names:
            lines.append(f"{where.capitalize()} the studied {low:g} to {high:g} sets: {', '.join(names)}.")
    drop = f"{answer.rules.each_drop:g} of a set" if answer.rules.each_drop else "nothing"
    lines.append(
        f"A set counts as hard with at most {answer.rules.hard_reserve:g} reps in reserve (no study gives "
        f"a cut-off: assumed); a drop adds {drop} to its set. Both can be changed."
    )
    return lines


def _muscle_table(answer: VolumeAnswer, week: int) -> Table:
    rows = answer.muscles[answer.muscles["week"] == week].sort_values("fractional", ascending=False, kind="stable")
    low, high = rows["range_low"].iloc[0], rows["range_high"].iloc[0]
    return table_of(
        f"Sets of each muscle, week {week}",
        rows,
        {
            "muscle": "{muscle}",
            "direct": "{direct:.3g}",
            "fractional": "{fractional:.3g}",
            "hard (middle 80 %)": "{hard:.3g} ({hard_low:.3g} to {hard_high:.3g})",
            f"beside {low:g}-{high:g}": "{beside}",
            "share assumed": lambda row: f"{100 * row['assumed_share']:.0f} %",
        },
    )


def _week_table(answer: VolumeAnswer) -> Table:
    return table_of(
        "Week by week",
        answer.weeks,
        {
            "week": "{week:.0f}",
            "sets": "{sets:.0f}",
            "hard (middle 80 %)": "{hard:.0f} ({hard_low:.0f} to {hard_high:.0f})",
            "lifts": "{lifts:.0f}",
            f"tonnage, {answer.unit}": lambda row: f"{mass_in(row['tonnage_kg'], answer.unit):,.0f}",
            "mean % of 1RM": "{intensity_percent:.1f}",
            "minutes": "{minutes:.0f}",
        },
    )


def _zone_table(answer: VolumeAnswer) -> Table:
    grid = answer.zones.pivot_table(index="week", columns="zone", values="lifts", sort=False)
    rows = tuple((f"{week}", *(f"{count:.0f}" for count in lifts)) for week, *lifts in grid.itertuples())
    return Table("Lifts by zone of intensity", ("week", *map(str, grid.columns)), rows)
