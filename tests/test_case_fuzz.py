"""Whatever a case file says: a Case that reads back as itself, or one CaseError."""

import copy
import tomllib
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from shrinksim.casefile.resolving import resolved, toml_text
from shrinksim.errors import CaseError
from shrinksim.views.reading import case_from, load

CASES = sorted((Path(__file__).parent.parent / "cases").glob("*.toml"))
TEXTS = [path.read_bytes() for path in CASES]
TABLES = [tomllib.loads(text.decode()) for text in TEXTS]

# one text, so that hypothesis does not draw the words themselves as keys
WORDS = "Input should|validation error|pydantic.dev|input_value|Extra inputs"
FOREIGN = tuple(WORDS.split("|"))

words = st.sampled_from(
    ["vee", "strip", "line", "spot", "rectangle", "plate", "I", "IPE 300", "top", "jack",
     "mist", "held", "travel", "none", "weight", "S355", "mixed", "", "us", "weak"]
)  # fmt: skip
measures = st.builds(
    "{} {}".format,
    st.one_of(st.integers(-5, 2000), st.floats(-1e3, 1e13), st.just("2 1/2")),
    st.sampled_from(
        ["mm", "in", "degC", "degF", "s", "deg", "Mp", "EI/L", "kg", "kN m"]
    ),
)
plain = st.one_of(
    words,
    measures,
    st.text(max_size=20),
    st.integers(),
    st.floats(),
    st.booleans(),
    st.dates(),
)
values = st.recursive(
    plain,
    lambda inside: st.one_of(
        st.lists(inside, max_size=3),
        st.dictionaries(st.one_of(words, st.text(max_size=8)), inside, max_size=3),
    ),
    max_leaves=6,
)


def places(tables, at=()):
    """Every key and list index of a case, with the way to it."""
    entries = tables.items() if isinstance(tables, dict) else enumerate(tables)
    for key, value in entries:
        yield (*at, key)
        if isinstance(value, dict | list):
            yield from places(value, (*at, key))


KEYS = sorted({p[-1] for t in TABLES for p in places(t) if isinstance(p[-1], str)})


@st.composite
def mutated(draw):
    """A shipped case with one to four slips in it."""
    tables = copy.deepcopy(draw(st.sampled_from(TABLES)))
    for _ in range(draw(st.integers(1, 4))):
        ways = sorted(places(tables), key=repr)
        if not ways:
            break
        *way, last = draw(st.sampled_from(ways))
        inside = tables
        for step in way:
            inside = inside[step]
        match draw(st.sampled_from(["replace", "drop", "rename", "add", "copy"])):
            case "replace":
                inside[last] = draw(values)
            case "drop":
                del inside[last]
            case "rename" if isinstance(inside, dict):
                inside[draw(st.one_of(st.sampled_from(KEYS), st.text()))] = inside.pop(
                    last
                )
            case "add" if isinstance(inside, dict):
                inside[draw(st.sampled_from(KEYS))] = draw(values)
            case "copy" if isinstance(inside, list):
                inside.append(copy.deepcopy(inside[last]))
            case _:
                pass
    return tables


def judge(read):
    """The case reads back as itself, or every sentence of its error is one of ours."""
    try:
        case, problems = read(), ()
    except CaseError as error:
        case, problems = None, error.problems
    if case is not None:
        text = toml_text(resolved(case))
        assert case_from(tomllib.loads(text), "again", Path()) == case
        return
    assert problems
    for problem in problems:
        assert problem.isprintable(), problem
        assert ": " in problem
        assert len(problem) < 600, problem
        assert not any(words in problem for words in FOREIGN), problem


@pytest.mark.slow
@settings(max_examples=150, deadline=None, suppress_health_check=list(HealthCheck))
@given(mutated())
def test_mutated_tables(tables):
    judge(lambda: case_from(tables, "a.toml", Path()))


@pytest.mark.slow
@settings(max_examples=100, deadline=None)
@given(st.dictionaries(st.sampled_from(KEYS), values, max_size=8))
def test_any_tables(tables):
    judge(lambda: case_from(tables, "a.toml", Path()))


@pytest.fixture(scope="module")
def path(tmp_path_factory):
    return tmp_path_factory.mktemp("fuzz") / "a.toml"


@pytest.mark.slow
@settings(max_examples=120, deadline=None)
@given(st.data())
def test_mutated_bytes(path, data):
    content = bytearray(data.draw(st.sampled_from(TEXTS)))
    for _ in range(data.draw(st.integers(1, 3))):
        start = data.draw(st.integers(0, len(content)))
        length = data.draw(st.integers(0, 12))
        content[start : start + length] = data.draw(st.binary(max_size=8))
    path.write_bytes(content)
    judge(lambda: load(path))


@settings(max_examples=60, deadline=None)
@given(st.one_of(st.binary(max_size=200), st.text(max_size=200).map(str.encode)))
def test_any_bytes(path, content):
    path.write_bytes(content)
    with pytest.raises(CaseError):
        load(path)
