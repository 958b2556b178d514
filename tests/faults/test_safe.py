"""What SECURITY in the README promises: no file runs as code, no shell, nothing listens but the app's servers."""

import ast
import functools
import os
import stat
from contextlib import suppress
from pathlib import Path

import pytest

from workbench.answers.workers import local_cluster
from workbench.commands.notebook_server import _environment, _private_log

PACKAGE = Path(__file__).resolve().parents[2] / "workbench"
#: Modules that turn bytes into objects or code.
UNSAFE_MODULES = {"pickle", "cPickle", "dill", "cloudpickle", "joblib", "marshal", "shelve", "yaml", "code", "codeop"}
#: Names that run text, and calls of modules that do, or that give a line to a shell.
RUN_TEXT = {"eval", "exec", "compile", "__import__"}
UNSAFE_CALLS = {
    "os.system", "os.popen", "os.execv", "os.execve", "os.execvp", "os.spawnv", "subprocess.getoutput",
    "subprocess.getstatusoutput", "yaml.load", "yaml.unsafe_load", "pd.read_pickle", "pandas.read_pickle", "np.load",
    "numpy.load", "pd.eval", "pandas.eval",
}  # fmt: skip
UNSAFE_METHODS = {"eval", "query", "to_pickle", "read_pickle"}


@functools.cache
def trees():
    """The parsed modules of the package, by their paths in it."""
    return {
        path.relative_to(PACKAGE).as_posix(): ast.parse(path.read_text(encoding="utf-8"))
        for path in sorted(PACKAGE.rglob("*.py"))
    }


def called_as(node):
    """The dotted name of what is called; ``()`` stands for what has none, such as what another call returned."""
    if isinstance(node, ast.Attribute):
        return f"{called_as(node.value)}.{node.attr}"
    return node.id if isinstance(node, ast.Name) else "()"


def unsafe(tree):
    """What in a module runs text or bytes as code, or goes through a shell."""
    found = []
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            found += [name.name for name in node.names if name.name.partition(".")[0] in UNSAFE_MODULES]
        if isinstance(node, ast.ImportFrom) and (node.module or "").partition(".")[0] in UNSAFE_MODULES:
            found.append(str(node.module))
        if not isinstance(node, ast.Call):
            continue
        name = called_as(node.func)
        if name in RUN_TEXT | UNSAFE_CALLS:
            found.append(name)
        if isinstance(node.func, ast.Attribute) and node.func.attr in UNSAFE_METHODS:
            found.append(name)
        for word in node.keywords:
            if word.arg == "shell" and not (isinstance(word.value, ast.Constant) and word.value.value is False):
                found.append(f"{name}(shell=)")
            if word.arg == "allow_pickle":
                found.append(f"{name}(allow_pickle=)")
    return found


@pytest.mark.parametrize(
    "text",
    [
        "import pickle",
        "from pickle import loads",
        "import yaml",
        "eval('1')",
        "exec(text)",
        "compile(text, '', 'exec')",
        "__import__(name)",
        "os.system(line)",
        "subprocess.run(line, shell=True)",
        "subprocess.run(line, shell=asked)",
        "np.load(path)",
        "load(path, allow_pickle=True)",
        "frame.query(text)",
        "frame.eval(text)",
    ],
)
def test_the_search_finds(text):
    assert unsafe(ast.parse(text))


def test_the_search_leaves_harmless_code_alone():
    assert unsafe(ast.parse("import re, subprocess\nre.compile('a')\nsubprocess.run(['a'], shell=False)")) == []


def test_nothing_in_the_package_runs_text_or_bytes_as_code_or_through_a_shell():
    assert len(trees()) > 100
    found = {path: unsafe(tree) for path, tree in trees().items()}
    # What this process itself put aside, in a temporary file that has no name, so that nobody else can write there.
    assert {path: what for path, what in found.items() if what} == {"reference/shelf.py": ["pickle"]}


def test_what_is_put_aside_comes_from_no_file_that_has_a_name():
    """A shelf opens nothing but a temporary file without a name, and no function of it takes a path."""
    tree = trees()["reference/shelf.py"]
    called = {ast.unparse(node.func) for node in ast.walk(tree) if isinstance(node, ast.Call)}
    assert {name for name in called if name.startswith(("open", "tempfile.", "pathlib.", "os."))} == {
        "tempfile.SpooledTemporaryFile"
    }
    functions = [node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)]
    taken = {argument.arg for function in functions for argument in function.args.args}
    assert taken == {"self", "things", "thing", "at"}


def imported():
    """Which files of the package import each module."""
    found = {}
    for path, tree in trees().items():
        for node in ast.walk(tree):
            names = [name.name for name in node.names] if isinstance(node, ast.Import) else []
            names += [node.module or ""] if isinstance(node, ast.ImportFrom) else []
            for name in names:
                found.setdefault(name, set()).add(path)
    return found


def test_programs_are_started_in_few_places_and_sockets_opened_in_two():
    """What SECURITY names: Chromium for a PDF, the app's server and the phone's, the benchmark's own Python."""
    files = imported()
    assert files["subprocess"] == {"commands/benchmark.py", "commands/notebook_server.py", "publish/rationale/pdf.py"}
    network = {"socket", "http.client", "http.server", "socketserver", "urllib.request", "requests", "httpx", "ftplib"}
    assert set().union(*(files.get(name, set()) for name in network)) == {
        "commands/notebook_server.py",
        "commands/phone.py",
    }


@pytest.mark.skipif(os.name != "posix", reason="permissions are others elsewhere")
def test_the_token_is_written_to_no_file_that_others_can_read(tmp_path):
    """It goes to the server through its environment; what the server writes lies in a folder that is private."""
    folder, private = tmp_path / "gym", tmp_path / "private"
    folder.mkdir()
    private.mkdir(mode=0o700)
    before = os.umask(0)
    try:
        environment = _environment(private, folder, "the-token")
        with _private_log(folder / ".workbench" / "jupyterlab.log") as log:
            log.write(b"the-token")
    finally:
        os.umask(before)
    assert environment["JUPYTER_TOKEN"] == "the-token"
    # The server's own notes of its address, with the token, go to the runtime folder.
    assert Path(environment["JUPYTER_RUNTIME_DIR"]).is_relative_to(private)
    for path in tmp_path.rglob("*"):
        if path.is_file() and b"the-token" in path.read_bytes():
            assert stat.S_IMODE(path.stat().st_mode) == 0o600, path


def listening(pid):
    """Addresses at which a process listens, as the kernel's tables have them."""
    tables = (Path("/proc/net", name).read_text(encoding="ascii").splitlines()[1:] for name in ("tcp", "tcp6"))
    rows = [line.split() for table in tables for line in table]
    held = set()
    for handle in Path(f"/proc/{pid}/fd").iterdir():
        with suppress(FileNotFoundError):  # closed meanwhile
            held.add(str(handle.readlink()))
    return {row[1].partition(":")[0] for row in rows if row[3] == "0A" and f"socket:[{row[9]}]" in held}


@pytest.mark.slow
@pytest.mark.skipif(not Path("/proc/net/tcp").exists(), reason="reads the listening sockets from /proc")
@pytest.mark.filterwarnings("ignore::ResourceWarning", "ignore::DeprecationWarning")
def test_workers_on_this_computer_listen_to_it_alone():
    distributed = pytest.importorskip("distributed", reason="needs the extra 'cluster'")
    with local_cluster(1) as cluster, distributed.Client(cluster) as client:
        found = [listening(pid) for pid in (os.getpid(), *client.run(os.getpid).values())]
    assert found == [{"0100007F"}] * 2  # 127.0.0.1, in the byte order of the kernel's table
