"""Pages for people who read them with other means: what WCAG 2.2 asks of the text.

Widths and keys need a browser and are left out without one; colours and the rest are
judged by axe-core in benchmarks/trust/pages.py.
"""

from html.parser import HTMLParser

import pytest
from calibration_runs import asked, made_up_calibration
from devtools import UNREACHED, WIDE, browser, opened
from made_up_compare import FEWER, summary
from made_up_plan import job_of, made_up_plan
from made_up_result import made_up
from made_up_section import made_up as made_up_section
from plain_case import PLATE

import shrinksim.compare.comparison as comparing
from shrinksim.calibration.page import write_calibrations
from shrinksim.casefile.resolving import toml_text
from shrinksim.compare.histories import traces
from shrinksim.compare.page import write_comparison
from shrinksim.member.plan.page import write_plan
from shrinksim.report.folder import pictures, report_page
from shrinksim.runs.gallery import write_gallery

pytestmark = pytest.mark.long

EMPTY = {"meta", "img", "br", "hr", "input", "link", "source", "col"}


class Page(HTMLParser):
    """What a page consists of."""

    def __init__(self, text):
        super().__init__()
        self.open, self.found, self.headings, self.title = [], [], [], ""
        self.feed(text)

    def handle_starttag(self, tag, attributes):
        self.found.append((tag, dict(attributes), tuple(self.open)))
        if tag in {"h1", "h2", "h3", "h4"}:
            self.headings.append(int(tag[1]))
        if tag not in EMPTY:
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open
        assert self.open.pop() == tag, f"{tag} closes what it did not open"

    def handle_data(self, data):
        if self.open and self.open[-1] == "title":
            self.title += data

    def all(self, *tags):
        return [(given, inside) for tag, given, inside in self.found if tag in tags]


def of_report(result):
    return report_page(result, pictures(result), "title = 1", result.summary())


def of_plan(folder):
    given = folder / "job.toml"
    given.write_text('title = "job"\n', encoding="utf-8")
    plan = made_up_plan(heats=4, sweep_heats=2)
    return write_plan(plan, job_of(), folder / "plan", given) / "plan.html"


def of_comparison(folder):
    paths = [folder / "a.toml", folder / "b.toml"]
    for path, table in zip(paths, (PLATE, FEWER), strict=True):
        path.write_text(toml_text(table), encoding="utf-8")
    with pytest.MonkeyPatch.context() as patch:
        made = summary() | {"traces": traces(made_up())}
        patch.setattr(comparing, "compared", lambda case: made | {"title": case.title})
        found = comparing.compare(paths, folder / "runs", jobs=0)
    return write_comparison(found, folder / "compare") / "compare.html"


def of_calibration(folder):
    given = folder / "calibration.toml"
    given.write_text('title = "made up"\n', encoding="utf-8")
    made = [made_up_calibration()]
    write_calibrations(asked(), made, folder / "out", given, force=False)
    return folder / "out" / "calibration.html"


def report_of(result):
    def write(folder):
        page = folder / "report.html"
        page.write_text(of_report(result), encoding="utf-8")
        return page

    return write


KINDS = {
    "elevation": report_of(made_up()),
    "folded": report_of(made_up(load="weight", outcome="hot hinge", units="us")),
    "section": report_of(made_up_section()),
    "gallery": lambda folder: write_gallery([], folder, "Cases"),
    "plan": of_plan,
    "comparison": of_comparison,
    "calibration": of_calibration,
}
"""Kind of page -> what writes one into a folder; the lesson has tests of its own."""


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    return {kind: make(tmp_path_factory.mktemp(kind)) for kind, make in KINDS.items()}


@pytest.fixture(params=KINDS)
def page(request, written):
    read = Page(written[request.param].read_text(encoding="utf-8"))
    assert read.open == []
    return read


def test_language_title_and_zoom(page):
    """3.1.1, 2.4.2, 1.4.4."""
    ((html, _),) = page.all("html")
    assert html["lang"] == "en"
    assert page.title.strip()
    views = [m["content"] for m, _ in page.all("meta") if m.get("name") == "viewport"]
    assert views == ["width=device-width, initial-scale=1"]


def test_headings_are_an_outline(page):
    """1.3.1: one of the first level, none left out on the way down."""
    assert page.headings[0] == 1
    assert page.headings.count(1) == 1
    for above, below in zip(page.headings, page.headings[1:], strict=False):
        assert below <= above + 1


def test_pictures_have_words(page):
    """1.1.1."""
    for image, _ in page.all("img"):
        assert len(image["alt"]) > 10


def test_tables_have_headers(page):
    """1.3.1."""
    for header, inside in page.all("th"):
        expected = {"col"} if "thead" in inside else {"row", "rowgroup"}
        assert header["scope"] in expected


def test_everything_is_in_a_landmark(page):
    outside = {
        "html",
        "head",
        "body",
        "main",
        "footer",
        "header",
        "title",
        "style",
        "meta",
    }
    for tag, _, inside in page.found:
        if tag not in outside:
            assert {"main", "footer", "header", "nav", "head"} & set(inside), tag


def test_no_element_is_named_twice(page):
    """4.1.2."""
    names = [given["id"] for _, given, _ in page.found if "id" in given]
    assert len(names) == len(set(names))


@pytest.fixture(scope="module")
def tab(written, tmp_path_factory):
    if browser() is None:
        pytest.skip("no browser here")
    with opened(written["plan"], tmp_path_factory.mktemp("browser")) as made:
        yield made


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("width", [1280, 360, 320])
def test_nothing_sticks_out_and_the_keyboard_reaches_what_scrolls(
    tab, written, kind, width
):
    """1.4.10 and 2.1.1."""
    tab.size(width, 900)
    tab.open(written[kind])
    assert tab.run(WIDE) == []
    assert tab.run(UNREACHED) == []


def test_pictures_stay_readable_on_a_narrow_screen(tab, written):
    """Type of 8 pt in a drawing is shown with 8 CSS pixels or more."""
    tab.size(360, 900)
    for kind in ("elevation", "plan", "comparison"):
        tab.open(written[kind])
        sizes = tab.run(
            "[...document.querySelectorAll('.drawing img')]"
            ".map((i) => i.getBoundingClientRect().width / i.naturalWidth)"
        )
        assert sizes
        assert min(sizes) * 8.0 * 96.0 / 72.0 >= 8.0


def test_the_tab_key_comes_to_the_chalk_marks(tab, written):
    tab.size(360, 900)
    tab.open(written["plan"])
    labels = []
    for _ in range(30):
        tab.press("Tab", 9)
        labels.append(
            tab.run("document.activeElement.getAttribute('aria-label') || ''")
        )
    assert "Chalk marks of the heats" in labels
