"""The results folder and its page for the section view, on small made-up results."""

from __future__ import annotations

import csv
import json
import re
from types import SimpleNamespace
from xml.etree import ElementTree

import numpy as np
import pytest
from made_up_result import NASTY
from made_up_section import BEAM, CAMBER, LENGTH, SWEEP, made_up

from shrinksim.commands.outcome import outcome
from shrinksim.report.folder import pictures, write_results
from shrinksim.views import fields
from shrinksim.views.bend_names import mid_offset
from shrinksim.views.section import frame as section_frame
from shrinksim.views.section import heats_in_words as section_heats
from shrinksim.views.section import maps as section_maps
from shrinksim.views.section import words
from shrinksim.views.section.curves import forced_spells
from shrinksim.views.section.pictures import SECTION_PLATES
from shrinksim.views.words import timeline


@pytest.fixture(scope="module")
def result():
    return made_up()


@pytest.fixture(scope="module")
def beam():
    return made_up(shape=BEAM, on=("flange top",), load="none")


@pytest.fixture(scope="module")
def written(result, tmp_path_factory):
    place = tmp_path_factory.mktemp("out")
    case = place / "given.toml"
    case.write_text(f'title = "{NASTY}"\n', encoding="utf-8")
    return write_results(result, place / "results", case)


def test_folder_holds_everything_and_its_seal_lists_it(written):
    every = (p for p in written.rglob("*") if p.is_file())
    present = {p.relative_to(written).as_posix(): p.stat().st_size for p in every}
    seal = json.loads((written / "complete.json").read_text("utf-8"))
    assert seal["files"] == {k: v for k, v in present.items() if k != "complete.json"}
    names = {"case.toml", "case_resolved.json", "summary.json", "history.csv"}
    names |= {"report.html", "fields/fields.pvd"}
    names |= {f"figures/{p.name}.svg" for p in SECTION_PLATES}
    assert names <= set(present)
    assert min(present.values()) > 0


def test_page_shows_text_as_text_and_needs_no_network(written):
    page = (written / "report.html").read_text("utf-8")
    assert "<script" not in page.lower()
    assert "&lt;script&gt;" in page
    body = re.sub(r"data:image/[a-z+]+;base64,[A-Za-z0-9+/=]+", "DATA", page)
    assert not re.search(r"https?:|//[a-z]|@import|url\(|<link|<iframe", body)
    images = re.findall(r"<img [^>]*>", body)
    assert len(images) == len(SECTION_PLATES)
    for image in images:
        assert 'src="DATA"' in image
        assert len(re.search(r'alt="([^"]*)"', image)[1]) > 20


def test_page_tells_things_in_order(written):
    page = (written / "report.html").read_text("utf-8")
    order = [
        "12 mrad of camber (top hollow)", "Cautions", "Set-up", "What to do",
        "4 mm/s", "Times are those of one section", "Pictures", "Numbers",
        "How far to trust this", "The case as given", "Input hash",
    ]  # fmt: skip
    places = [page.index(text) for text in order]
    assert places == sorted(places)


def test_svg_is_xml_without_references_out(written):
    for path in (written / "figures").glob("*.svg"):
        root = ElementTree.fromstring(path.read_text("utf-8"))
        for element in root.iter():
            for key, value in element.attrib.items():
                if key.endswith("href"):
                    assert value.startswith(("#", "data:")), path.name


def test_fields_read_back(written, result):
    meshio = pytest.importorskip("meshio")
    listed = ElementTree.parse(written / "fields" / "fields.pvd").findall(".//DataSet")
    last = meshio.read(written / "fields" / listed[-1].get("file"))
    moved = last.point_data["displacement [m]"][:, :2]
    np.testing.assert_allclose(moved, result.strain.displacement[-1])
    np.testing.assert_allclose(
        last.point_data["peak temperature [degC]"], result.heat.peak
    )
    cells = {name: blocks[0] for name, blocks in last.cell_data.items()}
    along = result.strain.stress[..., 3].mean(axis=1) / 1e6
    np.testing.assert_allclose(cells["final stress zz [MPa]"], along)
    # of a stress along one axis alone, von Mises is its size (by definition)
    mean = np.abs(result.strain.stress[..., 3]).mean(axis=1) / 1e6
    np.testing.assert_allclose(cells["final von Mises stress [MPa]"], mean)
    assert "equivalent plastic strain [1]" in cells
    assert "thickness [m]" not in cells


def test_von_mises_of_pure_shear_and_of_even_pressure():
    """Shear tau gives sqrt(3) tau, even pressure nothing (any textbook of strength)."""
    shear = np.array([0.0, 0.0, 2.0, 0.0])
    assert fields.mises(shear) == pytest.approx(2.0 * np.sqrt(3.0))
    assert fields.mises(np.array([5.0, 5.0, 0.0, 5.0])) == pytest.approx(0.0)


def test_history_has_units_and_the_movement(written, result):
    with (written / "history.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.reader(file))
    header, table = rows[0], np.array(rows[1:], float)
    assert all(name.endswith("]") for name in header)
    computed = table[:, header.index("strain step [1 = computed]")] == 1
    movement = result.movement
    for name, values in {
        "camber [mrad/m]": movement.camber_history * 1e3,
        "sweep [mrad/m]": movement.sweep_history * 1e3,
        "strain along the member [mm/m]": movement.strain_history * 1e3,
        "camber moment [kN m]": movement.camber_moment_history / 1e3,
    }.items():
        column = table[:, header.index(name)][computed]
        np.testing.assert_allclose(column, values, rtol=1e-6, err_msg=name)
    absorbed = table[:, header.index("heat absorbed [kJ/m]")]
    assert absorbed[-1] == pytest.approx(300.0)
    torch = table[:, header.index("torch [1 = on]")] == 1
    times = table[:, header.index("time [s]")]
    assert (times[torch].min(), times[torch].max()) == (2.0, 20.0)


@pytest.mark.slow
@pytest.mark.parametrize(
    "options",
    [
        {"load": "none", "units": "us", "on": ("top", "bottom"), "camber": 0.0},
        {"load": "weight", "outcome": "hot hinge", "units": "us"},
        {"shape": BEAM, "on": ("flange top", "flange bottom"), "kind": "spots along"},
        {"shape": BEAM, "on": ("web left",), "camber": 0.0, "sweep": 0.0},
        {"load": "held", "edges": "held", "on": ("edge right",), "kind": "line along"},
        {"cooling": {"kind": "air jet", "everywhere": True}},
    ],
)
def test_every_kind_of_result_can_be_drawn(options):
    drawn = pictures(made_up(**options))
    names = [p.plate.name for p in drawn]
    assert ("moment_time" in names) == (options.get("load") != "none")
    for picture in drawn:
        assert ElementTree.fromstring(picture.svg).tag.endswith("svg")
        if picture.plate.name == "temperature_maps":
            inches = "across [in]" in picture.svg.decode()
            assert inches == (options.get("units") == "us")


def test_words_of_the_verdict(result):
    said = words.headline(result)
    assert "12 mrad of camber (top hollow)" in said  # 6 mrad/m over 2 m
    assert "4 mrad of sweep (left hollow)" in said
    assert "plate's sides by 4 mrad" in said
    assert "shortens it by 0.4 mm" in said
    told = " ".join(words.details(result))
    # a bend k over L stands k L^2 / 8 off its string: 6e-3 x 4 / 8
    assert "stands 3 mm off" in told
    assert "15 mm out of line" in told  # 12 mrad x (6 / 4 - 2 / 8) m
    assert "0.4 mm off at 100 mm" in told  # 4 mrad x 100 mm
    assert "towards its heated face" in told
    assert "0.3 mm narrower" in told
    assert "90 kN (the tendon force)" in told
    us = " ".join(words.details(made_up(units="us")))
    assert "20.23 kip" in us  # 90 kN / 4.448 kN


def test_a_bend_against_its_heat_is_told():
    against = " ".join(words.details(made_up(camber=-CAMBER)))
    assert "The heated top becomes the round side" in against
    assert "round side" not in " ".join(words.details(made_up()))


def test_offset_of_an_evenly_bent_length():
    """Sagitta k L^2 / 8 when all is heated, turn x L / 4 when it is one kink."""
    assert mid_offset(2e-3 * 3.0, 3.0, 3.0) == pytest.approx(2e-3 * 9.0 / 8.0)
    assert mid_offset(5e-3, 0.0, 6.0) == pytest.approx(5e-3 * 6.0 / 4.0)


def test_a_straight_member_is_told():
    straight = made_up(camber=0.0, sweep=1e-9)
    assert "leaves the member straight" in words.headline(straight)
    tiles = words.report_words(straight, {})["tiles"]
    assert ("permanent rotation", "none (under 0.05 mrad)") in tiles
    assert dict(words.numbers(straight, {}))["curvature, sweep"] == "0 mrad/m"


def test_a_hot_hinge_is_told():
    folded = made_up(load="weight", outcome="hot hinge")
    assert words.headline(folded).startswith("Do not")
    assert "out of line" not in " ".join(words.details(folded))
    rows = words.report_words(folded, {})["tiles"]
    assert ("rotation when it stopped, camber", "12 mrad (top hollow)") in rows


def test_spots_turn_the_member_by_their_share_of_the_length():
    spots = made_up(kind="spots along")
    assert "3 mrad of camber" in words.headline(spots)  # 12 mrad x 25 / 100
    rows = dict(words.numbers(spots, {}))
    assert rows["heated share of it"] == "25 %"
    told = " ".join(words.actions(spots))
    assert "heat 20 spots over 2000 mm" in told
    assert "about 25 s each" in told  # 500 s / 20
    assert words.report_words(spots, {})["clock"] == ""


def test_what_to_do_is_in_order(result):
    steps = words.actions(result)
    assert steps[0] == (
        "Put the load on while cold: jack, camber moment 0.25 Mp (4\u00a0kN\u00a0m, "
        "compresses the top), sweep moment -0.1 Mp (compresses the left), stiffness 2 EI/L."
    )
    assert steps[1].startswith(
        "Torch 1, strip 40 mm wide on the top: travel along 2000 mm"
    )
    assert "at 4 mm/s (8 min 20 s in all), weaving over 40 mm" in steps[1]
    assert steps[2].startswith(
        "Cool: mist 80 mm behind the torch, along its whole path"
    )
    assert steps[3] == "Take the load off when the steel is cold."


def test_a_moment_compresses_the_heated_side():
    below = made_up(side=(0, -1), on=("bottom",))
    assert "compresses the bottom" in section_heats.load_words(below)[1]
    edges = made_up(load="none", edges="held")
    assert words.actions(edges)[0].startswith("Hold the plate's two long edges")
    held = words.actions(made_up(load="held"))
    assert held[0].startswith("Hold the member straight")
    assert "Let it go when the steel is cold." in held


def test_phases_are_those_of_a_section_that_is_passed(result):
    told = [name for name, *_ in timeline(result)]
    assert told[1:3] == [
        "heat 1: torch 1, cooling behind it", "heat 1: torch farther along"
    ]  # fmt: skip


def test_time_of_forced_cooling_is_shaded(result):
    times = result.heat.times
    labels = np.array([name.words for name in result.heat.phases])
    mist = times[labels == "heat 1: mist"]
    before = float(times[labels == "heat 1: torch farther along"][-1])
    spells = forced_spells(result)
    assert spells == [(20.0, 30.0), (before, float(mist[-1]))]


def test_cooled_surfaces(result):
    (line,) = section_frame.cooled_lines(result)
    assert (line[:, 0].min(), line[:, 0].max()) == pytest.approx((-0.04, 0.04))
    every = made_up(cooling={"kind": "mist", "everywhere": True})
    assert len(section_frame.cooled_lines(every)) == 4
    own = made_up(cooling={"kind": "mist", "on": ["bottom"]})
    (line,) = section_frame.cooled_lines(own)
    assert np.ptp(line[:, 0]) == pytest.approx(0.3)
    air = made_up(cooling={"kind": "still air"})
    assert section_frame.cooled_lines(air) == []


def test_outline_encloses_the_area_of_the_section(beam):
    """Arcs drawn as chords lose under a thousandth of the area."""
    x, y = section_frame.ring(beam.geometry.pieces).T
    area = 0.5 * float(x[:-1] @ y[1:] - y[:-1] @ x[1:])
    assert area == pytest.approx(BEAM.properties.area, rel=1e-3)


def test_outward_points_away_from_the_steel(beam):
    for name, way in (("flange top", (0, 1)), ("web left", (-1, 0))):
        spans = {"spans": ((name, -0.02, 0.02),)}
        geometry = SimpleNamespace(**(vars(beam.geometry) | spans))
        moved = SimpleNamespace(**(vars(beam) | {"geometry": geometry}))
        line = section_frame.heated_line(moved, 0)
        assert section_frame.outward(moved, line) == pytest.approx(way)


def test_stress_along_is_exact_for_a_linear_field(beam):
    nodal = section_maps.along_stress(beam)
    straight = 2e9 * (beam.mesh.points[:, 1] - 0.15)
    inside = np.abs(beam.mesh.points[:, 1] - 0.15) < 0.1  # sides are straight there
    np.testing.assert_allclose(nodal[inside], straight[inside], atol=1.0)


SUMMARY = {
    "title": "a beam", "view": "section", "converged": True,
    "camber_per_m": CAMBER, "sweep_per_m": SWEEP,
    "camber_rotation_mrad": CAMBER * LENGTH * 1e3, "sweep_rotation_mrad": -4.0,
    "shortening_mm": 0.4, "angular_change_mrad": None, "transverse_shrinkage_mm": 0.3,
    "tendon_force_kN": 90.0, "peak_temperature_C": 600.0, "heating_time_s": 500.0,
    "max_residual_tension_MPa": 235.0, "hot_hinge_margin": None, "refinement": None,
    "cautions": [{"code": "a", "text": "take care of it"}],
}  # fmt: skip


def test_terminal_tells_a_section():
    text = outcome(SUMMARY, "metric")
    assert re.search(r"permanent rotation, camber +12\.00 mrad \(top hollow\)", text)
    assert re.search(r"curvature, camber +6 mrad/m", text)
    assert re.search(r"permanent rotation, sweep +4\.00 mrad \(left hollow\)", text)
    assert re.search(r"curvature, sweep +-2 mrad/m", text)
    assert "tendon force" in text
    assert "angular change" not in text
    assert "take care of it" in text
    us = outcome(SUMMARY, "us")
    assert "mrad/ft" in us
    assert "kip" in us


def test_terminal_leaves_out_what_is_nothing():
    plain = outcome(SUMMARY | {"sweep_rotation_mrad": 1e-6}, "metric")
    assert "sweep" not in plain
    flat = {"sweep_rotation_mrad": 0.0, "camber_rotation_mrad": 0.0}
    assert "none (under" in outcome(SUMMARY | flat, "metric")
    plate = outcome(SUMMARY | {"angular_change_mrad": -4.0}, "metric")
    assert "4.00 mrad (from the heated face)" in plate
    for across, told in ((-0.3, "0.3 mm (wider)"), (0.3, "0.3 mm (narrower)")):
        change = {"transverse_shrinkage_mm": across, "angular_change_mrad": 1.0}
        assert told in outcome(SUMMARY | change, "metric")


def test_terminal_tells_a_fold_and_another_mesh():
    folded = SUMMARY | {"converged": False, "max_residual_tension_MPa": None}
    text = outcome(folded, "metric")
    assert "hot hinge: the member folds while hot" in text
    assert "residual tension" not in text
    changed = {
        "factor": 2.0, "camber_error_mrad": 0.031, "sweep_error_mrad": 0.0
    }  # fmt: skip
    text = outcome(SUMMARY | {"refinement": changed}, "metric")
    assert "camber 0.03 mrad, sweep 0.00 mrad" in text
