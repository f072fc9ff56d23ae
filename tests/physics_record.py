"""What the numbers of a run come from: prints of the modules and data of the chain.

    python tests/physics_record.py      # writes physics_record.json

A print is of the syntax tree without comments and docstrings, of a data file its bytes.
"""

from __future__ import annotations

import ast
import hashlib
import json
from collections.abc import Iterator
from pathlib import Path

import shrinksim
from shrinksim.runs.store import PHYSICS

ROOT = Path(shrinksim.__file__).parent
RECORD = Path(__file__).with_suffix(".json")
STARTS = ("views.elevation.chain", "views.section.chain", "views.reading", "arrays")
WORDS = {
    "views.elevation.cautions", "views.section.cautions", "errors",
    "views.elevation.through_thickness", "process.progress", "process.stopping",
    "case.wording", "text.quoting", "text.files", "case.json_schema",
}  # fmt: skip
"""Modules that say things and move nothing."""


def path_of(module: str) -> Path | None:
    """File of a module of the package; None for a package folder or a foreign one."""
    path = ROOT.joinpath(*module.split(".")).with_suffix(".py")
    return path if path.is_file() else None


def imported(tree: ast.AST) -> set[str]:
    """Modules of the package that a module imports, names of modules included."""
    found = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and node.module:
            found |= {node.module, *(f"{node.module}.{a.name}" for a in node.names)}
    return {m.removeprefix("shrinksim.") for m in found if m.startswith("shrinksim.")}


def leaves(node: object) -> Iterator[str]:
    """The tree as words, the same on every version of Python."""
    if isinstance(node, ast.AST):
        yield type(node).__name__
        for name, part in ast.iter_fields(node):
            if name in ("ctx", "type_comment", "kind", "type_ignores"):
                continue
            if name == "body" and isinstance(part, list) and documented(part):
                part = part[1:]
            yield from leaves(part)
    elif isinstance(node, list):
        for part in node:
            yield from leaves(part)
    elif node is not None:
        yield repr(node)


def documented(body: list[ast.stmt]) -> bool:
    """Whether a block starts with a text that nobody uses."""
    first = body[0] if body else None
    return (
        isinstance(first, ast.Expr)
        and isinstance(first.value, ast.Constant)
        and isinstance(first.value.value, str)
    )


def short(raw: bytes) -> str:
    return hashlib.sha256(raw).hexdigest()[:12]


def prints() -> dict[str, str]:
    """Module or data file -> its print."""
    found: dict[str, str] = {}
    waiting = list(STARTS)
    while waiting:
        module = waiting.pop()
        path = path_of(module)
        if path is None or module in found or module in WORDS:
            continue
        tree = ast.parse(path.read_text(encoding="utf-8"))
        found[module] = short(" ".join(leaves(tree)).encode())
        waiting += sorted(imported(tree))
    for path in sorted((ROOT / "shop" / "data").rglob("*")):
        if path.is_file():
            found[path.relative_to(ROOT).as_posix()] = short(path.read_bytes())
    return dict(sorted(found.items()))


if __name__ == "__main__":
    record = {"PHYSICS": PHYSICS, "prints": prints()}
    RECORD.write_text(json.dumps(record, indent=1) + "\n", encoding="utf-8")
