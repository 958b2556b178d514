"""A demonstration folder with so few lifters and so short a log that what a panel does with them takes no time."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from workbench.panels.app import PAGES, App
from workbench.reference.sources import data_path

#: Four sets of the first exercise: enough to learn something from.
SETS = 4
#: Lifters of the folder: a team, and one whose name is not that of the log.
LIFTERS = {"asta_lindqvist.toml", "cato_venn.toml", "emre_sandoval.toml"}


@pytest.fixture(scope="session")
def folder_with_short_log(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder that holds the demonstration as a notebook finds it beside itself."""
    folder = tmp_path_factory.mktemp("beside")
    shutil.copytree(data_path("demo"), folder / "demo", ignore=shutil.ignore_patterns("logs"))
    for path in (folder / "demo" / "lifters").iterdir():
        if path.name not in LIFTERS:
            path.unlink()
    (folder / "demo" / "logs").mkdir()
    name = "emre_sandoval_weeks_1_2.csv"
    lines = (data_path("demo") / "logs" / name).read_text(encoding="utf-8").splitlines()
    (folder / "demo" / "logs" / name).write_text("\n".join(lines[: 1 + SETS]) + "\n", encoding="utf-8")
    return folder


@pytest.fixture(scope="session")
def every_page(tmp_path_factory: pytest.TempPathFactory) -> App:
    """Return the app on the demonstration, with every page made; for tests that are marked slow."""
    app = App(tmp_path_factory.mktemp("gym"))
    app.desk.gym.add_demo()
    app.pages["start"].look_again()
    for page in PAGES:
        app.go(page.key)
    return app


@pytest.fixture
def short_log(folder_with_short_log: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Work where a panel finds the short log."""
    monkeypatch.chdir(folder_with_short_log)
