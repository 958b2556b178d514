"""The contributor guide names what is there: every module of the layer table, every path, every package to install."""

import ast
import html
import inspect
import re
import tomllib
from pathlib import Path

import pytest

import workbench
from tests.test_layers import LAYERS

ROOT = Path(workbench.__file__).parent.parent
PACKAGE = ROOT / "workbench"
DOCUMENTS = ("DEVELOPERS.md", "README.md")

pytestmark = pytest.mark.skipif(not (ROOT / "DEVELOPERS.md").exists(), reason="an installed package has no guide")


def layer_table():
    """The modules of each row of the table, from the top."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    rows = re.findall(r"^\| \d+ \| ([^|]+) \|", text, flags=re.MULTILINE)
    return [{name.rstrip("/") for name in re.findall(r"`([^`]+)`", row)} for row in rows]


def test_the_layer_table_names_every_module_and_no_other():
    there = {path.stem for path in PACKAGE.glob("*.py")} | {path.parent.name for path in PACKAGE.glob("*/__init__.py")}
    named = [name for row in layer_table() for name in row]
    assert sorted(named) == sorted(there - {"__init__"})


def test_the_layer_table_has_the_order_that_the_test_of_imports_holds():
    # The guide puts the entry point, a layer of its own to the test, into the last row.
    assert layer_table() == [*LAYERS[:-2], LAYERS[-2] | LAYERS[-1]]


@pytest.mark.parametrize("document", DOCUMENTS)
def test_every_path_that_is_named_is_there(document):
    text = (ROOT / document).read_text(encoding="utf-8")
    named = re.findall(r"`((?:\w+/)+[\w.*-]*|[\w-]+(?:/[\w-]+)*\.(?:py|csv|toml|ipynb|md))`", text)
    commands = [name.replace(".", "/") for name in re.findall(r"python -m (tests[.\w]+)", text)]
    named += [name if (ROOT / name).is_dir() else f"{name}.py" for name in commands]
    # In the folder that `workbench open` makes, the demo lies at its top.
    roots = [ROOT, PACKAGE, ROOT / "data"]
    made = {"workbench-notebooks/", "build/", "exercises/", "rooms/", "lifters/", "gym.toml"}  # and a gym's own folder
    missing = [
        name
        for name in named
        if not any(list(root.glob(name.rstrip("/"))) for root in roots) and not name.startswith(tuple(made))
    ]
    assert len(named) > 4
    assert missing == []


def test_what_is_to_be_installed_is_this_package():
    name = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]["name"]
    found = []
    for path in [*PACKAGE.rglob("*.py"), *(ROOT / document for document in DOCUMENTS)]:
        found += re.findall(r'pip install[^"\'\n`]*["\']([\w-]+)\[', path.read_text(encoding="utf-8"))
    assert found
    assert set(found) == {name}


def reference_command():
    """Words of the command that writes the reference, after ``python -m pdoc``."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").replace("\\\n", " ")
    return re.search(r"python -m pdoc (.+)", text)[1].split()


def test_the_reference_goes_into_an_ignored_folder_and_names_every_folder_but_commands():
    words = reference_command()
    folder = words[words.index("--output-directory") + 1]
    assert f"{folder.split('/')[0]}/" in (ROOT / ".gitignore").read_text(encoding="utf-8").splitlines()
    named = {word for word in words if word.split(".")[0] == "workbench"}
    there = {f"workbench.{name}" for names in LAYERS for name in names}
    # Commands say themselves what they take; `public` is what the package gives out; `loading` only loads.
    assert named == {"workbench", *there} - {
        "workbench.commands",
        "workbench.__main__",
        "workbench.public",
        "workbench.loading",
    }


@pytest.mark.filterwarnings("ignore::UserWarning:pdoc")
def test_the_reference_holds_every_public_name_with_its_docstring(tmp_path):
    pdoc = pytest.importorskip("pdoc", reason="pip install -e '.[docs]'")
    pdoc.render.configure(docformat="numpy", show_source=False)
    pdoc.pdoc("workbench", output_directory=tmp_path)
    page = html.unescape((tmp_path / "workbench.html").read_text(encoding="utf-8"))
    for name in workbench.__all__:
        assert f'<section id="{name}">' in page
        if name.islower():
            assert inspect.getdoc(getattr(workbench, name)).splitlines()[0] in page, name


@pytest.mark.slow
def test_the_lines_of_python_in_the_readme_run(monkeypatch):
    (code,) = re.findall(r"```python\n(.*?)```", (ROOT / "README.md").read_text(encoding="utf-8"), flags=re.DOTALL)
    monkeypatch.chdir(ROOT)
    names = {}
    exec(code, names)
    assert names["log"].questions == ()


#: Lines of a function without its docstring, and parameters without a reason beside them: more is hard to hold in mind.
MOST_LINES, MOST_PARAMETERS = 60, 7


def test_functions_are_short_and_take_little_or_say_why():
    long, many = [], []
    for path in PACKAGE.rglob("*.py"):
        text = path.read_text(encoding="utf-8")
        lines = text.splitlines()
        for node in ast.walk(ast.parse(text)):
            if not isinstance(node, ast.FunctionDef):
                continue
            docstring = node.body[0].end_lineno - node.body[0].lineno + 1 if ast.get_docstring(node) else 0
            if node.end_lineno - node.lineno + 1 - docstring > MOST_LINES:
                long.append(f"{path.name}: {node.name}")
            taken = [one.arg for one in (*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs)]
            first = min([node.lineno, *(one.lineno for one in node.decorator_list)])
            beside = lines[first - 2 : node.body[0].lineno - 1]
            if len(set(taken) - {"self", "cls"}) > MOST_PARAMETERS and not any("# " in line for line in beside):
                many.append(f"{path.name}: {node.name}")
    assert long == []
    assert many == []
