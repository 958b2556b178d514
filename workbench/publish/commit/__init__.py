"""Freeze a block: what was decided, for whom, with which model and numbers, and why; verify it; tell revisions apart.

A committed block is a folder ``<name>-rNN`` that is written whole or not at all, and never written again.
"""

from workbench.publish.commit.difference import differences
from workbench.publish.commit.record import (
    Alternative,
    Committed,
    Decision,
    commit_block,
    earlier_revisions,
    list_committed,
    read_committed,
)
from workbench.publish.commit.verification import Verification, verify

__all__ = [
    "Alternative",
    "Committed",
    "Decision",
    "Verification",
    "commit_block",
    "differences",
    "earlier_revisions",
    "list_committed",
    "read_committed",
    "verify",
]
