"""When to redraw, and how: soon after the last of several changes, and only what has changed."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from typing import Any

import plotly.graph_objects as go

__all__ = ["Redraw", "live", "refresh"]

#: Long enough for key presses that already wait in the queue to come in first; too short to be felt.
_WAIT_S = 0.005


class Redraw:
    """Calls one function soon after a change; several changes at once call it once.

    Without a running event loop, as in a plain script or a test, it is called at once.

    Parameters
    ----------
    work : callable
        Takes nothing and returns nothing.
    """

    def __init__(self, work: Callable[[], None]) -> None:
        self._work = work
        self._waiting: asyncio.TimerHandle | None = None

    def ask(self) -> None:
        """Ask for a call."""
        try:
            loop = asyncio.get_running_loop()
        except RuntimeError:
            self.now()
            return
        if self._waiting is not None:
            self._waiting.cancel()
        self._waiting = loop.call_later(_WAIT_S, self.now)

    def now(self) -> None:
        """Call at once, in place of a call that is still waiting."""
        if self._waiting is not None:
            self._waiting.cancel()
            self._waiting = None
        self._work()


def live(figure: go.Figure | None = None) -> go.FigureWidget:
    """Return a figure that can be changed where it is shown: as wide as its place, without the tool bar."""
    widget = go.FigureWidget(figure)
    widget._config = {**(widget._config or {}), "displayModeBar": False, "responsive": True}
    widget.layout.autosize = True
    return widget


def refresh(widget: go.FigureWidget, figure: go.Figure) -> None:
    """Make a shown figure equal to a newly built one, sending only what differs.

    Parameters
    ----------
    widget : FigureWidget
        From `live`.
    figure : Figure
        Built by one of `workbench.figures`.
    """
    alike = [trace.type for trace in widget.data] == [trace.type for trace in figure.data]
    with widget.batch_update():
        if alike:
            for shown, new in zip(widget.data, figure.data, strict=True):
                _copy(shown, new)
        _copy(widget.layout, figure.layout, keep=("autosize",))
    if not alike:
        with widget.batch_update():
            widget.data = ()
            widget.add_traces(figure.data)
        # A figure that was empty when shown has taken a width of its own; said anew, it takes that of its place.
        widget.layout.autosize = False
        widget.layout.autosize = True


def _copy(shown: Any, new: Any, keep: tuple[str, ...] = ()) -> None:
    old, wanted = shown.to_plotly_json(), new.to_plotly_json()
    for key in old.keys() - wanted.keys() - {"type", "uid", *keep}:
        shown[key] = None
    for key, value in wanted.items():
        if key not in ("type", "uid", *keep) and not _same(old.get(key), value):
            shown[key] = value


def _same(one: Any, other: Any) -> bool:
    if hasattr(one, "dtype") or hasattr(other, "dtype"):
        return (
            getattr(one, "dtype", None) == getattr(other, "dtype", None)
            and one.shape == other.shape
            and one.tobytes() == other.tobytes()
        )
    if isinstance(one, dict) and isinstance(other, dict):
        return one.keys() == other.keys() and all(_same(one[key], other[key]) for key in one)
    if isinstance(one, list | tuple) and isinstance(other, list | tuple):
        return len(one) == len(other) and all(map(_same, one, other))
    return bool(one == other)
