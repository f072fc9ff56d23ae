"""The case file: what it gives, and what it says of everything that is wrong."""

import copy
import math
import os
import tomllib
from pathlib import Path

import pytest

from shrinksim.case import case_from, case_schema, load, resolved, toml_text
from shrinksim.case.heating import law_options
from shrinksim.case.resolving import REACH, steel_of
from shrinksim.errors import CaseError
from shrinksim.shop.flame import flame_named
from shrinksim.shop.section import plastic_moment, section_named

CASES = sorted((Path(__file__).parent.parent / "cases").glob("*.toml"))
VEE = {"kind": "vee", "angle": "45 deg", "depth_ratio": 0.75, "open": "top"}
PLATE = {
    "title": "a plate",
    "member": {"section": "plate", "width": "4 in", "thickness": "10 mm"},
    "steel": {"grade": "S235"},
    "heat": [{"pattern": [VEE]}],
}
BEAM = PLATE | {"member": {"section": "IPE 300", "axis": "strong"}}


def read(tables, folder=Path()):
    return case_from(copy.deepcopy(tables), "a.toml", folder)


def faults(tables, folder=Path()):
    with pytest.raises(CaseError) as caught:
        read(tables, folder)
    assert all(p.startswith("a.toml: ") for p in caught.value.problems)
    return [p.removeprefix("a.toml: ") for p in caught.value.problems]


def only(tables, folder=Path()):
    found = faults(tables, folder)
    assert len(found) == 1, found
    return found[0]


def with_pattern(base=PLATE, **pattern):
    return base | {"heat": [{"pattern": [pattern]}]}


def with_cooling(**cooling):
    return PLATE | {"heat": [{"pattern": [VEE], "cooling": cooling}]}


def test_values_are_si_and_defaults_are_filled_in():
    case = read(PLATE)
    vee = case.heats[0].patterns[0]
    assert case.member.view_depth == pytest.approx(0.1016)
    assert vee.kind == "vee"
    assert vee.angle == pytest.approx(math.pi / 4)
    assert vee.depth == pytest.approx(0.75 * 0.1016)
    assert (vee.open, vee.at, vee.path, vee.pause) == ("top", 0.0, "serpentine", 0.0)
    assert vee.torch.target == 650.0
    assert case.load.kind == "none"
    assert case.load.moment is None
    assert case.load.moment_ratio is None
    assert case.heats[0].cooling.kind == "still air"
    assert case.surroundings.ambient == 20.0
    assert case.steel.curve == "ellipse"


def test_depth_and_depth_ratio_say_the_same():
    by_length = {k: v for k, v in VEE.items() if k != "depth_ratio"} | {"depth": "3 in"}
    assert read(with_pattern(**by_length)) == read(PLATE)


def test_the_torch_of_a_pattern_is_merged_key_by_key():
    hot = {"flame": "heating tip, small", "target": "600 degC", "power": "5 kW"}
    case = read(
        PLATE
        | {"torch": hot}
        | {
            "heat": [
                {
                    "pattern": [
                        VEE | {"torch": {"target": "550 degC"}},
                        VEE | {"at": "9 in", "torch": {"flame": "welding tip"}},
                    ]
                }
            ]
        }
    )
    first, second = (p.torch for p in case.heats[0].patterns)
    small, welding = flame_named("heating tip, small"), flame_named("welding tip")
    assert (first.target, first.power, first.radius) == (550.0, 5e3, small.radius)
    assert second.target == 600.0
    assert second.power == welding.power
    assert second.radius == welding.radius
    assert case.torch.power == 5e3


def test_load_is_a_ratio_or_a_value():
    jack = {"kind": "jack", "moment": "-1/4 Mp", "stiffness": "EI/L"}
    load_ = read(PLATE | {"load": jack}).load
    assert (load_.moment_ratio, load_.moment) == (-0.25, None)
    assert (load_.stiffness_ratio, load_.stiffness) == (1.0, None)
    jack = {"kind": "clamp", "moment": "2 kN m", "stiffness": "2 kip ft/rad"}
    load_ = read(PLATE | {"load": jack}).load
    assert (load_.moment_ratio, load_.moment) == (None, 2000.0)
    assert load_.stiffness == pytest.approx(2711.6, rel=1e-4)


@pytest.mark.parametrize("kind", ["air jet", "mist", "wet rag", "water stream"])
def test_forced_cooling_starts_at_once_and_reaches_a_little(kind):
    cooling = read(with_cooling(kind=kind)).heats[0].cooling
    assert (cooling.start_after, cooling.start_below) == (0.0, None)
    assert cooling.reach == REACH
    late = read(with_cooling(kind=kind, start_below="315 degC", everywhere=True))
    cooling = late.heats[0].cooling
    assert (cooling.start_after, cooling.start_below) == (None, 315.0)
    assert cooling.reach is None


def test_options_of_a_cooling_law_are_its_arguments():
    jet = read(with_cooling(kind="air jet", h="200 W/m2K")).heats[0].cooling
    assert law_options(jet) == {"h": 200.0, "strength": 1.0}


def test_every_pattern_of_a_beam():
    patterns = [
        VEE | {"angle": "20 deg"},
        {"kind": "strip", "on": "flange bottom", "width": "80 mm", "at": "-300 mm"},
        {"kind": "line", "from": ["300 mm", "50 mm"], "to": ["300 mm", "250 mm"]},
        {"kind": "spot", "at": "400 mm", "height": "150 mm", "diameter": "20 mm"},
        {"kind": "rectangle", "at": "-200 mm", "height": "1 in", "width": "30 mm",
         "depth": "8 in"},
    ]  # fmt: skip
    case = read(BEAM | {"heat": [{"pattern": patterns}]})
    vee, strip, line, spot, box = case.heats[0].patterns
    assert vee.depth == pytest.approx(0.225)
    assert strip.on == "flange bottom"
    assert (line.start, line.end) == ((0.3, 0.05), (0.3, 0.25))
    assert (spot.height, spot.diameter) == (0.15, 0.02)
    assert box.depth == pytest.approx(0.2032)
    assert case.member.face == pytest.approx((0.0107, 0.2893))


@pytest.mark.parametrize("path", CASES, ids=lambda p: p.stem)
def test_shipped_cases_read_back_as_themselves_when_resolved(path):
    case = load(path)
    text = toml_text(resolved(case))
    assert case_from(tomllib.loads(text), "again", Path()) == case


def test_a_resolved_case_with_everything_reads_back():
    full = PLATE | {
        "title": 'quotes " \\ and ü',
        "print_units": "us",
        "torch": {"drive": "travel", "speed": "3 mm/s", "torches": 2},
        "steel": {"grade": "a36", "hardening": "mixed", "annealing": "none"},
        "load": {"kind": "weight", "moment": "1/3 Mp", "axial": "-3 kip"},
        "heat": [
            {"pattern": [VEE | {"torch": {"drive": "held", "target": "1100 degF"}}]},
            {"pattern": [VEE], "cooling": {"kind": "mist", "everywhere": True}},
        ],
        "output": {"points": {"a b": ["1/3 in", "1 mm"]}, "fields": False},
    }
    case = read(full)
    again = case_from(tomllib.loads(toml_text(resolved(case))), "again", Path())
    assert again == case
    assert again.steel.annealing == math.inf


def test_json_schema_names_every_key_of_the_shipped_cases():
    schema = case_schema()
    assert {"title", "member", "steel", "heat"} <= set(schema["required"])
    for path in CASES:
        assert set(tomllib.loads(path.read_text())) <= set(schema["properties"])
    vee = schema["$defs"]["Vee"]
    assert set(VEE) <= set(vee["properties"])
    assert vee["properties"]["angle"]["examples"] == ["45 deg"]


def test_everything_wrong_is_said_at_once():
    tables = {
        "title": 3,
        "membre": {},
        "member": {"section": "plate", "width": 100, "thicknes": "10 mm"},
        "steel": {"grade": "S999"},
        "heat": [
            {
                "pattern": [
                    VEE | {"angle": "45"},
                    {"kind": "ve"},
                    VEE | {"depth": "1 m"},
                ]
            },
            {"pattern": [], "cooling": {"kind": "mst"}},
        ],
        "load": {"kind": "jack"},
    }
    found = "\n".join(faults(tables))
    for sentence in (
        "title = 3 is not a text in quotes",
        "'membre' is not a table or key of a case; did you mean 'member'?",
        'member.width = 100 has no unit; write it as text, such as "25 mm"',
        "'thicknes' is not a key of member; did you mean 'thickness'?",
        "steel.grade = 'S999' is not one of",
        'heat[0].pattern[0].angle = "45" has no unit; write one, such as "45 deg"',
        "heat[0].pattern[1].kind = 've' is not one of vee, strip, line, spot, "
        "rectangle; did you mean 'vee'?",
        "heat[1].pattern is empty; write at least one [[heat.pattern]]",
        "heat[1].cooling.kind = 'mst' is not one of",
        "load.stiffness is missing: load.kind = 'jack' needs one",
    ):
        assert sentence in found
    assert "heat is empty" not in found


WRONG = {
    "missing table": ({"steel": ...}, "steel is missing; write a table [steel]"),
    "single brackets": ({"heat": {}}, "heat = a table: write [[heat]] with double"),
    "double brackets": ({"torch": [{}]}, "torch = a list: write [torch] with single"),
    "table as text": ({"load": "jack"}, "load = 'jack' is not a table"),
    "key elsewhere": (
        {"target": "1 m"},
        "'target' is not a table or key of a case; it",
    ),
    "units": ({"print_units": "imperial"}, "print_units = 'imperial' is not one of"),
    "no grade": ({"steel": {}}, "steel.grade or steel.file: missing; write one"),
    "both": ({"steel": {"grade": "S235", "file": "x"}}, "file: both; leave one out"),
    "no such file": ({"steel": {"file": "x.toml"}}, "steel.file: x.toml: there is no"),
    "share": (
        {"steel": {"grade": "S235", "kinematic_share": 0.2}},
        'steel.kinematic_share is only for hardening = "mixed"',
    ),
    "share range": (
        {"steel": {"grade": "S235", "hardening": "mixed", "kinematic_share": 2}},
        "steel.kinematic_share = 2 is above the largest allowed, 1",
    ),
    "flame": (
        {"torch": {"flame": "blowlamp"}},
        "torch.flame = 'blowlamp' is not one of",
    ),
    "efficiency": (
        {"torch": {"efficiency": 0}},
        "torch.efficiency = 0 is not more than",
    ),
    "torches": ({"torch": {"torches": 3}}, "torch.torches = 3 is not one of 1, 2"),
    "dimension": (
        {"torch": {"radius": "3 kg"}},
        'torch.radius = "3 kg" is a mass, not a length',
    ),
    "nan": ({"torch": {"efficiency": math.nan}}, 'efficiency = "nan" does not begin'),
    "too hot": (
        {"torch": {"target": "1300 degC"}},
        "is above 1200 degC, where the data",
    ),
    "too cold": ({"torch": {"target": "15 degC"}}, "is not above the surroundings"),
    "travel": (
        {"torch": {"drive": "travel"}},
        'torch.speed is missing; drive = "travel" needs it',
    ),
    "travel target": (
        {"torch": {"drive": "travel", "speed": "2 mm/s", "target": "600 degC"}},
        'torch.target is only for drive = "held"',
    ),
    "jack": (
        {"load": {"kind": "jack", "moment": "0.1 Mp"}},
        "load.stiffness is missing",
    ),
    "soft jack": (
        {"load": {"kind": "jack", "stiffness": "0 EI/L"}},
        "load.stiffness is not more than 0",
    ),
    "weight": ({"load": {"kind": "weight"}}, "needs load.moment"),
    "stiff weight": (
        {"load": {"kind": "weight", "moment": "0.1 Mp", "stiffness": "EI/L"}},
        "load.stiffness: a weight has none",
    ),
    "idle moment": ({"load": {"moment": "0.1 Mp"}}, "load.kind = 'none' is no load"),
    "held": ({"load": {"kind": "held", "axial": "1 kN"}}, "holds the ends still"),
    "over Mp": (
        {"load": {"kind": "weight", "moment": "1.2 Mp"}},
        "load.moment is 1.20 Mp; the cold section carries less than Mp = 6.065 kN m",
    ),
    "over Np": (
        {"load": {"kind": "weight", "axial": "-300 kN"}},
        "load.axial is 1.26 of what the cold section carries",
    ),
    "together": (
        {"load": {"kind": "weight", "moment": "0.6 Mp", "axial": "200 kN"}},
        "load.moment and load.axial together",
    ),
    "bare moment": (
        {"load": {"kind": "weight", "moment": 0.2}},
        'load.moment = 0.2 has no unit; write it as text, such as "0.25 Mp"',
    ),
    "point": (
        {"output": {"points": {"far": ["0 mm", "200 mm"]}}},
        "output.points.far is off the member: (0 mm, 200 mm)",
    ),
    "half a point": ({"output": {"points": {"a": ["0 mm"]}}}, "is not a pair"),
    "three": ({"output": {"points": {"a": ["0 mm"] * 3}}}, "is not a pair"),
    "flag": ({"output": {"fields": "yes"}}, "is not true or false"),
    "coarse": (
        {"numerics": {"element": "80 mm"}},
        "numerics.element = 80 mm leaves fewer than two elements",
    ),
}


@pytest.mark.parametrize("name", WRONG)
def test_one_fault_one_sentence(name):
    change, sentence = WRONG[name]
    tables = {k: v for k, v in (PLATE | change).items() if v is not ...}
    assert sentence in only(tables)


MEMBERS = {
    "unknown": ({"section": "IPE 310", "axis": "weak"}, "member.section = 'IPE 310' is"),
    "no axis": ({"section": "IPE 300"}, "member.axis is missing; write axis = "),
    "plate axis": (
        PLATE["member"] | {"axis": "weak"},
        "member.axis is not for a plate",
    ),
    "plate": (
        {"section": "plate", "width": "1 m"},
        "member.thickness is missing; a section of kind 'plate' needs it",
    ),
    "dimensions": (
        {"section": "IPE 300", "axis": "weak", "width": "1 m"},
        "member.width is not for section 'IPE 300'",
    ),
    "swapped": (
        {"section": "plate", "width": "10 mm", "thickness": "100 mm"},
        "member.thickness is more than member.width; exchange the two",
    ),
    "thick web": (
        {
            "section": "I", "axis": "weak", "depth": "200 mm", "flange_width": "100 mm",
            "web_thickness": "120 mm", "flange_thickness": "10 mm",
        },
        "member: I: web thickness 120 mm leaves no flange",
    ),
    "short patch": (PLATE["member"] | {"patch": "50 mm"}, "is shorter than the member"),
    "negative": (
        PLATE["member"] | {"width": "-4 in"},
        "member.width = '-4 in' is not more than 0 mm",
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", MEMBERS)
def test_members_that_are_none(name):
    member, sentence = MEMBERS[name]
    assert sentence in only(PLATE | {"member": member})


PATTERNS = {
    "too deep": (
        PLATE,
        VEE | {"depth_ratio": ..., "depth": "120 mm"},
        "heat[0].pattern[0].depth: a vee of 120 mm is deeper than the member allows, "
        "101.6 mm",
    ),
    "no depth": (PLATE, VEE | {"depth_ratio": ...}, "depth is given not at all"),
    "two depths": (PLATE, VEE | {"depth": "3 in"}, "depth is given twice over"),
    "ratio": (PLATE, VEE | {"depth_ratio": 1.2}, "is above the largest allowed, 1"),
    "far flange": (
        BEAM,
        VEE | {"depth_ratio": 1.0},
        "is deeper than the member allows",
    ),
    "in flange": (
        BEAM,
        VEE | {"depth_ratio": 0.02},
        "is not deeper than the flange is thick",
    ),
    "strip on plate": (
        PLATE,
        {"kind": "strip", "on": "flange top", "width": "20 mm"},
        "heat[0].pattern[0].kind = 'strip' is for a flange seen on edge",
    ),
    "strip nowhere": (
        BEAM,
        {"kind": "strip", "on": "top", "width": "20 mm"},
        "heat[0].pattern[0].on = 'top' is not one of flange top, flange bottom",
    ),
    "off patch": (
        PLATE | {"member": PLATE["member"] | {"patch": "10 in"}},
        VEE | {"at": "5 in"},
        "is off the patch: it reaches 158.6 mm",
    ),
    "off member": (
        PLATE,
        {"kind": "spot", "height": "100 mm", "diameter": "20 mm"},
        "heat[0].pattern[0] is off the member: it covers y = 90 mm to 110 mm",
    ),
    "on the flange": (
        BEAM,
        {"kind": "line", "from": ["0 mm", "5 mm"], "to": ["0 mm", "100 mm"]},
        "the web between the flanges 10.7 mm to 289.3 mm",
    ),
    "no line": (
        PLATE,
        {"kind": "line", "from": ["0 mm", "5 mm"], "to": ["0 mm", "5 mm"]},
        "begins and ends at the same point",
    ),
    "half a line": (
        PLATE,
        {"kind": "line", "from": ["0 mm", "5 mm"]},
        'heat[0].pattern[0].to is missing; write to = ["0 mm", "25 mm"]',
    ),
    "no kind": (PLATE, {"at": "0 mm"}, "heat[0].pattern[0].kind is missing"),
    "edge": (PLATE, VEE | {"open": "left"}, "open = 'left' is not one of top, bottom"),
    "pitch": (
        PLATE,
        VEE | {"path": "straight", "pitch": "5 mm"},
        "pitch is not used by a straight path",
    ),
    "own torch": (
        PLATE,
        VEE | {"torch": {"target": "1250 degC"}},
        "heat[0].pattern[0].torch.target = 1250 degC is above 1200 degC",
    ),
    "torch key": (
        PLATE,
        VEE | {"torch": {"taget": "600 degC"}},
        "'taget' is not a key of heat[0].pattern[0].torch; did you mean 'target'?",
    ),
}


@pytest.mark.parametrize("name", PATTERNS)
def test_patterns_that_cannot_be_drawn(name):
    base, pattern, sentence = PATTERNS[name]
    pattern = {k: v for k, v in pattern.items() if v is not ...}
    assert sentence in only(with_pattern(base, **pattern))


def test_areas_of_one_heat_may_touch_but_not_overlap():
    box = {"kind": "rectangle", "height": "0 mm", "width": "40 mm", "depth": "50 mm"}
    near, far = box | {"at": "30 mm"}, box | {"at": "40 mm"}
    assert "heat[0].pattern[1] overlaps heat[0].pattern[0]" in only(
        PLATE | {"heat": [{"pattern": [box, near]}]}
    )
    read(PLATE | {"heat": [{"pattern": [box, far]}]})
    read(PLATE | {"heat": [{"pattern": [box]}, {"pattern": [near]}]})


COOLINGS = {
    "both": (
        {"kind": "mist", "start_after": "1 s", "start_below": "300 degC"},
        "heat[0].cooling has both start_after and start_below; leave one out",
    ),
    "both reaches": (
        {"kind": "mist", "reach": "1 in", "everywhere": True},
        "heat[0].cooling has both reach and everywhere = true",
    ),
    "overlapping": (
        {"kind": "mist", "start_after": "2 h", "longest": "1 h"},
        "heat[0].cooling.start_after = 2 h overlaps the end of the heat",
    ),
    "never so cold": ({"until": "15 degC"}, "until = 15 degC is never reached"),
    "never starts": (
        {"kind": "wet rag", "start_below": "10 degC"},
        "start_below = 10 degC is never reached in air of 20 degC",
    ),
    "still": ({"start_after": "1 s"}, "'start_after' is not a key of heat[0].cooling"),
}


@pytest.mark.parametrize("name", COOLINGS)
def test_coolings_that_contradict_themselves(name):
    cooling, sentence = COOLINGS[name]
    assert sentence in only(with_cooling(**cooling))


@pytest.mark.parametrize("axis", ["strong", "weak"])
def test_the_limit_of_a_moment_is_the_plastic_moment(axis):
    most = plastic_moment(section_named("IPE300"), axis, 235e6) / 1e3
    member = {"section": "IPE 300", "axis": axis}
    vee = VEE | {"angle": "20 deg"}
    base = PLATE | {"member": member, "heat": [{"pattern": [vee]}]}
    for share in (0.99, -0.99):
        read(base | {"load": {"kind": "weight", "moment": f"{share * most:.6f} kN m"}})
    load_ = {"kind": "weight", "moment": f"{1.01 * most:.6f} kN m"}
    assert "load.moment is 1.01 Mp" in only(base | {"load": load_})


def test_a_users_steel_is_read_beside_the_case(tmp_path):
    text = """
        name = "barn steel"
        limit = "600 degC"
        limit_source = "owner"
        yield_stress = "240 MPa"
        yield_stress_source = "coupon"
        [columns.modulus]
        unit = "GPa"
        values = [205, 150, 60]
        temperature = { unit = "degC", values = [20, 400, 700] }
        source = "report 7"
    """
    (tmp_path / "barn.toml").write_text(text, encoding="utf-8")
    tables = PLATE | {"steel": {"file": "barn.toml"}}
    case = read(tables, tmp_path)
    assert case.steel.file == (tmp_path / "barn.toml").resolve()
    assert steel_of(case.steel).yield_stress == 240e6
    hot = tables | {"torch": {"target": "720 degC"}}
    assert "is above 700 degC, where the data of the steel end" in only(hot, tmp_path)
    (tmp_path / "barn.toml").write_text("name = 3", encoding="utf-8")
    assert all(f.startswith("steel.file: ") for f in faults(tables, tmp_path))


def plain_case():
    return toml_text(PLATE).encode()


@pytest.mark.parametrize(
    "content",
    [
        b"\xef\xbb\xbf" + plain_case(),
        plain_case().replace(b"\n", b"\r\n"),
        plain_case().replace(b"\n", b"\r"),
    ],
    ids=["byte order mark", "CRLF", "CR"],
)
def test_files_of_other_editors_are_read(tmp_path, content):
    path = tmp_path / "a.toml"
    path.write_bytes(content)
    assert load(path) == read(PLATE)


UNREADABLE = {
    "empty": (b"  \n", "is empty"),
    "utf-16": ("title = 'ü'".encode("utf-16"), "is in UTF-16; save it as UTF-8"),
    "latin-1": (b"a = 1\ntitle = '\xfc'", "line 2 is not UTF-8; save it as UTF-8"),
    "huge": (b"#" * 1_000_001, "is larger than 1 MB"),
    "no quotes": (
        b'title = "x"\nwidth = 100 mm # wide',
        'line 2: \'width = 100 mm # wide\': expected newline or end of document after '
        'a statement; put the value in quotes: width = "100 mm"',
    ),
    "twice": (b"a = 1\na = 2\n", "line 2: 'a = 2': cannot overwrite a value"),
    "open": (b"[member\n", "line 1: '[member'"),
    "nested lists": (b"a = " + b"[\n" * 50_000, "nested too deep"),
    "nested keys": (b".".join([b"a"] * 900) + b" = 1", "nested deeper than 12"),
    "nested tables": (b"a = " + b"{a = " * 20 + b"1" + b"}" * 20, "nested deeper"),
    "long line": (b"a = [" + b"1," * 2000 + b"]", "line 1 is over 2000 characters"),
    "escape": (b'title = "\x1b[31m"', r"illegal character '\x1b'"),
}  # fmt: skip


@pytest.mark.parametrize("name", UNREADABLE)
def test_files_that_are_no_case(tmp_path, name):
    content, sentence = UNREADABLE[name]
    path = tmp_path / "a.toml"
    path.write_bytes(content)
    with pytest.raises(CaseError) as caught:
        load(path)
    (problem,) = caught.value.problems
    assert problem.startswith(f"{path}: ")
    assert "\n" not in problem
    assert sentence in problem


def test_what_is_no_file(tmp_path):
    (tmp_path / "flat_bar.toml").write_bytes(plain_case())
    os.mkfifo(tmp_path / "pipe")
    for name, sentence in {
        "flat_bra.toml": "there is no such file; did you mean 'flat_bar.toml'?",
        "flat_bar.toml/x": "there is no such file",
        ".": "is a folder; name a text file",
        "pipe": "is not an ordinary file",
        "nul\0": "cannot be read",
        "x" * 300: "cannot be read",
    }.items():
        with pytest.raises(CaseError) as caught:
            load(tmp_path / name)
        assert sentence in str(caught.value)


@pytest.mark.skipif(os.geteuid() == 0, reason="root reads everything")
def test_a_file_without_the_right_to_read(tmp_path):
    path = tmp_path / "a.toml"
    path.write_bytes(plain_case())
    path.chmod(0)
    with pytest.raises(CaseError, match="cannot be read"):
        load(path)


def test_messages_cannot_upset_a_terminal():
    sentence = only(PLATE | {"torch": {"radius": "1 \x1b[31m\nmm"}})
    assert sentence.isprintable()
