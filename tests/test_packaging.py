"""What leaves the house as a wheel is complete, and importing the package stays cheap."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tomllib
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
#: Each costs more to import than the whole of a small package should.
HEAVY = ["pandas", "plotly", "pydantic", "scipy", "ipywidgets", "openpyxl", "jupyterlab", "dask"]


def run(*command: str | Path, cwd: Path, **environment: str) -> subprocess.CompletedProcess[str]:
    inherited = {name: value for name, value in os.environ.items() if name not in {"PYTHONPATH", "PYTHONSAFEPATH"}}
    return subprocess.run(
        [str(part) for part in command],
        cwd=cwd,
        env={**inherited, **environment},
        capture_output=True,
        text=True,
        encoding="utf-8",
        timeout=300,
        check=False,
    )


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Build the wheel of this checkout, without the network."""
    out = tmp_path_factory.mktemp("wheel")
    built = run(sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", out, ROOT, cwd=out)
    assert built.returncode == 0, built.stdout + built.stderr
    (found,) = out.glob("*.whl")
    return found


def shipped(folder: str) -> set[str]:
    """Files of a folder of the checkout that belong into the wheel."""
    paths = (path for path in (ROOT / folder).rglob("*") if path.is_file())
    parts = (path.relative_to(ROOT / folder) for path in paths)
    return {part.as_posix() for part in parts if not {".ipynb_checkpoints", "__pycache__"}.intersection(part.parts)}


@pytest.mark.slow
def test_the_wheel_holds_package_data_notebooks_and_the_typing_mark(wheel: Path) -> None:
    with zipfile.ZipFile(wheel) as archive:
        names = set(archive.namelist())
    assert "workbench/py.typed" in names
    for folder, inside in [("data", "workbench/_data/"), ("notebooks", "workbench/_notebooks/")]:
        held = {name.removeprefix(inside) for name in names if name.startswith(inside)}
        assert held == shipped(folder)
        assert held, f"{folder}/ is empty"
    held = {name.removeprefix("workbench/") for name in names if not name.startswith(("workbench/_", "program_"))}
    assert held | {"__init__.py", "__main__.py"} == shipped("workbench")  # templates, styles and scripts too
    assert not [name for name in names if name.startswith(("tests/", "data/", "notebooks/"))]


@pytest.mark.slow
def test_the_installed_wheel_runs_the_demo_far_from_the_checkout(wheel: Path, tmp_path: Path) -> None:
    target = tmp_path / "installed"
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    pip = [sys.executable, "-m", "pip", "install", "--quiet", "--no-deps", "--no-index", "--target", target, wheel]
    installed = run(*pip, cwd=elsewhere)
    assert installed.returncode == 0, installed.stderr
    # PYTHONPATH comes before an editable install of the same package; the first run makes sure of it.
    where = (
        "import workbench, workbench.reference.sources as s\n"
        "print(workbench.__file__, s.data_path(), s.notebooks_path())"
    )
    found = run(sys.executable, "-c", where, cwd=elsewhere, PYTHONPATH=str(target))
    assert found.stdout.split() == [
        str(target / "workbench" / name) for name in ("__init__.py", "_data", "_notebooks")
    ], found.stderr
    demo = run(sys.executable, "-m", "workbench", cwd=elsewhere, PYTHONPATH=str(target), PYTHONIOENCODING="utf-8")
    assert demo.returncode == 0, demo.stderr
    assert "Traceback" not in demo.stderr
    assert re.search(r"^ +open +open the app", demo.stdout, re.MULTILINE), "explains itself"
    assert re.search(r"\d+ ?%", demo.stdout), "runs the demo check, which prints chances"


def test_importing_the_package_imports_nothing_heavy() -> None:
    script = f"import sys, workbench; print(sorted(set({HEAVY!r}) & set(sys.modules)))"
    done = run(sys.executable, "-c", script, cwd=ROOT)
    assert done.returncode == 0, done.stderr
    assert done.stdout.strip() == "[]"


def test_the_readme_commands_name_what_the_project_file_defines() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    lines = [line for line in readme.splitlines() if line.startswith("python3 -m venv")]
    assert len(lines) == 2
    assert set(re.findall(r"\.\[(\w+)\]", "\n".join(lines))) <= set(project["optional-dependencies"])
    assert set(re.findall(r"\.venv/bin/(\w+)", "\n".join(lines))) - {"pip", "pytest"} <= set(project["scripts"])
    # CI runs the second line, not a variant of it.
    install = re.search(r"pip install -q (-e \S+)", lines[1])
    assert install is not None
    assert install[1] in (ROOT / ".ci" / "run").read_text(encoding="utf-8")
