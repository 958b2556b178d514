"""Panels for notebooks: controls bound to the questions and their figures. No maths."""

from workbench.panels.block import BlockPanel

__all__ = ["BlockPanel"]
