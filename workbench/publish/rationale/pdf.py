"""The rationale as PDF, printed by a Chromium that is there."""

from __future__ import annotations

import shutil
import subprocess
import tempfile
from pathlib import Path
from typing import Final

from workbench.publish.commit import read_committed
from workbench.publish.rationale.page import rationale_html
from workbench.quantities import InputError
from workbench.reference.whole_files import check_free, read_whole, write_whole

__all__ = ["find_chromium", "write_pdf"]

_CHROMIUM: Final = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome", "msedge")
_WAIT_S: Final = 180
_LARGEST_PDF: Final = 500_000_000


def find_chromium() -> str | None:
    """Path of a Chromium or one of its relatives; None where there is none."""
    return next((found for name in _CHROMIUM if (found := shutil.which(name))), None)


def write_pdf(committed: str | Path, output: str | Path, *, replace: bool = False) -> Path:
    """Write the rationale of a committed block as PDF, all lifters one below the other, by a Chromium that is there.

    Raises
    ------
    InputError
        Where no Chromium is found, it fails, or the file is there already (unless ``replace``) or cannot be written.
    """
    output = Path(output)
    check_free(output, replace=replace)
    browser = find_chromium()
    if browser is None:
        raise InputError(output, "PDF", "no Chromium is found here", "write the .html and print it from any browser")
    text = rationale_html(read_committed(committed), everybody=True)
    with tempfile.TemporaryDirectory() as folder:
        page, made = Path(folder) / "rationale.html", Path(folder) / "rationale.pdf"
        write_whole(page, text)
        command = [
            browser,
            "--headless",
            "--disable-gpu",
            "--no-sandbox",  # needed where the user is root, as in containers; the page is our own
            "--disable-background-networking",
            f"--user-data-dir={folder}/profile",
            "--no-pdf-header-footer",
            "--virtual-time-budget=20000",
            f"--print-to-pdf={made}",
            page.as_uri(),
        ]
        try:
            subprocess.run(command, check=True, capture_output=True, timeout=_WAIT_S)
            content = read_whole(made, _LARGEST_PDF)
        except (subprocess.SubprocessError, OSError, InputError) as error:
            problem = f"could not be made ({type(error).__name__})"
            raise InputError(output, "PDF", problem, "write the .html and print it from a browser") from error
    return write_whole(output, content, replace=replace)
