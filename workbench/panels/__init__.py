"""What notebooks show: panels, tables and figures, loaded when first used. No maths."""

from __future__ import annotations

import importlib
from typing import Any

#: Name -> module that holds it.
_WHERE = {
    "BlockPanel": "workbench.panels.block",
    "CommitPanel": "workbench.panels.commit",
    "ComparePanel": "workbench.panels.compare",
    "CurvePanel": "workbench.panels.curve",
    "DecidePanel": "workbench.panels.decide",
    "DropPanel": "workbench.panels.drop",
    "LogPanel": "workbench.panels.log_panel",
    "SessionPanel": "workbench.panels.session",
    "TeamPanel": "workbench.panels.team",
    "VolumePanel": "workbench.panels.volume",
    "checks": "workbench.evidence.report",
    "compare_independently": "workbench.answers.compare",
    "comparison": "workbench.evidence.report",
    "demo_folder": "workbench.panels.files",
    "exercise_block": "workbench.prescription.schemes",
    "find_surprises": "workbench.answers.surprises",
    "fitted_table": "workbench.evidence.report",
    "frame_table": "workbench.present.tables",
    "gain_table": "workbench.panels.evidence_tables",
    "left_out": "workbench.evidence.report",
    "left_out_figure": "workbench.figures.evidence",
    "load_table": "workbench.panels.evidence_tables",
    "models": "workbench.evidence.scoring",
    "order_evidence_table": "workbench.panels.evidence_tables",
    "percent_figure": "workbench.figures.evidence",
    "percent_of_first": "workbench.evidence.report",
    "ranges_table": "workbench.panels.volume",
    "register": "workbench.evidence.scoring",
    "rep_max_lines": "workbench.panels.log_tables",
    "rep_max_table": "workbench.answers.learned",
    "taper_table": "workbench.panels.evidence_tables",
    "worst": "workbench.evidence.report",
}

__all__ = sorted(_WHERE)  # noqa: PLE0605 - a list of plain strings, sorted once


def __getattr__(name: str) -> Any:
    """Load a name from its module, once."""
    if name not in _WHERE:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    value = getattr(importlib.import_module(_WHERE[name]), name)
    globals()[name] = value
    return value
