"""Panels for notebooks: controls bound to the questions and their figures. No maths."""

from workbench.panels.block import BlockPanel
from workbench.panels.curve import CurvePanel
from workbench.panels.drop import DropPanel

__all__ = ["BlockPanel", "CurvePanel", "DropPanel"]
