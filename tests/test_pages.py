"""Pages for people who read them with other means: what WCAG 2.2 asks of the text.

Colours and widths need a browser: benchmarks/trust/pages.py judges those with axe-core.
"""

from html.parser import HTMLParser

import pytest
from made_up_result import made_up
from made_up_section import made_up as made_up_section

from shrinksim.output.figures import pictures
from shrinksim.output.gallery import write_gallery
from shrinksim.output.report import report_page

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


@pytest.fixture(scope="module", params=["elevation", "folded", "section", "gallery"])
def page(request, tmp_path_factory):
    match request.param:
        case "elevation":
            text = of_report(made_up())
        case "folded":
            text = of_report(made_up(load="weight", outcome="hot hinge", units="us"))
        case "section":
            text = of_report(made_up_section())
        case _:
            path = write_gallery([], tmp_path_factory.mktemp("g"), "Cases")
            text = path.read_text(encoding="utf-8")
    read = Page(text)
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
        expected = "col" if "thead" in inside else "row"
        assert header["scope"] == expected


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
