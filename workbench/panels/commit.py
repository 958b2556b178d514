"""Panel: freeze a block with its reason, and write the page that says why. Nothing is written before a button is."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from html import escape
from pathlib import Path
from typing import Any

import ipywidgets as widgets

from workbench.answers.exchange import left_out_of_block
from workbench.answers.start_loads import lifter_for
from workbench.lifter import Lifter, read_lifter
from workbench.log.typed import date_said, typed_monday
from workbench.panels.controls import block_picker, lifter_picker, named_files, room_picker
from workbench.panels.desk import Desk
from workbench.panels.fields import Field
from workbench.panels.frame import SEVERAL, control_style, quiet, row, wide
from workbench.panels.panel import BUSY, Panel
from workbench.prescription.block import Block, read_block
from workbench.present.words import in_words
from workbench.publish.commit import (
    Alternative,
    Committed,
    Decision,
    commit_block,
    differences,
    earlier_revisions,
    list_committed,
    read_committed,
)
from workbench.publish.commit import verify as verify_committed
from workbench.publish.rationale import write_rationale
from workbench.quantities import SEED, InputError

__all__ = ["CommitPanel"]


class CommitPanel(Panel):
    """Block, lifter, room, reason and alternatives; buttons to commit, to write the rationale and to verify.

    Parameters
    ----------
    found : callable, optional
        Gives the block that a search found, or None; it can then be committed in place of a file.
    desk : Desk, optional
    seed, draws : int
        Of the predictions that are kept.
    folder : str or Path, optional
        Where committed blocks lie: ``committed`` in the gym that is open, else where the program runs.

    Attributes
    ----------
    start : Field
        The first Monday, as a date; blank where none is set.
    alternatives : ipywidgets.SelectMultiple
        The gym's blocks that were looked at and not taken.
    others : ipywidgets.SelectMultiple
        More lifters for whom the same block is committed; each gets a sheet.
    why_not : ipywidgets.VBox
        A line for each of these, that says why.
    commit, sheets, rationale, verify : ipywidgets.Button
        The last three of what was committed last of the chosen block, now or before.
    """

    last: Committed | None

    def __init__(
        self,
        found: Callable[[], Block | None] | None = None,
        *,
        desk: Desk | None = None,
        seed: int = SEED,
        draws: int = 2000,
        folder: str | Path | None = None,
    ) -> None:
        super().__init__(seed=seed, draws=draws)
        self._found, self._desk = found, desk or Desk()
        desk = self._desk
        if folder is None:
            folder = desk.gym.path / "committed" if desk.is_own else "committed"
        self.block, self.lifter, self.room = block_picker(desk), lifter_picker(desk), room_picker(desk)
        self.use_found = widgets.Checkbox(
            description="commit the block that the search found", indent=False, disabled=found is None
        )
        self.reason = widgets.Textarea(
            description="reason", placeholder="why this block, in a sentence or two", rows=3, **control_style()
        )
        self.by = widgets.Text(description="decided by", **control_style())
        self.start = Field("starts on", typed_monday, show=date_said, needed=False, example="a Monday, as 5 Jan 2026")
        self.folder = widgets.Text(value=str(folder), description="folder", **control_style())
        self.folder.layout.display = "none" if desk.is_own else None
        self.alternatives = widgets.SelectMultiple(rows=3, description="instead of", **control_style())
        self.others = widgets.SelectMultiple(rows=3, description="also for", **control_style())
        self._offer()
        self.why_not, self._lines = widgets.VBox(), dict[Path, widgets.Text]()
        self.commit = widgets.Button(description="Commit", button_style="primary")
        self.sheets = widgets.Button(description="Hand out the sheets")
        self.rationale = widgets.Button(description="Write the reasons")
        self.verify = widgets.Button(description="Verify")
        self.handed = widgets.HTML()
        self.arrange(
            [
                *(self.block, *([] if found is None else [self.use_found]), self.lifter, self.others, self.room),
                *(self.reason, self.by, self.alternatives, wide(quiet(SEVERAL)), self.why_not, self.start, self.folder),
                row(self.commit, self.sheets, self.rationale, self.verify),
            ],
            [self.handed],
        )
        self.alternatives.observe(self._ask_why_not, "value")
        self.watch(self.block, self.lifter, self.others, self.room, self.use_found)
        self.blank(self._say_before())
        self.commit.on_click(self._commit)
        self.sheets.on_click(self._hand_out)
        self.rationale.on_click(self._write_rationale)
        self.verify.on_click(self._verify)

    def look_again(self) -> None:
        """Take what is open now, and list the blocks that there are."""
        for picker in (self.block, self.lifter, self.room):
            picker.look_again()
        self._offer()
        if self.last is None:
            self.answer.value = self._say_before()

    def _offer(self) -> None:
        """List the other blocks and the other lifters that there are, keeping those that are chosen."""
        # A block that a search found stands beside the file it was found from.
        block = None if self.use_found.value else self.block.value
        for kind, chosen, control in (
            ("blocks", block, self.alternatives),
            ("lifters", self.lifter.value, self.others),
        ):
            offered = [one for one in named_files(self._desk.gym.files(kind)) if one[1] != chosen]
            kept = control.value
            control.layout.display = None if offered else "none"
            control.options = offered
            control.value = [path for _, path in offered if path in kept]

    def choice_changed(self, change: Any) -> None:
        """Take away the answer about another choice, and offer the others beside it."""
        self.forget()
        self.blank(self._say_before())
        self._offer()

    def _chosen(self) -> Block:
        if not self.use_found.value:
            return self.block.read()
        block = None if self._found is None else self._found()
        if block is None:
            raise InputError(None, "block", "no search has found one", "press Find above, or choose a file")
        return block

    @contextmanager
    def _working(self, said: str, part: widgets.HTML | None = None) -> Iterator[None]:
        """Say what is being done, and take no press meanwhile: a second one would commit a second time."""
        buttons = (self.commit, self.sheets, self.rationale, self.verify)
        for button in buttons:
            button.disabled = True
        (part or self.answer).value = said
        self.root.add_class(BUSY)
        try:
            with self.explained(part):
                yield
        finally:
            self.root.remove_class(BUSY)
            for button in buttons:
                button.disabled = False

    def _commit(self, _button: object) -> None:
        with self._working("Committing: working out every set of every lifter, and writing the sheets …"):
            alternatives = []
            for path, line in zip(self.alternatives.value, self.why_not.children, strict=True):
                other = read_block(path)
                alternatives.append(Alternative(other.name, other, line.value.strip()))
            if self.start.problem:
                raise InputError(None, "starts on", "what is typed there is not taken", "correct or clear it")
            block, room = self._chosen(), self.room.read()
            self.last = commit_block(
                block,
                [lifter_for(lifter, room, block) for lifter in self._roster()],
                room,
                Decision(self.reason.value, self.by.value.strip(), tuple(alternatives)),
                seed=self.seed,
                draws=self.draws,
                folder=self.folder.value.strip() or "committed",
                start=self.start.value,
            )
            self.put(self.answer, _committed_lines(self.last))

    def _roster(self) -> list[Lifter]:
        """Read the lifter, and the others for whom the block is committed too."""
        others = [read_lifter(path) for path in self.others.value if path != self.lifter.value]
        return [self.lifter.read(), *others]

    def _ask_why_not(self, _change: object) -> None:
        """Show a line for each alternative, with what was typed into it before."""
        names = {path: name for name, path in self.alternatives.options}
        for path in self.alternatives.value:
            if path not in self._lines:
                line = widgets.Text(**control_style(150))
                self._lines[path], line.description = line, f"why not {names[path]}"
        self.why_not.children = [self._lines[path] for path in self.alternatives.value]

    def _committed_before(self) -> Path:
        """Return where the last revision of the chosen block lies."""
        if self.last is not None:
            return self.last.path
        name = self._chosen().name
        for path in reversed(list_committed(self.folder.value.strip() or "committed")):
            if read_committed(path).block.name == name:
                return path
        raise InputError(None, "block", f"{name} is not committed yet", "give a reason and press Commit")

    def _say_before(self) -> str:
        """Say which revision of the chosen block is there already, and what a press makes."""
        try:
            before = escape(self._committed_before().name)
            said = f"Committed before: {before}. For a new revision give a reason and press <b>Commit</b>."
        except InputError:
            said = "Nothing of this block is committed yet. Give a reason and press <b>Commit</b>."
        with suppress(InputError):  # what cannot be read is explained when Commit is pressed
            warned = left_out_of_block(self._chosen(), self._roster(), self.room.read().catalogue)
            said += "".join(f"<br><b>{escape(line)}</b>" for line in warned)
        return said

    def _hand_out(self, _button: object) -> None:
        with self._working("Looking for the sheets …", self.handed):
            committed = self._committed_before()
            files = sorted((committed / "sheets").iterdir())
            how = {".html": "to print", ".xlsx": "to fill in"}
            names = [lifter.name for lifter in read_committed(committed).lifters]
            whose = [names[int(path.stem.partition("-")[0]) - 1] for path in files]  # numbered in that order
            links = [
                self._desk.link(path, f"{name}, {how.get(path.suffix, path.suffix)}")
                for name, path in zip(whose, files, strict=True)
            ]
            lines = "".join(f"<li>{link}</li>" for link in links)
            self.handed.value = f"<b>Sheets of {escape(committed.name)}</b><ul>{lines}</ul>"
            self._desk.hand_out(committed)

    def _write_rationale(self, _button: object) -> None:
        with self._working("Writing the page …", self.answer):
            committed = self._committed_before()
            # Beside the committed folder, which itself is never written again.
            page = write_rationale(committed, committed.with_name(f"{committed.name}.html"), replace=True)
            said = f"Written: {page}. It opens in any browser, without a network."
            self.put(self.answer, [said], html=f"{escape(said)}<br>{self._desk.link(page, 'Open the page')}")

    def _verify(self, _button: object) -> None:
        with self._working("Working everything out again, to compare …", self.answer):
            self.put(self.answer, str(verify_committed(self._committed_before())).splitlines())


def _committed_lines(made: Committed) -> list[str]:
    where = f"{made.path.parent.name}/{made.path.name}"
    lines = [f"Committed: {where}", f"Fingerprint {made.fingerprint[:16]}; sheets in {where}/sheets."]
    lines += [
        f"{name}: {in_words(chance)} chance that all reps of the block are made."
        for name, chance in made.manifest["chance_of_block"].items()
    ]
    lines += left_out_of_block(made.block, made.lifters, made.room.catalogue)
    earlier = earlier_revisions(made)
    if earlier:
        told = differences(read_committed(earlier[-1]), made) or ["nothing"]
        lines.append(f"Changed since {earlier[-1].name}: {' '.join(told)}")
    return lines
