"""The case file: what it gives, filled in, and how it is written back."""

import math
import tomllib
from pathlib import Path

import pytest
from plain_case import BEAM, PLATE, VEE, faults, only, read, with_cooling, with_pattern

from shrinksim.casefile.heating import law_options
from shrinksim.casefile.resolving import REACH, resolved, steel_of, toml_text
from shrinksim.shop.flame import flame_named
from shrinksim.views.reading import case_from, load

CASES = sorted((Path(__file__).parent.parent / "cases").glob("*.toml"))


def test_values_are_si_and_defaults_are_filled_in():
    case = read(PLATE)
    vee = case.heats[0].patterns[0]
    assert case.member.view_depth == pytest.approx(0.1016)
    assert vee.kind == "vee"
    assert vee.angle == pytest.approx(math.pi / 4)
    assert vee.depth == pytest.approx(0.75 * 0.1016)
    assert (vee.open, vee.at, vee.path, vee.pause) == ("top", 0.0, "serpentine", 0.0)
    assert vee.torch.target == 640.0
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
