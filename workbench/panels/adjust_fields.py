"""The fields of a set group's rule: what the lifter may change by what the sets before have shown."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from workbench.log.typed import typed_percent, typed_reserve, typed_whole
from workbench.panels.fields import Field
from workbench.panels.frame import heading
from workbench.prescription.adjust import Adjust
from workbench.prescription.block import SetGroup

__all__ = ["AdjustFields"]

#: Keys that change something; with none of them there is no rule. The others say how far, and when.
_CHANGES = ("lower", "increase", "end_after")


def _plain(value: float) -> str:
    return f"{round(value, 9):.10g}"


class AdjustFields:
    """Fields that show the rule of a set group, and hand it on when something in it is changed.

    Parameters
    ----------
    change : callable
        Takes the rule's entry, or None where nothing is left of it; raises InputError where the block cannot have it.

    Attributes
    ----------
    lower, lowest, increase, increase_from, highest, end_after : Field
    fields : list of Widget
        All of them, below their heading.
    """

    def __init__(self, change: Callable[[dict[str, Any] | None], None]) -> None:
        self._change = change
        self._rule: Adjust | None = None

        def field(label: str, key: str, read: Callable[[str], Any], **more: Any) -> Field:
            return Field(label, read, lambda value: self._take(key, value), show=_plain, **more)

        def percent(low: float, high: float) -> Callable[[str], float]:
            return lambda text: typed_percent(text, low, high)

        none = {"needed": False, "example": "none"}
        self.lower = field("after a set with a missed rep, % off", "lower", percent(0, 30), **none)
        self.lowest = field("but not below % of the plan's load", "lowest", percent(50, 100))
        self.increase = field("after an easy set, % on", "increase", percent(0, 10), **none)
        self.increase_from = field("easy: so many reps left or more", "increase_from", typed_reserve)
        self.highest = field("but not above % of the plan's load", "highest", percent(100, 110))
        self.end_after = field(
            "end the group after sets with a missed rep", "end_after", lambda text: typed_whole(text, 1, 10), **none
        )

        self.fields = [
            heading("Rules for the day, by the sets before"),
            *(self.lower, self.lowest, self.increase, self.increase_from, self.highest, self.end_after),
        ]

    def shown(self, group: SetGroup) -> list[Any]:
        """Fill the fields with the rule of a group, and return those to show; none where no reps are to be made."""
        self._rule = rule = group.adjust
        if group.to_failure or group.way == "reps_in_reserve":
            return []
        for key in _CHANGES:
            getattr(self, key).put(None if rule is None else getattr(rule, key) or None)
        for key in ("lowest", "increase_from", "highest"):
            getattr(self, key).put(getattr(rule, key, Adjust.model_fields[key].default))
        return [
            self.fields[0],
            *(self.lower, *([self.lowest] if rule is not None and rule.lower else [])),
            *(self.increase, *([self.increase_from, self.highest] if rule is not None and rule.increase else [])),
            self.end_after,
        ]

    def _take(self, key: str, value: float | None) -> None:
        before = {} if self._rule is None else self._rule.model_dump(exclude_none=True)
        entry = {**before, key: value}
        kept = {name: amount for name, amount in entry.items() if amount is not None}
        self._change(kept if any(kept.get(name) for name in _CHANGES) else None)
