"""Pages and parts of pages, from the templates beside this module; whatever is put into one is escaped."""

from __future__ import annotations

from functools import cache
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined

__all__ = ["part", "render"]


@cache
def _templates() -> Environment:
    found = Environment(
        loader=PackageLoader("workbench.present"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    found.globals["zip"] = zip
    found.policies["json.dumps_kwargs"] = {"separators": (",", ":")}
    return found


def render(template: str, **values: Any) -> str:
    """Return a whole page: a template by the name of its file, filled with values."""
    return _templates().get_template(template).render(values)


def part(name: str, *values: Any) -> str:
    """Return a part of a page, a macro of ``parts.html`` by its name."""
    return str(getattr(_templates().get_template("parts.html").module, name)(*values))
