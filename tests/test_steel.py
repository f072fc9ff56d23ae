from __future__ import annotations

import pickle

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import minimize_scalar

from shrinksim.errors import CaseError
from shrinksim.shop import steel_curves as curves
from shrinksim.shop.steel import grades, steel, steel_from_file
from shrinksim.shop.steel_file import EN_SOURCES, FAMILIES, grade_from_text
from shrinksim.shop.steel_tables import BACK_STRAIN

HARDENINGS = ("isotropic", "kinematic", "mixed")

OWN = """
name = "girder steel"
limit = "600 degC"
limit_source = "order of the owner"
yield_stress = "225 MPa"
yield_stress_source = "coupon tests"
[columns]
temperature = { unit = "degC", values = [20, 200, 400, 700] }
[columns.conductivity]
unit = "W/m K"
values = [50, 46, 40, 30]
source = "handbook"
[columns.specific_heat]
unit = "kJ/kg K"
values = [0.45, 0.5, 0.6, 0.9]
source = "handbook"
[columns.elongation]
unit = "mm/m"
temperature = { unit = "degF", values = [68, 1292] }
values = [0.1, 10.1]
source = "dilatometer"
[columns.modulus]
unit = "GPa"
values = [206, 190, 160, 30]
source = "tests"
[columns.yield_plateau]
unit = "MPa"
values = [225, 220, 200, 60]
source = "tests"
[columns.proportional_limit]
unit = "MPa"
values = [225, 180, 100, 20]
source = "tests"
"""


def knots(start, step, count):
    return start + step * np.arange(count)


def at(table, values, T):
    return np.interp(T, knots(table.start, table.step, len(values)), values)


@pytest.mark.parametrize("hardening", HARDENINGS)
@pytest.mark.parametrize("grade", grades())
def test_every_shipped_steel_is_sound(grade, hardening):
    made = steel(grade, hardening=hardening)
    table = made.strain
    floor = curves.FLOOR * made.yield_stress
    assert table.flow.shape == (121, len(table.plastic))
    assert knots(table.flow_start, table.flow_step, 121)[-1] == 1200.0
    assert table.flow.min() >= floor * (1 - 1e-12)
    assert table.modulus.min() >= curves.FLOOR * 210e9
    assert table.plastic[0] == 0.0
    assert np.all(np.diff(table.plastic) > 0.0)
    assert np.all(np.diff(table.flow, axis=1) >= -1e-6)
    assert np.all(table.flow[:, -1] == table.flow[:, -2])
    assert np.all(np.diff(made.heat.heat_content) > 0.0)
    assert not table.flow.flags.writeable
    assert at(table, table.thermal_strain, 20.0) == pytest.approx(0.0, abs=1e-12)
    assert set(made.sources) == {*EN_SOURCES, "yield_stress", "limit"}


def test_yield_stresses_and_limits():
    expected = {
        "S235": 235,
        "S275": 275,
        "S355": 355,
        "A36": 248.211,
        "A572-50": 344.738,
    }
    assert set(grades()) == set(expected)
    for grade, stress in expected.items():
        made = steel(grade)
        assert made.yield_stress == pytest.approx(stress * 1e6, rel=3e-6)
        assert made.limit == 650.0
        assert made.transformation == 720.0
    assert FAMILIES["quenched and tempered"][0] == 593.0
    assert all(len(source) > 10 for _, source in FAMILIES.values())


@pytest.mark.parametrize(
    "written", ["s235", "S 235", "A572 Gr. 50", "astm a572 grade 50"]
)
def test_grades_however_written(written):
    assert steel(written).name in ("S235", "A572-50")


def test_unknown_grade():
    with pytest.raises(
        CaseError, match=r"grade = 'S253' is not one of .*did you mean S2"
    ):
        steel("S253")


def test_a_steel_can_be_sent_to_another_process():
    made = pickle.loads(pickle.dumps(steel("S355", hardening="mixed")))
    np.testing.assert_array_equal(
        made.strain.flow, steel("S355", hardening="mixed").strain.flow
    )


@pytest.mark.parametrize("fy", [235e6, 355e6, 690e6])
def test_linear_interpolation_between_knots_follows_the_ellipse(fy):
    table = steel("S355", yield_stress=fy).strain
    fine = np.unique(np.concatenate([[0.0], np.geomspace(1e-10, 0.03, 4000)]))
    for row, T in enumerate(knots(table.flow_start, table.flow_step, 121)):
        if T > 1150.0:  # the floor rules there
            continue
        exact = curves.ellipse(
            fine, curves.k_y(T) * fy, curves.k_p(T) * fy, curves.k_E(T) * 210e9
        )
        found = np.interp(fine, table.plastic, table.flow[row])
        np.testing.assert_allclose(found, exact, rtol=2.5e-3)


@pytest.mark.parametrize("fy", [235e6, 355e6])
def test_isotropic_kinematic_and_mixed_start_and_end_alike(fy):
    tables = [steel("S235", yield_stress=fy, hardening=h).strain for h in HARDENINGS]
    for table in tables:
        np.testing.assert_allclose(table.flow[:, 0], tables[0].flow[:, 0], rtol=1e-9)
        np.testing.assert_allclose(
            table.flow[:, -1] + table.back_stress, tables[0].flow[:, -1], rtol=1e-9
        )
    assert not np.any(tables[0].back_stress)
    assert np.all(tables[1].flow == tables[1].flow[:, :1])
    np.testing.assert_allclose(tables[2].back_stress, 0.5 * tables[1].back_stress)


def test_mixed_hardening_spans_from_isotropic_to_kinematic():
    for share, like in ((0.0, "isotropic"), (1.0, "kinematic")):
        mixed = steel("S275", hardening="mixed", kinematic_share=share).strain
        other = steel("S275", hardening=like).strain
        np.testing.assert_allclose(mixed.flow, other.flow)
        np.testing.assert_allclose(mixed.back_stress, other.back_stress)


@pytest.mark.parametrize(
    ("fy", "fitted"), [(235e6, 4.04e-3), (275e6, 3.97e-3), (355e6, 3.83e-3)]
)
def test_characteristic_strain_is_the_least_squares_fit(fy, fitted):
    p, T = np.linspace(0.0, 0.02, 201), np.arange(20.0, 701.0, 10.0)[:, None]
    plateau, limit = curves.k_y(T) * fy, curves.k_p(T) * fy
    exact = curves.ellipse(p, plateau, limit, curves.k_E(T) * 210e9)

    def misfit(p_c):
        return (limit + (plateau - limit) * (1.0 - np.exp(-p / p_c)) - exact) / fy

    best = minimize_scalar(
        lambda p_c: np.sum(misfit(p_c) ** 2), bounds=(1e-4, 1e-2), method="bounded"
    ).x
    assert best == pytest.approx(fitted, rel=5e-3)
    assert pytest.approx(best, rel=0.05) == BACK_STRAIN
    assert np.abs(misfit(BACK_STRAIN)).max() < 0.075


def test_plateau_curve_is_level_at_ky():
    table = steel("S235", curve="plateau").strain
    assert table.flow.shape == (121, 2)
    assert table.flow[50, 0] == table.flow[50, 1] == pytest.approx(0.78 * 235e6)
    assert not np.any(table.back_stress)
    np.testing.assert_array_equal(
        steel("S235", curve="ellipse").strain.flow,
        steel("S235", curve="EN").strain.flow,
    )


def test_outside_the_range_of_the_standard():
    made = steel("S235")
    heat, table = made.heat, made.strain
    assert at(heat, heat.conductivity, -50.0) == pytest.approx(53.334)
    assert at(heat, heat.conductivity, 1300.0) == 27.3
    assert at(heat, heat.heat_content, -30.0) == pytest.approx(
        -50.0 * 7850 * 439.8018, rel=1e-6
    )
    slope = (table.thermal_strain[-1] - table.thermal_strain[-2]) / table.step
    assert slope == pytest.approx(2e-5)
    assert table.modulus[0] == pytest.approx(210e9)
    assert table.modulus[-1] == table.modulus[-2] == pytest.approx(0.005 * 210e9)
    assert table.flow[0, 0] == pytest.approx(235e6)
    assert table.flow[-1, 0] == pytest.approx(0.005 * 235e6)


def test_no_step_in_the_tabulated_elongation():
    """The standard's jump of -8.4e-6 at 750 degC becomes a slope that stays positive."""
    table = steel("S235").strain
    rise = np.diff(table.thermal_strain)
    assert rise.min() >= -1e-15
    assert rise.max() < 2.1e-5


def test_annealing_is_carried():
    assert steel("S235").strain.annealing == 800.0
    assert steel("S235", annealing=np.inf).strain.annealing == np.inf


@pytest.mark.parametrize(
    ("options", "message"),
    [
        ({"hardening": "linear"}, "hardening = 'linear'"),
        ({"hardening": "linear", "curve": "plateau"}, "hardening = 'linear'"),
        ({"hardening": "mixed", "kinematic_share": 1.5}, "kinematic_share = 1.5"),
        ({"curve": "elipse"}, "curve = 'elipse'"),
        ({"yield_stress": -1.0}, "yield_stress = -1"),
        ({"yield_stress": 1450e6}, "cannot rise from 109 MPa to 334 MPa"),
    ],
)
def test_choices_that_cannot_be(options, message):
    with pytest.raises(CaseError, match=message):
        steel("S235", **options)


def own(tmp_path, text=OWN):
    path = tmp_path / "girder.toml"
    path.write_text(text)
    return path


def test_own_steel(tmp_path):
    made = steel_from_file(own(tmp_path))
    heat, table = made.heat, made.strain
    assert (made.name, made.yield_stress, made.limit) == ("girder steel", 225e6, 600.0)
    assert at(heat, heat.conductivity, 300.0) == pytest.approx(43.0)
    assert at(heat, heat.conductivity, 900.0) == pytest.approx(30.0)
    content = 7850 * (180 * 475 + 200 * 550)  # two trapezia
    assert at(heat, heat.heat_content, 400.0) == pytest.approx(content, rel=1e-12)
    assert at(table, table.thermal_strain, 20.0) == pytest.approx(0.0, abs=1e-15)
    assert at(table, table.thermal_strain, 700.0) == pytest.approx(10.0e-3)
    assert at(table, table.thermal_strain, 1040.0) == pytest.approx(15.0e-3)
    assert at(table, table.modulus, 300.0) == pytest.approx(175e9)
    assert table.flow[30, 0] == pytest.approx(140e6)
    assert table.flow[30, -1] == pytest.approx(210e6)
    assert made.sources["modulus"] == "tests"


def test_own_steel_scaled_to_another_yield_stress(tmp_path):
    made = steel_from_file(own(tmp_path), yield_stress=250e6, curve="plateau")
    assert made.strain.flow[30, 0] == pytest.approx(210e6 * 250 / 225)
    assert made.sources["yield_stress"] == "given with the case"


def test_own_steel_with_few_columns_takes_the_standard(tmp_path):
    head = OWN.split("[columns]")[0].replace("225", "235")
    made = steel_from_file(own(tmp_path, head))
    np.testing.assert_array_equal(made.strain.flow, steel("S235").strain.flow)
    assert made.sources["modulus"].startswith("EN 1993-1-2:2005")


def test_own_heat_content_is_the_exact_integral_at_odd_knots(tmp_path):
    text = OWN.replace("[20, 200, 400, 700]", "[19.3, 200.7, 433.1, 700]")
    heat = steel_from_file(own(tmp_path, text)).heat
    T = np.linspace(20.0, 600.0, 200_001)
    c = np.interp(T, [19.3, 200.7, 433.1, 700], [450, 500, 600, 900])
    expected = 7850 * np.trapezoid(c, T)
    assert at(heat, heat.heat_content, 600.0) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ('source = "dilatometer"', "", "columns.elongation.source is missing"),
        (
            'source = "handbook"',
            'source = " "',
            "columns.conductivity.source is missing",
        ),
        ('yield_stress_source = "coupon tests"', "", "yield_stress_source is missing"),
        ('limit_source = "order of the owner"', "", "limit_source is missing"),
        ('limit = "600 degC"', 'limit = "600"', "limit: "),
        ('limit = "600 degC"', 'family = "bronze"', "family = 'bronze'"),
        ('limit = "600 degC"', "", r"family \(or limit\)"),
        (
            'limit = "600 degC"',
            'limit = "900 degC"',
            "must cover 20 degC to the limit of 900",
        ),
        ('"225 MPa"', '"225 mm"', "yield_stress: "),
        ('"225 MPa"', "225", "yield_stress: "),
        ('"225 MPa"', '"5 MPa"', "not from 50 MPa to 1500 MPa"),
        ('"225 MPa"', '"355 MPa"', "yield_plateau is 225 MPa at 20 degC"),
        ('name = "girder steel"', "", "name is missing"),
        ("[columns.modulus]", "[columns.moduls]", "did you mean modulus"),
        ('unit = "GPa"', 'unit = "MPa"', "columns.modulus is 0.206 GPa at 20"),
        ('unit = "GPa"', 'unit = "stone"', "columns.modulus: "),
        ('unit = "GPa"', "", "unit = None is not a unit"),
        ('unit = "GPa"', 'unit = "1/2 GPa"', "is not a unit"),
        ('unit = "kJ/kg K"', 'unit = "J/kg"', "columns.specific_heat: unit = 'J/kg'"),
        ("[206, 190, 160, 30]", "[206, 190, 160]", "3 values for 4 temperatures"),
        ("[206, 190, 160, 30]", "[206, 190, nan, 30]", "not a finite"),
        ("[206, 190, 160, 30]", '["206", 190, 160, 30]', "not a list of two numbers"),
        ("[206, 190, 160, 30]", "[206, 190, 160, 0]", "columns.modulus holds 0"),
        ("[20, 200, 400, 700]", "[20, 400, 200, 700]", "does not increase"),
        ("[225, 180, 100, 20]", "[225, 180, 100, 100]", "above the yield plateau"),
        ("[206, 190, 160, 30]", "[206, 190, 160, 2]", "the curve cannot rise"),
        ("[columns.modulus]", "[columns.modulus", r"'\[columns.modulus': expected"),
    ],
)
def test_faults_of_a_steel_file(tmp_path, old, new, message):
    assert old in OWN
    with pytest.raises(CaseError, match=message) as caught:
        steel_from_file(own(tmp_path, OWN.replace(old, new, 1)))
    assert all("girder.toml: " in problem for problem in caught.value.problems)


def test_all_faults_at_once(tmp_path):
    text = OWN.replace('unit = "GPa"', "").replace('name = "girder steel"', "")
    with pytest.raises(CaseError) as caught:
        steel_from_file(own(tmp_path, text.replace("[50, 46, 40, 30]", "[50]")))
    assert len(caught.value.problems) == 3


def test_a_file_that_is_not_there(tmp_path):
    with pytest.raises(CaseError, match="there is no such file"):
        steel_from_file(tmp_path / "none.toml")
    with pytest.raises(CaseError, match="is a folder"):
        steel_from_file(tmp_path)
    (tmp_path / "raw.toml").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(CaseError, match="is in UTF-16; save it as UTF-8"):
        steel_from_file(tmp_path / "raw.toml")


def faults_of(text):
    try:
        grade_from_text(text, "girder.toml")
    except CaseError as error:
        return error.problems
    return ()


LINES = OWN.strip().splitlines()
ODD = st.sampled_from(
    [
        '""',
        "[]",
        "{}",
        "nan",
        "1e400",
        "true",
        "-1",
        '"0/0 MPa"',
        "[[1]]",
        "1979-05-27",
        "[1, 2]",
    ]
)


@given(where=st.integers(0, len(LINES) - 1), value=ODD, drop=st.booleans())
def test_no_file_raises_anything_but_a_case_error(where, value, drop):
    lines = LINES.copy()
    key = lines[where].split("=")[0]
    lines[where] = "" if drop else f"{key}= {value}"
    problems = faults_of("\n".join(lines))
    assert all(p.startswith("girder.toml: ") for p in problems)
