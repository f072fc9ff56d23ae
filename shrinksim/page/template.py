"""Pages from templates; every text of a user is shown as text."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

PACKAGE = Path(__file__).parents[1]
TURNING = re.compile("[\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069]")


def filled_in(template: str, **said: Any) -> str:
    """A page from its template.

    template : its place in the package, as "runs/templates/report.html.j2".
    """
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    environment = Environment(
        loader=FileSystemLoader(PACKAGE),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=_visible,
    )
    return environment.get_template(template).render(**said)


def _visible(value: Any) -> Any:
    """Marks that turn the direction of writing, and so hide what a text says, as codes."""
    if type(value) is not str:
        return value
    return TURNING.sub(lambda mark: f"\\u{ord(mark[0]):04x}", value)
