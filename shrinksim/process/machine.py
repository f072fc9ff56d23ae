"""Set-up of the process for the numerical packages, before they are imported."""

from __future__ import annotations

import os
import shutil
import stat
import sys
import tempfile
from pathlib import Path

ROOM = 30e6
"""Bytes of free space for compiled kernels; one version takes some 10 MB."""

_KEPT = ("NUMBA_CACHE_DIR", "MPLCONFIGDIR")
"""Caches of numba's kernels and of matplotlib's list of fonts."""

_ONE_THREAD = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")


def set_up_process() -> None:
    """Set one BLAS thread, and writable caches for compiled kernels and fonts.

    With two BLAS threads banded factorisations sometimes take a hundred times longer.
    Variables that are set already are not changed.
    """
    for name in _ONE_THREAD:
        os.environ.setdefault(name, "1")
    folder = None
    for name in _KEPT:
        if name not in os.environ:
            folder = folder or kernel_cache()
            os.environ[name] = str(folder)


def kernel_cache() -> Path:
    """Cache folder of the user for compiled kernels and fonts, or a temporary one.

    Compiled kernels are code: a folder of another owner is never used.
    """
    for folder in _candidates():
        if _is_private(folder):
            return folder
    return Path(tempfile.mkdtemp(prefix="shrinksim-"))


def _candidates() -> list[Path]:
    """Candidates for the cache, the usual one of the platform first."""
    number = os.getuid() if hasattr(os, "getuid") else os.getpid()
    found = [Path(tempfile.gettempdir(), f"shrinksim-{number}")]
    try:
        home = Path.home()
    except RuntimeError:
        return found
    if sys.platform == "darwin":
        usual = home / "Library" / "Caches"
    elif sys.platform == "win32":
        usual = Path(os.environ.get("LOCALAPPDATA") or home / "AppData" / "Local")
    else:
        usual = Path(os.environ.get("XDG_CACHE_HOME") or home / ".cache")
    return [usual / "shrinksim" / "kernels", *found]


def _is_private(folder: Path) -> bool:
    """Whether the folder exists or can be made, is the user's alone, and has space."""
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        found = folder.lstat()
        if not stat.S_ISDIR(found.st_mode):
            return False
        if hasattr(os, "getuid"):
            others = found.st_mode & (stat.S_IWGRP | stat.S_IWOTH)
            if found.st_uid != os.getuid() or others:
                return False
        with tempfile.TemporaryFile(dir=folder):
            return shutil.disk_usage(folder).free > ROOM
    except OSError:
        return False
