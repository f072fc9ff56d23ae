"""Set the process up for the heavy packages, before any of them is imported."""

from __future__ import annotations

import os
import shutil
import stat
import sys
import tempfile
from pathlib import Path

ROOM = 30e6
"""Bytes that compiled kernels may take; some 10 MB of one version."""

_KEPT = ("NUMBA_CACHE_DIR", "MPLCONFIGDIR")
"""Where numba keeps kernels, and matplotlib the list of fonts it has searched for."""

_ONE_THREAD = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")


def settle() -> None:
    """One BLAS thread; compiled kernels and the list of fonts kept where one may write.

    With two BLAS threads banded factorisations sometimes take a hundred times longer.
    What the user has set already stays.
    """
    for name in _ONE_THREAD:
        os.environ.setdefault(name, "1")
    folder = None
    for name in _KEPT:
        if name not in os.environ:
            folder = folder or kernel_cache()
            os.environ[name] = str(folder)


def kernel_cache() -> Path:
    """The user's cache folder for compiled kernels and fonts' places, else one in the
    temporary folder.

    Compiled kernels are code: a folder that someone else owns is never used.
    """
    for folder in _candidates():
        if _ours(folder):
            return folder
    return Path(tempfile.mkdtemp(prefix="shrinksim-"))


def _candidates() -> list[Path]:
    """Folders to try, the usual one of the platform first."""
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


def _ours(folder: Path) -> bool:
    """Whether the folder is there, or can be made, is ours alone and takes kernels."""
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
