"""Readings of a survey: tables as people write them, and what cannot be true."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shrinksim.errors import CaseError
from shrinksim.member.survey.readings import (
    checked_readings,
    read_csv,
    sag_cautions,
    string_sag,
    twist_rate,
)

METRIC = "station (m), camber (mm), sweep (mm)\n0, 50, 50\n3, 62, 49\n6, 71.5, \n"


def table(tmp_path, text, encoding="utf-8", length=12.0):
    path = tmp_path / "readings.csv"
    path.write_bytes(text.encode(encoding))
    return read_csv(path, "readings.csv", length)


@pytest.mark.parametrize(
    "text",
    [
        METRIC,
        "\ufeff" + METRIC,
        METRIC.replace("\n", "\r\n"),
        METRIC.replace(",", ";").replace("71.5", "71,5"),
        METRIC.replace(", ", "\t").replace(",", "\t").replace("71.5", "71,5"),
        "# first survey\n" + METRIC + ",,\n\n",
        METRIC.replace("(", "[").replace(")", "]"),
        METRIC.replace("(", "").replace(")", ""),
        "sep=;\n" + METRIC.replace(",", ";"),
        METRIC.replace("\n", ", weld here\n").replace(", weld here", ", remark", 1),
        METRIC.replace("50, 50", "\u00a050 mm, 5 cm"),
        METRIC.replace("62", '"62,0"').replace("71.5", '"71,5"'),
        METRIC.replace("62", "6.2e1"),
    ],
    ids=[
        "plain",
        "bom",
        "crlf",
        "semicolon",
        "tab",
        "remark",
        "brackets",
        "bare unit",
        "separator told",
        "remarks",
        "own units",
        "quoted comma",
        "exponent",
    ],
)
def test_metric_tables(tmp_path, text):
    found = table(tmp_path, text)
    x, camber = found["camber"]
    np.testing.assert_allclose(x, [0.0, 3.0, 6.0])
    np.testing.assert_allclose(camber, [0.050, 0.062, 0.0715])
    np.testing.assert_allclose(found["sweep"][0], [0.0, 3.0])


def test_inches_with_fractions(tmp_path):
    text = (
        "station,camber,sweep other edge (in)\n0 ft,2 in,2\n10 ft 6 in,2 3/8 in,1-7/8\n"
        '20 ft,1-1/2 in,"3/4"\n'
    )
    found = table(tmp_path, text)
    inch = 0.0254
    np.testing.assert_allclose(found["camber"][0], np.array([0, 126, 240]) * inch)
    np.testing.assert_allclose(found["camber"][1], np.array([2, 2.375, 1.5]) * inch)
    np.testing.assert_allclose(
        found["sweep other edge"][1], np.array([2, 1.875, 0.75]) * inch
    )


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("station (m), cambre (mm)\n0, 1\n", "did you mean 'camber'"),
        ("station (m), camber (furlong)\n0, 1\n", "not a unit of length"),
        ("camber (mm), station (m)\n0, 1\n", "station first"),
        ("station (m), camber (mm), camber (mm)\n0, 1, 2\n", "twice"),
        ("station (m), camber (mm)\n0, 1\n13, 2\n", "not on the member"),
        ("station (m), camber (mm)\n0, abc\n", "line 2"),
        ("station (m), camber (mm)\n0, 1, 3, 4\n", "4 cells"),
        ("station (m), camber (mm)\n, 5\n", "no station"),
        ("station (m), camber\n0, 5\n", "line 2"),
        ("station (m), camber (mm)\n", "no readings"),
        ("0, 5\n1, 6\n", "must name the columns"),
        ("station (m), camber (mm)\n0, 62,5\n", "semicolons"),
        ("station (m); camber (mm)\n0; 1,250\n", "1.25 or 1250"),
        ("station (m); camber (mm)\n0,5; 12.5\n", "all with a point"),
        ("station (mm), camber (mm)\n0, 1\n" * 1 + "9 km, 2\n", "is the unit of"),
        ("station (m), camber (mm)\n0, 1\n" + "x" * 3000 + "\n", "too long"),
        ("station (m), camber (mm)\n0, 1\x07\n", "no text"),
        ("station (m), camber (mm)\n" + "0, 1\n" * 500, "400 are enough"),
    ],
)
def test_faults_are_sentences(tmp_path, text, said):
    with pytest.raises(CaseError, match=said.replace("(", r"\(")):
        table(tmp_path, text)


def test_every_fault_is_told_at_once(tmp_path):
    with pytest.raises(CaseError) as caught:
        table(tmp_path, "station (m), camber (mm)\n0, x\n1, y\n99, 3\n")
    assert len(caught.value.problems) == 3


def test_wrong_encodings(tmp_path):
    with pytest.raises(CaseError, match="UTF-16"):
        table(tmp_path, METRIC, "utf-16")
    with pytest.raises(CaseError, match="not UTF-8"):
        table(tmp_path, METRIC + "# naïve\n", "latin-1")


def test_a_giant_file_is_refused(tmp_path):
    with pytest.raises(CaseError, match="1 MB"):
        table(tmp_path, METRIC + "# " + "x" * 1_100_000)


@given(st.binary(max_size=300))
def test_any_bytes_give_a_table_or_a_sentence(tmp_path_factory, content):
    path = tmp_path_factory.mktemp("any") / "readings.csv"
    path.write_bytes(b"station (m), camber (mm)\n" + content)
    said, found = ["a sentence that is not needed here"], {}
    try:
        found = read_csv(path, "readings.csv", 12.0)
    except CaseError as error:
        said = list(error.problems)
    assert all(len(problem) > 20 for problem in said)
    assert all(np.isfinite(reading).all() for _, reading in found.values())


X = np.linspace(0.0, 12.0, 13)


def clean(reading, x=X, block=0.05):
    return checked_readings(
        "camber", x, reading, length=12.0, block=block, error=1.5e-3
    )


def test_blocks_come_off_and_stations_are_put_in_order():
    order = np.random.default_rng(1).permutation(13)
    offset = 0.02 * np.sin(np.pi * X / 12.0)
    found = clean((0.05 + offset)[order], X[order])
    np.testing.assert_allclose(found.offset, offset, atol=1e-12)
    np.testing.assert_allclose(found.x, X)


@pytest.mark.parametrize(
    ("reading", "x", "said"),
    [
        ([0.05, 0.06], [0.0, 12.0], "at least 3"),
        ([0.05, 0.06, 0.07], [0.0, 12.0, 12.0], "read twice"),
        ([0.05, 0.06, 0.07], [0.0, 6.0, 12.5], "not on the member"),
        ([0.05, 0.9, 0.05], [0.0, 1.0, 12.0], "steeper than"),
        ([0.05, np.nan, 0.05], [0.0, 1.0, 12.0], "not a number"),
    ],
)
def test_what_cannot_be_true(reading, x, said):
    with pytest.raises(CaseError, match=said):
        clean(np.array(reading), np.array(x))


def test_a_reading_in_another_unit_is_found():
    reading = 0.05 + 0.02 * np.sin(np.pi * X / 12.0)
    reading[6] *= 25.4  # millimetres taken for inches
    with pytest.raises(CaseError, match="it would fit in millimetres"):
        clean(reading)


@pytest.mark.parametrize(
    ("k", "ratio", "unit"), [(4, 1 / 25.4, "inches"), (8, 10.0, "mm")]
)
def test_other_units_of_small_readings(k, ratio, unit):
    reading = 0.050 + 0.004 * np.sin(np.pi * X / 12.0)
    reading[k] *= ratio
    with pytest.raises(CaseError, match="it would fit in") as caught:
        clean(reading)
    assert unit.replace("mm", "millimetres") in str(caught.value)
    assert len(caught.value.problems) == 1


def test_a_part_of_the_member_is_not_enough():
    with pytest.raises(CaseError, match="from a part"):
        clean(np.full(13, 0.05), X / 3.0)


@pytest.mark.parametrize(
    ("line_on", "sign"), [("top", -1), ("right", -1), ("bottom", 1), (None, 1)]
)
def test_side_of_the_line(line_on, sign):
    """From a string over the top, more gap is a member that hangs there."""
    reading = 0.05 + 0.01 * np.sin(np.pi * X / 12.0)
    found = checked_readings(
        "camber", X, reading, length=12.0, block=0.05, error=1e-3, line_on=line_on
    )
    assert np.sign(found.offset[6]) == sign


def test_a_string_hangs():
    """w L²/8H: 0.01 N/m over 12 m pulled with 50 N hangs 3.6 mm."""
    camber = clean(np.full(13, 0.05))
    (caution,) = sag_cautions(camber, "string", "metric")
    assert "3.6 mm" in caution.text
    assert not sag_cautions(camber, "laser", "metric")
    sweep = checked_readings(
        "sweep", X, np.full(13, 0.05), length=12.0, block=0.05, error=1e-3
    )
    assert not sag_cautions(sweep, "string", "metric")


@pytest.mark.parametrize("turn", [0.02, 0.1, 0.15])
@pytest.mark.parametrize("at", [4.0, 5.5, 6.0])
def test_a_sharp_kink_alone_is_believed(turn, at):
    line = 0.05 - turn * np.maximum(X - at, 0.0)
    assert len(clean(line).x) == 13


def test_a_sharp_kink_is_no_slip():
    reading = 0.05 + 0.02 * np.maximum(1.0 - np.abs(X - 6.0) / 6.0, 0.0) * 6.0
    assert len(clean(reading).x) == 13


def test_twist_from_two_edges():
    rate = 3e-3
    one = 0.05 + 0.01 * np.sin(X)
    found, sigma, angle = twist_rate(X, one + 0.15 * rate * X, one, 0.15, 1.5e-3)
    assert found == pytest.approx(rate)
    np.testing.assert_allclose(angle, rate * X, atol=1e-12)
    spread = [
        twist_rate(
            X, *np.random.default_rng(k).normal(0.0, 1.5e-3, (2, 13)), 0.15, 1.5e-3
        )[0]
        for k in range(400)
    ]
    assert np.std(spread) == pytest.approx(sigma, rel=0.12)


def test_string_sag_is_the_flat_catenary():
    """Statics: the middle of a catenary of parameter H / w hangs H/w (cosh(...) - 1)."""
    weight, pull, length = 0.02, 100.0, 12.0
    a = pull / weight
    exact = a * (np.cosh(length / (2.0 * a)) - 1.0)
    assert string_sag(weight, pull, length) == pytest.approx(exact, rel=1e-6)
