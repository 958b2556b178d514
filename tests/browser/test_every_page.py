"""On a phone every page of the app keeps to the screen, says its words whole, and is worked by a thumb."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.browser.every_page import faults, take_look
from tests.browser.hands import Mouse
from workbench.commands.notebook_server import open_app, running_lab
from workbench.panels.app import PAGES
from workbench.reference.gym_folder import GymFolder

pytestmark = [pytest.mark.browser, pytest.mark.slow]


def test_every_page_fits_a_phone_and_a_thumb(page: Any, tmp_path: Path) -> None:
    open_app(tmp_path / "gym")
    GymFolder(tmp_path / "gym").add_demo()
    with running_lab(tmp_path / "gym") as lab:
        hands = Mouse(page)
        page.set_viewport_size({"width": 390, "height": 844})
        page.goto(lab.app_address)
        page.wait_for_selector("h2 >> text=What is next")
        found = {}
        for one in PAGES:
            hands.go(one.title)
            take_look(page, 390, "light")
            if wrong := faults(page):
                found[one.title] = wrong
        assert found == {}
        assert hands.complaints == []
