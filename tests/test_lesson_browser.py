"""The lesson's page in a real browser: slider, choices, keys, widths, print."""

from __future__ import annotations

import json

import pytest
from devtools import browser, opened
from lesson_made import made_lesson, made_page

from shrinksim.lesson.embedded import states

pytestmark = [
    pytest.mark.skipif(browser() is None, reason="no browser here"),
    pytest.mark.long,
]

WIDTHS = (1280, 400)
READABLE = 4.5
"""Contrast of text: WCAG 2.1, 1.4.3."""


@pytest.fixture(scope="module")
def tab(tmp_path_factory):
    folder = tmp_path_factory.mktemp("browser")
    for units in ("us", "metric"):
        page = folder / f"{units}.html"
        page.write_text(made_page(units), encoding="utf-8")
    with opened(page, folder) as made:
        yield made


@pytest.fixture(autouse=True)
def _fresh(tab):
    """Each test finds the page as it opens."""
    tab.size(1280, 900)
    tab.ask("Emulation.setEmulatedMedia", media="")
    tab.events.clear()
    tab.go("metric")


EVERY = """(visit) => {
  const seen = [];
  for (const bench of document.querySelectorAll('.bench')) {
    const sets = [...bench.querySelectorAll('.choices fieldset')]
      .map((f) => [...f.querySelectorAll('input')]);
    const picks = sets.reduce(
      (all, set) => all.flatMap((a) => set.map((i) => [...a, i])), [[]]);
    for (const pick of picks) {
      for (const input of pick) {
        input.checked = true;
        input.dispatchEvent(new Event('change', { bubbles: true }));
      }
      for (const stop of [...bench.querySelectorAll('.stops button')]) {
        stop.click();
        const key = pick.map((i) => i.value).join('|');
        seen.push(...visit(bench, key, stop.textContent));
      }
    }
  }
  return seen;
}"""
"""JavaScript: visit(bench, key, stop) at every stop of every choice of every bench."""


def test_nothing_is_fetched_and_nothing_complains(tab):
    tab.run(f"({EVERY})(() => [])")
    tab.run("new Promise((r) => setTimeout(r, 1800))")  # the print set is drawn then
    assert tab.names("Runtime.exceptionThrown") == []
    assert tab.names("Runtime.consoleAPICalled") == []
    assert [e["entry"] for e in tab.names("Log.entryAdded")] == []
    asked = [e["request"]["url"] for e in tab.names("Network.requestWillBeSent")]
    assert all(url.startswith(("file:", "data:")) for url in asked)
    assert len([url for url in asked if url.startswith("file:")]) == 1


def test_every_stop_of_every_choice_is_drawn(tab):
    problems = tab.run(f"""({EVERY})((bench, key, stop) => {{
      const found = [], where = [bench.dataset.bench, key, stop];
      const bad = /NaN|undefined|Infinity|null/;
      for (const host of bench.querySelectorAll('.drawing')) {{
        const svg = host.querySelector('svg');
        if (!svg || svg.children.length < 8) found.push([...where, 'empty']);
        else if (bad.test(svg.outerHTML)) found.push([...where, 'NaN']);
        else if (!svg.getAttribute('aria-label')) found.push([...where, 'no label']);
      }}
      const slider = bench.querySelector('input[type=range]');
      const told = slider.getAttribute('aria-valuetext');
      if (!told || bad.test(told)) found.push([...where, told]);
      return found;
    }})""")
    assert problems == []


def test_tiles_show_what_was_computed(tab):
    """Held bar, every choice, at its hottest: temperature, push, squeeze."""
    seen = tab.run(f"""({EVERY})((bench, key, stop) =>
      bench.dataset.bench === 'held' && stop === 'hottest'
        ? [[key, [...bench.querySelectorAll('.tiles dd')].map((d) => d.textContent)]]
        : [])""")
    tracks = states(made_lesson(), "metric")["benches"]["held"]["tracks"]
    assert {key for key, _ in seen} == set(tracks)
    for key, (temperature, stress, length, squeezed) in seen:
        track = tracks[key]
        hot = next(step for step, name in track["stops"] if name == "hottest")
        assert temperature == f"{track['T'][hot]:.0f} °C"
        push, number, unit = stress.split()
        assert (push, unit) == ("push", "MPa")
        assert -float(number) == pytest.approx(track["s"][0][hot], abs=0.051)
        assert length == "0.00 mm/m" or length.startswith("+")
        number = float(squeezed.split()[0].replace("\u2212", "-"))
        assert number == pytest.approx(track["p"][hot], abs=0.0051)


def test_slider_with_the_keyboard(tab):
    """Arrow keys step, End goes to the end; the words follow, for ears too."""
    tab.run("document.querySelector('[data-bench=held] input[type=range]').focus()")
    value = "document.activeElement.value"
    for _ in range(5):
        tab.press("ArrowRight", 39)
    assert tab.run(value) == "5"
    track = states(made_lesson(), "metric")["benches"]["held"]["tracks"]["jaws|650"]
    told = "document.activeElement.getAttribute('aria-valuetext')"
    assert f"{track['T'][5]:.0f} °C" in tab.run(told)
    tab.press("End", 35)
    assert tab.run(value) == str(len(track["T"]) - 1)
    live = "document.querySelector('[data-bench=held] .told').textContent"
    tab.until(f"{live}.startsWith('Cold again, 20 °C: no stress')")
    shorter = f"\u2212{abs(track['per'][-1]):.2f} mm/m"
    assert shorter in tab.run(live)
    bar = "document.querySelector('[data-bench=held] .drawing rect')"
    shape = f"{bar}.getAttribute('width')"
    short = float(tab.run(shape))
    tab.press("Home", 36)
    assert float(tab.run(shape)) > 1.1 * short  # drawn 20 times as large


def test_the_step_buttons_stop_at_the_ends(tab):
    at = "document.querySelector('[data-bench=vee] input[type=range]')"
    buttons = "[...document.querySelectorAll('[data-bench=vee] .step')]"
    assert tab.run(f"{buttons}.map((b) => b.disabled)") == [True, False]
    tab.run(f"{buttons}[1].click()")
    assert tab.run(f"{at}.value") == "1"
    tab.run(f"while (!{buttons}[1].disabled) {buttons}[1].click()")
    assert tab.run(f"{at}.value === {at}.max")


def test_a_choice_with_the_keyboard_keeps_the_stop(tab):
    bench = "document.querySelector('[data-bench=loads]')"
    tab.run(f"[...{bench}.querySelectorAll('.stops button')]"
            ".find((b) => b.textContent === 'torch off').click()")  # fmt: skip
    tab.run(f"{bench}.querySelector('input[value=helping]').focus()")
    tab.press("ArrowDown", 40)
    assert tab.run(f"{bench}.querySelector('input:checked').value") == "jack"
    pressed = f"{bench}.querySelector('.stops [aria-pressed=true]').textContent"
    assert tab.run(pressed) == "torch off"


def test_answers_are_hidden_until_asked(tab):
    answers = "[...document.querySelectorAll('details.answer')]"
    assert tab.run(f"{answers}.map((d) => d.open)") == [False] * 7
    seen = f"{answers}.map((d) => d.querySelector('p').checkVisibility())"
    assert tab.run(seen) == [False] * 7
    tab.run(f"{answers}[0].querySelector('summary').focus()")
    tab.press("Enter", 13)
    assert tab.run(seen) == [True] + [False] * 6
    hidden = "[...document.querySelectorAll('.paper')].some((p) => p.checkVisibility())"
    assert not tab.run(hidden)


def test_focus_is_seen_on_everything_that_takes_it(tab):
    """Tab through the page: whatever has the focus has a ring, itself or its words."""
    tab.run("document.querySelector('.trainer').open = true; document.body.focus()")
    seen = set()
    for _ in range(40):
        tab.press("Tab", 9)
        name, ring = tab.run("""(() => {
          const e = document.activeElement, own = getComputedStyle(e);
          const beside = e.nextElementSibling && getComputedStyle(e.nextElementSibling);
          const wide = (s) => s && s.outlineStyle !== 'none'
            && parseFloat(s.outlineWidth) >= 2;
          return [e.tagName + (e.type ?? ''), wide(own) || wide(beside)];
        })()""")
        seen.add(name)
        assert ring, name
    assert {"A", "SUMMARY", "INPUTradio", "INPUTrange", "BUTTONbutton"} <= seen


CONTRAST = """() => {
  const part = (c) => (c <= 10 ? c / 255 / 12.92 : ((c / 255 + 0.055) / 1.055) ** 2.4);
  const light = ([r, g, b]) => 0.2126 * part(r) + 0.7152 * part(g) + 0.0722 * part(b);
  const read = (text) => (text.match(/[0-9.]+/g) ?? [0, 0, 0, 0]).map(Number);
  const ground = (e) => {
    for (let at = e; at; at = at.parentElement) {
      const colour = read(getComputedStyle(at).backgroundColor);
      if (colour.length === 3 || colour[3] === 1) return colour;
    }
    return [255, 255, 255];
  };
  const dull = [];
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walk.nextNode()) {
    const e = walk.currentNode.parentElement;
    if (!walk.currentNode.textContent.trim() || !e.checkVisibility()) continue;
    if (e.closest('script, style, button:disabled, option')) continue;
    const drawn = e.namespaceURI.endsWith('svg');
    const colour = read(drawn ? getComputedStyle(e).fill : getComputedStyle(e).color);
    const under = drawn ? [238, 241, 244] : ground(e);  // the darkest paper of a drawing
    const [a, b] = [light(colour), light(under)].sort((p, q) => q - p);
    const ratio = (a + 0.05) / (b + 0.05);
    if (ratio < LEAST) dull.push([ratio, e.tagName, walk.currentNode.textContent]);
  }
  return dull;
}"""


def test_text_stands_out(tab):
    tab.run("document.querySelectorAll('details').forEach((d) => { d.open = true; })")
    for stop in ("'hottest'", "'torch off'", "'cold again'"):
        tab.run(f"document.querySelectorAll('.stops button').forEach((b) => "
                f"{{ if (b.textContent === {stop}) b.click(); }})")  # fmt: skip
        assert tab.run(f"({CONTRAST.replace('LEAST', str(READABLE))})()") == []


@pytest.mark.parametrize("units", ["metric", "us"])
@pytest.mark.parametrize("width", WIDTHS)
def test_everything_fits_its_place(tab, width, units):
    """No sideways scrolling; no words of a drawing cut off or over one another."""
    tab.size(width, 900)
    tab.go(units)
    tab.run("document.querySelectorAll('details').forEach((d) => { d.open = true; })")
    assert tab.run("document.documentElement.scrollWidth") <= width
    wrong = tab.run(f"""({EVERY})((bench, key, stop) => {{
      const found = [], where = [bench.dataset.bench, key, stop];
      for (const svg of bench.querySelectorAll('.drawing svg')) {{
        const wide = svg.viewBox.baseVal.width + 1, high = svg.viewBox.baseVal.height + 3;
        const boxes = [...svg.querySelectorAll('text')].map(
          (t) => [t.textContent, t.getBBox()]);
        boxes.forEach(([one, a], k) => {{
          if (a.x < -1 || a.y < -1 || a.x + a.width > wide || a.y + a.height > high) {{
            found.push([...where, 'cut off', one]);
          }}
          boxes.slice(k + 1).forEach(([other, b]) => {{
            const x = Math.min(a.x + a.width, b.x + b.width) - Math.max(a.x, b.x);
            const y = Math.min(a.y + a.height, b.y + b.height) - Math.max(a.y, b.y);
            if (x > 2 && y > 5) found.push([...where, one, other]);
          }});
        }});
      }}
      return found;
    }})""")
    assert wrong == []


def test_the_print_has_fixed_states_and_answers_where_asked(tab):
    tab.run("document.querySelector('[data-bench=held] input[type=range]').value = 40")
    tab.run("drawPrint()")
    tab.ask("Emulation.setEmulatedMedia", media="print")
    seen = (
        "(q) => [...document.querySelectorAll(q)]"
        ".filter((e) => e.checkVisibility()).length"
    )
    assert tab.run(f"({seen})('.bench, nav, .trainer, details.answer')") == 0
    benches = states(made_lesson(), "metric")["benches"]
    for name, bench in benches.items():
        stops = len(bench["tracks"][bench["printed"]]["stops"])
        charts = tab.run(
            "document.querySelectorAll("
            f"'.bench[data-bench={name}] .bench-right .drawing').length"
        )
        figures = tab.run(f"({seen})('.print-set[data-bench={name}] figure')")
        assert figures == stops + charts
    for where, counts in (("end", (1, 0)), ("here", (0, 7)), ("none", (0, 0))):
        tab.run(f"document.querySelector('input[name=answers][value={where}]').click()")
        found = tab.run(f"[({seen})('.answers'), ({seen})('.answer-here')]")
        assert tuple(found) == counts, where


def test_larger_type_and_still_no_sideways_scrolling(tab):
    before = tab.run("parseFloat(getComputedStyle(document.documentElement).fontSize)")
    tab.run("document.querySelector('.trainer').open = true")
    tab.run("document.getElementById('larger').click()")
    after = tab.run("parseFloat(getComputedStyle(document.documentElement).fontSize)")
    assert after > 1.2 * before
    assert tab.run("document.documentElement.scrollWidth") <= 1280


def test_nothing_moves_by_itself(tab):
    """Reduced motion: no animation, transition or smooth scrolling anywhere."""
    tab.ask(
        "Emulation.setEmulatedMedia",
        features=[{"name": "prefers-reduced-motion", "value": "reduce"}],
    )
    smooth = tab.run("getComputedStyle(document.documentElement).scrollBehavior")
    assert smooth == "auto"
    assert tab.run("document.getAnimations().length") == 0
    moving = tab.run("""[...document.querySelectorAll('*')].filter((e) => {
      const s = getComputedStyle(e);
      return s.animationName !== 'none' || parseFloat(s.transitionDuration) > 0;
    }).length""")
    assert moving == 0


def test_what_the_page_holds_is_what_was_embedded(tab):
    held = tab.run("JSON.stringify(STATES.limits)")
    assert json.loads(held) == states(made_lesson(), "metric")["limits"]
