"""Search what a coach can change for the most demanding plan that still keeps the coach's own limits."""

from workbench.decide.answer import Answer
from workbench.decide.knobs import KNOBS, Knob, apply_settings
from workbench.decide.limits import Limit, limits_of
from workbench.decide.search import EXACT_UP_TO, decide

__all__ = ["EXACT_UP_TO", "KNOBS", "Answer", "Knob", "Limit", "apply_settings", "decide", "limits_of"]
