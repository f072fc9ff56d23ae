"""The JSON schema of a case file, and the files that list every key of it.

Peer: the `jsonschema` library, which knows nothing of this package.
"""

import copy
import re
import tomllib
from pathlib import Path

import pytest
from plain_case import PLATE, VEE

from shrinksim.casefile.layout import layout_of
from shrinksim.commands.schema import schema_for
from shrinksim.views import VIEWS
from shrinksim.views.elevation.record import Case
from shrinksim.views.reading import load, prepare

ROOT = Path(__file__).parent.parent
CASES = sorted((ROOT / "cases").glob("*.toml"))
LISTS = {
    "elevation": "every_key.toml",
    "section": "every_key_section.toml",
    "solid": "every_key_solid.toml",
}

LINE = {"kind": "line along", "on": "top", "length": "1 m"}
SECTION = PLATE | {"view": "section", "heat": [{"pattern": [LINE]}]}


@pytest.fixture(scope="module")
def valid():
    jsonschema = pytest.importorskip("jsonschema")
    schema = schema_for("case")
    jsonschema.Draft202012Validator.check_schema(schema)
    return jsonschema.Draft202012Validator(schema).is_valid


@pytest.mark.parametrize("path", CASES, ids=lambda p: p.stem)
def test_shipped_cases_are_in_order(path, valid):
    case = load(path)
    tables = tomllib.loads(path.read_text(encoding="utf-8"))
    assert isinstance(case, VIEWS[tables.get("view", "elevation")].record)
    assert valid(tables)
    if not isinstance(case, Case):
        assert prepare(case).elements > 0


def with_pattern(base, **change):
    tables = copy.deepcopy(base)
    tables["heat"][0]["pattern"][0] |= change
    return tables


def test_the_schema_knows_both_views(valid):
    assert valid(PLATE)
    assert valid(PLATE | {"view": "elevation"})
    assert valid(SECTION)
    assert valid(with_pattern(SECTION, on=["top", "bottom"]))


WRONG = {
    "no view": {k: v for k, v in SECTION.items() if k != "view"},
    "view": SECTION | {"view": "plan"},
    "vee in a section": SECTION | {"heat": [{"pattern": [VEE]}]},
    "line along in an elevation": PLATE | {"heat": [{"pattern": [LINE]}]},
    "patch": SECTION | {"member": PLATE["member"] | {"patch": "1 m"}},
    "axis": SECTION | {"member": {"section": "IPE 300", "axis": "weak"}},
    "moment": SECTION | {"load": {"kind": "weight", "moment": "0.2 Mp"}},
    "camber": PLATE | {"load": {"kind": "weight", "camber_moment": "0.2 Mp"}},
    "unknown key": SECTION | {"torch": {"taget": "600 degC"}},
    "no heat": {k: v for k, v in SECTION.items() if k != "heat"},
    "empty heat": SECTION | {"heat": []},
    "no length": SECTION
    | {"heat": [{"pattern": [{"kind": "line along", "on": "top"}]}]},
    "bare number": with_pattern(SECTION, length=2.0),
    "on nothing": with_pattern(SECTION, on=[]),
    "edges": SECTION | {"load": {"edges": "fixed"}},
    "drive": SECTION | {"torch": {"drive": "walk"}},
    "point": SECTION | {"output": {"points": {"a": ["1 mm"]}}},
}


@pytest.mark.parametrize("name", WRONG)
def test_the_schema_refuses(name, valid):
    assert not valid(WRONG[name])


def test_defaults_and_examples_of_the_schema_are_written_as_in_a_file(valid):
    shared = schema_for("case")["$defs"]
    assert shared["Vee"]["properties"]["angle"]["examples"] == ["45 deg"]
    assert shared["LineAlong"]["properties"]["at"]["default"] == "0 mm"
    torch = shared["Torch"]["properties"]
    defaults = {k: v["default"] for k, v in torch.items() if "default" in v}
    assert defaults["target"] == "640 degC"
    assert valid(SECTION | {"torch": defaults})


def tables_in(view):
    return layout_of(VIEWS[view].record).tables


def keys_by_table(view):
    """Keys of each table of a case file; of patterns and coolings those of all kinds."""
    found = {}
    for place, model in tables_in(view).items():
        if (place and place[-1] != "torch") or place == ("torch",):
            names = found.setdefault(place[:2], set())
            names |= {f.alias or name for name, f in model.model_fields.items()}
    found[("heat",)] -= {"pattern", "cooling"}
    if view == "elevation":
        found[("heat", "cooling")] -= {"on"}
    return {place: names - {"torch"} for place, names in found.items()}


def text_by_table(text):
    """What stands under the headers of each table, comments and all."""
    found, place = {(): ""}, ()
    for line in text.splitlines():
        header = re.match(r"\[+([a-z.]+)\]", line)
        place = tuple(header[1].split(".")) if header else place
        found[place] = found.get(place, "") + line + "\n"
    return found


@pytest.mark.parametrize("view", LISTS)
def test_a_file_lists_every_key(view):
    text = (ROOT / "cases" / LISTS[view]).read_text(encoding="utf-8")
    written = text_by_table(text)
    missing = [
        f"{'.'.join(place)}.{key}"
        for place, keys in keys_by_table(view).items()
        for key in sorted(keys)
        if not re.search(rf"(?m)^{key} *=|#.*\b{key}\b", written[place])
    ]
    assert missing == []


@pytest.mark.parametrize("view", LISTS)
def test_a_file_has_every_pattern_and_names_every_cooling(view):
    path = ROOT / "cases" / LISTS[view]
    tables = tomllib.loads(path.read_text(encoding="utf-8"))
    used = {p["kind"] for heat in tables["heat"] for p in heat["pattern"]}
    kinds = {place[2] for place in tables_in(view) if place[:2] == ("heat", "pattern")}
    assert used == kinds
    coolings = {
        place[2] for place in tables_in(view) if place[:2] == ("heat", "cooling")
    }
    assert all(kind in path.read_text(encoding="utf-8") for kind in coolings)
    top = {f.alias or k for k, f in (tables_in(view)[()].model_fields.items())}
    assert top - set(tables) <= {"view"}
