"""Names may hold any letter: no encoding of the terminal and no control character costs an answer, or hides one."""

import io
import sys

import pytest
from pydantic import BaseModel, ValidationError

from workbench import lifter  # noqa: F401
from workbench.__main__ import main
from workbench.gym.catalogue import own_file  # noqa: F401
from workbench.gym.equipment import room  # noqa: F401
from workbench.prescription import block
from workbench.prescription.schemes import constant_step, exercise_block
from workbench.quantities import InputError, visible
from workbench.reference.sources import data_path
from workbench.reference.toml_files import Strict, toml_text

DEMO = data_path("demo")
ROOM = DEMO / "rooms" / "boathouse_hall.toml"
LIFTER = (DEMO / "lifters" / "emre_sandoval.toml").read_text(encoding="utf-8")
#: Colour and cursor (C0 and C1), bell, return, delete, ends of lines, turned direction.
CONTROLS = ("\x1b[31m", "\x07", "\r", "\x7f", "\x9b2J", "\x85", "\u2028", "\u202e", "\u2066")


def text_fields():
    """Every field of every file model that may hold text, as (model, field)."""

    def models(parent):
        for one in parent.__subclasses__():
            if one.__module__.startswith("workbench") and not one.__module__.startswith("workbench.publish.commit"):
                yield one
                yield from models(one)

    def holds_text(annotation):
        return annotation is str or any(holds_text(part) for part in getattr(annotation, "__args__", ()))

    found = {
        (model, name)
        for model in models(Strict)
        for name, field in model.model_fields.items()
        if holds_text(field.annotation)
    }
    return sorted(found, key=lambda one: (one[0].__name__, one[1]))


@pytest.mark.parametrize(("model", "name"), text_fields(), ids=lambda one: getattr(one, "__name__", one))
@pytest.mark.parametrize("control", CONTROLS, ids=ascii)
def test_no_text_of_any_file_holds_a_control_character(model, name, control):
    """Alone, in a list, and as a name in a table: where one of them fits the field, the character does not."""
    complaints = []
    text = f"a{control}b"
    of_gym = {"lifters": 1, "start": [1, 2, 3], "middle": [1, 2, 3], "spread": [0.1, 0.2, 0.3]}
    tables = ({text: {"one_rm_kg": 100}}, {text: {}}, {text: [0.1, 0.2, 0.3]}, {text: of_gym})
    for value in (text, [text], [text, "b"], *tables):
        with pytest.raises(ValidationError) as caught:
            model.model_validate({name: value})
        complaints += [one["msg"] for one in caught.value.errors() if one["loc"][:1] == (name,)]
    spelled = control[0].encode("unicode_escape").decode()
    assert any(f"holds the control character {spelled}" in one for one in complaints), complaints


def test_notes_run_over_lines_and_names_do_not():
    group = {"reps": 5, "percent": 60, "rest_s": 60}
    slot = block.ExerciseSlot(exercise="back squat", sets=[group], note="one\n\ttwo")
    assert slot.note == "one\n\ttwo"
    with pytest.raises(ValidationError, match="control character"):
        block.ExerciseSlot(exercise="back\nsquat", sets=[group])


def test_every_model_is_looked_at():
    seen = {model.__name__ for model, _ in text_fields()}
    assert {"Block", "Session", "ExerciseSlot", "SetGroup", "Lifter", "Lift", "Room", "Piece", "OwnExercise"} <= seen
    assert all(issubclass(model, BaseModel) for model, _ in text_fields())


def test_visible_spells_out_what_moves_or_hides():
    # By hand: escape is 1b, the one-byte form of its bracket 9b; a plain letter of any script stays.
    assert visible("Łukasz \x1b[2J\x9b1A\u202e\n\tend") == "Łukasz \\x1b[2J\\x9b1A\\u202e\n\tend"
    assert (
        str(InputError("a\x1b[31mb", "p\x07", "is\x9bbad", "\u202eturn"))
        == "a\\x1b[31mb: p\\x07: is\\x9bbad; \\u202eturn"
    )


def test_what_a_command_prints_holds_no_control_character(tmp_path, capsys):
    """A file's name cannot be refused for what it is called: it is spelled out."""
    path = tmp_path / "a\x1b[31mb.toml"
    path.write_text("name = 1", encoding="utf-8")
    assert main(["check", str(path), "--lifter", "x", "--room", "y"]) == 2
    said = capsys.readouterr()
    assert "\\x1b[31mb.toml" in said.err
    assert "\x1b" not in said.err + said.out
    with pytest.raises(SystemExit):
        main(["check", "--draws", "\x1b[31m"])
    assert "\x1b" not in capsys.readouterr().err


def test_the_streams_are_given_back(monkeypatch):
    out, error = io.StringIO(), io.StringIO()
    monkeypatch.setattr(sys, "stdout", out)
    monkeypatch.setattr(sys, "stderr", error)
    assert main(["exercises", "search", "back", "squat"]) == 0
    assert sys.stdout is out
    assert sys.stderr is error
    assert "back squat" in out.getvalue()


@pytest.mark.parametrize("encoding", ["cp1252", "ascii", "utf-8"])
def test_a_commit_is_told_whatever_the_output_can_encode(tmp_path, monkeypatch, encoding):
    """The letter Ł is in none of these two old code pages: it is spelled out, and the command ends as it should."""
    path = tmp_path / "lifter.toml"
    path.write_text(LIFTER.replace('name = "Emre Sandoval"', 'name = "Łukasz"', 1), encoding="utf-8")
    short = tmp_path / "block.toml"
    short.write_text(toml_text(exercise_block("back squat", constant_step(sets=1), weeks=1)), encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    out, error = (io.TextIOWrapper(io.BytesIO(), encoding=encoding, errors="strict") for _ in range(2))
    monkeypatch.setattr(sys, "stdout", out)
    monkeypatch.setattr(sys, "stderr", error)
    words = ["commit", short, "--lifter", path, "--room", ROOM, "--reason", "r", "--draws", "10"]
    assert main([str(word) for word in words]) == 0
    out.flush()
    error.flush()
    assert error.buffer.getvalue() == b""
    shown = "Łukasz" if encoding == "utf-8" else "\\u0141ukasz"
    assert f"  {shown}: " in out.buffer.getvalue().decode(encoding)
    assert len(list((tmp_path / "committed").iterdir())) == 1
