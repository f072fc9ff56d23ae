"""The page of a folder of cases: what is run, kept, told; on two quick cases."""

import json
import re
import signal
from html.parser import HTMLParser
from importlib import import_module
from pathlib import Path

import pytest

from shrinksim.commands.cli import main
from shrinksim.runs.gallery import INDEX, Entry, counts_sentence, is_kept, write_gallery

pytestmark = pytest.mark.slow

ROOT = Path(__file__).parent.parent
FAST = (ROOT / "benchmarks" / "trust" / "fast_bar.toml").read_text(encoding="utf-8")
SECTION = """\
title = "A <b>plate</b> & its line"
view = "section"
print_units = "us"
[member]
section = "plate"
width = "80 mm"
thickness = "10 mm"
[steel]
grade = "S235"
[torch]
flame = "heating tip, small"
drive = "travel"
speed = "10 mm/s"
[[heat]]
[[heat.pattern]]
kind = "line along"
on = "top"
length = "1 m"
[numerics]
element = "5 mm"
far_element = "16 mm"
temperature_step = "150 K"
heat_tolerance = "30 K"
"""


@pytest.fixture(scope="module")
def cases(tmp_path_factory):
    folder = tmp_path_factory.mktemp("cases") / "quick ones"
    folder.mkdir()
    (folder / "a plate.toml").write_text(SECTION, encoding="utf-8")
    (folder / "bar.toml").write_text(FAST, encoding="utf-8")
    (folder / "wrong.toml").write_text('title = "x"\nmember = 3\n', encoding="utf-8")
    (folder / "note.txt").write_text("no case")
    return folder


@pytest.fixture(scope="module")
def out(cases, tmp_path_factory):
    """The folder after the first time."""
    handler = signal.getsignal(signal.SIGTERM)
    folder = tmp_path_factory.mktemp("out") / "g"
    assert main(["gallery", str(cases), "--out", str(folder), "--quiet"]) == 1
    signal.signal(signal.SIGTERM, handler)
    return folder


@pytest.fixture(autouse=True)
def _handler():
    """Commands change what SIGTERM does."""
    handler = signal.getsignal(signal.SIGTERM)
    yield
    signal.signal(signal.SIGTERM, handler)


class Read(HTMLParser):
    """Links, pictures and text of a page."""

    def __init__(self, page):
        super().__init__()
        self.links, self.images, self.said = [], [], ""
        self.feed(page)

    def handle_starttag(self, tag, attributes):
        given = dict(attributes)
        if tag == "a":
            self.links.append(given["href"])
        if tag == "img":
            self.images.append(given)

    def handle_data(self, data):
        self.said += data


def test_the_page_shows_each_case_and_tells_what_failed(out):
    page = (out / INDEX).read_text(encoding="utf-8")
    read = Read(page)
    assert read.links == ["a%20plate/report.html", "bar/report.html"]
    for link in read.links:
        assert (out / link.replace("%20", " ")).exists()
    assert len(read.images) == 2
    assert all(
        image["alt"] and image["src"][:10] == "data:image" for image in read.images
    )
    assert "A <b>plate</b> & its line" in read.said
    assert "3 cases, 2 computed, 1 could not be." in read.said
    assert "wrong.toml" in read.said
    assert "Not computed" in read.said
    assert "<script" not in page
    assert sorted(p.name for p in out.iterdir()) == ["a plate", "bar", INDEX]


def test_numbers_are_those_of_the_summary_in_the_cases_units(out):
    said = Read((out / INDEX).read_text("utf-8")).said
    bar = json.loads((out / "bar" / "summary.json").read_text("utf-8"))
    assert f"rotation {bar['rotation_mrad']:.2f} mrad" in said
    plate = json.loads((out / "a plate" / "summary.json").read_text("utf-8"))
    turn = abs(plate["camber_rotation_mrad"])
    assert f"permanent rotation, camber {turn:.2f} mrad (" in said
    assert f"{round(plate['peak_temperature_C']) * 1.8 + 32:.0f}" in said
    assert re.search(r"shortening [\d.]+ in", said)


def test_complete_results_stay_and_the_rest_is_computed(
    out, cases, tmp_path, monkeypatch, capsys
):
    ran = []

    def run(case, progress=None, search_again=False):
        ran.append(case.title)
        raise KeyboardInterrupt

    before = (out / "bar" / "summary.json").stat().st_mtime_ns
    monkeypatch.setattr(import_module("shrinksim.runs.run"), "run", run)
    assert main(["gallery", str(cases), "--out", str(out), "--quiet"]) == 1
    said = capsys.readouterr()
    assert ran == []
    assert "3 cases, 2 computed, 2 of them before, 1 could not be." in said.out
    assert (out / "bar" / "summary.json").stat().st_mtime_ns == before
    other = tmp_path / "cases"
    other.mkdir()
    (other / "a plate.toml").write_text(SECTION, encoding="utf-8")
    (other / "bar.toml").write_text(FAST.replace('"8 mm"', '"9 mm"'), encoding="utf-8")
    (other / "wrong.toml").write_text("", encoding="utf-8")
    assert main(["gallery", str(other), "--out", str(out), "--quiet"]) == 130
    assert ran == ["Fast bar"]
    said = capsys.readouterr()
    assert "2 of 3 cases are left, the same command goes on" in said.err
    assert "1 case, 1 computed, 1 of them before." in said.out
    assert (out / "bar" / "summary.json").exists(), "the earlier results are kept"


def test_what_is_kept_is_whole_and_of_the_same_input(out):
    folder = out / "bar"
    seal = json.loads((folder / "complete.json").read_text("utf-8"))
    key, version = seal["input_hash"], seal["versions"]["shrinksim"]
    assert is_kept(folder, key, version)
    assert not is_kept(folder, "other", version)
    assert not is_kept(folder, key, "other")
    assert not is_kept(out, key, version)
    summary = folder / "summary.json"
    text = summary.read_bytes()
    summary.write_bytes(text[:-1])
    assert not is_kept(folder, key, version)
    summary.write_bytes(text)
    (folder / "mine.txt").write_text("")
    assert not is_kept(folder, key, version)
    (folder / "mine.txt").unlink()
    assert is_kept(folder, key, version)


def test_a_fault_of_one_case_does_not_end_the_others(
    cases, tmp_path, monkeypatch, capsys
):
    def run(case, progress=None, search_again=False):
        raise ZeroDivisionError(case.title)

    monkeypatch.setattr(import_module("shrinksim.runs.run"), "run", run)
    assert main(["gallery", str(cases), "--out", str(tmp_path), "--quiet"]) == 1
    said = " ".join(capsys.readouterr().out.split())
    assert "3 cases, 0 computed, 3 could not be." in said
    assert "bar.toml: a fault of the program (ZeroDivisionError: Fast bar)" in said
    assert [p.name for p in tmp_path.iterdir()] == [INDEX]


def test_what_is_refused(tmp_path, capsys):
    (tmp_path / "g").mkdir()
    (tmp_path / "a.toml").write_text("x = 1")
    (tmp_path / "g" / INDEX).write_text("<html>my own page</html>")
    assert main(["gallery", str(tmp_path), "--out", str(tmp_path / "g")]) == 2
    assert "is no page of ours" in capsys.readouterr().err
    assert "my own page" in (tmp_path / "g" / INDEX).read_text()
    assert main(["gallery", str(tmp_path / "a.toml")]) == 2
    assert "is no folder" in capsys.readouterr().err
    assert main(["gallery", str(tmp_path / "g")]) == 2
    assert "holds no case files" in capsys.readouterr().err


def test_an_empty_page_and_one_with_failures_alone(tmp_path):
    write_gallery([], tmp_path, "none")
    assert "0 cases, 0 computed." in Read((tmp_path / INDEX).read_text("utf-8")).said
    entries = [Entry("<i>.toml", None, ("a & b",))]
    write_gallery(entries, tmp_path, "one <script>")
    page = (tmp_path / INDEX).read_text("utf-8")
    assert "<script" not in page
    assert "Not computed: a & b" in Read(page).said
    assert counts_sentence(entries) == "1 case, 0 computed, 1 could not be."
