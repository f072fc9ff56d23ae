"""Imports go down only: read from the syntax trees of the package."""

import ast
from pathlib import Path

import pytest

import shrinksim

ROOT = Path(shrinksim.__file__).parent
LAYERS = {
    "errors": 0,
    "arrays": 0,
    "stopping": 0,
    "draft": 1,
    "case.quantity": 1,
    "case.saying": 1,
    "case.textfile": 1,
    "shop": 2,
    "fem": 2,
    "case": 3,
    "heat": 3,
    "plate_heat": 3,
    "strain": 3,
    "walk": 3,
    "phase": 3,
    "leading": 3,
    "history": 3,
    "following": 3,
    "movement": 3,
    "workpiece": 4,
    "cautions": 5,
    "evenness": 4,
    "operations": 5,
    "judge": 5,
    "preview": 6,
    "crosscut": 6,
    "result": 6,
    "chain": 7,
    "member": 8,
    "study": 8,
    "output": 8,
    "doctor": 8,
    "machine": 8,
    "progress": 8,
    "commands": 9,
    "cli": 10,
    "__main__": 11,
}
APART = [{"heat", "strain", "movement", "case"}, {"shop", "fem"}]
FILES = sorted(ROOT.rglob("*.py"))


def place(module: str) -> tuple[str, int]:
    for end in (2, 1):
        name = ".".join(module.split(".")[:end])
        if name in LAYERS:
            return name, LAYERS[name]
    raise AssertionError(module)


def imports(path: Path) -> set[str]:
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module:
            found.add(node.module)
        elif isinstance(node, ast.Import):
            found |= {a.name for a in node.names}
    return {m.removeprefix("shrinksim.") for m in found if m.startswith("shrinksim.")}


@pytest.mark.parametrize("path", FILES, ids=lambda p: str(p.relative_to(ROOT)))
def test_imports_go_down(path):
    parts = path.relative_to(ROOT).with_suffix("").parts
    module = ".".join(p for p in parts if p != "__init__")
    if not module:
        return
    name, layer = place(module)
    for other in imports(path):
        other_name, other_layer = place(other)
        assert other_layer <= layer, f"{module} imports {other}"
        for group in APART:
            if name in group and other_name in group:
                assert name == other_name, f"{module} imports {other}"


@pytest.mark.parametrize("path", FILES, ids=lambda p: str(p.relative_to(ROOT)))
def test_files_stay_short(path):
    assert len(path.read_text(encoding="utf-8").splitlines()) <= 400


def test_gmsh_and_meshio_are_each_in_one_module():
    for library in ("gmsh", "meshio"):
        users = [p for p in FILES if f"import {library}" in p.read_text("utf-8")]
        assert len(users) <= 2, users
