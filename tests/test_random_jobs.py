"""The random cases of benchmarks/trust: sound, the same from the same seed, mirrored
truly; and the judge of their results.  The runs themselves are done there.
"""

import json
import sys
from pathlib import Path

import pytest

from shrinksim.views.reading import case_from
from shrinksim.views.section.record import SectionCase

TRUST = Path(__file__).parent.parent / "benchmarks" / "trust"
sys.path.insert(0, str(TRUST))

import random_cases  # noqa: E402
from random_jobs import drawn, mirrored  # noqa: E402

NUMBERS = range(120)


def read(tables):
    return case_from(tables, "random", Path())


def test_cases_at_random_are_sound_and_cover_what_there_is():
    views, kinds, coolings, loads, drives, sections = (set() for _ in range(6))
    for number in NUMBERS:
        case = read(drawn(7, number))
        views.add(case.view)
        loads.add(case.load.kind)
        sections.add(case.member.section)
        for heat in case.heats:
            coolings.add(heat.cooling.kind)
            kinds |= {pattern.kind for pattern in heat.patterns}
            drives |= {pattern.torch.drive for pattern in heat.patterns}
    assert views == {"elevation", "section"}
    elevation = {"vee", "strip", "line", "spot", "rectangle"}
    assert kinds == elevation | {"line along", "strip along", "spots along"}
    assert coolings == {"still air", "air jet", "mist", "wet rag", "water stream"}
    assert loads == {"none", "weight", "jack", "clamp", "held"}
    assert drives == {"held", "travel", "at once"}
    assert len(sections) > 8


def test_the_same_numbers_draw_the_same_case():
    one = [drawn(3, number) for number in NUMBERS]
    assert one == [drawn(3, number) for number in NUMBERS]
    assert len({json.dumps(tables) for tables in one}) == len(one)
    assert one != [drawn(4, number) for number in NUMBERS]


@pytest.mark.parametrize("number", range(0, 120, 3))
def test_mirrored_twice_is_the_case_itself(number):
    tables = drawn(7, number)
    before = json.dumps(tables)
    turned = mirrored(tables)
    case, again, other = read(tables), read(mirrored(turned)), read(turned)
    assert json.dumps(tables) == before
    patterns = zip(case.heats[0].patterns, again.heats[0].patterns, strict=True)
    for one, two in patterns:
        for name, value in one:
            assert getattr(two, name) == pytest.approx(value, abs=1e-12), name
    if not isinstance(case, SectionCase) or case.heats[0].patterns[0].on[0] != "top":
        where = ["open", "on", "height", "at", "start"]
        first, last = case.heats[0].patterns[0], other.heats[0].patterns[0]
        moved = [getattr(first, n, None) != getattr(last, n, None) for n in where]
        middle = getattr(first, "at", 0.0) == 0.0
        assert any(moved) or (middle and isinstance(case, SectionCase))


def sound_row(**changes):
    row = {
        "outcome": "complete", "why": "", "rotation_mrad": 2.0, "shortening_mm": 0.1,
        "error": {"rotation_mrad": 0.01}, "imbalance": 1e-6, "residual": 1e-5,
        "margin": None, "peak_C": 600.0, "coldest_C": 18.0, "finite": True,
        "from_plastic": [2.0], "cautions": [],
    }  # fmt: skip
    return row | changes


JOB = {
    "torch": {"drive": "held", "target": "600 degC"},
    "surroundings": {"ambient": "20 degC"},
    "load": {"kind": "none"},
}
WRONG = {
    "crash": {"outcome": "crash", "why": "KeyError: x"},
    "not converged": {"outcome": "not converged", "why": "no equilibrium"},
    "unaccounted": {"imbalance": 0.01},
    "none": {"finite": False},
    "out of balance": {"residual": 1e-3},
    "hottest steel": {"peak_C": 640.0},
    "colder than": {"coldest_C": -40.0},
    "from the plastic strain": {"from_plastic": [2.2]},
    "without a load": {"outcome": "hot hinge"},
}


@pytest.mark.parametrize("said", WRONG)
def test_the_judge_sees_what_is_wrong(said):
    (fault,) = random_cases.faults_of(JOB, sound_row(**WRONG[said]))
    assert said in fault


def test_the_judge_takes_what_is_right_or_says_why():
    coarse = sound_row(coldest_C=-40.0, cautions=["coarse elements"])
    assert not random_cases.faults_of(JOB, coarse)
    assert random_cases.faults_of(JOB, sound_row()) == []
    for outcome in ("target out of reach", "refused"):
        assert random_cases.faults_of(JOB, {"outcome": outcome, "why": "x"}) == []
    folds = JOB | {"load": {"kind": "weight", "moment": "0.4 Mp"}}
    assert (
        random_cases.faults_of(folds, sound_row(outcome="hot hinge", margin=1.0)) == []
    )
    assert random_cases.faults_of(folds, sound_row(outcome="hot hinge", margin=2.0))


def test_twins_are_compared():
    one, signs = sound_row(), (1.0, 1.0)
    near = sound_row(rotation_mrad=2.1)
    assert random_cases.apart(JOB, one, near, signs)[1] == []
    far = sound_row(rotation_mrad=2.5)
    assert random_cases.apart(JOB, one, far, signs)[1]
    folded = sound_row(outcome="hot hinge", margin=2.0)
    assert random_cases.apart(JOB, one, folded, signs)[1]
    other = sound_row(outcome="not converged")
    assert random_cases.apart(JOB, one, other, signs)[1]
