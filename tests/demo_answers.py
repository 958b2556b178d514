"""Every answer of the demonstration to the last digit, kept to see what a change moves that was meant to move nothing.

The digits are the package's own. They prove nothing right; that is for tests with values from papers, from a count by
hand or from the slow forms. They are a guard: a refactoring that moves one of them has changed what the package says.

``python -m tests.demo_answers --changes`` lists what would move: each number's place, before and after.
``python -m tests.demo_answers`` works all out again and writes ``tests/fixtures/demo_answers.json``. Do that only for a
change that moves digits on purpose, after reading the list.

All goes through the command line and ``workbench.predict_sets``, so that modules may move and the guard need not.
"""

from __future__ import annotations

import contextlib
import io
import json
import math
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import workbench
from workbench.__main__ import main
from workbench.reference.sources import data_path

KEPT = Path(__file__).resolve().parent / "fixtures" / "demo_answers.json"
#: Relative: what another order of a few thousand sums may move.
ROUNDING = 1e-9

_DEMO = data_path("demo")
_BLOCK = str(_DEMO / "block.toml")
_FEW = ("--draws", "100", "--seed", "1", "--json")


def _who(lifter: str) -> tuple[str, ...]:
    room = _DEMO / "rooms" / "boathouse_hall.toml"
    return ("--lifter", str(_DEMO / "lifters" / f"{lifter}.toml"), "--room", str(room))


_EMRE = _who("emre_sandoval")
_LOG = str(_DEMO / "logs" / "emre_sandoval_weeks_1_2.csv")
_TURN = ("--turn", "percent=50:60:5 of barbell bench pull", "--turn", "rest=90,180 of barbell bench pull")

#: Name of an answer and the words of the command that gives it.
COMMANDS = {
    "check": ("check", _BLOCK, *_EMRE, *_FEW),
    "check, another lifter": ("check", _BLOCK, *_who("asta_lindqvist"), *_FEW),
    "check, one session": ("check", _BLOCK, *_EMRE, "--session", "2", "--week", "2", "--order", "4,1,3,2", *_FEW),
    "check, volume": ("check", _BLOCK, *_EMRE, "--muscles", "--zones", "--duration", *_FEW),
    "fit": ("fit", _LOG, *_EMRE, "--block", _BLOCK, "--week", "3", *_FEW),
    "compare": ("compare", *_EMRE, "--exercise", "back squat", *_FEW),
    "decide": ("decide", _BLOCK, *_EMRE, *_TURN, "--limit", "set_chance:barbell bench pull>=0.7", *_FEW),
    "team": ("team", _BLOCK, "--roster", str(_DEMO / "lifters"), *_EMRE[2:], *_FEW),
}


def answer(name: str) -> Any:
    """Return one answer, as JSON has it."""
    if name == "predict_sets":
        table = workbench.predict_sets("bench press", [0.75] * 4, [0, 120, 120, 120], draws=100, seed=1)
        return json.loads(table.to_json(orient="records", double_precision=15))
    printed = io.StringIO()
    with contextlib.redirect_stdout(printed):
        main(COMMANDS[name])
    return json.loads(printed.getvalue().replace(str(_DEMO), "demo"))


NAMES = (*COMMANDS, "predict_sets")


def differences(before: Any, after: Any, place: str = "") -> Iterator[str]:
    """Give every place where two answers differ, numbers by more than `ROUNDING`.

    >>> list(differences({"a": [1, 2.0]}, {"a": [1, 2.5]}))
    ['a[1]: 2.0 -> 2.5']
    """
    if isinstance(before, dict) and isinstance(after, dict):
        for key in (*before, *(key for key in after if key not in before)):
            inner = f"{place}.{key}" if place else str(key)
            if key not in before or key not in after:
                yield f"{inner}: {'new' if key not in before else 'gone'}"
            else:
                yield from differences(before[key], after[key], inner)
    elif isinstance(before, list) and isinstance(after, list):
        if len(before) != len(after):
            yield f"{place}: {len(before)} entries -> {len(after)}"
        for number, (one, other) in enumerate(zip(before, after, strict=False)):
            yield from differences(one, other, f"{place}[{number}]")
    elif not _alike(before, after):
        yield f"{place}: {before!r} -> {after!r}"


def _alike(before: Any, after: Any) -> bool:
    numbers = all(isinstance(one, int | float) and not isinstance(one, bool) for one in (before, after))
    if not numbers:
        return type(before) is type(after) and bool(before == after)
    both_missing = math.isnan(before) and math.isnan(after)
    return both_missing or math.isclose(before, after, rel_tol=ROUNDING, abs_tol=ROUNDING)


def _write() -> None:
    KEPT.parent.mkdir(exist_ok=True)
    answers = {name: answer(name) for name in NAMES}
    KEPT.write_text(json.dumps(answers, indent=0, ensure_ascii=False) + "\n", encoding="utf-8")


def _list_changes() -> None:
    kept = json.loads(KEPT.read_text(encoding="utf-8"))
    for name in NAMES:
        for line in differences(kept.get(name), answer(name)):
            print(f"{name}: {line}")


if __name__ == "__main__":
    if sys.argv[1:] == ["--changes"]:
        _list_changes()
    elif sys.argv[1:]:
        sys.exit(__doc__)
    else:
        _write()
