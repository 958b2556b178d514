"""The datasheet of every public name: what goes in and comes out with unit and range, what is refused, whose numbers.

Each rule is a function of a docstring, so that the rules themselves are tried on docstrings that break them.
"""

from __future__ import annotations

import dataclasses
import importlib
import inspect
import pydoc
import re
from pathlib import Path

import pandas as pd
import pytest

import workbench
from workbench.reference.sources import data_path

FUNCTIONS = [name for name in workbench.__all__ if name.islower()]
#: Questions whose answer holds numbers that somebody measured: all but those that read, change or freeze files.
WITH_NUMBERS = sorted(set(FUNCTIONS) - {"change", "commit", "read_block", "read_lifter", "read_log", "read_room"})
_DEMO = data_path("demo")
BLOCK, LIFTER, ROOM = (_DEMO / "block.toml", _DEMO / "lifters/emre_sandoval.toml", _DEMO / "rooms/boathouse_hall.toml")
FEW = {"draws": 10}
KNOB = "rest=150,180 of barbell bench pull"

#: One answer of each kind, for the columns that its tables really have.
ANSWERS = {
    "check": lambda: workbench.check(BLOCK, LIFTER, ROOM, **FEW),
    "compare": lambda: workbench.compare({"a": BLOCK, "b": BLOCK}, LIFTER, ROOM, **FEW),
    "curve": lambda: workbench.curve(LIFTER, "back squat", equations=["epley_1985"], **FEW),
    "decide": lambda: workbench.decide(BLOCK, LIFTER, ROOM, [KNOB], limits=["session_minutes<=90"], **FEW),
    "drop": lambda: workbench.drop(LIFTER, "back squat", ROOM, load_kg=80, **FEW),
    "exchange": lambda: workbench.exchange(LIFTER, ROOM, "back squat"),
    "session": lambda: workbench.session(BLOCK, LIFTER, ROOM, 1, **FEW),
    "team": lambda: workbench.team(BLOCK, [LIFTER], ROOM, mend=False, **FEW),
    "today": lambda: workbench.today(BLOCK, LIFTER, ROOM, [workbench.SetDone("barbell bench pull", 45, 6)], **FEW),
    "what_can_go": lambda: workbench.what_can_go(BLOCK, LIFTER, ROOM, minutes=5, **FEW),
    "volume": lambda: workbench.volume(BLOCK, LIFTER, ROOM, **FEW),
    "what_is_unsure": lambda: workbench.what_is_unsure(BLOCK, LIFTER, ROOM, **FEW),
}

_UNIT = r"\[[^\]\n]+\]"
_RANGE = r"(?:>=? ?[\d.]+|[\d.,]+ to [\d.,]+)"


# --- the rules -------------------------------------------------------------------------------------------------------


def sections_of(text: str) -> dict[str, str]:
    """Sections of a docstring by their heading."""
    parts = re.split(r"^(\w[\w ]*)\n-{3,}\n", text, flags=re.MULTILINE)
    return dict(zip(parts[1::2], parts[2::2], strict=True))


def entries_of(section: str) -> dict[str, str]:
    """Entries of a list of parameters or attributes, by each name: heading and text in one line."""
    found = {}
    for entry in re.split(r"^(?=\S)", section, flags=re.MULTILINE):
        names = re.match(r"([*\w]+(?:, [*\w]+)*)(?: :|$)", entry, flags=re.MULTILINE)
        if names:
            found |= dict.fromkeys(names[1].split(", "), " ".join(entry.split()))
    return found


def without_unit(text: str, section: str, numbers: set[str], *, ranges: bool = False) -> list[str]:
    """Names of numbers that a section does not list with a unit in brackets, and a range where one is asked for."""
    entries = entries_of(sections_of(text).get(section, ""))
    wanted = rf": [^\[]*{_UNIT}" + (rf", {_RANGE}" if ranges else "")
    return sorted(name for name in numbers if not re.search(wanted, entries.get(name, "")))


def columns_without_unit(text: str, columns: list[str]) -> list[str]:
    """Columns that a text does not name, or names in a group (to the next semicolon) that has no unit."""
    groups = re.split(r";|\. |: ", " ".join(text.split()))
    return [name for name in columns if not any(re.search(rf"\b{name}\b.*{_UNIT}", group) for group in groups)]


def sections_missing(text: str) -> list[str]:
    """Sections that every function has; a refusal names the error, and what comes out is said in words."""
    sections = sections_of(text)
    missing = [name for name in ("Parameters", "Returns", "Raises") if name not in sections]
    if not re.search(r"^InputError\n    \S", sections.get("Raises", ""), flags=re.MULTILINE):
        missing.append("Raises InputError")
    if not re.search(r"^\S.*\n    \S", sections.get("Returns", ""), flags=re.MULTILINE):
        missing.append("Returns in words")
    return missing


def sources_named(text: str) -> list[Path]:
    """Files of numbers that a docstring names; each row of them has its source and grade."""
    return [data_path(*name.split("/")) for name in re.findall(r"``data/([\w/.]+?)/?``", text)]


# --- the rules, kept -------------------------------------------------------------------------------------------------


def numbers_in(signature: inspect.Signature) -> set[str]:
    """Parameters that are numbers; what may be a name instead is none."""
    return {
        name
        for name, parameter in signature.parameters.items()
        if re.search(r"\b(int|float)\b", str(parameter.annotation)) and "str" not in str(parameter.annotation)
    }


def numbers_of(kind: type) -> set[str]:
    """Fields of a dataclass or a file model that are numbers."""
    if dataclasses.is_dataclass(kind):
        types = {one.name: str(one.type) for one in dataclasses.fields(kind)}
    else:
        types = {name: str(one.annotation) for name, one in getattr(kind, "model_fields", {}).items()}
    number = re.compile(r"(<class '|typing\.Optional\[|typing\.Annotated\[)*(int|float)\b")
    return {name for name, of in types.items() if number.match(of)}


def returned_kinds() -> list[type]:
    """Return the classes that public functions give out, and the public classes themselves."""
    kinds = {workbench.FatigueForm}
    for name in FUNCTIONS:
        question = inspect.unwrap(getattr(workbench, name))
        names = {**vars(importlib.import_module(question.__module__)), "pd": pd}
        kind = eval(inspect.signature(question).return_annotation, names)
        kinds |= {kind} if kind.__module__.startswith("workbench") else set()
    return sorted(kinds, key=lambda kind: kind.__qualname__)


@pytest.mark.parametrize("name", FUNCTIONS)
def test_a_function_says_what_goes_in_what_comes_out_and_what_is_refused(name):
    function = getattr(workbench, name)
    text, signature = inspect.getdoc(function) or "", inspect.signature(function)
    assert sections_missing(text) == []
    assert set(entries_of(sections_of(text)["Parameters"])) >= {
        f"**{one}" if parameter.kind is parameter.VAR_KEYWORD else one
        for one, parameter in signature.parameters.items()
    }
    assert without_unit(text, "Parameters", numbers_in(signature), ranges=True) == []


@pytest.mark.parametrize("name", WITH_NUMBERS)
def test_a_question_names_the_files_that_its_numbers_come_from(name):
    named = sources_named(inspect.getdoc(getattr(workbench, name)) or "")
    assert named
    assert [path for path in named if not path.exists()] == []


@pytest.mark.parametrize("kind", returned_kinds(), ids=lambda kind: kind.__qualname__)
def test_what_comes_out_says_the_unit_of_every_number(kind):
    assert without_unit(inspect.getdoc(kind) or "", "Attributes", numbers_of(kind)) == []


@pytest.mark.parametrize("kind", returned_kinds(), ids=lambda kind: kind.__qualname__)
def test_what_comes_out_says_what_it_offers_and_what_it_refuses(kind):
    for name, member in inspect.getmembers(kind):
        of_package = inspect.isfunction(member) and member.__module__.startswith("workbench")
        if name.startswith("_") or not (of_package or isinstance(member, property)):
            continue
        text = inspect.getdoc(member)
        assert text, name
        code = inspect.getsource(member.fget if isinstance(member, property) else member)
        assert "raise InputError" not in code or "InputError" in text, name


@pytest.mark.parametrize("name", ANSWERS)
def test_the_columns_of_every_table_have_their_units(name):
    answer = ANSWERS[name]()
    entries = entries_of(sections_of(inspect.getdoc(type(answer)) or "")["Attributes"])
    homes = [importlib.import_module(module) for module in (type(answer).__module__, "workbench.answers.block_check")]
    for table, frame in answer.tables.items():
        text = entries[table]
        for home, other in re.findall(
            r"`(?:([\w.]+)\.)?(\w+)`", text
        ):  # a table that a function makes is described there
            told = [pydoc.locate(home)] if home else homes
            text += "; ".join(["", *(inspect.getdoc(getattr(one, other, None)) or "" for one in told)])
        numbers = list(frame.select_dtypes("float").columns)
        if (name, table) == ("decide", "candidates"):  # the rest are the limits' own quantities
            numbers = ["demand", "chance"]
        assert columns_without_unit(text, numbers) == [], table


# --- the rules, tried on what breaks them ----------------------------------------------------------------------------

GOOD = """Work something out.

Parameters
----------
load_kg : float, [kg], > 0
    On the bar.
draws, seed : int, [1], 10 to 100,000
    Runs.

Returns
-------
Answer
    Reps [reps].

Raises
------
InputError
    A load that is none.

Notes
-----
From ``data/parameters.csv``.
"""


def test_the_rules_pass_a_whole_datasheet():
    assert sections_missing(GOOD) == []
    assert without_unit(GOOD, "Parameters", {"load_kg", "draws", "seed"}, ranges=True) == []
    assert [path.name for path in sources_named(GOOD)] == ["parameters.csv"]


@pytest.mark.parametrize(
    ("old", "new", "missing"),
    [
        ("Raises\n------\n", "Errors\n------\n", ["Raises", "Raises InputError"]),
        ("    A load that is none.\n", "", ["Raises InputError"]),
        ("InputError\n", "ValueError\n", ["Raises InputError"]),
        ("    Reps [reps].\n", "", ["Returns in words"]),
        ("Parameters\n----------\n", "", ["Parameters"]),
    ],
)
def test_a_docstring_without_a_section_is_noticed(old, new, missing):
    assert sections_missing(GOOD.replace(old, new)) == missing


@pytest.mark.parametrize(
    ("old", "new", "names"),
    [
        ("[kg], > 0", "> 0", ["load_kg"]),
        ("[kg], > 0", "[kg]", ["load_kg"]),
        ("int, [1], 10 to 100,000", "int", ["draws", "seed"]),
        ("draws, seed", "draws", ["seed"]),
    ],
)
def test_a_number_without_unit_or_range_is_noticed(old, new, names):
    assert without_unit(GOOD.replace(old, new), "Parameters", {"load_kg", "draws", "seed"}, ranges=True) == names


def test_a_column_without_unit_is_noticed():
    text = "One row a week: week; load_kg, low_kg [kg] (as believed); reps; minutes [min]."
    assert columns_without_unit(text, ["load_kg", "low_kg", "minutes"]) == []
    assert columns_without_unit(text, ["reps", "chance", "load"]) == ["reps", "chance", "load"]


def test_a_docstring_without_its_source_is_noticed():
    assert sources_named(GOOD.replace("``data/parameters.csv``", "a paper")) == []


@pytest.mark.parametrize("name", FUNCTIONS)
def test_every_section_stands_once(name):
    headings = re.findall(r"^(\w+)\n-+$", inspect.getdoc(getattr(workbench, name)) or "", re.MULTILINE)
    assert headings
    assert len(set(headings)) == len(headings)
