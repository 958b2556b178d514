"""Load, volume and intensity models for resistance training.

The names below are loaded when first used, so that importing the package costs next to nothing.

>>> import workbench
>>> "check_block" in dir(workbench)
True
"""

from __future__ import annotations

import importlib
from typing import Any

#: Public name -> module that holds it.
_WHERE = {
    "InputError": "workbench.quantities",
    "check_block": "workbench.answers.block_check",
    "curve_question": "workbench.answers.curve",
    "data_path": "workbench.reference.sources",
    "drop_question": "workbench.answers.drop",
    "fit_log": "workbench.fit",
    "make_plan": "workbench.simulate.plan",
    "mends": "workbench.answers.mend",
    "predict_sets": "workbench.evidence.predict",
    "read_block": "workbench.prescription.block",
    "read_lifter": "workbench.lifter",
    "read_log": "workbench.log",
    "read_room": "workbench.gym.equipment",
    "score": "workbench.evidence.scoring",
}

__all__ = sorted(_WHERE)  # noqa: PLE0605 - a list of plain strings, sorted once


def __getattr__(name: str) -> Any:
    """Load a public name from its module, once."""
    if name not in _WHERE:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    value = getattr(importlib.import_module(_WHERE[name]), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    """List the public names, loaded or not."""
    return sorted({*globals(), *_WHERE})
