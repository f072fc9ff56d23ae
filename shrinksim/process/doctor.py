"""Check of the installation: requirements of a run, each with a remedy."""

from __future__ import annotations

import os
import re
import shutil
import sys
import tempfile
from dataclasses import dataclass
from importlib import import_module
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

PYTHON = (3, 11)
NEEDED = {
    "numpy": "2.0",
    "scipy": "1.14",
    "numba": "0.61",
    "gmsh": "4.13",
    "meshio": "5.3.5",
    "matplotlib": "3.10",
    "pydantic": "2.9",
    "rich": "13.7",
    "jinja2": "3.1",
    "threadpoolctl": "3.5",
}
"""Package -> oldest version, as in pyproject.toml (tests/test_cli.py compares)."""

DEBIAN = "libglu1-mesa libgl1 libxrender1 libxcursor1 libxft2 libxinerama1 libgomp1"
"""Debian and Ubuntu packages with the shared libraries that gmsh loads."""

MEMORY, DISK = 1.0e9, 0.3e9
"""Bytes that a run of the usual size needs, on the safe side."""


@dataclass(frozen=True)
class Finding:
    """Result of one check; ``remedy`` : what to do when it is not fine."""

    fine: bool
    text: str
    remedy: str = ""


def examine(folder: Path | None = None) -> list[Finding]:
    """Findings on all requirements of a run; ``folder`` : place of the results."""
    folder = folder or Path.cwd()
    found = [_python()]
    found += [_package(name, least) for name, least in NEEDED.items()]
    return [*found, _cache(), _disk(folder), _memory()]


def _python() -> Finding:
    """Version of Python."""
    have, need = sys.version_info[:3], ".".join(map(str, PYTHON))
    text = f"Python {'.'.join(map(str, have))}"
    if have >= PYTHON:
        return Finding(True, text)
    return Finding(False, text, f"install Python {need} or later")


def _package(name: str, least: str) -> Finding:
    """Whether a package is installed, new enough, and loads."""
    remedy = f"{Path(sys.executable).name} -m pip install '{name}>={least}'"
    try:
        have = version(name)
    except PackageNotFoundError:
        return Finding(False, f"{name} is not installed", remedy)
    text = f"{name} {have}"
    if _numbers(have) < _numbers(least):
        return Finding(False, f"{text} is older than {least}", remedy)
    try:
        import_module(name)
    except OSError as error:
        if name == "gmsh":
            remedy = f"apt-get install {DEBIAN}"
        return Finding(False, f"{text} cannot load a shared library: {error}", remedy)
    except Exception as error:
        first_line = str(error).split("\n")[0]
        return Finding(False, f"{text} does not load: {first_line}", remedy)
    return Finding(True, text)


def _numbers(text: str) -> tuple[int, ...]:
    """Version as numbers that compare: "5.3.5" -> (5, 3, 5)."""
    return tuple(int(n) for n in re.findall(r"\d+", text)[:3])


def _cache() -> Finding:
    """Whether the cache of compiled kernels can be written."""
    folder = Path(os.environ.get("NUMBA_CACHE_DIR", tempfile.gettempdir()))
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder):
            pass
    except OSError as error:
        remedy = "set NUMBA_CACHE_DIR to a folder that can be written"
        reason = error.strerror or error
        return Finding(False, f"compiled kernels: {folder}: {reason}", remedy)
    if folder.is_relative_to(tempfile.gettempdir()):
        remedy = "they are compiled anew after a restart: the user's cache is read-only"
        return Finding(True, f"compiled kernels go to {folder}", remedy)
    return Finding(True, f"compiled kernels are kept in {folder}")


def _disk(folder: Path) -> Finding:
    """Free space and write access in the folder of the results."""
    free = shutil.disk_usage(folder).free
    text = f"{free / 1e9:.1f} GB free on the disk of {folder}"
    if not os.access(folder, os.W_OK):
        return Finding(False, f"{folder} cannot be written", "run elsewhere, or --out")
    return Finding(free > DISK, text, "" if free > DISK else "make room for results")


def _memory() -> Finding:
    """Free memory, where the system reports it."""
    try:
        text = Path("/proc/meminfo").read_text(encoding="ascii")
    except OSError:
        return Finding(True, "free memory is not known on this system")
    found = re.search(r"MemAvailable:\s+(\d+) kB", text)
    if found is None:
        return Finding(True, "free memory is not known on this system")
    free = 1024.0 * int(found[1])
    fine = free > MEMORY
    remedy = "" if fine else "close other programs; a run may need 1 GB"
    return Finding(fine, f"{free / 1e9:.1f} GB of memory free", remedy)
