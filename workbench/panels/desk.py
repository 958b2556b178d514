"""What is open: a gym's folder and, of each kind of its files, the one that was chosen last, from step to step."""

from __future__ import annotations

from html import escape
from pathlib import Path
from typing import Final
from urllib.parse import quote

from workbench.quantities import InputError
from workbench.reference.copies import fingerprint_of_file
from workbench.reference.gym_folder import GymFolder
from workbench.reference.sources import data_path

__all__ = ["Desk", "demo_folder"]

#: What is open at first, where the folder holds it.
_FIRST: Final = {
    "lifters": "emre_sandoval",
    "rooms": "boathouse_hall",
    "blocks": "block",
    "logs": "emre_sandoval_weeks_1_2",
}


def demo_folder() -> Path:
    """Folder of the demo's files: the copy beside the notebook where there is one, else the shipped one."""
    beside = Path("demo")
    return beside if (beside / "block.toml").is_file() else data_path("demo")


class Desk:
    """A gym's folder with what is open in it; what one panel chooses, the next one finds.

    Parameters
    ----------
    gym : GymFolder, optional
        The demo's where none is given; nothing is written there.
    served : Path, optional
        Folder whose files the server behind the page hands out under ``/files/``.

    Attributes
    ----------
    gym : GymFolder
    is_own : bool
        Whether the gym is somebody's own, in which panels may write.
    """

    def __init__(self, gym: GymFolder | None = None, served: Path | None = None) -> None:
        self.is_own = self._remembers = gym is not None
        self.gym = gym or GymFolder(demo_folder())
        self._served = served
        self._chosen: dict[str, Path] = {}

    def enter(self, gym: GymFolder) -> None:
        """Go on in another gym, with what was open there."""
        self.gym, self._chosen = gym, {}

    def chosen(self, kind: str) -> Path | None:
        """Return the file of a kind that is open: the one chosen last where it is still there, else the first."""
        files = self.gym.files(kind)
        last = self._chosen.get(kind) or self._remembered(kind)
        if last is not None and last.exists():
            return last
        return next((path for path in files if path.stem == _FIRST.get(kind)), files[0] if files else None)

    def choose(self, kind: str, path: Path) -> None:
        """Open a file of a kind, here and the next time this gym is opened."""
        self._chosen[kind] = path
        self.remember(**{kind: path.relative_to(self.gym.path).as_posix() if self._is_inside(path) else str(path)})

    def remember(self, **what: str) -> None:
        """Keep texts for the next time; a folder that cannot be written forgets them, and says so when it is edited."""
        if self._remembers:
            try:
                self.gym.remember(**what)
            except InputError:
                self._remembers = False

    def add(self, kind: str, name: str, content: str | bytes, suffix: str = ".toml") -> Path:
        """Write something new of this name into the gym, and open it; InputError where that cannot be done."""
        path = self.gym.add(kind, name, content, suffix)
        self.choose(kind, path)
        return path

    def link(self, path: Path, words: str) -> str:
        """Return a link in HTML that opens a file in a page of its own; where none can, words and path."""
        if self._served is None or not path.resolve().is_relative_to(self._served.resolve()):
            return f"{escape(words)}: {escape(str(path))}"
        inside = path.resolve().relative_to(self._served.resolve()).as_posix()
        return f'<a href="/files/{quote(inside)}" target="_blank" rel="noopener">{escape(words)}</a>'

    def not_looked_at(self) -> list[Path]:
        """Return the logs that nobody has looked at since they came or changed; the demo's are no news."""
        seen, demo = self.gym.remembered(), self.gym.demo_fingerprints()
        return [
            path
            for path in self.gym.files("logs")
            if fingerprint_of_file(path) not in (seen.get(f"looked at {path.name}"), demo.get(f"logs/{path.name}"))
        ]

    def looked_at(self, log: Path) -> None:
        """Keep that a log was looked at as it is now."""
        self.remember(**{f"looked at {log.name}": fingerprint_of_file(log) or ""})

    def answers_about(self, log: Path | None) -> str:
        """Return what was answered about a log before, as `answer_about` kept it."""
        return "{}" if log is None else self.gym.remembered().get(f"answers about {log.name}", "{}")

    def answer_about(self, log: Path | None, answers: str) -> None:
        """Keep what was answered about a log."""
        if log is not None:
            self.remember(**{f"answers about {log.name}": answers})

    def is_handed_out(self, committed: Path) -> bool:
        """Whether the sheets of a committed block were opened from here."""
        return f"handed out {committed.name}" in self.gym.remembered()

    def hand_out(self, committed: Path) -> None:
        """Keep that the sheets of a committed block were opened."""
        self.remember(**{f"handed out {committed.name}": "yes"})

    def _remembered(self, kind: str) -> Path | None:
        name = self.gym.remembered().get(kind) if self._remembers else None
        return None if name is None else self.gym.path / name

    def _is_inside(self, path: Path) -> bool:
        return path.is_relative_to(self.gym.path)
