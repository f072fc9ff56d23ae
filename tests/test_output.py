"""The results folder, its figures and its page, on a small made-up result."""

from __future__ import annotations

import csv
import json
import re
import shutil
import subprocess
import sys
from types import SimpleNamespace
from xml.etree import ElementTree

import numpy as np
import pytest
from made_up_result import DEPTH, NASTY, made_up

from shrinksim.errors import CaseError
from shrinksim.page.axes import round_marks
from shrinksim.report import effort, history
from shrinksim.report import folder as report
from shrinksim.report.folder import pictures, write_results
from shrinksim.shop.sections.shape import Band
from shrinksim.views import maps
from shrinksim.views.elevation import setup_drawing as sketch
from shrinksim.views.elevation import words
from shrinksim.views.elevation.pictures import PLATES


@pytest.fixture(scope="module")
def result():
    return made_up()


@pytest.fixture(scope="module")
def written(result, tmp_path_factory):
    place = tmp_path_factory.mktemp("out")
    case = place / "given.toml"
    case.write_text(f'title = "{NASTY}"\n', encoding="utf-8")
    return write_results(result, place / "results", case)


@pytest.fixture(scope="module")
def drawn(result):
    return pictures(result)


@pytest.fixture
def case_file(tmp_path, drawn, monkeypatch):
    """A case file, in a test of the folder alone: its figures are drawn once."""
    monkeypatch.setattr(report, "pictures", lambda _: drawn)
    path = tmp_path / "case.toml"
    path.write_text('title = "a"\n', encoding="utf-8")
    return path


def files(folder):
    every = (p for p in folder.rglob("*") if p.is_file())
    return {p.relative_to(folder).as_posix(): p.stat().st_size for p in every}


def test_folder_holds_everything_and_its_seal_lists_it(written):
    present = files(written)
    seal = json.loads((written / "complete.json").read_text("utf-8"))
    assert seal["files"] == {k: v for k, v in present.items() if k != "complete.json"}
    names = {"case.toml", "case_resolved.json", "summary.json", "history.csv"}
    names |= {"report.html", "fields/fields.pvd"}
    names |= {f"figures/{p.name}.svg" for p in PLATES}
    assert names <= set(present)
    assert min(present.values()) > 0
    newest = max(written.rglob("*.*"), key=lambda p: p.stat().st_mtime_ns)
    assert newest.name == "complete.json"
    assert [p.name for p in written.parent.iterdir() if p.name[0] == "."] == []


def test_case_is_kept_as_given_and_json_is_strict(written, result):
    given = written.parent / "given.toml"
    assert (written / "case.toml").read_bytes() == given.read_bytes()

    def refuse(word):
        raise AssertionError(word)

    for name in ("summary.json", "case_resolved.json", "complete.json"):
        json.loads((written / name).read_text("utf-8"), parse_constant=refuse)
    summary = json.loads((written / "summary.json").read_text("utf-8"))
    assert summary["hot_hinge_margin"] is None
    assert summary["rotation_mrad"] == pytest.approx(5.0)
    resolved = json.loads((written / "case_resolved.json").read_text("utf-8"))
    assert resolved == result.resolved


def test_page_shows_text_as_text_and_needs_no_network(written):
    page = (written / "report.html").read_text("utf-8")
    assert "<script" not in page.lower()
    assert "&lt;script&gt;" in page
    body = re.sub(r"data:image/[a-z+]+;base64,[A-Za-z0-9+/=]+", "DATA", page)
    assert not re.search(r"https?:|//[a-z]|@import|url\(|<link|<iframe", body)
    assert "default-src 'none'" in body
    images = re.findall(r"<img [^>]*>", body)
    assert len(images) == len(PLATES)
    for image in images:
        assert 'src="DATA"' in image
        assert len(re.search(r'alt="([^"]*)"', image)[1]) > 20
    assert "abc123" in body
    assert "shrinksim 1.2.3" in body


def test_page_tells_things_in_order(written):
    page = (written / "report.html").read_text("utf-8")
    order = [
        "The heat bends the member permanently by 5 mrad", "Cautions", "Set-up",
        "What to do",
        "650 °C", "Pictures", "Numbers", "How far to trust this",
        "The case as given", "Input hash",
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
    times = [float(d.get("timestep")) for d in listed]
    assert times[0] == 0.0
    assert times[-1] == result.strain.times[-1]
    assert np.all(np.diff(times) > 0)
    assert 3 < len(times) <= 13
    first, last = (
        meshio.read(written / "fields" / listed[k].get("file")) for k in (0, -1)
    )
    np.testing.assert_array_equal(first.cells_dict["triangle6"], result.mesh.triangles)
    moved = last.point_data["displacement [m]"][:, :2]
    np.testing.assert_allclose(moved, result.strain.displacement[-1])
    np.testing.assert_allclose(
        last.point_data["peak temperature [degC]"], result.heat.peak
    )
    stress = last.cell_data_dict["final stress xx [MPa]"]["triangle6"]
    count = len(result.mesh.triangles)
    mean = result.strain.stress[:count, :, 0].mean(axis=1)
    np.testing.assert_allclose(stress, mean / 1e6)
    assert "final stress xx [MPa]" not in first.cell_data


def test_history_has_units_and_every_time(written, result):
    with (written / "history.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.reader(file))
    header, table = rows[0], np.array(rows[1:], float)
    assert all(name.endswith("]") for name in header)
    t = table[:, header.index("time [s]")]
    assert np.all(np.diff(t) >= 0)
    np.testing.assert_allclose(
        np.unique(t), np.union1d(result.heat.times, result.strain.times), rtol=1e-6
    )
    turn = table[:, header.index("rotation [mrad]")]
    computed = table[:, header.index("strain step [1 = computed]")] == 1
    expected = result.movement.rotation_history * 1e3
    np.testing.assert_allclose(turn[computed], expected, rtol=1e-6)
    load = table[:, header.index("load fraction [1]")]
    assert (load[0], load[1], load[-2], load[-1]) == (0, 1, 1, 0)
    torch = table[:, header.index("torch [1 = on]")]
    assert set(t[torch == 1]) == {x for x in t if 0 < x <= 40}


def test_history_is_empty_after_a_fold():
    folded = made_up(outcome="hot hinge")
    half = len(folded.strain.times) // 2
    for name in ("times", "temperature", "fraction", "hot_stress"):
        object.__setattr__(folded.strain, name, getattr(folded.strain, name)[:half])
    for name in ("moment", "rotation", "shortening", "hinge_margin"):
        key = f"{name}_history"
        part = getattr(folded.movement, key)[:half]
        object.__setattr__(folded.movement, key, part)
    columns = history.history(folded)
    late = columns["time [s]"] > folded.strain.times[-1]
    assert late.any()
    assert np.isnan(columns["rotation [mrad]"][late]).all()
    assert np.isfinite(columns["hottest [degC]"]).all()


def test_an_earlier_run_is_replaced_only_by_force(result, case_file, tmp_path):
    folder = write_results(result, tmp_path / "results", case_file)
    (folder / "report.html").write_text("old", encoding="utf-8")
    with pytest.raises(CaseError, match="--force"):
        write_results(result, folder, case_file)
    assert (folder / "report.html").read_text("utf-8") == "old"
    write_results(result, folder, case_file, force=True)
    assert (folder / "report.html").read_text("utf-8") != "old"
    assert sorted(p.name for p in tmp_path.iterdir()) == ["case.toml", "results"]


def test_foreign_files_are_never_lost(result, case_file, tmp_path):
    with pytest.raises(CaseError, match=r"case\.toml"):
        write_results(result, tmp_path, case_file, force=True)
    folder = write_results(result, tmp_path / "results", case_file)
    (folder / "notes.txt").write_text("mine", encoding="utf-8")
    with pytest.raises(CaseError, match=r"notes\.txt"):
        write_results(result, folder, case_file, force=True)
    (folder / "notes.txt").unlink()
    (folder / "complete.json").write_text("[" * 100_000, encoding="utf-8")
    with pytest.raises(CaseError, match="not results of ours"):
        write_results(result, folder, case_file, force=True)
    (folder / "complete.json").unlink()
    with pytest.raises(CaseError, match="not results of ours"):
        write_results(result, folder, case_file, force=True)


def test_an_empty_folder_is_filled_and_a_file_refused(result, case_file, tmp_path):
    (tmp_path / "empty").mkdir()
    write_results(result, tmp_path / "empty", case_file)
    assert (tmp_path / "empty" / "complete.json").exists()
    with pytest.raises(CaseError, match="is not a folder"):
        write_results(result, case_file, case_file)
    with pytest.raises(CaseError, match=r"cannot be written.*case\.toml"):
        write_results(result, case_file / "below", case_file)


def test_a_full_disk_leaves_nothing(result, case_file, tmp_path):
    resource = pytest.importorskip("resource")
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (30_000, hard))
    try:
        with pytest.raises(CaseError, match="cannot be written") as caught:
            write_results(result, tmp_path / "results", case_file)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
    assert len(caught.value.problems) == 1
    assert [p.name for p in tmp_path.iterdir()] == ["case.toml"]


@pytest.mark.parametrize("fault", [KeyboardInterrupt, OSError(28, "No space left")])
def test_a_stop_keeps_the_earlier_results(
    result, case_file, tmp_path, monkeypatch, fault
):
    folder = write_results(result, tmp_path / "results", case_file)
    before = files(folder)

    def stop(*args):
        raise fault

    monkeypatch.setattr(report, "_seal", stop)
    with pytest.raises((CaseError, KeyboardInterrupt)):
        write_results(result, folder, case_file, force=True)
    assert files(folder) == before
    assert sorted(p.name for p in tmp_path.iterdir()) == ["case.toml", "results"]


def test_no_fields_when_the_case_wants_none(result, case_file, tmp_path):
    resolved = result.resolved | {"output": {"fields": False}}
    plain = SimpleNamespace(**(vars(result) | {"resolved": resolved}))
    folder = write_results(plain, tmp_path / "results", case_file)
    assert not (folder / "fields").exists()
    shutil.rmtree(folder)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("load", "outcome", "units"),
    [
        ("none", "complete", "metric"),
        ("held", "complete", "us"),
        ("weight", "hot hinge", "us"),
    ],
)
def test_every_kind_of_result_can_be_drawn(load, outcome, units):
    drawn = pictures(made_up(load=load, outcome=outcome, units=units))
    names = [p.plate.name for p in drawn]
    assert ("moment_time" in names) == (load != "none")
    for picture in drawn:
        text = picture.svg.decode()
        assert ElementTree.fromstring(text).tag.endswith("svg")
        if picture.plate.name == "setup":
            assert ("[in]" in text) == (units == "us")


@pytest.mark.slow
def test_drawing_leaves_the_users_matplotlib_alone(result):
    import matplotlib as mpl

    before = dict(mpl.rcParams)
    pictures(result)
    assert dict(mpl.rcParams) == before


def tiles_of(result):
    return dict(words.report_words(result, {})["tiles"])


def test_tiles_tell_the_numerical_error(result):
    assert tiles_of(result)["permanent rotation"] == "5 mrad (closes the wide end)"
    known = {"rotation_error_mrad": 0.0876, "shortening_error_mm": 0.0254}
    for units, length in (("metric", "0.025"), ("us", "0.001")):  # 25.4 mm to an inch
        shown = vars(made_up(units=units)) | {"refinement": known}
        rows = tiles_of(SimpleNamespace(**shown))
        turn = "5 mrad (closes the wide end, numerical error 0.088)"
        assert rows["permanent rotation"] == turn
        assert rows["shortening"].endswith(f" (numerical error {length})")
    folded = vars(made_up(outcome="hot hinge")) | {"refinement": None}
    assert "error" not in str(tiles_of(SimpleNamespace(**folded)))


@pytest.mark.slow
def test_the_plotting_library_waits_for_the_drawing():
    """Importing it takes as long as a small case: only who draws pays for it."""
    code = (
        "import sys, shrinksim.report.folder, shrinksim.member.plan.figures\n"
        "import shrinksim.compare.page\n"
        "assert 'matplotlib' not in sys.modules and 'meshio' not in sys.modules"
    )
    subprocess.run([sys.executable, "-c", code], check=True, timeout=120)


def test_words_of_the_verdict(result):
    assert "5 mrad" in words.headline(result)
    said = " ".join(words.details(result))
    assert "15 mm at 3 m" in said
    assert "7.5 mm out of line" in said  # 5 mrad x 6 m / 4
    assert "hollow" in said
    us = " ".join(words.details(made_up(units="us")))
    assert "0.6 in at 10 ft" in us
    assert "0.3 in out of line" in us
    assert "opposite of the purpose" in " ".join(words.details(made_up(sign=-1.0)))
    folded = made_up(outcome="hot hinge")
    assert words.headline(folded).startswith("Do not")
    assert "out of line" not in " ".join(words.details(folded))


@pytest.mark.parametrize(
    ("start", "said"),
    [
        ({"start_below": "300 degC"}, "until no place is above 300 °C, then mist"),
        ({"start_after": "30 s"}, "for 30 s after the torch is off, then mist"),
        ({}, "Cool: mist as soon as the torch is off."),
    ],
)
def test_a_forced_cooling_says_when_it_starts(result, start, said):
    heats = [{"cooling": {"kind": "mist"} | start}]
    resolved = result.resolved | {"heat": heats}
    told = words.actions(SimpleNamespace(**(vars(result) | {"resolved": resolved})))
    assert said in " ".join(told)


def test_a_load_that_stays_is_told():
    stays = made_up()
    stays.resolved["load"]["removed"] = "never"
    stays.strain.fraction.flags.writeable = True
    stays.strain.fraction[-1] = 1.0
    left = "Cold and still loaded the rotation is 5.5 mrad"  # 5, elastic 0.5
    assert left in " ".join(words.details(stays))
    assert "The load stays on" in " ".join(words.actions(stays))
    rows = dict(words.numbers(stays, {}))
    assert rows["rotation cold and still loaded"] == "5.5 mrad"
    assert not [name for name in rows if "given back" in name]


def test_flanges_in_plan_are_told_apart(result):
    low, web, high = (
        Band(name, a, b, thick, thick, 4.0, 2)
        for name, a, b, thick in (
            ("flange low", 0.0, 0.047, 0.02),
            ("web", 0.047, 0.053, 0.07),
            ("flange high", 0.053, 0.1, 0.02),
        )
    )
    bands = (low, web, high)
    geometry = SimpleNamespace(**(vars(result.geometry) | {"bands": bands}))
    plan = SimpleNamespace(**(vars(result) | {"geometry": geometry}))
    labels = [sketch._label(plan, band) for band in bands]
    both = "two flanges, 10 mm each"
    assert labels == [both, "web, seen on edge", both]


def test_time_above_a_limit_is_exact_for_straight_lines(result):
    steps = SimpleNamespace(
        heat=SimpleNamespace(
            times=np.array([0.0, 10.0, 30.0]),
            temperature=np.array([[0.0], [100.0], [0.0]]),
            peak=np.array([100.0]),
        )
    )
    assert effort.time_above(steps, 75.0) == pytest.approx(2.5 + 5.0)
    assert effort.time_above(steps, 100.0) == 0.0


def test_stress_at_nodes_is_exact_for_a_linear_field(result):
    nodal = maps.at_nodes(result.mesh, result.strain.stress[..., 0])
    expected = 1e9 * (result.mesh.points[:, 1] - DEPTH / 2)
    np.testing.assert_allclose(nodal, expected, atol=1.0)


@pytest.mark.parametrize(
    ("low", "high", "texts"),
    [
        (0.0, 10.0, ["0", "2", "4", "6", "8", "10"]),
        (-0.3, 0.31, ["−0.25", "0.00", "0.25"]),
        (-1e-7, 1e-7, ["−0.0000001", "0.0000000", "0.0000001"]),
        (0.0, 0.0, ["−0.5", "0.0", "0.5"]),
        (20.0, 20.0, ["19", "20", "21"]),
    ],
)
def test_round_marks(low, high, texts):
    assert [text for _, text in round_marks((low, high), len(texts))] == texts
