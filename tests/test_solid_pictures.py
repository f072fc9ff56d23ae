"""Pictures of the solid view: what is drawn, what it says, and what counts as nothing."""

from __future__ import annotations

from functools import cache
from typing import Any

import meshio
import numpy as np
import pytest
from test_solid_view import LINE, bar, solved

from shrinksim.fem.basis import RULES
from shrinksim.page.style import drawing, svg
from shrinksim.report.fields import write_fields
from shrinksim.runs.run import run_once
from shrinksim.shop.pattern import TorchPath
from shrinksim.views.rows import terminal_rows, tiles
from shrinksim.views.solid.curves import grown, settled
from shrinksim.views.solid.deformed import askew, factor_of, surfaces
from shrinksim.views.solid.face import FACE
from shrinksim.views.solid.faces import along, peaks
from shrinksim.views.solid.maps import _three, peak, residual
from shrinksim.views.solid.measures import MEASURES
from shrinksim.views.solid.setup_drawing import _starts, setup
from shrinksim.views.solid.stages import STAGES
from shrinksim.views.solid.through import cut, faces_apart, hottest_moment
from shrinksim.views.solid.words import numbers

FACES = ("front", "back", "both")


@cache
def folding() -> Any:
    """A plate that folds flatwise under its load, with a mist on its back."""
    load = {"kind": "weight", "flat_moment": "0.9 Mp"}
    heat = [{"pattern": [LINE], "cooling": {"kind": "mist", "face": "back"}}]
    return run_once(bar(load=load, heat=heat, torch={"speed": "1.5 mm/s"}))


def result_of(name: str) -> Any:
    return folding() if name == "fold" else solved(name)


def said_in(figure: Any) -> str:
    """Every text of a figure."""
    from matplotlib.text import Text

    return "\n".join(text.get_text() for text in figure.findobj(Text))


@pytest.mark.parametrize("name", [*FACES, "fold"])
def test_every_picture_is_drawn_and_told(name):
    result = result_of(name)
    plates = FACE.pictures(result)
    assert {"setup", "peak_temperature", "through_thickness", "residual_stress",
            "shape"} <= {plate.name for plate in plates}  # fmt: skip
    for plate in plates:
        with drawing():
            figure = plate.draw(result)
            assert b"</svg>" in svg(figure, plate.heading)
        said = FACE.alternative(result, plate)
        assert said.startswith(f"{plate.heading}. ")
        assert any(letter.isdigit() for letter in said) or "folds" in said
        assert "e-" not in said_in(figure).replace("e-section", "")


def test_what_is_rounding_is_nothing():
    result = solved("both")
    assert 0.0 < abs(result.movement.dish) < 1e-9
    summary = {m.key: m.value(result) for m in MEASURES if m.key}
    told = terminal_rows(MEASURES, summary | {"converged": True}, "metric")
    shown = dict(tiles(MEASURES, result))
    table = dict(numbers(result, {}))
    dish = "largest distance from a straight edge across the width"
    assert told[dish] == shown[dish] == "0 mm"
    assert told["permanent twist"] == "0.00 mrad"
    assert shown["permanent twist"] == "0 mrad"
    assert table["twist (+ top of the right end forward)"] == "0 mrad"
    assert [what for what, *_ in grown(result)] == [
        "rotation in the plane", "shortening",
    ]  # fmt: skip


def test_what_is_more_than_rounding_is_shown():
    names = [what for what, *_ in grown(solved("front"))]
    assert names[:2] == ["rotation in the plane", "rotation out of the plane"]
    shown = dict(tiles(MEASURES, solved("front")))
    assert "front hollow" in shown["permanent rotation out of the plane"]
    assert settled(np.array([0.0, -3e-9, 1e-9]), 2e-9).any()
    assert not settled(np.array([0.0, -1e-9, 1e-9]), 2e-9).any()


def test_the_cut_has_the_temperatures_of_the_nodes():
    result = solved("front")
    row, x, y = hottest_moment(result)
    T = result.heat.temperature[row].reshape(-1, len(result.mesh.points))
    node = int(np.argmin(np.hypot(*(result.mesh.points - [x, y]).T)))
    column = cut(result, row, x, np.array([y]))[:, 0]
    assert column[[0, -1]] == pytest.approx(T[[0, -1], node], abs=0.5)
    front, back = faces_apart(result)
    assert front == pytest.approx(result.heat.temperature.max(), abs=0.5)
    assert back < front - 50.0
    apart = np.subtract(*faces_apart(solved("both")))
    assert abs(apart) < 1e-6
    assert faces_apart(solved("back"))[::-1] == pytest.approx((front, back), rel=1e-6)


@pytest.mark.parametrize("name", FACES)
def test_the_drawn_shape_has_the_turns_of_the_table(name):
    """The end's slopes are the rotations (geometry of small turns)."""
    result = solved(name)
    before, moved = surfaces(result)
    movement = result.movement
    step = before[-1, 0, 0] - before[-2, 0, 0]
    middle = before.shape[1] // 2
    slope = (moved[-1, middle, 2] - moved[-2, middle, 2]) / step
    first = (moved[1, middle, 2] - moved[0, middle, 2]) / step
    assert slope - first == pytest.approx(movement.out_of_plane, rel=0.03, abs=1e-6)
    lean = np.polyfit(before[-1, :, 1], moved[-1, :, 0], 1)[0]
    held = np.polyfit(before[0, :, 1], moved[0, :, 0], 1)[0]
    turn = -result.geometry.opens * (lean - held)
    assert turn == pytest.approx(movement.rotation, rel=1e-3)
    assert factor_of(result) > 1.0


def test_the_front_is_drawn_below():
    assert askew(np.array([0.0, 0.0, 1.0]))[1] < askew(np.zeros(3))[1]
    assert askew(np.array([0.0, 1.0, 0.0]))[1] > 0.0


def test_six_points_give_the_linear_field_of_three():
    corners = np.array([[1.0, -2.0, 5.0], [0.0, 3.0, 3.0]])
    six = corners @ RULES["interior 6"][0].T
    assert _three(six) == pytest.approx(corners @ RULES["interior 3"][0].T)


@pytest.mark.parametrize("name", [*FACES, "fold"])
def test_the_set_up_tells_faces_load_and_cooling(name):
    result = result_of(name)
    with drawing():
        said = said_in(setup(result))
    sides = {"front": [-1.0], "back": [1.0], "both": [-1.0, 1.0], "fold": [-1.0]}
    assert [side for side, _ in _starts(result)] == sides[name]
    where = {"both": "on both faces", "fold": "on the front"}.get(
        name, f"on the {name}"
    )
    assert f"heat {where}" in said
    assert ("Load: weight" in said) == (name == "fold")
    assert ("seen from above, front below" in said) == (name == "fold")
    assert ("mist\non the back" in said) == (name == "fold")


def test_paths_that_start_side_by_side_share_an_arrow():
    lines = [LINE | {"face": "both"}, LINE | {"from": ["40 mm", "15 mm"],
             "to": ["40 mm", "60 mm"], "face": "back"}]  # fmt: skip
    case = bar(heat=[{"pattern": lines}])
    work = STAGES.draw(case)
    assert all(isinstance(path, TorchPath) for path in work.paths)
    drawn: Any = type("Drawn", (), {"geometry": work})()
    assert _starts(drawn) == {(-1.0, 0.015): ["1"], (1.0, 0.015): ["1", "2"]}


def test_each_face_has_the_limits_that_it_passed():
    """Front over 720 and back under 650 degC, and the other way round."""
    for name, hot in (("front", 0), ("back", 1)):
        result = solved(name)
        assert peaks(result)[0] > 720.0
        assert peaks(result)[1] < 650.0
        with drawing():
            figure = peak(result)
        shown: list[list[Any]] = [
            [c for c in axes.get_children() if type(c).__name__.endswith("ContourSet")]
            for axes in figure.axes
        ]
        lines = {
            axes.get_title(loc="left").split(":")[0]: sum(
                not one.filled for one in found
            )
            for axes, found in zip(figure.axes, shown, strict=True)
            if found
        }
        assert lines == {"Front": 2 * (hot == 0), "Back": 2 * (hot == 1)}
        assert "practice limit 650 °C\n" in said_in(figure) + "\n"


def test_the_stress_maps_tell_both_faces():
    result = solved("front")
    with drawing():
        said = said_in(residual(result)).replace("\u2212", "-")
    for name, stress in zip(("Front", "Back"), along(result), strict=True):
        low, high = (f"{v / 1e6:.3g}" for v in (stress.min(), stress.max()))
        assert f"{name}: {low} to {high} MPa" in said


def test_steel_is_not_drawn_over_itself():
    for name in FACES:
        before, moved = surfaces(solved(name))
        x = (before + factor_of(solved(name)) * moved)[..., 0]
        assert np.diff(x, axis=0).min() > 0.0


def test_files_have_three_dimensions_and_two_faces(tmp_path):
    result = solved("front")
    write_fields(result, tmp_path)
    files = sorted(tmp_path.rglob("*.vtu"))
    read = meshio.read(files[len(files) // 2])
    moved = read.point_data["displacement [m]"]
    z = read.points[:, 2]
    T = read.point_data["temperature [degC]"]
    assert moved.shape == (len(read.points), 3)
    assert np.abs(moved[:, 2]).max() > 1e-6
    front, back = T[z > 0.9 * z.max()], T[z < 0.9 * z.min()]
    assert len(front) == len(back) == len(result.mesh.points)
    assert front.max() - back.max() > 1.0
