"""The lesson: its plates, what its sentences say, and its page as a file."""

from __future__ import annotations

import base64
import json
import re
from html.parser import HTMLParser
from itertools import pairwise

import numpy as np
import pytest
from lesson_made import made_lesson, made_page

from shrinksim.commands.cli import main
from shrinksim.errors import CaseError
from shrinksim.lesson.embedded import BYTE, RAMP, states
from shrinksim.lesson.page import MAKER, write_page
from shrinksim.lesson.plate import EARLY, plate_case
from shrinksim.lesson.units import SYSTEMS, formatters
from shrinksim.lesson.words import facts
from shrinksim.views.caution import FORCED, NEXT_HEAT

pytestmark = pytest.mark.long

MEGABYTE = 1e6


def named(tracks):
    return {track.name: track for track in tracks}


def test_the_free_plate_first_bends_the_wrong_way():
    """As the page says: a little up, well down, and past it while it cools."""
    lesson = made_lesson()
    free, heating = lesson.loads[0], lesson.heatings["still"]
    heated = heating.times <= heating.torch_off
    turn = free.turn[heated]
    assert 0.0 < turn.max() < free.rotation / 2.0
    assert turn.min() < -turn.max()
    assert facts(lesson)["torch_off"] < 0.0 < free.rotation
    assert free.turn[-1] == pytest.approx(free.rotation, rel=1e-6)


def test_the_turns_are_of_the_published_size():
    """0.0147 sin(angle/3) (0.6 + 2 M/Mp): FHWA guide, ch. 5 / Avent et al. 2000, from
    memory; single heats scatter by about half of that (from memory).
    """
    lesson = made_lesson()
    base = 0.0147 * np.sin(lesson.plate.angle / 3.0)
    loads = named(lesson.loads)
    for name, ratio in (("none", 0.0), ("jack", 0.25), ("helping", 0.25)):
        published = base * (0.6 + 2.0 * ratio)
        assert loads[name].rotation == pytest.approx(published, rel=0.5)


def test_a_load_that_helps_moves_more_and_one_that_opposes_less():
    loads = named(made_lesson().loads)
    turns = [loads[n].rotation for n in ("opposing", "none", "jack", "helping")]
    assert turns == sorted(turns)
    assert 0.0 < turns[0] < 0.5 * turns[1]
    assert turns[3] > 1.3 * turns[1]


def test_a_weight_stays_and_a_jack_goes_slack():
    """What the answer says: the dead load is constant, the jack's push is not."""
    loads = named(made_lesson().loads)
    plastic = made_lesson().plate.plastic_moment
    weight, jack = loads["helping"].moment, loads["jack"].moment
    assert weight[1:-1] == pytest.approx(0.25 * plastic, rel=1e-6)
    assert jack[1] == pytest.approx(0.25 * plastic, rel=1e-3)
    assert jack.max() > 1.05 * jack[1]
    assert 0.0 <= jack[-2] < 0.25 * jack[1]
    assert weight[-1] == jack[-1] == 0.0


def test_only_the_heavy_weight_folds_the_plate():
    lesson = made_lesson()
    loads = named(lesson.loads)
    assert [t.name for t in lesson.loads if t.folds] == ["heavy"]
    assert loads["heavy"].stops[-1].name == "folds"
    assert loads["heavy"].margin < 1.15
    assert loads["helping"].margin > 2.0
    still = lesson.heatings["still"]
    assert 0.0 < facts(lesson)["fold_time"] <= still.times[np.isfinite(still.times)][-1]


def test_cooling_saves_time_and_hardly_moves_the_plate():
    """The heading's claim, at the numerical error of the runs and at half a heat."""
    lesson = made_lesson()
    turn = {t.name: t.rotation for t in lesson.coolings}
    ready = {name: heating.ready for name, heating in lesson.heatings.items()}
    free = turn.pop("none")
    for name in ("jet", "mist"):
        assert turn[name] == pytest.approx(free, rel=0.03)
    for name in EARLY:
        assert 0.0 < turn[name] / free - 1.0 < 0.5
    assert ready["mist"] < ready["jet"] < ready["still"]


def test_forced_cooling_waits_where_the_page_says_so():
    """Caltrans standard specifications, 55-1.02B(8): below 600 degF by itself."""
    assert pytest.approx((600.0 - 32.0) / 1.8) == FORCED
    heatings = made_lesson().heatings
    assert heatings["still"].forced is None
    for name in ("jet", "mist"):
        assert heatings[name].forced <= FORCED
    for name in EARLY:
        assert heatings[name].forced > FORCED
    for heating in heatings.values():
        at = np.interp(heating.ready, heating.times, heating.hottest)
        assert at == pytest.approx(NEXT_HEAT, abs=12.0)


def test_no_steel_is_hotter_than_practice_allows():
    """650 degC for carbon steel: FHWA guide, 5.1; AWS D1.1."""
    lesson = made_lesson()
    assert lesson.free.peak == pytest.approx((1200.0 - 32.0) / 1.8, abs=2.0)
    for heating in lesson.heatings.values():
        assert 600.0 < heating.hottest.max() < 650.0


def test_every_plate_sees_the_same_torch():
    heatings = made_lesson().heatings
    off = {name: heating.torch_off for name, heating in heatings.items()}
    for name in ("jet", "mist", "at once"):
        assert off[name] == pytest.approx(off["still"], rel=1e-9)


@pytest.mark.parametrize("units", ["metric", "us"])
def test_what_is_embedded_is_what_was_computed(units):
    """Grids to half a byte, displacements to their unit, histories to five digits."""
    lesson, data = made_lesson(), states(made_lesson(), units)
    zero, step = data["units"]["byte"]
    shown = SYSTEMS[units]["temperature"]
    for name, heating in lesson.heatings.items():
        for frame, text in data["heatings"][name]["grid"].items():
            grid = zero + step * np.frombuffer(base64.b64decode(text), np.uint8)
            expected = shown(heating.temperature[frame]).ravel()
            assert np.abs(grid - expected).max() <= 0.51 * step
    assert step == pytest.approx(BYTE if units == "metric" else 1.8 * BYTE)
    for name, track in named(lesson.loads).items():
        made = data["benches"]["loads"]["tracks"][name]
        assert made["turn"] == pytest.approx(
            SYSTEMS[units]["per"](track.turn), rel=1e-4, abs=1e-9
        )
        for k, text in enumerate(made["u"]):
            field = np.frombuffer(base64.b64decode(text), "<i2") * made["unit"]
            expected = 1e3 * track.displacement[k].ravel()
            assert np.abs(field - expected).max() <= 0.51 * made["unit"]


def test_us_numbers_are_the_metric_ones():
    """1 in = 25.4 mm, 1 ksi = 6.894757 MPa: NIST SP 811, appendix B.8."""
    metric, us = formatters("metric"), formatters("us")
    assert metric["per"](7.4681e-3) == "7.47 mm per metre"
    assert us["per"](7.4681e-3) == "0.896 in per 10 ft"
    assert metric["stress"](235e6) == "235 MPa"
    assert us["stress"](235e6) == "34.1 ksi"
    assert metric["both"](FORCED) == "316 °C (600 °F)"
    assert us["both"](FORCED) == "600 °F (316 °C)"


def test_hotter_is_lighter():
    """Relative luminance (WCAG 2.1) rises all the way, so the colours read in grey."""

    def light(rgb):
        c = np.array(rgb) / 255.0
        linear = np.where(c <= 0.03928, c / 12.92, ((c + 0.055) / 1.055) ** 2.4)
        return float(linear @ [0.2126, 0.7152, 0.0722])

    stops = [t for t, _ in RAMP]
    fine = np.linspace(stops[0], stops[-1], 200)
    colours = np.array([rgb for _, rgb in RAMP])
    mixed = np.stack([np.interp(fine, stops, colours[:, k]) for k in range(3)], axis=1)
    assert np.all(np.diff([light(rgb) for rgb in mixed]) > 0.0)


class Page(HTMLParser):
    """Headings, links, labels and plain text of a page."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.headings: list[int] = []
        self.attributes: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []
        self.open: list[str] = []
        self.unlabelled = 0
        self.feed(page)

    def handle_starttag(self, tag, attrs):
        given = dict(attrs)
        self.attributes.append((tag, given))
        if re.fullmatch(r"h[1-6]", tag):
            self.headings.append(int(tag[1]))
        if tag == "input" and "label" not in self.open:
            self.unlabelled += 1
        if tag not in ("meta", "input", "link", "br"):
            self.open.append(tag)

    def handle_endtag(self, tag):
        while self.open and self.open.pop() != tag:
            pass

    def handle_data(self, data):
        if not {"script", "style"} & set(self.open):
            self.words.append(data)

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.words).split())


@pytest.mark.parametrize("units", ["metric", "us"])
def test_the_page_stands_alone(units):
    page = made_page(units)
    assert len(page.encode()) < 3 * MEGABYTE
    without_name = page.replace("http://www.w3.org/2000/svg", "")
    assert "http" not in without_name.lower().replace("http-equiv", "")
    parsed = Page(page)
    for tag, given in parsed.attributes:
        assert "src" not in given, tag
        assert tag != "link"
        assert given.get("href", "#").startswith("#")
    anchors = {given["href"] for _, given in parsed.attributes if "href" in given}
    ids = [given["id"] for _, given in parsed.attributes if "id" in given]
    assert len(ids) == len(set(ids))
    assert {a.removeprefix("#") for a in anchors} <= set(ids)


def test_the_page_is_in_order_for_a_screen_reader():
    parsed = Page(made_page())
    assert ("html", "en") in [(t, g.get("lang")) for t, g in parsed.attributes]
    levels = parsed.headings
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(b - a <= 1 for a, b in pairwise(levels))
    assert parsed.unlabelled == 0
    live = [g for _, g in parsed.attributes if g.get("aria-live") == "polite"]
    assert len(live) == 7
    ranges = [g for t, g in parsed.attributes if g.get("type") == "range"]
    assert len(ranges) == 7


def test_every_chapter_asks_and_answers_where_the_trainer_wants():
    """Hidden until asked, once under the question and once at the end for the print."""
    page = made_page()
    assert page.count('<details class="answer">') == 7
    assert '<details class="answer" open' not in page
    for start in ("Pull: 235 MPa", "Not at all.", "When it is cold all through."):
        assert Page(page).text.count(start) == 3


def test_the_sentences_quote_the_computed_numbers():
    lesson, text = made_lesson(), Page(made_page()).text
    n, say = facts(lesson), formatters("metric")
    for key in ("jaws", "walls", "grown", "best", "stiff", "frame", "frame_thick"):
        assert say["per"](n[key]) in text, key
    for key in ("turn", "helping", "jack", "opposing", "mist"):
        assert say["per"](n[key]) in text, key
    assert f"{n['gain']:.1f} times as far" in text
    assert say["percent"](n["jack_left"]) in text
    assert say["clock"](n["still_ready"]) in text


def test_the_questions_numbers_are_the_benches_numbers():
    """A fifth, a twentieth and ten times are words of the page: they must stay true."""
    n = facts(made_lesson())
    assert n["best_spring"] == 0.2
    assert n["stiff_spring"] == 10.0
    assert n["soft"] == pytest.approx(0.0, abs=1e-9)
    assert n["best"] > 2.0 * n["stiff"]
    assert n["middle"] == pytest.approx(2.0 * n["outer"], rel=1e-4)
    assert n["left"] < 1e-9


def test_the_page_warns_and_names_its_sources():
    text = Page(made_page()).text
    for words in (
        "licensed engineer",
        "keep hands and people out from under it",
        "Never water on quenched and tempered steel",
        "316 °C (600 °F)",
        "Caltrans standard specifications, 55-1.02B(8)",
        "FHWA guide",
        "AWS D1.1",
        "from memory",
        "steam",
    ):
        assert words in text, words


def test_the_page_says_its_numerics():
    lesson, text = made_lesson(), Page(made_page()).text
    assert f"{lesson.plate.elements} six-node triangles" in text
    change = f"{100 * lesson.plate.change:+.0f}".replace("-", "\u2212")
    assert f"rotation by {change} %" in text
    assert abs(lesson.plate.change) < 0.15


def test_what_is_embedded_cannot_end_its_script():
    page = made_page()
    start = page.index('id="states">') + len('id="states">')
    inside = page[start : page.index("</script>", start)]
    assert json.loads(inside)["benches"].keys() >= {"held", "coolings"}


def test_cases_are_cases_like_any_other():
    case = plate_case({"kind": "none"}, {})
    assert case.torch.target == 640.0
    with pytest.raises(CaseError, match="weigt"):
        plate_case({"kind": "weigt"}, {})


@pytest.fixture
def ready(monkeypatch):
    """The command without the computation."""
    from shrinksim.lesson import lesson as module

    calls = []

    def given(progress=None):
        calls.append(progress)
        return made_lesson()

    monkeypatch.setattr(module, "lesson", given)
    return calls


def test_the_command_writes_the_page(ready, tmp_path, capsys):
    out = tmp_path / "page.html"
    assert main(["lesson", "--out", str(out), "--units", "us", "--quiet"]) == 0
    assert "°F" in out.read_text(encoding="utf-8")
    assert str(out) in capsys.readouterr().out
    assert [p.name for p in tmp_path.iterdir()] == ["page.html"]


def test_a_page_that_is_there_stays_unless_forced(ready, tmp_path, capsys):
    out = tmp_path / "lesson.html"
    out.write_text(f"<meta content='{MAKER}'>old")
    assert main(["lesson", "--out", str(out), "--quiet"]) == 2
    assert "--force" in capsys.readouterr().err
    assert out.read_text().endswith("old")
    assert not ready  # refused before anything was computed
    assert main(["lesson", "--out", str(out), "--quiet", "--force"]) == 0
    assert not out.read_text(encoding="utf-8").endswith("old")


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("notes.html", "no lesson page of ours"),
        (".", "is a folder"),
        ("a/b", "no folder"),
    ],
)
def test_what_is_not_ours_is_never_replaced(ready, tmp_path, capsys, name, words):
    (tmp_path / "notes.html").write_text("somebody's notes")
    out = tmp_path / name
    assert main(["lesson", "--out", str(out), "--quiet", "--force"]) == 2
    assert words in capsys.readouterr().err
    assert (tmp_path / "notes.html").read_text() == "somebody's notes"
    assert not ready


def test_a_disk_that_fails_leaves_nothing_and_the_old_page(monkeypatch, tmp_path):
    out = tmp_path / "lesson.html"
    write_page(f"{MAKER} old", out)

    def full(handle):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    with pytest.raises(CaseError, match="no space left"):
        write_page("new", out, force=True)
    assert out.read_text() == f"{MAKER} old"
    assert [p.name for p in tmp_path.iterdir()] == ["lesson.html"]


def test_a_stop_while_writing_leaves_nothing(monkeypatch, tmp_path):
    def stopped(handle):
        raise KeyboardInterrupt

    monkeypatch.setattr("os.fsync", stopped)
    with pytest.raises(KeyboardInterrupt):
        write_page("new", tmp_path / "lesson.html")
    assert list(tmp_path.iterdir()) == []
