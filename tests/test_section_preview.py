"""What `check` says of a section case that is in order."""

import pytest
from plain_case import read, with_pattern
from plain_section import BEAM, LINE, PLATE, SPOTS

from shrinksim.views.section.preview import prepare


def said(tables):
    return "\n".join(prepare(read(tables)).lines)


DRIVES = {
    "held": ({}, "the torch travels at the speed that gives 600 degC"),
    "travel": ({"drive": "travel", "speed": "7 mm/s"}, "the torch travels at 7 mm/s"),
    "at once": (
        {"drive": "at once"},
        "plays over the whole length until the hottest steel is at 600 degC",
    ),
}


@pytest.mark.parametrize("name", DRIVES)
def test_what_the_torch_does(name):
    torch, sentence = DRIVES[name]
    target = {} if name == "travel" else {"target": "600 degC"}
    text = said(PLATE | {"torch": torch | target})
    assert sentence in text
    assert "Heat 1: a line along the top, over 1000 mm" in text
    assert "cross-section" in text
    assert "Load" not in text


def test_what_is_heated_and_cooled():
    row = SPOTS | {"on": ["top", "bottom"], "at": "40 mm"}
    mist = {"kind": "mist", "on": "bottom"}
    heats = [{"pattern": [LINE]}, {"pattern": [row], "cooling": mist}]
    text = said(PLATE | {"heat": heats})
    assert (
        "Heat 2: spots of 20 mm every 60 mm along the top and the bottom, 40 mm from the "
        "middle of each, over 1000 mm (2 torches at the same time); the torch stays on "
        "each until" in text
    )
    assert text.endswith("then mist on the bottom.")
    mist = {"kind": "mist", "behind": "120 mm"}
    text = said(PLATE | {"heat": [{"pattern": [LINE], "cooling": mist}]})
    assert text.endswith("mist 120 mm behind the torch, and then mist.")


def test_loads_about_both_axes():
    """A plate's 0.25 Mp of sweep: b^2 t / 4 fy / 4 (textbook)."""
    jack = {"kind": "jack", "sweep_moment": "0.25 Mp", "stiffness": "2 EI/L"}
    text = said(PLATE | {"load": jack | {"edges": "held"}})
    assert "Load: jack, sweep moment 23.96 kN m, 0.25 of that axis' cold" in text
    assert "moment 95.85 kN m; its stiffness 2 EI/L of the heated length;" in text
    assert "its two long edges are held while hot." in text
    weight = {"kind": "weight", "camber_moment": "-10 kN m", "axial": "-5 kN"}
    text = said(BEAM | {"load": weight})
    assert "weight, camber moment -10 kN m, -0.04 of" in text
    assert "a push of 5 kN" in text
    assert "sweep" not in text
    text = said(with_pattern(BEAM, **BEAM["heat"][0]["pattern"][0]) | {
        "load": {"kind": "clamp", "stiffness": "500 kN m/rad"}})  # fmt: skip
    assert "clamp, set without a moment; its stiffness 500 kN m/rad." in text
    assert "held straight while hot" in said(BEAM | {"load": {"kind": "held"}})
