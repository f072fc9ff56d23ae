"""Folders stand on one another, names stand once: read from the syntax trees."""

from __future__ import annotations

import ast
from collections import defaultdict
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import NamedTuple

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

import shrinksim

ROOT = Path(shrinksim.__file__).parent
FILES = sorted(ROOT.rglob("*.py"))
LAYERS = [
    "errors arrays version",
    "text",
    "units",
    "process",
    "fem.kernels",
    "shop fem",
    "heat strain movement",
    "page",
    "casefile",
    "report",
    "views",
    "views.section views.elevation views.solid",
    "views.__init__",
    "views.reading",
    "runs",
    "compare study",
    "calibration lesson",
    "member",
    "member.log",
    "member.job",
    "member.setup",
    "member.survey",
    "member.plan",
    "door",
    "commands",
    "__main__ __init__",
]
"""Folders, and modules beside them, from the bottom; those of one layer stay apart."""

RANK = {name: rank for rank, names in enumerate(LAYERS) for name in names.split()}

HEAVY = {"distributed", "gmsh", "jinja2", "matplotlib", "meshio", "rich", "scipy"}
"""Take long to load, or are not everywhere: imported where they are needed."""

SOME_SYSTEMS = {"fcntl", "msvcrt", "resource"}

PARTS = [f"shrinksim.views.{{}}.{part}" for part in ("preview", "stages", "face")]
RUN, FOLDER = "shrinksim.runs.run", "shrinksim.report.folder"
WAITING = {
    "__init__": {"importlib"},
    # a view's parts, when one is first asked for: numba, gmsh, matplotlib
    "views.elevation.__init__": {p.format("elevation") for p in PARTS},
    "views.section.__init__": {p.format("section") for p in PARTS},
    "views.solid.__init__": {p.format("solid") for p in PARTS},
    # pictures and pages load matplotlib
    "views.result": {FOLDER, "shrinksim.page.style"},
    # computing loads numba; whoever finds all runs in the store does not compute
    "runs.run_case": {RUN, FOLDER},
    "compare.histories": {RUN},
    # numpy, which `--help` does without
    "units.quantity": {"shrinksim.arrays"},
}
"""Modules of ours that others import late, and what for."""


class Import(NamedTuple):
    """By a module of a module; ``name`` : what of it; ``inside`` : of a function."""

    by: str
    of: str
    name: str
    inside: bool

    def __str__(self) -> str:
        return f"{self.by} imports {self.of}{self.name and f' ({self.name})'}"


def module_of(path: Path) -> str:
    """``views.section.chain``; a folder's own module is ``views.section.__init__``."""
    return ".".join(path.relative_to(ROOT).with_suffix("").parts)


MODULES = {module_of(path) for path in FILES}


def folder_of(module: str) -> str:
    """Where a module stands: the longest name that has a rank; "" for none."""
    parts = module.split(".")
    names = (".".join(parts[:end]) for end in range(len(parts), 0, -1))
    return next((name for name in names if name in RANK), "")


def imports_of(path: Path) -> Iterator[Import]:
    """Every import of a file, those for types only too."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    functions = (ast.FunctionDef, ast.AsyncFunctionDef)
    inside = {
        id(part)
        for node in ast.walk(tree)
        if isinstance(node, functions)
        for part in ast.walk(node)
    }
    by = module_of(path)
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            for one in node.names:
                yield Import(by, one.name, "", id(node) in inside)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{by}: imports are written out from shrinksim on"
            for one in node.names:
                yield Import(by, node.module or "", one.name, id(node) in inside)


def ours(given: Import) -> bool:
    return given.of.split(".")[0] == "shrinksim"


def own(given: Import) -> Import | None:
    """The import with the module of the package that it is of; None for no such."""
    if not ours(given):
        return None
    of = given.of.removeprefix("shrinksim").lstrip(".")
    whole = f"{of}.{given.name}".lstrip(".")
    for module in (whole, f"{whole}.__init__", of, f"{of}.__init__".lstrip(".")):
        if module in MODULES:
            return given._replace(of=module)
    return None


IMPORTS = [given for path in FILES for given in imports_of(path)]
OWN = [
    found
    for found in map(own, IMPORTS)
    if found is not None and found.name != "__version__"
]
"""Less the package's number, which stands at the head of everything."""


def circles(edges: Iterable[tuple[str, str]]) -> list[str]:
    """Groups of names, each of which leads to every other of its group."""
    pairs = sorted({(a, b) for a, b in edges if a != b})
    names = sorted({name for pair in pairs for name in pair})
    at = {name: number for number, name in enumerate(names)}
    rows, columns = ([at[pair[side]] for pair in pairs] for side in (0, 1))
    graph = coo_array((np.ones(len(pairs)), (rows, columns)), shape=2 * (len(names),))
    _, group = connected_components(graph, connection="strong")
    members = defaultdict(list)
    for name, number in zip(names, group, strict=True):
        members[number].append(name)
    return [", ".join(found) for found in members.values() if len(found) > 1]


def told(faults: Iterable[object]) -> str:
    """A fault a line, for the message of a test."""
    return "\n" + "\n".join(sorted({str(fault) for fault in faults}))


def test_every_module_stands_in_a_layer():
    without = [module for module in MODULES if not folder_of(module)]
    assert not without, told(without)
    empty = [name for name in RANK if name not in map(folder_of, MODULES)]
    assert not empty, told(empty)


def test_imports_are_of_modules_that_are_there():
    """Those for types only are tried by nothing else."""
    faults = [given for given in IMPORTS if ours(given) and own(given) is None]
    assert not faults, told(faults)


def test_imports_go_down():
    faults = [
        given
        for given in OWN
        if folder_of(given.by) != folder_of(given.of)
        and RANK[folder_of(given.by)] <= RANK[folder_of(given.of)]
    ]
    assert not faults, told(faults)


def test_no_folders_need_one_another():
    faults = circles((folder_of(given.by), folder_of(given.of)) for given in OWN)
    assert not faults, told(faults)


def test_no_modules_of_a_folder_need_one_another():
    within = [g for g in OWN if folder_of(g.by) == folder_of(g.of)]
    faults = circles((given.by, given.of) for given in within)
    assert not faults, told(faults)


def test_functions_import_heavy_libraries_only():
    """Commands import what they are to do when they are asked to."""
    faults = [
        given
        for given in IMPORTS
        if given.inside
        and folder_of(given.by) != "commands"
        and given.of.split(".")[0] not in HEAVY | SOME_SYSTEMS
        and given.of not in WAITING.get(given.by, ())
    ]
    assert not faults, told(faults)


def test_circles_are_found():
    edges = [("a", "b"), ("b", "c"), ("c", "a"), ("c", "d"), ("e", "e"), ("f", "d")]
    assert circles(edges) == ["a, b, c"]
    assert circles(edges[1:]) == []


def test_public_classes_have_names_of_their_own():
    homes = defaultdict(list)
    for path in FILES:
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
                homes[node.name].append(module_of(path))
    faults = [f"{k}: {', '.join(v)}" for k, v in homes.items() if len(v) > 1]
    assert not faults, told(faults)


def test_files_stay_short():
    long = [f for f in FILES if len(f.read_text("utf-8").splitlines()) > 400]
    assert not long, told(long)


def test_gmsh_and_meshio_are_each_in_one_module():
    for library in ("gmsh", "meshio"):
        users = [
            path for path in FILES if f"import {library}" in path.read_text("utf-8")
        ]
        assert len(users) == 1, told(users)
