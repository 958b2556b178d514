"""Panel: does the session hold together? Timeline, loss of each muscle, another order, exchanges."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

import ipywidgets as widgets

from workbench.answers.exchange import Exclusions
from workbench.answers.exchange_session import SessionExchange, exchange_session, things_in
from workbench.answers.orders import compare_orders, moved
from workbench.answers.session import SessionAnswer, SessionRun
from workbench.figures.session import muscle_loss_figure, order_figure, reserve_figure, timeline_figure
from workbench.panels.controls import BlockFiles, whole_number
from workbench.panels.desk import Desk
from workbench.panels.frame import SEVERAL, column, control_style, heading, live, quiet, refresh, table_box, wide
from workbench.panels.panel import Panel
from workbench.panels.tables import Row, chance, table_of
from workbench.present.tables import Table, rows_of
from workbench.present.words import change, load_said, reps_said, say_load, set_forecast
from workbench.quantities import SEED
from workbench.reference.sources import claims

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


class SessionControls(BlockFiles):
    """Every input of the session panel.

    Attributes
    ----------
    session, exercise : ipywidgets.Dropdown
        The session by number; the exercise to move, by its place from 1.
    week, place : NumberControl
        ``place``: where the exercise is tried.
    leave_out : ipywidgets.SelectMultiple
        Joint positions, exercises, movements and implements of the session; values are pairs of kind and name.
    """

    def __init__(self, desk: Desk | None = None) -> None:
        super().__init__(desk)
        style = control_style()
        self.session = widgets.Dropdown(description="session", **style)
        self.week = whole_number(value=1, min=1, max=1, description="week")
        self.exercise = widgets.Dropdown(description="move", **style)
        self.place = whole_number(value=1, min=1, max=1, description="to place in the session")
        self.leave_out = widgets.SelectMultiple(
            tooltip="joint positions and exercises to leave out", rows=8, layout={"width": "auto"}
        )

    def take(self, block: Block) -> None:
        """Offer the sessions and weeks of a block that was just read."""
        self.session.options = [(session.name, at) for at, session in enumerate(block.expanded_sessions(), start=1)]
        self.session.index = 0
        self.week.max = block.weeks
        self.week.value = 1

    def take_session(self, block: Block, catalogue: Catalogue) -> None:
        """Offer the exercises and joint positions of the chosen session."""
        chosen = block.expanded_sessions()[self.session.value - 1]
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


class SessionPanel(Panel):
    """Controls, the timeline of a session, the loss of each muscle, another order, and exchanges.

    Attributes
    ----------
    order : DataFrame or None
        The other order beside this one; None where no exercise is moved.
    exchange : SessionExchange or None
        What stands in for what is left out; None where nothing is.
    """

    kept = ("last", "order", "exchange")
    last: SessionAnswer | None
    order: pd.DataFrame | None
    exchange: SessionExchange | None
    _files: tuple[Block, Lifter, Room]
    _run: SessionRun

    def __init__(self, desk: Desk | None = None, *, seed: int = SEED, draws: int = 1000) -> None:
        super().__init__(seed=seed, draws=draws)
        self.controls = chosen = SessionControls(desk)
        self.cautions = widgets.HTML()
        self.set_rows, self.order_rows, self.exchange_rows = table_box(), table_box(), table_box()
        self.exchange_rows.add_class("workbench-wraps")
        self.timeline, self.losses, self.reserve, self.orders = live(), live(), live(), live()
        self.order_box = column(self.orders, self.order_rows)
        other_order = [heading("Try another order"), chosen.exercise, chosen.place]
        several = wide(quiet(SEVERAL))
        sore = [heading("A sore joint: what to leave out"), chosen.leave_out, several]
        self.arrange(
            [*chosen.files, chosen.session, chosen.week, *other_order, *sore],
            [self.timeline, self.cautions, self.exchange_rows, self.order_box],
            below=[self.losses, self.reserve, self.set_rows],
        )
        self.step(self._read, *chosen.files, prepares=True)
        self.step(self._choose_session, chosen.session, after=self._read, prepares=True)
        self.step(self._draw_session, chosen.week, after=self._choose_session)
        self.step(self._say_session, after=self._draw_session, later=True)
        self.step(self._show_muscles, after=self._say_session, later=True)
        self.step(self._show_order, chosen.exercise, chosen.place, after=self._draw_session)
        self.step(self._show_exchange, chosen.leave_out, after=self._choose_session)
        self.take_steps(at_once=True)

    def _read(self) -> None:
        self._files = self.controls.read()
        self.controls.take(self._files[0])

    def _choose_session(self) -> None:
        block, _, room = self._files
        self.controls.take_session(block, room.catalogue)
        self._run = SessionRun.of(*self._files, self.controls.session.value, draws=self.draws, seed=self.seed)

    def _draw_session(self) -> None:
        refresh(self.timeline, timeline_figure(self._run.timeline(self.controls.week.value)))

    def _say_session(self) -> None:
        self.last = answer = self._run.in_week(self.controls.week.value)
        self.put(self.answer, _sentences(answer))
        self.cautions.value = "".join(
            f"<b>Caution:</b> {escape(caution.sentence)} ({escape(', '.join(names))})<br>"
            for caution, names in answer.cautions
        )

    def _show_muscles(self) -> None:
        """Show what stands below: muscle by muscle, and set by set."""
        assert self.last is not None
        answer = self.last
        refresh(self.losses, muscle_loss_figure(answer.muscles, claims()))
        refresh(self.reserve, reserve_figure(answer.sets, claims()))
        self.put(self.set_rows, _set_table(answer), _muscle_table(answer))

    def _show_order(self) -> None:
        chosen = self.controls
        order = moved(len(chosen.exercise.options), chosen.exercise.value, chosen.place.value)
        self.order = None
        self.put(self.order_rows)
        if order is not None:
            session, week = chosen.session.value, chosen.week.value
            self.order = compare_orders(*self._files, session, order, week=week, draws=self.draws, seed=self.seed)
            refresh(self.orders, order_figure(self.order, claims()))
            self.put(self.order_rows, _order_table(self.order))
        self.order_box.layout.display = "none" if self.order is None else "flex"

    def _show_exchange(self) -> None:
        block, lifter, room = self._files
        chosen = self.controls.leave_out.value
        self.exchange = None
        self.put(self.exchange_rows)
        if chosen or lifter.avoid_positions or lifter.avoid_exercises:
            named = {kind: [name for of_kind, name in chosen if of_kind == kind] for kind in _KINDS}
            out = Exclusions.of(lifter, catalogue=room.catalogue, **named)
            self.exchange = found = exchange_session(block, lifter, room, self.controls.session.value, leave_out=out)
            table = _exchange_table(found, room.unit)
            self.put(self.exchange_rows, table, found.missing, html=_exchange_html(found, table))


def _sentences(answer: SessionAnswer) -> list[str]:
    limit = f", of the {answer.limit_minutes:.0f} that the block allows" if answer.limit_minutes else ""
    lines = [f"{answer.name}, week {answer.week}: about {answer.minutes:.0f} minutes{limit} ({answer.spent_said()})."]
    costly = answer.carried.sort_values("lost", ascending=False)
    if len(costly) and costly["lost"].iloc[0] >= 1:
        row = costly.iloc[0]
        lines.append(
            f"Most is carried over to {row['exercise']}: earlier exercises cost its first set {row['lost']:.0f} % of "
            f"its reps ({row['low']:.0f} to {row['high']:.0f} %), through {row['from']}."
        )
    elif (shared := answer.carried[answer.carried["from"] != ""]).empty:
        lines.append("No exercise uses the muscles of one before it: their order costs no reps.")
    else:
        pairs = "; ".join(f"{row['exercise']} after {row['from']}" for row in rows_of(shared))
        lines.append(f"Muscles are shared ({pairs}), but the time between gives back nearly all: order costs no reps.")
    lines.extend(
        f"{name} is in this session, though this lifter avoids it ({reason})." for name, reason in answer.avoided
    )
    return lines


def _set_table(answer: SessionAnswer) -> Table:
    return table_of(
        "Sets in order of time",
        answer.sets,
        {
            "set": "{exercise}, set {set}",
            "minute": "{start_min:.0f}",
            "load": load_said,
            "reps": lambda row: reps_said(row["reps_low"], row["reps_high"]),
            "reps in reserve (middle 80 %)": set_forecast,
            "all made": chance("chance"),
        },
    )


def _muscle_table(answer: SessionAnswer) -> Table:
    last = answer.muscles[answer.muscles["end_min"] == answer.muscles["end_min"].max()]
    return table_of(
        "Reps that a set led by the muscle would lose at the end, %",
        last.sort_values("lost", ascending=False),
        {"muscle": "{muscle}", "lost": "{lost:.0f}", "middle 80 %": "{low:.0f} to {high:.0f}"},
    )


def _order_table(orders: pd.DataFrame) -> Table:
    def of_one(cell: Callable[[Row], str]) -> Callable[[Row], str]:
        return lambda row: "" if row["exercise"] == "whole session" else cell(row)

    return table_of(
        "The other order, on the same simulated days",
        orders,
        {
            "exercise": "{exercise}",
            "place": of_one(lambda row: f"{row['place_a']} to {row['place_b']}"),
            "all made now": chance("chance_a"),
            "then": chance("chance_b"),
            "reps a set gained": of_one(
                lambda row: f"{change(row['reps'])} ({change(row['reps_low'])} to {change(row['reps_high'])})"
            ),
        },
    )


def _exchange_table(found: SessionExchange, unit: Unit) -> Table:
    hands_of = found.lifter.catalogue.hands_of
    return table_of(
        "Exchanges (proposed only)",
        found.changes,
        {
            "falls out": "{exercise}",
            "instead": lambda row: row["instead"] or "nothing fits",
            "muscles kept": lambda row: f"{100 * row['shared']:.0f} %" if row["instead"] else "",
            "1RM from": lambda row: _load_text(row, unit, hands_of(row["instead"])) if row["instead"] else "",
            "because": lambda row: row["reason"].partition(": ")[2] or row["reason"],
        },
    )


def _load_text(row: Row, unit: Unit, hands: int) -> str:
    if row["basis"] == "find the load":
        return "find the load"
    source = f", {row['source']}, {row['grade']}" if row["grade"] else ""
    one_rm, low, high = (say_load(row[key], unit, hands=hands, digits=0) for key in ("one_rm_kg", "low_kg", "high_kg"))
    return f"{row['basis']}{source}: {one_rm} ({low} to {high})"


def _exchange_html(found: SessionExchange, table: Table) -> str:
    if found.changes.empty:
        return "No exercise of this session uses what is left out."
    notes = "".join(f"<br>{escape(line)}" for line in found.notes)
    steps = "".join(
        f"<br>How to find the load of {escape(name)}:<ol>{''.join(f'<li>{escape(line)}</li>' for line in lines)}</ol>"
        for name, lines in found.protocols.items()
    )
    return table.html() + steps + notes
