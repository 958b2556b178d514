"""The rows of the table: each a way in which people or their logs differ from what the fit takes for granted."""

from __future__ import annotations

from dataclasses import dataclass, replace

from workbench.models.fatigue import DEFAULT_FORM, FORMS
from workbench.models.fatigue_rivals import RIVALS

__all__ = ["ROWS", "Row"]


@dataclass(frozen=True)
class Row:
    """How the people of one row live, and how they keep their log.

    Attributes
    ----------
    name : str
    form : str
        Name of the fatigue form by which they tire.
    drawn : bool
        Whether every person has constants of the form of their own, from those that the published sets leave possible;
        otherwise everybody has the middle ones.
    curve : str
        "exponential", "square root", or another of `workbench.models.load_reps.CURVES`.
    exact_rests : bool
        Whether the log gives the rests that were taken, also before the first set of the next exercise. Otherwise it
        gives those that were meant, between sets of one exercise only.
    rests_missing : float
        Chance that the log gives no rests for an exercise on a day.
    by_feel : bool
        Whether sets with a stated reserve end where the reserve feels so, instead of after the reps prescribed.
    stops_at : tuple of int
        Fewest and most reps of the reserve at which they then end.
    feels_within : float
        Reps left beyond which nobody takes the end to be so near.
    reserve_shift : float
        Reps that these people state too many, beside the published bias.
    reserve_scatter : float
        More scatter of what they state, reps for each rep left.
    weekly_gain, bad_fortnight : float
        Natural log of the 1RM: gained every week; lost on the bad days, and had again after them.
    bad_days : tuple of int
        The first of them, and the first good one after them, counted from the first session.
    file_high : float
        Natural log of what the 1RMs of the lifter file are too high by, at a stated 4 %. NaN: the file errs by what it
        states.
    weeks : int
    sessions : int or None
        At most so many sessions, where fewer than the weeks have.
    within : tuple of float
        Where the coverage of an 80 % interval has to lie.
    """

    name: str
    form: str = DEFAULT_FORM.name
    drawn: bool = True
    curve: str = "exponential"
    exact_rests: bool = False
    rests_missing: float = 0.0
    by_feel: bool = False
    stops_at: tuple[int, int] = (1, 3)
    feels_within: float = float("inf")
    reserve_shift: float = 0.0
    reserve_scatter: float = 0.0
    weekly_gain: float = 0.0
    bad_fortnight: float = 0.0
    bad_days: tuple[int, int] = (14, 28)
    file_high: float = float("nan")
    weeks: int = 6
    sessions: int | None = None
    within: tuple[float, float] = (0.70, 0.90)


_CLOSE = (0.75, 0.85)
_DRAWN = Row("constants drawn", within=_CLOSE)
_RIVALS = [name for name in (*FORMS, *RIVALS) if name != DEFAULT_FORM.name]

_ALL = (
    Row("as assumed", drawn=False, exact_rests=True, within=_CLOSE),
    _DRAWN,
    *(replace(_DRAWN, name=f"form: {name}", form=name, within=(0.70, 0.90)) for name in _RIVALS),
    Row("curve: levels off", curve="asymptotic"),
    Row("curve: power law", curve="power"),
    Row("curve: square root", curve="square root"),
    Row("25 % without rests", rests_missing=0.25),
    Row("60 % without rests", rests_missing=0.60),
    Row("reserves 1 too many", reserve_shift=1.0, reserve_scatter=0.2),
    Row("reserves 1 too few", reserve_shift=-1.0, reserve_scatter=0.2),
    Row("stopped by feel", by_feel=True),
    Row("+1 % a week", weekly_gain=0.01),
    Row("bad fortnight", bad_fortnight=0.05),
    Row("file 10 % high", file_high=0.0953),
    Row("the same, 3 sessions", file_high=0.0953, sessions=3),
)

ROWS: dict[str, Row] = {row.name: row for row in _ALL}
