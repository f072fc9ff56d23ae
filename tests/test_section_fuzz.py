"""Cases of the section view at random: sound ones read back, others are told why."""

import itertools
import tomllib
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shrinksim.casefile.resolving import resolved, toml_text
from shrinksim.errors import CaseError
from shrinksim.shop.outline import surface_length, surfaces
from shrinksim.shop.sections.catalogue import section_named
from shrinksim.shop.sections.plate import Plate
from shrinksim.views.reading import case_from

LINE = {"kind": "line along", "on": "top", "length": "1 m"}
STRIP = LINE | {"kind": "strip along", "width": "9 mm"}
SPOTS = LINE | {"kind": "spots along", "diameter": "9 mm", "spacing": "90 mm"}
PLATE = {
    "title": "a plate",
    "view": "section",
    "member": {"section": "plate", "width": "200 mm", "thickness": "10 mm"},
    "steel": {"grade": "S235"},
}
SHAPES = ["plate", "IPE 300", "HEA 200", "W8X31", "S8X18.4", "IPN 200"]
HELD, ONCE = {"drive": "held"}, {"drive": "at once"}
TRAVEL = {"drive": "travel", "speed": "6 mm/s"}


def of(member, pattern, **cooling):
    return PLATE | {"member": member, "heat": [{"pattern": [pattern]} | cooling]}


@st.composite
def sound(draw):
    """A case that has nothing wrong, put together at random."""
    name = draw(st.sampled_from(SHAPES))
    shape = Plate(0.2, 0.01) if name == "plate" else section_named(name)
    pieces = shape.outline()
    on = draw(st.lists(st.sampled_from(surfaces(pieces)), min_size=1, unique=True))
    room = 0.5 * min(surface_length(pieces, s) for s in on)
    wide = draw(st.floats(0.05, 0.45)) * room
    at = draw(st.floats(-1.0, 1.0)) * (room - wide)
    pattern = draw(st.sampled_from([LINE, STRIP, SPOTS]))
    across = {"strip along": "width", "spots along": "diameter"}.get(pattern["kind"])
    pattern = pattern | {"on": on, "at": f"{1e3 * at!r} mm"}
    pattern |= {across: f"{2e3 * wide!r} mm", "spacing": "300 mm"} if across else {}
    if pattern["kind"] == "strip along":
        del pattern["spacing"]
    stays = pattern["kind"] == "spots along"
    torch = draw(st.sampled_from([HELD, ONCE] if stays else [HELD, ONCE, TRAVEL]))
    cooling = {"kind": draw(st.sampled_from(["air jet", "mist", "water stream"]))}
    places = [{}, {"on": on}, {"everywhere": True}, {"reach": "1/3 in"}]
    if torch != ONCE and not stays:
        places += [{"behind": "5 in"}, {"behind": "5 in", "on": on, "reach": "3 in"}]
    cooling |= draw(st.sampled_from(places))
    member = PLATE["member"] if name == "plate" else {"section": name}
    units = {"print_units": draw(st.sampled_from(["metric", "us"]))}
    return of(member, pattern | {"torch": torch}, cooling=cooling) | units


def again(case):
    """The case read back from what is written of it."""
    return case_from(tomllib.loads(toml_text(resolved(case))), "again", Path())


@pytest.mark.slow
@settings(max_examples=100, deadline=None)
@given(sound())
def test_sound_cases_read_back_as_themselves(tables):
    case = case_from(tables, "a.toml", Path())
    assert again(case) == case


values = st.one_of(
    st.none(),
    st.integers(),
    st.floats(),
    st.text(max_size=12),
    st.lists(st.one_of(st.text(max_size=5), st.integers()), max_size=3),
    st.just({}),
    st.builds("{} mm".format, st.floats(-1e4, 1e6)),
    st.sampled_from(["line along", "top", "at once", "1/4 Mp", "travel", "held"]),
)
PATTERN = ["kind", "on", "at", "width", "diameter", "spacing", "length", "pause"]
LOAD = ["kind", "camber_moment", "sweep_moment", "axial", "stiffness", "edges"]


@pytest.mark.slow
@settings(max_examples=150, deadline=None)
@given(
    st.sampled_from([LINE, STRIP, SPOTS]),
    st.dictionaries(st.sampled_from(PATTERN), values, max_size=2),
    st.dictionaries(st.sampled_from(LOAD), values, max_size=2),
    st.dictionaries(st.sampled_from(["kind", "on", "behind", "reach"]), values),
)
def test_any_value_is_taken_or_told(pattern, change, load, cooling):
    tables = of(PLATE["member"], pattern | change, cooling=cooling) | {"load": load}
    case, problems = None, ()
    try:
        case = case_from(tables, "a.toml", Path())
    except CaseError as error:
        problems = error.problems
    assert (case is None) == bool(problems)
    assert case is None or again(case) == case
    assert all(p.startswith("a.toml: ") and p.isprintable() for p in problems)
    assert not any("validation error" in p or "pydantic" in p for p in problems)


TURNS = [(LINE, LINE, 0.5), (STRIP, STRIP, 9), (SPOTS, SPOTS, 30), (LINE, STRIP, 4.5)]


@pytest.mark.parametrize(("one", "other", "apart"), TURNS)
def test_patterns_may_touch_but_not_overlap(one, other, apart):
    """Of one heat, whatever their kinds and order; two lines only at one place."""
    for first, second in itertools.permutations([one, other]):
        for gap, wrong in ((0.0, True), (apart, False)):
            moved = second | {"at": f"{gap} mm"}
            tables = PLATE | {"heat": [{"pattern": [first, moved]}]}
            if not wrong:
                case_from(tables, "a.toml", Path())
                continue
            with pytest.raises(CaseError, match="overlaps") as caught:
                case_from(tables, "a.toml", Path())
            assert len(caught.value.problems) == 1
            tables["heat"] = [{"pattern": [first]}, {"pattern": [moved]}]
            case_from(tables, "a.toml", Path())
