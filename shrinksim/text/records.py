"""Records as JSON."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np


def plain(value: Any) -> Any:
    """``value`` in JSON types; nan and inf become null."""
    match value:
        case bool() | None | str() | int():
            return value
        case float():
            return value if math.isfinite(value) else None
        case np.generic() | np.ndarray():
            return plain(value.tolist())
        case Mapping():
            return {str(key): plain(part) for key, part in value.items()}
        case list() | tuple() | set() | frozenset():
            return [plain(part) for part in value]
        case _:
            return str(value)


def write_json(value: Any, path: Path) -> None:
    """Write a record as indented JSON."""
    text = json.dumps(plain(value), indent=2, ensure_ascii=False, allow_nan=False)
    path.write_text(text + "\n", encoding="utf-8")
