"""Phase change in a steel's file: faults, latent heat, cautions, and a whole case.

Heat is added up by hand from what the file says.
"""

from __future__ import annotations

import numpy as np
import pytest
from changing_steel import OWN, TABLE, own
from meshes import rectangle

from shrinksim.errors import CaseError
from shrinksim.fem.conduction import Exchange, medium
from shrinksim.heat import Phase, PhaseName, solve_heat
from shrinksim.runs.run import run
from shrinksim.shop.steel import steel, steel_from_file
from shrinksim.views.caution import of_outcome, of_target
from shrinksim.views.reading import case_from


def at(table, values, T):
    return np.interp(T, table.start + table.step * np.arange(len(values)), values)


def test_latent_heat_is_in_the_heat_content(tmp_path):
    """Half of it at half way, all of it above; the rest is the column's integral."""
    plain = steel_from_file(own(tmp_path, OWN)).heat
    made = steel_from_file(own(tmp_path, OWN + TABLE)).heat
    T = np.array([20.0, 700.0, 720.0, 780.0, 840.0, 1000.0])
    more = at(made, made.heat_content, T) - at(plain, plain.heat_content, T)
    assert more == pytest.approx(7850 * 60e3 * np.array([0, 0, 0, 0.5, 1, 1]), abs=1.0)
    np.testing.assert_array_equal(made.conductivity, plain.conductivity)
    by_hand = 380 * 525 + 500 * 700 + 100 * 800 + 60e3  # J/kg: trapezia, level, latent
    assert at(made, made.heat_content, 1000.0) == pytest.approx(7850 * by_hand)


def test_energy_of_a_heated_plate_with_latent_heat(tmp_path):
    """Even flux on a plate into the middle of the range, then out: heat by hand.

    What comes back on cooling comes back over the heating range (no hysteresis).
    """
    made = steel_from_file(own(tmp_path, OWN + TABLE)).heat
    mesh = rectangle(0.02, 0.02, 2, 2)
    body = medium(
        mesh, 0.01, made.start, made.step, made.conductivity, made.heat_content
    )
    to_780 = 380 * 525 + 380 * 0.5 * (600 + 752) + 30e3  # J/kg, trapezia and half
    to_400 = 380 * 525
    flux, thickness = 200e3, 0.01
    warm = 7850 * to_780 * thickness / flux
    cool = 7850 * (to_780 - to_400) * thickness / (0.5 * flux)

    def torch(x, y, t):
        return np.full(np.shape(x), flux)

    def taken(T, t):
        return np.full(np.shape(T), 0.5 * flux), np.zeros(np.shape(T))

    faces = np.ones((len(mesh.triangles), 1))
    phases = [
        Phase(warm, sources=(torch,), name=PhaseName("torch")),
        Phase(cool, (Exchange(taken, faces),), name=PhaseName("air")),
    ]
    out = solve_heat(body, phases, initial=20.0)
    hot = [k for k, name in enumerate(out.phases) if name.kind == "torch"][-1]
    assert out.temperature[hot] == pytest.approx(780.0, abs=0.05)
    assert out.temperature[-1] == pytest.approx(400.0, abs=0.05)
    assert out.imbalance == pytest.approx(0.0, abs=1e-5)
    assert out.absorbed[-1] == pytest.approx(flux * warm * 0.02**2, rel=1e-6)


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ('strain_source = "made up"', "", "transformation.strain_source is missing"),
        ('"60 kJ/kg"', '"60 kJ"', "transformation.latent_heat: .* such as"),
        ('"60 kJ/kg"', '"60 MPa"', "transformation.latent_heat: .* such as"),
        ('"60 kJ/kg"', '"900 kJ/kg"', "not from 0 to 500 kJ/kg"),
        ('"60 kJ/kg"', "60", "transformation.latent_heat: "),
        ('"-0.0035"', '"0.0035"', "is negative"),
        ('"-0.0035"', "-0.0035", "transformation.strain: "),
        ('["720 degC", "840 degC"]', '"720 degC"', "is not where the change starts"),
        ('["720 degC", "840 degC"]', '["720", "840"]', "transformation.heating: "),
        ('["720 degC", "840 degC"]', '["840 degC", "720 degC"]', "must rise"),
        ('["680 degC", "600 degC"]', '["680 degC", "730 degC"]', "must fall"),
        ('["680 degC", "600 degC"]', '["850 degC", "600 degC"]', "must not be above"),
        ('["680 degC", "600 degC"]', '["680 degC", "90 degC"]', "must lie within"),
        ("strain =", "swell =", "transformation.swell is not a known key"),
        ('latent_heat = "60 kJ/kg"', "", "transformation.latent_heat: None"),
    ],
)  # fmt: skip
def test_faults_of_the_table(tmp_path, old, new, message):
    assert old in TABLE
    with pytest.raises(CaseError, match=message):
        steel_from_file(own(tmp_path, OWN + TABLE.replace(old, new, 1)))


def without(column: str) -> str:
    """The file with a column of its own taken out."""
    head, _, tail = OWN.partition(f"[columns.{column}]")
    _, mark, rest = tail.partition("[columns.")
    return head + mark + rest


ROWS = 'temperature = { unit = "degC", values = [20, 400, 700, 760, 900] }'


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (without("elongation"), "elongation is that of EN"),
        (without("specific_heat"), "heat is that of EN"),
        (
            OWN.replace("[0, 5.0, 12.5]", f"[0, 5.0, 9.5, 9.5, 11.9]\n{ROWS}"),
            "elongation goes flat or falls",
        ),
        (
            OWN.replace("[450, 600, 800]", f"[450, 600, 850, 2500, 700]\n{ROWS}"),
            "specific_heat has a peak",
        ),
    ],
)
def test_what_would_count_twice_is_refused(tmp_path, text, message):
    """EN 1993-1-2 (3.4.1.1 and 3.4.1.2) holds both effects; so may an own column."""
    steel_from_file(own(tmp_path, text))
    with pytest.raises(CaseError, match=message) as caught:
        steel_from_file(own(tmp_path, text + TABLE))
    assert len(caught.value.problems) == 1


def test_parts_left_at_nothing_may_keep_the_standard(tmp_path):
    """Strain 0 and latent heat 0 count nothing twice, and change nothing."""
    head = OWN.split("[columns]")[0]
    none = TABLE.replace("-0.0035", "0").replace("60 kJ/kg", "0 kJ/kg")
    made, plain = steel_from_file(own(tmp_path, head + none)), steel("S235")
    np.testing.assert_array_equal(made.heat.heat_content, plain.heat.heat_content)
    np.testing.assert_array_equal(
        made.strain.thermal_strain, plain.strain.thermal_strain
    )
    assert made.changes
    assert not plain.changes


def test_cautions_stay_and_say_what_is_in(tmp_path):
    made = steel_from_file(own(tmp_path, OWN + TABLE))
    assert made.transformation == 720.0
    assert made.sources["transformation.strain"] == "made up"
    for grade, words in ((made, "simple table"), (steel("S235"), "not in this model")):
        found = of_outcome(grade, 800.0, None, "complete", "metric")
        said = {c.code: c.text for c in found}
        assert words in said["transformation"]
        assert "hard and brittle" in said["transformation"]
        assert "limit" in said


SPOT = {"kind": "spot", "height": "80 mm", "diameter": "20 mm"}


@pytest.mark.slow
def test_a_case_with_the_table_runs(tmp_path):
    """A spot above the transformation: heat balances, nothing but flow is left cold."""
    own(tmp_path, OWN + TABLE)
    tables = {
        "title": "hot spot",
        "member": {"section": "plate", "width": "100 mm", "thickness": "6 mm"},
        "steel": {"file": "changing.toml"},
        "torch": {"flame": "heating tip, small", "target": "820 degC"},
        "numerics": {"element": "10 mm", "temperature_step": "60 K"},
        "heat": [{"pattern": [SPOT]}],
    }
    result = run(case_from(tables, "hot spot", tmp_path))
    assert result.heat.peak.max() > 780.0
    assert result.heat.imbalance == pytest.approx(0.0, abs=1e-4)
    moved = result.movement
    assert abs(moved.rotation) > 5e-5
    assert moved.rotation_from_plastic == pytest.approx(moved.rotation, rel=2e-3)
    told = {c.code: c.text for c in result.cautions}
    assert "simple table" in told["transformation"]
    torches = [p.torch for heat in result.case.heats for p in heat.patterns]
    assert "simple table" in of_target(torches, result.geometry.steel, "metric")[0].text
