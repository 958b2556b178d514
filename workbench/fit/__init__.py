"""Learn the lifter from a log: priors from published spread, evidence from every logged set, exact sums on a grid."""

from workbench.fit.evidence_sets import UsedLog, read_sets
from workbench.fit.learned import Learned, LearnedDraws
from workbench.fit.learning import fit_log
from workbench.fit.settings import FitSettings

__all__ = ["FitSettings", "Learned", "LearnedDraws", "UsedLog", "fit_log", "read_sets"]
