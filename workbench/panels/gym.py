"""Panel: what do our own lifters say? Where a new lifter starts by the gym's own logs, beside studies."""

from __future__ import annotations

from html import escape
from typing import Any

import ipywidgets as widgets

from workbench.answers.gym_numbers import GymNumbers, gym_numbers, gym_text
from workbench.lifter.gym_prior import GYM_FILE, GymPrior, read_gym_prior
from workbench.panels.desk import Desk
from workbench.panels.frame import row, table_box
from workbench.panels.pressed import PressedPanel
from workbench.present.tables import Table
from workbench.quantities import SEED
from workbench.reference.whole_files import write_whole

__all__ = ["GymPanel"]


class GymPanel(PressedPanel):
    """All logs of the gym at once; the numbers that are kept, and whether new lifters start from them.

    Attributes
    ----------
    used : ipywidgets.Checkbox
        Whether a lifter without a log starts from the numbers that are kept.
    keep : ipywidgets.Button
    kept_said : ipywidgets.HTML
        Which numbers new lifters start from.
    """

    press = "Press <b>Read all logs</b>."
    doing = "reading"
    last: GymNumbers | None

    def __init__(self, desk: Desk | None = None, *, seed: int = SEED, draws: int = 600) -> None:
        self.read = widgets.Button(description="Read all logs", button_style="primary")
        super().__init__(self.read, seed=seed, draws=draws)
        self._desk = desk or Desk()
        self.keep = widgets.Button(description="Keep these numbers", disabled=True, layout={"width": "auto"})
        self.used = widgets.Checkbox(description="a lifter without a log starts from them", indent=False)
        self.kept_said, self.rows, self.left_out = widgets.HTML(), table_box(), widgets.HTML()
        self.arrange(
            [row(self.read, self.stop), self.keep, self.kept_said, self.used],
            [self.bar, self.rows],
            below=[self.left_out],
        )
        self.keep.on_click(self._keep)
        self.used.observe(self._use, "value")
        self.look_again()

    def look_again(self) -> None:
        """Say which numbers are kept now."""
        with self.explained(part=self.kept_said):
            kept = self._kept()
            said = "no numbers of this gym are kept" if kept is None else f"{kept.said}, {kept.sets} sets, are kept"
            studies = kept is None or not kept.used
            self.kept_said.value = (
                f"{escape(said)}: a lifter without a log starts from {'studies' if studies else 'them'}."
            )
            self.used.unobserve(self._use, "value")
            self.used.value = not studies
            self.used.observe(self._use, "value")
            self.used.layout.display = None if kept is not None and self._desk.is_own else "none"

    def work_out(self) -> GymNumbers:
        """Return the gym's numbers; lifters not reached before a stop are missing."""
        return gym_numbers(self._desk.gym.path, draws=self.draws, seed=self.seed, progress=self.lifters_done)

    def show_answer(self) -> None:
        """Show where a new lifter starts, beside studies, and what was left out."""
        assert self.last is not None
        first, *others = self.last.sentences()
        self.put(self.answer, [first, *(line for line in others if line.startswith("Stopped"))])
        headings = ("", "as published", "in this gym", "of")
        self.put(
            self.rows,
            Table("A lifter without a log starts at (four in five lie within)", headings, tuple(self.last.said())),
        )
        self.put(self.left_out, [f"{note}." for note in self.last.notes])
        self.keep.disabled = not (self._desk.is_own and self.last.finished)

    def forget(self) -> None:
        """Forget the answer: it can no longer be kept."""
        super().forget()
        if hasattr(self, "keep"):
            self.keep.disabled = True

    def _kept(self) -> GymPrior | None:
        path = self._desk.gym.path / GYM_FILE
        return read_gym_prior(path) if path.is_file() else None

    def _keep(self, _button: object) -> None:
        """Write the numbers into the gym's folder; those before stay among its versions."""
        assert self.last is not None
        self._write(self.last.prior)
        self.keep.disabled = True

    def _use(self, change: Any) -> None:
        kept = self._kept()
        if kept is not None:
            self._write(kept.model_copy(update={"used": bool(change["new"])}))

    def _write(self, prior: GymPrior) -> None:
        path = self._desk.gym.path / GYM_FILE
        with self.explained(part=self.kept_said):
            if path.is_file():
                self._desk.gym.edit(path).write(gym_text(prior))
            else:
                write_whole(path, gym_text(prior))
            self.look_again()
