"""A job's survey as a whole: readings to shapes, verdicts and words."""

import numpy as np
import pytest
from plain_job import BAR, BEAM, changed, read

from shrinksim.errors import CaseError
from shrinksim.member.line import Bend, offsets
from shrinksim.member.survey.survey import evaluate_survey
from shrinksim.member.survey.tolerance import twist_verdict

LINES = {"camber_line": "bottom", "sweep_line": "left"}


def pairs(x, y):
    return [
        [f"{a!r} m", f"{1e3 * b:.3f} mm"] for a, b in zip(x.tolist(), y, strict=True)
    ]


def test_a_bend_is_found_and_judged():
    x = np.linspace(0.0, 12.0, 17)
    y = offsets([Bend(5.25, 20e-3)], x, 12.0) + 0.05
    job = read(changed(BEAM, survey=LINES | {"camber": pairs(x, y), "block": "50 mm"}))
    found = evaluate_survey(job)
    (bend,) = found.bends["camber"]
    assert bend.at == pytest.approx(5.25, abs=0.1)
    assert bend.turn == pytest.approx(20e-3, rel=0.05)
    assert found.allowed["camber"] == pytest.approx(0.0015 * 12.0)
    (verdict,) = found.verdicts
    assert not verdict.inside


def test_a_table_beside_the_job_says_the_same(tmp_path):
    x = np.linspace(0.0, 12.0, 13)
    y = offsets([Bend(6.0, 15e-3)], x, 12.0)
    rows = "\n".join(f"{a}, {1e3 * b:.3f}" for a, b in zip(x, y, strict=True))
    (tmp_path / "r.csv").write_text(f"station (m), camber (mm)\n{rows}\n")
    one = evaluate_survey(read(changed(BEAM, survey=LINES | {"camber": pairs(x, y)})))
    other = evaluate_survey(
        read(changed(BEAM, survey=LINES | {"file": "r.csv"}), tmp_path)
    )
    assert one.bends == other.bends


def test_twist_and_planes_without_tolerance_are_told():
    x = np.linspace(0.0, 3.0, 7)
    one, other = 0.0 * x, 0.004 * x * 0.1
    survey = LINES | {
        "camber": pairs(x, one),
        "camber_other_edge": pairs(x, one - other),
        "edge_spacing": "100 mm",
        "sweep": pairs(x, 0.0 * x),
        "reading_error": "0.1 mm",
    }
    found = evaluate_survey(
        read(changed(BAR, survey=survey, tolerance__twist="2 mrad/m"))
    )
    said = " ".join(found.remarks)
    assert "twist: 4 mrad/m, 2 mrad/m allowed: outside" in said
    assert "Heats against twist are not planned" in said
    assert "sweep: no tolerance" in said
    assert set(found.allowed) == {"camber"}


def test_all_faults_of_the_readings_at_once():
    x = np.linspace(0.0, 3.0, 7)
    survey = LINES | {
        "camber": [*pairs(x, 0.0 * x), ["1 m", "3 mm"]],
        "sweep": [["0 m", "0 mm"], ["1 m", "0 mm"]],
    }
    with pytest.raises(CaseError) as caught:
        evaluate_survey(read(changed(BAR, survey=survey)))
    assert any("read twice" in p for p in caught.value.problems)
    assert any(p.startswith("survey: sweep") for p in caught.value.problems)


def test_splices_are_told():
    x = np.linspace(0.0, 12.0, 25)
    y = np.where(x > 6.0, 6e-3, 0.0)
    survey = LINES | {"camber": pairs(x, y), "reading_error": "0.3 mm"}
    found = evaluate_survey(read(changed(BEAM, survey=survey, splice=[{"at": "6 m"}])))
    assert any("The splice at 6 m" in text for text in found.remarks)
    assert any("contracts by" in text for text in found.remarks)


@pytest.mark.parametrize(
    ("rate", "word"),
    [
        (1.0e-3, "inside"),
        (-3.0e-3, "outside"),
        (1.9e-3, "inside, but the readings cannot tell"),
        (2.1e-3, "outside, but the readings cannot tell"),
    ],
)
def test_a_twist_within_two_deviations_of_its_limit_is_in_doubt(rate, word):
    said = twist_verdict(rate, 0.2e-3, 2e-3, "metric")
    assert said.endswith(f"2 mrad/m allowed: {word}")
