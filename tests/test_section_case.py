"""The case file of the section view: what it gives, and one sentence for each fault."""

import tomllib
from pathlib import Path

import pytest
from plain_case import PLATE as ELEVATION
from plain_case import VEE, faults, only, read, with_pattern
from plain_section import BARE, BEAM, LINE, PLATE, SPOTS, STRIP

from shrinksim.casefile.resolving import REACH, resolved, toml_text
from shrinksim.errors import CaseError
from shrinksim.shop.flame import flame_named
from shrinksim.shop.outline import surfaces
from shrinksim.views.reading import case_from
from shrinksim.views.section.record import SectionCase


def given(base, **change):
    """The case with keys of its first pattern changed, ... taking one away."""
    pattern = base["heat"][0]["pattern"][0] | change
    return with_pattern(base, **{k: v for k, v in pattern.items() if v is not ...})


def cooled(base=PLATE, **cooling):
    return base | {"heat": [base["heat"][0] | {"cooling": cooling}]}


def test_values_are_si_and_defaults_are_filled_in():
    case = read(BEAM | {"torch": {"target": "600 degC", "power": "9 kW"}})
    assert isinstance(case, SectionCase)
    (strip,) = case.heats[0].patterns
    assert (strip.kind, strip.on, strip.at) == ("strip along", ("flange top",), 0.0)
    assert (strip.width, strip.length, strip.pause) == (0.06, 2.0, 0.0)
    tip = flame_named("welding tip")
    assert (strip.torch.power, strip.torch.target) == (9e3, 600.0)
    assert strip.torch.radius == tip.radius
    assert (strip.torch.drive, case.load.kind, case.load.edges) == (
        "held", "none", "free",
    )  # fmt: skip
    assert case.heats[0].cooling.kind == "still air"


def test_loads_about_both_axes_are_ratios_or_values():
    jack = {"kind": "jack", "camber_moment": "1/4 Mp", "sweep_moment": "2 kN m",
            "stiffness": "2 EI/L"}  # fmt: skip
    load = read(BEAM | {"load": jack}).load
    assert (load.camber_ratio, load.camber) == (0.25, None)
    assert (load.sweep_ratio, load.sweep) == (None, 2000.0)
    assert (load.stiffness_ratio, load.stiffness) == (2.0, None)


@pytest.mark.parametrize("kind", ["air jet", "mist", "wet rag", "water stream"])
def test_forced_cooling_is_beside_the_heat_or_where_it_is_told(kind):
    cooling = read(cooled(kind=kind)).heats[0].cooling
    assert (cooling.reach, cooling.on, cooling.start_after) == (REACH, None, 0.0)
    cooling = read(cooled(kind=kind, on=["top", "bottom"])).heats[0].cooling
    assert (cooling.reach, cooling.on) == (None, ("top", "bottom"))


SECTIONS = [
    {"section": "plate", "width": "300 mm", "thickness": "12 mm"},
    BARE,
    BARE | {"root_radius": "9 mm"},
    *({"section": name} for name in ("IPE 300", "HEA 200", "W8X31", "S8X18.4", "IPN 200")),
]  # fmt: skip


@pytest.mark.parametrize("member", SECTIONS, ids=lambda m: m["section"])
def test_every_surface_of_a_section_can_be_heated_and_cooled(member):
    shape = read(PLATE | {"member": member, "heat": [_heat(member)]}).member.shape
    names = surfaces(shape.outline())
    expected = 4 if member["section"] == "plate" else 16
    if member.get("root_radius") == "0 mm":
        expected -= 4
    assert len(names) == expected
    tables = PLATE | {"member": member}
    for name in names:
        line = LINE | {"on": name}
        cooling = {"kind": "mist", "on": name}
        read(tables | {"heat": [{"pattern": [line], "cooling": cooling}]})
    read(tables | {"heat": [{"pattern": [LINE | {"on": list(names)}]}]})


def _heat(member):
    on = "top" if member["section"] == "plate" else "web left"
    return {"pattern": [LINE | {"on": on}]}


def test_without_a_root_radius_there_are_no_roots():
    tables = PLATE | {
        "member": BARE,
        "heat": [{"pattern": [LINE | {"on": "root top left"}]}],
    }
    sentence = only(tables)
    assert (
        "heat[0].pattern[0].on = 'root top left' is not one of its surfaces" in sentence
    )
    listed = sentence.split("surfaces: ")[1].split(";")[0].split(", ")
    assert not any(name.startswith("root") for name in listed)


def test_everything_wrong_is_said_at_once():
    tables = {
        "title": "",
        "view": "section",
        "member": {"section": "plate", "width": 300, "thickness": "12 mm", "axis": "weak"},
        "steel": {"grade": "S999"},
        "torch": {"drive": "at onse"},
        "load": {"kind": "jack", "camber_moment": "0.2 Mp"},
        "heat": [
            {"pattern": [LINE | {"length": "2"}, {"kind": "strip alon"}, VEE]},
            {"pattern": [LINE],
             "cooling": {"kind": "mist", "on": "top", "everywhere": True}},
        ],
    }  # fmt: skip
    found = "\n".join(faults(tables))
    for sentence in (
        "title = '' is empty",
        "member.width = 300 has no unit",
        "member.axis = 'weak': 'axis' is not a key of member; it is for view = "
        '"elevation"',
        "steel.grade = 'S999' is not one of",
        "torch.drive = 'at onse' is not one of held, travel, at once; did you mean "
        "'at once'?",
        "load.stiffness is missing: load.kind = 'jack' needs one",
        'heat[0].pattern[0].length = "2" has no unit',
        "heat[0].pattern[1].kind = 'strip alon' is not one of line along, strip along, "
        "spots along; did you mean 'strip along'?",
        "heat[0].pattern[2].kind = 'vee' is for view = \"elevation\"; the section view "
        "has line along, strip along, spots along",
        "heat[1].cooling has both on and everywhere = true; leave one out",
    ):
        assert sentence in found


OTHER_VIEW = {
    "axis": ({"member": {"section": "IPE 300", "axis": "strong"}}, "'axis' is not a key"),
    "patch": ({"member": {"section": "IPE 300", "patch": "2 m"}}, "'patch' is not a key"),
    "moment": (
        {"load": {"kind": "weight", "moment": "0.2 Mp", "axial": "1 kN"}},
        'it is for view = "elevation"; write camber_moment or sweep_moment',
    ),
    "vee": ({"heat": [{"pattern": [VEE]}]}, ".kind = 'vee' is for view"),
    "two torches": ({"torch": {"torches": 2}}, "torch.torches = 2 is for view"),
}  # fmt: skip


@pytest.mark.parametrize("name", OTHER_VIEW)
def test_what_is_for_the_elevation_is_said_to_be(name):
    change, sentence = OTHER_VIEW[name]
    found = only(BEAM | change)
    assert sentence in found
    assert 'view = "elevation"' in found


SECTION_ONLY = {
    "camber": (
        {"load": {"kind": "weight", "camber_moment": "0.2 Mp", "axial": "1 kN"}},
        "write moment",
    ),
    "edges": ({"load": {"edges": "held"}}, "'edges' is not a key of load"),
    "line along": (
        {"heat": [{"pattern": [LINE]}]},
        "the elevation view has vee, strip, line, spot, rectangle",
    ),
    "at once": ({"torch": {"drive": "at once"}}, "torch.drive = 'at once' is for"),
    "cooled surface": (
        {"heat": [{"pattern": [VEE], "cooling": {"kind": "mist", "on": "top"}}]},
        "heat[0].cooling.on is for",
    ),
}


@pytest.mark.parametrize("name", SECTION_ONLY)
def test_what_is_for_the_section_is_said_to_be(name):
    change, sentence = SECTION_ONLY[name]
    found = only(ELEVATION | change)
    assert sentence in found
    assert 'view = "section"' in found


WRONG = {
    "view": ({"view": "sektion"},
             "view = 'sektion' is not one of elevation, section, solid; "
             "did you mean 'section'?"),
    "no view at all": ({"view": 3}, "view = 3 is not one of elevation, section"),
    "edges of a beam": (BEAM | {"load": {"edges": "held"}}, "is for a plate"),
    "weight": ({"load": {"kind": "weight"}}, "needs load.camber_moment or load.sweep"),
    "stiff weight": ({"load": {"kind": "weight", "axial": "1 kN", "stiffness": "EI/L"}},
                     "load.stiffness: a weight has none"),
    "jack": ({"load": {"kind": "jack", "sweep_moment": "0.1 Mp"}},
             "load.stiffness is missing"),
    "idle jack": ({"load": {"kind": "jack", "stiffness": "EI/L"}}, "what it presses with"),
    "soft clamp": ({"load": {"kind": "clamp", "stiffness": "0 EI/L"}}, "not more than 0"),
    "idle moment": ({"load": {"sweep_moment": "0.1 Mp"}},
                    "load.sweep_moment: load.kind = 'none' is no load"),
    "held": ({"load": {"kind": "held", "axial": "1 kN"}}, "holds the member straight"),
    "coarse": ({"numerics": {"element": "20 mm"}},
               "numerics.element = 20 mm is more than the steel is thick, 12 mm"),
    "endless": ({"numerics": {"element": "0.001 mm"}}, "over 2e+05 elements"),
    "endless far": ({"numerics": {"far_element": "0.02 mm"}}, "over 2e+05 elements"),
    "far": ({"numerics": {"element": "3 mm", "far_element": "2 mm"}},
            "numerics.far_element is smaller"),
    "point": ({"output": {"points": {"a": ["0 mm", "13 mm"]}}},
              "output.points.a is off the section: (0 mm, 13 mm); x counts from"),
    "beside the web": (BEAM | {"output": {"points": {"a": ["30 mm", "150 mm"]}}},
                       "output.points.a is off the section"),
    "hot": ({"torch": {"target": "1300 degC"}}, "is above 1200 degC"),
    "travel": ({"torch": {"drive": "travel"}}, "torch.speed is missing"),
    "travel target": (
        {"torch": {"drive": "travel", "speed": "5 mm/s", "target": "600 degC"}},
        'torch.target is not for drive = "travel"',
    ),
    "speed at once": ({"torch": {"drive": "at once", "speed": "5 mm/s"}},
                      "torch.speed is not used: the torch plays over the length at once"),
    "follows nothing": (
        cooled(kind="mist", behind="120 mm") | {"torch": {"drive": "at once"}},
        "heat[0].cooling.behind: the torch of heat[0].pattern[0] does not go along",
    ),
    "follows spots": (cooled(with_pattern(PLATE, **SPOTS), kind="mist", behind="120 mm"),
                      "so nothing can follow it; leave behind out"),
    "air follows": (cooled(behind="120 mm"), "still air does not follow a torch"),
    "on the flame": (cooled(kind="mist", behind="10 mm"), "it would blow on the flame"),
    "cooled twice": (cooled(kind="mist", on="top", reach="20 mm"), "both on and reach"),
    "cooled nowhere": (cooled(kind="mist", on="topp"),
                       "heat[0].cooling.on = 'topp' is not one of its surfaces"),
}  # fmt: skip


@pytest.mark.parametrize("name", WRONG)
def test_one_fault_one_sentence(name):
    change, sentence = WRONG[name]
    assert sentence in only(PLATE | change)


PATTERNS = {
    "surface": (BEAM, {"on": "flange topp"}, "did you mean 'flange top'?"),
    "of a beam": (PLATE, {"on": "flange top"},
                  "is not one of its surfaces: bottom, edge right, top, edge left"),
    "twice": (PLATE, {"on": ["top", "top"]}, "on = a name is given twice"),
    "none": (PLATE, {"on": []}, "is not a name in quotes or a list"),
    "nowhere": (PLATE, {"on": ...}, "on is missing; name a surface"),
    "no length": (PLATE, {"length": ...}, "length is missing; write length = "),
    "no width": (BEAM, {"width": ...}, "width is missing; write width = "),
    "width of a line": (PLATE, {"width": "20 mm"}, "it is for kind = 'strip along'"),
    "angle": (PLATE, {"angle": "45 deg"}, "'angle' is not a key of heat[0].pattern[0]"),
    "off": (PLATE, {"at": "151 mm"},
            "heat[0].pattern[0] is off its surface: it reaches 151 mm from the middle "
            "of top, which is 300 mm wide"),
    "wide": (BEAM, {"width": "151 mm"}, "it reaches 75.5 mm from the middle"),
    "touching spots": (PLATE, SPOTS | {"spacing": "20 mm"},
                       "leaves no steel between spots of 20 mm; use kind"),
    "one spot": (PLATE, SPOTS | {"spacing": "2 m"}, "is shorter than the spacing, 2000 mm"),
    "travelling spots": (PLATE, SPOTS | {"torch": {"drive": "travel", "speed": "5 mm/s"}},
                         "drive = 'travel': a torch stays on each spot"),
    "fast spots": (PLATE, SPOTS | {"torch": {"speed": "5 mm/s"}},
                   "speed is not used: the torch stays on each spot"),
    "short": (PLATE, {"length": "10 mm"}, "length = 10 mm is shorter than the flame"),
    "across": (BEAM, {"width": "60 mm", "length": "50 mm"}, "than the strip is wide"),
    "key of a torch": (PLATE, {"torch": {"taget": "500 degC"}}, "did you mean 'target'?"),
}  # fmt: skip


@pytest.mark.parametrize("name", PATTERNS)
def test_patterns_that_cannot_be_heated(name):
    base, change, sentence = PATTERNS[name]
    assert sentence in only(given(base, **change))


def test_spots_under_a_torch_that_travels_elsewhere():
    travel = {"torch": {"drive": "travel", "speed": "5 mm/s"}}
    tables = with_pattern(PLATE, **SPOTS) | travel
    assert "drive = 'travel': a torch stays on each spot" in only(tables)
    held = read(with_pattern(PLATE, **SPOTS, torch={"drive": "held"}) | travel)
    assert held.heats[0].patterns[0].torch.target == 640.0


def test_patterns_of_one_heat_may_touch_but_not_overlap():
    one = STRIP | {"at": "-30 mm"}
    for at, other in (("30 mm", {}), ("0 mm", {"on": "flange bottom"})):
        read(BEAM | {"heat": [{"pattern": [one, STRIP | {"at": at} | other]}]})
    read(BEAM | {"heat": [{"pattern": [one]}, {"pattern": [STRIP]}]})
    both = STRIP | {"on": ["flange bottom", "flange top"]}
    sentence = only(BEAM | {"heat": [{"pattern": [one, both]}]})
    assert "heat[0].pattern[1] overlaps heat[0].pattern[0]" in sentence


def test_cooling_may_follow_a_torch_that_goes_along():
    for torch in ({}, {"drive": "travel", "speed": "5 mm/s"}):
        case = read(
            cooled(kind="mist", behind="120 mm", on="bottom") | {"torch": torch}
        )
        assert (case.heats[0].cooling.behind, case.heats[0].cooling.reach) == (
            0.12,
            REACH,
        )
    own = with_pattern(PLATE, **LINE, torch={"drive": "held"})
    read(cooled(own, kind="mist", behind="120 mm") | {"torch": {"drive": "at once"}})


def back(case):
    text = toml_text(resolved(case))
    return case_from(tomllib.loads(text), "again", Path())


def test_a_resolved_case_with_everything_reads_back():
    edges = ["flange top edge right", "flange bottom edge right"]
    strip = STRIP | {"on": edges, "width": "9 mm", "at": "1/64 in"}
    row = SPOTS | {"on": "web left", "pause": "1 min", "torch": {"target": "500 degC"}}
    line = LINE | {
        "on": "flange bottom",
        "torch": {"drive": "travel", "speed": "5 mm/s"},
    }
    mist = {"kind": "mist", "behind": "4 in", "on": ["flange top", "web left"]}
    full = BEAM | {
        "title": 'quotes " \\ and ü',
        "print_units": "us",
        "torch": {"power": "9 kW", "target": "1000 degF"},
        "load": {"kind": "clamp", "camber_moment": "-1/3 Mp", "sweep_moment": "2 kip ft",
                 "axial": "3 kip", "stiffness": "500 kip ft/rad", "removed": "never"},
        "heat": [
            {"pattern": [strip, line | {"length": strip["length"]}], "cooling": mist},
            {"pattern": [row], "cooling": {"kind": "wet rag", "on": "web right"}},
            {"pattern": [STRIP | {"torch": {"drive": "at once"}}]},
        ],
        "output": {"points": {"a b": ["1/3 in", "1 mm"]}, "fields": False},
    }  # fmt: skip
    case = read(full)
    assert back(case) == case


@pytest.mark.parametrize("drive", ["held", "travel", "at once"])
@pytest.mark.parametrize("own", [None, "held", "travel", "at once"])
def test_torches_of_every_drive_read_back(drive, own):
    torch = {"drive": drive} | ({"speed": "7 mm/s"} if drive == "travel" else {})
    mine = {"drive": own} | ({"speed": "9 mm/s"} if own == "travel" else {})
    case = read(given(PLATE, torch=mine if own else {}) | {"torch": torch})
    assert case.heats[0].patterns[0].torch.drive == (own or drive)
    assert back(case) == case
    if drive != "travel" or own == "held":
        case = read(with_pattern(PLATE, **SPOTS, torch=mine if own == "held" else {})
                    | {"torch": torch})  # fmt: skip
        assert back(case) == case


def test_patterns_of_one_heat_are_alike_along_the_member():
    longer = LINE | {"at": "20 mm", "length": "2 m"}
    with pytest.raises(CaseError, match="stands for a heat of one length") as caught:
        read(PLATE | {"heat": [{"pattern": [LINE, longer]}]})
    assert "heat[0].pattern[1].length" in caught.value.problems[0]
    read(PLATE | {"heat": [{"pattern": [LINE]}, {"pattern": [longer]}]})
    spots = SPOTS | {"at": "40 mm", "length": LINE["length"]}
    with pytest.raises(CaseError, match="same share of the length"):
        read(PLATE | {"heat": [{"pattern": [LINE, spots]}]})
