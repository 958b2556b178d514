"""``workbench open``: app and notebooks from one server, on this computer, with a token, asking nothing outside."""

from __future__ import annotations

import argparse
import http.client
import json
import os
import secrets
import signal
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from contextlib import AbstractContextManager, contextmanager, nullcontext, suppress
from pathlib import Path
from types import FrameType
from typing import BinaryIO, NamedTuple

from workbench.quantities import InputError
from workbench.reference.copies import Copied, copy_files, write_over
from workbench.reference.gym_folder import OWN_FOLDER, GymFolder
from workbench.reference.last_gym import GONE_REMEDY, last_gym
from workbench.reference.sources import data_path, notebooks_path
from workbench.reference.whole_files import write_whole

__all__ = [
    "APP_PAGE",
    "DEFAULT_FOLDER",
    "DEFAULT_NOTEBOOKS",
    "RunningLab",
    "open_app",
    "open_workbench",
    "refresh_copy",
    "running_lab",
]

DEFAULT_FOLDER = "workbench-gym"
DEFAULT_NOTEBOOKS = "workbench-notebooks"

_LOOPBACK = "127.0.0.1"
#: Where a free port is looked for: no system hands these to a program that asks for any, so that none is taken by
#: somebody's connection between the look and the start of the server.
_PORTS = range(20_000, 32_768)
#: A cold first start on a slow disk stays below this.
_START_LIMIT_S = 120.0
_STOP_LIMIT_S = 15.0
#: What the server's process runs. Its standard input is a pipe that the workbench holds open and never writes to: when
#: that ends, however the workbench was ended, so does the server, in order first and then by force. The check of
#: international addresses in schemas, which nothing here has, is left out: making it takes half of the server's start.
_SERVER = f"""
import os, runpy, signal, sys, threading, time
def end_with_the_workbench():
    while os.read(0, 1):
        pass
    os.kill(os.getpid(), signal.SIGTERM)
    time.sleep({_STOP_LIMIT_S})
    os._exit(1)
threading.Thread(target=end_with_the_workbench, daemon=True).start()
sys.modules["rfc3987_syntax"] = None
sys.argv[0] = "jupyter-lab"
runpy.run_module("jupyterlab", run_name="__main__", alter_sys=True)
"""
_SKIPPED = {".ipynb_checkpoints", "__pycache__"}


#: The app's page, in the folder that is served: the panels over that folder, run by Voilà without its source.
APP_PAGE = f"{OWN_FOLDER}/app.ipynb"
_APP_SOURCE = 'from workbench.panels import App\n\nApp("..").show()'
#: Where Voilà finds our page template.
_JUPYTER_FILES = Path(__file__).with_name("jupyter")


class RunningLab(NamedTuple):
    """A server that answers at a port of 127.0.0.1, to requests that carry its token."""

    port: int
    token: str
    process: subprocess.Popen[bytes]

    @property
    def address(self) -> str:
        """Address of JupyterLab, with the token."""
        return f"http://{_LOOPBACK}:{self.port}/lab?token={self.token}"

    @property
    def app_address(self) -> str:
        """Address of the app, with the token."""
        return f"http://{_LOOPBACK}:{self.port}/voila/render/{APP_PAGE}?token={self.token}"


def open_workbench(arguments: argparse.Namespace) -> int:
    """Open the app on a gym's folder, or JupyterLab on the notebooks, and wait until it is ended.

    Files that were changed in a folder are never overwritten. The exit code is 0 when ended by Ctrl-C or from
    JupyterLab's own menu, else the server's; InputError where the folder cannot be written, holds the installed
    originals, or the port is taken.
    """
    default = Path.cwd() / DEFAULT_NOTEBOOKS if arguments.notebooks else _gym_to_open()
    folder = (arguments.folder or default).absolute()
    kept = "your notebooks are kept" if arguments.notebooks else f"all that was entered lies in {folder}"
    if arguments.phone and arguments.notebooks:
        raise InputError(None, "--phone", "is for the app, not for notebooks", "leave out one of the two")
    with _interrupt_on_termination():
        try:
            prepare = _prepare_notebooks if arguments.notebooks else open_app
            prepare(folder)
            page = "" if arguments.notebooks else APP_PAGE
            with running_lab(folder, port=arguments.port, browser=not arguments.no_browser, page=page) as lab:
                said = f"JupyterLab: {lab.address}" if arguments.notebooks else f"Workbench: {lab.app_address}"
                with _phone(folder) if arguments.phone else nullcontext() as phone:
                    print("\n".join([said, *([str(phone)] if phone else []), "Ctrl-C here ends it."]), flush=True)
                    return lab.process.wait()
        except KeyboardInterrupt:
            print(f"The workbench has ended; {kept}.", flush=True)
            return 0


def _phone(folder: Path) -> AbstractContextManager[object]:
    """Serve today's page for phones; what it works with is loaded only where that is asked for."""
    from workbench.commands.phone import address_in_network, phone_server

    return phone_server(folder, address_in_network())


def _gym_to_open() -> Path:
    """Return the folder that was opened last on the start page; where none was, or it is gone, the usual one."""
    last, usual = last_gym(), Path.cwd() / DEFAULT_FOLDER
    return usual if last is None or not last.is_dir() else last


def _prepare_notebooks(folder: Path) -> None:
    copy = refresh_copy(folder)
    print(f"Notebooks: {folder} ({len(copy.done)} files written)")
    if copy.kept:
        print(f"Kept as you changed them (rename one to get a fresh copy): {', '.join(copy.kept)}")


def open_app(folder: Path) -> None:
    """Make a gym's folder ready for the app; InputError where it cannot be written, or lies among the originals."""
    _refuse_originals(folder)
    GymFolder(folder).make()
    cell = {"cell_type": "code", "id": "app", "metadata": {}, "source": _APP_SOURCE, "outputs": []}
    spec = {"name": "python3", "display_name": "Python 3", "language": "python"}
    notebook = {"cells": [cell | {"execution_count": None}], "metadata": {"kernelspec": spec, "title": "Workbench"}}
    write_over(folder / APP_PAGE, json.dumps(notebook | {"nbformat": 4, "nbformat_minor": 5}).encode())
    print(f"Gym: {folder}")
    last = last_gym()
    if last is not None and not last.is_dir():
        print(f"The gym that was opened last is gone: {last}. {GONE_REMEDY}")


def refresh_copy(folder: Path) -> Copied:
    """Bring a working folder up to the shipped notebooks and demo files, never over what someone changed there.

    The folder is made where it is missing; InputError where it cannot be written, or lies among the originals.
    """
    _refuse_originals(folder)
    return copy_files(_shipped_files(), folder, folder / OWN_FOLDER / "originals.json")


def _refuse_originals(folder: Path) -> None:
    originals = [notebooks_path(), data_path()]
    if any(folder.resolve().is_relative_to(original.resolve()) for original in originals):
        raise InputError(folder, "", "holds the shipped originals", "give another folder to work in")


@contextmanager
def running_lab(
    folder: Path, *, port: int | None = None, browser: bool = False, page: str = "", options: Sequence[str] = ()
) -> Iterator[RunningLab]:
    """Run app and JupyterLab on a folder that exists while the ``with`` block lasts; without a port on a free one.

    ``browser`` opens the ``page`` of the folder as an app, without one JupyterLab; ``options`` are further ones of
    ``jupyter lab``. InputError where the port is taken, or JupyterLab does not start.
    """
    chosen = _free_port(port)
    token = secrets.token_urlsafe(24)
    with tempfile.TemporaryDirectory(prefix="workbench-", ignore_cleanup_errors=True) as private:
        command = [
            # -P: no file of the working folder can stand in for a module of the server.
            *(sys.executable, "-P", "-c", _SERVER),
            *(f"--ServerApp.ip={_LOOPBACK}", f"--ServerApp.port={chosen}", "--ServerApp.port_retries=0"),
            *("--ServerApp.allow_remote_access=False", "--ServerApp.answer_yes=True"),
            *(f"--ServerApp.root_dir={folder}", f"--ServerApp.open_browser={browser}"),
            "--ServerApp.kernel_websocket_connection_class=workbench.commands.prompt_messages.PromptMessages",
            *("--LabApp.extension_manager=readonly", "--LabApp.news_url=None"),
            "--LabApp.check_for_updates_class=jupyterlab.NeverCheckForUpdate",
            # The app's page lies in a hidden folder; Voilà shows it by our template.
            *("--ContentsManager.allow_hidden=True", "--VoilaConfiguration.template=workbench"),
            *(_app_options(page) if page else []),
            *(["--ServerApp.allow_root=True"] if getattr(os, "geteuid", lambda: 1)() == 0 else []),
            *options,
        ]
        # A session of its own: Ctrl-C then reaches us alone, and we end the server in order, kernels included.
        log = folder / OWN_FOLDER / "jupyterlab.log"
        with _private_log(log) as output:
            process = subprocess.Popen(
                command,
                cwd=private,  # where settings are looked for, too: none of the folder's may steer the server
                env=_environment(Path(private), folder, token),
                stdin=subprocess.PIPE,
                stdout=output,
                stderr=subprocess.STDOUT,
                start_new_session=True,
            )
        lab = RunningLab(chosen, token, process)
        try:
            _wait_until_it_answers(lab, log)
            yield lab
        finally:
            _end(lab)


def _app_options(page: str) -> list[str]:
    """Return what gets the app's page on the screen sooner, and has a browser open there."""
    return [
        f"--LabApp.default_url=/voila/render/{page}",
        "--ServerApp.kernel_manager_class=workbench.commands.app_kernels.AppKernels",
        # Figures bring their own plotly; nothing of these is on the page.
        "--VoilaConfiguration.extension_denylist=jupyterlab-plotly",
        "--VoilaConfiguration.extension_denylist=jupyterlab_pygments",
    ]


def _shipped_files() -> dict[str, Path]:
    files = {
        (Path(prefix) / path.relative_to(root)).as_posix(): path
        for prefix, root in (("", notebooks_path()), ("demo", data_path("demo")))
        for path in sorted(root.rglob("*"))
        if path.is_file() and not _SKIPPED.intersection(path.relative_to(root).parts)
    }
    if not any(name.endswith(".ipynb") for name in files):
        raise InputError(notebooks_path(), "", "has no notebooks", "reinstall the package")
    return files


def _private_log(log: Path) -> BinaryIO:
    """Open a new log that nobody else may read: what the server says of its addresses is no one's business."""
    log.parent.mkdir(exist_ok=True)
    log.unlink(missing_ok=True)
    return os.fdopen(os.open(log, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb")


def _free_port(port: int | None) -> int:
    wanted = secrets.choice(_PORTS) if port is None else port
    if not 0 <= wanted <= 65535:
        raise InputError(None, "port", f"{wanted} is no port", "use 1024 to 65535, or leave it out for a free one")
    with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as probe:
        if os.name == "posix":  # a port that was just let go is free; elsewhere the option means something else
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((_LOOPBACK, wanted))
        except OSError as error:
            if port is None:
                return _free_port(0)  # whichever the system has
            problem = f"{wanted} cannot be used ({error.strerror})"
            raise InputError(None, "port", problem, "give another, or leave it out for a free one") from error
        return int(probe.getsockname()[1])


def _environment(private: Path, folder: Path, token: str) -> dict[str, str]:
    """Environment of a JupyterLab that knows no other's settings, and whose kernel is this very interpreter."""
    kernel = private / "data" / "kernels" / "python3"
    kernel.mkdir(parents=True)
    argv = [sys.executable, "-m", "ipykernel_launcher", "-f", "{connection_file}"]
    spec = {"argv": argv, "display_name": "Python 3 (workbench)", "language": "python"}
    write_whole(kernel / "kernel.json", json.dumps(spec))
    # Without this JupyterLab asks at its first start whether to fetch news.
    settings = {"@jupyterlab/apputils-extension:notification": {"fetchNews": "false", "checkForUpdates": False}}
    overrides = private / "config" / "labconfig" / "default_setting_overrides.json"
    overrides.parent.mkdir(parents=True)
    write_whole(overrides, json.dumps(settings))
    own = folder / OWN_FOLDER
    return {
        **os.environ,
        "JUPYTER_CONFIG_DIR": str(private / "config"),
        "JUPYTER_PATH": os.pathsep.join(
            filter(None, [str(private / "data"), str(_JUPYTER_FILES), os.environ.get("JUPYTER_PATH")])
        ),
        "JUPYTER_RUNTIME_DIR": str(private / "runtime"),
        # Else kernels share the user's history: whichever is busy with it holds up the start of another.
        "IPYTHONDIR": str(private / "ipython"),
        "JUPYTERLAB_SETTINGS_DIR": str(own / "settings"),
        "JUPYTERLAB_WORKSPACES_DIR": str(own / "workspaces"),
        "JUPYTER_TOKEN": token,  # not on the command line, where every user of the computer could read it
    }


def _status(lab: RunningLab, method: str, path: str) -> int:
    """Status of one request with the token. By hand, because urllib would send it through a proxy if one is set."""
    connection = http.client.HTTPConnection(_LOOPBACK, lab.port, timeout=5)
    try:
        connection.request(method, path, headers={"Authorization": f"token {lab.token}"})
        return connection.getresponse().status
    finally:
        connection.close()


def _wait_until_it_answers(lab: RunningLab, log: Path) -> None:
    """Return once the server knows its token, so that no other program on the port is taken for it."""
    limit = time.monotonic() + _START_LIMIT_S
    while time.monotonic() < limit:
        if lab.process.poll() is not None:
            problem = f"JupyterLab ended at once with exit code {lab.process.returncode}"
            raise InputError(log, "", problem, "the last lines of this file say why")
        with suppress(OSError, http.client.HTTPException):
            if _status(lab, "GET", "/api/status") == http.client.OK:
                return
        time.sleep(0.1)
    raise InputError(log, "", f"JupyterLab did not answer within {_START_LIMIT_S:g} s", "this file may say why")


def _end(lab: RunningLab) -> None:
    """Ask the server to end, so that it ends its kernels; by force only if it does not obey."""
    assert lab.process.stdin is not None
    if lab.process.poll() is not None:
        lab.process.stdin.close()
        return
    with suppress(OSError, http.client.HTTPException):
        _status(lab, "POST", "/api/shutdown")
    for insist in (lab.process.terminate, lab.process.kill):
        try:
            lab.process.wait(_STOP_LIMIT_S)
        except subprocess.TimeoutExpired:
            insist()
    lab.process.wait()
    lab.process.stdin.close()


@contextmanager
def _interrupt_on_termination() -> Iterator[None]:
    """Let a polite kill or a closed terminal end the server as Ctrl-C does, so that none is left behind."""

    def interrupt(_number: int, _frame: FrameType | None) -> None:
        raise KeyboardInterrupt

    names = [name for name in ("SIGTERM", "SIGHUP") if hasattr(signal, name)]
    before = {name: signal.signal(getattr(signal, name), interrupt) for name in names}
    try:
        yield
    finally:
        for name, handler in before.items():
            signal.signal(getattr(signal, name), handler)
