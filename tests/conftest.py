"""Its place makes the modules beside it (meshes, media) importable from every test."""

import signal

import pytest
from hypothesis import settings

from shrinksim.process import machine

settings.register_profile("shared machine", deadline=None)
settings.load_profile("shared machine")


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """What is long is slow too: ``-m "not slow"`` leaves out both."""
    for item in items:
        if item.get_closest_marker("long"):
            item.add_marker("slow")


@pytest.fixture
def settled(monkeypatch, tmp_path):
    """Commands set environment variables, and SIGTERM; put both back."""
    for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
        monkeypatch.setenv(name, "1")
    monkeypatch.setenv("NUMBA_CACHE_DIR", str(tmp_path / "kernels"))
    monkeypatch.setenv("MPLCONFIGDIR", str(machine.kernel_cache()))
    handler = signal.getsignal(signal.SIGTERM)
    yield
    signal.signal(signal.SIGTERM, handler)
