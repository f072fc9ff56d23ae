"""Cases side by side: their choice, the page, the figures, the command."""

from __future__ import annotations

import json
import re
from html.parser import HTMLParser
from pathlib import Path
from xml.etree import ElementTree

import made_up_result
import made_up_section
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from made_up_compare import FEWER, summary
from made_up_result import NASTY
from plain_case import PLATE, VEE
from plain_section import BEAM as SECTION_BEAM
from plain_section import PLATE as SECTION_PLATE

from shrinksim.casefile.resolving import toml_text
from shrinksim.commands.cli import main
from shrinksim.compare import comparison as comparing
from shrinksim.compare import shapes as compare_shapes
from shrinksim.compare.comparison import compare, load_sides
from shrinksim.compare.figures import Curve, in_points, letters, movements
from shrinksim.compare.histories import traces
from shrinksim.compare.page import PAGE, write_comparison
from shrinksim.compare.words import cautions, headline
from shrinksim.errors import CaseError, NotConverged
from shrinksim.page.style import blank, box, drawing, place, svg
from shrinksim.views.curves import Panel

ROOT = Path(__file__).parent.parent


def written(folder, *tables):
    paths = []
    for k, table in enumerate(tables):
        paths.append(folder / f"case{k}.toml")
        paths[-1].write_text(toml_text(table), encoding="utf-8")
    return paths


RUNS = {}
"""title -> summary, of the made-up runs that `pretended` gives."""


def pretended(case):
    """In place of a run: a made-up summary and made-up histories."""
    result = (
        made_up_section.made_up(load="none")
        if case.view == "section"
        else made_up_result.made_up()
    )
    given = RUNS.get(case.title, summary())
    return given | {"title": case.title, "traces": traces(result)}


@pytest.fixture
def pretend(monkeypatch):
    monkeypatch.setattr(comparing, "compared", pretended)
    yield RUNS
    RUNS.clear()


@pytest.fixture
def three(pretend, tmp_path):
    """A comparison of three cases; the last one folds."""
    pretend |= {
        "b": summary(7.0, cautions=[{"code": "b", "text": "mind the steam"}]),
        NASTY: summary(80.0, outcome="hot hinge", refinement=None),
    }
    folded = PLATE | {"title": NASTY, "steel": {"grade": "S355"}}
    paths = written(tmp_path, PLATE, FEWER, folded)
    return compare(paths, tmp_path / "runs", jobs=0)


# the choice of cases


def test_every_fault_of_the_choice_is_told_at_once(tmp_path):
    first, other = written(tmp_path, PLATE, SECTION_PLATE)
    again = tmp_path / "again.toml"
    again.write_text(
        toml_text(PLATE | {"title": "only the title differs"}), encoding="utf-8"
    )
    bad = tmp_path / "bad.toml"
    bad.write_text("title = 3\n", encoding="utf-8")
    with pytest.raises(CaseError) as caught:
        load_sides([first, first, other, again, bad, tmp_path / "nowhere.toml"])
    told = "\n".join(caught.value.problems)
    assert f"{first} is given 2 times" in told
    assert "different views" in told
    assert f"{again} is the same case as {first}" in told
    assert "bad.toml" in told
    assert "nowhere.toml" in told
    with pytest.raises(CaseError, match="1 case given; a comparison takes 2 to 8"):
        load_sides([first])
    with pytest.raises(CaseError, match="9 cases given"):
        load_sides([first] * 9)


def test_the_command_refuses_in_sentences(tmp_path, capsys):
    paths = written(tmp_path, PLATE, SECTION_PLATE)
    out = tmp_path / "out"
    assert main(["compare", *map(str, paths), "--out", str(out)]) == 2
    assert "different views" in capsys.readouterr().err
    assert not out.exists()


def test_a_run_that_gives_nothing_is_told(pretend, monkeypatch, tmp_path):
    def fails(case):
        message = "no equilibrium at t = 3 s"
        raise NotConverged(message)

    monkeypatch.setattr(comparing, "compared", fails)
    paths = written(tmp_path, PLATE, FEWER)
    with pytest.raises(NotConverged, match=r"case0\.toml: not converged: no equil"):
        compare(paths, tmp_path / "runs", jobs=0)


# the page


class Page(HTMLParser):
    """What a page has of tags, links and places."""

    def __init__(self, text):
        super().__init__()
        self.tags, self.names, self.links, self.open = [], set(), [], []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        given = dict(attrs)
        self.tags.append((tag, given))
        if "id" in given:
            self.names.add(given["id"])
        if tag == "a":
            self.links.append(given["href"])


def test_page_tells_everything_and_needs_no_network(three, tmp_path):
    folder = write_comparison(three, tmp_path / "out")
    text = (folder / PAGE).read_text("utf-8")
    page = Page(text)
    assert "<script" not in text.lower()
    assert "&lt;script&gt;" in text
    body = re.sub(r"data:image/[a-z+]+;base64,[A-Za-z0-9+/=]+", "DATA", text)
    assert not re.search(r"https?:|@import|url\(|<link|<iframe", body)
    for link in page.links:
        inside = link.startswith("#") and link[1:] in page.names
        assert inside or (folder / link).is_file(), link
    for tag, given_ in page.tags:
        if tag == "img":
            assert len(given_["alt"]) > 20
        if tag == "th":
            assert given_["scope"] in ("col", "row", "rowgroup")
    levels = [int(tag[1]) for tag, _ in page.tags if re.fullmatch("h[1-6]", tag)]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert max(np.diff(levels)) <= 1
    order = [
        "Do not heat it like C", "Largest permanent rotation: B", "What differs", "Results",
        "7.00 mrad<small>", "★ best", "Cautions", "Pictures", "How far to trust",
        "The cases",
    ]  # fmt: skip
    places = [text.index(t) for t in order]
    assert places == sorted(places)


def test_folder_holds_the_cases_figures_and_numbers(three, tmp_path):
    folder = write_comparison(three, tmp_path / "out")
    seal = json.loads((folder / "complete.json").read_text("utf-8"))
    present = {p.relative_to(folder).as_posix() for p in folder.rglob("*.*")}
    assert set(seal["files"]) | {"complete.json"} == present
    for name in ("temperatures", "movements", "lines", "shapes"):
        root = ElementTree.fromstring((folder / "figures" / f"{name}.svg").read_bytes())
        assert root.tag.endswith("svg")
    numbers = json.loads((folder / "compare.json").read_text("utf-8"))
    assert numbers["measures"][0]["values"] == {"A": 5.0, "B": 7.0, "C": None}
    assert numbers["differences"]["steel: grade"]["C"] == "S355"
    copy = (folder / "cases" / "B.toml").read_bytes()
    assert copy == three.sides[1].path.read_bytes()
    with pytest.raises(CaseError, match="--force"):
        write_comparison(three, folder)
    write_comparison(three, folder, force=True)


def test_cautions_are_told_once_with_their_cases(three):
    assert cautions(three.sides) == [("A, C", NASTY), ("B", "mind the steam")]


def test_small_differences_come_with_the_scatter_of_the_shop(pretend, tmp_path):
    pretend |= {"b": summary(5.5)}
    found = compare(written(tmp_path, PLATE, FEWER), tmp_path / "runs", jobs=0)
    (text,) = headline(found)
    assert "1.1 times that of A" in text
    assert "One heat of each in the shop will not show this" in text
    pretend |= {"b": summary(20.0)}
    found = compare(written(tmp_path, PLATE, FEWER), tmp_path / "more", jobs=0)
    assert "4 times that of A." in headline(found)[0]


@pytest.mark.slow
def test_eight_cases_are_told_apart(pretend, tmp_path):
    tables = [
        PLATE
        | {
            "title": f"case {k}",
            "heat": [{"pattern": [VEE | {"angle": f"{20 + k} deg"}]}],
        }
        for k in range(8)
    ]
    found = compare(written(tmp_path, *tables), tmp_path / "runs", jobs=0)
    text = (write_comparison(found, tmp_path / "out") / PAGE).read_text("utf-8")
    assert "case 7" in text
    with drawing():
        drawn = svg(movements(found), "a").decode()
    dashes = re.findall(r"stroke-dasharray: ([^;]*);[^\"]*stroke-width: 1\.5", drawn)
    assert len(set(dashes)) == 7  # and one is solid


def test_sections_are_compared_by_camber_and_sweep(pretend, tmp_path):
    bend = {
        "view": "section", "camber_rotation_mrad": 3.0, "sweep_rotation_mrad": 1e-6,
        "refinement": {"camber_error_mrad": 0.1, "sweep_error_mrad": 0.1},
    }  # fmt: skip
    pretend |= {
        "a plate": summary(**bend),
        "b": summary(**bend | {"camber_rotation_mrad": -4.0}),
    }
    other = SECTION_BEAM | {"title": "b"}
    found = compare(written(tmp_path, SECTION_PLATE, other), tmp_path / "runs", jobs=0)
    names = [m.name for m in found.measures]
    assert names[0].startswith("permanent rotation, camber")
    assert not any("sweep" in name for name in names)
    assert found.measures[0].places == ("", "best")  # the most, whichever way
    text = (write_comparison(found, tmp_path / "out") / PAGE).read_text("utf-8")
    assert "Largest permanent rotation, camber: B with −4.00 mrad" in text


# the figures


def test_a_kinked_member_stands_a_quarter_of_turn_times_length_off(three):
    """A kink of 5 mrad in the middle of 6 m: 5e-3 x 6 / 4 (geometry of small angles)."""
    x = np.linspace(-3.0, 3.0, 161)
    (bend,) = compare_shapes._bends(three)
    line = compare_shapes._line(three.sides[0], bend, x, 6.0)
    assert abs(line[80]) == pytest.approx(7.5e-3)
    assert line[[0, -1]] == pytest.approx([0.0, 0.0])
    slope = np.diff(line) / np.diff(x)
    assert abs(slope[-1] - slope[0]) == pytest.approx(5e-3)


@pytest.mark.slow
@given(st.integers(1, 8), st.integers(0, 10**6))
def test_letters_stand_on_their_curves_and_apart(count, seed):
    rng = np.random.default_rng(seed)
    axes = place(blank(3.0), 0.6, 0.5, 5.0, 2.0)
    axes.set_xlim(0.0, 100.0)
    axes.set_ylim(-1.0, 1.0)
    t = np.linspace(0.0, 100.0, 50)
    curves = [
        Curve(chr(65 + k), t, np.sin(t / rng.uniform(5, 50)) * rng.uniform(0.0, 0.9))
        for k in range(count)
    ]
    letters(Panel(axes, 1.0, "", ""), curves)
    left, low, wide, tall = box(axes)
    spots = {
        text.get_text(): 72.0
        * (np.array(text.get_position()) * (wide, tall) + (left, low))
        for text in axes.texts
    }
    assert set(spots) == {c.letter for c in curves}
    for curve in curves:
        x, y = spots[curve.letter]
        at = in_points(axes, np.stack([curve.times, curve.values], axis=1)).T
        assert y == pytest.approx(np.interp(x, *at), abs=0.02)
    places = np.array(list(spots.values()))
    gaps = np.hypot(*(places[:, None] - places[None]).transpose(2, 0, 1))
    assert gaps[np.triu_indices(count, 1)].min(initial=99.0) > 14.9


# all of it


@pytest.mark.long
def test_two_cases_are_computed_and_found_again(tmp_path, capsys):
    """A line heat on a plate, slower: more heat, and by the heat input more strain."""
    given_ = (ROOT / "cases" / "plate_line_heat.toml").read_text("utf-8")
    assert 'speed = "8 mm/s"' in given_
    paths = [tmp_path / "quick.toml", tmp_path / "slow.toml"]
    paths[0].write_text(given_, encoding="utf-8")
    paths[1].write_text(
        given_.replace('speed = "8 mm/s"', 'speed = "6 mm/s"'), encoding="utf-8"
    )
    out = tmp_path / "out"
    command = ["compare", *map(str, paths), "--out", str(out), "--quiet", "--jobs", "1"]
    assert main(command) == 0
    told = capsys.readouterr().out
    assert "Page:" in told
    numbers = json.loads((out / "compare.json").read_text("utf-8"))
    assert numbers["differences"] == {"torch: speed": {"A": "8 mm/s", "B": "6 mm/s"}}
    by_name = {m["name"]: m for m in numbers["measures"]}
    gas = by_name["heat of the gas burnt"]
    # the same flame for 8 / 6 of the time
    assert gas["values"]["B"] / gas["values"]["A"] == pytest.approx(8.0 / 6.0)
    assert gas["verdict"] == "A is best"
    assert by_name["shortening"]["values"]["B"] > by_name["shortening"]["values"]["A"]
    assert main([*command, "--force"]) == 0
    assert "found among earlier runs" in (out / PAGE).read_text("utf-8")
