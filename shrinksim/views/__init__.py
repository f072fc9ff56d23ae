"""Views of a member: each a folder that exports one record, ``VIEW``."""

from __future__ import annotations

from shrinksim.views import elevation, section, solid
from shrinksim.views.view import View

VIEWS: dict[str, View] = {
    view.name: view for view in (elevation.VIEW, section.VIEW, solid.VIEW)
}
"""The views by the name that a case file gives; a further one is put in by the module
of its case record, so that worker processes, which import that, know it too."""

DEFAULT = elevation.VIEW.name
"""The view of a case file that names none."""
