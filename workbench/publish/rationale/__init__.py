"""The rationale of a committed block: one page that opens anywhere, offline, and says what was decided and why."""

from workbench.publish.rationale.page import rationale_html, write_rationale
from workbench.publish.rationale.pdf import find_chromium, write_pdf

__all__ = ["find_chromium", "rationale_html", "write_pdf", "write_rationale"]
