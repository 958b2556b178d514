"""Search what a coach can change for the most demanding plan that still keeps the coach's own limits."""

from workbench.answers.decide.answer import Decision
from workbench.answers.decide.knobs import KNOBS, Knob, apply_settings, knob_of
from workbench.answers.decide.limits import Limit, limit_of, limits_of
from workbench.answers.decide.search import EXACT_UP_TO, decide

__all__ = [
    "EXACT_UP_TO",
    "KNOBS",
    "Decision",
    "Knob",
    "Limit",
    "apply_settings",
    "decide",
    "knob_of",
    "limit_of",
    "limits_of",
]
