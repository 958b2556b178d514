"""How numbers of any size are written for people: no more digits than anybody can use, no powers of ten."""

from __future__ import annotations

import math

__all__ = ["amount"]


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
