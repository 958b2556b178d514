"""Load, volume and intensity models for resistance training.

The names below are loaded when first used, so that importing the package costs next to nothing. Where a question takes
a block, a lifter, a room or a log, the path of its file will do.

>>> import workbench
>>> "check" in dir(workbench)
True
"""

from __future__ import annotations

from workbench.loading import loaded_when_used

#: Public name -> module that holds it.
_WHERE = {
    "CURVES": "workbench.models.load_reps",
    "FORMS": "workbench.models.fatigue",
    "FatigueForm": "workbench.models.fatigue",
    "InputError": "workbench.quantities",
    "SetDone": "workbench.answers.session_under_way",
    "Where": "workbench.prescription.edit",
    "change": "workbench.public",
    "check": "workbench.public",
    "commit": "workbench.public",
    "compare": "workbench.public",
    "curve": "workbench.public",
    "decide": "workbench.public",
    "drop": "workbench.public",
    "exchange": "workbench.public",
    "fit_log": "workbench.public",
    "gym_numbers": "workbench.public",
    "predict_sets": "workbench.public",
    "read_block": "workbench.public",
    "read_lifter": "workbench.public",
    "read_log": "workbench.public",
    "read_room": "workbench.public",
    "score": "workbench.public",
    "session": "workbench.public",
    "studies": "workbench.evidence.studies",
    "team": "workbench.public",
    "today": "workbench.public",
    "volume": "workbench.public",
    "walk_forward": "workbench.public",
    "what_can_go": "workbench.public",
    "what_is_unsure": "workbench.public",
}

__all__ = sorted(_WHERE)  # noqa: PLE0605 - a list of plain strings, sorted once
__getattr__ = loaded_when_used(__name__, _WHERE)


def __dir__() -> list[str]:
    """List the public names, loaded or not."""
    return sorted({*globals(), *_WHERE})
