"""Its place makes the modules beside it (meshes, media) importable from every test."""

import pytest
from hypothesis import settings

settings.register_profile("shared machine", deadline=None)
settings.load_profile("shared machine")


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """What is long is slow too: ``-m "not slow"`` leaves out both."""
    for item in items:
        if item.get_closest_marker("long"):
            item.add_marker("slow")
