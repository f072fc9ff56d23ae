"""Study files: what varies, every run checked before the first, faults in sentences."""

import itertools
import re
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shrinksim.errors import CaseError
from shrinksim.study.file import load_study, study_from
from shrinksim.study.values import (
    ValueList,
    ValueRange,
    in_common_unit,
    latin_hypercube,
)
from shrinksim.units.quantity import quantity

ROOT = Path(__file__).parent.parent
CASES = ROOT / "cases"
ANGLE, WIDTH = "heat.pattern.angle", "member.width"


def study(vary, base="flat_bar_vee.toml", **more):
    return study_from({"case": base, "vary": vary, **more}, "s.toml", CASES)


def faults(vary, **more):
    with pytest.raises(CaseError) as caught:
        study(vary, **more)
    assert all(p.startswith("s.toml: ") for p in caught.value.problems)
    return [p.removeprefix("s.toml: ") for p in caught.value.problems]


def only(vary, **more):
    found = faults(vary, **more)
    assert len(found) == 1, found
    return found[0]


def test_the_shipped_studies_are_in_order():
    paths = sorted((CASES / "studies").glob("*.toml"))
    assert CASES / "studies" / "vee_angles.toml" in paths
    for path in paths:
        assert all(run.case is not None for run in load_study(path).runs)


def test_every_combination_and_the_last_key_runs_fastest():
    found = study(
        {
            "heat": {"pattern": {"angle": ["20 deg", "45 deg"]}},
            "member.width": {"from": "100 mm", "to": "120 mm", "steps": 3},
        }
    )
    assert found.keys == ("heat[0].pattern[0].angle", "member.width")
    widths = ["100 mm", "110 mm", "120 mm"]
    assert [run.values for run in found.runs] == list(
        itertools.product(["20 deg", "45 deg"], widths)
    )
    last = found.runs[-1].case
    assert last.member.width == 0.12
    assert last.heats[0].patterns[0].angle == pytest.approx(0.7854, rel=1e-4)
    assert last.heats[0].patterns[0].depth == pytest.approx(0.09)  # resolved anew


@pytest.mark.parametrize(
    "key",
    [
        "heat[0].pattern[0].angle",
        "heat.0.pattern.0.angle",
        "heat.pattern.angle",
        "heat.pattern[0].angle",
    ],
)
def test_the_ways_to_write_a_key(key):
    assert study({key: ["20 deg"]}).keys == ("heat[0].pattern[0].angle",)


def test_one_of_several_entries_must_be_named():
    vary = {"heat.pattern.pause": ["0 s", "60 s"]}
    base = "beam_strong_axis.toml"
    assert "does not say which of 2; write heat[0].pattern[0] to" in only(
        vary, base=base
    )
    found = study({"heat.pattern[1].pause": ["0 s", "60 s"]}, base=base)
    assert found.runs[1].case.heats[0].patterns[1].pause == 60.0
    assert found.runs[1].case.heats[0].patterns[0].pause == 0.0


def test_keys_that_the_base_case_leaves_out_and_whole_tables():
    found = study(
        {
            "torch.radius": ["12 mm"],
            "heat.cooling.kind": ["mist"],
            "load": [{"kind": "none"}, {"kind": "weight", "moment": "0.2 Mp"}],
            "output.points.apex": [["0 mm", "30 mm"]],
        }
    )
    first, second = (run.case for run in found.runs)
    assert first.torch.radius == 0.012
    assert first.heats[0].cooling.kind == "mist"
    assert (first.load.kind, second.load.moment_ratio) == ("none", 0.2)
    assert first.output.points["apex"] == (0.0, 0.03)


def test_the_base_case_is_looked_for_beside_the_study(tmp_path):
    (tmp_path / "deep").mkdir()
    text = (CASES / "flat_bar_vee.toml").read_text()
    (tmp_path / "base.toml").write_text(text)
    path = tmp_path / "deep" / "s.toml"
    path.write_text(
        'case = "../base.toml"\n[vary]\nmember.width = ["90 mm", "99 mm"]\n'
    )
    found = load_study(path)
    assert [run.case.member.width for run in found.runs] == [0.09, 0.099]
    assert found.title == "Ramp hook plate: one free vee"
    assert found.runs[0].case.title == "Ramp hook plate: one free vee: width 90 mm"
    path.write_text(path.read_text().replace("base.", "bsae."))
    with pytest.raises(CaseError, match=r"no such file; did you mean 'base\.toml'"):
        load_study(path)


@pytest.mark.parametrize(
    ("vary", "said"),
    [
        ({"heat.pattern.angel": ["20 deg"]}, r"'angel' is not a key of heat\[0\].pattern"
         r"\[0\]; did you mean 'angle'"),
        ({"membr.width": ["1 m"]}, "'membr' is not a table or key of a case; did you"),
        ({"torch.speeed": ["1 mm/s"]}, "did you mean 'speed'"),
        ({"torch.angle": ["20 deg"]}, "'angle' is not a key of torch"),
        ({"heat[1].pattern.angle": ["20 deg"]}, r"heat\[0\] \(they count from 0\)"),
        ({"heat.pattern[3].angle": ["2 deg"]}, r"last, heat\[0\].pattern\[0\]"),
        ({"member[0].width": ["1 m"]}, "member of the case is no list"),
        ({"title.short": ["a"]}, "title of the case is no table"),
        ({"heat[x].angle": ["1 deg"]}, "is no key; write it as heat"),
        ({ANGLE: []}, "empty list; write at least one value"),
        ({ANGLE: "20 deg"}, r"= '20 deg' does not vary; write \["),
        ({ANGLE: ["20 deg", 30]}, "different kinds: a number, a text"),
        ({ANGLE: ["20 deg", "30 deg", "20 deg"]}, "has '20 deg' twice"),
        ({ANGLE: {"from": "20 deg", "to": "20 deg", "steps": 3}}, "is an empty range"),
        ({ANGLE: {"from": "20 deg", "to": "2 m", "steps": 3}}, "no two numbers of one"),
        ({ANGLE: {"from": "20 deg", "to": 60, "steps": 3}}, "no two numbers of one kind"),
        ({ANGLE: {"from": "20 deg", "to": "60 deg"}}, "has no steps; write how many"),
        ({ANGLE: {"from": "20 deg", "steps": 3}}, "has no to; write to ="),
        ({ANGLE: {"from": "20 deg", "to": "60 deg", "steps": 1}}, "steps = 1 is not a w"),
        ({ANGLE: {"from": "20 deg", "to": "60 deg", "step": 3, "steps": 3}}, "key 'step'"),
        ({"heat.pattern.open": {"from": "top", "to": "bottom", "steps": 2}}, "no two num"),
        ({ANGLE: ["20 deg"], "heat[0].pattern[0].angle": ["30 deg"]}, "there already"),
        ({}, "vary is missing; write a table"),
    ],
)  # fmt: skip
def test_faults_of_a_key(vary, said):
    assert re.search(said, only(vary)), only(vary)


def test_all_faults_at_once():
    found = faults(
        {ANGLE: [], "membr.width": ["1 m"], "torch.flame": 3},
        titel="x",
        invalid="stopp",
        sample={"kind": "random", "runs": 1, "sed": 1},
    )
    said = "\n".join(found)
    for part in ("'titel'", "did you mean 'stop'", "angle is an empty", "torch.flame = 3",
                 "sample.sed", "sample.kind = 'random'", "sample.runs = 1"):  # fmt: skip
        assert part in said, part


def test_missing_and_misshapen_parts_of_the_file():
    with pytest.raises(CaseError) as caught:
        study_from({"vary": 3, "sample": 3, "title": 4}, "s.toml", CASES)
    said = "\n".join(caught.value.problems)
    for part in ("title = 4", "case is missing", "vary = 3", "sample = 3"):
        assert part in said


def test_too_many_runs_are_not_begun():
    span = {"from": "100 mm", "to": "120 mm", "steps": 5000}
    angles = {"from": "20 deg", "to": "60 deg", "steps": 5000}
    assert "25000000 runs, more than 10000" in only({WIDTH: span, ANGLE: angles})


def test_runs_that_cannot_be_computed_are_told_once_with_their_values():
    vary = {ANGLE: ["20 deg", "160 deg"], WIDTH: ["90 mm", "100 mm"]}
    first, last = faults(vary)
    assert first.startswith(
        "run 3 and 1 more (heat[0].pattern[0].angle = '160 deg', mem"
    )
    assert first.endswith("angle = '160 deg' is above the largest allowed, 150 deg")
    assert last.startswith(
        "2 of 4 runs cannot be computed; change what varies, or write"
    )
    assert only({WIDTH: ["-1 m", "-2 m"]} | {WIDTH: ["-1 m"]}).startswith(
        "every run: mem"
    )


def test_runs_that_cannot_be_computed_are_left_out_where_asked():
    vary = {ANGLE: ["20 deg", "160 deg"]}
    found = study(vary, invalid="leave out")
    assert [run.case is None for run in found.runs] == [False, True]
    assert "above the largest" in found.runs[1].problems[0]
    assert "every run" in only({ANGLE: ["160 deg"]}, invalid="leave out")


def test_points_to_draw_do_not_keep_a_smaller_member_from_being_computed():
    found = study({WIDTH: ["100 mm", "60 mm"]})
    assert [len(run.case.output.points) for run in found.runs] == [3, 0]
    off = {"output.points.apex": [["0 mm", "30 mm"], ["0 mm", "300 mm"]]}
    assert len(study(off).runs) == 2


def test_a_key_of_one_kind_only_is_known_when_the_kind_varies():
    vary = {
        "heat.cooling.kind": ["still air", "mist"],
        "heat.cooling.start_below": ["300 degC"],
    }
    found = study(vary, invalid="leave out")
    assert [run.case is None for run in found.runs] == [True, False]


SAMPLE = {"kind": "latin hypercube", "runs": 8, "seed": 3}


def test_a_sample_of_a_study():
    vary = {ANGLE: {"from": "20 deg", "to": "60 deg"}, "torch.torches": [1, 2]}
    found = study(vary, sample=SAMPLE)
    again = study(vary, sample=SAMPLE)
    assert [run.values for run in found.runs] == [run.values for run in again.runs]
    other = study(vary, sample=SAMPLE | {"seed": 4})
    assert [run.values for run in found.runs] != [run.values for run in other.runs]
    parts = sorted(int((float(run.values[0][:-4]) - 20) / 5) for run in found.runs)
    assert parts == list(range(8))  # one in each eighth
    assert sorted(run.values[1] for run in found.runs) == [1] * 4 + [2] * 4
    steps = {ANGLE: {"from": "20 deg", "to": "60 deg", "steps": 3}}
    assert "a sample needs none" in only(steps, sample=SAMPLE)


@given(st.integers(2, 60), st.integers(0, 1000), st.integers(1, 4))
def test_a_latin_hypercube_meets_every_part_of_every_range_once(runs, seed, keys):
    """McKay, Beckman and Conover (1979): that is its definition."""
    span = ValueRange(0.0, float(runs), "", None)
    varied = [span] * keys + [ValueList(("a", "b", "c"))]
    found = latin_hypercube(varied, runs, seed)
    for column in list(zip(*found, strict=True))[:-1]:
        parts = sorted(min(int(value), runs - 1) for value in column)
        assert all(abs(part - k) <= 1 for k, part in enumerate(parts))  # six digits
    names = [row[-1] for row in found]
    counts = [names.count(name) for name in "abc"]
    assert max(counts) - min(counts) <= 1


@given(
    st.sampled_from(["mm", "in", "degF", "kN m", "%", "Mp", "mm/s"]),
    st.floats(-1e4, 1e4).map(lambda x: float(f"{x:.5g}")),
    st.floats(-1e4, 1e4).map(lambda x: float(f"{x:.5g}")),
)
def test_values_of_one_unit_stay_in_it(unit, one, other):
    found = in_common_unit([f"{one:g} {unit}", f"{other:g} {unit}"])
    assert found == ([one, other], unit)


@pytest.mark.parametrize(
    ("values", "numbers", "unit"),
    [
        (["1/4 in", "3/8 in"], [6.35, 9.525], "mm"),
        (["1 in", "50.8 mm"], [1.0, 2.0], "in"),
        (["2 1/2 in", "10 mm"], [63.5, 10.0], "mm"),
        (["40 ft 6 in", "1 ft"], [12344.4, 304.8], "mm"),
        (["0 degC", "212 degF"], [0.0, 100.0], "degC"),
        (["120 kg", "9.81 kN"], [120.0, 1000.0], "kg"),
        (["4 W/m2K", "5 W/m2K"], [4.0, 5.0], "W/m2K"),
        ([1, 2.5], [1.0, 2.5], ""),
    ],
)
def test_values_of_several_units_come_to_one(values, numbers, unit):
    found = in_common_unit(values)
    assert found is not None
    assert found[0] == pytest.approx(numbers, rel=1e-9)
    assert found[1] == unit


@pytest.mark.parametrize(
    "values",
    [
        ["top", "bottom"],
        ["1 mm", "1 s"],
        [True, 1],
        [1, "1"],
        [["1 mm"], ["2 mm"]],
        ["0.2 Mp", "1 kN m"],
    ],
)
def test_values_that_are_no_numbers_of_one_kind(values):
    assert in_common_unit(values) is None


@given(st.integers(2, 50))
def test_a_range_begins_and_ends_where_it_says(steps):
    span = {"from": "3 in", "to": "12 in", "steps": steps}
    values = [run.values[0] for run in study({WIDTH: span}).runs] if steps < 4 else None
    found = [
        ValueRange(3.0, 12.0, "in", steps).at(k / (steps - 1)) for k in range(steps)
    ]
    assert values in (None, found)
    assert (found[0], found[-1]) == ("3 in", "12 in")
    gaps = [
        quantity(b, "length") - quantity(a, "length")
        for a, b in itertools.pairwise(found)
    ]
    assert gaps == pytest.approx([9 * 0.0254 / (steps - 1)] * (steps - 1), rel=1e-3)
