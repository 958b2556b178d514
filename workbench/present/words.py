"""How numbers, loads, reps, reserves and chances are said to people: one way for sheet, map, terminal and page."""

from __future__ import annotations

import math
from collections.abc import Hashable, Mapping
from typing import Any, Final

from workbench.quantities import KG_PER_LB, Unit

__all__ = [
    "amount",
    "change",
    "in_words",
    "kind_said",
    "left_said",
    "load_said",
    "mass_in",
    "mean_and_band",
    "outcome_named",
    "outcome_said",
    "percent_said",
    "put_on_said",
    "reps_band",
    "reps_expected",
    "reps_range",
    "reps_said",
    "reserve_said",
    "rest_said",
    "say_load",
    "set_forecast",
    "whole_reserve",
]

#: A load on top of the body of less than this, kg, is none.
_NOTHING: Final = 1e-6
#: From so many reps on their number says nothing more to a coach.
_MANY_REPS: Final = 30
#: Up to here, in tens of its own size, half a band keeps two digits.
_TWO_DIGITS: Final = 3.55


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


def mean_and_band(mean: float, low: float, high: float, *, signed: bool = False) -> tuple[str, str]:
    """Return a mean, and its band, with the decimals that a band so wide and a number so large leave to be read.

    Half the band keeps two digits up to 3.54, 35.4 and so on, and one from there: the Particle Data Group's rounding.

    >>> mean_and_band(1.861, 0.0, 5.0), mean_and_band(90.04, 85.5, 94.6), mean_and_band(73.66, 73.6, 73.7)
    (('1.9', '0 to 5'), ('90', '86 to 95'), ('73.7', '73.6 to 73.7'))
    >>> mean_and_band(-0.12, -0.26, 0.0, signed=True), mean_and_band(10484.3, 10285.0, 10605.0)
    (('-0.12', '-0.26 to 0'), ('10,484', '10,285 to 10,605'))
    """
    if math.isnan(mean):
        return "none", "none"
    size, half = max(abs(mean), abs(low), abs(high)), (high - low) / 2
    tens = math.floor(math.log10(half)) if half > 0 else -3
    by_band = -tens + (half < _TWO_DIGITS * 10.0**tens)
    digits = max(0, min(by_band, 0 if size >= 100 else 1 if size >= 10 else 2))

    def said(value: float, decimals: int) -> str:
        rounded = round(value, decimals) + 0.0  # no minus before a zero
        return f"{rounded:{'+' if signed and rounded else ''},.{decimals if rounded else 0}f}"

    whole = all(float(round(end, digits)).is_integer() for end in (low, high))
    low_said, high_said = (said(end, 0 if whole else digits) for end in (low, high))
    return said(mean, digits), f"{low_said} to {high_said}"


def outcome_named(row: Mapping[Hashable, Any]) -> str:
    """Return the name of an outcome with its unit, where the name does not say that.

    >>> [outcome_named({"label": label, "unit": unit}) for label, unit in (("tonnage", "kg"), ("missed reps", "reps"))]
    ['tonnage, kg', 'missed reps']
    """
    label, unit = str(row["label"]), str(row["unit"])
    return label if unit == "1" or unit.partition("/")[0] in label else f"{label}, {unit}"


def outcome_said(row: Mapping[Hashable, Any]) -> str:
    """Return the mean of a row of `workbench.answers.compare.Comparison.schemes` with its middle 80 %.

    >>> outcome_said({"unit": "1", "mean": 0.83, "p10": 0.0, "p90": 1.0})
    '83 %'
    >>> outcome_said({"unit": "reps", "mean": 1.861, "p10": 0.0, "p90": 5.0})
    '1.9 (0 to 5)'
    """
    if row["unit"] == "1":  # in one run all reps are made, or not
        return in_words(row["mean"])
    mean, band = mean_and_band(row["mean"], row["p10"], row["p90"])
    return f"{mean} ({band})"


def in_words(chance: float) -> str:
    """Return a chance as a percent; simulation cannot tell 100 % from nearly 100 %, so neither end is claimed.

    >>> in_words(0.9996), in_words(0.849), in_words(0.0), in_words(math.nan)
    ('>99 %', '85 %', '<1 %', '')
    """
    if math.isnan(chance):
        return ""
    if chance > 0.994:
        return ">99 %"
    return "<1 %" if chance < 0.006 else percent_said(chance)


def percent_said(share: float, *, signed: bool = False) -> str:
    """Return a share, a limit or a change as a percent.

    >>> percent_said(0.849), percent_said(1.0), percent_said(0.04, signed=True), percent_said(-0.004, signed=True)
    ('85 %', '100 %', '+4 %', '0 %')
    """
    rounded = round(100.0 * share, 0) + 0.0  # no minus before a zero
    return f"{rounded:{'+' if signed and rounded else ''}.0f} %"


def mass_in(kg: float, unit: Unit) -> float:
    """Return a mass in the room's unit.

    >>> round(mass_in(100.0, "lb"), 2), mass_in(100.0, "kg")
    (220.46, 100.0)
    """
    return kg / KG_PER_LB if unit == "lb" else kg


def say_load(kg: float, unit: Unit = "kg", *, hands: int = 1, digits: int | None = None) -> str:
    """Return a load as people speak of it: two dumbbells by what is in one hand.

    Parameters
    ----------
    kg : float, [kg]
        The whole load.
    unit : {"kg", "lb"}
    hands : int
        Two for a pair of dumbbells, else one.
    digits : int, optional
        Most decimals of a load that no plates make; without it those that the plates have.

    Examples
    --------
    >>> say_load(32.0, hands=2), say_load(61.23496995, "lb"), say_load(61.6, digits=0), say_load(90.02, digits=1)
    ('2 x 16 kg', '135 lb', '62 kg', '90 kg')
    """
    value = mass_in(kg, unit) / hands
    decimals = 3 if digits is None else digits
    shown = f"{value:.{decimals}f}"
    if decimals:
        shown = shown.rstrip("0").rstrip(".")
    return f"{hands} x {shown} {unit}" if hands > 1 else f"{shown} {unit}"


def load_said(row: Mapping[Hashable, Any], column: str = "load_kg") -> str:
    """Return the load of a row of `workbench.answers.block_tables.set_table` as it is put on.

    In the unit of the equipment; two dumbbells by one hand; for moves against body mass what is added to the body.

    >>> load_said({"load_kg": 32.0, "unit": "kg", "hands": 2, "body_kg": 0.0})
    '2 x 16 kg'
    >>> load_said({"load_kg": 90.0, "unit": "kg", "hands": 1, "body_kg": 80.0})
    'body mass + 10 kg'
    """
    return put_on_said(float(row[column]), float(row["body_kg"]), row["unit"], int(row["hands"]))


def put_on_said(load_kg: float, body_kg: float, unit: Unit, hands: int) -> str:
    """Return a load as it is put on, from its parts; ``load_kg`` holds ``body_kg`` and what is added."""
    added = load_kg - body_kg
    if body_kg and added < _NOTHING:
        return "body mass"
    return ("body mass + " if body_kg else "") + say_load(added, unit, hands=hands)


def reps_said(low: float, high: float) -> str:
    """Return the reps of a set.

    >>> reps_said(6, 6), reps_said(8, 12), reps_said(1, math.inf)
    ('6', '8 to 12', 'to failure')
    """
    if math.isinf(high):
        return "to failure"
    return f"{low:.0f}" if low == high else f"{low:.0f} to {high:.0f}"


def reps_range(low: float, high: float) -> str:
    """Return whole reps from one end to the other; from 30 on their number says no more.

    >>> reps_range(7, 12), reps_range(7.4, 87.0), reps_range(35, 87)
    ('7 to 12', '7 to 30 or more', '30 or more')
    """
    return _many(high) if low >= _MANY_REPS else f"{low:z.0f} to {_many(high)}"


def reps_band(low: float, middle: float, high: float) -> str:
    """Return whole reps with their middle 80 %.

    >>> reps_band(5, 9, 17), reps_band(7.4, 31.7, 87.0), reps_band(31, 40, 60), reps_band(-0.4, -0.1, 2.0)
    ('9 (5 to 17)', '30 or more (7 to 30 or more)', '30 or more', '0 (0 to 2)')
    """
    return _many(middle) if low >= _MANY_REPS else f"{_many(middle)} ({reps_range(low, high)})"


def reps_expected(low: float, middle: float, high: float) -> str:
    """Return whole reps with their middle 80 %, as part of a sentence.

    >>> reps_expected(5, 9, 17), reps_expected(31, 40, 60)
    ('9 reps (5 to 17)', '30 or more reps')
    """
    return f"{_many(middle)} reps" if low >= _MANY_REPS else f"{_many(middle)} reps ({reps_range(low, high)})"


def _many(reps: float) -> str:
    return f"{_MANY_REPS} or more" if reps >= _MANY_REPS else f"{reps:z.0f}"  # z: no minus before a zero


def rest_said(rest_s: float) -> str:
    """Return the rest before a set in seconds; nothing before the first.

    >>> rest_said(90.0), rest_said(0.0)
    ('90 s', '')
    """
    return f"{rest_s:.0f} s" if rest_s > 0 else ""


def set_forecast(row: Mapping[Hashable, Any]) -> str:
    """Return what a row of `workbench.answers.block_tables.set_table` will be.

    Reps in reserve where reps are prescribed; the reps themselves of a set to failure or to a stated reserve.

    >>> ends = {"reserve_low": -1.2, "reserve": 1.8, "reserve_high": 44.0}
    >>> set_forecast(ends), set_forecast({"reserve": math.nan, "reps_p10": 5.0, "reps_p50": 9.0, "reps_p90": 17.0})
    ('1 (-2 to 30 or more)', '9 reps (5 to 17)')
    """
    if not math.isnan(row["reserve"]):
        return reserve_said(row["reserve_low"], row["reserve"], row["reserve_high"])
    return reps_expected(*(row[f"reps_p{percent}"] for percent in (10, 50, 90)))


def whole_reserve(reserve: float) -> int:
    """Return whole reps in reserve after the fewest reps that count as made; below 0: reps that will be missing.

    The next rep needs all of itself: 1.8 reps left are one, and 0.3 too few are one rep missed.

    >>> whole_reserve(1.8), whole_reserve(-0.3)
    (1, -1)
    """
    return math.floor(reserve)


def reserve_said(low: float, middle: float, high: float) -> str:
    """Return reps in reserve with their middle 80 %.

    >>> reserve_said(-1.2, 1.8, 4.0)
    '1 (-2 to 4)'
    """
    return reps_band(*map(whole_reserve, (low, middle, high)))


def kind_said(kind: str) -> str:
    """Return what a stretch of a session's time is called, of its kind in `workbench.answers.session.SessionAnswer`.

    >>> kind_said("ramp"), kind_said("change"), kind_said("rest")
    ('warm-up', 'load change', 'rest')
    """
    return {"ramp": "warm-up", "change": "load change"}.get(kind, kind)


def left_said(row: Mapping[Hashable, Any]) -> str:
    """Return what a row of `workbench.answers.block_tables.set_table` leaves in reserve: forecast, or as planned.

    >>> left_said({"reserve": math.nan, "leaves": 2.0}), left_said({"reserve": math.nan, "leaves": math.nan})
    ('2, as planned', 'to failure')
    """
    if not math.isnan(row["reserve"]):
        return reserve_said(row["reserve_low"], row["reserve"], row["reserve_high"])
    return "to failure" if math.isnan(row["leaves"]) else f"{row['leaves']:g}, as planned"
