"""The plan's folder, drawings and page, on made-up plans."""

from __future__ import annotations

import csv
import json
import re
from dataclasses import replace
from xml.etree import ElementTree

import numpy as np
import pytest
from made_up_plan import BEAM, NASTY, US_BEAM, job_of, made_up_plan, vees

from shrinksim.errors import CaseError
from shrinksim.member.line import Bend
from shrinksim.member.log.file import append, log_path
from shrinksim.member.log.log import parse_reading
from shrinksim.member.plan import page as plan_page
from shrinksim.member.plan import words as plan_words
from shrinksim.member.plan.page import write_plan
from shrinksim.member.plan.plan import make_plan
from shrinksim.member.plan.tables import planned_heat
from shrinksim.units.quantity import quantity

PLATE = BEAM | {
    "member": {
        "section": "plate",
        "width": "100 mm",
        "thickness": "6 mm",
        "length": "3 m",
    },
    "support": [{"at": "0.2 m"}, {"at": "2.8 m"}],
    "survey": {
        "camber": [["0 m", "0 mm"], ["1.5 m", "14 mm"], ["3 m", "0 mm"]],
        "camber_line": "bottom",
    },
    "weight": [],
    "jack": [],
}
JOBS = {"metric": BEAM, "us": US_BEAM, "plate": PLATE}


@pytest.fixture
def job_path(tmp_path):
    path = tmp_path / "purlin.toml"
    path.write_text(f"title = '{NASTY}'  # \u202e turned\n", encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    place = tmp_path_factory.mktemp("plan")
    path = place / "purlin.toml"
    path.write_text(f"title = '{NASTY}'  # \u202e turned\n", encoding="utf-8")
    plan = made_up_plan(title=f"{NASTY}\u202e", heats=4, sweep_heats=2)
    return write_plan(plan, job_of(), place / "results", path)


def page_of(folder):
    page = (folder / "plan.html").read_text("utf-8")
    return re.sub(r"data:image/[a-z+]+;base64,[A-Za-z0-9+/=]+", "DATA", page)


def files(folder):
    every = (p for p in folder.rglob("*") if p.is_file())
    return {p.relative_to(folder).as_posix(): p.stat().st_size for p in every}


def test_folder_holds_everything_and_its_seal_lists_it(written):
    present = files(written)
    seal = json.loads((written / "complete.json").read_text("utf-8"))
    assert seal["files"] == {k: v for k, v in present.items() if k != "complete.json"}
    assert seal["input_hash"] == "abc123def456"
    names = {"job.toml", "plan.json", "chalk_marks.csv", "lines.csv", "plan.html"}
    names |= {f"figures/{n}.svg" for n in ("member", "moment", "heat_1", "heat_6")}
    assert names <= set(present)
    newest = max(written.rglob("*.*"), key=lambda p: p.stat().st_mtime_ns)
    assert newest.name == "complete.json"
    assert (written / "job.toml").read_bytes() == (
        written.parent / "purlin.toml"
    ).read_bytes()


def test_page_shows_text_as_text_and_needs_no_network(written):
    page = page_of(written)
    assert "<script" not in page.lower()
    assert "&lt;script&gt;" in page
    assert not re.search("[\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069]", page)
    assert "\\u202e" in page
    assert not re.search(r"https?:|//[a-z]|@import|url\(|<link|<iframe", page)
    assert "default-src 'none'" in page
    images = re.findall(r"<img [^>]*>", page)
    assert len(images) == 2 + 6
    for image in images:
        assert 'src="DATA"' in image
        assert len(re.search(r'alt="([^"]*)"', image)[1]) > 30


def test_page_is_well_formed_with_one_heading_of_each_kind_in_order(written):
    page = page_of(written).replace("&nbsp;", " ")
    body = page[page.index("<body>") : page.index("</html>")]
    root = ElementTree.fromstring(re.sub(r"(<img [^>]*)>", r"\1/>", body))
    ids = [e.get("id") for e in root.iter() if e.get("id")]
    assert len(ids) == len(set(ids))
    links = {a.get("href") for a in root.iter("a")}
    assert links <= {f"#{name}" for name in ids}
    heads = [e.text for e in root.iter("h2")]
    assert heads == [
        "Cautions", "The member as it lies", "What its weight does at the heats",
        "Chalk these on the steel", "Heats, in this order", "After each heat",
        "Tolerance", "Other ways of doing it", "How far to trust this",
        "The job as given",
    ]  # fmt: skip
    for table in root.iter("table"):
        wide = {
            len(list(row)) for part in table for row in part if row.tag == "tr"
        }  # fmt: skip
        assert len(wide) == 1
    assert len(list(root.iter("article"))) == 6


def test_page_tells_numbers_with_their_units(written):
    page = page_of(written)
    for text in (
        "6 heats planned; nine times in ten it takes 5 to 9.", "83 in 100",
        "5.343 m", "5.400 m", "5.457 m", "apex 225 mm from the top edge",
        "640 °C, no hotter",
        "about 6 min 12 s", "mist once under 315 °C", "0.060 Mp, helps",
        "4.1 (folds at 1)", "6 m by", "EN 10034:1993", "Keep the flame off the root.",
        "The member may roll", "steam", "licensed people", "from memory",
        "Stop when a heat moves it the wrong way.", "abc123def456", "turned over (no)",
    ):  # fmt: skip
        assert text in page, text
    assert not re.search(r"\bnan\b|None|\{\{", page)


def test_page_in_feet_and_inches(tmp_path, job_path):
    job = job_of(US_BEAM)
    folder = write_plan(made_up_plan(job, heats=2), job, tmp_path / "out", job_path)
    page = page_of(folder)
    for text in (
        "20 ft 3 in",
        "1184 °F",
        "9 1/8 in from the top edge",
        "kip ft",
        "Btu",
    ):
        assert text in page, text
    said = page[: page.index("Tolerance</h2>")]
    assert not re.search(r"[0-9] (mm|m|kN|kg|MJ)\b", said.split("When to stop")[0])


def test_log_example_is_a_reading_the_log_takes(written):
    example = re.search(
        r"shrinksim log purlin\.toml -r &#34;(.*)&#34;", page_of(written)
    )
    read = parse_reading(example[1])
    # 50 mm blocks, and the line at the heat: before, and after heat 1
    plan = made_up_plan(heats=4, sweep_heats=2)
    for value, line in ((read.before, plan.before), (read.after, None)):
        line = line["camber"] if line else plan.cards[0].line_after
        expected = 0.050 + np.interp(plan.cards[0].at, plan.x, line)
        assert value == pytest.approx(expected, abs=6e-4)


def test_svg_is_xml_without_references_out(written):
    for path in (written / "figures").glob("*.svg"):
        root = ElementTree.fromstring(path.read_text("utf-8"))
        for element in root.iter():
            for key, value in element.attrib.items():
                if key.endswith("href"):
                    assert value.startswith("#"), path.name


def test_json_is_strict_and_says_units(written):
    def refuse(word):
        raise AssertionError(word)

    record = json.loads(
        (written / "plan.json").read_text("utf-8"), parse_constant=refuse
    )
    first = record["cards"][0]
    assert first["move_mrad"] == pytest.approx(4.6)
    assert first["at_m"] == 5.4
    assert first["patterns"][0]["angle"] == "30 deg"
    assert record["tolerance"][0]["allowed_mm"] == pytest.approx(18.0)
    assert record["alternatives"][1]["possible"] is False


def test_chalk_marks_are_numbers_that_agree_with_its_texts(written):
    with (written / "chalk_marks.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [row["heat"] for row in rows] == [
        "1",
        "1",
        "2",
        "2",
        "3",
        "3",
        "4",
        "4",
        "5",
        "6",
    ]
    for row in rows:
        for key in ("from", "to"):
            text = quantity(row[key], "length")
            assert text == pytest.approx(float(row[f"{key} [m]"]), abs=6e-4)
        middle = quantity(row["middle"], "length")
        mean = 0.5 * (float(row["from [m]"]) + float(row["to [m]"]))
        assert middle == pytest.approx(mean, abs=6e-4)


def test_lines_are_those_of_the_plan(written):
    with (written / "lines.csv").open(encoding="utf-8", newline="") as file:
        head, *rows = csv.reader(file)
    table = dict(zip(head, np.array(rows, float).T, strict=True))
    plan = made_up_plan(heats=4, sweep_heats=2)
    np.testing.assert_allclose(table["station [m]"], plan.x)
    np.testing.assert_allclose(
        table["camber measured [mm]"], 1e3 * plan.before["camber"], rtol=1e-5, atol=1e-6
    )
    np.testing.assert_allclose(
        table["sweep after heat 6 [mm]"],
        1e3 * plan.after["sweep"],
        rtol=1e-4,
        atol=1e-4,
    )


@pytest.mark.slow
@pytest.mark.parametrize("heats", [0, 1, 8, 30])
@pytest.mark.parametrize("kind", list(JOBS))
@pytest.mark.parametrize("up", ["top", "bottom", "right", "left"])
def test_every_kind_of_plan_can_be_written(tmp_path, job_path, heats, kind, up):
    job = job_of(JOBS[kind], rig={"up": up})
    if heats == 30 and up != "left":
        pytest.skip("once is enough")
    sweep = 0 if kind == "plate" else min(heats, 2)
    plan = made_up_plan(job, heats, sweep_heats=sweep)
    if kind == "plate":
        cards = tuple(replace(c, patterns=vees("top")) for c in plan.cards)
        plan = replace(plan, cards=cards)
    folder = write_plan(plan, job, tmp_path / "out", job_path)
    page = page_of(folder)
    assert page.count('<article class="card"') == heats + sweep
    assert ("Chalk these" in page) == (heats > 0)


def test_a_plan_without_heats_says_why(tmp_path, job_path):
    plan = made_up_plan(heats=0)
    assert plan_words.headline(plan).startswith("It is within its tolerance")
    outside = tuple(
        type(v)(**(vars(v) | {"inside": False})) for v in plan.verdict_before
    )  # fmt: skip
    assert plan_words.headline(replace(plan, verdict_before=outside)).startswith(
        "No heat"
    )
    assert plan_words.headline(replace(plan, verdict_before=())).startswith("No heat")
    bare = replace(plan, verdict_before=(), verdict_after=(), alternatives=())
    page = page_of(write_plan(bare, job_of(), tmp_path / "out", job_path))
    assert "Other ways" not in page


def test_an_opposing_moment_and_a_rise_are_told():
    plan = made_up_plan(heats=1)
    heat = replace(plan.cards[0], moment_ratio=-0.031, drop=-2e-3, hinge_margin=None)
    rows = dict(plan_words.facts(heat, job_of()))
    assert rows["moment there"] == "0.031 Mp, opposes"
    assert rows["goes up at 6 m by"] == "about 2.0 mm"
    assert "margin to a hot hinge" not in rows


def test_an_earlier_plan_goes_only_by_force_and_foreign_files_never(tmp_path, job_path):
    job, plan = job_of(), made_up_plan(heats=1)
    folder = write_plan(plan, job, tmp_path / "out", job_path)
    with pytest.raises(CaseError, match="--force"):
        write_plan(plan, job, folder, job_path)
    write_plan(plan, job, folder, job_path, force=True)
    (folder / "mine.txt").write_text("mine", encoding="utf-8")
    with pytest.raises(CaseError, match=r"mine\.txt"):
        write_plan(plan, job, folder, job_path, force=True)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["out", "purlin.toml"]


def test_a_full_disk_leaves_nothing(tmp_path, job_path):
    resource = pytest.importorskip("resource")
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (3000, hard))
    try:
        with pytest.raises(CaseError, match="cannot be written"):
            write_plan(made_up_plan(heats=1), job_of(), tmp_path / "out", job_path)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
    assert [p.name for p in tmp_path.iterdir()] == ["purlin.toml"]


@pytest.mark.parametrize("fault", [KeyboardInterrupt, OSError(28, "No space left")])
def test_a_stop_keeps_the_earlier_plan(tmp_path, job_path, monkeypatch, fault):
    job, plan = job_of(), made_up_plan(heats=1)
    folder = write_plan(plan, job, tmp_path / "out", job_path)
    before = files(folder)

    def stop(*args):
        raise fault

    monkeypatch.setattr(plan_page, "seal", stop)
    with pytest.raises((CaseError, KeyboardInterrupt)):
        write_plan(plan, job, folder, job_path, force=True)
    assert files(folder) == before


def test_cards_are_found_again_by_the_logs_numbers(tmp_path, job_path):
    from test_log import heat

    job, plan = job_of(), made_up_plan(heats=3)
    folder = write_plan(plan, job, tmp_path / "first", job_path)
    assert planned_heat(folder, 2)["at_m"] == 6.0
    assert planned_heat(folder, 4) is None
    assert planned_heat(tmp_path / "none", 1) is None
    for _ in range(2):
        append(log_path(job_path), heat(), "t", "metric")
    later = write_plan(plan, job, tmp_path / "later", job_path)
    assert planned_heat(later, 2) is None
    assert planned_heat(later, 4)["at_m"] == 6.0
    assert "heat 1 of this plan is number 3 there" in page_of(later)
    (later / "plan.json").write_text("[1]", encoding="utf-8")
    with pytest.raises(CaseError, match="not a plan"):
        planned_heat(later, 1)
    (later / "plan.json").write_text("{", encoding="utf-8")
    with pytest.raises(CaseError, match="is no plan that can be read"):
        planned_heat(later, 1)


def test_a_spreadsheet_takes_no_text_for_a_formula(tmp_path, job_path):
    from shrinksim.member.plan.tables import _safe

    assert _safe("=1+1") == "'=1+1"
    assert _safe("5.4 m") == "5.4 m"
    assert _safe("") == ""


def test_a_plan_of_the_package_itself_is_written(tmp_path, job_path):
    from made_up_survey import survey
    from plain_job import BAR, changed, read

    job = read(changed(BAR, heats={"estimate": "quick"}, print_units="us"))
    surveyed = survey(job, camber=(Bend(1.4, 0.012),))
    plan = make_plan(job, surveyed, store=tmp_path / "store", jobs=0)
    assert plan.cards
    folder = write_plan(plan, job, tmp_path / "out", job_path)
    page = page_of(folder)
    for card_of in plan.cards:
        assert f"Heat {card_of.number}: at " in page
        found = planned_heat(folder, card_of.number)
        assert found["move_mrad"] == pytest.approx(1e3 * card_of.move)
        assert found["side"] == card_of.side
