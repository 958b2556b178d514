"""The base of panels that work when a button is pressed."""

from __future__ import annotations

import asyncio
import threading
from typing import Any, ClassVar

import ipywidgets as widgets

from workbench.panels.panel import BUSY, Panel
from workbench.quantities import SEED

__all__ = ["PressedPanel"]


class PressedPanel(Panel):
    """A panel that works when a button is pressed; any change of what is chosen takes the answer away.

    Parameters
    ----------
    start : ipywidgets.Button
    seed, draws
        As for every panel.

    Attributes
    ----------
    stop : ipywidgets.Button
    bar : ipywidgets.IntProgress
    press : str
        Says which button to press, in HTML; stands in the place of an answer until it is.
    doing : str
        What the button begins.
    """

    no_answer = "No answer: the panel says what cannot be used."
    press: ClassVar[str]
    doing: ClassVar[str]

    def __init__(self, start: widgets.Button, *, seed: int = SEED, draws: int) -> None:
        super().__init__(seed=seed, draws=draws)
        self._start_button, self.stop = start, widgets.Button(description="Stop", disabled=True)
        self._stop, self._changed_meanwhile = threading.Event(), threading.Event()
        self.bar = widgets.IntProgress(min=0, max=1, layout=widgets.Layout(width="98%", display="none"))
        self.answer.value = self.press
        start.on_click(self._start)
        self.stop.on_click(lambda _button: self._stop.set())

    def work_out(self) -> Any:
        """Return the answer to what is chosen, saying how far it is by `progress` and ending soon after `stopped`."""
        raise NotImplementedError

    def show_answer(self) -> None:
        """Show the last answer."""
        raise NotImplementedError

    def run(self) -> None:
        """Work here and now, and show the answer."""
        self._stop.clear()
        self._changed_meanwhile.clear()
        with self.explained():
            found = self.work_out()
            if self._changed_meanwhile.is_set():
                self.blank(f"The choice changed during the {self.doing}. {self.press}")
                return
            self.last = found
            self.show_answer()
            self._say_again()

    def text(self) -> str:
        """Return the answer as plain text; works first where that has not been done."""
        if self.last is None:
            self.run()
        return super().text()

    def choice_changed(self, change: Any) -> None:
        """Take away an answer about another choice, found or still being looked for."""
        self._changed_meanwhile.set()
        self._stop.set()
        self.blank(self.press)

    def progress(self, done: int, expected: int, said: str) -> None:
        """Say how far the work is; ``said`` is HTML."""
        self.bar.max, self.bar.value = expected, done
        self.answer.value = said

    def lifters_done(self, done: int, expected: int) -> bool:
        """Say how many lifters are worked through; whether to go on."""
        self.progress(done, expected, f"{done} of {expected} lifters")
        return not self._stop.is_set()

    def _start(self, _button: object) -> None:
        """Work in a thread of its own, so that the page stays alive; without an event loop, at once."""
        self._start_button.disabled, self.stop.disabled = True, False
        self.bar.layout.display = None
        self.root.add_class(BUSY)
        try:
            asyncio.get_running_loop()
        except RuntimeError:
            self._run_and_tidy()
            return
        threading.Thread(target=self._run_and_tidy, daemon=True).start()

    def _run_and_tidy(self) -> None:
        try:
            self.run()
        finally:
            self._start_button.disabled, self.stop.disabled = False, True
            self.bar.layout.display = "none"
            self.root.remove_class(BUSY)
