"""What a case file has wrong: one sentence for each fault, all of them at once."""

import math

import pytest
from plain_case import BEAM, PLATE, VEE, faults, only, read, with_cooling, with_pattern

from shrinksim.shop.sections.catalogue import section_named
from shrinksim.shop.sections.shape import plastic_moment


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
        'torch.target is not for drive = "travel"',
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


def test_messages_cannot_upset_a_terminal():
    sentence = only(PLATE | {"torch": {"radius": "1 \x1b[31m\nmm"}})
    assert sentence.isprintable()
