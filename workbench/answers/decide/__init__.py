"""Search what a coach can change for the most demanding plan that still keeps the coach's own limits."""

from workbench.answers.decide.search import EXACT_UP_TO, decide
from workbench.answers.decide.terms import KNOBS, Knob, Limit, apply_settings, knob_of, limit_of, limits_of
from workbench.answers.decide.trials import Decision

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
