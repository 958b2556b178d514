"""How numbers of any size are written for people: no more digits than anybody can use, no powers of ten."""

from __future__ import annotations

import math

__all__ = ["amount", "change"]


def amount(value: float, *, signed: bool = False) -> str:
    """Return a number as text.

    >>> amount(97630.4), amount(64.02), amount(0.9391), amount(float("nan"))
    ('97,630', '64.0', '0.94', 'none')
    >>> amount(-0.001, signed=True), amount(3.14159, signed=True)
    ('+0.00', '+3.14')
    """
    if math.isnan(value):
        return "none"
    digits = 0 if abs(value) >= 100 else 1 if abs(value) >= 10 else 2
    value = round(value, digits) + 0.0  # no minus before a zero
    return f"{value:{'+' if signed else ''},.{digits}f}"


def change(value: float, digits: int = 1) -> str:
    """Return a change as text, with its sign; no sign before a zero.

    >>> change(4.94), change(-0.34), change(-0.04), change(12.6, 0)
    ('+4.9', '-0.3', '0.0', '+13')
    """
    rounded = round(value, digits)
    return f"{rounded:+.{digits}f}" if rounded else f"{0:.{digits}f}"
