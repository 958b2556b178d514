"""`workbench open`: the working copy loses nobody's work, and JupyterLab answers to its token alone, and offline."""

from __future__ import annotations

import argparse
import http.client
import json
import os
import re
import signal
import socket
import stat
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from urllib.parse import urlsplit

import pytest

from workbench.commands import notebook_server
from workbench.commands.notebook_server import open_workbench, refresh_copy, running_lab
from workbench.quantities import InputError
from workbench.reference.gym_folder import KINDS
from workbench.reference.last_gym import keep_last_gym, last_gym

START_LIMIT_S = 120.0


@pytest.fixture
def originals(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Two small notebooks and a demo lifter in place of the shipped ones."""
    root = tmp_path / "shipped"
    (root / "data" / "demo" / "lifters").mkdir(parents=True)
    (root / "data" / "demo" / "lifters" / "ada.toml").write_text("name = 'Ada'\n", encoding="utf-8")
    (root / "notebooks" / ".ipynb_checkpoints").mkdir(parents=True)
    (root / "notebooks" / ".ipynb_checkpoints" / "01-load.ipynb").write_text("{}", encoding="utf-8")
    for name in ("01-load.ipynb", "02-block.ipynb"):
        cell = {"cell_type": "markdown", "id": "a1", "metadata": {}, "source": name}
        content = {"cells": [cell], "metadata": {}, "nbformat": 4, "nbformat_minor": 5}
        (root / "notebooks" / name).write_text(json.dumps(content), encoding="utf-8")
    monkeypatch.setattr(notebook_server, "notebooks_path", lambda: root / "notebooks")
    monkeypatch.setattr(notebook_server, "data_path", lambda *parts: root.joinpath("data", *parts))
    return root


def test_a_first_copy_holds_every_notebook_and_the_demo_files(originals: Path, tmp_path: Path) -> None:
    copy = refresh_copy(tmp_path / "mine" / "deep")
    assert copy.done == ("01-load.ipynb", "02-block.ipynb", "demo/lifters/ada.toml")
    assert copy.kept == ()
    for name in copy.done[:2]:
        assert (tmp_path / "mine" / "deep" / name).read_bytes() == (originals / "notebooks" / name).read_bytes()


def test_a_second_copy_changes_nothing(originals: Path, tmp_path: Path) -> None:
    refresh_copy(tmp_path / "mine")
    again = refresh_copy(tmp_path / "mine")
    assert (again.done, again.kept) == ((), ())


def test_changed_files_are_kept_and_untouched_ones_renewed(originals: Path, tmp_path: Path) -> None:
    mine = tmp_path / "mine"
    refresh_copy(mine)
    (mine / "01-load.ipynb").write_text("my own work", encoding="utf-8")
    for name in ("01-load.ipynb", "02-block.ipynb"):
        (originals / "notebooks" / name).write_text("next version", encoding="utf-8")
    copy = refresh_copy(mine)
    assert copy.kept == ("01-load.ipynb",)
    assert copy.done == ("02-block.ipynb",)
    assert (mine / "01-load.ipynb").read_text(encoding="utf-8") == "my own work"
    assert (mine / "02-block.ipynb").read_text(encoding="utf-8") == "next version"
    # And it stays so, however often the workbench is opened.
    assert refresh_copy(mine).kept == ("01-load.ipynb",)


@pytest.mark.parametrize("damage", [None, b"", b"[1, 2]", b"\xff\xfe", b'{"01-load.ipynb": 3}'])
def test_a_lost_or_damaged_ledger_never_costs_work(originals: Path, tmp_path: Path, damage: bytes | None) -> None:
    mine = tmp_path / "mine"
    refresh_copy(mine)
    (mine / "01-load.ipynb").write_text("my own work", encoding="utf-8")
    ledger = mine / ".workbench" / "originals.json"
    if damage is None:
        ledger.unlink()
    else:
        ledger.write_bytes(damage)
    assert refresh_copy(mine).kept == ("01-load.ipynb",)
    assert (mine / "01-load.ipynb").read_text(encoding="utf-8") == "my own work"


def test_a_deleted_file_comes_back(originals: Path, tmp_path: Path) -> None:
    refresh_copy(tmp_path / "mine")
    (tmp_path / "mine" / "02-block.ipynb").unlink()
    assert refresh_copy(tmp_path / "mine").done == ("02-block.ipynb",)


def test_someone_elses_file_of_the_same_name_is_kept(originals: Path, tmp_path: Path) -> None:
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "01-load.ipynb").write_text("was here before", encoding="utf-8")
    assert refresh_copy(tmp_path / "mine").kept == ("01-load.ipynb",)
    assert (tmp_path / "mine" / "01-load.ipynb").read_text(encoding="utf-8") == "was here before"


@pytest.mark.skipif(os.name != "posix", reason="links need rights elsewhere")
def test_a_link_to_an_original_is_replaced_not_written_through(originals: Path, tmp_path: Path) -> None:
    mine = tmp_path / "mine"
    refresh_copy(mine)
    original = originals / "notebooks" / "01-load.ipynb"
    before = original.read_bytes()
    outside = tmp_path / "outside.ipynb"
    outside.write_bytes(before)
    (mine / "01-load.ipynb").unlink()
    (mine / "01-load.ipynb").symlink_to(outside)
    original.write_text("next version", encoding="utf-8")
    assert refresh_copy(mine).done == ("01-load.ipynb",)
    assert outside.read_bytes() == before
    assert (mine / "01-load.ipynb").read_text(encoding="utf-8") == "next version"


@pytest.mark.parametrize("place", ["notebooks", "notebooks/inside", "data", "data/demo"])
def test_the_originals_are_no_place_to_work_in(originals: Path, place: str) -> None:
    before = sorted(originals.rglob("*"))
    with pytest.raises(InputError, match="originals; give another folder"):
        refresh_copy(originals / place)
    assert sorted(originals.rglob("*")) == before


def opened(monkeypatch: pytest.MonkeyPatch, folder: Path | None = None) -> Path:
    """Return the folder that would be served, where nothing is started."""
    found = []

    @contextmanager
    def serve(folder: Path, **_: object) -> Iterator[None]:
        found.append(folder)
        raise KeyboardInterrupt
        yield

    monkeypatch.setattr(notebook_server, "running_lab", serve)
    assert (
        open_workbench(argparse.Namespace(notebooks=False, no_browser=True, folder=folder, port=None, phone=False)) == 0
    )
    return found[0]


def test_the_gym_opened_last_is_opened_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("WORKBENCH_HOME", str(tmp_path / "home"))
    monkeypatch.chdir(tmp_path)
    usual, last = tmp_path / "workbench-gym", tmp_path / "cellar"
    assert opened(monkeypatch) == usual
    last.mkdir()
    keep_last_gym(last)
    assert opened(monkeypatch) == last
    assert opened(monkeypatch, tmp_path / "other") == tmp_path / "other"
    assert "is gone" not in capsys.readouterr().out
    last.rename(tmp_path / "attic")
    assert opened(monkeypatch) == usual
    assert f"is gone: {last}. It was moved or renamed" in capsys.readouterr().out
    assert not last.exists()


@pytest.mark.parametrize("kept", [b"", b"[]", b'{"gym": 3}', b'{"gym": ""}'])
def test_what_was_opened_last_may_be_lost(kept: bytes, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("WORKBENCH_HOME", str(tmp_path))
    keep_last_gym(tmp_path)
    (tmp_path / ".workbench" / "gym.json").write_bytes(kept)
    assert last_gym() is None


@pytest.mark.parametrize("notebooks", [False, True])
def test_a_folder_that_is_a_file_is_one_clear_error(originals: Path, tmp_path: Path, notebooks: bool) -> None:
    (tmp_path / "file").write_text("", encoding="utf-8")
    with pytest.raises(InputError, match="another folder") as caught:
        open_workbench(
            argparse.Namespace(
                notebooks=notebooks, no_browser=True, folder=tmp_path / "file" / "below", port=None, phone=False
            )
        )
    assert "\n" not in str(caught.value)


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may write everywhere")
def test_a_folder_without_leave_to_write_is_one_clear_error(originals: Path, tmp_path: Path) -> None:
    (tmp_path / "locked").mkdir(mode=0o500)
    with pytest.raises(InputError, match=r"Permission denied.*give another folder"):
        refresh_copy(tmp_path / "locked")


def test_no_notebooks_is_one_clear_error(originals: Path, tmp_path: Path) -> None:
    for path in (originals / "notebooks").glob("*.ipynb"):
        path.unlink()
    with pytest.raises(InputError, match="has no notebooks; reinstall"):
        refresh_copy(tmp_path / "mine")


def test_a_taken_port_is_one_clear_error(tmp_path: Path) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        with (
            pytest.raises(InputError, match=rf"port: {port} cannot be used .*; give another"),
            running_lab(tmp_path, port=port),
        ):
            pytest.fail("started on a taken port")


def test_a_free_port_is_none_that_the_system_gives_to_a_connection_meanwhile(monkeypatch: pytest.MonkeyPatch) -> None:
    handed_out = Path("/proc/sys/net/ipv4/ip_local_port_range")
    if handed_out.exists():
        assert notebook_server._free_port(None) < int(handed_out.read_text(encoding="ascii").split()[0])
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        monkeypatch.setattr(notebook_server, "_PORTS", range(port, port + 1))
        assert notebook_server._free_port(None) not in (0, port)


@pytest.mark.parametrize("port", [-1, 65536])
def test_a_number_that_is_no_port_is_one_clear_error(tmp_path: Path, port: int) -> None:
    with pytest.raises(InputError, match=f"port: {port} is no port"), running_lab(tmp_path, port=port):
        pytest.fail("started on no port")


def test_a_jupyterlab_that_does_not_start_names_its_log(tmp_path: Path) -> None:
    with (
        pytest.raises(InputError, match=r"jupyterlab\.log: JupyterLab ended at once with exit code [1-9]"),
        running_lab(tmp_path, options=["--ServerApp.root_dir=/no/such/folder"]),
    ):
        pytest.fail("started without a folder")
    assert "/no/such/folder" in (tmp_path / ".workbench" / "jupyterlab.log").read_text(encoding="utf-8")


def ask(port: int, path: str, token: str | None = None) -> tuple[int, bytes]:
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=START_LIMIT_S)
    try:
        connection.request("GET", path, headers={"Authorization": f"token {token}"} if token else {})
        answer = connection.getresponse()
        return answer.status, answer.read()
    finally:
        connection.close()


@contextmanager
def command_line(*arguments: str, cwd: Path) -> Iterator[subprocess.Popen[str]]:
    """Run the command line in a process of its own; whatever the test does, the process has ended after it."""
    # Where the tests run in the background of a shell, Ctrl-C is ignored, and would be in the process too.
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    try:
        process = subprocess.Popen(
            [sys.executable, "-m", "workbench", *arguments],
            cwd=cwd,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            encoding="utf-8",
        )
    finally:
        signal.signal(signal.SIGINT, before)
    try:
        yield process
    finally:
        if process.poll() is None:
            process.terminate()
        process.communicate(timeout=START_LIMIT_S)


def address_from(process: subprocess.Popen[str]) -> tuple[int, str]:
    """Read a process's output up to the printed address; return port and token."""
    assert process.stdout is not None
    assert process.stderr is not None
    said = []
    for line in process.stdout:
        said.append(line)
        if found := re.search(r"http://127\.0\.0\.1:(\d+)/lab\?token=(\S+)", line):
            return int(found[1]), found[2]
    raise AssertionError("no address in: " + "".join(said) + process.stderr.read())


def is_free(port: int) -> bool:
    with socket.socket() as probe:
        return probe.connect_ex(("127.0.0.1", port)) != 0


@pytest.mark.slow
@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGTERM], ids=["Ctrl-C", "kill"])
def test_the_command_prints_an_address_that_needs_its_token_and_ends_cleanly(tmp_path: Path, how: int) -> None:
    with command_line("open", "--notebooks", "--no-browser", cwd=tmp_path) as process:
        port, token = address_from(process)
        assert ask(port, "/lab", token)[0] == 200
        assert ask(port, "/api/contents")[0] == 403
        assert ask(port, "/api/contents", "wrong")[0] == 403
        status, body = ask(port, "/api/contents", token)
        assert status == 200
        assert any(entry["name"].endswith(".ipynb") for entry in json.loads(body)["content"])
        kernels = json.loads(ask(port, "/api/kernelspecs", token)[1])["kernelspecs"]
        assert kernels["python3"]["spec"]["argv"][0] == sys.executable
        process.send_signal(how)
        out, errors = process.communicate(timeout=START_LIMIT_S)
        assert process.returncode == 0
        assert errors == ""
        assert "your notebooks are kept" in out
        assert is_free(port)
    assert list((tmp_path / "workbench-notebooks").glob("*.ipynb"))


@pytest.mark.slow
def test_without_more_the_app_opens_on_a_gym_of_ones_own_behind_its_token(tmp_path: Path) -> None:
    with command_line("open", "--no-browser", "club", cwd=tmp_path) as process:
        assert process.stdout is not None
        said = [process.stdout.readline(), process.stdout.readline()]
        assert str(tmp_path / "club") in said[0]
        address = urlsplit(said[1].split()[1])
        assert address.hostname == "127.0.0.1"
        token = address.query.removeprefix("token=")
        assert address.port is not None
        status, body = ask(address.port, address.path, token)
        assert status == 200
        page = body.decode()
        assert "application/vnd.jupyter.widget-view+json" in page
        assert "workbench.panels" not in page  # no code
        assert "http://" not in page.replace("http://www.w3.org", "")
        assert "https://" not in page
        assert ask(address.port, address.path, "wrong")[0] != 200
        assert ask(address.port, "/lab", token)[0] == 200
        process.send_signal(signal.SIGINT)
        out, errors = process.communicate(timeout=START_LIMIT_S)
        assert (process.returncode, errors) == (0, "")
        assert f"all that was entered lies in {tmp_path / 'club'}" in out
    assert sorted(path.name for path in (tmp_path / "club").iterdir() if not path.name.startswith(".")) == sorted(KINDS)


def wait_until(holds: Callable[[], bool]) -> bool:
    """Wait for something that other processes do; False where it does not come about."""
    limit = time.monotonic() + START_LIMIT_S
    while not holds():
        if time.monotonic() > limit:
            return False
        time.sleep(0.1)
    return True


@pytest.mark.slow
@pytest.mark.skipif(os.name != "posix", reason="processes are killed otherwise elsewhere")
def test_a_workbench_that_is_killed_takes_its_server_and_kernels_along(originals: Path, tmp_path: Path) -> None:
    """Killed at once, the workbench can end nothing in order: the server sees the end of the pipe that it held."""
    with command_line("open", "--notebooks", "--no-browser", cwd=tmp_path) as process:
        port, token = address_from(process)
        connection = http.client.HTTPConnection("127.0.0.1", port, timeout=START_LIMIT_S)
        connection.request("POST", "/api/kernels", "{}", {"Authorization": f"token {token}"})
        assert connection.getresponse().status == 201
        connection.close()
        mark = str(tmp_path).encode()
        assert len(_processes_with(mark)) >= 2, "no server and kernel to look for"
        process.kill()
        process.wait(START_LIMIT_S)
        assert wait_until(lambda: is_free(port)), "the server is still there"
        assert wait_until(lambda: not _processes_with(mark)), _processes_with(mark)


@pytest.mark.slow
@pytest.mark.skipif(not Path("/proc/self").exists(), reason="looks for the kernels in /proc")
def test_kernels_of_a_server_that_is_killed_end_themselves_busy_or_not(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(notebook_server, "_APP_SOURCE", "open('busy', 'w').close()\nwhile True: pass")
    folder = tmp_path / "mine"
    notebook_server.open_app(folder)
    with running_lab(folder, page=notebook_server.APP_PAGE) as lab:
        start_kernel(lab.port, lab.token)
        with closing(http.client.HTTPConnection("127.0.0.1", lab.port, timeout=START_LIMIT_S)) as connection:
            connection.request(
                "GET", f"/voila/render/{notebook_server.APP_PAGE}", headers={"Authorization": f"token {lab.token}"}
            )
            assert wait_until((folder / ".workbench" / "busy").exists), "the page's kernel does not run"
        mark = str(folder).encode()
        assert len(_processes_with(mark)) >= 3, "no server and two kernels to look for"
        lab.process.kill()
        lab.process.wait()
        assert wait_until(lambda: not _processes_with(mark)), _processes_with(mark)


def _processes_with(mark: bytes) -> list[int]:
    """Other processes whose environment or words hold a mark, as the server's and its kernels' do."""
    found = []
    for path in Path("/proc").glob("[0-9]*"):
        try:
            if mark in (path / "environ").read_bytes() + (path / "cmdline").read_bytes():
                found.append(int(path.name))
        except OSError:
            continue
    return [number for number in found if number != os.getpid()]


@pytest.mark.slow
@pytest.mark.skipif(os.name != "posix", reason="permissions are others elsewhere")
def test_the_log_of_the_server_is_private_and_holds_no_token(originals: Path, tmp_path: Path) -> None:
    folder = tmp_path / "mine"
    refresh_copy(folder)
    log = folder / ".workbench" / "jupyterlab.log"
    log.write_text("an older log that all may read", encoding="utf-8")
    log.chmod(0o644)
    with running_lab(folder) as lab:
        # Redirected and refused requests are what the server logs.
        assert ask(lab.port, f"/?token={lab.token}")[0] == 302
        assert ask(lab.port, f"/nowhere?token={lab.token}")[0] == 404
    assert stat.S_IMODE(log.stat().st_mode) == 0o600
    text = log.read_text(encoding="utf-8")
    assert "/nowhere" in text, "the request was not logged: the case tests nothing"
    assert lab.token not in text
    assert "older log" not in text


@pytest.mark.slow
def test_an_error_on_the_command_line_is_one_line_and_exit_code_2(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("", encoding="utf-8")
    with command_line("open", "--no-browser", "file", cwd=tmp_path) as process:
        out, errors = process.communicate(timeout=START_LIMIT_S)
    assert process.returncode == 2
    assert out == ""
    assert errors.count("\n") == 1
    assert "file" in errors


@pytest.mark.slow
@pytest.mark.skipif(not Path("/proc/net/tcp").exists(), reason="reads the listening sockets from /proc")
def test_it_listens_on_loopback_only_and_takes_its_kernels_along(originals: Path, tmp_path: Path) -> None:
    refresh_copy(tmp_path / "mine")
    with running_lab(tmp_path / "mine") as lab:
        rows = [line.split() for line in Path("/proc/net/tcp").read_text(encoding="ascii").splitlines()[1:]]
        rows += [line.split() for line in Path("/proc/net/tcp6").read_text(encoding="ascii").splitlines()[1:]]
        listening = {row[1] for row in rows if row[3] == "0A" and row[1].endswith(f":{lab.port:04X}")}
        assert listening == {f"0100007F:{lab.port:04X}"}  # 127.0.0.1, in the byte order of the kernel's table
        kernel = start_kernel(lab.port, lab.token)
        assert kernel_processes(kernel) != []
    assert lab.process.returncode is not None
    assert wait_until(lambda: kernel_processes(kernel) == [])


@pytest.mark.slow
def test_the_apps_first_page_finds_its_kernel_started_and_a_reload_gets_its_own(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("IPYTHONDIR", str(tmp_path / "ipython"))
    notebook_server.open_app(tmp_path / "mine")
    with running_lab(tmp_path / "mine", page=notebook_server.APP_PAGE) as lab:

        def kernels() -> set[str]:
            status, found = ask(lab.port, "/api/kernels", lab.token)  # 500 while one is just being started
            return {kernel["id"] for kernel in json.loads(found)} if status == 200 else set()

        def of_page() -> str:
            _, page = ask(lab.port, f"/voila/render/{notebook_server.APP_PAGE}", lab.token)
            return re.search(r'"kernelId": ?"([^"]+)"', page.decode())[1]

        # What the list says may be an error again a moment later, so what it has said counts.
        seen: set[str] = set()
        assert wait_until(lambda: seen.update(kernels()) or bool(seen))
        (ahead,) = seen
        assert of_page() == ahead
        other = of_page()
        assert other != ahead
        assert wait_until(lambda: kernels() == {ahead, other})
    assert not (tmp_path / "ipython").exists()  # the user's own history and settings are neither read nor written


def start_kernel(port: int, token: str) -> str:
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=START_LIMIT_S)
    try:
        headers = {"Authorization": f"token {token}", "Content-Type": "application/json"}
        connection.request("POST", "/api/kernels", json.dumps({"name": "python3"}), headers)
        answer = connection.getresponse()
        assert answer.status == 201
        return str(json.loads(answer.read())["id"])
    finally:
        connection.close()


def kernel_processes(kernel: str) -> list[str]:
    """Return the processes whose command line names the connection file of a kernel."""
    found = []
    for path in Path("/proc").glob("[0-9]*/cmdline"):
        try:
            words = path.read_bytes()
        except OSError:  # ended between the listing and the reading
            continue
        if f"kernel-{kernel}".encode() in words:
            found.append(path.parent.name)
    return found


@pytest.mark.slow
@pytest.mark.browser
def test_the_browser_shows_the_notebooks_and_no_prompt_for_news(originals: Path, tmp_path: Path, page) -> None:
    refresh_copy(tmp_path / "mine")
    with running_lab(tmp_path / "mine") as lab:
        page.goto(lab.address)
        page.get_by_text("01-load.ipynb").first.wait_for()
        page.get_by_text("Python 3 (workbench)").first.wait_for()
        page.wait_for_timeout(3_000)  # the prompt, where it is on, comes a moment after the start
        assert urlsplit(page.url).path.startswith("/lab")
        assert page.get_by_text("Jupyter news").count() == 0
        assert page.locator(".jp-toast-message").count() == 0
