"""Learn the lifter from a log: priors from published spread, evidence from every logged set, exact sums on a grid.

``p(lifter | log) = p(lifter) p(set 1 | lifter) p(set 2 | lifter, set 1) ... / p(log)``.
"""

from workbench.fit.evidence_sets import UsedLog, read_sets
from workbench.fit.learned import Learned, LearnedDraws
from workbench.fit.learning import fit_log
from workbench.fit.settings import FitSettings

__all__ = ["FitSettings", "Learned", "LearnedDraws", "UsedLog", "fit_log", "read_sets"]
