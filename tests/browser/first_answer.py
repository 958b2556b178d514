"""Seconds from the command to the first answer of the app, the browser being open already."""

from __future__ import annotations

import re
import shutil
import signal
import subprocess
import sys
import tempfile
import time

from playwright.sync_api import sync_playwright

from workbench.reference.gym_folder import GymFolder


def main() -> None:
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        gym = GymFolder(f"{folder}/gym")
        gym.make()
        gym.add_demo()
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=["--no-sandbox"])
        page = browser.new_page()
        start = time.monotonic()

        def say(what: str) -> None:
            print(f"{what}: {time.monotonic() - start:.1f} s")

        command = [sys.executable, "-m", "workbench", "open", "--no-browser", str(gym.path)]
        process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
        assert process.stdout is not None
        address = next(found[0] for line in process.stdout if (found := re.search(r"http://\S+", line)))
        say("the server answers")
        page.goto(address, wait_until="commit")
        page.wait_for_selector("h1 >> text=Start")
        say("the start page is there")
        page.wait_for_selector("text=What is next")
        say("the start page says what is next")
        page.locator(".workbench-steps").get_by_role("button", name="Check", exact=True).click()
        page.wait_for_selector(".workbench-figure .main-svg")
        say("the block is checked and drawn, after one click")
        process.send_signal(signal.SIGINT)
        process.wait(30)
        browser.close()


if __name__ == "__main__":
    main()
