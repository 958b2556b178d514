"""Were the forecasts worth anything? Logs walked forward, scored, and held beside the rules that a coach would use."""

from workbench.answers.review.done import sets_done
from workbench.answers.review.misses import Miss
from workbench.answers.review.question import walk_forward
from workbench.answers.review.record import Review
from workbench.answers.review.rivals import SIMPLE_RULES
from workbench.answers.review.walk import WORKBENCH, scored

__all__ = ["SIMPLE_RULES", "WORKBENCH", "Miss", "Review", "scored", "sets_done", "walk_forward"]
