"""What notebooks show: panels, tables and figures, loaded when first used. No maths."""

from __future__ import annotations

from workbench.loading import loaded_when_used

#: Name -> module that holds it.
_WHERE = {
    "App": "workbench.panels.app",
    "BlockBuilder": "workbench.panels.builder",
    "BlockPanel": "workbench.panels.block",
    "CommitPanel": "workbench.panels.commit",
    "ComparePanel": "workbench.panels.compare",
    "CurvePanel": "workbench.panels.exercise",
    "DecidePanel": "workbench.panels.decide",
    "DropPanel": "workbench.panels.exercise",
    "GymPanel": "workbench.panels.gym",
    "LifterEditor": "workbench.panels.lifter_editor",
    "LogPanel": "workbench.panels.log",
    "ReviewPanel": "workbench.panels.review",
    "RoomEditor": "workbench.panels.room_editor",
    "SessionPanel": "workbench.panels.session",
    "TeamPanel": "workbench.panels.team",
    "TodayPanel": "workbench.panels.today",
    "VolumePanel": "workbench.panels.volume",
    "checks": "workbench.evidence.report",
    "compare_independently": "workbench.answers.compare",
    "comparison": "workbench.evidence.report",
    "demo_folder": "workbench.panels.desk",
    "exercise_block": "workbench.prescription.schemes",
    "find_surprises": "workbench.answers.surprises",
    "fitted_table": "workbench.evidence.report",
    "frame_table": "workbench.present.tables",
    "gain_table": "workbench.panels.tables",
    "left_out": "workbench.evidence.report",
    "left_out_figure": "workbench.figures.evidence",
    "load_table": "workbench.panels.tables",
    "method_page": "workbench.answers.methods",
    "models": "workbench.evidence.scoring",
    "not_known_of_slow_reps": "workbench.evidence.rep_duration",
    "order_evidence_table": "workbench.panels.tables",
    "percent_figure": "workbench.figures.evidence",
    "percent_of_first": "workbench.evidence.report",
    "ranges_table": "workbench.panels.tables",
    "register": "workbench.evidence.scoring",
    "rep_max_lines": "workbench.panels.log",
    "rep_max_table": "workbench.answers.learned",
    "slow_reps_table": "workbench.panels.tables",
    "spread_figure": "workbench.figures.evidence",
    "taper_table": "workbench.panels.tables",
    "worst": "workbench.evidence.report",
}

__all__ = sorted(_WHERE)  # noqa: PLE0605 - a list of plain strings, sorted once
__getattr__ = loaded_when_used(__name__, _WHERE)
