"""Panel: does the session hold together? Timeline, loss of each muscle, another order, exchanges."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING, Any

import ipywidgets as widgets

from workbench.answers.exchange import SEE_A_PROFESSIONAL, Exclusions
from workbench.answers.exchange_session import SessionExchange, exchange_session, things_in
from workbench.answers.orders import compare_orders, moved
from workbench.answers.session import SessionAnswer, session_question
from workbench.figures.session import muscle_loss_figure, order_figure, reserve_figure, timeline_figure
from workbench.panels.files import block_picker, lifter_picker, room_picker
from workbench.panels.frame import Panel, column, control_style, heading, table_box
from workbench.panels.numbers import whole_number
from workbench.panels.redraw import Redraw, live, refresh
from workbench.present.tables import Table, plain_text
from workbench.present.words import change, in_words, load_said, reps_said, reserve_said, say_load
from workbench.quantities import SEED

if TYPE_CHECKING:
    from collections.abc import Callable

    import pandas as pd

    from workbench.gym.catalogue import Catalogue
    from workbench.gym.equipment import Room
    from workbench.gym.equipment.loads import Unit
    from workbench.lifter import Lifter
    from workbench.prescription.block import Block

__all__ = ["SessionControls", "SessionPanel"]

#: How the things to leave out are told apart in the list.
_KINDS = {"positions": "", "exercises": "exercise: ", "patterns": "movement: ", "implements": "implement: "}


class SessionControls:
    """Every input of the session panel.

    Attributes
    ----------
    block, lifter, room : FilePicker
    session, exercise : ipywidgets.Dropdown
        The session by number; the exercise to move, by its place from 1.
    week, place : NumberControl
        ``place``: where the exercise is tried.
    leave_out : ipywidgets.SelectMultiple
        Joint positions, exercises, movements and implements of the session; values are pairs of kind and name.
    """

    def __init__(self) -> None:
        style = control_style()
        self.block, self.lifter, self.room = block_picker(), lifter_picker(), room_picker()
        self.session = widgets.Dropdown(description="session", **style)
        self.week = whole_number(value=1, min=1, max=1, description="week")
        self.exercise = widgets.Dropdown(description="move", **style)
        self.place = whole_number(
            value=1, min=1, max=1, description="to place in the session", continuous_update=False, **style
        )
        self.leave_out = widgets.SelectMultiple(
            tooltip="joint positions and exercises to leave out", rows=8, layout={"width": "auto"}
        )
        self.filling = False

    def observe(self, changed: Callable[[object], None]) -> None:
        """Call ``changed`` after any change that keeps block and session."""
        for control in (self.week, self.exercise, self.place, self.leave_out):
            control.observe(changed, "value")

    def layout(self) -> list[widgets.Widget]:
        """Return the controls in the order in which a coach uses them."""
        several = widgets.HTML("Several: hold Ctrl (or Cmd) and click.")
        several.add_class("workbench-quiet")
        several.add_class("workbench-wide")
        return [
            *(picker.box for picker in (self.block, self.lifter, self.room)),
            *(self.session, self.week),
            heading("Try another order"),
            *(self.exercise, self.place),
            heading("A sore joint: what to leave out"),
            *(self.leave_out, several),
        ]

    def take(self, block: Block, catalogue: Catalogue) -> None:
        """Offer the sessions of a block that was just read."""
        self.filling = True
        try:
            self.session.options = [(one.name, number) for number, one in enumerate(block.expanded_sessions(), start=1)]
            self.session.index = 0
            self.week.max = block.weeks
            self.week.value = 1
        finally:
            self.filling = False
        self.take_session(block, catalogue)

    def take_session(self, block: Block, catalogue: Catalogue) -> None:
        """Offer the exercises and joint positions of the chosen session."""
        chosen = block.expanded_sessions()[self.session.value - 1]
        self.filling = True
        try:
            self.exercise.options = [(slot.exercise, place) for place, slot in enumerate(chosen.exercises, start=1)]
            self.exercise.index = 0
            self.place.max = len(chosen.exercises)
            self.place.value = 1
            self.leave_out.options = [
                (f"{_KINDS[kind]}{name}", (kind, name))
                for kind, names in things_in(chosen, catalogue).items()
                for name in names
            ]
            self.leave_out.value = ()
        finally:
            self.filling = False


class SessionPanel(Panel):
    """Controls, the timeline of a session, the loss of each muscle, another order, and exchanges.

    Parameters
    ----------
    seed : int
        The same seed gives the same digits, here as in ``workbench check --session``.
    draws : int
        Simulated lifters and days.

    Attributes
    ----------
    controls : SessionControls
    answer, set_rows, order_rows, exchange_rows, cautions : ipywidgets.HTML
    timeline, losses, reserve, orders : plotly FigureWidget
    last : SessionAnswer or None
    """

    def __init__(self, *, seed: int = SEED, draws: int = 1000) -> None:
        self.seed, self.draws = seed, draws
        self.controls = SessionControls()
        self.last: SessionAnswer | None = None
        self.order: pd.DataFrame | None = None
        self.exchange: SessionExchange | None = None
        self._files: tuple[Block, Lifter, Room] | None = None
        self._shown: tuple[int, int] | None = None
        self.answer, self.cautions = widgets.HTML(), widgets.HTML()
        self.answer.add_class("workbench-answer")
        self.set_rows, self.order_rows, self.exchange_rows = table_box(), table_box(), table_box()
        self.exchange_rows.add_class("workbench-wraps")
        self.timeline, self.losses, self.reserve, self.orders = live(), live(), live(), live()
        self.order_box = column(self.orders, self.order_rows)
        answers = [self.answer, self.timeline, self.cautions, self.exchange_rows, self.order_box]
        super().__init__(self.controls.layout(), answers, [self.losses, self.reserve, self.set_rows])
        self._redraw, self._reload = Redraw(self._draw), Redraw(self._load)
        self._load()
        self._observe()

    def _observe(self) -> None:
        controls = self.controls
        controls.observe(self._changed)
        controls.session.observe(self._session_chosen, "value")
        for picker in (controls.block, controls.lifter, controls.room):
            picker.observe(self._reload.ask)

    def text(self) -> str:
        """Return the answer as plain text, for the controls as they stand."""
        self._redraw.now()
        if self.last is None:
            return "No answer yet: the panel says what cannot be used."
        return plain_text(
            _sentences(self.last),
            _set_table(self.last),
            _muscle_table(self.last),
            *(() if self.order is None else (_order_table(self.order),)),
            *(() if self.exchange is None else (_exchange_table(self.exchange, self._unit), self.exchange.missing)),
        )

    def forget(self) -> None:
        """Forget the last answer."""
        self.last = self.order = self.exchange = self._shown = None

    @property
    def _unit(self) -> Unit:
        return "kg" if self._files is None else self._files[2].unit

    def _changed(self, change: object) -> None:
        if not self.controls.filling:
            self._redraw.ask(change)

    def _session_chosen(self, change: object) -> None:
        if not self.controls.filling and self._files is not None:
            self.controls.take_session(self._files[0], self._files[2].catalogue)
            self._redraw.ask(change)

    def _load(self) -> None:
        self._files = None
        with self.explained():
            controls = self.controls
            block = controls.block.read()
            self._files = (block, controls.lifter.read(), controls.room.read())
            self._shown = None
            self.controls.take(block, self._files[2].catalogue)
            self._draw()

    def _draw(self) -> None:
        if self._files is None:
            return
        with self.explained():
            self._answer(*self._files)

    def _answer(self, block: Block, lifter: Lifter, room: Room) -> None:
        controls = self.controls
        session, week = controls.session.value, controls.week.value
        new = self.last is None or self._shown != (session, week)
        if new:
            self.last = session_question(block, lifter, room, session, week=week, draws=self.draws, seed=self.seed)
            self._shown = (session, week)
        order = moved(len(controls.exercise.options), controls.exercise.value, controls.place.value)
        self.order = None
        if order is not None:
            self.order = compare_orders(
                block, lifter, room, session, order, week=week, draws=self.draws, seed=self.seed
            )
        self.exchange = None
        if controls.leave_out.value or lifter.avoid_positions or lifter.avoid_exercises:
            chosen = controls.leave_out.value
            named = {kind: [name for of_kind, name in chosen if of_kind == kind] for kind in _KINDS}
            out = Exclusions.of(lifter, catalogue=room.catalogue, **named)
            self.exchange = exchange_session(block, lifter, room, session, leave_out=out)
        if new and self.last is not None:
            self._show_session(self.last)
        self._show_changes()

    def _show_session(self, answer: SessionAnswer) -> None:
        first, *others = (escape(line) for line in _sentences(answer))
        self.answer.value = f"<b>{first}</b>" + "".join(f"<br>{line}" for line in others)
        refresh(self.timeline, timeline_figure(answer.timeline))
        refresh(self.losses, muscle_loss_figure(answer.muscles))
        refresh(self.reserve, reserve_figure(answer.sets))
        self.set_rows.value = _set_table(answer).html() + _muscle_table(answer).html()
        self.cautions.value = "".join(
            f"<b>Caution:</b> {escape(caution.sentence)} ({escape(', '.join(names))})<br>"
            for caution, names in answer.cautions
        )

    def _show_changes(self) -> None:
        self.order_box.layout.display = "none" if self.order is None else "flex"
        if self.order is not None:
            refresh(self.orders, order_figure(self.order))
            self.order_rows.value = _order_table(self.order).html()
        self.exchange_rows.value = "" if self.exchange is None else _exchange_html(self.exchange, self._unit)


def _sentences(answer: SessionAnswer) -> list[str]:
    spent = ", ".join(f"{kind} {minutes:.0f}" for kind, minutes in answer.minutes_by_kind().items() if minutes >= 0.5)
    limit = f", of the {answer.limit_minutes:.0f} that the block allows" if answer.limit_minutes else ""
    lines = [f"{answer.name}, week {answer.week}: about {answer.minutes:.0f} minutes{limit} ({spent})."]
    costly = answer.carried.sort_values("lost", ascending=False)
    if len(costly) and costly["lost"].iloc[0] >= 1:
        row = costly.iloc[0]
        lines.append(
            f"Most is carried over to {row['exercise']}: earlier exercises cost its first set {row['lost']:.0f} % of "
            f"its reps ({row['low']:.0f} to {row['high']:.0f} %), through {row['from']}."
        )
    else:
        lines.append("The exercises hardly share a muscle: their order costs no reps.")
    lines.extend(
        f"{name} is in this session, though this lifter avoids it ({reason})." for name, reason in answer.avoided
    )
    return lines


def _set_table(answer: SessionAnswer) -> Table:
    rows = []
    for row in answer.sets.to_dict("records"):
        if row["reps_high"] == float("inf"):
            chance = ""
            reserve = f"{row['reps_p50']:.0f} reps ({row['reps_p10']:.0f} to {row['reps_p90']:.0f})"
        else:
            chance = in_words(row["chance"])
            reserve = reserve_said(row["reserve_low"], row["reserve"], row["reserve_high"])
        name = f"{row['exercise']}, set {row['set']}"
        rows.append(
            (
                name,
                f"{row['start_min']:.1f}",
                load_said(row),
                reps_said(row["reps_low"], row["reps_high"]),
                reserve,
                chance,
            )
        )
    headings = ("set", "minute", "load", "reps", "reps in reserve (middle 80 %)", "all made")
    return Table("Sets in order of time", headings, tuple(rows))


def _muscle_table(answer: SessionAnswer) -> Table:
    last = answer.muscles[answer.muscles["end_min"] == answer.muscles["end_min"].max()]
    rows = tuple(
        (row["muscle"], f"{row['lost']:.0f}", f"{row['low']:.0f} to {row['high']:.0f}")
        for row in last.sort_values("lost", ascending=False).to_dict("records")
    )
    return Table("Reps that a set led by the muscle would lose at the end, %", ("muscle", "lost", "middle 80 %"), rows)


def _order_table(orders: pd.DataFrame) -> Table:
    rows = []
    for row in orders.to_dict("records"):
        whole = row["exercise"] == "whole session"
        gain = "" if whole else f"{change(row['reps'])} ({change(row['reps_low'])} to {change(row['reps_high'])})"
        places = "" if whole else f"{row['place_a']} to {row['place_b']}"
        chances = ["" if row[key] != row[key] else in_words(row[key]) for key in ("chance_a", "chance_b")]
        rows.append((row["exercise"], places, *chances, gain))
    headings = ("exercise", "place", "all made now", "then", "reps a set gained")
    return Table("The other order, on the same simulated days", headings, tuple(rows))


def _exchange_table(found: SessionExchange, unit: Unit) -> Table:
    rows = tuple(
        (
            row["exercise"],
            row["instead"] or "nothing fits",
            f"{100 * row['shared']:.0f} %" if row["instead"] else "",
            _load_text(row, unit, found.lifter.catalogue.hands_of(row["instead"])) if row["instead"] else "",
            row["reason"].partition(": ")[2] or row["reason"],
        )
        for row in found.changes.to_dict("records")
    )
    headings = ("falls out", "instead", "muscles kept", "1RM from", "because")
    return Table("Exchanges (proposed only)", headings, rows)


def _load_text(row: dict[Any, Any], unit: Unit, hands: int) -> str:
    if row["basis"] == "find the load":
        return "find the load"
    source = f", {row['source']}, {row['grade']}" if row["grade"] else ""
    one_rm, low, high = (say_load(row[key], unit, hands=hands, digits=0) for key in ("one_rm_kg", "low_kg", "high_kg"))
    return f"{row['basis']}{source}: {one_rm} ({low} to {high})"


def _exchange_html(found: SessionExchange, unit: Unit) -> str:
    if found.changes.empty:
        return "No exercise of this session uses what is left out."
    notes = "".join(f"<br>{escape(line)}" for line in (*found.missing, SEE_A_PROFESSIONAL))
    steps = "".join(
        f"<br>How to find the load of {escape(name)}:<ol>{''.join(f'<li>{escape(one)}</li>' for one in lines)}</ol>"
        for name, lines in found.protocols.items()
    )
    return _exchange_table(found, unit).html() + steps + notes
