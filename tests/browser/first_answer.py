"""From the command to the first answer of the app: seconds, and what each process has used of the processor till then.

Seconds depend on what else the machine does; processor seconds hardly. The browser is open already.
"""

from __future__ import annotations

import re
import shutil
import signal
import subprocess
import sys
import tempfile
import time

import psutil
from playwright.sync_api import sync_playwright

from workbench.reference.gym_folder import GymFolder

#: Part of a command line, and what such a process is called here; the first that fits.
_ROLES = (("ipykernel_launcher", "kernel"), ("workbench open", "command"), ("jupyter", "server"), ("chrom", "browser"))


class Used:
    """Processor seconds of this process's children and theirs, by role; what has ended counts as it was last."""

    def __init__(self) -> None:
        self._seen: dict[int, tuple[str, float]] = {}
        self._before = self.look()

    def look(self) -> dict[str, float]:
        """Return the seconds used since this was made."""
        for process in psutil.Process().children(recursive=True):
            try:
                line, times = " ".join(process.cmdline()), process.cpu_times()
            except psutil.Error:
                continue
            role = next((role for part, role in _ROLES if part in line), "other")
            self._seen[process.pid] = (role, times.user + times.system)
        found: dict[str, float] = {}
        for role, seconds in self._seen.values():
            found[role] = found.get(role, 0.0) + seconds
        before = getattr(self, "_before", {})
        return {role: seconds - before.get(role, 0.0) for role, seconds in found.items()}


def main() -> None:
    """Print when each part of the first answer is there, and the processor seconds of each process until then."""
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        gym = GymFolder(f"{folder}/gym")
        gym.make()
        gym.add_demo()
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=["--no-sandbox"])
        page = browser.new_page()
        used, start = Used(), time.monotonic()

        def say(what: str) -> None:
            seconds = time.monotonic() - start
            parts = used.look()
            said = ", ".join(f"{role} {parts[role]:.1f}" for _, role in _ROLES if role in parts)
            print(f"{what}: {seconds:.1f} s; of the processor {sum(parts.values()):.1f} s ({said})", flush=True)

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
