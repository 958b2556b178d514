"""Panel: does the block suit the whole team? Every lifter of a folder, who falls short, and what would mend it."""

from __future__ import annotations

import ipywidgets as widgets

from workbench.answers.team import Team, read_roster, team_check
from workbench.figures.compare import roster_chances
from workbench.panels.controls import block_picker, room_picker
from workbench.panels.desk import Desk
from workbench.panels.frame import control_style, live, refresh, row, table_box
from workbench.panels.pressed import PressedPanel
from workbench.panels.tables import chance, table_of
from workbench.present.tables import Table
from workbench.present.words import percent_said
from workbench.quantities import SEED

__all__ = ["TeamPanel"]


class TeamPanel(PressedPanel):
    """Block, room and folder of lifters; progress; the roster against the limit, and a row for each lifter."""

    press = "Press <b>Check the roster</b>."
    doing = "check"
    last: Team | None

    def __init__(self, desk: Desk | None = None, *, seed: int = SEED, draws: int = 2000) -> None:
        self.check = widgets.Button(description="Check the roster", button_style="primary")
        super().__init__(self.check, seed=seed, draws=draws)
        desk = desk or Desk()
        self.block, self.room = block_picker(desk), room_picker(desk)
        self.folder = widgets.Text(
            value=(desk.gym.path / "lifters").as_posix(),
            description="lifters in",
            continuous_update=False,
            **control_style(),
        )
        self.folder.layout.display = "none" if desk.is_own else None
        self.chances, self.rows, self.places = live(), table_box(), widgets.HTML()
        chosen = [self.block, self.room, self.folder]
        self.arrange([*chosen, row(self.check, self.stop)], [self.bar, self.chances], below=[self.rows, self.places])
        self.watch(*chosen)

    def work_out(self) -> Team:
        """Return the team's check; lifters not reached before a stop are missing."""
        block, room = self.block.read(), self.room.read()
        return team_check(
            block,
            read_roster(self.folder.value.strip(), room.catalogue),
            room,
            draws=self.draws,
            seed=self.seed,
            block_size=1,
            progress=self.lifters_done,
        )

    def show_answer(self) -> None:
        """Show who falls short, and what would mend it."""
        assert self.last is not None
        self.put(self.answer, _sentences(self.last))
        refresh(self.chances, roster_chances(self.last.table, limit=self.last.limit))
        self.put(self.rows, _table(self.last))
        self.put(self.places, _places(self.last), [f"Note. {line}" for line in self.last.note_lines()])


def _sentences(team: Team) -> list[str]:
    answered = team.table[team.table["problem"] == ""]
    unanswered = team.table[team.table["problem"] != ""]
    kept = len(answered) - len(team.falling_short())
    lines = [f"{kept} of {len(answered)} lifters have a chance of at least {percent_said(team.limit)} in every set."]
    lines.extend(f"No answer for {lifter['lifter']}: {lifter['problem']}." for lifter in unanswered.to_dict("records"))
    if not team.finished:
        lines.append("Stopped before the end: lifters not reached are missing.")
    return lines


def _places(team: Team) -> list[str]:
    """Where each lifter first falls short, and what would mend that."""
    return [
        f"{lifter['lifter']}: {lifter['first_break']}. What would mend its group: {lifter['mend']}."
        for lifter in team.falling_short().to_dict("records")
    ]


def _table(team: Team) -> Table:
    return table_of(
        "The roster",
        team.table[team.table["problem"] == ""],
        {
            "lifter": "{lifter}",
            "reps missed": "{missed_reps:.0f}",
            "none missed": chance("chance_of_block"),
            "least likely set": chance("lowest_chance"),
            "groups under the limit": "{groups_below}",
            "longest session, min": "{minutes:.0f}",
        },
    )
